//! Tracers written in Rust: obvhs's own two traversals and parry3d's.

use crate::sets::Line;
use glam::Vec3;
use obvhs::BvhBuildParams;
use obvhs::bvh2::{Bvh2, builder::build_bvh2};
use obvhs::cwbvh::{CwBvh, builder::build_cwbvh};
use obvhs::ray::{Ray, RayHit};
use obvhs::triangle::Triangle;
use parry3d::query::{Ray as ParryRay, RayCast};
use parry3d::shape::TriMesh;
use std::time::Duration;

/// obvhs's two hierarchies.
pub struct Obvhs {
    triangles: Vec<Triangle>,
    two: Bvh2,
    wide: CwBvh,
}

/// Rays in obvhs's layout.
pub fn obvhs_rays(lines: &[Line]) -> Vec<Ray> {
    let ray = |line: &Line| {
        let near = if line.skip.is_some() { 1e-5 } else { 0.0 };
        Ray::new(
            line.origin.as_vec3().to_array().into(),
            line.direction.as_vec3().to_array().into(),
            near,
            line.end as f32,
        )
    };
    lines.iter().map(ray).collect()
}

impl Obvhs {
    pub fn new(corners: &[[Vec3; 3]]) -> Self {
        let triangles: Vec<Triangle> = corners
            .iter()
            .map(|[a, b, c]| Triangle {
                v0: a.to_array().into(),
                v1: b.to_array().into(),
                v2: c.to_array().into(),
            })
            .collect();
        let mut took = Duration::ZERO;
        let two = build_bvh2(&triangles, BvhBuildParams::medium_build(), &mut took);
        let wide = build_cwbvh(&triangles, BvhBuildParams::medium_build(), &mut took);
        Self {
            triangles,
            two,
            wide,
        }
    }

    pub fn two_blocked(&self, rays: &[Ray]) -> usize {
        let meet = |ray: &Ray, k: usize| {
            self.triangles[self.two.primitive_indices[k] as usize].intersect(ray)
        };
        rays.iter()
            .filter(|ray| !self.two.ray_traverse_miss(**ray, meet))
            .count()
    }

    pub fn two_first(&self, rays: &[Ray]) -> usize {
        let meet = |ray: &Ray, k: usize| {
            self.triangles[self.two.primitive_indices[k] as usize].intersect(ray)
        };
        rays.iter()
            .filter(|ray| self.two.ray_traverse(**ray, &mut RayHit::none(), meet))
            .count()
    }

    pub fn wide_blocked(&self, rays: &[Ray]) -> usize {
        let meet = |ray: &Ray, k: usize| {
            self.triangles[self.wide.primitive_indices[k] as usize].intersect(ray)
        };
        rays.iter()
            .filter(|ray| !self.wide.ray_traverse_miss(**ray, meet))
            .count()
    }

    pub fn wide_first(&self, rays: &[Ray]) -> usize {
        let meet = |ray: &Ray, k: usize| {
            self.triangles[self.wide.primitive_indices[k] as usize].intersect(ray)
        };
        rays.iter()
            .filter(|ray| self.wide.ray_traverse(**ray, &mut RayHit::none(), meet))
            .count()
    }
}

/// parry3d's mesh.
pub struct Parry(TriMesh);

/// Rays in parry3d's layout with their ends; starts are moved off their triangle.
pub fn parry_rays(lines: &[Line]) -> Vec<(ParryRay, f32)> {
    let vector = |v: Vec3| parry3d::math::Vector::from_array(v.to_array());
    lines
        .iter()
        .map(|line| {
            let near = if line.skip.is_some() { 1e-5 } else { 0.0 };
            let origin = line.origin + line.direction * near;
            let ray = ParryRay::new(vector(origin.as_vec3()), vector(line.direction.as_vec3()));
            (ray, line.end as f32)
        })
        .collect()
}

impl Parry {
    pub fn new(corners: &[[Vec3; 3]]) -> Result<Self, String> {
        let vertices = corners
            .iter()
            .flatten()
            .map(|c| parry3d::math::Vector::from_array(c.to_array()))
            .collect();
        let rows = (0..corners.len() as u32)
            .map(|k| [3 * k, 3 * k + 1, 3 * k + 2])
            .collect();
        TriMesh::new(vertices, rows)
            .map(Self)
            .map_err(|e| format!("{e:?}"))
    }

    pub fn blocked(&self, rays: &[(ParryRay, f32)]) -> usize {
        rays.iter()
            .filter(|(ray, end)| self.0.intersects_local_ray(ray, *end))
            .count()
    }

    pub fn first(&self, rays: &[(ParryRay, f32)]) -> usize {
        rays.iter()
            .filter(|(ray, end)| self.0.cast_local_ray(ray, *end, false).is_some())
            .count()
    }
}
