//! Constants of nature.
//!
//! In: nothing. Out: numbers in SI. Those given here are exact by the definition of the SI (2019),
//! hence the same in CODATA 2018 and CODATA 2022: SI brochure, 9th edition, section 2.2.

/// Avogadro constant, 1/mol; exact.
pub const AVOGADRO_PER_MOL: f64 = 6.022_140_76e23;

/// Boltzmann constant, J/K; exact.
pub const BOLTZMANN_J_PER_K: f64 = 1.380_649e-23;

/// Elementary charge, C; one electronvolt is this many joules; exact.
pub const ELEMENTARY_CHARGE_C: f64 = 1.602_176_634e-19;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn boltzmann_times_avogadro_is_the_gas_constant() {
        // CODATA 2022: R = 8.314 462 618… J/(mol K), exact, digits cut.
        let r = BOLTZMANN_J_PER_K * AVOGADRO_PER_MOL;
        assert!((r - 8.314_462_618).abs() < 1e-9, "{r}");
    }

    #[test]
    fn elementary_charge_times_avogadro_is_the_faraday_constant() {
        // CODATA 2022: F = 96 485.332 12… C/mol, exact, digits cut.
        let f = ELEMENTARY_CHARGE_C * AVOGADRO_PER_MOL;
        assert!((f - 96_485.332_12).abs() < 1e-5, "{f}");
    }
}
