//! The free keys: where their values stand in the plan's text, and that text with other values.
//!
//! In: a plan with `[advise]`. Out: [`Free`]; texts that differ from the plan's own by these values alone, so that
//! comments and order stay.

use crate::plan::Plan;
use crate::plan::model::Place;
use crate::units::{dimension_of, parse_quantity, significant};

/// Steps between the bounds of a key that are told apart.
const STEPS: f64 = 2000.0;

/// A key whose value may vary.
#[derive(Debug, Clone, PartialEq)]
pub struct FreeKey {
    /// Key, as in `part.horn.turn.y`.
    pub key: String,
    /// Lower bound, SI.
    pub from: f64,
    /// Upper bound, SI.
    pub to: f64,
    /// What the plan says, SI.
    pub now: f64,
    /// Its unit as the plan writes it; empty for bare numbers.
    pub unit: String,
    /// SI per that unit.
    si_per_unit: f64,
    /// SI of zero in that unit.
    si_at_zero: f64,
    /// Bytes of the value in the text.
    span: [usize; 2],
}

/// The keys that a search varies, in plan order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Free {
    /// Keys that a candidate sets.
    pub keys: Vec<FreeKey>,
    /// Freed durations of open steps (number from 0): they follow from the film wanted.
    pub open_lasts: Vec<(usize, FreeKey)>,
}

/// Why a key cannot be varied.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CannotVary {
    /// It has its default.
    #[error(
        "{key} is not written in the plan (its default is in use, and advice changes what is written); write it first"
    )]
    NotWritten {
        /// The key.
        key: String,
    },
    /// It stands in another file.
    #[error(
        "{key} stands in {file}, which the plan includes (advice changes the plan's own text alone); move it into the plan"
    )]
    Included {
        /// The key.
        key: String,
        /// The file.
        file: String,
    },
    /// It is what is asked for.
    #[error(
        "{key} is what is asked of the film (advice would lower what is wanted); free what the machine can change"
    )]
    Goal {
        /// The key.
        key: String,
    },
    /// Its text is of no known kind.
    #[error("{key} is written as {text}, which is no number and no quantity; write one")]
    NoValue {
        /// The key.
        key: String,
        /// As written.
        text: String,
    },
}

impl FreeKey {
    fn new(plan: &Plan, key: &str, [from, to]: [f64; 2]) -> Result<Self, CannotVary> {
        let not_written = || CannotVary::NotWritten {
            key: key.to_owned(),
        };
        if key.starts_with("film.") {
            return Err(CannotVary::Goal {
                key: key.to_owned(),
            });
        }
        let place: &Place = plan.places.get(key).ok_or_else(not_written)?;
        if place.file != plan.path {
            return Err(CannotVary::Included {
                key: key.to_owned(),
                file: place.file.display().to_string(),
            });
        }
        let text = plan
            .text
            .get(place.start..place.end)
            .ok_or_else(not_written)?;
        let no_value = || CannotVary::NoValue {
            key: key.to_owned(),
            text: text.to_owned(),
        };
        let (now, unit, si_at_zero, si_per_unit) = match quoted(text) {
            Some(inner) => {
                let dimension = dimension_of(inner).ok_or_else(no_value)?;
                let unit = inner
                    .trim_start_matches(|c: char| c.is_ascii_digit() || "+-.,eE ".contains(c))
                    .trim();
                let si = |number: &str| parse_quantity(&format!("{number} {unit}"), dimension);
                let (Ok(now), Ok(zero), Ok(one)) =
                    (parse_quantity(inner, dimension), si("0"), si("1"))
                else {
                    return Err(no_value());
                };
                (now, unit.to_owned(), zero, one - zero)
            }
            None => {
                let number = text
                    .replace('_', "")
                    .parse::<f64>()
                    .map_err(|_| no_value())?;
                (number, String::new(), 0.0, 1.0)
            }
        };
        Ok(Self {
            key: key.to_owned(),
            from,
            to,
            now,
            unit,
            si_per_unit,
            si_at_zero,
            span: [place.start, place.end],
        })
    }

    /// The value at a share 0..=1 of the way between the bounds, on a grid of round numbers.
    pub fn at(&self, share: f64) -> f64 {
        let value = self.from + (self.to - self.from) * share.clamp(0.0, 1.0);
        let in_unit = (value - self.si_at_zero) / self.si_per_unit;
        let width = ((self.to - self.from) / self.si_per_unit).abs();
        // a round number: 1, 2 or 5 times a power of ten
        let coarse = width / STEPS;
        let decade = 10.0_f64.powf(coarse.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .map(|n| n * decade)
            .into_iter()
            .find(|step| *step >= coarse * (1.0 - 1e-9))
            .unwrap_or(coarse);
        let rounded = (in_unit / step).round() * step;
        (rounded * self.si_per_unit + self.si_at_zero).clamp(self.from, self.to)
    }

    /// Where a value lies between the bounds, 0..=1.
    pub fn share(&self, value: f64) -> f64 {
        ((value - self.from) / (self.to - self.from)).clamp(0.0, 1.0)
    }

    /// A value as the plan would write it, in the plan's unit: `35 deg`, `1.2`.
    pub fn written(&self, value: f64) -> String {
        let number = significant((value - self.si_at_zero) / self.si_per_unit, 7);
        if self.unit.is_empty() {
            number
        } else {
            format!("{number} {}", self.unit)
        }
    }

    /// The same as TOML.
    fn toml(&self, value: f64) -> String {
        let written = self.written(value);
        match self.unit.is_empty() {
            true if written.contains(['.', 'e']) => written,
            true => format!("{written}.0"),
            false => format!("\"{written}\""),
        }
    }
}

fn quoted(text: &str) -> Option<&str> {
    let inner = |quote| text.strip_prefix(quote)?.strip_suffix(quote);
    inner('"').or_else(|| inner('\''))
}

impl Free {
    /// The keys that `[advise]` of the plan frees.
    ///
    /// - `open`: for each step whether some source coats in it
    ///
    /// # Errors
    /// All keys that cannot be varied.
    pub fn of(plan: &Plan, open: &[bool]) -> Result<Self, Vec<CannotVary>> {
        let mut free = Self::default();
        let mut wrong = Vec::new();
        for vary in plan.advise.iter().flat_map(|advise| &advise.vary) {
            let key = match FreeKey::new(plan, &vary.key, [vary.from, vary.to]) {
                Ok(key) => key,
                Err(why) => {
                    wrong.push(why);
                    continue;
                }
            };
            match step_of(&vary.key).filter(|&step| open.get(step) == Some(&true)) {
                Some(step) => free.open_lasts.push((step, key)),
                None => free.keys.push(key),
            }
        }
        if wrong.is_empty() {
            Ok(free)
        } else {
            Err(wrong)
        }
    }

    /// The plan's text with these values, one per key.
    pub fn text(&self, plan: &Plan, values: &[f64]) -> String {
        let changes = self.keys.iter().zip(values);
        spliced(
            &plan.text,
            changes.map(|(key, &value)| (key.span, key.toml(value))),
        )
    }
}

/// A text with some of its spans replaced.
pub(super) fn spliced(text: &str, changes: impl Iterator<Item = ([usize; 2], String)>) -> String {
    let mut changes: Vec<([usize; 2], String)> = changes.collect();
    changes.sort_by_key(|(span, _)| span[0]);
    let mut all = String::with_capacity(text.len() + 64);
    let mut at = 0;
    for ([start, end], new) in changes {
        all.push_str(text.get(at..start).unwrap_or(""));
        all.push_str(&new);
        at = end;
    }
    all.push_str(text.get(at..).unwrap_or(""));
    all
}

/// The step (from 0) of a key `step.N.lasts`.
fn step_of(key: &str) -> Option<usize> {
    let number = key.strip_prefix("step.")?.strip_suffix(".lasts")?;
    number.parse::<usize>().ok()?.checked_sub(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::read_text;
    use std::path::Path;

    const PLAN: &str = "[[source]]\nname = \"head\"\nkind = \"sputter\"\nmetal = \"silver\"\n\
        at = [\"0 mm\", '0,5 in', \"6 cm\"] # above the plate\nfacing = [0, 0, 1]\n\
        footprint = { shape = \"disc\", radius = \"20 mm\" }\nlaw = { cosine = 1 }\n\
        output = { charge = \"50 mg\" }\n\
        [[part]]\nname = \"dish\"\nmesh = \"dish.stl\"\nunit = \"mm\"\nat = [\"0 mm\", \"0 mm\", \"99 mm\"]\n\
        [[step]]\nlasts = \"10 min\"\n[film]\nwant = \"10 nm\"\n[advise]\nminimise = \"time\"\n";

    fn free(vary: &[(&str, &str, &str)]) -> (Plan, Result<Free, Vec<CannotVary>>) {
        let entry = |(key, from, to): &(&str, &str, &str)| {
            format!("[[advise.vary]]\nkey = \"{key}\"\nfrom = {from}\nto = {to}\n")
        };
        let text = PLAN.to_owned() + &vary.iter().map(entry).collect::<String>();
        let plan = read_text(Path::new("plan.toml"), &text).expect("a sound plan");
        let free = Free::of(&plan, &[true]);
        (plan, free)
    }

    #[test]
    fn other_values_change_nothing_else_in_the_text() {
        let (plan, free) = free(&[
            ("source.head.at.z", "\"50 mm\"", "\"80 mm\""),
            ("source.head.law.cosine", "0.5", "2.0"),
            ("source.head.at.y", "\"0 in\"", "\"1 in\""),
        ]);
        let free = free.expect("free");
        assert_eq!(free.keys[0].unit, "cm");
        let text = free.text(&plan, &[0.0755, 1.25, 0.0127]);
        let wanted = plan
            .text
            .replace("\"6 cm\"", "\"7.55 cm\"")
            .replace("cosine = 1 ", "cosine = 1.25 ")
            .replace("'0,5 in'", "\"0.5 in\"");
        assert_eq!(text, wanted);
        let again = read_text(Path::new("plan.toml"), &text).expect("still sound");
        assert!((again.sources[0].at_m.z - 0.0755).abs() < 1e-12);
    }

    #[test]
    fn values_lie_on_round_numbers_between_the_bounds() {
        let (_, free) = free(&[("source.head.at.z", "\"50 mm\"", "\"81 mm\"")]);
        let key = &free.expect("free").keys[0];
        // 3.1 cm in 2000 steps: two hundredths of a millimetre
        assert_eq!(key.written(key.at(0.333_333)), "6.034 cm");
        assert_eq!(key.written(key.at(-1.0)), "5 cm");
        assert_eq!(key.written(key.at(1.0)), "8.1 cm");
        assert!((key.share(key.at(0.5)) - 0.5).abs() < 1e-3);
    }

    #[test]
    fn what_is_not_written_cannot_vary() {
        let (_, free) = free(&[("part.dish.turn.y", "\"0 deg\"", "\"60 deg\"")]);
        assert_eq!(
            free.unwrap_err()[0].to_string(),
            "part.dish.turn.y is not written in the plan (its default is in use, and advice changes what is \
             written); write it first"
        );
    }

    #[test]
    fn durations_of_open_steps_stand_apart() {
        let (_, free) = free(&[("step.1.lasts", "\"1 min\"", "\"60 min\"")]);
        let free = free.expect("free");
        assert!(free.keys.is_empty());
        assert_eq!(free.open_lasts[0].0, 0);
    }
}
