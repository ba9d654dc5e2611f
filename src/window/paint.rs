//! Painting a pass of the interface on a surface or a texture: the same for both.

use super::pictures::Pictures;

/// What one pass of the interface drew.
pub struct Pass {
    /// Its shapes, as triangles.
    pub primitives: Vec<egui::ClippedPrimitive>,
    /// Textures that it made and let go.
    pub textures: egui::TexturesDelta,
    /// Texels of the target in one point.
    pub pixels_per_point: f32,
}

impl Pass {
    /// Takes over the pass's textures though it is not painted: later passes draw with them.
    pub fn keep_textures(mut self, pictures: &mut Pictures) {
        self.take_in(pictures);
        self.let_go(pictures);
    }

    /// Paints on a target of this size, in texels.
    pub fn paint(mut self, pictures: &mut Pictures, target: &wgpu::TextureView, size_in_pixels: [u32; 2]) {
        self.take_in(pictures);
        if let Some((painter, gpu)) = pictures.painter() {
            let (device, queue) = (gpu.device(), gpu.queue());
            let screen =
                egui_wgpu::ScreenDescriptor { size_in_pixels, pixels_per_point: self.pixels_per_point };
            let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
            let before = painter.update_buffers(device, queue, &mut encoder, &self.primitives, &screen);
            {
                let pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
                    label: Some("window"),
                    color_attachments: &[Some(wgpu::RenderPassColorAttachment {
                        view: target,
                        depth_slice: None,
                        resolve_target: None,
                        ops: wgpu::Operations {
                            load: wgpu::LoadOp::Clear(wgpu::Color::BLACK),
                            store: wgpu::StoreOp::Store,
                        },
                    })],
                    ..Default::default()
                });
                painter.render(&mut pass.forget_lifetime(), &self.primitives, &screen);
            }
            queue.submit(before.into_iter().chain([encoder.finish()]));
            gpu.answer_is_sent();
        }
        self.let_go(pictures);
    }

    fn take_in(&mut self, pictures: &mut Pictures) {
        let Some((painter, gpu)) = pictures.painter() else { return };
        for (id, deltas) in &self.textures.set {
            for delta in deltas {
                painter.update_texture(gpu.device(), gpu.queue(), *id, delta);
            }
        }
    }

    fn let_go(&mut self, pictures: &mut Pictures) {
        if let Some((painter, _)) = pictures.painter() {
            for id in &self.textures.free {
                painter.free_texture(id);
            }
        }
        self.textures.clear();
    }
}
