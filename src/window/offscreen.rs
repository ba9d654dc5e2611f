//! The window without a display: the same desk, painted by the same code on a texture.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use egui::{Pos2, Rect, vec2};
use image::RgbaImage;

use super::desk::{Desk, Folders, Next};
use super::pace::{LONGEST_UNPAINTED, Pace, Turn};
use super::paint::Pass;
use super::pictures::{Pictures, Urgency};
use super::theme;
use super::threads::prover::Prover;
use crate::base::frame::Frame;
use crate::catalogue::Catalogue;
use crate::edit::Work;
use crate::gpu::{Gpu, GpuError};

/// How the interface's values are stored: encoded, as its pictures are.
const FORMAT: wgpu::TextureFormat = wgpu::TextureFormat::Rgba8Unorm;

fn target(gpu: &Gpu, size: Frame) -> Result<wgpu::Texture, GpuError> {
    gpu.check_frame(size)?;
    Ok(gpu.device().create_texture(&wgpu::TextureDescriptor {
        label: Some("window"),
        size: wgpu::Extent3d { width: size.width, height: size.height, depth_or_array_layers: 1 },
        mip_level_count: 1,
        sample_count: 1,
        dimension: wgpu::TextureDimension::D2,
        format: FORMAT,
        usage: wgpu::TextureUsages::RENDER_ATTACHMENT | wgpu::TextureUsages::COPY_SRC,
        view_formats: &[],
    }))
}

/// A window on a texture.
pub struct Offscreen {
    ctx: egui::Context,
    desk: Desk,
    target: wgpu::Texture,
    size: Frame,
    began: Instant,
    pace: Pace,
    /// Whether something has been found out since the last pass.
    woken: Arc<AtomicBool>,
    /// Where time stands, in seconds, once [`Self::step`] has set it.
    stepped: Option<f64>,
}

impl Offscreen {
    /// A window of this size, one texel to the point, with work on it.
    ///
    /// # Errors
    /// [`GpuError`] where the size is larger than the GPU can hold.
    pub fn new(gpu: Gpu, work: Work, catalogue: Catalogue, size: Frame) -> Result<Self, GpuError> {
        let target = target(&gpu, size)?;
        let ctx = egui::Context::default();
        theme::dress(&ctx);
        let woken = Arc::new(AtomicBool::new(false));
        let wakes = Arc::clone(&woken);
        let prover = Prover::new(Some(gpu.sibling()), move || wakes.store(true, Ordering::Relaxed));
        let pictures = Pictures::on(gpu, FORMAT, &catalogue);
        let desk = Desk::new(work, catalogue, pictures, prover, Folders::default());
        let (began, pace) = (Instant::now(), Pace::default());
        Ok(Self { ctx, desk, target, size, began, pace, woken, stepped: None })
    }

    pub fn desk(&mut self) -> &mut Desk {
        &mut self.desk
    }

    /// Makes the window another size, as a person does who drags its corner.
    ///
    /// # Errors
    /// [`GpuError`] where there is no GPU, or the size is larger than it can hold.
    pub fn resize(&mut self, size: Frame) -> Result<(), GpuError> {
        let gpu =
            self.desk.pictures().gpu().ok_or_else(|| GpuError::Refused("there is no GPU".to_owned()))?;
        self.target = target(gpu, size)?;
        self.size = size;
        Ok(())
    }

    /// Draws, makes and paints one frame at the current time; what the person did is in `events`.
    pub fn frame(&mut self, events: Vec<egui::Event>) -> Next {
        self.frame_then(events, |_| ())
    }

    /// Like [`Self::frame`]; `painted` runs once the pass is sent, before anything else is.
    fn frame_then(&mut self, events: Vec<egui::Event>, painted: impl FnOnce(&Gpu)) -> Next {
        let began = Instant::now();
        let time = self.stepped.unwrap_or_else(|| self.began.elapsed().as_secs_f64());
        // As a display gives it: larger text leaves fewer points.
        let size = vec2(self.size.width as f32, self.size.height as f32) / self.ctx.zoom_factor();
        let input = egui::RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, size)),
            time: Some(time),
            focused: true,
            events,
            ..Default::default()
        };
        let desk = &mut self.desk;
        let output = self.ctx.run_ui(input, |ui| desk.ui(ui));
        let delay = output.viewport_output.get(&egui::ViewportId::ROOT).map(|root| root.repaint_delay);
        let pass = Pass {
            primitives: self.ctx.tessellate(output.shapes, output.pixels_per_point),
            textures: output.textures_delta,
            pixels_per_point: output.pixels_per_point,
        };
        let view = self.target.create_view(&wgpu::TextureViewDescriptor::default());
        if let Some((painter, gpu)) = self.desk.pictures().painter() {
            pass.paint(painter, gpu, &view, [self.size.width, self.size.height]);
        }
        if let Some(gpu) = self.desk.pictures().gpu() {
            painted(gpu);
        }
        let next = self.desk.after_pass();
        self.pace.painted(began, next, delay);
        next
    }

    /// Goes on as a window on a display does, and gives for each of these inputs how long it took from
    /// when it came, counted from now, until the pass that answers it was painted whole.
    pub fn answers(&mut self, inputs: Vec<(Duration, Vec<egui::Event>)>) -> Vec<Duration> {
        let (began, count) = (Instant::now(), inputs.len());
        let painted: Arc<Mutex<Vec<Duration>>> = Arc::default();
        let heard = |list: &Mutex<Vec<Duration>>| list.lock().unwrap_or_else(PoisonError::into_inner).len();
        let mut inputs = inputs.into_iter().peekable();
        while heard(&painted) < count {
            let came = inputs.next_if(|(at, _)| began + *at <= Instant::now());
            if let Some((at, events)) = came {
                if let Some(gpu) = self.desk.pictures().gpu() {
                    gpu.await_answer();
                }
                // What was painted is known to be done before anything else is sent.
                self.frame_then(events, |gpu| {
                    let painted = Arc::clone(&painted);
                    gpu.queue().on_submitted_work_done(move || {
                        let took = (began + at).elapsed();
                        painted.lock().unwrap_or_else(PoisonError::into_inner).push(took);
                    });
                });
                continue;
            }
            self.go_on(inputs.peek().map(|(at, _)| began + *at));
        }
        std::mem::take(&mut *painted.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// Paints, has pictures made or waits, as a window on a display does; no longer than until then, where something
    /// is to happen then.
    fn go_on(&mut self, at: Option<Instant>) {
        let turn = self.pace.turn(&mut self.desk);
        if turn == Turn::Paint || self.woken.swap(false, Ordering::Relaxed) {
            self.frame(Vec::new());
            return;
        }
        let wake = match turn {
            Turn::Until(time) => time,
            Turn::Paint | Turn::Rest => Instant::now() + Duration::from_millis(1),
        };
        if let Some(gpu) = self.desk.pictures().gpu() {
            let _ = gpu.device().poll(wgpu::PollType::Poll);
        }
        let wake = at.map_or(wake, |at| wake.min(at));
        let pause = wake.saturating_duration_since(Instant::now());
        std::thread::sleep(pause.min(Duration::from_millis(1)));
        if Instant::now() >= wake {
            self.pace.time_has_come(&mut self.desk);
        }
    }

    /// Goes on until it shows its output, and until it shows the families of the orders on its wall; gives how long each
    /// took from now, where both are there in time.
    pub fn opens(&mut self, most: Duration) -> Option<[Duration; 2]> {
        let began = Instant::now();
        let mut output = None;
        self.frame(Vec::new());
        while began.elapsed() < most {
            self.go_on(None);
            if output.is_none() && !self.desk.pictures().lacks(Urgency::Large) {
                output = Some(began.elapsed());
            }
            let has_families = self.desk.laid().is_some_and(|laid| laid.families().is_some());
            if let Some(output) = output.filter(|_| has_families) {
                return Some([output, began.elapsed()]);
            }
        }
        None
    }

    /// A frame this much later than the last, whatever the clock says: for pictures that come out alike.
    pub fn step(&mut self, seconds: f64, events: Vec<egui::Event>) -> Next {
        self.stepped = Some(self.stepped.unwrap_or(0.0) + seconds);
        self.frame(events)
    }

    /// A key pressed and let go.
    pub fn press(&mut self, key: egui::Key, modifiers: egui::Modifiers) {
        let event = |pressed| egui::Event::Key { key, physical_key: None, pressed, repeat: false, modifiers };
        self.step(0.1, vec![event(true)]);
        self.step(0.1, vec![event(false)]);
    }

    /// Waits until the GPU has done all that was asked of it.
    ///
    /// # Errors
    /// [`GpuError::Lost`] where it stopped answering.
    pub fn finish(&mut self) -> Result<(), GpuError> {
        let Some(gpu) = self.desk.pictures().gpu() else { return Ok(()) };
        let lost = |error: wgpu::PollError| GpuError::Lost(error.to_string());
        gpu.device().poll(wgpu::PollType::wait_indefinitely()).map(|_| ()).map_err(lost)
    }

    /// Goes on until nothing changes any more, or the time is up; gives whether it came to rest.
    ///
    /// # Errors
    /// [`GpuError::Lost`] where the GPU stopped answering.
    pub fn settle(&mut self, most: Duration) -> Result<bool, GpuError> {
        let began = Instant::now();
        let mut quiet = 0;
        while quiet < 8 {
            if began.elapsed() > most {
                return Ok(false);
            }
            let painting = Instant::now();
            let next = self.step(0.1, Vec::new());
            self.finish()?;
            let is_at_rest = !next.is_making && !self.desk.is_asking();
            quiet = if is_at_rest { quiet + 1 } else { 0 };
            if !is_at_rest {
                self.make(next, painting.elapsed())?;
            }
        }
        Ok(true)
    }

    /// Has pictures made, or lets threads work, for a few times as long as a painting took: what is waited for is
    /// not the painting.
    fn make(&mut self, next: Next, painting: Duration) -> Result<(), GpuError> {
        let until = Instant::now() + (painting * 4).clamp(Duration::from_millis(2), LONGEST_UNPAINTED);
        while Instant::now() < until {
            self.finish()?;
            if next.is_making && self.desk.make_more() == 0 {
                break;
            }
            std::thread::sleep(Duration::from_millis(1));
        }
        Ok(())
    }

    /// What is painted, read back.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn picture(&mut self) -> Result<RgbaImage, GpuError> {
        let Frame { width, height } = self.size;
        let refused = |what: &str| GpuError::Refused(what.to_owned());
        let gpu = self.desk.pictures().gpu().ok_or_else(|| refused("there is no GPU"))?;
        let row = (width * 4).next_multiple_of(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT);
        let buffer = gpu.device().create_buffer(&wgpu::BufferDescriptor {
            label: Some("window read back"),
            size: u64::from(row) * u64::from(height),
            usage: wgpu::BufferUsages::COPY_DST | wgpu::BufferUsages::MAP_READ,
            mapped_at_creation: false,
        });
        let mut encoder = gpu.device().create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        encoder.copy_texture_to_buffer(
            self.target.as_image_copy(),
            wgpu::TexelCopyBufferInfo {
                buffer: &buffer,
                layout: wgpu::TexelCopyBufferLayout {
                    offset: 0,
                    bytes_per_row: Some(row),
                    rows_per_image: None,
                },
            },
            self.target.size(),
        );
        gpu.queue().submit([encoder.finish()]);
        let (tell, told) = std::sync::mpsc::channel();
        buffer.map_async(wgpu::MapMode::Read, .., move |done| {
            let _ = tell.send(done);
        });
        let lost = |error: wgpu::PollError| GpuError::Lost(error.to_string());
        gpu.device().poll(wgpu::PollType::wait_indefinitely()).map_err(lost)?;
        match told.recv() {
            Ok(Ok(())) => {}
            _ => return Err(refused("the painted window could not be read back")),
        }
        let bytes = buffer.get_mapped_range(..).map_err(|error| GpuError::Lost(error.to_string()))?;
        let rows = bytes.chunks_exact(row as usize).flat_map(|row| &row[..width as usize * 4]);
        let rgba: Vec<u8> = rows.copied().collect();
        drop(bytes);
        RgbaImage::from_raw(width, height, rgba).ok_or_else(|| refused("too few bytes came back"))
    }
}
