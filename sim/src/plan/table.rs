//! Reads the small tables of numbers that a plan names: erosion grooves and emission lobes.
//!
//! In: a CSV file with a header and two columns. Out: its rows as written, or every line that is wrong.
//!
//! Format: UTF-8, columns parted by commas, dots as decimal marks; empty lines and lines that begin
//! with # are passed over.

use super::problem::{FileProblem, counted};
use super::text::load;
use crate::units::shortened;
use std::path::Path;

/// Largest table, bytes.
const MOST_BYTES: u64 = 4 << 20;
/// Wrong lines listed per table.
const MOST_LISTED: usize = 10;
/// Largest weight: sums of many stay far inside f64.
const MOST_WEIGHT: f64 = 1e30;

/// What a table has to look like.
#[derive(Debug, Clone, Copy)]
pub(super) struct Form {
    /// Headings.
    pub columns: [&'static str; 2],
    /// Whether the first column starts at 0.
    pub start: Start,
    /// Greatest value of the first column.
    pub most: f64,
}

/// Where the first column starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Start {
    /// At 0.
    Zero,
    /// Anywhere from 0 on.
    Anywhere,
}

/// Weight per unit area against radius.
pub(super) const GROOVE: Form = Form {
    columns: ["radius_mm", "weight"],
    start: Start::Anywhere,
    most: 1e5,
};

/// Weight per solid angle against the angle from the normal.
pub(super) const LOBE: Form = Form {
    columns: ["angle_deg", "weight"],
    start: Start::Zero,
    most: 90.0,
};

/// The rows of a table.
///
/// # Errors
/// When the file cannot be read, or for each line that is wrong.
pub(super) fn rows(path: &Path, form: &Form) -> Result<Vec<(f64, f64)>, Vec<FileProblem>> {
    let text = load(path, MOST_BYTES).map_err(|problem| vec![problem])?;
    parse(path, &text, form)
}

fn parse(path: &Path, text: &str, form: &Form) -> Result<Vec<(f64, f64)>, Vec<FileProblem>> {
    let mut reader = Reader {
        path,
        form,
        rows: Vec::new(),
        problems: Vec::new(),
    };
    let mut lines = text
        .lines()
        .enumerate()
        .map(|(i, line)| (i + 1, line.trim()))
        .filter(|(_, line)| !line.is_empty() && !line.starts_with('#'));
    let header = lines.next();
    reader.header(header);
    if reader.problems.is_empty() {
        for (number, line) in lines {
            reader.line(number, line);
            if reader.problems.len() >= MOST_LISTED {
                break;
            }
        }
        reader.whole(text.lines().count().max(1));
    }
    if reader.problems.is_empty() {
        Ok(reader.rows)
    } else {
        Err(reader.problems)
    }
}

struct Reader<'a> {
    path: &'a Path,
    form: &'a Form,
    rows: Vec<(f64, f64)>,
    problems: Vec<FileProblem>,
}

impl Reader<'_> {
    fn wrong(&mut self, line: usize, what: String, instead: impl Into<String>) {
        self.problems.push(FileProblem::Table {
            path: self.path.to_owned(),
            line,
            what,
            instead: instead.into(),
        });
    }

    fn header(&mut self, header: Option<(usize, &str)>) {
        let wanted = self.form.columns.join(",");
        let (number, line) = header.unwrap_or((1, ""));
        let found: Vec<&str> = line.split(',').map(str::trim).collect();
        if found != self.form.columns {
            let what = format!(
                "heading \"{}\" is not \"{wanted}\" (columns are known by it)",
                shortened(line)
            );
            self.wrong(number, what, format!("write {wanted} on the first line"));
        }
    }

    fn line(&mut self, number: usize, line: &str) {
        let cells: Vec<&str> = line.split(',').map(str::trim).collect();
        let [first, second] = cells[..] else {
            let what = format!(
                "{} in \"{}\" (there are 2: {})",
                counted(cells.len(), "column"),
                shortened(line),
                self.form.columns.join(", ")
            );
            self.wrong(
                number,
                what,
                "part them by one comma, with dots as decimal marks",
            );
            return;
        };
        let [first_name, second_name] = self.form.columns;
        let Some(first) = self.cell(number, first, first_name, self.form.most) else {
            return;
        };
        let Some(second) = self.cell(number, second, second_name, MOST_WEIGHT) else {
            return;
        };
        match self.rows.last() {
            Some(&(before, _)) if first <= before => {
                let what =
                    format!("{first_name} {first} is not above {before} of the row before it");
                self.wrong(number, what, "sort the rows, each value once");
            }
            None if first > 0.0 && self.form.start == Start::Zero => {
                let what = format!("{first_name} begins at {first} (the law is needed from 0 on)");
                self.wrong(number, what, "add a row for 0");
                self.rows.push((first, second)); // said once, not of every row
            }
            _ => self.rows.push((first, second)),
        }
    }

    fn cell(&mut self, line: usize, cell: &str, name: &str, most: f64) -> Option<f64> {
        let number = cell.parse::<f64>().ok().filter(|n| n.is_finite());
        let Some(number) = number else {
            let what = format!("{name} \"{}\" is not a finite number", shortened(cell));
            self.wrong(line, what, "write a bare number such as 12.5");
            return None;
        };
        if (0.0..=most).contains(&number) {
            return Some(number);
        }
        let what = format!("{name} {number} (must be at least 0 and at most {most})");
        self.wrong(line, what, "correct or remove the row");
        None
    }

    fn whole(&mut self, last_line: usize) {
        if !self.problems.is_empty() {
            return;
        }
        if self.rows.len() < 2 {
            let what = format!(
                "{} (a curve needs at least 2)",
                counted(self.rows.len(), "row")
            );
            self.wrong(last_line, what, "add rows");
        } else if self.rows.iter().all(|&(_, weight)| weight <= 0.0) {
            let what = "every weight is 0 (nothing would leave)".to_owned();
            self.wrong(last_line, what, "write the measured weights");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(text: &str, form: &Form) -> String {
        let problems = parse(Path::new("t.csv"), text, form).unwrap_err();
        let lines: Vec<_> = problems.iter().map(ToString::to_string).collect();
        lines.join("\n")
    }

    #[test]
    fn a_table_is_read_as_written() {
        let text = "# measured\r\nradius_mm, weight\r\n\r\n5,0\r\n12.5 , 1.0\r\n 20,0.25\r\n";
        let rows = parse(Path::new("t.csv"), text, &GROOVE).unwrap();
        assert_eq!(rows, [(5.0, 0.0), (12.5, 1.0), (20.0, 0.25)]);
    }

    #[test]
    fn every_wrong_line_is_named() {
        let text = "radius_mm,weight\n1,2\n0.5,1\nx,1\n2,-1\n3,nan\n4\n5,1,5\n";
        assert_eq!(
            said(text, &GROOVE),
            "t.csv:3: radius_mm 0.5 is not above 1 of the row before it; sort the rows, each value once\n\
             t.csv:4: radius_mm \"x\" is not a finite number; write a bare number such as 12.5\n\
             t.csv:5: weight -1 (must be at least 0 and at most 1000000000000000000000000000000); correct or remove the row\n\
             t.csv:6: weight \"nan\" is not a finite number; write a bare number such as 12.5\n\
             t.csv:7: 1 column in \"4\" (there are 2: radius_mm, weight); part them by one comma, with dots as decimal marks\n\
             t.csv:8: 3 columns in \"5,1,5\" (there are 2: radius_mm, weight); part them by one comma, with dots as decimal marks"
        );
    }

    #[test]
    fn tables_that_say_nothing_are_refused() {
        assert_eq!(
            said("", &GROOVE),
            "t.csv:1: heading \"\" is not \"radius_mm,weight\" (columns are known by it); write radius_mm,weight on the first line"
        );
        assert_eq!(
            said("angle_deg,weight\n0,1\n", &LOBE),
            "t.csv:2: 1 row (a curve needs at least 2); add rows"
        );
        assert_eq!(
            said("angle_deg,weight\n0,0\n90,0\n", &LOBE),
            "t.csv:3: every weight is 0 (nothing would leave); write the measured weights"
        );
        assert_eq!(
            said("angle_deg,weight\n10,1\n90,0\n", &LOBE),
            "t.csv:2: angle_deg begins at 10 (the law is needed from 0 on); add a row for 0"
        );
        assert_eq!(
            said("angle_deg,weight\n0,1\n91,0\n", &LOBE),
            "t.csv:3: angle_deg 91 (must be at least 0 and at most 90); correct or remove the row"
        );
    }
}
