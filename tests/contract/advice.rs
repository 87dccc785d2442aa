//! `advise` and `tune`: what they write, how they end, what they refuse, and going on after a kill.

use crate::program::{Folder, wait};
use crate::sample::{cube_folder, cube_plan_with};
use serde_json::Value;
use std::io::{BufRead, BufReader};

/// The cube with a film wanted and a height that may vary.
fn with_advise(more: &str) -> Folder {
    let folder = cube_folder();
    let plan = cube_plan_with("[[part]]", "# the only one\n[[part]]");
    let film = if plan.contains("[film]") {
        ""
    } else {
        "\n[film]\nwant = \"20 nm\"\non = \"60 %\"\n"
    };
    folder.write("cube.toml", format!("{plan}{film}{more}"));
    folder
}

const ADVISE: &str = "\n[advise]\nminimise = \"time\"\n[[advise.vary]]\nkey = \"part.cube.at.y\"\nfrom = \"0 mm\"\nto = \"30 mm\"\n";

fn advice(folder: &Folder) -> Value {
    serde_json::from_str(&folder.read("cube-advice/advice.json")).unwrap()
}

#[test]
fn advised_plan_runs_and_keeps_its_comments() {
    let folder = with_advise(ADVISE);
    let ran = folder.run(&["advise", "cube.toml", "--quiet"]).ends_with(0);
    assert!(ran.stdout.contains("least open time"), "{}", ran.stdout);
    assert!(ran.stdout.contains("card:"), "{}", ran.stdout);
    let text = folder.read("cube-advice/advised.toml");
    assert!(text.contains("# the only one"), "{text}");
    assert!(text.contains("../cube.stl"), "{text}");
    let told = advice(&folder);
    assert_eq!(told["format"], "evenfall-advice");
    let page = folder.read("cube-advice/report.html");
    assert!(page.contains("Advice, computed") && page.contains("Card for the machine"));
    assert!(ran.stdout.contains("report: cube-advice"), "{}", ran.stdout);
    let best = &told["candidates"][0];
    assert_ne!(best["verdict"], "missed");
    folder
        .run(&[
            "coat",
            "cube-advice/advised.toml",
            "--atoms",
            "10000",
            "--write",
            "summary",
        ])
        .ends_with(0);
    // and the same again, to the bit
    let before = folder.read("cube-advice/advice.json");
    folder
        .run(&["advise", "cube.toml", "--quiet", "--threads", "1"])
        .ends_with(0);
    assert_eq!(folder.read("cube-advice/advice.json"), before);
}

#[test]
fn killed_advice_goes_on_where_it_was() {
    let folder = with_advise(ADVISE);
    let mut child = folder.start(&["advise", "cube.toml", "--threads", "1"]);
    let mut stderr = BufReader::new(child.stderr.take().unwrap());
    let mut line = String::new();
    // once the best is simulated again, the search is in the journal
    while !line.contains("firing atoms") {
        line.clear();
        assert_ne!(stderr.read_line(&mut line).unwrap(), 0, "it ended at once");
    }
    child.kill().unwrap();
    child.wait().unwrap();
    let journal = folder.read("cube-advice/advice.journal");
    let looked = journal.lines().count() - 1;
    assert!(looked > 10, "{looked}");
    let mut again = folder.start(&["advise", "cube.toml", "--json"]);
    wait(&mut again).ends_with(0);
    let told = advice(&folder);
    let fresh = with_advise(ADVISE);
    fresh.run(&["advise", "cube.toml", "--quiet"]).ends_with(0);
    assert_eq!(told, advice(&fresh));
    assert!(!folder.join("cube-advice/advice.journal").exists());
}

#[test]
fn advice_that_cannot_be_had_is_refused_with_its_place() {
    let cases: [(&str, &[&str]); 4] = [
        ("", &["has no [advise]"]),
        (
            "\n[advise]\nminimise = \"time\"\n[[advise.vary]]\nkey = \"film.on\"\nfrom = \"10 %\"\nto = \"90 %\"\n",
            &["cube.toml:", "is what is asked of the film"],
        ),
        (
            "\n[advise]\nminimise = \"time\"\nturning = \"stops\"\n[[advise.vary]]\nkey = \"part.cube.at.y\"\nfrom = \"0 mm\"\nto = \"30 mm\"\n",
            &["cube.toml:", "the plan has 2 open steps"],
        ),
        (
            "\n[advise]\nminimise = \"time\"\n[[advise.vary]]\nkey = \"part.cube.turn.y\"\nfrom = \"0 deg\"\nto = \"60 deg\"\n",
            &["cube.toml:", "is not written in the plan"],
        ),
    ];
    for (more, said) in cases {
        let folder = with_advise(more);
        folder.run(&["advise", "cube.toml"]).refuses_with(said);
        assert_eq!(folder.names(), ["cube.stl", "cube.toml"], "{more}");
    }
    let folder = with_advise(ADVISE);
    std::fs::create_dir(folder.join("cube-advice")).unwrap();
    folder.write("cube-advice/letter.txt", "dear");
    folder
        .run(&["advise", "cube.toml"])
        .refuses_with(&["holds letter.txt", "--out"]);
    assert_eq!(folder.read("cube-advice/letter.txt"), "dear");
}

#[test]
fn what_nothing_in_range_gets_ends_with_3_and_says_why() {
    let folder = with_advise(
        "\n[advise]\nminimise = \"time\"\n[[advise.vary]]\nkey = \"step.1.lasts\"\nfrom = \"1 s\"\nto = \"2 s\"\n",
    );
    let plan = folder.read("cube.toml");
    folder.write(
        "cube.toml",
        plan.replace("want = \"20 nm\"", "want = \"20 um\""),
    );
    let ran = folder.run(&["advise", "cube.toml", "--quiet"]).ends_with(3);
    assert!(
        ran.stdout.contains("nothing in range does"),
        "{}",
        ran.stdout
    );
    assert!(
        ran.stdout.contains("within the bounds of the open time"),
        "{}",
        ran.stdout
    );
    assert!(!folder.join("cube-advice/advised.toml").exists());
}

#[test]
fn tune_writes_what_a_plan_can_include() {
    let folder = with_advise("");
    let ran = folder
        .run(&[
            "tune",
            "cube.toml",
            "--coupon",
            "witness=85nm+-2nm",
            "--log",
            "runs.csv",
        ])
        .ends_with(0);
    assert!(
        ran.stdout
            .contains("coupon witness: 85.0 ± 2.0 nm measured"),
        "{}",
        ran.stdout
    );
    assert!(
        ran.stdout.contains("one coupon says nothing of"),
        "{}",
        ran.stdout
    );
    let text = folder.read("cube.toml");
    folder.write(
        "including.toml",
        format!("include = [\"cube-tuned.toml\"]\n{text}"),
    );
    folder
        .run(&[
            "coat",
            "including.toml",
            "--atoms",
            "10000",
            "--write",
            "summary",
            "--out",
            "out",
        ])
        .ends_with(0);
    let summary: Value = serde_json::from_str(&folder.read("out/summary.json")).unwrap();
    let found = summary["coupons"][0]["thickness_nm"].as_f64().unwrap();
    assert!((found / 85.0 - 1.0).abs() < 0.01, "{found}");
    assert_eq!(folder.read("runs.csv").lines().count(), 2);
}

#[test]
fn tune_refuses_what_tells_nothing() {
    let folder = with_advise("");
    let before = folder.names();
    for (coupon, said) in [
        ("witnes=85nm", "is not in the plan (there are: witness)"),
        ("witness=85", "has no unit"),
        ("witness=85nm+-80nm", "cannot be told"),
        ("witness", "a coupon and its thickness"),
    ] {
        folder
            .run(&["tune", "cube.toml", "--coupon", coupon])
            .refuses_with(&[said]);
    }
    assert_eq!(folder.names(), before);
    folder.write("cube-tuned.toml", "# mine\n");
    folder
        .run(&["tune", "cube.toml", "--coupon", "witness=85nm"])
        .refuses_with(&["cube-tuned.toml is there", "--out"]);
}
