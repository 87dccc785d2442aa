//! A synthetic outcome: a flared horn with a film computed by formula, no atoms flown.
//!
//! Thickness of a small cosine source: d ∝ cos θ_source · cos θ_surface / r² (item "small surface
//! source" of every text on thin films; L. Holland and W. Steckelmacher, Vacuum 2, 346 (1952), from
//! memory). Shadowing is left out, except that the throat below half its depth is declared unseen. Good
//! for looking at reports and pictures, not for physics; its title says so.

use evenfall_sim::film::{RowFilm, State};
use evenfall_sim::mesh::MeshHealth;
use evenfall_sim::outcome::*;
use evenfall_sim::plan::model::ChamberShape;
use evenfall_sim::scene::facts::Clearance;
use evenfall_sim::transport::{Balance, Method, Stopped};
use glam::{DAffine3, DMat3, DQuat, DVec3, EulerRot};
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// Wanted thickness, nm.
pub const WANT_NM: f64 = 100.0;

/// A horn outcome with everything in it that the report can show; the film misses its want.
pub fn horn() -> Outcome {
    let (vertices_m, triangles) = horn_mesh();
    let turn = DMat3::from_euler(EulerRot::ZYX, 0.0, 145_f64.to_radians(), 0.0);
    let chamber_from_part = DAffine3::from_mat3_translation(turn, DVec3::new(0.0, 0.0, 0.15));
    let source = DVec3::new(0.0, 0.0, 0.06);
    let facets: Vec<Facet> = (0..triangles.len())
        .map(|row| {
            facet(
                row,
                &vertices_m,
                &triangles[row],
                (chamber_from_part, source),
            )
        })
        .collect();
    let rows = facets.iter().map(row_film).collect();
    let health = MeshHealth {
        triangles: triangles.len(),
        welded_corners: 5 * triangles.len(),
        closed_shells: 1,
        ..MeshHealth::default()
    };
    let part = PartOutcome {
        name: "horn".to_owned(),
        vertices_m,
        triangles,
        rows,
        by_step_m: Vec::new(),
        by_metal_m: Vec::new(),
        facets,
        back_facets: Vec::new(),
        chamber_from_part,
        both_sides: false,
        health: health.clone(),
        material: Some("printing resin".to_owned()),
    };
    let mut outcome = Outcome {
        summary: summary(),
        plan_files: vec![("horn.toml".to_owned(), "title = \"Feed horn\"\n".to_owned())],
        parts: vec![part],
        bodies: bodies(),
        sources: vec![head()],
        steps: steps(),
        rotations: vec![(DVec3::Z, DVec3::ZERO)],
        chamber: Some(ChamberShape::Cylinder {
            diameter_m: 0.3,
            height_m: 0.3556,
        }),
        probes: Vec::new(),
        clearances: vec![
            clearance("horn", "shield", 0.0231, 0.0231),
            clearance("horn", "wall", 0.0844, 0.0844),
        ],
        probe_parts: Vec::new(),
        stencil_files: Vec::new(),
        region_names: Vec::new(),
        metal_names: vec!["silver".to_owned()],
    };
    judge(&mut outcome);
    outcome
}

/// Fills in the verdict and the part's summary from the facets, by plain sums.
pub fn judge(outcome: &mut Outcome) {
    let part = &outcome.parts[0];
    let area = |f: &Facet| {
        let [a, b, c] = f.corners_m;
        0.5e6 * (b - a).cross(c - a).length()
    };
    let sum = |holds: &dyn Fn(&Facet) -> bool| -> f64 {
        part.facets.iter().filter(|f| holds(f)).map(area).sum()
    };
    let all = sum(&|_| true);
    let reached = sum(&|f| f.thickness_m >= 1e-9 * WANT_NM);
    let thin = sum(&|f| f.thickness_m > 0.0 && f.thickness_m < 1e-9 * WANT_NM);
    let unseen = sum(&|f| f.state == State::NoneSeen);
    let unreached = sum(&|f| f.state == State::Unreached);
    let mean = part
        .facets
        .iter()
        .map(|f| area(f) * f.thickness_m * 1e9)
        .sum::<f64>()
        / all;
    let most = part
        .facets
        .iter()
        .map(|f| f.thickness_m * 1e9)
        .fold(0.0, f64::max);
    let names = ["facing", "self", "fixtures", "mask", "shutter", "gas"];
    let causes = [0.55, 0.31, 0.06, 0.0, 0.0, 0.0];
    outcome.summary.parts = vec![PartSummary {
        name: "horn".to_owned(),
        triangles: part.triangles.len(),
        facets: part.facets.len(),
        area_mm2: all,
        size_mm: [64.0, 64.0, 80.0],
        thickness_nm: ThicknessSummary {
            min: 0.0,
            p05: 0.0,
            median: 0.9 * mean,
            mean,
            mean_stderr: 0.01 * mean,
            p95: 0.9 * most,
            max: most,
            noise: 0.01 * mean,
        },
        reached_want_fraction: reached / all,
        thin_fraction: thin / all,
        none_seen_fraction: unseen / all,
        unreached_fraction: unreached / all,
        buried_fraction: 0.0,
        causes: names.iter().map(|n| (*n).to_owned()).zip(causes).collect(),
        health: part.health.clone(),
    }];
    let (share, stderr) = (reached / all, 0.003);
    let verdict = verdict::verdict(share, stderr, 0.98).to_owned();
    outcome.summary.film = Some(FilmVerdict {
        want_nm: BTreeMap::from([("all".to_owned(), WANT_NM)]),
        on: 0.98,
        reached_fraction: share,
        reached_stderr: stderr,
        area_mm2: all,
        regions: vec![RegionVerdict {
            name: "horn".to_owned(),
            wanted: "coat".to_owned(),
            area_mm2: all,
            fraction: share,
            stderr,
            mean_nm: mean,
            verdict: verdict.clone(),
        }],
        verdict,
    });
}

fn clearance(riding: &str, still: &str, scheduled_m: f64, full_turn_m: f64) -> Clearance {
    Clearance {
        riding: riding.to_owned(),
        still: still.to_owned(),
        scheduled_m,
        scheduled_at_rad: vec![1.2],
        scheduled_is_bound: false,
        full_turn_m,
        full_turn_at_rad: vec![1.2],
        full_turn_is_bound: false,
    }
}

/// A horn of revolution about z, mouth up: outer and inner profile, 1.5 mm wall, closed.
fn horn_mesh() -> (Vec<DVec3>, Vec<[u32; 3]>) {
    let flare = |z: f64| 0.009 + 0.022 * (z / 0.08).max(0.0).powf(2.2);
    let mut profile: Vec<(f64, f64)> = Vec::new();
    let inner = |k: u32| 0.08 - 0.08 * f64::from(k) / 32.0;
    profile.extend((0..=32).map(|k| (flare(inner(k)), inner(k))));
    profile.extend([(0.028, 0.0), (0.028, 0.004)]);
    profile.extend((2..=32).map(|k| {
        let z = 0.08 * f64::from(k) / 32.0;
        (flare(z) + 0.0015, z.max(0.004))
    }));
    let around = 96_u32;
    let count = u32::try_from(profile.len()).unwrap();
    let mut vertices_m = Vec::new();
    for step in 0..around {
        let angle = TAU * f64::from(step) / f64::from(around);
        vertices_m.extend(
            profile
                .iter()
                .map(|(r, z)| DVec3::new(r * angle.cos(), r * angle.sin(), *z - 0.04)),
        );
    }
    let mut triangles = Vec::new();
    for step in 0..around {
        for k in 0..count {
            let at = |s: u32, k: u32| (s % around) * count + k % count;
            let (a, b, c, d) = (
                at(step, k),
                at(step + 1, k),
                at(step + 1, k + 1),
                at(step, k + 1),
            );
            // The profile runs down the inside and up the outside: normals point out of the wall.
            triangles.push([a, b, d]);
            triangles.push([b, c, d]);
        }
    }
    (vertices_m, triangles)
}

fn facet(
    row: usize,
    vertices_m: &[DVec3],
    triangle: &[u32; 3],
    (chamber_from_part, source): (DAffine3, DVec3),
) -> Facet {
    let corners_m = triangle.map(|corner| vertices_m[corner as usize]);
    let [a, b, c] = corners_m;
    let centroid = (a + b + c) / 3.0;
    let normal = (b - a).cross(c - a).normalize();
    let inside = normal.dot(DVec3::new(centroid.x, centroid.y, 0.0)) < 0.0;
    let mut sum = 0.0;
    for turn in 0..72 {
        let pose = DAffine3::from_quat(DQuat::from_rotation_z(TAU * f64::from(turn) / 72.0))
            * chamber_from_part;
        let towards = pose.transform_point3(centroid) - source;
        let far = towards.length();
        let leaving = (towards / far).z.max(0.0);
        let landing = -pose.transform_vector3(normal).dot(towards / far);
        sum += leaving * landing.max(0.0) / (far * far) / 72.0;
    }
    // 3.0e-9 m at 1/m²: about the wanted thickness at the part's distance.
    let mut thickness_m = 3.0e-9 * sum;
    let mut state = if thickness_m > 0.0 {
        State::Reached
    } else {
        State::Unreached
    };
    if inside && centroid.z < -0.01 && state == State::Reached {
        (thickness_m, state) = (0.0, State::NoneSeen);
    }
    Facet {
        row: u32::try_from(row).unwrap(),
        corners_m,
        thickness_m,
        std_error_m: 0.01 * thickness_m,
        incidence_rad: if thickness_m > 0.0 { 0.8 } else { f64::NAN },
        state,
        shares: [0.3, 0.5, 0.1, 0.1, 0.0, 0.0, 0.0],
        regions: 0,
    }
}

fn row_film(facet: &Facet) -> RowFilm {
    let [a, b, c] = facet.corners_m;
    RowFilm {
        centroid_m: (a + b + c) / 3.0,
        area_m2: 0.5 * (b - a).cross(c - a).length(),
        thickness_m: facet.thickness_m,
        std_error_m: facet.std_error_m,
        back_m: None,
        incidence_rad: (facet.thickness_m > 0.0).then_some(facet.incidence_rad),
        scattered: 0.0,
        visible: 0.5,
        state: facet.state,
        shares: facet.shares.map(f64::from),
        bound_m: (facet.state == State::NoneSeen).then_some(0.4e-9),
        by_metal_m: Vec::new(),
    }
}

/// A flat body: a plate with a square hole (or none), in the chamber frame.
fn plate((name, kind): (&str, &str), at_m: DVec3, (half_m, hole_m): (f64, f64)) -> BodyOutcome {
    let mut vertices_m = Vec::new();
    for z in [-0.0005, 0.0005] {
        for half in [half_m, hole_m] {
            for (x, y) in [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)] {
                vertices_m.push(at_m + DVec3::new(x * half, y * half, z));
            }
        }
    }
    let mut triangles = Vec::new();
    let mut quad = |a: u32, b: u32, c: u32, d: u32| triangles.extend([[a, b, c], [a, c, d]]);
    for k in 0..4 {
        let next = (k + 1) % 4;
        quad(8 + k, 8 + next, 12 + next, 12 + k);
        quad(next, k, 4 + k, 4 + next);
        quad(k, next, 8 + next, 8 + k);
        quad(4 + next, 4 + k, 12 + k, 12 + next);
    }
    BodyOutcome {
        name: name.to_owned(),
        kind: kind.to_owned(),
        riding: false,
        vertices_m,
        triangles,
    }
}

fn bodies() -> Vec<BodyOutcome> {
    vec![
        plate(
            ("shield", "fixture"),
            DVec3::new(0.0, 0.0, 0.066),
            (0.04, 0.023),
        ),
        plate(
            ("flag", "shutter"),
            DVec3::new(0.0, 0.0, 0.075),
            (0.03, 0.0),
        ),
        plate(
            ("witness", "coupon"),
            DVec3::new(0.06, 0.0, 0.15),
            (0.005, 0.0),
        ),
    ]
}

fn head() -> SourceOutcome {
    SourceOutcome {
        name: "head".to_owned(),
        kind: "sputter".to_owned(),
        metal: "silver".to_owned(),
        at_m: [0.0, 0.0, 0.06],
        facing: [0.0, 0.0, 1.0],
        reach_m: 0.021,
        footprint: "ring 12–21 mm".to_owned(),
        output: "250 mg of charge".to_owned(),
        atoms_per_second: 1.94e18,
    }
}

fn steps() -> Vec<StepOutcome> {
    let step = |note: &str, minutes: f64, shut: &[&str], start: f64| StepOutcome {
        note: Some(note.to_owned()),
        lasts_s: 60.0 * minutes,
        power: vec![1.0],
        shut: shut.iter().map(|s| (*s).to_owned()).collect(),
        open: vec![shut.is_empty()],
        turning: vec!["turning at 6 rpm".to_owned()],
        start_rad: vec![start],
        turns: vec![6.0 * minutes],
        vent: None,
        motion: Vec::new(),
        placed: Vec::new(),
    };
    vec![
        step("clean the target", 5.0, &["flag"], 0.0),
        step("coat", 12.0, &[], 30.0 * TAU),
    ]
}

fn summary() -> Summary {
    Summary {
        format: "evenfall-outcome".to_owned(),
        version: 1,
        program: "0.1.0".to_owned(),
        title: "Feed horn, silver inside and out (synthetic film)".to_owned(),
        seed: 1,
        method: Method::Auto,
        stopped: Stopped::Reached,
        accuracy_asked: 0.02,
        accuracy_reached: 0.0173,
        parts: Vec::new(),
        film: None,
        coupons: vec![CouponSummary {
            name: "witness".to_owned(),
            thickness_nm: 241.3,
            stderr_nm: 1.2,
        }],
        tooling: vec![Tooling {
            part: "horn".to_owned(),
            coupon: "witness".to_owned(),
            factor: 0.412,
            stderr: 0.003,
        }],
        balance: Balance {
            emitted: 1_000_000,
            part: 141_207,
            part_back: 0,
            fixtures: 212_003,
            mask: 0,
            shutter: 294_118,
            coupons: 1_021,
            walls: 351_649,
            source: 2,
            escaped: 0,
        },
        emitted_real: 1.396e21,
        metal_used_mg: BTreeMap::from([("silver".to_owned(), 250.0)]),
        flight: None,
        audit: vec![Audit {
            name: "horn".to_owned(),
            mean_nm: 99.5,
            mean_stderr_nm: 0.4,
            fired_nm: 99.9,
            fired_stderr_nm: 0.35,
            z: -0.75,
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
        warnings: vec!["part horn rides 23.1 mm past shield (synthetic warning)".to_owned()],
        timing: BTreeMap::from([("transport_s".to_owned(), 3.2)]),
    }
}
