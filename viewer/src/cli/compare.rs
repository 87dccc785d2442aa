//! `evenfall compare`: two outcomes side by side, in numbers and as a map on one scale.

use crate::failure::{Exit, Failure};
use crate::{folder, say};
use clap::Args;
use evenfall_sim::outcome::figures::{area, with_error};
use evenfall_sim::outcome::words::decimal;
use evenfall_sim::outcome::{self, FilmVerdict, Outcome, PartOutcome, Summary, views};
use evenfall_sim::units;
use glam::DVec3;
use std::path::{Path, PathBuf};

/// Arguments of `evenfall compare`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// An outcome folder, or its coat.evenfall
    #[arg(value_name = "A")]
    first: PathBuf,
    /// Another one
    #[arg(value_name = "B")]
    second: PathBuf,
    /// Picture to write: both films on one scale; an older one is replaced
    #[arg(long, value_name = "FILE", default_value = "compare.png")]
    map: PathBuf,
}

/// Compares two outcomes.
///
/// # Errors
/// When one cannot be read, or the map cannot be written.
pub fn run(arguments: &Arguments) -> Result<Exit, Failure> {
    let first = read(&arguments.first)?;
    let second = read(&arguments.second)?;
    let mut text = table(&first.summary, &second.summary, arguments);
    for part in &first.parts {
        if let Some(other) = second.parts.iter().find(|other| other.name == part.name) {
            text.push_str(&triangle_by_triangle(part, other));
        }
    }
    match views::draw_pair(&first, &second) {
        Some(picture) => {
            write(&arguments.map, &picture)?;
            text.push_str(&format!("\nmap: {}\n", arguments.map.display()));
        }
        None => text.push_str("\nno part is in both: there is no map\n"),
    }
    say::answer(&text)?;
    Ok(Exit::Done)
}

fn read(path: &Path) -> Result<Outcome, Failure> {
    outcome::read(path).map_err(|error| Failure::Unusable(error.to_string()))
}

/// Writes beside, then puts it in place, so that a reader never sees half a picture.
fn write(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let cannot = |error: std::io::Error| {
        Failure::Unfinished(format!(
            "{} cannot be written ({error}); name another file with --map",
            path.display()
        ))
    };
    folder::replace(path, bytes).map_err(cannot)
}

/// Rows of name, A, B and change.
struct Rows {
    rows: Vec<[String; 4]>,
}

impl Rows {
    fn number(&mut self, name: String, unit: &str, pair: (f64, f64)) {
        let (a, b) = pair;
        let shown = |value: f64| format!("{} {unit}", units::significant(value, 3));
        self.rows.push([name, shown(a), shown(b), change(a, b)]);
    }

    /// A thickness with standard errors, nm; a change within the noise is called so.
    fn measured(&mut self, name: String, (a, b): (f64, f64), errors: (f64, f64)) {
        let told = if (b - a).abs() > TOLD * errors.0.hypot(errors.1) {
            change(a, b)
        } else {
            "same within the noise".to_owned()
        };
        let shown = |value, error| format!("{} nm", with_error(value, error));
        self.rows
            .push([name, shown(a, errors.0), shown(b, errors.1), told]);
    }

    fn share(&mut self, name: String, pair: (f64, f64)) {
        let (a, b) = pair;
        let points = format!("{} points", signed((b - a) * 100.0));
        self.rows
            .push([name, say::percent(a), say::percent(b), points]);
    }

    fn words(&mut self, name: &str, pair: (String, String)) {
        let same = if pair.0 == pair.1 { "same" } else { "differs" };
        self.rows
            .push([name.to_owned(), pair.0, pair.1, same.to_owned()]);
    }

    fn text(&self) -> String {
        let width = |column: usize| {
            let widths = self.rows.iter().map(|row| row[column].chars().count());
            widths.max().unwrap_or(0)
        };
        let widths = [width(0), width(1), width(2)];
        let lines = self.rows.iter().map(|[name, a, b, change]| {
            let line = format!(
                "{name:<0$}  {a:>1$}  {b:>2$}  {change}",
                widths[0], widths[1], widths[2]
            );
            line.trim_end().to_owned() + "\n"
        });
        lines.collect()
    }
}

fn table(first: &Summary, second: &Summary, arguments: &Arguments) -> String {
    let mut rows = Rows { rows: Vec::new() };
    rows.rows.push([
        String::new(),
        format!("A {}", arguments.first.display()),
        format!("B {}", arguments.second.display()),
        "B against A".to_owned(),
    ]);
    rows.words("title", (first.title.clone(), second.title.clone()));
    for part in &first.parts {
        let Some(other) = second.parts.iter().find(|other| other.name == part.name) else {
            rows.words(&part.name, ("a part".to_owned(), "not there".to_owned()));
            continue;
        };
        let (a, b) = (&part.thickness_nm, &other.thickness_nm);
        let errors = (a.mean_stderr, b.mean_stderr);
        rows.measured(format!("{}: mean", part.name), (a.mean, b.mean), errors);
        for (what, pair) in [
            ("least", (a.min, b.min)),
            ("5th percentile", (a.p05, b.p05)),
            ("median", (a.median, b.median)),
            ("95th percentile", (a.p95, b.p95)),
            ("most", (a.max, b.max)),
        ] {
            rows.number(format!("{}: {what}", part.name), "nm", pair);
        }
        for (what, pair) in [
            (
                "enough film",
                (part.reached_want_fraction, other.reached_want_fraction),
            ),
            ("thin", (part.thin_fraction, other.thin_fraction)),
            (
                "none seen",
                (part.none_seen_fraction, other.none_seen_fraction),
            ),
            (
                "proved bare",
                (part.unreached_fraction, other.unreached_fraction),
            ),
        ] {
            rows.share(format!("{}: {what}", part.name), pair);
        }
    }
    for part in &second.parts {
        if !first.parts.iter().any(|other| other.name == part.name) {
            rows.words(&part.name, ("not there".to_owned(), "a part".to_owned()));
        }
    }
    for coupon in &first.coupons {
        if let Some(other) = second
            .coupons
            .iter()
            .find(|other| other.name == coupon.name)
        {
            let pair = (coupon.thickness_nm, other.thickness_nm);
            let errors = (coupon.stderr_nm, other.stderr_nm);
            rows.measured(format!("coupon {}", coupon.name), pair, errors);
        }
    }
    for (metal, used) in &first.metal_used_mg {
        if let Some(other) = second.metal_used_mg.get(metal) {
            rows.number(format!("{metal} used"), "mg", (*used, *other));
        }
    }
    if let (Some(a), Some(b)) = (&first.film, &second.film) {
        let looked_at = |film: &FilmVerdict| format!("{} mm²", area(film.area_mm2));
        rows.words("area looked at", (looked_at(a), looked_at(b)));
        rows.share(
            "film as wanted there".to_owned(),
            (a.reached_fraction, b.reached_fraction),
        );
        rows.words("verdict", (a.verdict.clone(), b.verdict.clone()));
    }
    rows.text()
}

/// How many standard errors make a difference that is told.
const TOLD: f64 = 3.0;

/// What differs beyond the noise, where both outcomes have the same triangles.
fn triangle_by_triangle(first: &PartOutcome, second: &PartOutcome) -> String {
    if first.triangles != second.triangles || first.vertices_m != second.vertices_m {
        return format!(
            "\n{}: the meshes differ, triangles are not compared\n",
            first.name
        );
    }
    let (mut area_m2, mut more_m2, mut less_m2) = (0.0, 0.0, 0.0);
    let mut largest: Option<(usize, f64)> = None;
    for (row, (a, b)) in first.rows.iter().zip(&second.rows).enumerate() {
        let difference_m = b.thickness_m - a.thickness_m;
        let noise_m = a.std_error_m.hypot(b.std_error_m);
        area_m2 += a.area_m2;
        if difference_m > TOLD * noise_m {
            more_m2 += a.area_m2;
        } else if difference_m < -TOLD * noise_m {
            less_m2 += a.area_m2;
        } else {
            continue;
        }
        if largest.is_none_or(|(_, so_far)| difference_m.abs() > so_far.abs()) {
            largest = Some((row, difference_m));
        }
    }
    let Some((row, difference_m)) = largest else {
        return format!(
            "\n{}: no triangle differs by more than {TOLD} standard errors\n",
            first.name
        );
    };
    let corners = first.triangles[row].map(|corner| first.vertices_m[corner as usize]);
    let middle_mm = (corners.iter().sum::<DVec3>() * (1e3 / 3.0)).to_array();
    format!(
        "\n{}: beyond {TOLD} standard errors, {} of the area has more in B and {} less; most on \
         triangle {row}, at ({}) mm in the part: {} nm\n",
        first.name,
        say::percent(more_m2 / area_m2),
        say::percent(less_m2 / area_m2),
        middle_mm.map(|x| units::significant(x, 3)).join(", "),
        signed(difference_m * 1e9)
    )
}

/// The change from a to b relative to a.
fn change(a: f64, b: f64) -> String {
    if a.total_cmp(&b).is_eq() {
        "same".to_owned()
    } else if a.abs() <= 0.0 || !(a.is_finite() && b.is_finite()) {
        "-".to_owned()
    } else {
        format!("{} %", signed((b / a - 1.0) * 100.0))
    }
}

fn signed(value: f64) -> String {
    let sign = if value > 0.0 { "+" } else { "" };
    format!("{sign}{}", decimal(value))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_is_relative_to_the_first() {
        assert_eq!(change(50.0, 100.0), "+100 %");
        assert_eq!(change(100.0, 50.0), "-50 %");
        assert_eq!(change(0.0, 0.0), "same");
        assert_eq!(change(0.0, 5.0), "-");
    }
}
