//! Texture arrays, and the pool that they come from and go back to.

use std::cell::RefCell;
use std::rc::Rc;

use super::Gpu;
use crate::base::doing::doing_untold;
use crate::base::frame::Frame;

/// A texture array: pictures of one size, one a layer. Dropped, it goes back to its pool.
#[derive(Debug)]
pub(super) struct TextureArray {
    pub(super) texture: wgpu::Texture,
    pub(super) view: wgpu::TextureView,
    /// Tells arrays apart.
    pub(super) id: u64,
    pub(super) frame: Frame,
    pub(super) layers: u32,
    pub(super) format: wgpu::TextureFormat,
    home: Rc<RefCell<Home>>,
}

impl TextureArray {
    /// Bytes of all its layers.
    pub(super) fn bytes(&self) -> u64 {
        let texel = if self.format == wgpu::TextureFormat::Rgba16Float { 8 } else { 4 };
        self.frame.texels() * u64::from(self.layers) * texel
    }
}

#[derive(Debug)]
struct Spare {
    texture: wgpu::Texture,
    view: wgpu::TextureView,
    id: u64,
    frame: Frame,
    layers: u32,
    format: wgpu::TextureFormat,
}

impl Drop for TextureArray {
    fn drop(&mut self) {
        let spare = Spare {
            texture: self.texture.clone(),
            view: self.view.clone(),
            id: self.id,
            frame: self.frame,
            layers: self.layers,
            format: self.format,
        };
        let mut home = self.home.borrow_mut();
        home.in_use = home.in_use.saturating_sub(spare.bytes());
        home.free.push(spare);
    }
}

/// Where arrays go back to.
#[derive(Debug, Default)]
struct Home {
    /// The last let go comes last.
    free: Vec<Spare>,
    /// Bytes of those that are not there, and the most that were not at once since a limit was set.
    in_use: u64,
    most_in_use: u64,
}

impl Home {
    fn take_out(&mut self, bytes: u64) {
        self.in_use += bytes;
        self.most_in_use = self.most_in_use.max(self.in_use);
    }
}

/// Arrays that wait for their next use.
#[derive(Debug, Default)]
pub(super) struct Pool {
    home: Rc<RefCell<Home>>,
    /// How many were made.
    next_id: u64,
    /// Bytes of arrays that may wait when another is made, or as many as were in use at once.
    may_wait: u64,
}

impl Spare {
    fn bytes(&self) -> u64 {
        let texel = u64::from(self.format.block_copy_size(None).unwrap_or(8));
        self.frame.texels() * u64::from(self.layers) * texel
    }
}

impl Pool {
    /// Lets this many bytes of arrays wait for their next use, from the next one made on; at least as many as were in use
    /// at once since this was last said, so that whoever does the same again and again makes none anew: a new one is
    /// cleared before its first use, which takes longer than to fill it.
    pub(super) fn let_wait(&mut self, bytes: u64) {
        let mut home = self.home.borrow_mut();
        let bytes = bytes.max(home.most_in_use);
        // Not all of them were in use at the same time.
        self.may_wait = bytes + bytes / 4;
        home.most_in_use = home.in_use;
    }

    /// How many arrays were made.
    pub(super) fn made(&self) -> u64 {
        self.next_id
    }

    /// An array of at least `layers` layers; its content is whatever was there.
    pub(super) fn array(
        &mut self,
        gpu: &Gpu,
        frame: Frame,
        layers: u32,
        format: wgpu::TextureFormat,
    ) -> Rc<TextureArray> {
        let layers = usable_layers(layers);
        let mut home = self.home.borrow_mut();
        let free = &mut home.free;
        let fitting = free.iter().position(|kept| {
            kept.frame == frame && kept.format == format && (layers..=layers * 2).contains(&kept.layers)
        });
        if let Some(place) = fitting {
            let spare = free.remove(place);
            home.take_out(spare.bytes());
            let Spare { texture, view, id, frame, layers, format } = spare;
            let home = Rc::clone(&self.home);
            return Rc::new(TextureArray { texture, view, id, frame, layers, format, home });
        }
        // What has waited longest is let go before more is taken than may wait. Whoever takes arrays of several sizes in
        // turn, frame after frame, finds them again: each would otherwise drive out the others.
        let _making = doing_untold("making texture arrays");
        let may_wait = self.may_wait.max(home.most_in_use);
        let free = &mut home.free;
        let mut waiting: u64 = free.iter().map(Spare::bytes).sum();
        while waiting > may_wait && !free.is_empty() {
            waiting -= free.remove(0).bytes();
        }
        let texture = gpu.device.create_texture(&wgpu::TextureDescriptor {
            label: Some("array"),
            size: wgpu::Extent3d { width: frame.width, height: frame.height, depth_or_array_layers: layers },
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format,
            usage: wgpu::TextureUsages::TEXTURE_BINDING
                | wgpu::TextureUsages::STORAGE_BINDING
                | wgpu::TextureUsages::COPY_SRC
                | wgpu::TextureUsages::COPY_DST,
            view_formats: &[],
        });
        let view = texture.create_view(&wgpu::TextureViewDescriptor {
            dimension: Some(wgpu::TextureViewDimension::D2Array),
            ..Default::default()
        });
        self.next_id += 1;
        let made = Spare { texture, view, id: self.next_id, frame, layers, format };
        home.take_out(made.bytes());
        let Spare { texture, view, id, .. } = made;
        let home = Rc::clone(&self.home);
        Rc::new(TextureArray { texture, view, id, frame, layers, format, home })
    }

    /// Lets go of every array that waits.
    pub(super) fn clear(&mut self) {
        self.home.borrow_mut().free.clear();
    }
}

/// GL takes one layer for a plain texture and six for a cube, whatever the view
/// says, so neither is asked for.
fn usable_layers(layers: u32) -> u32 {
    let layers = layers.max(2);
    if layers.is_multiple_of(6) { layers + 1 } else { layers }
}
