//! How far pictures are apart: two of them, or many on the GPU.

use std::cell::OnceCell;
use std::rc::Rc;

use super::GpuError;
use super::jobs::{Compared, Fingerprinted, Rows, Scaling, Shrinking};
use super::pipelines::{BYTES, Form, Program};
use super::recording::{Dispatch, Recording};
use super::renderer::Renderer;
use super::texture_array::TextureArray;
use crate::base::frame::{Frame, PixelMode};
use crate::base::picture::Picture;
use crate::measure::{BINS, Counted, Difference, DifferenceScale, STEPS};

/// The pictures of an exploration, kept on the GPU to be measured against each other.
#[derive(Debug)]
pub struct Gallery {
    pub(super) frame: Frame,
    pub(super) arrays: Vec<Rc<TextureArray>>,
    /// For each class, its array and its layer there.
    pub(super) places: Vec<(usize, u32)>,
    /// For each class, how light each block of its picture is, as `lightness.wgsl` sums it, once that was asked.
    lightness: OnceCell<Vec<u32>>,
}

impl Gallery {
    /// The size that pictures are measured at.
    pub fn frame(&self) -> Frame {
        self.frame
    }

    /// The same pictures for other classes: for each, the class whose picture it shares.
    #[must_use]
    pub fn shared(self, class_of: &[usize]) -> Self {
        let places = class_of.iter().map(|&class| self.places[class]).collect();
        Self { places, lightness: OnceCell::new(), ..self }
    }

    /// Blocks of each of its pictures.
    fn blocks(&self) -> Frame {
        let Frame { width, height } = self.frame;
        Frame { width: width.div_ceil(BLOCK), height: height.div_ceil(BLOCK) }
    }
}

/// Words of one entry of `difference.wgsl`: changed, largest, sum (two words), bins.
pub(super) const ENTRY_WORDS: usize = 4 + BINS;

pub(super) const ENTRY_BYTES: u64 = ENTRY_WORDS as u64 * 4;

/// Words of an entry without bins; one stands in their place.
pub(super) const SUMS_WORDS: usize = 5;

/// Smaller pictures are counted at once: what is counted of them takes as long to read back. So are all of them on a GPU,
/// which counts sooner than it is waited for.
const SHARED_FROM_TEXELS: u64 = 1 << 14;

/// Texels along a side of a block whose light is summed.
const BLOCK: u32 = 4;

/// What a mean that is bounded by light may be off by rounding, in CIEDE2000: a step of each texel's light and of its
/// difference, and what 32 bits lose.
const LIGHT_SLACK: f64 = 0.01;

pub(super) fn counted_of(entry: &[u32], frame: Frame) -> Counted {
    let mut counted = Counted::of_texels(frame.texels());
    counted.changed = u64::from(entry[0]);
    counted.largest = entry[1];
    counted.sum = sum_of(entry);
    counted.bins.copy_from_slice(&entry[4..]);
    counted
}

pub(super) fn sum_of(entry: &[u32]) -> u64 {
    u64::from(entry[3]) << 32 | u64::from(entry[2])
}

pub(super) fn same_frame(found: Frame, wanted: Frame) -> Result<(), GpuError> {
    if found == wanted {
        return Ok(());
    }
    Err(GpuError::UnlikeFrames { found, wanted })
}

impl Renderer {
    /// How far pictures of a gallery are from one of them, at the gallery's size.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn apart(
        &mut self,
        gallery: &Gallery,
        reference: usize,
        others: &[usize],
    ) -> Result<Vec<Difference>, GpuError> {
        Ok(self.apart_in(std::slice::from_ref(gallery), reference, others)?.pop().unwrap_or_default())
    }

    /// The same in each of several galleries, for one wait.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn apart_in(
        &mut self,
        galleries: &[Gallery],
        reference: usize,
        others: &[usize],
    ) -> Result<Vec<Vec<Difference>>, GpuError> {
        let program = Program::Difference(Form::GivenOut);
        let asked: Vec<(&Gallery, &[usize])> = galleries.iter().map(|gallery| (gallery, others)).collect();
        let words = self.counted_apart(program, ENTRY_WORDS, &asked, reference, &Rows::ALL)?;
        let mut entries = words.chunks_exact(ENTRY_WORDS);
        let of = |gallery: &Gallery| {
            let entries = entries.by_ref().take(others.len());
            entries.map(|entry| counted_of(entry, gallery.frame).difference()).collect()
        };
        Ok(galleries.iter().map(of).collect())
    }

    /// The mean of each such difference; nothing for one that is at least its bound, of which no more is counted than
    /// shows that.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn means_apart(
        &mut self,
        gallery: &Gallery,
        reference: usize,
        others: &[usize],
        bounds: &[f64],
    ) -> Result<Vec<Option<f64>>, GpuError> {
        Ok(self
            .means_apart_in(std::slice::from_ref(gallery), reference, others, bounds)?
            .pop()
            .unwrap_or_default())
    }

    /// The same in each of several galleries, for as many waits as for one.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn means_apart_in(
        &mut self,
        galleries: &[Gallery],
        reference: usize,
        others: &[usize],
        bounds: &[f64],
    ) -> Result<Vec<Vec<Option<f64>>>, GpuError> {
        let is_bounded = bounds.iter().any(|bound| bound.is_finite());
        let Some(frame) = galleries.first().map(|gallery| gallery.frame) else { return Ok(Vec::new()) };
        let in_shares = is_bounded && frame.texels() >= SHARED_FROM_TEXELS && self.gpu.is_software();
        let shares: &[Rows] = if in_shares { &Rows::SHARES } else { &[Rows::ALL] };
        let texels = frame.texels() as f64;
        // In whole steps, so that it does not matter in which shares they are counted.
        let mut sums = vec![vec![0; others.len()]; galleries.len()];
        let mean = |sum: u64| sum as f64 / f64::from(STEPS) / texels;
        let mut open: Vec<Vec<usize>> = vec![(0..others.len()).collect(); galleries.len()];
        for rows in shares.iter().filter(|rows| rows.of(frame).height > 0) {
            let classes: Vec<Vec<usize>> =
                open.iter().map(|open| open.iter().map(|&at| others[at]).collect()).collect();
            let asked: Vec<(&Gallery, &[usize])> =
                galleries.iter().zip(&classes).map(|(gallery, classes)| (gallery, &classes[..])).collect();
            let program = Program::DifferenceSums(Form::GivenOut);
            let words = self.counted_apart(program, SUMS_WORDS, &asked, reference, rows)?;
            let mut entries = words.chunks_exact(SUMS_WORDS);
            for (open, sums) in open.iter_mut().zip(&mut sums) {
                for (&at, entry) in open.iter().zip(entries.by_ref()) {
                    sums[at] += sum_of(entry);
                }
                open.retain(|&at| mean(sums[at]) < bounds[at]);
            }
        }
        let means = |(open, sums): (&Vec<usize>, &Vec<u64>)| {
            let mut means = vec![None; others.len()];
            open.iter().for_each(|&at| means[at] = Some(mean(sums[at])));
            means
        };
        Ok(open.iter().zip(&sums).map(means).collect())
    }

    /// How far pictures of a gallery are from one of them at the least, as a mean: their light alone shows it, for next
    /// to nothing.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn at_least_apart(
        &mut self,
        gallery: &Gallery,
        reference: usize,
        others: &[usize],
    ) -> Result<Vec<f64>, GpuError> {
        self.learn_lightness(std::slice::from_ref(gallery))?;
        let lightness =
            gallery.lightness.get().ok_or(GpuError::Defect("the light of a gallery is unknown"))?;
        let blocks = gallery.blocks().texels() as usize;
        let of = |class: usize| &lightness[class * blocks..][..blocks];
        let own = of(reference);
        let texels = gallery.frame.texels() as f64;
        let apart = |&other: &usize| {
            let sum: u64 = own.iter().zip(of(other)).map(|(a, b)| u64::from(a.abs_diff(*b))).sum();
            (sum as f64 / f64::from(STEPS) / texels - LIGHT_SLACK).max(0.0)
        };
        Ok(others.iter().map(apart).collect())
    }

    /// Has the light of galleries known, for one wait: pictures are compared by it first.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn learn_lightness(&mut self, galleries: &[Gallery]) -> Result<(), GpuError> {
        let unknown: Vec<&Gallery> =
            galleries.iter().filter(|gallery| gallery.lightness.get().is_none()).collect();
        let mut all = Vec::with_capacity(unknown.len());
        for gallery in &unknown {
            let (classes, blocks) = (gallery.places.len(), gallery.blocks());
            let figures = self.figures(classes as u64 * blocks.texels() * 4);
            let settings = Shrinking::from(blocks);
            let mut recording = Recording::new(PixelMode::Encoded8Bit);
            for (nth, array) in gallery.arrays.iter().enumerate() {
                let here = gallery.places.iter().zip(0..).filter(|&(&(at, _), _)| at == nth);
                let jobs: Vec<Fingerprinted> =
                    here.map(|(&(_, layer), entry)| Fingerprinted { layer, entry }).collect();
                let dispatch =
                    Dispatch::into_figures(Program::Lightness, vec![Rc::clone(array)], &figures, blocks);
                self.record(&mut recording, dispatch.with_settings(&settings).for_jobs(&jobs));
            }
            self.send(&mut recording)?;
            all.push((figures, classes * blocks.texels() as usize));
        }
        if all.is_empty() {
            return Ok(());
        }
        let wanted: Vec<(&wgpu::Buffer, usize)> =
            all.iter().map(|(figures, words)| (figures, *words)).collect();
        for (gallery, found) in unknown.into_iter().zip(self.read_words_of(&wanted)?) {
            gallery.lightness.get_or_init(|| found);
        }
        Ok(())
    }

    /// What is counted in some rows of pictures of galleries, of each against one of its own.
    fn counted_apart(
        &mut self,
        program: Program<'_>,
        entry_words: usize,
        asked: &[(&Gallery, &[usize])],
        reference: usize,
        rows: &Rows,
    ) -> Result<Vec<u32>, GpuError> {
        let entries: usize = asked.iter().map(|(_, others)| others.len()).sum();
        if entries == 0 {
            return Ok(Vec::new());
        }
        let figures = self.figures((entries * entry_words) as u64 * 4);
        let mut recording = Recording::new(PixelMode::Encoded8Bit);
        let mut first = 0;
        for &(gallery, others) in asked {
            let (reference_array, reference_layer) = gallery.places[reference];
            for (nth, array) in gallery.arrays.iter().enumerate() {
                let here = others.iter().zip(first..).filter(|&(&class, _)| gallery.places[class].0 == nth);
                let job = |(&class, entry): (&usize, u32)| Compared {
                    layer: gallery.places[class].1,
                    reference: reference_layer,
                    entry,
                    unused: 0,
                };
                let jobs: Vec<Compared> = here.map(job).collect();
                if jobs.is_empty() {
                    continue;
                }
                let read = vec![Rc::clone(array), Rc::clone(&gallery.arrays[reference_array])];
                let dispatch = Dispatch::into_figures(program, read, &figures, rows.of(gallery.frame));
                self.record(&mut recording, dispatch.with_settings(rows).for_jobs(&jobs));
            }
            first += others.len() as u32;
            self.is_stopped()?;
            if self.gives_way() {
                // Where a person may wait, the next is not sent before this is done.
                self.send(&mut recording)?;
                self.wait()?;
            }
        }
        let words = self.read_words_made(&mut recording, &[(&figures, entries * entry_words)])?.pop();
        Ok(words.unwrap_or_default())
    }

    /// The pictures of some classes in a gallery.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn hung(
        &mut self,
        gallery: &Gallery,
        classes: impl IntoIterator<Item = usize>,
    ) -> Result<Vec<Picture>, GpuError> {
        let place = |class: usize| {
            let (array, layer) = gallery.places[class];
            (&*gallery.arrays[array], layer)
        };
        self.read_back_all(&classes.into_iter().map(place).collect::<Vec<_>>())
    }

    /// How far two pictures of one frame are apart.
    ///
    /// # Errors
    /// [`GpuError`] for pictures of different frames, or where the GPU fails.
    pub fn difference(&mut self, a: &Picture, b: &Picture) -> Result<Difference, GpuError> {
        same_frame(a.frame, b.frame)?;
        self.gpu.check_frame(a.frame)?;
        let arrays = vec![self.taken_in(b)?, self.taken_in(a)?];
        let figures = self.figures(ENTRY_BYTES);
        let mut recording = Recording::new(PixelMode::Encoded8Bit);
        let program = Program::Difference(Form::GivenOut);
        self.record(&mut recording, Dispatch::into_figures(program, arrays, &figures, a.frame));
        recording.submit(&self.gpu, &mut self.pipelines)?;
        let entry = self.read_words(&figures, ENTRY_WORDS)?;
        Ok(counted_of(&entry, a.frame).difference())
    }

    /// Where two pictures of one frame differ, in the colours of a scale.
    ///
    /// # Errors
    /// As [`difference`](Self::difference).
    pub fn difference_picture(
        &mut self,
        a: &Picture,
        b: &Picture,
        scale: DifferenceScale,
    ) -> Result<Picture, GpuError> {
        same_frame(a.frame, b.frame)?;
        self.gpu.check_frame(a.frame)?;
        let arrays = vec![self.taken_in(b)?, self.taken_in(a)?];
        let result = self.array(a.frame, 1, BYTES);
        let mut recording = Recording::new(PixelMode::Encoded8Bit);
        let settings = Scaling { most: scale.most as f32, ..Scaling::default() };
        let dispatch = Dispatch::into_array(Program::DifferencePicture, arrays, &result);
        self.record(&mut recording, dispatch.with_settings(&settings));
        recording.submit(&self.gpu, &mut self.pipelines)?;
        let mut pictures = self.read_back(&result, 1)?;
        pictures.pop().ok_or(GpuError::Defect("no picture came back"))
    }

    /// CIEDE2000 of pairs of colours in L*a*b*, as the GPU works it out: for checks.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn ciede2000(&mut self, pairs: &[[[f32; 3]; 2]]) -> Result<Vec<f32>, GpuError> {
        // A job of its shader is a pair: two colours of four words each.
        let jobs: Vec<[f32; 8]> =
            pairs.iter().map(|&[[l, a, b], [m, c, d]]| [l, a, b, 0.0, m, c, d, 0.0]).collect();
        let figures = self.figures(pairs.len() as u64 * 4);
        let mut recording = Recording::new(PixelMode::Encoded8Bit);
        let unused = self.unused();
        let frame = unused.frame;
        let dispatch = Dispatch::into_figures(Program::LabPairs, vec![unused], &figures, frame);
        self.record(&mut recording, dispatch.for_jobs(&jobs));
        recording.submit(&self.gpu, &mut self.pipelines)?;
        Ok(self.read_words(&figures, pairs.len())?.into_iter().map(f32::from_bits).collect())
    }

    pub(super) fn empty_gallery(&mut self, frame: Frame, classes: usize) -> Gallery {
        let most = self.gpu.limits.max_texture_array_layers as usize - 2;
        let arrays = (0..classes.div_ceil(most))
            .map(|nth| self.array(frame, (classes - nth * most).min(most) as u32, BYTES))
            .collect();
        let places = (0..classes).map(|at| (at / most, (at % most) as u32)).collect();
        Gallery { frame, arrays, places, lightness: OnceCell::new() }
    }
}
