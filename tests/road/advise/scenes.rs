//! Six scenes: advice is no worse than the best of a grid, for a tenth of its cost, and what it says of its best holds.
//!
//! In: plans and small meshes. Out: comparisons with a grid over the same keys and bounds (`grid`).

use super::grid::{Case, Compared, Vary};
use evenfall_tests::solids::{Sheet, ball, rings};
use glam::DVec3;

/// A head, a part at "part.stl", a turning table and what is wanted.
fn text(head_at: &str, part: &str, (on, more): (u32, &str)) -> String {
    format!(
        "[[source]]\nname = \"head\"\nkind = \"sputter\"\nmetal = \"silver\"\nfacing = [0, 0, 1]\nat = {head_at}\n\
         footprint = {{ shape = \"ring\", inner_radius = \"12 mm\", outer_radius = \"21 mm\" }}\nlaw = {{ cosine = 1.0 }}\n\
         output = {{ atoms_per_second = 1.0e17 }}\n\
         [[part]]\nname = \"part\"\nmesh = \"part.stl\"\nunit = \"m\"\n{part}\n\
         [[rotation]]\naxis = [0, 0, 1]\nspeed = \"60 rpm\"\n[[step]]\nlasts = \"60 min\"\n{more}\
         [film]\nwant = \"100 nm\"\non = \"{on} %\"\n"
    )
}

/// Keys that most scenes free: how far off the axis the head stands, how high the part hangs, how it is tilted.
fn vary([head, height, tilt]: [[f64; 2]; 3]) -> [Vary; 3] {
    [
        ("source.head.at.x", head, "mm"),
        ("part.part.at.z", height, "mm"),
        ("part.part.turn.y", tilt, "deg"),
    ]
}

/// Where the keys of [`vary`] stand.
const HEAD: &str = "[VALUE0, \"0 mm\", \"60 mm\"]";
const PART: &str = "at = [\"0 mm\", \"0 mm\", VALUE1]\nturn = [\"0 deg\", VALUE2, \"0 deg\"]";

/// Judges a case.
fn holds(case: &Case) {
    let Compared {
        advised,
        advice,
        reached,
        best,
        middle,
        grid_rays,
    } = case.compare();
    assert!(
        advice.no_worse_than(&best),
        "advice {advice:?}, best of the grid {best:?}"
    );
    assert!(
        !middle.no_worse_than(&best),
        "the comparison does not tell a middling pose {middle:?} from the best {best:?}"
    );
    let advice = &advised.advice;
    assert!(
        advice.rays * 10 < grid_rays,
        "{} of {grid_rays} rays",
        advice.rays
    );
    let told = &advice.candidates[0];
    let said = told.reached.expect("film is wanted");
    let apart = (said.value - reached.mean).abs();
    assert!(
        apart <= 2.0 * said.stderr.hypot(reached.error),
        "said {said:?} is reached, coated again {reached:?}"
    );
}

#[test]
fn advice_for_a_convex_part_is_no_worse_than_a_grid() {
    // an egg
    let mut egg = ball(8, 12);
    for corner in egg.triangles.iter_mut().flatten() {
        *corner *= DVec3::new(0.014, 0.014, 0.022);
    }
    holds(&Case {
        text: text(HEAD, PART, (75, "")),
        on: 0.75,
        vary: vary([[0.0, 80.0], [110.0, 180.0], [0.0, 90.0]]),
        part: egg,
    });
}

#[test]
fn advice_for_a_recessed_part_is_no_worse_than_a_grid() {
    // the inside of a cup that opens downward
    let wall = [(0.015, 0.02), (0.015, 0.01), (0.015, 0.0)];
    let mut profile = vec![(0.0, 0.02), (0.0075, 0.02)];
    profile.extend(wall);
    holds(&Case {
        text: text(HEAD, PART, (95, "")),
        on: 0.95,
        vary: vary([[0.0, 80.0], [100.0, 180.0], [0.0, 60.0]]),
        part: rings(&profile, 12),
    });
}

#[test]
fn advice_for_a_horn_is_no_worse_than_a_grid() {
    // the inside of a horn that opens downward, hung beside the axis
    let profile: Vec<(f64, f64)> = (0..=4)
        .map(|k| f64::from(k) / 4.0)
        .map(|share| (0.004 + 0.016 * share * share, 0.03 * (1.0 - share)))
        .collect();
    holds(&Case {
        text: text(
            "[\"30 mm\", \"10 mm\", \"60 mm\"]",
            "at = [VALUE0, \"0 mm\", VALUE1]\nturn = [\"0 deg\", VALUE2, \"0 deg\"]",
            (90, ""),
        ),
        on: 0.9,
        vary: [
            ("part.part.at.x", [-30.0, 50.0], "mm"),
            ("part.part.at.z", [100.0, 180.0], "mm"),
            ("part.part.turn.y", [-40.0, 40.0], "deg"),
        ],
        part: rings(&profile, 12),
    });
}

#[test]
fn advice_for_a_tile_is_no_worse_than_a_grid() {
    let mut tile = Sheet::default();
    let corner = DVec3::new(-0.03, -0.03, 0.0);
    tile.grid(corner, [DVec3::Y * 0.06, DVec3::X * 0.06], [7, 7]);
    holds(&Case {
        text: text(HEAD, PART, (95, "")),
        on: 0.95,
        vary: vary([[0.0, 80.0], [100.0, 200.0], [0.0, 40.0]]),
        part: tile,
    });
}

#[test]
fn advice_for_a_bushing_is_no_worse_than_a_grid() {
    // the inside of a tube that is open at both ends
    let profile: Vec<(f64, f64)> = (0..=4)
        .map(|k| (0.008, 0.008 - 0.016 * f64::from(k) / 4.0))
        .collect();
    holds(&Case {
        text: text(HEAD, PART, (95, "")),
        on: 0.95,
        vary: vary([[0.0, 80.0], [110.0, 180.0], [0.0, 90.0]]),
        part: rings(&profile, 12),
    });
}

#[test]
fn advice_for_a_collared_post_over_a_shield_is_no_worse_than_a_grid() {
    // the lowest poses of it cut the shield
    let profile = [
        (0.005, -0.02),
        (0.005, -0.01),
        (0.005, 0.0),
        (0.012, 0.0),
        (0.012, 0.006),
        (0.005, 0.006),
        (0.005, 0.014),
        (0.005, 0.022),
    ];
    let shield = "[[fixture]]\nname = \"shield\"\nbody = { shape = \"plate\", size = [\"160 mm\", \"160 mm\", \"1 mm\"], \
                  hole_diameter = \"60 mm\" }\nat = [\"30 mm\", \"0 mm\", \"66 mm\"]\n";
    holds(&Case {
        text: text(
            "[\"30 mm\", \"0 mm\", \"60 mm\"]",
            "at = [VALUE0, \"0 mm\", VALUE1]\nturn = [\"0 deg\", VALUE2, \"0 deg\"]",
            (80, shield),
        ),
        on: 0.8,
        vary: [
            ("part.part.at.x", [-10.0, 50.0], "mm"),
            ("part.part.at.z", [75.0, 150.0], "mm"),
            ("part.part.turn.y", [0.0, 90.0], "deg"),
        ],
        part: rings(&profile, 12),
    });
}
