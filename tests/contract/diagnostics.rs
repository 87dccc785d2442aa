//! Problems of a plan: all at once, each with its place, drawn with the line it stands in.

use crate::program::Folder;
use crate::sample::{CUBE_PLAN, cube_folder};

fn broken_folder() -> Folder {
    let folder = cube_folder();
    let plan = CUBE_PLAN
        .replace("charge = \"50 mg\"", "charge = \"50 mm\"")
        .replace("speed = \"6 rpm\"", "speed = \"6 rpn\"")
        .replace("unit = \"mm\"", "unit = \"mm\"\ncolour = \"green\"");
    folder.write("cube.toml", plan);
    folder
}

#[test]
fn all_problems_come_at_once_in_file_order_each_on_a_line() {
    let folder = broken_folder();
    let ran = folder
        .run(&["coat", "cube.toml"])
        .refuses_with(&["3 problems found"]);
    let places: Vec<_> = ran
        .stderr
        .lines()
        .map_while(|line| line.strip_prefix("cube.toml:"))
        .map(|line| line.split(':').next().unwrap().parse::<usize>().unwrap())
        .collect();
    assert_eq!(places, [10, 16, 27], "{}", ran.stderr);
}

#[test]
fn the_lines_of_the_plan_are_drawn_with_the_keys() {
    let ran = broken_folder().run(&["check", "cube.toml"]).refuses_with(&[
        "output = { charge = \"50 mm\" }",
        "source.head.output.charge",
        "6 rpn",
    ]);
    assert!(!ran.stderr.contains('\u{1b}'), "colour without a terminal");
    assert!(
        ran.stderr.is_ascii(),
        "line drawing without a terminal: {}",
        ran.stderr
    );
}

#[test]
fn check_and_coat_say_the_same() {
    let folder = broken_folder();
    let check = folder.run(&["check", "cube.toml"]).refuses_with(&[]);
    let coat = folder.run(&["coat", "cube.toml"]).refuses_with(&[]);
    assert_eq!(check.stderr, coat.stderr);
}

#[test]
fn with_json_the_problems_still_go_to_stderr() {
    broken_folder()
        .run(&["check", "cube.toml", "--json"])
        .refuses_with(&["cube.toml:10:"]);
}

#[test]
fn every_problem_says_what_to_do_without_a_final_stop() {
    let ran = broken_folder()
        .run(&["check", "cube.toml"])
        .refuses_with(&[]);
    for line in ran.stderr.lines().take(3) {
        let text = line.splitn(4, ':').nth(3).unwrap().trim();
        assert!(text.contains(';'), "nothing to do is said: {line}");
        assert!(!text.ends_with('.'), "{line}");
        assert!(text.starts_with(|c: char| !c.is_uppercase()), "{line}");
    }
}
