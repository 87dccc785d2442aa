//! Tubes through which atoms fly and bounce: Clausing's problem with Cole's values, and with walls that hold some.
//!
//! One end emits evenly by the cosine law and keeps what comes back, the other end keeps all, the wall sticks or lets go.

use crate::values;
use evenfall_sim::transport::Tally;
use evenfall_tests::agreement::{Comparison, Disagreement, Spread, judge};
use evenfall_tests::bench::Bench;
use evenfall_tests::solids::{disc, rings};
use glam::DVec3;

/// Corners of the polygon that stands for the circle.
const SIDES: u32 = 180;
/// Relative bias of that: its area is the circle's, its rim longer by (π/N)²/6, its corners off by (π/N)²/2.
const POLYGON: f64 = 1.5e-4;
/// Radius, m.
const RADIUS: f64 = 0.01;

/// A tube of a length in radii whose wall sticks so much.
fn tube(length: f64, sticking: f64) -> Bench {
    let ends = disc(RADIUS, SIDES);
    let rim = ends.triangles[0].map(|c| c.truncate().length());
    let rim = rim.into_iter().fold(0.0, f64::max);
    let height = length * RADIUS;
    let wall = rings(&[(rim, 0.0), (rim, height)], SIDES);
    Bench::new()
        .mesh_source(ends.turned_over(), 1.0)
        .fixture("wall", wall)
        .with(&format!("sticking = {sticking:?}\n"))
        .part("end", ends.moved(DVec3::Z * height))
        .step(1.0, "")
}

/// A share of fired atoms and what it should be.
fn share(name: String, count: u64, tally: &Tally, reference: f64) -> Comparison {
    let fired = tally.balance.emitted as f64;
    Comparison {
        name,
        found: count as f64 / fired,
        std_error: (reference * (1.0 - reference) / fired).sqrt(),
        reference,
        bias: POLYGON * reference,
    }
}

/// Tubes whose walls keep (almost) nothing.
fn clear(sticking: f64) -> Result<(), Disagreement> {
    let table = values!("cole_1977");
    let mut all = Vec::new();
    for (length, atoms) in [
        (0.1, 150_000),
        (0.5, 150_000),
        (1.0, 150_000),
        (2.0, 150_000),
        (5.0, 150_000),
        (10.0, 150_000),
        (20.0, 80_000),
        (50.0, 40_000),
    ] {
        let reference = table
            .quantity("transmission of a tube")
            .at(&[("length", length)]);
        let tally = &tube(length, sticking).fire(atoms, 1);
        assert_eq!(tally.balance.escaped, 0, "the tube is closed");
        let name = format!("length {length} radii");
        all.push(share(name, tally.balance.part, tally, reference));
    }
    judge(&all, Spread::Known, 0.03)
}

#[test]
fn tubes_that_hold_nothing_pass_their_tabulated_shares() {
    clear(0.0).unwrap();
}

#[test]
fn tubes_notice_walls_that_hold_two_in_a_thousand() {
    assert!(clear(0.002).unwrap_err().speaks_against());
}

/// Tubes whose walls hold a share, what the program is told multiplied.
fn holding(more: f64) -> Result<(), Disagreement> {
    let table = values!("cole_1977");
    let mut all = Vec::new();
    for length in [1.0, 2.0, 5.0, 10.0] {
        for sticking in [0.1, 0.5] {
            let tally = &tube(length, sticking * more).fire(150_000, 2);
            for (name, count) in [
                ("transmitted by a tube that holds atoms", tally.balance.part),
                ("returned by a tube that holds atoms", tally.balance.source),
                ("stuck in a tube", tally.balance.fixtures),
            ] {
                let inputs = [("length", length), ("sticking", sticking)];
                let reference = table.quantity(name).at(&inputs);
                let name = format!("{name}, {length} radii, sticking {sticking}");
                all.push(share(name, count, tally, reference));
            }
        }
    }
    judge(&all, Spread::Known, 0.03)
}

#[test]
fn tubes_that_hold_some_share_atoms_out_as_tabulated() {
    holding(1.0).unwrap();
}

#[test]
fn tubes_notice_a_sticking_four_per_cent_higher() {
    assert!(holding(1.04).unwrap_err().speaks_against());
}
