//! `evenfall check`: reads a plan, makes it solid, and says what was understood. Simulates nothing.

use super::understood::{
    BodyFacts, ClearanceFacts, FilmFacts, PartFacts, SourceFacts, StepFacts, Understood,
    rates_need_no_flight,
};
use crate::diagnose::Problems;
use crate::failure::{Exit, Failure};
use crate::say;
use clap::Args;
use evenfall_sim::outcome::words::decimal;
use evenfall_sim::transport::{self, Method, RunSettings};
use evenfall_sim::{plan, scene, units};
use glam::DVec3;
use std::path::PathBuf;
use std::sync::Arc;

/// Arguments of `evenfall check`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The plan, a TOML file
    #[arg(value_name = "PLAN")]
    plan: PathBuf,
    /// Print what was understood as JSON
    #[arg(long)]
    json: bool,
}

/// Explains a plan.
///
/// # Errors
/// When it cannot be understood; see [`Failure`].
pub fn run(arguments: &Arguments) -> Result<Exit, Failure> {
    let plan = plan::read(&arguments.plan).map_err(|found| Failure::Plan(found.into()))?;
    let plan = Arc::new(plan);
    let in_plan = |issues| Failure::Plan(Problems::of_scene(&issues, &plan));
    let meshes = scene::load_meshes(&plan).map_err(in_plan)?;
    let scene = scene::lower(Arc::clone(&plan), &meshes).map_err(in_plan)?;
    let rates = if rates_need_no_flight(&plan) {
        Some(transport::calibrate(&scene, &as_coat_would()).map_err(in_plan)?)
    } else {
        None
    };
    let understood = Understood::of(&scene, rates.as_ref());
    if arguments.json {
        let text = serde_json::to_string_pretty(&understood).map_err(|error| {
            Failure::Unfinished(format!("what was understood cannot be printed ({error})"))
        })?;
        say::answer(&text)?;
    } else {
        let shown = arguments.plan.display();
        say::answer(&in_words(&understood, &shown.to_string()))?;
    }
    Ok(Exit::Done)
}

fn as_coat_would() -> RunSettings {
    RunSettings {
        method: Method::Auto,
        accuracy: 0.02,
        time: None,
        atoms: None,
        seed: 1,
        threads: 0,
    }
}

/// Paragraphs under a heading each, the heading in a column of its own.
#[derive(Default)]
struct Page {
    text: String,
}

impl Page {
    const COLUMN: usize = 12;

    fn paragraph(&mut self, heading: &str, lines: &[String]) {
        for (index, line) in lines.iter().enumerate() {
            let heading = if index == 0 { heading } else { "" };
            let line = format!("{heading:<0$}{line}", Self::COLUMN);
            self.text.push_str(line.trim_end());
            self.text.push('\n');
        }
    }
}

fn in_words(understood: &Understood, plan: &str) -> String {
    let mut page = Page::default();
    page.paragraph("plan", &[format!("{plan}: {}", understood.title)]);
    page.paragraph("chamber", &chamber(understood));
    for source in &understood.sources {
        page.paragraph("source", &source_lines(source));
    }
    for part in &understood.parts {
        page.paragraph("part", &part_lines(part));
    }
    for region in &understood.regions {
        page.paragraph(
            "region",
            &[format!(
                "{} on {}: {}, {} mm²",
                region.name,
                region.part,
                say::counted(region.triangles, "triangle"),
                decimal(region.area_mm2)
            )],
        );
    }
    for body in &understood.bodies {
        page.paragraph(body.kind, &[body_line(body)]);
    }
    for (index, rotation) in understood.rotations.iter().enumerate() {
        let swing = rotation.swing_deg.map_or_else(String::new, |angle| {
            format!(", swinging to {} deg and back", decimal(angle))
        });
        page.paragraph(
            "rotation",
            &[format!(
                "{}: about {} through {}, {} rpm{swing}",
                index + 1,
                say::direction(DVec3::from_array(rotation.axis)),
                point(rotation.through_mm),
                decimal(rotation.speed_rpm)
            )],
        );
    }
    page.paragraph("schedule", &schedule(understood));
    let clearances: Vec<_> = understood.clearances.iter().map(clearance_line).collect();
    page.paragraph("clearance", &clearances);
    if let Some(film) = &understood.film {
        page.paragraph("film", &[film_line(film)]);
    }
    if !understood.probes.is_empty() {
        page.paragraph("probes", &[understood.probes.join(", ")]);
    }
    page.paragraph(
        "counted on",
        &[format!(
            "{} after refining",
            say::counted(understood.facets, "facet")
        )],
    );
    for warning in &understood.warnings {
        page.paragraph("warning", std::slice::from_ref(warning));
    }
    let next = format!("\nnothing was simulated; next: evenfall coat {plan}\n");
    page.text.push_str(&next);
    page.text
}

fn chamber(understood: &Understood) -> Vec<String> {
    let walls = match (understood.chamber_shape, understood.chamber_mm) {
        (Some("cylinder"), Some([diameter, _, height])) => format!(
            "cylinder, diameter {}, height {}",
            units::mm_and_inch(diameter * 1e-3),
            units::mm_and_inch(height * 1e-3)
        ),
        (Some(shape), Some(size)) => format!("{shape}, {}", extent(size)),
        _ => "none: no walls and no base plate, what misses everything is gone".to_owned(),
    };
    let gas = match &understood.gas {
        Some(gas) => format!("gas: {gas}"),
        None => "no gas: atoms fly straight".to_owned(),
    };
    vec![walls, gas]
}

fn source_lines(source: &SourceFacts) -> Vec<String> {
    let rate = match (source.atoms_per_second, source.atoms) {
        (Some(per_second), Some(atoms)) => format!(
            "{per_second:.3e} atoms per second at full power, {atoms:.3e} over the schedule"
        ),
        _ => "the rate follows when the plan is coated".to_owned(),
    };
    vec![
        format!(
            "{}: {} of {}, {} at {}, facing {}",
            source.name,
            source.kind,
            source.metal,
            source.footprint,
            point(source.at_mm),
            say::direction(DVec3::from_array(source.facing))
        ),
        format!("{}; {}; {rate}", source.law, source.output),
    ]
}

fn part_lines(part: &PartFacts) -> Vec<String> {
    let health = &part.health;
    let mut lines = vec![
        format!(
            "{}: {}, {}, {}, area {} mm²",
            part.name,
            part.mesh,
            say::counted(part.triangles, "triangle"),
            extent(part.size_mm),
            decimal(part.area_mm2)
        ),
        format!(
            "at {}, turned {} deg about x, y, z{}{}",
            point(part.at_mm),
            part.turn_deg.map(decimal).join(", "),
            if part.both_sides {
                "; film counts on both sides"
            } else {
                ""
            },
            part.material
                .as_ref()
                .map_or_else(String::new, |material| format!("; {material}"))
        ),
    ];
    let mut mesh = vec![
        say::counted(health.closed_shells, "closed shell"),
        say::counted(health.open_sheets, "open sheet"),
    ];
    let found = [
        (health.hollows, "hollow"),
        (health.open_edges, "open edge"),
        (health.non_manifold_edges, "edge of three or more triangles"),
        (
            health.flip_edges,
            "edge whose two triangles disagree about the side",
        ),
        (health.welded_corners, "welded corner"),
        (health.needles, "triangle without area (kept, bare)"),
        (health.flipped, "triangle turned round"),
        (health.buried, "triangle inside another solid of the part"),
        (part.unreached, "triangle out of reach of every source"),
    ];
    for (number, what) in found {
        if number > 0 {
            mesh.push(say::several(number, what));
        }
    }
    lines.push(format!("mesh: {}", mesh.join(", ")));
    if part.facets != part.triangles {
        lines.push(format!(
            "film counted on {}",
            say::counted(part.facets, "facet")
        ));
    }
    lines
}

fn body_line(body: &BodyFacts) -> String {
    format!(
        "{}: {} at {}{}",
        body.name,
        extent(body.size_mm),
        point(body.at_mm),
        if body.rides_part {
            ", turns with the part"
        } else {
            ""
        }
    )
}

fn schedule(understood: &Understood) -> Vec<String> {
    let mut lines: Vec<_> = understood
        .steps
        .iter()
        .enumerate()
        .map(|(index, facts)| step_line(index + 1, facts, &understood.sources))
        .collect();
    lines.push(format!("ends at {}", units::clock(understood.total_s)));
    lines
}

fn step_line(number: usize, facts: &StepFacts, sources: &[SourceFacts]) -> String {
    let step = &facts.step;
    let mut said: Vec<String> = Vec::new();
    said.extend(step.vent.clone());
    said.extend(step.note.clone());
    said.push(if step.shut.is_empty() {
        "open".to_owned()
    } else {
        format!("shut: {}", step.shut.join(", "))
    });
    for (source, power) in sources.iter().zip(&step.power) {
        if (power - 1.0).abs() > 1e-12 {
            said.push(format!("{} at {}", source.name, say::percent(*power)));
        }
    }
    said.extend(step.turning.iter().cloned());
    format!(
        "{number}: from {} for {}: {}",
        units::clock(facts.from_s),
        units::clock(step.lasts_s),
        said.join("; ")
    )
}

fn clearance_line(clearance: &ClearanceFacts) -> String {
    let distance = |mm: f64, at_deg: &[f64], is_bound: bool| {
        // a hair short of a full turn is 0
        let within = |deg: f64| if deg >= 359.995 { 0.0 } else { deg };
        let angles = at_deg.iter().copied().map(within).map(decimal);
        let angles = angles.collect::<Vec<_>>();
        let at = if angles.is_empty() {
            String::new()
        } else {
            format!(" at {} deg", angles.join(", "))
        };
        let distance = units::mm_and_inch(mm * 1e-3);
        if is_bound {
            format!("at least {distance}, nearest seen{at}")
        } else if mm > 0.0 {
            format!("{distance}{at}")
        } else {
            format!("none, they touch or cut,{at}")
        }
    };
    format!(
        "{} to {}: {} through the schedule; {} through full turns",
        clearance.riding,
        clearance.still,
        distance(
            clearance.schedule_mm,
            &clearance.schedule_at_deg,
            clearance.schedule_is_bound
        ),
        distance(
            clearance.full_turn_mm,
            &clearance.full_turn_at_deg,
            clearance.full_turn_is_bound
        )
    )
}

fn film_line(film: &FilmFacts) -> String {
    let want = film
        .want_nm
        .iter()
        .map(|(metal, nm)| {
            let of = if metal == "all" {
                String::new()
            } else {
                format!(" of {metal}")
            };
            format!("{} nm{of}", decimal(*nm))
        })
        .collect::<Vec<_>>()
        .join(" and ");
    let place = if film.regions.is_empty() {
        "all parts".to_owned()
    } else {
        film.regions.join(", ")
    };
    let bare = if film.bare.is_empty() {
        String::new()
    } else {
        format!(
            "; at most {} nm on {}",
            decimal(film.bare_under_nm),
            film.bare.join(", ")
        )
    };
    format!(
        "at least {want} on {} of the area of {place}{bare}",
        say::percent(film.on)
    )
}

fn extent(size_mm: [f64; 3]) -> String {
    format!(
        "{} mm ({} in)",
        size_mm.map(|size| units::significant(size, 4)).join(" × "),
        size_mm
            .map(|size| units::significant(size / 25.4, 3))
            .join(" × ")
    )
}

fn point(mm: [f64; 3]) -> String {
    format!("({}) mm", mm.map(decimal).join(", "))
}
