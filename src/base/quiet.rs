//! Quiet while drivers look for a display that is not there.

/// Runs `look` without the line that display libraries print where no session
/// has told them of its folder, as over SSH: people would take it for our error.
///
/// Whatever else is printed meanwhile comes out once `look` has ended.
pub(crate) fn quietly<T>(look: impl FnOnce() -> T) -> T {
    #[cfg(unix)]
    let _aside = unix::Aside::put();
    look()
}

#[cfg(unix)]
mod unix {
    use std::env;
    use std::fs::File;
    use std::io::{self, Read, Seek, Write};
    use std::os::fd::{AsFd, OwnedFd};
    use std::path::Path;
    use std::sync::{Mutex, MutexGuard, PoisonError};

    use rustix::stdio::dup2_stderr;

    /// The variable that names the session's folder.
    const SESSION_FOLDER: &str = "XDG_RUNTIME_DIR";
    /// Standard error is one for the whole process: two threads that put it
    /// aside at once would put back each other's.
    static ALONE: Mutex<()> = Mutex::new(());

    /// Standard error, put aside in a file until this is dropped.
    pub(crate) struct Aside {
        real: OwnedFd,
        meanwhile: File,
        _alone: MutexGuard<'static, ()>,
    }

    impl Aside {
        /// Nothing where the session's folder is known, or where the system refuses: then the line is printed.
        pub(crate) fn put() -> Option<Self> {
            if env::var_os(SESSION_FOLDER).is_some_and(|folder| Path::new(&folder).is_absolute()) {
                return None;
            }
            let alone = ALONE.lock().unwrap_or_else(PoisonError::into_inner);
            let real = io::stderr().as_fd().try_clone_to_owned().ok()?;
            let meanwhile = tempfile::tempfile().ok()?;
            dup2_stderr(&meanwhile).ok()?;
            Some(Self { real, meanwhile, _alone: alone })
        }

        fn give_back(&mut self) -> io::Result<()> {
            dup2_stderr(&self.real)?;
            let mut printed = Vec::new();
            self.meanwhile.rewind()?;
            self.meanwhile.read_to_end(&mut printed)?;
            let noise = SESSION_FOLDER.as_bytes();
            for line in printed.split_inclusive(|&byte| byte == b'\n') {
                if !line.windows(noise.len()).any(|part| part == noise) {
                    io::stderr().write_all(line)?;
                }
            }
            Ok(())
        }
    }

    impl Drop for Aside {
        fn drop(&mut self) {
            // Where even this fails there is nowhere left to say so.
            let _ = self.give_back();
        }
    }
}
