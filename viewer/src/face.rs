//! The face of the window on one device: panels and stage, drawn into any target.
//!
//! Holds nothing that could not be made anew: textures of the panels are mirrored on the CPU ([`Mirror`]), the rest
//! follows from the [`State`].

pub mod risk;

use crate::app::State;
use crate::gpu::stage::{Painter, View};
use crate::gpu::{Gpu, Picture};
use crate::panel;
use crate::stage::Shown;
use crate::stage::paint::{self, Paint};
use crate::stage::ruler::Spread;
use crate::stage::solids::{Screen, Solids};
use egui::epaint::ImageDelta;
use egui::epaint::textures::TextureOptions;
use egui::{Color32, ColorImage, Context, FullOutput, ImageData, Rect, TextureId};
use egui_wgpu::{Renderer, RendererOptions, ScreenDescriptor};
use evenfall_sim::outcome::colour::Scale;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Textures of the panels as they stand, so that a new device can be given all of them.
#[derive(Default)]
pub struct Mirror {
    textures: BTreeMap<TextureId, (ColorImage, TextureOptions)>,
    freed: Vec<TextureId>,
}

impl Mirror {
    /// Takes the changes of a frame over.
    pub fn take(&mut self, output: &mut FullOutput) -> Vec<(TextureId, ImageDelta)> {
        let mut changes = Vec::new();
        let mut set: Vec<_> = output.textures_delta.set.drain().collect();
        set.sort_by_key(|(id, _)| *id);
        for (id, deltas) in set {
            for delta in deltas {
                let ImageData::Color(image) = &delta.image;
                match delta.pos {
                    None => {
                        self.textures
                            .insert(id, (image.as_ref().clone(), delta.options));
                    }
                    Some([left, top]) => {
                        if let Some((whole, _)) = self.textures.get_mut(&id) {
                            let width = whole.size[0];
                            for (y, row) in image.pixels.chunks(image.size[0]).enumerate() {
                                let from = (top + y) * width + left;
                                whole.pixels[from..from + row.len()].copy_from_slice(row);
                            }
                        }
                    }
                }
                changes.push((id, delta));
            }
        }
        self.freed = output.textures_delta.free.drain().collect();
        for id in &self.freed {
            self.textures.remove(id);
        }
        changes
    }
}

/// What the colours on the stage follow from, besides the film.
#[derive(Clone)]
struct Painted {
    paint: Paint,
    time_s: f64,
    held: Option<Scale>,
    spread: Spread,
    kept: Option<Arc<Shown>>,
}

impl Painted {
    fn of(state: &State) -> Self {
        Self {
            paint: state.paint,
            time_s: state.time_s,
            held: state.held,
            spread: state.spread,
            kept: state.pinned.clone(),
        }
    }

    fn is_like(&self, other: &Self) -> bool {
        let kept = |painted: &Self| painted.kept.as_ref().map(Arc::as_ptr);
        self.paint == other.paint
            && self.time_s.total_cmp(&other.time_s).is_eq()
            && self.held == other.held
            && self.spread == other.spread
            && kept(self) == kept(other)
    }
}

/// Width of lines on the stage, points.
const LINE: f32 = 1.3;

/// Panels and stage on one device.
pub struct Face {
    pub gpu: Gpu,
    renderer: Renderer,
    painter: Painter,
    picture: Option<TextureId>,
    /// What the painter holds, and the screens in it.
    loaded: Option<(Arc<Shown>, Vec<Screen>)>,
    /// What the colours on it mean, at which time, against which other map.
    painted: Option<Painted>,
    /// What the picture shows: version of the stage, its size, its background.
    drawn: Option<(u64, [u32; 2], Color32)>,
    /// Times that the stage was drawn.
    pub stages: u64,
    /// How long the device took to be told to draw it the last time; software ones draw meanwhile.
    pub drawing: Duration,
}

impl Face {
    /// Prepares a device for targets of a format.
    pub fn new(gpu: Gpu, format: wgpu::TextureFormat, mirror: &Mirror) -> Self {
        let mut renderer = Renderer::new(&gpu.device, format, RendererOptions::PREDICTABLE);
        for (id, (image, options)) in &mirror.textures {
            let whole = ImageDelta::full(image.clone(), *options);
            renderer.update_texture(&gpu.device, &gpu.queue, *id, &whole);
        }
        Self {
            painter: Painter::new(&gpu),
            renderer,
            gpu,
            picture: None,
            loaded: None,
            painted: None,
            drawn: None,
            stages: 0,
            drawing: Duration::ZERO,
        }
    }

    /// The stage's picture as panels show it.
    pub fn picture(&self) -> Option<TextureId> {
        self.picture
    }

    /// Draws the stage if anything on it has changed.
    pub fn draw_stage(&mut self, state: &State, ctx: &Context) {
        self.drawing = Duration::ZERO;
        let Some(shown) = &state.shown else { return };
        if self.gpu.is_lost() {
            return;
        }
        let place = ctx.data(|data| data.get_temp::<Rect>(egui::Id::unique(panel::PLACE)));
        let Some(place) = place else { return };
        let pixels = place.size() * ctx.pixels_per_point();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "pixels of a window"
        )]
        let size = [pixels.x, pixels.y].map(|side| side.round().max(1.0) as u32);
        let background = ctx.global_style().visuals.extreme_bg_color;
        let now = (state.stage_version, size, background);
        if self.drawn == Some(now) {
            return;
        }
        self.load(state, shown);
        let shut = shown.shut_at(state.time_s);
        let screens = self.loaded.iter().flat_map(|(_, screens)| screens);
        let hidden_screens = screens
            .take(32)
            .enumerate()
            .filter(|(_, screen)| match screen {
                Screen::Shutter(name) => !shut.contains(name),
                Screen::Stencil => !state.sheets,
            })
            .fold(0, |bits, (number, _)| bits | 1 << number);
        let view = View {
            clip_from_chamber: state.orbit.clip_from_chamber(state.aspect),
            places: state.places(shown),
            eye_m: state.orbit.eye_m(),
            cut: state.cut_plane(),
            hidden_screens,
            line_width: LINE * ctx.pixels_per_point(),
            background: [background.r(), background.g(), background.b()],
        };
        let begun = Instant::now();
        let drawn = self.painter.draw(&self.gpu, &view, size);
        self.drawing = begun.elapsed();
        if let Some(texture) = drawn {
            let seen = texture.create_view(&wgpu::TextureViewDescriptor::default());
            let filter = wgpu::FilterMode::Linear;
            match self.picture {
                Some(id) => self.renderer.update_egui_texture_from_wgpu_texture(
                    &self.gpu.device,
                    &seen,
                    filter,
                    id,
                ),
                None => {
                    let id = self
                        .renderer
                        .register_native_texture(&self.gpu.device, &seen, filter);
                    self.picture = Some(id);
                }
            }
            self.drawn = Some(now);
            self.stages += 1;
        }
    }

    /// Gives the painter corners and colours, those that have changed.
    fn load(&mut self, state: &State, shown: &Arc<Shown>) {
        let loaded = self.loaded.as_ref();
        let is_loaded = loaded.is_some_and(|(loaded, _)| Arc::ptr_eq(loaded, shown));
        let painted = Painted::of(state);
        let is_painted = self.painted.as_ref().is_some_and(|p| p.is_like(&painted));
        if is_loaded && is_painted {
            return;
        }
        let colours = paint::paint(&state.look(shown), state.paint);
        if is_loaded {
            self.painter.repaint(&self.gpu, &colours);
        } else {
            let solids = Solids::of(&shown.outcome);
            self.painter.load(&self.gpu, &solids, &colours);
            self.loaded = Some((Arc::clone(shown), solids.screens));
        }
        self.painted = Some(painted);
    }

    /// Draws a frame of the panels; nothing on a lost device.
    pub fn draw(
        &mut self,
        ctx: &Context,
        mut output: FullOutput,
        mirror: &mut Mirror,
        target: (&wgpu::TextureView, [u32; 2]),
    ) {
        let changes = mirror.take(&mut output);
        if self.gpu.is_lost() {
            return;
        }
        let freed = std::mem::take(&mut mirror.freed);
        self.draw_at_risk(ctx, output, (changes, freed), target);
    }

    /// The same without a look first. The panels' renderer panics when the device is lost under its hands; then the
    /// device counts as lost, and that is all.
    fn draw_at_risk(
        &mut self,
        ctx: &Context,
        output: FullOutput,
        textures: (Vec<(TextureId, ImageDelta)>, Vec<TextureId>),
        target: (&wgpu::TextureView, [u32; 2]),
    ) {
        let shapes = ctx.tessellate(output.shapes, output.pixels_per_point);
        let scale = output.pixels_per_point;
        let drawing = || self.draw_panels(&shapes, scale, textures, target);
        if risk::taken(drawing).is_err() {
            self.gpu.lose();
        }
    }

    fn draw_panels(
        &mut self,
        shapes: &[egui::ClippedPrimitive],
        pixels_per_point: f32,
        (changes, freed): (Vec<(TextureId, ImageDelta)>, Vec<TextureId>),
        (target, size_in_pixels): (&wgpu::TextureView, [u32; 2]),
    ) {
        let (device, queue) = (&self.gpu.device, &self.gpu.queue);
        for (id, delta) in changes {
            self.renderer.update_texture(device, queue, id, &delta);
        }
        let screen = ScreenDescriptor {
            size_in_pixels,
            pixels_per_point,
        };
        let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let before = self
            .renderer
            .update_buffers(device, queue, &mut encoder, shapes, &screen);
        {
            let pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
                label: Some("panels"),
                color_attachments: &[Some(wgpu::RenderPassColorAttachment {
                    view: target,
                    resolve_target: None,
                    ops: wgpu::Operations {
                        load: wgpu::LoadOp::Clear(wgpu::Color::BLACK),
                        store: wgpu::StoreOp::Store,
                    },
                    depth_slice: None,
                })],
                ..Default::default()
            });
            self.renderer
                .render(&mut pass.forget_lifetime(), shapes, &screen);
        }
        queue.submit(before.into_iter().chain([encoder.finish()]));
        for id in freed {
            self.renderer.free_texture(&id);
        }
    }

    /// Draws the whole window as a picture.
    ///
    /// # Errors
    /// A sentence, when the device is lost meanwhile.
    pub fn shoot(
        &mut self,
        ctx: &Context,
        output: FullOutput,
        mirror: &mut Mirror,
        size: [u32; 2],
    ) -> Result<Picture, String> {
        if self.gpu.is_lost() {
            let mut output = output;
            mirror.take(&mut output);
            return Err(self.gpu.loss());
        }
        let target = self.gpu.target(size);
        let view = target.create_view(&wgpu::TextureViewDescriptor::default());
        self.draw(ctx, output, mirror, (&view, size));
        self.gpu.read(&target)
    }
}

#[cfg(test)]
mod tests;
