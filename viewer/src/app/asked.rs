//! A bare mesh is opened: which unit are its numbers in?

use super::document::Document;
use evenfall_sim::mesh::read_mesh;
use evenfall_sim::plan::starter::{self, Kind};
use glam::DVec3;
use std::path::{Path, PathBuf};

/// Units that are offered, and metres per unit.
pub const UNITS: [(&str, f64); 4] = [("mm", 1e-3), ("cm", 1e-2), ("in", 0.0254), ("m", 1.0)];

/// A mesh that waits for its unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// Its file.
    pub path: PathBuf,
    /// Extent in the file's numbers (in metres where the file says its unit).
    pub extent: DVec3,
    /// The file says its unit itself.
    pub says_unit: bool,
}

impl Asked {
    /// Looks at a mesh.
    ///
    /// # Errors
    /// A sentence, if it cannot be used.
    pub fn of(path: &Path) -> Result<Self, String> {
        let ending = path.extension().and_then(|ending| ending.to_str());
        let ending = ending.unwrap_or_default().to_ascii_lowercase();
        let says_unit = matches!(ending.as_str(), "3mf" | "gltf" | "glb");
        let unit_m = (!says_unit).then_some(1.0);
        let read = read_mesh(path, unit_m).map_err(|error| error.to_string())?;
        let corners = || read.mesh.vertices.iter();
        let low = corners().fold(DVec3::INFINITY, |low, &v| low.min(v));
        let high = corners().fold(DVec3::NEG_INFINITY, |high, &v| high.max(v));
        Ok(Self {
            path: path.to_owned(),
            extent: high - low,
            says_unit,
        })
    }

    /// A plan begun with the mesh: the commented starter, beside the mesh and called after it.
    ///
    /// - `unit`: none where the file says it
    pub fn plan(&self, unit: Option<&str>) -> Document {
        let mut path = self.path.with_extension("toml");
        if path.exists() {
            let stem = self.path.file_stem().unwrap_or_default().to_string_lossy();
            path = self.path.with_file_name(format!("{stem}-plan.toml"));
        }
        let name = self.path.file_name().unwrap_or_default().to_string_lossy();
        let name = name.replace('\\', "\\\\").replace('"', "\\\"");
        let text = starter::text(Kind::Print).replacen("part.stl", &name, 1);
        let lines = text.lines().filter_map(|line| {
            if !line.starts_with("unit = ") {
                return Some(line.to_owned());
            }
            unit.map(|unit| line.replacen("\"mm\"", &format!("\"{unit}\""), 1))
        });
        Document::begun(path, lines.collect::<Vec<_>>().join("\n") + "\n")
    }
}
