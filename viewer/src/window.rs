//! The window: events in, frames out. Nothing is drawn while nothing happens.

mod heed;

use crate::app::settings::{self, Settings};
use crate::app::{Action, State, Wake};
use crate::face::{Face, Mirror};
use crate::gpu::{self, Gpu};
use crate::shot;
use egui::{Context, ViewportId};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};
use winit::application::ApplicationHandler;
use winit::event::WindowEvent;
use winit::event_loop::{ActiveEventLoop, ControlFlow, EventLoop, EventLoopProxy};
use winit::window::{Window, WindowId};

/// How often an idle window looks whether the plan's file has changed.
const LOOK_EVERY: Duration = Duration::from_secs(1);

/// Something new.
#[derive(Debug, Clone)]
enum News {
    /// From the run.
    Run,
    /// A command of whoever tests the window ([`heed`]).
    Told(String),
}

/// Whether the window heeds commands on stdin ([`heed`]).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Heeding {
    No,
    Commands,
}

/// Opens the window and stays until it is closed.
///
/// # Errors
/// A sentence, when there is no display or no usable graphics device.
pub fn run(open: Option<PathBuf>, heeding: Heeding) -> Result<(), String> {
    let events = EventLoop::<News>::with_user_event()
        .build()
        .map_err(|_| "there is no display to open a window on".to_owned())?;
    let proxy = events.create_proxy();
    let mut app = App::new(&proxy);
    if heeding == Heeding::Commands {
        app.ctx.enable_accesskit();
        heed::listen(proxy);
    }
    if let Some(path) = open {
        app.state.apply(Action::Open(path));
    }
    events
        .run_app(&mut app)
        .map_err(|error| format!("the window cannot be kept open ({error})"))?;
    app.failed.map_or(Ok(()), Err)
}

struct App {
    state: State,
    ctx: Context,
    mirror: Mirror,
    shown: Option<Live>,
    failed: Option<String>,
    next_look: Instant,
    past: heed::Past,
    /// The widgets as a screen reader hears them, if anybody asks.
    heard: Option<egui::accesskit::TreeUpdate>,
}

/// What lives and dies with the window and its device.
struct Live {
    window: Arc<Window>,
    instance: wgpu::Instance,
    surface: wgpu::Surface<'static>,
    config: wgpu::SurfaceConfiguration,
    face: Face,
    input: egui_winit::State,
}

impl App {
    fn new(proxy: &EventLoopProxy<News>) -> Self {
        let proxy = proxy.clone();
        let wake: Wake = Arc::new(move || {
            // A closed window needs no news.
            let _ = proxy.send_event(News::Run);
        });
        let mut state = State::new(wake);
        state.settings_place = settings::place();
        if let Some(place) = &state.settings_place {
            state.settings = Settings::read(place);
        }
        Self {
            state,
            ctx: Context::default(),
            mirror: Mirror::default(),
            shown: None,
            failed: None,
            next_look: Instant::now(),
            past: heed::Past::default(),
            heard: None,
        }
    }

    /// Does what a command says.
    fn heed(&mut self, events: &ActiveEventLoop, told: &str) {
        let Some(live) = &self.shown else { return };
        match told.split_once(' ').unwrap_or((told, "")) {
            ("drop", path) => self.dropped(PathBuf::from(path)),
            ("lose", _) => {
                live.face.gpu.device.destroy();
                live.window.request_redraw();
            }
            ("afresh", _) => self.past.slowest_ms = 0.0,
            ("quit", _) => events.exit(),
            ("say", _) => {
                let size = [live.config.width, live.config.height];
                let said = heed::said(&self.state, self.past, size, self.heard.as_ref());
                // Whoever asked may be gone.
                let _ = crate::say::answer(&said);
            }
            _ => {}
        }
    }

    /// A file was let fall on the window.
    fn dropped(&mut self, path: PathBuf) {
        self.state.apply(Action::Open(path));
        if let Some(live) = &self.shown {
            live.window.request_redraw();
        }
    }

    fn frame(&mut self, events: &ActiveEventLoop) {
        let Some(live) = &mut self.shown else { return };
        if live.face.gpu.is_lost() {
            if let Err(sentence) = live.revive(&self.mirror) {
                self.failed = Some(sentence);
                events.exit();
                return;
            }
            self.past.losses += 1;
            self.state.note = Some("the graphics device was lost and opened again".to_owned());
        }
        let begun = Instant::now();
        self.state.refresh();
        let input = live.input.take_egui_input(&live.window);
        let version = self.state.stage_version;
        let picture = live.face.picture();
        let output = shot::frame(&self.ctx, &input, &mut self.state, picture);
        self.past.frames += 1;
        self.past.pictured = picture.is_some();
        if let Some(heard) = &output.platform_output.accesskit_update {
            self.heard = Some(heard.clone());
        }
        live.input
            .handle_platform_output(&live.window, output.platform_output.clone());
        live.face.draw_stage(&self.state, &self.ctx);
        let took = begun.elapsed().saturating_sub(live.face.drawing);
        self.past.slowest_ms = self.past.slowest_ms.max(1e3 * took.as_secs_f64());
        let delay = output
            .viewport_output
            .get(&ViewportId::ROOT)
            .map_or(Duration::MAX, |viewport| viewport.repaint_delay);
        // the first picture of the stage came too late for this frame
        let is_first = picture.is_none() && live.face.picture().is_some();
        if delay.is_zero() || self.state.stage_version != version || is_first {
            live.window.request_redraw();
        } else if let Some(then) = Instant::now().checked_add(delay) {
            self.next_look = self.next_look.min(then);
        }
        live.present(&self.ctx, output, &mut self.mirror);
    }
}

impl Live {
    fn open(events: &ActiveEventLoop, ctx: &Context, mirror: &Mirror) -> Result<Self, String> {
        let attributes = Window::default_attributes()
            .with_title("Evenfall")
            .with_inner_size(winit::dpi::LogicalSize::new(1280.0, 800.0));
        let window = events
            .create_window(attributes)
            .map_err(|error| format!("the window cannot be opened ({error})"))?;
        let window = Arc::new(window);
        let instance = gpu::instance(Some(Box::new(events.owned_display_handle())));
        let (surface, config, gpu) = surface_of(&instance, &window)?;
        let limit = gpu.device.limits().max_texture_dimension_2d;
        let input = egui_winit::State::new(
            ctx.clone(),
            ViewportId::ROOT,
            &window,
            Some(narrow(window.scale_factor())),
            window.theme(),
            Some(limit as usize),
        );
        Ok(Self {
            face: Face::new(gpu, config.format, mirror),
            window,
            instance,
            surface,
            config,
            input,
        })
    }

    /// Opens a device anew after the last one was lost.
    fn revive(&mut self, mirror: &Mirror) -> Result<(), String> {
        let (surface, config, gpu) = surface_of(&self.instance, &self.window)?;
        (self.surface, self.config) = (surface, config);
        self.face = Face::new(gpu, self.config.format, mirror);
        Ok(())
    }

    fn resize(&mut self, width: u32, height: u32) {
        if width > 0 && height > 0 {
            (self.config.width, self.config.height) = (width, height);
            self.surface.configure(&self.face.gpu.device, &self.config);
        }
    }

    fn present(&mut self, ctx: &Context, output: egui::FullOutput, mirror: &mut Mirror) {
        use wgpu::CurrentSurfaceTexture as Current;
        let texture = match self.surface.get_current_texture() {
            Current::Success(texture) | Current::Suboptimal(texture) => texture,
            Current::Outdated | Current::Lost => {
                self.surface.configure(&self.face.gpu.device, &self.config);
                let mut output = output;
                mirror.take(&mut output);
                self.window.request_redraw();
                return;
            }
            _ => {
                let mut output = output;
                mirror.take(&mut output);
                return;
            }
        };
        let view = texture
            .texture
            .create_view(&wgpu::TextureViewDescriptor::default());
        let size = [self.config.width, self.config.height];
        self.face.draw(ctx, output, mirror, (&view, size));
        self.window.pre_present_notify();
        self.face.gpu.queue.present(texture);
    }
}

/// A surface on a window and a device that can draw on it.
fn surface_of(
    instance: &wgpu::Instance,
    window: &Arc<Window>,
) -> Result<(wgpu::Surface<'static>, wgpu::SurfaceConfiguration, Gpu), String> {
    let surface = instance
        .create_surface(Arc::clone(window))
        .map_err(|_| "no usable graphics device was found".to_owned())?;
    let gpu = Gpu::open(instance, Some(&surface))?;
    let size = window.inner_size();
    let mut config = surface
        .get_default_config(&gpu.adapter, size.width.max(1), size.height.max(1))
        .ok_or_else(|| "no usable graphics device was found".to_owned())?;
    // Panels mix colours as encoded: a format that encodes once more would be too light.
    let formats = surface.get_capabilities(&gpu.adapter).formats;
    config.format = formats
        .into_iter()
        .find(|format| !format.is_srgb())
        .unwrap_or(config.format);
    surface.configure(&gpu.device, &config);
    Ok((surface, config, gpu))
}

#[expect(clippy::cast_possible_truncation, reason = "a scale of the screen")]
fn narrow(scale: f64) -> f32 {
    scale as f32
}

impl ApplicationHandler<News> for App {
    fn resumed(&mut self, events: &ActiveEventLoop) {
        if self.shown.is_some() {
            return;
        }
        match Live::open(events, &self.ctx, &self.mirror) {
            Ok(live) => {
                live.window.request_redraw();
                self.shown = Some(live);
            }
            Err(sentence) => {
                self.failed = Some(sentence);
                events.exit();
            }
        }
    }

    fn window_event(&mut self, events: &ActiveEventLoop, _: WindowId, event: WindowEvent) {
        let Some(live) = &mut self.shown else { return };
        match &event {
            WindowEvent::CloseRequested => {
                events.exit();
                return;
            }
            WindowEvent::RedrawRequested => {
                self.frame(events);
                return;
            }
            WindowEvent::Resized(size) => live.resize(size.width, size.height),
            WindowEvent::DroppedFile(path) => {
                self.dropped(path.clone());
                return;
            }
            _ => {}
        }
        if live.input.on_window_event(&live.window, &event).repaint {
            live.window.request_redraw();
        }
    }

    fn user_event(&mut self, events: &ActiveEventLoop, news: News) {
        match news {
            News::Told(told) => self.heed(events, &told),
            News::Run => {
                if let Some(live) = &self.shown {
                    live.window.request_redraw();
                }
            }
        }
    }

    fn exiting(&mut self, _: &ActiveEventLoop) {
        // what is being written is still finished, out of sight
        if let Some(live) = &self.shown {
            live.window.set_visible(false);
        }
        self.state.finish();
    }

    fn about_to_wait(&mut self, events: &ActiveEventLoop) {
        let now = Instant::now();
        if now >= self.next_look {
            self.next_look = now + LOOK_EVERY;
            let wants_frame = self.state.refresh() || self.ctx.has_requested_repaint();
            if wants_frame && let Some(live) = &self.shown {
                live.window.request_redraw();
            }
        }
        events.set_control_flow(ControlFlow::WaitUntil(self.next_look));
    }
}
