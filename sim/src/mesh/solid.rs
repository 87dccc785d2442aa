//! Solids: whether a point is inside a closed shell, and whether two shells touch.
//!
//! In: triangles in f64. Out: answers that are certain, or that say they are not: every sign is
//! compared with a bound on its rounding error.

use super::Mesh;
use super::boxes::{Bounds, Tree};
use glam::DVec3;

/// Relative rounding error of a triple product of differences: three roundings of differences, two
/// of products and two of sums for each of its terms, with a factor of 4 to spare.
const ROUNDING: f64 = 32.0 * f64::EPSILON;

/// Directions of test rays: no two components are in a simple ratio, so that they miss the edges of
/// meshes drawn along axes and diagonals. If one grazes an edge, the next is tried.
const DIRECTIONS: [DVec3; 8] = [
    DVec3::new(0.613, 0.351, 0.709),
    DVec3::new(-0.267, 0.819, 0.509),
    DVec3::new(0.431, -0.857, 0.283),
    DVec3::new(-0.743, -0.311, -0.593),
    DVec3::new(0.187, 0.271, -0.947),
    DVec3::new(0.907, -0.113, -0.419),
    DVec3::new(-0.521, 0.142, 0.839),
    DVec3::new(-0.091, -0.977, 0.197),
];

/// How near two surfaces come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Contact {
    /// No point in common, for certain.
    Apart,
    /// Perhaps points in common, none of them certainly a passage from side to side.
    Touching,
    /// One passes through the other, for certain.
    Crossing,
}

/// A closed shell whose triangles agree and point outward, with a tree over them.
pub(super) struct Solid<'a> {
    mesh: &'a Mesh,
    rows: Vec<u32>,
    tree: Tree,
}

impl<'a> Solid<'a> {
    /// Takes the rows of a shell.
    pub fn new(mesh: &'a Mesh, rows: Vec<u32>) -> Self {
        let bounds = |row: u32| Bounds::of(mesh.corners(row as usize));
        let tree = Tree::over(rows.clone(), bounds);
        Self { mesh, rows, tree }
    }

    /// Its rows in ascending order.
    pub fn rows(&self) -> &[u32] {
        &self.rows
    }

    /// Its box.
    pub fn bounds(&self) -> Bounds {
        self.tree.bounds()
    }

    /// How often the shell winds around a point: 0 outside, 1 inside a simple solid. `None` if the
    /// point is on the surface or every test ray grazes an edge.
    ///
    /// Σ sign(n · d) over the triangles that a ray along d from the point meets.
    pub fn winding(&self, point: DVec3) -> Option<i32> {
        if !self.bounds().meets(&Bounds::of([point])) {
            return Some(0);
        }
        DIRECTIONS.iter().find_map(|direction| {
            let direction = direction.normalize();
            let mut sum = Some(0);
            self.tree.along(point, direction, |row| {
                let corners = self.mesh.corners(row as usize).map(|corner| corner - point);
                sum = sum
                    .zip(passage(corners, direction))
                    .map(|(sum, one)| sum + one);
            });
            sum
        })
    }

    /// The winding number of `other` around this shell, if the shell lies in it as a whole: asked at
    /// a few corners, which must agree; those on the surface of `other` are left out.
    pub fn winding_of(&self, other: &Self) -> i32 {
        if !other.bounds().holds(&self.bounds()) {
            return 0;
        }
        let asked = 7;
        let step = self.rows.len().div_ceil(asked);
        let mut found = None;
        for row in self.rows.iter().step_by(step) {
            let corner = self.mesh.corners(*row as usize)[0];
            match (other.winding(corner), found) {
                (None, _) => {}
                (winding, None) => found = winding,
                (winding, _) if winding == found => {}
                _ => return 0,
            }
        }
        found.unwrap_or(0)
    }

    /// How near two shells come; `Touching` also if that takes more than `steps`.
    pub fn contact(&self, other: &Self, steps: u64) -> Contact {
        let mut contact = Contact::Apart;
        let ended = self.tree.pairs(&other.tree, steps, |own, others| {
            let own = self.mesh.corners(own as usize);
            let others = self.mesh.corners(others as usize);
            contact = contact.max(triangles_contact(own, others));
            contact != Contact::Crossing
        });
        if ended {
            contact
        } else {
            contact.max(Contact::Touching)
        }
    }
}

/// +1 if a ray from the origin leaves through the triangle's front, −1 if it enters, 0 if it misses;
/// `None` if rounding could decide.
fn passage([a, b, c]: [DVec3; 3], direction: DVec3) -> Option<i32> {
    let lengths = [a.length(), b.length(), c.length()];
    let sides = [
        sign(direction.dot(a.cross(b)), lengths[0] * lengths[1]),
        sign(direction.dot(b.cross(c)), lengths[1] * lengths[2]),
        sign(direction.dot(c.cross(a)), lengths[2] * lengths[0]),
    ];
    if sides.contains(&1) && sides.contains(&-1) {
        return Some(0);
    }
    let through = sides[0];
    let ahead = sign(a.dot(b.cross(c)), lengths[0] * lengths[1] * lengths[2]);
    // Certainly behind: the edges do not matter.
    let seen = sides.iter().sum::<i32>().signum();
    if seen != 0 && ahead == -seen {
        return Some(0);
    }
    if sides.contains(&0) || ahead == 0 {
        return None;
    }
    Some(through)
}

/// Sign of a triple product of vectors whose lengths multiply to `magnitude`; 0 if it is uncertain.
fn sign(value: f64, magnitude: f64) -> i32 {
    let bound = ROUNDING * magnitude;
    i32::from(value > bound) - i32::from(value < -bound)
}

/// Side of the plane of a triangle on which a point lies; 0 if it is uncertain.
fn side([a, b, c]: [DVec3; 3], point: DVec3) -> i32 {
    let [a, b, c] = [a - point, b - point, c - point];
    sign(a.dot(b.cross(c)), a.length() * b.length() * c.length())
}

fn triangles_contact(one: [DVec3; 3], other: [DVec3; 3]) -> Contact {
    if !Bounds::of(one).meets(&Bounds::of(other)) {
        return Contact::Apart;
    }
    let others_sides = other.map(|corner| side(one, corner));
    let own_sides = one.map(|corner| side(other, corner));
    let all = |sides: [i32; 3], wanted| sides == [wanted; 3];
    if [1, -1]
        .iter()
        .any(|wanted| all(others_sides, *wanted) || all(own_sides, *wanted))
    {
        return Contact::Apart;
    }
    if pierces(one, other, others_sides) || pierces(other, one, own_sides) {
        return Contact::Crossing;
    }
    if separated(one, other) {
        Contact::Apart
    } else {
        Contact::Touching
    }
}

/// True if an edge of `other` certainly passes through the inside of `triangle`; `sides` are those
/// of the other's corners.
fn pierces(triangle: [DVec3; 3], other: [DVec3; 3], sides: [i32; 3]) -> bool {
    let [a, b, c] = triangle;
    (0..3).any(|corner| {
        let next = (corner + 1) % 3;
        let (from, to) = (other[corner], other[next]);
        sides[corner] * sides[next] == -1 && {
            let turns = [
                side([from, a, b], to),
                side([from, b, c], to),
                side([from, c, a], to),
            ];
            turns == [1; 3] || turns == [-1; 3]
        }
    })
}

/// True if a plane certainly separates two triangles: one along an edge of each, or in the plane of
/// one through an edge of it.
fn separated(one: [DVec3; 3], other: [DVec3; 3]) -> bool {
    let origin = one[0];
    let one = one.map(|corner| corner - origin);
    let other = other.map(|corner| corner - origin);
    let edges = |[a, b, c]: [DVec3; 3]| [b - a, c - b, a - c];
    let (own_edges, other_edges) = (edges(one), edges(other));
    let normals = [
        own_edges[0].cross(own_edges[1]),
        other_edges[0].cross(other_edges[1]),
    ];
    let reach = one
        .iter()
        .chain(&other)
        .map(|corner| corner.length())
        .fold(0.0, f64::max);
    let splits = |axis: DVec3| {
        let span = |corners: [DVec3; 3]| {
            let places = corners.map(|corner| corner.dot(axis));
            let low = places.into_iter().fold(f64::INFINITY, f64::min);
            let high = places.into_iter().fold(f64::NEG_INFINITY, f64::max);
            (low, high)
        };
        let ((low, high), (other_low, other_high)) = (span(one), span(other));
        let slack = ROUNDING * reach * axis.length();
        other_low - high > slack || low - other_high > slack
    };
    own_edges
        .iter()
        .flat_map(|own| other_edges.iter().map(|other| own.cross(*other)))
        .chain(own_edges.iter().map(|edge| edge.cross(normals[0])))
        .chain(other_edges.iter().map(|edge| edge.cross(normals[1])))
        .any(splits)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn triangle(corners: [[f64; 3]; 3]) -> [DVec3; 3] {
        corners.map(DVec3::from_array)
    }

    const FLAT: [[f64; 3]; 3] = [[0.0, 0.0, 0.0], [2.0, 0.0, 0.0], [0.0, 2.0, 0.0]];

    #[test]
    fn a_needle_through_a_triangle_crosses_it() {
        let through = triangle([[0.3, 0.3, -1.0], [0.3, 0.3, 1.0], [5.0, 0.3, 1.0]]);
        let flat = triangle(FLAT);
        assert_eq!(triangles_contact(flat, through), Contact::Crossing);
        assert_eq!(triangles_contact(through, flat), Contact::Crossing);
    }

    #[test]
    fn a_triangle_standing_on_another_touches_it() {
        let standing = triangle([[0.3, 0.3, 0.0], [0.3, 0.3, 1.0], [5.0, 0.3, 1.0]]);
        assert_eq!(
            triangles_contact(triangle(FLAT), standing),
            Contact::Touching
        );
    }

    #[test]
    fn triangles_side_by_side_in_one_plane_are_apart() {
        let beside = triangle([[1.5, 1.5, 0.0], [3.0, 1.5, 0.0], [1.5, 3.0, 0.0]]);
        assert_eq!(triangles_contact(triangle(FLAT), beside), Contact::Apart);
    }

    #[test]
    fn triangles_whose_planes_cross_elsewhere_are_apart() {
        let aside = triangle([[1.2, 1.2, -1.0], [1.2, 1.2, 1.0], [5.0, 1.2, 1.0]]);
        assert_eq!(triangles_contact(triangle(FLAT), aside), Contact::Apart);
    }

    #[test]
    fn a_ray_through_an_edge_is_not_decided() {
        let down = triangle([[-1.0, 0.0, 1.0], [1.0, 0.0, 1.0], [0.0, 1.0, 1.0]]);
        assert_eq!(passage(down, DVec3::Z), None);
        let aside = down.map(|corner| corner - DVec3::new(0.0, 0.3, 0.0));
        assert_eq!(passage(aside, DVec3::Z), Some(1));
        assert_eq!(passage(aside, DVec3::NEG_Z), Some(0));
    }
}
