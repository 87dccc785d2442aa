//! Advice in the window: asked for, shown, taken over in one edit.

use super::{PLAN, coated_with, settle};
use crate::app::{Action, Advising, State};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use std::time::{Duration, Instant};

/// One key, so that a search takes a second.
const ADVISE: &str = "[advise]\nminimise = \"time\"\n[[advise.vary]]\nkey = \"part.cube.at.z\"\nfrom = \"120 mm\"\nto = \"200 mm\"\n";

/// The cube, with `[film]` on half of it and advice wanted.
fn asking() -> (tempfile::TempDir, Harness<'static, State>) {
    coated_with(&format!("{PLAN}on = \"50 %\"\n{ADVISE}"))
}

fn until_found(window: &mut Harness<'_, State>) {
    let end = Instant::now() + Duration::from_secs(300);
    while window.state().is_advising() {
        assert!(Instant::now() < end, "the search does not end");
        std::thread::sleep(Duration::from_millis(20));
        window.state_mut().refresh();
    }
    window.run_steps(3);
}

fn height(window: &Harness<'_, State>) -> f64 {
    let document = window.state().document.as_ref().unwrap();
    let mut fields = document.sections().iter().flat_map(|s| &s.fields);
    let field = fields.find(|f| f.key == "part.cube.at.z").unwrap();
    field.text.strip_suffix(" mm").unwrap().parse().unwrap()
}

#[test]
fn advice_is_searched_and_its_best_is_put_into_the_plan_in_one_edit() {
    let (_folder, mut window) = asking();
    window.get_by_label("Search for advice").click();
    window.run_steps(2);
    assert!(window.state().is_advising());
    until_found(&mut window);
    let Advising::Found(found, _) = window.state().advising.clone() else {
        panic!("{:?}", window.state().advising);
    };
    assert!(!found.advice.front.is_empty());
    assert_eq!(found.front_texts.len(), found.advice.front.len());
    window.get_by_label("Put the best into the plan").click();
    window.run_steps(3);
    // the nearer the sooner: the lowest height that is allowed
    assert!(height(&window) < 122.0, "{}", height(&window));
    settle(window.state_mut());
    window.run_steps(2);
    let shown = window.state().shown.as_ref().unwrap();
    let on_stage = 1e3 * shown.outcome.parts[0].chamber_from_part.translation.z;
    assert!((on_stage - height(&window)).abs() < 1e-6, "{on_stage}");
    window.state_mut().apply(Action::Undo);
    assert!((height(&window) - 150.0).abs() < 1e-9);
    let document = window.state().document.as_ref().unwrap();
    assert!(!document.can_undo(), "one edit");
}

#[test]
fn a_point_of_the_front_is_taken_and_a_search_is_stopped() {
    let (_folder, mut window) = asking();
    window.get_by_label("Search for advice").click();
    window.run_steps(2);
    until_found(&mut window);
    window.get_by_label("Take 1").click();
    window.run_steps(3);
    assert!((height(&window) - 150.0).abs() > 1e-9);
    // the rows of the front push these below what is seen
    window.get_by_label("Search again").click_accesskit();
    window.run_steps(2);
    window.get_by_label("Stop the search").click_accesskit();
    window.run_steps(2);
    until_found(&mut window);
    assert!(!matches!(window.state().advising, Advising::Busy(..)));
}

#[test]
fn a_plan_that_asks_for_no_advice_has_no_such_section() {
    let (_folder, window) = super::coated();
    assert!(window.query_by_label("Search for advice").is_none());
}

#[test]
fn why_there_is_no_advice_is_said() {
    let (_folder, mut window) = asking();
    let document = window.state().document.as_ref().unwrap();
    let text = document.text().replace("part.cube.at.z", "part.cube.scale");
    window.state_mut().apply(Action::TakePlan(text));
    settle(window.state_mut());
    window.run_steps(2);
    window.get_by_label("Search for advice").click();
    window.run_steps(2);
    until_found(&mut window);
    let Advising::Refused(why) = &window.state().advising else {
        panic!("{:?}", window.state().advising);
    };
    assert!(!why.is_empty());
    window.get_by_label("Search again");
}
