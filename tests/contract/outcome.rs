//! The outcome folder: complete, repeatable to the byte, readable back, replaced as a whole.

use crate::program::{Folder, names_in};
use crate::sample::{self, CUBE_PLAN, bowl_folder, cube, cube_folder, stl};
use evenfall_sim::outcome;
use serde_json::Value;

fn coat(folder: &Folder, plan: &str, extra: &[&str]) {
    let mut arguments = vec!["coat", plan, "--quiet"];
    arguments.extend(extra);
    folder.run(&arguments).ends_with(0);
}

fn summary(folder: &Folder, outcome: &str) -> Value {
    serde_json::from_str(&folder.read(&format!("{outcome}/summary.json"))).unwrap()
}

/// The summary without its times.
fn timeless(folder: &Folder, outcome: &str) -> String {
    let mut summary = summary(folder, outcome);
    summary.as_object_mut().unwrap().remove("timing").unwrap();
    serde_json::to_string_pretty(&summary).unwrap()
}

/// Rows of a CSV file as name-to-cell maps by the header.
fn rows(text: &str) -> Vec<std::collections::BTreeMap<&str, &str>> {
    let mut lines = text.lines();
    let header: Vec<_> = lines.next().unwrap().split(',').collect();
    lines
        .map(|line| {
            let cells: Vec<_> = line.split(',').collect();
            assert_eq!(cells.len(), header.len(), "{line}");
            header.iter().copied().zip(cells).collect()
        })
        .collect()
}

#[test]
fn the_folder_holds_all_that_is_promised() {
    let folder = bowl_folder();
    coat(&folder, "bowl.toml", &["--accuracy", "10%"]);
    let names = names_in(&folder.join("bowl-coat"));
    for name in [
        "report.html",
        "summary.json",
        "triangles.csv",
        "coat.ply",
        "coat.vtu",
        "coat.glb",
        "coat.evenfall",
    ] {
        assert!(
            names.iter().any(|found| found == name),
            "{name} is not in {names:?}"
        );
    }
    for (head, tail) in [("probe-", ".csv"), ("view-", ".png")] {
        let found = names
            .iter()
            .any(|name| name.starts_with(head) && name.ends_with(tail));
        assert!(found, "{head}*{tail} is not in {names:?}");
    }
    let left: Vec<_> = folder
        .names()
        .into_iter()
        .filter(|name| !name.starts_with("bowl"))
        .collect();
    assert!(left.is_empty(), "left beside the outcome: {left:?}");
}

#[test]
fn one_two_and_eight_threads_give_the_same_bytes() {
    let folder = bowl_folder();
    for threads in ["1", "2", "8"] {
        coat(
            &folder,
            "bowl.toml",
            &["--accuracy", "10%", "--threads", threads, "--out", threads],
        );
    }
    for threads in ["2", "8"] {
        assert_eq!(timeless(&folder, "1"), timeless(&folder, threads));
        assert!(
            folder.read("1/triangles.csv") == folder.read(&format!("{threads}/triangles.csv")),
            "triangles.csv of 1 and {threads} threads differ"
        );
    }
}

#[test]
fn same_bytes_notices_another_seed() {
    let folder = cube_folder();
    for seed in ["1", "2"] {
        coat(
            &folder,
            "cube.toml",
            &["--accuracy", "10%", "--seed", seed, "--out", seed],
        );
    }
    assert_ne!(
        folder.read("1/triangles.csv"),
        folder.read("2/triangles.csv")
    );
}

#[test]
fn every_fired_atom_has_a_fate() {
    let folder = cube_folder();
    let chamber = "\n[chamber]\nshape = \"box\"\nsize = [\"200 mm\", \"200 mm\", \"200 mm\"]\n";
    for (plan, gone) in [
        (CUBE_PLAN.to_owned(), "escaped"),
        (format!("{CUBE_PLAN}{chamber}"), "walls"),
    ] {
        folder.write("cube.toml", plan);
        coat(&folder, "cube.toml", &["--accuracy", "10%"]);
        let summary = summary(&folder, "cube-coat");
        let balance = summary["balance"].as_object().unwrap();
        let of = |name: &str| balance[name].as_u64().unwrap();
        let fates: u64 = balance
            .keys()
            .filter(|key| *key != "emitted")
            .map(|key| of(key))
            .sum();
        assert_eq!(fates, of("emitted"));
        assert!(
            of("emitted") >= 1_000_000,
            "the audit fires 10⁶ atoms at least"
        );
        assert!(
            of(gone) > 0 && of("part") > 0 && of("coupons") > 0,
            "{balance:?}"
        );
    }
}

#[test]
fn the_charge_is_the_metal_used_and_the_atoms_emitted() {
    let folder = cube_folder();
    coat(&folder, "cube.toml", &["--accuracy", "10%"]);
    let summary = summary(&folder, "cube-coat");
    let used = summary["metal_used_mg"]["silver"].as_f64().unwrap();
    assert!((used - 50.0).abs() < 1e-9, "{used}");
    // Silver 107.8682 g/mol (CIAAW standard atomic weight), Avogadro's constant exact since 2019.
    let atoms = 0.050 / 107.8682 * 6.022_140_76e23;
    let emitted = summary["emitted_real"].as_f64().unwrap();
    assert!(
        (emitted / atoms - 1.0).abs() < 1e-4,
        "{emitted} for {atoms}"
    );
}

#[test]
fn what_is_written_is_what_is_read_back() {
    let folder = bowl_folder();
    coat(&folder, "bowl.toml", &["--accuracy", "10%"]);
    let read = outcome::read(&folder.join("bowl-coat")).unwrap();
    let written = folder.read("bowl-coat/summary.json");
    assert_eq!(
        serde_json::to_value(&read.summary).unwrap(),
        serde_json::from_str::<Value>(&written).unwrap()
    );
    let text = folder.read("bowl-coat/triangles.csv");
    let rows = rows(&text);
    assert_eq!(rows.len(), read.parts[0].rows.len());
    for (row, film) in rows.iter().zip(&read.parts[0].rows) {
        let close = |cell: &str, value: f64| {
            let cell: f64 = row[cell].parse().unwrap();
            assert!((cell - value).abs() <= 1e-4 * value.abs() + 1e-4, "{row:?}");
        };
        close("thickness_nm", film.thickness_m * 1e9);
        close("stderr_nm", film.std_error_m * 1e9);
        close("area_mm2", film.area_m2 * 1e6);
    }
    assert_eq!(read.plan_files[0].1, folder.read("bowl.toml"));
    assert_eq!(read.probes[0].1.len(), 5);
}

#[test]
fn triangles_keep_the_order_of_the_file_needles_too() {
    let folder = cube_folder();
    let mut triangles = cube(20.0);
    triangles.insert(4, [triangles[0][0]; 3]);
    folder.write("cube.stl", stl(&triangles));
    coat(&folder, "cube.toml", &["--accuracy", "10%"]);
    let text = folder.read("cube-coat/triangles.csv");
    assert!(text.starts_with(
        "part,triangle,x_mm,y_mm,z_mm,area_mm2,thickness_nm,stderr_nm,back_nm,incidence_deg,\
         scattered_fraction,visible_fraction,state,share_direct,share_facing,share_self,\
         share_fixtures,share_mask,share_shutter,share_gas"
    ));
    let rows = rows(&text);
    assert_eq!(rows.len(), 13);
    for (index, (row, corners)) in rows.iter().zip(&triangles).enumerate() {
        assert_eq!(row["part"], "cube");
        assert_eq!(row["triangle"], index.to_string());
        for (axis, cell) in ["x_mm", "y_mm", "z_mm"].into_iter().enumerate() {
            let middle = corners
                .iter()
                .map(|corner| f64::from(corner[axis]))
                .sum::<f64>()
                / 3.0;
            let cell: f64 = row[cell].parse().unwrap();
            assert!((cell - middle).abs() < 1e-3, "{row:?}");
        }
        let needle = index == 4;
        assert_eq!(row["state"] == "needle", needle, "{row:?}");
        if needle {
            assert_eq!(row["thickness_nm"].parse::<f64>().unwrap().to_bits(), 0);
            assert_eq!(row["stderr_nm"].parse::<f64>().unwrap().to_bits(), 0);
        } else {
            assert!((row["area_mm2"].parse::<f64>().unwrap() - 200.0).abs() < 1e-3);
            let shares: f64 = row
                .iter()
                .filter(|(name, _)| name.starts_with("share_"))
                .map(|(_, cell)| cell.parse::<f64>().unwrap())
                .sum();
            assert!((shares - 1.0).abs() < 1e-3, "{row:?}");
        }
    }
}

#[test]
fn a_second_run_replaces_the_outcome_as_a_whole() {
    let folder = cube_folder();
    let with_probe = format!(
        "{CUBE_PLAN}\n[[probe]]\nname = \"edge\"\npart = \"cube\"\nfrom = [\"-9 mm\", \"0 mm\", \
         \"10 mm\"]\nto = [\"9 mm\", \"0 mm\", \"10 mm\"]\npoints = 3\n"
    );
    folder.write("cube.toml", with_probe);
    coat(&folder, "cube.toml", &["--accuracy", "10%"]);
    assert!(folder.join("cube-coat/probe-edge.csv").exists());
    folder.write("cube.toml", CUBE_PLAN);
    coat(&folder, "cube.toml", &["--accuracy", "10%", "--seed", "2"]);
    assert!(!folder.join("cube-coat/probe-edge.csv").exists());
    assert_eq!(summary(&folder, "cube-coat")["seed"], 2);
    assert_eq!(folder.names(), ["cube-coat", "cube.stl", "cube.toml"]);
}

#[test]
fn a_plan_that_turns_bad_leaves_the_last_outcome() {
    let folder = cube_folder();
    coat(&folder, "cube.toml", &["--accuracy", "10%"]);
    let before = folder.read("cube-coat/summary.json");
    folder.write(
        "cube.toml",
        sample::cube_plan_with(
            "lasts = \"5 min\"\n\n[[step]]\nnote = \"second half\"\nlasts = \"5 min\"",
            "lasts = \"5\"",
        ),
    );
    folder
        .run(&["coat", "cube.toml"])
        .refuses_with(&["cube.toml:"]);
    assert_eq!(folder.read("cube-coat/summary.json"), before);
}

#[test]
fn the_report_stands_alone_and_draws_the_film() {
    let folder = cube_folder();
    coat(&folder, "cube.toml", &["--accuracy", "10%"]);
    let report = folder.read("cube-coat/report.html");
    for reference in [
        "src=\"http",
        "href=\"http",
        "url(http",
        "<script src",
        "@import",
    ] {
        assert!(!report.contains(reference), "{reference} leads outside");
    }
    assert!(report.contains("data:image/png;base64,"));
    assert!(report.contains("A cube over a ring"));
}
