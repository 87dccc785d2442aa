//! Every value of a plan arrives as it is meant, in SI, and what is left out has its default.

use super::{BASE, EXAMPLE, reads};
use evenfall_sim::metals::built_in;
use evenfall_sim::plan::Plan;
use evenfall_sim::plan::model::*;
use evenfall_sim::plan::starter::{self, Kind};
use glam::DVec3;
use std::collections::BTreeMap;
use std::f64::consts::{PI, TAU};
use std::path::{Path, PathBuf};

/// A sixtieth of a turn per second per rpm.
const RPM: f64 = TAU / 60.0;
const DEG: f64 = PI / 180.0;

fn mm(x: f64, y: f64, z: f64) -> DVec3 {
    // Division gives the double nearest to the decimal value, as the reader does.
    DVec3::new(x / 1e3, y / 1e3, z / 1e3)
}

fn at(at_m: DVec3, turn_deg: DVec3) -> Placement {
    Placement {
        at_m,
        turn_rad: turn_deg * DEG,
    }
}

fn whole() -> Plan {
    let folder = super::whole_in_a_folder();
    let path = folder.path().join("plan.toml");
    let mut plan = evenfall_sim::plan::read(&path).unwrap_or_else(|errors| panic!("{errors}"));
    let folder = folder.path();
    let bare = |path: &mut PathBuf| *path = path.strip_prefix(folder).unwrap().to_owned();
    for source in &mut plan.sources {
        if let Footprint::Groove { table, .. } = &mut source.footprint {
            bare(table);
        }
        if let EmissionLaw::Table { table, .. } = &mut source.law {
            bare(table);
        }
    }
    for part in &mut plan.parts {
        bare(&mut part.mesh.path);
    }
    for fixture in &mut plan.fixtures {
        if let BodyShape::Mesh(file) = &mut fixture.body {
            bare(&mut file.path);
        }
    }
    plan.masks
        .iter_mut()
        .for_each(|mask| bare(&mut mask.artwork));
    plan
}

#[test]
fn the_example_of_the_format_means_what_it_says() {
    let plan = reads(EXAMPLE);
    assert_eq!(plan.title, "Feed horn, silver inside and out");
    assert_eq!(
        plan.chamber,
        Some(Chamber {
            shape: ChamberShape::Cylinder {
                diameter_m: 0.3,
                height_m: 14.0 * 0.0254,
            },
            sticking: 1.0,
        })
    );
    assert_eq!(
        plan.gas,
        Some(Gas {
            species: GasSpecies::Argon,
            pressure_pa: 4.0 * (101_325.0 / 760.0 / 1000.0),
            temperature_k: 300.0,
            base_pressure_pa: None,
            free_path_m: None,
            scatter: Scatter::HardSphere,
        })
    );
    assert_eq!(
        plan.sources,
        [Source {
            name: "head".to_owned(),
            kind: SourceKind::Sputter {
                energy_cut_j: 100.0 * 1.602_176_634e-19,
            },
            metal: "silver".to_owned(),
            at_m: mm(0.0, 0.0, 60.0),
            facing: DVec3::Z,
            along: None,
            footprint: Footprint::Ring {
                inner_radius_m: 0.012,
                outer_radius_m: 0.021,
            },
            law: EmissionLaw::CosinePower { exponent: 1.0 },
            output: Output::Charge { mass_kg: 250e-6 },
            correction: 1.0,
            target_thickness_m: None,
        }]
    );
    assert_eq!(plan.fixtures.len(), 1);
    assert_eq!(
        plan.parts[0].placement,
        at(mm(0.0, 0.0, 150.0), DVec3::new(0.0, 35.0, 0.0))
    );
    assert_eq!(plan.parts[0].mesh.unit_m, Some(0.001));
    assert_eq!(plan.parts[0].faces, Faces::Outside);
    assert_eq!(plan.coupons[0].size_m.to_bits(), 0.01f64.to_bits());
    assert_eq!(
        plan.rotations[0].speed_rad_per_s.to_bits(),
        (6.0 * RPM).to_bits()
    );
    assert_eq!(plan.steps.len(), 2);
    assert_eq!(plan.steps[0].shutter, ShutterState::All { shut: true });
    assert_eq!(plan.steps[1].shutter, ShutterState::All { shut: false });
    assert_eq!(plan.probes[0].points, 201);
    assert!(plan.masks[0].opens_shapes);
    assert_eq!(
        plan.advise,
        Some(Advise {
            minimise: Minimise::Time,
            turning: AdviseTurning::Steady,
            vary: vec![Vary {
                key: "part.horn.turn.y".to_owned(),
                from: 0.0,
                to: 60.0 * DEG,
            }],
        })
    );
}

#[test]
fn gas_metals_and_sources_arrive_as_said() {
    let plan = whole();
    let gas = plan.gas.clone().unwrap();
    assert_eq!(gas.scatter, Scatter::Isotropic);
    assert_eq!(gas.free_path_m, Some(0.025));
    assert_eq!(gas.base_pressure_pa, Some(1e-5 * (101_325.0 / 760.0)));
    assert_eq!(
        plan.metals,
        [OwnMetal {
            name: "brass".to_owned(),
            density_kg_per_m3: 8400.0,
            molar_mass_kg_per_mol: 0.0635,
            surface_binding_j: Some(3.5 * 1.602_176_634e-19),
            resistivity_ohm_m: Some(17e-9),
            melting_point_k: Some(930.0 + 273.15),
            diameter_m: Some(2.6e-10),
            nk_table: None,
        }]
    );
    assert_eq!(
        plan.metal("brass").unwrap().density_kg_per_m3.to_bits(),
        8400f64.to_bits()
    );
    assert_eq!(plan.metal("gold"), built_in("gold"));
    let [head, boat, scaled, worn] = &plan.sources[..] else {
        panic!("{} sources", plan.sources.len());
    };
    assert_eq!(head.facing, DVec3::Z);
    assert_eq!(
        head.output,
        Output::Discharge {
            current_a: 0.2,
            voltage_v: 400.0,
            electron_share: 0.1,
        }
    );
    assert_eq!(head.correction.to_bits(), 1.25f64.to_bits());
    assert_eq!(head.target_thickness_m, Some(0.003));
    assert_eq!(
        boat.kind,
        SourceKind::Boat {
            temperature_k: Some(1300.0 + 273.15)
        }
    );
    // [1, 0, 3] laid into the face that looks up.
    assert_eq!(boat.along, Some(DVec3::X));
    assert_eq!(scaled.footprint, Footprint::Point);
    assert_eq!(scaled.facing, DVec3::Z);
    assert_eq!(
        scaled.kind,
        SourceKind::Sputter {
            energy_cut_j: 80.0 * 1.602_176_634e-19
        }
    );
    assert_eq!(
        scaled.output,
        Output::Coupon {
            coupon: "witness".to_owned(),
            thickness_m: 120e-9,
            after_s: 600.0,
        }
    );
    assert_eq!(
        worn.footprint,
        Footprint::Groove {
            rows: vec![(5.0 * 1e-3, 0.0), (12.5 * 1e-3, 1.0), (20.0 * 1e-3, 0.25)],
            table: "erosion.csv".into(),
        }
    );
    assert_eq!(
        worn.law,
        EmissionLaw::Table {
            rows: vec![(0.0, 1.0), (45.0 * DEG, 0.8), (90.0 * DEG, 0.0)],
            table: "lobe.csv".into(),
        }
    );
    assert_eq!(worn.output, Output::AtomsPerSecond { rate_per_s: 1e18 });
}

#[test]
fn bodies_and_receivers_arrive_as_said() {
    let plan = whole();
    assert_eq!(
        plan.fixtures[0],
        Fixture {
            name: "shield".to_owned(),
            body: BodyShape::Plate {
                size_m: mm(80.0, 80.0, 1.0),
                hole_diameter_m: Some(0.046),
            },
            placement: at(mm(0.0, 0.0, 66.0), DVec3::new(0.0, 0.0, 90.0)),
            rides: Rides::Chamber,
            sticking: 1.0,
        }
    );
    assert_eq!(
        plan.fixtures[1].body,
        BodyShape::Mesh(MeshFile {
            path: "clamp.stl".into(),
            unit_m: Some(2.54e-5),
        })
    );
    assert_eq!(plan.fixtures[1].rides, Rides::Part);
    assert_eq!(plan.fixtures[1].placement, Placement::default());
    assert_eq!(plan.shutters[0].over, ["head", "boat"]);
    assert_eq!(
        plan.shutters[0].body,
        BodyShape::Tube {
            outer_diameter_m: 0.06,
            inner_diameter_m: 0.01,
            length_m: 0.001,
        }
    );
    assert_eq!(
        plan.parts,
        [Part {
            name: "horn".to_owned(),
            mesh: MeshFile {
                path: "horn.stl".into(),
                unit_m: Some(0.001),
            },
            scale: 1.5,
            placement: at(mm(0.0, 0.0, 150.0), DVec3::new(0.0, 35.0, 0.0)),
            faces: Faces::Both,
            sticking: 1.0,
            material: Some("printing resin".to_owned()),
            wall_m: Some(0.002),
            limit_k: Some(45.0 + 273.15),
            emissivity: Some(0.9),
            clear: true,
        }]
    );
    assert_eq!(
        plan.regions[0],
        Region {
            name: "bore".to_owned(),
            part: "horn".to_owned(),
            inside: Some((
                BodyShape::Cylinder {
                    diameter_m: 0.02,
                    length_m: 0.06,
                },
                at(mm(0.0, 0.0, 1.0), DVec3::ZERO)
            )),
            object: Some("throat piece".to_owned()),
            facing: Some((DVec3::Z, 30.0 * DEG)),
        }
    );
    assert_eq!(plan.coupons[0].rides, Rides::Part);
    assert_eq!(
        plan.masks,
        [Mask {
            part: "horn".to_owned(),
            artwork: "dial.dxf".into(),
            unit_m: Some(0.0254),
            opens_shapes: false,
            sheet_m: 80e-6,
            lift_m: 20e-6,
            placement: Placement {
                at_m: mm(0.0, 0.0, 5.0),
                turn_rad: DVec3::new(0.0, 0.0, 0.25 * TAU),
            },
            wrap_m: None,
            conform: Some(-DVec3::Z),
            sticking: 0.5,
        }]
    );
    assert_eq!(
        plan.probes[0],
        Probe {
            name: "across the edge".to_owned(),
            part: "horn".to_owned(),
            from_m: mm(-1.0, 0.0, 0.0),
            to_m: mm(1.0, 0.0, 0.0),
            points: 101,
        }
    );
}

#[test]
fn the_schedule_arrives_as_said() {
    let plan = whole();
    assert_eq!(plan.rotations[0].through_m, mm(1.0, 0.0, 0.0));
    assert_eq!(
        plan.rotations[1],
        Rotation {
            axis: DVec3::Y,
            through_m: DVec3::ZERO,
            speed_rad_per_s: -30.0 * DEG,
            swing_rad: Some(120.0 * DEG),
        }
    );
    let [first, second, third] = &plan.steps[..] else {
        panic!("{} steps", plan.steps.len());
    };
    assert_eq!(first.note.as_deref(), Some("clean the target"));
    assert_eq!(first.power, StepPower::All(1.0));
    assert!(!first.vent);
    assert_eq!(
        *second,
        Step {
            note: None,
            lasts_s: 720.0,
            shutter: ShutterState::Named(BTreeMap::from([("flag".to_owned(), false)])),
            power: StepPower::Named(BTreeMap::from([
                ("boat".to_owned(), 0.5),
                ("head".to_owned(), 1.0),
            ])),
            hold: Some(vec![Hold::At(90.0 * DEG), Hold::Turn]),
            speed_rad_per_s: Some(vec![0.0, 3.0 * RPM]),
            vent: false,
            turn_rad: BTreeMap::new(),
            at_m: BTreeMap::new(),
        }
    );
    assert!(third.vent);
    assert_eq!(third.power, StepPower::All(2.0));
    assert_eq!(third.turn_rad["horn"], DVec3::new(0.0, -35.0, 0.0) * DEG);
    assert_eq!(third.at_m["horn"], mm(0.0, 0.0, 160.0));
    assert_eq!(
        plan.film,
        Some(FilmWanted {
            want: Want::PerMetal(BTreeMap::from([
                ("gold".to_owned(), 5e-9),
                ("silver".to_owned(), 100e-9),
            ])),
            on: 0.98,
            regions: Some(vec!["bore".to_owned()]),
            bare: vec!["threads".to_owned()],
            bare_under_m: 4e-9,
        })
    );
    let vary = plan.advise.unwrap().vary;
    let bounds: Vec<_> = vary
        .iter()
        .map(|v| (v.key.as_str(), v.from, v.to))
        .collect();
    assert_eq!(
        bounds,
        [
            ("part.horn.turn.y", 0.0, 60.0 * DEG),
            ("source.head.law.cosine", 0.5, 3.0),
            ("step.2.hold.1", 0.0, TAU),
            ("step.2.power.boat", 0.1, 1.0),
        ]
    );
}

#[test]
fn what_is_left_out_has_the_default_of_the_format() {
    let text = BASE
        .replace("title = \"Horn\"\n", "")
        .replace("law = { cosine = 1.0 }\n", "")
        .replace("in = [\"bore\"]\n", "");
    let plan = reads(&text);
    // The file's name.
    assert_eq!(plan.title, "plan");
    assert_eq!(plan.gas, None);
    assert_eq!(
        plan.sources[0].law,
        EmissionLaw::CosinePower { exponent: 1.0 }
    );
    assert_eq!(plan.fixtures[0].placement, Placement::default());
    assert_eq!(plan.fixtures[0].rides, Rides::Chamber);
    assert_eq!(plan.parts[0].faces, Faces::Outside);
    assert_eq!(plan.parts[0].scale.to_bits(), 1f64.to_bits());
    assert_eq!(plan.coupons[0].size_m.to_bits(), 0.01f64.to_bits());
    assert_eq!(plan.rotations[0].through_m, DVec3::ZERO);
    assert_eq!(plan.steps[1].power, StepPower::All(1.0));
    assert_eq!(plan.probes[0].points, 201);
    let film = plan.film.unwrap();
    assert_eq!(film.want, Want::Total(100e-9));
    assert_eq!(film.on.to_bits(), 0.95f64.to_bits());
    assert_eq!(film.regions, None);
    assert_eq!(film.bare_under_m.to_bits(), 5e-9f64.to_bits());
    let one = plan.parts.iter().map(|p| p.sticking);
    let sticking: Vec<f64> = one
        .chain(plan.coupons.iter().map(|c| c.sticking))
        .chain(plan.shutters.iter().map(|s| s.sticking))
        .chain(plan.chamber.iter().map(|c| c.sticking))
        .collect();
    assert_eq!(sticking, [1.0; 4]);
}

#[test]
fn dotted_keys_headers_and_inline_tables_say_the_same() {
    let dotted = BASE
        .replace(
            "footprint = { shape = \"ring\", inner_radius = \"12 mm\", outer_radius = \"21 mm\" }",
            "footprint.shape = \"ring\"\nfootprint.inner_radius = \"12 mm\"\nfootprint.outer_radius = \"21 mm\"",
        )
        .replace("output = { charge = \"250 mg\" }", "[source.output]\ncharge = \"250 mg\"");
    assert_eq!(reads(&dotted).sources, reads(BASE).sources);
    let inline = BASE.replace("[[rotation]]\naxis = [0, 0, 1]\nspeed = \"6 rpm\"\n", "");
    let inline = format!("rotation = [{{ axis = [0, 0, 1], speed = \"6 rpm\" }}]\n{inline}");
    assert_eq!(reads(&inline).rotations, reads(BASE).rotations);
}

#[test]
fn starter_plans_read_once_their_mesh_is_there() {
    for (kind, mesh) in [
        (Kind::Print, "part.stl"),
        (Kind::Stencil, "dial.stl"),
        (Kind::Boat, "reflector.stl"),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("mine.toml");
        std::fs::write(&path, starter::text(kind)).unwrap();
        let missing = evenfall_sim::plan::read(&path).unwrap_err().to_string();
        assert!(
            missing.contains(&format!("{mesh} does not exist")),
            "{missing}"
        );
        assert_eq!(missing.lines().count(), 1);
        std::fs::write(folder.path().join(mesh), "").unwrap();
        let plan = evenfall_sim::plan::read(&path).unwrap_or_else(|errors| panic!("{errors}"));
        assert_eq!(plan.path, Path::new(&path));
    }
}

#[test]
fn the_commented_out_stencil_reads_too() {
    let text = starter::text(Kind::Stencil).replace("# [[mask]]", "[[mask]]");
    let (head, rest) = text.split_once("[[mask]]\n").unwrap();
    let (mask, tail) = rest.split_once("\n\n").unwrap();
    let mask: String = mask
        .lines()
        .map(|line| format!("{}\n", &line[2..]))
        .collect();
    let text = format!("{head}[[mask]]\n{mask}\n{tail}");
    let plan = reads(&text);
    assert_eq!(plan.masks.len(), 1);
}
