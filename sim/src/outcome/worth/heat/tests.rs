use super::*;
use crate::mesh::MeshHealth;
use glam::{DAffine3, DVec3};

const STEP: Stretch = Stretch {
    lasts_s: 600.0,
    vented: false,
};

/// Two millimetres of printing resin whose emissivity the plan says.
fn resin() -> Body {
    Body {
        said: Some("printing resin".to_owned()),
        spread: Spread::Stays,
        emissivity: Some([0.9; 2]),
        capacity_j_per_m2_k: Some(3450.0),
        wall_said: true,
        limit_k: Some(55.0 + ZERO_C_K),
    }
}

fn under(loads: &[[f64; 2]]) -> Loads {
    Loads {
        mean: loads.iter().map(|load| load.map(|q| 0.5 * q)).collect(),
        most: loads.to_vec(),
        hottest: 0,
        without_glow: None,
        guessed: None,
    }
}

#[test]
fn a_mild_run_stays_below_the_limit() {
    let heat = told(&resin(), &under(&[[50.0, 100.0]]), &[STEP]);
    // 50 and 100 W/m² over 3450 J/(m² K): 0.870 and 1.739 K a minute, by hand
    let rise = heat.rise_k_per_min.unwrap();
    assert!((rise[0] - 0.8696).abs() < 1e-3 && (rise[1] - 1.7391).abs() < 1e-3);
    let highest = heat.highest_c.unwrap();
    // ten minutes without losses would be 17.4 K on 26.85 °C; with them 37.8429 °C, integrated by another program
    assert!((highest[1] - 37.8429).abs() < 1e-3, "{highest:?}");
    assert!(heat.rests.is_none());
    assert!(
        heat.sentence.contains("stays below its limit of 55 °C")
            && heat
                .sentence
                .starts_with("The place that gets most takes about 5.0 to 10 mW/cm²"),
        "{}",
        heat.sentence
    );
}

#[test]
fn a_hot_run_is_told_when_it_passes_the_limit_and_how_to_rest() {
    let heat = told(&resin(), &under(&[[300.0, 600.0]]), &[STEP]);
    let rests = heat.rests.unwrap();
    assert!(rests.highest_c < 55.0 && rests.on_min > 0.5 && rests.off_min > rests.on_min);
    let [soonest, latest] = heat.limit_after_min.map(Option::unwrap);
    // without losses 28.15 K take 28.15 · 3450/600 s = 2.70 min at least, by hand
    assert!(soonest > 2.698 && soonest < latest, "{soonest} {latest}");
    assert!(
        heat.sentence.contains("passes its limit of 55 °C after")
            && heat.sentence.contains(", so coat for "),
        "{}",
        heat.sentence
    );
    // the sentence's own rests, run as a schedule, hold
    let (mut steps, mut loads) = (Vec::new(), Vec::new());
    for _ in 0..20 {
        for (minutes, load) in [(rests.on_min, 600.0), (rests.off_min, 0.0)] {
            steps.push(Stretch {
                lasts_s: 60.0 * minutes,
                vented: false,
            });
            loads.push([0.5 * load, load]);
        }
    }
    let again = told(&resin(), &under(&loads), &steps);
    assert!(again.highest_c.unwrap()[1] < 55.0, "{}", again.sentence);
}

#[test]
fn a_vent_between_steps_cools_the_part() {
    let load = [[100.0, 200.0]; 2];
    let through = told(&resin(), &under(&load), &[STEP, STEP]);
    let vented = Stretch {
        vented: true,
        ..STEP
    };
    let parted = told(&resin(), &under(&load), &[STEP, vented]);
    let once = told(&resin(), &under(&load[..1]), &[STEP]);
    assert_eq!(parted.highest_c, once.highest_c);
    assert!(through.highest_c.unwrap()[1] > parted.highest_c.unwrap()[1] + 1.0);
}

#[test]
fn what_the_plan_does_not_say_is_asked_for_and_never_guessed() {
    let bare = Body {
        said: None,
        emissivity: None,
        capacity_j_per_m2_k: None,
        wall_said: false,
        limit_k: None,
        ..resin()
    };
    let heat = told(&bare, &under(&[[300.0, 600.0]]), &[STEP]);
    assert!(heat.rise_k_per_min.is_none() && heat.steady_c.is_none() && heat.rests.is_none());
    assert!(
        heat.sentence
            .contains("the plan must say material and wall"),
        "{}",
        heat.sentence
    );
    let odd = Body {
        said: Some("plaster".to_owned()),
        wall_said: true,
        ..bare
    };
    let heat = told(&odd, &under(&[[300.0, 600.0]]), &[STEP]);
    assert!(
        heat.sentence.contains("plaster is not"),
        "{}",
        heat.sentence
    );
}

#[test]
fn heat_spreads_in_metal_so_that_the_mean_decides() {
    let metal = Body {
        spread: Spread::Spreads,
        ..resin()
    };
    let heat = told(&metal, &under(&[[300.0, 600.0]]), &[STEP]);
    assert!((heat.rise_k_per_min.unwrap()[1] - 60.0 * 300.0 / 3450.0).abs() < 1e-9);
    assert!(
        heat.sentence.starts_with("The part takes"),
        "{}",
        heat.sentence
    );
}

#[test]
fn no_sentence_carries_more_than_three_digits() {
    for load in [0.123_4, 77.77, 612.3, 123_456.7] {
        let heat = told(&resin(), &under(&[[0.5 * load, load]]), &[STEP]);
        for number in heat
            .sentence
            .split(|c: char| !c.is_ascii_digit() && c != '.')
        {
            let digits = number.trim_matches('.').trim_start_matches(['0', '.']);
            let count = digits.chars().filter(char::is_ascii_digit).count();
            assert!(count <= 3, "{number} in {}", heat.sentence);
        }
    }
}

/// A closed cube of 20 mm, one facet per triangle.
fn cube() -> PartOutcome {
    let vertices_m: Vec<DVec3> = (0..8_u32)
        .map(|bits| {
            let on = |bit: u32| 0.02 * f64::from((bits >> bit) & 1);
            DVec3::new(on(0), on(1), on(2))
        })
        .collect();
    let triangles = vec![
        [0, 2, 1],
        [1, 2, 3],
        [4, 5, 6],
        [5, 7, 6],
        [0, 1, 4],
        [1, 5, 4],
        [2, 6, 3],
        [3, 6, 7],
        [0, 4, 2],
        [2, 4, 6],
        [1, 3, 5],
        [3, 7, 5],
    ];
    let facets = triangles
        .iter()
        .map(|triangle: &[u32; 3]| crate::outcome::Facet {
            row: 0,
            corners_m: triangle.map(|corner| vertices_m[corner as usize]),
            thickness_m: 1e-7,
            std_error_m: 0.0,
            incidence_rad: 0.0,
            state: crate::film::State::Reached,
            shares: [0.0; 7],
            regions: 0,
        });
    PartOutcome {
        name: "cube".to_owned(),
        facets: facets.collect(),
        vertices_m,
        triangles,
        rows: Vec::new(),
        back_facets: Vec::new(),
        by_step_m: Vec::new(),
        by_metal_m: Vec::new(),
        chamber_from_part: DAffine3::IDENTITY,
        both_sides: false,
        health: MeshHealth {
            closed_shells: 1,
            ..MeshHealth::default()
        },
        material: None,
    }
}

#[test]
fn a_solid_cube_holds_a_sixth_of_its_edge_behind_each_face() {
    // volume over area = a³/(6 a²): 20 mm/6
    let cube = cube();
    let pieces = super::super::pieces(&cube);
    let deep = |wall_m, spread| depth_m(wall_m, spread, (&cube, &pieces));
    assert!((deep(1.0, Spread::Spreads) - 0.02 / 6.0).abs() < 1e-12);
    assert!((deep(0.001, Spread::Spreads) - 0.001).abs() < 1e-15);
    assert!((deep(0.005, Spread::Stays) - 0.005).abs() < 1e-15);
    let both = PartOutcome {
        both_sides: true,
        ..cube.clone()
    };
    assert!((depth_m(0.005, Spread::Stays, (&both, &pieces)) - 0.0025).abs() < 1e-15);
}
