//! Solids as closed triangle shells, and a few open sheets.
//!
//! In: sizes in metres. Out: corners and triangles whose corner order turns right-handed about the
//! outward normal, centred as the plan says (origin in the middle, round things about z).
//!
//! Round outlines are regular polygons of [`FACETS`] sides. Their corners stand a little outside the
//! circle so that the polygon has the circle's area ([`equal_area_radius`]): with 192 sides corners
//! stand out by 0.9·10⁻⁴ and mid-sides stand in by 0.45·10⁻⁴ of the radius.

use glam::{DVec2, DVec3};
use std::f64::consts::TAU;

/// Sides of the polygon that stands for a circle.
pub const FACETS: u32 = 192;

/// Rings of facets of a sphere from pole to pole; around it stand twice as many.
const SPHERE_RINGS: u32 = 64;

/// Corners and triangles of a solid or a sheet, m.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Solid {
    /// Corners, m.
    pub vertices: Vec<DVec3>,
    /// Corner indices.
    pub triangles: Vec<[u32; 3]>,
}

impl Solid {
    /// Corners of every triangle.
    pub fn corners(&self) -> impl Iterator<Item = [DVec3; 3]> + '_ {
        self.triangles
            .iter()
            .map(|corners| corners.map(|corner| self.vertices[corner as usize]))
    }

    /// Sum of the areas, m².
    pub fn area_m2(&self) -> f64 {
        self.corners().map(super::triangle_area_m2).sum()
    }

    /// Volume inside a closed shell, m³.
    ///
    /// V = Σ a·(b × c) / 6 over the triangles (divergence theorem).
    pub fn volume_m3(&self) -> f64 {
        self.corners()
            .map(|[a, b, c]| a.dot(b.cross(c)) / 6.0)
            .sum()
    }

    fn corner(&mut self, at: DVec3) -> u32 {
        let index = u32::try_from(self.vertices.len()).unwrap_or(u32::MAX);
        self.vertices.push(at);
        index
    }

    /// The strip between two closed loops of equally many corners; right-handed for an outward normal
    /// when both loops turn right-handed about the direction from `low` to `high`.
    fn strip(&mut self, low: &[u32], high: &[u32]) {
        for i in 0..low.len() {
            let j = (i + 1) % low.len();
            self.triangles.push([low[i], low[j], high[j]]);
            self.triangles.push([low[i], high[j], high[i]]);
        }
    }

    /// The fan from one corner to a closed loop that turns right-handed about the outward normal.
    fn fan(&mut self, tip: u32, loop_: &[u32]) {
        for i in 0..loop_.len() {
            let j = (i + 1) % loop_.len();
            self.triangles.push([tip, loop_[i], loop_[j]]);
        }
    }

    fn circle(&mut self, corner_radius_m: f64, z_m: f64, sides: u32) -> Vec<u32> {
        directions(sides)
            .map(|d| self.corner((corner_radius_m * d).extend(z_m)))
            .collect()
    }
}

/// Radius of the corners of a regular polygon with the area of a circle.
///
/// r' = r √(2π / (n sin(2π/n))).
///
/// - `radius_m`: radius of the circle, m
/// - `sides`: n, at least 3
pub fn equal_area_radius(radius_m: f64, sides: u32) -> f64 {
    let n = f64::from(sides);
    radius_m * (TAU / (n * (TAU / n).sin())).sqrt()
}

/// Unit vectors to the corners of a regular polygon, from +x on, exact on the axes.
fn directions(sides: u32) -> impl Iterator<Item = DVec2> {
    (0..sides).map(move |i| {
        // measured from the nearest quarter, so that opposite corners agree to the last bit
        let octant = 8 * u64::from(i) / u64::from(sides);
        let (quarter, quarters): (u64, f64) = match octant {
            0 => (0, 0.0),
            1 | 2 => (1, 0.25),
            3 | 4 => (2, 0.5),
            5 | 6 => (3, 0.75),
            _ => (0, 1.0),
        };
        let (sin, cos) = (TAU * (f64::from(i) / f64::from(sides) - quarters)).sin_cos();
        match quarter {
            0 => DVec2::new(cos, sin),
            1 => DVec2::new(-sin, cos),
            2 => DVec2::new(-cos, -sin),
            _ => DVec2::new(sin, -cos),
        }
    })
}

/// A box with its middle at the origin.
pub fn cuboid(size_m: DVec3) -> Solid {
    let mut solid = Solid::default();
    let half = 0.5 * size_m;
    let square = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]];
    let [low, high] = [-half.z, half.z]
        .map(|z| square.map(|[x, y]| solid.corner(DVec3::new(x * half.x, y * half.y, z))));
    solid.strip(&low, &high);
    solid.triangles.extend([
        [high[0], high[1], high[2]],
        [high[0], high[2], high[3]],
        [low[0], low[2], low[1]],
        [low[0], low[3], low[2]],
    ]);
    solid
}

/// A rectangular plate with a round hole along z through its middle.
///
/// The hole's polygon has [`FACETS`] sides and the area of the circle.
///
/// - `size_m`: extents, m
/// - `hole_diameter_m`: below the smaller of width and depth
pub fn plate_with_hole(size_m: DVec3, hole_diameter_m: f64) -> Solid {
    let mut solid = Solid::default();
    let half = 0.5 * size_m;
    let radius = equal_area_radius(0.5 * hole_diameter_m, FACETS);
    let square = [[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]];
    let [(low, low_hole), (high, high_hole)] = [-half.z, half.z].map(|z| {
        let outline = square.map(|[x, y]| solid.corner(DVec3::new(x * half.x, y * half.y, z)));
        (outline, solid.circle(radius, z, FACETS))
    });
    solid.strip(&low, &high);
    let reversed = |loop_: &[u32]| loop_.iter().rev().copied().collect::<Vec<_>>();
    solid.strip(&reversed(&low_hole), &reversed(&high_hole));
    let quarter = low_hole.len() / 4;
    for (i, (&low_corner, &high_corner)) in low.iter().zip(&high).enumerate() {
        for side in i * quarter..(i + 1) * quarter {
            let next = (side + 1) % low_hole.len();
            solid
                .triangles
                .push([high_corner, high_hole[next], high_hole[side]]);
            solid
                .triangles
                .push([low_corner, low_hole[side], low_hole[next]]);
        }
        let (after, edge) = ((i + 1) % 4, ((i + 1) * quarter) % low_hole.len());
        solid
            .triangles
            .push([high_corner, high[after], high_hole[edge]]);
        solid
            .triangles
            .push([low_corner, low_hole[edge], low[after]]);
    }
    solid
}

/// A solid cylinder along z with its middle at the origin ([`FACETS`] sides, equal area).
pub fn cylinder(diameter_m: f64, length_m: f64) -> Solid {
    let mut solid = Solid::default();
    let radius = equal_area_radius(0.5 * diameter_m, FACETS);
    let [low, high] = [-0.5, 0.5].map(|z| solid.circle(radius, z * length_m, FACETS));
    let [bottom, top] = [-0.5, 0.5].map(|z| solid.corner(DVec3::new(0.0, 0.0, z * length_m)));
    solid.strip(&low, &high);
    solid.fan(top, &high);
    solid.fan(bottom, &low.iter().rev().copied().collect::<Vec<_>>());
    solid
}

/// A tube along z with its middle at the origin ([`FACETS`] sides, equal area inside and outside).
pub fn tube(outer_diameter_m: f64, inner_diameter_m: f64, length_m: f64) -> Solid {
    let [outer, inner] = [0.5 * outer_diameter_m, 0.5 * inner_diameter_m];
    let half = 0.5 * length_m;
    let profile = [
        DVec2::new(inner, -half),
        DVec2::new(outer, -half),
        DVec2::new(outer, half),
        DVec2::new(inner, half),
    ];
    lathe_ring(&profile, FACETS)
}

/// A sphere about the origin: 64 rings of 128 facets, corners on a sphere whose great circles as
/// polygons have the circle's area (corners stand out by 2·10⁻⁴, facets stand in by up to 4·10⁻⁴ of the
/// radius).
pub fn sphere(diameter_m: f64) -> Solid {
    let sides = 2 * SPHERE_RINGS;
    let radius = equal_area_radius(0.5 * diameter_m, sides);
    let profile: Vec<DVec2> = directions(sides)
        .collect::<Vec<_>>()
        .into_iter()
        .cycle()
        .skip(3 * sides as usize / 4)
        .take(SPHERE_RINGS as usize + 1)
        .map(|d| radius * d)
        .collect();
    lathe(&profile, sides)
}

/// A solid of revolution from a profile that begins and ends on the axis.
///
/// - `profile`: (distance from the axis, z), m; outside lies to the right of the way from first to last
///   point; first and last have distance 0
/// - `sides`: sides of the polygons; their corners stand on the profile's circles
pub fn lathe(profile: &[DVec2], sides: u32) -> Solid {
    let mut solid = Solid::default();
    let (Some(first), Some(last)) = (profile.first(), profile.last()) else {
        return solid;
    };
    let bottom = solid.corner(DVec3::new(0.0, 0.0, first.y));
    let top = solid.corner(DVec3::new(0.0, 0.0, last.y));
    let inner = &profile[1..profile.len().saturating_sub(1).max(1)];
    let loops: Vec<_> = inner
        .iter()
        .map(|p| solid.circle(p.x, p.y, sides))
        .collect();
    if let (Some(low), Some(high)) = (loops.first(), loops.last()) {
        solid.fan(bottom, &low.iter().rev().copied().collect::<Vec<_>>());
        solid.fan(top, high);
    }
    for pair in loops.windows(2) {
        solid.strip(&pair[0], &pair[1]);
    }
    solid
}

/// A ring-shaped solid of revolution from a closed profile that stays clear of the axis.
///
/// - `profile`: (distance from the axis, z), m; outside lies to the right of the way round; corners of
///   the polygons stand outside the circles so that areas of cross-sections are kept
/// - `sides`: sides of the polygons
pub fn lathe_ring(profile: &[DVec2], sides: u32) -> Solid {
    let mut solid = Solid::default();
    let loops: Vec<_> = profile
        .iter()
        .map(|p| solid.circle(equal_area_radius(p.x, sides), p.y, sides))
        .collect();
    for i in 0..loops.len() {
        solid.strip(&loops[i], &loops[(i + 1) % loops.len()]);
    }
    solid
}

/// A flat disc in the x-y plane, facing +z ([`FACETS`] sides, equal area).
pub fn disc(radius_m: f64) -> Solid {
    let mut solid = Solid::default();
    let rim = solid.circle(equal_area_radius(radius_m, FACETS), 0.0, FACETS);
    let middle = solid.corner(DVec3::ZERO);
    solid.fan(middle, &rim);
    solid
}

/// A flat rectangle in the x-y plane, facing +z, of `cells[0]` × `cells[1]` squares of two triangles.
pub fn grid(width_m: f64, depth_m: f64, cells: [u32; 2]) -> Solid {
    let mut solid = Solid::default();
    let [columns, rows] = cells;
    for j in 0..=rows {
        for i in 0..=columns {
            let x = (f64::from(i) / f64::from(columns) - 0.5) * width_m;
            let y = (f64::from(j) / f64::from(rows) - 0.5) * depth_m;
            solid.corner(DVec3::new(x, y, 0.0));
        }
    }
    for j in 0..rows {
        for i in 0..columns {
            let a = j * (columns + 1) + i;
            let d = a + columns + 1;
            solid.triangles.push([a, a + 1, d + 1]);
            solid.triangles.push([a, d + 1, d]);
        }
    }
    solid
}
