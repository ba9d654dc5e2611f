//! What was rendered and measured before, in this run or another, of the same on the same adapter: only where that takes long.

use std::borrow::Cow;
use std::fmt::{self, Write as _};
use std::io::{Read as _, Write as _};
use std::time::Duration;

use flate2::Compression;
use flate2::read::ZlibDecoder;
use flate2::write::ZlibEncoder;
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use super::GpuError;
use super::difference::Gallery;
use super::explore::{Asked, Fingerprint, Finished, Measured, Want};
use super::renderer::Renderer;
use crate::base::at_once::at_once;
use crate::base::cache::BUILD;
use crate::base::clock::Since;
use crate::base::doing::doing_untold;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::measure::Difference;
use crate::order::Tree;
use crate::plan::Path;

/// Pictures of one exploration that are kept: more would take the place of all others.
const MOST_BYTES: u64 = 192 << 20;

/// Of a picture, and whether every alpha of it is 255.
type Size = (Frame, bool);

/// Figures of one exploration, and of which of its classes a picture follows, of what size.
#[derive(Serialize, Deserialize)]
struct Figures {
    finished: Vec<(Fingerprint, Option<Difference>, Option<Size>)>,
    /// Of the gallery, whose pictures follow behind all others.
    gallery: Option<Frame>,
}

/// When something began that may be kept.
#[derive(Debug, Clone, Copy)]
pub(super) struct Began {
    since: Since,
    /// How long compiling had taken by then.
    compiling: Duration,
}

/// Hashes a text while it is written.
struct Hashed(Sha256);

impl fmt::Write for Hashed {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.0.update(text);
        Ok(())
    }
}

impl Renderer {
    /// What an exploration is known by; none where nothing is kept, or it is as soon done again.
    pub(super) fn key_of_exploration(
        &self,
        frames: &[&Path],
        sampled: &[usize],
        tree: &Tree,
        asked: &Asked<'_>,
    ) -> Option<String> {
        let (caches, path) = (self.gpu.kept()?, frames.first()?);
        let classes = tree.leaves.len();
        let hung = classes as u64 * asked.gallery.map_or(0, Frame::texels);
        let tiles = match asked.want {
            Want::Figures => 0,
            Want::Tiles { size, most } => most.min(classes) as u64 * size.texels(),
        };
        let bytes = (hung + tiles) * 4 * sampled.len() as u64;
        let passes = (tree.passes() + classes * (path.after.len() + 2)) * frames.len();
        let texels = path.moment.frame.texels() * passes as u64;
        // What is surely done in a moment is not looked for.
        let is_brief = texels < self.texels_a_second() / 8 && !caches.worth.is_zero();
        if bytes > MOST_BYTES || is_brief {
            return None;
        }
        let asked = Asked { budget: Default::default(), ..*asked };
        let mut hashed = Hashed(Sha256::new());
        // All of their values are in it, and of pictures what stands for their bytes.
        let adapter = self.gpu.adapter();
        write!(hashed, "{BUILD}\n{adapter:?}\n{frames:?}\n{sampled:?} {tree:?} {asked:?}").ok()?;
        Some(format!("exploration {:x?}", hashed.0.finalize()))
    }

    /// The beginning of something that may be kept.
    pub(super) fn begins(&self) -> Began {
        Began { since: Since::now(), compiling: self.pipelines.compiling }
    }

    /// Whether what was begun then has taken long enough, as it would again: its programs are compiled from now on.
    pub(super) fn is_worth_keeping(&self, began: Began) -> bool {
        let took = began.since.elapsed().saturating_sub(self.pipelines.compiling - began.compiling);
        self.gpu.kept().is_some_and(|caches| took >= caches.worth)
    }

    /// An exploration as it was kept.
    pub(super) fn explored_before(&mut self, key: &str) -> Result<Option<Vec<Measured>>, GpuError> {
        let _reading = doing_untold("looking up what was rendered before");
        let Some(bytes) = self.gpu.kept().and_then(|caches| caches.rendered.get(key)) else {
            return Ok(None);
        };
        let Some(moments) = unpacked(&bytes) else { return Ok(None) };
        let mut all = Vec::with_capacity(moments.len());
        for (figures, pictures) in moments {
            let mut pictures = pictures.into_iter();
            let finished: Vec<Finished> = figures
                .finished
                .into_iter()
                .map(|(fingerprint, difference, picture)| Finished {
                    fingerprint,
                    difference,
                    picture: picture.and_then(|_| pictures.next()),
                })
                .collect();
            let gallery = match figures.gallery {
                Some(frame) => Some(self.hung_again(frame, &pictures.collect::<Vec<_>>())?),
                None => None,
            };
            all.push((finished, gallery));
        }
        Ok(Some(all))
    }

    /// Keeps an exploration.
    pub(super) fn keep_exploration(&mut self, key: &str, explored: &[Measured]) -> Result<(), GpuError> {
        let _keeping = doing_untold("keeping what was rendered");
        let mut moments = Vec::with_capacity(explored.len());
        for (finished, gallery) in explored {
            let of_one = |one: &Finished| {
                let size = one.picture.as_ref().map(|picture| (picture.frame, picture.opaque));
                (one.fingerprint, one.difference, size)
            };
            let figures = Figures {
                finished: finished.iter().map(of_one).collect(),
                gallery: gallery.as_ref().map(Gallery::frame),
            };
            let mut pictures: Vec<Cow<'_, Picture>> =
                finished.iter().filter_map(|finished| finished.picture.as_ref()).map(Cow::Borrowed).collect();
            if let Some(gallery) = gallery {
                pictures.extend(self.hung(gallery, 0..finished.len())?.into_iter().map(Cow::Owned));
            }
            moments.push((figures, pictures));
        }
        if let (Some(caches), Some(bytes)) = (self.gpu.kept(), packed(&moments)) {
            caches.rendered.put(key, &bytes);
        }
        Ok(())
    }
}

/// Figures as text and pictures packed quickly, each with its length before it.
fn packed(moments: &[(Figures, Vec<Cow<'_, Picture>>)]) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    let mut put = |part: &[u8]| {
        bytes.extend((part.len() as u64).to_le_bytes());
        bytes.extend(part);
    };
    for (figures, pictures) in moments {
        put(&serde_json::to_vec(figures).ok()?);
        put(&(pictures.len() as u64).to_le_bytes());
        for packed in at_once(pictures, |picture| {
            let mut packer = ZlibEncoder::new(Vec::new(), Compression::fast());
            packer.write_all(&picture.rgba).and_then(|()| packer.finish())
        }) {
            put(&packed.ok()?);
        }
    }
    Some(bytes)
}

/// The same read back; none where it is not what [`packed`] makes.
fn unpacked(mut bytes: &[u8]) -> Option<Vec<(Figures, Vec<Picture>)>> {
    let mut take = || {
        let (length, rest) = bytes.split_first_chunk::<8>()?;
        let (part, rest) = rest.split_at_checked(u64::from_le_bytes(*length).try_into().ok()?)?;
        bytes = rest;
        Some(part)
    };
    let mut moments = Vec::new();
    while let Some(part) = take() {
        let figures: Figures = serde_json::from_slice(part).ok()?;
        let count = u64::from_le_bytes(take()?.try_into().ok()?);
        let own = figures.finished.iter().filter_map(|(.., size)| *size);
        let hung = figures
            .gallery
            .into_iter()
            .flat_map(|frame| std::iter::repeat_n((frame, false), figures.finished.len()));
        let sizes: Vec<Size> = own.chain(hung).collect();
        if sizes.len() as u64 != count {
            return None;
        }
        let parts = sizes.into_iter().map(|size| Some((size, take()?))).collect::<Option<Vec<_>>>()?;
        let picture = |&((frame, opaque), part): &(Size, &[u8])| {
            let size = frame.texels() as usize * 4;
            let mut rgba = Vec::with_capacity(size);
            let read = ZlibDecoder::new(part).take(size as u64 + 1).read_to_end(&mut rgba);
            (read.is_ok() && rgba.len() == size).then_some(Picture { frame, rgba, opaque })
        };
        moments.push((figures, at_once(&parts, picture).into_iter().collect::<Option<Vec<Picture>>>()?));
    }
    Some(moments)
}
