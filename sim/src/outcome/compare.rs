//! Two outcomes side by side: numbers, and differences row by row where the meshes are the same.
//!
//! In: two [`Outcome`]s. Out: a [`Comparison`] for the terminal, for JSON and for a map on one scale.

use super::model::{CouponSummary, Outcome, PartOutcome, PartSummary};
use super::statistics::{Patch, distribution};
use crate::film::State;
use serde::Serialize;

/// Two outcomes side by side: A, then B.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// Titles.
    pub titles: [String; 2],
    /// Parts of the same name, in A's order.
    pub parts: Vec<PartComparison>,
    /// Coupons of the same name, in A's order.
    pub coupons: Vec<CouponComparison>,
    /// Parts and coupons that only one of the two has: those of A, those of B.
    pub only_in: [Vec<String>; 2],
    /// Half the range of the difference map, nm: 95th percentile by area of |B − A| over all maps; 0 without maps.
    pub scale_nm: f64,
}

/// A part in both outcomes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartComparison {
    /// Name.
    pub name: String,
    /// Mean thickness, nm.
    pub mean_nm: Pair,
    /// 5th percentile, nm.
    pub p05_nm: Pair,
    /// Median, nm.
    pub median_nm: Pair,
    /// 95th percentile, nm.
    pub p95_nm: Pair,
    /// Share of area that reaches what its own plan wants.
    pub reached_want_fraction: Pair,
    /// Share of area on which no film was found: none seen and unreached.
    pub bare_fraction: Pair,
    /// Row by row.
    pub map: Map,
}

/// A coupon in both outcomes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CouponComparison {
    /// Name.
    pub name: String,
    /// Thickness, nm.
    pub thickness_nm: Pair,
}

/// A number in both outcomes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Pair {
    /// In A.
    pub a: f64,
    /// In B.
    pub b: f64,
    /// B − A in standard errors, where both have an error bar.
    pub z: Option<f64>,
}

/// Differences over the rows of a part's mesh.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Map {
    /// The meshes are the same, row by row.
    Rows(Vec<RowDifference>),
    /// The meshes differ, so rows cannot be told to be the same place.
    Refused {
        /// Why, for a person.
        reason: String,
    },
}

/// A row in both outcomes, front side.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RowDifference {
    /// B − A, nm.
    pub difference_nm: f64,
    /// B / A, where A has film.
    pub ratio: Option<f64>,
    /// B − A in standard errors, where there is an error.
    pub z: Option<f64>,
}

/// Sets two outcomes side by side.
///
/// z = (B − A) / √(s_A² + s_B²) takes the two errors as independent. Runs with the same seed share random numbers, so that
/// their difference is known better than z says.
pub fn compare(a: &Outcome, b: &Outcome) -> Comparison {
    let mut parts = Vec::new();
    let mut all_patches = Vec::new();
    for (part_a, summary_a) in a.parts.iter().zip(&a.summary.parts) {
        let of_b = b.parts.iter().zip(&b.summary.parts);
        if let Some((part_b, summary_b)) =
            of_b.into_iter().find(|(part, _)| part.name == part_a.name)
        {
            let map = map(part_a, part_b);
            all_patches.extend(patches(part_a, &map));
            parts.push(part(summary_a, summary_b, map));
        }
    }
    let coupons_b = &b.summary.coupons;
    let coupons = a.summary.coupons.iter().filter_map(|coupon_a| {
        let coupon_b = coupons_b
            .iter()
            .find(|coupon| coupon.name == coupon_a.name)?;
        Some(coupon(coupon_a, coupon_b))
    });
    Comparison {
        titles: [a, b].map(|outcome| outcome.summary.title.clone()),
        parts,
        coupons: coupons.collect(),
        only_in: [missing(a, b), missing(b, a)],
        scale_nm: distribution(all_patches.into_iter()).p95_m * 1e9,
    }
}

/// Names of parts and coupons that `this` has and `other` lacks.
fn missing(this: &Outcome, other: &Outcome) -> Vec<String> {
    let names = |outcome: &Outcome| -> [Vec<String>; 2] {
        let parts = outcome.parts.iter().map(|part| part.name.clone());
        let coupons = outcome
            .summary
            .coupons
            .iter()
            .map(|coupon| coupon.name.clone());
        [parts.collect(), coupons.collect()]
    };
    let both = names(this).into_iter().zip(names(other));
    both.flat_map(|(own, others)| own.into_iter().filter(move |name| !others.contains(name)))
        .collect()
}

fn part(a: &PartSummary, b: &PartSummary, map: Map) -> PartComparison {
    let [film_a, film_b] = [a.thickness_nm, b.thickness_nm];
    let bare = |part: &PartSummary| part.none_seen_fraction + part.unreached_fraction;
    PartComparison {
        name: a.name.clone(),
        mean_nm: with_errors(
            (film_a.mean, film_a.mean_stderr),
            (film_b.mean, film_b.mean_stderr),
        ),
        p05_nm: plain(film_a.p05, film_b.p05),
        median_nm: plain(film_a.median, film_b.median),
        p95_nm: plain(film_a.p95, film_b.p95),
        reached_want_fraction: plain(a.reached_want_fraction, b.reached_want_fraction),
        bare_fraction: plain(bare(a), bare(b)),
        map,
    }
}

fn coupon(a: &CouponSummary, b: &CouponSummary) -> CouponComparison {
    CouponComparison {
        name: a.name.clone(),
        thickness_nm: with_errors((a.thickness_nm, a.stderr_nm), (b.thickness_nm, b.stderr_nm)),
    }
}

fn plain(a: f64, b: f64) -> Pair {
    Pair { a, b, z: None }
}

fn with_errors((a, error_a): (f64, f64), (b, error_b): (f64, f64)) -> Pair {
    Pair {
        a,
        b,
        z: z(b - a, error_a, error_b),
    }
}

fn z(difference: f64, error_a: f64, error_b: f64) -> Option<f64> {
    let error = error_a.hypot(error_b);
    (error > 0.0).then(|| difference / error)
}

fn map(a: &PartOutcome, b: &PartOutcome) -> Map {
    if let Some(reason) = difference_of_meshes(a, b) {
        return Map::Refused { reason };
    }
    let rows = a.rows.iter().zip(&b.rows).map(|(a, b)| {
        let difference_m = b.thickness_m - a.thickness_m;
        RowDifference {
            difference_nm: difference_m * 1e9,
            ratio: (a.thickness_m > 0.0).then(|| b.thickness_m / a.thickness_m),
            z: z(difference_m, a.std_error_m, b.std_error_m),
        }
    });
    Map::Rows(rows.collect())
}

/// What tells two meshes apart, in words; none if they are the same bit by bit.
fn difference_of_meshes(a: &PartOutcome, b: &PartOutcome) -> Option<String> {
    let advice = "rows cannot be set against each other; compare outcomes of the same mesh file, unit and scale";
    if a.rows.len() != b.rows.len() {
        return Some(format!(
            "the mesh of {} has {} triangles in A and {} in B ({advice})",
            a.name,
            a.rows.len(),
            b.rows.len()
        ));
    }
    let corners = |part: &PartOutcome, row: usize| {
        part.triangles[row].map(|corner| {
            part.vertices_m[corner as usize]
                .to_array()
                .map(f64::to_bits)
        })
    };
    let other = (0..a.rows.len()).find(|&row| corners(a, row) != corners(b, row))?;
    Some(format!(
        "triangle {other} of {} lies elsewhere in B than in A ({advice})",
        a.name
    ))
}

/// |B − A| on the rows' areas; buried rows and needles hold no film in either.
fn patches(part: &PartOutcome, map: &Map) -> Vec<Patch> {
    let Map::Rows(rows) = map else {
        return Vec::new();
    };
    let surface = part.rows.iter().zip(rows);
    let surface = surface.filter(|(row, _)| !matches!(row.state, State::Buried | State::Needle));
    surface
        .map(|(row, difference)| Patch {
            area_m2: row.area_m2,
            thickness_m: difference.difference_nm.abs() * 1e-9,
            std_error_m: 0.0,
        })
        .collect()
}
