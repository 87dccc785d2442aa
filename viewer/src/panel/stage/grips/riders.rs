//! What rides with a part keeps its place on it when the part is moved.

use crate::app::document::quantity::like;
use crate::app::document::{Change, Document, Section, Step};
use crate::stage::grips::Pose;
use evenfall_sim::units::{Dimension, parse_quantity};
use glam::{DAffine3, DVec3};

/// The changes that carry riding fixtures and coupons along.
///
/// - `moved`: what the part's move does to a point of the chamber at angle 0
pub fn carried(document: &Document, moved: &DAffine3) -> Vec<Change> {
    let sections = document.sections().iter();
    let riding = sections.filter(|section| {
        let mut fields = section.fields.iter();
        matches!(section.table.as_str(), "fixture" | "coupon")
            && fields.any(|field| field.name == "rides" && field.text == "part")
    });
    riding
        .flat_map(|section| one(document, section, moved))
        .collect()
}

fn one(document: &Document, section: &Section, moved: &DAffine3) -> Vec<Change> {
    let lengths = vector(document, section, ("at", Dimension::Length));
    let Some(at_m) = lengths else {
        return Vec::new(); // not written as three lengths: left alone
    };
    let mut changes = vec![put(
        document,
        section,
        ("at", Dimension::Length, 6),
        moved.transform_point3(at_m),
    )];
    if section.table == "coupon" {
        let mut numbers = (0..3).filter_map(|axis| {
            let text = document.text_of(&way(section, "facing", axis))?;
            text.parse::<f64>().ok()
        });
        if let (Some(x), Some(y), Some(z)) = (numbers.next(), numbers.next(), numbers.next()) {
            let facing = moved.transform_vector3(DVec3::new(x, y, z)).to_array();
            let facing = facing.map(|x| evenfall_sim::units::significant(x, 6));
            let toml = format!("[{}]", facing.join(", "));
            changes.push(Change::Put(section.way.clone(), "facing".to_owned(), toml));
        }
        return changes;
    }
    let turn_rad = vector(document, section, ("turn", Dimension::Angle)).unwrap_or_default();
    let turned_rad = Pose::of(&(*moved * Pose { at_m, turn_rad }.affine())).turn_rad;
    if turned_rad.distance(turn_rad) > 1e-9 {
        changes.push(put(
            document,
            section,
            ("turn", Dimension::Angle, 6),
            turned_rad,
        ));
    }
    changes
}

fn way(section: &Section, key: &str, axis: usize) -> Vec<Step> {
    let mut way = section.way.clone();
    way.extend([Step::Key(key.to_owned()), Step::Place(axis)]);
    way
}

/// Three quantities of a section; none where one is missing.
fn vector(
    document: &Document,
    section: &Section,
    (key, dimension): (&str, Dimension),
) -> Option<DVec3> {
    let mut values = DVec3::ZERO;
    for axis in 0..3 {
        let typed = document.text_of(&way(section, key, axis))?;
        values[axis] = parse_quantity(&typed, dimension).ok()?;
    }
    Some(values)
}

/// The change that gives a section three quantities, each in the unit that was typed.
fn put(
    document: &Document,
    section: &Section,
    (key, dimension, digits): (&str, Dimension, usize),
    values: DVec3,
) -> Change {
    let texts = [0, 1, 2].map(|axis| {
        let typed = document
            .text_of(&way(section, key, axis))
            .unwrap_or_default();
        // a millionth of a millimetre or of a degree is none
        let value = if values[axis].abs() < 1e-9 {
            0.0
        } else {
            values[axis]
        };
        format!("\"{}\"", like(&typed, dimension, value, digits))
    });
    Change::Put(
        section.way.clone(),
        key.to_owned(),
        format!("[{}]", texts.join(", ")),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use glam::DMat3;
    use std::path::PathBuf;

    const PLAN: &str = "[[fixture]]\nname = \"holder\"\nrides = \"part\"\nat = [\"10 mm\", \"0 mm\", \"200 mm\"]\n\
        turn = [\"0 deg\", \"10 deg\", \"0 deg\"]\n[[fixture]]\nname = \"shield\"\nat = [\"0 mm\", \"0 mm\", \"66 mm\"]\n\
        [[coupon]]\nname = \"slide\"\nrides = \"part\"\nat = [\"1 in\", \"0 in\", \"5 in\"]\nfacing = [1, 0, 0]\n";

    #[test]
    fn what_rides_keeps_its_place_on_the_part() {
        let document = Document::begun(PathBuf::from("plan.toml"), PLAN.to_owned());
        // a quarter turn about z, and 5 mm up
        let moved = DAffine3::from_mat3_translation(
            DMat3::from_rotation_z(std::f64::consts::FRAC_PI_2),
            DVec3::new(0.0, 0.0, 0.005),
        );
        let changes = carried(&document, &moved);
        let text = Change::All(changes).of(PLAN).unwrap();
        let after = Document::begun(PathBuf::from("plan.toml"), text.clone());
        let value = |key: &str| {
            let mut fields = after.sections().iter().flat_map(|section| &section.fields);
            fields
                .find(|field| field.key == key)
                .map(|field| field.text.clone())
                .unwrap()
        };
        let at = ["x", "y", "z"].map(|axis| value(&format!("fixture.holder.at.{axis}")));
        assert_eq!(at, ["0 mm", "10 mm", "205 mm"], "{text}");
        // tilted about y before, the quarter turn comes on top: z = 90°
        let turn = ["x", "y", "z"].map(|axis| value(&format!("fixture.holder.turn.{axis}")));
        assert_eq!(turn, ["0 deg", "10 deg", "90 deg"], "{text}");
        assert_eq!(
            value("fixture.shield.at.z"),
            "66 mm",
            "what stands still is left alone"
        );
        assert_eq!(value("coupon.slide.at.y"), "1 in");
        let facing = ["x", "y", "z"].map(|axis| value(&format!("coupon.slide.facing.{axis}")));
        assert_eq!(facing[1], "1", "{facing:?}");
    }
}
