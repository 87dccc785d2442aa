//! For tests of the real window: commands on stdin, what the window shows on stdout.
//!
//! `drop PATH` is a file let fall on the window, `lose` the loss of the graphics device, `quit` closes the window, `say`
//! prints one line of JSON: the state in short and every widget as a screen reader hears it; `afresh` forgets the slowest
//! frame.

use super::News;
use crate::app::State;
use egui::accesskit::TreeUpdate;
use serde_json::{Value, json};
use std::io::BufRead;
use winit::event_loop::EventLoopProxy;

/// Passes commands on as they come.
pub fn listen(proxy: EventLoopProxy<News>) {
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines().map_while(Result::ok) {
            if proxy.send_event(News::Told(line)).is_err() {
                return;
            }
        }
    });
}

/// What happened to the window so far.
#[derive(Debug, Clone, Copy, Default)]
pub struct Past {
    /// Frames drawn.
    pub frames: u64,
    /// The last frame had a picture of the stage.
    pub pictured: bool,
    /// Devices lost.
    pub losses: u64,
    /// Longest time that a frame took apart from the rasteriser, ms: events, panels, corners and colours.
    pub slowest_ms: f64,
}

/// What the window shows.
pub fn said(state: &State, past: Past, size: [u32; 2], tree: Option<&TreeUpdate>) -> String {
    let shown = state.shown.as_ref();
    let summary = shown.map(|shown| &shown.outcome.summary);
    let nodes: Vec<Value> = tree
        .iter()
        .flat_map(|tree| &tree.nodes)
        .filter_map(|(_, node)| {
            let at = node.bounds()?;
            Some(json!({
                "role": format!("{:?}", node.role()),
                "label": node.label(),
                "value": node.value(),
                "at": [at.x0, at.y0, at.x1, at.y1],
                "labelled_by": node.labelled_by().iter().map(|id| id.0).collect::<Vec<_>>(),
            }))
        })
        .collect();
    let ids: Vec<u64> = tree
        .iter()
        .flat_map(|tree| &tree.nodes)
        .filter(|(_, node)| node.bounds().is_some())
        .map(|(id, _)| id.0)
        .collect();
    json!({
        "frames": past.frames,
        "pictured": past.pictured,
        "losses": past.losses,
        "slowest_ms": past.slowest_ms,
        "accuracy": summary.map(|summary| summary.accuracy_reached),
        "size": size,
        "running": state.is_running() || state.is_opening(),
        "doing": state.doing(),
        "title": summary.map(|summary| &summary.title),
        "headline": shown.map(|shown| &shown.headline(state.settings.reading)[0]),
        "mean_nm": summary.map(|summary| summary.parts[0].thickness_nm.mean),
        "spot": state.spot.is_some(),
        "unsaved": state.document.as_ref().map(crate::app::document::Document::is_unsaved),
        "note": state.note,
        "ids": ids,
        "nodes": nodes,
    })
    .to_string()
}
