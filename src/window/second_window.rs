//! The second window: the output alone, for a second screen.

use std::sync::Arc;

use egui::epaint::{ClippedPrimitive, Mesh, Primitive};
use egui::{Color32, Rect, pos2, vec2};
use winit::dpi::PhysicalSize;
use winit::event::{ElementState, WindowEvent};
use winit::event_loop::ActiveEventLoop;
use winit::keyboard::{Key, ModifiersState, NamedKey};
use winit::window::{Fullscreen, Window, WindowId};

use super::action::Action;
use super::desk::SecondPicture;
use super::paint::Pass;
use super::pictures::Pictures;
use super::widgets::{WHOLE, fitted};

/// What is needed to paint on the screen.
pub struct Target<'a> {
    pub instance: &'a wgpu::Instance,
    pub adapter: &'a wgpu::Adapter,
    /// What the first window paints in.
    pub format: wgpu::TextureFormat,
}

/// A window that shows the output and nothing else.
pub struct SecondWindow {
    window: Arc<Window>,
    surface: wgpu::Surface<'static>,
    config: wgpu::SurfaceConfiguration,
    /// What was painted last, so that nothing is painted twice.
    painted: Option<SecondPicture>,
    /// What is held while keys are pressed.
    held: egui::Modifiers,
}

impl SecondWindow {
    /// Opens it: over the whole of a screen that the first window is not on, or, where there is none, as a window.
    ///
    /// # Errors
    /// Why it could not be opened, in words.
    pub fn open(
        event_loop: &ActiveEventLoop,
        first: &Window,
        target: &Target<'_>,
        device: &wgpu::Device,
    ) -> Result<Self, String> {
        let own = first.current_monitor();
        let other = event_loop.available_monitors().find(|monitor| Some(monitor) != own.as_ref());
        let attributes = Window::default_attributes()
            .with_title("Underover output")
            .with_inner_size(PhysicalSize::new(960, 540))
            .with_fullscreen(other.map(|monitor| Fullscreen::Borderless(Some(monitor))));
        let window = event_loop.create_window(attributes).map_err(|error| error.to_string())?;
        let window = Arc::new(window);
        let surface =
            target.instance.create_surface(Arc::clone(&window)).map_err(|error| error.to_string())?;
        let size = window.inner_size();
        let able = surface.get_capabilities(target.adapter);
        let mut config = surface
            .get_default_config(target.adapter, size.width.max(1), size.height.max(1))
            .filter(|_| able.formats.contains(&target.format))
            .ok_or("the adapter cannot paint on that screen")?;
        config.format = target.format;
        // The first window is not kept waiting for this screen.
        let free = wgpu::PresentMode::Mailbox;
        config.present_mode =
            if able.present_modes.contains(&free) { free } else { wgpu::PresentMode::AutoVsync };
        surface.configure(device, &config);
        let is_alone = window.fullscreen().is_some();
        window.set_cursor_visible(!is_alone);
        Ok(Self { window, surface, config, painted: None, held: egui::Modifiers::NONE })
    }

    /// Whether an event is its own.
    pub fn is(&self, id: WindowId) -> bool {
        self.window.id() == id
    }

    /// What an event asks of the desk.
    pub fn event(&mut self, event: &WindowEvent, device: Option<&wgpu::Device>) -> Option<SecondAct> {
        match event {
            WindowEvent::CloseRequested => return Some(SecondAct::Close),
            WindowEvent::Resized(size) if size.width > 0 && size.height > 0 => {
                (self.config.width, self.config.height) = (size.width, size.height);
                if let Some(device) = device {
                    self.surface.configure(device, &self.config);
                }
                self.painted = None;
            }
            WindowEvent::RedrawRequested | WindowEvent::Occluded(false) => self.painted = None,
            WindowEvent::KeyboardInput { event, .. } => {
                let is_pressed = event.state == ElementState::Pressed && !event.repeat;
                match &event.logical_key {
                    Key::Named(own) if OWN.contains(own) && !is_pressed => return None,
                    Key::Named(NamedKey::Escape | NamedKey::F12) => return Some(SecondAct::Close),
                    Key::Named(NamedKey::F8) => return Some(SecondAct::Black),
                    Key::Named(NamedKey::Space) => return Some(SecondAct::Play),
                    Key::Named(NamedKey::F11) => self.fill(),
                    key => return heard(key).map(|key| SecondAct::Key(self.held, key)),
                }
            }
            WindowEvent::ModifiersChanged(held) => {
                self.held = held_as(held.state());
                return Some(SecondAct::Held);
            }
            _ => return None,
        }
        Some(SecondAct::Paint)
    }

    /// Over the whole screen that it is on, or as a window again.
    fn fill(&self) {
        let is_filled = self.window.fullscreen().is_some();
        self.window.set_fullscreen((!is_filled).then_some(Fullscreen::Borderless(None)));
        self.window.set_cursor_visible(is_filled);
    }

    /// Paints what it is to show, unless that is what it shows.
    pub fn paint(&mut self, shown: SecondPicture, pictures: &mut Pictures) {
        if self.painted == Some(shown) {
            return;
        }
        let frame = match self.surface.get_current_texture() {
            wgpu::CurrentSurfaceTexture::Success(frame) | wgpu::CurrentSurfaceTexture::Suboptimal(frame) => {
                frame
            }
            wgpu::CurrentSurfaceTexture::Outdated | wgpu::CurrentSurfaceTexture::Lost => {
                if let Some(gpu) = pictures.gpu() {
                    self.surface.configure(gpu.device(), &self.config);
                }
                return self.window.request_redraw();
            }
            // A busy screen: the picture that is due would be missed where nothing else happens.
            wgpu::CurrentSurfaceTexture::Timeout => return self.window.request_redraw(),
            _ => return,
        };
        let view = frame.texture.create_view(&wgpu::TextureViewDescriptor::default());
        let size = [self.config.width, self.config.height];
        let Some((painter, gpu)) = pictures.painter() else { return };
        pass(shown, size).paint(painter, gpu, &view, size);
        self.window.pre_present_notify();
        gpu.queue().present(frame);
        self.painted = Some(shown);
    }
}

/// The keys that mean something of its own there.
const OWN: [NamedKey; 5] = [NamedKey::Escape, NamedKey::F12, NamedKey::F8, NamedKey::Space, NamedKey::F11];

/// What is asked for in the second window.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SecondAct {
    /// It is to be painted anew.
    Paint,
    Close,
    /// Black, or the output again.
    Black,
    /// Play, or pause.
    Play,
    /// A key that may mean the same as in the first window.
    Key(egui::Modifiers, egui::Key),
    /// What is held while others are pressed.
    Held,
}

/// What is held as the first window knows it.
fn held_as(held: ModifiersState) -> egui::Modifiers {
    let is_mac = cfg!(target_os = "macos");
    let (ctrl, mac_cmd) = (held.control_key(), is_mac && held.super_key());
    let command = if is_mac { mac_cmd } else { ctrl };
    egui::Modifiers { alt: held.alt_key(), ctrl, shift: held.shift_key(), mac_cmd, command }
}

/// The key as the first window knows it.
fn heard(key: &Key) -> Option<egui::Key> {
    match key {
        Key::Named(NamedKey::ArrowLeft) => Some(egui::Key::ArrowLeft),
        Key::Named(NamedKey::ArrowRight) => Some(egui::Key::ArrowRight),
        Key::Character(text) => egui::Key::from_name(&text.to_uppercase()),
        _ => None,
    }
}

impl SecondAct {
    /// What it asks of the desk, as things stand.
    pub fn action(self, is_black: bool, is_playing: bool) -> Option<Action> {
        match self {
            Self::Paint | Self::Key(..) | Self::Held => None,
            Self::Close => Some(Action::Second(false)),
            Self::Black => Some(Action::Black(!is_black)),
            Self::Play => Some(Action::Play(!is_playing)),
        }
    }
}

/// The output as large as the window holds it whole, on black.
fn pass(shown: SecondPicture, [width, height]: [u32; 2]) -> Pass {
    let room = Rect::from_min_size(pos2(0.0, 0.0), vec2(width as f32, height as f32));
    let quad = shown.texture.map(|texture| {
        let mut mesh = Mesh::with_texture(texture);
        mesh.add_rect_with_uv(fitted(room, shown.frame), WHOLE, Color32::WHITE);
        ClippedPrimitive { clip_rect: room, primitive: Primitive::Mesh(mesh) }
    });
    Pass {
        primitives: quad.into_iter().collect(),
        textures: egui::TexturesDelta::default(),
        pixels_per_point: 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Frame;

    #[test]
    fn keys_are_heard_in_the_second_window_as_the_first_knows_them() {
        for (key, heard_as) in [
            (Key::Named(NamedKey::ArrowRight), Some(egui::Key::ArrowRight)),
            (Key::Named(NamedKey::ArrowLeft), Some(egui::Key::ArrowLeft)),
            (Key::Character("c".into()), Some(egui::Key::C)),
            (Key::Character("C".into()), Some(egui::Key::C)),
            (Key::Character("7".into()), Some(egui::Key::Num7)),
            (Key::Named(NamedKey::Enter), None),
            (Key::Named(NamedKey::Delete), None),
        ] {
            assert_eq!(heard(&key), heard_as, "{key:?}");
        }
    }

    #[test]
    fn the_output_stands_whole_in_the_middle_of_the_screen_and_black_is_nothing_at_all() {
        let frame = Frame { width: 1280, height: 720 };
        let shown = SecondPicture { texture: Some(egui::TextureId::User(3)), frame };
        // 16:9 on a screen of 16:10: 1920x1080 of 1920x1200, 60 rows of black over and under it.
        let of = pass(shown, [1920, 1200]);
        let Primitive::Mesh(mesh) = &of.primitives[0].primitive else { panic!("no mesh") };
        assert_eq!(mesh.calc_bounds(), Rect::from_min_max(pos2(0.0, 60.0), pos2(1920.0, 1140.0)));
        assert!(pass(SecondPicture { texture: None, ..shown }, [1920, 1200]).primitives.is_empty());
    }
}
