//! Plan files as files: includes, encodings, sizes, and what is no file at all.

use super::{BASE, reads, said};
use evenfall_sim::plan::{self, Plan};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// Writes files into a fresh folder.
fn folder(files: &[(&str, &str)]) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("horn.stl"), "").unwrap();
    for (name, text) in files {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    folder
}

/// Diagnostics with the folder's own path taken out.
fn said_of(folder: &TempDir, name: &str) -> Vec<String> {
    let errors = plan::read(&folder.path().join(name)).expect_err("it should not read");
    let prefix = format!("{}/", folder.path().display());
    errors
        .errors
        .iter()
        .map(|error| error.to_string().replace(&prefix, ""))
        .collect()
}

fn reads_from(folder: &TempDir, name: &str) -> Plan {
    plan::read(&folder.path().join(name)).unwrap_or_else(|errors| panic!("{errors}"))
}

#[test]
fn tables_merge_entries_merge_by_name_and_the_including_plan_wins() {
    let shared = r#"
        [chamber]
        shape = "cylinder"
        diameter = "500 mm"
        height = "900 mm"
        [[coupon]]
        name = "side"
        at = ["90 mm", "0 mm", "100 mm"]
        facing = [-1, 0, 0]
        [[coupon]]
        name = "witness"
        at = ["1 mm", "2 mm", "3 mm"]
        facing = [0, 1, 0]
        size = "25 mm"
        [[step]]
        lasts = "99 min"
    "#;
    let plan = format!(
        "include = [\"shared.toml\"]\n{}",
        BASE.replace("height = \"350 mm\"\n", "")
    );
    let folder = folder(&[("shared.toml", shared), ("plan.toml", &plan)]);
    let merged = reads_from(&folder, "plan.toml");
    let chamber = format!("{:?}", merged.chamber.unwrap().shape);
    assert_eq!(chamber, "Cylinder { diameter_m: 0.3, height_m: 0.9 }");
    let names: Vec<_> = merged.coupons.iter().map(|c| c.name.as_str()).collect();
    assert_eq!(names, ["side", "witness"]);
    // Said in both: the including plan's; said below only: kept.
    assert_eq!(merged.coupons[1].at_m.to_array(), [0.04, 0.0, 0.15]);
    assert_eq!(merged.coupons[1].size_m.to_bits(), 0.025f64.to_bits());
    // Steps have no names: the including plan's replace the others.
    assert_eq!(merged.steps.len(), 2);
    let at = |key: &str| {
        let place = &merged.places[key];
        (
            place.file.file_name().unwrap().to_str().unwrap(),
            place.line,
        )
    };
    assert_eq!(at("coupon.witness.size"), ("shared.toml", 14));
    assert_eq!(at("coupon.witness.at"), ("plan.toml", 42));
    assert_eq!(at("chamber.height"), ("shared.toml", 5));
    assert_eq!(merged.files.len(), 2);
    assert_eq!(merged.files[0].1, plan);
}

#[test]
fn of_two_included_files_the_later_wins_and_paths_are_relative_to_their_own_file() {
    let one = "[film]\nwant = \"1 nm\"\non = \"50 %\"\n";
    let two =
        "[film]\nwant = \"2 nm\"\n[[part]]\nname = \"lid\"\nmesh = \"lid.stl\"\nunit = \"mm\"\n";
    let text = BASE.replace("[film]\nwant = \"100 nm\"\nin = [\"bore\"]\n", "");
    let plan = format!("include = [\"one.toml\", \"deep/two.toml\"]\n{text}");
    let folder = folder(&[
        ("one.toml", one),
        ("deep/two.toml", two),
        ("deep/lid.stl", ""),
        ("plan.toml", &plan),
    ]);
    let merged = reads_from(&folder, "plan.toml");
    let film = merged.film.unwrap();
    assert_eq!(format!("{:?} {}", film.want, film.on), "Total(2e-9) 0.5");
    let meshes: Vec<PathBuf> = merged.parts.iter().map(|p| p.mesh.path.clone()).collect();
    let expected = [
        folder.path().join("deep/lid.stl"),
        folder.path().join("horn.stl"),
    ];
    assert_eq!(meshes, expected);
}

#[test]
fn diagnostics_name_the_included_file() {
    let shared =
        "[[coupon]]\nname = \"side\"\nat = [\"90 mm\", \"0 mm\", \"1OO mm\"]\nfacing = [0, 0, 0]\n";
    let plan = format!(
        "include = [\"shared.toml\"]\n{}",
        BASE.replace("\"silver\"", "\"sliver\"")
    );
    let folder = folder(&[("shared.toml", shared), ("plan.toml", &plan)]);
    assert_eq!(
        said_of(&folder, "plan.toml"),
        [
            "plan.toml:12:9: source.head.metal \"sliver\" is no metal of this plan (there are: gold, silver, copper, aluminium, titanium, chromium, nickel, carbon); did you mean \"silver\"?",
            "shared.toml:3:24: coupon.side.at.z \"1OO mm\" has the unknown unit \"OO mm\" (a length belongs here); use one of m, cm, mm, um, nm, Å, in, thou, ft",
            "shared.toml:4:10: coupon.side.facing [0, 0, 0] points nowhere (a direction is not [0, 0, 0]); write for example [0, 0, 1]",
        ]
    );
}

#[test]
fn circles_and_missing_includes_are_errors_beside_the_others() {
    let folder = folder(&[
        (
            "plan.toml",
            &format!("include = [\"a.toml\", \"gone.toml\"]\ncolour = 1\n{BASE}"),
        ),
        ("a.toml", "include = [\"b.toml\"]\n"),
        ("b.toml", "include = [\"./a.toml\"]\n"),
        ("self.toml", "include = [\"self.toml\", 3]\n"),
        ("word.toml", "include = \"a.toml\"\n"),
    ]);
    assert_eq!(
        said_of(&folder, "plan.toml"),
        [
            "plan.toml:1:22: include.2 gone.toml does not exist (nothing can be read from it); check the path",
            "plan.toml:2:1: colour is not known (nothing would read it); known are include, title, chamber, gas, metal, source, fixture, shutter, part, region, coupon, rotation, step, film, mask, probe, advise",
            "b.toml:1:12: include.1 \"./a.toml\" closes a circle (a.toml → b.toml → a.toml); remove one of these includes",
        ]
    );
    assert_eq!(
        said_of(&folder, "self.toml"),
        [
            "self.toml:1:12: include.1 \"self.toml\" closes a circle (self.toml → self.toml); remove one of these includes",
            "self.toml:1:25: include.2 is no path (a list of plan files belongs here); write for example include = [\"coupons.toml\"]",
        ]
    );
    assert_eq!(
        said_of(&folder, "word.toml"),
        [
            "word.toml:1:11: include is no list (a list of plan files belongs here); write for example include = [\"coupons.toml\"]"
        ]
    );
}

#[test]
fn includes_that_multiply_are_stopped() {
    // Each file includes the next twice: 2^20 readings without a limit.
    let files: Vec<(String, String)> = (0..20)
        .map(|i| {
            let next = format!("f{}.toml", i + 1);
            (
                format!("f{i}.toml"),
                format!("include = [\"{next}\", \"{next}\"]\n"),
            )
        })
        .collect();
    let mut named: Vec<(&str, &str)> = files
        .iter()
        .map(|(n, t)| (n.as_str(), t.as_str()))
        .collect();
    named.push(("f20.toml", ""));
    let folder = folder(&named);
    let found = said_of(&folder, "f0.toml");
    assert!(
        found[0].contains("would be file 65 of this plan (at most 64 are read)"),
        "{found:?}"
    );
}

#[test]
fn what_is_no_readable_file_is_named() {
    let folder = folder(&[("empty.toml", "")]);
    std::fs::write(
        folder.path().join("latin.toml"),
        b"title = \"Sch\xfcssel\"\n",
    )
    .unwrap();
    std::fs::write(folder.path().join("wide.toml"), b"\xff\xfet\0i\0t\0l\0e\0").unwrap();
    std::fs::write(folder.path().join("large.toml"), vec![b'#'; 12 << 20]).unwrap();
    std::fs::write(folder.path().join("bracket.STL"), "solid bracket").unwrap();
    assert_eq!(
        said_of(&folder, "gone.toml"),
        ["gone.toml does not exist (nothing can be read from it); check the path"]
    );
    let root = plan::read(folder.path()).unwrap_err();
    assert!(
        root.to_string()
            .ends_with("is a folder (a text file belongs here); name the file inside it")
    );
    assert_eq!(
        said_of(&folder, "latin.toml"),
        ["latin.toml is not UTF-8 (byte 0xFC at offset 12, line 1 column 13); save it as UTF-8"]
    );
    assert_eq!(
        said_of(&folder, "bracket.STL"),
        [
            "bracket.STL is a mesh by its ending (a plan in TOML belongs here); name it as mesh of a [[part]] in a plan"
        ]
    );
    assert_eq!(
        said_of(&folder, "wide.toml"),
        ["wide.toml is UTF-16 (TOML is UTF-8); save it as UTF-8"]
    );
    assert_eq!(
        said_of(&folder, "large.toml"),
        ["large.toml has 12582912 bytes (at most 1048576 are read); is it the right file?"]
    );
    assert_eq!(
        said_of(&folder, "empty.toml"),
        [
            "empty.toml:1:1: source is missing (what emits metal); write for example [[source]]",
            "empty.toml:1:1: part is missing (what is coated); write for example [[part]]",
            "empty.toml:1:1: step is missing (a step of the schedule); write for example [[step]]",
        ]
    );
}

#[test]
fn a_byte_order_mark_and_windows_lines_change_nothing() {
    let plain = reads(BASE);
    let text = format!("\u{feff}{}", BASE.replace('\n', "\r\n"));
    let marked = reads(&text);
    assert_eq!(marked.sources, plain.sources);
    assert_eq!(
        marked.places["film.want"].line,
        plain.places["film.want"].line
    );
    assert_eq!(
        marked.places["film.want"].column,
        plain.places["film.want"].column
    );
}

#[test]
fn huge_lines_and_deep_nests_end_in_short_diagnostics() {
    let long = "x".repeat(900_000);
    let ones = "1,".repeat(400_000);
    let deep = format!("{}1{}", "[".repeat(10_000), "]".repeat(10_000));
    let dots = format!("a{}", ".a".repeat(200_000));
    let many: String = (0..50_000).map(|i| format!("k{i}=1\n")).collect();
    let broken = "]\n".repeat(100_000);
    let strangers: String = (0..900)
        .map(|i| {
            format!("[[part]]\nname = \"p{i}\"\n[[probe]]\nname = \"p{i}\"\npart = \"q{i}\"\n")
        })
        .collect();
    for text in [
        format!("title = \"{long}\""),
        format!("{long} = 1"),
        format!("[chamber]\nshape = \"{long}\""),
        format!("[chamber]\ndiameter = \"{long} mm\""),
        format!("[[shutter]]\nname = \"a\"\nover = [{ones}]"),
        format!("[[coupon]]\nat = [{ones}]"),
        format!("x = {deep}"),
        format!("{dots} = 1"),
        format!("[{dots}]"),
        many,
        broken,
        long.clone(),
        format!("step = [{}]", "{},".repeat(200_000)),
        "[[a]]\n".repeat(100_000),
        strangers,
    ] {
        let said = said(&text);
        assert!(said.len() <= 201, "{}", said.len());
        let longest = said.iter().map(String::len).max();
        assert!(longest < Some(800), "{longest:?}");
    }
}

#[test]
fn meshes_and_artwork_that_are_not_there_are_named_all_at_once() {
    let text = format!(
        "{}\n[[mask]]\npart = \"horn\"\nartwork = \"dial.svg\"\nsheet = \"80 um\"\n",
        BASE.replace(
            "body = { shape = \"plate\", size = [\"80 mm\", \"70 mm\", \"1 mm\"], hole_diameter = \"46 mm\" }",
            "body = { shape = \"mesh\", file = \"deep/clamp.obj\", unit = \"mm\" }",
        )
    );
    let folder = folder(&[("plan.toml", &text)]);
    std::fs::remove_file(folder.path().join("horn.stl")).unwrap();
    let why =
        "does not exist (it is needed for the run); check the path, which is relative to the plan";
    assert_eq!(
        said_of(&folder, "plan.toml"),
        [
            format!("plan.toml:20:33: fixture.shield.body.file deep/clamp.obj {why}"),
            format!("plan.toml:30:8: part.horn.mesh horn.stl {why}"),
            format!("plan.toml:68:11: mask.1.artwork dial.svg {why}"),
        ]
    );
}

#[test]
fn wrong_lines_of_tables_are_named_with_the_plan_and_the_table() {
    let text = BASE
        .replace(
            "footprint = { shape = \"ring\", inner_radius = \"12 mm\", outer_radius = \"21 mm\" }",
            "footprint = { shape = \"groove\", table = \"erosion.csv\" }",
        )
        .replace("law = { cosine = 1.0 }", "law = { table = \"lobe.csv\" }");
    let folder = folder(&[
        ("plan.toml", &text),
        ("erosion.csv", "radius_mm,weight\n5,0\n4,1\n6,-1\n"),
        ("lobe.csv", "angle,weight\n0,1\n"),
    ]);
    assert_eq!(
        said_of(&folder, "plan.toml"),
        [
            "plan.toml:14:41: source.head.footprint.table erosion.csv:3: radius_mm 4 is not above 5 of the row before it; sort the rows, each value once",
            "plan.toml:14:41: source.head.footprint.table erosion.csv:4: weight -1 (must be at least 0 and at most 1000000000000000000000000000000); correct or remove the row",
            "plan.toml:15:17: source.head.law.table lobe.csv:1: heading \"angle,weight\" is not \"angle_deg,weight\" (columns are known by it); write angle_deg,weight on the first line",
        ]
    );
}

#[test]
fn absolute_paths_are_taken_as_they_are() {
    let text = BASE.replace("mesh = \"horn.stl\"", "mesh = \"/somewhere/horn.stl\"");
    let plan = plan::read_text(Path::new("sub/plan.toml"), &text).unwrap();
    assert_eq!(plan.parts[0].mesh.path, Path::new("/somewhere/horn.stl"));
    let plan = plan::read_text(Path::new("sub/plan.toml"), BASE).unwrap();
    assert_eq!(plan.parts[0].mesh.path, Path::new("sub/horn.stl"));
}
