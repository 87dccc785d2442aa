//! Shells: what hangs together, what is closed, and which side is outside.
//!
//! In: a mesh with corners and rows. Out: the same mesh with needles marked, closed shells oriented
//! and everything counted. Open sheets keep the file's orientation.

use super::edges::{Edges, Side};
use super::error::MeshProblem;
use super::measure::area_m2;
use super::{Mesh, Shell, nest};
use glam::DVec3;

/// No shell.
pub(super) const NONE: u32 = u32::MAX;

/// Below this share of the sum of its terms, a volume is rounding: the terms carry a relative error
/// of a few 2⁻⁵³ each, and millions of them are summed.
const VOLUME_ROUNDING: f64 = 1e-9;

/// Fills everything of `mesh` but corners, rows, objects and the count of welded corners.
pub(super) fn judge(mesh: &mut Mesh) -> Result<(), MeshProblem> {
    let rows = mesh.triangles.len();
    mesh.needle = (0..rows)
        .map(|row| has_equal_corners(mesh.triangles[row]) || area_m2(mesh.corners(row)) == 0.0)
        .collect();
    // A needle along a line still joins its neighbours; one with equal corners has no edges left.
    let edges = Edges::of(&mesh.triangles, mesh.vertices.len(), |row| {
        !has_equal_corners(mesh.triangles[row])
    });
    let mut links = Links::new(rows);
    for run in edges.runs() {
        if let [one, other] = run {
            links.join(one.row(), other.row(), same_direction(*one, *other));
        }
    }
    let (mut shells, turned) = number_shells(mesh, &mut links);
    drop(links);
    survey_edges(mesh, &edges, &turned, &mut shells);
    drop(edges);

    let mut flipped = orient(mesh, &shells, turned);
    for (row, shell) in mesh.shell_of.iter_mut().enumerate() {
        if mesh.needle[row] {
            *shell = NONE;
        }
    }
    let nesting = nest::nest(mesh)?;
    for (shell, depth) in mesh.shells.iter_mut().zip(&nesting.depths) {
        shell.depth = *depth;
    }
    for (row, flipped) in flipped.iter_mut().enumerate() {
        let shell = mesh.shell_of[row];
        if shell != NONE && nesting.depths[shell as usize] % 2 == 1 {
            mesh.triangles[row].swap(1, 2);
            *flipped = !*flipped;
        }
    }
    mesh.buried = nesting.buried;
    mesh.sealed = nesting.sealed;
    count(mesh, &flipped);
    Ok(())
}

fn has_equal_corners([a, b, c]: [u32; 3]) -> bool {
    a == b || b == c || c == a
}

/// 1 if two triangles run through their edge in the same direction: one of them is wrong way round.
fn same_direction(one: Side, other: Side) -> u32 {
    u32::from(one.direction() == other.direction())
}

/// What is known of a shell before it is oriented.
#[derive(Debug, Clone, Default)]
struct Survey {
    broken: bool,
    flip_edges: usize,
}

/// Numbers the shells by their first row with area. Also says for each row whether it must be turned
/// round to agree with the first row of its shell.
fn number_shells(mesh: &mut Mesh, links: &mut Links) -> (Vec<Survey>, Vec<bool>) {
    let rows = mesh.triangles.len();
    let mut number_of_root = vec![NONE; rows];
    let mut turned = vec![false; rows];
    for (row, turned) in turned.iter_mut().enumerate() {
        let (root, parity) = links.find(row);
        *turned = parity == 1;
        if mesh.needle[row] {
            continue;
        }
        if number_of_root[root] == NONE {
            #[expect(
                clippy::cast_possible_truncation,
                reason = "rows are numbered within 30 bits and there are no more shells than rows"
            )]
            let number = mesh.shells.len() as u32;
            number_of_root[root] = number;
            mesh.shells.push(Shell {
                closed: false,
                depth: 0,
                triangles: 0,
            });
        }
        mesh.shells[number_of_root[root] as usize].triangles += 1;
    }
    // Needles along a line take part in their shell until the edges are counted.
    mesh.shell_of = (0..rows)
        .map(|row| number_of_root[links.find(row).0])
        .collect();
    (vec![Survey::default(); mesh.shells.len()], turned)
}

/// Counts the edges by kind and finds the shells that an edge keeps from being closed.
fn survey_edges(mesh: &mut Mesh, edges: &Edges, turned: &[bool], shells: &mut [Survey]) {
    let agree = |one: Side, other: Side| {
        (same_direction(one, other) == 1) == (turned[one.row()] != turned[other.row()])
    };
    let mut by_shell: Vec<(u32, Side)> = Vec::new();
    for run in edges.runs() {
        match run {
            [_] => mesh.health.open_edges += 1,
            [_, _] => {}
            _ => mesh.health.non_manifold_edges += 1,
        }
        by_shell.clear();
        by_shell.extend(run.iter().map(|side| (mesh.shell_of[side.row()], *side)));
        by_shell.sort_unstable();
        for sides in by_shell.chunk_by(|a, b| a.0 == b.0) {
            let Some(shell) = shells.get_mut(sides[0].0 as usize) else {
                continue;
            };
            match sides {
                [(_, one), (_, other)] => {
                    shell.broken |= !agree(*one, *other);
                    shell.flip_edges += usize::from(same_direction(*one, *other) == 1);
                }
                _ => shell.broken = true,
            }
        }
    }
    for (shell, survey) in mesh.shells.iter_mut().zip(shells.iter()) {
        shell.closed = !survey.broken;
        if survey.broken {
            mesh.health.flip_edges += survey.flip_edges;
        }
    }
}

/// Turns the triangles of closed shells so that each shell agrees with itself and encloses a
/// positive volume; returns which rows were turned.
fn orient(mesh: &mut Mesh, shells: &[Survey], mut turned: Vec<bool>) -> Vec<bool> {
    let mut sums = vec![Sums::default(); shells.len()];
    for (row, turned) in turned.iter().enumerate() {
        let Some(sum) = sums.get_mut(mesh.shell_of[row] as usize) else {
            continue;
        };
        let [a, b, c] = mesh.corners(row);
        // About a corner of the shell, so that a mesh far from its origin loses no digits.
        let origin = *sum.origin.get_or_insert(a);
        let six_volumes = (a - origin).dot((b - origin).cross(c - origin));
        sum.six_volumes += if *turned { -six_volumes } else { six_volumes };
        sum.magnitude += six_volumes.abs();
        sum.turned += usize::from(*turned);
        sum.rows += 1;
    }
    let turn_all: Vec<Option<bool>> = sums
        .iter()
        .zip(&mesh.shells)
        .map(|(sum, shell)| shell.closed.then(|| sum.turn_all()))
        .collect();
    for (row, turned) in turned.iter_mut().enumerate() {
        let turn_all = turn_all.get(mesh.shell_of[row] as usize).copied().flatten();
        *turned = turn_all.is_some_and(|turn_all| turn_all != *turned);
        if *turned {
            mesh.triangles[row].swap(1, 2);
        }
    }
    turned
}

/// Sums over a shell.
#[derive(Debug, Clone, Default)]
struct Sums {
    origin: Option<DVec3>,
    six_volumes: f64,
    magnitude: f64,
    turned: usize,
    rows: usize,
}

impl Sums {
    /// True if the shell, made to agree with its first row, points inward. Where the volume is all
    /// rounding (two layers back to back) the majority of the file decides.
    fn turn_all(&self) -> bool {
        if self.six_volumes.abs() > VOLUME_ROUNDING * self.magnitude {
            self.six_volumes < 0.0
        } else {
            2 * self.turned > self.rows
        }
    }
}

fn count(mesh: &mut Mesh, flipped: &[bool]) {
    let set = |flags: &[bool]| flags.iter().filter(|flag| **flag).count();
    let health = &mut mesh.health;
    health.triangles = mesh.triangles.len();
    health.needles = set(&mesh.needle);
    health.flipped = set(flipped);
    health.buried = set(&mesh.buried);
    health.closed_shells = mesh.shells.iter().filter(|shell| shell.closed).count();
    health.open_sheets = mesh.shells.len() - health.closed_shells;
    let hollow = |shell: &&Shell| shell.closed && shell.depth % 2 == 1;
    health.hollows = mesh.shells.iter().filter(hollow).count();
}

/// Sets of triangles that hang together, each with whether it runs against the first of its set.
///
/// A link is the row above, shifted by one, and in the lowest bit whether the two run against each
/// other.
struct Links(Vec<u32>);

impl Links {
    fn new(rows: usize) -> Self {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "rows are numbered within 30 bits"
        )]
        Self((0..rows as u32).map(|row| row << 1).collect())
    }

    /// First row of the set, and 1 if `row` runs against it.
    fn find(&mut self, row: usize) -> (usize, u32) {
        let (mut row, mut parity) = (row, 0);
        loop {
            let link = self.0[row];
            let above = (link >> 1) as usize;
            if above == row {
                return (row, parity);
            }
            // Skips one level and leaves the shorter way behind.
            let shorter = self.0[above] ^ (link & 1);
            self.0[row] = shorter;
            parity ^= shorter & 1;
            row = (shorter >> 1) as usize;
        }
    }

    /// Joins the sets of two rows; `against` is 1 if the two run against each other.
    fn join(&mut self, one: usize, other: usize, against: u32) {
        let (one, one_parity) = self.find(one);
        let (other, other_parity) = self.find(other);
        let (first, second) = (one.min(other), one.max(other));
        if first != second {
            let parity = one_parity ^ other_parity ^ against;
            #[expect(
                clippy::cast_possible_truncation,
                reason = "rows are numbered within 30 bits"
            )]
            let link = (first as u32) << 1 | parity;
            self.0[second] = link;
        }
    }
}
