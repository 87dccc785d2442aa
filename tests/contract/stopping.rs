//! How a run ends early: by its limits, by Ctrl-C, by being killed.

use crate::program::{Folder, names_in, signal, wait};
use crate::sample::bowl_folder;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::Child;

/// An accuracy that no run reaches while a test waits.
const ENDLESS: [&str; 2] = ["--accuracy", "0.0001%"];

fn start_endless(folder: &Folder) -> Child {
    let mut arguments = vec!["coat", "bowl.toml"];
    arguments.extend(ENDLESS);
    folder.start(&arguments)
}

/// Reads stderr until the run itself is under way; returns the rest of stderr.
fn wait_for_the_run(child: &mut Child) -> BufReader<std::process::ChildStderr> {
    let mut stderr = BufReader::new(child.stderr.take().unwrap());
    let mut line = String::new();
    while !line.contains("following lines") {
        line.clear();
        assert_ne!(
            stderr.read_line(&mut line).unwrap(),
            0,
            "the run ended at once"
        );
    }
    stderr
}

fn bytes_in(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    names_in(folder)
        .into_iter()
        .map(|name| {
            let bytes = fs::read(folder.join(&name)).unwrap();
            (name, bytes)
        })
        .collect()
}

fn summary(folder: &Folder) -> Value {
    serde_json::from_str(&folder.read("bowl-coat/summary.json")).unwrap()
}

#[test]
fn a_killed_run_leaves_the_last_outcome_untouched() {
    let folder = bowl_folder();
    folder
        .run(&["coat", "bowl.toml", "--accuracy", "20%"])
        .ends_with(0);
    let before = bytes_in(&folder.join("bowl-coat"));
    let mut child = start_endless(&folder);
    let rest = wait_for_the_run(&mut child);
    child.kill().unwrap();
    let status = child.wait().unwrap();
    drop(rest);
    assert_eq!(
        std::os::unix::process::ExitStatusExt::signal(&status),
        Some(9)
    );
    assert_eq!(bytes_in(&folder.join("bowl-coat")), before);
    // And the next run is not held up by what the killed one left.
    folder
        .run(&["coat", "bowl.toml", "--accuracy", "20%", "--seed", "3"])
        .ends_with(0);
    assert_eq!(summary(&folder)["seed"], 3);
}

#[test]
fn ctrl_c_keeps_what_was_reached_and_says_so() {
    let folder = bowl_folder();
    let mut child = start_endless(&folder);
    let mut rest = wait_for_the_run(&mut child);
    signal(&child, "INT");
    let mut said = String::new();
    std::io::Read::read_to_string(&mut rest, &mut said).unwrap();
    child.stderr = None;
    let status = child.wait().unwrap();
    assert_eq!(status.code(), Some(130), "{said}");
    assert!(said.contains("what was reached is kept"), "{said}");
    assert_eq!(summary(&folder)["stopped"], "user");
    assert!(folder.join("bowl-coat/report.html").exists());
}

#[test]
fn a_second_ctrl_c_ends_at_once_with_130_and_writes_nothing_more() {
    let folder = bowl_folder();
    let mut child = start_endless(&folder);
    let rest = wait_for_the_run(&mut child);
    signal(&child, "INT");
    signal(&child, "INT");
    let status = child.wait().unwrap();
    drop(rest);
    assert_eq!(status.code(), Some(130));
}

#[test]
fn the_limit_on_time_ends_the_run_and_is_named() {
    let folder = bowl_folder();
    let mut arguments = vec!["coat", "bowl.toml", "--time", "1s", "--json"];
    arguments.extend(ENDLESS);
    let json = folder.run(&arguments).ends_with(0).json();
    assert_eq!(json["stopped"], "time");
    assert!(json["accuracy_reached"].as_f64().unwrap() > json["accuracy_asked"].as_f64().unwrap());
}

#[test]
fn the_limit_on_atoms_ends_the_run_and_is_named() {
    let folder = bowl_folder();
    let mut arguments = vec![
        "coat",
        "bowl.toml",
        "--method",
        "fire",
        "--atoms",
        "50000",
        "--json",
    ];
    arguments.extend(ENDLESS);
    let json = folder.run(&arguments).ends_with(0).json();
    assert_eq!(json["stopped"], "atoms");
    assert_eq!(json["balance"]["emitted"], 50_000);
}

#[test]
fn accuracy_reached_is_named_and_true() {
    let folder = bowl_folder();
    let ran = folder.run(&["coat", "bowl.toml", "--accuracy", "5%", "--json"]);
    let json = ran.ends_with(0).json();
    assert_eq!(json["stopped"], "reached");
    assert!(json["accuracy_reached"].as_f64().unwrap() <= 0.05);
}

#[test]
fn waiting_notices_a_run_that_ends_by_itself() {
    let folder = bowl_folder();
    let mut child = folder.start(&["coat", "bowl.toml", "--accuracy", "20%"]);
    wait(&mut child).ends_with(0);
}
