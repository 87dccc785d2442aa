//! Closed outlines in whole nanometres: what artwork, sheet and correction share.
//!
//! In: flattened contours in metres. Out: [`Outlines`], free of crossings. Whole numbers make union, difference and
//! triangulation exact: the same on every machine.

use super::error::{ArtworkPlace, ArtworkProblem, Fault};
use glam::DVec2;
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay::Overlay;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::i_float::int::point::IntPoint;

/// Length of the grid, m.
pub const NM_M: f64 = 1e-9;

/// Farthest coordinate of a drawing, m.
const FARTHEST_M: f64 = 10.0;

/// Closed polygon on the grid; outer ones run counter-clockwise, holes clockwise.
pub type Contour = Vec<IntPoint<i64>>;

/// Areas that do not overlap: each an outer contour and its holes.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Outlines {
    /// The areas.
    pub shapes: Vec<Vec<Contour>>,
}

/// How a set of contours is filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fill {
    EvenOdd,
    NonZero,
    /// Where contours go round more often counter-clockwise than clockwise: small loops the wrong way round vanish.
    Positive,
    /// As lines of a DXF are: even-odd, but what is drawn twice counts once.
    Lines,
}

/// A point on the grid.
pub(super) fn on_grid(point_m: DVec2) -> Result<IntPoint<i64>, Fault> {
    let reach_m = point_m.abs().max_element();
    if !(point_m.is_finite() && reach_m <= FARTHEST_M) {
        let reach_m = if point_m.is_finite() {
            reach_m
        } else {
            f64::INFINITY
        };
        return Err(ArtworkProblem::TooFar { reach_m }.into());
    }
    #[expect(
        clippy::cast_possible_truncation,
        reason = "at most 10 m in nanometres, checked above"
    )]
    let whole = |x: f64| (x / NM_M).round() as i64;
    Ok(IntPoint::new(whole(point_m.x), whole(point_m.y)))
}

/// A point of the grid in metres.
#[expect(
    clippy::cast_precision_loss,
    reason = "at most 10^10 nanometres, below 2^53"
)]
pub(super) fn in_metres(point: IntPoint<i64>) -> DVec2 {
    DVec2::new(point.x as f64, point.y as f64) * NM_M
}

impl ArtworkPlace {
    /// A point of the grid as a place.
    pub(super) fn at(point: IntPoint<i64>) -> Self {
        Self::Point((in_metres(point) * 1e3).to_array())
    }
}

impl Outlines {
    /// The area that contours enclose by a fill rule, crossings resolved.
    pub(super) fn filled(contours: &[Contour], fill: Fill) -> Self {
        let rule = match fill {
            Fill::EvenOdd | Fill::Lines => FillRule::EvenOdd,
            Fill::NonZero => FillRule::NonZero,
            Fill::Positive => FillRule::Positive,
        };
        let shapes = Overlay::from_subj(contours).overlay(OverlayRule::Subject, rule);
        Self { shapes }
    }

    /// This area without another.
    #[must_use]
    pub fn without(&self, other: &Self) -> Self {
        self.with(other, OverlayRule::Difference)
    }

    fn with(&self, other: &Self, rule: OverlayRule) -> Self {
        let (ours, theirs) = (self.contours(), other.contours());
        let shapes =
            Overlay::from_subj_and_clip(&ours[..], &theirs[..]).overlay(rule, FillRule::NonZero);
        Self { shapes }
    }

    /// All contours, outer ones and holes.
    pub fn contours(&self) -> Vec<Contour> {
        self.shapes.iter().flatten().cloned().collect()
    }

    /// Sides of all contours from corner to corner, m, the area on the left.
    pub fn sides_m(&self) -> impl Iterator<Item = [DVec2; 2]> + '_ {
        self.shapes.iter().flatten().flat_map(|contour| {
            let next = contour.iter().cycle().skip(1);
            contour
                .iter()
                .zip(next)
                .map(|(a, b)| [*a, *b].map(in_metres))
        })
    }

    /// Length of all contours, m.
    pub fn length_m(&self) -> f64 {
        self.sides_m().map(|[a, b]| a.distance(b)).sum()
    }

    /// Area, m².
    pub fn area_m2(&self) -> f64 {
        0.5 * self.sides_m().map(|[a, b]| a.perp_dot(b)).sum::<f64>()
    }

    /// Lowest and highest coordinates, m; none without corners.
    pub fn bounds_m(&self) -> Option<[DVec2; 2]> {
        self.sides_m().fold(None, |bounds, [a, _]| {
            let [low, high] = bounds.unwrap_or([a, a]);
            Some([low.min(a), high.max(a)])
        })
    }

    /// A rectangle.
    pub(crate) fn rectangle(low_m: DVec2, high_m: DVec2) -> Result<Self, ArtworkProblem> {
        let corners = [
            low_m,
            DVec2::new(high_m.x, low_m.y),
            high_m,
            DVec2::new(low_m.x, high_m.y),
        ];
        let contour: Contour = corners
            .into_iter()
            .map(on_grid)
            .collect::<Result<_, _>>()
            .map_err(|fault: Fault| fault.problem)?;
        Ok(Self {
            shapes: vec![vec![contour]],
        })
    }
}
