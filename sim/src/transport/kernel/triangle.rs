//! The triangle test: exact about edges, in f64 about depth.
//!
//! In: a ready ray and three corners. Out: where they meet. See the head of [`super`].

use super::ray::Ray;

/// Where a line meets a triangle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Meeting {
    /// Distance along the ray's longest axis, negative behind the origin.
    pub depth: f64,
    /// Weight of the second corner.
    pub second: f64,
    /// Weight of the third corner.
    pub third: f64,
    /// The ray comes from the side of the corner-order normal.
    pub from_front: bool,
}

/// Corners of a triangle.
pub(super) type Corners = [[f32; 3]; 3];

/// A corner as the ray sees it: across, across, along.
pub(super) type Seen = [f64; 3];

/// The corner in the ray's plane.
#[inline(always)]
fn seen(ray: &Ray, corner: [f32; 3]) -> Seen {
    let [x, y, z] = ray.axes;
    let along = f64::from(corner[z]) - ray.origin[z];
    [
        (f64::from(corner[x]) - ray.origin[x]) - ray.shear[0] * along,
        (f64::from(corner[y]) - ray.origin[y]) - ray.shear[1] * along,
        ray.sign * along,
    ]
}

/// Twice the area of the plane triangle (0, a, b), with the exact sign.
#[inline(always)]
pub(super) fn edge(a: Seen, b: Seen) -> f64 {
    let (left, right) = (a[0] * b[1], a[1] * b[0]);
    let area = left - right;
    if area == 0.0 {
        a[0].mul_add(b[1], -left) - a[1].mul_add(b[0], -right)
    } else {
        area
    }
}

/// Where the line of the ray, endless both ways, meets the closed triangle.
#[inline(always)]
pub(super) fn meet(ray: &Ray, corners: &Corners) -> Option<Meeting> {
    let (a, b, c) = (
        seen(ray, corners[0]),
        seen(ray, corners[1]),
        seen(ray, corners[2]),
    );
    let (u, v, w) = (edge(b, c), edge(c, a), edge(a, b));
    let none_negative = u >= 0.0 && v >= 0.0 && w >= 0.0;
    let none_positive = u <= 0.0 && v <= 0.0 && w <= 0.0;
    let area = u + v + w;
    if !(none_negative || none_positive) || area == 0.0 {
        return None;
    }
    let depth = (u * a[2] + v * b[2] + w * c[2]) / area;
    let (least, most) = (a[2].min(b[2]).min(c[2]), a[2].max(b[2]).max(c[2]));
    Some(Meeting {
        depth: depth.clamp(least, most),
        second: v / area,
        third: w / area,
        from_front: area < 0.0,
    })
}

/// True when the triangle is the one that a closed surface offers to a line moved aside by nothing:
/// of all triangles at a shared edge or corner, just as many as the moved line would meet.
///
/// The line moves by (ε, ε²), ε → 0, which changes the area of (0, a, b) by −ε·(b−a)_y + ε²·(b−a)_x: where the
/// area is 0, the first of these that is not 0 has the sign. (After Edelsbrunner and Mücke, "Simulation
/// of simplicity", ACM Trans. Graph. 9(1), 1990.)
pub(super) fn owns(ray: &Ray, corners: &Corners) -> bool {
    let (a, b, c) = (
        seen(ray, corners[0]),
        seen(ray, corners[1]),
        seen(ray, corners[2]),
    );
    let side = |a: Seen, b: Seen| {
        [edge(a, b), a[1] - b[1], b[0] - a[0]]
            .into_iter()
            .find(|term| *term != 0.0)
            .unwrap_or(0.0)
    };
    let (u, v, w) = (side(b, c), side(c, a), side(a, b));
    (u > 0.0 && v > 0.0 && w > 0.0) || (u < 0.0 && v < 0.0 && w < 0.0)
}
