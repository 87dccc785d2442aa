//! What is painted in bands and by a shortcut, against every ray's colour.

use super::super::super::colour::Scale;
use super::super::super::survey::Survey;
use super::super::super::{Outcome, assemble};
use super::super::camera::Camera;
use super::super::stage::{Cut, Props};
use super::*;
use crate::geometry::solids;
use crate::mesh::Mesh;
use crate::scene::Meshes;
use crate::transport::{Method, RunSettings, Unwatched};
use crate::{film, plan, scene, transport};
use std::sync::Arc;

/// A tube over a shield with a hole, under a shutter: some film, some of it thin, bare ground inside.
const PLAN: &str = r#"
[[source]]
name = "head"
kind = "sputter"
metal = "silver"
at = ["0 mm", "0 mm", "0 mm"]
facing = [0, 0, 1]
footprint = { shape = "disc", radius = "10 mm" }
output = { charge = "20 mg" }
[[shutter]]
name = "flap"
over = ["head"]
body = { shape = "plate", size = ["60 mm", "60 mm", "1 mm"] }
at = ["0 mm", "0 mm", "20 mm"]
[[fixture]]
name = "shield"
body = { shape = "plate", size = ["90 mm", "90 mm", "2 mm"], hole_diameter = "40 mm" }
at = ["0 mm", "0 mm", "40 mm"]
[[part]]
name = "tube"
mesh = "tube.stl"
unit = "m"
at = ["0 mm", "0 mm", "100 mm"]
turn = ["50 deg", "0 deg", "0 deg"]
[[step]]
lasts = "1 min"
shutter = "shut"
[[step]]
lasts = "10 min"
[film]
want = "60 nm"
"#;

fn coated() -> Outcome {
    let plan = plan::read_text(std::path::Path::new("plan.toml"), PLAN).expect("a sound plan");
    let tube = solids::tube(0.03, 0.02, 0.03);
    let mesh = Mesh::from_triangles(&tube.vertices, &tube.triangles).expect("a tube");
    let mut meshes = Meshes::default();
    meshes.insert(plan.parts[0].mesh.path.clone(), mesh);
    let scene = scene::lower(Arc::new(plan), &meshes).expect("nothing in the way");
    let settings = RunSettings {
        method: Method::Gather,
        accuracy: 0.2,
        time: None,
        atoms: Some(1000),
        seed: 1,
        threads: 0,
    };
    let rates = transport::calibrate(&scene, &settings).expect("a plain rate");
    let tally = transport::run(&scene, &rates, &settings, &Unwatched);
    let film = film::grow(&scene, &tally);
    assemble(&scene, &rates, &tally, film, &settings)
}

/// The part cut open, the set-up cut open, what the source sees.
fn shots(stage: &Stage<'_>, frame: Frame) -> [Shot; 3] {
    let forward = DVec3::new(0.4, 1.0, -0.3);
    let corners = stage.part_box_m(0);
    let all = Shot {
        camera: Camera::parallel(forward, &corners, frame),
        parts: vec![0],
        bodies: vec![Kind::Fixture, Kind::Shutter, Kind::Source],
        cut_parts: None,
        cut_fixtures: None,
    };
    let around = [stage.body_box_m(0), stage.body_box_m(1), corners.clone()].concat();
    let cut = Some(Cut {
        point_m: DVec3::new(0.0, 0.0, 0.1),
        normal: -forward.normalize(),
    });
    [
        Shot {
            cut_parts: cut,
            ..all.clone()
        },
        Shot {
            camera: Camera::parallel(forward, &around, frame),
            cut_fixtures: cut,
            ..all.clone()
        },
        Shot {
            camera: Camera::eye(DVec3::ZERO, &corners, frame),
            bodies: vec![Kind::Fixture],
            ..all
        },
    ]
}

#[test]
fn every_pixel_has_the_mean_colour_of_its_rays() {
    let outcome = coated();
    let survey = Survey::of(&outcome);
    let scale = Scale::of(&outcome, &survey);
    let stage = Stage::of(&outcome, &survey, Props::of(&outcome));
    // no whole number of bands
    let frame = Frame {
        left: 7.0,
        top: 5.0,
        width: 151.0,
        height: 117.0,
    };
    let shots = shots(&stage, frame);
    let values: Vec<f64> = outcome.parts[0]
        .facets
        .iter()
        .map(|f| f.thickness_m)
        .collect();
    let worth = Colours::Worth {
        verdict: Verdict::Light,
        values: &values,
        first: 0,
    };
    let mut met = Signs::default();
    for shot in &shots {
        let mut canvases = [Canvas::new(170, 130), Canvas::new(170, 130)];
        let under = canvases[0].clone();
        let colours = [Colours::Film(&scale), worth];
        let mut sheets: Vec<_> = canvases.iter_mut().zip(colours).collect();
        met = met.plus(paint(&mut sheets, frame, &stage, shot));
        let sight = Sight::new(frame, &stage, shot);
        let mut room = Vec::new();
        let grid = sight.band(0, sight.rows, &mut room);
        for (canvas, colours) in canvases.iter_mut().zip(colours) {
            let painter = Painter {
                sight: &sight,
                grid: &grid,
                colours,
                last: Cell::new((None, (PAPER, Standing::Uncounted))),
            };
            let mut one_by_one = under.clone();
            for (y, row) in one_by_one.rows_mut().skip(5).take(117).enumerate() {
                for (x, pixel) in row[7..7 + 151].iter_mut().enumerate() {
                    *pixel = painter.averaged(x, y, (7 + x, 5 + y), *pixel);
                }
            }
            let differ = one_by_one
                .rows_mut()
                .flatten()
                .zip(canvas.rows_mut().flatten());
            let differ = differ.filter(|(one, other)| one != other).count();
            assert_eq!(differ, 0, "pixels");
        }
    }
    // all signs were painted
    assert!(met.bare > 100 && met.thin > 100 && met.cut > 100, "{met:?}");
}
