//! Quantities written as somebody typed them: in the same unit.

use evenfall_sim::units::{Dimension, parse_quantity, significant};

/// A value in the unit of a text; in the dimension's usual one where the text is no quantity of it.
///
/// - `typed`: as in "2,5 in"
/// - `value`: SI
/// - `digits`: significant ones that are kept
pub fn like(typed: &str, dimension: Dimension, value: f64, digits: usize) -> String {
    let unit = typed.trim_start_matches(|c: char| !c.is_alphabetic() && c != '%');
    let per_unit = parse_quantity(&format!("1 {unit}"), dimension).ok();
    let (unit, per_unit) = per_unit.map_or_else(
        || {
            let usual = dimension.usual_unit();
            (
                usual,
                parse_quantity(&format!("1 {usual}"), dimension).unwrap_or(1.0),
            )
        },
        |per_unit| (unit, per_unit),
    );
    format!("{} {unit}", significant(value / per_unit, digits))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_is_written_in_the_unit_that_was_typed() {
        let length = |typed| like(typed, Dimension::Length, 0.0508, 4);
        assert_eq!(length("1 mm"), "50.8 mm");
        assert_eq!(length("2,5in"), "2 in");
        assert_eq!(length("nonsense"), "50.8 mm");
        assert_eq!(like("5 min", Dimension::Time, 90.0, 3), "1.5 min");
        let angle = 30_f64.to_radians();
        assert_eq!(like("0 deg", Dimension::Angle, angle, 4), "30 deg");
    }
}
