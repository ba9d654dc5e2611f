//! Thumbnails of the library: read or made by a thread of its own, and shown once they are there.

use std::collections::{HashMap, HashSet};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread::{self, JoinHandle};

use egui::{ColorImage, Context, TextureHandle, TextureId, TextureOptions};

use crate::catalogue::Catalogue;
use crate::footage::Picture;
use crate::gpu::{Gpu, Renderer};
use crate::library::{Entry, Library, keep_thumbnail, kept_thumbnail, thumbnail, thumbnail_key};

/// Thumbnails that are held ready to paint; each takes 58 kB.
const MOST: usize = 512;

/// What is to be made.
struct Job {
    key: String,
    entry: Entry,
}

struct Worker {
    jobs: Sender<Job>,
    done: Receiver<(String, Option<Picture>)>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

/// The thumbnails that have been asked for.
#[derive(Default)]
pub struct Thumbnails {
    /// The person's folder, and that for what is remembered.
    folders: [Option<PathBuf>; 2],
    worker: Option<Worker>,
    asked: HashSet<String>,
    /// None where there can be no thumbnail.
    made: HashMap<String, Option<TextureHandle>>,
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

    /// Thumbnails on their way.
    pub fn on_the_way(&self) -> usize {
        self.asked.len()
    }

    /// The thumbnail of an entry; asked for where it is not there.
    pub fn of(
        &mut self,
        entry: &Entry,
        catalogue: &Catalogue,
        gpu: Option<&Gpu>,
        ctx: &Context,
    ) -> Option<TextureId> {
        let facts = entry.facts.as_ref().ok()?;
        // Worked out once: it runs over the code of every effect of the entry.
        let of = format!("{} {} {}", entry.kind.name(), facts.content, facts.effects.join(" "));
        let key = self.keys.entry(of).or_insert_with(|| thumbnail_key(entry, facts, catalogue)).clone();
        if let Some(made) = self.made.get(&key) {
            return made.as_ref().map(TextureHandle::id);
        }
        if self.asked.insert(key.clone()) {
            let folders = self.folders.clone();
            let worker = self.worker.get_or_insert_with(|| {
                Worker::start(folders, gpu.map(Gpu::sibling), catalogue.clone(), ctx.clone())
            });
            // A thread that has ended makes nothing; the place stays empty.
            let _ = worker.jobs.send(Job { key, entry: entry.clone() });
        }
        None
    }

    /// Takes in what has been made since.
    pub fn take_in(&mut self, ctx: &Context) {
        let Some(worker) = &self.worker else { return };
        while let Ok((key, picture)) = worker.done.try_recv() {
            self.asked.remove(&key);
            if self.made.len() >= MOST {
                self.made.clear();
            }
            let texture = picture.map(|picture| {
                let size = [picture.frame.width as usize, picture.frame.height as usize];
                let image = ColorImage::from_rgba_unmultiplied(size, &picture.rgba);
                ctx.load_texture(&key, image, TextureOptions::LINEAR)
            });
            self.made.insert(key, texture);
        }
        if worker.thread.as_ref().is_none_or(JoinHandle::is_finished) {
            self.asked.clear();
        }
    }
}

impl Worker {
    fn start(
        [data, state]: [Option<PathBuf>; 2],
        gpu: Option<Gpu>,
        catalogue: Catalogue,
        ctx: Context,
    ) -> Self {
        let (jobs, asked) = mpsc::channel::<Job>();
        let (tell, done) = mpsc::channel();
        let stop = Arc::new(AtomicBool::new(false));
        let is_over = Arc::clone(&stop);
        let thread = thread::Builder::new().name("thumbnails".to_owned()).spawn(move || {
            let library = Library::new(data.as_deref(), None);
            let mut renderer = gpu.map(|gpu| {
                let mut renderer = Renderer::new(gpu);
                renderer.give_way();
                renderer.stop_when(Arc::clone(&is_over));
                renderer
            });
            for Job { key, entry } in asked {
                if is_over.load(Ordering::Relaxed) {
                    break;
                }
                let kept = state.as_deref().and_then(|state| kept_thumbnail(state, &key));
                let picture = kept.or_else(|| {
                    let document = library.document(&entry, &catalogue).ok()?;
                    let picture = thumbnail(&document, &catalogue, renderer.as_mut()?).ok()?;
                    if let Some(state) = &state {
                        keep_thumbnail(state, &key, &picture);
                    }
                    Some(picture)
                });
                if tell.send((key, picture)).is_err() {
                    break;
                }
                ctx.request_repaint();
            }
        });
        Self { jobs, done, stop, thread: thread.ok() }
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        // Its list of jobs ends with the sender, so that it does not wait for another.
        self.jobs = mpsc::channel().0;
        if let Some(thread) = self.thread.take() {
            // The program must not end while a thread is at work on the GPU.
            let _ = thread.join();
        }
    }
}
