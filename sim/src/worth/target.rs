//! Wear of a target: how deep a run digs, and how many such runs it bears.
//!
//! In: atoms that leave, the footprint they leave from, the volume of one. Out: depths, for `outcome`.

use crate::emission::{Footprint, FootprintShape};

/// How much deeper the deepest place of a real groove is than an even footprint says, as factors.
///
/// Common practice, no source: grooves of ring magnets are rounded or V-shaped, not flat.
pub const DEEPER_THAN_EVEN: [f64; 2] = [1.0, 2.0];

/// Depth dug by atoms that leave an area, m: N/A · v.
///
/// - `atoms_per_m2`: atoms that left, per area
/// - `atom_volume_m3`: volume that one takes in the bulk, M/(N_A ρ)
///
/// Source: definition of density. Neglects: pores, and metal that falls back.
pub fn depth_m(atoms_per_m2: f64, atom_volume_m3: f64) -> f64 {
    atoms_per_m2 * atom_volume_m3
}

/// Share of the atoms that leaves per area at the place that loses most, from and to, 1/m².
///
/// Groove table: its largest density, which is measured and taken as it is. Ring, disc, rectangle and mesh: 1/area times
/// [`DEEPER_THAN_EVEN`].
///
/// - returns none for spot, line and point, which have no area
pub fn deepest_per_m2(footprint: &Footprint) -> Option<[f64; 2]> {
    if let FootprintShape::Groove(groove) = &footprint.shape {
        // linear between rows: the largest value stands at a row
        let most = groove.weights.iter().copied().fold(0.0, f64::max);
        return Some([most; 2]);
    }
    let area_m2 = footprint.area_m2();
    (area_m2 > 0.0).then(|| DEEPER_THAN_EVEN.map(|factor| factor / area_m2))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::emission::GrooveTable;
    use glam::DVec3;
    use std::f64::consts::PI;

    fn on(shape: FootprintShape) -> Footprint {
        Footprint::new(DVec3::ZERO, DVec3::Z, None, shape)
    }

    #[test]
    fn a_cone_of_wear_is_three_times_as_deep_as_an_even_disc() {
        // weight falls from 1 on the axis to 0 at R: volume π R² h/3 (Euclid, XII.10), so h = 3 V/(π R²)
        let cone = GrooveTable::new(&[(0.0, 1.0), (0.02, 0.0)]).unwrap();
        let [from, to] = deepest_per_m2(&on(FootprintShape::Groove(cone))).unwrap();
        assert!((from * PI * 4e-4 - 3.0).abs() < 1e-9 && (to - from).abs() < 1e-12);
    }

    #[test]
    fn a_disc_is_as_deep_as_its_area_says_or_twice_that() {
        let disc = FootprintShape::Ring {
            inner_radius_m: 0.0,
            outer_radius_m: 0.02,
        };
        let [from, to] = deepest_per_m2(&on(disc)).unwrap();
        assert!((from * PI * 4e-4 - 1.0).abs() < 1e-12 && (to / from - 2.0).abs() < 1e-12);
        assert_eq!(deepest_per_m2(&on(FootprintShape::Spot)), None);
        assert_eq!(
            deepest_per_m2(&on(FootprintShape::Line { length_m: 0.1 })),
            None
        );
    }
}
