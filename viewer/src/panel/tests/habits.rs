//! What people do beyond looking: crashes, drags, pins, settings.

use super::{coated, empty, settle, type_into, window};
use crate::app::document::Change;
use crate::app::{Action, State};
use crate::panel;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use std::sync::Arc;

#[test]
fn edits_that_a_crash_left_unsaved_are_offered_again() {
    let (folder, text) = {
        let (folder, mut window) = coated();
        type_into(&mut window, "turn y", "75 deg");
        settle(window.state_mut());
        let text = window.state().document.as_ref().unwrap().text().to_owned();
        (folder, text)
    }; // the window is gone without a save
    let plan = folder.path().join("cube.toml");
    let mut again = window(empty());
    again.state_mut().apply(Action::Open(plan.clone()));
    settle(again.state_mut());
    again.run_steps(3);
    again.get_by_label("Take them over").click();
    again.run_steps(3);
    let document = again.state().document.as_ref().unwrap();
    assert_eq!(document.text(), text);
    assert!(document.is_unsaved() && document.can_undo());
    again.state_mut().apply(Action::Save);
    assert_eq!(std::fs::read_to_string(&plan).unwrap(), text);
    let mut third = window(empty());
    third.state_mut().apply(Action::Open(plan));
    settle(third.state_mut());
    third.run_steps(3);
    assert!(third.query_by_label("Take them over").is_none());
}

#[test]
fn a_dragged_end_of_a_step_changes_its_time_in_one_edit() {
    let (_folder, mut window) = coated();
    let end = window.get_by_label("End of step 1").rect().center();
    let width = window.get_by_label("Stage").rect().width();
    window.hover_at(end);
    window.run_steps(2);
    window.drag_at(end);
    window.run_steps(2);
    for part in 1..=4 {
        let part = f32::from(u8::try_from(part).unwrap());
        window.hover_at(end - egui::Vec2::new(0.1 * width * part, 0.0));
        window.run_steps(1);
    }
    window.drop_at(end - egui::Vec2::new(0.4 * width, 0.0));
    window.run_steps(3);
    let lasts = |window: &Harness<'_, State>| {
        let document = window.state().document.as_ref().unwrap();
        let sections = document.sections().to_vec();
        let mut fields = sections.into_iter().flat_map(|section| section.fields);
        fields
            .find(|field| field.key == "step.1.lasts")
            .unwrap()
            .text
    };
    let minutes: f64 = lasts(&window)
        .strip_suffix(" min")
        .unwrap()
        .parse()
        .unwrap();
    assert!((5.0..9.0).contains(&minutes), "{minutes}");
    settle(window.state_mut());
    window.state_mut().apply(Action::Undo);
    assert_eq!(lasts(&window), "10 min");
}

#[test]
fn the_pointer_turns_by_the_button_that_was_chosen() {
    use crate::app::settings::{Pointer, Settings};
    let (_folder, mut window) = coated();
    let round = |window: &Harness<'_, State>| window.state().orbit.round_rad;
    let drag = |window: &mut Harness<'_, State>| {
        let middle = window.get_by_label("Stage").rect().center();
        window.hover_at(middle);
        window.run_steps(1);
        window.drag_at(middle);
        window.run_steps(1);
        for step in [20.0, 40.0, 60.0] {
            window.hover_at(middle + egui::Vec2::new(step, 0.0));
            window.run_steps(1);
        }
        window.drop_at(middle + egui::Vec2::new(60.0, 0.0));
        window.run_steps(1);
    };
    let before = round(&window);
    drag(&mut window);
    let after = round(&window);
    assert!(
        (after - before).abs() > 0.05,
        "the first button turns at first"
    );
    window.state_mut().apply(Action::Set(Settings {
        pointer: Pointer::Second,
        ..Settings::default()
    }));
    drag(&mut window);
    assert!((round(&window) - after).abs() < 1e-9, "and then no longer");
}

#[test]
fn a_pinned_spot_stays_on_its_part_when_the_part_is_moved() {
    let (_folder, mut window) = coated();
    let state = window.state_mut();
    state.apply(Action::Fit);
    let shown = Arc::clone(state.shown.as_ref().unwrap());
    let spot = panel::find(state, &shown, glam::DVec2::new(0.05, 0.05)).unwrap();
    state.apply(Action::Pin(Some(spot)));
    window.run_steps(2);
    let document = window.state().document.as_ref().unwrap();
    let mut fields = document
        .sections()
        .iter()
        .flat_map(|section| &section.fields);
    let way = fields
        .find(|field| field.key == "part.cube.at.z")
        .unwrap()
        .steps
        .clone();
    window
        .state_mut()
        .apply(Action::Edit(Change::Set(way, "170 mm".to_owned())));
    settle(window.state_mut());
    let state = window.state();
    let at = |shown: &crate::stage::Shown, spot: &crate::stage::pick::Spot| {
        shown.outcome.parts[0]
            .chamber_from_part
            .transform_point3(spot.at_m)
    };
    let before = at(&shown, &spot);
    let after = at(state.shown.as_ref().unwrap(), &state.spot.unwrap());
    let by = glam::DVec3::new(0.0, 0.0, 0.02);
    assert!((after - before).distance(by) < 1e-12, "{before} {after}");
}

#[test]
fn panels_grow_and_shrink_by_keys_within_their_bounds() {
    let (_folder, mut window) = coated();
    for _ in 0..12 {
        window.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Plus);
        window.run_steps(1);
    }
    assert!((window.state().settings.zoom - 2.5).abs() < 1e-6);
    window.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Minus);
    window.run_steps(1);
    assert!((window.state().settings.zoom - 2.0).abs() < 1e-6);
    window.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Num0);
    window.run_steps(1);
    assert!((window.state().settings.zoom - 1.0).abs() < 1e-6);
}
