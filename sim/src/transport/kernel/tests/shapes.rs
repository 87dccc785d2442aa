//! Meshes and numbers for the checks. Corners are shared by index, so they agree bit for bit.

use glam::{DQuat, DVec3, Vec3};
use std::f64::consts::TAU;

/// SplitMix64 (Steele, Lea, Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014).
pub struct Dice(pub u64);

impl Dice {
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in 0..1.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform below `count`.
    pub fn below(&mut self, count: usize) -> usize {
        usize::try_from(self.bits() % count as u64).unwrap()
    }

    /// Uniform in the cube −1..1.
    pub fn cube(&mut self) -> DVec3 {
        DVec3::new(self.unit(), self.unit(), self.unit()) * 2.0 - DVec3::ONE
    }

    /// Uniform on the sphere of directions.
    pub fn direction(&mut self) -> DVec3 {
        loop {
            let v = self.cube();
            if v.length_squared() < 1.0 && v.length_squared() > 1e-4 {
                return v.normalize();
            }
        }
    }
}

/// A mesh with the corners as the kernel has them.
#[derive(Clone)]
pub struct Shape {
    pub name: &'static str,
    pub corners: Vec<Vec3>,
    pub triangles: Vec<[usize; 3]>,
    /// A point inside, far from the surface.
    pub inside: DVec3,
    /// Its half-width is about this.
    pub scale: f64,
}

impl Shape {
    pub fn soup(&self) -> Vec<[Vec3; 3]> {
        self.triangles
            .iter()
            .map(|t| t.map(|i| self.corners[i]))
            .collect()
    }

    /// Scaled, then moved, then rounded.
    pub fn placed(mut self, scale: f64, shift: DVec3) -> Self {
        for corner in &mut self.corners {
            *corner = (corner.as_dvec3() * scale + shift).as_vec3();
        }
        self.inside = self.inside * scale + shift;
        self.scale *= scale;
        self
    }

    /// Turned and moved, then rounded: edges in general position.
    pub fn turned(mut self, dice: &mut Dice) -> Self {
        let turn = DQuat::from_axis_angle(dice.direction(), dice.unit() * TAU);
        let shift = dice.cube() * 0.3;
        for corner in &mut self.corners {
            *corner = (turn * corner.as_dvec3() + shift).as_vec3();
        }
        self.inside = turn * self.inside + shift;
        self
    }
}

/// A profile of (radius, height) turned about z; radius 0 closes the ends. Outward normals for a
/// profile that runs upward outside.
fn lathe(name: &'static str, profile: &[(f64, f64)], around: usize, inside: DVec3) -> Shape {
    let mut corners = Vec::new();
    let mut rings = Vec::new();
    for &(radius, height) in profile {
        let first = corners.len();
        let count = if radius == 0.0 { 1 } else { around };
        for k in 0..count {
            let angle = k as f64 / around as f64 * TAU;
            corners.push(DVec3::new(radius * angle.cos(), radius * angle.sin(), height).as_vec3());
        }
        rings.push((first, count));
    }
    let mut triangles = Vec::new();
    for pair in rings.windows(2) {
        let at = |(first, count): (usize, usize), k: usize| first + k % count;
        for k in 0..around {
            let quad = [
                at(pair[0], k),
                at(pair[0], k + 1),
                at(pair[1], k + 1),
                at(pair[1], k),
            ];
            if pair[0].1 > 1 {
                triangles.push([quad[0], quad[1], quad[2]]);
            }
            if pair[1].1 > 1 {
                triangles.push([quad[0], quad[2], quad[3]]);
            }
        }
    }
    Shape {
        name,
        corners,
        triangles,
        inside,
        scale: 1.0,
    }
}

pub fn sphere(rings: usize, around: usize) -> Shape {
    let profile: Vec<(f64, f64)> = (0..=rings)
        .map(|k| {
            let angle = k as f64 / rings as f64 * TAU / 2.0;
            let radius = if k == 0 || k == rings {
                0.0
            } else {
                angle.sin()
            };
            (radius, -angle.cos())
        })
        .collect();
    lathe("sphere", &profile, around, DVec3::new(0.07, -0.11, 0.05))
}

pub fn torus(along: usize, around: usize) -> Shape {
    let mut corners = Vec::new();
    let mut triangles = Vec::new();
    for i in 0..along {
        for k in 0..around {
            let (p, q) = (
                i as f64 / along as f64 * TAU,
                k as f64 / around as f64 * TAU,
            );
            let radius = 0.7 + 0.25 * q.cos();
            let corner = DVec3::new(radius * p.cos(), radius * p.sin(), 0.25 * q.sin());
            corners.push(corner.as_vec3());
            let at = |i: usize, k: usize| (i % along) * around + k % around;
            triangles.push([at(i, k), at(i + 1, k), at(i + 1, k + 1)]);
            triangles.push([at(i, k), at(i + 1, k + 1), at(i, k + 1)]);
        }
    }
    Shape {
        name: "torus",
        corners,
        triangles,
        inside: DVec3::new(0.71, 0.02, 0.03),
        scale: 1.0,
    }
}

/// A cup with a knife rim, a step and a thick bottom.
pub fn cup(around: usize) -> Shape {
    let profile = [
        (0.0, -0.5),
        (0.5, -0.5),
        (0.55, -0.1),
        (0.8, -0.1),
        (0.8, 0.6),
        (0.55, 0.1),
        (0.4, -0.2),
        (0.0, -0.2),
    ];
    lathe("cup", &profile, around, DVec3::new(0.03, 0.05, -0.34))
}

/// A cube of half-width 1 around a cube of half-width `1 − wall`; the hollow is the cavity.
pub fn box_with_hollow(wall: f64, cells: usize) -> Shape {
    let mut shape = Shape {
        name: "box",
        corners: vec![],
        triangles: vec![],
        inside: DVec3::new(0.1, 0.2, -0.15),
        scale: 1.0,
    };
    add_cube(&mut shape, 1.0, cells);
    let outer = shape.triangles.len();
    add_cube(&mut shape, 1.0 - wall, cells);
    for triangle in &mut shape.triangles[outer..] {
        triangle.swap(1, 2);
    }
    shape
}

pub fn cube(cells: usize) -> Shape {
    let mut shape = Shape {
        name: "cube",
        corners: vec![],
        triangles: vec![],
        inside: DVec3::new(0.1, 0.2, -0.15),
        scale: 1.0,
    };
    add_cube(&mut shape, 1.0, cells);
    shape
}

/// Corners are equal in value along the cube's edges, as the same expression makes them.
fn add_cube(shape: &mut Shape, half: f64, cells: usize) {
    let grid = |k: usize| half * (2.0 * k as f64 / cells as f64 - 1.0);
    for axis in 0..3 {
        for side in [0, cells] {
            let first = shape.corners.len();
            for i in 0..=cells {
                for k in 0..=cells {
                    let mut corner = [0.0; 3];
                    corner[axis] = grid(side);
                    corner[(axis + 1) % 3] = grid(i);
                    corner[(axis + 2) % 3] = grid(k);
                    shape.corners.push(DVec3::from_array(corner).as_vec3());
                }
            }
            let at = |i: usize, k: usize| first + i * (cells + 1) + k;
            for i in 0..cells {
                for k in 0..cells {
                    let mut pair = [
                        [at(i, k), at(i + 1, k), at(i + 1, k + 1)],
                        [at(i, k), at(i + 1, k + 1), at(i, k + 1)],
                    ];
                    if side == 0 {
                        pair.iter_mut().for_each(|t| t.swap(1, 2));
                    }
                    shape.triangles.extend(pair);
                }
            }
        }
    }
}

/// Closed meshes straight on the axes and turned.
pub fn closed() -> Vec<Shape> {
    let straight = [
        sphere(24, 48),
        torus(40, 20),
        cup(64),
        box_with_hollow(0.01, 4),
        cube(1),
        sphere(3, 5),
    ];
    let mut dice = Dice(7);
    let turned: Vec<Shape> = straight
        .iter()
        .map(|s| s.clone().turned(&mut dice))
        .collect();
    straight.into_iter().chain(turned).collect()
}
