//! Painting a pass of the interface on a surface or a texture: the same for both.
//!
//! `egui-wgpu` keeps the textures; its shader weighs several ways of reading one for every texel, which makes
//! a window painted by a processor answer four times as late as ours does.

use std::num::NonZeroU64;

use egui::epaint::{Primitive, Vertex};
use egui::{ClippedPrimitive, Rect, TextureId};

use crate::gpu::Gpu;

const SHADER: &str = include_str!("../../shaders/shared/paint.wgsl");

/// What one pass of the interface drew.
pub struct Pass {
    /// Its shapes, as triangles.
    pub primitives: Vec<ClippedPrimitive>,
    /// Textures that it made and let go.
    pub textures: egui::TexturesDelta,
    /// Texels of the target in one point.
    pub pixels_per_point: f32,
}

impl Pass {
    /// Takes over the pass's textures though it is not painted: later passes draw with them.
    pub fn keep_textures(self, painter: &mut Painter, gpu: &Gpu) {
        self.take_in(painter, gpu);
        self.let_go(painter);
    }

    /// Paints on a target of this size, in texels.
    pub fn paint(self, painter: &mut Painter, gpu: &Gpu, target: &wgpu::TextureView, size: [u32; 2]) {
        self.take_in(painter, gpu);
        let mut encoder = gpu.device().create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        painter.take_corners(gpu.device(), gpu.queue(), &self, size);
        painter.draw(&mut encoder, &self, target, size);
        gpu.queue().submit([encoder.finish()]);
        gpu.answer_is_sent();
        self.let_go(painter);
    }

    fn take_in(&self, painter: &mut Painter, gpu: &Gpu) {
        for (id, deltas) in &self.textures.set {
            for delta in deltas {
                painter.textures.update_texture(gpu.device(), gpu.queue(), *id, delta);
            }
        }
    }

    fn let_go(mut self, painter: &mut Painter) {
        for id in &self.textures.free {
            painter.textures.free_texture(id);
        }
        // What is dropped unasked is taken for lost, which ends a debug build.
        self.textures.clear();
    }

    /// What is drawn, each with its clip in texels of the target: left, top, width, height.
    fn drawn(&self, size: [u32; 2]) -> impl Iterator<Item = ([u32; 4], &egui::Mesh)> {
        self.primitives.iter().filter_map(move |one| {
            // Nothing of ours draws by other means than triangles.
            let Primitive::Mesh(mesh) = &one.primitive else { return None };
            Some((clip(one.clip_rect, self.pixels_per_point, size)?, mesh))
        })
    }
}

/// A clip in texels of the target; nothing where it holds none of them.
fn clip(rect: Rect, pixels_per_point: f32, [width, height]: [u32; 2]) -> Option<[u32; 4]> {
    // The cast ends at 0 below, the limit above.
    let texel = |point: f32, most: u32| ((point * pixels_per_point).round() as u32).min(most);
    let [left, right] = [rect.min.x, rect.max.x].map(|x| texel(x, width));
    let [top, bottom] = [rect.min.y, rect.max.y].map(|y| texel(y, height));
    (left < right && top < bottom).then(|| [left, top, right - left, bottom - top])
}

/// Paints passes.
pub struct Painter {
    /// Every texture that a pass draws with.
    pub textures: egui_wgpu::Renderer,
    pipeline: wgpu::RenderPipeline,
    window: wgpu::Buffer,
    window_bound: wgpu::BindGroup,
    corners: wgpu::Buffer,
    triangles: wgpu::Buffer,
}

impl Painter {
    /// Paints on targets of this format.
    pub fn new(device: &wgpu::Device, target: wgpu::TextureFormat) -> Self {
        let uniform = |bytes| wgpu::BindingType::Buffer {
            ty: wgpu::BufferBindingType::Uniform,
            has_dynamic_offset: false,
            min_binding_size: NonZeroU64::new(bytes),
        };
        let layout = |types: Vec<wgpu::BindingType>, visibility| {
            let entry = |(binding, ty)| wgpu::BindGroupLayoutEntry { binding, visibility, ty, count: None };
            let entries: Vec<_> = (0..).zip(types).map(entry).collect();
            device
                .create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor { label: None, entries: &entries })
        };
        let window_layout = layout(vec![uniform(16)], wgpu::ShaderStages::VERTEX);
        // As `egui-wgpu` binds its textures; the last tells its own shader how to read one.
        let texture = wgpu::BindingType::Texture {
            sample_type: wgpu::TextureSampleType::Float { filterable: true },
            view_dimension: wgpu::TextureViewDimension::D2,
            multisampled: false,
        };
        let sampler = wgpu::BindingType::Sampler(wgpu::SamplerBindingType::Filtering);
        let texture_layout = layout(vec![texture, sampler, uniform(16)], wgpu::ShaderStages::FRAGMENT);
        let buffer = |label, size, usage| {
            device.create_buffer(&wgpu::BufferDescriptor {
                label: Some(label),
                size,
                usage: usage | wgpu::BufferUsages::COPY_DST,
                mapped_at_creation: false,
            })
        };
        let window = buffer("window", 16, wgpu::BufferUsages::UNIFORM);
        let window_bound = device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: None,
            layout: &window_layout,
            entries: &[wgpu::BindGroupEntry { binding: 0, resource: window.as_entire_binding() }],
        });
        Self {
            textures: egui_wgpu::Renderer::new(device, target, egui_wgpu::RendererOptions::default()),
            pipeline: pipeline(device, target, [&window_layout, &texture_layout]),
            window,
            window_bound,
            corners: buffer("corners", 1 << 16, wgpu::BufferUsages::VERTEX),
            triangles: buffer("triangles", 1 << 16, wgpu::BufferUsages::INDEX),
        }
    }

    /// Sends the corners of all triangles, one mesh after another.
    fn take_corners(&mut self, device: &wgpu::Device, queue: &wgpu::Queue, pass: &Pass, size: [u32; 2]) {
        let points = size.map(|texels| texels as f32 / pass.pixels_per_point);
        queue.write_buffer(&self.window, 0, bytemuck::cast_slice(&[points[0], points[1], 0.0, 0.0]));
        let (mut corners, mut triangles) = (Vec::<Vertex>::new(), Vec::<u32>::new());
        for (_, mesh) in pass.drawn(size) {
            corners.extend_from_slice(&mesh.vertices);
            triangles.extend_from_slice(&mesh.indices);
        }
        for (buffer, bytes) in [
            (&mut self.corners, bytemuck::cast_slice::<Vertex, u8>(&corners)),
            (&mut self.triangles, bytemuck::cast_slice(&triangles)),
        ] {
            if buffer.size() < bytes.len() as u64 {
                *buffer = device.create_buffer(&wgpu::BufferDescriptor {
                    label: Some("corners or triangles"),
                    size: (bytes.len() as u64).next_power_of_two(),
                    usage: buffer.usage(),
                    mapped_at_creation: false,
                });
            }
            queue.write_buffer(buffer, 0, bytes);
        }
    }

    fn draw(
        &self,
        encoder: &mut wgpu::CommandEncoder,
        pass: &Pass,
        target: &wgpu::TextureView,
        size: [u32; 2],
    ) {
        let mut to = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
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
        to.set_pipeline(&self.pipeline);
        to.set_bind_group(0, &self.window_bound, &[]);
        to.set_vertex_buffer(0, self.corners.slice(..));
        to.set_index_buffer(self.triangles.slice(..), wgpu::IndexFormat::Uint32);
        let (mut corner, mut index) = (0, 0);
        let mut bound: Option<TextureId> = None;
        for ([left, top, width, height], mesh) in pass.drawn(size) {
            let indices = index..index + mesh.indices.len() as u32;
            if let Some(texture) = self.textures.texture(&mesh.texture_id) {
                if bound != Some(mesh.texture_id) {
                    to.set_bind_group(1, &texture.bind_group, &[]);
                    bound = Some(mesh.texture_id);
                }
                to.set_scissor_rect(left, top, width, height);
                to.draw_indexed(indices.clone(), corner, 0..1);
            }
            corner += mesh.vertices.len() as i32;
            index = indices.end;
        }
    }
}

fn pipeline(
    device: &wgpu::Device,
    target: wgpu::TextureFormat,
    layouts: [&wgpu::BindGroupLayout; 2],
) -> wgpu::RenderPipeline {
    let module = device.create_shader_module(wgpu::ShaderModuleDescriptor {
        label: Some("paint"),
        source: wgpu::ShaderSource::Wgsl(SHADER.into()),
    });
    let layout = device.create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
        label: Some("paint"),
        bind_group_layouts: &layouts.map(Some),
        immediate_size: 0,
    });
    device.create_render_pipeline(&wgpu::RenderPipelineDescriptor {
        label: Some("paint"),
        layout: Some(&layout),
        vertex: wgpu::VertexState {
            module: &module,
            entry_point: Some("corner_main"),
            compilation_options: wgpu::PipelineCompilationOptions::default(),
            buffers: &[Some(wgpu::VertexBufferLayout {
                array_stride: size_of::<Vertex>() as u64,
                step_mode: wgpu::VertexStepMode::Vertex,
                attributes: &wgpu::vertex_attr_array![0 => Float32x2, 1 => Float32x2, 2 => Unorm8x4],
            })],
        },
        primitive: wgpu::PrimitiveState::default(),
        depth_stencil: None,
        multisample: wgpu::MultisampleState::default(),
        fragment: Some(wgpu::FragmentState {
            module: &module,
            entry_point: Some(if target.is_srgb() { "linear_main" } else { "encoded_main" }),
            compilation_options: wgpu::PipelineCompilationOptions::default(),
            targets: &[Some(wgpu::ColorTargetState {
                format: target,
                blend: Some(wgpu::BlendState::PREMULTIPLIED_ALPHA_BLENDING),
                write_mask: wgpu::ColorWrites::ALL,
            })],
        }),
        multiview_mask: None,
        cache: None,
    })
}
