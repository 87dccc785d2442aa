//! Standard errors tell the truth: deviations from it, in units of the stated error, have the rms they should.

use evenfall_sim::random::{Stream, Use};
use evenfall_tests::bench::{Asked, Bench, Coated, Head};
use evenfall_tests::solids::Sheet;
use glam::DVec3;

/// Seeds, and separated patches of two triangles each.
const SEEDS: u64 = 200;
const PATCHES: u32 = 60;

/// Patches all around a post that shades them in turn, turning past an off-axis ring behind a knife.
fn scene() -> Bench {
    let mut patches = Sheet::default();
    for i in 0..PATCHES {
        let turn = f64::from(i) * 2.4; // golden angle, rad
        let lift = f64::from(i) / f64::from(PATCHES);
        let radius = 0.02 + 0.02 * lift;
        let out = DVec3::new(turn.cos(), turn.sin(), 0.0);
        let normal = (out * (0.6 + lift) - DVec3::Z).normalize();
        patches.patch(out * radius + DVec3::Z * (0.1 + 0.03 * lift), normal, 1e-3);
    }
    Bench::new()
        .source(&Head {
            footprint: r#"{ shape = "ring", inner_radius = "12 mm", outer_radius = "21 mm" }"#,
            cosine: 1.0,
            at: DVec3::new(0.04, 0.0, 0.0),
            facing: DVec3::Z,
            along: None,
        })
        .part("patches", patches)
        .with(
            "[[fixture]]\nname = \"post\"\nbody = { shape = \"cylinder\", diameter = \"12 mm\", length = \"60 mm\" }\n\
             at = [\"10 mm\", \"0 mm\", \"100 mm\"]\nrides = \"part\"\n\
             [[fixture]]\nname = \"knife\"\nbody = { shape = \"plate\", size = [\"40 mm\", \"60 mm\", \"1 mm\"] }\n\
             at = [\"55 mm\", \"0 mm\", \"40 mm\"]",
        )
        .turning(DVec3::Z)
        .step(1.0, "")
}

/// Squared deviations over squared errors, `[seed][row]`: from the truth, and from one that is stretched.
fn squares(stretch: f64) -> [Vec<Vec<f64>>; 2] {
    let bench = scene();
    // the truth: so many lines that its own error does not count
    let truth = bench.coat(&Asked {
        seed: 1 << 40,
        ..Asked::gather(0.0015)
    });
    let films = (0..SEEDS).map(|seed| {
        bench.coat(&Asked {
            seed,
            ..Asked::gather(0.03)
        })
    });
    let of = |coated: &Coated, stretch: f64| -> Vec<f64> {
        (0..coated.rows())
            .map(|row| {
                let ((found, error), (true_flux, own)) = (coated.flux(row), truth.flux(row));
                (found - stretch * true_flux).powi(2) / (error * error + own * own)
            })
            .collect()
    };
    let both: Vec<[Vec<f64>; 2]> = films
        .map(|coated| [of(&coated, 1.0), of(&coated, stretch)])
        .collect();
    [0, 1].map(|k: usize| both.iter().map(|rows| rows[k].clone()).collect())
}

/// Root mean square over chosen seeds, less the factor √((R − 1)/(R − 3)) by which a t of R = 32 exceeds a
/// normal deviate (variance of Student's t, any textbook).
fn rms(squares: &[Vec<f64>], chosen: impl Iterator<Item = usize>) -> f64 {
    let (mut sum, mut count) = (0.0, 0);
    for seed in chosen {
        sum += squares[seed].iter().sum::<f64>();
        count += squares[seed].len();
    }
    (sum / f64::from(u32::try_from(count).unwrap()) * 29.0 / 31.0).sqrt()
}

/// The rms and the interval that holds it, by drawing seeds anew (B. Efron, Ann. Statist. 7, 1 (1979)).
fn rms_and_interval(squares: &[Vec<f64>]) -> (f64, [f64; 2]) {
    let mut dice = Stream::new(7, Use::Pilot, 0);
    let mut all: Vec<f64> = (0..4000)
        .map(|_| {
            #[expect(clippy::cast_sign_loss, reason = "0 to the number of seeds")]
            let draw = |_| (dice.uniform() * SEEDS as f64) as usize;
            let seeds: Vec<usize> = (0..SEEDS).map(draw).collect();
            rms(squares, seeds.into_iter())
        })
        .collect();
    all.sort_by(f64::total_cmp);
    (rms(squares, 0..squares.len()), [all[2], all[3997]])
}

#[test]
fn errors_of_gathered_films_have_the_size_they_state_and_a_shift_is_noticed() {
    // errors are about 2 % here; a truth 1.3 % off raises the rms to 1.2
    let [squares, shifted] = squares(1.013);
    assert!(squares.len() * squares[0].len() >= 4000);
    let (rms, [low, high]) = rms_and_interval(&squares);
    assert!(
        low < 1.0 && 1.0 < high,
        "rms {rms:.4}, {low:.4} to {high:.4}"
    );
    assert!((rms - 1.0).abs() < 0.1, "{rms}");
    let (rms, [low, _]) = rms_and_interval(&shifted);
    assert!(low > 1.0, "{rms} {low}");
}
