//! The panels driven by what a screen reader hears, without a display.

mod advice;
mod beside;
mod habits;
mod meter;
mod planning;
mod region;

use crate::app::State;
use crate::app::{Action, Running};
use crate::panel;
use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

const PLAN: &str = r#"# a cube over a disc
title = "Cube"
[chamber]
shape = "cylinder"
diameter = "300 mm"
height = "300 mm"
[[source]]
name = "head"
kind = "sputter"
metal = "silver"
at = ["0 mm", "0 mm", "60 mm"] # over the head
facing = [0, 0, 1]
footprint = { shape = "disc", radius = "20 mm" }
output = { charge = "50 mg" }
[[part]]
name = "cube"
mesh = "cube.stl"
unit = "mm"
at = ["0 mm", "0 mm", "150 mm"]
turn = ["0 deg", "20 deg", "0 deg"] # tilted
[[rotation]]
axis = [0, 0, 1]
speed = "6 rpm"
[[step]]
lasts = "10 min"
[film]
want = "100 nm"
"#;

/// Corners of a cube of 20 mm about the origin, face by face.
const FACES: [[[i8; 3]; 4]; 6] = [
    [[-1, -1, -1], [-1, 1, -1], [1, 1, -1], [1, -1, -1]],
    [[-1, -1, 1], [1, -1, 1], [1, 1, 1], [-1, 1, 1]],
    [[-1, -1, -1], [1, -1, -1], [1, -1, 1], [-1, -1, 1]],
    [[1, -1, -1], [1, 1, -1], [1, 1, 1], [1, -1, 1]],
    [[1, 1, -1], [-1, 1, -1], [-1, 1, 1], [1, 1, 1]],
    [[-1, 1, -1], [-1, -1, -1], [-1, -1, 1], [-1, 1, 1]],
];

/// A folder with a plan and its mesh.
pub fn folder() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let mut mesh = String::from("solid cube\n");
    for face in FACES {
        for triangle in [[0, 1, 2], [0, 2, 3]] {
            mesh.push_str("facet normal 0 0 0\nouter loop\n");
            for corner in triangle {
                let [x, y, z] = face[corner].map(|side| f64::from(side) * 10.0);
                mesh.push_str(&format!("vertex {x} {y} {z}\n"));
            }
            mesh.push_str("endloop\nendfacet\n");
        }
    }
    mesh.push_str("endsolid cube\n");
    std::fs::write(folder.path().join("cube.stl"), mesh).unwrap();
    let plan = folder.path().join("cube.toml");
    std::fs::write(&plan, PLAN).unwrap();
    (folder, plan)
}

/// A state that has nothing open.
pub fn empty() -> State {
    State::new(Arc::new(|| {}))
}

/// Waits until everything under way has ended.
pub fn settle(state: &mut State) {
    let patience = Instant::now() + Duration::from_secs(120);
    while state.is_busy() {
        assert!(Instant::now() < patience, "the run hangs");
        std::thread::sleep(Duration::from_millis(5));
        state.refresh();
    }
}

fn window(state: State) -> Harness<'static, State> {
    window_of([1280.0, 1100.0], state)
}

/// A window of another size, points.
fn window_of(size: [f32; 2], state: State) -> Harness<'static, State> {
    Harness::builder().with_size(size).build_ui_state(
        |ui, state: &mut State| {
            for action in panel::all(ui, state, None) {
                state.apply(action);
            }
        },
        state,
    )
}

/// The window with the cube's plan open and coated.
fn coated() -> (tempfile::TempDir, Harness<'static, State>) {
    coated_with(PLAN)
}

/// The window with another plan for the cube open and coated.
fn coated_with(text: &str) -> (tempfile::TempDir, Harness<'static, State>) {
    let (folder, plan) = folder();
    std::fs::write(&plan, text).unwrap();
    let mut state = empty();
    state.apply(Action::Open(plan));
    settle(&mut state);
    assert!(state.trouble.is_empty(), "{:?}", state.trouble);
    let mut window = window(state);
    window.run_steps(3);
    (folder, window)
}

fn type_into(window: &mut Harness<'_, State>, field: &str, text: &str) {
    window.get_by_role_and_label(Role::TextInput, field).focus();
    window.run_steps(2);
    window.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
    window.run_steps(1);
    window
        .get_by_role_and_label(Role::TextInput, field)
        .type_text(text);
    window.run_steps(2);
    window.key_press(egui::Key::Enter);
    window.run_steps(3);
}

fn mean_nm(window: &Harness<'_, State>) -> f64 {
    let shown = window.state().shown.as_ref().unwrap();
    shown.outcome.summary.parts[0].thickness_nm.mean
}

fn headline(window: &Harness<'_, State>) -> String {
    window
        .state()
        .shown
        .as_ref()
        .unwrap()
        .headline(Default::default())[0]
        .clone()
}

#[test]
fn a_plan_is_opened_by_typing_its_path() {
    let (_folder, plan) = folder();
    let mut window = window(empty());
    window.run_steps(2);
    type_into(&mut window, "Path", plan.to_str().unwrap());
    settle(window.state_mut());
    window.run_steps(2);
    assert!(headline(&window).contains("reaches 100 nm"));
    let said = headline(&window);
    window.get_by_label(&said);
}

#[test]
fn an_edited_tilt_gives_another_film_and_undo_brings_the_first_back() {
    let (_folder, mut window) = coated();
    let before = mean_nm(&window);
    type_into(&mut window, "turn y", "75 deg");
    settle(window.state_mut());
    window.run_steps(3);
    let after = mean_nm(&window);
    assert!((after / before - 1.0).abs() > 0.02, "{before} {after}");
    let document = window.state().document.as_ref().unwrap();
    assert!(document.text().contains("\"75 deg\", \"0 deg\"] # tilted"));
    window.get_by_label("Undo").click();
    window.run_steps(3);
    settle(window.state_mut());
    assert!(mean_nm(&window).total_cmp(&before).is_eq());
    window.get_by_label("Redo").click();
    window.run_steps(3);
    settle(window.state_mut());
    assert!(mean_nm(&window).total_cmp(&after).is_eq());
}

#[test]
fn what_is_wrong_stands_beside_its_field_and_the_last_map_stays() {
    let (_folder, mut window) = coated();
    let before = headline(&window);
    type_into(&mut window, "turn y", "20 mm");
    settle(window.state_mut());
    window.run_steps(3);
    window.get_by_label_contains("20 mm\" is a length");
    assert_eq!(headline(&window), before);
    type_into(&mut window, "turn y", "20 deg");
    settle(window.state_mut());
    window.run_steps(3);
    assert!(window.query_by_label_contains("is a length").is_none());
}

#[test]
fn a_click_on_the_part_pins_a_spot_and_says_why_it_gets_what_it_gets() {
    let (_folder, mut window) = coated();
    let middle = window.get_by_label("Stage").rect().center();
    window.get_by_label_contains("Click on a part");
    window.hover_at(middle);
    window.run_steps(2);
    window.drag_at(middle);
    window.run_steps(1);
    window.drop_at(middle);
    window.run_steps(3);
    assert!(window.state().spot.is_some());
    window.get_by_label("Pinned spot");
    window.get_by_label("Unpin").click();
    window.run_steps(2);
    assert!(window.state().spot.is_none());
}

#[test]
fn the_window_shows_the_numbers_of_coat() {
    use evenfall_sim::transport::{Method, RunSettings, Unwatched};
    use evenfall_sim::{film, outcome, plan, scene, transport};
    let (folder, window) = coated();
    let plan = Arc::new(plan::read(&folder.path().join("cube.toml")).unwrap());
    let meshes = scene::load_meshes(&plan).unwrap();
    let scene = scene::lower(plan, &meshes).unwrap();
    // the defaults of `coat`
    let settings = RunSettings {
        method: Method::Auto,
        accuracy: 0.02,
        time: None,
        atoms: None,
        seed: 1,
        threads: 0,
    };
    let rates = transport::calibrate(&scene, &settings).unwrap();
    let tally = transport::run(&scene, &rates, &settings, &Unwatched);
    let coat = outcome::assemble(
        &scene,
        &rates,
        &tally,
        film::grow(&scene, &tally),
        &settings,
    );
    let shown = window.state().shown.as_ref().unwrap();
    assert_eq!(shown.outcome.summary, coat.summary);
    assert_eq!(
        shown.outcome.parts[0].facets.len(),
        coat.parts[0].facets.len()
    );
    let mut pairs = shown.outcome.parts[0]
        .facets
        .iter()
        .zip(&coat.parts[0].facets);
    assert!(pairs.all(|(a, b)| a.thickness_m.to_bits() == b.thickness_m.to_bits()));
}

#[test]
fn the_playhead_shows_the_film_of_its_moment() {
    let (_folder, mut window) = coated();
    let shown = Arc::clone(window.state().shown.as_ref().unwrap());
    let thickest = shown
        .survey
        .patches
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.thickness_m.total_cmp(&b.1.thickness_m))
        .map(|(index, _)| index)
        .unwrap();
    let at = |time_s| crate::stage::paint::thickness_at(&shown, thickest, time_s);
    assert!(at(0.0).abs() < 1e-15);
    let half = at(0.5 * shown.lasts_s()) / at(f64::INFINITY);
    assert!((half - 0.5).abs() < 1e-6, "{half}");
    window.state_mut().apply(Action::Time(300.0));
    window.run_steps(2);
    window.get_by_label_contains("turning at 6 rpm");
}

#[test]
fn a_stopped_run_leaves_the_last_map_and_says_so() {
    let (_folder, mut window) = coated();
    window.state_mut().apply(Action::Run);
    window.state_mut().apply(Action::Cancel);
    window.run_steps(2);
    assert_eq!(window.state().running, Running::Cancelled);
    window.get_by_label_contains("stopped");
    assert!(window.state().shown.is_some());
}

#[test]
fn a_kept_map_holds_the_scale_and_offers_the_ratio() {
    let (_folder, mut window) = coated();
    window.get_by_label("Keep as A").click();
    window.run_steps(2);
    type_into(&mut window, "output charge", "100 mg");
    settle(window.state_mut());
    window.run_steps(2);
    window.get_by_label_contains("A: mean ");
    let state = window.state();
    let look = state.look(state.shown.as_ref().unwrap());
    let legend = crate::stage::paint::paint_legend(&look, crate::stage::paint::Paint::Thickness);
    let kept = state.pinned.as_ref().unwrap().scale;
    let top = legend.ticks.last().unwrap();
    assert_eq!(
        top.1,
        evenfall_sim::outcome::figures::trimmed(1e9 * kept.high_m)
    );
    // twice the charge: one of the four quarters up from the middle, everywhere
    let colours = crate::stage::paint::paint(&look, crate::stage::paint::Paint::Ratio);
    let [r, g, b] = evenfall_sim::outcome::colour::about_middle(0.75);
    let near = |bits: u32| {
        let [red, green, blue, sign] = bits.to_le_bytes();
        let off = [(red, r), (green, g), (blue, b)].map(|(a, b)| a.abs_diff(b));
        sign == 0 && off.iter().all(|&off| off < 4)
    };
    let with_film = colours.iter().filter(|bits| bits.to_le_bytes()[3] == 0);
    let (all, twice) = with_film.fold((0, 0), |(all, twice), &bits| {
        (all + 1, twice + usize::from(near(bits)))
    });
    assert!(2 * twice > all && all > 100, "{twice} of {all}");
}

#[test]
fn a_bare_mesh_begins_a_plan_once_its_unit_is_said() {
    let (folder, plan) = folder();
    std::fs::remove_file(&plan).unwrap();
    let mut window = window(empty());
    let mesh = folder.path().join("cube.stl");
    window.state_mut().apply(Action::Open(mesh));
    settle(window.state_mut());
    window.run_steps(3);
    assert!(window.state().document.is_none());
    window.get_by_label_contains("mm: 20 × 20 × 20 mm (0.787 × 0.787 × 0.787 in)");
    window
        .get_by_label_contains("cm: 200 × 200 × 200 mm")
        .click();
    window.run_steps(3);
    let document = window.state().document.as_ref().unwrap();
    assert!(document.is_unsaved() && !plan.exists());
    assert_eq!(document.path, plan);
    assert!(document.text().contains("\nmesh = \"cube.stl\" "));
    assert!(document.text().contains("\nunit = \"cm\" "));
    settle(window.state_mut());
    // 200 mm meet the shutter and the walls of the starter's chamber: that is said, not hidden
    assert!(!window.state().trouble.is_empty());
}

#[test]
fn the_lines_of_a_pinned_spot_say_what_its_shares_say() {
    use crate::stage::sight::Meets;
    let (_folder, plan) = folder();
    let still = PLAN.replace("[[rotation]]\naxis = [0, 0, 1]\nspeed = \"6 rpm\"\n", "");
    assert_ne!(still, PLAN);
    // a second head above, a tenth as strong and narrow: lines count by what comes along them
    let second = "[[source]]\nname = \"above\"\nkind = \"sputter\"\nmetal = \"silver\"\n\
        at = [\"0 mm\", \"0 mm\", \"240 mm\"]\nfacing = [0, 0, -1]\n\
        footprint = { shape = \"disc\", radius = \"20 mm\" }\nlaw = { cosine = 6.0 }\n\
        output = { charge = \"5 mg\" }\n[[part]]";
    let still = still.replacen("[[part]]", second, 1);
    std::fs::write(&plan, still).unwrap();
    let mut state = empty();
    state.apply(Action::Open(plan));
    settle(&mut state);
    state.apply(Action::Fit);
    let shown = Arc::clone(state.shown.as_ref().unwrap());
    let mut worst: f64 = 0.0;
    let (mut clear, mut behind) = (0, 0);
    for (x, y) in (-6..7).flat_map(|x| (-6..7).map(move |y| (x, y))) {
        let at = glam::DVec2::new(0.12 * f64::from(x), 0.12 * f64::from(y));
        let Some(spot) = panel::find(&state, &shown, at) else {
            continue;
        };
        state.apply(Action::Pin(Some(spot)));
        let sight = state.sight.as_ref().unwrap();
        let count = |meets| {
            sight
                .lines
                .iter()
                .filter(|line| line.meets == meets)
                .count()
        };
        clear += count(Meets::Nothing);
        behind += count(Meets::Behind);
        let direct = f64::from(shown.survey.patches[spot.patch].shares[0]);
        worst = worst.max((sight.share - direct).abs());
    }
    assert!(clear > 100 && behind > 100, "{clear} {behind}");
    // 32 lines tell a share to ±0.09 at worst, 25 in a grid to less
    assert!(worst < 0.15, "{worst}");
}

#[test]
fn a_pinned_spot_says_which_tilt_would_bring_it_more_and_that_is_true() {
    let (_folder, plan) = folder();
    let mut state = empty();
    state.apply(Action::Open(plan));
    settle(&mut state);
    state.apply(Action::Fit);
    let shown = Arc::clone(state.shown.as_ref().unwrap());
    // a side that faces the disc aslant
    let spots = (-6..7).flat_map(|x| (-6..7).map(move |y| (x, y)));
    let spot = spots
        .filter_map(|(x, y)| {
            let at = glam::DVec2::new(0.1 * f64::from(x), 0.1 * f64::from(y));
            panel::find(&state, &shown, at)
        })
        .find(|spot| (0.1..0.5).contains(&shown.survey.patches[spot.patch].shares[0]))
        .expect("a side that faces the disc aslant");
    state.apply(Action::Pin(Some(spot)));
    let tilt = state.sight.as_ref().unwrap().tilt.expect("a better tilt");
    let thickness = |state: &State| {
        let shown = state.shown.as_ref().unwrap();
        shown.survey.patches[spot.patch].thickness_m
    };
    let before = thickness(&state);
    let way = vec![
        crate::app::document::Step::Key("part".to_owned()),
        crate::app::document::Step::Place(0),
        crate::app::document::Step::Key("turn".to_owned()),
        crate::app::document::Step::Place(tilt.axis),
    ];
    let text = format!("{} rad", tilt.then_rad);
    state.apply(Action::Edit(crate::app::document::Change::Set(way, text)));
    settle(&mut state);
    assert!(state.trouble.is_empty(), "{:?}", state.trouble);
    let times = thickness(&state) / before;
    // 25 lines at 8 angles against the finished map
    assert!((times / tilt.times - 1.0).abs() < 0.15, "{times} {tilt:?}");
    assert!(times > 1.2, "{times}");
}
