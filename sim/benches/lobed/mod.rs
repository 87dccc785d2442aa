//! The body that rays are sent at: a lobed one of about 40 mm radius with undercuts.

use glam::{DVec3, Vec3};
use std::f64::consts::{PI, TAU};

/// A sphere of 40 mm with deep waves and fine ones, closed but for the last `open` rings: 2 · rings · (rings − 1) triangles less those.
pub fn lobed(rings: usize, open: usize) -> Vec<[Vec3; 3]> {
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
