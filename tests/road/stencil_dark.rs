//! What is proved dark under a stencil, against fired atoms.

use evenfall_sim::film::State;
use evenfall_tests::bench::{Asked, Bench, Coated, Head};
use evenfall_tests::solids::Sheet;
use glam::DVec3;

const HEIGHT: f64 = 0.08;

/// A plate of 20 mm under a sheet of 0.1 mm with holes and a slot, over a disc that stands aside.
fn bench(lift: f64, turning: bool) -> Bench {
    let mut plate = Sheet::default();
    plate.patch(DVec3::Z * HEIGHT, -DVec3::Z, 0.02);
    let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="20mm" viewBox="-10 -10 20 20">
        <circle cx="-5" cy="-5" r="2"/><rect x="1" y="-7" width="5" height="3"/>
        <rect x="-8" y="2" width="9" height="0.6"/><path fill-rule="evenodd" d="M3 1H9V7H3ZM5 3H7V5H5Z"/></svg>"#;
    let lines = format!(
        "sheet = \"0.1 mm\"\nlift = \"{lift:?} mm\"\nat = [\"0 mm\", \"0 mm\", \"80 mm\"]\n\
         turn = [\"180 deg\", \"0 deg\", \"0 deg\"]\n"
    );
    let bench = Bench::new()
        .source(&Head {
            footprint: "{ shape = \"disc\", radius = \"8 mm\" }",
            cosine: 1.0,
            at: DVec3::X * 0.06,
            facing: DVec3::Z,
            along: None,
        })
        .part("plate", plate)
        .mask("plate", svg, &lines);
    let bench = if turning {
        bench.turning(DVec3::Z)
    } else {
        bench
    };
    bench.step(1.0, "")
}

/// Facets proved dark, and facets partly so; film on them by gathering and by firing, m³ per emitted atom, with errors.
struct Found {
    dark: usize,
    partly: usize,
    fired_on_dark: u32,
    gathered: (f64, f64),
    fired: (f64, f64),
}

fn found(lift: f64, turning: bool) -> Found {
    let bench = bench(lift, turning);
    let gathered: Coated = bench.coat(&Asked::gather(0.02));
    let fired = bench.fire(30_000_000, 5);
    let scene = &gathered.scene;
    let mut found = Found {
        dark: 0,
        partly: 0,
        fired_on_dark: 0,
        gathered: (0.0, 0.0),
        fired: (0.0, 0.0),
    };
    for index in scene.parts[0].front.clone() {
        let receiver = &scene.receivers[index];
        let (by_gather, by_fire) = (&gathered.tally.receivers[index], &fired.receivers[index]);
        if receiver.lit == 0 {
            found.dark += 1;
            found.fired_on_dark += by_fire.arrived;
            assert_eq!(by_gather.thickness_m, 0.0);
            assert_eq!(gathered.film.facets[index].state, State::Unreached);
            assert!(by_gather.shares[4] > 0.3, "{:?}", by_gather.shares);
        } else if receiver.lit != u64::MAX {
            found.partly += 1;
            found.gathered.0 += by_gather.thickness_m * receiver.area_m2;
            found.gathered.1 += (by_gather.std_error_m * receiver.area_m2).powi(2);
            found.fired.0 += by_fire.thickness_m * receiver.area_m2;
            found.fired.1 += f64::from(by_fire.arrived);
        }
    }
    found.gathered.1 = found.gathered.1.sqrt();
    found.fired.1 = found.fired.0 / found.fired.1.sqrt();
    found
}

#[test]
fn no_fired_atom_lands_where_a_sheet_is_proved_to_hide_everything() {
    for (lift, turning) in [(0.0, false), (0.15, false), (0.0, true)] {
        let found = found(lift, turning);
        // enough of both for the rest to mean something
        assert!(
            found.dark > 500 && found.partly > 300,
            "{} {}",
            found.dark,
            found.partly
        );
        assert_eq!(found.fired_on_dark, 0, "lift {lift}");
        // beside the edges only what may be lit is looked at: the film there is that of fired atoms
        let ((a, a_error), (b, b_error)) = (found.gathered, found.fired);
        let error = a_error.hypot(b_error);
        assert!(
            (a - b).abs() < 5.0 * error,
            "lift {lift}: {a:e} {b:e} ± {error:e}"
        );
        assert!(error < 0.03 * b, "{error:e} of {b:e}");
    }
}

#[test]
fn lifted_sheets_are_not_taken_for_dark_over_a_moving_source() {
    let scene = bench(0.15, true).coat(&Asked::gather(0.5)).scene;
    assert!(
        scene
            .receivers
            .iter()
            .all(|receiver| receiver.lit == u64::MAX)
    );
}

#[test]
fn edges_of_dark_places_notice_film_that_is_a_sixth_less() {
    let found = found(0.15, false);
    let ((a, a_error), (b, b_error)) = (found.gathered, found.fired);
    assert!((a * 5.0 / 6.0 - b).abs() > 5.0 * a_error.hypot(b_error));
}
