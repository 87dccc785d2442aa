//! Rates that physics settles: a discharge and a melt along the road, and what is refused of them.

use evenfall_sim::plan::read_text;
use evenfall_sim::scene::{self, Meshes};
use evenfall_sim::transport::{Method, RunSettings, calibrate};
use evenfall_tests::solids::block;
use glam::DVec3;
use std::path::Path;
use std::sync::Arc;

/// Atoms of both steps together for a source with an output, or why there are none.
fn atoms(metal: &str, gas: &str, output: &str) -> Result<f64, String> {
    let kind = if output.starts_with("temperature") {
        "boat"
    } else {
        "sputter"
    };
    let text = format!(
        "[chamber]\nshape = \"cylinder\"\ndiameter = \"300 mm\"\nheight = \"300 mm\"\n{gas}\
         [[source]]\nname = \"head\"\nkind = \"{kind}\"\nmetal = \"{metal}\"\nat = [\"0 mm\", \"0 mm\", \"20 mm\"]\n\
         facing = [0, 0, 1]\nfootprint = {{ shape = \"disc\", radius = \"15 mm\" }}\noutput = {{ {output} }}\n\
         [[part]]\nname = \"block\"\nmesh = \"block.stl\"\nunit = \"m\"\nat = [\"0 mm\", \"0 mm\", \"100 mm\"]\n\
         [[step]]\nlasts = \"60 s\"\n[[step]]\nlasts = \"60 s\"\npower = 0.5\n"
    );
    let plan = read_text(Path::new("plan.toml"), &text).map_err(|found| found.to_string())?;
    let mut meshes = Meshes::default();
    let cube = block(DVec3::splat(-0.01), DVec3::splat(0.01));
    meshes.insert(plan.parts[0].mesh.path.clone(), cube.mesh());
    let scene = scene::lower(Arc::new(plan), &meshes).map_err(|found| found.to_string())?;
    let settings = RunSettings {
        method: Method::Auto,
        accuracy: 0.02,
        time: None,
        atoms: None,
        seed: 1,
        threads: 1,
    };
    let rates = calibrate(&scene, &settings).map_err(|found| found.to_string())?;
    Ok(rates.atoms[0].iter().sum())
}

#[test]
fn a_discharge_brings_as_many_atoms_as_its_ions_sputter() {
    // 0.2 A at 400 V, a tenth of it electrons: 0.18 A of argon ions of 300 eV, 1.9108 silver atoms each (Yamamura and
    // Tawara 1996), for 60 s and at half power for 60 s more
    let found = atoms("silver", "", "current = \"0.2 A\", voltage = \"400 V\"").unwrap();
    let wanted = 0.18 / 1.602_176_634e-19 * 1.910_815 * 90.0;
    assert!((found / wanted - 1.0).abs() < 1e-3, "{found:e} {wanted:e}");
    // the same by power, and without electrons a ninth more
    let by_power = "power = \"80 W\", voltage = \"400 V\", electron_share = 0.0";
    let more = atoms("silver", "", by_power).unwrap();
    assert!((more / found - 10.0 / 9.0).abs() < 1e-9, "{more:e}");
}

#[test]
fn another_gas_sputters_otherwise() {
    let output = "current = \"0.2 A\", voltage = \"400 V\"";
    let argon = atoms("gold", "[gas]\npressure = \"1 Pa\"\n", output).unwrap();
    let without = atoms("gold", "", output).unwrap();
    assert!(
        (argon / without - 1.0).abs() < 1e-12,
        "argon is taken where no gas is said"
    );
    let neon = atoms(
        "gold",
        "[gas]\nspecies = \"neon\"\npressure = \"1 Pa\"\n",
        output,
    )
    .unwrap();
    assert!(neon < 0.7 * argon, "a light ion moves a heavy atom badly");
}

#[test]
fn a_melt_brings_as_many_atoms_as_hertz_and_knudsen_say() {
    // gold at 1663.08 K has 1 Pa and loses 4.6035e21 atoms per m² and second (Alcock and others 1984, computed apart)
    let output = "temperature = \"1389.93 degC\", area = \"40 mm2\"";
    let found = atoms("gold", "", output).unwrap();
    let wanted = 4.603_529e21 * 40e-6 * 90.0;
    assert!((found / wanted - 1.0).abs() < 1e-3, "{found:e} {wanted:e}");
}

#[test]
fn what_is_not_known_of_a_rate_is_said() {
    let volts = "current = \"0.2 A\", voltage = \"400 V\"";
    for (metal, gas, output, says) in [
        (
            "carbon",
            "",
            "temperature = \"2000 degC\", area = \"40 mm2\"",
            "vapour pressure of carbon",
        ),
        (
            "chromium",
            "",
            "temperature = \"2000 degC\", area = \"40 mm2\"",
            "at 2273 K",
        ),
        (
            "silver",
            "[gas]\nspecies = \"nitrogen\"\npressure = \"1 Pa\"\n",
            volts,
            "ions of nitrogen",
        ),
        (
            "silver",
            "",
            "current = \"0.2 A\", voltage = \"12 V\"",
            "nothing leaves silver",
        ),
    ] {
        let said = atoms(metal, gas, output).unwrap_err();
        assert!(
            said.contains(says) && said.contains("source.head.output"),
            "{said}"
        );
        assert!(
            said.contains("say the output by coupon, charge or atoms_per_second"),
            "{said}"
        );
    }
}
