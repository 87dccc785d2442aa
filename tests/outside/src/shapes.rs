//! The bodies that rays are sent at.
//!
//! Out: triangles in metres: a closed lobed body of about 40 mm radius with undercuts, fine waves on coarse ones, and
//! the same cut open.

#[path = "../../../sim/benches/lobed/mod.rs"]
mod lobed;

use glam::Vec3;
use lobed::lobed;

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
