//! What was worked out before, kept in a folder of the state folder: found by all that it depends on, within so many bytes.
//!
//! It only saves time. What is missing, damaged or cannot be kept is worked out anew; what was not wanted for longest goes
//! first.

use std::fs::{self, File};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use sha2::{Digest as _, Sha256};

use super::{folders, plain};

/// This build, by all that it is made from: what one works out, another may work out otherwise.
pub const BUILD: &str = env!("UNDEROVER_BUILD");

/// What is as soon done again as it is read and written.
const WORTH: Duration = Duration::from_millis(500);
/// What a file takes of a disk at the least.
const BLOCK_BYTES: u64 = 4096;
/// What stands before a value: that it is whole.
const CHECKED: usize = 32;

/// A folder of values.
#[derive(Debug, Clone)]
pub struct Cache {
    folder: PathBuf,
    most_bytes: u64,
}

/// Everything that is kept from run to run of what takes long to work out.
#[derive(Debug, Clone)]
pub struct Caches {
    /// What was counted of shows.
    pub counted: Cache,
    /// Explorations: figures and pictures.
    pub rendered: Cache,
    /// Of what takes less nothing is kept.
    pub worth: Duration,
}

impl Caches {
    /// Those in the state folder of this person.
    pub fn of_person() -> Option<Self> {
        folders::state_folder().map(|folder| Self::in_folder(&folder))
    }

    /// Those in a folder.
    pub fn in_folder(folder: &Path) -> Self {
        let cache = |name, most_bytes| Cache::in_folder(folder.join(name), most_bytes);
        Self { counted: cache("counted", 64 << 20), rendered: cache("rendered", 256 << 20), worth: WORTH }
    }
}

impl Cache {
    /// That of a name in the state folder; none where the system names no such folder.
    pub fn named(name: &str, most_bytes: u64) -> Option<Self> {
        Some(Self::in_folder(folders::state_folder()?.join(name), most_bytes))
    }

    /// One in a folder of its own.
    pub fn in_folder(folder: PathBuf, most_bytes: u64) -> Self {
        Self { folder, most_bytes }
    }

    fn file(&self, key: &str) -> PathBuf {
        self.folder.join(hex(&Sha256::digest(key)))
    }

    /// What was put under this key, if it is there whole.
    pub fn get(&self, key: &str) -> Option<Vec<u8>> {
        let path = self.file(key);
        let mut bytes = plain::read(&path, self.most_bytes).ok()?;
        let (checked, value) = bytes.split_at_checked(CHECKED)?;
        if checked != &Sha256::digest(value)[..] {
            return None;
        }
        // Wanted once more: it stays longer than what nobody asks for.
        let _ = File::options().write(true).open(&path).and_then(|file| file.set_modified(SystemTime::now()));
        Some(bytes.split_off(CHECKED))
    }

    /// Puts a value under a key, and lets go of others where they are too many together.
    pub fn put(&self, key: &str, value: &[u8]) {
        let bytes = [&Sha256::digest(value)[..], value].concat();
        let is_written = || {
            fs::create_dir_all(&self.folder).ok()?;
            let mut file = tempfile::NamedTempFile::new_in(&self.folder).ok()?;
            file.write_all(&bytes).ok()?;
            // Not waited for until it is on the disk: what a power cut tears is told by what stands before it.
            file.persist(self.file(key)).ok()
        };
        if bytes.len() as u64 <= self.most_bytes && is_written().is_some() {
            self.let_go();
        }
    }

    /// Removes what was not wanted for longest, down to three quarters of the most.
    fn let_go(&self) {
        let mut files = of_folder(&self.folder);
        let mut bytes: u64 = files.iter().map(|(.., bytes)| bytes).sum();
        if bytes <= self.most_bytes {
            return;
        }
        files.sort();
        for (_, file, of_it) in files {
            if bytes <= self.most_bytes / 4 * 3 {
                break;
            }
            // Another program may have been faster.
            let _ = fs::remove_file(file);
            bytes -= of_it;
        }
    }
}

/// The values in a folder: when each was wanted last, its file, and how many bytes that takes. A person may have named a folder
/// in which files of their own lie.
fn of_folder(folder: &Path) -> Vec<(SystemTime, PathBuf, u64)> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let told = |entry: fs::DirEntry| {
        let name = entry.file_name();
        let is_value = name.len() == 2 * CHECKED && name.as_encoded_bytes().iter().all(u8::is_ascii_hexdigit);
        if !is_value {
            return None;
        }
        let found = entry.metadata().ok().filter(fs::Metadata::is_file)?;
        Some((found.modified().ok()?, entry.path(), found.len().next_multiple_of(BLOCK_BYTES)))
    };
    entries.flatten().filter_map(told).collect()
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_put_is_found_by_its_key_alone_and_only_whole() {
        let folder = tempfile::tempdir().unwrap();
        let cache = Cache::in_folder(folder.path().join("flashes"), 1 << 20);
        assert_eq!(cache.get("quay"), None);
        cache.put("quay", b"three flashes");
        assert_eq!(cache.get("quay").as_deref(), Some(&b"three flashes"[..]));
        assert_eq!(cache.get("quays"), None);
        cache.put("quay", b"none");
        assert_eq!(cache.get("quay").as_deref(), Some(&b"none"[..]));
        let file = cache.file("quay");
        let whole = fs::read(&file).unwrap();
        for at in 0..whole.len() {
            let mut damaged = whole.clone();
            damaged[at] ^= 4;
            fs::write(&file, &damaged).unwrap();
            assert_eq!(cache.get("quay"), None, "byte {at}");
            fs::write(&file, &whole[..at]).unwrap();
            assert_eq!(cache.get("quay"), None, "{at} bytes");
        }
        fs::remove_file(&file).unwrap();
        fs::create_dir(&file).unwrap();
        assert_eq!(cache.get("quay"), None);
        cache.put("quay", b"a folder is in the way");
    }

    /// The key's SHA-256 names its file: FIPS 180-4's example "abc" (NIST, "SHA256.pdf", Examples with Intermediate Values).
    #[test]
    fn a_key_stands_for_its_file_by_sha_256() {
        let cache = Cache::in_folder(PathBuf::from("kept"), 1);
        let name = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(cache.file("abc"), Path::new("kept").join(name));
    }

    #[test]
    fn it_never_holds_more_than_it_may_and_what_was_wanted_last_stays() {
        let folder = tempfile::tempdir().unwrap();
        let most = 16 * BLOCK_BYTES;
        let cache = Cache::in_folder(folder.path().to_owned(), most);
        let taken = || of_folder(folder.path()).iter().map(|(.., bytes)| bytes).sum::<u64>();
        let long_ago = SystemTime::now() - Duration::from_secs(3600);
        // Whatever else lies there is somebody's.
        let theirs = folder.path().join("ferry at dawn.mov");
        fs::write(&theirs, vec![7; most as usize]).unwrap();
        File::options().write(true).open(&theirs).unwrap().set_modified(long_ago).unwrap();
        for at in 0..16 {
            cache.put(&format!("ship {at}"), &[at; 3000]);
            let file = File::options().write(true).open(cache.file(&format!("ship {at}"))).unwrap();
            file.set_modified(long_ago + Duration::from_secs(at.into())).unwrap();
        }
        assert_eq!(taken(), most);
        assert!(cache.get("ship 0").is_some());
        cache.put("ship 16", &[0; 3000]);
        assert_eq!(taken(), most / 4 * 3);
        let stays = |at: u32| cache.get(&format!("ship {at}")).is_some();
        assert!(stays(0) && stays(16) && stays(15) && !stays(1) && !stays(5));
        cache.put("a fleet", &vec![0; most as usize]);
        assert!(cache.get("a fleet").is_none() && taken() <= most);
        assert_eq!(fs::read(&theirs).unwrap(), vec![7; most as usize]);
    }
}
