//! Draws the instrument dial in `models/`: its glass and the artwork of its stencil.
//!
//! `cargo run --release -p evenfall-sim --example draw_dial -- models` writes `dial.stl` and `dial.svg`. Lengths are in
//! mm here, since the files are.

use glam::{DVec2, DVec3};
use std::f64::consts::TAU;
use std::fmt::Write as _;
use std::io;
use std::path::PathBuf;

/// Glass: diameter and thickness.
const GLASS: [f64; 2] = [50.0, 2.0];

/// Where the scale begins and how far it runs, degrees clockwise from 12 o'clock.
const SWEEP: [f64; 2] = [-135.0, 270.0];

/// Segments of a numeral: middle and whether it lies flat; units of half its width, of half its height.
const SEGMENTS: [([f64; 2], bool); 7] = [
    ([0.0, 1.0], true),
    ([1.0, 0.5], false),
    ([1.0, -0.5], false),
    ([0.0, -1.0], true),
    ([-1.0, -0.5], false),
    ([-1.0, 0.5], false),
    ([0.0, 0.0], true),
];

/// Which segments make a numeral, from 0 to 9.
const NUMERALS: [&[usize]; 10] = [
    &[0, 1, 2, 3, 4, 5],
    &[1, 2],
    &[0, 1, 6, 4, 3],
    &[0, 1, 6, 2, 3],
    &[5, 6, 1, 2],
    &[0, 5, 6, 2, 3],
    &[0, 5, 4, 3, 2, 6],
    &[0, 1, 2],
    &[0, 1, 2, 3, 4, 5, 6],
    &[6, 5, 0, 1, 2, 3],
];

fn main() -> io::Result<()> {
    let folder = PathBuf::from(
        std::env::args()
            .nth(1)
            .unwrap_or_else(|| "models".to_owned()),
    );
    let mut stl = vec![0_u8; 80];
    stl[..21].copy_from_slice(b"dial glass disc, mm  ");
    let glass = glass();
    stl.extend(
        u32::try_from(glass.len())
            .map_err(io::Error::other)?
            .to_le_bytes(),
    );
    for corners in glass {
        stl.extend([0; 12]); // the normal is left to the reader
        for corner in corners {
            stl.extend(
                corner
                    .as_vec3()
                    .to_array()
                    .iter()
                    .flat_map(|x| x.to_le_bytes()),
            );
        }
        stl.extend([0; 2]);
    }
    std::fs::write(folder.join("dial.stl"), stl)?;
    std::fs::write(folder.join("dial.svg"), artwork())
}

/// A disc that stands on z = 0; its faces in rings, so that places on it can be named.
fn glass() -> Vec<[DVec3; 3]> {
    const AROUND: u32 = 96;
    let radii = [1.3, 4.0, 8.0, 12.0, 16.0, 20.0, 0.5 * GLASS[0]];
    let at = |radius: f64, i: u32, z: f64| {
        let angle = TAU * f64::from(i % AROUND) / f64::from(AROUND);
        DVec3::new(radius * angle.cos(), radius * angle.sin(), z)
    };
    let (mut rows, rim) = (Vec::new(), 0.5 * GLASS[0]);
    for i in 0..AROUND {
        let mut face = vec![[
            DVec3::Z * GLASS[1],
            at(radii[0], i, GLASS[1]),
            at(radii[0], i + 1, GLASS[1]),
        ]];
        for pair in radii.windows(2) {
            let [a, b] = [pair[0], pair[1]].map(|r| [at(r, i, GLASS[1]), at(r, i + 1, GLASS[1])]);
            face.extend([[a[0], b[0], b[1]], [a[0], b[1], a[1]]]);
        }
        let down = |p: DVec3| p - DVec3::Z * GLASS[1];
        let back = face.iter().map(|&[a, b, c]| [a, c, b].map(down));
        let [low, high] = [0.0, GLASS[1]].map(|z| [at(rim, i, z), at(rim, i + 1, z)]);
        let wall = [[low[0], low[1], high[1]], [low[0], high[1], high[0]]];
        rows.extend(back.chain(wall));
        rows.append(&mut face);
    }
    rows
}

/// Ticks, numerals 0 to 8, and a fine scale inside, on a page of the glass's size.
fn artwork() -> String {
    let mut text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}mm\" height=\"{0}mm\" viewBox=\"{1} {1} {0} {0}\">\n\
         <title>Instrument dial, stencil</title>\n",
        GLASS[0],
        -0.5 * GLASS[0]
    );
    let mut tick = |at: f64, [inner, outer]: [f64; 2], width: f64| {
        let degrees = SWEEP[0] + SWEEP[1] * at;
        let _ = writeln!(
            text,
            "<rect x=\"{:.3}\" y=\"{:.3}\" width=\"{width}\" height=\"{:.3}\" transform=\"rotate({degrees:.4})\"/>",
            -0.5 * width,
            -outer,
            outer - inner
        );
    };
    for i in 0..=40 {
        let (inner, width) = if i % 5 == 0 {
            (18.0, 0.5)
        } else {
            (20.0, 0.25)
        };
        tick(f64::from(i) / 40.0, [inner, 22.0], width);
    }
    for i in 0..=160 {
        tick(
            f64::from(i) / 160.0,
            [11.0, if i % 4 == 0 { 12.2 } else { 11.7 }],
            0.1,
        );
    }
    for (number, segments) in NUMERALS.iter().enumerate().take(9) {
        let angle = (SWEEP[0] + SWEEP[1] * number as f64 / 8.0).to_radians();
        let middle = DVec2::new(angle.sin(), -angle.cos()) * 15.4;
        let _ = writeln!(text, "<path d=\"{}\"/>", numeral(middle, segments));
    }
    // the pointer's hub, and two dots that tell the ends
    text.push_str("<circle r=\"1.5\"/>\n<circle cx=\"-4\" cy=\"7\" r=\"0.3\"/>\n<circle cx=\"4\" cy=\"7\" r=\"0.3\"/>\n</svg>\n");
    text
}

/// Bars with pointed ends that do not touch, so that nothing inside a numeral falls out of the sheet.
fn numeral(middle: DVec2, segments: &[usize]) -> String {
    let half = DVec2::new(0.9, 1.6);
    let (thick, gap) = (0.17, 0.12);
    let mut path = String::new();
    for &segment in segments {
        let ([x, y], is_flat) = SEGMENTS[segment];
        let at = middle + DVec2::new(x * half.x, -y * half.y);
        let reach = if is_flat { half.x } else { 0.5 * half.y } - gap;
        let along = if is_flat { DVec2::X } else { DVec2::Y };
        let across = along.perp() * thick;
        let corners = [
            at - along * reach,
            at - along * (reach - thick) - across,
            at + along * (reach - thick) - across,
            at + along * reach,
            at + along * (reach - thick) + across,
            at - along * (reach - thick) + across,
        ];
        for (i, corner) in corners.iter().enumerate() {
            let _ = write!(
                path,
                "{}{:.3} {:.3}",
                if i == 0 { "M" } else { "L" },
                corner.x,
                corner.y
            );
        }
        path.push('Z');
    }
    path
}
