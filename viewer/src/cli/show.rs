//! `evenfall show`: the window, or a picture of it.

use crate::app::{Action, State};
use crate::failure::{Exit, Failure};
use crate::gpu::{self, Gpu};
use crate::say;
use crate::shot::{self, Shot};
use crate::window::{self, Heeding};
use clap::{Args, ValueEnum};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

/// Dark or light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Theme {
    Light,
    Dark,
}

/// Arguments of `evenfall show`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// A plan (.toml), an outcome folder or its coat.evenfall, or a mesh, which begins a plan
    #[arg(value_name = "PLAN, OUTCOME or MESH")]
    open: Option<PathBuf>,
    /// Draw the window into this PNG file instead of opening it; needs no display
    #[arg(long, value_name = "FILE")]
    shot: Option<PathBuf>,
    /// Size of the picture, in pixels
    #[arg(long, value_name = "WxH", default_value = "1280x800", value_parser = size)]
    size: [u32; 2],
    /// Pixels per point of the picture
    #[arg(long, value_name = "N", default_value_t = 1.0, value_parser = scale)]
    scale: f32,
    /// Colours of the picture
    #[arg(long, value_enum, default_value = "light")]
    theme: Theme,
    /// With --shot: turn the view for so many frames as well, and say how fast that went; for benches
    #[arg(long, hide = true, value_name = "FRAMES")]
    orbit: Option<u32>,
    /// Heed commands on stdin; for tests of the window
    #[arg(long, hide = true)]
    heed: bool,
}

/// Opens the window or takes a picture of it.
///
/// # Errors
/// See [`Failure`].
pub fn run(arguments: &Arguments) -> Result<Exit, Failure> {
    let Some(file) = &arguments.shot else {
        let heeding = if arguments.heed {
            Heeding::Commands
        } else {
            Heeding::No
        };
        window::run(arguments.open.clone(), heeding)
            .map_err(|sentence| instead(&sentence, arguments))?;
        return Ok(Exit::Done);
    };
    // nobody wants to wait for a map that cannot be drawn then
    Gpu::open(&gpu::instance(None), None).map_err(|sentence| instead(&sentence, arguments))?;
    let mut state = State::new(Arc::new(|| {}));
    if let Some(path) = &arguments.open {
        state.apply(Action::Open(path.clone()));
        while state.is_busy() {
            std::thread::sleep(Duration::from_millis(20));
            state.refresh();
        }
        // a mesh without a unit asks for it, which the picture shows
        if state.shown.is_none() && state.asked.is_none() {
            return Err(Failure::Unusable(match state.trouble.first() {
                Some(trouble) => format!(
                    "{}; `evenfall check {}` says more",
                    trouble.message,
                    path.display()
                ),
                None => state.note.unwrap_or_default(),
            }));
        }
    }
    let shot = Shot {
        size: arguments.size,
        scale: arguments.scale,
        theme: match arguments.theme {
            Theme::Light => egui::Theme::Light,
            Theme::Dark => egui::Theme::Dark,
        },
    };
    let picture =
        shot::take(&mut state, &shot).map_err(|sentence| instead(&sentence, arguments))?;
    picture.write(file).map_err(Failure::Unfinished)?;
    say::answer(&format!("picture: {}", file.display()))?;
    if let Some(frames) = arguments.orbit {
        let frame_s =
            shot::orbit(&mut state, &shot, frames).map_err(|said| instead(&said, arguments))?;
        say::answer(&format!("orbit: {:.1} frames/s", 1.0 / frame_s))?;
    }
    Ok(Exit::Done)
}

/// What answers without a window.
fn instead(sentence: &str, arguments: &Arguments) -> Failure {
    let plan = arguments
        .open
        .as_ref()
        .map_or_else(|| "PLAN".to_owned(), |path| path.display().to_string());
    Failure::Unfinished(format!(
        "{sentence}; `evenfall coat {plan}` needs no display and no graphics device, and draws the same \
         maps into its report"
    ))
}

fn size(text: &str) -> Result<[u32; 2], String> {
    let sides = text.split_once(['x', 'X', '×']);
    let side = |text: &str| {
        text.trim()
            .parse::<u32>()
            .ok()
            .filter(|n| (64..=8192).contains(n))
    };
    let sides = sides.and_then(|(width, height)| Some([side(width)?, side(height)?]));
    sides
        .ok_or_else(|| format!("size {text} (must be two numbers from 64 to 8192, as in 1280x800)"))
}

fn scale(text: &str) -> Result<f32, String> {
    let scale = text.parse::<f32>().ok().filter(|n| (0.5..=4.0).contains(n));
    scale.ok_or_else(|| format!("scale {text} (must be from 0.5 to 4)"))
}
