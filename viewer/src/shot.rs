//! The whole window as a picture, without a display.

use crate::app::settings::Colours;
use crate::app::{Action, State};
use crate::face::{Face, Mirror};
use crate::gpu::{self, Gpu, Picture};
use crate::panel;
use egui::{Context, Pos2, RawInput, Rect, Theme, Vec2};
use glam::DVec2;
use std::time::Instant;

/// Frames that settle the layout.
const SETTLING: usize = 4;
/// Frames drawn before those that are timed.
const SETTLING_FRAMES: u32 = 20;

/// How the picture is to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shot {
    /// Pixels.
    pub size: [u32; 2],
    /// Pixels per point of the panels.
    pub scale: f32,
    /// Dark or light.
    pub theme: Theme,
}

/// Draws the window as it would look with a state.
///
/// # Errors
/// A sentence, without a usable device.
pub fn take(state: &mut State, shot: &Shot) -> Result<Picture, String> {
    settled(state, shot, panel::all)
}

/// Draws the window so many times while the view turns, each frame waited for.
///
/// - returns seconds per frame
///
/// # Errors
/// A sentence, without a usable device.
pub fn orbit(state: &mut State, shot: &Shot, frames: u32) -> Result<f64, String> {
    let gpu = Gpu::open(&gpu::instance(None), None)?;
    let mut mirror = Mirror::default();
    let mut face = Face::new(gpu, gpu::FORMAT, &mirror);
    let ctx = Context::default();
    ctx.set_theme(shot.theme);
    let target = face.gpu.target(shot.size);
    let view = target.create_view(&wgpu::TextureViewDescriptor::default());
    let mut begun = Instant::now();
    for number in 0..SETTLING_FRAMES + frames {
        if number == SETTLING_FRAMES {
            begun = Instant::now();
        }
        state.apply(Action::Turn(DVec2::new(0.01, 0.003)));
        let output = frame(&ctx, &input(shot), state, face.picture());
        face.draw_stage(state, &ctx);
        face.draw(&ctx, output, &mut mirror, (&view, shot.size));
        let done = face.gpu.device.poll(wgpu::PollType::wait_indefinitely());
        done.map_err(|error| error.to_string())?;
    }
    Ok(begun.elapsed().as_secs_f64() / f64::from(frames.max(1)))
}

/// How figures are drawn.
const FIGURE: Shot = Shot {
    size: [2000, 1500],
    scale: 1.5,
    theme: Theme::Light,
};

/// Draws the stage with its scale, title and inputs, for papers and notes.
///
/// # Errors
/// A sentence, without a usable device.
pub fn figure(state: &mut State) -> Result<Picture, String> {
    state.settings.zoom = 1.0;
    state.settings.colours = Colours::Light;
    settled(state, &FIGURE, panel::figure)
}

/// Panels of a frame.
type Layout = fn(&mut egui::Ui, &State, Option<egui::TextureId>) -> Vec<Action>;

fn settled(state: &mut State, shot: &Shot, layout: Layout) -> Result<Picture, String> {
    let gpu = Gpu::open(&gpu::instance(None), None)?;
    let mut mirror = Mirror::default();
    let mut face = Face::new(gpu, gpu::FORMAT, &mirror);
    let ctx = Context::default();
    ctx.set_theme(shot.theme);
    // what fades in is there at once
    ctx.all_styles_mut(|style| style.animation_time = 0.0);
    let mut last = None;
    for _ in 0..SETTLING {
        let output = laid_out(&ctx, &input(shot), state, (layout, face.picture()));
        face.draw_stage(state, &ctx);
        last = Some(face.shoot(&ctx, output, &mut mirror, shot.size)?);
    }
    last.ok_or_else(|| "no frame was drawn".to_owned())
}

/// What a screen of that size tells the panels.
pub fn input(shot: &Shot) -> RawInput {
    #[expect(clippy::cast_precision_loss, reason = "pixels of a window")]
    let [width, height] = shot.size.map(|side| side as f32 / shot.scale);
    let mut input = RawInput {
        screen_rect: Some(Rect::from_min_size(Pos2::ZERO, Vec2::new(width, height))),
        ..RawInput::default()
    };
    let viewport = input.viewports.entry(egui::ViewportId::ROOT).or_default();
    viewport.native_pixels_per_point = Some(shot.scale);
    input
}

/// One pass over the panels; what they want is done.
pub fn frame(
    ctx: &Context,
    input: &RawInput,
    state: &mut State,
    picture: Option<egui::TextureId>,
) -> egui::FullOutput {
    laid_out(ctx, input, state, (panel::all, picture))
}

fn laid_out(
    ctx: &Context,
    input: &RawInput,
    state: &mut State,
    (layout, picture): (Layout, Option<egui::TextureId>),
) -> egui::FullOutput {
    let settings = &state.settings;
    match settings.colours {
        Colours::System => {}
        Colours::Light => ctx.set_theme(Theme::Light),
        Colours::Dark => ctx.set_theme(Theme::Dark),
    }
    if settings.colours == Colours::System && state.settings_place.is_some() {
        ctx.set_theme(egui::ThemePreference::System);
    }
    // sizes are ours, kept with the other settings
    ctx.options_mut(|options| options.zoom_with_keyboard = false);
    ctx.set_zoom_factor(settings.zoom);
    let mut actions: Vec<Action> = Vec::new();
    let output = ctx.run_ui(input.clone(), |ui| {
        actions = layout(ui, state, picture);
    });
    for action in actions {
        state.apply(action);
    }
    output
}
