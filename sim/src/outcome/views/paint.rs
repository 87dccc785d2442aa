//! Paint: what the rays met, as colours, hatches, soft shading and edges.
//!
//! In: a [`Stage`] and a [`Shot`]. Out: pixels on one canvas or on several that look along the same lines. Four rays
//! per pixel; they are followed and painted in bands of a few rows, so that what they met is still at hand.
//!
//! Signs that also read in grey: bare area is white with broad dark stripes rising to the right; thin
//! area keeps its colour and gets fine lines falling to the right; cut solid is flat grey.

use super::super::colour::{self, Scale, luma};
use super::super::survey::Standing;
use super::super::worth::map::Verdict;
use super::canvas::{Canvas, Frame, INK, Ink, PAPER, dim, floor, mix};
use super::sight::{FINE, Grid, Sight, spot, start};
use super::stage::{Kind, Sample, Shot, Stage, Surface, Veil};
use glam::DVec3;
use rayon::prelude::*;
use std::cell::Cell;

/// Rows of pixels that are painted at once.
const BAND: usize = 16;
/// Paper and stripes of bare area.
const BARE_PAPER: Ink = [246, 244, 240];
/// Stripes of bare area.
const BARE_STRIPE: Ink = [40, 36, 40];
/// The side of a part that does not count.
const OTHER_SIDE: Ink = [214, 208, 198];
/// Solid laid open by a cut.
const CUT_FACE: Ink = [150, 146, 142];
/// Area that is not counted: buried.
const UNCOUNTED: Ink = [190, 186, 182];

/// Which signs a picture uses, for its legend.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Signs {
    /// Pixels of bare area.
    pub bare: usize,
    /// Pixels of thin area.
    pub thin: usize,
    /// Pixels of cut solid.
    pub cut: usize,
    /// Pixels of uncounted sides.
    pub other_side: usize,
}

/// What the colours of film mean.
#[derive(Clone, Copy)]
pub enum Colours<'a> {
    /// Its thickness.
    Film(&'a Scale),
    /// A verdict on it.
    Worth {
        /// Which.
        verdict: Verdict,
        /// Its value on each facet of one part.
        values: &'a [f64],
        /// Number of that part's first patch.
        first: usize,
    },
}

impl Colours<'_> {
    /// Colour of a patch, and how it stands.
    fn of(&self, stage: &Stage<'_>, patch: usize) -> (Ink, Standing) {
        let found = &stage.survey.patches[patch];
        match self {
            Self::Film(scale) => (scale.colour(found.thickness_m), found.standing),
            _ if found.standing == Standing::Uncounted => (UNCOUNTED, Standing::Uncounted),
            Self::Worth {
                verdict,
                values,
                first,
            } => {
                let value = patch
                    .checked_sub(*first)
                    .and_then(|number| values.get(number));
                match value.filter(|value| !value.is_nan()) {
                    Some(value) => (colour::at(verdict.place(*value)), Standing::Enough),
                    None => (UNCOUNTED, Standing::NoneSeen),
                }
            }
        }
    }
}

/// Paints what the rays of a shot meet into a frame of each canvas, with colours of its own.
pub fn paint(
    sheets: &mut [(&mut Canvas, Colours<'_>)],
    frame: Frame,
    stage: &Stage<'_>,
    shot: &Shot,
) -> Signs {
    let (left, top) = (start(frame.left), start(frame.top));
    let sight = Sight::new(frame, stage, shot);
    let (width, height) = (sight.columns / FINE, sight.rows / FINE);
    let mut bands: Vec<Vec<(Rows<'_>, Colours<'_>)>> = Vec::new();
    bands.resize_with(height.div_ceil(BAND), Vec::new);
    for (canvas, colours) in sheets {
        for (y, row) in canvas.rows_mut().skip(top).take(height).enumerate() {
            let band = &mut bands[y / BAND];
            if y % BAND == 0 {
                band.push((Rows::new(), *colours));
            }
            if let (Some((rows, _)), Some(row)) = (band.last_mut(), row.get_mut(left..)) {
                rows.push(row);
            }
        }
    }
    let painted = bands.into_par_iter().enumerate();
    painted
        .map_init(Vec::new, |samples, (number, sheets)| {
            let first = number * BAND;
            let grid = sight.band(FINE * first, FINE * BAND, samples);
            let mut signs = Signs::default();
            for (sheet, (rows, colours)) in sheets.into_iter().enumerate() {
                let painter = Painter {
                    sight: &sight,
                    grid: &grid,
                    colours,
                    last: Cell::new((None, (PAPER, Standing::Uncounted))),
                };
                for (y, row) in (first..).zip(rows) {
                    for (x, pixel) in row.iter_mut().enumerate().take(width) {
                        *pixel = painter.pixel(x, y, (left + x, top + y), *pixel);
                        if sheet == 0 {
                            signs.count(stage, grid.at(x * FINE, y * FINE));
                        }
                    }
                }
            }
            signs
        })
        .reduce(Signs::default, Signs::plus)
}

/// Rows of pixels.
type Rows<'a> = Vec<&'a mut [Ink]>;

/// The swatch of a sign for the legend, in the hatch of the picture.
pub fn swatch(canvas: &mut Canvas, frame: Frame, standing: Standing, under: Ink) {
    for y in floor(frame.top)..floor(frame.bottom()) {
        for x in floor(frame.left)..floor(frame.right()) {
            let spot = (f64::from(x) + 0.5, f64::from(y) + 0.5);
            canvas.blend(x, y, hatched(standing, under, spot), 1.0);
        }
    }
    canvas.outline(frame, INK);
}

/// Flat colour of cut solid, for the legend.
pub fn cut_face() -> Ink {
    CUT_FACE
}

/// Flat colour of a side that does not count, for the legend.
pub fn other_side() -> Ink {
    OTHER_SIDE
}

impl Signs {
    fn count(&mut self, stage: &Stage<'_>, sample: &Sample) {
        match sample.surface {
            Surface::CutPart(_) => self.cut += 1,
            Surface::OtherSide(_) => self.other_side += 1,
            surface => match stage.standing(surface) {
                Some(Standing::Thin) => self.thin += 1,
                Some(Standing::NoneSeen | Standing::Unreached) => self.bare += 1,
                _ => {}
            },
        }
    }

    fn plus(self, other: Self) -> Self {
        Self {
            bare: self.bare + other.bare,
            thin: self.thin + other.thin,
            cut: self.cut + other.cut,
            other_side: self.other_side + other.other_side,
        }
    }
}

/// What a ray met, after its column and row.
type Placed<'a> = ((usize, usize), &'a Sample);

struct Painter<'a> {
    sight: &'a Sight<'a>,
    grid: &'a Grid<'a>,
    colours: Colours<'a>,
    /// The patch that was asked for last, and what was told.
    last: Cell<(Option<u32>, (Ink, Standing))>,
}

impl Painter<'_> {
    fn pixel(&self, x: usize, y: usize, place: (usize, usize), under: Ink) -> Ink {
        self.plain(x, y, place, under)
            .unwrap_or_else(|| self.averaged(x, y, place, under))
    }

    /// The mean colour of a pixel's rays.
    fn averaged(&self, x: usize, y: usize, place: (usize, usize), under: Ink) -> Ink {
        let mut sum = [0_u32; 3];
        for sub in 0..FINE * FINE {
            let (i, j) = (sub % FINE, sub / FINE);
            let offset = |k: usize| (k as f64 + 0.5) / FINE as f64;
            let spot = (place.0 as f64 + offset(i), place.1 as f64 + offset(j));
            let ink = self.sample(x * FINE + i, y * FINE + j, spot, under);
            for (channel, value) in sum.iter_mut().zip(ink) {
                *channel += u32::from(value);
            }
        }
        let count = u32::try_from(FINE * FINE).unwrap_or(1);
        sum.map(|channel| u8::try_from((channel + count / 2) / count).unwrap_or(u8::MAX))
    }

    /// The colour of a pixel that is the same wherever in it one looks, as most are.
    fn plain(&self, x: usize, y: usize, place: (usize, usize), under: Ink) -> Option<Ink> {
        let (column, row) = (x * FINE, y * FINE);
        let first = self.grid.at(column, row);
        // All that its own rays, and the edges between them and their neighbours, are worked out from.
        let alike = |k: usize| {
            let other = self.grid.at(column + k % (2 * FINE), row + k / (2 * FINE));
            other.surface == first.surface
                && other.normal == first.normal
                && other.veil == Veil::Clear
        };
        if !(0..4 * FINE * FINE).rev().all(alike) {
            return None;
        }
        match first.surface {
            Surface::Nothing => Some(under),
            // Seen from afar, one facet is lit alike everywhere; stripes differ from spot to spot.
            _ if !self.sight.shot.camera.is_parallel() => None,
            Surface::Film(patch) if self.is_hatched(patch) => None,
            _ => {
                let spot = (place.0 as f64 + 0.5, place.1 as f64 + 0.5);
                Some(self.sample(column, row, spot, under))
            }
        }
    }

    /// Colour of a patch, and how it stands: mostly of the same as the last time.
    fn colour(&self, patch: u32) -> (Ink, Standing) {
        let (last, told) = self.last.get();
        if last == Some(patch) {
            return told;
        }
        let told = self.colours.of(self.sight.stage, patch as usize);
        self.last.set((Some(patch), told));
        told
    }

    fn is_hatched(&self, patch: u32) -> bool {
        let (_, standing) = self.colour(patch);
        standing == Standing::Thin || standing.is_bare()
    }

    fn sample(&self, column: usize, row: usize, spot: (f64, f64), under: Ink) -> Ink {
        let sample = self.grid.at(column, row);
        let lit = shade(sample, self.sight.shot.camera.direction(spot));
        let mut ink = match sample.surface {
            Surface::Nothing => under,
            Surface::Film(patch) => {
                let (ink, standing) = self.colour(patch);
                let base = dim(ink, lit);
                match standing {
                    Standing::Enough => base,
                    Standing::Uncounted => dim(UNCOUNTED, lit),
                    Standing::Thin => hatched(Standing::Thin, base, spot),
                    bare => dim(hatched(bare, base, spot), lit),
                }
            }
            Surface::OtherSide(_) => dim(OTHER_SIDE, lit),
            Surface::CutPart(_) => CUT_FACE,
            Surface::Body(kind, _) => dim(body_ink(kind), lit),
            Surface::CutBody(..) => CUT_FACE,
        };
        if sample.veil == Veil::Shutter {
            ink = mix(ink, [70, 66, 84], if stippled(spot) { 0.55 } else { 0.12 });
        }
        match self.edge(column, row) {
            0.0 => ink,
            edge => mix(ink, INK, edge),
        }
    }

    /// How much of an edge runs between a sample and its neighbours to the right and below, 0..=1.
    fn edge(&self, column: usize, row: usize) -> f64 {
        let here = self.grid.at(column, row);
        let alone = |right, down| {
            let there = self.grid.at(column + right, row + down);
            there.surface == here.surface && there.veil == here.veil
        };
        // One facet, or nothing at all, goes on: most samples end here.
        if alone(2, 0) && alone(0, 2) && alone(1, 0) && alone(0, 1) {
            return 0.0;
        }
        let mut strength = 0.0_f64;
        for (right, down) in [(1, 0), (0, 1), (2, 0), (0, 2)] {
            let there = self.grid.at(column + right, row + down);
            let there = ((column + right, row + down), there);
            strength = strength.max(self.between(((column, row), here), there));
        }
        strength
    }

    fn between(&self, (a, here): Placed<'_>, (b, there): Placed<'_>) -> f64 {
        if here.veil != there.veil {
            return 0.75;
        }
        if body_of(self.sight.stage, here.surface) != body_of(self.sight.stage, there.surface) {
            return 0.8;
        }
        if here.surface == Surface::Nothing || matches!(here.surface, Surface::CutPart(_)) {
            return 0.0;
        }
        // One facet is flat.
        if matches!(here.surface, Surface::Film(_)) && here.surface == there.surface {
            return 0.0;
        }
        let (p, q) = (self.position_m(a, here), self.position_m(b, there));
        let off = (q - p)
            .dot(here.normal)
            .abs()
            .min((q - p).dot(there.normal).abs());
        // Four pixels: less cannot be told from a slope.
        if off > 4.0 / self.sight.shot.camera.pixels_per_m(p) {
            return 0.7;
        }
        // 37 degrees: sharper than any crease of a reasonably faceted round.
        if here.normal.dot(there.normal) < 0.8 {
            0.3
        } else {
            0.0
        }
    }

    fn position_m(&self, (column, row): (usize, usize), sample: &Sample) -> DVec3 {
        let (origin, direction) = self
            .sight
            .shot
            .camera
            .ray(spot(self.sight.frame, column, row));
        origin + direction * sample.distance_m
    }
}

/// Soft light from the eye: 1 facing it, 0.66 edge-on.
fn shade(sample: &Sample, direction: DVec3) -> f64 {
    0.66 + 0.34 * sample.normal.dot(direction).abs().min(1.0)
}

/// A number that differs where two surfaces belong to different things.
fn body_of(stage: &Stage<'_>, surface: Surface) -> (u8, u32) {
    match surface {
        Surface::Nothing => (0, 0),
        Surface::Film(patch) => {
            let part = stage.survey.patches[patch as usize].part;
            (1, u32::try_from(part).unwrap_or(u32::MAX))
        }
        Surface::OtherSide(part) => (1, part),
        Surface::CutPart(part) => (2, part),
        Surface::Body(_, body) => (3, body),
        Surface::CutBody(_, body) => (4, body),
    }
}

/// The hatch of a standing over a colour. Screen-space, so that it reads alike on any slope.
fn hatched(standing: Standing, base: Ink, (x, y): (f64, f64)) -> Ink {
    match standing {
        Standing::NoneSeen | Standing::Unreached => {
            // Stripes 3.4 of every 8 pixels, rising to the right.
            if (x + y).rem_euclid(8.0) < 3.4 {
                BARE_STRIPE
            } else {
                BARE_PAPER
            }
        }
        Standing::Thin => {
            // Lines 1.5 of every 7 pixels, falling to the right.
            let line = if luma(base) < 0.45 { PAPER } else { INK };
            if (x - y).rem_euclid(7.0) < 1.5 {
                mix(base, line, 0.75)
            } else {
                base
            }
        }
        Standing::Enough | Standing::Uncounted => base,
    }
}

fn stippled((x, y): (f64, f64)) -> bool {
    (x.rem_euclid(4.0) < 1.0) && (y.rem_euclid(4.0) < 1.0)
}

fn body_ink(kind: Kind) -> Ink {
    match kind {
        Kind::Fixture => [196, 193, 188],
        Kind::Shutter => [170, 166, 176],
        Kind::Coupon => [226, 224, 220],
        Kind::Source => [110, 104, 100],
    }
}

#[cfg(test)]
mod tests;
