//! What plans get that lie, explode or ask for the impossible: sentences, in bounded time and memory.

use crate::program::{Folder, Ran};
use crate::sample::{CUBE_PLAN, cube_folder, cube_plan_with};

fn check_text(plan: impl AsRef<[u8]>) -> Ran {
    let folder = cube_folder();
    folder.write("cube.toml", plan);
    let ran = folder.run_limited(&["check", "cube.toml"]);
    assert_eq!(folder.names(), ["cube.stl", "cube.toml"]);
    ran
}

/// The plan with this text added is refused by both commands, saying this; nothing is written.
#[track_caller]
fn refused(plan: &str, said: &[&str]) {
    let folder = cube_folder();
    folder.write("cube.toml", plan);
    let ran = folder
        .run_limited(&["check", "cube.toml"])
        .refuses_with(said);
    assert!(ran.stderr.starts_with("cube.toml:"), "{}", ran.stderr);
    folder
        .run_limited(&["coat", "cube.toml", "--quiet"])
        .refuses_with(said);
    assert_eq!(
        folder.names(),
        ["cube.stl", "cube.toml"],
        "something was written"
    );
}

#[track_caller]
fn refused_with_line(line: &str, instead: &str, said: &[&str]) {
    refused(&cube_plan_with(line, instead), said);
}

#[test]
fn a_plan_that_is_not_there_or_not_a_file_is_refused() {
    let folder = Folder::new();
    folder
        .run(&["coat", "none.toml"])
        .refuses_with(&["none.toml"]);
    std::fs::create_dir(folder.join("folder.toml")).unwrap();
    folder
        .run(&["check", "folder.toml"])
        .refuses_with(&["folder.toml"]);
}

#[test]
fn a_plan_that_is_not_text_is_refused_at_the_byte() {
    let mut bytes = CUBE_PLAN.as_bytes().to_vec();
    bytes[9] = 0xff;
    check_text(bytes).refuses_with(&["cube.toml", "UTF-8"]);
    check_text([0xff, 0xfe, b'a', 0]).refuses_with(&["UTF-8"]);
}

#[test]
fn an_empty_plan_is_told_what_it_needs() {
    refused_everywhere("");
    refused_everywhere("# nothing\n");
}

fn refused_everywhere(text: &str) {
    let ran = check_text(text).refuses_with(&[]);
    for word in ["source", "part", "step"] {
        assert!(ran.stderr.contains(word), "{word}: {}", ran.stderr);
    }
}

#[test]
fn a_line_of_twelve_megabytes_is_refused_quickly() {
    let long = "x".repeat(12_000_000);
    let ran = check_text(format!("title = \"t\"\n{long} = 1\n{CUBE_PLAN}")).refuses_with(&[]);
    assert!(ran.stderr.len() < 100_000, "{} bytes", ran.stderr.len());
    // Short enough to be read, too long to be drawn.
    let shorter = "x".repeat(900_000);
    let ran = check_text(format!("titel = \"{shorter}\"\n")).refuses_with(&["titel", "title"]);
    assert!(ran.stderr.len() < 100_000, "{} bytes", ran.stderr.len());
}

#[test]
fn deep_nesting_and_many_tables_are_survived() {
    check_text(format!(
        "x = {}1{}\n",
        "[".repeat(100_000),
        "]".repeat(100_000)
    ))
    .refuses_with(&[]);
    check_text(format!("{}\n", "[a.".repeat(50_000))).refuses_with(&[]);
    check_text(format!("x = {}\n", "{ a = ".repeat(50_000))).refuses_with(&[]);
    check_text("[[step]]\n".repeat(20_000)).refuses_with(&[]);
}

#[test]
fn an_include_in_a_circle_or_missing_is_refused() {
    let folder = cube_folder();
    folder.write(
        "cube.toml",
        format!("include = [\"other.toml\"]\n{CUBE_PLAN}"),
    );
    folder
        .run(&["check", "cube.toml"])
        .refuses_with(&["other.toml"]);
    folder.write("other.toml", "include = [\"cube.toml\"]\n");
    folder
        .run(&["check", "cube.toml"])
        .refuses_with(&["other.toml", "cube.toml"]);
}

#[test]
fn what_is_wrong_in_an_included_file_is_shown_there() {
    let folder = cube_folder();
    folder.write(
        "cube.toml",
        format!("include = [\"film.toml\"]\n{CUBE_PLAN}"),
    );
    folder.write("film.toml", "[film]\nwant = \"100\"\n");
    let ran = folder
        .run(&["check", "cube.toml"])
        .refuses_with(&["film.toml:2:8: "]);
    assert!(ran.stderr.contains("want = \"100\""), "{}", ran.stderr);
}

#[test]
fn quantities_without_a_unit_or_with_a_wrong_one_are_refused() {
    refused_with_line("charge = \"50 mg\"", "charge = 50", &["charge", "unit"]);
    refused_with_line("charge = \"50 mg\"", "charge = \"50 mm\"", &["50 mm"]);
    refused_with_line(
        "charge = \"50 mg\"",
        "charge = \"50 furlong\"",
        &["furlong"],
    );
    refused_with_line("charge = \"50 mg\"", "charge = \"nan mg\"", &["nan"]);
    refused_with_line("charge = \"50 mg\"", "charge = \"inf mg\"", &["inf"]);
    refused_with_line("charge = \"50 mg\"", "charge = \"-50 mg\"", &["-50"]);
    refused_with_line("charge = \"50 mg\"", "charge = \"1e400 mg\"", &["1e400"]);
}

#[test]
fn an_unknown_key_is_shown_with_the_nearest_known_one() {
    refused_with_line(
        "metal = \"silver\"",
        "metall = \"silver\"",
        &["metall", "metal"],
    );
    refused_with_line(
        "metal = \"silver\"",
        "metal = \"sliver\"",
        &["sliver", "silver"],
    );
}

#[test]
fn a_schedule_that_coats_nothing_is_refused() {
    let shutter = "\n[[shutter]]\nname = \"flag\"\nover = [\"head\"]\nbody = { shape = \"plate\", \
                   size = [\"60 mm\", \"60 mm\", \"1 mm\"] }\nat = [\"0 mm\", \"0 mm\", \"20 mm\"]\n";
    let shut = CUBE_PLAN.replace("lasts = \"5 min\"", "lasts = \"5 min\"\nshutter = \"shut\"");
    refused(&format!("{shut}{shutter}"), &["open"]);
    let off = CUBE_PLAN.replace("lasts = \"5 min\"", "lasts = \"5 min\"\npower = 0.0");
    refused(&off, &["power"]);
    refused(
        &cube_plan_with(
            "note = \"first half\"\nlasts = \"5 min\"",
            "lasts = \"0 s\"",
        ),
        &["0 s"],
    );
    let steps = CUBE_PLAN.split("[[step]]").next().unwrap();
    refused(steps, &["step"]);
}

#[test]
fn a_source_that_faces_away_is_refused() {
    refused_with_line("facing = [0, 0, 1]", "facing = [0, 0, -1]", &["head"]);
    refused_with_line("facing = [0, 0, 1]", "facing = [0, 0, 0]", &["facing"]);
}

#[test]
fn gas_without_a_chamber_is_refused() {
    refused(
        &format!("{CUBE_PLAN}\n[gas]\npressure = \"4 mTorr\"\n"),
        &["chamber"],
    );
}

#[test]
fn a_part_bigger_than_the_chamber_is_told_in_mm_and_inch_and_other_units() {
    let chamber = "\n[chamber]\nshape = \"cylinder\"\ndiameter = \"300 mm\"\nheight = \"300 mm\"\n";
    let inches = cube_plan_with("unit = \"mm\"", "unit = \"in\"");
    refused(
        &format!("{inches}{chamber}"),
        &["508 mm", "20 in", "mm", "cm"],
    );
}

#[test]
fn a_tiny_part_is_a_warning_with_other_units() {
    let ran = check_text(cube_plan_with("unit = \"mm\"", "unit = \"um\"")).ends_with(0);
    assert!(ran.stdout.contains("0.02"), "{}", ran.stdout);
    assert!(ran.stdout.contains("warning"), "{}", ran.stdout);
}

#[test]
fn a_part_that_cuts_something_as_it_turns_is_told_the_angle() {
    let wing = "\n[[fixture]]\nname = \"arm\"\nbody = { shape = \"plate\", size = [\"30 mm\", \
                \"30 mm\", \"1 mm\"] }\nat = [\"0 mm\", \"0 mm\", \"87 mm\"]\n";
    // The cube's half diagonal, 14.1 mm, reaches z = 85.9 mm at 45°; its face never does.
    refused(&format!("{CUBE_PLAN}{wing}"), &["arm", "cube", "deg"]);
    let parked = CUBE_PLAN.replace("lasts = \"5 min\"", "lasts = \"5 min\"\nhold = [\"0 deg\"]");
    let ran = check_text(format!("{parked}{wing}")).ends_with(0);
    assert!(ran.stdout.contains("arm"), "{}", ran.stdout);
}

#[test]
fn names_that_name_nothing_are_refused() {
    refused(
        &format!("{CUBE_PLAN}\n[film]\nwant = \"10 nm\"\nin = [\"bore\"]\n"),
        &["bore"],
    );
    refused(
        &cube_plan_with(
            "charge = \"50 mg\"",
            "coupon = \"wittness\", thickness = \"10 nm\", after = \"1 min\"",
        ),
        &["wittness", "witness"],
    );
}

#[test]
fn a_name_given_twice_is_refused() {
    refused(
        &format!(
            "{CUBE_PLAN}\n[[coupon]]\nname = \"witness\"\nat = [\"0 mm\", \"0 mm\", \"50 mm\"]\nfacing = [0, 0, -1]\n"
        ),
        &["witness"],
    );
}

#[test]
fn a_comma_is_a_decimal_mark() {
    let folder = cube_folder();
    folder.write(
        "cube.toml",
        cube_plan_with("charge = \"50 mg\"", "charge = \"50,5 mg\""),
    );
    let ran = folder.run(&["check", "cube.toml"]).ends_with(0);
    assert!(ran.stdout.contains("50.5 mg"), "{}", ran.stdout);
}
