//! Two needles on a part, and paints of verdicts.

use super::{coated, empty, folder, settle};
use crate::app::{Action, State};
use crate::panel;
use crate::stage::paint::{Paint, paint, paint_legend};
use crate::stage::pick::Spot;
use egui_kittest::kittest::Queryable;
use evenfall_sim::outcome::worth::map::Verdict;
use glam::DVec2;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Two spots with film on the cube.
fn spots(state: &State) -> [Spot; 2] {
    let shown = Arc::clone(state.shown.as_ref().unwrap());
    let grid = (-8..9).flat_map(|x| (-8..9).map(move |y| (x, y)));
    let found = grid.filter_map(|(x, y)| {
        let at = DVec2::new(0.1 * f64::from(x), 0.1 * f64::from(y));
        panel::find(state, &shown, at)
    });
    let filmed = found.filter(|spot| shown.survey.patches[spot.patch].thickness_m > 50e-9);
    let filmed: Vec<Spot> = filmed.collect();
    [filmed[0], filmed[filmed.len() - 1]]
}

#[test]
fn a_meter_reads_between_two_pinned_spots() {
    let (_folder, mut window) = coated();
    window.state_mut().apply(Action::Fit);
    window
        .state_mut()
        .apply(Action::LookFrom(crate::stage::orbit::Side::Below));
    let [one, other] = spots(window.state());
    window.state_mut().apply(Action::Pin(Some(one)));
    window.run_steps(2);
    window.get_by_label("Put a needle here").click();
    window.run_steps(2);
    window.get_by_label_contains("Pin another spot");
    window.state_mut().apply(Action::Pin(Some(other)));
    let patience = Instant::now() + Duration::from_secs(60);
    while window.state().meter.as_ref().unwrap().told.is_none() {
        assert!(Instant::now() < patience, "the meter hangs");
        std::thread::sleep(Duration::from_millis(5));
        window.state_mut().refresh();
    }
    window.run_steps(2);
    window.get_by_label_contains("Resistance: about");
    let told = window.state().meter.as_ref().unwrap().told.clone().unwrap();
    assert!(told.contains("Ω between needles of"), "{told}");
    window.get_by_label("Take the needles off").click();
    window.run_steps(2);
    assert!(window.state().meter.is_none());
}

#[test]
fn verdicts_that_vary_are_offered_as_paints_with_their_scales() {
    let (_folder, plan) = folder();
    let mut state = empty();
    state.apply(Action::Open(plan));
    settle(&mut state);
    let shown = state.shown.as_ref().unwrap();
    let all = Paint::all(shown, None);
    for verdict in [
        Verdict::Light,
        Verdict::Square,
        Verdict::Lean,
        Verdict::Heat,
    ] {
        assert!(all.contains(&Paint::Worth(verdict)), "{verdict:?}");
        let look = state.look(shown);
        let colours = paint(&look, Paint::Worth(verdict));
        assert_eq!(colours.len(), shown.survey.patches.len());
        let mut unlike = colours;
        unlike.sort_unstable();
        unlike.dedup();
        assert!(unlike.len() > 3, "{verdict:?} is one colour");
        let legend = paint_legend(&look, Paint::Worth(verdict));
        assert!(legend.ticks.len() > 3, "{}", legend.title);
    }
    // the film hangs together: no paint of its pieces is needed
    let pieces = shown.outcome.summary.conducts["cube"].pieces;
    assert_eq!(all.contains(&Paint::Worth(Verdict::Piece)), pieces > 1);
}
