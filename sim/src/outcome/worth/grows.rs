//! How a part's film grows: at which angle metal arrives, how far columns lean.

use super::super::figures::percent;
use super::super::model::{PartGrowth, PartOutcome};
use super::{pieces, share};
use crate::worth::growth::{DULL_BEYOND_RAD, DULL_FROM_M, tilt_range_rad};

/// How a part's film grows; none where no film arrives.
pub(super) fn grows(part: &PartOutcome) -> Option<PartGrowth> {
    let pieces = pieces(part);
    let grazing = share(&pieces, |facet| {
        facet.incidence_rad > DULL_BEYOND_RAD && facet.thickness_m > DULL_FROM_M
    });
    let film = || pieces.iter().filter(|p| p.facet.incidence_rad.is_finite());
    let volume: f64 = film().map(|p| p.area_m2 * p.facet.thickness_m).sum();
    if volume <= 0.0 {
        return None;
    }
    let weighted = film().map(|p| p.area_m2 * p.facet.thickness_m * p.facet.incidence_rad);
    let mean_rad = weighted.sum::<f64>() / volume;
    let tilt = tilt_range_rad(mean_rad).map(f64::to_degrees);
    let [from, to] = tilt.map(|deg| format!("{deg:.0}"));
    let lean = if from == to {
        from
    } else {
        format!("{from} to {to}")
    };
    let mut sentence = format!(
        "Metal arrives {:.0}° from straight on in the mean, so that columns lean by about {lean}°",
        mean_rad.to_degrees()
    );
    sentence += &if grazing > 0.0 {
        format!(
            "; on {} of the area it comes at more than 60° and builds more than 300 nm, which tends to grow dull and porous.",
            percent(grazing)
        )
    } else {
        "; nowhere does it build more than 300 nm at more than 60°, where films tend to grow dull and porous.".to_owned()
    };
    Some(PartGrowth {
        sentence,
        mean_incidence_deg: mean_rad.to_degrees(),
        tilt_deg: tilt,
        grazing_fraction: grazing,
    })
}
