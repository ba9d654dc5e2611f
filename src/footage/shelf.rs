//! The footage opened so far, and the pictures made of it lately.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::animation::Timetable;
use super::error::FootageError;
use super::fitting::fitted;
use super::picture_file::{PictureFile, damaged, no_frame};
use super::sequence::Sequence;
use super::{Fit, Picture, Shown};
use crate::catalogue::Catalogue;
use crate::chain::EffectUse;
use crate::frame::{Frame, Moment};
use crate::show::FootageName;

/// Bytes of fitted pictures that are kept for the next moment.
const KEPT_BYTES: usize = 256 << 20;

/// Bytes of pictures that one run through an animation makes ahead: its frames can
/// only be reached from its start.
const AHEAD_BYTES: usize = 64 << 20;

/// The footage opened so far; a file is looked at once, so a new shelf sees what has changed on disk.
#[derive(Debug)]
pub struct Shelf {
    catalogue: Catalogue,
    opened: HashMap<PathBuf, Opened>,
    kept: Kept,
}

#[derive(Debug)]
enum Opened {
    Still,
    Animation(Timetable),
    Sequence(Sequence),
}

impl Shelf {
    /// An empty shelf; generated sources come from `catalogue`.
    pub fn new(catalogue: &Catalogue) -> Self {
        Self { catalogue: catalogue.clone(), opened: HashMap::new(), kept: Kept::default() }
    }

    /// What the footage shows at `moment`, at the moment's frame size.
    ///
    /// # Errors
    /// [`FootageError`], naming the file and the remedy.
    pub fn shown(&mut self, footage: &FootageName, fit: Fit, moment: &Moment) -> Result<Shown, FootageError> {
        let path = match footage {
            FootageName::Generated(name) => {
                let effect = self.catalogue.source(name)?;
                let opaque = effect.opaque;
                return Ok(Shown::Generated {
                    call: EffectUse::new(Arc::clone(effect)).call(moment),
                    opaque,
                });
            }
            FootageName::File { path, .. } => path,
        };
        if !self.opened.contains_key(path) {
            self.opened.insert(path.clone(), open(path)?);
        }
        let seconds = moment.seconds();
        let frame_number = match &self.opened[path] {
            Opened::Still => 0,
            Opened::Animation(timetable) => timetable.frame_at(seconds),
            Opened::Sequence(sequence) => sequence.frame_at(seconds),
        };
        let key = Key { path: path.clone(), frame_number, fit, frame: moment.frame };
        if let Some(picture) = self.kept.get(&key) {
            return Ok(Shown::Pixels(picture));
        }
        let picture = match &self.opened[path] {
            Opened::Still => still(path, &key)?,
            Opened::Sequence(sequence) => still(&sequence.file(frame_number), &key)?,
            Opened::Animation(_) => return animated(&key, &mut self.kept).map(Shown::Pixels),
        };
        Ok(Shown::Pixels(self.kept.insert(key, picture)))
    }

    /// Checks that the footage can be opened: its name, and of its first picture the header.
    ///
    /// # Errors
    /// As [`Self::shown`], without those that only decoding finds.
    pub fn check(&mut self, footage: &FootageName) -> Result<(), FootageError> {
        match footage {
            FootageName::Generated(name) => {
                self.catalogue.source(name)?;
            }
            FootageName::File { path, .. } if Sequence::is_named_by(path) => {
                PictureFile::open(&Sequence::read(path)?.file(0))?;
            }
            FootageName::File { path, .. } => {
                PictureFile::open(path)?;
            }
        }
        Ok(())
    }
}

fn open(path: &Path) -> Result<Opened, FootageError> {
    if Sequence::is_named_by(path) {
        return Sequence::read(path).map(Opened::Sequence);
    }
    let file = PictureFile::open(path)?;
    if file.is_animated() { Timetable::read(path, file).map(Opened::Animation) } else { Ok(Opened::Still) }
}

fn still(path: &Path, key: &Key) -> Result<Picture, FootageError> {
    fit_for(key, PictureFile::open(path)?.still()?, path)
}

/// Runs an animation from its start to the frame wanted, and keeps the next ones too.
fn animated(key: &Key, kept: &mut Kept) -> Result<Arc<Picture>, FootageError> {
    let frames = PictureFile::open(&key.path)?.frames()?;
    let ahead = AHEAD_BYTES / (key.frame.texels() as usize * 4).max(1);
    let mut wanted = None;
    for (number, frame) in frames.enumerate().skip(key.frame_number).take(1 + ahead) {
        let picture = fit_for(key, frame.map_err(|e| damaged(&key.path, e))?.into_buffer(), &key.path)?;
        let picture = kept.insert(Key { frame_number: number, ..key.clone() }, picture);
        wanted.get_or_insert(picture);
    }
    wanted.ok_or_else(|| no_frame(&key.path))
}

fn fit_for(key: &Key, picture: image::RgbaImage, path: &Path) -> Result<Picture, FootageError> {
    fitted(picture, key.fit, key.frame).map_err(|why| FootageError::Unfitted {
        path: path.to_owned(),
        frame: key.frame,
        why,
    })
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Key {
    path: PathBuf,
    frame_number: usize,
    fit: Fit,
    frame: Frame,
}

/// Fitted pictures up to [`KEPT_BYTES`]; the one unused for longest goes first.
#[derive(Debug, Default)]
struct Kept {
    pictures: HashMap<Key, (Arc<Picture>, u64)>,
    bytes: usize,
    /// Counts uses: a picture's last use is the count then.
    uses: u64,
}

impl Kept {
    fn get(&mut self, key: &Key) -> Option<Arc<Picture>> {
        self.uses += 1;
        let (picture, last_use) = self.pictures.get_mut(key)?;
        *last_use = self.uses;
        Some(Arc::clone(picture))
    }

    fn insert(&mut self, key: Key, picture: Picture) -> Arc<Picture> {
        self.uses += 1;
        let picture = Arc::new(picture);
        self.bytes += picture.rgba.len();
        if let Some((old, _)) = self.pictures.insert(key, (Arc::clone(&picture), self.uses)) {
            self.bytes -= old.rgba.len();
        }
        while self.bytes > KEPT_BYTES {
            let oldest = self.pictures.iter().min_by_key(|(_, (_, last_use))| *last_use);
            let Some(oldest) = oldest.map(|(key, _)| key.clone()) else { break };
            if let Some((gone, _)) = self.pictures.remove(&oldest) {
                self.bytes -= gone.rgba.len();
            }
        }
        picture
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_picture_unused_for_longest_goes_first() {
        let frame = Frame { width: 4096, height: 4096 };
        let key = |frame_number| Key { path: PathBuf::new(), frame_number, fit: Fit::Fill, frame };
        let picture = || Picture { frame, rgba: vec![0; frame.texels() as usize * 4], opaque: false };
        let mut kept = Kept::default();
        for number in 0..4 {
            kept.insert(key(number), picture());
        }
        assert_eq!(kept.bytes, KEPT_BYTES);
        assert!(kept.get(&key(0)).is_some());
        kept.insert(key(4), picture());
        let there: Vec<bool> = (0..5).map(|n| kept.get(&key(n)).is_some()).collect();
        assert_eq!(there, [true, false, true, true, true]);
        assert_eq!(kept.bytes, KEPT_BYTES);
    }
}
