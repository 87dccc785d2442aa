//! A tilt for a whole region, values that are painted, side panels where room is short, stencils lifted off.

use super::{PLAN, coated, coated_with, empty, folder, settle, window_of};
use crate::app::{Action, State};
use crate::panel;
use crate::stage::paint::{Paint, told};
use crate::stage::pick::Spot;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use evenfall_sim::outcome::worth::map::Verdict;
use glam::{DVec2, DVec3};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Two sides of the cube: the one that looks along x, and the one below.
const REGIONS: &str = r#"[[region]]
name = "side"
part = "cube"
inside = { shape = "plate", size = ["2 mm", "30 mm", "30 mm"], at = ["10 mm", "0 mm", "0 mm"] }
facing = [1, 0, 0]
within = "10 deg"
[[region]]
name = "below"
part = "cube"
inside = { shape = "plate", size = ["30 mm", "30 mm", "2 mm"], at = ["0 mm", "0 mm", "-10 mm"] }
facing = [0, 0, -1]
within = "10 deg"
"#;

/// The cube, turning, with the two regions.
fn with_regions() -> (tempfile::TempDir, Harness<'static, State>) {
    coated_with(&PLAN.replace("[[step]]", &format!("{REGIONS}[[step]]")))
}

fn answered(window: &mut Harness<'_, State>) {
    let patience = Instant::now() + Duration::from_secs(60);
    while !window.state().around.as_ref().unwrap().is_answered() {
        assert!(Instant::now() < patience, "no answer");
        std::thread::sleep(Duration::from_millis(5));
        window.state_mut().refresh();
    }
    window.run_steps(2);
}

fn spot_on_side(state: &State) -> Spot {
    let shown = state.shown.as_ref().unwrap();
    let facets = shown.outcome.parts[0].facets.iter();
    let (patch, facet) = facets
        .enumerate()
        .find(|(_, facet)| facet.regions & 1 != 0)
        .unwrap();
    Spot {
        part: 0,
        patch,
        at_m: facet.corners_m.iter().sum::<DVec3>() / 3.0,
        normal: DVec3::X,
    }
}

#[test]
fn the_tilt_for_a_region_brings_what_it_promises() {
    let (_folder, mut window) = with_regions();
    let spot = spot_on_side(window.state());
    window.state_mut().apply(Action::Pin(Some(spot)));
    answered(&mut window);
    window.get_by_label("Pinned spot, in side");
    let told = window
        .state()
        .around
        .as_ref()
        .unwrap()
        .told
        .clone()
        .unwrap();
    let best = told.best.unwrap();
    assert!(best.times > 1.3, "{best:?}");
    assert_eq!(told.others.len(), 1);
    window.get_by_label_contains("all of side would get about");
    let means = |window: &Harness<'_, State>| -> Vec<f64> {
        let shown = window.state().shown.as_ref().unwrap();
        shown.regions.iter().map(|region| region.mean_m).collect()
    };
    let before = means(&window);
    let name = format!(
        "Try turn {} at {:.0}°",
        ["x", "y", "z"][best.axis],
        best.then_rad.to_degrees()
    );
    let buttons: Vec<_> = window.get_all_by_label(&name).collect();
    buttons[0].click_accesskit();
    window.run_steps(2);
    assert!(window.state().pinned.is_some(), "kept as A");
    settle(window.state_mut());
    window.run_steps(2);
    let after = means(&window);
    // 192 places and 25 lines at 8 angles against the whole map: within a tenth
    let [side, below] = [after[0] / before[0], after[1] / before[1]];
    assert!((side / best.times - 1.0).abs() < 0.1, "{side} {best:?}");
    assert!(
        (below / told.others[0].times - 1.0).abs() < 0.1,
        "{below} {told:?}"
    );
    window.state_mut().apply(Action::Undo);
    settle(window.state_mut());
    assert!((means(&window)[0] / before[0] - 1.0).abs() < 1e-12);
}

#[test]
fn what_is_painted_is_told_where_one_points() {
    let (_folder, mut window) = coated();
    window.state_mut().apply(Action::Fit);
    let shown = Arc::clone(window.state().shown.as_ref().unwrap());
    let film = |spot: &Spot| shown.survey.patches[spot.patch].thickness_m > 20e-9;
    let grid = (-8..9).flat_map(|x| (-8..9).map(move |y| (x, y)));
    let spot = grid
        .filter_map(|(x, y)| {
            let at = DVec2::new(0.1 * f64::from(x), 0.1 * f64::from(y));
            panel::find(window.state(), &shown, at)
        })
        .find(film)
        .unwrap();
    window.state_mut().apply(Action::Pin(Some(spot)));
    for (paint, says) in [
        (
            Paint::Worth(Verdict::Light),
            "% of green light goes through",
        ),
        (Paint::Worth(Verdict::Square), "a square has about"),
        (Paint::Worth(Verdict::Lean), "columns lean by about"),
        (Paint::Worth(Verdict::Heat), "mW/cm² in the hottest step"),
        (Paint::Error, "standard error"),
    ] {
        window.state_mut().apply(Action::Paint(paint));
        window.run_steps(2);
        let state = window.state();
        let said = told(&state.look(&shown), state.paint, spot.patch).unwrap();
        assert!(said.contains(says), "{said}");
        window.get_by_label(&said);
    }
    window.state_mut().apply(Action::Paint(Paint::Thickness));
    let state = window.state();
    assert_eq!(told(&state.look(&shown), state.paint, spot.patch), None);
}

#[test]
fn side_panels_share_one_place_where_room_is_short() {
    let (_folder, plan) = folder();
    let mut state = empty();
    state.apply(Action::Open(plan));
    settle(&mut state);
    let mut window = window_of([640.0, 400.0], state);
    window.run_steps(3);
    let stage = window.get_by_label("Stage").rect();
    assert!(stage.width() > 250.0 && stage.height() > 100.0, "{stage:?}");
    assert!(stage.right() <= 640.0 && stage.left() >= 0.0);
    window.get_by_label_contains("Click on a part");
    assert!(window.query_by_label("Go to").is_none());
    window.get_by_label("Setup").click();
    window.run_steps(3);
    window.get_by_label("output charge");
    assert!(window.query_by_label_contains("Click on a part").is_none());
    // everything of the bar above is inside the window
    let view = window.get_by_label("View").rect();
    assert!(view.right() <= 640.0, "{view:?}");
}

#[test]
fn a_needle_whose_partner_is_gone_can_be_taken_off() {
    let (_folder, mut window) = with_regions();
    let spot = spot_on_side(window.state());
    window.state_mut().apply(Action::Pin(Some(spot)));
    window.run_steps(2);
    window.state_mut().apply(Action::Needle(Some(spot)));
    window.state_mut().apply(Action::Pin(None));
    window.run_steps(2);
    window.get_by_label_contains("at the cross");
    window.get_by_label("Take the needles off").click();
    window.run_steps(2);
    assert!(window.state().meter.is_none());
}
