//! What a lenient reader of SVG would drop in silence.
//!
//! In: the document. Out: the first element or attribute that cannot be followed, with its line and column.

use super::super::error::{ArtworkPlace, ArtworkProblem, Fault};
use std::str::FromStr;

/// Deepest nesting of elements: what reads them goes down one by one.
const DEEPEST: usize = 200;

/// Most elements.
const MOST_ELEMENTS: usize = 200_000;

const OUTLINES: &str = "turn it into paths in the drawing program";

/// Refuses what has no outline here.
pub(super) fn all(document: &roxmltree::Document) -> Result<(), Fault> {
    let mut ids = std::collections::BTreeSet::new();
    let mut uses = 0_usize;
    for (count, node) in document
        .root()
        .descendants()
        .filter(roxmltree::Node::is_element)
        .enumerate()
    {
        let name = node.tag_name().name();
        if count >= MOST_ELEMENTS {
            return Err(at(
                &node,
                element(name, "is one of too many elements", "simplify the drawing"),
            ));
        }
        if node.ancestors().take(DEEPEST + 1).count() > DEEPEST {
            return Err(at(
                &node,
                element(name, "is nested too deeply", "take groups apart"),
            ));
        }
        if let Some(id) = node.attribute("id") {
            ids.insert(id);
        }
        let refused = match name {
            "text" | "tref" | "textPath" => Some((
                "is text, whose shape depends on the fonts of a machine",
                OUTLINES,
            )),
            "image" | "foreignObject" => {
                Some(("is no outline", "trace it into paths, or leave it out"))
            }
            "clipPath" | "mask" => Some((
                "hides parts of shapes",
                "cut the shapes themselves in the drawing program",
            )),
            "filter" => Some(("changes shapes by pixels", "draw the shape itself")),
            "marker" => Some(("adds shapes to lines", OUTLINES)),
            "pattern" => Some(("fills by other shapes", OUTLINES)),
            "switch" | "script" | "animate" | "animateTransform" | "animateMotion" | "set" => {
                Some(("depends on who looks", "save what is meant as plain SVG"))
            }
            "use" => {
                uses += 1;
                (uses > 20_000).then_some(("is one of too many copies", "simplify the drawing"))
            }
            _ => None,
        };
        if let Some((why, instead)) = refused {
            return Err(at(&node, element(name, why, instead)));
        }
        attributes(&node)?;
    }
    references(document, &ids)
}

fn element(name: &str, why: &'static str, instead: &'static str) -> ArtworkProblem {
    ArtworkProblem::Element {
        element: name.to_owned(),
        why,
        instead,
    }
}

/// Attributes that must be readable to the end.
fn attributes(node: &roxmltree::Node) -> Result<(), Fault> {
    let sound = |attribute: &'static str, why: Option<String>| match why {
        None => Ok(()),
        Some(why) => Err(at(
            node,
            ArtworkProblem::Attribute {
                attribute,
                element: node.tag_name().name().to_owned(),
                why,
            },
        )),
    };
    if let Some(d) = node.attribute("d") {
        let broken = svgtypes::PathParser::from(d).find_map(Result::err);
        sound("d", broken.map(|error| error.to_string()))?;
        let huge = svgtypes::PathParser::from(d)
            .flatten()
            .any(|s| !is_tame(&s));
        sound("d", huge.then(|| "a number beyond 1e30".to_owned()))?;
    }
    if let Some(transform) = node.attribute("transform") {
        let broken = svgtypes::Transform::from_str(transform).err();
        sound("transform", broken.map(|error| error.to_string()))?;
    }
    if let Some(points) = node.attribute("points") {
        let mut numbers = svgtypes::NumberListParser::from(points);
        let broken = numbers.find_map(Result::err);
        sound("points", broken.map(|error| error.to_string()))?;
        let count = svgtypes::NumberListParser::from(points).count();
        let odd = count % 2 == 1;
        sound(
            "points",
            odd.then(|| format!("{count} numbers, which make no pairs")),
        )?;
    }
    for attribute in ["x", "y", "width", "height", "r", "rx", "ry", "cx", "cy"] {
        let Some(text) = node.attribute(attribute) else {
            continue;
        };
        if text.trim() == "auto" {
            continue;
        }
        let broken = svgtypes::Length::from_str(text.trim()).err();
        sound(attribute, broken.map(|error| error.to_string()))?;
    }
    if let Some(view) = node.attribute("viewBox") {
        let broken = svgtypes::ViewBox::from_str(view).err();
        sound("viewBox", broken.map(|error| error.to_string()))?;
    }
    Ok(())
}

/// Whether all numbers of a segment are of a size that a drawing can have.
fn is_tame(segment: &svgtypes::PathSegment) -> bool {
    use svgtypes::PathSegment as S;
    let numbers = match *segment {
        S::MoveTo { x, y, .. } | S::LineTo { x, y, .. } | S::SmoothQuadratic { x, y, .. } => {
            vec![x, y]
        }
        S::HorizontalLineTo { x, .. } => vec![x],
        S::VerticalLineTo { y, .. } => vec![y],
        S::CurveTo {
            x1,
            y1,
            x2,
            y2,
            x,
            y,
            ..
        } => vec![x1, y1, x2, y2, x, y],
        S::SmoothCurveTo { x2, y2, x, y, .. } => vec![x2, y2, x, y],
        S::Quadratic { x1, y1, x, y, .. } => vec![x1, y1, x, y],
        S::EllipticalArc {
            rx,
            ry,
            x_axis_rotation,
            x,
            y,
            ..
        } => vec![rx, ry, x_axis_rotation, x, y],
        S::ClosePath { .. } => Vec::new(),
    };
    numbers.into_iter().all(|x| x.abs() < 1e30)
}

/// Copies must be of something that is there, and not of themselves.
fn references(
    document: &roxmltree::Document,
    ids: &std::collections::BTreeSet<&str>,
) -> Result<(), Fault> {
    for node in document
        .root()
        .descendants()
        .filter(|n| n.tag_name().name() == "use")
    {
        let href = node
            .attributes()
            .find(|attribute| attribute.name() == "href")
            .map(|attribute| attribute.value());
        let refuse = |why, instead| Err(at(&node, element("use", why, instead)));
        match href.map(|href| href.strip_prefix('#')) {
            Some(Some(id)) if ids.contains(id) => {}
            Some(Some(_)) => return refuse("copies something that is not there", "draw it again"),
            Some(None) => {
                return refuse(
                    "copies from another file, and none is read",
                    "put the shape itself here",
                );
            }
            None => return refuse("copies nothing", "leave it out"),
        }
    }
    Ok(())
}

fn at(node: &roxmltree::Node, problem: ArtworkProblem) -> Fault {
    let at = node.document().text_pos_at(node.range().start);
    Fault {
        place: ArtworkPlace::Column(at.row.into(), at.col.into()),
        problem,
    }
}
