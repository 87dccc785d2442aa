//! Changing the plan from the window: grips, keys, tables; and what is replayed of it.

use super::{PLAN, coated, empty, folder, settle, window};
use crate::app::document::Change;
use crate::app::{Action, State};
use egui::Vec2;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use glam::DVec3;

/// The text of a value of the plan.
fn value(window: &Harness<'_, State>, key: &str) -> Option<String> {
    let document = window.state().document.as_ref().unwrap();
    let mut fields = document
        .sections()
        .iter()
        .flat_map(|section| &section.fields);
    fields
        .find(|field| field.key == key)
        .map(|field| field.text.clone())
}

fn drag(window: &mut Harness<'_, State>, label: &str, by: Vec2) {
    let from = window.get_by_label(label).rect().center();
    window.hover_at(from);
    window.run_steps(2);
    window.drag_at(from);
    window.run_steps(2);
    for part in [0.25, 0.5, 0.75, 1.0] {
        window.hover_at(from + by * part);
        window.run_steps(1);
    }
}

#[test]
fn a_part_is_moved_by_its_grip_in_one_edit_and_in_its_own_unit() {
    let (_folder, mut window) = coated();
    window.get_by_label("Move part").click();
    window.run_steps(3);
    window
        .state_mut()
        .apply(Action::LookFrom(crate::stage::orbit::Side::Front));
    window.run_steps(2);
    drag(&mut window, "Move cube z", Vec2::new(0.0, -60.0));
    // while it is dragged the plan stays, and the part is seen where it would be
    assert_eq!(value(&window, "part.cube.at.z").unwrap(), "150 mm");
    let nudged = window.state().nudge.unwrap().1.translation.z;
    assert!(nudged > 0.151, "{nudged}");
    let at = window.get_by_label("Move cube z").rect().center();
    window.drop_at(at);
    window.run_steps(3);
    let text = value(&window, "part.cube.at.z").unwrap();
    let z: f64 = text.strip_suffix(" mm").unwrap().parse().unwrap();
    assert!((1e-3 * z - nudged).abs() < 2e-3, "{text} {nudged}");
    assert!(
        (2.0 * z).fract().abs() < 1e-9,
        "round to half a millimetre: {text}"
    );
    settle(window.state_mut());
    window.run_steps(2);
    assert!(window.state().nudge.is_none());
    let placed = window.state().shown.as_ref().unwrap().outcome.parts[0].chamber_from_part;
    assert!((placed.translation.z - 1e-3 * z).abs() < 1e-12);
    window.state_mut().apply(Action::Undo);
    assert_eq!(value(&window, "part.cube.at.z").unwrap(), "150 mm");
    assert!(
        !window.state().document.as_ref().unwrap().can_undo(),
        "one edit"
    );
}

#[test]
fn a_part_is_turned_by_its_grip_with_the_keys() {
    let (_folder, mut window) = coated();
    window.get_by_label("Move part").click();
    window.run_steps(3);
    window.get_by_label("Turn cube y").focus();
    window.run_steps(2);
    window.key_press(egui::Key::ArrowUp);
    window.run_steps(3);
    assert_eq!(value(&window, "part.cube.turn.y").unwrap(), "21 deg");
}

#[test]
fn the_stage_is_turned_and_a_spot_is_pinned_with_the_keys_alone() {
    let (_folder, mut window) = coated();
    window.get_by_label("Stage").focus();
    window.run_steps(2);
    let before = window.state().orbit;
    window.key_press(egui::Key::ArrowRight);
    window.run_steps(2);
    window.key_press(egui::Key::ArrowRight);
    window.run_steps(2);
    let turned = window.state().orbit;
    let round = (before.round_rad - turned.round_rad).rem_euclid(std::f64::consts::TAU);
    assert!(
        (round - 0.06 * std::f64::consts::PI).abs() < 1e-9,
        "{round}"
    );
    window.key_press(egui::Key::Plus);
    window.run_steps(2);
    assert!(window.state().orbit.away_m < turned.away_m);
    window.state_mut().apply(Action::Fit);
    window.key_press(egui::Key::Enter);
    window.run_steps(2);
    assert!(window.state().spot.is_some());
}

#[test]
fn the_end_of_a_step_is_moved_with_the_keys() {
    let (_folder, mut window) = coated();
    window.get_by_label("End of step 1").focus();
    window.run_steps(2);
    window.key_press(egui::Key::ArrowRight);
    window.run_steps(3);
    assert_eq!(value(&window, "step.1.lasts").unwrap(), "11 min");
}

#[test]
fn a_missing_key_is_added_with_its_help_and_taken_out_again() {
    let (_folder, mut window) = coated();
    window.get_by_label("Keys of source head").click();
    window.run_steps(3);
    window.get_by_label("Add correction").click();
    window.run_steps(3);
    assert_eq!(value(&window, "source.head.correction").unwrap(), "1.0");
    settle(window.state_mut());
    assert!(
        window.state().trouble.is_empty(),
        "{:?}",
        window.state().trouble
    );
    window.get_by_label("Keys of source head").click();
    window.run_steps(3);
    window.get_by_label("Remove correction").click();
    window.run_steps(3);
    let document = window.state().document.as_ref().unwrap();
    assert_eq!(document.text(), PLAN);
}

#[test]
fn a_footprint_takes_another_form() {
    let (_folder, mut window) = coated();
    window.get_by_label("Keys of source head").click();
    window.run_steps(3);
    window.get_by_label("Change footprint to ring").click();
    window.run_steps(3);
    assert_eq!(
        value(&window, "source.head.footprint.shape").unwrap(),
        "ring"
    );
    assert!(value(&window, "source.head.footprint.inner_radius").is_some());
    assert!(value(&window, "source.head.footprint.radius").is_none());
}

#[test]
fn advice_is_added_to_the_plan_with_a_key_that_may_vary_and_then_another() {
    let (_folder, mut window) = coated();
    let add = |window: &mut Harness<'_, State>, name: &str| {
        window.get_by_label("Add to the plan").click();
        window.run_steps(3);
        window.get_by_label(name).click();
        window.run_steps(3);
    };
    add(&mut window, "advise");
    let key = |window: &Harness<'_, State>, number: u32| {
        value(window, &format!("advise.vary.{number}.key")).unwrap()
    };
    assert_eq!(key(&window, 1), "part.cube.turn.y");
    assert_eq!(value(&window, "advise.vary.1.from").unwrap(), "-30 deg");
    add(&mut window, "advise.vary");
    assert_eq!(key(&window, 2), "part.cube.turn.y");
    let section = window.state().document.as_ref().unwrap().sections();
    let second = section.iter().find(|s| s.title == "advise.vary 2").unwrap();
    let steps = second.fields[0].steps.clone();
    let change = Change::Set(steps, "part.cube.at.z".to_owned());
    window.state_mut().apply(Action::Edit(change));
    assert_eq!(key(&window, 2), "part.cube.at.z");
}

#[test]
fn a_table_is_added_to_the_plan() {
    let (_folder, mut window) = coated();
    window.get_by_label("Add to the plan").click();
    window.run_steps(3);
    window.get_by_label("coupon").click();
    window.run_steps(3);
    assert_eq!(value(&window, "coupon.new.name").unwrap(), "new");
    settle(window.state_mut());
    window.run_steps(2);
    window.get_by_label_contains("Coupon new:");
}

/// The state with a changed plan, coated.
fn coated_as(change: impl Fn(&str) -> String) -> (tempfile::TempDir, State) {
    let (folder, plan) = folder();
    let text = change(PLAN);
    assert_ne!(text, PLAN);
    std::fs::write(&plan, text).unwrap();
    let mut state = empty();
    state.apply(Action::Open(plan));
    settle(&mut state);
    assert!(state.trouble.is_empty(), "{:?}", state.trouble);
    (folder, state)
}

#[test]
fn a_swing_is_replayed_there_and_back() {
    let swing = "speed = \"6 rpm\"\nswing = \"120 deg\"";
    let (_folder, state) = coated_as(|plan| plan.replace("speed = \"6 rpm\"", swing));
    let shown = state.shown.as_ref().unwrap();
    // 6 rpm are 36° a second: up to 120°, and back
    for (time_s, degrees) in [(2.0, 72.0), (5.0, 60.0), (6.0, 24.0), (8.0, 48.0)] {
        let angle = shown.angles_at(time_s)[0].to_degrees();
        assert!((angle - degrees).abs() < 1e-9, "{time_s} s: {angle}");
    }
}

#[test]
fn a_part_that_is_re_posed_after_a_vent_is_replayed_where_it_then_is() {
    let again = "lasts = \"10 min\"\n[[step]]\nlasts = \"5 min\"\nvent = true\n\
        turn = { cube = [\"0 deg\", \"90 deg\", \"0 deg\"] }\n";
    let (_folder, mut state) = coated_as(|plan| plan.replace("lasts = \"10 min\"\n", again));
    let shown = state.shown.clone().unwrap();
    let mut normal_at = |time_s: f64| {
        state.apply(Action::Time(time_s));
        let place = state.places(&shown)[2];
        // the rotation is about z, so that heights are those of the pose
        place.transform_vector3(DVec3::X).z
    };
    let tilted = |degrees: f64| -degrees.to_radians().sin();
    assert!((normal_at(30.0) - tilted(20.0)).abs() < 1e-12);
    assert!((normal_at(650.0) - tilted(90.0)).abs() < 1e-12);
}

#[test]
fn figures_are_read_in_other_units_and_the_table_says_so() {
    use crate::app::settings::Settings;
    use evenfall_sim::outcome::reading::{FilmUnit, LengthUnit, Reading};
    let (_folder, mut window) = coated();
    window.state_mut().apply(Action::Set(Settings {
        reading: Reading {
            film: FilmUnit::Angstrom,
            length: LengthUnit::Inch,
        },
        ..Settings::default()
    }));
    window.run_steps(2);
    window.get_by_label_contains("reaches 1 000 Å");
    window.get_by_label("Copy as table").click();
    window.run_steps(1);
    let copied =
        window
            .output()
            .platform_output
            .commands
            .iter()
            .find_map(|command| match command {
                egui::OutputCommand::CopyText(text) => Some(text.clone()),
                _ => None,
            });
    let table = copied.expect("a table");
    let mean = table
        .lines()
        .find(|line| line.starts_with("mean thickness\tcube"))
        .unwrap();
    let cells: Vec<&str> = mean.split('\t').collect();
    let shown = window.state().shown.as_ref().unwrap();
    let nm = shown.outcome.summary.parts[0].thickness_nm.mean;
    assert_eq!(cells[4], "Å");
    assert!(
        (cells[2].parse::<f64>().unwrap() / (10.0 * nm) - 1.0).abs() < 1e-4,
        "{mean}"
    );
    assert!(table.lines().all(|line| line.split('\t').count() == 5));
    // a cube of 20 mm: 6 · 400 mm² = 3.72 in²
    let area = table
        .lines()
        .find(|line| line.starts_with("area\tcube"))
        .unwrap();
    assert_eq!(area, "area\tcube\t3.72\t\tin²");
}

#[test]
fn a_locked_scale_stays_when_the_film_changes() {
    let (_folder, mut window) = coated();
    window.get_by_label("Scale").click();
    window.run_steps(3);
    window.get_by_label("Lock the scale").click();
    window.run_steps(2);
    let ruler = |window: &Harness<'_, State>| {
        let state = window.state();
        state.look(state.shown.as_ref().unwrap()).ruler()
    };
    let before = ruler(&window).scale;
    super::type_into(&mut window, "output charge", "100 mg");
    settle(window.state_mut());
    window.run_steps(2);
    assert_eq!(ruler(&window).scale, before);
    assert!(ruler(&window).clamps()[1], "and thicker film is marked");
    window.state_mut().apply(Action::Hold(None));
    assert!(ruler(&window).scale.high_m > 1.5 * before.high_m);
}

#[test]
fn the_ends_of_the_scale_are_typed_under_the_legend_and_let_go_again() {
    let (_folder, mut window) = coated();
    let scale = |window: &Harness<'_, State>| {
        let state = window.state();
        state.look(state.shown.as_ref().unwrap()).ruler()
    };
    let own = scale(&window).scale;
    window.get_by_label("Change the scale").click();
    window.run_steps(3);
    super::type_into(&mut window, "Thickness to", "0,04 µm");
    assert!((scale(&window).scale.high_m - 40e-9).abs() < 1e-15);
    assert!(scale(&window).scale.low_m.total_cmp(&own.low_m).is_eq());
    assert!(scale(&window).clamps()[1], "thicker film is marked");
    super::type_into(&mut window, "Thickness from", "13");
    assert!((scale(&window).scale.low_m - 13e-9).abs() < 1e-15);
    let ticks = scale(&window).ticks(Default::default());
    assert_eq!(ticks[0], (0.0, "13".to_owned()), "{ticks:?}");
    // refused with the reason beside it, and nothing changes
    super::type_into(&mut window, "Thickness to", "10 nm");
    window.get_by_label_contains("the upper end 10 nm must be above the lower one, 13 nm");
    super::type_into(&mut window, "Thickness to", "10 rpm");
    assert!(window.query_by_label_contains("10 rpm").is_some());
    assert!((scale(&window).scale.high_m - 40e-9).abs() < 1e-15);
    window.get_by_label("Fit to the map").click();
    window.run_steps(2);
    assert_eq!(scale(&window).scale, own);
}

#[test]
fn a_small_stage_has_its_legend_above_and_a_large_one_beside_the_part() {
    let (_folder, mut window) = coated();
    let covered = |window: &Harness<'_, State>| {
        let stage = window.get_by_label("Stage").rect();
        stage.intersects(window.get_by_label("Change the scale").rect().shrink(1.0))
    };
    assert!(covered(&window));
    window.set_size(Vec2::new(960.0, 640.0));
    window.run_steps(4);
    assert!(!covered(&window));
}

#[test]
fn another_name_in_its_field_is_one_edit_that_reaches_all_that_refers_to_it() {
    let step = "lasts = \"10 min\"\npower = { head = 1 } # full\n";
    let (folder, state) = coated_as(|plan| plan.replace("lasts = \"10 min\"\n", step));
    let mut window = window(state);
    window.run_steps(3);
    let text = |window: &Harness<'_, State>| {
        let document = window.state().document.as_ref().unwrap();
        document.text().to_owned()
    };
    let before = text(&window);
    let fields = window
        .get_all_by_role_and_label(egui::accesskit::Role::TextInput, "name")
        .collect::<Vec<_>>();
    fields[0].focus();
    drop(fields);
    window.run_steps(2);
    window.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
    window.event(egui::Event::Text("gun".to_owned()));
    window.run_steps(2);
    window.key_press(egui::Key::Enter);
    window.run_steps(3);
    settle(window.state_mut());
    assert_eq!(
        text(&window),
        before.replace("head\"", "gun\"").replace("head =", "gun =")
    );
    assert!(
        window.state().trouble.is_empty(),
        "{:?}",
        window.state().trouble
    );
    window.state_mut().apply(Action::Undo);
    assert_eq!(text(&window), before);
    drop(folder);
}

#[test]
fn a_section_of_the_plan_is_gone_to() {
    let (_folder, mut window) = coated();
    window.set_size(Vec2::new(1000.0, 420.0));
    window.run_steps(3);
    let bottom = window.get_by_label("step 1").rect().top();
    assert!(bottom > 420.0, "out of sight: {bottom}");
    window.get_by_label("Go to a section of the plan").click();
    window.run_steps(3);
    let all = window.get_all_by_label("step 1").collect::<Vec<_>>();
    let entry = all
        .iter()
        .min_by(|a, b| a.rect().top().total_cmp(&b.rect().top()))
        .unwrap();
    entry.click();
    window.run_steps(30);
    let top = window.get_by_label("step 1").rect().top();
    assert!(top < 400.0, "{top}");
}

#[test]
fn an_empty_window_offers_nothing_that_needs_a_plan() {
    let mut window = window(empty());
    window.run_steps(2);
    assert!(window.query_by_label("Move part").is_none());
    assert!(window.query_by_label("Scale").is_none());
}
