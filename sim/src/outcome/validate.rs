//! What every outcome keeps to: numbers finite, counts agreeing, references in range.
//!
//! A number may be absent (NaN) only where the model says so: incidence without film, and shares and visibility
//! where the method does not look.
//!
//! In: an [`Outcome`] about to be written or just read. Out: the first [`Defect`], if any.

use super::error::Defect;
use super::model::{BodyOutcome, Facet, Outcome, PartOutcome, Summary};
use super::{FORMAT, VERSION};
use crate::film::RowFilm;
use crate::plan::model::ChamberShape;
use crate::transport::Sums;
use glam::DVec3;

/// Owner named in defects of the outcome as a whole.
const WHOLE: &str = "the outcome";

/// Checks an outcome.
///
/// # Errors
/// The first thing found that no outcome may hold.
pub fn validate(outcome: &Outcome) -> Result<(), Defect> {
    summary(&outcome.summary)?;
    let expected = outcome.summary.parts.len();
    count(WHOLE, ("parts with film", outcome.parts.len()), expected)?;
    for part in &outcome.parts {
        self::part(part, outcome)?;
    }
    for body in &outcome.bodies {
        self::body(body)?;
    }
    for source in &outcome.sources {
        let numbers = source.at_m.iter().chain(&source.facing);
        let numbers = numbers.chain([&source.reach_m, &source.atoms_per_second]);
        all_finite(&source.name, "number", numbers.copied())?;
    }
    for step in &outcome.steps {
        let numbers = step.power.iter().chain(&step.start_rad).chain(&step.turns);
        all_finite(
            WHOLE,
            "number of a step",
            numbers.chain([&step.lasts_s]).copied(),
        )?;
        if !step.placed.is_empty() {
            count(WHOLE, ("places of parts", step.placed.len()), expected)?;
        }
        let places = step.placed.iter().flat_map(|place| place.to_cols_array());
        let angles = step.motion.iter().map(|axis| axis.angle_at(step.lasts_s));
        all_finite(WHOLE, "place or angle of a step", places.chain(angles))?;
    }
    let axes = outcome.rotations.iter();
    all_finite(
        WHOLE,
        "axis",
        axes.flat_map(|axis| [axis.0, axis.1])
            .flat_map(|v| v.to_array()),
    )?;
    for clearance in &outcome.clearances {
        let angles = clearance
            .scheduled_at_rad
            .iter()
            .chain(&clearance.full_turn_at_rad);
        let numbers = angles.chain([&clearance.scheduled_m, &clearance.full_turn_m]);
        all_finite(&clearance.riding, "number of a clearance", numbers.copied())?;
    }
    let chamber = outcome.chamber.map(|shape| match shape {
        ChamberShape::Cylinder {
            diameter_m,
            height_m,
        } => [diameter_m, height_m, 0.0],
        ChamberShape::Box { size_m } => size_m.to_array(),
    });
    all_finite("the chamber", "extent", chamber.into_iter().flatten())?;
    for (name, points) in &outcome.probes {
        for (index, point) in points.iter().enumerate() {
            all_finite(
                name,
                "probe place",
                point.position_m.to_array().into_iter().chain([point.s_m]),
            )?;
            sums(name, index, &point.sums)?;
        }
    }
    Ok(())
}

fn summary(summary: &Summary) -> Result<(), Defect> {
    if summary.format != FORMAT || summary.version != VERSION {
        return Err(Defect::Mark {
            format: summary.format.clone(),
            version: summary.version,
        });
    }
    // JSON has no word for a number that is not finite: it turns into null, which does not come back as a number.
    serde_json::to_value(summary)
        .and_then(serde_json::from_value::<Summary>)
        .map(|_| ())
        .map_err(|_| Defect::Summary)
}

fn part(part: &PartOutcome, outcome: &Outcome) -> Result<(), Defect> {
    let name = &part.name;
    vertices(name, &part.vertices_m)?;
    triangles(name, &part.triangles, part.vertices_m.len())?;
    count(
        name,
        ("rows of film", part.rows.len()),
        part.triangles.len(),
    )?;
    let metals = part.by_metal_m.len();
    if metals != 0 {
        count(name, ("metals", metals), outcome.metal_names.len())?;
    }
    let row_metals = part.rows.first().map_or(0, |row| row.by_metal_m.len());
    if row_metals != 0 {
        count(
            name,
            ("metals of a row", row_metals),
            outcome.metal_names.len(),
        )?;
    }
    for (index, row) in part.rows.iter().enumerate() {
        self::row(name, index, row)?;
        count(name, ("metals of a row", row.by_metal_m.len()), row_metals)?;
    }
    if !part.both_sides {
        count(name, ("facets of the back", part.back_facets.len()), 0)?;
    }
    for facets in [&part.facets, &part.back_facets] {
        let mut previous = 0;
        for (index, facet) in facets.iter().enumerate() {
            if facet.row < previous || facet.row as usize >= part.triangles.len() {
                return Err(Defect::Row {
                    owner: name.clone(),
                    facet: index,
                    row: facet.row,
                    rows: part.triangles.len(),
                });
            }
            previous = facet.row;
            self::facet(name, index, facet)?;
        }
    }
    let steps = part.by_step_m.len();
    if steps != 0 {
        count(name, ("steps", steps), outcome.steps.len())?;
    }
    let facets = part.facets.len() + part.back_facets.len();
    for of_one in part.by_step_m.iter().chain(&part.by_metal_m) {
        count(
            name,
            ("thicknesses of a step or metal", of_one.len()),
            facets,
        )?;
        let numbers = of_one.iter().map(|&thickness_m| f64::from(thickness_m));
        all_finite(name, "thickness of a step or metal", numbers)?;
    }
    all_finite(
        name,
        "number of the pose",
        part.chamber_from_part.to_cols_array().into_iter(),
    )
}

fn body(body: &BodyOutcome) -> Result<(), Defect> {
    vertices(&body.name, &body.vertices_m)?;
    triangles(&body.name, &body.triangles, body.vertices_m.len())
}

fn row(owner: &str, index: usize, row: &RowFilm) -> Result<(), Defect> {
    let amounts = [row.area_m2, row.thickness_m, row.std_error_m];
    let amounts = amounts.into_iter().chain(row.back_m).chain(row.bound_m);
    none_negative(
        owner,
        ("film of row", index),
        amounts.chain(row.by_metal_m.iter().copied()),
    )?;
    let others = present(row.shares.into_iter().chain([row.visible]))
        .chain([row.scattered])
        .chain(row.incidence_rad)
        .chain(row.centroid_m.to_array());
    each_finite(owner, ("number of row", index), others)
}

fn facet(owner: &str, index: usize, facet: &Facet) -> Result<(), Defect> {
    none_negative(
        owner,
        ("film of facet", index),
        [facet.thickness_m, facet.std_error_m].into_iter(),
    )?;
    let absent = facet
        .shares
        .into_iter()
        .map(f64::from)
        .chain([facet.incidence_rad]);
    let corners = facet
        .corners_m
        .into_iter()
        .flat_map(|corner| corner.to_array());
    each_finite(
        owner,
        ("number of facet", index),
        corners.chain(present(absent)),
    )
}

fn sums(owner: &str, index: usize, sums: &Sums) -> Result<(), Defect> {
    let amounts = [sums.thickness_m, sums.std_error_m, sums.open_thickness_m];
    none_negative(owner, ("film at probe point", index), amounts.into_iter())?;
    let absent = sums
        .shares
        .into_iter()
        .chain([sums.visible, sums.incidence_rad]);
    each_finite(owner, ("number of probe point", index), present(absent))
}

fn vertices(owner: &str, vertices_m: &[DVec3]) -> Result<(), Defect> {
    let numbers = vertices_m.iter().flat_map(|vertex| vertex.to_array());
    all_finite(owner, "corner coordinate", numbers)
}

/// Corners of triangles exist.
pub(super) fn triangles(owner: &str, triangles: &[[u32; 3]], corners: usize) -> Result<(), Defect> {
    for (triangle, of_one) in triangles.iter().enumerate() {
        if let Some(&corner) = of_one.iter().find(|&&corner| corner as usize >= corners) {
            return Err(Defect::Corner {
                owner: owner.to_owned(),
                triangle,
                corner,
                corners,
            });
        }
    }
    Ok(())
}

fn count(owner: &str, (what, found): (&'static str, usize), expected: usize) -> Result<(), Defect> {
    if found == expected {
        return Ok(());
    }
    Err(Defect::Count {
        owner: owner.to_owned(),
        what,
        found,
        expected,
    })
}

/// The numbers that are there.
fn present(numbers: impl Iterator<Item = f64>) -> impl Iterator<Item = f64> {
    numbers.filter(|number| !number.is_nan())
}

/// All numbers finite; a defect names the number's own place.
fn all_finite(
    owner: &str,
    what: &'static str,
    mut numbers: impl Iterator<Item = f64>,
) -> Result<(), Defect> {
    let mut index = 0;
    let bad = numbers.find(|number| {
        index += 1;
        !number.is_finite()
    });
    bad.map_or(Ok(()), |value| Err(number(owner, (what, index - 1), value)))
}

/// All numbers of one thing finite; a defect names the thing's place.
fn each_finite(
    owner: &str,
    place: (&'static str, usize),
    mut numbers: impl Iterator<Item = f64>,
) -> Result<(), Defect> {
    let bad = numbers.find(|number| !number.is_finite());
    bad.map_or(Ok(()), |value| Err(number(owner, place, value)))
}

/// All numbers of one thing finite and at least 0.
fn none_negative(
    owner: &str,
    place: (&'static str, usize),
    mut numbers: impl Iterator<Item = f64>,
) -> Result<(), Defect> {
    let bad = numbers.find(|number| !(number.is_finite() && *number >= 0.0));
    bad.map_or(Ok(()), |value| Err(number(owner, place, value)))
}

fn number(owner: &str, (what, index): (&'static str, usize), value: f64) -> Defect {
    Defect::Number {
        owner: owner.to_owned(),
        what,
        index,
        value,
    }
}
