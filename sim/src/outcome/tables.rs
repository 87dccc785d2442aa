//! The tables: `triangles.csv`, one row per triangle of the parts as given, and `probe-NAME.csv`.
//!
//! In: an [`Outcome`]. Out: CSV text, row by row. A number is the shortest decimal that reads back as the same
//! single-precision value: 6 to 9 significant digits, '.' as decimal mark, the same on every machine.

use super::model::Outcome;
use crate::film::{RowFilm, State};
use crate::transport::ProbePoint;
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::io::{self, Write};

/// Columns of `triangles.csv` before the columns per metal.
const TRIANGLE_COLUMNS: [&str; 20] = [
    "part",
    "triangle",
    "x_mm",
    "y_mm",
    "z_mm",
    "area_mm2",
    "thickness_nm",
    "stderr_nm",
    "back_nm",
    "incidence_deg",
    "scattered_fraction",
    "visible_fraction",
    "state",
    "share_direct",
    "share_facing",
    "share_self",
    "share_fixtures",
    "share_mask",
    "share_shutter",
    "share_gas",
];

/// Columns of `probe-NAME.csv`.
const PROBE_COLUMNS: [&str; 7] = [
    "s_mm",
    "x_mm",
    "y_mm",
    "z_mm",
    "thickness_nm",
    "stderr_nm",
    "incidence_deg",
];

/// Writes `triangles.csv`.
///
/// # Errors
/// Those of the writer.
pub fn triangles(outcome: &Outcome, writer: impl Write) -> io::Result<()> {
    let mut table = Table::new(writer);
    let metals: &[String] = match outcome.metal_names.len() {
        0 | 1 => &[],
        _ => &outcome.metal_names,
    };
    for column in TRIANGLE_COLUMNS {
        table.text(column)?;
    }
    for metal in metals {
        table.text(&format!("nm_{metal}"))?;
    }
    table.end_row()?;
    for part in &outcome.parts {
        for (triangle, row) in part.rows.iter().enumerate() {
            table.text(&part.name)?;
            table.whole(triangle)?;
            triangle_row(&mut table, row)?;
            for index in 0..metals.len() {
                table.number(row.by_metal_m.get(index).copied().unwrap_or(0.0) * 1e9)?;
            }
            table.end_row()?;
        }
    }
    table.flush()
}

fn triangle_row<W: Write>(table: &mut Table<W>, row: &RowFilm) -> io::Result<()> {
    for coordinate_m in row.centroid_m.to_array() {
        table.number(coordinate_m * 1e3)?;
    }
    table.number(row.area_m2 * 1e6)?;
    table.number(row.thickness_m * 1e9)?;
    table.number(row.std_error_m * 1e9)?;
    table.maybe(row.back_m.map(|back_m| back_m * 1e9))?;
    table.maybe(row.incidence_rad.map(f64::to_degrees))?;
    table.number(row.scattered)?;
    table.maybe(Some(row.visible))?;
    table.text(state_word(row.state))?;
    row.shares
        .iter()
        .try_for_each(|&share| table.maybe(Some(share)))
}

/// A state as the tables name it.
pub fn state_word(state: State) -> &'static str {
    match state {
        State::Reached => "reached",
        State::NoneSeen => "none seen",
        State::Unreached => "unreached",
        State::Buried => "buried",
        State::Needle => "needle",
    }
}

/// Writes one `probe-NAME.csv`.
///
/// # Errors
/// Those of the writer.
pub fn probe(points: &[ProbePoint], writer: impl Write) -> io::Result<()> {
    let mut table = Table::new(writer);
    for column in PROBE_COLUMNS {
        table.text(column)?;
    }
    table.end_row()?;
    for point in points {
        table.number(point.s_m * 1e3)?;
        for coordinate_m in point.position_m.to_array() {
            table.number(coordinate_m * 1e3)?;
        }
        table.number(point.sums.thickness_m * 1e9)?;
        table.number(point.sums.std_error_m * 1e9)?;
        table.maybe(Some(point.sums.incidence_rad.to_degrees()))?;
        table.end_row()?;
    }
    table.flush()
}

/// File names of the probes, in plan order: `probe-NAME.csv` with what no file name may hold replaced by `_`, and a
/// number where two names would fall together on a disk that does not tell capitals from small letters.
pub fn probe_files(outcome: &Outcome) -> Vec<String> {
    let mut taken = BTreeSet::new();
    let mut files = Vec::new();
    for (name, _) in &outcome.probes {
        let kept = |letter: char| letter.is_alphanumeric() || " -_+=().".contains(letter);
        let plain: String = name
            .chars()
            .map(|letter| if kept(letter) { letter } else { '_' })
            .collect();
        let mut file = format!("probe-{plain}.csv");
        let mut number = 2;
        while !taken.insert(file.to_lowercase()) {
            file = format!("probe-{plain}-{number}.csv");
            number += 1;
        }
        files.push(file);
    }
    files
}

/// A CSV table being written cell by cell.
struct Table<W: Write> {
    csv: csv::Writer<W>,
    cell: String,
}

impl<W: Write> Table<W> {
    fn new(writer: W) -> Self {
        Self {
            csv: csv::WriterBuilder::new()
                .flexible(false)
                .from_writer(writer),
            cell: String::new(),
        }
    }

    fn text(&mut self, text: &str) -> io::Result<()> {
        Ok(self.csv.write_field(text)?)
    }

    fn whole(&mut self, number: usize) -> io::Result<()> {
        self.cell.clear();
        // Writing into a String cannot fail.
        let _ = write!(self.cell, "{number}");
        Ok(self.csv.write_field(&self.cell)?)
    }

    fn number(&mut self, number: f64) -> io::Result<()> {
        self.cell.clear();
        decimal(number, &mut self.cell);
        Ok(self.csv.write_field(&self.cell)?)
    }

    /// An empty cell where there is no number.
    fn maybe(&mut self, number: Option<f64>) -> io::Result<()> {
        match number.filter(|number| !number.is_nan()) {
            Some(number) => self.number(number),
            None => self.text(""),
        }
    }

    fn end_row(&mut self) -> io::Result<()> {
        Ok(self.csv.write_record(None::<&[u8]>)?)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.csv.flush()
    }
}

/// Appends the shortest decimal that reads back as the same single-precision number: 6 to 9 significant digits.
#[expect(
    clippy::cast_possible_truncation,
    reason = "rounding to single precision is the purpose"
)]
pub fn decimal(number: f64, text: &mut String) {
    let single = number as f32;
    let magnitude = single.abs();
    // Writing into a String cannot fail.
    let _ = if magnitude < f32::MIN_POSITIVE {
        write!(text, "0")
    } else if (1e-4..1e9).contains(&magnitude) {
        write!(text, "{single}")
    } else {
        write!(text, "{single:e}")
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(number: f64) -> String {
        let mut text = String::new();
        decimal(number, &mut text);
        text
    }

    #[test]
    fn numbers_are_short_and_keep_at_least_six_digits() {
        let cases = [
            (0.0, "0"),
            (-0.0, "0"),
            (1e-50, "0"),
            (0.1 + 0.2, "0.3"),
            (123.456_789, "123.45679"),
            (-7.0, "-7"),
            (1e8, "100000000"),
            (2.5e12, "2.5e12"),
            (1.5e-5, "1.5e-5"),
            (1.0 / 3.0, "0.33333334"),
        ];
        for (number, expected) in cases {
            assert_eq!(text(number), expected);
        }
    }

    #[test]
    fn every_number_reads_back_as_the_same_single_precision_number() {
        for index in 1..20_000_i32 {
            let number = f64::from(index) * 10_f64.powi(index % 37 - 18) / 7.0;
            let back: f64 = text(number).parse().unwrap();
            #[expect(clippy::cast_possible_truncation, reason = "what is checked")]
            let singles = [back as f32, number as f32].map(f32::to_bits);
            assert_eq!(singles[0], singles[1], "{number} as {back}");
            // once rounded to single precision, once to the shortest decimal: half a step each
            assert!(
                (back - number).abs() <= f64::from(f32::EPSILON) * number,
                "{number} as {back}"
            );
        }
    }
}
