//! Rays at corners and edges of closed bodies: how many slip through.
//!
//! In: a closed body around the origin. Out: a count of rays for which a tracer finds nothing in the way though a wall is
//! there: from inside outward through a corner or a point of an edge, and back from outside.

use crate::embree::{Embree, Packed};
use crate::sets::Line;
use evenfall_sim::random::{Stream, Use};
use evenfall_sim::transport::kernel::Kernel;
use evenfall_sim::transport::kernel::fan::Fan;
use glam::DVec3;

/// Rays of a body and a way.
const RAYS: usize = 5_000_000;
/// Rays at a time.
const BATCH: usize = 1 << 16;

/// Which way a ray goes through the wall.
#[derive(Clone, Copy)]
enum Way {
    Out,
    In,
}

/// Rays that slipped through: any-hit, closest hit, packets of eight, Embree's any-hit.
#[derive(Default)]
struct Slipped {
    rays: usize,
    any: usize,
    first: usize,
    eight: usize,
    /// Lines of fans, and those of them that slip through.
    fans: usize,
    beside: usize,
    embree: usize,
}

/// A ray through a corner (half of them) or a point of an edge (half of those its middle) of some triangle.
fn line(kernel: &Kernel, dice: &mut Stream, way: Way) -> Line {
    let (inside, wall) = aim(kernel, dice);
    through(inside, wall, way)
}

/// Starts of eight that go through corners and edges of one triangle to one place inside, from as far beyond the wall.
fn fan(kernel: &Kernel, dice: &mut Stream) -> ([[f64; 8]; 3], DVec3) {
    let (inside, _) = aim(kernel, dice);
    let corners =
        kernel.triangle((dice.uniform() * kernel.len() as f64) as u32 % kernel.len() as u32);
    let starts: [DVec3; 8] = std::array::from_fn(|line| {
        let (a, b) = (corners[line % 3], corners[(line + 1) % 3]);
        let share = match line / 3 {
            0 => 0.0,
            1 => 0.5,
            _ => dice.uniform(),
        };
        inside + (a + (b - a) * share - inside) * 2.0
    });
    (
        [0, 1, 2].map(|axis| starts.map(|start| start[axis])),
        inside,
    )
}

/// A place inside and one on the wall: at a corner, in the middle of an edge, or somewhere along it.
fn aim(kernel: &Kernel, dice: &mut Stream) -> (DVec3, DVec3) {
    let count = kernel.len() as f64;
    let triangle = (dice.uniform() * count) as u32 % kernel.len() as u32;
    let [a, b, _] = kernel.triangle(triangle);
    let share = match (dice.uniform() * 4.0) as u32 {
        0 | 1 => 0.0,
        2 => 0.5,
        _ => dice.uniform(),
    };
    let wall = a + (b - a) * share;
    let place = DVec3::new(dice.uniform(), dice.uniform(), dice.uniform());
    ((place - 0.5) * 0.02, wall)
}

/// Inside: the body holds the ball of 29 mm around the origin. Outside: beyond every wall.
fn through(inside: DVec3, wall: DVec3, way: Way) -> Line {
    let outside = inside + (wall - inside) * (0.2 / (wall - inside).length());
    let (origin, end) = match way {
        Way::Out => (inside, outside),
        Way::In => (outside, inside),
    };
    Line {
        origin,
        direction: end - origin,
        end: 1.0,
        skip: None,
    }
}

fn count(kernel: &Kernel, embree: Option<&Embree>, way: Way, slipped: &mut Slipped) {
    let mut dice = Stream::new(4 + way as u64, Use::Pilot, 0);
    while slipped.rays < RAYS {
        let lines: Vec<Line> = (0..BATCH).map(|_| line(kernel, &mut dice, way)).collect();
        slipped.rays += lines.len();
        for lines in lines.chunks_exact(8) {
            let segments: [_; 8] =
                std::array::from_fn(|k| (lines[k].origin, lines[k].origin + lines[k].direction));
            slipped.eight += 8 - kernel.blocked_eight(&segments, None).count_ones() as usize;
            for ((from, to), line) in segments.iter().zip(lines) {
                slipped.any += usize::from(!kernel.blocked(*from, *to, None));
                let first = kernel.first_hit(*from, line.direction, 1.0, None);
                slipped.first += usize::from(first.is_none());
            }
        }
        if matches!(way, Way::In) {
            let open = kernel.footings(&[]);
            for _ in 0..BATCH / 8 {
                let (from, to) = fan(kernel, &mut dice);
                let fan = Fan {
                    from: &from,
                    to,
                    footings: &open,
                    begin: &[0.0; 8],
                };
                slipped.fans += 8;
                slipped.beside += 8 - kernel.blocked_fan(&fan, 0xFF).count_ones() as usize;
            }
        }
        if let Some(embree) = embree {
            slipped.embree += lines.len() - embree.blocked(&Packed::new(&lines));
        }
    }
}

/// Counts and prints.
pub fn print(name: &str, kernel: &Kernel, embree: Option<&Embree>) {
    for (way, said) in [(Way::Out, "from inside"), (Way::In, "from outside")] {
        let mut slipped = Slipped::default();
        count(kernel, embree, way, &mut slipped);
        println!(
            "{name}, {said}: of {} rays at corners and edges slip through: ours any-hit {}, closest {}, packets of 8 {}; of {} side by side {}",
            slipped.rays, slipped.any, slipped.first, slipped.eight, slipped.fans, slipped.beside
        );
        if embree.is_some() {
            println!("{name}, {said}: Embree robust any-hit {}", slipped.embree);
        }
    }
}
