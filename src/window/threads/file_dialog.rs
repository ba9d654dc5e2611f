//! The system's own dialog for choosing files, waited for on a thread.

use std::path::{Path, PathBuf};

use rfd::{AsyncFileDialog, FileHandle};

use super::worker::{News, Worker};
use crate::footage::{FILM_ENDINGS, PICTURE_ENDINGS};
use crate::show::Scope;

type Asked = std::pin::Pin<Box<dyn Future<Output = Option<Vec<FileHandle>>> + Send>>;

/// What files are chosen for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// Footage that goes on top of something.
    Footage(Scope),
    /// The folder in which the footage of another show's clips lies.
    FolderOfClips,
}

/// The dialog, and for what it was opened.
#[derive(Default)]
pub struct FileDialog {
    worker: Option<Worker<Asked, Vec<PathBuf>>>,
    open: Option<Purpose>,
}

impl FileDialog {
    /// Opens the dialog; false where this system has none, so far as that is known, or one is open already.
    pub fn ask(&mut self, purpose: Purpose, folder: Option<PathBuf>) -> bool {
        if self.open.is_some() || !is_there() {
            return false;
        }
        let mut dialog = match purpose {
            Purpose::Footage(_) => AsyncFileDialog::new()
                .set_title("Add footage")
                .add_filter("Pictures and films", &[&PICTURE_ENDINGS[..], &FILM_ENDINGS].concat())
                .add_filter("All files", &["*"]),
            Purpose::FolderOfClips => AsyncFileDialog::new().set_title("The folder of their footage"),
        };
        if let Some(folder) = folder {
            dialog = dialog.set_directory(folder);
        }
        let worker = self.worker.get_or_insert_with(|| {
            let wait = |(): &mut (), asked: Asked, _: &super::worker::Task<'_, Vec<PathBuf>>| {
                let chosen = pollster::block_on(asked).unwrap_or_default();
                Ok(chosen.iter().map(|file| file.path().to_owned()).collect())
            };
            // A dialog that stays open is not waited for when the window closes.
            Worker::new("file dialog", || (), || Ok(()), wait).unawaited()
        });
        let asked: Asked = match purpose {
            Purpose::Footage(_) => Box::pin(dialog.pick_files()),
            Purpose::FolderOfClips => {
                let folder = dialog.pick_folder();
                Box::pin(async move { folder.await.map(|folder| vec![folder]) })
            }
        };
        worker.ask(asked);
        self.open = Some(purpose);
        true
    }

    /// Whether it is open.
    pub fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// What was chosen, once the dialog is closed: an empty list where it was given up, none where there was no dialog.
    pub fn take(&mut self) -> Option<(Purpose, Option<Vec<PathBuf>>)> {
        let (_, news) = self.worker.as_mut()?.hear()?;
        let files = match news {
            News::Part(_) => return None,
            News::Finished(files) => Some(files),
            News::Failed(_) | News::GaveWay => None,
        };
        Some((self.open.take()?, files))
    }
}

/// Whether the system may have a dialog: on Linux the desktop offers it on the session's bus.
fn is_there() -> bool {
    if !cfg!(target_os = "linux") {
        return true;
    }
    let has_bus = std::env::var_os("DBUS_SESSION_BUS_ADDRESS").is_some_and(|address| !address.is_empty());
    let runtime = std::env::var_os("XDG_RUNTIME_DIR");
    has_bus || runtime.is_some_and(|folder| Path::new(&folder).join("bus").exists())
}
