//! How what is held is looked at: where things are at the playhead, the cut, the look of the map.

use super::State;
use super::settings::Settings;
use crate::stage::Shown;
use crate::stage::paint::{Look, Paint};
use glam::{DAffine3, DVec3};
use std::sync::Arc;

impl State {
    pub(super) fn set(&mut self, settings: Settings) {
        self.settings = settings;
        if let Some(place) = &self.settings_place {
            settings.keep(place);
        }
    }

    /// Lets A go.
    pub(super) fn release(&mut self) {
        self.pinned = None;
        if self.paint == Paint::Ratio {
            self.paint = Paint::Thickness;
        }
    }

    /// A copy of what is seen that nothing changes any more, for drawing it elsewhere.
    pub fn still(&self) -> Self {
        Self {
            document: self.document.clone(),
            shown: self.shown.clone(),
            pinned: self.pinned.clone(),
            held: self.held,
            spread: self.spread,
            orbit: self.orbit,
            paint: self.paint,
            time_s: self.time_s,
            cut: self.cut,
            names: self.names,
            sheets: self.sheets,
            spot: self.spot,
            sight: self.sight.clone(),
            settings: self.settings,
            here: self.here.clone(),
            fit_next: false,
            ..Self::new(Arc::new(|| {}))
        }
    }

    /// What files about it are called: the plan's name without its ending.
    pub fn name(&self) -> String {
        let stem = self.document.as_ref().and_then(|d| d.path.file_stem());
        stem.map_or_else(
            || "outcome".to_owned(),
            |stem| stem.to_string_lossy().into_owned(),
        )
    }

    /// Takes the parts into the picture.
    pub(super) fn fit(&mut self) {
        let Some(shown) = &self.shown else { return };
        let mut points: Vec<DVec3> = Vec::new();
        for (part, place) in shown.outcome.parts.iter().zip(&self.places(shown)[2..]) {
            points.extend(part.vertices_m.iter().map(|&v| place.transform_point3(v)));
        }
        self.orbit.fit(&points, self.aspect);
    }

    /// An outcome as it is painted: at the playhead, against what is kept as A.
    pub fn look<'a>(&'a self, shown: &'a Shown) -> Look<'a> {
        Look {
            shown,
            kept: self.pinned.as_deref(),
            held: self.held,
            spread: self.spread,
            reading: self.settings.reading,
            time_s: self.time_s,
        }
    }

    /// Where things are at the playhead: the chamber, what rides, then the parts, chamber_from_… each.
    pub fn places(&self, shown: &Shown) -> Vec<DAffine3> {
        let (riding, mut placed) = if self.grips {
            (DAffine3::IDENTITY, shown.placed_at(0.0))
        } else {
            (shown.pose_at(self.time_s), shown.placed_at(self.time_s))
        };
        if let Some((part, nudged)) = self.nudge
            && let Some(place) = placed.get_mut(part)
        {
            *place = nudged;
        }
        let mut places = vec![DAffine3::IDENTITY, riding];
        places.extend(placed.into_iter().map(|place| riding * place));
        places
    }

    /// The plane of the cut: normal and height along it, m.
    pub fn cut_plane(&self) -> Option<(DVec3, f64)> {
        let shown = self.shown.as_ref()?;
        let share = self.cut?;
        let normal = (self.orbit.eye_m() - self.orbit.about_m).normalize_or(DVec3::Z);
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for (part, place) in shown.outcome.parts.iter().zip(&self.places(shown)[2..]) {
            // height of a corner: n·(M x + t)
            let (across, offset) = (
                place.matrix3.transpose() * normal,
                normal.dot(place.translation),
            );
            for &vertex in &part.vertices_m {
                let height = across.dot(vertex) + offset;
                (low, high) = (low.min(height), high.max(height));
            }
        }
        Some((normal, high + (low - high) * share))
    }
}
