//! A slab of gas between absorbing faces: transmission by Heaslet and Warming, mean path by Blanco and Fournier, and our own
//! earlier Monte Carlo with hard spheres.
//!
//! The slab is a millimetre of gas under a sheet that reaches sixty times as far: at a thickness of 0.1 less than 10⁻⁶ of the
//! atoms gets to its edge, exp(−0.1/cos θ) at cos θ = 1/60, and still less in thicker ones.

use crate::values;
use evenfall_sim::transport::{Moments, Tally};
use evenfall_tests::agreement::{Comparison, Disagreement, Spread, judge, measured, share};
use evenfall_tests::bench::Bench;
use evenfall_tests::solids::Sheet;
use glam::DVec3;

/// Thickness of the slab, m.
const THICK: f64 = 1e-3;
/// Half the width of sheet and chamber, m.
const HALF: f64 = 0.06;

/// What enters, and the law of scattering.
#[derive(Clone, Copy)]
struct Entry<'a> {
    /// Exponent of the cosine law: 1 for Lambert's, very large for a beam.
    cosine: f64,
    scatter: &'a str,
    metal: &'a str,
    /// What the slab's far face is.
    top: Top,
}

/// A face as a part tells what arrives there; as a fixture it is one triangle beside another and quickly made.
#[derive(Clone, Copy, PartialEq)]
enum Top {
    Part,
    Fixture,
}

const LAMBERT: Entry<'_> = Entry {
    cosine: 1.0,
    scatter: "isotropic",
    metal: "silver",
    top: Top::Fixture,
};

/// A slab of an optical thickness.
fn slab(tau: f64, entry: Entry<'_>) -> Bench {
    let mut top = Sheet::default();
    let corner = DVec3::new(-HALF, -HALF, THICK);
    // facing down
    top.grid(
        corner,
        [DVec3::Y * 2.0 * HALF, DVec3::X * 2.0 * HALF],
        [1, 1],
    );
    let bench = Bench::new().with(&format!(
            "[chamber]\nshape = \"box\"\nsize = [\"{0:?} m\", \"{0:?} m\", \"{THICK:?} m\"]\n\
             [gas]\npressure = \"1 Pa\"\nfree_path = \"{1:?} m\"\nscatter = \"{2}\"\n\
             [[source]]\nname = \"head\"\nkind = \"sputter\"\nmetal = \"{3}\"\nat = [\"0 mm\", \"0 mm\", \"0 mm\"]\n\
             facing = [0, 0, 1]\nfootprint = {{ shape = \"disc\", radius = \"1 mm\" }}\nlaw = {{ cosine = {4:?} }}\n\
             output = {{ atoms_per_second = 1.0e18 }}\n",
            2.0 * HALF,
            THICK / tau,
            entry.scatter,
            entry.metal,
            entry.cosine,
        ))
        ;
    let bench = match entry.top {
        Top::Part => bench.part("top", top),
        Top::Fixture => {
            // a plan needs a part: one in a corner, where nothing gets to
            let mut aside = Sheet::default();
            aside.patch(
                DVec3::new(0.9 * HALF, 0.9 * HALF, 0.5 * THICK),
                -DVec3::Z,
                2e-4,
            );
            bench.fixture("top", top).part("aside", aside)
        }
    };
    bench.step(1.0, "")
}

fn transmitted(tally: &Tally) -> (f64, f64) {
    let b = &tally.balance;
    share(b.part + b.fixtures, b.emitted)
}

fn collisions(tally: &Tally) -> (f64, f64) {
    tally.collisions.mean(tally.balance.emitted)
}

/// Optical thicknesses that are looked at.
const DEPTHS: [f64; 6] = [0.1, 0.5, 1.0, 2.0, 5.0, 10.0];
/// Atoms per slab.
const ATOMS: u64 = 192_000;

/// Transmissions and mean collisions of isotropic scattering, the free path of the program multiplied.
fn isotropic(longer: f64) -> Result<(), Disagreement> {
    let table = values!("heaslet_warming_1965");
    let mut all = Vec::new();
    for (tau, seed) in DEPTHS.iter().zip(0..) {
        let at = |name: &str| (table.quantity(name).at(&[("tau", *tau)]), 0.0);
        let lambert = slab(tau / longer, LAMBERT).fire(ATOMS, seed);
        let beam = Entry {
            cosine: 1e4,
            ..LAMBERT
        };
        let beam = slab(tau / longer, beam).fire(ATOMS, seed + 50);
        let mut add = |name: &str, found: (f64, f64)| {
            all.push(measured(format!("{name}, {tau}"), found, at(name)));
        };
        add("transmission, Lambert entry", transmitted(&lambert));
        add("transmission, beam entry", transmitted(&beam));
        add("mean scatterings, beam entry", collisions(&beam));
    }
    // the beam has an exponent of 10⁴: paths are longer by ⟨1/cos θ⟩ − 1 = 10⁻⁴
    all.iter_mut().for_each(|c| c.bias = 1e-4 * c.reference);
    judge(&all, Spread::Known, 0.02)
}

#[test]
fn slabs_that_scatter_isotropically_pass_their_tabulated_shares() {
    isotropic(1.0).unwrap();
}

#[test]
fn slabs_notice_a_free_path_two_per_cent_longer() {
    assert!(isotropic(1.02).unwrap_err().speaks_against());
}

/// Mean collisions of atoms that enter by the cosine law, over the optical thickness.
fn mean_path(cosine: f64) -> Result<(), Disagreement> {
    let whole = values!("blanco_fournier_2003")
        .quantity("mean path in a slab over its thickness")
        .rows[0]["value"];
    let mut all: Vec<Comparison> = Vec::new();
    for (scatter, metal) in [
        ("isotropic", "silver"),
        ("hard-sphere-at-rest", "silver"),
        ("hard-sphere-at-rest", "aluminium"),
        ("hard-sphere-at-rest", "gold"),
    ] {
        for tau in [0.1, 1.0, 10.0] {
            let entry = Entry {
                cosine,
                scatter,
                metal,
                top: Top::Fixture,
            };
            let tally = slab(tau, entry).fire(ATOMS, 100 + all.len() as u64);
            let name = format!("{scatter} {metal} {tau}");
            all.push(measured(name, collisions(&tally), (whole * tau, 0.0)));
        }
    }
    judge(&all, Spread::Known, 0.02)
}

#[test]
fn atoms_that_enter_a_slab_by_the_cosine_law_collide_twice_its_thickness_however_they_scatter() {
    mean_path(1.0).unwrap();
}

#[test]
fn the_mean_path_notices_an_exponent_of_1_15() {
    assert!(mean_path(1.15).unwrap_err().speaks_against());
}

/// Hard spheres against our own earlier Monte Carlo, which a second implementation must agree with; the program's free
/// path multiplied.
fn hard_spheres(longer: f64) -> Result<(), Disagreement> {
    let table = values!("own_monte_carlo");
    let mut all = Vec::new();
    for (row, seed) in table.quantity("slab transmission").rows.iter().zip(1000..) {
        let thermal = row["thermal"] > 0.5;
        let entry = Entry {
            cosine: 1.0,
            scatter: if thermal {
                "hard-sphere"
            } else {
                "hard-sphere-at-rest"
            },
            metal: if row["metal"] > 20.0 {
                "silver"
            } else {
                "aluminium"
            },
            top: Top::Part,
        };
        let tally = slab(row["tau"] / longer, entry).fire(ATOMS / 2, seed);
        let inputs = ["metal", "thermal", "tau"].map(|name| (name, row[name]));
        let mut add = |name: &str, found: (f64, f64)| {
            let quantity = table.quantity(name);
            let same = |row: &&std::collections::BTreeMap<String, f64>| {
                inputs.iter().all(|(key, x)| (row[*key] - x).abs() < 1e-9)
            };
            let known = quantity.rows.iter().find(same).expect("a row");
            let reference = (known["value"], known["std_error"]);
            all.push(measured(format!("{name} {row:?}"), found, reference));
        };
        let [front, _] = tally.arrivals[0];
        let micro = front.micro_ev.mean(front.atoms);
        let reflected = Moments {
            sum: tally.collisions.sum - front.collisions.sum,
            squares: tally.collisions.squares - front.collisions.squares,
        };
        add("slab transmission", transmitted(&tally));
        add(
            "collisions of what a slab transmits",
            front.collisions.mean(front.atoms),
        );
        add(
            "energy of what a slab transmits",
            (micro.0 * 1e-6, micro.1 * 1e-6),
        );
        add(
            "collisions of what a slab reflects",
            reflected.mean(tally.balance.emitted - front.atoms),
        );
    }
    judge(&all, Spread::Known, 0.2)
}

#[test]
fn hard_spheres_in_slabs_are_those_of_the_earlier_program() {
    hard_spheres(1.0).unwrap();
}

#[test]
fn hard_spheres_in_slabs_notice_a_free_path_three_per_cent_longer() {
    assert!(hard_spheres(1.03).unwrap_err().speaks_against());
}
