//! How much water comes with the metal, as a sentence.
//!
//! In: a part with its film, the scene. Out: what the summary says of its purity. The physics is
//! [`crate::worth::purity`]'s.

use super::super::figures::{power_of_ten, significant};
use super::super::model::{PartOutcome, PartPurity};
use super::{open_s, pieces};
use crate::metals::Metal;
use crate::scene::Scene;
use crate::stats::weighted_quantiles;
use crate::worth::purity::{Affinity, Taint, water_per_m2_s};

/// How much water comes with the metal on a part; of several metals, with the one that suffers most.
///
/// - returns none without a base pressure, without film, and for metals whose way with water is not known
pub fn purity(part: &PartOutcome, scene: &Scene) -> Option<PartPurity> {
    let base_pressure_pa = scene.plan.gas.as_ref()?.base_pressure_pa?;
    let of_metals = scene
        .metals
        .iter()
        .enumerate()
        .filter_map(|(index, metal)| {
            let by_this = |source: usize| scene.sources[source].metal == index;
            let open_s = open_s(scene, by_this);
            let median_m = median_m(part, index)?;
            let per_m2_s = median_m / metal.atom_volume_m3() / open_s;
            (open_s > 0.0).then(|| told(metal, per_m2_s, base_pressure_pa))?
        });
    of_metals.max_by(|a, b| {
        let weight = |told: &PartPurity| {
            let binds = Affinity::of(&told.metal) == Some(Affinity::Binds);
            (binds, told.water_per_metal)
        };
        let ((a_binds, a), (b_binds, b)) = (weight(a), weight(b));
        a_binds.cmp(&b_binds).then(a.total_cmp(&b))
    })
}

/// Film of one metal on the median of the area that has some of it, m.
fn median_m(part: &PartOutcome, metal: usize) -> Option<f64> {
    let of_metal = part.by_metal_m.get(metal);
    let film = pieces(part).into_iter().filter_map(|piece| {
        let thickness_m = match of_metal {
            Some(of_metal) => f64::from(of_metal[piece.number]),
            None => piece.facet.thickness_m,
        };
        (thickness_m > 0.0).then_some((thickness_m, piece.area_m2))
    });
    let (values, weights): (Vec<f64>, Vec<f64>) = film.unzip();
    weighted_quantiles(&values, &weights, &[0.5])?.pop()
}

/// What is said of one metal.
fn told(metal: &Metal, metal_per_m2_s: f64, base_pressure_pa: f64) -> Option<PartPurity> {
    let affinity = Affinity::of(&metal.name)?;
    let water_per_m2_s = water_per_m2_s(base_pressure_pa);
    let water_per_metal = water_per_m2_s / metal_per_m2_s;
    let name = &metal.name;
    let sentence = match affinity {
        Affinity::LetsGo => format!(
            "{} water molecules strike per 100 atoms of {name}, which matters little: {name} lets most of them go.",
            per_hundred(water_per_metal)
        ),
        Affinity::Binds => format!(
            "{} water molecules strike per 100 atoms of {name} on the median of the film, and {name} binds oxygen: {}.",
            per_hundred(water_per_metal),
            expect(Taint::of(water_per_metal))
        ),
    };
    Some(PartPurity {
        sentence,
        metal: name.clone(),
        water_per_m2_s,
        metal_per_m2_s,
        water_per_metal,
    })
}

fn per_hundred(water_per_metal: f64) -> String {
    let per_hundred = 100.0 * water_per_metal;
    if (0.01..1e4).contains(&per_hundred) {
        format!("Up to {}", significant(per_hundred, 2))
    } else {
        format!("Up to {}", power_of_ten(per_hundred))
    }
}

fn expect(taint: Taint) -> &'static str {
    match taint {
        Taint::Little => "the film should come out as good as the metal",
        Taint::Some => {
            "expect more resistance and a slightly duller film; pump longer or coat faster"
        }
        Taint::Much => {
            "expect oxide in the film; pump down further or coat faster before you trust its looks"
        }
        Taint::Oxide => {
            "that is as much water as metal, so expect oxide rather than metal; do not start at this pressure"
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::metals::built_in;

    fn at(name: &str, nm_per_s: f64, pressure_pa: f64) -> PartPurity {
        let metal = built_in(name).unwrap();
        let per_m2_s = 1e-9 * nm_per_s / metal.atom_volume_m3();
        told(&metal, per_m2_s, pressure_pa).unwrap()
    }

    #[test]
    fn aluminium_at_a_nanometre_a_second_bears_a_tenth_of_a_millipascal() {
        // by hand: 1 nm/s of aluminium is 2.70 g/cm³ / 26.98 g/mol · N_A · 1e-9 = 6.026 3e19 per m² and s;
        // water at 1e-4 Pa and 300 K 3.583 98e18: 5.947 3 %
        let told = at("aluminium", 1.0, 1e-4);
        assert!(
            (told.water_per_metal / 0.059_473 - 1.0).abs() < 1e-4,
            "{told:?}"
        );
        assert!(
            told.sentence.starts_with("Up to 5.9 water molecules"),
            "{}",
            told.sentence
        );
        assert!(told.sentence.contains("duller"), "{}", told.sentence);
    }

    #[test]
    fn slow_titanium_in_a_poor_vacuum_becomes_oxide() {
        let told = at("titanium", 0.05, 5e-3);
        assert!(told.water_per_metal > 1.0);
        assert!(
            told.sentence.contains("oxide rather than metal"),
            "{}",
            told.sentence
        );
        let fast = at("titanium", 5.0, 1e-5);
        assert!(
            fast.sentence.contains("as good as the metal"),
            "{}",
            fast.sentence
        );
    }

    #[test]
    fn gold_lets_water_go_and_of_carbon_nothing_is_said() {
        assert!(at("gold", 0.1, 1e-3).sentence.contains("matters little"));
        let carbon = built_in("carbon").unwrap();
        assert!(told(&carbon, 1e19, 1e-3).is_none());
    }
}
