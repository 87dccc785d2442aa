//! Assembles the outcome: everything a run says, self-contained.
//!
//! In: scene, rates, tally, film and settings. Out: an [`Outcome`]. Next on the road: `outcome::write`.

mod part;

use super::model::{
    Audit, CouponSummary, Outcome, PartOutcome, PartSummary, Summary, ThicknessSummary, Tooling,
};
use super::statistics::{Patch, distribution};
use super::surroundings::{self, body};
use super::verdict::{Facets, Threshold, Wanted, judge};
use super::{FORMAT, VERSION, doubt, flight, stencils, warn, words, worth};
use crate::film::{Film, State};
use crate::scene::Scene;
use crate::transport::{Method, Rates, RunSettings, Stopped, Tally};
use glam::DVec3;
use part::part;
use std::collections::BTreeMap;

/// Avogadro constant, 1/mol, exact. Source: SI since 2019 (BIPM, SI Brochure 9th edition).
const AVOGADRO_PER_MOL: f64 = 6.022_140_76e23;

/// Names of the shares that take film away, in the order of the shares after "direct".
pub const CAUSES: [&str; 6] = ["facing", "self", "fixtures", "mask", "shutter", "gas"];

/// Puts together everything a run says.
///
/// - `rates`, `tally`, `film`: of this very scene, same indices; the film's rows become the outcome's
/// - returns an outcome without `timing`, which the caller's clock fills in
///
/// # Panics
/// When the film is that of a scene with another number of parts.
pub fn assemble(
    scene: &Scene,
    rates: &Rates,
    tally: &Tally,
    film: Film,
    settings: &RunSettings,
) -> Outcome {
    let Film { rows, facets: film } = film;
    assert_eq!(
        rows.len(),
        scene.parts.len(),
        "the film is that of another scene"
    );
    let metals = scene.metals.iter().map(|metal| metal.name.clone());
    let metals: Vec<String> = metals.collect();
    let parts: Vec<PartOutcome> = rows
        .into_iter()
        .enumerate()
        .map(|(index, rows)| part(scene, tally, (rows, &film), index))
        .collect();
    let facets: Vec<Facets<'_>> = parts
        .iter()
        .zip(&scene.parts)
        .map(|(part, placed)| {
            let receivers = placed.front.clone().chain(placed.back.clone());
            Facets {
                part,
                areas_m2: receivers
                    .clone()
                    .map(|index| scene.receivers[index].area_m2)
                    .collect(),
                bounds_m: receivers
                    .map(|index| film[index].bound_m.unwrap_or(0.0))
                    .collect(),
            }
        })
        .collect();
    let mut summary = summary(scene, rates, tally, settings);
    let wanted = scene.plan.film.as_ref().map(|film| Wanted {
        film,
        regions: &scene.plan.regions,
        metals: &metals,
    });
    summary.film = wanted.as_ref().map(|wanted| judge(&facets, wanted));
    let threshold = wanted.map(|wanted| Threshold::of(&wanted.film.want, &metals));
    for (index, facets) in facets.iter().enumerate() {
        let mean_m = tally.part_mean_m.get(index).copied().unwrap_or_default();
        summary
            .parts
            .push(part_summary(facets, threshold.as_ref(), mean_m));
    }
    let ions_of = crate::supply::ion_of(&scene.plan);
    let doubts = doubt::doubts(&scene.plan.sources, ions_of, scattered(&summary));
    summary.doubt = doubts.into_iter().collect();
    if !tally.is_sketch {
        worth::tell(&mut summary, &parts, (scene, rates));
    }
    summary.stencils = stencils::tell(scene, tally);
    summary.warnings = warn::warnings(scene, &summary);
    Outcome {
        summary,
        plan_files: surroundings::plan_files(scene),
        parts,
        bodies: surroundings::bodies(scene),
        sources: words::sources(scene, rates),
        steps: words::steps(scene),
        rotations: scene.motion.axes.clone(),
        chamber: scene.chamber,
        probes: surroundings::probes(scene, tally),
        probe_parts: scene
            .plan
            .probes
            .iter()
            .map(|probe| probe.part.clone())
            .collect(),
        stencil_files: stencils::files(scene, tally),
        clearances: surroundings::clearances(scene),
        region_names: scene
            .plan
            .regions
            .iter()
            .map(|region| region.name.clone())
            .collect(),
        metal_names: metals,
    }
}

/// Share of the film that came after a collision or a bounce: the greatest of the parts', 0 where all flew straight.
fn scattered(summary: &Summary) -> f64 {
    let flight = summary.flight.iter().filter(|flight| flight.gas.is_some());
    let shares = flight
        .flat_map(|flight| &flight.parts)
        .map(|part| part.scattered_fraction.mean);
    shares.fold(0.0, f64::max)
}

/// The summary without what needs facets: parts, film and warnings.
fn summary(scene: &Scene, rates: &Rates, tally: &Tally, settings: &RunSettings) -> Summary {
    Summary {
        format: FORMAT.to_owned(),
        version: VERSION,
        program: env!("CARGO_PKG_VERSION").to_owned(),
        title: scene.plan.title.clone(),
        seed: settings.seed,
        method: settings.method.in_effect(scene),
        stopped: tally.stopped.unwrap_or(Stopped::Reached),
        accuracy_asked: settings.accuracy,
        accuracy_reached: tally.accuracy,
        parts: Vec::new(),
        film: None,
        coupons: coupons(scene, tally),
        tooling: tooling(scene, tally),
        balance: tally.balance.clone(),
        emitted_real: rates.atoms.iter().flatten().sum(),
        metal_used_mg: metal_used_mg(scene, rates),
        audit: audit(scene, tally, settings.method.in_effect(scene)),
        flight: flight::flight(scene, tally),
        looks: BTreeMap::new(),
        conducts: BTreeMap::new(),
        grows: BTreeMap::new(),
        heat: BTreeMap::new(),
        purity: BTreeMap::new(),
        target: BTreeMap::new(),
        doubt: BTreeMap::new(),
        stencils: Vec::new(),
        uncalibrated: scene.plan.sources.iter().any(warn::uncalibrated),
        warnings: Vec::new(),
        timing: BTreeMap::new(),
    }
}

fn part_summary(
    facets: &Facets<'_>,
    threshold: Option<&Threshold>,
    (tally_mean_m, tally_error_m): (f64, f64),
) -> PartSummary {
    let part = facets.part;
    let mut areas_m2 = StateAreas::default();
    let mut lost_m2 = [0.0; 6];
    let mut explained_m2 = 0.0;
    for index in 0..facets.count() {
        let facet = facets.get(index);
        let area_m2 = facets.areas_m2[index];
        let chance = match (facet.state, threshold) {
            (State::Reached, None) => 1.0,
            (_, None) => 0.0,
            (_, Some(threshold)) => facets.chance(index, threshold),
        };
        areas_m2.add(facet.state, area_m2, chance);
        let known = facet.shares.iter().any(|&share| share > 0.0);
        if facet.state != State::Buried && known {
            let lacking_m2 = area_m2 * (1.0 - chance);
            explained_m2 += lacking_m2;
            for (lost_m2, &share) in lost_m2.iter_mut().zip(&facet.shares[1..]) {
                *lost_m2 += lacking_m2 * f64::from(share);
            }
        }
    }
    let causes = CAUSES.iter().zip(lost_m2);
    let causes = causes.filter(|_| explained_m2 > 0.0);
    let of_all = |area_m2: f64| {
        if areas_m2.all > 0.0 {
            area_m2 / areas_m2.all
        } else {
            0.0
        }
    };
    PartSummary {
        name: part.name.clone(),
        triangles: part.triangles.len(),
        facets: facets.count(),
        area_mm2: areas_m2.all * 1e6,
        size_mm: size_mm(part),
        thickness_nm: thickness_nm(
            facets.surface().map(|index| facets.patch(index)),
            (tally_mean_m, tally_error_m),
        ),
        reached_want_fraction: of_all(areas_m2.reached),
        thin_fraction: of_all(areas_m2.thin),
        none_seen_fraction: of_all(areas_m2.none_seen),
        unreached_fraction: of_all(areas_m2.unreached),
        buried_fraction: of_all(areas_m2.buried),
        causes: causes
            .map(|(name, lost_m2)| ((*name).to_owned(), lost_m2 / explained_m2))
            .collect(),
        health: part.health.clone(),
    }
}

/// Areas by state, m².
#[derive(Default)]
struct StateAreas {
    all: f64,
    reached: f64,
    thin: f64,
    none_seen: f64,
    unreached: f64,
    buried: f64,
}

impl StateAreas {
    /// Adds a facet whose film is enough with the given chance.
    fn add(&mut self, state: State, area_m2: f64, chance: f64) {
        self.all += area_m2;
        match state {
            State::Reached => {
                self.reached += area_m2 * chance;
                self.thin += area_m2 * (1.0 - chance);
            }
            State::NoneSeen => self.none_seen += area_m2,
            State::Unreached => self.unreached += area_m2,
            State::Buried => self.buried += area_m2,
            State::Needle => {}
        }
    }
}

/// Distribution in nm. The error of the mean is the tally's, in proportion where the tally's mean is over another area.
fn thickness_nm(
    patches: impl Iterator<Item = Patch>,
    (tally_mean_m, tally_error_m): (f64, f64),
) -> ThicknessSummary {
    let found = distribution(patches);
    let same_area = if tally_mean_m > 0.0 {
        found.mean_m / tally_mean_m
    } else {
        1.0
    };
    ThicknessSummary {
        min: found.min_m * 1e9,
        p05: found.p05_m * 1e9,
        median: found.median_m * 1e9,
        mean: found.mean_m * 1e9,
        mean_stderr: tally_error_m * same_area * 1e9,
        p95: found.p95_m * 1e9,
        max: found.max_m * 1e9,
        noise: found.noise_m * 1e9,
    }
}

fn size_mm(part: &PartOutcome) -> [f64; 3] {
    let corners = part.triangles.iter().flatten();
    let corners = corners.map(|&corner| part.vertices_m[corner as usize]);
    let start = (DVec3::INFINITY, DVec3::NEG_INFINITY);
    let (low, high) = corners.fold(start, |(low, high), corner| {
        (low.min(corner), high.max(corner))
    });
    if low.x <= high.x {
        ((high - low) * 1e3).to_array()
    } else {
        [0.0; 3]
    }
}

fn coupons(scene: &Scene, tally: &Tally) -> Vec<CouponSummary> {
    let both = scene.coupons.iter().zip(&tally.coupons_m);
    both.map(|(coupon, &(thickness_m, std_error_m))| CouponSummary {
        name: coupon.name.clone(),
        thickness_nm: thickness_m * 1e9,
        stderr_nm: std_error_m * 1e9,
    })
    .collect()
}

/// Standard error of a mean without what the rate's own error adds to it.
///
/// The tally has r · mean in it in quadrature, r the relative error of the rates; √(s² − (r · mean)²) takes it out.
fn sampling_error_m((mean_m, std_error_m): (f64, f64), tally: &Tally) -> f64 {
    let from_rate_m = mean_m * tally.rate_error;
    (std_error_m * std_error_m - from_rate_m * from_rate_m)
        .max(0.0)
        .sqrt()
}

/// Part over coupon, for every pair whose coupon has film.
///
/// f = p / c, s_f = f · √((s_p / p)² + (s_c / c)²): first-order propagation for independent errors (standard).
/// Neglects: the error of the rate, which cancels in the ratio if there is one source; with several it stays in.
fn tooling(scene: &Scene, tally: &Tally) -> Vec<Tooling> {
    let error_m = |mean: (f64, f64)| match scene.sources.len() {
        1 => sampling_error_m(mean, tally),
        _ => mean.1,
    };
    let mut all = Vec::new();
    for (part, &of_part) in scene.parts.iter().zip(&tally.part_mean_m) {
        for (coupon, &of_coupon) in scene.coupons.iter().zip(&tally.coupons_m) {
            if of_coupon.0 > 0.0 {
                let factor = of_part.0 / of_coupon.0;
                let from_coupon = factor * error_m(of_coupon) / of_coupon.0;
                all.push(Tooling {
                    part: body(scene, part.body).name.clone(),
                    coupon: coupon.name.clone(),
                    factor,
                    stderr: (error_m(of_part) / of_coupon.0).hypot(from_coupon),
                });
            }
        }
    }
    all
}

/// Means by the run's method beside means by firing, errors of sampling alone: both rest on the same rates.
///
/// Nothing where firing is the run's own method, or where there is no error bar to compare by.
fn audit(scene: &Scene, tally: &Tally, method: Method) -> Vec<Audit> {
    if method == Method::Fire {
        return Vec::new();
    }
    let parts = scene.parts.iter().map(|part| &body(scene, part.body).name);
    let parts = parts.zip(tally.part_mean_m.iter().zip(&tally.audit_part_mean_m));
    let coupons = scene.coupons.iter().map(|coupon| &coupon.name);
    let coupons = coupons.zip(tally.coupons_m.iter().zip(&tally.audit_coupons_m));
    parts
        .chain(coupons)
        .filter_map(|(name, (&mean, &(fired_m, fired_error_m)))| {
            let error_m = sampling_error_m(mean, tally);
            let error_of_difference_m = error_m.hypot(fired_error_m);
            (error_of_difference_m > 0.0).then(|| Audit {
                name: name.clone(),
                mean_nm: mean.0 * 1e9,
                mean_stderr_nm: error_m * 1e9,
                fired_nm: fired_m * 1e9,
                fired_stderr_nm: fired_error_m * 1e9,
                z: (mean.0 - fired_m) / error_of_difference_m,
            })
        })
        .collect()
}

/// Mass of all atoms that leave during the run, shutters open or shut, mg, by metal: N · M / N_A.
fn metal_used_mg(scene: &Scene, rates: &Rates) -> BTreeMap<String, f64> {
    let mut used_mg = BTreeMap::new();
    for (source, atoms) in scene.sources.iter().zip(&rates.atoms) {
        let metal = &scene.metals[source.metal];
        let mass_kg = atoms.iter().sum::<f64>() * metal.molar_mass_kg_per_mol / AVOGADRO_PER_MOL;
        *used_mg.entry(metal.name.clone()).or_insert(0.0) += mass_kg * 1e6;
    }
    used_mg
}
