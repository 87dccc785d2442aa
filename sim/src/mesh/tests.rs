//! Shells, nesting, buried rows and cavities on bodies whose answers are known without us.

use super::*;
use std::f64::consts::PI;

/// Corners and triangles of a body.
#[derive(Clone, Default)]
struct Body(Vec<DVec3>, Vec<[u32; 3]>);

impl Body {
    /// A box from corner to corner, outward.
    fn cuboid(low: [f64; 3], high: [f64; 3]) -> Self {
        let corners = (0..8)
            .map(|corner| {
                let pick = |axis: usize| {
                    if corner >> axis & 1 == 1 {
                        high[axis]
                    } else {
                        low[axis]
                    }
                };
                DVec3::new(pick(0), pick(1), pick(2))
            })
            .collect();
        let quads = [
            [0, 2, 3, 1],
            [4, 5, 7, 6],
            [0, 1, 5, 4],
            [2, 6, 7, 3],
            [0, 4, 6, 2],
            [1, 3, 7, 5],
        ];
        let halves = |[a, b, c, d]: [u32; 4]| [[a, b, c], [a, c, d]];
        Self(corners, quads.into_iter().flat_map(halves).collect())
    }

    /// A square bar along x in pieces of length 1, outward.
    fn bar(from: f64, pieces: u32, half: f64) -> Self {
        let corners = (0..=pieces)
            .flat_map(|ring| {
                [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
                    .map(|(y, z)| DVec3::new(from + f64::from(ring), half * y, half * z))
            })
            .collect();
        let last = 4 * pieces;
        let mut triangles = vec![[0, 3, 2], [0, 2, 1]];
        triangles.extend([[0, 1, 2], [0, 2, 3]].map(|row| row.map(|corner| corner + last)));
        for ring in 0..pieces {
            for side in 0..4 {
                let [a, b] = [4 * ring + side, 4 * ring + (side + 1) % 4];
                triangles.extend([[a, b, b + 4], [a, b + 4, a + 4]]);
            }
        }
        Self(corners, triangles)
    }

    /// A sphere of `rings` belts of `2 rings` quads, outward.
    fn sphere(centre: [f64; 3], radius: f64, rings: u32) -> Self {
        let sectors = 2 * rings;
        let mut corners = vec![DVec3::Z, DVec3::NEG_Z];
        for ring in 1..rings {
            for sector in 0..sectors {
                let polar = PI * f64::from(ring) / f64::from(rings);
                let azimuth = 2.0 * PI * f64::from(sector) / f64::from(sectors);
                corners.push(DVec3::new(
                    polar.sin() * azimuth.cos(),
                    polar.sin() * azimuth.sin(),
                    polar.cos(),
                ));
            }
        }
        let at = |ring: u32, sector: u32| 2 + (ring - 1) * sectors + sector % sectors;
        let mut triangles = Vec::new();
        for sector in 0..sectors {
            triangles.push([0, at(1, sector), at(1, sector + 1)]);
            triangles.push([1, at(rings - 1, sector + 1), at(rings - 1, sector)]);
            for ring in 1..rings - 1 {
                let [a, b] = [at(ring, sector), at(ring, sector + 1)];
                let [c, d] = [at(ring + 1, sector), at(ring + 1, sector + 1)];
                triangles.extend([[a, c, d], [a, d, b]]);
            }
        }
        let centre = DVec3::from_array(centre);
        let corners = corners.into_iter().map(|corner| centre + corner * radius);
        Self(corners.collect(), triangles)
    }

    fn inside_out(mut self) -> Self {
        for triangle in &mut self.1 {
            triangle.swap(1, 2);
        }
        self
    }

    fn and(mut self, other: Self) -> Self {
        let shift = u32::try_from(self.0.len()).unwrap();
        self.0.extend(other.0);
        let shifted = other
            .1
            .into_iter()
            .map(|triangle| triangle.map(|corner| corner + shift));
        self.1.extend(shifted);
        self
    }

    fn mesh(&self) -> Mesh {
        Mesh::from_triangles(&self.0, &self.1).unwrap()
    }
}

fn close(value: f64, exact: f64) -> bool {
    (value - exact).abs() <= 1e-12 * exact.abs()
}

fn set(flags: &[bool]) -> usize {
    flags.iter().filter(|flag| **flag).count()
}

#[test]
fn a_box_has_the_area_and_volume_of_a_box() {
    let mesh = Body::cuboid([1.0, 2.0, 3.0], [3.0, 5.0, 7.0]).mesh();
    assert!(close(
        mesh.total_area_m2(),
        2.0 * (2.0 * 3.0 + 3.0 * 4.0 + 4.0 * 2.0)
    ));
    assert!(close(mesh.volume_m3().unwrap(), 2.0 * 3.0 * 4.0));
    assert_eq!(mesh.health.closed_shells, 1);
    assert_eq!(mesh.health.open_edges, 0);
    assert_eq!(mesh.health.flipped, 0);
    assert_eq!(
        mesh.bounds().unwrap(),
        (DVec3::new(1.0, 2.0, 3.0), DVec3::new(3.0, 5.0, 7.0))
    );
}

#[test]
fn a_faceted_sphere_has_the_volume_and_area_of_its_facets() {
    // A belt between the polar angles p and q, cut into k trapezoids split in two: the volume is
    // Σ over the belts of (cos p − cos q)(sin²p + sin p sin q + sin²q) / 3 · k/2 · sin(2π/k), a frustum
    // over a regular k-gon; the side of each trapezoid has the area (u + v)/2 · h with
    // u, v = 2 sin(π/k) sin p, q and h² = ((cos p − cos q)² + (cos(π/k)(sin p − sin q))²).
    let rings = 24;
    let sectors = f64::from(2 * rings);
    let (mut volume, mut area) = (0.0, 0.0);
    for ring in 0..rings {
        let [p, q] = [ring, ring + 1].map(|ring| PI * f64::from(ring) / f64::from(rings));
        let height = p.cos() - q.cos();
        let base = sectors / 2.0 * (2.0 * PI / sectors).sin();
        volume += base * height / 3.0 * (p.sin().powi(2) + p.sin() * q.sin() + q.sin().powi(2));
        let half = PI / sectors;
        let slope = height.hypot(half.cos() * (p.sin() - q.sin()));
        area += sectors * half.sin() * (p.sin() + q.sin()) * slope;
    }
    let mesh = Body::sphere([0.3, -0.2, 5.0], 0.01, rings).mesh();
    assert!((mesh.volume_m3().unwrap() / (volume * 1e-6) - 1.0).abs() < 1e-9);
    assert!((mesh.total_area_m2() / (area * 1e-4) - 1.0).abs() < 1e-9);
    // And the smooth sphere, 4πr³/3 and 4πr², in the limit: the deficit is of second order.
    assert!((volume / (4.0 * PI / 3.0) - 1.0).abs() < 2.0 * (PI / f64::from(rings)).powi(2));
    assert!((area / (4.0 * PI) - 1.0).abs() < (PI / f64::from(rings)).powi(2));
}

#[test]
fn a_closed_shell_inside_out_is_turned() {
    let outward = Body::sphere([0.0; 3], 1.0, 8).mesh();
    let turned = Body::sphere([0.0; 3], 1.0, 8).inside_out().mesh();
    assert_eq!(turned.health.flipped, turned.triangles.len());
    assert!(close(
        turned.volume_m3().unwrap(),
        outward.volume_m3().unwrap()
    ));
}

#[test]
fn single_wrong_triangles_of_a_closed_shell_are_turned() {
    let mut body = Body::sphere([0.0; 3], 1.0, 8);
    for row in [0, 7, 40, 41] {
        body.1[row].swap(0, 1);
    }
    let mesh = body.mesh();
    assert_eq!(mesh.health.flipped, 4);
    let all_outward = (0..mesh.triangles.len())
        .all(|row| mesh.normal(row).unwrap().dot(mesh.centroid(row)) > 0.0);
    assert!(all_outward);
}

#[test]
fn an_open_sheet_keeps_its_orientation_and_its_disagreements_are_counted() {
    let corners: Vec<_> = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]
        .map(|(x, y)| DVec3::new(x, y, 0.0))
        .to_vec();
    let agreeing = Mesh::from_triangles(&corners, &[[0, 1, 2], [0, 2, 3]]).unwrap();
    assert_eq!(agreeing.health.open_sheets, 1);
    assert_eq!(agreeing.health.open_edges, 4);
    assert_eq!(agreeing.health.flip_edges, 0);
    let torn = Mesh::from_triangles(&corners, &[[0, 1, 2], [0, 3, 2]]).unwrap();
    assert_eq!(torn.triangles, [[0, 1, 2], [0, 3, 2]]);
    assert_eq!(torn.health.flip_edges, 1);
    assert_eq!(torn.health.flipped, 0);
    assert!(torn.volume_m3().is_none());
}

#[test]
fn a_moebius_strip_is_an_open_sheet() {
    // Ten quads; the last joins the first with its sides exchanged.
    let corners: Vec<_> = (0..10)
        .flat_map(|place| {
            let along = PI * f64::from(place) / 5.0;
            [-0.3, 0.3].map(|across| {
                let radius = 1.0 + across * (along / 2.0).cos();
                DVec3::new(
                    radius * along.cos(),
                    radius * along.sin(),
                    across * (along / 2.0).sin(),
                )
            })
        })
        .collect();
    let triangles: Vec<_> = (0..10_u32)
        .flat_map(|place| {
            let [a, b] = [2 * place, 2 * place + 1];
            let [c, d] = if place < 9 { [a + 2, a + 3] } else { [1, 0] };
            [[a, c, d], [a, d, b]]
        })
        .collect();
    let mesh = Mesh::from_triangles(&corners, &triangles).unwrap();
    assert_eq!(mesh.shells.len(), 1);
    assert_eq!(mesh.health.open_sheets, 1);
    assert_eq!(mesh.health.flip_edges, 1);
    assert_eq!(mesh.health.open_edges, 20);
}

#[test]
fn a_needle_along_an_edge_keeps_its_row_and_the_shell_closed() {
    // One edge of the box gets a corner in its middle on one side only; a needle fills the gap.
    let mut body = Body::cuboid([0.0; 3], [1.0; 3]);
    let middle = u32::try_from(body.0.len()).unwrap();
    body.0.push(DVec3::new(0.5, 0.0, 0.0));
    let row = body
        .1
        .iter()
        .position(|row| row.contains(&0) && row.contains(&1))
        .unwrap();
    let [a, b, c] = body.1[row];
    let (from, to, tip) = match [a, b, c] {
        [0, 1, tip] | [1, tip, 0] | [tip, 0, 1] => (0, 1, tip),
        [1, 0, tip] | [0, tip, 1] | [tip, 1, 0] => (1, 0, tip),
        _ => unreachable!("the row holds both corners"),
    };
    body.1[row] = [from, middle, tip];
    body.1.push([middle, to, tip]);
    body.1.push([from, to, middle]);
    let mesh = body.mesh();
    assert_eq!(mesh.health.needles, 1);
    assert_eq!(mesh.health.closed_shells, 1);
    assert_eq!(mesh.shell_of[mesh.triangles.len() - 1], u32::MAX);
    assert!(mesh.needle[mesh.triangles.len() - 1]);
    assert!(close(mesh.volume_m3().unwrap(), 1.0));
}

#[test]
fn a_triangle_with_two_equal_corners_is_a_needle() {
    let mut body = Body::cuboid([0.0; 3], [1.0; 3]);
    body.1.insert(3, [4, 4, 6]);
    let mesh = body.mesh();
    assert_eq!(mesh.triangles.len(), 13);
    assert_eq!(mesh.health.needles, 1);
    assert!(mesh.needle[3]);
    assert_eq!(mesh.health.closed_shells, 1);
}

#[test]
fn equal_corners_are_welded_and_both_zeros_are_one() {
    let corners = [
        DVec3::new(0.0, 0.0, 0.0),
        DVec3::new(1.0, 0.0, 0.0),
        DVec3::new(0.0, 1.0, 0.0),
        DVec3::new(-0.0, 0.0, -0.0),
        DVec3::new(0.0, 1.0, 0.0),
        DVec3::new(-1.0, 1.0, 0.0),
        DVec3::new(9.0, 9.0, 9.0),
    ];
    let mesh = Mesh::from_triangles(&corners, &[[0, 1, 2], [3, 4, 5]]).unwrap();
    assert_eq!(mesh.health.welded_corners, 2);
    assert_eq!(mesh.shells.len(), 1);
    // The corner that no row uses is gone: it would stretch the bounds.
    assert_eq!(mesh.vertices.len(), 4);
    assert_eq!(mesh.bounds().unwrap().1, DVec3::new(1.0, 1.0, 0.0));
}

#[test]
fn a_hollow_stays_a_hollow_whichever_way_the_file_turned_it() {
    let outer = || Body::sphere([0.0; 3], 2.0, 12);
    let inner = || Body::sphere([0.1, 0.0, 0.0], 1.0, 9);
    let solid = outer().mesh().volume_m3().unwrap();
    let hollow = inner().mesh().volume_m3().unwrap();
    for body in [
        outer().and(inner()),
        outer().and(inner().inside_out()),
        inner().and(outer().inside_out()),
    ] {
        let mesh = body.mesh();
        assert_eq!(mesh.health.hollows, 1);
        assert!(close(mesh.volume_m3().unwrap(), solid - hollow));
        let walls = closed_cavity(&mesh);
        assert_eq!(set(&walls), 2 * 18 * 8);
        for (row, wall) in walls.iter().enumerate() {
            let inner = mesh.shells[mesh.shell_of[row] as usize].depth == 1;
            assert_eq!(*wall, inner);
            let outward = mesh.normal(row).unwrap().dot(mesh.centroid(row)) > 0.0;
            assert_eq!(outward, !inner);
        }
        assert_eq!(set(&find_buried(&mesh)), 0);
    }
}

#[test]
fn a_ball_in_a_hollow_is_solid_and_sealed_in() {
    let mesh = Body::sphere([0.0; 3], 3.0, 12)
        .and(Body::sphere([0.0; 3], 2.0, 10))
        .and(Body::sphere([0.2, 0.1, 0.0], 1.0, 8))
        .mesh();
    let depths: Vec<_> = mesh.shells.iter().map(|shell| shell.depth).collect();
    assert_eq!(depths, [0, 1, 2]);
    assert_eq!(mesh.health.hollows, 1);
    assert_eq!(mesh.health.buried, 0);
    let sealed = closed_cavity(&mesh);
    for (sealed, shell) in sealed.iter().zip(&mesh.shell_of) {
        assert_eq!(*sealed, *shell > 0);
    }
}

#[test]
fn what_one_solid_covers_of_another_is_buried() {
    // A bar through a box: 12 belts of it, of which those inside the box are buried.
    let bar = Body::bar(-6.0, 12, 0.5);
    let mesh = bar
        .and(Body::cuboid([-2.5, -2.0, -2.0], [2.5, 2.0, 2.0]))
        .mesh();
    assert_eq!(mesh.health.closed_shells, 2);
    assert_eq!(mesh.health.hollows, 0);
    let buried = find_buried(&mesh);
    for (row, buried) in buried.iter().enumerate() {
        let inside = mesh.shell_of[row] == 0 && mesh.centroid(row).x.abs() < 2.5;
        assert_eq!(*buried, inside, "row {row} at {}", mesh.centroid(row));
    }
    assert_eq!(set(&closed_cavity(&mesh)), 0);
}

#[test]
fn faces_that_two_solids_press_together_are_buried() {
    // A small box standing on a large one: its bottom is buried, the large top is not (its
    // centroids are not under it).
    let mesh = Body::cuboid([-5.0, -5.0, -1.0], [5.0, 5.0, 0.0])
        .and(Body::cuboid([3.0, 3.0, 0.0], [4.0, 4.0, 1.0]))
        .mesh();
    let buried = find_buried(&mesh);
    for (row, buried) in buried.iter().enumerate() {
        let bottom = mesh.shell_of[row] == 1 && mesh.centroid(row).z <= 0.0;
        assert_eq!(*buried, bottom);
    }
    assert_eq!(mesh.health.buried, 2);
}

#[test]
fn a_solid_that_reaches_into_a_hollow_is_not_buried_there() {
    // A rod from outside through the wall of a hollow box into the hollow: its part in the wall is
    // buried; outside and in the hollow it is not. In doubt the hollow is not called sealed.
    let rod = Body::bar(0.0, 6, 0.1);
    let mesh = Body::cuboid([-4.5; 3], [4.5; 3])
        .and(Body::cuboid([-2.5; 3], [2.5; 3]))
        .and(rod)
        .mesh();
    assert_eq!(mesh.health.hollows, 1);
    let buried = find_buried(&mesh);
    for (row, buried) in buried.iter().enumerate() {
        let x = mesh.centroid(row).x;
        let in_the_wall = mesh.shell_of[row] == 2 && x > 2.5 && x < 4.5;
        assert_eq!(*buried, in_the_wall, "row {row} at x = {x}");
    }
    assert_eq!(set(&closed_cavity(&mesh)), 0);
}

#[test]
fn bodies_that_touch_along_an_edge_are_two_shells() {
    let mesh = Body::cuboid([0.0; 3], [1.0; 3])
        .and(Body::cuboid([1.0, 1.0, 0.0], [2.0, 2.0, 1.0]).inside_out())
        .mesh();
    assert_eq!(mesh.health.non_manifold_edges, 1);
    assert_eq!(mesh.health.closed_shells, 2);
    assert_eq!(mesh.health.flipped, 12);
    assert!(close(mesh.volume_m3().unwrap(), 2.0));
    assert_eq!(mesh.health.buried, 0);
}

#[test]
fn thousands_of_bodies_side_by_side_are_told_apart() {
    let mut body = Body::default();
    for x in 0..20 {
        for y in 0..20 {
            for z in 0..10 {
                let low = [x, y, z].map(|place| 2.0 * f64::from(place));
                let one = Body::cuboid(low, low.map(|low| low + 1.0));
                body = body.and(if (x + y) % 2 == 0 {
                    one
                } else {
                    one.inside_out()
                });
            }
        }
    }
    let mesh = body.mesh();
    assert_eq!(mesh.health.closed_shells, 4000);
    assert_eq!(mesh.health.flipped, 12 * 2000);
    assert!(close(mesh.volume_m3().unwrap(), 4000.0));
}

#[test]
fn a_mesh_far_from_its_origin_is_judged_as_near_it() {
    let near = Body::sphere([0.0; 3], 0.05, 10).and(Body::sphere([0.0; 3], 0.02, 8));
    let far = Body(
        near.0
            .iter()
            .map(|corner| *corner + DVec3::new(1e4, -3e4, 2e4))
            .collect(),
        near.1.clone(),
    );
    let (near, far) = (near.mesh(), far.mesh());
    assert_eq!(near.health, far.health);
    assert_eq!(near.triangles, far.triangles);
    assert_eq!(far.health.hollows, 1);
}

#[test]
fn scaling_multiplies_lengths_and_keeps_rows() {
    let mesh = Body::sphere([0.0; 3], 1.0, 6).mesh();
    let scaled = mesh.scaled(3.0);
    assert_eq!(scaled.triangles, mesh.triangles);
    assert!(close(
        scaled.volume_m3().unwrap(),
        27.0 * mesh.volume_m3().unwrap()
    ));
    assert!(close(scaled.total_area_m2(), 9.0 * mesh.total_area_m2()));
}

#[test]
fn indices_that_point_nowhere_are_named() {
    let error = Mesh::from_triangles(&[DVec3::ZERO], &[[0, 0, 5]]).unwrap_err();
    let text = error.to_string();
    assert!(
        text.contains("triangle 0") && text.contains("corner 5"),
        "{text}"
    );
}
