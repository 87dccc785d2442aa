//! Reading: from a file or from bytes to a judged mesh in metres.
//!
//! In: a path (or a name and bytes) and, for formats that carry none, the unit. Out: [`MeshRead`].
//! The format is told by the extension and must agree with the first bytes.

use super::error::{Fault, MeshError, MeshProblem};
use super::rows::Rows;
use super::{Mesh, gltf, obj, ply, stl, threemf};
use std::io::Read;
use std::path::{Path, PathBuf};

/// A mesh file format.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeshFormat {
    /// Binary STL.
    StlBinary,
    /// ASCII STL.
    StlAscii,
    /// Wavefront OBJ.
    Obj,
    /// PLY, ASCII or binary in either byte order.
    Ply,
    /// 3MF.
    ThreeMf,
    /// glTF as JSON.
    Gltf,
    /// glTF as one binary file.
    Glb,
}

impl MeshFormat {
    /// Name as people write it.
    pub fn name(self) -> &'static str {
        match self {
            Self::StlBinary => "binary STL",
            Self::StlAscii => "ASCII STL",
            Self::Obj => "OBJ",
            Self::Ply => "PLY",
            Self::ThreeMf => "3MF",
            Self::Gltf => "glTF",
            Self::Glb => "GLB",
        }
    }

    /// True for the formats that say what their numbers mean (3MF, glTF).
    pub fn carries_unit(self) -> bool {
        matches!(self, Self::ThreeMf | Self::Gltf | Self::Glb)
    }
}

/// What reading a mesh file gave.
#[derive(Debug, Clone)]
pub struct MeshRead {
    /// The mesh, in metres.
    pub mesh: Mesh,
    /// The format that was found.
    pub format: MeshFormat,
    /// Metres per unit of the file.
    pub unit_m: f64,
}

/// Where the files that a mesh refers to may come from (glTF buffers; nothing else is opened).
#[derive(Debug, Clone, Copy)]
pub enum Beside<'a> {
    /// Nothing may be referred to.
    Nothing,
    /// Files in this folder or below.
    Folder(&'a Path),
    /// These names and contents.
    Held(&'a [(&'a str, &'a [u8])]),
}

/// Reads a mesh file.
///
/// - `path`: .stl, .obj, .ply, .3mf, .gltf or .glb
/// - `unit_m`: metres per unit; required for STL, OBJ and PLY, refused for 3MF and glTF
/// - returns the mesh in metres, in the file's own axes (glTF's are y-up by its standard and stay
///   so), one row per triangle in file order
///
/// # Errors
/// Whatever keeps the file from being a mesh, with its place and a remedy; nothing is mended except
/// what [`super::MeshHealth`] counts.
pub fn read_mesh(path: &Path, unit_m: Option<f64>) -> Result<MeshRead, MeshError> {
    let name = path.display().to_string();
    let bytes = read_file(path).map_err(|problem| Fault::from(problem).in_file(&name))?;
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    read_mesh_bytes(&name, &bytes, unit_m, Beside::Folder(folder))
}

/// Reads a mesh from bytes, as [`read_mesh`] does from a file of that name.
///
/// # Errors
/// As [`read_mesh`].
pub fn read_mesh_bytes(
    name: &str,
    bytes: &[u8],
    unit_m: Option<f64>,
    beside: Beside<'_>,
) -> Result<MeshRead, MeshError> {
    read(name, bytes, unit_m, beside).map_err(|fault| fault.in_file(name))
}

fn read(
    name: &str,
    bytes: &[u8],
    unit_m: Option<f64>,
    beside: Beside<'_>,
) -> Result<MeshRead, Fault> {
    let format = format_of(name, bytes)?;
    let mut unit_m = match (format.carries_unit(), unit_m) {
        (true, Some(_)) => {
            return Err(MeshProblem::UnitTwice {
                format: format.name(),
            }
            .into());
        }
        (true, None) => 1.0,
        (false, None) => {
            return Err(MeshProblem::UnitMissing {
                format: format.name(),
            }
            .into());
        }
        (false, Some(unit_m)) if unit_m > 0.0 && unit_m.is_finite() => unit_m,
        (false, Some(unit_m)) => return Err(MeshProblem::UnitOutOfRange { unit_m }.into()),
    };
    let mut rows = Rows::new(unit_m, bytes.len());
    match format {
        MeshFormat::StlBinary => stl::read_binary(bytes, &mut rows)?,
        MeshFormat::StlAscii => stl::read_ascii(bytes, &mut rows)?,
        MeshFormat::Obj => obj::read(bytes, &mut rows)?,
        MeshFormat::Ply => ply::read(bytes, &mut rows)?,
        MeshFormat::ThreeMf => unit_m = threemf::read(bytes, &mut rows)?,
        MeshFormat::Gltf => gltf::read_json(bytes, beside, &mut rows)?,
        MeshFormat::Glb => gltf::read_binary(bytes, beside, &mut rows)?,
    }
    let mesh = rows.finish(|| format!("{} bytes of {}", bytes.len(), format.name()))?;
    Ok(MeshRead {
        mesh,
        format,
        unit_m,
    })
}

/// True for the endings of mesh files, whatever is in them.
pub fn is_named_as_mesh(path: &Path) -> bool {
    named_format(&ending(path)).is_some()
}

fn ending(path: &Path) -> String {
    path.extension()
        .map(|extension| extension.to_string_lossy().into_owned())
        .unwrap_or_default()
}

fn named_format(ending: &str) -> Option<MeshFormat> {
    Some(match ending.to_ascii_lowercase().as_str() {
        "stl" => MeshFormat::StlBinary,
        "obj" => MeshFormat::Obj,
        "ply" => MeshFormat::Ply,
        "3mf" => MeshFormat::ThreeMf,
        "gltf" => MeshFormat::Gltf,
        "glb" => MeshFormat::Glb,
        _ => return None,
    })
}

fn format_of(name: &str, bytes: &[u8]) -> Result<MeshFormat, MeshProblem> {
    let extension = ending(Path::new(name));
    let Some(named) = named_format(&extension) else {
        return Err(MeshProblem::UnknownExtension { extension });
    };
    let found = found_format(bytes);
    match (named, found) {
        (MeshFormat::StlBinary, None) => Ok(stl::format_of(bytes)),
        (_, None) => Ok(named),
        (_, Some(found)) if found == named => Ok(named),
        // A binary STL may start with any 80 bytes, those of another format included.
        (MeshFormat::StlBinary, Some(_)) if stl::length_agrees(bytes) => Ok(MeshFormat::StlBinary),
        (_, Some(found)) => Err(MeshProblem::NameAndContentDiffer {
            named: named.name(),
            holds: found.name(),
        }),
    }
}

/// The format that the first bytes prove, if they prove one (STL and OBJ have no mark of their own).
fn found_format(bytes: &[u8]) -> Option<MeshFormat> {
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"PK\x05\x06") {
        Some(MeshFormat::ThreeMf)
    } else if bytes.starts_with(b"glTF") {
        Some(MeshFormat::Glb)
    } else if bytes.starts_with(b"ply\n") || bytes.starts_with(b"ply\r") {
        Some(MeshFormat::Ply)
    } else if bytes.trim_ascii_start().starts_with(b"{") {
        Some(MeshFormat::Gltf)
    } else {
        None
    }
}

fn read_file(path: &Path) -> Result<Vec<u8>, MeshProblem> {
    // Asked before opening: a pipe without a writer would never open.
    if !std::fs::metadata(path)?.is_file() {
        return Err(MeshProblem::NotAFile);
    }
    Ok(std::fs::read(path)?)
}

/// Fetches a file that the mesh refers to; at most `limit` bytes.
pub(super) fn companion(
    beside: Beside<'_>,
    reference: &str,
    limit: u64,
) -> Result<Vec<u8>, MeshProblem> {
    if climbs_out(reference) {
        return Err(MeshProblem::ClimbsOut {
            path: super::error::shortened(reference.as_bytes()),
        });
    }
    let missing = |detail: String| MeshProblem::Companion {
        path: super::error::shortened(reference.as_bytes()),
        detail,
    };
    match beside {
        Beside::Nothing => Err(missing("there is no folder to look in".to_owned())),
        Beside::Held(held) => held
            .iter()
            .find(|(name, _)| *name == reference)
            .map(|(_, bytes)| bytes.to_vec())
            .ok_or_else(|| missing("there is no file of that name".to_owned())),
        Beside::Folder(folder) => {
            let path = within(folder, reference)?;
            let file = std::fs::File::open(path).map_err(|error| missing(error.to_string()))?;
            let mut bytes = Vec::new();
            file.take(limit)
                .read_to_end(&mut bytes)
                .map_err(|error| missing(error.to_string()))?;
            Ok(bytes)
        }
    }
}

/// True if a reference is absolute, goes up, or could be either on some system.
fn climbs_out(reference: &str) -> bool {
    reference.is_empty()
        || reference.contains([':', '\\', '\0'])
        || reference.starts_with('/')
        || reference.split('/').any(|piece| piece == "..")
}

/// The file behind a reference, after all links were followed.
fn within(folder: &Path, reference: &str) -> Result<PathBuf, MeshProblem> {
    let missing = |detail: String| MeshProblem::Companion {
        path: super::error::shortened(reference.as_bytes()),
        detail,
    };
    let folder = folder
        .canonicalize()
        .map_err(|error| missing(error.to_string()))?;
    let path = folder
        .join(reference)
        .canonicalize()
        .map_err(|error| missing(error.to_string()))?;
    if !path.starts_with(&folder) {
        return Err(MeshProblem::ClimbsOut {
            path: super::error::shortened(reference.as_bytes()),
        });
    }
    if !path.metadata().is_ok_and(|facts| facts.is_file()) {
        return Err(missing("it is not a regular file".to_owned()));
    }
    Ok(path)
}
