//! Receivers that are led in a sketch: one of a few neighbours is looked at, and the others take its film.
//!
//! In: receivers. Out: who is spared ([`Led::spared`]), afterwards what they take over ([`Led::follow`]), and how
//! much more doubtful that is ([`Led::doubt`]).

use super::Tally;
use super::causes::Causes;
use super::gather::{Job, Sums};
use super::lines::Target;
use crate::scene::Scene;
use rayon::prelude::*;

/// Receivers that are looked at in a sketch, about: with so many none is led.
const LOOKED_AT: usize = 15_000;
/// Receivers that one speaks for at most, itself included.
const TOGETHER: usize = 64;
/// Standard error of a led receiver over the largest difference between its leader and the leaders before and after:
/// those led lie on average half way to the next leader, and a jump between the two may be anywhere. Measured on a
/// turning rippled body, a test holds it.
const DOUBT: f64 = 0.6;

/// Who leads whom.
pub(crate) struct Led {
    /// Number of the receiver whose film each one has; its own where it is looked at.
    leader: Vec<usize>,
    /// Leaders in the order in which they lie.
    order: Vec<usize>,
    /// What nobody needs to look at: idle, or led.
    pub spared: Vec<bool>,
}

impl Led {
    /// Groups receivers that lie side by side in the ray kernel's order and are alike.
    ///
    /// - `idle`: those of which nothing is asked; they lead nobody and are not led
    pub fn new(job: &Job, idle: &[bool]) -> Self {
        let mut led = Self {
            leader: (0..idle.len()).collect(),
            order: Vec::new(),
            spared: idle.to_vec(),
        };
        let together = (idle.len() / LOOKED_AT).min(TOGETHER);
        let open = job.lines.channels.iter().find(|channel| channel.open);
        let Some(configuration) = open.map(|channel| channel.configuration) else {
            return led;
        };
        if together < 2 {
            return led;
        }
        let receivers = job.receivers.par_iter().enumerate();
        let mut awake: Vec<(u64, usize, Target)> = receivers
            .filter(|(index, _)| !idle[*index])
            .filter_map(|(index, receiver)| {
                let target = job.lines.target(receiver, configuration)?;
                Some((job.lines.order_of(&target, configuration), index, target))
            })
            .collect();
        awake.par_sort_unstable_by_key(|&(order, index, _)| (order, index));
        let mut first: Option<&(u64, usize, Target)> = None;
        let mut count = 0;
        for one in &awake {
            match first {
                Some(first) if count < together && one.2.is_like(&first.2) => {
                    led.leader[one.1] = first.1;
                    led.spared[one.1] = true;
                    count += 1;
                }
                _ => {
                    first = Some(one);
                    led.order.push(one.1);
                    count = 1;
                }
            }
        }
        led
    }

    /// Numbers and leaders of those that are led.
    fn followers(&self) -> impl Iterator<Item = (usize, usize)> {
        let all = self.leader.iter().copied().enumerate();
        all.filter(|(index, leader)| index != leader)
    }

    /// Gives those that are led what was found for their leaders.
    pub fn follow(&self, sums: &mut Sums, channels: usize, causes: &mut [Causes]) {
        for (index, leader) in self.followers() {
            sums.copy(leader, index, channels);
            causes[index] = causes[leader];
        }
    }

    /// Adds to the standard errors of those that are led, and of their rows, what the film changes from leader to
    /// leader; to those of parts their mean, as of independent groups.
    pub fn doubt(&self, scene: &Scene, tally: &mut Tally) {
        let mut change_m = vec![0.0_f64; self.leader.len()];
        for pair in self.order.windows(2) {
            let [one, other] = [pair[0], pair[1]].map(|index| tally.receivers[index].thickness_m);
            for &leader in pair {
                change_m[leader] = change_m[leader].max((one - other).abs());
            }
        }
        let mut own_m = vec![0.0; self.leader.len()];
        for (index, leader) in self.followers() {
            own_m[index] = DOUBT * change_m[leader];
            let error = &mut tally.receivers[index].std_error_m;
            *error = error.hypot(own_m[index]);
        }
        for (number, part) in scene.parts.iter().enumerate() {
            let mut squares = 0.0;
            for (range, side) in [(&part.front, 0), (&part.back, 1)] {
                for index in range.clone() {
                    let row = scene.receivers[index].triangle as usize;
                    if let Some(error) = tally.row_std_error_m[number][side].get_mut(row) {
                        *error = error.max(own_m[index].hypot(*error));
                    }
                    squares += own_m[index].powi(2);
                }
            }
            let count = (part.front.len() + part.back.len()).max(1);
            let groups = self.order.len().clamp(1, count);
            let (_, error) = &mut tally.part_mean_m[number];
            *error = error.hypot((squares / count as f64 / groups as f64).sqrt());
        }
    }
}
