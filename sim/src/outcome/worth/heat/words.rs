//! The sentence about a part's heat.

use super::super::super::figures::significant;
use super::super::super::model::PartHeat;

/// mW/cm² in a W/m².
const MW_PER_CM2: f64 = 0.1;

/// What else there is to say.
pub(super) struct Rest<'a> {
    /// What the plan must say before more can be told.
    pub missing: &'a [String],
    /// The boat whose glow is not counted.
    pub without_glow: Option<&'a str>,
    /// What had to be guessed.
    pub guessed: Option<&'a str>,
}

/// One sentence: what arrives, how fast it warms, where it settles, whether it bears that, what is missing.
pub(super) fn sentence(heat: &PartHeat, rest: &Rest<'_>) -> String {
    let (what, load) = match heat.decides.as_str() {
        "the mean of the part" => ("The part takes", heat.mean_w_per_m2),
        _ => ("The place that gets most takes", heat.most_w_per_m2),
    };
    let mut text = format!(
        "{what} about {} mW/cm²",
        range(load.map(|q| MW_PER_CM2 * q))
    );
    text += &match heat.decides.as_str() {
        "the mean of the part" => format!(
            " in the mean, as heat spreads in metal (up to {} where most film grows)",
            significant(MW_PER_CM2 * heat.most_w_per_m2[1], 2)
        ),
        _ => format!(
            " (up to {} in the mean)",
            significant(MW_PER_CM2 * heat.mean_w_per_m2[1], 2)
        ),
    };
    if let Some(rise) = heat.rise_k_per_min {
        text += &format!(", warms by {} K a minute at first", range(rise));
    }
    if let Some(steady) = heat.steady_c {
        text += &format!(" and would settle at {} °C", degrees(steady));
    }
    text += &against_limit(heat);
    if !rest.missing.is_empty() {
        text += &format!(
            "; to tell more, the plan must say {}",
            rest.missing.join(" and ")
        );
    }
    if let Some(guessed) = rest.guessed {
        text += &format!("; {guessed}");
    }
    if let Some(boat) = rest.without_glow {
        text += &format!("; the glow of {boat} comes on top, as its footprint has no area");
    }
    text + " – all good to a factor of 2."
}

fn against_limit(heat: &PartHeat) -> String {
    let (Some(highest), Some(limit_c)) = (heat.highest_c, heat.limit_c) else {
        return String::new();
    };
    if highest[1] < limit_c {
        return format!(
            "; in this run it gets to {} °C and stays below its limit of {limit_c:.0} °C",
            degrees(highest)
        );
    }
    let after = match heat.limit_after_min {
        [Some(soonest), Some(latest)] => format!(" after {}", minutes_range(soonest, latest)),
        [Some(soonest), None] => format!(" after {} or never", minutes(soonest)),
        _ => String::new(),
    };
    let passes = if highest[0] >= limit_c {
        "passes"
    } else {
        "may pass"
    };
    let rests = match heat.rests {
        Some(rests) => format!(
            ", so coat for {} and rest for {} by turns, which keeps it below {:.0} °C at worst",
            minutes(rests.on_min),
            minutes(rests.off_min),
            rests.highest_c.ceil()
        ),
        None => ", and no rests help that a person would keep: use less power or more distance"
            .to_owned(),
    };
    format!("; it {passes} its limit of {limit_c:.0} °C{after}{rests}")
}

/// Two digits each; one number where both read the same.
fn range([from, to]: [f64; 2]) -> String {
    let [from, to] = [from, to].map(|value| significant(value, 2));
    if from == to {
        from
    } else {
        format!("{from} to {to}")
    }
}

/// Whole degrees, over 1000 as such.
fn degrees([from, to]: [f64; 2]) -> String {
    let [from, to] = [from, to].map(|c| {
        if c >= 1000.0 {
            "over 1 000".to_owned()
        } else {
            format!("{c:.0}")
        }
    });
    if from == to {
        from
    } else {
        format!("{from} to {to}")
    }
}

fn minutes_range(from: f64, to: f64) -> String {
    let (first, last) = (minutes(from), minutes(to));
    if first == last {
        format!("about {first}")
    } else {
        format!("{first} to {last}")
    }
}

/// A time in seconds, minutes or hours, two digits.
pub(super) fn minutes(time_min: f64) -> String {
    match time_min {
        t if t < 1.5 => format!("{} s", significant(60.0 * t, 2)),
        t if t < 100.0 => format!("{} min", trimmed(t)),
        t => format!("{} h", trimmed(t / 60.0)),
    }
}

/// Two digits without a needless ".0".
fn trimmed(value: f64) -> String {
    let text = significant(value, 2);
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}
