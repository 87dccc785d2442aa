//! Stencils along the road: in the way in every method, counted, riding; edges looked at and corrected.

use evenfall_sim::stencil::{as_svg, read_artwork_bytes};
use evenfall_sim::transport::edges::EdgeProfile;
use evenfall_sim::transport::{Method, ProbePoint};
use evenfall_tests::bench::{Asked, Bench, Coated, Head};
use evenfall_tests::solids::Sheet;
use glam::DVec3;

const HEIGHT: f64 = 0.08;

/// A plate of 20 mm, coated side down, over a disc of 8 mm radius that stands aside.
fn bench(svg: &str, mask: &str) -> Bench {
    let mut plate = Sheet::default();
    plate.patch(DVec3::Z * HEIGHT, -DVec3::Z, 0.02);
    let lines = format!(
        "{mask}\nat = [\"0 mm\", \"0 mm\", \"80 mm\"]\nturn = [\"180 deg\", \"0 deg\", \"0 deg\"]\n"
    );
    Bench::new()
        .source(&Head {
            footprint: "{ shape = \"disc\", radius = \"8 mm\" }",
            cosine: 1.0,
            at: DVec3::X * 0.03,
            facing: DVec3::Z,
            along: None,
        })
        .part("plate", plate)
        .mask("plate", svg, &lines)
}

fn drawing(inside: &str) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"20mm\" height=\"20mm\" viewBox=\"-10 -10 20 20\">{inside}</svg>"
    )
}

/// A window of 8 by 8 mm.
const WINDOW: &str = r#"<rect x="-4" y="-4" width="8" height="8"/>"#;

fn mean(coated: &Coated) -> (f64, f64) {
    coated.per_atom(coated.tally.part_mean_m[0].0, coated.tally.part_mean_m[0].1)
}

#[test]
fn what_the_sheet_hides_lands_on_it_and_is_told_as_its_share() {
    let with = bench(&drawing(WINDOW), "sheet = \"0.1 mm\"").step(1.0, "");
    let gathered = with.coat(&Asked::rows(0.004));
    let fired = with.fire(4_000_000, 3);
    assert_eq!(gathered.tally.balance.fixtures, 0);
    assert!(fired.balance.mask > 0 && gathered.tally.balance.mask > 0);
    let total = fired.balance.mask
        + fired.balance.part
        + fired.balance.part_back
        + fired.balance.escaped
        + fired.balance.source;
    assert_eq!(total, fired.balance.emitted);
    // part and sheet together get what falls on the plate and a margin of 5 mm; the part alone what falls in the window
    let area: f64 = (0..gathered.rows()).map(|row| gathered.area_m2(row)).sum();
    let (flux, std_error) = mean(&gathered);
    let by_fire = fired.balance.part as f64 / fired.balance.emitted as f64 / area;
    let fire_error = by_fire / (fired.balance.part as f64).sqrt();
    assert!(
        (flux - by_fire).abs() < 4.0 * std_error.hypot(fire_error),
        "{flux} {by_fire}"
    );
    let share = fired.balance.part as f64 / (fired.balance.part + fired.balance.mask) as f64;
    assert!((share - 64.0 / 900.0).abs() < 0.01, "{share}");
    // far from the window everything is the sheet's share
    let sums = &gathered.tally.receivers;
    let covered = sums.iter().filter(|s| s.arrived == 0);
    assert!(covered.clone().count() > 10);
    for sums in covered {
        assert!(
            sums.shares[4] > 0.7 && sums.shares[0] == 0.0,
            "{:?}",
            sums.shares
        );
    }
}

#[test]
fn ground_is_open_where_shapes_are_sheet() {
    let open = |opens: &str| {
        let mask = format!("sheet = \"0.1 mm\"\nopens = \"{opens}\"");
        mean(
            &bench(&drawing(WINDOW), &mask)
                .step(1.0, "")
                .coat(&Asked::rows(0.004)),
        )
        .0
    };
    let mut plate = Sheet::default();
    plate.patch(DVec3::Z * HEIGHT, -DVec3::Z, 0.02);
    let all = Bench::new()
        .source(&Head {
            footprint: "{ shape = \"disc\", radius = \"8 mm\" }",
            cosine: 1.0,
            at: DVec3::X * 0.03,
            facing: DVec3::Z,
            along: None,
        })
        .part("plate", plate)
        .step(1.0, "")
        .coat(&Asked::rows(0.004));
    let (shapes, ground) = (open("shapes"), open("ground"));
    // each loses a rim of shadow: 0.1 mm · tan 20° along 8 mm, of 400 mm²
    let sum = (shapes + ground) / mean(&all).0;
    assert!(sum < 1.0 && sum > 0.985, "{sum}");
}

#[test]
fn a_sheet_rides_with_its_part() {
    let still = bench(&drawing(WINDOW), "sheet = \"0.1 mm\"");
    let stills: f64 = {
        // the same, held at 16 angles of a turn
        let holds: String = (0..16)
            .map(|k| {
                format!(
                    "[[step]]\nlasts = \"1 s\"\nhold = [\"{} deg\"]\n",
                    22.5 * f64::from(k)
                )
            })
            .collect();
        let coated = still
            .clone()
            .turning(DVec3::Z)
            .with(&holds)
            .coat(&Asked::rows(0.004));
        mean(&coated).0
    };
    let turning = mean(
        &still
            .turning(DVec3::Z)
            .step(16.0, "")
            .coat(&Asked::rows(0.004)),
    )
    .0;
    assert!((turning / stills - 1.0).abs() < 0.01, "{turning} {stills}");
}

#[test]
fn fire_alone_and_gas_meet_the_sheet_too() {
    let plan = bench(&drawing(WINDOW), "sheet = \"0.1 mm\"\nsticking = 0.5").step(1.0, "");
    let fired = plan.coat(&Asked {
        method: Method::Auto,
        atoms: 20_000,
        ..Asked::gather(0.2)
    });
    assert!(fired.tally.balance.mask > 0);
    assert!(fired.tally.stencils.is_empty());
    assert!(
        fired
            .scene
            .facts
            .warnings
            .iter()
            .any(|w| w.contains("only where atoms fly straight"))
    );
}

/// Round, square and narrow openings, and one inside another.
const OPENINGS: &str = r#"<circle cx="-5" cy="-5" r="2"/><rect x="1" y="-7" width="5" height="3"/>
    <rect x="-8" y="2" width="9" height="0.6"/><path fill-rule="evenodd" d="M3 1H9V7H3ZM5 3H7V5H5Z"/>"#;

#[test]
fn corrected_artwork_puts_edges_where_they_were_drawn_and_the_uncorrected_does_not() {
    let svg = drawing(OPENINGS);
    let mask = "sheet = \"0.08 mm\"\nlift = \"0.15 mm\"";
    let coated = bench(&svg, mask).step(1.0, "").coat(&Asked::gather(0.2));
    let film = &coated.tally.stencils[0];
    let drawn = film.edges.true_share();
    assert!(drawn < 0.95, "{drawn}");
    let corrected = film.corrected.as_ref().unwrap();
    assert!(
        corrected.edges.true_share() >= 0.95,
        "{}",
        corrected.edges.true_share()
    );
    assert_eq!(corrected.shapes.shapes.len(), 4);
    assert_eq!(
        corrected.vanished,
        evenfall_sim::stencil::Vanished::default()
    );
    // the corrected drawing, written, read and coated as any other, with other random numbers
    let text = as_svg(&corrected.shapes, Some(glam::DVec2::splat(0.02)));
    let again = read_artwork_bytes("again.svg", text.as_bytes(), None).unwrap();
    let apart = again.shapes.without(&corrected.shapes).area_m2()
        + corrected.shapes.without(&again.shapes).area_m2();
    assert!(apart < 1e-6 * 0.02 * 0.02 * 100.0, "{apart}");
    // a probe across one drawn edge, x = 1 mm, finds half of the open film there only under the corrected sheet
    let near = |x: f64| {
        film.edges.profiles.iter().min_by(|a, b| {
            let off = |p: &EdgeProfile| p.position_m.distance(DVec3::new(x, -0.0055, HEIGHT));
            off(a).total_cmp(&off(b))
        })
    };
    for x in [0.001, 0.006] {
        let there = near(x).unwrap();
        let half = |svg: &str| {
            let ends = [-3e-4, 3e-4].map(|dx| DVec3::new(x + dx, -0.0055, HEIGHT));
            let coated = bench(svg, mask)
                .probe("plate", ends, 301)
                .step(1.0, "")
                .coat(&Asked {
                    seed: 2,
                    ..Asked::gather(0.2)
                });
            crossing(&coated.tally.probes[0], 0.5 * there.open_m) - 3e-4
        };
        let allowed = there.tolerance_m() + 1e-6; // the probe's own steps are 2 um
        let (drawn, cut) = (half(&svg), half(&text));
        assert!(
            drawn.abs() > 2.0 * allowed,
            "at {x}: {drawn:e} against {allowed:e}"
        );
        assert!(cut.abs() <= allowed, "at {x}: {cut:e} against {allowed:e}");
    }
}

/// Where a probe crosses a thickness, m from its start.
fn crossing(points: &[ProbePoint], wanted_m: f64) -> f64 {
    let at = |p: &ProbePoint| p.sums.thickness_m - wanted_m;
    let pair = points
        .windows(2)
        .find(|pair| at(&pair[0]) * at(&pair[1]) <= 0.0)
        .unwrap();
    let [low, high] = [at(&pair[0]), at(&pair[1])];
    pair[0].s_m + (pair[1].s_m - pair[0].s_m) * (low / (low - high))
}

#[test]
fn corrections_notice_a_film_that_is_taken_for_half_at_four_tenths() {
    let svg = drawing(OPENINGS);
    let mask = "sheet = \"0.08 mm\"\nlift = \"0.15 mm\"";
    let coated = bench(&svg, mask).step(1.0, "").coat(&Asked::gather(0.2));
    let corrected = coated.tally.stencils[0].corrected.as_ref().unwrap();
    // where the same profiles cross four tenths is not where the edges were drawn
    let held = corrected.edges.profiles.iter().filter(|profile| {
        let wanted = 0.4 * profile.open_m;
        let crossing = profile.points.windows(2).find_map(|pair| {
            let [a, b] = [pair[0], pair[1]];
            (a.thickness_m < wanted && b.thickness_m >= wanted).then(|| {
                a.x_m + (b.x_m - a.x_m) * (wanted - a.thickness_m) / (b.thickness_m - a.thickness_m)
            })
        });
        crossing.is_some_and(|x| x.abs() <= 0.5 * profile.tolerance_m())
    });
    let share = held.count() as f64 / corrected.edges.profiles.len() as f64;
    assert!(share < 0.9, "{share}");
}
