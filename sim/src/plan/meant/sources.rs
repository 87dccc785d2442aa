//! Gas, metals and sources.

use super::{mesh_file, written};
use crate::constants::ELEMENTARY_CHARGE_C;
use crate::metals;
use crate::plan::check::Checker;
use crate::plan::entry::Entry;
use crate::plan::model::{
    EmissionLaw, Footprint, Gas, GasSpecies, Output, OwnMetal, Scatter, Source, SourceKind,
};
use crate::plan::problem::MeantProblem;
use crate::plan::table::{self, Form};
use crate::units::significant;
use glam::DVec3;

/// Where Thompson's spectrum is cut when the plan does not say, J: 100 eV (common practice, no source).
const ENERGY_CUT_J: f64 = 100.0 * ELEMENTARY_CHARGE_C;

pub(super) fn gas(entry: &Entry, checker: &mut Checker) -> Option<Gas> {
    let pressure_pa = entry.number("pressure")?;
    let base_pressure_pa = entry.number("base_pressure");
    if base_pressure_pa.is_some_and(|base| base >= pressure_pa) {
        let key = entry.key_of("base_pressure");
        let problem = MeantProblem::NotBelow {
            value: written(checker, &key),
            other: "pressure".to_owned(),
            limit: written(checker, &entry.key_of("pressure")),
            why: "the gas is let in on top of it",
            instead: "exchange or correct them",
        };
        checker.report(&key, problem);
    }
    Some(Gas {
        species: match entry.text("species")? {
            "neon" => GasSpecies::Neon,
            "krypton" => GasSpecies::Krypton,
            "xenon" => GasSpecies::Xenon,
            "nitrogen" => GasSpecies::Nitrogen,
            _ => GasSpecies::Argon,
        },
        pressure_pa,
        temperature_k: entry.number("temperature")?,
        base_pressure_pa,
        free_path_m: entry.number("free_path"),
        scatter: match entry.text("scatter")? {
            "hard-sphere-at-rest" => Scatter::HardSphereAtRest,
            "isotropic" => Scatter::Isotropic,
            _ => Scatter::HardSphere,
        },
    })
}

pub(super) fn metal(entry: &Entry, checker: &mut Checker) -> Option<OwnMetal> {
    let name = entry.text("name")?.to_owned();
    if let Some(known) = metals::built_in(&name) {
        let problem = MeantProblem::MetalKnown {
            name: name.clone(),
            density: significant(known.density_kg_per_m3 * 1e-3, 4),
            molar_mass: significant(known.molar_mass_kg_per_mol * 1e3, 5),
        };
        checker.report(&entry.key_of("name"), problem);
    }
    Some(OwnMetal {
        name,
        density_kg_per_m3: entry.number("density")?,
        molar_mass_kg_per_mol: entry.number("molar_mass")?,
        surface_binding_j: entry.number("surface_binding"),
        resistivity_ohm_m: entry.number("resistivity"),
        melting_point_k: entry.number("melting_point"),
        diameter_m: entry.number("diameter"),
        nk_table: entry.path("nk_table").map(ToOwned::to_owned),
    })
}

pub(super) fn source(entry: &Entry, checker: &mut Checker) -> Option<Source> {
    // Everything is judged before the first missing value ends the reading of this source.
    let kind = kind(entry, checker);
    let footprint = entry
        .table("footprint")
        .and_then(|shape| footprint(shape, checker));
    let law = law(entry, checker);
    let facing = facing(entry, checker);
    let along = facing.and_then(|facing| along(entry, facing, checker));
    let output = entry.table("output").and_then(output);
    Some(Source {
        name: entry.text("name")?.to_owned(),
        kind: kind?,
        metal: entry.text("metal")?.to_owned(),
        at_m: entry.vector("at")?,
        facing: facing?,
        along,
        footprint: footprint?,
        law: law?,
        output: output?,
        correction: entry.number("correction")?,
        target_thickness_m: entry.number("target_thickness"),
    })
}

fn kind(entry: &Entry, checker: &mut Checker) -> Option<SourceKind> {
    let output = entry.table("output");
    let variant = output.and_then(|o| o.variant);
    if entry.text("kind")? == "sputter" {
        if variant == Some("temperature") {
            checker.report(
                &entry.key_of("output.temperature"),
                MeantProblem::DoesNotGoWith {
                    other: "kind = \"sputter\"".to_owned(),
                    why: "a temperature says how much evaporates from a boat",
                    instead: "write charge, current, power, coupon or atoms_per_second",
                },
            );
        }
        return Some(SourceKind::Sputter {
            energy_cut_j: entry.number("energy_cut").unwrap_or(ENERGY_CUT_J),
        });
    }
    if checker.places.contains_key(&entry.key_of("energy_cut")) {
        checker.report(
            &entry.key_of("energy_cut"),
            MeantProblem::DoesNotGoWith {
                other: "kind = \"boat\"".to_owned(),
                why: "evaporated atoms start with thermal energies",
                instead: "leave it out",
            },
        );
    }
    if let Some(mark @ ("current" | "power")) = variant {
        checker.report(
            &entry.key_of(&format!("output.{mark}")),
            MeantProblem::DoesNotGoWith {
                other: "kind = \"boat\"".to_owned(),
                why: "a discharge says how much is sputtered",
                instead: "write charge, temperature, coupon or atoms_per_second",
            },
        );
    }
    Some(SourceKind::Boat {
        temperature_k: output
            .filter(|_| variant == Some("temperature"))
            .and_then(|o| o.number("temperature")),
    })
}

fn footprint(shape: &Entry, checker: &mut Checker) -> Option<Footprint> {
    Some(match shape.variant? {
        "spot" => Footprint::Spot,
        "disc" => Footprint::Disc {
            radius_m: shape.number("radius")?,
        },
        "ring" => {
            let inner_radius_m = shape.number("inner_radius")?;
            let outer_radius_m = shape.number("outer_radius")?;
            if inner_radius_m >= outer_radius_m {
                let key = shape.key_of("inner_radius");
                let problem = MeantProblem::NotBelow {
                    value: written(checker, &key),
                    other: "outer_radius".to_owned(),
                    limit: written(checker, &shape.key_of("outer_radius")),
                    why: "a ring has a width",
                    instead: "exchange or correct them",
                };
                checker.report(&key, problem);
                return None;
            }
            Footprint::Ring {
                inner_radius_m,
                outer_radius_m,
            }
        }
        "rectangle" => Footprint::Rectangle {
            width_m: shape.number("width")?,
            depth_m: shape.number("depth")?,
        },
        "line" => Footprint::Line {
            length_m: shape.number("length")?,
        },
        "groove" => Footprint::Groove {
            rows: rows(shape, &table::GROOVE, 1e-3, checker)?,
            table: shape.path("table")?.to_owned(),
        },
        "mesh" => Footprint::Mesh(mesh_file(shape, "file", checker)?),
        _ => Footprint::Point,
    })
}

/// The rows of the table behind `table`, its first column times a factor.
fn rows(
    entry: &Entry,
    form: &Form,
    si_per_unit: f64,
    checker: &mut Checker,
) -> Option<Vec<(f64, f64)>> {
    match table::rows(entry.path("table")?, form) {
        Ok(rows) => Some(rows.iter().map(|&(x, w)| (x * si_per_unit, w)).collect()),
        Err(problems) => {
            for problem in problems {
                checker.report(&entry.key_of("table"), problem);
            }
            None
        }
    }
}

fn law(entry: &Entry, checker: &mut Checker) -> Option<EmissionLaw> {
    let said = checker.places.contains_key(&entry.key_of("law"));
    if !said {
        return Some(EmissionLaw::CosinePower { exponent: 1.0 });
    }
    if shape_of(entry) == Some("point") {
        checker.report(
            &entry.key_of("law"),
            MeantProblem::DoesNotGoWith {
                other: "a point footprint".to_owned(),
                why: "a point emits alike in all directions",
                instead: "leave it out",
            },
        );
    }
    let law = entry.table("law")?;
    match law.variant? {
        "cosine" => Some(EmissionLaw::CosinePower {
            exponent: law.number("cosine")?,
        }),
        _ => Some(EmissionLaw::Table {
            rows: rows(law, &table::LOBE, 1f64.to_radians(), checker)?,
            table: law.path("table")?.to_owned(),
        }),
    }
}

fn shape_of(entry: &Entry) -> Option<&'static str> {
    entry.table("footprint")?.variant
}

/// The normal of the face; +z where the footprint has none.
fn facing(entry: &Entry, checker: &mut Checker) -> Option<DVec3> {
    let key = entry.key_of("facing");
    let said = checker.places.contains_key(&key);
    let refuse = |other: &str, why| MeantProblem::DoesNotGoWith {
        other: other.to_owned(),
        why,
        instead: "leave it out",
    };
    match shape_of(entry)? {
        "point" if said => {
            let problem = refuse("a point footprint", "a point emits alike in all directions");
            checker.report(&key, problem);
            None
        }
        "mesh" if said => {
            let problem = refuse("a mesh footprint", "its faces emit along their own normals");
            checker.report(&key, problem);
            None
        }
        "point" | "mesh" => Some(DVec3::Z),
        _ if said => entry.vector("facing"),
        _ if checker.misspelt(&entry.key, "facing") => None,
        _ => {
            checker.report(
                &entry.key,
                MeantProblem::Needs {
                    what: "facing".to_owned(),
                    why: "its face looks somewhere",
                    instead: "write the normal of the face, for example facing = [0, 0, 1]"
                        .to_owned(),
                },
            );
            None
        }
    }
}

/// The direction of width or length, laid into the face.
fn along(entry: &Entry, facing: DVec3, checker: &mut Checker) -> Option<DVec3> {
    let key = entry.key_of("along");
    let said = checker.places.contains_key(&key);
    let shape = shape_of(entry)?;
    if !matches!(shape, "rectangle" | "line") {
        if said {
            checker.report(
                &key,
                MeantProblem::DoesNotGoWith {
                    other: format!("a {shape} footprint"),
                    why: "only a rectangle and a line have a direction in the face",
                    instead: "leave it out",
                },
            );
        }
        return None;
    }
    if !said && checker.misspelt(&entry.key, "along") {
        return None;
    }
    if !said {
        let what = if shape == "line" { "length" } else { "width" };
        checker.report(
            &entry.key,
            MeantProblem::Needs {
                what: "along".to_owned(),
                why: "a rectangle and a line lie in some direction",
                instead: format!(
                    "write the direction of its {what}, for example along = [1, 0, 0]"
                ),
            },
        );
        return None;
    }
    let along = entry.vector("along")?;
    let in_face = along - facing * along.dot(facing);
    // Closer to the normal than a millionth, nothing but rounding is left in the face.
    if in_face.length() < 1e-6 {
        let problem = MeantProblem::Parallel {
            along: written(checker, &key),
            facing: written(checker, &entry.key_of("facing")),
        };
        checker.report(&key, problem);
        return None;
    }
    Some(in_face.normalize())
}

fn output(output: &Entry) -> Option<Output> {
    Some(match output.variant? {
        "charge" => Output::Charge {
            mass_kg: output.number("charge")?,
        },
        mark @ ("current" | "power") => {
            let voltage_v = output.number("voltage")?;
            let said = output.number(mark)?;
            Output::Discharge {
                current_a: if mark == "power" {
                    said / voltage_v
                } else {
                    said
                },
                voltage_v,
                electron_share: output.number("electron_share")?,
            }
        }
        "temperature" => Output::Temperature {
            temperature_k: output.number("temperature")?,
            area_m2: output.number("area")?,
        },
        "coupon" => Output::Coupon {
            coupon: output.text("coupon")?.to_owned(),
            thickness_m: output.number("thickness")?,
            after_s: output.number("after")?,
        },
        _ => Output::AtomsPerSecond {
            rate_per_s: output.number("atoms_per_second")?,
        },
    })
}
