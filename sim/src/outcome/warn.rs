//! What the reader of an outcome must be told.
//!
//! In: scene, settings and what was assembled. Out: sentences for `warnings` of the summary.

use super::figures::{percent_asked, significant, with_error};
use super::model::{Audit, FilmVerdict, GasSummary, PartSummary, Summary};
use super::verdict::{CLOSE, MISSED};
use crate::plan::model::{Output, Source};
use crate::scene::Scene;
use crate::stats::z_limit;
use crate::transport::Stopped;

/// Chance that an audit cries wolf, over all its comparisons together.
const FALSE_ALARM: f64 = 1e-3; // our choice, as in the project's own checks

/// True when no measured coupon stands behind a source's rate, neither directly nor by `tune`.
pub fn uncalibrated(source: &Source) -> bool {
    !matches!(source.output, Output::Coupon { .. })
        && (source.correction - 1.0).abs() < f64::EPSILON
}

/// All warnings of a run, the scene's first.
pub fn warnings(scene: &Scene, summary: &Summary) -> Vec<String> {
    let mut all = scene.facts.warnings.clone();
    for part in &summary.parts {
        mesh_health(part, &mut all);
    }
    accuracy(summary, &mut all);
    let limit = z_limit(summary.audit.len(), FALSE_ALARM);
    for audit in summary.audit.iter().filter(|audit| audit.z.abs() > limit) {
        all.push(audited(audit, limit));
    }
    calibration(&scene.plan.sources, &mut all);
    if let Some(gas) = summary.flight.as_ref().and_then(|f| f.gas.as_ref()) {
        free_paths(gas, &mut all);
    }
    all.extend(super::worth::mixed(scene));
    if let Some(film) = &summary.film {
        film_wanted(film, &mut all);
    }
    all
}

fn mesh_health(part: &PartSummary, all: &mut Vec<String>) {
    let health = &part.health;
    let name = &part.name;
    let findings = [
        (
            health.open_edges,
            "open edges (its sheets count on the side that the file's corner order faces; atoms pass its gaps)",
        ),
        (
            health.non_manifold_edges,
            "edges shared by three or more triangles (inside and outside are not defined there)",
        ),
        (
            health.flip_edges,
            "edges at which neighbouring triangles face opposite sides (film counts on the wrong side of one of them)",
        ),
        (
            health.buried,
            "triangles inside another solid of the part (no film is counted there)",
        ),
    ];
    for (count, finding) in findings {
        if count > 0 {
            all.push(format!("part {name} has {count} {finding}"));
        }
    }
}

fn accuracy(summary: &Summary, all: &mut Vec<String>) {
    if summary.accuracy_reached <= summary.accuracy_asked {
        return;
    }
    let ended = match summary.stopped {
        Stopped::Reached => "sampling ended",
        Stopped::Time => "time ran out",
        Stopped::Atoms => "the limit on atoms ended the run",
        Stopped::User => "the run was stopped",
    };
    all.push(format!(
        "accuracy {} asked, {} % reached ({ended}); errors are true but larger than asked",
        percent_asked(summary.accuracy_asked),
        significant(summary.accuracy_reached * 100.0, 3)
    ));
}

fn audited(audit: &Audit, limit: f64) -> String {
    format!(
        "{}: mean film {} nm, but {} nm by firing atoms ({} standard errors apart, more than {}); do not rely on this \
         outcome, run again with --method fire",
        audit.name,
        with_error(audit.mean_nm, audit.mean_stderr_nm),
        with_error(audit.fired_nm, audit.fired_stderr_nm),
        significant(audit.z.abs(), 2),
        significant(limit, 2)
    )
}

fn calibration(sources: &[Source], all: &mut Vec<String>) {
    for source in sources.iter().filter(|source| uncalibrated(source)) {
        all.push(format!(
            "uncalibrated: no measured coupon sets the rate of {} (every thickness scales with it); measure a coupon and give \
             output = {{ coupon, thickness, after }}",
            source.name
        ));
    }
}

fn free_paths(gas: &GasSummary, all: &mut Vec<String>) {
    for path in &gas.free_paths {
        if let Some([least, most]) = path.doubt_mm {
            all.push(format!(
                "free path of {} in {} taken as {} mm, no measured one is known (other reckonings give {} to {} mm); give \
                 free_path in [gas] if you know better",
                path.metal,
                gas.species,
                significant(path.free_path_mm, 3),
                significant(least, 2),
                significant(most, 2)
            ));
        }
    }
}

fn film_wanted(film: &FilmVerdict, all: &mut Vec<String>) {
    if film.verdict == CLOSE || film.verdict == MISSED {
        all.push(format!(
            "film wanted on {} of the area, found on {} %: {}",
            percent_asked(film.on),
            with_error(film.reached_fraction * 100.0, film.reached_stderr * 100.0),
            film.verdict
        ));
    }
    for region in film.regions.iter().filter(|region| region.area_mm2 <= 0.0) {
        all.push(format!(
            "{} holds no area (nothing of it can be judged); move or widen the region",
            region.name
        ));
    }
    for region in &film.regions {
        if region.wanted == "bare" && region.verdict != super::verdict::MET {
            all.push(format!(
                "region {} is to stay bare on {} of its area, and does on {} %: {}",
                region.name,
                percent_asked(film.on),
                with_error(region.fraction * 100.0, region.stderr * 100.0),
                region.verdict
            ));
        }
    }
}
