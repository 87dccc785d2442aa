//! The page of an SVG: how large a px is.
//!
//! In: the root element and what the plan says. Out: metres per px, settled without guessing.

use super::super::error::{ArtworkPlace, ArtworkProblem, Fault};
use std::str::FromStr;
use svgtypes::{Length, LengthUnit};

/// Length of a px where width and height are physical: CSS fixes 96 to the inch (W3C, CSS Values and Units 3, 6.2,
/// from memory).
const CSS_PX_M: f64 = 0.0254 / 96.0;

/// Size of the page as written, and of a px.
pub(super) struct Page {
    width: String,
    height: String,
    /// Metres per px.
    pub px_m: f64,
}

impl Page {
    pub fn of(root: &roxmltree::Node, unit_m: Option<f64>) -> Result<Self, Fault> {
        let written = |name: &str| {
            root.attribute(name)
                .map_or("not given".to_owned(), str::to_owned)
        };
        let (width, height) = (written("width"), written("height"));
        let at = root.document().text_pos_at(root.range().start);
        let fault = |problem| Fault {
            place: ArtworkPlace::Column(at.row.into(), at.col.into()),
            problem,
        };
        let physical = |name: &str| -> Result<bool, Fault> {
            let Some(text) = root.attribute(name) else {
                return Ok(false);
            };
            let no_page = || {
                fault(ArtworkProblem::NoPage {
                    width: width.clone(),
                    height: height.clone(),
                })
            };
            let length = Length::from_str(text.trim()).map_err(|_| no_page())?;
            if !(length.number > 0.0 && length.number.is_finite()) {
                return Err(no_page());
            }
            Ok(matches!(
                length.unit,
                LengthUnit::In | LengthUnit::Cm | LengthUnit::Mm | LengthUnit::Pt | LengthUnit::Pc
            ))
        };
        let is_physical = [physical("width")?, physical("height")?] == [true, true];
        let px_m = match (is_physical, unit_m) {
            (true, None) => CSS_PX_M,
            (false, Some(unit_m)) => unit_m,
            (true, Some(_)) => return Err(fault(ArtworkProblem::SizeTwice { width, height })),
            (false, None) => return Err(fault(ArtworkProblem::NoSize { width, height })),
        };
        Ok(Self {
            width,
            height,
            px_m,
        })
    }

    /// That there is no page.
    pub fn none(&self) -> ArtworkProblem {
        ArtworkProblem::NoPage {
            width: self.width.clone(),
            height: self.height.clone(),
        }
    }
}
