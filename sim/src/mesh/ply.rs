//! PLY: ASCII and binary in both byte orders.
//!
//! In: bytes. Out: one row per triangle of the element `face`, polygons as `polygon` splits them.
//! Other elements and properties are passed over by the sizes that the header declares.

use super::error::{At, Fault, MeshProblem, shortened};
use super::ply_body::{Body, Kind};
use super::rows::Rows;
use super::text::Words;
use glam::DVec3;

/// Longest header that is read, bytes.
const HEADER_LIMIT: usize = 1 << 20;

/// An element of the header.
struct Element {
    name: String,
    count: u64,
    properties: Vec<Property>,
}

struct Property {
    name: String,
    kind: Kind,
    /// Kind of the count in front of a list.
    list: Option<Kind>,
}

/// Reads a PLY.
pub(super) fn read(bytes: &[u8], rows: &mut Rows) -> Result<(), Fault> {
    let (elements, mut body) = read_header(bytes)?;
    let mut corners: Option<Vec<u32>> = None;
    for element in &elements {
        match element.name.as_str() {
            "vertex" if corners.is_none() => {
                corners = Some(read_corners(element, &mut body, rows)?);
            }
            "face" => match &corners {
                Some(corners) => read_faces(element, &mut body, corners, rows)?,
                None => {
                    return Err(MeshProblem::Unsupported {
                        feature: "faces before their corners".to_owned(),
                        instead: "export the element vertex before the element face",
                    }
                    .into());
                }
            },
            "tristrips" | "vertex" if element.count > 0 => {
                return Err(MeshProblem::Unsupported {
                    feature: format!("a further element {:?}", element.name),
                    instead: "export one element vertex and one element face",
                }
                .into());
            }
            _ => skip(element, &mut body)?,
        }
    }
    body.must_be_over()
}

fn skip(element: &Element, body: &mut Body<'_>) -> Result<(), Fault> {
    if element.properties.is_empty() {
        return Ok(());
    }
    for _ in 0..element.count {
        for property in &element.properties {
            body.skip(property.kind, property.list)?;
        }
        body.end_of_item()?;
    }
    Ok(())
}

fn read_corners(
    element: &Element,
    body: &mut Body<'_>,
    rows: &mut Rows,
) -> Result<Vec<u32>, Fault> {
    let mut axis_of = Vec::new();
    for property in &element.properties {
        let axis = ["x", "y", "z"]
            .iter()
            .position(|axis| property.name == *axis);
        axis_of.push(axis.filter(|_| property.list.is_none()));
    }
    for (axis, key) in ["property x", "property y", "property z"]
        .into_iter()
        .enumerate()
    {
        if !axis_of.contains(&Some(axis)) {
            return Err(MeshProblem::Missing { key }).at_element(|| "element vertex".to_owned());
        }
    }
    let mut corners = Vec::new();
    for _ in 0..element.count {
        let place = body.place();
        let mut axes = [0.0; 3];
        for (property, axis) in element.properties.iter().zip(&axis_of) {
            match axis {
                Some(axis) => axes[*axis] = body.scalar(property.kind)?,
                None => body.skip(property.kind, property.list)?,
            }
        }
        body.end_of_item()?;
        corners.push(rows.corner(DVec3::from_array(axes)).at(|| place)?);
    }
    Ok(corners)
}

fn read_faces(
    element: &Element,
    body: &mut Body<'_>,
    corners: &[u32],
    rows: &mut Rows,
) -> Result<(), Fault> {
    let is_indices = |property: &Property| {
        matches!(property.name.as_str(), "vertex_indices" | "vertex_index")
            && property.list.is_some()
    };
    if !element.properties.iter().any(is_indices) {
        return Err(MeshProblem::Missing {
            key: "property list … vertex_indices",
        })
        .at_element(|| "element face".to_owned());
    }
    let mut face = Vec::new();
    for _ in 0..element.count {
        let place = body.place();
        for property in &element.properties {
            match property.list {
                Some(count) if is_indices(property) => {
                    face.clear();
                    for _ in 0..body.count(count, property.kind)? {
                        let index = body.integer(property.kind)?;
                        let corner = usize::try_from(index)
                            .ok()
                            .and_then(|index| corners.get(index).copied());
                        face.push(
                            corner
                                .ok_or(MeshProblem::OutOfRange {
                                    what: "corner",
                                    index,
                                    count: corners.len() as u64,
                                })
                                .at(|| place.clone())?,
                        );
                    }
                }
                _ => body.skip(property.kind, property.list)?,
            }
        }
        body.end_of_item()?;
        rows.push_polygon(&face).at(|| place)?;
    }
    Ok(())
}

fn read_header(bytes: &[u8]) -> Result<(Vec<Element>, Body<'_>), Fault> {
    let mut elements: Vec<Element> = Vec::new();
    let mut format = None;
    let mut at = 0;
    for number in 1.. {
        let line_end = bytes[at..]
            .iter()
            .take(HEADER_LIMIT)
            .position(|byte| *byte == b'\n' || *byte == b'\r');
        let Some(line_end) = line_end.filter(|end| at + end < HEADER_LIMIT) else {
            return Err(MeshProblem::Unexpected {
                expected: "\"end_header\" within a megabyte",
                found: shortened(&bytes[at..]),
            })
            .at_line(number);
        };
        let line = &bytes[at..at + line_end];
        at += line_end + 1;
        if bytes[at - 1] == b'\r' && bytes.get(at) == Some(&b'\n') {
            at += 1;
        }
        let mut words = Words::new(line);
        match words.next() {
            Some(b"ply") if number == 1 => {}
            Some(b"comment" | b"obj_info") | None => {}
            Some(b"format") => format = Some(words.next().unwrap_or_default()),
            Some(b"element") => elements.push(element(&mut words).at_line(number)?),
            Some(b"property") => {
                let property = property(&mut words).at_line(number)?;
                match elements.last_mut() {
                    Some(element) => element.properties.push(property),
                    None => {
                        return Err(unexpected("\"element\" first", b"property")).at_line(number);
                    }
                }
            }
            Some(b"end_header") => {
                let body = match format {
                    Some(b"ascii") => Body::ascii(bytes, at, number + 1),
                    Some(b"binary_little_endian") => Body::little(bytes, at),
                    Some(b"binary_big_endian") => Body::big(bytes, at),
                    other => {
                        let expected = "format ascii, binary_little_endian or binary_big_endian";
                        let found = other.unwrap_or(b"no format");
                        return Err(unexpected(expected, found)).at_line(number);
                    }
                };
                return Ok((elements, body));
            }
            Some(word) => {
                return Err(unexpected("a PLY header statement", word)).at_line(number);
            }
        }
    }
    Ok((elements, Body::ascii(bytes, at, 1)))
}

fn element(words: &mut Words<'_>) -> Result<Element, MeshProblem> {
    let name = words.next().unwrap_or_default();
    let count = words.next().unwrap_or_default();
    let parsed = std::str::from_utf8(count)
        .ok()
        .and_then(|text| text.parse().ok());
    Ok(Element {
        name: String::from_utf8_lossy(name).into_owned(),
        count: parsed.ok_or_else(|| unexpected("the number of elements", count))?,
        properties: Vec::new(),
    })
}

fn property(words: &mut Words<'_>) -> Result<Property, MeshProblem> {
    let kind = |word: Option<&[u8]>| {
        let word = word.unwrap_or_default();
        Kind::named(word).ok_or_else(|| unexpected("a PLY type", word))
    };
    let first = words.next();
    let (list, kind) = if first == Some(b"list") {
        (Some(kind(words.next())?), kind(words.next())?)
    } else {
        (None, kind(first)?)
    };
    let name = words.next().unwrap_or_default();
    Ok(Property {
        name: String::from_utf8_lossy(name).into_owned(),
        kind,
        list,
    })
}

fn unexpected(expected: &'static str, found: &[u8]) -> MeshProblem {
    MeshProblem::Unexpected {
        expected,
        found: shortened(found),
    }
}
