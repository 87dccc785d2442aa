//! Firing against gathering on whole scenes: two ways to one film, one χ² each.
//!
//! Firing is the judge: plain, unbiased, whole numbers. Each scene is also fired with an emission that is
//! slightly off, which must be noticed.

use evenfall_tests::agreement::chi_squared_share;
use evenfall_tests::bench::{Asked, Bench, Coated, Head};
use evenfall_tests::solids::{Sheet, block, rings};
use glam::DVec3;

const ATOMS: u64 = 1_000_000;

/// χ² of what was fired against what the gathered film expects, over its limit.
fn share(fired: &Coated, gathered: &Coated) -> f64 {
    assert_eq!(fired.rows(), gathered.rows());
    let mut counts = vec![0.0; fired.rows()];
    let part = &fired.scene.parts[0];
    for receiver in part.front.clone() {
        let row = fired.scene.receivers[receiver].triangle as usize;
        counts[row] += f64::from(fired.tally.receivers[receiver].arrived);
    }
    let emitted = fired.tally.balance.emitted as f64;
    let expected: Vec<f64> = (0..gathered.rows())
        .map(|row| gathered.flux(row).0 * gathered.area_m2(row) * emitted)
        .collect();
    chi_squared_share(&counts, &expected)
}

/// Gathers a scene, fires it, and fires it with the cosine's exponent raised from 1 to 1.25.
///
/// - `accuracy`: asked of gathered facets; well below the chance of the counts, row by row
fn both_agree(accuracy: f64, scene: impl Fn(f64) -> Bench) {
    let gathered = scene(1.0).coat(&Asked::gather(accuracy));
    assert!(gathered.rows() <= 2000, "{}", gathered.rows());
    let fired = |cosine: f64| scene(cosine).coat(&Asked::fire(ATOMS));
    let (same, other) = (
        share(&fired(1.0), &gathered),
        share(&fired(1.25), &gathered),
    );
    assert!(same < 1.0, "χ² is {same:.3} of its limit");
    assert!(other > 1.0, "an exponent of 1.25 passes: {other:.3}");
}

fn head(footprint: &str, cosine: f64, at: DVec3, facing: DVec3) -> Head<'_> {
    Head {
        footprint,
        cosine,
        at,
        facing,
        along: None,
    }
}

const DISC: &str = r#"{ shape = "disc", radius = "25 mm" }"#;
const RING: &str = r#"{ shape = "ring", inner_radius = "12 mm", outer_radius = "21 mm" }"#;

/// A closed goblet of about a thousand triangles, mouth down: a bowl with a foot, deep inside.
fn goblet(lowest: f64) -> Sheet {
    let profile = [
        (0.0, 0.022),
        (0.012, 0.018),
        (0.019, 0.008),
        (0.020, 0.0),
        (0.022, 0.0),
        (0.021, 0.009),
        (0.014, 0.021),
        (0.004, 0.027),
        (0.003, 0.045),
        (0.008, 0.048),
        (0.016, 0.049),
        (0.016, 0.051),
        (0.0, 0.051),
    ];
    // from the mouth outward and up the outside: faces point away from the wall
    let lifted = profile.map(|(radius, z)| (radius, z + lowest));
    rings(&lifted, 40)
}

/// A goblet with its mouth at a height over a source to one side, both in metres.
fn over(footprint: &str, cosine: f64, aside: f64, lowest: f64) -> Bench {
    Bench::new()
        .source(&head(
            footprint,
            cosine,
            DVec3::new(aside, 0.0, 0.0),
            DVec3::Z,
        ))
        .part("goblet", goblet(lowest))
}

#[test]
fn firing_and_gathering_agree_on_a_block_beside_another() {
    both_agree(0.1, |cosine| {
        let mut blocks = block(DVec3::new(-0.03, -0.02, 0.1), DVec3::new(0.0, 0.02, 0.14));
        blocks.add(&block(
            DVec3::new(0.005, -0.02, 0.08),
            DVec3::new(0.03, 0.02, 0.12),
        ));
        Bench::new()
            .source(&head(DISC, cosine, DVec3::new(0.04, 0.0, 0.0), DVec3::Z))
            .part("blocks", blocks)
            .step(1.0, "")
    });
}

#[test]
fn firing_and_gathering_agree_through_a_shield_with_a_hole_onto_a_turning_plate() {
    both_agree(0.015, |cosine| {
        let mut plate = Sheet::default();
        let edges = [DVec3::new(0.0, 0.2, 0.0), DVec3::new(0.2, 0.0, 0.0)];
        plate.grid(DVec3::new(-0.1, -0.1, 0.1), edges, [20, 20]);
        Bench::new()
            .source(&head(RING, cosine, DVec3::new(0.03, 0.0, 0.0), DVec3::Z))
            .part("plate", plate)
            .with(
                "[[fixture]]\nname = \"shield\"\nbody = { shape = \"plate\", size = [\"120 mm\", \"120 mm\", \"1 mm\"], \
                 hole_diameter = \"34 mm\" }\nat = [\"30 mm\", \"0 mm\", \"12 mm\"]",
            )
            .turning(DVec3::Z)
            .step(1.0, "")
    });
}

#[test]
fn firing_and_gathering_agree_on_a_double_rotation() {
    both_agree(0.015, |cosine| {
        over(DISC, cosine, 0.05, 0.1)
            .with(
                "[[rotation]]\naxis = [1.0, 0.2, 0.0]\nthrough = [\"0 mm\", \"0 mm\", \"125 mm\"]\nspeed = \"377 deg/s\"\n\
                 [[rotation]]\naxis = [0.0, 0.0, 1.0]\nthrough = [\"20 mm\", \"0 mm\", \"0 mm\"]\nspeed = \"-123 deg/s\"",
            )
            .step(5.0, "")
    });
}

#[test]
fn firing_and_gathering_agree_on_a_goblet_that_turns_mouth_down() {
    both_agree(0.015, |cosine| {
        over(RING, cosine, 0.05, 0.09)
            .turning(DVec3::new(0.3, 0.0, 1.0))
            .step(1.6, "")
    });
}

#[test]
fn firing_and_gathering_agree_on_parked_stops_and_a_shutter_shut_for_a_while() {
    both_agree(0.015, |cosine| {
        over(DISC, cosine, 0.04, 0.1)
            .with(
                "[[shutter]]\nname = \"flag\"\nover = [\"head 0\"]\nbody = { shape = \"plate\", size = [\"40 mm\", \"40 mm\", \
                 \"1 mm\"] }\nat = [\"30 mm\", \"0 mm\", \"15 mm\"]",
            )
            .turning(DVec3::Z)
            .step(2.0, "shutter = \"shut\"\nhold = [\"30 deg\"]\n")
            .step(1.0, "hold = [\"90 deg\"]\n")
            .step(1.0, "hold = [\"200 deg\"]\n")
            .step(0.7, "")
    });
}

#[test]
fn firing_and_gathering_agree_on_a_swing_over_a_leaning_rectangle() {
    both_agree(0.015, |cosine| {
        let rectangle = Head {
            along: Some(DVec3::Y),
            ..head(
                r#"{ shape = "rectangle", width = "60 mm", depth = "15 mm" }"#,
                cosine,
                DVec3::new(-0.05, 0.0, 0.0),
                DVec3::new(0.5, 0.0, 1.0),
            )
        };
        Bench::new()
            .source(&rectangle)
            .part("goblet", goblet(0.1))
            .with("[[rotation]]\naxis = [0.0, 1.0, 0.0]\nthrough = [\"0 mm\", \"0 mm\", \"125 mm\"]\nspeed = \"100 deg/s\"\nswing = \"140 deg\"")
            .step(1.9, "")
    });
}
