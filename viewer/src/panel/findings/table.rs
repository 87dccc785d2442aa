//! Findings as text to be pasted: sentences, or a table with tabs.

use super::cause;
use crate::stage::Shown;
use evenfall_sim::outcome::figures::trimmed;
use evenfall_sim::outcome::reading::Reading;
use evenfall_sim::units::significant;

/// Digits of numbers in tables.
const DIGITS: usize = 5;

/// Headline and what a person would read out of the rest.
pub fn as_text(shown: &Shown, reading: Reading) -> String {
    let mut lines: Vec<String> = shown.headline(reading).to_vec();
    for coupon in &shown.outcome.summary.coupons {
        let film = reading.film_in_words(1e-9 * coupon.thickness_nm);
        lines.push(format!("Coupon {}: {film}.", coupon.name));
    }
    for part in &shown.outcome.summary.parts {
        let causes = part.causes.iter().filter(|(_, share)| **share >= 0.005);
        let causes: Vec<String> = causes
            .map(|(name, share)| format!("{} {:.0} %", cause(name), 100.0 * share))
            .collect();
        if !causes.is_empty() {
            lines.push(format!(
                "Why {} is thin or bare: {}.",
                part.name,
                causes.join(", ")
            ));
        }
    }
    lines.extend(
        shown
            .outcome
            .summary
            .warnings
            .iter()
            .map(|w| format!("Warning: {w}")),
    );
    lines.join("\n")
}

/// One row per number: what, of what, value, standard error, unit.
pub fn as_table(shown: &Shown, reading: Reading) -> String {
    let film_unit = reading.film_unit();
    let area_unit = format!("{}²", reading.length_unit());
    let film = |nm: f64| plain(reading.film(1e-9 * nm));
    let area = |area_m2: f64| plain(reading.length(reading.length(area_m2)));
    let mut rows = vec![row(["quantity", "of", "value", "standard error", "unit"])];
    let mut add = |cells: [&str; 5]| rows.push(row(cells));
    for part in &shown.outcome.summary.parts {
        add([
            "area",
            &part.name,
            &area(1e-6 * part.area_mm2),
            "",
            &area_unit,
        ]);
        let thickness = &part.thickness_nm;
        let figures = [
            ("least thickness", thickness.min),
            ("5 % of the area is thinner", thickness.p05),
            ("half of the area is thinner", thickness.median),
            ("mean thickness", thickness.mean),
            ("95 % of the area is thinner", thickness.p95),
            ("greatest thickness", thickness.max),
        ];
        for (what, nm) in figures {
            add([what, &part.name, &film(nm), "", film_unit]);
        }
        for (name, share) in &part.causes {
            let what = format!("thin or bare, {}", cause(name));
            add([&what, &part.name, &plain(100.0 * share), "", "%"]);
        }
    }
    for region in &shown.regions {
        add(["area", &region.name, &area(region.area_m2), "", &area_unit]);
        add([
            "mean thickness",
            &region.name,
            &film(1e9 * region.mean_m),
            "",
            film_unit,
        ]);
        add([
            "least thickness",
            &region.name,
            &film(1e9 * region.least_m),
            "",
            film_unit,
        ]);
    }
    for coupon in &shown.outcome.summary.coupons {
        let (nm, error) = (film(coupon.thickness_nm), film(coupon.stderr_nm));
        add(["coupon", &coupon.name, &nm, &error, film_unit]);
    }
    for tooling in &shown.outcome.summary.tooling {
        let of = format!("{} over {}", tooling.part, tooling.coupon);
        add(["tooling factor", &of, &trimmed(tooling.factor), "", ""]);
    }
    let width_m = shown.bars_to_m / shown.bars.len() as f64;
    for (bar, share) in shown.bars.iter().enumerate() {
        let [from, to] = [bar, bar + 1].map(|end| film(1e9 * width_m * end as f64));
        let what = if bar + 1 == shown.bars.len() {
            format!("share of the area from {from} {film_unit} on")
        } else {
            format!("share of the area from {from} to {to} {film_unit}")
        };
        add([&what, "wanted area", &plain(100.0 * share), "", "%"]);
    }
    rows.concat()
}

fn row(cells: [&str; 5]) -> String {
    cells.map(|cell| cell.replace(['\t', '\n'], " ")).join("\t") + "\n"
}

/// A number without groups of digits, as spreadsheets want it.
fn plain(value: f64) -> String {
    significant(value, DIGITS)
}
