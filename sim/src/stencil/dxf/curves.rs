//! Curves of a DXF, cut into lines.
//!
//! In: an entity and what takes it into metres. Out: corners on a [`Pen`].

use super::super::error::{ArtworkProblem, Fault};
use super::super::flatten::Pen;
use ::dxf::entities::{EntityType, Spline};
use glam::{DAffine2, DMat2, DVec2};
use std::f64::consts::TAU;

/// Ends nearer than this share of a curve's size meet.
const MEET: f64 = 1e-9;

/// An entity that draws a line.
#[derive(Debug, Clone)]
pub(super) enum Curve {
    /// Corners, each with the bulge of the piece after it (tan of a quarter of its angle), and whether it closes.
    Poly(Vec<(DVec2, f64)>, Closing, DAffine2),
    /// Centre, two half-axes, and the range of the parameter, rad.
    Oval(DVec2, [DVec2; 2], [f64; 2], DAffine2),
    /// Degree, knots, weights, control points, closed or not.
    Nurbs(Nurbs, Closing),
}

/// Whether a curve ends where it starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Closing {
    Open,
    Closed,
}

/// A rational B-spline.
#[derive(Debug, Clone)]
pub(super) struct Nurbs {
    degree: usize,
    knots: Vec<f64>,
    points: Vec<(DVec2, f64)>,
}

/// Coordinates of entities drawn on the back of the plane are mirrored (the arbitrary axis of a DXF, for normals along z).
pub(super) fn flip(normal_z: f64) -> DAffine2 {
    if normal_z < 0.0 {
        DAffine2::from_scale(DVec2::new(-1.0, 1.0))
    } else {
        DAffine2::IDENTITY
    }
}

fn closing(is_closed: bool) -> Closing {
    if is_closed {
        Closing::Closed
    } else {
        Closing::Open
    }
}

impl Curve {
    pub fn of(entity: &EntityType) -> Result<Option<Self>, Fault> {
        let at = |p: &::dxf::Point| DVec2::new(p.x, p.y);
        Ok(Some(match entity {
            EntityType::Line(line) => {
                let ends = vec![(at(&line.p1), 0.0), (at(&line.p2), 0.0)];
                Self::Poly(ends, Closing::Open, DAffine2::IDENTITY) // lines stand in world coordinates
            }
            EntityType::LwPolyline(poly) => {
                let corners = poly.vertices.iter();
                let corners = corners.map(|v| (DVec2::new(v.x, v.y), v.bulge)).collect();
                Self::Poly(
                    corners,
                    closing(poly.is_closed()),
                    flip(poly.extrusion_direction.z),
                )
            }
            EntityType::Polyline(poly) => {
                let corners = poly.vertices();
                let corners = corners.map(|v| (at(&v.location), v.bulge)).collect();
                Self::Poly(corners, closing(poly.is_closed()), flip(poly.normal.z))
            }
            EntityType::Circle(c) => {
                let axes = [DVec2::X * c.radius, DVec2::Y * c.radius];
                Self::Oval(at(&c.center), axes, [0.0, TAU], flip(c.normal.z))
            }
            EntityType::Arc(a) => {
                let axes = [DVec2::X * a.radius, DVec2::Y * a.radius];
                let start = a.start_angle.to_radians();
                let sweep = (a.end_angle - a.start_angle).rem_euclid(360.0).to_radians();
                let sweep = if sweep > 0.0 { sweep } else { TAU };
                Self::Oval(
                    at(&a.center),
                    axes,
                    [start, start + sweep],
                    flip(a.normal.z),
                )
            }
            EntityType::Ellipse(e) => {
                let major = DVec2::new(e.major_axis.x, e.major_axis.y);
                let minor =
                    major.perp() * e.minor_axis_ratio * if e.normal.z < 0.0 { -1.0 } else { 1.0 };
                let sweep = (e.end_parameter - e.start_parameter).rem_euclid(TAU);
                let sweep = if sweep > 1e-9 { sweep } else { TAU };
                let range = [e.start_parameter, e.start_parameter + sweep];
                Self::Oval(at(&e.center), [major, minor], range, DAffine2::IDENTITY)
            }
            EntityType::Spline(spline) => {
                Self::Nurbs(Nurbs::of(spline)?, closing(spline.is_closed()))
            }
            _ => return Ok(None),
        }))
    }

    /// Whether the curve ends where it starts.
    pub fn is_closed(&self) -> bool {
        match self {
            Self::Poly(_, closing, _) | Self::Nurbs(_, closing) => *closing == Closing::Closed,
            Self::Oval(_, _, [from, to], _) => to - from >= TAU * (1.0 - MEET),
        }
    }

    pub fn draw(&self, pen: &mut Pen, to_metres: DAffine2) -> Result<(), Fault> {
        match self {
            Self::Poly(corners, closing, own) => {
                let place = to_metres * *own;
                let Some(first) = corners.first() else {
                    return Ok(());
                };
                pen.line(place.transform_point2(first.0))?;
                let next = corners.iter().cycle().skip(1);
                let pieces = corners.len() - usize::from(*closing == Closing::Open);
                for ((a, bulge), (b, _)) in corners.iter().zip(next).take(pieces) {
                    bulged(pen, [*a, *b], *bulge, place)?;
                }
                Ok(())
            }
            Self::Oval(centre, axes, [from, to], own) => {
                let place = to_metres * *own;
                let at = |u: f64| {
                    let angle = from + (to - from) * u;
                    place.transform_point2(*centre + axes[0] * angle.cos() + axes[1] * angle.sin())
                };
                pen.line(at(0.0))?;
                let size = (place.matrix2 * DMat2::from_cols(axes[0], axes[1])).to_cols_array();
                let size = size.iter().map(|x| x * x).sum::<f64>().sqrt();
                pen.curve(size * (to - from).powi(2), at)
            }
            Self::Nurbs(nurbs, _) => nurbs.draw(pen, to_metres),
        }
    }
}

/// A piece of a polyline: straight, or an arc that bulges to the right of its chord by `bulge` half chords.
fn bulged(pen: &mut Pen, [a, b]: [DVec2; 2], bulge: f64, place: DAffine2) -> Result<(), Fault> {
    let chord = b - a;
    if bulge.abs() < MEET || chord.length() <= 0.0 || !bulge.is_finite() {
        return pen.line(place.transform_point2(b));
    }
    let angle = 4.0 * bulge.atan();
    // the centre lies on the left of the chord for positive bulges below 1
    let centre = 0.5 * (a + b) + chord.perp() * ((1.0 - bulge * bulge) / (4.0 * bulge));
    let start = a - centre;
    let size = place
        .matrix2
        .to_cols_array()
        .iter()
        .map(|x| x * x)
        .sum::<f64>()
        .sqrt();
    pen.curve(size * start.length() * angle * angle, |u| {
        if u >= 1.0 {
            return place.transform_point2(b);
        }
        place.transform_point2(centre + DVec2::from_angle(angle * u).rotate(start))
    })
}

impl Nurbs {
    fn of(spline: &Spline) -> Result<Self, Fault> {
        let refuse = |why: String| -> Fault { ArtworkProblem::Dxf { why }.into() };
        let degree = usize::try_from(spline.degree_of_curve).unwrap_or(0);
        let count = spline.control_points.len();
        if count == 0 && !spline.fit_points.is_empty() {
            let why = "a spline is given by points it passes, without control points; convert it to a polyline";
            return Err(refuse(why.to_owned()));
        }
        if !(1..=11).contains(&degree)
            || count <= degree
            || spline.knot_values.len() != count + degree + 1
        {
            return Err(refuse(format!(
                "a spline of degree {} has {count} control points and {} knots, which do not go together",
                spline.degree_of_curve,
                spline.knot_values.len()
            )));
        }
        if !spline.knot_values.windows(2).all(|pair| pair[0] <= pair[1]) {
            return Err(refuse("knots of a spline run backwards".to_owned()));
        }
        let weight = |i: usize| spline.weight_values.get(i).copied().unwrap_or(1.0);
        if (0..count).any(|i| !(weight(i) > 0.0 && weight(i).is_finite())) {
            return Err(refuse("weights of a spline must be above 0".to_owned()));
        }
        let points = spline.control_points.iter().enumerate();
        Ok(Self {
            degree,
            knots: spline.knot_values.clone(),
            points: points
                .map(|(i, p)| (DVec2::new(p.x, p.y), weight(i)))
                .collect(),
        })
    }

    /// Cut knot span by knot span; the bend of each is taken from its control points' second differences.
    fn draw(&self, pen: &mut Pen, place: DAffine2) -> Result<(), Fault> {
        let spans: Vec<usize> = (self.degree..self.points.len())
            .filter(|&k| self.knots[k + 1] > self.knots[k])
            .collect();
        if let Some(&first) = spans.first() {
            pen.line(place.transform_point2(self.at(first, 0.0)))?;
        }
        for &span in &spans {
            // between samples a rational curve may bend otherwise: four times what they show
            let samples =
                (0..=8).map(|i| place.transform_point2(self.at(span, f64::from(i) / 8.0)));
            let samples: Vec<DVec2> = samples.collect();
            let bends = samples
                .windows(3)
                .map(|w| (w[0] - 2.0 * w[1] + w[2]).length() * 64.0);
            let bend = 4.0 * bends.fold(0.0, f64::max);
            pen.curve(bend, |u| place.transform_point2(self.at(span, u)))?;
        }
        Ok(())
    }

    /// De Boor's recurrence (C. de Boor, J. Approx. Theory 6, 50 (1972), from memory) in homogeneous coordinates.
    fn at(&self, span: usize, u: f64) -> DVec2 {
        let t = self.knots[span] + (self.knots[span + 1] - self.knots[span]) * u;
        let p = self.degree;
        let first = span - p;
        let mut work: Vec<(DVec2, f64)> = (0..=p)
            .map(|j| self.points[first + j])
            .map(|(point, w)| (point * w, w))
            .collect();
        for level in 1..=p {
            for j in (level..=p).rev() {
                let (low, high) = (self.knots[first + j], self.knots[first + j + 1 + p - level]);
                let share = if high > low {
                    (t - low) / (high - low)
                } else {
                    0.0
                };
                let (before, here) = (work[j - 1], work[j]);
                work[j] = (
                    before.0.lerp(here.0, share),
                    before.1 + (here.1 - before.1) * share,
                );
            }
        }
        work[p].0 / work[p].1
    }
}
