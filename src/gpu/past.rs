//! What effects that remember keep from frame to frame, and the frames that lead up to a picture.

use std::collections::HashMap;
use std::rc::Rc;
use std::sync::Arc;

use super::GpuError;
use super::recording::Recording;
use super::renderer::{Renderer, texels_per_submission};
use super::sheet::Sheet;
use crate::chain::PastId;
use crate::footage::Picture;
use crate::plan::{Path, remembered};

/// The last outputs of the effects that remember, and the footage of the frames before.
#[derive(Debug, Default)]
pub(super) struct Past {
    last: HashMap<PastId, Rc<Sheet>>,
    /// Footage often stays the same from frame to frame: it is uploaded once.
    footage: Vec<(Arc<Picture>, Rc<Sheet>, u64)>,
    frames: u64,
}

/// Footage not shown for this many frames is let go.
const FOOTAGE_WAITS: u64 = 4;

impl Past {
    /// Keeps an effect's output, and gives the one that it kept before.
    pub(super) fn replaced(&mut self, id: PastId, output: &Rc<Sheet>) -> Option<Rc<Sheet>> {
        self.last.insert(id, Rc::clone(output))
    }

    /// Begins the next frame.
    pub(super) fn next_frame(&mut self) {
        self.frames += 1;
        let frames = self.frames;
        self.footage.retain(|(.., last_use)| last_use + FOOTAGE_WAITS > frames);
    }
}

impl Renderer {
    /// Renders the frames that lead up to a path's own with its chain in this order, and gives what is
    /// kept of them.
    pub(super) fn warmed_up(
        &mut self,
        recording: &mut Recording,
        path: &Path,
        order: &[usize],
    ) -> Result<Past, GpuError> {
        let mut past = Past::default();
        let most = texels_per_submission(self.gpu.adapter());
        let mut waiting = 0;
        for frame in path.past.iter() {
            let (steps, _) = frame.in_order(order);
            let needed = remembered(&steps);
            self.record_steps(recording, &steps, Some(&needed), &frame.moment, &[], Some(&mut past))?;
            past.next_frame();
            let passes = needed.iter().filter(|&&needed| needed).count() as u64;
            waiting += passes * frame.moment.frame.texels();
            if waiting > most {
                self.send(recording)?;
                self.wait()?;
                waiting = 0;
            }
        }
        Ok(past)
    }

    /// A picture's bytes on the GPU: those of an earlier frame, where they are still there.
    pub(super) fn uploaded_once(
        &mut self,
        recording: &mut Recording,
        picture: &Arc<Picture>,
        past: &mut Past,
    ) -> Result<Rc<Sheet>, GpuError> {
        let frames = past.frames;
        if let Some((_, sheet, last_use)) =
            past.footage.iter_mut().find(|(known, ..)| Arc::ptr_eq(known, picture))
        {
            *last_use = frames;
            return Ok(Rc::clone(sheet));
        }
        // The processor writes before any dispatch of a recording runs, and so not into a sheet that one
        // of them has let go of: what is recorded goes first.
        self.send(recording)?;
        let sheet = self.uploaded(recording, picture)?;
        past.footage.push((Arc::clone(picture), Rc::clone(&sheet), frames));
        Ok(sheet)
    }
}
