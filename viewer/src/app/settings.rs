//! What the window remembers from day to day: colours, size of the panels, what the pointer's buttons do.

use etcetera::BaseStrategy;
use evenfall_sim::outcome::reading::Reading;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Smallest and largest size of the panels, over that of the screen.
pub const ZOOM: [f32; 2] = [0.75, 2.5];

/// Sizes of the panels that can be chosen.
const ZOOMS: [f32; 9] = [0.75, 0.9, 1.0, 1.1, 1.25, 1.5, 1.75, 2.0, 2.5];

/// The size a step larger or smaller; 100 % for no step.
pub fn zoomed(zoom: f32, step: i32) -> f32 {
    let larger = ZOOMS.into_iter().find(|&other| other > zoom + 1e-3);
    let smaller = ZOOMS.into_iter().rev().find(|&other| other < zoom - 1e-3);
    match step {
        0 => 1.0,
        1.. => larger.unwrap_or(ZOOM[1]),
        _ => smaller.unwrap_or(ZOOM[0]),
    }
}

/// Dark or light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Colours {
    #[default]
    System,
    Light,
    Dark,
}

/// What dragging on the stage does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Pointer {
    /// The first button turns; with Shift, or another button, it slides.
    #[default]
    First,
    /// The middle button turns, with Shift it slides; the first only pins.
    Middle,
    /// The second button turns, the middle one slides; the first only pins.
    Second,
}

/// What is remembered.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    pub colours: Colours,
    /// Size of the panels over that of the screen.
    pub zoom: f32,
    pub pointer: Pointer,
    /// Units in which figures are read.
    pub reading: Reading,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            colours: Colours::default(),
            zoom: 1.0,
            pointer: Pointer::default(),
            reading: Reading::default(),
        }
    }
}

impl Pointer {
    /// All of them, with words for a list.
    pub const ALL: [(Self, &'static str); 3] = [
        (Self::First, "first button turns, others slide"),
        (Self::Middle, "middle button turns"),
        (Self::Second, "second button turns"),
    ];
}

impl Colours {
    /// All of them, with words for a list.
    pub const ALL: [(Self, &'static str); 3] = [
        (Self::System, "as the system"),
        (Self::Light, "light"),
        (Self::Dark, "dark"),
    ];
}

/// Where settings are kept; none where the system names no place.
pub fn place() -> Option<PathBuf> {
    let system = etcetera::choose_base_strategy().ok()?;
    Some(system.config_dir().join("evenfall").join("window.json"))
}

impl Settings {
    /// As kept, or as they are at first; a damaged file counts as none.
    pub fn read(place: &Path) -> Self {
        let kept = std::fs::read(place).ok();
        let settings: Self = kept
            .and_then(|bytes| serde_json::from_slice(&bytes).ok())
            .unwrap_or_default();
        Self {
            zoom: settings.zoom.clamp(ZOOM[0], ZOOM[1]),
            ..settings
        }
    }

    /// Keeps them; where that is impossible they last until the window closes.
    pub fn keep(&self, place: &Path) {
        if let Some(folder) = place.parent()
            && std::fs::create_dir_all(folder).is_ok()
            && let Ok(bytes) = serde_json::to_vec_pretty(self)
        {
            // Nothing else could be done about it.
            let _ = crate::folder::replace(place, &bytes);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use evenfall_sim::outcome::reading::{FilmUnit, LengthUnit};

    #[test]
    fn settings_are_read_back_as_kept_and_damaged_ones_are_the_first_ones() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("new").join("window.json");
        assert_eq!(Settings::read(&place), Settings::default());
        let kept = Settings {
            colours: Colours::Dark,
            zoom: 1.5,
            pointer: Pointer::Second,
            reading: Reading {
                film: FilmUnit::Angstrom,
                length: LengthUnit::Inch,
            },
        };
        kept.keep(&place);
        assert_eq!(Settings::read(&place), kept);
        std::fs::write(&place, "{\"zoom\": 99, \"colours\": \"dark\"}").unwrap();
        assert!((Settings::read(&place).zoom - ZOOM[1]).abs() < 1e-6);
        std::fs::write(&place, "{").unwrap();
        assert_eq!(Settings::read(&place), Settings::default());
    }
}
