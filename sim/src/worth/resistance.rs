//! Resistance of a film between two places of a part.
//!
//! In: triangles, the conductance of a square of film on each, two contacts. Out: ohms, or why nothing flows. The mesh is
//! made to fit by [`net`]; the equations are solved by a sparse Cholesky factorisation of the crate `faer`.

mod net;
mod weld;

use faer::linalg::solvers::Solve;
use faer::sparse::{SparseColMat, Triplet};
use faer::{Col, Side};
use glam::DVec3;
use net::{Net, sizes_of};

/// A thin film on triangles in space.
#[derive(Debug, Clone, Default)]
pub struct Sheet {
    /// Corners, m. Triangles hang together where they share an edge.
    pub corners_m: Vec<[DVec3; 3]>,
    /// Conductance of a square of film per triangle, S; 0 where nothing conducts.
    pub square_s: Vec<f64>,
}

/// A round contact, pressed on the film: all of it is at one potential.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contact {
    /// Its middle, m.
    pub at_m: DVec3,
    /// Its radius, m; above 0. The resistance rises by ln 2/2π of a square for each halving of it.
    pub radius_m: f64,
}

/// Why no resistance is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoPath {
    /// A contact (0 or 1) touches no film that conducts.
    #[error("the {} needle touches no film that conducts (bare, or thin enough to be islands); pick a place with film", if *.0 == 0 { "first" } else { "second" })]
    Bare(usize),
    /// Bare ground lies all the way between the contacts.
    #[error(
        "bare ground lies between the two contacts: no current flows; pick two places of one piece of film"
    )]
    Parted,
    /// The contacts overlap.
    #[error("the two contacts touch each other; pick places farther apart")]
    Touching,
    /// The factorisation failed.
    #[error("the equations have no solution in these numbers; pick other places")]
    Unsolved,
}

/// Resistance between two contacts on a film, Ω.
///
/// As [`resistance_on_ohm`] with a fineness of 1.
///
/// # Errors
/// [`NoPath`]: a contact on bare ground, two pieces, contacts that touch.
pub fn resistance_ohm(sheet: &Sheet, contacts: [Contact; 2]) -> Result<f64, NoPath> {
    resistance_on_ohm(sheet, contacts, 1.0)
}

/// Resistance between two contacts on a film, Ω, on a mesh of chosen fineness.
///
/// ∇·(g ∇u) = 0 on the sheet, u = 1 and 0 on the contacts; 1/R = ∫ g |∇u|². Linear elements with cotangent weights, on the
/// triangles as given, refined towards the contacts to a sixth of their radius. Elements of this kind find at most the true
/// resistance.
///
/// - `fineness`: edges towards the contacts are shorter by this factor, above 0
///
/// # Errors
/// [`NoPath`]: a contact on bare ground, two pieces, contacts that touch.
///
/// Source: R. Duffin, J. Math. Mech. 8, 793 (1959) and U. Pinkall, K. Polthier, Exp. Math. 2, 15 (1993) for the weights,
/// from memory. Neglects: thickness of the film against its extent, and what the contacts themselves resist.
pub fn resistance_on_ohm(
    sheet: &Sheet,
    contacts: [Contact; 2],
    fineness: f64,
) -> Result<f64, NoPath> {
    let mut net = Net::of(sheet);
    net.close_gaps();
    for (number, contact) in contacts.iter().enumerate() {
        net.nearest(*contact).ok_or(NoPath::Bare(number))?;
    }
    net.refine(&sizes_of(contacts, fineness));
    for contact in contacts {
        net.cut_round(contact);
    }
    let pieces = net.pieces();
    let mut held: Vec<Option<f64>> = vec![None; net.points.len()];
    let mut piece_of = [0; 2];
    for (number, contact) in contacts.iter().enumerate() {
        let seed = net.nearest(*contact).ok_or(NoPath::Bare(number))?;
        piece_of[number] = pieces[seed];
        let touched = net.touched(seed, *contact);
        if touched.is_empty() {
            return Err(NoPath::Bare(number));
        }
        for point in touched {
            if held[point as usize].is_some() {
                return Err(NoPath::Touching);
            }
            held[point as usize] = Some([1.0, 0.0][number]);
        }
    }
    if piece_of[0] != piece_of[1] {
        return Err(NoPath::Parted);
    }
    let members = (0..net.triangles.len()).filter(|&t| pieces[t] == piece_of[0]);
    let conductance_s = conductance_s(&net, &members.collect::<Vec<_>>(), &held)?;
    Ok(1.0 / conductance_s)
}

/// The pieces of a sheet: per triangle the number of its piece, by its first triangle; none where nothing conducts.
///
/// Triangles hang together by edges, also where a neighbour has a corner in the middle of one.
pub fn pieces(sheet: &Sheet) -> Vec<Option<usize>> {
    let mut net = Net::of(sheet);
    net.close_gaps();
    let found = net.pieces();
    let mut pieces = vec![None; sheet.square_s.len()];
    for (&piece, &from) in found.iter().zip(&net.from) {
        pieces[from as usize] = Some(net.from[piece] as usize);
    }
    pieces
}

/// Half the conductance times the cotangents of the angles opposite to the edges (0–1, 1–2, 2–0).
fn weights([a, b, c]: [DVec3; 3], square_s: f64) -> [f64; 3] {
    let cotangent = |apex: DVec3, p: DVec3, q: DVec3| {
        let (u, v) = (p - apex, q - apex);
        u.dot(v) / u.cross(v).length().max(f64::MIN_POSITIVE)
    };
    [cotangent(c, a, b), cotangent(a, b, c), cotangent(b, c, a)].map(|of| 0.5 * square_s * of)
}

/// 1/R with the potentials held at the contacts.
fn conductance_s(net: &Net, members: &[usize], held: &[Option<f64>]) -> Result<f64, NoPath> {
    let mut unknown = vec![usize::MAX; net.points.len()];
    let mut count = 0;
    for &member in members {
        for point in net.triangles[member].map(|p| p as usize) {
            if held[point].is_none() && unknown[point] == usize::MAX {
                unknown[point] = count;
                count += 1;
            }
        }
    }
    let edges = || {
        members.iter().flat_map(|&member| {
            let [a, b, c] = net.triangles[member];
            let weights = weights(net.corners(member), net.square_s[member]);
            [(a, b), (b, c), (c, a)]
                .map(|(from, to)| (from as usize, to as usize))
                .into_iter()
                .zip(weights)
        })
    };
    let mut entries = Vec::with_capacity(6 * members.len());
    let mut driven = Col::<f64>::zeros(count);
    for ((from, to), weight) in edges() {
        for (here, there) in [(from, to), (to, from)] {
            let row = unknown[here];
            if row == usize::MAX {
                continue;
            }
            entries.push(Triplet::new(row, row, weight));
            match held[there] {
                Some(potential) => driven[row] += weight * potential,
                // the lower half is enough
                None if unknown[there] < row => {
                    entries.push(Triplet::new(row, unknown[there], -weight));
                }
                None => {}
            }
        }
    }
    let potentials = if count == 0 {
        driven
    } else {
        let matrix = SparseColMat::<usize, f64>::try_new_from_triplets(count, count, &entries)
            .map_err(|_| NoPath::Unsolved)?;
        let factors = matrix
            .sp_cholesky(Side::Lower)
            .map_err(|_| NoPath::Unsolved)?;
        factors.solve(&driven)
    };
    let at = |point: usize| held[point].unwrap_or_else(|| potentials[unknown[point]]);
    let power_w: f64 = edges()
        .map(|((from, to), weight)| weight * (at(from) - at(to)).powi(2))
        .sum();
    if power_w > 0.0 && power_w.is_finite() {
        Ok(power_w)
    } else {
        Err(NoPath::Unsolved)
    }
}
