//! What is done beside the window holds nothing up: opening, writing, and what is given up meanwhile.

use super::{coated, empty, folder, settle, type_into};
use crate::app::{Action, State};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// The cube coated and written; the window, its folder, the outcome's folder.
fn written() -> (tempfile::TempDir, Harness<'static, State>, PathBuf) {
    let (folder, mut window) = coated();
    window.state_mut().here = folder.path().to_owned();
    window.get_by_label("Write outcome").click();
    window.run_steps(2);
    settle(window.state_mut());
    window.run_steps(2);
    let outcome = folder.path().join("cube-coat");
    (folder, window, outcome)
}

fn text(window: &Harness<'_, State>) -> String {
    window.state().document.as_ref().unwrap().text().to_owned()
}

/// Edits and takes back as people do; true when each shows in the plan at once.
fn answers(window: &mut Harness<'_, State>) -> bool {
    let before = text(window);
    type_into(window, "turn y", "33 deg");
    let edited = text(window).contains("33 deg");
    window.get_by_label("Undo").click();
    window.run_steps(3);
    edited && text(window) == before
}

/// Waits until nobody is behind a gate any more: all errands held by it have told how they ended.
fn all_through(gate: &Arc<Mutex<()>>) {
    let patience = Instant::now() + Duration::from_secs(60);
    while Arc::strong_count(gate) > 1 {
        assert!(Instant::now() < patience, "an errand hangs");
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// Files and folders beside a plan whose names begin with a dot.
fn hidden(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
    names.filter(|name| name.starts_with('.')).collect()
}

#[test]
fn the_panels_answer_while_an_outcome_is_opened() {
    let (_folder, mut window, outcome) = written();
    let gate = window.state_mut().hold_errands();
    let held = gate.lock().unwrap();
    window.state_mut().apply(Action::Open(outcome));
    window.run_steps(2);
    window.get_by_label_contains("opening cube-coat");
    assert!(
        answers(&mut window),
        "an edit shows while the opening is held"
    );
    window.get_by_label_contains("opening cube-coat");
    drop(held);
    settle(window.state_mut());
    window.run_steps(2);
    assert!(window.state().document.is_none() && window.state().shown.is_some());
    window.get_by_label_contains("opened ");
    assert!(window.query_by_label_contains("opening ").is_none());
}

#[test]
fn the_panels_answer_while_an_outcome_is_written_and_its_place_is_said() {
    let (folder, mut window) = coated();
    window.state_mut().here = folder.path().to_owned();
    let gate = window.state_mut().hold_errands();
    let held = gate.lock().unwrap();
    window.get_by_label("Write outcome").click();
    window.run_steps(3);
    window.get_by_label_contains("writing cube-coat");
    let button = window.get_by_label("Write outcome");
    assert!(button.accesskit_node().is_disabled(), "one at a time");
    let before = Arc::clone(window.state().shown.as_ref().unwrap());
    assert!(
        answers(&mut window),
        "an edit shows while the writing is held"
    );
    let outcome = folder.path().join("cube-coat");
    assert!(!outcome.exists());
    drop(held);
    settle(window.state_mut());
    window.run_steps(2);
    window.get_by_label_contains(&format!("wrote {}", outcome.display()));
    // what was shown when it was asked for, whatever was edited meanwhile
    let read = evenfall_sim::outcome::read(&outcome).unwrap();
    assert_eq!(read.summary, before.outcome.summary);
    assert!(hidden(folder.path()).is_empty());
}

#[test]
fn a_second_opening_replaces_the_first_however_late_that_answers() {
    let (_folder, mut window, outcome) = written();
    let (_other, plan) = folder();
    let gate = window.state_mut().hold_errands();
    let held = gate.lock().unwrap();
    window.state_mut().apply(Action::Open(outcome));
    window.state_mut().let_errands_go();
    window.state_mut().apply(Action::Open(plan.clone()));
    settle(window.state_mut());
    window.run_steps(2);
    let opened = |window: &Harness<'_, State>| {
        let document = window.state().document.as_ref();
        document.map(|document| document.path.clone())
    };
    assert_eq!(opened(&window), Some(plan.clone()));
    drop(held);
    all_through(&gate);
    window.state_mut().refresh();
    window.run_steps(2);
    assert_eq!(opened(&window), Some(plan), "the late answer is dropped");
    assert!(window.query_by_label_contains("opening ").is_none());
}

#[test]
fn what_is_being_opened_is_given_up_by_stop() {
    let (_folder, mut window, outcome) = written();
    let gate = window.state_mut().hold_errands();
    let held = gate.lock().unwrap();
    window.state_mut().apply(Action::Open(outcome));
    window.run_steps(2);
    window.get_by_label("Stop").click();
    window.run_steps(2);
    window.get_by_label_contains("stopped opening");
    drop(held);
    window.state_mut().let_errands_go();
    all_through(&gate);
    window.state_mut().refresh();
    assert!(window.state().document.is_some());
}

#[test]
fn a_mesh_that_cannot_be_read_says_why_when_that_is_known_and_changes_nothing() {
    let (folder, mut window) = coated();
    let mesh = folder.path().join("broken.stl");
    std::fs::write(&mesh, "solid broken\nfacet nonsense\n").unwrap();
    let gate = window.state_mut().hold_errands();
    let held = gate.lock().unwrap();
    window.state_mut().apply(Action::Open(mesh));
    window.run_steps(2);
    window.get_by_label_contains("opening broken.stl");
    assert!(answers(&mut window));
    drop(held);
    settle(window.state_mut());
    window.run_steps(2);
    window.get_by_label_contains("broken.stl");
    let note = window.state().note.clone().unwrap();
    assert!(
        note.contains("broken.stl") && !note.contains("opened"),
        "{note}"
    );
    assert!(window.state().document.is_some() && window.state().asked.is_none());
}

#[test]
fn a_window_that_closes_while_it_writes_leaves_the_folder_whole() {
    let (folder, mut window) = coated();
    let state = window.state_mut();
    state.here = folder.path().to_owned();
    state.apply(Action::Write);
    state.finish();
    let outcome = folder.path().join("cube-coat");
    assert!(evenfall_sim::outcome::read(&outcome).is_ok());
    assert!(hidden(folder.path()).is_empty());
}

#[test]
fn a_file_that_is_not_there_says_so() {
    let mut state = empty();
    state.apply(Action::Open(PathBuf::from("nowhere.toml")));
    settle(&mut state);
    assert!(state.note.unwrap().contains("nowhere.toml cannot be read"));
}
