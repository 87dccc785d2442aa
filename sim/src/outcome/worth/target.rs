//! What a run takes from its sources, as sentences with ranges.
//!
//! In: scene and rates. Out: what the summary says of each source. The physics is [`crate::worth::target`]'s.

use super::super::doubt::doubt;
use super::super::figures::{percent, three, whole};
use super::super::model::SourceWear;
use super::super::warn::uncalibrated;
use crate::metals::Metal;
use crate::plan::model::{Output, Source as Planned, SourceKind};
use crate::scene::{Scene, Source};
use crate::supply::ion_of;
use crate::transport::Rates;
use crate::worth::target::{deepest_per_m2, depth_m};

/// Runs beyond which a count of them says nothing more.
const MANY_RUNS: f64 = 1000.0;

/// What a run takes from each source, by its name.
pub fn wear(scene: &Scene, rates: &Rates) -> Vec<(String, SourceWear)> {
    let sources = scene.plan.sources.iter().zip(&scene.sources);
    let with_atoms = sources.zip(&rates.atoms);
    with_atoms
        .map(|((planned, source), atoms)| {
            let taken = Taken {
                planned,
                source,
                metal: &scene.metals[source.metal],
                atoms: atoms.iter().sum(),
                gas: ion_of(&scene.plan),
            };
            (planned.name.clone(), taken.told())
        })
        .collect()
}

/// A source with what leaves it during the run.
struct Taken<'a> {
    planned: &'a Planned,
    source: &'a Source,
    metal: &'a Metal,
    atoms: f64,
    /// Whose ions sputter.
    gas: &'a str,
}

impl Taken<'_> {
    fn told(&self) -> SourceWear {
        let leaves_mg = 1e6 * self.atoms * self.metal.atom_mass_kg();
        let sputtered = matches!(self.planned.kind, SourceKind::Sputter { .. });
        let depth_mm = self.depth_mm().filter(|_| sputtered);
        let thickness_mm = self.planned.target_thickness_m.map(|m| 1e3 * m);
        let charge_left_mg = match self.planned.output {
            Output::Charge { mass_kg } => Some((1e6 * mass_kg - leaves_mg).max(0.0)),
            _ => None,
        };
        let sentence = match self.planned.output {
            Output::Charge { mass_kg } => all_leaves(1e6 * mass_kg, charge_left_mg.unwrap_or(0.0)),
            _ if sputtered => self.groove_sentence(leaves_mg, depth_mm, thickness_mm),
            _ => self.boat_sentence(leaves_mg),
        };
        SourceWear {
            sentence,
            leaves_mg,
            groove_mm: depth_mm,
            groove_per_thickness: depth_mm
                .zip(thickness_mm)
                .map(|(depth, thickness)| depth.map(|mm| mm / thickness)),
            charge_left_mg,
        }
    }

    /// How much less and more may leave than is computed, as factors: 1 for a charge and for a rate set by a coupon.
    fn doubt(&self) -> [f64; 2] {
        let charge = matches!(self.planned.output, Output::Charge { .. });
        let factor = if charge || !uncalibrated(self.planned) {
            1.0
        } else {
            // gas changes where metal goes, not how much leaves
            doubt(self.planned, self.gas, 0.0).factor
        };
        [1.0 / factor, factor]
    }

    fn depth_mm(&self) -> Option<[f64; 2]> {
        let per_m2 = deepest_per_m2(&self.source.footprint)?;
        let doubt = self.doubt();
        let mm = |k: usize| {
            let atoms_per_m2 = self.atoms * per_m2[k] * doubt[k];
            1e3 * depth_m(atoms_per_m2, self.metal.atom_volume_m3())
        };
        Some([mm(0), mm(1)])
    }

    fn groove_sentence(
        &self,
        leaves_mg: f64,
        depth_mm: Option<[f64; 2]>,
        thickness_mm: Option<f64>,
    ) -> String {
        let takes = format!(
            "The run takes about {} mg of {} off the target",
            three(leaves_mg),
            self.metal.name
        );
        let Some(depth_mm) = depth_mm else {
            return format!(
                "{takes}; how deep that digs is not known, as the footprint has no area."
            );
        };
        let digs = format!("{takes} and digs {} mm deep", between(depth_mm));
        match thickness_mm {
            None => {
                format!("{digs}; say target_thickness, and it is held against that.")
            }
            Some(thickness_mm) if depth_mm[1] >= thickness_mm => format!(
                "{digs}, so that a new target of {} mm may be through before the end.",
                three(thickness_mm)
            ),
            Some(thickness_mm) => format!(
                "{digs}, {} of a target of {} mm at most: a new one bears {} such runs, less what earlier ones dug.",
                percent(depth_mm[1] / thickness_mm),
                three(thickness_mm),
                runs([thickness_mm / depth_mm[1], thickness_mm / depth_mm[0]])
            ),
        }
    }

    fn boat_sentence(&self, leaves_mg: f64) -> String {
        let leaves = self.doubt().map(|factor| factor * leaves_mg);
        format!(
            "The run takes {} mg of {} out of the boat, which must hold more than that, since it burns out when dry.",
            between(leaves),
            self.metal.name
        )
    }
}

fn all_leaves(charge_mg: f64, left_mg: f64) -> String {
    if left_mg > 1e-6 * charge_mg {
        return format!(
            "Of the charge of {} mg about {} mg is left.",
            three(charge_mg),
            three(left_mg)
        );
    }
    format!(
        "All of the charge of {} mg leaves, by the plan: nothing is left, so load it anew for the next run.",
        three(charge_mg)
    )
}

/// Whole runs, from and to.
fn runs([from, to]: [f64; 2]) -> String {
    let whole = |count: f64| whole(rounded_down(count));
    if from >= MANY_RUNS {
        "over 1 000".to_owned()
    } else if to >= MANY_RUNS {
        format!("{} or more", whole(from))
    } else if whole(from) == whole(to) {
        format!("about {}", whole(from))
    } else {
        format!("{} to {}", whole(from), whole(to))
    }
}

/// Rounded down: to whole runs below 100, to tens above.
fn rounded_down(count: f64) -> f64 {
    let step = if count < 100.0 { 1.0 } else { 10.0 };
    (count / step).floor().max(1.0) * step
}

/// A range in words, or one number where both ends read the same.
fn between([from, to]: [f64; 2]) -> String {
    let [from, to] = [from, to].map(three);
    if from == to {
        format!("about {from}")
    } else {
        format!("{from} to {to}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::emission::{EmissionLaw, Footprint, FootprintShape};
    use crate::metals::built_in;
    use crate::plan::model::{EmissionLaw as PlannedLaw, Footprint as PlannedFootprint};
    use glam::DVec3;

    fn planned(output: Output, thickness_m: Option<f64>) -> Planned {
        Planned {
            name: "head".to_owned(),
            kind: SourceKind::Sputter { energy_cut_j: 0.0 },
            metal: "copper".to_owned(),
            at_m: DVec3::ZERO,
            facing: DVec3::Z,
            along: None,
            footprint: PlannedFootprint::Disc { radius_m: 0.01 },
            law: PlannedLaw::CosinePower { exponent: 1.0 },
            output,
            correction: 1.0,
            target_thickness_m: thickness_m,
        }
    }

    fn told(planned: &Planned, mass_mg: f64) -> SourceWear {
        let metal = built_in("copper").unwrap();
        let disc = FootprintShape::Ring {
            inner_radius_m: 0.0,
            outer_radius_m: 0.01,
        };
        let source = Source {
            name: planned.name.clone(),
            metal: 0,
            footprint: Footprint::new(DVec3::ZERO, DVec3::Z, None, disc),
            law: EmissionLaw::cosine_power(1.0).unwrap(),
            energy: None,
            output: planned.output.clone(),
            correction: 1.0,
            face: None,
        };
        let taken = Taken {
            planned,
            source: &source,
            metal: &metal,
            atoms: 1e-6 * mass_mg / metal.atom_mass_kg(),
            gas: "argon",
        };
        taken.told()
    }

    fn coupon() -> Output {
        Output::Coupon {
            coupon: "witness".to_owned(),
            thickness_m: 1e-7,
            after_s: 60.0,
        }
    }

    #[test]
    fn a_gram_of_copper_off_a_disc_is_as_deep_as_its_density_says() {
        // 1 g / 8.96 g/cm³ / (π · 1 cm²) = 0.355 26 mm, by hand; a real groove up to twice that
        let wear = told(&planned(coupon(), Some(0.003)), 1000.0);
        let [from, to] = wear.groove_mm.unwrap();
        assert!((from / 0.355_26 - 1.0).abs() < 1e-4, "{from}");
        assert!((to / from - 2.0).abs() < 1e-12);
        assert!((wear.leaves_mg - 1000.0).abs() < 1e-9);
        // 3 mm / 0.711 mm = 4.2, 3 mm / 0.355 mm = 8.4
        assert!(
            wear.sentence.contains("bears 4 to 8 such runs"),
            "{}",
            wear.sentence
        );
    }

    #[test]
    fn what_no_coupon_sets_is_told_with_its_doubt() {
        let rate = Output::AtomsPerSecond { rate_per_s: 1.0 };
        let wear = told(&planned(rate, None), 1000.0);
        let [from, to] = wear.groove_mm.unwrap();
        assert!((to / from - 8.0).abs() < 1e-9 && wear.groove_per_thickness.is_none());
        assert!(
            wear.sentence.contains("say target_thickness"),
            "{}",
            wear.sentence
        );
    }

    #[test]
    fn a_thin_target_may_be_dug_through() {
        let wear = told(&planned(coupon(), Some(0.0005)), 1000.0);
        assert!(
            wear.sentence.contains("through before the end"),
            "{}",
            wear.sentence
        );
    }

    #[test]
    fn all_of_a_charge_leaves() {
        let wear = told(&planned(Output::Charge { mass_kg: 250e-6 }, None), 250.0);
        assert!(wear.charge_left_mg.unwrap().abs() < 1e-9);
        assert!(
            wear.sentence.starts_with("All of the charge of 250 mg"),
            "{}",
            wear.sentence
        );
        let half = told(&planned(Output::Charge { mass_kg: 250e-6 }, None), 100.0);
        assert!((half.charge_left_mg.unwrap() - 150.0).abs() < 1e-9);
    }
}
