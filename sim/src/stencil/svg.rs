//! SVG: filled paths, with transforms and both fill rules, in metres.
//!
//! In: bytes and the size of a px, where the file has no physical size. Out: [`Artwork`]. What would be lost in
//! silence (text, pictures, clips, broken attributes) is refused with its line.

mod check;
mod page;

use super::artwork::{Artwork, CLOSED_M, Collected};
use super::error::{ArtworkPlace, ArtworkProblem, Fault};
use super::flatten::Pen;
use super::outline::Fill;
use glam::DVec2;
use page::Page;
use usvg::tiny_skia_path::{PathSegment, Point, Transform};

const FILL_THEM: &str = "fill the shapes that are to be cut, or turn strokes into paths";

/// Where XML is broken; a text that stops early is so at its end.
fn place_of(error: &roxmltree::Error, text: &str) -> ArtworkPlace {
    if matches!(error, roxmltree::Error::UnexpectedEndOfStream) {
        let last = text.lines().last().unwrap_or_default();
        let count = |n: usize| u64::try_from(n).unwrap_or(u64::MAX);
        let row = count(text.lines().count()).max(1);
        return ArtworkPlace::Column(row, count(last.chars().count()) + 1);
    }
    let at = error.pos();
    ArtworkPlace::Column(at.row.into(), at.col.into())
}

pub(super) fn read(bytes: &[u8], unit_m: Option<f64>) -> Result<Artwork, Fault> {
    if bytes.starts_with(&[0x1f, 0x8b]) {
        let why = "it is compressed, as .svgz is";
        return Err(ArtworkProblem::NotText { why }.into());
    }
    let text = std::str::from_utf8(bytes).map_err(|_| ArtworkProblem::NotText {
        why: "bytes that are no characters",
    })?;
    // entities may multiply: none are needed, and none are taken
    let document = roxmltree::Document::parse(text).map_err(|error| Fault {
        place: place_of(&error, text),
        problem: ArtworkProblem::Xml {
            why: error.to_string(),
        },
    })?;
    let root = document.root_element();
    if root.tag_name().name() != "svg" {
        let root = root.tag_name().name().to_owned();
        return Err(ArtworkProblem::NotSvg { root }.into());
    }
    check::all(&document)?;
    let page = Page::of(&root, unit_m)?;
    let options = usvg::Options {
        dpi: 96.0,
        image_href_resolver: usvg::ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None), // nothing is read from outside
        },
        ..usvg::Options::default()
    };
    let tree = usvg::Tree::from_xmltree(&document, &options).map_err(|error| match error {
        usvg::Error::InvalidSize => page.none(),
        other => ArtworkProblem::Xml {
            why: other.to_string(),
        },
    })?;
    let size_px = DVec2::new(tree.size().width().into(), tree.size().height().into());
    let mut drawing = Drawing {
        collected: Collected::default(),
        pen: Pen::default(),
        half_px: 0.5 * size_px,
        px_m: page.px_m,
        strokes: 0,
        hidden: 0,
        opened: (0, 0.0),
        white: 0,
    };
    drawing.group(tree.root())?;
    drawing.finish(size_px * page.px_m)
}

struct Drawing {
    collected: Collected,
    pen: Pen,
    half_px: DVec2,
    px_m: f64,
    strokes: usize,
    hidden: usize,
    /// Contours that did not close, and the widest gap, m.
    opened: (usize, f64),
    white: usize,
}

impl Drawing {
    fn group(&mut self, group: &usvg::Group) -> Result<(), Fault> {
        for node in group.children() {
            match node {
                usvg::Node::Group(inner) => self.group(inner)?,
                usvg::Node::Path(path) => self.path(path)?,
                usvg::Node::Image(_) | usvg::Node::Text(_) => {} // refused by `check`
            }
        }
        Ok(())
    }

    fn path(&mut self, path: &usvg::Path) -> Result<(), Fault> {
        if !path.is_visible() {
            self.hidden += 1;
            return Ok(());
        }
        if path.stroke().is_some() {
            self.strokes += 1;
        }
        let Some(fill) = path.fill() else {
            return Ok(());
        };
        if let usvg::Paint::Color(colour) = fill.paint() {
            self.white += usize::from([colour.red, colour.green, colour.blue] == [255; 3]);
        }
        let rule = match fill.rule() {
            usvg::FillRule::NonZero => Fill::NonZero,
            usvg::FillRule::EvenOdd => Fill::EvenOdd,
        };
        let contours = self.contours(path)?;
        self.collected.fill(&contours, rule)
    }

    fn contours(&mut self, path: &usvg::Path) -> Result<Vec<Vec<DVec2>>, Fault> {
        let transform = path.abs_transform();
        let (half_px, px_m) = (self.half_px, self.px_m);
        let at = |p: Point| in_artwork(transform, p, half_px) * px_m;
        let mut contours = Vec::new();
        for segment in path.data().segments() {
            match segment {
                PathSegment::MoveTo(p) => {
                    self.end(&mut contours);
                    self.pen.line(at(p))?;
                }
                PathSegment::LineTo(p) => self.pen.line(at(p))?,
                PathSegment::QuadTo(b, c) => self.pen.quadratic(at(b), at(c))?,
                PathSegment::CubicTo(b, c, d) => self.pen.cubic(at(b), at(c), at(d))?,
                PathSegment::Close => {
                    let first = self.pen.corners.first().copied();
                    contours.extend(Some(self.pen.lift()).filter(|c| c.len() > 1));
                    if let Some(first) = first {
                        self.pen.line(first)?; // what follows a close starts where it closed
                    }
                }
            }
        }
        self.end(&mut contours);
        Ok(contours)
    }

    /// Ends a contour that was not closed: filling closes it by a straight line.
    fn end(&mut self, contours: &mut Vec<Vec<DVec2>>) {
        let corners = self.pen.lift();
        let (Some(first), Some(last)) = (corners.first(), corners.last()) else {
            return;
        };
        if corners.len() < 2 {
            return;
        }
        let gap_m = first.distance(*last);
        if gap_m > CLOSED_M {
            self.opened = (self.opened.0 + 1, self.opened.1.max(gap_m));
        }
        contours.push(corners);
    }

    fn finish(mut self, page_m: DVec2) -> Result<Artwork, Fault> {
        let mut findings = Vec::new();
        let mut tell = |count: usize, what: &str| {
            if count > 0 {
                findings.push(format!("{count} {what}"));
            }
        };
        tell(self.hidden, "paths are hidden and are left out");
        tell(
            self.strokes,
            "paths have strokes; a stroke is no shape, only fills are cut (turn strokes into paths if they are meant)",
        );
        tell(
            self.white,
            "shapes are filled with white; every filled shape counts, whatever its colour (cut holes as paths, not as white shapes)",
        );
        tell(
            self.opened.0,
            &format!(
                "contours are open and were closed by straight lines, the longest {:.3} mm",
                self.opened.1 * 1e3
            ),
        );
        self.collected.findings.splice(0..0, findings);
        self.collected.finish(Some(page_m), FILL_THEM)
    }
}

/// A point of a path in px, origin in the middle of the page, y up; in f64, since the file's own numbers are f32.
fn in_artwork(t: Transform, p: Point, half_px: DVec2) -> DVec2 {
    let [sx, kx, ky, sy, tx, ty] = [t.sx, t.kx, t.ky, t.sy, t.tx, t.ty].map(f64::from);
    let [x, y] = [p.x, p.y].map(f64::from);
    let page = DVec2::new(sx * x + kx * y + tx, ky * x + sy * y + ty);
    DVec2::new(page.x - half_px.x, half_px.y - page.y)
}
