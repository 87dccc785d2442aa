//! How fast metal leaves a source: sputtered by a discharge, or evaporated at a temperature.
//!
//! In: current and voltage, or temperature and area, and a metal's name. Out: atoms per second for
//! `transport::calibrate`. What is not known for a metal is said, never guessed.

pub mod evaporate;
pub mod sputter;

use crate::metals;
use crate::plan::Plan;
use crate::plan::model::Output;
use evaporate::{Vapour, hertz_knudsen_per_m2_s};
use sputter::{ION_ENERGY_SHARE, Ion, Target};

/// Name of the gas whose ions sputter: that of the plan, argon where it has none.
pub fn ion_of(plan: &Plan) -> &'static str {
    plan.gas.as_ref().map_or("argon", |gas| gas.species.name())
}

/// Atoms per second at power 1 of an output that physics settles.
///
/// - `metal`: its name; `gas`: as of [`ion_of`]
///
/// # Errors
/// What is not known of this metal, this gas or this output.
pub fn rate_per_s(output: &Output, metal: &str, gas: &str) -> Result<f64, String> {
    match *output {
        Output::Discharge {
            current_a,
            voltage_v,
            electron_share,
        } => {
            let (target, ion) = target_and_ion(metal, gas)?;
            let threshold_v = target.threshold_ev(ion) / ION_ENERGY_SHARE;
            if voltage_v <= threshold_v {
                return Err(format!(
                    "at {voltage_v:.0} V nothing leaves {metal} (its ions need more than {threshold_v:.0} V)"
                ));
            }
            let both = (current_a, voltage_v);
            Ok(sputter::atoms_per_second(
                (&target, ion),
                both,
                electron_share,
            ))
        }
        Output::Temperature {
            temperature_k,
            area_m2,
        } => {
            let (pressure_pa, molar_mass) = vapour(metal, temperature_k)?;
            Ok(area_m2 * hertz_knudsen_per_m2_s(pressure_pa, molar_mass, temperature_k))
        }
        _ => Err("this output names no discharge and no temperature".to_owned()),
    }
}

/// Target and ion of a discharge.
///
/// # Errors
/// Which of the two has no known yield.
pub fn target_and_ion(metal: &str, gas: &str) -> Result<(Target, Ion), String> {
    let target = Target::of(metal).ok_or_else(|| {
        format!(
            "how many atoms of {metal} leave per ion is not known (only for the built-in metals)"
        )
    })?;
    let ion = Ion::of(gas).ok_or_else(|| {
        format!(
            "how many atoms ions of {gas} sputter is not known (they make compounds of the metal)"
        )
    })?;
    Ok((target, ion))
}

/// Vapour pressure (Pa) and molar mass (kg/mol) of a metal at a temperature.
///
/// # Errors
/// What is not known of it.
pub fn vapour(metal: &str, temperature_k: f64) -> Result<(f64, f64), String> {
    let known = Vapour::of(metal).zip(metals::built_in(metal));
    let (vapour, metal_data) = known.ok_or_else(|| {
        format!(
            "the vapour pressure of {metal} is not known (of carbon and of own metals it is not)"
        )
    })?;
    let pressure_pa = vapour.pressure_pa(temperature_k).ok_or_else(|| {
        format!("the vapour pressure of {metal} is not known at {temperature_k:.0} K (above its melting point)")
    })?;
    Ok((pressure_pa, metal_data.molar_mass_kg_per_mol))
}
