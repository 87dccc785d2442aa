//! One model file of a 3MF: its unit, its objects, its build items.

use super::Shared;
use super::package::{Package, TakeTags, attribute, member_name, prefixed, shortened_text};
use crate::mesh::error::{At, Fault, MeshProblem, shortened};
use crate::mesh::text::number;
use glam::{DAffine3, DVec3};
use quick_xml::events::BytesStart;
use std::collections::BTreeMap;

const CORE: &str = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02";
/// Extensions that change no triangle, and the one that spreads objects over files.
const HARMLESS: [&str; 3] = [
    "http://schemas.microsoft.com/3dmanufacturing/material/2015/02",
    "http://schemas.microsoft.com/3dmanufacturing/production/2015/06",
    "http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07",
];

/// A model file.
#[derive(Default)]
pub(super) struct Model {
    /// Metres per unit, if the file says it.
    pub unit_m: Option<f64>,
    pub objects: BTreeMap<u64, Shared>,
    pub items: Vec<Component>,
}

/// A thing that can be built.
pub(super) struct Object {
    pub name: String,
    pub content: Content,
}

/// What an object consists of.
pub(super) enum Content {
    Mesh {
        vertices: Vec<DVec3>,
        triangles: Vec<[u32; 3]>,
    },
    Components(Vec<Component>),
    /// Support structures, which are not the part.
    Support,
}

/// A reference to an object, and where it goes.
#[derive(Clone)]
pub(super) struct Component {
    pub object: u64,
    /// Model file of the archive, unless it is the one that refers to it.
    pub path: Option<String>,
    pub transform: DAffine3,
}

/// Reads a model file with at most `limit` corners and as many triangles in an object.
pub(super) fn read(package: &mut Package<'_>, path: &str, limit: u64) -> Result<Model, Fault> {
    let mut taker = Taker {
        model: Model::default(),
        open: None,
        opened: Vec::new(),
        limit,
        taken: 0,
    };
    package.read_xml(path, &mut taker)?;
    Ok(taker.model)
}

struct Taker {
    model: Model,
    open: Option<Open>,
    /// Tags that are open.
    opened: Vec<Tag>,
    limit: u64,
    taken: u64,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Tag {
    Object,
    Other,
}

/// The object being read.
struct Open {
    id: u64,
    name: String,
    support: bool,
    vertices: Vec<DVec3>,
    triangles: Vec<[u32; 3]>,
    components: Vec<Component>,
}

impl TakeTags for Taker {
    fn open(&mut self, namespace: &str, tag: &BytesStart<'_>) -> Result<(), Fault> {
        let mut kind = Tag::Other;
        // Files without a namespace exist; another namespace is an extension.
        if namespace == CORE || namespace.is_empty() {
            match tag.local_name().into_inner() {
                "model" => self.model(tag)?,
                "object" => {
                    self.object(tag)?;
                    kind = Tag::Object;
                }
                "vertex" => self.vertex(tag)?,
                "triangle" => self.triangle(tag)?,
                "component" => {
                    let component = component(tag)?;
                    self.inside()?.components.push(component);
                    self.take()?;
                }
                "item" => {
                    self.model.items.push(component(tag)?);
                    self.take()?;
                }
                _ => {}
            }
        }
        self.opened.push(kind);
        Ok(())
    }

    fn close(&mut self) -> Result<(), Fault> {
        if self.opened.pop() == Some(Tag::Object)
            && let Some(open) = self.open.take()
        {
            let content = if open.support {
                Content::Support
            } else if open.components.is_empty() {
                let count = open.vertices.len() as u64;
                for (number, triangle) in open.triangles.iter().enumerate() {
                    for corner in triangle {
                        if u64::from(*corner) >= count {
                            let (what, index) = ("vertex", i64::from(*corner));
                            return Err(MeshProblem::OutOfRange { what, index, count })
                                .at_element(|| format!("object {}, triangle {number}", open.id));
                        }
                    }
                }
                Content::Mesh {
                    vertices: open.vertices,
                    triangles: open.triangles,
                }
            } else if open.triangles.is_empty() {
                Content::Components(open.components)
            } else {
                return Err(MeshProblem::Unsupported {
                    feature: "an object with both a mesh and components".to_owned(),
                    instead: "save the 3MF again",
                }
                .into());
            };
            let name = open.name;
            let object = Object { name, content };
            if self.model.objects.insert(open.id, object.into()).is_some() {
                return Err(MeshProblem::Unexpected {
                    expected: "an object id that is not used yet",
                    found: open.id.to_string(),
                }
                .into());
            }
        }
        Ok(())
    }

    fn element(&self) -> String {
        match &self.open {
            Some(open) => format!(
                "object {}, after {} vertices and {} triangles",
                open.id,
                open.vertices.len(),
                open.triangles.len()
            ),
            None => String::new(),
        }
    }
}

impl Taker {
    fn model(&mut self, tag: &BytesStart<'_>) -> Result<(), Fault> {
        if let Some(unit) = attribute(tag, "unit")? {
            self.model.unit_m = Some(unit_m(&unit)?);
        }
        for prefix in attribute(tag, "requiredextensions")?
            .unwrap_or_default()
            .split_whitespace()
        {
            let namespace = attribute(tag, &format!("xmlns:{prefix}"))?.unwrap_or_default();
            if !HARMLESS.contains(&namespace.as_str()) {
                return Err(MeshProblem::Unsupported {
                    feature: format!("the extension {:?}", shortened_text(&namespace)),
                    instead: "save it as plain triangles",
                }
                .into());
            }
        }
        Ok(())
    }

    fn object(&mut self, tag: &BytesStart<'_>) -> Result<(), Fault> {
        if self.open.is_some() {
            return Err(MeshProblem::Unexpected {
                expected: "the end of an object before the next one",
                found: "object".to_owned(),
            }
            .into());
        }
        let kind = attribute(tag, "type")?;
        self.take()?;
        self.open = Some(Open {
            id: whole(tag, "id")?,
            name: attribute(tag, "name")?.unwrap_or_default(),
            support: kind.is_some_and(|kind| kind == "support"),
            vertices: Vec::new(),
            triangles: Vec::new(),
            components: Vec::new(),
        });
        Ok(())
    }

    fn vertex(&mut self, tag: &BytesStart<'_>) -> Result<(), Fault> {
        let [x, y, z] = values(tag, ["x", "y", "z"])?;
        let coordinate = |value: Option<f64>, key| value.ok_or(MeshProblem::Missing { key });
        let vertex = DVec3::new(
            coordinate(x, "x")?,
            coordinate(y, "y")?,
            coordinate(z, "z")?,
        );
        self.inside()?.vertices.push(vertex);
        self.take()
    }

    fn triangle(&mut self, tag: &BytesStart<'_>) -> Result<(), Fault> {
        let keys = ["v1", "v2", "v3"];
        let mut triangle = [0; 3];
        for ((corner, value), key) in triangle.iter_mut().zip(values(tag, keys)?).zip(keys) {
            let value = value.ok_or(MeshProblem::Missing { key })?;
            if value.fract() != 0.0 || !(0.0..f64::from(u32::MAX)).contains(&value) {
                return Err(MeshProblem::Unexpected {
                    expected: "the number of a vertex",
                    found: value.to_string(),
                }
                .into());
            }
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a whole number from 0 to below 2³²"
            )]
            let number = value as u32;
            *corner = number;
        }
        self.inside()?.triangles.push(triangle);
        self.take()
    }

    fn inside(&mut self) -> Result<&mut Open, MeshProblem> {
        self.open.as_mut().ok_or(MeshProblem::Unexpected {
            expected: "an object around it",
            found: "none".to_owned(),
        })
    }

    /// Counts vertices, triangles and references: each takes memory.
    fn take(&mut self) -> Result<(), Fault> {
        self.taken += 1;
        if self.taken > 2 * self.limit {
            return Err(MeshProblem::TooManyTriangles { limit: self.limit }.into());
        }
        Ok(())
    }
}

/// The numbers of three attributes, in one pass: files have millions of them.
fn values(tag: &BytesStart<'_>, keys: [&str; 3]) -> Result<[Option<f64>; 3], MeshProblem> {
    let mut found = [None; 3];
    for attribute in tag.attributes().with_checks(false) {
        let attribute = attribute.map_err(|error| super::package::xml(&error))?;
        let key = attribute.key.into_inner();
        if let Some(place) = keys.iter().position(|wanted| *wanted == key) {
            found[place] = Some(number(attribute.value.trim().as_bytes())?);
        }
    }
    Ok(found)
}

fn whole(tag: &BytesStart<'_>, key: &'static str) -> Result<u64, MeshProblem> {
    let value = attribute(tag, key)?.ok_or(MeshProblem::Missing { key })?;
    value.trim().parse().map_err(|_| MeshProblem::Unexpected {
        expected: "a whole number",
        found: shortened(value.as_bytes()),
    })
}

fn component(tag: &BytesStart<'_>) -> Result<Component, MeshProblem> {
    Ok(Component {
        object: whole(tag, "objectid")?,
        path: prefixed(tag, "path")?.map(|path| member_name(&path)),
        transform: match attribute(tag, "transform")? {
            Some(text) => transform(&text)?,
            None => DAffine3::IDENTITY,
        },
    })
}

/// The twelve numbers of a transform: rows of the matrix that a row vector is multiplied with, the
/// shift last (3MF core specification, "3D Matrices").
fn transform(text: &str) -> Result<DAffine3, MeshProblem> {
    let unexpected = || MeshProblem::Unexpected {
        expected: "a transform of 12 finite numbers that keeps volumes above 0",
        found: shortened(text.as_bytes()),
    };
    let mut numbers = [0.0; 12];
    let mut words = text.split_whitespace();
    for value in &mut numbers {
        *value = number(words.next().ok_or_else(unexpected)?.as_bytes())?;
    }
    let transform = DAffine3::from_cols_array(&numbers);
    let determinant = transform.matrix3.determinant();
    if words.next().is_some()
        || !transform.is_finite()
        || !determinant.is_finite()
        || determinant == 0.0
    {
        return Err(unexpected());
    }
    Ok(transform)
}

fn unit_m(unit: &str) -> Result<f64, MeshProblem> {
    // 3MF core specification, "Model"; the inch is 25.4 mm by definition.
    Ok(match unit {
        "micron" => 1e-6,
        "millimeter" => 1e-3,
        "centimeter" => 1e-2,
        "inch" => 0.0254,
        "foot" => 0.3048,
        "meter" => 1.0,
        _ => {
            return Err(MeshProblem::Unexpected {
                expected: "the unit micron, millimeter, centimeter, inch, foot or meter",
                found: shortened(unit.as_bytes()),
            });
        }
    })
}
