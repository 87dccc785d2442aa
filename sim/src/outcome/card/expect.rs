//! What the coupons should read, and by which means that can be seen.
//!
//! In: an [`Outcome`]. Out: rows of the bench card.

use super::super::doubt::factor_in_words;
use super::super::figures::{significant, trimmed, with_error};
use super::super::headline::{rate_factor, want_in_words};
use super::super::model::{CouponSummary, Outcome};
use super::super::report::keep_together as nb;
use super::range;
use crate::metals;
use crate::worth::optics::{film, green_index_of};
use maud::{Markup, html};

/// Least step that a stylus or an interferometer tells from the slide's own waviness, nm. Common practice, no source.
const LEAST_STEP_NM: f64 = 20.0;
/// A good step is told to a twentieth, and to so many nm at best. Common practice, no source.
const STEP_SHARE: f64 = 0.05;
const STEP_NM: f64 = 5.0;
/// Resolution of an analytical balance, and of a micro one, µg. Common practice, no source.
const BALANCES_UG: [(f64, &str); 2] = [
    (100.0, "an analytical balance (0.1 mg)"),
    (1.0, "a micro balance (1 µg)"),
];
/// A balance is told of where it reads to this share.
const WORTH_WEIGHING: f64 = 0.2;
/// Green light, m; and the refractive index of a glass slide (common practice, no source).
const GREEN_M: f64 = 550e-9;
const GLASS: f64 = 1.5;
/// Share that a slide's bare far face sends back.
const FAR_FACE: f64 = 0.04;
/// Shares of light between which a meter tells films apart. Common practice, no source.
const READABLE: [f64; 2] = [0.005, 0.7];

/// The coupons, what is wanted, tooling factors, and how to measure.
pub fn expect(outcome: &Outcome) -> Markup {
    let summary = &outcome.summary;
    let factor = rate_factor(outcome);
    html! {
        @if summary.coupons.is_empty() {
            p { "No coupon in the plan: place one and measure it, only that ties the numbers to your machine." }
        }
        table.facts {
            @for coupon in &summary.coupons {
                tr {
                    th { "coupon " (coupon.name) }
                    td {
                        b { (nb(&format!("{} nm", with_error(coupon.thickness_nm, coupon.stderr_nm)))) }
                        @if summary.uncalibrated {
                            " (uncalibrated, to a factor of " (factor_in_words(factor)) ": " (range(coupon.thickness_nm, factor)) ")"
                        }
                    }
                }
                @for (how, reading) in ways(outcome, coupon, factor) {
                    tr { th { (how) } td { (nb(&reading)) } }
                }
            }
            @if let Some(film) = &summary.film {
                tr { th { "wanted" } td { (nb(&want_in_words(film))) " on the part" } }
            }
            @for tooling in &summary.tooling {
                tr { th { "tooling factor" } td { (nb(&with_error(tooling.factor, tooling.stderr))) ", mean on " (tooling.part) " over " (tooling.coupon) } }
            }
        }
    }
}

/// Ways to measure a coupon, each with what it should read; where a way cannot tell, that is said.
fn ways(outcome: &Outcome, coupon: &CouponSummary, factor: f64) -> Vec<(String, String)> {
    let mut all = vec![("by its step".to_owned(), step(coupon.thickness_nm))];
    if let [metal] = outcome.metal_names.as_slice() {
        let weighed = weight(outcome, coupon, metal);
        all.extend(weighed.map(|text| ("by its weight".to_owned(), text)));
        let lit = light(coupon.thickness_nm, metal, factor);
        all.extend(lit.map(|text| ("by its light".to_owned(), text)));
    }
    all
}

fn step(nm: f64) -> String {
    if nm < LEAST_STEP_NM {
        return format!("too low for a stylus, which needs about {LEAST_STEP_NM:.0} nm");
    }
    let good_nm = (STEP_SHARE * nm).max(STEP_NM);
    format!(
        "a strip of tape over the slide's middle before, off afterwards; stylus or interferometer over the edge, at three \
         places: good to about {} nm",
        significant(good_nm, 1)
    )
}

/// Mass of the film on a coupon of two triangles, and what a balance makes of it.
///
/// m = ρ · d · A, A the coupon's face.
/// Neglects: films thinner than bulk density suggests.
fn weight(outcome: &Outcome, coupon: &CouponSummary, metal: &str) -> Option<String> {
    let body = outcome
        .bodies
        .iter()
        .find(|b| b.kind == "coupon" && b.name == coupon.name)?;
    let density_kg_per_m3 = metals::built_in(metal)?.density_kg_per_m3;
    if body.triangles.len() != 2 {
        return None;
    }
    let corner = |k: u32| body.vertices_m[k as usize];
    let area = |[a, b, c]: &[u32; 3]| {
        let normal = (corner(*b) - corner(*a)).cross(corner(*c) - corner(*a));
        0.5 * normal.length()
    };
    let area_m2: f64 = body.triangles.iter().map(area).sum();
    let micrograms = 1e9 * density_kg_per_m3 * 1e-9 * coupon.thickness_nm * area_m2;
    let side_mm = 1e3 * area_m2.sqrt();
    let on = format!(
        "{} µg on its {} mm square",
        significant(micrograms, 2),
        trimmed((10.0 * side_mm).round() / 10.0)
    );
    let balance = BALANCES_UG
        .iter()
        .find(|(ug, _)| *ug <= WORTH_WEIGHING * micrograms);
    Some(match balance {
        Some((ug, balance)) => format!(
            "{on}, weighed before and after: {balance} tells that to {} %",
            significant(100.0 * ug / micrograms, 1)
        ),
        None => format!("{on}: too little for any balance at hand"),
    })
}

/// Green light that a glass slide with this film lets through, against a bare one.
fn light(nm: f64, metal: &str, factor: f64) -> Option<String> {
    let index = green_index_of(metal)?;
    let bare = 1.0 - FAR_FACE;
    // the far face takes its share of both, more or less
    let through = |nm: f64| film(index, 1e-9 * nm, GREEN_M, GLASS).through / bare;
    let [expected, thin, thick] = [nm, nm / factor, nm * factor].map(through);
    Some(if expected < READABLE[0] {
        "a glass slide is black against a lamp: this film is too thick to be told by light"
            .to_owned()
    } else if expected > READABLE[1] {
        "a glass slide is nearly clear: this film is too thin to be told by light".to_owned()
    } else {
        let percent = |share: f64| significant(100.0 * share, 2);
        let within = if factor > 1.0 {
            format!(
                " ({} to {} % within the doubt)",
                percent(thick),
                percent(thin)
            )
        } else {
            String::new()
        };
        format!(
            "about {} % of green light goes through a glass slide, against a bare one{within}",
            percent(expected)
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn light_is_told_only_where_a_meter_can_read_it() {
        // silver of 0.06, 3.597 on glass of 1.5 at 550 nm: 0.0237 through 50 nm by matrices, over 0.96 of the bare face
        let text = light(50.0, "silver", 1.0).unwrap();
        assert!(text.starts_with("about 2.5 % of green light"), "{text}");
        assert!(light(500.0, "silver", 2.0).unwrap().contains("too thick"));
        assert!(light(3.0, "carbon", 2.0).unwrap().contains("too thin"));
        assert_eq!(light(50.0, "brass", 2.0), None);
    }

    #[test]
    fn a_step_is_told_with_what_a_stylus_can_see() {
        assert!(step(8.0).contains("too low"));
        assert!(step(60.0).contains("about 5 nm"), "{}", step(60.0));
        assert!(step(400.0).contains("about 20 nm"), "{}", step(400.0));
    }
}
