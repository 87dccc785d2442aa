//! Nesting: which closed shells lie within which, what is buried, what is sealed off.
//!
//! In: a mesh whose closed shells each agree with themselves and point outward. Out: depths, and two
//! flags per row. Only shells whose boxes overlap are compared.

use super::boxes::{Bounds, Tree};
use super::error::MeshProblem;
use super::shells::NONE;
use super::solid::{Contact, Solid};
use super::{Mesh, measure};
use glam::DVec3;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Most pairs of closed shells with overlapping boxes.
const PAIRS_LIMIT: usize = 300_000;
/// Steps of comparing shells, for all pairs together: a second or two.
const STEPS_LIMIT: u64 = 200_000_000;
/// Steps that any pair may take.
const STEPS_ALWAYS: u64 = 2_000;
/// How far off a face its outer side is asked for, in units of the largest coordinate: four units in
/// the last place of single precision, in which most files are written.
const OFF_THE_FACE: f64 = 4.0 * 1.192_092_9e-7;

/// How the shells of a mesh lie in one another.
pub(super) struct Nesting {
    /// Closed shells around each shell.
    pub depths: Vec<u32>,
    /// Per row: inside another solid.
    pub buried: Vec<bool>,
    /// Per row: walls a closed cavity or stands in one.
    pub sealed: Vec<bool>,
}

/// Two shells whose boxes overlap.
struct Pair {
    shells: [u32; 2],
    contact: Contact,
    /// Winding number of the other shell around this one as a whole; 0 if it does not lie in it.
    within: [i32; 2],
}

/// Finds depths, buried rows and closed cavities.
pub(super) fn nest(mesh: &Mesh) -> Result<Nesting, MeshProblem> {
    let mut nesting = Nesting {
        depths: vec![0; mesh.shells.len()],
        buried: vec![false; mesh.triangles.len()],
        sealed: vec![false; mesh.triangles.len()],
    };
    let pairs = overlapping(mesh)?;
    if pairs.is_empty() {
        return Ok(nesting);
    }
    let solids = solids(mesh, &pairs);
    let steps = (STEPS_LIMIT / pairs.len() as u64).max(STEPS_ALWAYS);
    let pairs: Vec<Pair> = pairs
        .into_par_iter()
        .map(|shells| compare(&solids, shells, steps))
        .collect();
    for pair in &pairs {
        for (shell, within) in pair.shells.iter().zip(pair.within) {
            nesting.depths[*shell as usize] += u32::from(within != 0);
        }
    }
    mark_buried(mesh, &solids, &pairs, &mut nesting);
    mark_sealed(&solids, &pairs, &mut nesting);
    Ok(nesting)
}

/// Pairs of closed shells whose boxes overlap.
fn overlapping(mesh: &Mesh) -> Result<Vec<[u32; 2]>, MeshProblem> {
    let closed: Vec<u32> = (0..)
        .zip(&mesh.shells)
        .filter(|(_, shell)| shell.closed)
        .map(|(number, _)| number)
        .collect();
    if closed.len() < 2 {
        return Ok(Vec::new());
    }
    let mut bounds = vec![Bounds::NOTHING; mesh.shells.len()];
    for (row, shell) in mesh.shell_of.iter().enumerate() {
        if *shell != NONE {
            let own = &mut bounds[*shell as usize];
            *own = own.join(Bounds::of(mesh.corners(row)));
        }
    }
    let bounds_of = |shell: u32| bounds[shell as usize];
    let tree = Tree::over(closed.clone(), bounds_of);
    let mut pairs = Vec::new();
    for shell in &closed {
        let own = bounds_of(*shell);
        tree.meeting(&own, |other| {
            if other > *shell && own.meets(&bounds_of(other)) {
                pairs.push([*shell, other]);
            }
        });
        if pairs.len() > PAIRS_LIMIT {
            return Err(MeshProblem::TooEntangled {
                shells: closed.len(),
                pairs: pairs.len(),
                limit: PAIRS_LIMIT,
            });
        }
    }
    Ok(pairs)
}

/// The shells that take part in a pair, by number.
fn solids<'a>(mesh: &'a Mesh, pairs: &[[u32; 2]]) -> BTreeMap<u32, Solid<'a>> {
    let mut rows: BTreeMap<u32, Vec<u32>> = pairs
        .iter()
        .flatten()
        .map(|shell| (*shell, Vec::new()))
        .collect();
    for (row, shell) in (0..).zip(&mesh.shell_of) {
        if let Some(rows) = rows.get_mut(shell) {
            rows.push(row);
        }
    }
    rows.into_par_iter()
        .map(|(shell, rows)| (shell, Solid::new(mesh, rows)))
        .collect()
}

fn compare(solids: &BTreeMap<u32, Solid<'_>>, shells: [u32; 2], steps: u64) -> Pair {
    let [one, other] = shells.map(|shell| &solids[&shell]);
    let contact = one.contact(other, steps);
    let within = match contact {
        Contact::Crossing => [0, 0],
        Contact::Apart | Contact::Touching => [one.winding_of(other), other.winding_of(one)],
    };
    Pair {
        shells,
        contact,
        within,
    }
}

/// +1 for a solid, −1 for a hollow.
fn sense(depths: &[u32], shell: u32) -> i32 {
    if depths[shell as usize].is_multiple_of(2) {
        1
    } else {
        -1
    }
}

/// Sums the winding numbers just outside each face over all shells of its part.
fn mark_buried(
    mesh: &Mesh,
    solids: &BTreeMap<u32, Solid<'_>>,
    pairs: &[Pair],
    nesting: &mut Nesting,
) {
    // The same for all rows of a shell: its own hollow, and the shells it does not touch.
    let mut common: BTreeMap<u32, i32> = BTreeMap::new();
    let mut touching: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for shell in solids.keys() {
        common.insert(*shell, sense(&nesting.depths, *shell).min(0));
    }
    for pair in pairs {
        for (side, shell) in pair.shells.iter().enumerate() {
            let other = pair.shells[1 - side];
            if pair.contact == Contact::Apart {
                *common.entry(*shell).or_default() +=
                    sense(&nesting.depths, other) * pair.within[side];
            } else {
                touching.entry(*shell).or_default().push(other);
            }
        }
    }
    let reach = mesh
        .bounds()
        .map_or(0.0, |(low, high)| low.abs().max(high.abs()).max_element());
    let depths = &nesting.depths;
    for (shell, solid) in solids {
        let common = common.get(shell).copied().unwrap_or_default();
        let others = touching.get(shell).map_or(&[][..], Vec::as_slice);
        let found: Vec<bool> = solid
            .rows()
            .par_iter()
            .map(|row| {
                let point = off_the_face(mesh, *row as usize, sense(depths, *shell), reach);
                let sum: i32 = others
                    .iter()
                    .map(|other| sense(depths, *other) * solids[other].winding(point).unwrap_or(0))
                    .sum();
                common + sum >= 1
            })
            .collect();
        for (row, found) in solid.rows().iter().zip(found) {
            nesting.buried[*row as usize] = found;
        }
    }
}

/// A point just outside a face whose shell is a solid (+1) or a hollow (−1).
fn off_the_face(mesh: &Mesh, row: usize, sense: i32, reach: f64) -> DVec3 {
    let normal = measure::normal(mesh.corners(row)).unwrap_or(DVec3::ZERO);
    mesh.centroid(row) + normal * (f64::from(sense) * OFF_THE_FACE * reach)
}

/// Hollows that nothing touches, and what lies in them.
fn mark_sealed(solids: &BTreeMap<u32, Solid<'_>>, pairs: &[Pair], nesting: &mut Nesting) {
    let depths = &nesting.depths;
    let mut sealed = vec![false; depths.len()];
    for shell in solids.keys() {
        sealed[*shell as usize] = sense(depths, *shell) < 0;
    }
    for pair in pairs {
        if pair.contact != Contact::Apart {
            for shell in pair.shells {
                sealed[shell as usize] = false;
            }
        }
    }
    let hollows = sealed.clone();
    for pair in pairs {
        for (side, shell) in pair.shells.iter().enumerate() {
            let other = pair.shells[1 - side];
            if pair.contact == Contact::Apart && pair.within[side] != 0 {
                sealed[*shell as usize] |= hollows[other as usize];
            }
        }
    }
    for (shell, solid) in solids {
        if sealed[*shell as usize] {
            for row in solid.rows() {
                nesting.sealed[*row as usize] = true;
            }
        }
    }
}
