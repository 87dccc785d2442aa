//! A made-up outcome that holds one of everything: for checks of files, never of physics.
//!
//! No transport stands behind its numbers.

use evenfall_sim::film::{RowFilm, State};
use evenfall_sim::mesh::MeshHealth;
use evenfall_sim::outcome::{
    Audit, BodyOutcome, CouponSummary, FORMAT, Facet, FilmVerdict, Outcome, PartOutcome,
    PartSummary, RegionVerdict, SourceOutcome, StepOutcome, Summary, ThicknessSummary, Tooling,
    VERSION,
};
use evenfall_sim::plan::model::ChamberShape;
use evenfall_sim::scene::facts::Clearance;
use evenfall_sim::transport::{Balance, Method, ProbePoint, Stopped, Sums};
use glam::{DAffine3, DVec3};
use std::collections::BTreeMap;

/// Fractions that no short decimal ends: multiples of the golden section.
pub fn number(index: usize) -> f64 {
    (index as f64 * 0.618_033_988_749_894_9).fract()
}

/// Two parts, the first coated on both sides with two metals, with a row in every state.
pub fn outcome() -> Outcome {
    let dial = dial();
    let cover = cover();
    Outcome {
        summary: summary(&[&dial, &cover]),
        plan_files: vec![
            (
                "dial.toml".to_owned(),
                "title = \"made up\"\n# µ and Å\n".to_owned(),
            ),
            ("coupons.toml".to_owned(), String::new()),
        ],
        parts: vec![dial, cover],
        bodies: vec![BodyOutcome {
            name: "flag".to_owned(),
            kind: "shutter".to_owned(),
            riding: false,
            vertices_m: vec![DVec3::ZERO, DVec3::X * 0.1, DVec3::Y * 0.1],
            triangles: vec![[0, 1, 2]],
        }],
        sources: vec![SourceOutcome {
            name: "head".to_owned(),
            kind: "sputter".to_owned(),
            metal: "gold".to_owned(),
            at_m: [0.0, 0.0, 0.06],
            facing: [0.0, 0.0, 1.0],
            reach_m: 0.021,
            footprint: "ring 12–21 mm".to_owned(),
            output: "250 mg of charge".to_owned(),
            atoms_per_second: 1.234_567_890_123e18,
        }],
        steps: vec![
            StepOutcome {
                note: Some("clean the target".to_owned()),
                lasts_s: 300.0,
                power: vec![1.0],
                open: vec![false],
                shut: vec!["flag".to_owned()],
                turning: vec!["turning at 6 rpm".to_owned()],
                start_rad: vec![0.0],
                turns: vec![30.0],
                vent: None,
                motion: Vec::new(),
                placed: Vec::new(),
            },
            StepOutcome {
                note: None,
                lasts_s: 720.1,
                power: vec![0.5],
                open: vec![true],
                shut: Vec::new(),
                turning: vec!["parked at 90 deg".to_owned()],
                start_rad: vec![std::f64::consts::FRAC_PI_2],
                turns: vec![0.0],
                vent: Some("vent, move dial to 0, 0, 1 mm".to_owned()),
                motion: Vec::new(),
                placed: Vec::new(),
            },
        ],
        rotations: vec![(DVec3::Z, DVec3::new(0.1, 0.2, 0.3))],
        chamber: Some(ChamberShape::Cylinder {
            diameter_m: 0.3,
            height_m: 0.3556,
        }),
        probes: vec![
            ("across the edge".to_owned(), probe()),
            ("a/b".to_owned(), Vec::new()),
        ],
        clearances: vec![Clearance {
            riding: "dial".to_owned(),
            still: "flag".to_owned(),
            scheduled_m: 0.012_3,
            scheduled_at_rad: vec![1.0 / 3.0],
            scheduled_is_bound: false,
            full_turn_m: 0.011,
            full_turn_at_rad: vec![2.0 / 3.0],
            full_turn_is_bound: true,
        }],
        probe_parts: vec!["dial".to_owned()],
        stencil_files: Vec::new(),
        region_names: vec!["rim".to_owned(), "threads".to_owned()],
        metal_names: vec!["chromium".to_owned(), "gold".to_owned()],
    }
}

fn row(index: usize, state: State) -> RowFilm {
    let film = state == State::Reached;
    let some = |value: f64| if film { value } else { 0.0 };
    RowFilm {
        centroid_m: DVec3::new(number(index), -number(index + 1), number(index + 2)) * 0.01,
        area_m2: if state == State::Needle {
            0.0
        } else {
            1e-6 * number(index + 3)
        },
        thickness_m: some(1e-7 * number(index + 4)),
        std_error_m: some(1e-9 * number(index + 5)),
        back_m: Some(some(3e-8 * number(index + 6))),
        incidence_rad: film.then(|| number(index + 7)),
        scattered: 0.0,
        visible: some(number(index + 8)),
        state,
        shares: [0.5, 0.25, 0.125, 0.0625, 0.0, 0.03125, 0.03125].map(some),
        bound_m: (state == State::NoneSeen).then_some(2.5e-10),
        by_metal_m: vec![some(1e-8 * number(index)), some(9e-8 * number(index))],
    }
}

fn facet(row: u32, corners_m: [DVec3; 3], state: State) -> Facet {
    let film = state == State::Reached;
    let index = row as usize + 20;
    Facet {
        row,
        corners_m,
        thickness_m: if film { 1e-7 * number(index) } else { 0.0 },
        std_error_m: 1e-9 * number(index + 1),
        incidence_rad: if film { number(index + 2) } else { f64::NAN },
        state,
        shares: [0.7, 0.1, 0.2, 0.0, 0.0, 0.0, 0.0],
        regions: u64::from(row) & 3,
    }
}

/// Six rows: whole, cut in two, needle, buried, unreached, none seen.
fn dial() -> PartOutcome {
    let vertices_m: Vec<DVec3> = (0..8)
        .map(|index| DVec3::new(number(index), number(index + 50), 0.001 * index as f64) * 0.02)
        .collect();
    let triangles = vec![
        [0, 1, 2],
        [1, 2, 3],
        [3, 3, 4],
        [2, 3, 4],
        [4, 5, 6],
        [5, 6, 7],
    ];
    let states = [
        State::Reached,
        State::Reached,
        State::Needle,
        State::Buried,
        State::Unreached,
        State::NoneSeen,
    ];
    let corners = |row: usize| triangles[row].map(|corner: u32| vertices_m[corner as usize]);
    let [a, b, c] = corners(1);
    let middle = (a + b) * 0.5;
    let facets = || {
        vec![
            facet(0, corners(0), State::Reached),
            facet(1, [a, middle, c], State::Reached),
            facet(1, [middle, b, c], State::NoneSeen),
            facet(3, corners(3), State::Buried),
            facet(4, corners(4), State::Unreached),
            facet(5, corners(5), State::NoneSeen),
        ]
    };
    PartOutcome {
        name: "dial, large".to_owned(),
        rows: states
            .iter()
            .enumerate()
            .map(|(index, &state)| row(index, state))
            .collect(),
        facets: facets(),
        back_facets: facets(),
        by_step_m: (0..2)
            .map(|step| (0..12).map(|i| 1e-8 * (step * 12 + i) as f32).collect())
            .collect(),
        by_metal_m: (0..2)
            .map(|metal| (0..12).map(|i| 2e-8 * (metal + i) as f32).collect())
            .collect(),
        chamber_from_part: DAffine3::from_rotation_x(0.3)
            * DAffine3::from_translation(DVec3::Z * 0.15),
        both_sides: true,
        health: MeshHealth {
            triangles: 6,
            needles: 1,
            open_edges: 9,
            ..MeshHealth::default()
        },
        material: Some("printing resin".to_owned()),
        vertices_m,
        triangles,
    }
}

/// One row, one side, where the method did not look at shares and visibility.
fn cover() -> PartOutcome {
    let vertices_m = vec![DVec3::ZERO, DVec3::X * 0.01, DVec3::Y * 0.01];
    let mut facet = facet(
        0,
        [vertices_m[0], vertices_m[1], vertices_m[2]],
        State::Reached,
    );
    facet.shares = [f32::NAN; 7];
    let mut row = row(7, State::Reached);
    row.back_m = None;
    row.visible = f64::NAN;
    row.shares = [f64::NAN; 7];
    PartOutcome {
        name: "cover".to_owned(),
        vertices_m,
        triangles: vec![[0, 1, 2]],
        rows: vec![row],
        facets: vec![facet],
        back_facets: Vec::new(),
        by_step_m: vec![vec![1e-8], vec![2e-8]],
        by_metal_m: vec![vec![0.1e-8], vec![0.2e-8]],
        chamber_from_part: DAffine3::from_translation(DVec3::X),
        both_sides: false,
        health: MeshHealth::default(),
        material: None,
    }
}

fn probe() -> Vec<ProbePoint> {
    let point = |index: usize| ProbePoint {
        s_m: 1e-3 * index as f64,
        position_m: DVec3::new(number(index), 0.0, -number(index)) * 1e-3,
        sums: Sums {
            thickness_m: if index == 1 {
                0.0
            } else {
                1e-7 * number(index + 1)
            },
            std_error_m: 1e-9 * number(index + 2),
            incidence_rad: if index == 1 {
                f64::NAN
            } else {
                number(index + 3)
            },
            visible: number(index + 4),
            shares: [0.25, 0.75, 0.0, 0.0, 0.0, 0.0, 0.0],
            open_thickness_m: 2e-7,
            samples: 4096,
            arrived: 17,
        },
    };
    (0..3).map(point).collect()
}

fn summary(parts: &[&PartOutcome]) -> Summary {
    let thickness_nm = ThicknessSummary {
        min: 0.0,
        p05: number(1),
        median: 50.0 + number(2),
        mean: 51.0 + number(3),
        mean_stderr: number(4),
        p95: 90.0 + number(5),
        max: 100.0,
        noise: number(6),
    };
    let part = |part: &&PartOutcome| PartSummary {
        name: part.name.clone(),
        triangles: part.triangles.len(),
        facets: part.facets.len() + part.back_facets.len(),
        area_mm2: 100.0 / 3.0,
        size_mm: [1.0, 2.0 / 3.0, 0.1],
        thickness_nm,
        reached_want_fraction: 0.6,
        thin_fraction: 0.1,
        none_seen_fraction: 0.1,
        unreached_fraction: 0.1,
        buried_fraction: 0.1,
        causes: BTreeMap::from([("facing".to_owned(), 0.25), ("self".to_owned(), 0.5)]),
        health: part.health.clone(),
    };
    Summary {
        format: FORMAT.to_owned(),
        version: VERSION,
        program: "0.1.0".to_owned(),
        title: "Made up \"dial\", µm".to_owned(),
        seed: u64::MAX,
        method: Method::Auto,
        stopped: Stopped::Time,
        accuracy_asked: 0.02,
        accuracy_reached: 0.1 + 0.2,
        parts: parts.iter().map(part).collect(),
        film: Some(FilmVerdict {
            want_nm: BTreeMap::from([("chromium".to_owned(), 5.0), ("gold".to_owned(), 100.0)]),
            on: 0.98,
            reached_fraction: 2.0 / 3.0,
            reached_stderr: 0.01,
            area_mm2: 66.6,
            regions: vec![RegionVerdict {
                name: "rim".to_owned(),
                wanted: "coat".to_owned(),
                area_mm2: 12.0,
                fraction: 0.9,
                stderr: 0.05,
                mean_nm: 77.7,
                verdict: "too close to call".to_owned(),
            }],
            verdict: "missed".to_owned(),
        }),
        coupons: vec![CouponSummary {
            name: "witness".to_owned(),
            thickness_nm: 120.0 + number(9),
            stderr_nm: number(10),
        }],
        tooling: vec![Tooling {
            part: "cover".to_owned(),
            coupon: "witness".to_owned(),
            factor: 1.0 / 3.0,
            stderr: 0.001,
        }],
        balance: Balance {
            emitted: 10,
            part: 1,
            part_back: 1,
            fixtures: 1,
            mask: 1,
            shutter: 1,
            coupons: 1,
            walls: 1,
            source: 1,
            escaped: 2,
        },
        emitted_real: 7.65e20,
        metal_used_mg: BTreeMap::from([
            ("gold".to_owned(), 250.0),
            ("chromium".to_owned(), 1.0 / 7.0),
        ]),
        flight: None,
        audit: vec![Audit {
            name: "cover".to_owned(),
            mean_nm: 50.0,
            mean_stderr_nm: 0.1,
            fired_nm: 50.3,
            fired_stderr_nm: 0.2,
            z: -1.3416,
        }],
        looks: Default::default(),
        conducts: Default::default(),
        grows: Default::default(),
        heat: Default::default(),
        purity: Default::default(),
        doubt: Default::default(),
        target: Default::default(),
        stencils: Vec::new(),
        uncalibrated: true,
        warnings: vec!["this outcome is made up".to_owned()],
        timing: BTreeMap::new(),
    }
}
