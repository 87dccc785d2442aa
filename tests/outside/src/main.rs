//! Evenfall's ray kernel beside other ray tracers, in one process, as ratios.
//!
//! `cargo run --release --manifest-path tests/outside/Cargo.toml`, with `EMBREE=/where/libembree4.so.4` where Embree 4 is not
//! among the system's libraries; without it the ratios are to obvhs. CPU time of the one thread; tracers take turns on every set, and of the
//! turns' ratios the middle one counts.
//!
//! Rays go in as each tracer wants them (ours and parry3d's with no preparation, Embree's packed beforehand); all get the same rays,
//! rounded to single precision where the tracer has no other. A share of blocked rays that differs by more than starts near edges
//! explain would show a tracer that answers another question.
//!
//! With the argument `leaks` it counts instead how many of 2 · 10⁷ rays at corners and edges of closed bodies slip through.
#![allow(
    clippy::cast_possible_truncation,
    reason = "other tracers count and measure in 32 bits"
)]

mod embree;
mod leaks;
mod others;
mod sets;
mod shapes;

use embree::{Alike, Embree, Packed};
use evenfall_sim::transport::kernel::Kernel;
use evenfall_sim::transport::kernel::fan::{Fan, Footings};
use others::{Obvhs, Parry};
use rustix::time::{ClockId, clock_gettime};
use sets::{Line, RAYS};

/// Turns of each tracer on each set.
const TURNS: usize = 15;

/// A tracer on a set: name, and how many of the set's rays met something.
type Tracer<'a> = (&'static str, Box<dyn Fn() -> usize + 'a>);

fn thread_s() -> f64 {
    let now = clock_gettime(ClockId::ThreadCPUTime);
    now.tv_sec as f64 + 1e-9 * now.tv_nsec as f64
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Prints Mrays/s, the ratio to the first tracer, and the share that met something.
fn race(set: &str, rays: usize, tracers: &[Tracer]) {
    let mut seconds = vec![Vec::new(); tracers.len()];
    let mut met = vec![0; tracers.len()];
    for _ in 0..TURNS {
        for (k, (_, run)) in tracers.iter().enumerate() {
            let from = thread_s();
            met[k] = run();
            seconds[k].push(thread_s() - from);
        }
    }
    for (k, (name, _)) in tracers.iter().enumerate() {
        let ratio = middle(
            (0..TURNS)
                .map(|turn| seconds[0][turn] / seconds[k][turn])
                .collect(),
        );
        let rate = rays as f64 / middle(seconds[k].clone()) / 1e6;
        let share = 100.0 * met[k] as f64 / rays as f64;
        println!("{set:>7} {name:<28} {rate:7.2} Mrays/s  ratio {ratio:5.2}  met {share:6.3} %");
    }
}

fn ours_blocked(kernel: &Kernel, lines: &[Line]) -> usize {
    let blocked = |l: &&Line| kernel.blocked(l.origin, l.origin + l.direction * l.end, l.skip);
    lines.iter().filter(blocked).count()
}

fn ours_eight(kernel: &Kernel, lines: &[Line]) -> usize {
    let ends = |l: &Line| (l.origin, l.origin + l.direction * l.end);
    let eight = |lines: &[Line]| {
        let segments: [_; 8] = std::array::from_fn(|k| ends(&lines[k]));
        kernel.blocked_eight(&segments, lines[0].skip).count_ones() as usize
    };
    lines.chunks_exact(8).map(eight).sum()
}

/// Lines from eight triangles side by side to one place.
fn ours_beside(kernel: &Kernel, lines: &[Line]) -> usize {
    let mut footings: [Option<Footings>; 2] = Default::default();
    let mut known = [None; 2];
    let mut blocked = 0;
    for (packet, lines) in lines.chunks_exact(8).enumerate() {
        // two packets of eight take turns
        let footings = &mut footings[packet % 2];
        if known[packet % 2] != lines[0].skip {
            known[packet % 2] = lines[0].skip;
            *footings = None;
        }
        let on = || lines.iter().map(|line| line.skip).collect::<Vec<_>>();
        let fan = Fan {
            from: &[0, 1, 2].map(|axis| std::array::from_fn(|k| lines[k].origin[axis])),
            to: lines[0].origin + lines[0].direction * lines[0].end,
            footings: footings.get_or_insert_with(|| kernel.footings(&on())),
            begin: &[0.0; 8],
        };
        blocked += kernel.blocked_fan(&fan, 0xFF).count_ones() as usize;
    }
    blocked
}

fn ours_first(kernel: &Kernel, lines: &[Line]) -> usize {
    let meets = |l: &&Line| {
        kernel
            .first_hit(l.origin, l.direction, l.end, l.skip)
            .is_some()
    };
    lines.iter().filter(meets).count()
}

/// Rays at corners and edges of the closed bodies.
fn leaks() {
    for shape in shapes::all() {
        if shape.name.ends_with("closed") {
            let kernel = Kernel::build(shape.triangles.clone());
            leaks::print(
                shape.name,
                &kernel,
                Embree::new(&shape.triangles).ok().as_ref(),
            );
        }
    }
}

fn main() -> Result<(), String> {
    if std::env::args().nth(1).as_deref() == Some("leaks") {
        leaks();
        return Ok(());
    }
    for shape in shapes::all() {
        let kernel = Kernel::build(shape.triangles.clone());
        println!("{}: {} triangles", shape.name, kernel.len());
        let embree = Embree::new(&shape.triangles);
        if let Err(why) = &embree {
            println!("without Embree: {why}");
        }
        let embree = embree.ok();
        let obvhs = Obvhs::new(&shape.triangles);
        let parry = Parry::new(&shape.triangles)?;
        for (set, lines) in [
            ("shadow", sets::shadow(&kernel)),
            ("sorted", sets::sorted(&kernel)),
            ("beside", sets::beside(&kernel)),
            ("aimed", sets::aimed()),
            ("gas", sets::gas()),
        ] {
            let packed = Packed::new(&lines);
            let obvhs_rays = others::obvhs_rays(&lines);
            let parry_rays = others::parry_rays(&lines);
            let any = set != "aimed" && set != "gas";
            let mut tracers: Vec<Tracer> = Vec::new();
            if let Some(embree) = &embree {
                let packed = &packed;
                if any {
                    tracers.push(("Embree robust", Box::new(|| embree.blocked(packed))));
                    tracers.push((
                        "Embree robust, 16",
                        Box::new(|| embree.blocked16(packed, Alike::No)),
                    ));
                    tracers.push((
                        "Embree robust, 16 alike",
                        Box::new(|| embree.blocked16(packed, Alike::Yes)),
                    ));
                } else {
                    tracers.push(("Embree robust", Box::new(|| embree.first(packed))));
                }
            }
            if any {
                tracers.push(("obvhs, two", Box::new(|| obvhs.two_blocked(&obvhs_rays))));
                tracers.push((
                    "obvhs, eight compressed",
                    Box::new(|| obvhs.wide_blocked(&obvhs_rays)),
                ));
                tracers.push(("parry3d", Box::new(|| parry.blocked(&parry_rays))));
                tracers.push(("ours", Box::new(|| ours_blocked(&kernel, &lines))));
                tracers.push(match set {
                    "shadow" | "sorted" => (
                        "ours, packets of 8",
                        Box::new(|| ours_eight(&kernel, &lines)) as Box<dyn Fn() -> usize>,
                    ),
                    _ => (
                        "ours, 8 side by side",
                        Box::new(|| ours_beside(&kernel, &lines)),
                    ),
                });
            } else {
                tracers.push(("obvhs, two", Box::new(|| obvhs.two_first(&obvhs_rays))));
                tracers.push((
                    "obvhs, eight compressed",
                    Box::new(|| obvhs.wide_first(&obvhs_rays)),
                ));
                tracers.push(("parry3d", Box::new(|| parry.first(&parry_rays))));
                tracers.push(("ours", Box::new(|| ours_first(&kernel, &lines))));
            }
            race(set, RAYS, &tracers);
        }
    }
    Ok(())
}
