//! The way from a plan to a film through the front door: read, lower, calibrate, run, grow.
//!
//! In: plan text and meshes in memory. Out: [`Coated`], with flux per emitted atom where the checks need it.

use crate::agreement::Comparison;
use crate::quadrature::triangle_mean;
use crate::solids::Sheet;
use evenfall_sim::film::{self, Film};
use evenfall_sim::plan::{self, Plan};
use evenfall_sim::scene::{self, Meshes, Scene};
use evenfall_sim::stencil;
use evenfall_sim::transport::{self, Method, Rates, RunSettings, Tally, Unwatched};
use glam::DVec3;
use std::fmt::Write as _;
use std::path::Path;
use std::sync::Arc;

/// A plan and its meshes.
#[derive(Debug, Clone, Default)]
pub struct Bench {
    /// Plan text.
    pub text: String,
    /// Meshes in metres, by the name their file has in the plan.
    pub meshes: Vec<(String, Sheet)>,
    /// Artworks as SVG texts, by the name their file has in the plan.
    pub artworks: Vec<(String, String)>,
}

/// A source of silver that emits 10¹⁸ atoms per second at power 1.
#[derive(Debug, Clone)]
pub struct Head<'a> {
    /// Footprint, TOML.
    pub footprint: &'a str,
    /// Exponent of the cosine law.
    pub cosine: f64,
    /// Centre, m.
    pub at: DVec3,
    /// Normal.
    pub facing: DVec3,
    /// Direction of width or length, for footprints that need one.
    pub along: Option<DVec3>,
}

/// How well and by which method.
#[derive(Debug, Clone, Copy)]
pub struct Asked {
    /// Relative standard error at the 95th percentile of the area.
    pub accuracy: f64,
    /// Method.
    pub method: Method,
    /// Limit on fired atoms.
    pub atoms: u64,
    /// Seed.
    pub seed: u64,
    /// Largest relative standard error of any row and point that film reaches, if that is what counts: the
    /// accuracy is then tightened from run to run until it is met.
    pub rows: Option<f64>,
}

/// Runs that may be needed to meet what is asked of rows.
const TRIES: u32 = 7;

impl Asked {
    /// Gather to an accuracy, with a token audit.
    pub fn gather(accuracy: f64) -> Self {
        Self {
            accuracy,
            method: Method::Gather,
            atoms: 1000,
            seed: 1,
            rows: None,
        }
    }

    /// Gather until every row and every point of a probe that film reaches is known to this share.
    ///
    /// Rows of coarse meshes are means over many facets, so that facets may be known far less well.
    pub fn rows(share: f64) -> Self {
        Self {
            rows: Some(share),
            ..Self::gather(0.3)
        }
    }

    /// The same as the program takes it.
    fn settings(&self) -> RunSettings {
        RunSettings {
            method: self.method,
            accuracy: self.accuracy,
            time: None,
            atoms: Some(self.atoms),
            seed: self.seed,
            threads: 0,
        }
    }

    /// Fire so many atoms.
    pub fn fire(atoms: u64) -> Self {
        Self {
            accuracy: 1e-9,
            method: Method::Fire,
            atoms,
            seed: 1,
            rows: None,
        }
    }
}

/// A finished film and all that led to it.
#[derive(Debug)]
pub struct Coated {
    /// The scene.
    pub scene: Scene,
    /// Real atoms per source and step.
    pub rates: Rates,
    /// What was counted.
    pub tally: Tally,
    /// The film.
    pub film: Film,
    volume_per_emitted_atom_m3: f64,
}

/// A length or a vector as the plan writes it, every digit kept.
fn vector(v: DVec3, unit: &str) -> String {
    format!(
        "[\"{:?}{unit}\", \"{:?}{unit}\", \"{:?}{unit}\"]",
        v.x, v.y, v.z
    )
}

impl Bench {
    /// An empty bench.
    pub fn new() -> Self {
        Self {
            text: "title = \"check\"\n".to_owned(),
            ..Self::default()
        }
    }

    /// Adds lines to the plan.
    #[must_use]
    pub fn with(mut self, lines: &str) -> Self {
        self.text.push_str(lines);
        self.text.push('\n');
        self
    }

    /// Adds a source.
    #[must_use]
    pub fn source(self, head: &Head) -> Self {
        let mut lines = format!(
            "[[source]]\nname = \"head {}\"\nkind = \"sputter\"\nmetal = \"silver\"\nat = {}\n\
             facing = [{:?}, {:?}, {:?}]\nfootprint = {}\nlaw = {{ cosine = {:?} }}\n\
             output = {{ atoms_per_second = 1.0e18 }}\n",
            self.text.matches("[[source]]").count(),
            vector(head.at, " m"),
            head.facing.x,
            head.facing.y,
            head.facing.z,
            head.footprint,
            head.cosine,
        );
        if let Some(along) = head.along {
            let _ = writeln!(
                lines,
                "along = [{:?}, {:?}, {:?}]",
                along.x, along.y, along.z
            );
        }
        self.with(&lines)
    }

    /// Adds a source whose faces emit along their normals by a cosine law; their mesh is given in metres.
    #[must_use]
    pub fn mesh_source(mut self, sheet: Sheet, cosine: f64) -> Self {
        self.meshes.push(("emitter.stl".to_owned(), sheet));
        self.with(&format!(
            "[[source]]\nname = \"emitter\"\nkind = \"sputter\"\nmetal = \"silver\"\n\
             at = [\"0 m\", \"0 m\", \"0 m\"]\n\
             footprint = {{ shape = \"mesh\", file = \"emitter.stl\", unit = \"m\" }}\n\
             law = {{ cosine = {cosine:?} }}\noutput = {{ atoms_per_second = 1.0e18 }}\n"
        ))
    }

    /// Adds a part whose mesh is given in metres.
    #[must_use]
    pub fn part(mut self, name: &str, sheet: Sheet) -> Self {
        self.meshes.push((format!("{name}.stl"), sheet));
        self.with(&format!(
            "[[part]]\nname = \"{name}\"\nmesh = \"{name}.stl\"\nunit = \"m\"\n"
        ))
    }

    /// Adds a fixture whose mesh is given in metres.
    #[must_use]
    pub fn fixture(mut self, name: &str, sheet: Sheet) -> Self {
        self.meshes.push((format!("{name}.stl"), sheet));
        self.with(&format!(
            "[[fixture]]\nname = \"{name}\"\nbody = {{ shape = \"mesh\", file = \"{name}.stl\", unit = \"m\" }}\n"
        ))
    }

    /// Adds a stencil to a part, cut after an SVG.
    #[must_use]
    pub fn mask(mut self, part: &str, svg: &str, lines: &str) -> Self {
        let file = format!("artwork {}.svg", self.artworks.len());
        self.artworks.push((file.clone(), svg.to_owned()));
        self.with(&format!(
            "[[mask]]\npart = \"{part}\"\nartwork = \"{file}\"\n{lines}"
        ))
    }

    /// Adds a rotation about an axis through the origin, a turn per second.
    #[must_use]
    pub fn turning(self, axis: DVec3) -> Self {
        self.with(&format!(
            "[[rotation]]\naxis = [{:?}, {:?}, {:?}]\nspeed = \"360 deg/s\"\n",
            axis.x, axis.y, axis.z
        ))
    }

    /// Adds a step.
    #[must_use]
    pub fn step(self, seconds: f64, more: &str) -> Self {
        self.with(&format!("[[step]]\nlasts = \"{seconds:?} s\"\n{more}"))
    }

    /// Adds a probe from one point to another of a part, in metres.
    #[must_use]
    pub fn probe(self, part: &str, [from, to]: [DVec3; 2], points: usize) -> Self {
        let number = self.text.matches("[[probe]]").count();
        self.with(&format!(
            "[[probe]]\nname = \"line {}\"\npart = \"{part}\"\nfrom = {}\nto = {}\npoints = {points}\n",
            number,
            vector(from, " m"),
            vector(to, " m"),
        ))
    }

    /// Coats.
    ///
    /// # Panics
    ///
    /// If the plan or the scene is refused, with what was said.
    pub fn coat(&self, asked: &Asked) -> Coated {
        let mut settings = asked.settings();
        let (scene, rates) = self.lowered(&settings);
        let mut tries = 0;
        let (tally, film) = loop {
            let tally = transport::run(&scene, &rates, &settings, &Unwatched);
            let film = film::grow(&scene, &tally);
            tries += 1;
            let over = asked.rows.map_or(0.0, |share| worst(&tally, &film) / share);
            if over <= 1.0 || tries == TRIES {
                break (tally, film);
            }
            // errors fall faster than what is asked of facets, or at worst with it
            settings.accuracy *= (0.85 / over).max(0.1);
        };
        let emitted: f64 = rates.atoms.iter().flatten().sum();
        let volume_per_emitted_atom_m3 = scene.metals[0].atom_volume_m3() * emitted;
        Coated {
            scene,
            rates,
            tally,
            film,
            volume_per_emitted_atom_m3,
        }
    }

    /// Fires so many atoms.
    ///
    /// # Panics
    ///
    /// If the plan or the scene is refused, with what was said.
    pub fn fire(&self, atoms: u64, seed: u64) -> Tally {
        let asked = Asked {
            seed,
            ..Asked::fire(atoms)
        };
        let (scene, rates) = self.lowered(&asked.settings());
        transport::run(&scene, &rates, &asked.settings(), &Unwatched)
    }

    /// Reads, lowers and calibrates.
    fn lowered(&self, settings: &RunSettings) -> (Scene, Rates) {
        let plan = match plan::read_text(Path::new("check.toml"), &self.text) {
            Ok(plan) => Arc::new(plan),
            Err(errors) => panic!("{errors:?}\n{}", self.text),
        };
        let scene = match scene::lower(Arc::clone(&plan), &self.stored(&plan)) {
            Ok(scene) => scene,
            Err(issues) => panic!("{issues:?}\n{}", self.text),
        };
        let rates = transport::calibrate(&scene, settings).expect("rates");
        (scene, rates)
    }

    /// The meshes under the paths that the plan resolved them to.
    fn stored(&self, plan: &Plan) -> Meshes {
        let mut meshes = Meshes::default();
        for (file, sheet) in &self.meshes {
            meshes.insert(plan.path.with_file_name(file), sheet.mesh());
        }
        for (file, svg) in &self.artworks {
            let artwork = stencil::read_artwork_bytes(file, svg.as_bytes(), None);
            let artwork = artwork.unwrap_or_else(|error| panic!("{error}"));
            meshes.insert_artwork(plan.path.with_file_name(file), artwork);
        }
        meshes
    }
}

/// The largest relative standard error of rows and points that film reaches.
fn worst(tally: &Tally, film: &Film) -> f64 {
    let rows = film.rows[0]
        .iter()
        .map(|row| (row.thickness_m, row.std_error_m));
    let points = tally.probes.iter().flatten();
    rows.chain(points.map(|point| (point.sums.thickness_m, point.sums.std_error_m)))
        .filter(|&(thickness_m, _)| thickness_m > 0.0)
        .map(|(thickness_m, error_m)| error_m / thickness_m)
        .fold(0.0, f64::max)
}

impl Coated {
    /// Flux on a row of the part per emitted atom, 1/m², and its standard error.
    pub fn flux(&self, row: usize) -> (f64, f64) {
        let film = &self.film.rows[0][row];
        self.per_atom(film.thickness_m, film.std_error_m)
    }

    /// Flux at a point of a probe per emitted atom, 1/m², and its standard error.
    pub fn probe_flux(&self, probe: usize, point: usize) -> (f64, f64) {
        let sums = &self.tally.probes[probe][point].sums;
        self.per_atom(sums.thickness_m, sums.std_error_m)
    }

    /// A thickness and its error as flux per emitted atom, 1/m².
    pub fn per_atom(&self, thickness_m: f64, std_error_m: f64) -> (f64, f64) {
        (
            thickness_m / self.volume_per_emitted_atom_m3,
            std_error_m / self.volume_per_emitted_atom_m3,
        )
    }

    /// Number of rows of the part.
    pub fn rows(&self) -> usize {
        self.film.rows[0].len()
    }

    /// Area of a row, m².
    pub fn area_m2(&self, row: usize) -> f64 {
        self.film.rows[0][row].area_m2
    }

    /// Corners of a row of the part in the chamber, rotations at 0, m.
    pub fn corners(&self, row: usize) -> [DVec3; 3] {
        let id = self.scene.parts[0].body;
        let body = &self.scene.bodies[id.0 as usize];
        let configuration = &self.scene.configurations[0];
        let group = if body.riding {
            &configuration.riding
        } else {
            &configuration.still
        };
        let place = group.bodies.iter().position(|entry| entry.0 == id);
        let pose = group.poses[place.expect("the part is in its group")];
        body.triangles[row].map(|k| pose.transform_point3(body.vertices[k as usize]))
    }

    /// Compares every row with the mean of a closed form over it.
    ///
    /// - `form`: flux per emitted atom at a point with a normal, chamber frame, rotations at 0
    /// - `halvings`: of the seven-point rule
    pub fn compare(&self, halvings: u32, form: &dyn Fn(DVec3, DVec3) -> f64) -> Vec<Comparison> {
        (0..self.rows())
            .map(|receiver| {
                let corners = self.corners(receiver);
                let reference = triangle_mean(corners, halvings, &|p| form(p, normal_of(corners)));
                self.against(receiver, reference)
            })
            .collect()
    }

    /// Compares one row with a value, allowing for what f32 corners and lifted starts change.
    pub fn against(&self, receiver: usize, reference: f64) -> Comparison {
        let (found, std_error) = self.flux(receiver);
        let corners = self.corners(receiver);
        Comparison {
            name: format!("row {receiver} at {:.4}", corners[0]),
            found,
            std_error,
            reference,
            bias: rounding(corners) * reference.abs(),
        }
    }

    /// Compares one point of a probe with a value.
    pub fn probe_against(&self, probe: usize, point: usize, reference: f64) -> Comparison {
        let (found, std_error) = self.probe_flux(probe, point);
        let at = self.tally.probes[probe][point].position_m;
        let name = format!("probe {probe} at {at:.4}");
        Comparison {
            name,
            found,
            std_error,
            reference,
            bias: ROUNDING * reference.abs(),
        }
    }
}

/// Unit normal of a triangle.
pub fn normal_of([a, b, c]: [DVec3; 3]) -> DVec3 {
    (b - a).cross(c - a).normalize()
}

/// Relative change of film by rounded corners and lifted starts where facets are not small: 2⁻²¹ of
/// distances up to four times the throw (PHYSICS.md section 4).
const ROUNDING: f64 = 2e-6;

/// The same for a facet of given corners: its tilt, 2⁻²⁴ of its distance from the origin over its
/// shortest height, times a tan β of up to 8.
fn rounding(corners: [DVec3; 3]) -> f64 {
    let [a, b, c] = corners;
    let longest = [a - b, b - c, c - a]
        .iter()
        .map(|e| e.length())
        .fold(0.0, f64::max);
    let height = (b - a).cross(c - a).length() / longest;
    let far = corners
        .iter()
        .map(|c| c.abs().max_element())
        .fold(0.0, f64::max);
    ROUNDING + 8.0 * far / height * 2.0_f64.powi(-24)
}
