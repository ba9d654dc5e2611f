//! The native window: its surface, its events, and when it is painted anew.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

use egui_winit::accesskit_winit;
use thiserror::Error;
use winit::application::ApplicationHandler;
use winit::dpi::LogicalSize;
use winit::event::{StartCause, WindowEvent};
use winit::event_loop::{ActiveEventLoop, ControlFlow, EventLoop, EventLoopProxy};
use winit::keyboard::{Key, NamedKey};
use winit::window::{Window, WindowId};

use super::desk::{Desk, Folders};
use super::keys;
use super::pace::{Pace, Turn};
use super::paint::Pass;
use super::pictures::Pictures;
use super::second_window::{SecondAct, SecondWindow, Target};
use super::theme;
use super::threads::own_effects::{EffectsWatcher, folders};
use super::threads::prover::Prover;
use crate::base::cache::Caches;
use crate::base::folders::{config_folder, data_folder, state_folder};
use crate::base::shown::shown;
use crate::catalogue::{Catalogue, CatalogueError};
use crate::edit::Work;
use crate::files::FileError;
use crate::gpu::{Gpu, GpuError};
use crate::trial::{OwnEffects, Trials};

/// The show that the window opens with where no file is named.
const FIRST_SHOW: &str = "landfall";
/// The usual and the least size of the window, in points.
const SIZE: [(f64, f64); 2] = [(1280.0, 800.0), (1024.0, 640.0)];

/// Why there is no window.
#[derive(Debug, Error)]
pub enum WindowError {
    /// No display to open it on.
    #[error("no window can be opened here: {0}")]
    NoDisplay(String),
    /// No surface to paint on.
    #[error(
        "the window cannot be painted: {0}; choose another adapter with UNDEROVER_ADAPTER (`underover adapters` lists them)"
    )]
    NoSurface(String),
    /// The GPU fails.
    #[error(transparent)]
    Gpu(#[from] GpuError),
    /// The file was not read.
    #[error(transparent)]
    File(#[from] FileError),
    /// The built-in effects were built wrongly.
    #[error(transparent)]
    Catalogue(#[from] CatalogueError),
}

/// What wakes the window beside the person.
#[derive(Debug)]
enum Wake {
    /// An answer about orders has come, or the interface wants another pass.
    Repaint,
    /// A screen reader or another assistive technology.
    Accessibility(accesskit_winit::Event),
}

impl From<accesskit_winit::Event> for Wake {
    fn from(event: accesskit_winit::Event) -> Self {
        Self::Accessibility(event)
    }
}

/// Opens the window on a file, or on the first show, with the effects of a folder beside the person's own, and stays until it is closed.
///
/// # Errors
/// [`WindowError`]; [`WindowError::NoDisplay`] where there is no display to open it on.
pub fn run(
    file: Option<PathBuf>,
    effects: Option<PathBuf>,
    adapter: Option<String>,
) -> Result<(), WindowError> {
    let mut own = OwnEffects::of(folders(effects), Trials::here(adapter.clone()))?;
    let catalogue = match own.look() {
        Some(catalogue) => catalogue,
        None => Catalogue::built_in()?,
    };
    let work = match &file {
        Some(path) => Work::open(path, &catalogue)?,
        None => Work::preset(FIRST_SHOW, &catalogue)?.ok_or_else(|| {
            WindowError::NoSurface(format!("the preset {FIRST_SHOW} is missing from this program"))
        })?,
    };
    let no_display = |error: &dyn std::fmt::Display| WindowError::NoDisplay(error.to_string());
    if cfg!(target_os = "linux")
        && ["DISPLAY", "WAYLAND_DISPLAY", "WAYLAND_SOCKET"]
            .iter()
            .all(|name| std::env::var_os(name).is_none_or(|v| v.is_empty()))
    {
        return Err(WindowError::NoDisplay("neither DISPLAY nor WAYLAND_DISPLAY is set".to_owned()));
    }
    let event_loop = EventLoop::<Wake>::with_user_event().build().map_err(|e| no_display(&e))?;
    let mut app = App {
        proxy: event_loop.create_proxy(),
        start: Some(Start { work, catalogue, own, adapter }),
        open: None,
        failure: None,
    };
    event_loop.run_app(&mut app).map_err(|e| no_display(&e))?;
    app.failure.map_or(Ok(()), Err)
}

/// What the window opens with.
struct Start {
    work: Work,
    catalogue: Catalogue,
    own: OwnEffects,
    adapter: Option<String>,
}

struct App {
    proxy: EventLoopProxy<Wake>,
    start: Option<Start>,
    open: Option<Open>,
    failure: Option<WindowError>,
}

/// The window, once it is open.
struct Open {
    instance: wgpu::Instance,
    adapter: wgpu::Adapter,
    window: Arc<Window>,
    second: Option<SecondWindow>,
    surface: wgpu::Surface<'static>,
    config: wgpu::SurfaceConfiguration,
    input: egui_winit::State,
    ctx: egui::Context,
    desk: Desk,
    pace: Pace,
    title: String,
}

impl ApplicationHandler<Wake> for App {
    fn resumed(&mut self, event_loop: &ActiveEventLoop) {
        let Some(start) = self.start.take() else { return };
        match Open::new(event_loop, start, &self.proxy) {
            Ok(open) => self.open = Some(open),
            Err(failure) => {
                self.failure = Some(failure);
                event_loop.exit();
            }
        }
    }

    fn new_events(&mut self, _: &ActiveEventLoop, cause: StartCause) {
        if let (Some(open), StartCause::ResumeTimeReached { .. }) = (&mut self.open, cause) {
            open.pace.time_has_come(&mut open.desk);
        }
    }

    fn user_event(&mut self, _: &ActiveEventLoop, wake: Wake) {
        let Some(open) = &mut self.open else { return };
        if let Wake::Accessibility(event) = wake {
            match event.window_event {
                accesskit_winit::WindowEvent::InitialTreeRequested => open.ctx.enable_accesskit(),
                accesskit_winit::WindowEvent::ActionRequested(request) => {
                    open.input.on_accesskit_action_request(request);
                }
                accesskit_winit::WindowEvent::AccessibilityDeactivated => open.ctx.disable_accesskit(),
            }
        }
        open.window.request_redraw();
    }

    fn window_event(&mut self, event_loop: &ActiveEventLoop, id: WindowId, event: WindowEvent) {
        let Some(open) = &mut self.open else { return };
        if id != open.window.id() {
            return open.second_event(id, &event);
        }
        match &event {
            WindowEvent::RedrawRequested => {
                open.paint(event_loop);
                if open.pace.is_over() {
                    // Gone at once, whatever its threads still have in hand.
                    open.second = None;
                    open.window.set_visible(false);
                    event_loop.exit();
                }
                return;
            }
            WindowEvent::CloseRequested => {
                open.desk.ask_to_quit();
                open.window.request_redraw();
                return;
            }
            WindowEvent::Resized(size) => open.resize(size.width, size.height),
            _ => {}
        }
        // A key that only changes what others mean shows nothing: the pass of the next is not kept waiting by its own.
        if open.input.on_window_event(&open.window, &event).repaint && !is_modifier(&event) {
            if let Some(gpu) = open.desk.pictures().gpu() {
                gpu.await_answer();
            }
            open.window.request_redraw();
        }
    }

    fn about_to_wait(&mut self, event_loop: &ActiveEventLoop) {
        if let Some(open) = &mut self.open {
            event_loop.set_control_flow(open.rest());
        }
    }
}

/// The size of the window on a screen, in points: most of it, so that the picture is large from the start, and all of
/// it where it is small.
fn first_size(screen: LogicalSize<f64>) -> LogicalSize<f64> {
    let [_, (width, height)] = SIZE;
    let is_small = screen.width <= 1440.0 || screen.height <= 900.0;
    let share = if is_small { 1.0 } else { 0.85 };
    LogicalSize::new((screen.width * share).max(width).round(), (screen.height * share).max(height).round())
}

/// Whether nothing but a modifier was pressed or let go.
fn is_modifier(event: &WindowEvent) -> bool {
    const MODIFIERS: [NamedKey; 5] =
        [NamedKey::Alt, NamedKey::AltGraph, NamedKey::Control, NamedKey::Shift, NamedKey::Super];
    match event {
        WindowEvent::ModifiersChanged(_) => true,
        WindowEvent::KeyboardInput { event, .. } => {
            matches!(event.logical_key, Key::Named(named) if MODIFIERS.contains(&named))
        }
        _ => false,
    }
}

impl Open {
    fn new(
        event_loop: &ActiveEventLoop,
        start: Start,
        proxy: &EventLoopProxy<Wake>,
    ) -> Result<Self, WindowError> {
        let no_surface = |error: &dyn std::fmt::Display| WindowError::NoSurface(error.to_string());
        let [usual, least] = SIZE.map(|(width, height)| LogicalSize::new(width, height));
        let screen = event_loop.primary_monitor().or_else(|| event_loop.available_monitors().next());
        let first =
            screen.map_or(usual, |screen| first_size(screen.size().to_logical(screen.scale_factor())));
        // Assistive technology wants the window before it is seen.
        let attributes = Window::default_attributes()
            .with_title("Underover")
            .with_inner_size(first)
            .with_min_inner_size(least)
            .with_visible(false);
        let window = event_loop.create_window(attributes).map_err(|e| no_surface(&e))?;
        let window = Arc::new(window);
        let mut descriptor =
            wgpu::InstanceDescriptor::new_with_display_handle(Box::new(event_loop.owned_display_handle()));
        descriptor.flags = wgpu::InstanceFlags::empty();
        let instance = wgpu::Instance::new(descriptor);
        let surface = instance.create_surface(Arc::clone(&window)).map_err(|e| no_surface(&e))?;
        let (gpu, adapter) = Gpu::for_surface(&instance, &surface, start.adapter.as_deref())?;
        let gpu = gpu.keeping(Caches::of_person());
        let size = window.inner_size();
        let able = surface.get_capabilities(&adapter);
        // The interface blends encoded values, as our pictures are.
        let plain = [wgpu::TextureFormat::Bgra8Unorm, wgpu::TextureFormat::Rgba8Unorm];
        let format = able.formats.iter().copied().find(|format| plain.contains(format));
        let mut config = surface
            .get_default_config(&adapter, size.width.max(1), size.height.max(1))
            .ok_or_else(|| WindowError::NoSurface("the adapter cannot paint on it".to_owned()))?;
        config.format = format.unwrap_or(config.format);
        config.present_mode = wgpu::PresentMode::AutoVsync;
        config.desired_maximum_frame_latency = 1;
        surface.configure(gpu.device(), &config);

        let ctx = egui::Context::default();
        theme::dress(&ctx);
        let wake = proxy.clone();
        ctx.set_request_repaint_callback(move |info| {
            // Later passes are scheduled from the pass's own output.
            if info.delay.is_zero() {
                let _ = wake.send_event(Wake::Repaint);
            }
        });
        let largest_side = gpu.device().limits().max_texture_dimension_2d as usize;
        let scale = Some(window.scale_factor() as f32);
        let mut input = egui_winit::State::new(
            ctx.clone(),
            egui::ViewportId::ROOT,
            event_loop,
            scale,
            window.theme(),
            Some(largest_side),
        );
        input.init_accesskit(event_loop, &window, proxy.clone());
        window.set_visible(true);

        let wake = proxy.clone();
        let prover = Prover::new(Some(gpu.sibling()), move || {
            let _ = wake.send_event(Wake::Repaint);
        });
        let folders = Folders { state: state_folder(), config: config_folder(), data: data_folder() };
        let pictures = Pictures::on(gpu, config.format, &start.catalogue);
        let mut desk = Desk::new(start.work, start.catalogue, pictures, prover, folders);
        let wake = proxy.clone();
        desk.watch_effects(EffectsWatcher::new(start.own, move || {
            let _ = wake.send_event(Wake::Repaint);
        }));
        window.request_redraw();
        Ok(Self {
            instance,
            adapter,
            window,
            second: None,
            surface,
            config,
            input,
            ctx,
            desk,
            pace: Pace::default(),
            title: String::new(),
        })
    }

    fn resize(&mut self, width: u32, height: u32) {
        if width == 0 || height == 0 {
            return;
        }
        (self.config.width, self.config.height) = (width, height);
        if let Some(gpu) = self.desk.pictures().gpu() {
            self.surface.configure(gpu.device(), &self.config);
        }
        self.window.request_redraw();
    }

    /// Draws one pass, paints it, and has pictures made after it: what answers the person goes first.
    fn paint(&mut self, event_loop: &ActiveEventLoop) {
        let began = Instant::now();
        let input = self.input.take_egui_input(&self.window);
        let desk = &mut self.desk;
        let output = self.ctx.run_ui(input, |ui| desk.ui(ui));
        self.input.handle_platform_output_with_event_loop(&self.window, event_loop, output.platform_output);
        let root = output.viewport_output.get(&egui::ViewportId::ROOT);
        let delay = root.map(|root| root.repaint_delay);
        if root.is_some_and(|root| root.commands.contains(&egui::ViewportCommand::RequestPaste))
            && let Some(text) = self.input.clipboard_text()
        {
            self.input.egui_input_mut().events.push(egui::Event::Paste(text));
            self.window.request_redraw();
        }
        self.present(Pass {
            primitives: self.ctx.tessellate(output.shapes, output.pixels_per_point),
            textures: output.textures_delta,
            pixels_per_point: output.pixels_per_point,
        });
        self.paint_second(event_loop);
        self.name_window();
        let next = self.desk.after_pass();
        self.pace.painted(began, next, delay);
    }

    /// Opens and closes the second window as the desk has it, and paints what it is to show.
    fn paint_second(&mut self, event_loop: &ActiveEventLoop) {
        let Some(shown) = self.desk.second() else {
            self.second = None;
            return;
        };
        if self.second.is_none() {
            let Some(gpu) = self.desk.pictures().gpu() else { return };
            let target =
                Target { instance: &self.instance, adapter: &self.adapter, format: self.config.format };
            match SecondWindow::open(event_loop, &self.window, &target, gpu.device()) {
                Ok(second) => self.second = Some(second),
                Err(why) => {
                    self.desk.second_failed(&why);
                    return self.window.request_redraw();
                }
            }
        }
        if let Some(second) = &mut self.second {
            second.paint(shown, self.desk.pictures());
        }
    }

    /// What happens in the second window; it is painted with the first.
    fn second_event(&mut self, id: WindowId, event: &WindowEvent) {
        let Some(second) = self.second.as_mut().filter(|second| second.is(id)) else { return };
        let device = self.desk.pictures().gpu().map(Gpu::device);
        let Some(act) = second.event(event, device) else { return };
        let is_heard = match act {
            SecondAct::Key(held, key) => {
                let (view, show) = (self.desk.view(), self.desk.work().show());
                keys::is_heard_elsewhere((held, key), view, show) && !self.ctx.text_edit_focused()
            }
            SecondAct::Held => true,
            _ => false,
        };
        if is_heard {
            // It comes to the first window as if it had been pressed there.
            let _ = self.input.on_window_event(&self.window, event);
        }
        let view = self.desk.view();
        if let Some(action) = act.action(view.black, view.playing) {
            self.desk.act(action);
        }
        self.window.request_redraw();
    }

    fn present(&mut self, pass: Pass) {
        let frame = self.surface.get_current_texture();
        let size = [self.config.width, self.config.height];
        let frame = match frame {
            wgpu::CurrentSurfaceTexture::Success(frame) | wgpu::CurrentSurfaceTexture::Suboptimal(frame) => {
                frame
            }
            missed => {
                if let Some((painter, gpu)) = self.desk.pictures().painter() {
                    pass.keep_textures(painter, gpu);
                }
                if matches!(missed, wgpu::CurrentSurfaceTexture::Outdated | wgpu::CurrentSurfaceTexture::Lost)
                    && let Some(gpu) = self.desk.pictures().gpu()
                {
                    self.surface.configure(gpu.device(), &self.config);
                    self.window.request_redraw();
                }
                return;
            }
        };
        let view = frame.texture.create_view(&wgpu::TextureViewDescriptor::default());
        if let Some((painter, gpu)) = self.desk.pictures().painter() {
            pass.paint(painter, gpu, &view, size);
        }
        self.window.pre_present_notify();
        if let Some(gpu) = self.desk.pictures().gpu() {
            gpu.queue().present(frame);
        }
    }

    /// The work's name, with a mark while it is changed.
    fn name_window(&mut self) {
        let work = self.desk.work();
        let mark = if work.is_changed() { " *" } else { "" };
        let title = format!("{}{mark} - Underover", work.show().name);
        if title != self.title {
            self.window.set_title(&shown(&title));
            self.title = title;
        }
    }

    fn rest(&mut self) -> ControlFlow {
        match self.pace.turn(&mut self.desk) {
            Turn::Paint => {
                self.window.request_redraw();
                ControlFlow::Wait
            }
            Turn::Until(time) => ControlFlow::WaitUntil(time),
            Turn::Rest => ControlFlow::Wait,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_window_takes_most_of_a_large_screen_and_all_of_a_small_one() {
        for (screen, window) in [
            ((1280.0, 800.0), (1280.0, 800.0)),
            ((1366.0, 768.0), (1366.0, 768.0)),
            ((1920.0, 1080.0), (1632.0, 918.0)),
            ((3840.0, 2160.0), (3264.0, 1836.0)),
            ((800.0, 600.0), (1024.0, 640.0)),
        ] {
            let size = first_size(LogicalSize::new(screen.0, screen.1));
            assert_eq!((size.width, size.height), window, "{screen:?}");
        }
    }
}
