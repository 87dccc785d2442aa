//! Sources and steps in words, for the bench card, the report and the pictures.
//!
//! In: the plan and the scene. Out: [`SourceOutcome`]s and [`StepOutcome`]s.

use super::model::{SourceOutcome, StepOutcome};
use crate::plan::model::{
    EmissionLaw, Footprint, Output, Plan, Source, SourceKind, Step as PlanStep,
};
use crate::scene::motion::AxisMotion;
use crate::scene::{Scene, Step};
use crate::supply;
use crate::supply::evaporate::{Vapour, factor_per_percent};
use crate::supply::sputter::ION_ENERGY_SHARE;
use crate::transport::Rates;
use std::f64::consts::TAU;

/// Sources as the card needs them.
pub fn sources(scene: &Scene, rates: &Rates) -> Vec<SourceOutcome> {
    let plan_and_scene = scene.plan.sources.iter().zip(&scene.sources).enumerate();
    plan_and_scene
        .map(|(index, (planned, source))| SourceOutcome {
            name: source.name.clone(),
            kind: match planned.kind {
                SourceKind::Sputter { .. } => "sputter",
                SourceKind::Boat { .. } => "boat",
            }
            .to_owned(),
            metal: planned.metal.clone(),
            at_m: planned.at_m.to_array(),
            facing: planned.facing.to_array(),
            reach_m: reach_m(&planned.footprint, &source.footprint),
            footprint: footprint(&planned.footprint),
            output: output(planned, supply::ion_of(&scene.plan)),
            atoms_per_second: atoms_per_second(scene, rates, index),
        })
        .collect()
}

/// Atoms per second at power 1: atoms of all steps over Σ power · duration; 0 if it never runs.
fn atoms_per_second(scene: &Scene, rates: &Rates, source: usize) -> f64 {
    let full_power_s: f64 = scene
        .steps
        .iter()
        .map(|step| step.power[source] * step.lasts_s)
        .sum();
    let atoms: f64 = rates
        .atoms
        .get(source)
        .map_or(0.0, |steps| steps.iter().sum());
    if full_power_s > 0.0 {
        atoms / full_power_s
    } else {
        0.0
    }
}

/// Radius of a circle about the centre of the face that holds the footprint, m.
fn reach_m(planned: &Footprint, placed: &crate::emission::Footprint) -> f64 {
    match planned {
        Footprint::Spot | Footprint::Point => 0.0,
        Footprint::Disc { radius_m } => *radius_m,
        Footprint::Ring { outer_radius_m, .. } => *outer_radius_m,
        Footprint::Rectangle { width_m, depth_m } => 0.5 * width_m.hypot(*depth_m),
        Footprint::Line { length_m } => 0.5 * length_m,
        Footprint::Groove { rows, .. } => rows.last().map_or(0.0, |row| row.0),
        Footprint::Mesh(_) => match &placed.shape {
            crate::emission::FootprintShape::Mesh(mesh) => mesh
                .faces
                .iter()
                .flatten()
                .map(|corner| corner.distance(placed.centre_m))
                .fold(0.0, f64::max),
            _ => 0.0,
        },
    }
}

fn footprint(footprint: &Footprint) -> String {
    match footprint {
        Footprint::Spot => "spot".to_owned(),
        Footprint::Point => "point, all directions".to_owned(),
        Footprint::Disc { radius_m } => format!("disc of {} mm radius", mm(*radius_m)),
        Footprint::Ring {
            inner_radius_m,
            outer_radius_m,
        } => format!("ring {}–{} mm", mm(*inner_radius_m), mm(*outer_radius_m)),
        Footprint::Rectangle { width_m, depth_m } => {
            format!("rectangle {} × {} mm", mm(*width_m), mm(*depth_m))
        }
        Footprint::Line { length_m } => format!("line of {} mm", mm(*length_m)),
        Footprint::Groove { rows, .. } => {
            let outer_m = rows.last().map_or(0.0, |row| row.0);
            format!("groove out to {} mm", mm(outer_m))
        }
        Footprint::Mesh(_) => "faces of a mesh".to_owned(),
    }
}

/// The output as the plan says it, with what follows from it.
fn output(source: &Source, gas: &str) -> String {
    match &source.output {
        Output::Charge { mass_kg } => format!(
            "{} mg of charge, {}",
            decimal(mass_kg * 1e6),
            solid_angle(source)
        ),
        Output::Discharge {
            current_a,
            voltage_v,
            electron_share,
        } => {
            let said = format!("{} A at {} V", decimal(*current_a), decimal(*voltage_v));
            let energy_ev = ION_ENERGY_SHARE * voltage_v;
            match supply::target_and_ion(&source.metal, gas) {
                Ok((target, ion)) => format!(
                    "{said}: {} A of {gas} ions of {} eV, {} atoms each",
                    decimal(current_a * (1.0 - electron_share)),
                    decimal(energy_ev),
                    decimal(target.yield_per_ion(ion, energy_ev))
                ),
                Err(_) => said,
            }
        }
        Output::Temperature {
            temperature_k,
            area_m2,
        } => {
            let said = format!(
                "{} °C over {} mm²",
                decimal(temperature_k - 273.15),
                decimal(area_m2 * 1e6)
            );
            match supply::vapour(&source.metal, *temperature_k) {
                Ok((pressure_pa, _)) => format!(
                    "{said}: vapour of {} Pa; 1 % more kelvins, {} times as much",
                    decimal(pressure_pa),
                    decimal(
                        Vapour::of(&source.metal)
                            .and_then(|v| factor_per_percent(&v, *temperature_k))
                            .unwrap_or(f64::NAN)
                    )
                ),
                Err(_) => said,
            }
        }
        Output::Coupon {
            coupon,
            thickness_m,
            after_s,
        } => format!(
            "{} nm on coupon {coupon} after {} min",
            decimal(thickness_m * 1e9),
            decimal(after_s / 60.0)
        ),
        Output::AtomsPerSecond { rate_per_s } => format!("{rate_per_s:.3e} atoms per second"),
    }
}

/// The rule by which a charge spreads: recipes that take π, 2π or 4π differ by a factor of four.
///
/// On the axis at height h the film is m/(ω ρ h²), ω = 2π/(n + 1) for cosⁿ and 4π for all directions.
fn solid_angle(source: &Source) -> String {
    match &source.law {
        _ if source.footprint == Footprint::Point => "m/(4πρh²) at a distance h".to_owned(),
        EmissionLaw::CosinePower { exponent } => format!(
            "m/(ωρh²) on the axis with ω = {}π",
            decimal(2.0 / (exponent + 1.0))
        ),
        EmissionLaw::Table { .. } => "spread as its table says".to_owned(),
    }
}

/// Steps as the card needs them.
pub fn steps(scene: &Scene) -> Vec<StepOutcome> {
    let both = scene.plan.steps.iter().zip(&scene.steps);
    both.map(|(planned, step)| StepOutcome {
        note: planned.note.clone(),
        lasts_s: step.lasts_s,
        power: step.power.clone(),
        shut: shut(scene, step),
        open: step.open.clone(),
        turning: step.motion.axes.iter().map(turning).collect(),
        start_rad: step.motion.axes.iter().map(start_rad).collect(),
        turns: step
            .motion
            .axes
            .iter()
            .map(|axis| turns(axis, step.lasts_s))
            .collect(),
        vent: planned.vent.then(|| vent(&scene.plan, planned)),
        motion: step.motion.axes.clone(),
        placed: placed(scene, step),
    })
    .collect()
}

/// Where the parts are during a step; nothing where they are as first placed.
fn placed(scene: &Scene, step: &Step) -> Vec<glam::DAffine3> {
    let poses = |configuration: usize| {
        let riding = &scene.configurations[configuration].riding;
        let of = |part: &crate::scene::Part| {
            let place = riding.bodies.iter().position(|(id, _)| *id == part.body)?;
            Some(riding.poses[place])
        };
        scene
            .parts
            .iter()
            .map(of)
            .collect::<Option<Vec<_>>>()
            .unwrap_or_default()
    };
    let [now, first] = [step.configuration, scene.open_configuration].map(poses);
    if now == first { Vec::new() } else { now }
}

fn shut(scene: &Scene, step: &Step) -> Vec<String> {
    let shut = &scene.configurations[step.configuration].shut;
    let named = scene.plan.shutters.iter().zip(shut);
    named
        .filter(|(_, shut)| **shut)
        .map(|(shutter, _)| shutter.name.clone())
        .collect()
}

fn turning(axis: &AxisMotion) -> String {
    let rpm = |rate_rad_per_s: f64| decimal(rate_rad_per_s / TAU * 60.0);
    match *axis {
        AxisMotion::Parked(angle_rad) => format!("parked at {} deg", degrees(angle_rad)),
        AxisMotion::Turning { rate_rad_per_s, .. } => {
            format!("turning at {} rpm", rpm(rate_rad_per_s))
        }
        AxisMotion::Swinging {
            amplitude_rad,
            rate_rad_per_s,
            sign,
            ..
        } => format!(
            "swinging to {} deg and back at {} rpm",
            degrees(sign * amplitude_rad),
            rpm(rate_rad_per_s)
        ),
    }
}

/// Angle at the beginning of a step, rad.
fn start_rad(axis: &AxisMotion) -> f64 {
    match *axis {
        AxisMotion::Parked(angle_rad) => angle_rad,
        AxisMotion::Turning { start_rad, .. } => start_rad,
        AxisMotion::Swinging {
            amplitude_rad,
            start_rad,
            sign,
            ..
        } => {
            let up_and_down = start_rad.rem_euclid(2.0 * amplitude_rad);
            sign * up_and_down.min(2.0 * amplitude_rad - up_and_down)
        }
    }
}

/// Turns made during a step, signed; of a swing the path length.
fn turns(axis: &AxisMotion, lasts_s: f64) -> f64 {
    match *axis {
        AxisMotion::Parked(_) => 0.0,
        AxisMotion::Turning { rate_rad_per_s, .. } => rate_rad_per_s * lasts_s / TAU,
        AxisMotion::Swinging {
            rate_rad_per_s,
            sign,
            ..
        } => sign * rate_rad_per_s * lasts_s / TAU,
    }
}

fn vent(plan: &Plan, step: &PlanStep) -> String {
    let mut moves = Vec::new();
    for part in &plan.parts {
        if let Some(turn_rad) = step.turn_rad.get(&part.name) {
            let angles = turn_rad.to_array().map(degrees).join(", ");
            moves.push(format!("turn {} to {angles} deg about x, y, z", part.name));
        }
        if let Some(at_m) = step.at_m.get(&part.name) {
            let place = at_m.to_array().map(mm).join(", ");
            moves.push(format!("move {} to {place} mm", part.name));
        }
    }
    if moves.is_empty() {
        "vent, nothing is re-posed".to_owned()
    } else {
        format!("vent, {}", moves.join("; "))
    }
}

fn mm(length_m: f64) -> String {
    decimal(length_m * 1e3)
}

fn degrees(angle_rad: f64) -> String {
    decimal(angle_rad.to_degrees())
}

/// Up to four significant figures, without trailing zeros; whole numbers in full.
pub fn decimal(value: f64) -> String {
    let magnitude = value.abs();
    let places = [(1000.0, 0), (100.0, 1), (10.0, 2), (1.0, 3)];
    let places = places.iter().find(|(from, _)| magnitude >= *from);
    let text = format!("{value:.*}", places.map_or(4, |(_, places)| *places));
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_in_words_carry_four_figures_and_no_trailing_zeros() {
        let cases = [
            (12.0, "12"),
            (250.0, "250"),
            (12.700_000_000_000_1, "12.7"),
            (-0.000_001, "0"),
            (6.0, "6"),
            (0.0315, "0.0315"),
            (-90.0, "-90"),
            (1300.04, "1300"),
            (123.456, "123.5"),
        ];
        for (value, words) in cases {
            assert_eq!(decimal(value), words);
        }
    }

    #[test]
    fn a_swing_on_its_way_back_starts_at_the_mirrored_angle() {
        let swing = AxisMotion::Swinging {
            amplitude_rad: 2.0,
            start_rad: 3.0,
            rate_rad_per_s: TAU / 60.0,
            sign: -1.0,
        };
        assert!((start_rad(&swing) + 1.0).abs() < 1e-12);
        assert!((turns(&swing, 120.0) + 2.0).abs() < 1e-12);
        assert_eq!(turning(&swing), "swinging to -114.6 deg and back at 1 rpm");
    }
}
