//! Conduction: resistivity of thin films and resistance of a square of them.

/// How much worse real films are than smooth ones of bulk metal, as factors: grain boundaries, voids, roughness.
///
/// Common practice, no source.
pub const REAL_FILMS: [f64; 2] = [1.5, 3.0];

/// A metal that conducts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conductor {
    /// Resistivity of the bulk at 20 °C, Ω m.
    pub bulk_ohm_m: f64,
    /// Mean free path of its electrons, m, where it is known.
    pub free_path_m: Option<f64>,
    /// Thicknesses between which a film closes from islands to a sheet on plastics and glass, m.
    pub closes_m: [f64; 2],
}

/// Name, resistivity in Ω m, electrons' free path in nm (0: not known), thicknesses at which islands join in nm.
///
/// Resistivities at 20 °C: public tables of the elements as carried by the package pymatgen 2026.10.24. Free paths:
/// D. Gall, J. Appl. Phys. 119, 085101 (2016); copper was read in public material, the others are from memory. Islands:
/// common practice, no source.
const CONDUCTORS: [(&str, f64, f64, [f64; 2]); 7] = [
    ("gold", 2.214e-8, 37.7, [5.0, 12.0]),
    ("silver", 1.587e-8, 53.3, [6.0, 15.0]),
    ("copper", 1.678e-8, 39.9, [4.0, 10.0]),
    ("aluminium", 2.650e-8, 18.9, [2.0, 8.0]),
    ("titanium", 4.2e-7, 0.0, [1.0, 4.0]),
    ("chromium", 1.25e-7, 0.0, [1.0, 4.0]),
    ("nickel", 6.93e-8, 0.0, [1.0, 5.0]),
];

impl Conductor {
    /// A built-in metal; none for carbon, whose films conduct as they were made.
    pub fn of(metal: &str) -> Option<Self> {
        let &(_, bulk_ohm_m, free_path_nm, closes_nm) =
            CONDUCTORS.iter().find(|known| known.0 == metal)?;
        Some(Self {
            bulk_ohm_m,
            free_path_m: (free_path_nm > 0.0).then_some(1e-9 * free_path_nm),
            closes_m: closes_nm.map(|nm| 1e-9 * nm),
        })
    }

    /// Least resistivity of a film, Ω m: smooth, without grains, both faces scattering electrons every way.
    ///
    /// - `thickness_m`: above 0
    pub fn least_resistivity_ohm_m(&self, thickness_m: f64) -> f64 {
        let ratio = self
            .free_path_m
            .map_or(1.0, |path_m| fuchs_sondheimer(thickness_m / path_m, 0.0));
        self.bulk_ohm_m * ratio
    }

    /// Resistance of a square of film, Ω: as a real film is likely to have, from and to.
    ///
    /// - `thickness_m`: m
    /// - returns none where the film may still be islands, which do not conduct
    pub fn square_ohm(&self, thickness_m: f64) -> Option<[f64; 2]> {
        if thickness_m < self.closes_m[1] {
            return None;
        }
        let least_ohm = self.least_resistivity_ohm_m(thickness_m) / thickness_m;
        Some(REAL_FILMS.map(|factor| factor * least_ohm))
    }
}

/// Thicknesses over the electrons' free path between which [`Squares`] tabulates, and rows of its table.
const TABULATED: [f64; 2] = [1e-3, 1e3];
const ROWS: u32 = 400;

/// Conductance of a square of film by thickness, looked up: the integral takes long for every triangle.
///
/// Linear between rows that are even in the logarithm: off by less than 1e-4.
#[derive(Debug, Clone, PartialEq)]
pub struct Squares {
    conductor: Conductor,
    /// Conductivity over that of the bulk.
    rows: Vec<f64>,
}

impl Squares {
    /// Tabulates a metal.
    pub fn of(conductor: Conductor) -> Self {
        let [from, to] = TABULATED.map(f64::ln);
        let row = |k: u32| {
            let kappa = (from + (to - from) * f64::from(k) / f64::from(ROWS)).exp();
            1.0 / fuchs_sondheimer(kappa, 0.0)
        };
        Self {
            conductor,
            rows: (0..=ROWS).map(row).collect(),
        }
    }

    /// The metal.
    pub fn conductor(&self) -> &Conductor {
        &self.conductor
    }

    /// Conductance of a square of smooth film, S: thickness over [`Conductor::least_resistivity_ohm_m`].
    ///
    /// - `thickness_m`: m
    /// - returns 0 where the film may still be islands
    pub fn square_s(&self, thickness_m: f64) -> f64 {
        if thickness_m < self.conductor.closes_m[1] {
            return 0.0;
        }
        let share = match self.conductor.free_path_m {
            Some(path_m) => self.share(thickness_m / path_m),
            None => 1.0,
        };
        share * thickness_m / self.conductor.bulk_ohm_m
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a place between 0 and the number of rows"
    )]
    fn share(&self, kappa: f64) -> f64 {
        let [from, to] = TABULATED;
        let place = (kappa.clamp(from, to) / from).ln() / (to / from).ln() * f64::from(ROWS);
        let row = (place as usize).min(self.rows.len() - 2);
        let rest = place - row as f64;
        self.rows[row] * (1.0 - rest) + self.rows[row + 1] * rest
    }
}

/// Nodes and weights of eight-point Gauss–Legendre quadrature on −1 to 1 (positive half), from memory.
const GAUSS: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_48),
    (0.960_289_856_497_536_3, 0.101_228_536_290_376_26),
];

/// Halvings of the range of integration towards 0.
const HALVINGS: u32 = 40;

/// Resistivity of a film over that of the bulk: the exact integral of Fuchs and Sondheimer.
///
/// ρ₀/ρ = 1 − 3(1 − p)/(2κ) ∫₁^∞ (t⁻³ − t⁻⁵)(1 − e^{−κt})/(1 − p e^{−κt}) dt.
///
/// - `kappa`: thickness over the electrons' free path, above 0
/// - `specular`: p, share of electrons that faces reflect as mirrors, 0 to below 1
///
/// Source: K. Fuchs, Proc. Camb. Phil. Soc. 34, 100 (1938); E. H. Sondheimer, Adv. Phys. 1, 1 (1952), from memory.
/// Neglects: grain boundaries, which [`REAL_FILMS`] stands for.
pub fn fuchs_sondheimer(kappa: f64, specular: f64) -> f64 {
    // t = 1/u: smooth on every half of what is left towards 0, where e^{−κ/u} dies out
    let of = |u: f64| {
        let decay = (-kappa / u).exp();
        (u - u * u * u) * (1.0 - decay) / (1.0 - specular * decay)
    };
    let mut integral = 0.0;
    let mut high = 1.0;
    for _ in 0..HALVINGS {
        let (middle, half) = (0.75 * high, 0.25 * high);
        for (node, weight) in GAUSS {
            integral += half * weight * (of(middle + half * node) + of(middle - half * node));
        }
        high *= 0.5;
    }
    1.0 / (1.0 - 1.5 * (1.0 - specular) / kappa * integral)
}
