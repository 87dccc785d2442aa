//! Draws the meshes in `models/` from formulas, so that they are ours and can be drawn again.
//!
//! `cargo run --release -p evenfall-sim --example draw_models -- models` writes the files and prints
//! what `models/README.md` says of them: triangles, size, area.
//!
//! Lengths are in mm here, since the files are.

use evenfall_sim::geometry::bounds;
use evenfall_sim::geometry::solids::Solid;
use glam::{DVec2, DVec3};
use std::f64::consts::TAU;
use std::fmt::Write as _;
use std::io;
use std::path::{Path, PathBuf};

fn main() -> io::Result<()> {
    let folder = PathBuf::from(
        std::env::args()
            .nth(1)
            .unwrap_or_else(|| "models".to_owned()),
    );
    let (horn, cap, reflector) = (horn(), cap(), reflector());
    write_stl(&folder.join("horn.stl"), "feed horn, mm", &horn)?;
    write_obj(&folder.join("cap.obj"), "# ornamented cap, mm", &cap)?;
    write_stl(
        &folder.join("reflector.stl"),
        "lamp reflector, mm",
        &reflector,
    )?;
    let cap = cap.solid;
    for (name, solid) in [
        ("horn.stl", &horn),
        ("cap.obj", &cap),
        ("reflector.stl", &reflector),
    ] {
        report(name, solid);
    }
    Ok(())
}

/// Bolt holes in the horn's flange.
const BOLTS: usize = 6;
/// Facets of the horn per bolt, round its axis.
const PER_BOLT: usize = 20;
/// Facets of the horn round its axis.
const AROUND: usize = BOLTS * PER_BOLT;

/// A feed horn: flare, round waveguide, flange with six bolt holes. Aperture at z = 0, looking down.
fn horn() -> Solid {
    // down the bore and out along the flare, round the rim, back up outside to the flange; with each
    // point the number of pieces to the next
    let profile = divided(&[
        ([8.0, 60.0], 12),
        ([8.0, 42.0], 28),
        ([22.0, 0.6], 2),
        ([22.6, 0.0], 1),
        ([23.4, 0.0], 2),
        ([24.0, 0.6], 24),
        ([10.5, 42.5], 8),
        ([10.5, 55.0], 1),
    ]);
    let mut solid = Solid::default();
    let loops: Vec<_> = profile
        .iter()
        .map(|&at| circle(&mut solid, at, AROUND))
        .collect();
    for pair in loops.windows(2) {
        strip(&mut solid, &pair[0], &pair[1]);
    }
    let rims = [55.0, 60.0].map(|z| circle(&mut solid, DVec2::new(20.0, z), AROUND));
    strip(&mut solid, &rims[0], &rims[1]);
    let [bore, neck] = [&loops[0], &loops[loops.len() - 1]];
    for bolt in 0..BOLTS {
        let holes = [55.0, 60.0].map(|z| bolt_hole(&mut solid, bolt, z));
        // the wall of the hole looks at its axis
        strip(&mut solid, &holes[1], &holes[0]);
        let below = sector_edge(&mut solid, [neck, &rims[0]], bolt);
        let above = sector_edge(&mut solid, [bore, &rims[1]], bolt);
        fill(&mut solid, &holes[0], &below);
        fill(&mut solid, &above, &holes[1]);
    }
    welded(solid)
}

/// Corners along a spoke of the flange between its inner and its outer edge.
const SPOKE: usize = 7;
/// Corners of a bolt hole: as many as a sector's edge has.
const HOLE: usize = 2 * (PER_BOLT + SPOKE);

/// The edge of one bolt's sector of a flange face, right-handed about +z: inner edge backwards, first
/// spoke, outer edge, second spoke.
fn sector_edge(solid: &mut Solid, [inner, outer]: [&[u32]; 2], bolt: usize) -> Vec<u32> {
    let at = |rim: &[u32], i: usize| rim[(bolt * PER_BOLT + i) % AROUND];
    let mut edge: Vec<u32> = (0..PER_BOLT).map(|i| at(inner, PER_BOLT - i)).collect();
    edge.extend(spoke(solid, at(inner, 0), at(outer, 0)));
    edge.extend((0..PER_BOLT).map(|i| at(outer, i)));
    edge.extend(spoke(solid, at(outer, PER_BOLT), at(inner, PER_BOLT)));
    edge
}

/// Corners along a straight line from one corner, itself included, towards another.
fn spoke(solid: &mut Solid, from: u32, to: u32) -> Vec<u32> {
    let [start, end] = [from, to].map(|corner| solid.vertices[corner as usize]);
    (0..SPOKE)
        .map(|i| match i {
            0 => from,
            // the same sum whichever way the line is walked, so that neighbours weld
            _ => push(
                solid,
                (start * (SPOKE - i) as f64 + end * i as f64) / SPOKE as f64,
            ),
        })
        .collect()
}

/// The rim of a bolt hole, right-handed about +z, each corner towards its partner on the sector's edge.
fn bolt_hole(solid: &mut Solid, bolt: usize, z: f64) -> Vec<u32> {
    let azimuth = TAU * (bolt as f64 + 0.5) / BOLTS as f64;
    let middle = 15.0 * DVec2::from_angle(azimuth);
    let half = TAU / BOLTS as f64 / 2.0;
    let toward = |radius: f64, turned: f64| radius * DVec2::from_angle(azimuth + turned) - middle;
    let share = |i: usize, of: usize| i as f64 / of as f64;
    let (inner, outer) = (9.0, 20.0);
    let radius_at = |i: usize| inner + (outer - inner) * share(i, SPOKE);
    let mut directions = Vec::new();
    directions.extend((0..PER_BOLT).map(|i| toward(inner, half - 2.0 * half * share(i, PER_BOLT))));
    directions.extend((0..SPOKE).map(|i| toward(radius_at(i), -half)));
    directions.extend((0..PER_BOLT).map(|i| toward(outer, 2.0 * half * share(i, PER_BOLT) - half)));
    directions.extend((0..SPOKE).map(|i| toward(radius_at(SPOKE - i), half)));
    assert_eq!(
        directions.len(),
        HOLE,
        "a corner of the hole per corner of the sector"
    );
    let rim = directions
        .into_iter()
        .map(|d| (middle + 2.15 * d.normalize()).extend(z));
    rim.map(|corner| push(solid, corner)).collect()
}

/// Fills the flat space between two loops with three rings of triangles.
fn fill(solid: &mut Solid, from: &[u32], to: &[u32]) {
    let mut last = from.to_vec();
    for ring in 1..=3 {
        let pairs = from.iter().zip(to);
        let next = pairs.map(|(&a, &b)| match ring {
            3 => b,
            _ => {
                let [start, end] = [a, b].map(|corner| solid.vertices[corner as usize]);
                push(solid, start.lerp(end, f64::from(ring) / 3.0))
            }
        });
        let next: Vec<u32> = next.collect();
        strip(solid, &last, &next);
        last = next;
    }
}

/// A solid whose rows have names.
struct Named {
    solid: Solid,
    /// Name and first row.
    objects: Vec<(&'static str, usize)>,
}

/// An ornamented cap: a closed dome of twelve lobes with a bead round its foot and a knob.
fn cap() -> Named {
    const SIDES: usize = 144;
    // profile of the turned body from the foot's middle outward and up; the lobes come on top
    let dome = |t: f64| DVec2::new(13.0 * (1.0 - 0.9 * t * t).max(0.0).sqrt(), 4.0 + 12.0 * t);
    let mut profile: Vec<DVec2> = (1..=8)
        .map(|i| DVec2::new(14.0 * f64::from(i) / 8.0, 0.0))
        .collect();
    let bead = (1..=10).map(|i| {
        let turned = TAU / 2.0 * f64::from(i) / 10.0 - TAU / 4.0;
        DVec2::new(14.0, 1.5) + 1.5 * DVec2::from_angle(turned)
    });
    profile.extend(bead);
    let foot = profile.len();
    profile.extend((0..=28).map(|i| dome(f64::from(i) / 28.0)));
    let dome_end = profile.len();
    let knob = (4..=15).map(|i| {
        let turned = TAU / 2.0 * f64::from(i) / 16.0 - TAU / 4.0;
        DVec2::new(0.0, 19.0) + 3.5 * DVec2::from_angle(turned)
    });
    profile.extend(knob);
    let mut solid = Solid::default();
    let mut loops = Vec::new();
    for (ring, &at) in profile.iter().enumerate() {
        let depth = match ring {
            // lobes fade in from the foot and out towards the knob
            ring if (foot..dome_end).contains(&ring) => {
                let t = (ring - foot) as f64 / (dome_end - 1 - foot) as f64;
                0.9 * (TAU / 2.0 * t).sin().powf(0.7)
            }
            _ => 0.0,
        };
        let corners = (0..SIDES).map(|side| {
            let azimuth = TAU * side as f64 / SIDES as f64;
            let lobe = (6.0 * azimuth).cos().abs(); // twelve lobes with sharp valleys between
            let radius = at.x - depth * (1.0 - lobe);
            push(
                &mut solid,
                (radius * DVec2::from_angle(azimuth)).extend(at.y),
            )
        });
        loops.push(corners.collect::<Vec<_>>());
    }
    let mut objects = vec![("foot", 0)];
    let starts = [("dome", foot - 1), ("knob", dome_end - 1)];
    let bottom = push(&mut solid, DVec3::ZERO);
    fan(
        &mut solid,
        bottom,
        &loops[0].iter().rev().copied().collect::<Vec<_>>(),
    );
    for (ring, pair) in loops.windows(2).enumerate() {
        for (name, _) in starts.iter().filter(|(_, start)| *start == ring) {
            objects.push((*name, solid.triangles.len()));
        }
        strip(&mut solid, &pair[0], &pair[1]);
    }
    let top = push(&mut solid, DVec3::new(0.0, 0.0, 22.5));
    fan(&mut solid, top, &loops[loops.len() - 1]);
    Named { solid, objects }
}

/// A lamp reflector: a thin paraboloid, open below, with a collar for the lamp. Opening at z = 0.
fn reflector() -> Solid {
    const SIDES: usize = 120;
    const FOCUS: f64 = 16.0; // focal length of the bright side
    let depth = |radius: f64| 25.0 - radius * radius / (4.0 * FOCUS);
    let mut profile = Vec::new();
    // bright side from the rim (radius 40, z 0) to the collar (radius 7), then the collar up and back
    profile.extend((0..=44).map(|i| {
        let radius = 40.0 - 33.0 * f64::from(i) / 44.0;
        DVec2::new(radius, depth(radius))
    }));
    profile.extend((1..=10).map(|i| DVec2::new(7.0, depth(7.0) + 1.2 * f64::from(i))));
    let top = depth(7.0) + 12.0;
    profile.extend((0..=7).map(|i| DVec2::new(9.0, top - 1.32 * f64::from(i))));
    profile.extend((1..=32).map(|i| {
        let radius = 9.0 + 32.8 * f64::from(i) / 32.0;
        DVec2::new(radius, depth(radius) + 2.0)
    }));
    profile.push(DVec2::new(41.8, 0.0));
    let mut solid = Solid::default();
    let loops: Vec<_> = profile
        .iter()
        .map(|&at| circle(&mut solid, at, SIDES))
        .collect();
    for i in 0..loops.len() {
        strip(&mut solid, &loops[(i + 1) % loops.len()], &loops[i]);
    }
    solid
}

/// Straight pieces between waypoints, each waypoint given with the number of pieces that follow it.
fn divided(waypoints: &[([f64; 2], u32)]) -> Vec<DVec2> {
    let mut points = Vec::new();
    for pair in waypoints.windows(2) {
        let [from, to] = [pair[0].0, pair[1].0].map(DVec2::from_array);
        let pieces = pair[0].1;
        points.extend((0..pieces).map(|i| from.lerp(to, f64::from(i) / f64::from(pieces))));
    }
    points.extend(waypoints.last().map(|last| DVec2::from_array(last.0)));
    points
}

fn push(solid: &mut Solid, at: DVec3) -> u32 {
    solid.vertices.push(at);
    u32::try_from(solid.vertices.len() - 1).expect("these meshes have far fewer corners")
}

/// A circle of corners about z, right-handed about +z; `at` is (radius, z).
fn circle(solid: &mut Solid, at: DVec2, sides: usize) -> Vec<u32> {
    let corner = |side| (at.x * DVec2::from_angle(TAU * side as f64 / sides as f64)).extend(at.y);
    (0..sides).map(|side| push(solid, corner(side))).collect()
}

/// The strip between two loops.
fn strip(solid: &mut Solid, low: &[u32], high: &[u32]) {
    for i in 0..low.len() {
        let j = (i + 1) % low.len();
        solid.triangles.push([low[i], low[j], high[j]]);
        solid.triangles.push([low[i], high[j], high[i]]);
    }
}

fn fan(solid: &mut Solid, tip: u32, rim: &[u32]) {
    for i in 0..rim.len() {
        solid
            .triangles
            .push([tip, rim[i], rim[(i + 1) % rim.len()]]);
    }
}

/// Merges corners that agree to a nanometre (spokes are drawn from both sides).
fn welded(solid: Solid) -> Solid {
    let mut known = std::collections::BTreeMap::new();
    let mut vertices: Vec<DVec3> = Vec::new();
    let renumbered: Vec<u32> = solid
        .vertices
        .iter()
        .map(|&at| {
            #[expect(
                clippy::cast_possible_truncation,
                reason = "micrometres of a part of some 100 mm"
            )]
            let cell = (at * 1e6).round().to_array().map(|x| x as i64);
            *known.entry(cell).or_insert_with(|| {
                vertices.push(at);
                u32::try_from(vertices.len() - 1).expect("these meshes have far fewer corners")
            })
        })
        .collect();
    let rows = solid.triangles.iter();
    let triangles = rows
        .map(|row| row.map(|corner| renumbered[corner as usize]))
        .collect();
    Solid {
        vertices,
        triangles,
    }
}

/// Binary STL.
fn write_stl(path: &Path, title: &str, solid: &Solid) -> io::Result<()> {
    let mut bytes = format!("{title:80}").into_bytes();
    let rows = u32::try_from(solid.triangles.len()).expect("these meshes have far fewer rows");
    bytes.extend(rows.to_le_bytes());
    for corners in solid.corners() {
        let [a, b, c] = corners;
        let normal = (b - a).cross(c - a).normalize_or_zero();
        for vector in [normal, a, b, c] {
            let numbers = vector.as_vec3().to_array();
            bytes.extend(numbers.iter().flat_map(|x| (x + 0.0).to_le_bytes()));
        }
        bytes.extend([0, 0]);
    }
    std::fs::write(path, bytes)
}

/// OBJ with one object per name.
fn write_obj(path: &Path, title: &str, named: &Named) -> io::Result<()> {
    let mut text = format!("{title}\n");
    for v in &named.solid.vertices {
        let [x, y, z] = v.to_array().map(|x| (x * 1e4).round() / 1e4 + 0.0);
        let _ = writeln!(text, "v {x} {y} {z}");
    }
    for (row, [a, b, c]) in named.solid.triangles.iter().enumerate() {
        for (name, _) in named.objects.iter().filter(|object| object.1 == row) {
            let _ = writeln!(text, "o {name}");
        }
        let _ = writeln!(text, "f {} {} {}", a + 1, b + 1, c + 1);
    }
    std::fs::write(path, text)
}

fn report(name: &str, solid: &Solid) {
    let [low, high] = bounds(solid.vertices.iter().copied()).expect("these meshes have corners");
    println!(
        "{name}: {} triangles, {} corners, size {:.3} mm, area {:.3} mm2, volume {:.3} mm3",
        solid.triangles.len(),
        solid.vertices.len(),
        high - low,
        solid.area_m2(),
        solid.volume_m3()
    );
}
