//! The schedule as rows of the bench card: a running clock, hand-turned stops gathered into one list.
//!
//! In: the steps of an outcome. Out: [`Row`]s.

use super::super::model::StepOutcome;

/// A row of the card's step table.
#[derive(Debug, Clone, PartialEq)]
pub enum Row {
    /// The chamber is opened.
    Vent {
        /// What is re-posed.
        text: String,
    },
    /// One step.
    One {
        /// Its number from 0.
        number: usize,
        /// Clock at its start, s.
        start_s: f64,
    },
    /// Three or more steps that differ only by the angle at which the part is parked.
    Stops {
        /// The stops.
        stops: Vec<Stop>,
    },
}

/// A stop of a hand-turned part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stop {
    /// Number of the step from 0.
    pub number: usize,
    /// Clock at its start, s.
    pub start_s: f64,
}

/// Makes rows of steps.
///
/// Steps follow each other without a pause; the clock stands while the chamber is open.
pub fn rows(steps: &[StepOutcome]) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut start_s = 0.0;
    let mut number = 0;
    while number < steps.len() {
        if let Some(text) = &steps[number].vent {
            rows.push(Row::Vent { text: text.clone() });
        }
        let run = 1 + steps[number + 1..]
            .iter()
            .take_while(|next| alike(&steps[number], next))
            .count();
        let mut stops = Vec::new();
        for (offset, step) in steps[number..number + run].iter().enumerate() {
            stops.push(Stop {
                number: number + offset,
                start_s,
            });
            start_s += step.lasts_s;
        }
        if run >= 3 && parked(&steps[number]) {
            rows.push(Row::Stops { stops });
        } else {
            rows.extend(stops.into_iter().map(|s| Row::One {
                number: s.number,
                start_s: s.start_s,
            }));
        }
        number += run;
    }
    rows
}

fn parked(step: &StepOutcome) -> bool {
    !step.turns.is_empty() && step.turns.iter().all(|turns| turns.abs() < 1e-9)
}

/// Same in all but the angle at which the part is parked.
fn alike(first: &StepOutcome, next: &StepOutcome) -> bool {
    let same = |a: f64, b: f64| (a - b).abs() <= 1e-9 * a.abs();
    let notes = next.note.is_none() || next.note == first.note;
    parked(first)
        && parked(next)
        && next.vent.is_none()
        && notes
        && same(first.lasts_s, next.lasts_s)
        && first.shut == next.shut
        && first.open == next.open
        && first.power.len() == next.power.len()
        && first
            .power
            .iter()
            .zip(&next.power)
            .all(|(a, b)| same(*a, *b))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(lasts_s: f64, angle_deg: f64, turns: f64) -> StepOutcome {
        StepOutcome {
            note: None,
            lasts_s,
            power: vec![1.0],
            shut: Vec::new(),
            open: vec![true],
            turning: vec![format!("parked at {angle_deg} deg")],
            start_rad: vec![angle_deg.to_radians()],
            turns: vec![turns],
            vent: None,
            motion: Vec::new(),
            placed: Vec::new(),
        }
    }

    #[test]
    fn parked_steps_of_one_length_become_one_list_of_stops() {
        let mut steps: Vec<StepOutcome> = (0..6)
            .map(|k| step(60.0, 60.0 * f64::from(k), 0.0))
            .collect();
        steps.insert(0, step(300.0, 0.0, 30.0));
        let rows = rows(&steps);
        assert_eq!(
            rows[0],
            Row::One {
                number: 0,
                start_s: 0.0
            }
        );
        let Row::Stops { stops } = &rows[1] else {
            panic!("{rows:?}")
        };
        assert_eq!(stops.len(), 6);
        assert_eq!(
            stops[5],
            Stop {
                number: 6,
                start_s: 600.0
            }
        );
    }

    #[test]
    fn a_vent_or_another_length_begins_a_new_row() {
        let mut steps = vec![
            step(60.0, 0.0, 0.0),
            step(60.0, 90.0, 0.0),
            step(61.0, 180.0, 0.0),
        ];
        steps[1].vent = Some("vent, nothing is re-posed".to_owned());
        let rows = rows(&steps);
        assert_eq!(rows.len(), 4);
        assert_eq!(
            rows[1],
            Row::Vent {
                text: "vent, nothing is re-posed".to_owned()
            }
        );
        assert_eq!(
            rows[3],
            Row::One {
                number: 2,
                start_s: 120.0
            }
        );
    }
}
