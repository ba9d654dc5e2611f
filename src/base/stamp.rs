//! What changes with a file: where it stands, the file has not been written since.

use std::fs;
use std::path::Path;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use serde::{Deserialize, Serialize};

/// A file that changed within this time of being looked at may change again without its times telling.
const UNSETTLED: Duration = Duration::from_secs(1);

/// What of a file changes with it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stamp {
    bytes: u64,
    modified_ns: u64,
    /// On Unix the file's number, and when anything of it changed: both change where a file is replaced.
    inode: u64,
    changed_ns: i64,
}

impl Stamp {
    /// That of a file as it is now; none where there is none, or its times are not told.
    pub fn of(path: &Path) -> Option<Self> {
        let found = fs::metadata(path).ok()?;
        let modified = found.modified().ok()?.duration_since(UNIX_EPOCH).ok()?;
        #[cfg(unix)]
        let (inode, changed_ns) = {
            use std::os::unix::fs::MetadataExt as _;
            (found.ino(), found.ctime().wrapping_mul(1_000_000_000).wrapping_add(found.ctime_nsec()))
        };
        #[cfg(not(unix))]
        let (inode, changed_ns) = (0, 0);
        Some(Self { bytes: found.len(), modified_ns: modified.as_nanos() as u64, inode, changed_ns })
    }

    /// Whether enough time has passed since its last change.
    pub fn is_settled(&self, now: SystemTime) -> bool {
        self.has_stood(now, self.modified_ns)
    }

    /// The same where a time of change that somebody has put back is not believed.
    pub fn is_surely_settled(&self, now: SystemTime) -> bool {
        self.has_stood(now, self.modified_ns.max(self.changed_ns.try_into().unwrap_or_default()))
    }

    fn has_stood(&self, now: SystemTime, since_ns: u64) -> bool {
        let now = now.duration_since(UNIX_EPOCH).unwrap_or_default();
        now.saturating_sub(Duration::from_nanos(since_ns)) >= UNSETTLED
    }

    /// Whether only the file's place may have changed since: the same bytes, written at the same time.
    pub fn is_as_written(&self, then: &Self) -> bool {
        (self.bytes, self.modified_ns, self.inode) == (then.bytes, then.modified_ns, then.inode)
    }
}
