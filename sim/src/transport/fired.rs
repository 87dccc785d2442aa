//! From landings of fired atoms to the tally: means, standard errors, scattered shares.
//!
//! In: counts of a firing and the causes of all receivers. Out: [`Tally`], ready for `film`.

use super::audit::mean_thickness;
use super::causes::Causes;
use super::fire::Gun;
use super::flown::Counts;
use super::lines::Lines;
use super::tally::{by_row, split};
use super::{Sums, Tally};
use crate::scene::Scene;
use std::ops::Range;

/// Counts of fired atoms as thickness.
struct Fired<'a> {
    scene: &'a Scene,
    lines: &'a Lines<'a>,
    counts: &'a Counts,
    real_atoms: f64,
    fired: u64,
}

impl Fired<'_> {
    fn landed(&self, receiver: usize) -> Vec<u64> {
        (0..self.lines.channels.len())
            .map(|c| u64::from(self.counts.landed(receiver, c)))
            .collect()
    }

    /// Mean over receivers and its standard error, m.
    fn together(&self, receivers: impl Iterator<Item = usize>) -> (f64, f64) {
        let mut landed = vec![0; self.lines.channels.len()];
        let mut area_m2 = 0.0;
        for receiver in receivers {
            area_m2 += self.scene.receivers[receiver].area_m2;
            landed
                .iter_mut()
                .zip(self.landed(receiver))
                .for_each(|(sum, n)| *sum += n);
        }
        mean_thickness(
            &self.lines.channels,
            &landed,
            (self.real_atoms, self.fired),
            area_m2,
        )
    }

    /// One atom's worth on a receiver, m: what it may still hold where nothing landed.
    fn per_atom_m(&self, receiver: usize) -> f64 {
        let volumes = self.lines.channels.iter().map(|c| c.atom_volume_m3);
        let area_m2 = self.scene.receivers[receiver].area_m2;
        volumes.fold(0.0, f64::max) * self.real_atoms / (self.fired.max(1) as f64 * area_m2)
    }

    /// Share of a receiver's film that did not come straight.
    fn scattered(&self, receiver: usize) -> f32 {
        let (mut scattered, mut all) = (0.0, 0.0);
        for (index, channel) in self.lines.channels.iter().enumerate() {
            let volume = |n: u32| f64::from(n) * channel.atom_volume_m3;
            scattered += volume(self.counts.scattered(receiver, index));
            all += volume(self.counts.landed(receiver, index));
        }
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a share from 0 to 1, seven digits"
        )]
        let share = if all > 0.0 { scattered / all } else { 0.0 } as f32;
        share
    }

    fn one(&self, receiver: usize, causes: &Causes) -> Sums {
        let (thickness_m, std_error_m) = self.together(std::iter::once(receiver));
        let arrived: u64 = self.landed(receiver).iter().sum();
        Sums {
            thickness_m,
            std_error_m: if arrived == 0 {
                self.per_atom_m(receiver)
            } else {
                std_error_m
            },
            incidence_rad: self.counts.incidence_rad(receiver),
            visible: causes.visible,
            shares: causes.shares,
            open_thickness_m: causes.open_thickness_m,
            samples: u32::try_from(self.fired).unwrap_or(u32::MAX),
            arrived: u32::try_from(arrived).unwrap_or(u32::MAX),
        }
    }

    /// Standard errors of the rows on one side of a part.
    fn rows(&self, tally: &Tally, rows: usize, range: &Range<usize>) -> Vec<f64> {
        let mut errors = vec![0.0; if range.is_empty() { 0 } else { rows }];
        for (row, facets) in by_row(&self.scene.receivers, range.clone()) {
            errors[row] = if facets.len() == 1 {
                tally.receivers[facets.start].std_error_m
            } else {
                self.together(facets).1
            };
        }
        errors
    }
}

/// Fills everything from counts of fired atoms.
pub(crate) fn from_fire(
    scene: &Scene,
    lines: &Lines,
    (gun, counts, causes): (&Gun, &Counts, &[Causes]),
    tally: &mut Tally,
) {
    let fired = tally.balance.emitted;
    let fired = Fired {
        scene,
        lines,
        counts,
        real_atoms: gun.real_atoms(),
        fired,
    };
    let receivers = 0..scene.receivers.len();
    tally.receivers = receivers
        .clone()
        .zip(causes)
        .map(|(receiver, causes)| fired.one(receiver, causes))
        .collect();
    tally.per_atom_m = receivers.clone().map(|r| fired.per_atom_m(r)).collect();
    if !scene.is_straight() {
        tally.scattered = receivers.map(|r| fired.scattered(r)).collect();
    }
    let scale = gun.real_atoms() / tally.balance.emitted.max(1) as f64;
    split(scene, lines, tally, |receiver, channel| {
        f64::from(counts.landed(receiver, channel)) * lines.channels[channel].atom_volume_m3 * scale
            / scene.receivers[receiver].area_m2
    });
    tally.part_mean_m = scene
        .parts
        .iter()
        .map(|part| fired.together(part.front.clone().chain(part.back.clone())))
        .collect();
    tally.coupons_m = scene
        .coupons
        .iter()
        .map(|coupon| fired.together(coupon.receivers.clone()))
        .collect();
    tally.row_std_error_m = scene
        .parts
        .iter()
        .map(|part| {
            let rows = part.mesh.triangles.len();
            [&part.front, &part.back].map(|range| fired.rows(tally, rows, range))
        })
        .collect();
    tally.audit_part_mean_m = tally.part_mean_m.clone();
    tally.audit_coupons_m = tally.coupons_m.clone();
}
