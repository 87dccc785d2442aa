//! DXF: closed lines, arcs, polylines, splines and blocks, in metres.
//!
//! In: ASCII DXF and its unit. Out: [`Artwork`]. Loose lines and arcs are joined end to end; closed contours are
//! filled by the even-odd rule, so that what lies inside another is a hole. What has no outline is refused with its
//! line.

mod chain;
mod curves;
mod scan;

use super::artwork::{Artwork, Collected};
use super::error::{ArtworkProblem, Fault};
use super::flatten::Pen;
use super::outline::Fill;
use ::dxf::entities::{Entity, EntityType, Insert};
use ::dxf::{Block, Drawing, DxfError};
use chain::Chains;
use curves::Curve;
use glam::{DAffine2, DVec2};

/// Deepest nesting of blocks.
const DEEPEST: usize = 16;

/// Most copies that blocks may make.
const MOST_COPIES: usize = 100_000;

const CLOSE_THEM: &str = "draw the shapes that are to be cut as closed polylines, circles or closed chains of lines and arcs";

pub(super) fn read(bytes: &[u8], unit_m: Option<f64>) -> Result<Artwork, Fault> {
    let unit_m = unit_m.ok_or(ArtworkProblem::Unit { unit_m: f64::NAN })?;
    let scanned = scan::drawing(bytes)?;
    let drawing = Drawing::load(&mut scanned.text.as_bytes()).map_err(|error| Fault {
        place: scanned.place_of(line_of(&error)),
        problem: ArtworkProblem::Dxf {
            why: in_words(&error),
        },
    })?;
    let blocks: Vec<&Block> = drawing.blocks().collect();
    let mut reading = Reading {
        blocks,
        pen: Pen::default(),
        chains: Chains::default(),
        copies: 0,
        hidden: 0,
    };
    let to_metres = DAffine2::from_scale(DVec2::splat(unit_m));
    for entity in drawing.entities() {
        reading.entity(entity, to_metres, 0)?;
    }
    let (contours, mut findings) = reading.chains.closed()?;
    if reading.hidden > 0 {
        findings.push(format!(
            "{} entities are hidden or on paper space and are left out",
            reading.hidden
        ));
    }
    let mut collected = Collected::default();
    collected.findings = findings;
    collected.fill(&contours, Fill::Lines)?;
    collected.finish(None, CLOSE_THEM)
}

fn line_of(error: &DxfError) -> Option<usize> {
    match error {
        DxfError::ParseFloatError(_, at)
        | DxfError::ParseIntError(_, at)
        | DxfError::ParseError(at)
        | DxfError::UnexpectedCode(_, at)
        | DxfError::UnexpectedByte(_, at)
        | DxfError::UnexpectedEnumValue(at)
        | DxfError::ExpectedTableType(at)
        | DxfError::WrongValueType(at) => Some(*at),
        DxfError::UnexpectedCodePair(pair, _) => Some(pair.offset),
        _ => None,
    }
}

/// The parser's reason without its own line number, which counts other lines.
fn in_words(error: &DxfError) -> String {
    match error {
        DxfError::ParseFloatError(why, _) => why.to_string(),
        DxfError::ParseIntError(why, _) => why.to_string(),
        DxfError::UnexpectedCode(code, _) => format!("group code {code} does not belong there"),
        DxfError::UnexpectedCodePair(pair, what) => {
            format!("group code {} does not belong there: {what}", pair.code)
        }
        DxfError::UnexpectedEndOfInput => "it ends in the middle".to_owned(),
        DxfError::UnexpectedEnumValue(_) => "a value that is not among those allowed".to_owned(),
        _ => "values that do not fit their group codes".to_owned(),
    }
}

struct Reading<'a> {
    blocks: Vec<&'a Block>,
    pen: Pen,
    chains: Chains,
    copies: usize,
    hidden: usize,
}

impl Reading<'_> {
    fn entity(&mut self, entity: &Entity, to_metres: DAffine2, depth: usize) -> Result<(), Fault> {
        if entity.common.is_in_paper_space || !entity.common.is_visible {
            self.hidden += 1;
            return Ok(());
        }
        if let EntityType::Insert(insert) = &entity.specific {
            return self.insert(insert, to_metres, depth);
        }
        let Some(curve) = Curve::of(&entity.specific)? else {
            return Ok(()); // refused by `scan`, or nothing to draw, as points are
        };
        curve.draw(&mut self.pen, to_metres)?;
        let corners = self.pen.lift();
        self.chains.add(corners, curve.is_closed());
        Ok(())
    }

    fn insert(&mut self, insert: &Insert, to_metres: DAffine2, depth: usize) -> Result<(), Fault> {
        let refuse = |why: String| -> Fault { ArtworkProblem::Dxf { why }.into() };
        let name = &insert.name;
        let Some(block) = self.blocks.iter().copied().find(|b| b.name == *name) else {
            return Err(refuse(format!(
                "block {name:?} is inserted and is not there"
            )));
        };
        if depth >= DEEPEST {
            return Err(refuse(format!(
                "block {name:?} is nested more than {DEEPEST} deep, or in itself"
            )));
        }
        let flip = curves::flip(insert.extrusion_direction.z);
        let [columns, rows] =
            [insert.column_count, insert.row_count].map(|n| u32::from(n.max(1).unsigned_abs()));
        for (column, row) in (0..columns).flat_map(|c| (0..rows).map(move |r| (c, r))) {
            self.copies += 1;
            if self.copies > MOST_COPIES {
                return Err(refuse(format!(
                    "blocks make more than {MOST_COPIES} copies"
                )));
            }
            let step = DVec2::new(
                f64::from(column) * insert.column_spacing,
                f64::from(row) * insert.row_spacing,
            );
            let place =
                DAffine2::from_translation(DVec2::new(insert.location.x, insert.location.y))
                    * DAffine2::from_angle(insert.rotation.to_radians())
                    * DAffine2::from_translation(step)
                    * DAffine2::from_scale(DVec2::new(
                        insert.x_scale_factor,
                        insert.y_scale_factor,
                    ))
                    * DAffine2::from_translation(-DVec2::new(
                        block.base_point.x,
                        block.base_point.y,
                    ));
            for entity in &block.entities {
                self.entity(entity, to_metres * flip * place, depth + 1)?;
            }
        }
        Ok(())
    }
}
