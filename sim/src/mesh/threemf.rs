//! 3MF: an archive of XML models, built from objects.
//!
//! In: the archive. Out: the triangles of every build item in order, placed by its transforms, in
//! metres by the model's own unit. Parts of the production extension are read within the archive;
//! nothing outside it is ever opened.

mod model;
mod package;

use super::error::{At, Fault, MeshProblem};
use super::rows::Rows;
use glam::DAffine3;
use model::{Component, Content, Model, Object};
use package::Package;
use std::collections::BTreeMap;

/// Deepest nesting of components.
const DEPTH_LIMIT: usize = 32;
/// Most copies of objects, those without triangles included.
const COPIES_LIMIT: usize = 200_000;

/// Reads a 3MF; returns metres per unit.
pub(super) fn read(bytes: &[u8], rows: &mut Rows) -> Result<f64, Fault> {
    let mut package = Package::open(bytes)?;
    let root = package.root_model()?;
    let model = model::read(&mut package, &root, rows.limit())?;
    rows.set_unit(model.unit_m.unwrap_or(0.001));
    let unit_m = model.unit_m.unwrap_or(0.001);
    let items = model.items.clone();
    let mut build = Build {
        package,
        models: BTreeMap::from([(root.clone(), model)]),
        unit_m,
        copies: 0,
        rows,
        open: Vec::new(),
    };
    for (number, item) in items.iter().enumerate() {
        build
            .place(&root, item, DAffine3::IDENTITY)
            .map_err(|mut fault| {
                if fault.place == super::MeshPlace::Whole {
                    fault.place = super::MeshPlace::Element(format!("build item {}", number + 1));
                }
                fault
            })?;
    }
    Ok(unit_m)
}

/// The build, being put together.
struct Build<'a, 'b> {
    package: Package<'a>,
    models: BTreeMap<String, Model>,
    unit_m: f64,
    copies: usize,
    rows: &'b mut Rows,
    /// Objects being placed, outermost first.
    open: Vec<(String, u64)>,
}

impl Build<'_, '_> {
    /// Places what a build item or a component names.
    fn place(&mut self, model: &str, component: &Component, outer: DAffine3) -> Result<(), Fault> {
        let path = component.path.as_deref().unwrap_or(model).to_owned();
        let here = (path, component.object);
        let element = || format!("{}, object {}", here.0, here.1);
        self.copies += 1;
        if self.copies > COPIES_LIMIT {
            let limit = COPIES_LIMIT;
            return Err(MeshProblem::TooManyCopies { limit }).at_element(element);
        }
        if self.open.contains(&here) {
            let what = "a component";
            return Err(MeshProblem::Circle { what }).at_element(element);
        }
        if self.open.len() >= DEPTH_LIMIT {
            let (what, limit) = ("components", DEPTH_LIMIT);
            return Err(MeshProblem::TooDeep { what, limit }).at_element(element);
        }
        self.load(&here.0)?;
        let object = self.models[&here.0]
            .objects
            .get(&here.1)
            .cloned()
            .ok_or(MeshProblem::OutOfRange {
                what: "object",
                index: i64::try_from(here.1).unwrap_or(i64::MAX),
                count: self.models[&here.0].objects.len() as u64,
            })
            .at_element(element)?;
        let placed = outer * component.transform;
        let start = self.rows.len();
        match &object.content {
            Content::Support => {
                return Err(MeshProblem::Unsupported {
                    feature: "support structures in the build".to_owned(),
                    instead: "save the part without them",
                })
                .at_element(element);
            }
            Content::Components(components) => {
                self.open.push(here.clone());
                for component in components {
                    self.place(&here.0, component, placed)?;
                }
                self.open.pop();
            }
            Content::Mesh {
                vertices,
                triangles,
            } => {
                let mut corners = Vec::with_capacity(vertices.len());
                for (number, vertex) in vertices.iter().enumerate() {
                    let corner = self.rows.corner(placed.transform_point3(*vertex));
                    corners.push(corner.at_element(|| format!("{}, vertex {number}", element()))?);
                }
                // A mirrored copy would otherwise show its inside.
                let mirrored = placed.matrix3.determinant() < 0.0;
                for (number, [a, b, c]) in triangles.iter().enumerate() {
                    let (b, c) = if mirrored { (c, b) } else { (b, c) };
                    let row = [*a, *b, *c].map(|corner| corners[corner as usize]);
                    self.rows
                        .push(row)
                        .at_element(|| format!("{}, triangle {number}", element()))?;
                }
            }
        }
        self.rows.name_from(start, &object.name);
        Ok(())
    }

    /// Reads another model of the archive, unless it was read already.
    fn load(&mut self, path: &str) -> Result<(), Fault> {
        if self.models.contains_key(path) {
            return Ok(());
        }
        let model = model::read(&mut self.package, path, self.rows.limit())?;
        if model
            .unit_m
            .is_some_and(|unit_m| unit_m.to_bits() != self.unit_m.to_bits())
        {
            return Err(MeshProblem::Unsupported {
                feature: "models with different units in one archive".to_owned(),
                instead: "save it with one unit",
            })
            .at_element(|| path.to_owned());
        }
        self.models.insert(path.to_owned(), model);
        Ok(())
    }
}

/// Objects are shared while their model stays where it is.
type Shared = std::rc::Rc<Object>;
