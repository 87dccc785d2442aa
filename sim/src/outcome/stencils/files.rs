//! Files of a stencil: the film across its edges as a table, and the corrected drawing.
//!
//! In: [`StencilFilm`]s of the tally. Out: names and texts, for the outcome folder.

use crate::scene::Scene;
use crate::stencil::as_svg;
use crate::transport::Tally;
use crate::transport::edges::Edges;
use std::fmt::Write as _;

/// Names of the stencils for files: that of the artwork, with what no file name may hold replaced, and numbers where
/// two are the same.
pub(super) fn names(scene: &Scene) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for stencil in &scene.stencils {
        let plain = |c: char| {
            if c.is_alphanumeric() || "-_ ".contains(c) {
                c
            } else {
                '_'
            }
        };
        let name: String = scene.bodies[stencil.body.0 as usize]
            .name
            .chars()
            .map(plain)
            .collect();
        let taken = |name: &str| names.iter().any(|known| known.eq_ignore_ascii_case(name));
        let numbered = (2..).map(|n| format!("{name}-{n}"));
        let free = std::iter::once(name.clone())
            .chain(numbered)
            .find(|name| !taken(name));
        names.push(free.unwrap_or(name));
    }
    names
}

/// All files: name and text.
pub(in crate::outcome) fn files(scene: &Scene, tally: &Tally) -> Vec<(String, String)> {
    let mut files = Vec::new();
    for ((stencil, film), name) in scene.stencils.iter().zip(&tally.stencils).zip(names(scene)) {
        files.push((format!("stencil-{name}.csv"), table(&film.edges)));
        if let Some(corrected) = &film.corrected {
            let svg = as_svg(&corrected.shapes, stencil.artwork.page_m);
            files.push((format!("corrected-{name}.svg"), svg));
        }
    }
    files
}

/// One row per point across an edge.
fn table(edges: &Edges) -> String {
    let mut text = "station,contour,edge_x_mm,edge_y_mm,into_x,into_y,part_x_mm,part_y_mm,part_z_mm,penumbra_mm,open_nm,\
                    half_at_mm,x_mm,thickness_nm,stderr_nm\n"
        .to_owned();
    for (number, profile) in edges.profiles.iter().enumerate() {
        let station = &profile.station;
        let [at, part] = [station.at_m.extend(0.0), profile.position_m].map(|p| p * 1e3);
        let half = profile
            .half_m
            .map_or(String::new(), |half_m| format!("{:.5}", half_m * 1e3));
        let head = format!(
            "{number},{},{:.5},{:.5},{:.6},{:.6},{:.5},{:.5},{:.5},{:.5},{:.4},{half}",
            station.contour,
            at.x,
            at.y,
            station.into.x,
            station.into.y,
            part.x,
            part.y,
            part.z,
            profile.penumbra_m * 1e3,
            profile.open_m * 1e9,
        );
        for point in &profile.points {
            let _ = writeln!(
                text,
                "{head},{:.6},{:.4},{:.4}",
                point.x_m * 1e3,
                point.thickness_m * 1e9,
                point.std_error_m * 1e9
            );
        }
    }
    text
}
