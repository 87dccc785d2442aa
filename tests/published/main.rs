//! The program against published and derived figures, one file per source.
#![allow(
    clippy::unwrap_used,
    clippy::type_complexity,
    reason = "a check whose set-up breaks has failed; tables of cases are long; equal bits are meant where == stands"
)]

mod airy_film;
mod alcock_1984;
mod cauchy_1832;
mod cole_1977;
mod column_tilt;
mod derived_convex;
mod derived_corners;
mod derived_hard_spheres;
mod derived_rings;
mod derived_shading;
mod derived_sheets;
mod derived_stencil;
mod derived_turning;
mod energy_per_atom;
mod erosion_rate;
mod fuchs_sondheimer_1952;
mod hamilton_morgan_1952;
mod heaslet_warming_1965;
mod holland_steckelmacher_1952;
mod howell_1982;
mod knudsen_1915;
mod own_monte_carlo;
mod thompson_1968;
mod yamamura_tawara_1996;

/// The table of values beside the source file that calls this.
macro_rules! values {
    ($name:literal) => {
        evenfall_tests::published::Source::from_toml(include_str!(concat!($name, ".toml")))
    };
}
pub(crate) use values;
