//! Heat that arrives on a part, step by step: film per time times heat per volume of film.

use super::super::Piece;
use super::Asked;
use crate::constants::ELEMENTARY_CHARGE_C;
use crate::emission::StartEnergy;
use crate::plan::model::{Output, SourceKind};
use crate::supply::ion_of;
use crate::supply::sputter::{ION_ENERGY_SHARE, Ion};
use crate::worth::arrival::{
    USUAL_ION_EV, evaporated_j, glow_j, mean_sputtered_j, sputtered_j, transfer,
};

/// One atomic mass unit, kg (CODATA 2018, digits cut).
const ATOMIC_MASS_KG: f64 = 1.660_539_07e-27;

/// Binding energies of metals whose own is not known, from and to, eV (enthalpies of sublimation lie between 2 and 8 eV for
/// most metals, from memory).
const BINDINGS_EV: [f64; 2] = [2.0, 8.0];

/// Temperatures of melts whose own is not known, from and to, K. Common practice, no source.
const MELTS_K: [f64; 2] = [1200.0, 2200.0];

/// Heat on a part while each step lasts, from and to, W/m².
pub(super) struct Loads {
    /// In the mean over the counted area.
    pub(super) mean: Vec<[f64; 2]>,
    /// Where most film grows in the whole run.
    pub(super) most: Vec<[f64; 2]>,
    /// The step with the greatest mean.
    pub(super) hottest: usize,
    /// Names of boats whose glow is not in it.
    pub(super) without_glow: Option<String>,
    /// What had to be guessed.
    pub(super) guessed: Option<String>,
}

/// Heat on a part by step.
///
/// - returns none without film
pub(super) fn loads(asked: &Asked<'_>, pieces: &[Piece<'_>]) -> Option<Loads> {
    let films = Films::of(asked, pieces)?;
    let mut loads = Loads {
        mean: Vec::new(),
        most: Vec::new(),
        hottest: 0,
        without_glow: None,
        guessed: None,
    };
    for (number, step) in asked.scene.steps.iter().enumerate() {
        let open = (0..step.open.len()).filter(|&source| step.open[source]);
        let mut per_m3: Option<[f64; 2]> = None;
        for source in open {
            let found = per_volume(asked, source, number)?;
            let of_source = found.j_per_m3;
            per_m3 = Some(per_m3.map_or(of_source, |all| {
                [all[0].min(of_source[0]), all[1].max(of_source[1])]
            }));
            if !found.glows {
                loads.without_glow = Some(asked.scene.sources[source].name.clone());
            }
            loads.guessed = found.guessed.or(loads.guessed);
        }
        let per_m3 = per_m3.unwrap_or([0.0; 2]);
        let heat = |film_m: f64| per_m3.map(|j_per_m3| film_m / step.lasts_s * j_per_m3);
        loads.mean.push(heat(films.mean_m[number]));
        loads.most.push(heat(films.most_m[number]));
    }
    let count = loads.mean.len();
    loads.hottest = (0..count).max_by(|&a, &b| loads.mean[a][1].total_cmp(&loads.mean[b][1]))?;
    (loads.mean[loads.hottest][1] > 0.0).then_some(loads)
}

/// Film per step, m: in the mean, and where most grows for certain.
struct Films {
    mean_m: Vec<f64>,
    most_m: Vec<f64>,
}

impl Films {
    fn of(asked: &Asked<'_>, pieces: &[Piece<'_>]) -> Option<Self> {
        let part = asked.part;
        let area_m2: f64 = pieces.iter().map(|piece| piece.area_m2).sum();
        let front = part.facets.len();
        // where both sides count, both heat one wall: half of either per counted face
        let sides = |number: usize| match number {
            _ if !part.both_sides => vec![(number, 1.0)],
            number if number < front => vec![(number, 0.5), (number + front, 0.5)],
            number => vec![(number, 0.5), (number - front, 0.5)],
        };
        let facet = |number: usize| match number.checked_sub(front) {
            None => &part.facets[number],
            Some(back) => &part.back_facets[back],
        };
        // less two standard errors, so that the noise of small facets does not decide
        let certain_m = |number: usize| {
            let both = sides(number);
            let film = both
                .iter()
                .map(|&(k, weight)| weight * facet(k).thickness_m);
            let error = both
                .iter()
                .map(|&(k, weight)| weight * facet(k).std_error_m);
            film.sum::<f64>() - 2.0 * error.sum::<f64>()
        };
        let numbers = pieces.iter().map(|piece| piece.number);
        let most = numbers.max_by(|&a, &b| certain_m(a).total_cmp(&certain_m(b)))?;
        let mean = |film: &Vec<f32>| {
            let volumes = pieces
                .iter()
                .map(|piece| piece.area_m2 * f64::from(film[piece.number]));
            volumes.sum::<f64>() / area_m2
        };
        let at_most = |film: &Vec<f32>| -> f64 {
            let both = sides(most);
            both.iter()
                .map(|&(k, weight)| weight * f64::from(film[k]))
                .sum()
        };
        let whole = part.by_step_m.len() == asked.scene.steps.len() && area_m2 > 0.0;
        whole.then(|| Self {
            mean_m: part.by_step_m.iter().map(mean).collect(),
            most_m: part.by_step_m.iter().map(at_most).collect(),
        })
    }
}

/// Heat per volume of film that a source builds in a step.
struct PerVolume {
    /// From and to, J/m³, with the doubt of the rate.
    j_per_m3: [f64; 2],
    /// The glow of the boat is in it.
    glows: bool,
    /// What had to be guessed.
    guessed: Option<String>,
}

/// Heat per volume of film that a source builds in a step; none where ions cannot sputter the metal.
///
/// Where the rate is not calibrated, as much more or less metal may come with its heat; the glow of a melt does not change
/// with that.
fn per_volume(asked: &Asked<'_>, source: usize, step: usize) -> Option<PerVolume> {
    let planned = &asked.scene.plan.sources[source];
    let metal = &asked.scene.metals[asked.scene.sources[source].metal];
    let factor = asked
        .rate_factors
        .get(&planned.name)
        .copied()
        .unwrap_or(1.0);
    let doubted = |[least, most]: [f64; 2]| [least / factor, most * factor];
    let binding_j = metal
        .surface_binding_j
        .map_or(BINDINGS_EV.map(|ev| ev * ELEMENTARY_CHARGE_C), |j| [j; 2]);
    let mut guessed = metal.surface_binding_j.is_none().then(|| {
        let [from, to] = BINDINGS_EV;
        format!(
            "how strongly {} binds is not known, {from} to {to} eV per atom are taken",
            metal.name
        )
    });
    let (per_atom_j, glows) = match planned.kind {
        SourceKind::Sputter { .. } => {
            let ion_ev = match planned.output {
                Output::Discharge { voltage_v, .. } => ION_ENERGY_SHARE * voltage_v,
                _ => USUAL_ION_EV,
            };
            // ions of nitrogen have no entry: argon's mass serves
            let ion = Ion::of(ion_of(&asked.scene.plan)).or_else(|| Ion::of("argon"))?;
            let share = transfer(ion.mass_u * ATOMIC_MASS_KG, metal.atom_mass_kg());
            let most_j = share * ion_ev * ELEMENTARY_CHARGE_C;
            let sputtered = |binding_j: f64| {
                let leaving_j = mean_sputtered_j(binding_j, most_j)?;
                Some(sputtered_j(binding_j, leaving_j, asked.arriving_j))
            };
            let [weak, strong] = [sputtered(binding_j[0])?, sputtered(binding_j[1])?];
            (doubted([weak[0], strong[1]]), true)
        }
        SourceKind::Boat { .. } => {
            let temperature_k = match asked.scene.sources[source].energy {
                Some(StartEnergy::Effusive { temperature_k }) => [temperature_k; 2],
                _ => {
                    let [from, to] = MELTS_K;
                    guessed = Some(format!(
                        "how hot {} evaporates is not known, {from} to {to} K are taken",
                        metal.name
                    ));
                    MELTS_K
                }
            };
            let own = |end: usize| evaporated_j(binding_j[end], temperature_k[end]);
            let own_j = doubted([own(0), own(1)]);
            let area_m2 = match planned.output {
                Output::Temperature { area_m2, .. } => area_m2,
                _ => asked.scene.sources[source].footprint.area_m2(),
            };
            let rate_per_s = asked.rates.atoms[source][step] / asked.scene.steps[step].lasts_s;
            if area_m2 > 0.0 && rate_per_s > 0.0 {
                let glow = |end: usize| glow_j(temperature_k[end], area_m2, rate_per_s)[end];
                ([own_j[0] + glow(0), own_j[1] + glow(1)], true)
            } else {
                (own_j, false)
            }
        }
    };
    Some(PerVolume {
        j_per_m3: per_atom_j.map(|j| j / metal.atom_volume_m3()),
        glows,
        guessed,
    })
}
