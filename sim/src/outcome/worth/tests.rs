use super::conducts::conducts;
use super::grows::grows;
use super::looks::{SOLID, looks, solid_from_m};
use super::*;
use crate::mesh::MeshHealth;
use crate::worth::optics::green_index_of;
use glam::{DAffine3, DVec3};

/// Squares of 1 mm in a row, two facets each, with these thicknesses (nm) and angles (deg).
fn row(squares: &[(f64, f64)]) -> PartOutcome {
    let facet = |row: u32, corners: [[f64; 2]; 3], (nm, deg): (f64, f64)| Facet {
        row,
        corners_m: corners.map(|[x, y]| DVec3::new(1e-3 * x, 1e-3 * y, 0.0)),
        thickness_m: 1e-9 * nm,
        std_error_m: 0.0,
        incidence_rad: if nm > 0.0 { deg.to_radians() } else { f64::NAN },
        state: if nm > 0.0 {
            State::Reached
        } else {
            State::Unreached
        },
        shares: [0.0; 7],
        regions: 0,
    };
    let facets = squares.iter().zip(0_u32..).flat_map(|(&(nm, deg), k)| {
        let (x, next) = (f64::from(k), f64::from(k + 1));
        [
            facet(2 * k, [[x, 0.0], [next, 0.0], [next, 1.0]], (nm, deg)),
            facet(2 * k + 1, [[x, 0.0], [next, 1.0], [x, 1.0]], (nm, deg)),
        ]
    });
    let facets: Vec<Facet> = facets.collect();
    PartOutcome {
        name: "strip".to_owned(),
        vertices_m: facets.iter().flat_map(|facet| facet.corners_m).collect(),
        triangles: (0..)
            .map(|k| [3 * k, 3 * k + 1, 3 * k + 2])
            .take(facets.len())
            .collect(),
        rows: Vec::new(),
        facets,
        back_facets: Vec::new(),
        by_step_m: Vec::new(),
        by_metal_m: Vec::new(),
        chamber_from_part: DAffine3::IDENTITY,
        both_sides: false,
        health: MeshHealth::default(),
        material: None,
    }
}

fn silver() -> Layers {
    Layers::one("silver")
}

#[test]
fn films_turn_solid_where_a_thousandth_passes() {
    // silver of n = 0.06, k = 3.586 at 548.6 nm on glass of 1.52: 88.678 nm; gold 0.43, 2.455: 134.275 nm; computed apart
    let nm = |metal| 1e9 * solid_from_m(green_index_of(metal).unwrap());
    // aluminium of 1.0728, 6.7839 at 563.57 nm: 40.119 nm; the wavelength here is 2.4 % shorter, and the depth with it
    for (metal, wanted) in [
        ("silver", 88.678),
        ("gold", 134.275),
        ("aluminium", 40.119 * 550.0 / 563.57),
    ] {
        let found = nm(metal);
        assert!((found / wanted - 1.0).abs() < 0.015, "{metal}: {found}");
    }
}

#[test]
fn looks_say_how_much_is_solid_and_what_passes_elsewhere() {
    let looks = looks(
        &row(&[(200.0, 0.0), (200.0, 0.0), (30.0, 0.0), (200.0, 0.0)]),
        &silver(),
    )
    .unwrap();
    assert!((looks.solid_fraction - 0.75).abs() < 1e-12);
    assert!(looks.light_through[0] < SOLID && looks.light_through[1] > 0.05);
    assert!(
        looks
            .sentence
            .starts_with("75.0 % of the area looks like solid silver"),
        "{}",
        looks.sentence
    );
    assert!(!looks.sentence.contains("islands"));
    let thin = looks::looks(&row(&[(4.0, 0.0)]), &silver()).unwrap();
    assert!(thin.sentence.contains("islands"), "{}", thin.sentence);
}

#[test]
fn a_gap_in_the_film_parts_what_conducts() {
    let whole = conducts(&row(&[(50.0, 0.0); 4]), &silver()).unwrap();
    assert_eq!(whole.pieces, 1);
    // Fuchs and Sondheimer at 50 nm: 0.474 069 Ω per square (computed apart), real films 1.5 to 3 times that
    let [low, high] = whole.square_ohm.unwrap();
    assert!((low / (1.5 * 0.474_069) - 1.0).abs() < 1e-5 && (high / low - 2.0).abs() < 1e-12);
    let parted = conducts(
        &row(&[(50.0, 0.0), (2.0, 0.0), (50.0, 0.0), (50.0, 0.0)]),
        &silver(),
    )
    .unwrap();
    assert_eq!(parted.pieces, 2);
    assert!((parted.largest_fraction - 2.0 / 3.0).abs() < 1e-12);
    assert!((parted.conducting_fraction - 0.75).abs() < 1e-12);
    assert!(
        parted.sentence.contains("in 2 pieces"),
        "{}",
        parted.sentence
    );
    let nothing = conducts(&row(&[(2.0, 0.0)]), &silver()).unwrap();
    assert_eq!(nothing.square_ohm, None);
    assert!(conducts(&row(&[(50.0, 0.0)]), &Layers::one("carbon")).is_none());
}

#[test]
fn grazing_film_that_is_thick_is_told() {
    let steep = grows(&row(&[(400.0, 70.0), (400.0, 10.0)])).unwrap();
    assert!((steep.mean_incidence_deg - 40.0).abs() < 1e-9);
    assert!((steep.grazing_fraction - 0.5).abs() < 1e-12);
    // 40 degrees: 22.76 by the tangent rule, 33.28 by the geometric one
    assert!(
        (steep.tilt_deg[0] - 22.760_476).abs() < 1e-4
            && (steep.tilt_deg[1] - 33.282_287).abs() < 1e-4
    );
    assert!(steep.sentence.contains("23 to 33°"), "{}", steep.sentence);
    let thin = grows(&row(&[(100.0, 70.0)])).unwrap();
    assert!(thin.grazing_fraction.abs() < 1e-12 && thin.sentence.contains("nowhere"));
    assert!(grows(&row(&[(0.0, 0.0)])).is_none());
}
