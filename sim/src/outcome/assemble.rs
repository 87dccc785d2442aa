//! Assembles the outcome: everything a run says, self-contained.
//!
//! In: scene, rates, tally, film and settings. Out: an [`Outcome`]. Next on the road: `outcome::write`.

use super::model::{
    Audit, BodyOutcome, CouponSummary, Facet, Outcome, PartOutcome, PartSummary, Summary,
    ThicknessSummary, Tooling,
};
use super::statistics::{Patch, distribution};
use super::verdict::{Facets, Threshold, Wanted, judge};
use super::{FORMAT, VERSION, warn, words};
use crate::film::{Film, State};
use crate::plan::model::{Faces, Placement};
use crate::scene::{Body, BodyId, BodyKind, Scene};
use crate::transport::{Rates, RunSettings, Stopped, Tally};
use glam::{DAffine3, DMat3, DVec3};
use std::collections::BTreeMap;
use std::path::Path;

/// Avogadro constant, 1/mol, exact. Source: SI since 2019 (BIPM, SI Brochure 9th edition).
const AVOGADRO_PER_MOL: f64 = 6.022_140_76e23;

/// Names of the shares that take film away, in the order of the shares after "direct".
pub const CAUSES: [&str; 6] = ["facing", "self", "fixtures", "mask", "shutter", "gas"];

/// Puts together everything a run says.
///
/// - `rates`, `tally`, `film`: of this very scene, same indices
/// - returns an outcome without `timing`, which the caller's clock fills in
pub fn assemble(
    scene: &Scene,
    rates: &Rates,
    tally: &Tally,
    film: &Film,
    settings: &RunSettings,
) -> Outcome {
    let metals: Vec<String> = scene
        .metals
        .iter()
        .map(|metal| metal.name.clone())
        .collect();
    let parts: Vec<PartOutcome> = (0..scene.parts.len())
        .map(|index| part(scene, tally, film, index))
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
                bounds_m: receivers.map(|index| bound_m(tally, film, index)).collect(),
            }
        })
        .collect();
    let mut summary = summary(scene, rates, tally, settings);
    let wanted = scene.plan.film.as_ref().map(|film| Wanted {
        film,
        regions: &scene.plan.regions,
        metals: &metals,
        relative_rate_error: rates.relative_error.iter().copied().fold(0.0, f64::max),
    });
    summary.film = wanted.as_ref().map(|wanted| judge(&facets, wanted));
    let threshold = wanted.map(|wanted| Threshold::of(&wanted.film.want, &metals));
    for (index, facets) in facets.iter().enumerate() {
        let mean_m = tally.part_mean_m.get(index).copied().unwrap_or_default();
        summary
            .parts
            .push(part_summary(facets, threshold.as_ref(), mean_m));
    }
    summary.warnings = warn::warnings(scene, &summary);
    Outcome {
        summary,
        plan_files: plan_files(scene),
        parts,
        bodies: bodies(scene),
        sources: words::sources(scene, rates),
        steps: words::steps(scene),
        rotations: scene.motion.axes.clone(),
        chamber: scene.chamber,
        probes: probes(scene, tally),
        clearances: scene.facts.clearances.clone(),
        region_names: scene
            .plan
            .regions
            .iter()
            .map(|region| region.name.clone())
            .collect(),
        metal_names: metals,
    }
}

/// The summary without what needs facets: parts, film and warnings.
fn summary(scene: &Scene, rates: &Rates, tally: &Tally, settings: &RunSettings) -> Summary {
    Summary {
        format: FORMAT.to_owned(),
        version: VERSION,
        program: env!("CARGO_PKG_VERSION").to_owned(),
        title: scene.plan.title.clone(),
        seed: settings.seed,
        method: settings.method,
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
        audit: audit(scene, tally),
        uncalibrated: scene.plan.sources.iter().any(warn::uncalibrated),
        warnings: Vec::new(),
        timing: BTreeMap::new(),
    }
}

fn body(scene: &Scene, id: BodyId) -> &Body {
    &scene.bodies[id.0 as usize]
}

/// One part with its film, facet by facet and row by row.
fn part(scene: &Scene, tally: &Tally, film: &Film, index: usize) -> PartOutcome {
    let placed = &scene.parts[index];
    let body = body(scene, placed.body);
    let facet = |receiver: usize| facet(scene, tally, film, (index, receiver));
    let receivers = || placed.front.clone().chain(placed.back.clone());
    let chosen = |sums: &Vec<Vec<f32>>| -> Vec<Vec<f32>> {
        sums.iter()
            .map(|of_one| receivers().map(|receiver| of_one[receiver]).collect())
            .collect()
    };
    PartOutcome {
        name: body.name.clone(),
        vertices_m: body.vertices.to_vec(),
        triangles: body.triangles.to_vec(),
        rows: film.rows[index].clone(),
        facets: placed.front.clone().map(facet).collect(),
        back_facets: placed.back.clone().map(facet).collect(),
        by_step_m: chosen(&tally.by_step),
        by_metal_m: chosen(&tally.by_metal),
        chamber_from_part: pose(scene, placed.body),
        both_sides: placed.faces == Faces::Both,
        health: placed.mesh.health.clone(),
        material: scene.plan.parts[index].material.clone(),
    }
}

fn facet(scene: &Scene, tally: &Tally, film: &Film, (part, index): (usize, usize)) -> Facet {
    let receiver = &scene.receivers[index];
    let body = body(scene, receiver.body);
    let [a, b, c] =
        body.triangles[receiver.triangle as usize].map(|corner| body.vertices[corner as usize]);
    let sums = &tally.receivers[index];
    let film = &film.facets[index];
    Facet {
        row: receiver.triangle,
        corners_m: receiver
            .corners
            .map(|weights| a * (1.0 - weights.x - weights.y) + b * weights.x + c * weights.y),
        thickness_m: film.thickness_m,
        std_error_m: film.std_error_m,
        incidence_rad: if film.thickness_m > 0.0 {
            sums.incidence_rad
        } else {
            f64::NAN
        },
        state: film.state,
        shares: sums.shares.map(narrow),
        regions: scene.parts[part].regions[receiver.triangle as usize],
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "shares lie in 0..=1, seven digits are enough for pictures"
)]
fn narrow(share: f64) -> f32 {
    share as f32
}

/// 95 % bound on a facet on which no sample arrived, m; 0 elsewhere.
///
/// 3/n of the open flux: n samples without an arrival leave 5 % of chance to a share of −ln(0.05)/n ≈ 3/n ("rule of
/// three", Hanley & Lippman-Hand, JAMA 249 (1983) 1743, from memory).
fn bound_m(tally: &Tally, film: &Film, receiver: usize) -> f64 {
    let sums = &tally.receivers[receiver];
    if film.facets[receiver].state == State::NoneSeen && sums.samples > 0 {
        3.0 / f64::from(sums.samples) * sums.open_thickness_m
    } else {
        0.0
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
            (_, Some(threshold)) => facets.chance(index, threshold, 1.0),
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

/// Part over coupon, for every pair whose coupon has film.
///
/// f = p / c, s_f = f · √((s_p / p)² + (s_c / c)²): first-order propagation for independent errors (standard).
/// Neglects: the rate's own error, which cancels in the ratio.
fn tooling(scene: &Scene, tally: &Tally) -> Vec<Tooling> {
    let mut all = Vec::new();
    for (part, &(part_m, part_error_m)) in scene.parts.iter().zip(&tally.part_mean_m) {
        for (coupon, &(coupon_m, coupon_error_m)) in scene.coupons.iter().zip(&tally.coupons_m) {
            if coupon_m > 0.0 {
                let factor = part_m / coupon_m;
                all.push(Tooling {
                    part: body(scene, part.body).name.clone(),
                    coupon: coupon.name.clone(),
                    factor,
                    stderr: (part_error_m / coupon_m).hypot(factor * coupon_error_m / coupon_m),
                });
            }
        }
    }
    all
}

/// Means by the run's method beside means by firing. A pair without any error bar has nothing to compare by and is left out.
fn audit(scene: &Scene, tally: &Tally) -> Vec<Audit> {
    let parts = scene.parts.iter().map(|part| &body(scene, part.body).name);
    let parts = parts.zip(tally.part_mean_m.iter().zip(&tally.audit_part_mean_m));
    let coupons = scene.coupons.iter().map(|coupon| &coupon.name);
    let coupons = coupons.zip(tally.coupons_m.iter().zip(&tally.audit_coupons_m));
    parts
        .chain(coupons)
        .filter_map(|(name, (&(mean_m, error_m), &(fired_m, fired_error_m)))| {
            let error_of_difference_m = error_m.hypot(fired_error_m);
            (error_of_difference_m > 0.0).then(|| Audit {
                name: name.clone(),
                mean_nm: mean_m * 1e9,
                mean_stderr_nm: error_m * 1e9,
                fired_nm: fired_m * 1e9,
                fired_stderr_nm: fired_error_m * 1e9,
                z: (mean_m - fired_m) / error_of_difference_m,
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

/// Texts of the plan's files, named from the plan's folder; files elsewhere by their bare name.
fn plan_files(scene: &Scene) -> Vec<(String, String)> {
    let folder = scene.plan.path.parent().unwrap_or(Path::new(""));
    let name = |path: &Path| {
        let below = path.strip_prefix(folder).ok().map(Path::to_path_buf);
        let bare = || path.file_name().map(Into::into);
        let shown = below.or_else(bare).unwrap_or_default();
        shown.to_string_lossy().into_owned()
    };
    let files = scene.plan.files.iter();
    files
        .map(|(path, text)| (name(path), text.clone()))
        .collect()
}

fn probes(scene: &Scene, tally: &Tally) -> Vec<(String, Vec<crate::transport::ProbePoint>)> {
    let both = scene.plan.probes.iter().zip(&tally.probes);
    both.map(|(probe, points)| (probe.name.clone(), points.clone()))
        .collect()
}

/// Everything solid that is not a part, where it stands at angles 0 (shutters: where they stand when shut).
fn bodies(scene: &Scene) -> Vec<BodyOutcome> {
    let mut all = Vec::new();
    for (number, body) in (0_u32..).zip(&scene.bodies) {
        let kind = match body.kind {
            BodyKind::Part(_) => continue,
            BodyKind::Fixture(_) => "fixture",
            BodyKind::Shutter(_) => "shutter",
            BodyKind::Coupon(_) => "coupon",
            BodyKind::SourceFace(_) => "source",
        };
        let chamber_from_body = pose(scene, BodyId(number));
        let corners = body.vertices.iter();
        all.push(BodyOutcome {
            name: body.name.clone(),
            kind: kind.to_owned(),
            riding: body.riding,
            vertices_m: corners
                .map(|&corner| chamber_from_body.transform_point3(corner))
                .collect(),
            triangles: body.triangles.to_vec(),
        });
    }
    all
}

/// chamber_from_body at angles 0, in the first configuration that has the body.
fn pose(scene: &Scene, id: BodyId) -> DAffine3 {
    let groups = scene
        .configurations
        .iter()
        .flat_map(|configuration| [&configuration.still, &configuration.riding]);
    let mut poses = groups.flat_map(|group| group.bodies.iter().zip(&group.poses));
    let found = poses.find(|((body, _), _)| *body == id);
    match (found, body(scene, id).kind) {
        (Some((_, pose)), _) => *pose,
        // A shutter that is never shut stands in no configuration.
        (None, BodyKind::Shutter(index)) => affine(&scene.plan.shutters[index as usize].placement),
        (None, _) => DAffine3::IDENTITY,
    }
}

/// x_chamber = at + Rz·Ry·Rx·x_body.
fn affine(placement: &Placement) -> DAffine3 {
    let turn = placement.turn_rad;
    let rotation = DMat3::from_rotation_z(turn.z)
        * DMat3::from_rotation_y(turn.y)
        * DMat3::from_rotation_x(turn.x);
    DAffine3::from_mat3_translation(rotation, placement.at_m)
}
