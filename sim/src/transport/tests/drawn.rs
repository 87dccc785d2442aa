//! Lines drawn four at a time against each alone, and footprints against what is said to hold them.

use super::super::cluster::{Cluster, Common, MOST};
use super::super::draw::{FourLines, Pen, Points};
use super::super::lines::{Line, Target, rigid_inverse};
use super::super::window::{BINS, Window};
use super::{lines_of, source, staged};
use crate::lanes::{LANES, Level};
use crate::plan::model::{Coupon, EmissionLaw, Footprint, Rides, Source};
use crate::random::{Stream, Use};
use crate::scene::Scene;
use glam::DVec3;

/// Rotations: axis, speed, swing.
type Turns<'a> = &'a [(DVec3, f64, Option<f64>)];

/// Sources and motions of every kind.
fn scenes() -> Vec<Scene> {
    let ring = Footprint::Ring {
        inner_radius_m: 0.012,
        outer_radius_m: 0.021,
    };
    let rectangle = Footprint::Rectangle {
        width_m: 0.04,
        depth_m: 0.01,
    };
    let turn = (DVec3::new(0.2, 0.1, 1.0).normalize(), 1.7, None);
    let swing = (DVec3::X, 0.6, Some(0.8));
    let slow = (DVec3::Z, -0.01, None); // a part of a turn
    let of = |footprint: &Footprint, law: Option<EmissionLaw>, turns: Turns| {
        let plain = source(1.6);
        let source = Source {
            footprint: footprint.clone(),
            at_m: DVec3::new(0.03, 0.02, -0.01),
            facing: DVec3::new(0.1, -0.2, 1.0).normalize(),
            law: law.unwrap_or(plain.law.clone()),
            ..plain
        };
        let still = Coupon {
            name: "slide".into(),
            at_m: DVec3::new(0.05, 0.02, 0.25),
            facing: DVec3::NEG_Z,
            size_m: 0.01,
            rides: Rides::Chamber,
            sticking: 1.0,
        };
        staged(source, turns, vec![still])
    };
    vec![
        of(&ring, None, &[turn]),
        of(&ring, None, &[swing]),
        of(&ring, Some(EmissionLaw::CosinePower { exponent: 1.0 }), &[]),
        of(&rectangle, None, &[slow]),
        of(&Footprint::Spot, None, &[turn, swing]),
        of(&rectangle, None, &[]),
    ]
}

fn bits(line: &Line) -> Vec<u64> {
    let mut numbers = vec![line.open, line.cosine];
    let ends = line.ends.iter().flat_map(|ends| [ends.from, ends.to]);
    for vector in ends.chain([line.toward]) {
        numbers.extend(vector.to_array());
    }
    numbers.into_iter().map(f64::to_bits).collect()
}

/// Lines that differ in some bit from those drawn alone towards the receiver `off` places on, and all.
fn unlike(level: Level, off: usize) -> (usize, usize) {
    let (mut wrong, mut all) = (0, 0);
    for scene in scenes() {
        let lines = lines_of(&scene);
        let channel = &lines.channels[0];
        let mut dice = Stream::new(5, Use::Atom, 0);
        let targets: Vec<Target> = scene
            .receivers
            .iter()
            .filter_map(|receiver| lines.target(receiver, 0))
            .collect();
        // every so many, and the last, which stands still
        let some = (0..targets.len()).step_by(37).chain([targets.len() - 1]);
        for number in some {
            let window = lines.window(0, &targets[number], None);
            let pen = Pen {
                lines: &lines,
                channel,
                target: &targets[(number + off) % targets.len()],
                window: &window,
            };
            let points: Points = std::array::from_fn(|_| std::array::from_fn(|_| dice.uniform()));
            let mut four = FourLines::default();
            pen.draw(level, &points, &mut four);
            for lane in 0..LANES {
                let mut u = points.map(|lanes| lanes[lane]);
                let time = window.place(u[4]);
                u[4] = time.at;
                let alone = lines.line(channel, &targets[number], u);
                let same = bits(&four.line(lane)) == bits(&alone)
                    && four.weight[lane].to_bits() == time.weight.to_bits()
                    && four.bin[lane] == time.bin;
                wrong += usize::from(!same);
                all += 1;
            }
        }
    }
    (wrong, all)
}

#[test]
fn four_lines_are_drawn_as_each_alone() {
    for level in Level::all() {
        let (wrong, all) = unlike(level, 0);
        assert_eq!(wrong, 0, "{level:?}");
        assert!(all > 400, "{all}");
    }
}

#[test]
fn the_comparison_notices_another_receiver() {
    let (wrong, all) = unlike(Level::Base, 1);
    assert_eq!(wrong, all);
}

/// How far points of a footprint reach, as a rider sees it within a piece of the step, out of the hull of the two
/// balls that a shaft goes to, over the radius of the balls: the largest for balls `share` as large.
fn reach_out(share: f64) -> f64 {
    let mut most = f64::NEG_INFINITY;
    for scene in scenes() {
        let lines = lines_of(&scene);
        let channel = &lines.channels[0];
        if channel.motion.moving() != 1 {
            continue;
        }
        let mut dice = Stream::new(6, Use::Atom, 0);
        for bin in 0..BINS {
            let [(from, radius), (to, _)] = lines.balls(0, bin).expect("one rotation moves");
            for _ in 0..200 {
                let within = (bin as f64 + dice.uniform()) / BINS as f64;
                let start = lines.start(channel, dice.pair()).position_m;
                let seen = rigid_inverse(&lines.pose(channel, within)).transform_point3(start);
                // distance from the segment between the centres
                let way = to - from;
                let along = (seen - from).dot(way) / way.length_squared().max(f64::MIN_POSITIVE);
                let off = seen.distance(from + way * along.clamp(0.0, 1.0));
                most = most.max((off - share * radius) / radius);
            }
        }
    }
    most
}

#[test]
fn the_balls_of_a_shaft_hold_the_footprint_through_a_piece() {
    let most = reach_out(1.0);
    assert!(most <= 0.0, "{most}");
    assert!(most > -0.1, "balls are no larger than need be: {most}");
}

#[test]
fn balls_a_little_smaller_are_noticed() {
    assert!(reach_out(0.97) > 0.0);
}

/// Lines to a cluster of up to eight receivers, seen otherwise than each alone towards the receiver `off` places on
/// (flux, incidence, in the way or not); all, and those with something in the way.
fn unlike_in_clusters(off: usize) -> [usize; 3] {
    let mut counts = [0; 3];
    for scene in scenes() {
        let lines = lines_of(&scene);
        let channel = &lines.channels[0];
        let mut dice = Stream::new(7, Use::Atom, 0);
        let targets: Vec<Target> = scene
            .receivers
            .iter()
            .filter_map(|receiver| lines.target(receiver, 0))
            .filter(|target| target.riding())
            .collect();
        for first in (0..targets.len() - 16).step_by(53) {
            let members = &targets[first..first + 1 + first % 8];
            let window = [const { Window::EVEN }; MOST];
            let common = Common {
                lines: &lines,
                channel,
                thickness: 1.0,
                visible: 0.0,
                draws: 96 * u32::from(first % 2 == 0),
            };
            let cluster = Cluster::new(common, members, &window[..members.len()], [0; MOST])
                .expect("a window that is not shut");
            let points: Points = std::array::from_fn(|_| std::array::from_fn(|_| dice.uniform()));
            cluster.look(&points, LANES, |lane, sight| {
                for member in 0..members.len() {
                    let other = &targets[first + member + off];
                    let line = lines.line(channel, other, points.map(|lanes| lanes[lane]));
                    let near = |a: f64, b: f64| (a - b).abs() <= 1e-12 * (1.0 + b.abs());
                    let in_front = line.open > 0.0 && line.cosine > 0.0;
                    let clear = in_front
                        && [false, true].into_iter().all(|riding| {
                            let kernel = &lines.group(0, riding).kernel;
                            let ends = &line.ends[usize::from(riding)];
                            let skip = riding.then_some(other.triangle());
                            !kernel.blocked(ends.to, ends.from, skip)
                        });
                    let same = near(sight.open[member], line.open)
                        && near(sight.cosine[member], line.cosine)
                        && sight.is_clear(member) == clear;
                    counts[0] += usize::from(!same);
                    counts[1] += 1;
                    counts[2] += usize::from(in_front && !clear);
                }
            });
        }
    }
    counts
}

#[test]
fn lines_of_a_cluster_are_seen_as_each_alone() {
    let [wrong, all, blocked] = unlike_in_clusters(0);
    assert_eq!(wrong, 0, "of {all}");
    assert!(all > 1000, "{all} {blocked}");
}

#[test]
fn the_comparison_of_clusters_notices_other_receivers() {
    let [wrong, all, _] = unlike_in_clusters(8);
    assert!(2 * wrong > all, "{wrong} of {all}");
}
