//! Commands, exit statuses, and what goes to which stream.

use crate::program::Folder;
use crate::sample::{self, cube_folder, cube_plan_with};
use serde_json::Value;

/// A coat that is quick: nothing here looks at its accuracy.
const QUICK: [&str; 2] = ["--accuracy", "20%"];

fn coat(folder: &Folder, extra: &[&str]) -> crate::program::Ran {
    let mut arguments = vec!["coat", "cube.toml"];
    arguments.extend(QUICK);
    arguments.extend(extra);
    folder.run(&arguments)
}

#[test]
fn version_names_version_and_build() {
    let ran = Folder::new().run(&["--version"]).ends_with(0);
    let words: Vec<_> = ran.stdout.split_whitespace().collect();
    assert_eq!(words[0], "evenfall");
    assert_eq!(words[1], env!("CARGO_PKG_VERSION"));
    assert!(words[2].starts_with('('), "{}", ran.stdout);
    assert_eq!(ran.stderr, "");
}

#[test]
fn help_lists_the_commands_and_the_exit_statuses() {
    let ran = Folder::new().run(&["--help"]).ends_with(0);
    for word in [
        "coat",
        "check",
        "new",
        "compare",
        "show",
        "schema",
        "Exit status",
        "130",
    ] {
        assert!(ran.stdout.contains(word), "{word}");
    }
}

#[test]
fn a_plan_without_a_command_is_told_which_commands_take_one() {
    Folder::new()
        .run(&["horn.toml"])
        .refuses_with(&["evenfall coat horn.toml", "evenfall check horn.toml"]);
}

#[test]
fn an_unknown_command_or_option_ends_with_2() {
    let folder = cube_folder();
    folder.run(&["coot"]).refuses_with(&["coot", "coat"]);
    folder
        .run(&["coat", "cube.toml", "--fast"])
        .refuses_with(&["--fast"]);
    for (option, value, said) in [
        ("--accuracy", "0%", "0 %"),
        ("--accuracy", "2 mm", "2 mm"),
        ("--time", "60", "60"),
        ("--time", "0 s", "0 s"),
        ("--threads", "0", "0"),
        ("--atoms", "0", "0"),
        ("--write", "summary,poster", "poster"),
        ("--method", "guess", "guess"),
    ] {
        folder
            .run(&["coat", "cube.toml", option, value])
            .refuses_with(&[option, said]);
    }
    assert_eq!(folder.names(), ["cube.stl", "cube.toml"]);
}

#[test]
fn coat_says_the_summary_on_stdout_and_the_rest_on_stderr() {
    let folder = cube_folder();
    let ran = coat(&folder, &[]).ends_with(0);
    assert!(ran.stdout.contains("cube"), "{}", ran.stdout);
    assert!(
        ran.stdout.contains("cube-coat/report.html"),
        "{}",
        ran.stdout
    );
    assert!(!ran.stdout.contains('\u{1b}') && !ran.stderr.contains('\u{1b}'));
    assert!(
        !ran.stderr.contains('\r'),
        "a progress bar without a terminal"
    );
}

#[test]
fn quiet_says_nothing_but_the_summary() {
    let folder = cube_folder();
    let ran = coat(&folder, &["--quiet"]).ends_with(0);
    assert_eq!(ran.stderr, "");
    assert_ne!(ran.stdout, "");
}

#[test]
fn json_is_the_summary_file_and_nothing_else() {
    let folder = cube_folder();
    let ran = coat(&folder, &["--json", "--seed", "7"]).ends_with(0);
    let file: Value = serde_json::from_str(&folder.read("cube-coat/summary.json")).unwrap();
    assert_eq!(ran.json(), file);
    assert_eq!(file["seed"], 7);
    assert_eq!(file["format"], "evenfall-outcome");
    assert_eq!(file["title"], "A cube over a ring");
}

#[test]
fn only_what_is_asked_for_is_written() {
    let folder = cube_folder();
    coat(&folder, &["--write", "summary,triangles"]).ends_with(0);
    let names = crate::program::names_in(&folder.join("cube-coat"));
    assert_eq!(names, ["summary.json", "triangles.csv"]);
}

#[test]
fn a_folder_that_holds_anything_else_is_refused_and_left_alone() {
    let folder = cube_folder();
    std::fs::create_dir(folder.join("cube-coat")).unwrap();
    folder.write("cube-coat/thesis.txt", "years of work");
    coat(&folder, &[]).refuses_with(&["thesis.txt", "--out"]);
    assert_eq!(folder.read("cube-coat/thesis.txt"), "years of work");
    folder.write("notes", "a file");
    coat(&folder, &["--out", "notes"]).refuses_with(&["notes is a file"]);
    coat(&folder, &["--out", "notes/inside"]).refuses_with(&["notes"]);
    coat(&folder, &["--out", "."]).refuses_with(&["--out"]);
    coat(&folder, &["--out", "/"]).refuses_with(&["--out"]);
    coat(&folder, &["--out", ""]).refuses_with(&["--out"]);
    assert_eq!(folder.read("notes"), "a file");
}

#[test]
fn a_film_that_is_missed_by_far_ends_with_3_and_one_that_is_met_with_0() {
    let folder = cube_folder();
    let film = |want: &str| {
        format!(
            "{}\n[film]\nwant = \"{want}\"\non = \"50 %\"\n",
            sample::CUBE_PLAN
        )
    };
    folder.write("cube.toml", film("1 mm"));
    let ran = coat(&folder, &["--json"]).ends_with(3);
    assert_eq!(ran.json()["film"]["verdict"], "missed");
    folder.write("cube.toml", film("0.001 nm"));
    let ran = coat(&folder, &["--json"]).ends_with(0);
    assert_eq!(ran.json()["film"]["verdict"], "met");
}

#[test]
fn check_explains_and_writes_nothing() {
    let folder = cube_folder();
    let ran = folder.run(&["check", "cube.toml"]).ends_with(0);
    for text in [
        "cube",
        "20 × 20 × 20 mm",
        "0.787 × 0.787 × 0.787 in",
        "silver",
        "10:00 min",
    ] {
        assert!(
            ran.stdout.contains(text),
            "{text:?} is not in:\n{}",
            ran.stdout
        );
    }
    let json = folder
        .run(&["check", "cube.toml", "--json"])
        .ends_with(0)
        .json();
    assert_eq!(json["parts"][0]["triangles"], 12);
    assert_eq!(folder.names(), ["cube.stl", "cube.toml"]);
}

#[test]
fn what_advise_may_vary_is_nothing_to_coat() {
    let folder = cube_folder();
    let vary = "[advise]\nminimise = \"time\"\n[[advise.vary]]\nkey = \"part.cube.at.z\"\nfrom = \"100 mm\"\nto = \"160 mm\"\n[[part]]";
    let plan = cube_plan_with("[[part]]", vary);
    folder.write("cube.toml", plan);
    coat(&folder, &["--atoms", "10000"]).ends_with(0);
    folder.run(&["check", "cube.toml"]).ends_with(0);
}

#[test]
fn gather_is_refused_with_sticking_below_1_and_auto_is_not() {
    let folder = cube_folder();
    let plan = cube_plan_with("unit = \"mm\"", "unit = \"mm\"\nsticking = 0.5");
    folder.write("cube.toml", plan);
    coat(&folder, &["--method", "gather"]).refuses_with(&[
        "cube.toml:",
        "sticking",
        "use auto or fire",
    ]);
    assert_eq!(folder.names(), ["cube.stl", "cube.toml"]);
    coat(&folder, &["--atoms", "10000"]).ends_with(0);
}

#[test]
fn schema_is_a_json_schema_that_knows_the_tables() {
    let json = Folder::new().run(&["schema"]).ends_with(0).json();
    assert!(
        json["$schema"]
            .as_str()
            .unwrap()
            .starts_with("https://json-schema.org/")
    );
    for table in [
        "source", "part", "step", "film", "chamber", "gas", "mask", "advise",
    ] {
        assert!(json["properties"].get(table).is_some(), "{table}");
    }
}

#[test]
fn every_starter_plan_is_understood_once_its_mesh_is_there() {
    for purpose in ["print", "stencil", "boat"] {
        let folder = Folder::new();
        let ran = folder
            .run(&["new", "--for", purpose, "start.toml"])
            .ends_with(0);
        assert!(
            ran.stderr.contains("evenfall check start.toml"),
            "{}",
            ran.stderr
        );
        let ran = folder.run(&["new", "start.toml"]);
        ran.refuses_with(&["start.toml exists already"]);
        assert_eq!(folder.names(), ["start.toml"]);
    }
}

#[test]
fn a_new_plan_takes_the_mesh_that_has_its_name() {
    let folder = cube_folder();
    folder.run(&["new", "cube.toml.new.toml"]).ends_with(0);
    assert!(
        folder
            .read("cube.toml.new.toml")
            .contains("mesh = \"part.stl\"")
    );
    std::fs::remove_file(folder.join("cube.toml")).unwrap();
    folder.run(&["new", "cube.toml"]).ends_with(0);
    assert!(folder.read("cube.toml").contains("\nmesh = \"cube.stl\" "));
}

#[test]
fn compare_says_what_differs_and_draws_it() {
    let folder = cube_folder();
    coat(&folder, &["--out", "one"]).ends_with(0);
    folder.write(
        "cube.toml",
        cube_plan_with("charge = \"50 mg\"", "charge = \"100 mg\""),
    );
    coat(&folder, &["--out", "two"]).ends_with(0);
    let ran = folder
        .run(&["compare", "one", "two", "--map", "map.png"])
        .ends_with(0);
    assert!(ran.stdout.contains("cube"), "{}", ran.stdout);
    assert!(ran.stdout.contains("+100 %"), "{}", ran.stdout);
    assert!(ran.stdout.contains("cube: none seen"), "{}", ran.stdout);
    assert!(ran.stdout.contains(" mm in the part"), "{}", ran.stdout);
    let picture = std::fs::read(folder.join("map.png")).unwrap();
    assert_eq!(&picture[..8], b"\x89PNG\r\n\x1a\n");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = |name: &str| folder.join(name).metadata().unwrap().permissions().mode();
        assert_eq!(
            mode("map.png"),
            mode("cube.toml"),
            "readable as any new file"
        );
    }
    let ran = folder.run(&["compare", "one", "one"]).ends_with(0);
    assert!(
        ran.stdout.contains("same within the noise"),
        "{}",
        ran.stdout
    );
    folder
        .run(&["compare", "one", "three"])
        .refuses_with(&["three"]);
}

#[test]
fn without_arguments_the_example_is_coated_in_an_empty_folder() {
    let folder = Folder::new();
    let ran = folder.run(&[]).ends_with(0);
    let names = folder.names();
    assert_eq!(names.len(), 1, "{names:?}");
    let report = format!("{}/report.html", names[0]);
    assert!(ran.stdout.contains(&report), "{}", ran.stdout);
    assert!(ran.stdout.contains("evenfall new"), "{}", ran.stdout);
    assert!(folder.read(&report).contains("<html"));
}
