//! Thumbnails of the library and of footage: read or made by a thread of its own, and shown once they are there.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;

use egui::{ColorImage, Context, TextureHandle, TextureId, TextureOptions};

use super::worker::{Errand, News, Unfinished, Worker};
use crate::base::picture::Picture;
use crate::catalogue::Catalogue;
use crate::footage::age_of;
use crate::gpu::{Gpu, GpuError, RenderError, Renderer};
use crate::library::{
    Entry, Library, keep_thumbnail, kept_thumbnail, thumbnail, thumbnail_key, thumbnail_of_file,
};

/// Thumbnails that are held ready to paint; each takes 58 kB.
const MOST: usize = 512;

/// What is to be made.
struct Job {
    key: String,
    of: Of,
}

/// What a thumbnail is of.
enum Of {
    Entry(Box<Entry>),
    /// A picture, or the beginning of a film.
    File(PathBuf),
}

/// What stands in a thumbnail's place.
pub enum Thumbnail {
    /// The picture.
    Made(TextureId),
    /// It is being made.
    OnTheWay,
    /// There is none.
    Failed,
}

/// The thumbnails that have been asked for.
#[derive(Default)]
pub struct Thumbnails {
    /// The person's folder, and that for what is remembered.
    folders: [Option<PathBuf>; 2],
    worker: Option<Worker<Job, Picture>>,
    /// What is on its way, and the pass in which it was last asked for.
    open: HashMap<String, (Errand, u64)>,
    passes: u64,
    made: HashMap<String, Result<TextureHandle, String>>,
    keys: HashMap<String, String>,
}

impl Thumbnails {
    /// None yet; `data` is the person's folder, `state` the one in which thumbnails are kept.
    pub fn in_folders(data: Option<PathBuf>, state: Option<PathBuf>) -> Self {
        Self { folders: [data, state], ..Self::default() }
    }

    /// Forgets them all: effects have changed. What was kept in files is known by the effects' code.
    pub fn forget(&mut self) {
        *self = Self { folders: self.folders.clone(), ..Self::default() };
    }

    /// Makes anew what could not be made.
    pub fn try_again(&mut self) {
        self.made.retain(|_, made| made.is_ok());
    }

    /// Why one could not be made, if that is so of any.
    pub fn problem(&self) -> Option<&str> {
        self.made.values().find_map(|made| made.as_ref().err()).map(String::as_str)
    }

    /// Thumbnails on their way.
    pub fn on_the_way(&self) -> usize {
        self.open.len()
    }

    /// The thumbnail of an entry; asked for where it is not there.
    pub fn of(
        &mut self,
        entry: &Entry,
        catalogue: &Catalogue,
        gpu: Option<&Gpu>,
        ctx: &Context,
    ) -> Thumbnail {
        let Ok(facts) = &entry.facts else { return Thumbnail::Failed };
        // Worked out once: it runs over the code of every effect of the entry.
        let of = format!("{} {} {}", entry.kind.name(), facts.content, facts.effects.join(" "));
        let key = self.keys.entry(of).or_insert_with(|| thumbnail_key(entry, facts, catalogue)).clone();
        self.asked(key, || Of::Entry(Box::new(entry.clone())), catalogue, gpu, ctx)
    }

    /// The thumbnail of a file of footage, as it is now; asked for where it is not there.
    pub fn of_file(
        &mut self,
        file: &Path,
        catalogue: &Catalogue,
        gpu: Option<&Gpu>,
        ctx: &Context,
    ) -> Thumbnail {
        let key = format!("{} {}", age_of(file), file.display());
        self.asked(key, || Of::File(file.to_owned()), catalogue, gpu, ctx)
    }

    fn asked(
        &mut self,
        key: String,
        of: impl FnOnce() -> Of,
        catalogue: &Catalogue,
        gpu: Option<&Gpu>,
        ctx: &Context,
    ) -> Thumbnail {
        match self.made.get(&key) {
            Some(Ok(made)) => return Thumbnail::Made(made.id()),
            Some(Err(_)) => return Thumbnail::Failed,
            None => {}
        }
        if let Some((_, asked)) = self.open.get_mut(&key) {
            *asked = self.passes;
            return Thumbnail::OnTheWay;
        }
        let folders = self.folders.clone();
        let worker = self
            .worker
            .get_or_insert_with(|| worker(folders, gpu.map(Gpu::sibling), catalogue.clone(), ctx.clone()));
        let errand = worker.ask(Job { key: key.clone(), of: of() });
        self.open.insert(key, (errand, self.passes));
        Thumbnail::OnTheWay
    }

    /// Begins a pass: takes in what has been made since, and gives up what nothing showed in the one before.
    pub fn take_in(&mut self, ctx: &Context) {
        let Some(worker) = &mut self.worker else { return };
        let last = self.passes;
        self.passes += 1;
        self.open.retain(|_, (errand, asked)| {
            let is_shown = *asked >= last;
            if !is_shown {
                errand.give_up();
            }
            is_shown
        });
        while let Some((number, said)) = worker.hear() {
            let key = self.open.iter().find(|(_, (errand, _))| errand.is(number)).map(|(key, _)| key.clone());
            let Some(key) = key else { continue };
            let made = match said {
                News::Part(_) => continue,
                News::Finished(picture) => {
                    let size = [picture.frame.width as usize, picture.frame.height as usize];
                    let image = ColorImage::from_rgba_unmultiplied(size, &picture.rgba);
                    Some(Ok(ctx.load_texture(&key, image, TextureOptions::LINEAR)))
                }
                News::Failed(why) => Some(Err(why)),
                News::GaveWay => None,
            };
            self.open.remove(&key);
            if self.made.len() >= MOST {
                self.made.clear();
            }
            if let Some(made) = made {
                self.made.insert(key, made);
            }
        }
    }
}

fn worker(
    [data, state]: [Option<PathBuf>; 2],
    gpu: Option<Gpu>,
    catalogue: Catalogue,
    ctx: Context,
) -> Worker<Job, Picture> {
    let begin = move || {
        let renderer = gpu.as_ref().map(|gpu| Renderer::giving_way(gpu.sibling()));
        Ok((Library::new(data.as_deref(), None), renderer))
    };
    let wake = move || ctx.request_repaint();
    Worker::new("thumbnails", wake, begin, move |(library, renderer), Job { key, of }, task| {
        let entry = match of {
            Of::Entry(entry) => entry,
            Of::File(file) => {
                let stop = task.stop();
                return thumbnail_of_file(&file, &catalogue, move || stop.load(Ordering::Relaxed))
                    .map_err(|error| Unfinished::Failed(error.to_string()));
            }
        };
        if let Some(kept) = state.as_deref().and_then(|state| kept_thumbnail(state, &key)) {
            return Ok(kept);
        }
        let failed = |why: String| Unfinished::Failed(why);
        let document = library.document(&entry, &catalogue).map_err(|error| failed(error.to_string()))?;
        let renderer = renderer.as_mut().ok_or_else(|| failed("there is no GPU to render on".to_owned()))?;
        renderer.stop_when(task.stop());
        let picture = thumbnail(&document, &catalogue, renderer).map_err(|error| match error {
            RenderError::Gpu(GpuError::Stopped) => Unfinished::GaveWay,
            error => failed(error.to_string()),
        })?;
        if let Some(state) = &state {
            keep_thumbnail(state, &key, &picture);
        }
        Ok(picture)
    })
}
