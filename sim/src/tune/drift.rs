//! A small log of runs: what was predicted, what was measured, and whether the machine drifts.
//!
//! In and out: a CSV text with the columns run, plan, coupon, predicted_nm, measured_nm. Out: [`Drift`].

use crate::stats::normal_quantile;

/// Heading of a log.
const HEADING: [&str; 5] = ["run", "plan", "coupon", "predicted_nm", "measured_nm"];
/// Runs below which nothing is said of drift.
const FEWEST: usize = 4;

/// A coupon of a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Number or date of the run, as the user calls it.
    pub run: String,
    /// The plan's title.
    pub plan: String,
    /// The coupon.
    pub coupon: String,
    /// nm.
    pub predicted_nm: f64,
    /// nm.
    pub measured_nm: f64,
}

/// How measured over predicted changes from run to run.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Drift {
    /// Runs in the log.
    pub runs: usize,
    /// Mean of the logarithm of measured over predicted.
    pub mean: f64,
    /// Its change per run.
    pub per_run: f64,
    /// Half of the 90 % interval of that.
    pub half_width: f64,
}

impl Drift {
    /// Whether the change is clear of its interval.
    pub fn is_clear(&self) -> bool {
        self.per_run.abs() > self.half_width
    }
}

/// Reads a log.
///
/// # Errors
/// A sentence with the line that is wrong.
pub fn read(text: &str) -> Result<Vec<Entry>, String> {
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let heading = reader.headers().map_err(|error| error.to_string())?.clone();
    if heading.iter().ne(HEADING) {
        return Err(format!(
            "line 1 is \"{}\" (a log begins with {}); name another file",
            crate::units::shortened(&heading.iter().collect::<Vec<_>>().join(",")),
            HEADING.join(",")
        ));
    }
    let mut entries = Vec::new();
    for (line, record) in (2..).zip(reader.records()) {
        let record = record.map_err(|error| {
            format!("line {line} is no row of five values ({error}); correct it")
        })?;
        let number = |column: usize| {
            let text = &record[column];
            let value = text
                .parse::<f64>()
                .ok()
                .filter(|v| *v > 0.0 && v.is_finite());
            value.ok_or_else(|| {
                format!(
                    "line {line} has {} \"{}\" (a thickness above 0 nm belongs there); correct it",
                    HEADING[column],
                    crate::units::shortened(text)
                )
            })
        };
        entries.push(Entry {
            run: record[0].to_owned(),
            plan: record[1].to_owned(),
            coupon: record[2].to_owned(),
            predicted_nm: number(3)?,
            measured_nm: number(4)?,
        });
    }
    Ok(entries)
}

/// A log as a text.
pub fn written(entries: &[Entry]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // writing into memory cannot fail
    let _ = writer.write_record(HEADING);
    for entry in entries {
        let _ = writer.write_record([
            &entry.run,
            &entry.plan,
            &entry.coupon,
            &crate::units::significant(entry.predicted_nm, 6),
            &crate::units::significant(entry.measured_nm, 6),
        ]);
    }
    writer
        .into_inner()
        .ok()
        .and_then(|bytes| String::from_utf8(bytes).ok())
        .unwrap_or_default()
}

/// The drift of a log; none below four runs.
///
/// Straight line through the runs' means of ln(measured/predicted) against their number; 90 % interval with Student's t.
/// Source: textbook regression; t by the expansion of Abramowitz & Stegun 26.7.5 (from memory; 1 % off at two degrees of
/// freedom, less beyond).
pub fn drift(entries: &[Entry]) -> Option<Drift> {
    let mut runs: Vec<(&str, Vec<f64>)> = Vec::new();
    for entry in entries {
        let log = (entry.measured_nm / entry.predicted_nm).ln();
        match runs.iter_mut().find(|(run, _)| *run == entry.run) {
            Some((_, logs)) => logs.push(log),
            None => runs.push((&entry.run, vec![log])),
        }
    }
    if runs.len() < FEWEST {
        return None;
    }
    let n = runs.len() as f64;
    let means: Vec<f64> = runs
        .iter()
        .map(|(_, logs)| logs.iter().sum::<f64>() / logs.len() as f64)
        .collect();
    let mean = means.iter().sum::<f64>() / n;
    let middle = 0.5 * (n - 1.0);
    let along = |i: usize| i as f64 - middle;
    let squares: f64 = (0..runs.len()).map(|i| along(i).powi(2)).sum();
    let per_run = means
        .iter()
        .enumerate()
        .map(|(i, y)| along(i) * y)
        .sum::<f64>()
        / squares;
    let left: f64 = means
        .iter()
        .enumerate()
        .map(|(i, y)| (y - mean - per_run * along(i)).powi(2))
        .sum();
    let degrees = n - 2.0;
    let error = (left / degrees / squares).sqrt();
    Some(Drift {
        runs: runs.len(),
        mean,
        per_run,
        half_width: student_90(degrees) * error,
    })
}

/// 95 % quantile of Student's t.
fn student_90(degrees: f64) -> f64 {
    let z = normal_quantile(0.95);
    let [z3, z5, z7] = [z.powi(3), z.powi(5), z.powi(7)];
    z + (z3 + z) / (4.0 * degrees)
        + (5.0 * z5 + 16.0 * z3 + 3.0 * z) / (96.0 * degrees.powi(2))
        + (3.0 * z7 + 19.0 * z5 + 17.0 * z3 - 15.0 * z) / (384.0 * degrees.powi(3))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Stream, Use};

    fn log(ratios: &[f64]) -> Vec<Entry> {
        let entry = |(run, ratio): (usize, &f64)| Entry {
            run: format!("run {run}"),
            plan: "Horn, \"inner\"".to_owned(),
            coupon: "witness".to_owned(),
            predicted_nm: 100.0,
            measured_nm: 100.0 * ratio,
        };
        ratios.iter().enumerate().map(entry).collect()
    }

    #[test]
    fn student_matches_the_table() {
        // 95 % quantiles of Student's t: 2.920, 2.353, 2.015, 1.812 at 2, 3, 5, 10 degrees (table, from memory)
        for (degrees, table) in [(2.0, 2.920), (3.0, 2.353), (5.0, 2.015), (10.0, 1.812)] {
            assert!(
                (student_90(degrees) / table - 1.0).abs() < 0.013,
                "{degrees}"
            );
        }
    }

    #[test]
    fn a_log_reads_as_it_was_written() {
        let entries = log(&[1.0, 0.95, 1.25]);
        assert_eq!(read(&written(&entries)).unwrap(), entries);
        let wrong = read("run,plan,coupon,predicted_nm,measured_nm\n1,a,b,100,-3\n").unwrap_err();
        assert!(
            wrong.starts_with("line 2 has measured_nm \"-3\""),
            "{wrong}"
        );
        assert!(
            read("a,b\n1,2\n")
                .unwrap_err()
                .contains("a log begins with")
        );
    }

    #[test]
    fn a_falling_rate_shows_and_an_even_one_does_not() {
        let falling: Vec<f64> = (0..8).map(|run| (-0.03 * f64::from(run)).exp()).collect();
        let found = drift(&log(&falling)).unwrap();
        assert!((found.per_run + 0.03).abs() < 1e-12 && found.is_clear());
        assert_eq!(drift(&log(&falling[..3])), None);
    }

    #[test]
    fn even_rates_seem_to_drift_in_a_tenth_of_logs() {
        // 90 % intervals: of 400 logs of 6 runs that scatter by 5 %, 40 ± 6 are called drifting
        let mut called = 0;
        for trial in 0..400 {
            let mut stream = Stream::new(2, Use::Probe, trial);
            let ratios: Vec<f64> = (0..6)
                .map(|_| (0.05 * normal_quantile(stream.uniform())).exp())
                .collect();
            called += u32::from(drift(&log(&ratios)).unwrap().is_clear());
        }
        assert!((15..=65).contains(&called), "{called}");
    }
}
