//! Purity: water that strikes a growing film beside the metal that builds it.
//!
//! In: residual pressure, a metal's name. Out: rates of arrival and how a metal takes water, for `outcome`.

use crate::supply::evaporate::hertz_knudsen_per_m2_s;

/// Molar mass of water, kg/mol. Source: standard atomic weights of H (1.008) and O (15.999), CIAAW, from memory.
pub const WATER_KG_PER_MOL: f64 = 18.015e-3;

/// Temperature of residual gas, K: that of the walls, taken as room temperature (common practice, no source).
pub const WALLS_K: f64 = 300.0;

/// How a metal takes residual water.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Affinity {
    /// Binds its oxygen while it grows.
    Binds,
    /// Lets most of it go.
    LetsGo,
}

impl Affinity {
    /// How a built-in metal takes water; none for carbon and for metals of the plan's own.
    ///
    /// Common practice, no source: aluminium, titanium, chromium and nickel bind it, gold, silver and copper do not much.
    pub fn of(metal: &str) -> Option<Self> {
        match metal {
            "aluminium" | "titanium" | "chromium" | "nickel" => Some(Self::Binds),
            "gold" | "silver" | "copper" => Some(Self::LetsGo),
            _ => None,
        }
    }
}

/// Water molecules that strike a face, 1/(m² s): p/√(2π m k T).
///
/// - `base_pressure_pa`: residual pressure, all of it taken as water, Pa
///
/// Source: kinetic theory (Hertz and Knudsen). Neglects: other residual gases, and that pumping by the fresh metal lowers
/// the pressure during the run while warm walls raise it.
pub fn water_per_m2_s(base_pressure_pa: f64) -> f64 {
    hertz_knudsen_per_m2_s(base_pressure_pa, WATER_KG_PER_MOL, WALLS_K)
}

/// What so much water does to a film of a metal that binds it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Taint {
    /// Hardly to be noticed.
    Little,
    /// More resistance, a little duller.
    Some,
    /// Oxide in the metal.
    Much,
    /// As much water as metal.
    Oxide,
}

impl Taint {
    /// By water over metal that arrive: from 1 %, 10 % and 100 % on (common practice, no source).
    pub fn of(water_per_metal: f64) -> Self {
        match water_per_metal {
            ratio if ratio >= 1.0 => Self::Oxide,
            ratio if ratio >= 0.1 => Self::Much,
            ratio if ratio >= 0.01 => Self::Some,
            _ => Self::Little,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A handbook's constant: 3.513e22 p(Torr)/√(M(g/mol) T(K)) per cm² and s (J. F. O'Hanlon and others, from memory).
    fn by_handbook(pressure_pa: f64) -> f64 {
        1e4 * 3.513e22 * (pressure_pa / 133.322_368) / (18.015_f64 * 300.0).sqrt()
    }

    #[test]
    fn water_strikes_as_often_as_handbooks_say() {
        // by hand: 2.634 777e24 · 1e-3 / √(18.015 · 300) = 3.583 98e19 per m² and s at 1e-3 Pa
        let flux = water_per_m2_s(1e-3);
        assert!((flux / 3.583_98e19 - 1.0).abs() < 1e-5, "{flux:e}");
        assert!((flux / by_handbook(1e-3) - 1.0).abs() < 3e-4, "{flux:e}");
    }

    #[test]
    fn the_count_of_water_notices_nitrogen() {
        let nitrogen = hertz_knudsen_per_m2_s(1e-3, 28.014e-3, WALLS_K);
        assert!((nitrogen / by_handbook(1e-3) - 1.0).abs() > 3e-4);
    }

    #[test]
    fn a_layer_a_second_forms_at_a_millionth_of_a_torr() {
        // common practice, no source: at 1e-6 Torr about a monolayer (1e19 per m²) strikes in two or three seconds
        let layers_per_s = water_per_m2_s(133.322e-6) / 1e19;
        assert!((0.2..1.0).contains(&layers_per_s), "{layers_per_s}");
    }
}
