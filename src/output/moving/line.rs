//! Frames on their way to a file: made ready on all processors at once, written in turn.

use std::io;
use std::sync::mpsc::{self, Receiver, Sender, SyncSender};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};

use super::{Made, Making, MovingError, Writer};
use crate::gpu::Returned;

/// Frames made ready beside those that processors are at, so that memory stays flat however long the film.
const WAITING: usize = 4;

/// A frame as the file takes it, or why it has none.
type Ready = Result<Made, MovingError>;

/// A frame to be made ready, and who waits for it.
type Job = (u64, Returned, SyncSender<Ready>);

/// Frames on their way to a file. Dropped, it writes what it was given, and the file does not get its name.
pub struct Line {
    way: Option<Way>,
    writing: Option<JoinHandle<Result<Ended, Halted>>>,
    making: Vec<JoinHandle<()>>,
}

struct Way {
    jobs: Sender<Job>,
    turns: SyncSender<(u64, Receiver<Ready>)>,
}

/// All frames are written.
pub struct Ended {
    /// What they were written by, to be finished.
    pub writer: Writer,
    /// How many of them are transparent anywhere.
    pub transparent: u64,
}

/// Why frames are no longer written.
#[derive(Debug)]
pub struct Halted {
    /// The frame that was not written, from 0.
    pub number: u64,
    /// Why.
    pub error: MovingError,
}

impl Line {
    /// Frames to `writer`.
    ///
    /// # Errors
    /// The system gives no threads.
    pub fn to(mut writer: Writer) -> io::Result<Self> {
        let processors = thread::available_parallelism().map_or(1, usize::from);
        let (jobs, to_make) = mpsc::channel::<Job>();
        let (turns, in_turn) = mpsc::sync_channel::<(u64, Receiver<Ready>)>(processors + WAITING);
        let to_make = Arc::new(Mutex::new(to_make));
        let mut line = Self { way: None, writing: None, making: Vec::with_capacity(processors) };
        for _ in 0..processors {
            let (to_make, how) = (Arc::clone(&to_make), writer.making());
            line.making.push(started("frame", move || makes(&to_make, &how))?);
        }
        line.writing = Some(started("frames out", move || {
            let mut transparent = 0;
            for (number, ready) in in_turn {
                let made = ready.recv().unwrap_or(Err(MovingError::Unmade));
                made.and_then(|made| {
                    transparent += u64::from(!made.is_opaque);
                    writer.put(made.bytes)
                })
                .map_err(|error| Halted { number, error })?;
            }
            Ok(Ended { writer, transparent })
        })?);
        line.way = Some(Way { jobs, turns });
        Ok(line)
    }

    /// The next frame; waits while as many are under way as may be. Says whether frames are still written: where they
    /// are not, [`ended`](Self::ended) says why.
    pub fn put(&self, number: u64, picture: Returned) -> bool {
        let Some(Way { jobs, turns }) = &self.way else { return false };
        let (tell, ready) = mpsc::sync_channel(1);
        turns.send((number, ready)).is_ok() && jobs.send((number, picture, tell)).is_ok()
    }

    /// Waits until every frame is written.
    ///
    /// # Errors
    /// [`Halted`] where one could not be.
    pub fn ended(mut self) -> Result<Ended, Halted> {
        self.way = None;
        let unmade = Halted { number: 0, error: MovingError::Unmade };
        self.writing.take().and_then(|writing| writing.join().ok()).unwrap_or(Err(unmade))
    }
}

impl Drop for Line {
    fn drop(&mut self) {
        self.way = None;
        // What is not whole is tidied away before the program goes on, or ends.
        drop(self.writing.take().map(JoinHandle::join));
        self.making.drain(..).for_each(|making| drop(making.join()));
    }
}

fn started<T: Send + 'static>(
    name: &str,
    work: impl FnOnce() -> T + Send + 'static,
) -> io::Result<JoinHandle<T>> {
    thread::Builder::new().name(name.to_owned()).spawn(work)
}

/// Makes frames ready, one by one, as long as there are any.
fn makes(to_make: &Mutex<Receiver<Job>>, how: &Making) {
    loop {
        let next = to_make.lock().unwrap_or_else(PoisonError::into_inner).recv();
        let Ok((number, picture, tell)) = next else { return };
        // Where writing has ended, nobody waits for it.
        let _ = tell.send(how.made(number, &picture));
    }
}
