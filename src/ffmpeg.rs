//! The `ffmpeg` and `ffprobe` programs, where the machine has them: films of other kinds are read and written
//! through them. Arguments are handed over one by one; no shell sees them.

use std::ffi::OsString;
use std::fs::File;
use std::io::{self, Read, Seek};
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};

use thiserror::Error;

/// Why one of the programs could not do its work.
#[derive(Debug, Clone, Error, PartialEq, Eq)]
pub enum FfmpegError {
    /// It is not there.
    #[error(
        "this goes through the program `{program}`, which is not on this machine; install it, on Debian or Ubuntu with `sudo apt-get install ffmpeg`"
    )]
    Missing {
        /// The program.
        program: &'static str,
    },
    /// It ended with an error, or could not be started.
    #[error("{program} says: {why}")]
    Failed {
        /// The program.
        program: &'static str,
        /// Its last words.
        why: String,
    },
}

/// A file as an argument that is never taken for an option, a list or an address.
pub fn file_argument(path: &Path) -> OsString {
    let mut argument = OsString::from("file:");
    argument.push(path);
    argument
}

/// One of the programs, at work; dropped, it is ended.
pub struct Running {
    program: &'static str,
    child: Child,
    /// What it says, in a file without a name: a pipe could fill up and block it.
    says: File,
}

impl Running {
    /// Starts `program` with `arguments`; `input` and `output` say whether its standard input and output are pipes.
    ///
    /// # Errors
    /// [`FfmpegError`] if it is not there or cannot be started.
    pub fn start<I: Into<OsString>>(
        program: &'static str,
        arguments: impl IntoIterator<Item = I>,
        input: bool,
        output: bool,
    ) -> Result<Self, FfmpegError> {
        let failed = |error: io::Error| match error.kind() {
            io::ErrorKind::NotFound => FfmpegError::Missing { program },
            _ => FfmpegError::Failed { program, why: error.to_string() },
        };
        let no_file = |error: io::Error| FfmpegError::Failed { program, why: error.to_string() };
        let says = tempfile::tempfile().map_err(no_file)?;
        let pipe = |wanted| if wanted { Stdio::piped() } else { Stdio::null() };
        let child = Command::new(program)
            .args(arguments.into_iter().map(Into::into))
            .stdin(pipe(input))
            .stdout(pipe(output))
            .stderr(says.try_clone().map_err(no_file)?)
            .spawn()
            .map_err(failed)?;
        Ok(Self { program, child, says })
    }

    /// Its pipes, where it has them.
    pub fn child(&mut self) -> &mut Child {
        &mut self.child
    }

    /// Waits for its end.
    ///
    /// # Errors
    /// [`FfmpegError::Failed`] with its last words, unless it ended well.
    pub fn finish(mut self) -> Result<(), FfmpegError> {
        let status = self.child.wait().map_err(|error| self.failed(error.to_string()))?;
        if status.success() { Ok(()) } else { Err(self.last_words(status)) }
    }

    fn last_words(&mut self, status: ExitStatus) -> FfmpegError {
        let mut said = Vec::new();
        let read = self.says.rewind().and_then(|()| self.says.read_to_end(&mut said));
        let said = String::from_utf8_lossy(&said);
        let last = said.lines().map(str::trim).rfind(|line| !line.is_empty());
        self.failed(match last {
            Some(line) if read.is_ok() => line.to_owned(),
            _ => format!("nothing; it ended with {status}"),
        })
    }

    fn failed(&self, why: String) -> FfmpegError {
        FfmpegError::Failed { program: self.program, why }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // Gone already, or ended here; either way it is waited for.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
