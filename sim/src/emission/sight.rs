//! What a spot sees of footprints at one moment: lines, and the share of the open flux that comes along them.
//!
//! In: a spot, footprints with their laws and rates, and somebody who knows what is in the way. Out: a [`View`], for
//! showing why a spot gets what it gets. The map itself is the business of `transport`, which draws far more lines.

use super::{EmissionLaw, Footprint};
use glam::DVec3;

/// Lines to each footprint: a grid of so many a side over its variates.
const SIDE: u32 = 5;

/// A footprint that emits at this moment.
#[derive(Debug, Clone, Copy)]
pub struct Emitter<'a> {
    /// Where, chamber frame.
    pub footprint: &'a Footprint,
    /// Which way.
    pub law: &'a EmissionLaw,
    /// Atoms per second.
    pub rate_per_s: f64,
}

/// What becomes of what comes along a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate<B> {
    /// It arrives.
    Arrives,
    /// The spot looks the other way.
    Behind,
    /// This is in the way.
    Blocked(B),
}

/// A line from a footprint to a spot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line<B> {
    /// On the footprint, chamber frame, m.
    pub foot_m: DVec3,
    /// What becomes of what comes along it.
    pub fate: Fate<B>,
}

/// What a spot sees.
#[derive(Debug, Clone, PartialEq)]
pub struct View<B> {
    /// Lines to all footprints.
    pub lines: Vec<Line<B>>,
    /// Flux that arrives, 1/(m² s) times the area that a line stands for: to be compared with that of other views.
    pub arrives: f64,
    /// Flux that arrives over that which would if the spot faced each line with nothing in the way; 0 where nothing is
    /// emitted.
    pub share: f64,
}

/// Looks from a spot at footprints.
///
/// share = Σ wᵢ cos θᵢ (clear lines) / Σ wᵢ (all), w the open flux at the spot times the rate (PHYSICS.md "Gather").
///
/// - `spot`: place (chamber frame, m) and unit normal
/// - `blocked`: what is between the spot and a point just before a footprint, if anything
pub fn view<B>(
    (at_m, normal): (DVec3, DVec3),
    emitters: &[Emitter<'_>],
    lift_m: f64,
    blocked: impl Fn(DVec3, DVec3) -> Option<B>,
) -> View<B> {
    let mut lines = Vec::new();
    let (mut arrives, mut open) = (0.0, 0.0);
    for emitter in emitters {
        for cell in 0..SIDE * SIDE {
            let at = |k: u32| (f64::from(k) + 0.5) / f64::from(SIDE);
            let foot = emitter.footprint.sample([at(cell / SIDE), at(cell % SIDE)]);
            let cosine = normal.dot((foot.position_m - at_m).normalize());
            let weight = emitter.rate_per_s * foot.open_flux_per_m2(emitter.law, at_m);
            open += weight;
            let fate = if cosine <= 0.0 {
                Fate::Behind
            } else {
                match blocked(at_m, foot.position_m + foot.normal * lift_m) {
                    Some(what) => Fate::Blocked(what),
                    None => {
                        arrives += weight * cosine;
                        Fate::Arrives
                    }
                }
            };
            lines.push(Line {
                foot_m: foot.position_m,
                fate,
            });
        }
    }
    let share = if open > 0.0 { arrives / open } else { 0.0 };
    View {
        lines,
        arrives,
        share,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::emission::FootprintShape;

    fn disc(radius_m: f64) -> Footprint {
        Footprint {
            centre_m: DVec3::ZERO,
            frame: [DVec3::X, DVec3::Y, DVec3::Z],
            shape: FootprintShape::Ring {
                inner_radius_m: 0.0,
                outer_radius_m: radius_m,
            },
        }
    }

    /// Share seen by a spot over a small disc, tilted by an angle, with half of the disc hidden or not.
    fn share(tilt_rad: f64, hidden: bool) -> f64 {
        let footprint = disc(1e-4);
        let law = EmissionLaw::CosinePower { exponent: 1.0 };
        let emitter = Emitter {
            footprint: &footprint,
            law: &law,
            rate_per_s: 2.0,
        };
        let normal = DVec3::new(tilt_rad.sin(), 0.0, -tilt_rad.cos());
        let at_m = DVec3::new(0.0, 0.0, 0.1);
        let half = |_: DVec3, foot: DVec3| (hidden && foot.x > 0.0).then_some("screen");
        view((at_m, normal), &[emitter], 1e-9, half).share
    }

    #[test]
    fn a_tilted_spot_gets_the_cosine_of_its_tilt_of_a_small_footprint() {
        // Lambert's law of the receiving side, derived; the disc is a thousandth of the distance
        for degrees in [0.0_f64, 30.0, 60.0] {
            let tilt = degrees.to_radians();
            let found = share(tilt, false);
            assert!((found - tilt.cos()).abs() < 2e-3, "{degrees}: {found}");
        }
        assert!(share(2.0, false).abs() < 1e-12, "behind");
    }

    #[test]
    fn what_is_hidden_is_missing_in_its_share() {
        let whole = share(0.0, false);
        let found = share(0.0, true);
        // 25 lines tell a half to one row of five
        assert!((found / whole - 0.5).abs() < 0.11, "{found} of {whole}");
    }
}
