//! A sheet of pixels: lines, areas and letters on it, and the PNG file it becomes.
//!
//! In: what the other files of `views` draw. Out: PNG bytes. Colours are sRGB; blending happens in
//! sRGB too, which is what makes thin dark lines on white look even.

use embedded_graphics::mono_font::MonoTextStyle;
use embedded_graphics::pixelcolor::Rgb888;
use embedded_graphics::prelude::*;
use embedded_graphics::text::{Baseline, Text};
use std::convert::Infallible;

pub use embedded_graphics::mono_font::MonoFont;
pub use embedded_graphics::mono_font::iso_8859_1 as fonts;

/// A place on the sheet in pixels, x to the right, y down.
pub type Spot = (f64, f64);

/// Colour, sRGB.
pub type Ink = [u8; 3];

/// Nearly black, for text and outlines.
pub const INK: Ink = [28, 27, 31];
/// For what is secondary.
pub const FAINT: Ink = [120, 118, 122];
/// The sheet.
pub const PAPER: Ink = [255, 255, 255];

/// A rectangle on the sheet, pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Left edge.
    pub left: f64,
    /// Upper edge.
    pub top: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl Frame {
    /// Right edge.
    pub fn right(&self) -> f64 {
        self.left + self.width
    }
    /// Lower edge.
    pub fn bottom(&self) -> f64 {
        self.top + self.height
    }
    /// Middle.
    pub fn middle(&self) -> Spot {
        (self.left + 0.5 * self.width, self.top + 0.5 * self.height)
    }
}

/// Where a text hangs on its spot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hang {
    /// The spot is the middle of its left edge.
    Left,
    /// The spot is its middle.
    Middle,
    /// The spot is the middle of its right edge.
    Right,
}

/// A sheet of pixels.
#[derive(Debug, Clone)]
pub struct Canvas {
    width: u32,
    height: u32,
    pixels: Vec<Ink>,
}

impl Canvas {
    /// A white sheet.
    pub fn new(width: u32, height: u32) -> Self {
        let count = width as usize * height as usize;
        Self {
            width,
            height,
            pixels: vec![PAPER; count],
        }
    }

    /// The rows from above, each a slice of pixels.
    pub fn rows_mut(&mut self) -> impl Iterator<Item = &mut [Ink]> {
        self.pixels.chunks_mut(self.width as usize)
    }

    /// Lays a colour over a pixel; outside the sheet nothing happens.
    pub fn blend(&mut self, x: i32, y: i32, ink: Ink, cover: f64) {
        let (Ok(x), Ok(y)) = (u32::try_from(x), u32::try_from(y)) else {
            return;
        };
        if x < self.width && y < self.height {
            let pixel = &mut self.pixels[y as usize * self.width as usize + x as usize];
            *pixel = mix(*pixel, ink, cover);
        }
    }

    /// Fills a rectangle.
    pub fn fill(&mut self, frame: Frame, ink: Ink) {
        for y in floor(frame.top)..floor(frame.bottom()) {
            for x in floor(frame.left)..floor(frame.right()) {
                self.blend(x, y, ink, 1.0);
            }
        }
    }

    /// Outlines a rectangle with a line of one pixel.
    pub fn outline(&mut self, frame: Frame, ink: Ink) {
        let (l, t) = (frame.left + 0.5, frame.top + 0.5);
        let (r, b) = (frame.right() - 0.5, frame.bottom() - 0.5);
        for (from, to) in [
            ((l, t), (r, t)),
            ((r, t), (r, b)),
            ((r, b), (l, b)),
            ((l, b), (l, t)),
        ] {
            self.line(from, to, 1.0, ink);
        }
    }

    /// Draws a straight line of a width, smooth at its edges.
    pub fn line(&mut self, from: Spot, to: Spot, width: f64, ink: Ink) {
        let half = 0.5 * width;
        let reach = half + 1.0;
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length_squared = (dx * dx + dy * dy).max(1e-12);
        for y in floor(from.1.min(to.1) - reach)..=floor(from.1.max(to.1) + reach) {
            for x in floor(from.0.min(to.0) - reach)..=floor(from.0.max(to.0) + reach) {
                let (px, py) = (f64::from(x) + 0.5 - from.0, f64::from(y) + 0.5 - from.1);
                let along = ((px * dx + py * dy) / length_squared).clamp(0.0, 1.0);
                let distance = (px - along * dx).hypot(py - along * dy);
                self.blend(x, y, ink, (half + 0.5 - distance).clamp(0.0, 1.0));
            }
        }
    }

    /// Draws a line of strokes and gaps (pixels, stroke first), repeated.
    pub fn broken_line(&mut self, from: Spot, to: Spot, strokes: &[f64], ink: Ink) {
        let length = (to.0 - from.0).hypot(to.1 - from.1);
        let at = |s: f64| {
            (
                from.0 + (to.0 - from.0) * s / length,
                from.1 + (to.1 - from.1) * s / length,
            )
        };
        let mut start = 0.0;
        for (number, stroke) in strokes.iter().cycle().enumerate() {
            if start >= length || *stroke <= 0.0 {
                break;
            }
            let end = (start + stroke).min(length);
            if number % 2 == 0 {
                self.line(at(start), at(end), 1.2, ink);
            }
            start += stroke;
        }
    }

    /// Fills a triangle, smooth at its edges by 4×4 samples.
    pub fn triangle(&mut self, corners: [Spot; 3], ink: Ink) {
        let xs = corners.map(|c| c.0);
        let ys = corners.map(|c| c.1);
        let least = |v: [f64; 3]| floor(v.iter().copied().fold(f64::INFINITY, f64::min));
        let most = |v: [f64; 3]| floor(v.iter().copied().fold(f64::NEG_INFINITY, f64::max));
        for y in least(ys)..=most(ys) {
            for x in least(xs)..=most(xs) {
                let inside = (0..16_i32).filter(|k| {
                    let (i, j) = (f64::from(k % 4), f64::from(k / 4));
                    let spot = (
                        f64::from(x) + 0.125 + 0.25 * i,
                        f64::from(y) + 0.125 + 0.25 * j,
                    );
                    in_triangle(spot, corners)
                });
                let cover = inside.count() as f64 / 16.0;
                self.blend(x, y, ink, cover);
            }
        }
    }

    /// Writes one line of text.
    pub fn text(&mut self, at: Spot, hang: Hang, text: &str, (font, ink): (&MonoFont<'_>, Ink)) {
        let width = text_width(text, font);
        let left = match hang {
            Hang::Left => at.0,
            Hang::Middle => at.0 - 0.5 * width,
            Hang::Right => at.0 - width,
        };
        let style = MonoTextStyle::new(font, Rgb888::new(ink[0], ink[1], ink[2]));
        let point = Point::new(floor(left), floor(at.1));
        let Ok(_) = Text::with_baseline(text, point, style, Baseline::Middle).draw(self);
    }

    /// Writes one line of text on a patch of paper, for places where something may be drawn already.
    pub fn text_on_paper(&mut self, at: Spot, hang: Hang, text: &str, style: (&MonoFont<'_>, Ink)) {
        let (width, height) = (
            text_width(text, style.0),
            f64::from(style.0.character_size.height),
        );
        let left = match hang {
            Hang::Left => at.0,
            Hang::Middle => at.0 - 0.5 * width,
            Hang::Right => at.0 - width,
        };
        for y in floor(at.1 - 0.5 * height)..floor(at.1 + 0.5 * height) {
            for x in floor(left - 3.0)..floor(left + width + 3.0) {
                self.blend(x, y, PAPER, 0.85);
            }
        }
        self.text(at, hang, text, style);
    }

    /// The sheet as a PNG file (8 bit RGB).
    pub fn png(&self) -> Vec<u8> {
        let bytes: Vec<u8> = self.pixels.iter().flatten().copied().collect();
        let mut file = Vec::new();
        let mut encoder = png::Encoder::new(&mut file, self.width, self.height);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        let written = encoder
            .write_header()
            .and_then(|mut writer| writer.write_image_data(&bytes));
        debug_assert!(
            written.is_ok(),
            "writing a PNG of the right size to memory cannot fail"
        );
        file
    }
}

impl OriginDimensions for Canvas {
    fn size(&self) -> Size {
        Size::new(self.width, self.height)
    }
}

impl DrawTarget for Canvas {
    type Color = Rgb888;
    type Error = Infallible;

    fn draw_iter<I>(&mut self, pixels: I) -> Result<(), Infallible>
    where
        I: IntoIterator<Item = Pixel<Rgb888>>,
    {
        for Pixel(point, colour) in pixels {
            self.blend(point.x, point.y, [colour.r(), colour.g(), colour.b()], 1.0);
        }
        Ok(())
    }
}

/// Width of one line of text, pixels.
pub fn text_width(text: &str, font: &MonoFont<'_>) -> f64 {
    let letters = u32::try_from(text.chars().count()).unwrap_or(u32::MAX);
    f64::from(letters) * f64::from(font.character_size.width + font.character_spacing)
}

/// A colour between two: `cover` 0 gives `under`, 1 gives `over`.
pub fn mix(under: Ink, over: Ink, cover: f64) -> Ink {
    let channel = |k: usize| {
        let (u, o) = (f64::from(under[k]), f64::from(over[k]));
        byte(u + (o - u) * cover.clamp(0.0, 1.0))
    };
    [channel(0), channel(1), channel(2)]
}

/// A colour made darker by a factor 0..=1.
pub fn dim(ink: Ink, factor: f64) -> Ink {
    ink.map(|channel| byte(f64::from(channel) * factor))
}

/// A channel rounded to a byte.
pub fn byte(channel: f64) -> u8 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 0..=255 just before"
    )]
    let byte = (channel + 0.5).clamp(0.0, 255.0) as u8;
    byte
}

/// The pixel that holds a coordinate; far outside it saturates.
pub fn floor(coordinate: f64) -> i32 {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "clamped well inside i32 just before"
    )]
    let pixel = coordinate.floor().clamp(-1e6, 1e6) as i32;
    pixel
}

fn in_triangle(p: Spot, [a, b, c]: [Spot; 3]) -> bool {
    let side = |a: Spot, b: Spot| (b.0 - a.0) * (p.1 - a.1) - (b.1 - a.1) * (p.0 - a.0);
    let sides = [side(a, b), side(b, c), side(c, a)];
    sides.iter().all(|s| *s >= 0.0) || sides.iter().all(|s| *s <= 0.0)
}
