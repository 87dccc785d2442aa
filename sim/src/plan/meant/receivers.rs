//! Parts, regions, coupons, masks and probes.

use super::{bodies, extension, mesh_file, placement, rides};
use crate::plan::check::Checker;
use crate::plan::entry::Entry;
use crate::plan::model::{Coupon, Faces, Mask, Part, Probe, Region};
use crate::plan::problem::MeantProblem;

pub(super) fn part(entry: &Entry, checker: &mut Checker) -> Option<Part> {
    let mesh = mesh_file(entry, "mesh", checker);
    Some(Part {
        name: entry.text("name")?.to_owned(),
        mesh: mesh?,
        scale: entry.number("scale")?,
        placement: placement(entry)?,
        faces: match entry.text("faces")? {
            "both" => Faces::Both,
            _ => Faces::Outside,
        },
        sticking: entry.number("sticking")?,
        material: entry.text("material").map(ToOwned::to_owned),
        wall_m: entry.number("wall"),
        limit_k: entry.number("limit"),
        emissivity: entry.number("emissivity"),
        clear: entry.flag("clear")?,
    })
}

pub(super) fn region(entry: &Entry, checker: &mut Checker) -> Option<Region> {
    let said = |name: &str| checker.places.contains_key(&entry.key_of(name));
    let (inside_said, facing_said, within_said) = (said("inside"), said("facing"), said("within"));
    if facing_said != within_said {
        let (one, other, example) = if facing_said {
            ("facing", "within", "within = \"30 deg\"")
        } else {
            ("within", "facing", "facing = [0, 0, 1]")
        };
        let problem = MeantProblem::Needs {
            what: format!("{other} beside it"),
            why: "a direction and an angle make a cone",
            instead: format!("write for example {example}"),
        };
        checker.report(&entry.key_of(one), problem);
    }
    let inside = entry.table("inside").and_then(|inside| {
        let shape = bodies::shape(inside, checker)?;
        Some((shape, placement(inside)?))
    });
    if inside_said && inside.is_none() {
        return None;
    }
    Some(Region {
        name: entry.text("name")?.to_owned(),
        part: entry.text("part")?.to_owned(),
        inside,
        object: entry.text("object").map(ToOwned::to_owned),
        facing: entry.vector("facing").zip(entry.number("within")),
    })
}

pub(super) fn coupon(entry: &Entry) -> Option<Coupon> {
    Some(Coupon {
        name: entry.text("name")?.to_owned(),
        at_m: entry.vector("at")?,
        facing: entry.vector("facing")?,
        size_m: entry.number("size")?,
        rides: rides(entry)?,
        sticking: entry.number("sticking")?,
    })
}

pub(super) fn mask(entry: &Entry, checker: &mut Checker) -> Option<Mask> {
    let form = entry.path("artwork").map(extension);
    let said = |checker: &Checker, name: &str| checker.places.contains_key(&entry.key_of(name));
    match form.as_deref() {
        Some("dxf") => {
            if !said(checker, "unit") {
                let problem = MeantProblem::Needs {
                    what: "unit beside it".to_owned(),
                    why: "a DXF file is drawn in whatever unit was meant",
                    instead: "write for example unit = \"mm\"".to_owned(),
                };
                checker.report(&entry.key_of("artwork"), problem);
            }
            refuse(entry, "unit_per_px", "a DXF file", checker);
        }
        Some("svg") => refuse(entry, "unit", "an SVG file", checker),
        Some(_) => {
            let problem = MeantProblem::OtherFile {
                path: super::written(checker, &entry.key_of("artwork")),
                wanted: "SVG or DXF file",
            };
            checker.report(&entry.key_of("artwork"), problem);
        }
        None => {}
    }
    if said(checker, "wrap") && said(checker, "conform") {
        let problem = MeantProblem::DoesNotGoWith {
            other: "wrap".to_owned(),
            why: "a sheet is laid on a cylinder or pushed onto the mesh",
            instead: "keep one of them",
        };
        checker.report(&entry.key_of("conform"), problem);
    }
    Some(Mask {
        part: entry.text("part")?.to_owned(),
        artwork: entry.path("artwork")?.to_owned(),
        unit_m: entry.number("unit").or(entry.number("unit_per_px")),
        opens_shapes: entry.text("opens")? == "shapes",
        sheet_m: entry.number("sheet")?,
        lift_m: entry.number("lift")?,
        placement: placement(entry)?,
        wrap_m: entry.number("wrap"),
        conform: entry.vector("conform"),
        sticking: entry.number("sticking")?,
    })
}

fn refuse(entry: &Entry, name: &str, other: &str, checker: &mut Checker) {
    let key = entry.key_of(name);
    if checker.places.contains_key(&key) {
        let problem = MeantProblem::DoesNotGoWith {
            other: other.to_owned(),
            why: "unit is for DXF files and unit_per_px for SVG files",
            instead: "use the other one",
        };
        checker.report(&key, problem);
    }
}

pub(super) fn probe(entry: &Entry, checker: &mut Checker) -> Option<Probe> {
    let (from_m, to_m) = (entry.vector("from")?, entry.vector("to")?);
    if from_m.distance(to_m) <= 0.0 {
        checker.report(&entry.key_of("to"), MeantProblem::NoLength);
    }
    Some(Probe {
        name: entry.text("name")?.to_owned(),
        part: entry.text("part")?.to_owned(),
        from_m,
        to_m,
        points: usize::try_from(entry.count("points")?).ok()?,
    })
}
