//! Pictures on a device, real or software; `tests/all` installs a software one.

use super::{Face, Mirror};
use crate::app::{Action, State};
use crate::gpu::{self, Gpu, Picture};
use crate::panel::tests::{empty, folder, settle};
use crate::shot::{self, Shot};
use crate::stage::orbit::Side;
use crate::stage::paint::Paint;
use egui::{Context, Theme};

const SHOT: Shot = Shot {
    size: [900, 600],
    scale: 1.0,
    theme: Theme::Light,
};

fn device() -> Gpu {
    Gpu::open(&gpu::instance(None), None)
        .expect("a graphics device, or a software one such as Debian's mesa-vulkan-drivers")
}

/// The cube's plan open and coated, looked at from above its tilted top.
fn coated() -> (tempfile::TempDir, State) {
    let (folder, plan) = folder();
    let mut state = empty();
    state.apply(Action::Open(plan));
    settle(&mut state);
    (folder, state)
}

/// Draws frames until the layout stands.
fn draw(face: &mut Face, ctx: &Context, mirror: &mut Mirror, state: &mut State) -> Picture {
    let mut picture = None;
    for _ in 0..4 {
        let output = shot::frame(ctx, &shot::input(&SHOT), state, face.picture());
        face.draw_stage(state, ctx);
        picture = Some(face.shoot(ctx, output, mirror, SHOT.size).unwrap());
    }
    picture.unwrap()
}

/// Pixels of which some channel differs by more than 8.
fn unlike(a: &Picture, b: &Picture) -> usize {
    assert_eq!([a.width, a.height], [b.width, b.height]);
    let pixels = a.rgba.chunks(4).zip(b.rgba.chunks(4));
    pixels
        .filter(|(a, b)| a.iter().zip(*b).any(|(a, b)| a.abs_diff(*b) > 8))
        .count()
}

/// Failed pixels that are allowed: 10⁻⁴ of the picture.
fn allowed() -> usize {
    (SHOT.size[0] * SHOT.size[1] / 10_000) as usize
}

#[test]
fn a_lost_device_is_opened_again_and_shows_the_same_picture() {
    let (_folder, mut state) = coated();
    let (ctx, mut mirror) = (Context::default(), Mirror::default());
    ctx.set_theme(SHOT.theme);
    let mut face = Face::new(device(), gpu::FORMAT, &mirror);
    let before = draw(&mut face, &ctx, &mut mirror, &mut state);
    assert!(!face.gpu.is_lost());
    face.gpu.device.destroy();
    // Whatever is drawn on a lost device must not end the program.
    let output = shot::frame(&ctx, &shot::input(&SHOT), &mut state, face.picture());
    state.stage_version += 1;
    face.draw_stage(&state, &ctx);
    assert!(face.shoot(&ctx, output, &mut mirror, SHOT.size).is_err());
    assert!(face.gpu.is_lost());
    let mut again = Face::new(device(), gpu::FORMAT, &mirror);
    let after = draw(&mut again, &ctx, &mut mirror, &mut state);
    let off = unlike(&before, &after);
    assert!(off <= allowed(), "{off} pixels differ");
}

/// First byte of the pixel at a spot of the stage.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "pixels of a window"
)]
fn pixel(place: &egui::Rect, (x, y): (f64, f64), width: u32) -> usize {
    let half = 0.5 * place.size();
    let at = place.center() + egui::Vec2::new(x as f32 * half.x, -y as f32 * half.y);
    (at.y as u32 * width + at.x as u32) as usize * 4
}

#[test]
fn the_stage_shows_the_colours_of_the_scale() {
    let (_folder, mut state) = coated();
    let (ctx, mut mirror) = (Context::default(), Mirror::default());
    let mut face = Face::new(device(), gpu::FORMAT, &mirror);
    let off = |state: &State, picture: &Picture, ctx: &Context| {
        let place = ctx.data(|data| data.get_temp(egui::Id::unique(crate::panel::PLACE)));
        let place: egui::Rect = place.unwrap();
        let shown = state.shown.as_ref().unwrap();
        let colours = crate::stage::paint::paint(&state.look(shown), Paint::Thickness);
        let places = state.places(shown);
        // spots with enough film, which bear no stripes
        let grid =
            (-9..10).flat_map(|x| (-9..10).map(move |y| (0.1 * f64::from(x), 0.1 * f64::from(y))));
        let spots = grid.filter_map(|(x, y)| {
            let spot = crate::panel::find(state, shown, glam::DVec2::new(x, y))?;
            let [r, g, b, sign] = colours[spot.patch].to_le_bytes();
            (sign == 0).then_some(((x, y), spot, [r, g, b]))
        });
        let mut differences: Vec<f64> = spots
            .map(|((x, y), spot, colour)| {
                // shading by the angle between the side and the line of sight, as the shader has it
                let pose = places[2 + spot.part];
                let toward = state.orbit.eye_m() - pose.transform_point3(spot.at_m);
                let facing = pose
                    .transform_vector3(spot.normal)
                    .dot(toward.normalize())
                    .abs();
                let wanted = colour.map(|byte| f64::from(byte) * (0.62 + 0.38 * facing));
                let at = pixel(&place, (x, y), picture.width);
                let seen = picture.rgba[at..at + 3].iter().zip(wanted);
                seen.map(|(a, b)| (f64::from(*a) - b).abs())
                    .fold(0.0, f64::max)
            })
            .collect();
        assert!(differences.len() > 5, "{}", differences.len());
        differences.sort_by(f64::total_cmp);
        differences[differences.len() / 2] // edges and lines may cross some spots
    };
    let picture = draw(&mut face, &ctx, &mut mirror, &mut state);
    let found = off(&state, &picture, &ctx);
    assert!(found < 3.0, "{found} of 255");
    state.apply(Action::Paint(Paint::Incidence));
    let other = draw(&mut face, &ctx, &mut mirror, &mut state);
    let found = off(&state, &other, &ctx);
    assert!(found > 3.0, "another paint is noticed");
}

#[test]
fn the_stage_is_drawn_only_when_something_on_it_changes() {
    let (_folder, mut state) = coated();
    let (ctx, mut mirror) = (Context::default(), Mirror::default());
    let mut face = Face::new(device(), gpu::FORMAT, &mirror);
    draw(&mut face, &ctx, &mut mirror, &mut state);
    let before = face.stages;
    draw(&mut face, &ctx, &mut mirror, &mut state);
    assert_eq!(face.stages, before);
    state.apply(Action::LookFrom(Side::Top));
    draw(&mut face, &ctx, &mut mirror, &mut state);
    assert_eq!(face.stages, before + 1);
}

#[test]
fn a_device_lost_in_the_middle_of_a_frame_counts_as_lost_and_no_more() {
    let (_folder, mut state) = coated();
    let (ctx, mut mirror) = (Context::default(), Mirror::default());
    let mut face = Face::new(device(), gpu::FORMAT, &mirror);
    draw(&mut face, &ctx, &mut mirror, &mut state);
    let mut output = shot::frame(&ctx, &shot::input(&SHOT), &mut state, face.picture());
    let changes = mirror.take(&mut output);
    let target = face.gpu.target(SHOT.size);
    let view = target.create_view(&wgpu::TextureViewDescriptor::default());
    face.gpu.device.destroy();
    face.draw_at_risk(&ctx, output, (changes, Vec::new()), (&view, SHOT.size));
    assert!(face.gpu.is_lost());
    let mut again = Face::new(device(), gpu::FORMAT, &mirror);
    draw(&mut again, &ctx, &mut mirror, &mut state);
    assert!(!again.gpu.is_lost());
}

/// Compares a picture with the one that is kept; `REDRAW_PICTURES=1` keeps it instead.
fn kept(name: &str, picture: &Picture) {
    let place = concat!(env!("CARGO_MANIFEST_DIR"), "/src/face/pictures");
    let place = std::path::Path::new(place).join(format!("{name}.png"));
    if std::env::var_os("REDRAW_PICTURES").is_some() {
        picture.write(&place).unwrap();
        return;
    }
    let bytes = std::fs::File::open(&place).expect("a picture that is kept");
    let decoder = png::Decoder::new(std::io::BufReader::new(bytes));
    let mut reader = decoder.read_info().unwrap();
    let mut rgba = vec![0; reader.output_buffer_size().unwrap()];
    let frame = reader.next_frame(&mut rgba).unwrap();
    let before = Picture {
        width: frame.width,
        height: frame.height,
        rgba,
    };
    let off = unlike(&before, picture);
    if off > allowed() {
        let beside = std::env::temp_dir().join(format!("{name}.png"));
        picture.write(&beside).unwrap();
        panic!(
            "{off} pixels differ from {name}.png; see {}",
            beside.display()
        );
    }
}

/// The window with a spot pinned and grips shown.
fn busy(theme: Theme) -> Picture {
    let (_folder, mut state) = coated();
    state.apply(Action::Fit);
    let shown = std::sync::Arc::clone(state.shown.as_ref().unwrap());
    let spot = crate::panel::find(&state, &shown, glam::DVec2::new(0.05, -0.05));
    state.apply(Action::Pin(spot));
    state.apply(Action::Grips(true));
    state.note = None; // it names a folder of this run
    let shot = Shot {
        size: [1300, 800],
        theme,
        ..SHOT
    };
    shot::take(&mut state, &shot).unwrap()
}

#[test]
fn the_window_looks_as_it_was_last_looked_at() {
    kept("light", &busy(Theme::Light));
    kept("dark", &busy(Theme::Dark));
}

#[test]
fn the_comparison_of_pictures_notices_another_theme() {
    let off = unlike(&busy(Theme::Light), &busy(Theme::Dark));
    assert!(off > allowed(), "{off}");
}

#[test]
fn a_figure_shows_the_stage_with_its_scale_and_inputs() {
    let (_folder, mut state) = coated();
    state.apply(Action::Fit);
    let picture = shot::figure(&mut state.still()).unwrap();
    let ink = |from: u32, to: u32| {
        let rows = from * picture.width * 4..to * picture.width * 4;
        let pixels = picture.rgba[rows.start as usize..rows.end as usize].chunks(4);
        pixels.filter(|p| p[..3] != [255, 255, 255]).count()
    };
    let height = picture.height;
    // title above, stage in the middle, inputs below
    assert!(ink(0, height / 12) > 1000 && ink(height - height / 12, height) > 1000);
    assert!(ink(height / 3, 2 * height / 3) > 50_000);
    let colours = [0.1, 0.5, 0.9].map(evenfall_sim::outcome::colour::at);
    for colour in colours {
        let mut pixels = picture.rgba.chunks(4);
        let near = |p: &[u8]| p.iter().zip(colour).all(|(a, b)| a.abs_diff(b) < 12);
        assert!(pixels.any(|p| near(&p[..3])), "the scale has {colour:?}");
    }
}
