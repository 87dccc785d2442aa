//! Import of large meshes: binary STL from memory to a judged mesh, in triangles per second.
//!
//! The bodies are written before the clock starts. `plain` is one sphere; `hollow` adds a sphere
//! inside it, so that nesting is decided.

use criterion::{Criterion, SamplingMode, Throughput, criterion_group, criterion_main};
use evenfall_sim::mesh::{Beside, read_mesh_bytes};
use std::f64::consts::{PI, TAU};
use std::time::Duration;

/// Facets of a sphere, as a binary STL stores them.
fn sphere(radius_mm: f64, rings: u32, stl: &mut Vec<u8>) {
    let sectors = 2 * rings;
    let corner = |ring: u32, sector: u32| {
        let polar = PI * f64::from(ring) / f64::from(rings);
        let azimuth = TAU * f64::from(sector % sectors) / f64::from(sectors);
        let across = if ring == rings { 0.0 } else { polar.sin() };
        [across * azimuth.cos(), across * azimuth.sin(), polar.cos()].map(|axis| radius_mm * axis)
    };
    let mut facet = |corners: [[f64; 3]; 3]| {
        stl.extend([0; 12]);
        for axis in corners.as_flattened() {
            #[expect(
                clippy::cast_possible_truncation,
                reason = "STL stores single precision"
            )]
            stl.extend((*axis as f32).to_le_bytes());
        }
        stl.extend([0; 2]);
    };
    for ring in 0..rings {
        for sector in 0..sectors {
            let [a, b] = [corner(ring, sector), corner(ring, sector + 1)];
            let [c, d] = [corner(ring + 1, sector), corner(ring + 1, sector + 1)];
            if ring + 1 < rings {
                facet([a, c, d]);
            }
            if ring > 0 {
                facet([a, d, b]);
            }
        }
    }
}

/// A binary STL of spheres with about this many facets each.
fn file(radii_mm: &[f64], facets: u32) -> Vec<u8> {
    // 4 rings² facets in a sphere.
    let rings = f64::from(facets / 4).sqrt();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a square root of a positive 32-bit number"
    )]
    let rings = rings as u32;
    let mut stl = vec![0; 84];
    for radius_mm in radii_mm {
        sphere(*radius_mm, rings, &mut stl);
    }
    let count = u32::try_from((stl.len() - 84) / 50).expect("fewer facets than 2³²");
    stl[80..84].copy_from_slice(&count.to_le_bytes());
    stl
}

fn import(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("import");
    group
        .sampling_mode(SamplingMode::Flat)
        .sample_size(10)
        .measurement_time(Duration::from_secs(10));
    for (name, stl) in [
        ("plain 60k", file(&[50.0], 60_000)),
        ("plain 1M", file(&[50.0], 1_000_000)),
        ("hollow 1M", file(&[50.0, 48.0], 500_000)),
    ] {
        let triangles = (stl.len() - 84) / 50;
        group.throughput(Throughput::Elements(triangles as u64));
        group.bench_function(name, |bencher| {
            bencher.iter(|| {
                let read = read_mesh_bytes("body.stl", &stl, Some(0.001), Beside::Nothing);
                read.expect("the body is a mesh").mesh.health
            });
        });
    }
    group.finish();
}

criterion_group!(benches, import);
criterion_main!(benches);
