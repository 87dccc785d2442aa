use super::*;
use proptest::prelude::*;

fn read(text: &str, dimension: Dimension) -> f64 {
    parse_quantity(text, dimension).unwrap()
}

#[track_caller]
fn same(text: &str, dimension: Dimension, si: f64) {
    let value = read(text, dimension);
    assert!(
        value.to_bits() == si.to_bits(),
        "{text} gave {value:e}, not {si:e}"
    );
}

#[track_caller]
fn near(text: &str, dimension: Dimension, si: f64) {
    let value = read(text, dimension);
    assert!(
        (value - si).abs() <= 4.0 * f64::EPSILON * si.abs(),
        "{text} gave {value:e}, not {si:e}"
    );
}

#[test]
fn decimal_units_give_the_nearest_double() {
    use Dimension::*;
    same("60 mm", Length, 0.06);
    same("2 m", Length, 2.0);
    same("12 cm", Length, 0.12);
    same("80 um", Length, 80e-6);
    same("120 nm", Length, 120e-9);
    same("800 Å", Length, 800e-10);
    same("90 s", Time, 90.0);
    same("0,67 Pa", Pressure, 0.67);
    same("1 hPa", Pressure, 100.0);
    same("1e-5 mbar", Pressure, 1e-3);
    same("1.2 g", Mass, 0.0012);
    same("250 mg", Mass, 250e-6);
    same("3kg", Mass, 3.0);
    same("300 K", Temperature, 300.0);
    same("8.4 g/cm3", Density, 8400.0);
    same("8400 kg/m3", Density, 8400.0);
    same("63.5 g/mol", MolarMass, 0.0635);
    same("40 mm2", Area, 40e-6);
    same("4 cm2", Area, 4e-4);
    same("1 m2", Area, 1.0);
    same("17 nOhm m", Resistivity, 17e-9);
    same("1.7 uOhm cm", Resistivity, 1.7e-8);
    same("2 Ohm m", Resistivity, 2.0);
    same("47 Ohm", Resistance, 47.0);
    same("4.7 kOhm", Resistance, 4700.0);
    same("80 W", Power, 80.0);
    same("1.5 kW", Power, 1500.0);
    same("420 V", Voltage, 420.0);
    same("0.2 A", Current, 0.2);
    same("200 mA", Current, 0.2);
    same("98 %", Share, 0.98);
    same("98%", Share, 0.98);
    same("1.5 rad", Angle, 1.5);
}

#[test]
fn other_units_follow_their_definitions() {
    use Dimension::*;
    use std::f64::consts::{PI, TAU};
    // International yard and pound agreement, 1959: 1 in = 25.4 mm, 1 ft = 12 in.
    near("2.5 in", Length, 0.0635);
    near("1 thou", Length, 25.4e-6);
    near("1 ft", Length, 0.3048);
    near("1 h", Time, 3600.0);
    near("12 min", Time, 720.0);
    near("180 deg", Angle, PI);
    near("1 turn", Angle, TAU);
    near("60 rpm", TurningSpeed, TAU);
    near("360 deg/s", TurningSpeed, TAU);
    // Atmosphere of 101 325 Pa, 760 torr.
    near("760 Torr", Pressure, 101_325.0);
    near("760000 mTorr", Pressure, 101_325.0);
    near("0 degC", Temperature, 273.15);
    near("1064.18 degC", Temperature, 1337.33);
    // 32 °F is the ice point, 212 °F the steam point of the old scale.
    near("32 degF", Temperature, 273.15);
    near("212 degF", Temperature, 373.15);
    // SI brochure: 1 eV = 1.602 176 634e-19 J.
    near("1 eV", Energy, 1.602_176_634e-19);
    near("2e3eV", Energy, 2e3 * 1.602_176_634e-19);
}

#[test]
fn every_code_point_of_micro_angstrom_ohm_and_degree_is_known() {
    use Dimension::*;
    for text in ["80 \u{b5}m", "80 \u{3bc}m", "80um"] {
        same(text, Length, 80e-6);
    }
    for text in ["8 \u{c5}", "8 \u{212b}", "8 A\u{30a}"] {
        same(text, Length, 8e-10);
    }
    for text in ["5 \u{2126}", "5 \u{3a9}", "5 Ohm"] {
        same(text, Resistance, 5.0);
    }
    same("17 nΩ·m", Resistivity, 17e-9);
    same("1.7 µΩ cm", Resistivity, 1.7e-8);
    near("20 °C", Temperature, 293.15);
    near("35°", Angle, 35f64.to_radians());
    same("40 mm²", Area, 40e-6);
    same("8.4 g/cm³", Density, 8400.0);
    same("300 \u{212a}", Temperature, 300.0);
}

#[test]
fn comma_and_dot_are_the_decimal_mark() {
    same("1,000 mm", Dimension::Length, 1e-3);
    same("0,5 mm", Dimension::Length, 0.5e-3);
    same(",5 mm", Dimension::Length, 0.5e-3);
    same("5. mm", Dimension::Length, 5e-3);
    same("-0.5\u{a0}mm", Dimension::Length, -0.5e-3);
    same("\u{2212}3 mm", Dimension::Length, -3e-3);
    same("+3 mm", Dimension::Length, 3e-3);
    same("2,5e-3 m", Dimension::Length, 2.5e-3);
}

#[test]
#[expect(clippy::too_many_lines, reason = "a table of texts and their refusals")]
fn what_is_no_quantity_is_refused_with_a_reason() {
    use Dimension::*;
    let wrong: &[(&str, Dimension, &str)] = &[
        (
            "",
            Length,
            "\"\" says nothing (a length belongs here); write for example \"60 mm\"",
        ),
        (
            "60",
            Length,
            "\"60\" has no unit (a length needs one); write for example \"60 mm\"",
        ),
        (
            "0.98",
            Share,
            "\"0.98\" has no unit (a share needs one); write for example \"98 %\"",
        ),
        (
            "wide",
            Length,
            "\"wide\" does not begin with a number (a length belongs here); write for example \"60 mm\"",
        ),
        (
            "mm 60",
            Length,
            "\"mm 60\" does not begin with a number (a length belongs here); write for example \"60 mm\"",
        ),
        (
            "nan mm",
            Length,
            "\"nan mm\" is not a finite number (nothing can be computed from it); write a number and its unit",
        ),
        (
            "-inf mm",
            Length,
            "\"-inf mm\" is not a finite number (nothing can be computed from it); write a number and its unit",
        ),
        (
            "1e400 mm",
            Length,
            "\"1e400 mm\" is too large (above 1.8e308 in m); check the exponent",
        ),
        (
            "1,000.5 mm",
            Length,
            "\"1,000.5 mm\" has two decimal marks (comma and dot both mean the decimal mark, there is no thousands separator); write one of them at most",
        ),
        (
            "60 s",
            Length,
            "\"60 s\" is a time (a length belongs here); use one of m, cm, mm, um, nm, Å, in, thou, ft",
        ),
        (
            "60 MM",
            Length,
            "\"60 MM\" has the unknown unit \"MM\" (a length belongs here); did you mean \"mm\"?",
        ),
        (
            "3 inch",
            Length,
            "\"3 inch\" has the unknown unit \"inch\" (a length belongs here); did you mean \"in\"?",
        ),
        (
            "90 sec",
            Time,
            "\"90 sec\" has the unknown unit \"sec\" (a time belongs here); did you mean \"s\"?",
        ),
        (
            "300 C",
            Temperature,
            "\"300 C\" has the unknown unit \"C\" (a temperature belongs here); did you mean \"degC\"?",
        ),
        (
            "3 furlong",
            Length,
            "\"3 furlong\" has the unknown unit \"furlong\" (a length belongs here); use one of m, cm, mm, um, nm, Å, in, thou, ft",
        ),
        (
            "5 A",
            Length,
            "\"5 A\" is a current (a length belongs here); use one of m, cm, mm, um, nm, Å, in, thou, ft",
        ),
        (
            "1_000 mm",
            Length,
            "\"1_000 mm\" has the unknown unit \"_000 mm\" (a length belongs here); use one of m, cm, mm, um, nm, Å, in, thou, ft",
        ),
    ];
    for (text, dimension, said) in wrong {
        let error = parse_quantity(text, *dimension).unwrap_err();
        assert_eq!(&error.to_string(), said);
    }
}

#[test]
fn every_unit_has_one_meaning() {
    let mut seen = std::collections::BTreeMap::new();
    for unit in UNITS {
        for name in unit.names {
            assert_eq!(&table::normalise(name), name);
            assert!(seen.insert(name, unit.dimension).is_none(), "{name} twice");
        }
    }
    for dimension in Dimension::ALL {
        for name in [dimension.usual_unit(), dimension.si_unit()] {
            assert_eq!(lookup(name).unwrap().dimension, dimension, "{name}");
        }
        assert!(matches!(
            lookup(dimension.si_unit()).unwrap().scale,
            Scale::Ten(_)
        ));
    }
}

#[test]
fn reports_round_to_what_a_person_reads() {
    assert_eq!(mm(0.3), "300 mm");
    assert_eq!(mm_and_inch(0.3), "300 mm (11.81 in)");
    assert_eq!(nm(98.24e-9), "98.2 nm");
    assert_eq!(nm(0.0), "0 nm");
    assert_eq!(nm(1234.6e-9), "1230 nm");
    assert_eq!(degrees(35f64.to_radians()), "35 deg");
    assert_eq!(clock(45.0), "45 s");
    assert_eq!(clock(59.6), "1:00 min");
    assert_eq!(clock(750.0), "12:30 min");
    assert_eq!(clock(3600.0 + 300.0), "1:05:00 h");
    assert_eq!(significant(0.000_012_345, 3), "1.23e-5");
    assert_eq!(significant(-0.012_345, 3), "-0.0123");
    assert_eq!(significant(f64::NAN, 3), "NaN");
}

#[test]
fn exact_texts_are_short_where_they_can_be() {
    assert_eq!(exact_quantity(0.06, Dimension::Length, "mm"), "60 mm");
    assert_eq!(exact_quantity(0.0635, Dimension::Length, "in"), "2.5 in");
    assert_eq!(
        exact_quantity(35f64.to_radians(), Dimension::Angle, "deg"),
        "35 deg"
    );
    assert_eq!(exact_quantity(8e-8, Dimension::Length, "Å"), "800 Å");
    assert_eq!(exact_quantity(0.98, Dimension::Share, "%"), "98 %");
    assert_eq!(exact_quantity(5.0, Dimension::Length, "s"), "5 m");
}

proptest! {
    #[test]
    fn any_finite_quantity_written_and_read_is_the_same(
        si in proptest::num::f64::ANY.prop_filter("finite", |x| x.is_finite()),
        unit in proptest::sample::select(UNITS),
    ) {
        let text = exact_quantity(si, unit.dimension, unit.names[0]);
        let back = parse_quantity(&text, unit.dimension).unwrap();
        prop_assert_eq!(back.to_bits(), si.to_bits(), "{}", text);
    }

    #[test]
    fn usual_sizes_keep_the_unit_wished_for_to_within_rounding(
        number in -1e4..1e4f64,
        unit in proptest::sample::select(UNITS),
    ) {
        let text = format!("{number} {}", unit.names[0]);
        let si = parse_quantity(&text, unit.dimension).unwrap();
        let back = unit.scale.from_si(si);
        prop_assert!((back - number).abs() <= 1e-12 * number.abs().max(1e3), "{back} {number}");
    }

    #[test]
    fn random_text_never_panics(text in "\\PC*", which in 0usize..17) {
        let _ = parse_quantity(&text, Dimension::ALL[which]);
        let _ = dimension_of(&text);
    }

    #[test]
    fn number_like_text_never_panics(text in "[-+0-9.,eE nanif%µÅmTor\u{2212}]{0,24}", which in 0usize..17) {
        if let Ok(value) = parse_quantity(&text, Dimension::ALL[which]) {
            prop_assert!(value.is_finite());
        }
    }
}
