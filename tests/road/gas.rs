//! Gas and bouncing along the whole road: limits, promises, rates, what the outcome says.

use evenfall_sim::film::State;
use evenfall_sim::outcome;
use evenfall_sim::plan;
use evenfall_sim::transport::{self, Method, RunSettings, Tally, Unwatched, Watch};
use evenfall_tests::agreement::{Comparison, Disagreement, Spread, judge, measured, share};
use evenfall_tests::bench::{Asked, Bench, Coated, Head};
use evenfall_tests::solids::{block, disc};
use glam::DVec3;
use std::path::Path;

const CHAMBER: &str =
    "[chamber]\nshape = \"cylinder\"\ndiameter = \"200 mm\"\nheight = \"200 mm\"\n";

const DISC: Head<'_> = Head {
    footprint: "{ shape = \"disc\", radius = \"15 mm\" }",
    cosine: 1.0,
    at: DVec3::new(0.0, 0.0, 0.02),
    facing: DVec3::Z,
    along: None,
};

fn gas(free_path_mm: f64, scatter: &str) -> String {
    format!(
        "[gas]\npressure = \"1 Pa\"\nfree_path = \"{free_path_mm:?} mm\"\nscatter = \"{scatter}\"\n"
    )
}

/// A turning block over a disc, behind a shutter at first.
fn scene(gas: &str, sticking: f64) -> Bench {
    let cube = block(
        DVec3::new(-0.015, -0.01, 0.09),
        DVec3::new(0.015, 0.012, 0.11),
    );
    Bench::new()
        .with(CHAMBER)
        .with(gas)
        .source(&DISC)
        .with(
            "[[shutter]]\nname = \"flag\"\nover = [\"head 0\"]\nat = [\"0 mm\", \"0 mm\", \"40 mm\"]\n\
             body = { shape = \"plate\", size = [\"50 mm\", \"50 mm\", \"1 mm\"] }\n",
        )
        .part("block", cube)
        .with(&format!("sticking = {sticking:?}\n"))
        .turning(DVec3::Z)
        .step(1.0, "shutter = \"shut\"\n")
        .step(3.0, "")
}

#[test]
fn with_hardly_any_gas_every_atom_flies_as_in_none() {
    let bare = scene("", 1.0).fire(100_000, 3);
    let thin = scene(&gas(1e12, "hard-sphere"), 1.0).fire(100_000, 3);
    assert_eq!(thin.balance, bare.balance);
    assert_eq!(thin.collisions.sum, 0);
    let landed = |tally: &Tally| -> Vec<u32> {
        let receivers = tally.receivers.iter();
        receivers.map(|sums| sums.arrived).collect()
    };
    assert_eq!(landed(&thin), landed(&bare));
    // and some gas changes it
    let some = scene(&gas(300.0, "hard-sphere"), 1.0).fire(100_000, 3);
    assert_ne!(landed(&some), landed(&bare));
}

#[test]
fn the_same_seed_gives_the_same_bits_on_any_number_of_threads_in_gas() {
    let coated = scene(&gas(20.0, "hard-sphere"), 0.7).coat(&Asked::fire(1000));
    let on = |threads: usize| {
        let settings = RunSettings {
            method: Method::Auto,
            accuracy: 1e-9,
            time: None,
            atoms: Some(6_000),
            seed: 4,
            threads,
        };
        transport::run(&coated.scene, &coated.rates, &settings, &Unwatched)
    };
    let one = on(1);
    for threads in [3, 8] {
        let other = on(threads);
        assert_eq!(one.balance, other.balance);
        assert_eq!(one.arrivals, other.arrivals);
        assert_eq!(
            (one.collisions, one.bounces),
            (other.collisions, other.bounces)
        );
        assert_eq!(one.scattered, other.scattered);
        let same = one.receivers.iter().zip(&other.receivers).all(|(a, b)| {
            a.thickness_m == b.thickness_m && a.std_error_m == b.std_error_m && a.shares == b.shares
        });
        assert!(same, "{threads} threads");
    }
    assert_eq!(
        one.balance.fates(),
        one.balance.emitted,
        "every atom has one fate"
    );
    assert!(one.balance.shutter > 0 && one.balance.source > 0 && one.bounces.sum > 0);
    assert!(one.balance.walls > 0 && one.balance.part > 0);
}

/// A wide room: what leaves one face meets the other, and each holds a share of what arrives.
///
/// Derived: with s and w the stickings of ceiling and floor a share s Σ ((1 − s)(1 − w))ᵏ = s/(1 − (1 − s)(1 − w)) ends
/// on the ceiling and the rest on the floor; bounces: (1 − s)(1 + (1 − w))/(1 − (1 − s)(1 − w)).
fn between_faces(more: f64) -> Result<(), Disagreement> {
    let mut all: Vec<Comparison> = Vec::new();
    for (s, w) in [(0.5, 0.5), (0.2, 0.7), (0.9, 0.1)] {
        let ceiling = {
            let mut sheet = evenfall_tests::solids::Sheet::default();
            let corner = DVec3::new(-1.0, -1.0, 1e-3);
            sheet.grid(corner, [DVec3::Y * 2.0, DVec3::X * 2.0], [1, 1]);
            sheet
        };
        let spot = Head {
            footprint: "{ shape = \"spot\" }",
            at: DVec3::ZERO,
            ..DISC
        };
        let room = Bench::new()
            .with(&format!(
                "[chamber]\nshape = \"box\"\nsize = [\"2 m\", \"2 m\", \"1 mm\"]\nsticking = {w:?}\n"
            ))
            .source(&spot)
            .part("ceiling", ceiling)
            .with(&format!("sticking = {:?}\n", s * more))
            .step(1.0, "");
        let tally = room.fire(200_000, 5);
        let fired = tally.balance.emitted;
        assert_eq!(tally.balance.fates(), fired);
        let lost = 1.0 - (1.0 - s) * (1.0 - w);
        // at cos θ below 10⁻³ an atom reaches the side walls, which count as floor: 10⁻⁶ of each flight
        let mut held = measured(
            format!("held by the ceiling, {s} and {w}"),
            share(tally.balance.part, fired),
            (s / lost, 0.0),
        );
        held.bias = 1e-5;
        let mut bounces = measured(
            format!("bounces, {s} and {w}"),
            tally.bounces.mean(fired),
            ((1.0 - s) * (2.0 - w) / lost, 0.0),
        );
        bounces.bias = 1e-5;
        all.extend([held, bounces]);
    }
    judge(&all, Spread::Known, 0.02)
}

#[test]
fn faces_that_hold_a_share_divide_atoms_by_a_geometric_series() {
    between_faces(1.0).unwrap();
}

#[test]
fn the_division_notices_a_sticking_three_per_cent_higher() {
    assert!(between_faces(1.03).unwrap_err().speaks_against());
}

/// What comes unscattered by firing against what the shares say is direct, over a whole part.
fn direct(coated: &Coated) -> Comparison {
    let tally = &coated.tally;
    let [front, _] = tally.arrivals[0];
    let part = &coated.scene.parts[0];
    let volume: f64 = part
        .front
        .clone()
        .map(|index| {
            let sums = &tally.receivers[index];
            coated.scene.receivers[index].area_m2 * sums.open_thickness_m * sums.shares[0]
        })
        .sum();
    let (per_atom, _) = coated.per_atom(volume, 0.0);
    measured(
        "unscattered".to_owned(),
        share(front.atoms - front.scattered, tally.balance.emitted),
        // thousands of facets with 32 lines each
        (per_atom, 0.002 * per_atom),
    )
}

/// A disc over the source in gas.
fn lid(gas: &str) -> Coated {
    let lid = disc(0.02, 32).moved(DVec3::Z * 0.08);
    let bench = Bench::new().with(CHAMBER).with(gas).source(&DISC);
    let bench = bench.part("lid", lid).step(1.0, "");
    bench.coat(&Asked::fire(300_000))
}

#[test]
fn what_the_gas_lets_through_is_what_arrives_unscattered() {
    let mut all = Vec::new();
    for scatter in ["hard-sphere", "hard-sphere-at-rest", "isotropic"] {
        let coated = lid(&gas(50.0, scatter));
        all.push(direct(&coated));
        for sums in &coated.tally.receivers {
            let whole: f64 = sums.shares.iter().sum();
            assert!(
                (whole - 1.0).abs() < 1e-9 && sums.shares[6] > 0.3,
                "{:?}",
                sums.shares
            );
        }
    }
    judge(&all, Spread::Known, 0.02).unwrap();
}

#[test]
fn what_arrives_unscattered_notices_another_free_path() {
    let mut wrong = direct(&lid(&gas(50.0, "hard-sphere")));
    wrong.reference = direct(&lid(&gas(53.0, "hard-sphere"))).reference;
    assert!(
        judge(&[wrong], Spread::Known, 0.02)
            .unwrap_err()
            .speaks_against()
    );
}

/// A source whose rate its film on a coupon sets.
fn witnessed(free_path_mm: f64) -> Bench {
    Bench::new()
        .with(CHAMBER)
        .with(&gas(free_path_mm, "hard-sphere"))
        .with(
            "[[source]]\nname = \"head\"\nkind = \"sputter\"\nmetal = \"aluminium\"\n\
             at = [\"0 mm\", \"0 mm\", \"20 mm\"]\nfacing = [0, 0, 1]\n\
             footprint = { shape = \"disc\", radius = \"15 mm\" }\n\
             output = { coupon = \"witness\", thickness = \"100 nm\", after = \"2 min\" }\n\
             [[coupon]]\nname = \"witness\"\nat = [\"20 mm\", \"0 mm\", \"90 mm\"]\nfacing = [0, 0, -1]\nsize = \"15 mm\"\n",
        )
        .part("lid", disc(0.01, 24).moved(DVec3::Z * 0.1))
        .step(60.0, "")
}

/// Film on the coupon of a run in one gas at the rate that another gas asks for.
fn on_coupon(of_rate_mm: f64, of_run_mm: f64) -> Comparison {
    let asked = Asked {
        accuracy: 0.02,
        ..Asked::fire(500_000)
    };
    let of_run = witnessed(of_run_mm).coat(&asked);
    let rates = match of_rate_mm == of_run_mm {
        true => of_run.rates.clone(),
        false => witnessed(of_rate_mm).coat(&asked).rates,
    };
    let scale = rates.atoms[0][0] / of_run.rates.atoms[0][0];
    let (found, error) = of_run.tally.coupons_m[0];
    let rate_error = rates.relative_error[0];
    assert!(rate_error > 1e-4 && rate_error <= 0.0081, "{rate_error}");
    // 100 nm in 2 min, so 50 nm in 1 min
    measured(
        "coupon".to_owned(),
        (found * scale, error * scale),
        (50e-9, 0.0),
    )
}

/// A watch whose clock goes on by a tenth of a second whenever it is looked at.
struct Hasty(std::sync::atomic::AtomicU64);

impl Watch for Hasty {
    fn elapsed_s(&self) -> f64 {
        0.1 * self.0.fetch_add(1, std::sync::atomic::Ordering::Relaxed) as f64
    }
    fn cancelled(&self) -> bool {
        false
    }
    fn progress(&self, _stage: &'static str, _done: f64) {}
}

#[test]
fn a_scaling_cut_short_knows_its_rate_less_well_and_says_so() {
    let coated = witnessed(30.0).coat(&Asked {
        accuracy: 0.02,
        ..Asked::fire(1000)
    });
    let settings = RunSettings {
        method: Method::Auto,
        accuracy: 0.02,
        time: Some(std::time::Duration::from_secs(3)),
        atoms: Some(1000),
        seed: 8,
        threads: 1,
    };
    // ten looks, one per 4096 atoms
    let short = transport::calibrate_within(&coated.scene, &settings, &Hasty(0.into())).unwrap();
    let [full_error, short_error] = [&coated.rates, &short].map(|rates| rates.relative_error[0]);
    assert!(
        short_error > 3.0 * full_error,
        "{short_error} against {full_error}"
    );
    let ratio = short.atoms[0][0] / coated.rates.atoms[0][0];
    let comparison = measured(
        "ratio of rates".to_owned(),
        (ratio, ratio * short_error.hypot(full_error)),
        (1.0, 0.0),
    );
    judge(&[comparison], Spread::Known, 0.2).unwrap();
}

#[test]
fn a_rate_scaled_to_a_coupon_puts_that_film_there_through_the_gas() {
    judge(&[on_coupon(30.0, 30.0)], Spread::Known, 0.03).unwrap();
}

#[test]
fn the_scaled_rate_notices_that_the_gas_was_another() {
    let other = on_coupon(30.0, 90.0);
    assert!(
        judge(&[other], Spread::Known, 0.03)
            .unwrap_err()
            .speaks_against()
    );
}

#[test]
fn in_gas_nothing_is_proved_bare_and_film_gets_behind() {
    let bare = scene("", 1.0).coat(&Asked::fire(200_000));
    let top = |coated: &Coated| -> Vec<State> {
        let rows = coated.film.rows[0].iter().enumerate();
        let up = rows.filter(|(row, _)| {
            let [a, b, c] = coated.corners(*row);
            (b - a).cross(c - a).normalize().z > 0.9
        });
        up.map(|(_, film)| film.state).collect()
    };
    assert!(top(&bare).iter().all(|&state| state == State::Unreached));
    let filled = scene(&gas(15.0, "hard-sphere"), 1.0).coat(&Asked::fire(200_000));
    assert!(top(&filled).iter().all(|&state| state == State::Reached));
    let rows = &filled.film.rows[0];
    assert!(
        rows.iter()
            .all(|row| row.scattered > 0.5 && row.scattered <= 1.0)
    );
}

#[test]
fn probes_in_gas_read_the_facets_they_fall_on() {
    let at = |x: f64| DVec3::new(x, 0.0, 0.1);
    let bench = Bench::new()
        .with(CHAMBER)
        .with(&gas(30.0, "hard-sphere"))
        .source(&DISC)
        .part("lid", disc(0.02, 32).moved(DVec3::Z * 0.1))
        .step(1.0, "")
        .probe("lid", [at(-0.01), at(0.01)], 5);
    let coated = bench.coat(&Asked::fire(100_000));
    let points = &coated.tally.probes[0];
    assert_eq!(points.len(), 5);
    for point in points {
        let facets = coated.tally.receivers.iter();
        let read = facets.filter(|sums| sums.thickness_m == point.sums.thickness_m);
        assert!(read.count() > 0 && point.sums.std_error_m > 0.0);
    }
}

#[test]
fn the_outcome_says_the_free_path_with_its_doubt_and_that_atoms_were_followed() {
    let tabulated = "[gas]\npressure = \"4 mTorr\"\n";
    let coated = scene(tabulated, 1.0).coat(&Asked::fire(50_000));
    let settings = RunSettings {
        method: Method::Fire,
        accuracy: 0.02,
        time: None,
        atoms: Some(50_000),
        seed: 1,
        threads: 0,
    };
    let outcome = outcome::assemble(
        &coated.scene,
        &coated.rates,
        &coated.tally,
        coated.film.clone(),
        &settings,
    );
    let summary = &outcome.summary;
    assert_eq!(summary.method, Method::Fire, "what really ran");
    assert!(summary.audit.is_empty(), "firing is no audit of itself");
    let flight = summary.flight.as_ref().unwrap();
    let gas = flight.gas.as_ref().unwrap();
    // 12.367 68 mm at 1 Pa and 300 K from nearest neighbours (0.289 nm, argon 0.364 nm), worked out by another program
    // (arithmetic, not literature); 4 mTorr = 0.533 289 5 Pa
    let path = &gas.free_paths[0];
    assert!(
        (path.free_path_mm - 12.367_68 / 0.533_289_5).abs() < 0.01,
        "{path:?}"
    );
    // silver atoms of 0.5 and 5 eV that meet argon head-on in the universal potential: 10.7 and 21.0 mm at 1 Pa and 300 K,
    // worked out by another program
    let [least, most] = path.doubt_mm.unwrap().map(|mm| mm * 0.533_289_5);
    assert!(
        (least / 10.7 - 1.0).abs() < 0.01 && (most / 21.0 - 1.0).abs() < 0.01,
        "{path:?}"
    );
    assert!(flight.collisions_per_atom.mean > 1.0 && flight.collisions_per_atom.stderr > 0.0);
    assert!(flight.parts[0].energy_ev.unwrap().mean > 0.1);
    let warned = summary.warnings.iter();
    assert!(
        warned
            .filter(|text| text.contains("free path of silver in argon"))
            .count()
            == 1
    );
    let page = outcome::report::html(&outcome, &[]);
    for words in [
        "followed one by one",
        "through argon",
        "softer than spheres",
        "23.2",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(!page.contains("the plan has no [gas]"));
}

#[test]
fn a_metal_of_the_plan_must_say_what_flight_in_gas_needs() {
    let text = |more: &str| {
        let bench = Bench::new()
            .with(CHAMBER)
            .with("[gas]\npressure = \"1 Pa\"\n");
        let bench = bench.with(&format!(
            "[[metal]]\nname = \"brass\"\ndensity = \"8.4 g/cm3\"\nmolar_mass = \"64 g/mol\"\n{more}"
        ));
        bench
            .source(&DISC)
            .part("lid", disc(0.01, 24).moved(DVec3::Z * 0.1))
            .step(1.0, "")
            .text
            .replace("metal = \"silver\"", "metal = \"brass\"")
    };
    let issues = |more: &str| -> Vec<String> {
        let plan = plan::read_text(Path::new("check.toml"), &text(more)).unwrap();
        let mut meshes = evenfall_sim::scene::Meshes::default();
        let mesh = disc(0.01, 24).moved(DVec3::Z * 0.1).mesh();
        meshes.insert(plan.path.with_file_name("lid.stl"), mesh);
        match evenfall_sim::scene::lower(plan.into(), &meshes) {
            Ok(_) => Vec::new(),
            Err(found) => found.issues.iter().map(ToString::to_string).collect(),
        }
    };
    assert_eq!(
        issues(""),
        [
            "metal \"brass\" has no diameter (in gas it matters how large its atoms are); add diameter to its [[metal]]",
            "metal \"brass\" has no surface_binding (in gas it matters how fast sputtered atoms start); add surface_binding to its [[metal]]",
        ]
    );
    assert_eq!(
        issues("diameter = \"0.26 nm\"\nsurface_binding = \"3 eV\"\n"),
        Vec::<String>::new()
    );
}
