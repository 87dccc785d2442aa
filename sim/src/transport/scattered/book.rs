//! Where scores of scattered flights are added up: per receiver, in batches.
//!
//! In: scores. Out: sums that do not depend on the order in which threads bring them: whole numbers.

use crate::scene::Scene;
use std::sync::atomic::{AtomicU32, AtomicU64, Ordering};

/// Units in a score of 1. Scores are at most some hundreds, so 10⁷ of them on one receiver fit.
const UNITS: f64 = (1_u64 << 32) as f64;

/// Batches that are kept at most; then pairs are joined.
pub(super) const MOST_BATCHES: usize = 64;

/// Sums of scores.
pub(super) struct Book {
    /// The batch under way, per receiver; all metals by their volume per atom over the largest.
    now: Vec<AtomicU64>,
    /// All batches, `[receiver][channel]`; empty for a single channel.
    by_channel: Vec<AtomicU64>,
    /// Score times incidence angle, all batches.
    angle: Vec<AtomicU64>,
    /// Flights that scored, all batches.
    scores: Vec<AtomicU32>,
    /// Finished batches.
    pub batches: Vec<Vec<f32>>,
    /// Volume of an atom of each channel over the largest.
    volumes: Vec<f64>,
}

impl Book {
    /// Nothing scored yet.
    ///
    /// - `volumes`: of an atom of each channel over the largest
    pub fn new(scene: &Scene, volumes: Vec<f64>) -> Self {
        let receivers = scene.receivers.len();
        let zeros = |n: usize| (0..n).map(|_| AtomicU64::new(0)).collect();
        let channels = volumes.len();
        Self {
            now: zeros(receivers),
            by_channel: zeros(if channels > 1 {
                receivers * channels
            } else {
                0
            }),
            angle: zeros(receivers),
            scores: (0..receivers).map(|_| AtomicU32::new(0)).collect(),
            batches: Vec::new(),
            volumes,
        }
    }

    /// Adds a score.
    #[inline]
    pub fn add(&self, (receiver, channel): (usize, usize), score: f64, incidence_rad: f64) {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a positive score in units"
        )]
        let units = |value: f64| (value * UNITS).round() as u64;
        let volume = score * self.volumes[channel];
        self.now[receiver].fetch_add(units(volume), Ordering::Relaxed);
        self.angle[receiver].fetch_add(units(volume * incidence_rad), Ordering::Relaxed);
        self.scores[receiver].fetch_add(1, Ordering::Relaxed);
        if !self.by_channel.is_empty() {
            let entry = receiver * self.volumes.len() + channel;
            self.by_channel[entry].fetch_add(units(volume), Ordering::Relaxed);
        }
    }

    /// Ends a batch.
    pub fn end_batch(&mut self) {
        let batch = self.now.iter_mut().map(|sum| {
            let units = std::mem::take(sum.get_mut());
            #[expect(clippy::cast_possible_truncation, reason = "seven digits are plenty")]
            let value = (units as f64 / UNITS) as f32;
            value
        });
        self.batches.push(batch.collect());
    }

    /// Joins batches in pairs, so that half as many are twice as long.
    pub fn join(&mut self) {
        let mut joined: Vec<Vec<f32>> = Vec::with_capacity(self.batches.len() / 2);
        let mut old = std::mem::take(&mut self.batches).into_iter();
        while let (Some(mut first), Some(second)) = (old.next(), old.next()) {
            first.iter_mut().zip(second).for_each(|(a, b)| *a += b);
            joined.push(first);
        }
        self.batches = joined;
    }

    /// Flights that scored on a receiver.
    pub fn scores(&self, receiver: usize) -> u32 {
        self.scores[receiver].load(Ordering::Relaxed)
    }

    /// Flights that scored on any receiver.
    pub fn all_scores(&self) -> u64 {
        let scores = self.scores.iter();
        scores
            .map(|sum| u64::from(sum.load(Ordering::Relaxed)))
            .sum()
    }

    /// Share of a receiver's sum that came through a channel.
    pub fn share(&self, receiver: usize, channel: usize) -> f64 {
        if self.by_channel.is_empty() {
            return 1.0;
        }
        let channels = self.volumes.len();
        let row = &self.by_channel[receiver * channels..(receiver + 1) * channels];
        let units = |sum: &AtomicU64| sum.load(Ordering::Relaxed) as f64;
        let all: f64 = row.iter().map(units).sum();
        if all > 0.0 {
            units(&row[channel]) / all
        } else {
            0.0
        }
    }

    /// Sums of a receiver through a channel over all batches.
    pub fn channel_sums(&self, channel: usize) -> Vec<f64> {
        let channels = self.volumes.len();
        self.by_channel
            .iter()
            .skip(channel)
            .step_by(channels)
            .map(|sum| sum.load(Ordering::Relaxed) as f64 / UNITS)
            .collect()
    }

    /// Score times incidence angle of each receiver, rad.
    pub fn angles(&self) -> Vec<f64> {
        let sums = self.angle.iter();
        sums.map(|sum| sum.load(Ordering::Relaxed) as f64 / UNITS)
            .collect()
    }
}
