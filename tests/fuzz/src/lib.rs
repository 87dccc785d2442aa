//! What must hold of anything that a mesh reader accepts or refuses, and helpers of the targets.

use evenfall_sim::mesh::{Mesh, MeshError, MeshRead};
use std::path::PathBuf;

/// Panics if a mesh that was accepted contradicts itself, or an error says nothing.
pub fn is_sound(read: Result<MeshRead, MeshError>) {
    match read {
        Ok(read) => mesh_is_sound(&read.mesh),
        Err(error) => assert!(error.to_string().contains("; "), "{error} says no remedy"),
    }
}

fn mesh_is_sound(mesh: &Mesh) {
    let rows = mesh.triangles.len();
    assert!(rows > 0);
    assert_eq!(mesh.health.triangles, rows);
    for flags in [&mesh.needle, &mesh.buried, &mesh.sealed] {
        assert_eq!(flags.len(), rows);
    }
    assert_eq!(mesh.shell_of.len(), rows);
    assert!(mesh.vertices.iter().all(|corner| corner.is_finite()));
    for row in 0..rows {
        assert!(mesh.area_m2(row).is_finite());
        assert!(mesh.centroid(row).is_finite());
        assert_eq!(mesh.needle[row], mesh.shell_of[row] == u32::MAX);
        assert!(mesh.needle[row] || (mesh.shell_of[row] as usize) < mesh.shells.len());
    }
    let in_shells: usize = mesh
        .shells
        .iter()
        .map(|shell| shell.triangles as usize)
        .sum();
    assert_eq!(in_shells + mesh.health.needles, rows);
    for (name, range) in &mesh.objects {
        assert!(!name.is_empty() && range.start < range.end && range.end <= rows);
    }
}

/// Writes a file into a folder of this process, for readers that want a path.
///
/// # Panics
/// If it cannot be written.
pub fn on_disk(name: &str, bytes: &[u8]) -> PathBuf {
    let folder = std::env::temp_dir().join(format!("evenfall-fuzz-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder for temporary files");
    let path = folder.join(name);
    std::fs::write(&path, bytes).expect("a temporary file");
    path
}

/// A zip archive with one member that is stored as it is.
pub fn stored(name: &str, content: &[u8]) -> Vec<u8> {
    let size = u32::try_from(content.len())
        .unwrap_or(u32::MAX)
        .to_le_bytes();
    let name_size = u16::try_from(name.len()).unwrap_or(u16::MAX).to_le_bytes();
    let mut common = vec![20, 0, 0, 0, 0, 0, 0, 0, 0, 0];
    common.extend(crc32(content).to_le_bytes());
    common.extend([size, size].concat());
    common.extend(name_size);
    common.extend([0, 0]);
    let mut archive = [b"PK\x03\x04", common.as_slice(), name.as_bytes(), content].concat();
    let directory = u32::try_from(archive.len())
        .unwrap_or(u32::MAX)
        .to_le_bytes();
    let entry = [
        b"PK\x01\x02",
        &[20, 0][..],
        &common,
        &[0; 14],
        name.as_bytes(),
    ]
    .concat();
    archive.extend(&entry);
    archive.extend(b"PK\x05\x06\0\0\0\0\x01\0\x01\0");
    archive.extend(u32::try_from(entry.len()).unwrap_or(u32::MAX).to_le_bytes());
    archive.extend(directory);
    archive.extend([0, 0]);
    archive
}

/// The check sum of zip: CRC-32, polynomial 0x04C11DB7, bits reflected (ISO 3309).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0, |sum: u32, byte| {
        (0..8).fold(sum ^ u32::from(*byte), |sum, _| {
            if sum & 1 == 1 {
                sum >> 1 ^ 0xEDB8_8320
            } else {
                sum >> 1
            }
        })
    })
}
