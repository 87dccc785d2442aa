//! Looks: how much light a film lets through and throws back.

/// Complex numbers, as far as films need them.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Complex {
    re: f64,
    im: f64,
}

impl Complex {
    const fn new(re: f64, im: f64) -> Self {
        Self { re, im }
    }

    fn plus(self, other: Self) -> Self {
        Self::new(self.re + other.re, self.im + other.im)
    }

    fn minus(self, other: Self) -> Self {
        Self::new(self.re - other.re, self.im - other.im)
    }

    fn times(self, other: Self) -> Self {
        Self::new(
            self.re * other.re - self.im * other.im,
            self.re * other.im + self.im * other.re,
        )
    }

    fn over(self, other: Self) -> Self {
        let size = other.square();
        let mirrored = self.times(Self::new(other.re, -other.im));
        Self::new(mirrored.re / size, mirrored.im / size)
    }

    fn square(self) -> f64 {
        self.re * self.re + self.im * self.im
    }

    fn exp(self) -> Self {
        let (sin, cos) = self.im.sin_cos();
        let size = self.re.exp();
        Self::new(size * cos, size * sin)
    }
}

/// Shares of the light at normal incidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Light {
    /// Goes into what is behind the film.
    pub through: f64,
    /// Comes back.
    pub back: f64,
}

/// What becomes of light that meets a film on a thick clear body at right angles.
///
/// As [`stack`] of one layer.
///
/// - `index`: n and k of the film
/// - `behind`: refractive index of the body, whose far face is left out
/// - returns shares of the energy; the rest is absorbed
pub fn film(index: [f64; 2], thickness_m: f64, wavelength_m: f64, behind: f64) -> Light {
    stack(&[(index, thickness_m)], wavelength_m, behind)
}

/// What becomes of light that meets a stack of films on a thick clear body at right angles.
///
/// From the body outwards, each layer by Airy's sum: r = (r₁ + r' e^{2iδ})/(1 + r₁ r' e^{2iδ}),
/// t = t₁ t' e^{iδ}/(1 + r₁ r' e^{2iδ}), δ = 2π (n + ik) d/λ; r₁ and t₁ belong to its outer face, r' and t' to all below.
/// This equals the product of the layers' matrices.
///
/// - `layers`: n and k, and thickness in m, of each layer, the one on the body first; the light meets the last one first
/// - `behind`: refractive index of the body, whose far face is left out
/// - returns shares of the energy; the rest is absorbed
///
/// Source: M. Born, E. Wolf, Principles of Optics, sections 1.6.4 and 14.4, from memory. Neglects: that metals mix where
/// they meet, roughness.
pub fn stack(layers: &[([f64; 2], f64)], wavelength_m: f64, behind: f64) -> Light {
    let reflected = |a: Complex, b: Complex| a.minus(b).over(a.plus(b));
    let passed = |a: Complex, b: Complex| a.plus(a).over(a.plus(b));
    let one = Complex::new(1.0, 0.0);
    let index = |layer: usize| {
        let [n, k] = layers[layer].0;
        Complex::new(n, k)
    };
    let body = Complex::new(behind, 0.0);
    // the face of the body, as seen from the layer on it
    let first = if layers.is_empty() { one } else { index(0) };
    let mut back = reflected(first, body);
    let mut through = passed(first, body);
    for (number, (_, thickness_m)) in layers.iter().enumerate() {
        let here = index(number);
        let outside = if number + 1 < layers.len() {
            index(number + 1)
        } else {
            one
        };
        let turns = std::f64::consts::TAU * thickness_m / wavelength_m;
        // i δ
        let phase = Complex::new(-turns * here.im, turns * here.re);
        let (once, twice) = (phase.exp(), phase.plus(phase).exp());
        let outer = reflected(outside, here);
        let below = one.plus(outer.times(back).times(twice));
        through = passed(outside, here).times(through).times(once).over(below);
        back = outer.plus(back.times(twice)).over(below);
    }
    Light {
        through: behind * through.square(),
        back: back.square(),
    }
}

/// Wavelengths at which metals are tabulated, m: blue, green, red.
pub const WAVELENGTHS_M: [f64; 3] = [450e-9, 550e-9, 650e-9];

/// n and k of the built-in metals at [`WAVELENGTHS_M`].
///
/// Source: refractiveindex.info database (CC0), linear between rows: P. B. Johnson, R. W. Christy (1972, 1974); carbon:
/// amorphous, E. T. Arakawa and others (1985). Aluminium: see [`index_of`].
const INDICES: [(&str, [[f64; 2]; 3]); 7] = [
    ("gold", [[1.383, 1.916], [0.424, 2.472], [0.156, 3.602]]),
    ("silver", [[0.040, 2.648], [0.060, 3.597], [0.052, 4.409]]),
    ("copper", [[1.240, 2.393], [1.007, 2.582], [0.238, 3.626]]),
    ("titanium", [[2.267, 3.039], [2.542, 3.435], [2.741, 3.814]]),
    ("chromium", [[2.323, 3.135], [3.181, 3.329], [3.107, 3.331]]),
    ("nickel", [[1.729, 2.944], [1.921, 3.616], [1.990, 4.209]]),
    ("carbon", [[2.185, 0.888], [2.357, 0.834], [2.430, 0.728]]),
];

/// Aluminium at 563.57 nm, taken for green; A. D. Rakić (1995) as carried by the same database.
const ALUMINIUM_GREEN: [f64; 2] = [1.0728, 6.7839];

/// n and k of a built-in metal in green light (550 nm), in which an eye sees best.
pub fn green_index_of(metal: &str) -> Option<[f64; 2]> {
    if metal == "aluminium" {
        return Some(ALUMINIUM_GREEN);
    }
    let known = INDICES.iter().find(|known| known.0 == metal)?;
    Some(known.1[1])
}

/// n and k of a built-in metal in blue, green and red; none for aluminium, which is tabulated in green alone here.
pub fn index_of(metal: &str) -> Option<[[f64; 2]; 3]> {
    let known = INDICES.iter().find(|known| known.0 == metal)?;
    Some(known.1)
}
