//! What stands for all that footage is read from, so that what was worked out of it is known again.

use std::fs::File;
use std::io::{self, Read as _};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use sha2::{Digest as _, Sha256};

use super::Pattern;
use crate::base::cache::Cache;
use crate::base::ffmpeg;
use crate::base::stamp::Stamp;

/// Bytes of a file that are read at once.
const PIECE_BYTES: usize = 1 << 20;

/// The contents of files as they were read: by every byte of them, and by the program that decodes films.
#[derive(Debug)]
pub struct Contents {
    /// Of each footage, its files as they stood.
    of: Vec<(PathBuf, Vec<(PathBuf, Stamp)>)>,
    decoder: Option<Stamp>,
    /// SHA-256 of what all of them hold.
    hash: Vec<u8>,
}

impl Contents {
    /// That of footage files, patterns of sequences among them, of which anything was read after `since`. None where one of
    /// them is no plain file, cannot be read, or was written to so lately that it may have been read before it changed.
    ///
    /// A file that has not been written to since it was read is not read again: `known` tells what it holds.
    pub fn of<'a>(
        paths: impl IntoIterator<Item = &'a Path>,
        since: SystemTime,
        known: &Cache,
    ) -> Option<Self> {
        let mut paths: Vec<&Path> = paths.into_iter().collect();
        paths.sort();
        paths.dedup();
        let decoder = ffmpeg::stamp();
        let mut of = Vec::new();
        let mut whole = Sha256::new();
        for path in paths {
            let of_it = stamped(path)?;
            if !of_it.iter().all(|(_, stamp)| stamp.is_surely_settled(since)) {
                return None;
            }
            let key = format!("content of {path:?} {of_it:?}");
            let hash = match known.get(&key) {
                Some(hash) => hash,
                None => {
                    let hash = hashed(&of_it).ok()?;
                    known.put(&key, &hash);
                    hash
                }
            };
            whole.update(format!("{path:?}"));
            whole.update(hash);
            of.push((path.to_owned(), of_it));
        }
        Some(Self { of, decoder, hash: whole.finalize().to_vec() })
    }

    /// Whether no file has been written to since.
    pub fn still_stand(&self) -> bool {
        self.of.iter().all(|(path, files)| stamped(path).as_ref() == Some(files))
    }

    /// What stands for them as text.
    pub fn said(&self) -> String {
        format!("{:x?} {:?}", self.hash, self.decoder.as_ref().filter(|_| !self.of.is_empty()))
    }
}

/// The files that footage is read from, as they stand.
fn stamped(path: &Path) -> Option<Vec<(PathBuf, Stamp)>> {
    let files = match Pattern::of(path).filter(|_| !path.exists()) {
        Some(pattern) => pattern.numbers().into_iter().map(|number| pattern.file(number)).collect(),
        None => vec![path.to_owned()],
    };
    let of_one = |file: PathBuf| Stamp::of(&file).filter(|_| file.is_file()).map(|stamp| (file, stamp));
    files.into_iter().map(of_one).collect()
}

fn hashed(files: &[(PathBuf, Stamp)]) -> io::Result<Vec<u8>> {
    let mut hasher = Sha256::new();
    let mut piece = vec![0; PIECE_BYTES];
    for (path, _) in files {
        let mut file = File::open(path)?;
        let mut bytes = 0_u64;
        loop {
            match file.read(&mut piece)? {
                0 => break,
                read => {
                    hasher.update(&piece[..read]);
                    bytes += read as u64;
                }
            }
        }
        // So that no two files in turn are taken for others that hold the same together.
        hasher.update(bytes.to_le_bytes());
    }
    Ok(hasher.finalize().to_vec())
}
