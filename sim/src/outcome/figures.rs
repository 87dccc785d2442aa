//! Numbers as people read them: three significant digits, shares that never round up to "all".
//!
//! In: SI or the unit named by the function. Out: plain text with plain spaces.

/// A number with three significant digits and without an exponent where it stays readable.
///
/// - `value`: any number
/// - returns e.g. `0.0123`, `1.20`, `45.6`, `7 820`, `1.25e9`
pub fn three(value: f64) -> String {
    significant(value, 3)
}

/// A number with so many significant digits.
pub fn significant(value: f64, digits: i32) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let rounded = round_to(value, digits);
    let magnitude = rounded.abs();
    if magnitude.total_cmp(&0.0).is_eq() {
        return "0".to_owned();
    }
    if !(1e-4..1e7).contains(&magnitude) {
        let places = usize::try_from((digits - 1).max(0)).unwrap_or(0);
        return format!("{rounded:.places$e}");
    }
    let places = usize::try_from((digits - 1 - decade(magnitude)).max(0)).unwrap_or(0);
    grouped(&format!("{rounded:.places$}"))
}

/// A whole number with groups of three: `7 823`.
pub fn whole(value: f64) -> String {
    if value.is_finite() {
        grouped(&format!("{value:.0}"))
    } else {
        "–".to_owned()
    }
}

/// A count with groups of three.
pub fn count(value: u64) -> String {
    grouped(&value.to_string())
}

/// An area in mm²: whole from 10 on, three digits below.
///
/// - `area_mm2`: mm²
pub fn area(area_mm2: f64) -> String {
    if area_mm2.abs() >= 10.0 {
        whole(area_mm2)
    } else {
        significant(area_mm2, 2)
    }
}

/// A share as a percentage with one decimal that never reads 0 or 100 unless it is.
///
/// - `fraction`: 0..=1
/// - returns e.g. `98.2 %`, `over 99.9 %`, `under 0.1 %`
pub fn percent(fraction: f64) -> String {
    if !fraction.is_finite() {
        return "–".to_owned();
    }
    if fraction >= 1.0 {
        "100 %".to_owned()
    } else if fraction <= 0.0 {
        "0 %".to_owned()
    } else if fraction > 0.999 {
        "over 99.9 %".to_owned()
    } else if fraction < 0.001 {
        "under 0.1 %".to_owned()
    } else {
        format!("{:.1} %", 100.0 * fraction)
    }
}

/// A share beside the share it is held against: as many decimals as keep the two apart.
///
/// - `fraction`, `against`: 0..=1
/// - returns e.g. `97.96 %` against 98 %
pub fn percent_against(fraction: f64, against: f64) -> String {
    let plain = percent(fraction);
    let other = 100.0 * against;
    for places in 1_usize..6 {
        let text = format!("{:.places$}", 100.0 * fraction);
        let merges = text
            .parse::<f64>()
            .is_ok_and(|shown| (shown - other).abs() < 1e-9);
        if !merges {
            return if places == 1 {
                plain
            } else {
                format!("{text} %")
            };
        }
    }
    plain
}

/// A wanted share as the plan gives it: `98 %`, `99.5 %`.
pub fn percent_asked(fraction: f64) -> String {
    format!("{} %", trimmed(100.0 * fraction))
}

/// A number as given, without trailing zeros, at most four decimals, with groups of three: `1 000`.
pub fn trimmed(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        grouped(text)
    }
}

/// A value with its standard error, both with the same decimals, at most three digits of the value.
///
/// - returns e.g. `112 ± 2`, `0.853 ± 0.012`; an error too small for these decimals gets one digit
pub fn with_error(value: f64, std_error: f64) -> String {
    if !std_error.is_finite() || std_error <= 0.0 {
        return three(value);
    }
    let leading = decade(value.abs().max(std_error));
    let places = (1 - decade(std_error)).min(2 - leading).max(0);
    let places = usize::try_from(places).unwrap_or(0);
    let smallest = 10_f64.powi(-i32::try_from(places).unwrap_or(0));
    let shown_error = if std_error < 0.5 * smallest {
        significant(std_error, 1)
    } else if std_error >= 100.0 {
        significant(std_error, 2)
    } else {
        format!("{std_error:.places$}")
    };
    let shown = if value.abs() >= 1000.0 {
        three(value)
    } else {
        format!("{value:.places$}")
    };
    format!("{shown} ± {shown_error}")
}

/// A large or small number as people write it: `1.40 × 10²¹`.
pub fn power_of_ten(value: f64) -> String {
    let plain = three(value);
    let Some((mantissa, exponent)) = plain.split_once('e') else {
        return plain;
    };
    let raised = |digit: char| match digit {
        '-' => '⁻',
        '1' => '¹',
        '2' => '²',
        '3' => '³',
        '0'..='9' => char::from_u32(0x2070 + u32::from(digit) - u32::from('0')).unwrap_or(digit),
        other => other,
    };
    let exponent: String = exponent.chars().map(raised).collect();
    format!("{mantissa} × 10{exponent}")
}

/// A length in mm and inch: `150 mm (5.91 in)`.
///
/// - `length_m`: m
pub fn mm_and_inch(length_m: f64) -> String {
    format!("{} mm ({} in)", millimetres(length_m), inches(length_m))
}

/// A length in mm with a tenth where it matters.
pub fn millimetres(length_m: f64) -> String {
    let mm = 1e3 * length_m;
    trimmed((10.0 * mm).round() / 10.0)
}

/// A length in inch to a hundredth.
pub fn inches(length_m: f64) -> String {
    // 25.4 mm, exact: international inch of 1959.
    let inch = length_m / 0.0254;
    trimmed((100.0 * inch).round() / 100.0)
}

/// A time as a running clock: `12:05`, `1:02:05`, with tenths only where there are some.
///
/// - `time_s`: s, at least 0
pub fn clock(time_s: f64) -> String {
    let tenths = (time_s * 10.0).round().max(0.0);
    let whole_s = (tenths / 10.0).floor();
    let tenth = tenths - 10.0 * whole_s;
    let (hours, rest) = ((whole_s / 3600.0).floor(), whole_s % 3600.0);
    let (minutes, seconds) = ((rest / 60.0).floor(), rest % 60.0);
    let tail = if tenth > 0.5 {
        format!(".{tenth:.0}")
    } else {
        String::new()
    };
    if hours > 0.5 {
        format!("{hours:.0}:{minutes:02.0}:{seconds:02.0}{tail}")
    } else {
        format!("{minutes:.0}:{seconds:02.0}{tail}")
    }
}

/// A time in words: `12 min`, `90 s`, `2 min 30 s`.
///
/// - `time_s`: s, at least 0
pub fn lasting(time_s: f64) -> String {
    let minutes = (time_s / 60.0).floor();
    let seconds = time_s - 60.0 * minutes;
    if time_s < 120.0 {
        format!("{} s", trimmed((10.0 * time_s).round() / 10.0))
    } else if seconds < 0.05 {
        format!("{minutes:.0} min")
    } else {
        format!(
            "{minutes:.0} min {} s",
            trimmed((10.0 * seconds).round() / 10.0)
        )
    }
}

fn decade(magnitude: f64) -> i32 {
    if magnitude > 0.0 && magnitude.is_finite() {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "the decade of a finite f64 is within ±324"
        )]
        let decade = magnitude.log10().floor() as i32;
        decade
    } else {
        0
    }
}

fn round_to(value: f64, digits: i32) -> f64 {
    let shift = 10_f64.powi(digits - 1 - decade(value.abs()));
    let rounded = (value * shift).round() / shift;
    if rounded.is_finite() { rounded } else { value }
}

fn grouped(text: &str) -> String {
    let (sign, text) = text
        .strip_prefix('-')
        .map_or(("", text), |rest| ("-", rest));
    let (integer, tail) = text.find('.').map_or((text, ""), |dot| text.split_at(dot));
    if integer.len() < 5 && !tail.is_empty() || integer.len() < 4 {
        return format!("{sign}{integer}{tail}");
    }
    let first = integer.len() % 3;
    let mut out = String::from(sign);
    for (place, digit) in integer.chars().enumerate() {
        if place != 0 && place % 3 == first {
            out.push(' ');
        }
        out.push(digit);
    }
    out + tail
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_carry_three_digits() {
        let shown: Vec<String> = [0.012_345, 1.2, 45.61, 7823.4, 999.6, 0.0, -12.34]
            .iter()
            .map(|&x| three(x))
            .collect();
        assert_eq!(
            shown,
            ["0.0123", "1.20", "45.6", "7 820", "1 000", "0", "-12.3"]
        );
        assert_eq!(whole(7823.4), "7 823");
        assert_eq!(count(12_345_678), "12 345 678");
    }

    #[test]
    fn shares_never_round_up_to_all_or_down_to_nothing() {
        assert_eq!(percent(0.9999), "over 99.9 %");
        assert_eq!(percent(0.0001), "under 0.1 %");
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(percent(0.0), "0 %");
    }

    #[test]
    fn a_share_just_below_the_wanted_one_reads_differently() {
        assert_eq!(percent_against(0.97998, 0.98), "97.998 %");
        assert_eq!(percent_against(0.982, 0.98), "98.2 %");
    }

    #[test]
    fn errors_and_values_share_their_decimals() {
        assert_eq!(with_error(112.3, 2.1), "112 ± 2");
        assert_eq!(with_error(0.8531, 0.0124), "0.853 ± 0.012");
        assert_eq!(with_error(12.34, 0.5), "12.3 ± 0.5");
        assert_eq!(with_error(1687.0, 23.4), "1 690 ± 23");
        assert_eq!(power_of_ten(1.396e21), "1.40 × 10²¹");
        assert_eq!(power_of_ten(2.5e-7), "2.50 × 10⁻⁷");
        assert_eq!(power_of_ten(45.0), "45.0");
        assert_eq!(with_error(112.3, 0.02), "112 ± 0.02");
    }

    #[test]
    fn the_clock_runs_in_minutes_and_hours() {
        assert_eq!(clock(0.0), "0:00");
        assert_eq!(clock(725.0), "12:05");
        assert_eq!(clock(3725.0), "1:02:05");
        assert_eq!(clock(59.96), "1:00");
        assert_eq!(clock(7.5), "0:07.5");
        assert_eq!(lasting(90.0), "90 s");
        assert_eq!(lasting(150.0), "2 min 30 s");
        assert_eq!(lasting(720.0), "12 min");
    }

    #[test]
    fn lengths_read_in_both_systems() {
        assert_eq!(mm_and_inch(0.150), "150 mm (5.91 in)");
        assert_eq!(mm_and_inch(0.0254), "25.4 mm (1 in)");
    }
}
