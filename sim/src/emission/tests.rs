//! Densities against integrals, draws against densities, extents against points.

use super::*;
use crate::stats::chi_squared_upper;

mod energy;
mod footprint;
mod law;

/// Probability of a false alarm of one check, so that 1000 checks alarm once in 1000 suites.
const FALSE_ALARM: f64 = 1e-6;
/// Draws per χ².
const DRAWS: usize = 2_000_000;

/// A plain stream of uniform variates (SplitMix64, G. L. Steele, D. Lea, C. H. Flood, OOPSLA 2014).
struct Stream(u64);

impl Stream {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut x = self.0;
        x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        x ^= x >> 31;
        f64::from((x >> 32) as u32) / 4_294_967_296.0
    }
    fn pair(&mut self) -> [f64; 2] {
        [self.next(), self.next()]
    }
}

/// Composite Gauss–Legendre rule of five points on `panels` panels.
fn integral(from: f64, to: f64, panels: u32, f: impl Fn(f64) -> f64) -> f64 {
    const NODES: [(f64, f64); 5] = [
        (-0.906_179_845_938_664, 0.236_926_885_056_189_1),
        (-0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
        (0.0, 0.568_888_888_888_888_9),
        (0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
        (0.906_179_845_938_664, 0.236_926_885_056_189_1),
    ];
    let half = 0.5 * (to - from) / f64::from(panels);
    let panel = |k: u32| {
        let middle = from + half * f64::from(2 * k + 1);
        NODES
            .iter()
            .map(|&(x, w)| w * f(middle + half * x))
            .sum::<f64>()
            * half
    };
    (0..panels).map(panel).sum()
}

/// χ² of counts in cells against their probabilities, as a share of what it may be.
///
/// Cells that expect fewer than ten are pooled. Above 1 the two do not belong together.
fn misfit(counts: &[u32], probabilities: &[f64]) -> f64 {
    let draws: f64 = counts.iter().map(|&count| f64::from(count)).sum();
    assert!(
        (probabilities.iter().sum::<f64>() - 1.0).abs() < 1e-6,
        "cells do not cover everything"
    );
    let (mut chi_squared, mut cells) = (0.0, 0);
    let (mut seen, mut expected) = (0.0, 0.0);
    let mut take = |seen: f64, expected: f64| {
        chi_squared += (seen - expected) * (seen - expected) / expected;
        cells += 1;
    };
    for (&count, &probability) in counts.iter().zip(probabilities) {
        if probability * draws >= 10.0 {
            take(f64::from(count), probability * draws);
        } else {
            seen += f64::from(count);
            expected += probability * draws;
        }
    }
    if expected >= 10.0 {
        take(seen, expected);
    } else {
        assert!(
            seen <= expected + 30.0,
            "{seen} draws where {expected} were expected"
        );
    }
    chi_squared / chi_squared_upper(cells - 1, FALSE_ALARM)
}

/// Cell of a value in [0, 1) among `cells`.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a share of a small number of cells; `as` saturates"
)]
fn cell(share: f64, cells: usize) -> usize {
    ((share * cells as f64) as usize).min(cells - 1)
}

#[test]
fn laws_and_tables_without_meaning_are_refused_in_words() {
    let text = |error: Result<_, EmissionError>| error.map(|_: ()| ()).unwrap_err().to_string();
    assert_eq!(
        text(EmissionLaw::cosine_power(-2.0).map(|_| ())),
        "emission exponent -2 (must be above -1, otherwise the law has no finite total); \
         use 1 for a flat evaporating surface"
    );
    let lobe = |rows: &[(f64, f64)]| {
        let rows: Vec<_> = rows.iter().map(|row| (row.0.to_radians(), row.1)).collect();
        text(TableLaw::new(&rows).map(|_| ()))
    };
    assert_eq!(
        lobe(&[(0.0, 1.0)]),
        "1 rows in the table of the emission law (at least 2 are needed to draw a line between them); add rows"
    );
    assert_eq!(
        lobe(&[(0.0, 1.0), (30.0, 1.0), (30.0, 0.0)]),
        "row 3 of the table of the emission law has 30 deg after 30 deg (the first column must increase); sort the rows"
    );
    assert_eq!(
        lobe(&[(10.0, 1.0), (30.0, 1.0)]),
        "the table of the emission law begins at 10 deg (must begin at 0 deg, the normal of the face); add a row for 0 deg"
    );
    assert_eq!(
        lobe(&[(0.0, 1.0), (95.0, 1.0)]),
        "row 2 of the table of the emission law is at 95 deg (90 deg is the face itself, nothing leaves behind it); end the table at 90 deg"
    );
    assert_eq!(
        lobe(&[(0.0, 0.0), (90.0, 0.0)]),
        "all weights of the table of the emission law are 0 (nothing would leave); give one row a weight above 0"
    );
    let groove = |rows: &[(f64, f64)]| text(GrooveTable::new(rows).map(|_| ()));
    assert_eq!(
        groove(&[(0.0, 1.0), (0.02, -0.5)]),
        "row 2 of the table of the erosion groove has weight -0.5 (a share of the emission cannot be below 0); correct the row"
    );
    assert_eq!(
        groove(&[(-0.001, 1.0), (0.02, 0.5)]),
        "row 1 of the table of the erosion groove is at -1 mm (a radius cannot be below 0 mm); correct the row"
    );
    assert_eq!(
        groove(&[(0.0, f64::NAN), (0.02, 0.5)]),
        "row 1 of the table of the erosion groove holds NaN (must be a finite number); correct the row"
    );
    assert_eq!(
        text(MeshFootprint::new(&[[DVec3::ZERO; 3]]).map(|_| ())),
        "the 1 faces of the emitting mesh have an area of 0 mm2 (nothing could leave); give a mesh with area"
    );
}
