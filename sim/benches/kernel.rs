//! Rays per second of the ray kernel, and triangles per second of its build.
//!
//! `shadow`: any-hit lines from the front of the part's triangles, 16 each, in runs of neighbours spread over
//! the part, to a disc of 50 mm diameter 100 mm above. `aimed`: first hits of rays from the disc into the part. `inside`: first hits
//! of rays between random points inside. The part is a closed lobed body of about 40 mm radius with
//! undercuts.
//!
//! `cargo bench -p evenfall-sim --bench kernel`

mod lobed;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use evenfall_sim::random::{Stream, Use};
use evenfall_sim::transport::kernel::Kernel;
use glam::{DVec2, DVec3};
use lobed::lobed;
use std::f64::consts::TAU;
use std::hint::black_box;

const RAYS: usize = 1 << 17;

fn on_disc(dice: &mut Stream) -> DVec3 {
    let [u, v] = dice.pair();
    let (radius, angle) = (0.025 * u.sqrt(), v * TAU);
    DVec3::new(radius * angle.cos(), radius * angle.sin(), 0.14)
}

fn shadow_rays(kernel: &Kernel) -> Vec<(DVec3, DVec3, u32)> {
    let mut dice = Stream::new(1, Use::Pilot, 0);
    let mut rays = Vec::with_capacity(RAYS);
    let count = kernel.len();
    for run in 0.. {
        let first = (run * 5 + 3) * count / 64 % count;
        for triangle in first..(first + count / 256 + 1).min(count) {
            let triangle = u32::try_from(triangle).unwrap_or(0);
            let [a, b, c] = kernel.triangle(triangle);
            for _ in 0..16 {
                let [u, v] = dice.pair();
                let root = u.sqrt();
                let from = kernel.point(triangle, DVec2::new(root * (1.0 - v), root * v));
                let to = on_disc(&mut dice);
                if (b - a).cross(c - a).dot(to - from) > 0.0 {
                    rays.push((from, to, triangle));
                }
                if rays.len() == RAYS {
                    return rays;
                }
            }
        }
    }
    rays
}

fn aimed_rays() -> Vec<(DVec3, DVec3)> {
    let mut dice = Stream::new(2, Use::Pilot, 0);
    (0..RAYS)
        .map(|_| {
            let from = on_disc(&mut dice);
            let [u, v] = dice.pair();
            let (radius, angle) = (0.04 * u.sqrt(), v * TAU);
            (
                from,
                DVec3::new(radius * angle.cos(), radius * angle.sin(), 0.0) - from,
            )
        })
        .collect()
}

fn inside_rays() -> Vec<(DVec3, DVec3)> {
    let mut dice = Stream::new(3, Use::Pilot, 0);
    let mut point = move || {
        DVec3::new(dice.uniform(), dice.uniform(), dice.uniform()) * 0.04 - DVec3::splat(0.02)
    };
    (0..RAYS).map(|_| (point(), point() - point())).collect()
}

fn count_blocked(kernel: &Kernel, rays: &[(DVec3, DVec3, u32)]) -> usize {
    rays.iter()
        .filter(|(from, to, skip)| kernel.blocked(*from, *to, Some(*skip)))
        .count()
}

fn sum_first(kernel: &Kernel, rays: &[(DVec3, DVec3)]) -> f64 {
    rays.iter()
        .filter_map(|(from, direction)| kernel.first_hit(*from, *direction, f64::INFINITY, None))
        .map(|hit| hit.t)
        .sum()
}

fn rays(criterion: &mut Criterion) {
    for rings in [175, 712] {
        let kernel = Kernel::build(lobed(rings, 0));
        let size = format!("{}k triangles", kernel.len() / 1000);
        let mut group = criterion.benchmark_group("kernel rays");
        group
            .sample_size(10)
            .throughput(Throughput::Elements(RAYS as u64));
        let shadow = shadow_rays(&kernel);
        group.bench_function(BenchmarkId::new("shadow", &size), |bench| {
            bench.iter(|| black_box(count_blocked(&kernel, &shadow)));
        });
        for (name, rays) in [("aimed", aimed_rays()), ("inside", inside_rays())] {
            group.bench_function(BenchmarkId::new(name, &size), |bench| {
                bench.iter(|| black_box(sum_first(&kernel, &rays)));
            });
        }
        group.finish();
    }
}

fn build(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("kernel build");
    for rings in [175, 712] {
        let soup = lobed(rings, 0);
        let size = format!("{}k triangles", soup.len() / 1000);
        group
            .sample_size(10)
            .throughput(Throughput::Elements(soup.len() as u64));
        group.bench_function(BenchmarkId::new("build", size), |bench| {
            bench.iter_with_large_drop(|| Kernel::build(soup.clone()));
        });
    }
    group.finish();
}

criterion_group!(benches, rays, build);
criterion_main!(benches);
