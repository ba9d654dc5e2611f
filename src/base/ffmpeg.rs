//! The `ffmpeg` and `ffprobe` programs, where the machine has them: films of other kinds are read and written
//! through them. Arguments are handed over one by one; no shell sees them.
//!
//! What they read and write goes through threads of its own, so that a program which gives and takes nothing for
//! [`GIVES_WITHIN`] or [`TAKES_WITHIN`] is ended with whatever it started, and nobody waits for it without end.

use std::env;
use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{self, Read, Seek, Write};
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
#[cfg(unix)]
use std::sync::Once;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, SyncSender, channel, sync_channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use std::thread;
use std::time::{Duration, Instant};

use thiserror::Error;

use super::stamp::Stamp;

/// How long a program that is read from may give nothing.
pub const GIVES_WITHIN: Duration = Duration::from_secs(30);
/// How long a program that writes a film may take nothing and write nothing: large frames take long to compress.
pub const TAKES_WITHIN: Duration = Duration::from_secs(300);

/// Bytes handed over at once: what a pipe holds (Linux, pipe(7)).
const PIECE_BYTES: usize = 64 << 10;
/// Pieces that wait to be read.
const PIECES_AHEAD: usize = 16;

/// Why one of the programs could not do its work.
#[derive(Debug, Clone, Error, PartialEq, Eq)]
pub enum FfmpegError {
    /// It is not there.
    #[error(
        "this goes through the program `{program}`, which is not on this machine; install it, on Debian or Ubuntu with `sudo apt-get install ffmpeg`"
    )]
    Missing { program: &'static str },
    /// It ended with an error, or could not be started.
    #[error("{program} says: {why}")]
    Failed {
        program: &'static str,
        /// Its last words.
        why: String,
    },
    /// It ran on and did nothing.
    #[error(
        "`{program}` did nothing for {} s and was ended; if the file lies on a slow disk or network, copy it to this machine first",
        within.as_secs_f64()
    )]
    Stalled {
        program: &'static str,
        /// How long it was waited for.
        within: Duration,
    },
}

/// A file as an argument that is never taken for an option, a list or an address.
pub fn file_argument(path: &Path) -> OsString {
    let mut argument = OsString::from("file:");
    argument.push(path);
    argument
}

/// What changes with the program `ffmpeg` that would be started: another version may decode a film to other texels.
pub fn stamp() -> Option<Stamp> {
    let folders = env::var_os("PATH")?;
    env::split_paths(&folders)
        .find_map(|folder| Stamp::of(&folder.join("ffmpeg").with_extension(env::consts::EXE_EXTENSION)))
}

/// Leaves it to the caller what becomes of running programs when this one is asked to stop.
pub fn leave_signals_alone() {
    SIGNALS_ARE_LEFT.store(true, Ordering::Relaxed);
}

static SIGNALS_ARE_LEFT: AtomicBool = AtomicBool::new(false);

/// What programs hang on that were started so far.
static LEASHES: Mutex<Vec<Weak<Mutex<Held>>>> = Mutex::new(Vec::new());

/// Has programs ended when this one is asked to end at once: in a group of their own they are not asked themselves, and
/// one that does nothing would stay.
fn end_with_this_one() {
    #[cfg(unix)]
    {
        use signal_hook::consts::{SIGINT, SIGTERM};
        static BEGUN: Once = Once::new();
        BEGUN.call_once(|| {
            let Ok(mut signals) = signal_hook::iterator::Signals::new([SIGINT, SIGTERM]) else { return };
            let ends = move || {
                for signal in signals.forever() {
                    if SIGNALS_ARE_LEFT.load(Ordering::Relaxed) {
                        continue;
                    }
                    let leashes = LEASHES.lock().unwrap_or_else(PoisonError::into_inner);
                    leashes.iter().filter_map(Weak::upgrade).for_each(|held| Leash(held).cut());
                    drop(leashes);
                    let _ = signal_hook::low_level::emulate_default_handler(signal);
                }
            };
            let _ = thread::Builder::new().name("film signals".to_owned()).spawn(ends);
        });
    }
}

/// What a program hangs on: one at a time. Cut, from any thread, it ends the program and lets no other start.
#[derive(Debug, Clone, Default)]
pub struct Leash(Arc<Mutex<Held>>);

#[derive(Debug, Default)]
struct Held {
    is_cut: bool,
    child: Option<Child>,
}

impl Leash {
    /// Ends the program, with whatever it started, for good.
    pub fn cut(&self) {
        let mut held = self.held();
        held.is_cut = true;
        held.end();
    }

    fn held(&self) -> MutexGuard<'_, Held> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Held {
    fn end(&mut self) {
        let Some(mut child) = self.child.take() else { return };
        // It is the first of a group of its own: what it started is ended with it.
        #[cfg(unix)]
        let _ = rustix::process::kill_process_group(
            rustix::process::Pid::from_child(&child),
            rustix::process::Signal::KILL,
        );
        // Gone already, or ended here; either way it is waited for.
        let _ = child.kill();
        let _ = child.wait();
    }
}

/// One of the programs, at work; dropped, it is ended.
pub struct Running {
    program: &'static str,
    leash: Leash,
    /// Which child of the leash it is: another may hang there by now.
    id: u32,
    output: Option<Output>,
    input: Option<Input>,
    /// What it says, in a file without a name: a pipe could fill up and block it.
    says: File,
    within: Duration,
}

/// What comes out of a program.
struct Output {
    pieces: Receiver<io::Result<Vec<u8>>>,
    /// What came last, and how much of it is taken.
    piece: Vec<u8>,
    taken: usize,
}

/// What goes into a program.
struct Input {
    batches: SyncSender<Vec<u8>>,
    /// For each piece that went in `false`, for each whole batch `true`.
    done: Receiver<bool>,
    /// Batches that are not in yet.
    pending: usize,
}

/// Which way bytes go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Its standard output is read.
    Out,
    /// Its standard input is written.
    In,
}

impl Running {
    /// Starts `program` with `arguments` on a leash, in place of what hung there.
    ///
    /// # Errors
    /// [`FfmpegError`] if it is not there or cannot be started.
    pub fn start<I: Into<OsString>>(
        program: &'static str,
        arguments: impl IntoIterator<Item = I>,
        way: Way,
        leash: &Leash,
    ) -> Result<Self, FfmpegError> {
        let failed = |error: io::Error| match error.kind() {
            io::ErrorKind::NotFound => FfmpegError::Missing { program },
            _ => FfmpegError::Failed { program, why: error.to_string() },
        };
        let no_file = |error: io::Error| FfmpegError::Failed { program, why: error.to_string() };
        let says = tempfile::tempfile().map_err(no_file)?;
        let pipe = |wanted| if wanted { Stdio::piped() } else { Stdio::null() };
        let mut command = Command::new(program);
        command
            .args(arguments.into_iter().map(Into::into))
            // Its words are read by this program.
            .env_remove("AV_LOG_FORCE_COLOR")
            .stdin(pipe(way == Way::In))
            .stdout(pipe(way == Way::Out))
            .stderr(says.try_clone().map_err(no_file)?);
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        end_with_this_one();
        let mut leashes = LEASHES.lock().unwrap_or_else(PoisonError::into_inner);
        leashes.retain(|known| known.strong_count() > 0 && known.as_ptr() != Arc::as_ptr(&leash.0));
        leashes.push(Arc::downgrade(&leash.0));
        drop(leashes);
        let mut held = leash.held();
        held.end();
        if held.is_cut {
            return Err(FfmpegError::Failed { program, why: "nothing; nobody wants it any more".to_owned() });
        }
        let mut child = command.spawn().map_err(failed)?;
        let (stdin, stdout, id) = (child.stdin.take(), child.stdout.take(), child.id());
        held.child = Some(child);
        drop(held);
        let within = if way == Way::Out { GIVES_WITHIN } else { TAKES_WITHIN };
        let mut running = Self { program, leash: leash.clone(), id, output: None, input: None, says, within };
        running.output = stdout.map(Output::of).transpose().map_err(no_file)?;
        running.input = stdin.map(Input::of).transpose().map_err(no_file)?;
        Ok(running)
    }

    /// What it gives next, `most` bytes or, at its end, fewer.
    ///
    /// # Errors
    /// [`FfmpegError`]: it gives nothing for too long, or what it gives cannot be read.
    pub fn read(&mut self, most: usize) -> Result<Vec<u8>, FfmpegError> {
        let mut bytes = Vec::new();
        let Some(output) = &mut self.output else { return Ok(bytes) };
        while bytes.len() < most {
            if output.taken == output.piece.len() {
                (output.piece, output.taken) = match output.pieces.recv_timeout(self.within) {
                    Ok(Ok(piece)) => (piece, 0),
                    Ok(Err(error)) => return Err(self.failed(error.to_string())),
                    Err(RecvTimeoutError::Timeout) => return Err(self.stalled()),
                    Err(RecvTimeoutError::Disconnected) => break,
                };
                if bytes.is_empty() {
                    bytes.reserve(most.min(output.piece.len().max(most.min(MOST_RESERVED))));
                }
            }
            let taken = (most - bytes.len()).min(output.piece.len() - output.taken);
            bytes.extend(&output.piece[output.taken..output.taken + taken]);
            output.taken += taken;
        }
        Ok(bytes)
    }

    /// Everything that it gives until its end.
    ///
    /// # Errors
    /// [`FfmpegError`] unless it ends well.
    pub fn read_to_end(mut self) -> Result<Vec<u8>, FfmpegError> {
        let given = self.read(usize::MAX)?;
        self.finish()?;
        Ok(given)
    }

    /// Everything that it says beside, until its end, whether that is good or bad.
    ///
    /// # Errors
    /// [`FfmpegError::Stalled`].
    pub fn words(mut self) -> Result<String, FfmpegError> {
        self.read(usize::MAX)?;
        self.wait(|| ())?;
        Ok(self.complaints())
    }

    /// Hands it a batch of bytes, once the one before is in.
    ///
    /// # Errors
    /// [`FfmpegError`]: it takes nothing for too long, or has gone away; then its last words.
    pub fn write(&mut self, batch: Vec<u8>) -> Result<(), FfmpegError> {
        self.await_input()?;
        let Some(input) = &mut self.input else { return Ok(()) };
        input.pending += 1;
        if input.batches.send(batch).is_err() { Err(self.gone()) } else { Ok(()) }
    }

    /// Waits until all that was handed over is in.
    fn await_input(&mut self) -> Result<(), FfmpegError> {
        while let Some(input) = self.input.as_mut().filter(|input| input.pending > 0) {
            match input.done.recv_timeout(self.within) {
                Ok(is_whole) => input.pending -= usize::from(is_whole),
                Err(RecvTimeoutError::Timeout) => return Err(self.stalled()),
                Err(RecvTimeoutError::Disconnected) => return Err(self.gone()),
            }
        }
        Ok(())
    }

    /// It takes no more.
    fn gone(&mut self) -> FfmpegError {
        self.input = None;
        match self.wait(|| ()) {
            Err(error) => error,
            Ok(status) if status.success() => {
                self.failed("nothing; it ended before the last frame".to_owned())
            }
            Ok(status) => self.last_words(status),
        }
    }

    /// Waits for its end.
    ///
    /// # Errors
    /// [`FfmpegError::Failed`] with its last words, unless it ended well.
    pub fn finish(mut self) -> Result<(), FfmpegError> {
        let status = self.wait(|| ())?;
        if status.success() { Ok(()) } else { Err(self.last_words(status)) }
    }

    /// Ends its input and waits until it has written `file`; as long as the file changes it is at work.
    ///
    /// # Errors
    /// As [`Self::finish`]; a program that complains has not ended well, whatever it says at its end.
    pub fn finish_file(mut self, file: &Path) -> Result<(), FfmpegError> {
        self.await_input()?;
        // The end of its input is the end of the film.
        self.input = None;
        let state = || fs::metadata(file).ok().and_then(|found| Some((found.len(), found.modified().ok()?)));
        let status = self.wait(state)?;
        if status.success() && self.complaints().trim().is_empty() {
            Ok(())
        } else {
            Err(self.last_words(status))
        }
    }

    /// Waits for its end; whenever `state` is another, it has done something.
    fn wait<S: PartialEq>(&mut self, state: impl Fn() -> S) -> Result<ExitStatus, FfmpegError> {
        let (mut seen, mut since) = (state(), Instant::now());
        let mut pause = Duration::from_millis(1);
        loop {
            let mut held = self.leash.held();
            let Some(child) = held.child.as_mut().filter(|child| child.id() == self.id) else {
                return Err(self.failed("nothing; nobody wants it any more".to_owned()));
            };
            if let Some(status) = child.try_wait().map_err(|error| self.failed(error.to_string()))? {
                // What it started and left behind goes too.
                held.end();
                return Ok(status);
            }
            drop(held);
            thread::sleep(pause);
            pause = (pause * 2).min(Duration::from_millis(50));
            let now = state();
            if now != seen {
                (seen, since) = (now, Instant::now());
            }
            if since.elapsed() > self.within {
                return Err(self.stalled());
            }
        }
    }

    fn end(&self) {
        let mut held = self.leash.held();
        if held.child.as_ref().is_some_and(|child| child.id() == self.id) {
            held.end();
        }
    }

    fn stalled(&self) -> FfmpegError {
        self.end();
        FfmpegError::Stalled { program: self.program, within: self.within }
    }

    /// All that it has written on standard error.
    fn complaints(&mut self) -> String {
        let mut written = Vec::new();
        // What cannot be read here is missing from a message and nowhere else.
        let _ = self.says.rewind().and_then(|()| self.says.read_to_end(&mut written));
        String::from_utf8_lossy(&written).into_owned()
    }

    fn last_words(&mut self, status: ExitStatus) -> FfmpegError {
        let written = self.complaints();
        let last = written.lines().map(str::trim).rfind(|line| !line.is_empty());
        self.failed(last.map_or_else(|| format!("nothing; it ended with {status}"), str::to_owned))
    }

    fn failed(&self, why: String) -> FfmpegError {
        FfmpegError::Failed { program: self.program, why }
    }
}

/// Bytes made room for before they come.
const MOST_RESERVED: usize = 64 << 20;

impl Output {
    fn of(mut pipe: impl Read + Send + 'static) -> io::Result<Self> {
        let (send, pieces) = sync_channel(PIECES_AHEAD);
        thread::Builder::new().name("film out".to_owned()).spawn(move || {
            loop {
                let mut piece = vec![0; PIECE_BYTES];
                let read = match pipe.read(&mut piece) {
                    Ok(0) => return,
                    Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                    Ok(read) => Ok(read),
                    Err(error) => Err(error),
                };
                let read = read.map(|read| {
                    piece.truncate(read);
                    piece
                });
                if send.send(read).is_err() {
                    return;
                }
            }
        })?;
        Ok(Self { pieces, piece: Vec::new(), taken: 0 })
    }
}

impl Input {
    fn of(mut pipe: impl Write + Send + 'static) -> io::Result<Self> {
        let (batches, taken) = sync_channel::<Vec<u8>>(1);
        let (tell, done): (Sender<bool>, _) = channel();
        thread::Builder::new().name("film in".to_owned()).spawn(move || {
            for batch in taken {
                let mut pieces = batch.chunks(PIECE_BYTES);
                if pieces.any(|piece| pipe.write_all(piece).is_err() || tell.send(false).is_err())
                    || tell.send(true).is_err()
                {
                    return;
                }
            }
        })?;
        Ok(Self { batches, done, pending: 0 })
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.end();
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    /// A shell at work, given a moment's patience.
    fn shell(script: &str, way: Way) -> Running {
        let mut running = Running::start("sh", ["-c", script], way, &Leash::default()).unwrap();
        running.within = Duration::from_millis(300);
        running
    }

    fn is_stalled(result: Result<Vec<u8>, FfmpegError>) -> bool {
        matches!(result, Err(FfmpegError::Stalled { program: "sh", .. }))
    }

    /// Whether any process still has this mark among its arguments after a moment.
    fn is_alive(mark: &str) -> bool {
        let is_there = || Command::new("pgrep").args(["-f", "--", mark]).output().unwrap().status.success();
        (0..20).all(|_| {
            thread::sleep(Duration::from_millis(50));
            is_there()
        })
    }

    #[test]
    fn one_that_gives_nothing_is_ended_with_all_that_it_started() {
        let begun = Instant::now();
        // The shell waits for its children, which hold the pipe open.
        assert!(is_stalled(shell("echo a; sleep 4242.125 & sleep 4242.125", Way::Out).read_to_end()));
        assert!(
            is_stalled(shell("exec >&-; sleep 4242.125", Way::Out).read_to_end()),
            "no output, and no end"
        );
        assert!(begun.elapsed() < Duration::from_secs(10), "{:?}", begun.elapsed());
        assert!(!is_alive("sleep 4242.125"));
    }

    #[test]
    fn one_that_is_slow_but_at_work_is_waited_for() {
        let slow = "for n in 1 2 3 4 5 6; do sleep 0.1; echo $n; done";
        assert_eq!(shell(slow, Way::Out).read_to_end().unwrap(), b"1\n2\n3\n4\n5\n6\n");
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("film");
        let into = file.display();
        let script = format!("cat > '{into}'; for n in 1 2 3 4 5 6; do sleep 0.1; echo $n >> '{into}'; done");
        let mut running = shell(&script, Way::In);
        let frame = vec![7; 3 * PIECE_BYTES + 5];
        running.write(frame.clone()).unwrap();
        running.write(frame.clone()).unwrap();
        running.finish_file(&file).unwrap();
        assert_eq!(fs::read(&file).unwrap(), [&frame[..], &frame, b"1\n2\n3\n4\n5\n6\n"].concat());
    }

    #[test]
    fn one_that_takes_nothing_is_ended() {
        let frame = || vec![0; 8 * PIECE_BYTES];
        let mut running = shell("sleep 4243.125", Way::In);
        let mut write = || running.write(frame());
        assert!(write().is_ok(), "one is on its way");
        assert!(matches!(write(), Err(FfmpegError::Stalled { .. })));
        drop(running);
        assert!(!is_alive("sleep 4243.125"));
        let mut running = shell("cat > /dev/null; sleep 4243.125", Way::In);
        running.write(frame()).unwrap();
        let error = running.finish_file(Path::new("/dev/null")).unwrap_err();
        assert!(matches!(error, FfmpegError::Stalled { .. }), "{error}");
        assert!(!is_alive("sleep 4243.125"));
    }

    #[test]
    fn one_that_goes_away_leaves_its_last_words() {
        let mut running = shell("head -c 10 > /dev/null; echo the disk is full >&2; exit 3", Way::In);
        let frame = || vec![0; 8 * PIECE_BYTES];
        let error = (0..3).find_map(|_| running.write(frame()).err()).unwrap();
        assert_eq!(error.to_string(), "sh says: the disk is full");
        let error = shell("echo no film here >&2; exit 1", Way::Out).read_to_end().unwrap_err();
        assert_eq!(error.to_string(), "sh says: no film here");
    }

    #[test]
    fn a_leash_that_is_cut_ends_what_hangs_on_it_at_once() {
        let leash = Leash::default();
        let running = Running::start("sh", ["-c", "sleep 4244.125; true"], Way::Out, &leash).unwrap();
        let begun = Instant::now();
        let reader = thread::spawn(move || running.read_to_end());
        thread::sleep(Duration::from_millis(100));
        leash.cut();
        assert!(!is_alive("sleep 4244.125"));
        assert!(reader.join().unwrap().is_err());
        assert!(begun.elapsed() < Duration::from_secs(10));
        assert!(Running::start("sh", ["-c", "true"], Way::Out, &leash).is_err(), "nothing starts on it");
    }
}
