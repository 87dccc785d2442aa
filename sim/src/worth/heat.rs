//! Heat balance of a wall: it takes what arrives and radiates to the chamber.
//!
//! In: heat per area, capacity and emissivity. Out: temperatures over time, and rests that keep a wall below a limit.

/// Constant of Stefan and Boltzmann, W/(m² K⁴); exact by the SI of 2019, digits cut (CODATA 2018).
pub const STEFAN_BOLTZMANN_W_PER_M2_K4: f64 = 5.670_374_419e-8;

/// Temperature of the chamber and of the part at the start, K (common practice, no source).
pub const CHAMBER_K: f64 = 300.0;

/// Steps per time constant of the integration.
const STEPS_PER_TIME: f64 = 20.0;
/// Time constants after which a wall has settled: e⁻⁶⁰.
const SETTLED: f64 = 60.0;
/// Shares of the way from chamber to limit between which coating by turns swings.
const SWING: [f64; 2] = [0.4, 0.9];
/// Turns of coating and resting that are looked at: by then they repeat.
const MOST_TURNS: u32 = 200;
/// Times that rests are made a quarter longer before they are given up.
const TRIES: u32 = 20;
/// Shortest stretch of coating that a person can keep to, s (common practice, no source).
const SHORTEST_S: f64 = 10.0;

/// Temperature at which a face radiates what it takes, K: T⁴ = T_c⁴ + q/(ε σ).
///
/// - `load_w_per_m2`: q; `emissivity`: above 0
///
/// Source: law of Stefan and Boltzmann. Neglects: conduction through mounts, and gas.
pub fn steady_k(load_w_per_m2: f64, emissivity: f64) -> f64 {
    let fourth = CHAMBER_K.powi(4) + load_w_per_m2 / (emissivity * STEFAN_BOLTZMANN_W_PER_M2_K4);
    fourth.max(0.0).sqrt().sqrt()
}

/// A wall, per area that takes heat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// Density · specific heat · depth, J/(m² K); above 0.
    pub capacity_j_per_m2_k: f64,
    /// Emissivity towards the chamber, above 0.
    pub emissivity: f64,
}

impl Wall {
    /// Warming, K/s: C dT/dt = q − ε σ (T⁴ − T_c⁴).
    ///
    /// Neglects: that the far side of a thick wall lags behind, and heat that runs along the wall.
    pub fn rise_k_per_s(&self, temperature_k: f64, load_w_per_m2: f64) -> f64 {
        let radiated = self.emissivity
            * STEFAN_BOLTZMANN_W_PER_M2_K4
            * (temperature_k.powi(4) - CHAMBER_K.powi(4));
        (load_w_per_m2 - radiated) / self.capacity_j_per_m2_k
    }

    /// Time constant about a temperature, s: C/(4 ε σ T³).
    pub fn time_constant_s(&self, temperature_k: f64) -> f64 {
        let slope = 4.0 * self.emissivity * STEFAN_BOLTZMANN_W_PER_M2_K4 * temperature_k.powi(3);
        self.capacity_j_per_m2_k / slope
    }

    /// Temperature after a time under an even load, K.
    ///
    /// Runge and Kutta, fourth order, twenty steps per time constant at the warmest.
    pub fn after_k(&self, start_k: f64, load_w_per_m2: f64, time_s: f64) -> f64 {
        let steady_k = steady_k(load_w_per_m2, self.emissivity);
        let slow_s = self.time_constant_s(steady_k.min(start_k).max(CHAMBER_K));
        if time_s > SETTLED * slow_s {
            return steady_k;
        }
        let longest_s = self.time_constant_s(steady_k.max(start_k)) / STEPS_PER_TIME;
        let steps = (time_s / longest_s).ceil().max(1.0);
        let step_s = time_s / steps;
        let rise = |at_k: f64| self.rise_k_per_s(at_k, load_w_per_m2);
        let (mut at_k, mut left) = (start_k, steps);
        while left > 0.5 {
            let one = rise(at_k);
            let two = rise(at_k + 0.5 * step_s * one);
            let three = rise(at_k + 0.5 * step_s * two);
            let four = rise(at_k + step_s * three);
            at_k += step_s / 6.0 * (one + 2.0 * two + 2.0 * three + four);
            left -= 1.0;
        }
        at_k
    }

    /// Time from one temperature to another under an even load, s.
    ///
    /// The exact solution: with the steady temperature S, t = C/(ε σ) · [g(T₂) − g(T₁)],
    /// g(T) = (ln|(S + T)/(S − T)| + 2 atan(T/S))/(4 S³).
    ///
    /// - returns none if it never gets there
    ///
    /// Source: separation of the variables, 1/(S⁴ − T⁴) in partial fractions.
    pub fn time_s(&self, (from_k, to_k): (f64, f64), load_w_per_m2: f64) -> Option<f64> {
        let steady_k = steady_k(load_w_per_m2, self.emissivity);
        let warms = from_k < to_k && to_k < steady_k;
        let cools = from_k > to_k && to_k > steady_k;
        if !warms && !cools {
            return None;
        }
        let of = |at_k: f64| {
            let ratio = ((steady_k + at_k) / (steady_k - at_k)).abs();
            (ratio.ln() + 2.0 * (at_k / steady_k).atan()) / (4.0 * steady_k.powi(3))
        };
        let factor = self.capacity_j_per_m2_k / (self.emissivity * STEFAN_BOLTZMANN_W_PER_M2_K4);
        Some(factor * (of(to_k) - of(from_k)))
    }

    /// The warmest that a wall gets when it is coated and rests by turns, from the chamber's temperature on, K.
    pub fn highest_k(&self, load_w_per_m2: f64, rests: Rests, turns: u32) -> f64 {
        let (mut at_k, mut highest_k) = (CHAMBER_K, CHAMBER_K);
        for _ in 0..turns.clamp(1, MOST_TURNS) {
            at_k = self.after_k(at_k, load_w_per_m2, rests.on_s);
            highest_k = highest_k.max(at_k);
            at_k = self.after_k(at_k, 0.0, rests.off_s);
        }
        highest_k
    }

    /// Coating and resting by turns that keeps a wall below a limit, and the warmest that it then gets, K.
    ///
    /// Swings between 40 % and 90 % of the way from the chamber to the limit, rounded to times that a person can keep,
    /// then checked by integrating; rests are lengthened until it holds.
    ///
    /// - returns none where it stays below anyway, where the limit leaves no room, or where stretches would be too short
    pub fn rests(&self, load_w_per_m2: f64, limit_k: f64) -> Option<(Rests, f64)> {
        let [low_k, high_k] = SWING.map(|share| CHAMBER_K + share * (limit_k - CHAMBER_K));
        let on_s = self.time_s((low_k, high_k), load_w_per_m2)?;
        if on_s < SHORTEST_S {
            return None;
        }
        let step = |time_s: f64| match time_s {
            t if t < 60.0 => 5.0,
            t if t < 600.0 => 30.0,
            t if t < 3600.0 => 60.0,
            _ => 600.0,
        };
        let on_s = (on_s / step(on_s)).floor() * step(on_s);
        let mut off_s = self.time_s((high_k, low_k), 0.0)?;
        for _ in 0..TRIES {
            let rests = Rests {
                on_s,
                off_s: (off_s / step(off_s)).ceil() * step(off_s),
            };
            let highest_k = self.highest_k(load_w_per_m2, rests, MOST_TURNS);
            if highest_k < limit_k {
                return Some((rests, highest_k));
            }
            off_s *= 1.25;
        }
        None
    }
}

/// Coating by turns with resting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rests {
    /// Coating, s.
    pub on_s: f64,
    /// Resting, s.
    pub off_s: f64,
}

#[cfg(test)]
mod tests;
