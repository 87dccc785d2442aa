//! Pictures of the outcome: ray-cast heat maps that need no GPU and no display.
//!
//! In: an [`Outcome`]. Out: PNG files as bytes, for the folder and the report. [`stage`] knows what a ray
//! meets, [`choose`] picks the sides, [`paint`] makes colours of rays, [`furniture`] adds what makes a
//! picture readable on its own.

mod camera;
mod canvas;
mod choose;
mod furniture;
mod paint;
mod pair;
mod sight;
mod stage;
mod verdict;

pub use pair::draw_pair;

use super::colour::Scale;
use super::model::Outcome;
use super::survey::Survey;
use camera::Camera;
use canvas::{Canvas, FAINT, Frame, INK, Spot};
use furniture::PICTURE;
use glam::DVec3;
use paint::Colours;
use rayon::prelude::*;
use stage::{Cut, Kind, Props, Shot, Stage};
use verdict::Told;

/// Parts beyond this number get no pictures of their own.
const MOST_PARTS: usize = 4;

/// A finished picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct View {
    /// File name in the outcome folder, `view-….png`.
    pub file: String,
    /// What it shows, one line.
    pub title: String,
    /// What to look for in it, one or two sentences.
    pub caption: String,
    /// The PNG file.
    pub png: Vec<u8>,
}

/// Draws all pictures of an outcome.
///
/// The whole set-up; what the first source sees; then for each of the first four parts its best and its
/// worst side, and a cut where something is hidden. All share one scale.
pub fn draw_all(outcome: &Outcome) -> Vec<View> {
    let ((survey, scale), props) = rayon::join(
        || {
            let survey = Survey::of(outcome);
            let scale = Scale::of(outcome, &survey);
            (survey, scale)
        },
        || Props::of(outcome),
    );
    let stage = Stage::of(outcome, &survey, props);
    let drawn = |part: &usize| !outcome.parts[*part].facets.is_empty();
    let parts: Vec<usize> = (0..outcome.parts.len())
        .filter(drawn)
        .take(MOST_PARTS)
        .collect();
    let ((set_up, sources), parts) = rayon::join(
        || rayon::join(|| set_up(&stage, &scale), || source_views(&stage, &scale)),
        || -> Vec<Vec<View>> {
            let each = parts.par_iter();
            each.map(|part| part_views(&stage, &scale, *part)).collect()
        },
    );
    let parts = parts.into_iter().flatten();
    std::iter::once(set_up)
        .chain(parts)
        .chain(sources)
        .collect()
}

/// The whole set-up from the side, fixtures cut open through the first source.
fn set_up(stage: &Stage<'_>, scale: &Scale) -> View {
    let outcome = stage.outcome;
    let forward = side_direction(outcome);
    let points = everything_m(stage);
    // Room for the names on both sides.
    let frame = Frame {
        left: PICTURE.left + 60.0,
        width: PICTURE.width - 120.0,
        ..PICTURE
    };
    let inner = Frame {
        top: frame.top + 12.0,
        height: frame.height - 24.0,
        ..frame
    };
    let camera = Camera::parallel(forward, &points, inner);
    let through = outcome.sources.first().map(|s| DVec3::from_array(s.at_m));
    let flat = DVec3::new(-forward.x, -forward.y, 0.0).normalize_or_zero();
    let shot = Shot {
        camera,
        parts: (0..outcome.parts.len()).collect(),
        bodies: vec![Kind::Fixture, Kind::Shutter, Kind::Coupon, Kind::Source],
        cut_parts: None,
        cut_fixtures: through.map(|point_m| Cut {
            point_m,
            normal: flat,
        }),
    };
    let mut caption = "Drawn to scale as it stands when the first open step begins. Fixtures are cut open through \
                       the middle of the first source; a shutter is a veil where it stands while shut."
        .to_owned();
    if outcome.steps.iter().any(|s| s.vent.is_some()) {
        caption += " Parts are drawn as they stand before the first opening.";
    }
    let title = "The set-up from the side";
    let mut sheet = Sheet::new(title, "");
    if let Some(shape) = outcome.chamber {
        furniture::chamber(&mut sheet.canvas, shape, &camera);
    }
    rotation_axes(&mut sheet.canvas, stage, &camera, &points);
    let painted = (&mut sheet.canvas, Colours::Film(scale));
    let signs = paint::paint(&mut [painted], PICTURE, stage, &shot);
    emission_arrows(&mut sheet.canvas, stage, &camera);
    furniture::names(&mut sheet.canvas, &things_by_name(stage, &camera));
    let veil = outcome.bodies.iter().any(|b| Kind::of(b) == Kind::Shutter);
    sheet.finish(&camera, camera.middle_m, "");
    furniture::colour_bar(&mut sheet.canvas, scale);
    furniture::legend(&mut sheet.canvas, signs, scale, veil);
    View {
        file: "view-setup.png".to_owned(),
        title: title.to_owned(),
        caption,
        png: sheet.canvas.png(),
    }
}

fn part_views(stage: &Stage<'_>, scale: &Scale, part: usize) -> Vec<View> {
    let choice = choose::choose(stage, part, scale);
    let name = &stage.outcome.parts[part].name;
    let stem = file_stem(stage.outcome, part);
    let inner = Frame {
        left: PICTURE.left + 24.0,
        top: PICTURE.top + 16.0,
        width: PICTURE.width - 48.0,
        height: PICTURE.height - 56.0,
    };
    let shot = |forward: DVec3, cut: Option<Cut>| Shot {
        camera: Camera::parallel(forward, &stage.part_box_m(part), inner),
        parts: vec![part],
        bodies: Vec::new(),
        cut_parts: cut,
        cut_fixtures: None,
    };
    // The film and, along the same lines, what is told of it.
    let draw = |(end, title, caption): (&str, &str, &str), shot: &Shot, told: &[Told]| {
        let mut sheet = Sheet::new(title, name);
        let new = |told: &Told| Sheet::new(told.title(), name);
        let mut others: Vec<Sheet> = told.iter().map(new).collect();
        let mut painted = vec![(&mut sheet.canvas, Colours::Film(scale))];
        let more = others.iter_mut().zip(told);
        painted.extend(more.map(|(sheet, told)| (&mut sheet.canvas, told.colours())));
        let signs = paint::paint(&mut painted, PICTURE, stage, shot);
        let finish = || {
            sheet.finish(&shot.camera, shot.camera.middle_m, "");
            furniture::colour_bar(&mut sheet.canvas, scale);
            furniture::legend(&mut sheet.canvas, signs, scale, false);
            View {
                file: format!("view-{stem}-{end}.png"),
                title: format!("{name}: {}", lower_first(title)),
                caption: caption.to_owned(),
                png: sheet.canvas.png(),
            }
        };
        let others = others.into_par_iter().zip(told);
        let others = others.map(|(sheet, told)| told.finish(sheet, &shot.camera, (name, &stem)));
        rayon::join(finish, || others.collect::<Vec<View>>())
    };
    let best = || {
        let caption = "Looking at the side on which most film lies. Fixtures are left out.";
        let words = ("best", "The side with most film", caption);
        draw(words, &shot(choice.best, None), &verdict::told(stage, part))
    };
    let worst = || {
        let caption =
            "Looking at the side that shows most bare or thin area, or the thinnest film.";
        let words = ("worst", "The side with least film", caption);
        draw(words, &shot(choice.worst, None), &[]).0
    };
    let cut = || {
        let caption = "Cut through the middle: shows recesses that no side shows.";
        let words = ("cut", "Cut open through the middle", caption);
        let cut = choice.cut?;
        Some(draw(words, &shot(-cut.normal, Some(cut)), &[]).0)
    };
    let ((best, told), (worst, cut)) = rayon::join(best, || rayon::join(worst, cut));
    let mut views = vec![best, worst];
    views.extend(cut);
    views.extend(told);
    views
}

/// What each source (the first two) sees from the middle of its face.
fn source_views(stage: &Stage<'_>, scale: &Scale) -> Vec<View> {
    let outcome = stage.outcome;
    let parts: Vec<usize> = (0..outcome.parts.len())
        .filter(|p| !outcome.parts[*p].facets.is_empty())
        .collect();
    let points: Vec<DVec3> = parts.iter().flat_map(|p| stage.part_box_m(*p)).collect();
    if points.is_empty() {
        return Vec::new();
    }
    let middle = points.iter().sum::<DVec3>() / points.len() as f64;
    let draw = |(number, source): (usize, &super::model::SourceOutcome)| {
        let eye = DVec3::from_array(source.at_m);
        let inner = Frame {
            left: PICTURE.left + 70.0,
            top: PICTURE.top + 60.0,
            width: PICTURE.width - 140.0,
            height: PICTURE.height - 120.0,
        };
        let camera = Camera::eye(eye, &points, inner);
        let shot = Shot {
            camera,
            parts: parts.clone(),
            bodies: vec![Kind::Fixture, Kind::Coupon],
            cut_parts: None,
            cut_fixtures: None,
        };
        let title = format!("As the middle of {} sees it", source.name);
        let mut sheet = Sheet::new(&title, "");
        let painted = (&mut sheet.canvas, Colours::Film(scale));
        let signs = paint::paint(&mut [painted], PICTURE, stage, &shot);
        sheet.finish(&camera, middle, " at the middle of the parts");
        furniture::colour_bar(&mut sheet.canvas, scale);
        furniture::legend(&mut sheet.canvas, signs, scale, false);
        View {
            file: format!("view-source-{}.png", number + 1),
            title,
            caption: "With the shutter open, at the start of the first open step. What cannot be seen from \
                      anywhere on the footprint through the whole run gets no film in straight flight."
                .to_owned(),
            png: sheet.canvas.png(),
        }
    };
    outcome
        .sources
        .iter()
        .take(2)
        .enumerate()
        .map(draw)
        .collect()
}

/// A sheet under work.
struct Sheet {
    canvas: Canvas,
}

impl Sheet {
    fn new(title: &str, part: &str) -> Self {
        let mut canvas = Canvas::new(furniture::WIDTH, furniture::HEIGHT);
        furniture::title(&mut canvas, title, part);
        Self { canvas }
    }

    fn finish(&mut self, camera: &Camera, at_m: DVec3, note: &str) {
        furniture::scale_bar(&mut self.canvas, camera.pixels_per_m(at_m), note);
        furniture::axes(&mut self.canvas, camera);
    }
}

/// The side from which sources and parts stand farthest apart: along +y or along −x, from a little above.
fn side_direction(outcome: &Outcome) -> DVec3 {
    let mut places: Vec<DVec3> = outcome
        .sources
        .iter()
        .map(|s| DVec3::from_array(s.at_m))
        .collect();
    places.extend(
        outcome
            .parts
            .iter()
            .map(|p| p.chamber_from_part.translation),
    );
    let bodies = outcome
        .bodies
        .iter()
        .filter(|b| Kind::of(b) == Kind::Coupon);
    places.extend(bodies.filter_map(|b| b.vertices_m.first().copied()));
    let spread = |axis: DVec3| {
        let along = places.iter().map(|p| p.dot(axis));
        let (low, high) = along.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
            (l.min(v), h.max(v))
        });
        high - low
    };
    let level = if spread(DVec3::Y) > 1.05 * spread(DVec3::X) {
        DVec3::NEG_X
    } else {
        DVec3::Y
    };
    // 9 degrees: plates keep their thickness, rings and holes open a little.
    level - DVec3::Z * 9.0_f64.to_radians().tan()
}

/// Points around all that is there, m.
fn everything_m(stage: &Stage<'_>) -> Vec<DVec3> {
    let outcome = stage.outcome;
    let mut points: Vec<DVec3> = outcome
        .chamber
        .map(furniture::chamber_box_m)
        .unwrap_or_default();
    points.extend((0..outcome.parts.len()).flat_map(|part| stage.part_box_m(part)));
    points.extend((0..outcome.bodies.len()).flat_map(|body| stage.body_box_m(body)));
    for source in &outcome.sources {
        let at = DVec3::from_array(source.at_m);
        points.extend([-1.0, 1.0].map(|side| at + DVec3::splat(side * source.reach_m)));
    }
    points
}

fn rotation_axes(canvas: &mut Canvas, stage: &Stage<'_>, camera: &Camera, points: &[DVec3]) {
    for &(axis, through) in &stage.outcome.rotations {
        let along = points.iter().map(|p| (*p - through).dot(axis));
        let (low, high) = along.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
            (l.min(v), h.max(v))
        });
        if let (Some(from), Some(to)) = (
            camera.spot(through + axis * low),
            camera.spot(through + axis * high),
        ) {
            canvas.broken_line(from, to, &[16.0, 4.0, 3.0, 4.0], FAINT);
        }
    }
}

fn emission_arrows(canvas: &mut Canvas, stage: &Stage<'_>, camera: &Camera) {
    for source in &stage.outcome.sources {
        let (at, facing) = (
            DVec3::from_array(source.at_m),
            DVec3::from_array(source.facing),
        );
        let Some(from) = camera.spot(at) else {
            continue;
        };
        let length_m = 46.0 / camera.pixels_per_m(at);
        if let Some(to) = camera.spot(at + facing * length_m) {
            furniture::arrow(canvas, from, to, INK);
        }
        let (one, other, _) = camera::axes(facing);
        let rim = |k: i32| {
            let angle = f64::from(k) * std::f64::consts::TAU / 48.0;
            camera.spot(at + source.reach_m * (one * angle.cos() + other * angle.sin()))
        };
        for k in 0..48 {
            if let (Some(from), Some(to)) = (rim(k), rim(k + 1)) {
                canvas.line(from, to, 1.4, INK);
            }
        }
    }
}

fn things_by_name(stage: &Stage<'_>, camera: &Camera) -> Vec<(Spot, String)> {
    let outcome = stage.outcome;
    let middle = |corners: Vec<DVec3>| {
        let count = corners.len().max(1) as f64;
        corners.into_iter().sum::<DVec3>() / count
    };
    let mut named: Vec<(DVec3, String)> = Vec::new();
    for source in &outcome.sources {
        named.push((
            DVec3::from_array(source.at_m),
            format!("{} (source)", source.name),
        ));
    }
    for (number, part) in outcome.parts.iter().enumerate() {
        named.push((middle(stage.part_box_m(number)), part.name.clone()));
    }
    for (number, body) in outcome.bodies.iter().enumerate() {
        let corners = stage.body_box_m(number);
        let at = match Kind::of(body) {
            // Its source is named already.
            Kind::Source => continue,
            // A plate with a hole has nothing in its middle.
            Kind::Fixture => rightmost(&corners, camera),
            Kind::Shutter | Kind::Coupon => middle(corners),
        };
        let what = if body.kind == "fixture" {
            String::new()
        } else {
            format!(" ({})", body.kind)
        };
        named.push((at, format!("{}{what}", body.name)));
    }
    // More names than this would hide the picture.
    named.truncate(16);
    let spots = named
        .into_iter()
        .map(|(at, name)| Some((camera.spot(at)?, shortened(&name))));
    spots.flatten().collect()
}

/// A point near the right end of a body, at its half height.
fn rightmost(corners: &[DVec3], camera: &Camera) -> DVec3 {
    let count = corners.len().max(1) as f64;
    let middle = corners.iter().sum::<DVec3>() / count;
    let reach = corners
        .iter()
        .map(|c| (*c - middle).dot(camera.right))
        .fold(0.0, f64::max);
    middle + camera.right * (0.9 * reach)
}

fn shortened(name: &str) -> String {
    if name.chars().count() <= 24 {
        name.to_owned()
    } else {
        name.chars().take(21).chain("...".chars()).collect()
    }
}

/// Part of a file name that is safe everywhere and distinct among the parts.
fn file_stem(outcome: &Outcome, part: usize) -> String {
    let safe = |c: char| {
        if c.is_ascii_alphanumeric() {
            c.to_ascii_lowercase()
        } else {
            '-'
        }
    };
    let name: String = outcome.parts[part]
        .name
        .chars()
        .map(safe)
        .take(40)
        .collect();
    let name = name.trim_matches('-');
    match (outcome.parts.len(), name) {
        (1, "") => "part".to_owned(),
        (1, name) => name.to_owned(),
        (_, name) => format!("{}-{name}", part + 1),
    }
}

fn lower_first(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(letters).collect()
    })
}
