//! What stands on the stage, as corners of triangles and lines.
//!
//! In: an [`Outcome`]. Out: corners in the order solid, veiled, lines; parts first, whose facets are painted one by
//! one in the order of the survey's patches.

mod traces;

use bytemuck::{Pod, Zeroable};
use evenfall_sim::outcome::{BodyOutcome, Outcome, PartOutcome};
use evenfall_sim::plan::model::ChamberShape;
use glam::DVec3;
use std::f64::consts::TAU;

/// Drawn a little nearer than it is, so that it is seen on a surface.
const LIFTED: u32 = 1;
/// Painted by facet.
const PAINTED: u32 = 2;
/// The front, or the back, of a part that counts both sides: seen from there only.
const FRONT: u32 = 4;
const BACK: u32 = 8;
/// Number of the screen it belongs to, plus one, from this bit on.
const SCREEN_BIT: u32 = 8;
/// Number of its place from this bit on.
const PLACE_BIT: u32 = 16;
/// Most parts that have places of their own; more share the last one.
const MOST_PLACES: usize = 1 << 15;

/// Corners as the shader takes them.
#[derive(Debug, Clone, Copy, PartialEq, Pod, Zeroable)]
#[repr(C)]
pub struct Corner {
    position_m: [f32; 3],
    what: u32,
    kind: u32,
}

/// A place that corners are in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    Chamber,
    /// Turns with the parts.
    Riding,
    /// With a part, in its own coordinates.
    Part(usize),
}

impl Place {
    fn bits(self) -> u32 {
        let number = match self {
            Self::Chamber => 0,
            Self::Riding => 1,
            Self::Part(part) => 2 + part.min(MOST_PLACES),
        };
        u32::try_from(number).unwrap_or(0) << PLACE_BIT
    }
}

/// What is drawn at times only.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Screen {
    /// While it is shut.
    Shutter(String),
    /// Where stencils are wanted.
    Stencil,
}

/// All corners.
#[derive(Debug, Clone, Default)]
pub struct Solids {
    solid: Vec<Corner>,
    veiled: Vec<Corner>,
    lines: Vec<Corner>,
    /// Shutters and stencils, by number: drawn or not.
    pub screens: Vec<Screen>,
    /// Number of places: the chamber, what rides, each part.
    pub places: usize,
}

/// Colours of what is not painted: RGBA.
mod colour {
    pub const FIXTURE: [u8; 4] = [96, 104, 112, 90];
    pub const SHUTTER: [u8; 4] = [150, 88, 60, 120];
    /// Grey, so that what shows through keeps its hue.
    pub const STENCIL: [u8; 4] = [128, 128, 128, 110];
    pub const COUPON: [u8; 4] = [225, 225, 215, 255];
    pub const SOURCE: [u8; 4] = [176, 120, 72, 120];
    pub const RIM: [u8; 4] = [176, 120, 72, 255];
    pub const CHAMBER: [u8; 4] = [128, 128, 128, 150];
    pub const AXIS: [u8; 4] = [200, 120, 40, 255];
}

impl Solids {
    /// Everything of an outcome.
    pub fn of(outcome: &Outcome) -> Self {
        let mut solids = Self {
            places: 2 + outcome.parts.len().min(MOST_PLACES + 1),
            ..Self::default()
        };
        let count = |part: &PartOutcome| part.facets.len() + part.back_facets.len();
        let facets: usize = outcome.parts.iter().map(count).sum();
        solids.solid.reserve_exact(3 * facets);
        let mut patch = 0_u32;
        for (number, part) in outcome.parts.iter().enumerate() {
            let place = Place::Part(number).bits();
            for (facets, side) in [(&part.facets, FRONT), (&part.back_facets, BACK)] {
                let side = if part.both_sides { side } else { 0 };
                for facet in facets {
                    for corner in facet.corners_m {
                        solids.solid.push(Corner {
                            position_m: narrow(corner),
                            what: patch,
                            kind: place | PAINTED | side,
                        });
                    }
                    patch += 1;
                }
            }
        }
        for body in &outcome.bodies {
            solids.body(body);
        }
        for source in &outcome.sources {
            let normal = DVec3::from_array(source.facing);
            let (across, along) = normal.any_orthonormal_pair();
            let at = DVec3::from_array(source.at_m) + normal * 2e-4;
            solids.circle(at, (across, along), source.reach_m, colour::RIM);
        }
        solids.chamber(outcome.chamber.as_ref());
        solids.traces(outcome);
        for (axis, through_m) in &outcome.rotations {
            // drawn through the parts, as long as they reach
            let reach = 0.1;
            let middle = outcome
                .parts
                .first()
                .map_or(*through_m, |part| part.chamber_from_part.translation);
            let foot = *through_m + *axis * (middle - *through_m).dot(*axis);
            let ends = [foot - *axis * reach, foot + *axis * reach];
            solids.line(ends, Place::Chamber, colour::AXIS);
        }
        solids
    }

    /// Adds a line, m, in the frame of a place.
    fn line(&mut self, ends_m: [DVec3; 2], place: Place, rgba: [u8; 4]) {
        self.flagged_line(ends_m, (place, 0), rgba);
    }

    fn flagged_line(&mut self, ends_m: [DVec3; 2], (place, flags): (Place, u32), rgba: [u8; 4]) {
        for end in ends_m {
            self.lines.push(Corner {
                position_m: narrow(end),
                what: u32::from_le_bytes(rgba),
                kind: place.bits() | flags,
            });
        }
    }

    /// All corners in the order in which they are drawn.
    pub fn corners(&self) -> Vec<Corner> {
        let mut all = self.solid.clone();
        all.extend(&self.veiled);
        all.extend(&self.lines);
        if all.is_empty() {
            all.push(Corner::zeroed());
        }
        all
    }

    /// Numbers of corners: solid, veiled, lines.
    pub fn counts(&self) -> [u32; 3] {
        [&self.solid, &self.veiled, &self.lines]
            .map(|corners| u32::try_from(corners.len()).unwrap_or(0))
    }

    fn body(&mut self, body: &BodyOutcome) {
        let place = if body.riding {
            Place::Riding
        } else {
            Place::Chamber
        };
        let mut kind = place.bits();
        let rgba = match body.kind.as_str() {
            "coupon" => colour::COUPON,
            "source" => colour::SOURCE,
            "shutter" => {
                kind |= self.screen(Screen::Shutter(body.name.clone()));
                colour::SHUTTER
            }
            // a veil: what lies under it is to be seen
            "mask" => {
                kind |= self.screen(Screen::Stencil);
                colour::STENCIL
            }
            _ => colour::FIXTURE,
        };
        let corners = body.triangles.iter().flatten().map(|&corner| Corner {
            position_m: narrow(body.vertices_m[corner as usize]),
            what: u32::from_le_bytes(rgba),
            kind,
        });
        if rgba[3] == u8::MAX {
            self.solid.extend(corners);
        } else {
            self.veiled.extend(corners);
        }
    }

    /// The bits of one more screen.
    fn screen(&mut self, screen: Screen) -> u32 {
        self.screens.push(screen);
        u32::try_from(self.screens.len()).unwrap_or(0) << SCREEN_BIT
    }

    fn circle(
        &mut self,
        middle: DVec3,
        (first, second): (DVec3, DVec3),
        radius: f64,
        rgba: [u8; 4],
    ) {
        const SIDES: u32 = 64;
        let at = |side: u32| {
            let (sin, cos) = (TAU * f64::from(side) / f64::from(SIDES)).sin_cos();
            middle + (first * cos + second * sin) * radius
        };
        for side in 0..SIDES {
            self.line([at(side), at(side + 1)], Place::Chamber, rgba);
        }
    }

    fn chamber(&mut self, shape: Option<&ChamberShape>) {
        match shape {
            Some(ChamberShape::Cylinder {
                diameter_m,
                height_m,
            }) => {
                let radius = 0.5 * diameter_m;
                for z in [0.0, *height_m] {
                    self.circle(DVec3::Z * z, (DVec3::X, DVec3::Y), radius, colour::CHAMBER);
                }
                for direction in [DVec3::X, DVec3::Y, DVec3::NEG_X, DVec3::NEG_Y] {
                    let foot = direction * radius;
                    let ends = [foot, foot + DVec3::Z * *height_m];
                    self.line(ends, Place::Chamber, colour::CHAMBER);
                }
            }
            Some(ChamberShape::Box { size_m }) => {
                let corner = |bits: usize| {
                    let side = |axis: usize| f64::from(u8::from(bits >> axis & 1 != 0)) - 0.5;
                    DVec3::new(side(0), side(1), side(2) + 0.5) * *size_m
                };
                for bits in 0..8 {
                    for axis in (0..3).filter(|axis| bits >> axis & 1 == 0) {
                        let ends = [corner(bits), corner(bits | 1 << axis)];
                        self.line(ends, Place::Chamber, colour::CHAMBER);
                    }
                }
            }
            None => {}
        }
    }
}

/// The one place where the stage's f64 becomes the device's f32.
#[expect(clippy::cast_possible_truncation, reason = "for drawing only")]
fn narrow(point: DVec3) -> [f32; 3] {
    point.to_array().map(|x| x as f32)
}
