//! The chamber, fixtures and shutters.

use super::{mesh_file, placement, rides, written};
use crate::plan::check::Checker;
use crate::plan::entry::Entry;
use crate::plan::model::{BodyShape, Chamber, ChamberShape, Fixture, Shutter};
use crate::plan::problem::MeantProblem;

pub(super) fn chamber(entry: &Entry) -> Option<Chamber> {
    let shape = match entry.variant? {
        "cylinder" => ChamberShape::Cylinder {
            diameter_m: entry.number("diameter")?,
            height_m: entry.number("height")?,
        },
        _ => ChamberShape::Box {
            size_m: entry.vector("size")?,
        },
    };
    Some(Chamber {
        shape,
        sticking: entry.number("sticking")?,
    })
}

pub(super) fn fixture(entry: &Entry, checker: &mut Checker) -> Option<Fixture> {
    let body = entry.table("body").and_then(|body| shape(body, checker));
    Some(Fixture {
        name: entry.text("name")?.to_owned(),
        body: body?,
        placement: placement(entry)?,
        rides: rides(entry)?,
        sticking: entry.number("sticking")?,
    })
}

pub(super) fn shutter(entry: &Entry, checker: &mut Checker) -> Option<Shutter> {
    let body = entry.table("body").and_then(|body| shape(body, checker));
    Some(Shutter {
        name: entry.text("name")?.to_owned(),
        over: entry.texts("over")?,
        body: body?,
        placement: placement(entry)?,
        sticking: entry.number("sticking")?,
    })
}

/// The shape of a body or of a region.
pub(super) fn shape(body: &Entry, checker: &mut Checker) -> Option<BodyShape> {
    Some(match body.variant? {
        "plate" => {
            let size_m = body.vector("size")?;
            let hole_diameter_m = body.number("hole_diameter");
            let room_m = size_m.x.min(size_m.y);
            if hole_diameter_m.is_some_and(|hole| hole >= room_m) {
                let key = body.key_of("hole_diameter");
                let side = if size_m.x <= size_m.y { "x" } else { "y" };
                let limit = written(checker, &body.key_of(&format!("size.{side}")));
                let problem = MeantProblem::NotBelow {
                    value: written(checker, &key),
                    other: format!("size {side}"),
                    limit,
                    why: "a hole lies inside its plate",
                    instead: "write a smaller hole or a larger plate",
                };
                checker.report(&key, problem);
                return None;
            }
            BodyShape::Plate {
                size_m,
                hole_diameter_m,
            }
        }
        "cylinder" => BodyShape::Cylinder {
            diameter_m: body.number("diameter")?,
            length_m: body.number("length")?,
        },
        "tube" => {
            let outer_diameter_m = body.number("outer_diameter")?;
            let inner_diameter_m = body.number("inner_diameter")?;
            if inner_diameter_m >= outer_diameter_m {
                let key = body.key_of("inner_diameter");
                let problem = MeantProblem::NotBelow {
                    value: written(checker, &key),
                    other: "outer_diameter".to_owned(),
                    limit: written(checker, &body.key_of("outer_diameter")),
                    why: "a tube has a wall",
                    instead: "exchange or correct them",
                };
                checker.report(&key, problem);
                return None;
            }
            BodyShape::Tube {
                outer_diameter_m,
                inner_diameter_m,
                length_m: body.number("length")?,
            }
        }
        "sphere" => BodyShape::Sphere {
            diameter_m: body.number("diameter")?,
        },
        _ => BodyShape::Mesh(mesh_file(body, "file", checker)?),
    })
}
