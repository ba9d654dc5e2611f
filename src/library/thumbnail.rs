//! Small pictures of what the library holds, made once and kept by what they are of.

use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};

use super::{Entry, Kind, Summary};
use crate::base::content;
use crate::base::content::Content;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::base::plain;
use crate::beat::Moment;
use crate::catalogue::Catalogue;
use crate::files::Document;
use crate::footage::{FootageError, Shelf, Shown};
use crate::gpu::{RenderError, Renderer};
use crate::show::Scope;
use crate::show::clip::{Fit, FootageName, Play};
use crate::{files, plan};
use image::{ImageFormat, RgbaImage};

/// Thumbnails that are kept at most: twice the largest library that is foreseen.
const MOST_KEPT: usize = 4096;
/// The size of a thumbnail, in texels.
pub const THUMBNAIL: Frame = Frame { width: 160, height: 90 };
/// What a chain is shown on.
const FOOTAGE: &str = "harbour";
/// The tempo of a chain, which has none of its own, in beats per minute.
const TEMPO_BPM: f64 = 120.0;
/// The beat at which everything is shown: past the open half of a flash, so that it hides nothing.
const AT_BEATS: f64 = 0.6;
const FOLDER: &str = "thumbnails";

/// What tells an entry's thumbnail from every other: its content, the code of its effects, and the version of the program.
pub fn thumbnail_key(entry: &Entry, facts: &Summary, catalogue: &Catalogue) -> String {
    let mut of = format!("{} {} {} {THUMBNAIL}", env!("CARGO_PKG_VERSION"), entry.kind.name(), facts.content);
    for effect in facts.effects.iter().filter_map(|name| catalogue.effect(name).ok()) {
        of += &format!(" {}", effect.content);
    }
    if entry.kind == Kind::Chain
        && let Ok(source) = catalogue.source(FOOTAGE)
    {
        of += &source.source;
    }
    Content::of(of).to_string()
}

/// Renders the thumbnail of a chain or a show.
///
/// # Errors
/// [`RenderError`].
pub fn thumbnail(
    document: &Document,
    catalogue: &Catalogue,
    renderer: &mut Renderer,
) -> Result<Picture, RenderError> {
    let mut shelf = Shelf::new(catalogue);
    let beats = crate::beat::Beats::of_decimal(AT_BEATS);
    let (path, effects) = match document {
        Document::Chain(preset) => {
            let moment =
                Moment::at_beats(THUMBNAIL, Default::default(), TEMPO_BPM, Default::default(), &beats);
            let footage = FootageName::Generated(FOOTAGE.to_owned());
            let chain = &preset.chain;
            (plan::Path::of_chain(chain, &footage, Fit::default(), moment, &mut shelf)?, chain.len())
        }
        Document::Show(show) => {
            let moment = Moment::at_beats(THUMBNAIL, show.pixels, show.tempo_bpm, show.rate, &beats);
            (plan::Path::of_scope(show, Scope::Global, moment, &mut shelf)?, show.global.len())
        }
    };
    let order: Vec<usize> = (0..effects).collect();
    Ok(renderer.picture(&path, &order)?)
}

/// What a picture file shows, or the beginning of a film, whole in the size of a thumbnail; `is_given_up` ends the wait
/// for it.
///
/// # Errors
/// [`FootageError`].
pub fn thumbnail_of_file(
    file: &Path,
    catalogue: &Catalogue,
    is_given_up: impl Fn() -> bool + Send + Sync + 'static,
) -> Result<Picture, FootageError> {
    let mut shelf = Shelf::new(catalogue);
    shelf.give_up_when(is_given_up);
    let footage = FootageName::File { written: file.display().to_string(), path: file.to_owned() };
    let beats = crate::beat::Beats::of_decimal(0.0);
    let moment = Moment::at_beats(THUMBNAIL, Default::default(), TEMPO_BPM, Default::default(), &beats);
    Ok(match shelf.shown(&footage, Fit::Contained, &Play::default(), &moment)? {
        Shown::Pixels(picture) => Picture::clone(&picture),
        Shown::Nothing | Shown::Generated { .. } => {
            let rgba = vec![0; THUMBNAIL.texels() as usize * 4];
            Picture { frame: THUMBNAIL, rgba, opaque: false }
        }
    })
}

fn file(state: &Path, key: &str) -> PathBuf {
    state.join(FOLDER).join(format!("{key}.png"))
}

/// The thumbnail kept under this key; none where there is none, or where it is damaged.
pub fn kept_thumbnail(state: &Path, key: &str) -> Option<Picture> {
    let bytes = plain::read(&file(state, key), plain::MOST_OWN_BYTES).ok()?;
    let picture = image::load_from_memory_with_format(&bytes, ImageFormat::Png).ok()?.into_rgba8();
    let frame = Frame { width: picture.width(), height: picture.height() };
    let opaque = picture.pixels().all(|texel| texel.0[3] == 255);
    (frame == THUMBNAIL).then(|| Picture { frame, rgba: picture.into_raw(), opaque })
}

/// Keeps a thumbnail; one that cannot be written is made again the next time.
pub fn keep_thumbnail(state: &Path, key: &str, picture: &Picture) {
    let Frame { width, height } = picture.frame;
    let Some(image) = RgbaImage::from_raw(width, height, picture.rgba.clone()) else { return };
    let mut bytes = Vec::new();
    if image.write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png).is_ok() {
        let _ = fs::create_dir_all(state.join(FOLDER));
        let _ = files::keep(&file(state, key), &bytes);
        let_go(&state.join(FOLDER), MOST_KEPT);
    }
}

/// Removes the older half of a folder's thumbnails once it holds more than `most`: they are made again when wanted. Whatever
/// else lies there is somebody's.
fn let_go(folder: &Path, most: usize) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    let age = |entry: fs::DirEntry| {
        let path = entry.path();
        let key = path.file_stem()?.to_str()?;
        content::is_written(key).then_some((entry.metadata().ok()?.modified().ok()?, path))
    };
    let mut files: Vec<_> = entries.flatten().filter_map(age).collect();
    if files.len() > most {
        files.sort();
        for (_, file) in &files[..files.len() - most / 2] {
            // Another program may have been faster.
            let _ = fs::remove_file(file);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::time::{Duration, SystemTime};

    use super::*;

    #[test]
    fn the_older_half_goes_once_there_are_too_many() {
        let folder = tempfile::tempdir().unwrap();
        let name = |at: u64| format!("{at:032x}.png");
        let theirs = fs::File::create(folder.path().join("ferry at dawn.png")).unwrap();
        theirs.set_modified(SystemTime::UNIX_EPOCH).unwrap();
        let names = || {
            let mut names: Vec<_> =
                fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
            names.sort();
            names
        };
        for at in 0..11_u64 {
            let file = fs::File::create(folder.path().join(name(at))).unwrap();
            file.set_modified(SystemTime::UNIX_EPOCH + Duration::from_secs(at)).unwrap();
            let_go(folder.path(), 10);
            if at == 9 {
                assert_eq!(names().len(), 11);
            }
        }
        let left: Vec<_> = (6..11).map(name).chain(["ferry at dawn.png".to_owned()]).collect();
        assert_eq!(names(), left.iter().map(|name| &name[..]).collect::<Vec<_>>()[..]);
    }
}
