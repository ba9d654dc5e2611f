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

    fn galleries(&self) -> Vec<&'a Gallery> {
        self.pieces.iter().flatten().map(|&(gallery, _)| gallery).collect()
    }

    /// What was found in each gallery, as a sum for each piece.
    fn on_each(&self, found: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
        let mut found = found.into_iter();
        self.pieces.iter().map(|galleries| side_by_side(galleries, found.by_ref())).collect()
    }
}

/// What was found in galleries, each as often as it has moments.
fn side_by_side(galleries: &[(&Gallery, u32)], found: impl Iterator<Item = Vec<f64>>) -> Vec<f64> {
    let mut all = Vec::new();
    for (&(_, moments), found) in galleries.iter().zip(found) {
        all.resize(found.len(), 0.0);
        all.iter_mut().zip(found).for_each(|(all, found)| *all += f64::from(moments) * found);
    }
    all
}

/// One figure for each class of some families, in their shape.
fn in_families(all: Vec<f64>, families: &[&[usize]]) -> Vec<Vec<f64>> {
    let mut all = all.into_iter();
    families.iter().map(|family| all.by_ref().take(family.len()).collect()).collect()
}

impl Pieces for GalleryPieces<'_> {
    type Error = GpuError;

    fn count(&self) -> usize {
        self.pieces.len()
    }

    fn points(&mut self, piece: usize) -> impl Points<Error = GpuError> {
        GalleryPoints::of(self.renderer, self.pieces[piece].clone())
    }

    fn between_means_on_each(
        &mut self,
        classes: &[usize],
        weights: &Weights,
    ) -> Result<Vec<Vec<f64>>, GpuError> {
        let all = self.renderer.between_means_in(&self.galleries(), classes, weights)?;
        Ok(self.on_each(all))
    }

    fn distances_on_each(
        &mut self,
        families: &[&[usize]],
        weights: &Weights,
    ) -> Result<Vec<Vec<Vec<f64>>>, GpuError> {
        let all = self.renderer.distances_in(&self.galleries(), families, weights)?;
        Ok(self.on_each(all).into_iter().map(|far| in_families(far, families)).collect())
    }
}

/// Points are pictures of at most this many texels: 160x90.
pub const POINT_TEXELS: u64 = 160 * 90;

/// Sums that one dispatch of `lab_sums.wgsl` makes.
const COLUMNS: usize = 16;
/// Columns that are summed together, so that their sums fit what an adapter binds.
const MOST_COLUMNS: usize = 4 * COLUMNS;
/// Bytes of sums that are waited for together.
const MOST_WAITING: u64 = 64 << 20;
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

    fn listed(&self) -> Vec<&'a Gallery> {
        self.galleries.iter().map(|&(gallery, _)| gallery).collect()
    }
}

impl Points for GalleryPoints<'_> {
    type Error = GpuError;

    fn between_means(&mut self, classes: &[usize], weights: &Weights) -> Result<Vec<f64>, GpuError> {
        let found = self.renderer.between_means_in(&self.listed(), classes, weights)?;
        Ok(side_by_side(&self.galleries, found.into_iter()))
    }

    fn distances(&mut self, families: &[&[usize]], weights: &Weights) -> Result<Vec<Vec<f64>>, GpuError> {
        let found = self.renderer.distances_in(&self.listed(), families, weights)?;
        Ok(in_families(side_by_side(&self.galleries, found.into_iter()), families))
    }

    fn distances_from_sides(
        &mut self,
        some: &[usize],
        classes: &[usize],
        weights: &Weights,
    ) -> Result<Vec<Vec<[f64; 2]>>, GpuError> {
        let found = self.renderer.distances_from_sides_in(&self.listed(), some, classes, weights)?;
        let all = side_by_side(&self.galleries, found.into_iter());
        let at =
            |column: usize, class: usize| [0, 1].map(|side| all[(2 * column + side) * some.len() + class]);
        let column = |column: usize| (0..some.len()).map(|class| at(column, class)).collect();
        Ok((0..weights.columns.len()).map(column).collect())
    }
}

impl Renderer {
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
        let figures = self.figures(words as u64 * 4);
        let settings = Summing { width: small.width, height: small.height, sums: before as u32, pictures: 0 };
        let mut recording = Recording::new(PixelMode::Encoded8Bit);
        let most = (self.submission_texels() / gallery.frame.texels()).max(1) as usize;
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
                    self.record(&mut recording, dispatch);
                }
                self.is_stopped()?;
                self.send(&mut recording)?;
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
        let most = (self.submission_texels() / gallery.frame.texels()).max(1) as usize;
        let mut recording = Recording::new(PixelMode::Encoded8Bit);
        for (nth, array) in gallery.arrays.iter().enumerate() {
            let here = jobs.iter().filter(|(class, _)| gallery.places[*class].0 == nth);
            let job = |&(class, job): &(usize, FromMean)| FromMean { layer: gallery.places[class].1, ..job };
            let here: Vec<FromMean> = here.map(job).collect();
            for jobs in here.chunks(most) {
                let read = vec![Rc::clone(array)];
                let dispatch = Dispatch::into_figures(Program::FromMeans, read, &sums.figures, small);
                self.record(&mut recording, dispatch.with_settings(&sums.settings).for_jobs(jobs));
                self.is_stopped()?;
                self.send(&mut recording)?;
            }
        }
        Ok(())
    }

    /// The answers before sums, each put together, in units of CIELAB, for one wait; with them the sums are done.
    fn answers(&mut self, asked: &[(Sums, usize)]) -> Result<Vec<Vec<f64>>, GpuError> {
        let wanted: Vec<(&wgpu::Buffer, usize)> =
            asked.iter().map(|(sums, count)| (&sums.figures, count * sums.answer)).collect();
        let read = self.read_words_of(&wanted)?;
        let answer = |parts: &[u32]| parts.iter().map(|&part| f64::from(f32::from_bits(part))).sum::<f64>();
        let answers = |((sums, _), words): (&(Sums, usize), Vec<u32>)| {
            // Of many galleries they would fill the memory before the device gets round to letting them go.
            sums.figures.destroy();
            words.chunks_exact(sums.answer).map(|parts| answer(parts) / SQUARED_PARTS).collect()
        };
        Ok(asked.iter().zip(read).map(answers).collect())
    }

    /// What is asked of galleries, one question or several of each: sent on, and waited for as many at a time as there is
    /// room for; where a person may wait, one at a time. `send` has a question's sums made, and says how many answers stand before them; `take` is told the
    /// question's number.
    fn asked_of_all(
        &mut self,
        questions: usize,
        mut send: impl FnMut(&mut Self, usize) -> Result<(Sums, usize), GpuError>,
        mut take: impl FnMut(usize, Vec<f64>),
    ) -> Result<(), GpuError> {
        let (mut waiting, mut first) = (Vec::new(), 0);
        for question in 0..questions {
            waiting.push(send(self, question)?);
            let bytes: u64 = waiting.iter().map(|(sums, _)| sums.figures.size()).sum();
            if bytes < MOST_WAITING && !self.gives_way() && question + 1 < questions {
                continue;
            }
            for (nth, answers) in self.answers(&waiting)?.into_iter().enumerate() {
                take(first + nth, answers);
            }
            first = question + 1;
            waiting.clear();
        }
        Ok(())
    }

    /// [`Points::between_means`] in each of several galleries.
    fn between_means_in(
        &mut self,
        galleries: &[&Gallery],
        classes: &[usize],
        weights: &Weights,
    ) -> Result<Vec<Vec<f64>>, GpuError> {
        let total = |column: &[u32]| classes.iter().map(|&class| column[class]).sum::<u32>();
        let whole = total(&weights.whole);
        let asked: Vec<(usize, u32)> = weights
            .columns
            .iter()
            .map(|column| total(column))
            .enumerate()
            .filter(|&(_, holding)| holding > 0 && holding < whole)
            .collect();
        let mut apart = vec![vec![0.0; weights.columns.len()]; galleries.len()];
        let parts: Vec<&[(usize, u32)]> = asked.chunks(MOST_COLUMNS - 1).collect();
        let send = |renderer: &mut Self, question: usize| {
            let (gallery, asked) = (galleries[question / parts.len()], parts[question % parts.len()]);
            let weight = |class: usize, column: usize| match column {
                0 => weights.whole[class],
                column => weights.columns[asked[column - 1].0][class],
            };
            let sums = renderer.sums(gallery, classes, asked.len() + 1, asked.len(), weight)?;
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
            renderer.record(&mut recording, dispatch.with_settings(&sums.settings).for_jobs(&jobs));
            renderer.send(&mut recording)?;
            Ok((sums, asked.len()))
        };
        self.asked_of_all(galleries.len() * parts.len(), send, |question, found| {
            let apart = &mut apart[question / parts.len()];
            for (&(column, _), found) in parts[question % parts.len()].iter().zip(found) {
                apart[column] = found;
            }
        })?;
        Ok(apart)
    }

    /// [`Points::distances`] in each of several galleries, one for each class in turn.
    fn distances_in(
        &mut self,
        galleries: &[&Gallery],
        families: &[&[usize]],
        weights: &Weights,
    ) -> Result<Vec<Vec<f64>>, GpuError> {
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
        let mut far = Vec::with_capacity(galleries.len());
        let send = |renderer: &mut Self, question: usize| {
            let gallery = galleries[question];
            let weight = |class: usize, column: usize| {
                if family_of_class[class] == column { weights.whole[class] } else { 0 }
            };
            let sums = renderer.sums(gallery, &classes, families.len(), classes.len(), weight)?;
            let job = |(at, (&class, &family)): (usize, (&usize, &usize))| {
                let (column, weight) = (family as u32, totals[family]);
                (class, FromMean { layer: 0, column, weight, into: (at * sums.answer) as u32 })
            };
            let jobs = classes.iter().zip(&family_of).enumerate().map(job).collect();
            renderer.distances_from_means(gallery, &sums, jobs)?;
            Ok((sums, classes.len()))
        };
        self.asked_of_all(galleries.len(), send, |_, found| far.push(found))?;
        Ok(far)
    }

    /// [`Points::distances_from_sides`] in each of several galleries: column by column, holding and not, of each of `some`.
    fn distances_from_sides_in(
        &mut self,
        galleries: &[&Gallery],
        some: &[usize],
        classes: &[usize],
        weights: &Weights,
    ) -> Result<Vec<Vec<f64>>, GpuError> {
        let parts: Vec<&[Vec<u32>]> = weights.columns.chunks(MOST_COLUMNS / 2).collect();
        let mut far = vec![Vec::with_capacity(2 * weights.columns.len() * some.len()); galleries.len()];
        let send = |renderer: &mut Self, question: usize| {
            let (gallery, columns) = (galleries[question / parts.len()], parts[question % parts.len()]);
            let weight = |class: usize, side: usize| match side % 2 {
                0 => columns[side / 2][class],
                _ => weights.whole[class] - columns[side / 2][class],
            };
            let sides = 2 * columns.len();
            let sums = renderer.sums(gallery, classes, sides, sides * some.len(), weight)?;
            let total = |side: usize| classes.iter().map(|&class| weight(class, side)).sum::<u32>().max(1);
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
            renderer.distances_from_means(gallery, &sums, jobs)?;
            Ok((sums, sides * some.len()))
        };
        self.asked_of_all(galleries.len() * parts.len(), send, |question, found| {
            far[question / parts.len()].extend(found);
        })?;
        Ok(far)
    }

    /// Texels that one submission reads or makes at most.
    fn submission_texels(&self) -> u64 {
        self.brief_texels.unwrap_or(texels_per_submission(self.gpu.adapter()))
    }
}
