//! The pod of the benches: a closed rippled sphere that turns above an off-axis ring source.

use std::io::Write;
use std::path::Path;

/// A corner of the pod, mm: radius 20 mm with ripples round it and along it.
#[expect(clippy::cast_possible_truncation, reason = "binary STL holds f32")]
fn corner(ring: u32, side: u32, (rings, sides): (u32, u32)) -> [f32; 3] {
    let theta = std::f64::consts::PI * f64::from(ring) / f64::from(rings);
    let phi = std::f64::consts::TAU * f64::from(side % sides) / f64::from(sides);
    let ripple = 1.0 + 0.12 * (9.0 * phi).cos() * theta.sin().powi(2) + 0.05 * (14.0 * theta).cos();
    let r = 20.0 * ripple;
    let s = if ring == 0 || ring == rings {
        0.0
    } else {
        theta.sin()
    };
    [r * s * phi.cos(), r * s * phi.sin(), r * theta.cos()].map(|x| x as f32)
}

/// Writes a closed pod of 2·sides·(rings − 1) triangles as binary STL.
pub fn draw(path: &Path, (rings, sides): (u32, u32)) -> std::io::Result<u32> {
    let at = |ring, side| corner(ring, side, (rings, sides));
    let mut file = std::io::BufWriter::new(std::fs::File::create(path)?);
    let count = 2 * sides * (rings - 1);
    file.write_all(&[0; 80])?;
    file.write_all(&count.to_le_bytes())?;
    let mut write = |triangle: [[f32; 3]; 3]| -> std::io::Result<()> {
        file.write_all(&[0; 12])?;
        for value in triangle.as_flattened() {
            file.write_all(&value.to_le_bytes())?;
        }
        file.write_all(&[0; 2])
    };
    for ring in 0..rings {
        for side in 0..sides {
            let (a, b) = (at(ring, side), at(ring + 1, side));
            let (c, d) = (at(ring + 1, side + 1), at(ring, side + 1));
            if ring + 1 < rings {
                write([a, b, c])?;
            }
            if ring > 0 {
                write([a, c, d])?;
            }
        }
    }
    file.flush()?;
    Ok(count)
}

/// Its plan, at "pod.stl".
pub const PLAN: &str = r#"
title = "Pod over an off-axis ring"
[chamber]
shape = "cylinder"
diameter = "400 mm"
height = "400 mm"
[[source]]
name = "head"
kind = "sputter"
metal = "silver"
at = ["30 mm", "20 mm", "60 mm"]
facing = [0, 0, 1]
footprint = { shape = "ring", inner_radius = "12 mm", outer_radius = "21 mm" }
output = { charge = "300 mg" }
[[part]]
name = "pod"
mesh = "pod.stl"
unit = "mm"
at = ["0 mm", "0 mm", "170 mm"]
turn = ["0 deg", "60 deg", "0 deg"]
[[rotation]]
axis = [1, 0, 0]
through = ["0 mm", "0 mm", "170 mm"]
speed = "6 rpm"
[[step]]
lasts = "10 min"
[film]
want = "100 nm"
"#;
