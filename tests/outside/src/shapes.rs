//! The bodies that rays are sent at.
//!
//! Out: triangles in metres: a closed lobed body of about 40 mm radius with undercuts, fine waves on coarse ones, and
//! the same cut open.

use glam::{DVec3, Vec3};
use std::f64::consts::{PI, TAU};

/// A body and its name.
pub struct Shape {
    pub name: &'static str,
    pub triangles: Vec<[Vec3; 3]>,
}

/// 60 thousand closed, 200 thousand open, 870 thousand closed.
pub fn all() -> Vec<Shape> {
    let shape = |name, rings, open| Shape {
        name,
        triangles: lobed(rings, open),
    };
    vec![
        shape("60k closed", 174, 0),
        shape("200k open", 335, 35),
        shape("870k closed", 660, 0),
    ]
}

/// A sphere of 40 mm with deep waves and fine ones: 2 · rings · (rings − 1) triangles, less those of the `open` rings
/// nearest to the source.
fn lobed(rings: usize, open: usize) -> Vec<[Vec3; 3]> {
    let corner = |i: usize, k: usize| {
        let polar = i as f64 / rings as f64 * PI;
        let turn = (k % rings) as f64 / rings as f64 * TAU;
        let across = if i == 0 || i == rings {
            0.0
        } else {
            polar.sin()
        };
        let out = DVec3::new(across * turn.cos(), across * turn.sin(), -polar.cos());
        let deep = (9.0 * out.x).sin() * (8.0 * out.y).sin() * (7.0 * out.z).cos();
        let fine = (61.0 * out.x).sin() * (67.0 * out.y).sin() * (71.0 * out.z).cos();
        (out * 0.04 * (1.0 + 0.25 * deep + 0.01 * fine)).as_vec3()
    };
    let mut triangles = Vec::new();
    for i in 0..rings - open {
        for k in 0..rings {
            let [a, b] = [corner(i, k), corner(i, k + 1)];
            let [c, d] = [corner(i + 1, k + 1), corner(i + 1, k)];
            if i > 0 {
                triangles.push([a, b, c]);
            }
            if i + 1 < rings {
                triangles.push([a, c, d]);
            }
        }
    }
    triangles
}
