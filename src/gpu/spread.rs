//! Pictures of galleries as points in CIELAB: how far their means are apart, without reading one of them back.

use std::rc::Rc;

use bytemuck::{Pod, Zeroable};

use super::GpuError;
use super::difference::Gallery;
use super::pipelines::Program;
use super::recording::{Dispatch, Recording};
use super::renderer::{Renderer, texels_per_submission};
use crate::base::frame::{Frame, PixelMode};
use crate::order::{Pieces, Points, Weights};

/// The pictures of an exploration as points: those of all galleries side by side, brought by area to at most
/// [`POINT_TEXELS`], over black, in CIELAB under D65.
#[derive(Debug)]
pub struct GalleryPoints<'a> {
    renderer: &'a mut Renderer,
    /// Each with the moments that it stands for.
    galleries: Vec<(&'a Gallery, u32)>,
}

/// The pictures of an exploration of several pieces of footage as points: of each piece, those of its galleries.
#[derive(Debug)]
pub struct GalleryPieces<'a> {
    renderer: &'a mut Renderer,
    /// For each piece, its galleries, each with the moments that it stands for.
    pieces: Vec<Vec<(&'a Gallery, u32)>>,
}

impl<'a> GalleryPieces<'a> {
    /// The pieces whose pictures these are.
    pub fn of(renderer: &'a mut Renderer, pieces: Vec<Vec<(&'a Gallery, u32)>>) -> Self {
        Self { renderer, pieces }
    }
}

impl Pieces for GalleryPieces<'_> {
    type Error = GpuError;

    fn count(&self) -> usize {
        self.pieces.len()
    }

    fn points(&mut self, piece: usize) -> impl Points<Error = GpuError> {
        GalleryPoints::of(self.renderer, self.pieces[piece].clone())
    }
}

/// Points are pictures of at most this many texels: 160x90.
pub const POINT_TEXELS: u64 = 160 * 90;

/// Sums that one dispatch of `lab_sums.wgsl` makes.
const COLUMNS: usize = 16;
/// Columns that are summed together, so that their sums fit what an adapter binds.
const MOST_COLUMNS: usize = 4 * COLUMNS;
/// Its parts of a unit of CIELAB, squared.
const SQUARED_PARTS: f64 = 256.0 * 256.0;

/// Settings of `lab_sums.wgsl`, `between_means.wgsl` and `from_means.wgsl`: the size of points, where the sums begin,
/// and how many pictures are added.
#[derive(Debug, Clone, Copy, Pod, Zeroable)]
#[repr(C, align(16))]
struct Summing {
    width: u32,
    height: u32,
    sums: u32,
    pictures: u32,
}

/// A job of `lab_sums.wgsl`.
#[derive(Debug, Clone, Copy, Pod, Zeroable)]
#[repr(C)]
struct Summand {
    layer: u32,
    unused: [u32; 3],
    weights: [u32; COLUMNS],
}

/// A job of `between_means.wgsl`.
#[derive(Debug, Clone, Copy, Pod, Zeroable)]
#[repr(C)]
struct Between {
    column: u32,
    holding: u32,
    others: u32,
    into: u32,
}

/// A job of `from_means.wgsl`.
#[derive(Debug, Clone, Copy, Pod, Zeroable)]
#[repr(C)]
struct FromMean {
    layer: u32,
    column: u32,
    weight: u32,
    into: u32,
}

/// Sums of a gallery on the GPU, and room for answers before them.
struct Sums {
    figures: wgpu::Buffer,
    settings: Summing,
    /// Words of one answer: what each workgroup found.
    answer: usize,
}

/// The size of points for pictures of this size: the largest of its shape.
pub fn point_frame(frame: Frame) -> Frame {
    let scale = (POINT_TEXELS as f64 / frame.texels() as f64).sqrt().min(1.0);
    let side = |texels: u32| ((f64::from(texels) * scale).round() as u32).max(1);
    Frame { width: side(frame.width), height: side(frame.height) }
}

impl<'a> GalleryPoints<'a> {
    /// The pictures of these galleries, each with the moments that it stands for.
    pub fn of(renderer: &'a mut Renderer, galleries: Vec<(&'a Gallery, u32)>) -> Self {
        Self { renderer, galleries }
    }

    /// Adds up pictures of a gallery; `weight(class, column)` says how much of each.
    fn sums(
        &mut self,
        gallery: &Gallery,
        classes: &[usize],
        columns: usize,
        answers: usize,
        weight: impl Fn(usize, usize) -> u32,
    ) -> Result<Sums, GpuError> {
        let small = point_frame(gallery.frame);
        let answer = (small.width.div_ceil(64) * small.height.div_ceil(32)) as usize;
        let before = answers * answer;
        let a_column = small.texels() as usize * 3;
        let words = before + columns.next_multiple_of(COLUMNS) * a_column;
        let figures = self.renderer.figures(words as u64 * 4);
        let settings = Summing { width: small.width, height: small.height, sums: before as u32, pictures: 0 };
        let mut recording = Recording::new(PixelMode::Encoded8Bit);
        let most = (self.renderer.submission_texels() / gallery.frame.texels()).max(1) as usize;
        for (nth, array) in gallery.arrays.iter().enumerate() {
            let here: Vec<usize> =
                classes.iter().copied().filter(|&class| gallery.places[class].0 == nth).collect();
            for classes in here.chunks(most) {
                for first in (0..columns).step_by(COLUMNS) {
                    let row = |class: usize| {
                        let column = |column| if column < columns { weight(class, column) } else { 0 };
                        std::array::from_fn(|at| column(first + at))
                    };
                    let summand = |&class: &usize| Summand {
                        layer: gallery.places[class].1,
                        unused: [0; 3],
                        weights: row(class),
                    };
                    let jobs: Vec<Summand> = classes.iter().map(summand).collect();
                    let into = Summing {
                        sums: (before + first * a_column) as u32,
                        pictures: jobs.len() as u32,
                        ..settings
                    };
                    let read = vec![Rc::clone(array)];
                    let dispatch = Dispatch::into_figures(Program::LabSums, read, &figures, small);
                    let dispatch = dispatch.with_settings(&into).over_jobs(&jobs);
                    self.renderer.record(&mut recording, dispatch);
                }
                self.renderer.is_stopped()?;
                self.renderer.send(&mut recording)?;
            }
        }
        Ok(Sums { figures, settings, answer })
    }

    /// Has the squared distances of pictures from means found: each job is of a class.
    fn distances_from_means(
        &mut self,
        gallery: &Gallery,
        sums: &Sums,
        jobs: Vec<(usize, FromMean)>,
    ) -> Result<(), GpuError> {
        let small = point_frame(gallery.frame);
        let most = (self.renderer.submission_texels() / gallery.frame.texels()).max(1) as usize;
        let mut recording = Recording::new(PixelMode::Encoded8Bit);
        for (nth, array) in gallery.arrays.iter().enumerate() {
            let here = jobs.iter().filter(|(class, _)| gallery.places[*class].0 == nth);
            let job = |&(class, job): &(usize, FromMean)| FromMean { layer: gallery.places[class].1, ..job };
            let here: Vec<FromMean> = here.map(job).collect();
            for jobs in here.chunks(most) {
                let read = vec![Rc::clone(array)];
                let dispatch = Dispatch::into_figures(Program::FromMeans, read, &sums.figures, small);
                self.renderer.record(&mut recording, dispatch.with_settings(&sums.settings).for_jobs(jobs));
                self.renderer.is_stopped()?;
                self.renderer.send(&mut recording)?;
            }
        }
        Ok(())
    }

    /// The answers before the sums, each put together, in units of CIELAB; with them the sums are done.
    fn answers(&mut self, sums: &Sums, count: usize) -> Result<Vec<f64>, GpuError> {
        let words = self.renderer.read_words(&sums.figures, count * sums.answer)?;
        // Of many galleries they would fill the memory before the device gets round to letting them go.
        sums.figures.destroy();
        let answer = |parts: &[u32]| parts.iter().map(|&part| f64::from(f32::from_bits(part))).sum::<f64>();
        Ok(words.chunks_exact(sums.answer).map(|parts| answer(parts) / SQUARED_PARTS).collect())
    }
}

impl Points for GalleryPoints<'_> {
    type Error = GpuError;

    fn between_means(&mut self, classes: &[usize], weights: &Weights) -> Result<Vec<f64>, GpuError> {
        let total = |column: &[u32]| classes.iter().map(|&class| column[class]).sum::<u32>();
        let whole = total(&weights.whole);
        let asked: Vec<(usize, u32)> = weights
            .columns
            .iter()
            .map(|column| total(column))
            .enumerate()
            .filter(|&(_, holding)| holding > 0 && holding < whole)
            .collect();
        let mut apart = vec![0.0; weights.columns.len()];
        if asked.is_empty() {
            return Ok(apart);
        }
        for (gallery, moments) in self.galleries.clone() {
            for asked in asked.chunks(MOST_COLUMNS - 1) {
                let weight = |class: usize, column: usize| match column {
                    0 => weights.whole[class],
                    column => weights.columns[asked[column - 1].0][class],
                };
                let sums = self.sums(gallery, classes, asked.len() + 1, asked.len(), weight)?;
                let job = |(nth, &(_, holding)): (usize, &(usize, u32))| Between {
                    column: nth as u32 + 1,
                    holding,
                    others: whole - holding,
                    into: (nth * sums.answer) as u32,
                };
                let jobs: Vec<Between> = asked.iter().enumerate().map(job).collect();
                let mut recording = Recording::new(PixelMode::Encoded8Bit);
                let (small, read) = (point_frame(gallery.frame), vec![Rc::clone(&gallery.arrays[0])]);
                let dispatch = Dispatch::into_figures(Program::BetweenMeans, read, &sums.figures, small);
                self.renderer.record(&mut recording, dispatch.with_settings(&sums.settings).for_jobs(&jobs));
                self.renderer.send(&mut recording)?;
                let found = self.answers(&sums, asked.len())?;
                for (&(column, _), found) in asked.iter().zip(found) {
                    apart[column] += f64::from(moments) * found;
                }
            }
        }
        Ok(apart)
    }

    fn distances(&mut self, families: &[&[usize]], weights: &Weights) -> Result<Vec<Vec<f64>>, GpuError> {
        let classes: Vec<usize> = families.iter().flat_map(|family| family.iter().copied()).collect();
        let family_of: Vec<usize> = families
            .iter()
            .enumerate()
            .flat_map(|(nth, family)| std::iter::repeat_n(nth, family.len()))
            .collect();
        let mut family_of_class = vec![usize::MAX; weights.whole.len()];
        classes.iter().zip(&family_of).for_each(|(&class, &family)| family_of_class[class] = family);
        let total = |family: &&[usize]| family.iter().map(|&class| weights.whole[class]).sum::<u32>().max(1);
        let totals: Vec<u32> = families.iter().map(total).collect();
        let mut far = vec![0.0; classes.len()];
        for (gallery, moments) in self.galleries.clone() {
            let weight = |class: usize, column: usize| {
                if family_of_class[class] == column { weights.whole[class] } else { 0 }
            };
            let sums = self.sums(gallery, &classes, families.len(), classes.len(), weight)?;
            let job = |(at, (&class, &family)): (usize, (&usize, &usize))| {
                let (column, weight) = (family as u32, totals[family]);
                (class, FromMean { layer: 0, column, weight, into: (at * sums.answer) as u32 })
            };
            let jobs = classes.iter().zip(&family_of).enumerate().map(job).collect();
            self.distances_from_means(gallery, &sums, jobs)?;
            let found = self.answers(&sums, classes.len())?;
            far.iter_mut().zip(found).for_each(|(far, found)| *far += f64::from(moments) * found);
        }
        let mut far = far.into_iter();
        Ok(families.iter().map(|family| far.by_ref().take(family.len()).collect()).collect())
    }

    fn distances_from_sides(
        &mut self,
        some: &[usize],
        classes: &[usize],
        weights: &Weights,
    ) -> Result<Vec<Vec<[f64; 2]>>, GpuError> {
        let mut far = vec![vec![[0.0; 2]; some.len()]; weights.columns.len()];
        for (gallery, moments) in self.galleries.clone() {
            for (columns, far) in
                weights.columns.chunks(MOST_COLUMNS / 2).zip(far.chunks_mut(MOST_COLUMNS / 2))
            {
                let weight = |class: usize, side: usize| match side % 2 {
                    0 => columns[side / 2][class],
                    _ => weights.whole[class] - columns[side / 2][class],
                };
                let sides = 2 * columns.len();
                let sums = self.sums(gallery, classes, sides, sides * some.len(), weight)?;
                let total =
                    |side: usize| classes.iter().map(|&class| weight(class, side)).sum::<u32>().max(1);
                let mut jobs = Vec::with_capacity(sides * some.len());
                for side in 0..sides {
                    let total = total(side);
                    for (at, &class) in some.iter().enumerate() {
                        let into = ((side * some.len() + at) * sums.answer) as u32;
                        jobs.push((class, FromMean { layer: 0, column: side as u32, weight: total, into }));
                    }
                }
                // What weighs nothing on a side is not asked for.
                jobs.retain(|&(class, job)| weight(class, job.column as usize) > 0);
                self.distances_from_means(gallery, &sums, jobs)?;
                let found = self.answers(&sums, sides * some.len())?;
                for (nth, found) in found.into_iter().enumerate() {
                    let (side, at) = (nth / some.len(), nth % some.len());
                    far[side / 2][at][side % 2] += f64::from(moments) * found;
                }
            }
        }
        Ok(far)
    }
}

impl Renderer {
    /// Texels that one submission reads or makes at most.
    fn submission_texels(&self) -> u64 {
        self.brief_texels.unwrap_or(texels_per_submission(self.gpu.adapter()))
    }
}
