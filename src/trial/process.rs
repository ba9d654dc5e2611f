//! Trials in a process of their own, which is ended when it takes too long; what was found is kept.

use std::collections::VecDeque;
use std::fs;
use std::io::{BufRead as _, BufReader, Read, Write};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::{Outcome, tried};
use crate::base::doing::doing_counted;
use crate::base::folders::state_folder;
use crate::base::frame::PixelMode;
use crate::base::plain;
use crate::catalogue::{Catalogue, Content, Effect, Standing, Workgroup, assembled};
use crate::files;
use crate::gpu::{Gpu, Renderer, adapter_named};

/// How long one effect may take, its compiling and all its pictures included.
pub const LIMIT: Duration = Duration::from_secs(30);
/// Memory that the process may take, in MiB: a driver with its compiler takes a few hundred.
pub const MEMORY_MIB: u64 = 2048;
/// The hidden command that works trials off.
pub const COMMAND: &str = "trial-effects";
/// Another number whenever trials find other things.
const VERSION: u32 = 1;

/// An effect to try, whole, so that the file may change meanwhile.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Task {
    name: String,
    origin: String,
    source: String,
}

/// What is kept of a trial.
#[derive(Debug, Serialize, Deserialize)]
struct OutcomeFile {
    key: String,
    origin: String,
    outcome: Outcome,
}

/// Has effects tried, and remembers how that ended.
#[derive(Debug, Clone)]
pub struct Trials {
    /// This program, which is run again for each batch.
    pub program: Option<PathBuf>,
    /// Where results are kept between runs; nowhere where there is none.
    pub state: Option<PathBuf>,
    /// Part of the name of the adapter.
    pub adapter: Option<String>,
    /// How long the trial of one effect may take.
    pub limit: Duration,
    /// How much memory the process may take, in MiB, where the system keeps to such a limit.
    pub memory_mib: u64,
}

impl Trials {
    /// By this program, kept in the person's state folder.
    pub fn here(adapter: Option<String>) -> Self {
        Self {
            program: std::env::current_exe().ok(),
            state: state_folder(),
            adapter,
            limit: LIMIT,
            memory_mib: MEMORY_MIB,
        }
    }

    /// Settles the standing of every effect of a person's own; gives lines to tell: what was refuted, and what
    /// could not be tried. One that must not be used is taken out of the catalogue, and is one of its problems.
    pub fn settle(&self, catalogue: &mut Catalogue, mut begins: impl FnMut(&Effect)) -> Vec<String> {
        let untried: Vec<Arc<Effect>> =
            catalogue.own().filter(|effect| effect.standing == Standing::Untried).cloned().collect();
        let outcomes = self.outcomes(&untried, &mut begins);
        let of = |effect: &Effect| {
            let at = untried.iter().position(|tried| tried.name == effect.name && tried.is_same(effect));
            at.map(|at| outcomes[at].clone())
        };
        let mut told = Vec::new();
        catalogue.settle(|effect| match of(effect) {
            Some(Outcome::Stopped(reason)) => Err(reason),
            Some(Outcome::Tried(tried)) if tried.refuted.is_empty() => Ok(Standing::Confirmed),
            Some(Outcome::Tried(tried)) => {
                told.extend(tried.refuted.iter().cloned());
                Ok(Standing::Refuted(tried.refuted.into()))
            }
            Some(Outcome::Untried(reason)) => {
                told.push(format!("{}: not tried: {reason}", effect.origin));
                Ok(Standing::Untried)
            }
            None => Ok(effect.standing.clone()),
        });
        told
    }

    /// How the trial of each effect ended, from what is kept or anew.
    pub fn outcomes(&self, effects: &[Arc<Effect>], begins: &mut impl FnMut(&Effect)) -> Vec<Outcome> {
        if effects.is_empty() {
            return Vec::new();
        }
        let adapter = match adapter_named(self.adapter.as_deref()) {
            Ok(adapter) => adapter.to_string(),
            Err(error) => return vec![Outcome::Untried(error.to_string()); effects.len()],
        };
        let keys: Vec<String> = effects.iter().map(|effect| key(effect, &adapter)).collect();
        let mut outcomes: Vec<Option<Outcome>> =
            effects.iter().zip(&keys).map(|(effect, key)| self.kept(effect, key)).collect();
        let mut open: VecDeque<usize> = (0..effects.len()).filter(|&at| outcomes[at].is_none()).collect();
        while !open.is_empty() {
            let batch: Vec<usize> = open.iter().copied().collect();
            for (at, outcome) in self.batch(effects, &batch, begins) {
                self.keep(&effects[at], &keys[at], &outcome);
                outcomes[at] = Some(outcome);
                open.retain(|&other| other != at);
            }
        }
        outcomes
            .into_iter()
            .map(|outcome| outcome.unwrap_or(Outcome::Untried("no answer".to_owned())))
            .collect()
    }

    /// One run of the process: as many outcomes as it came to, at least one.
    fn batch(
        &self,
        effects: &[Arc<Effect>],
        batch: &[usize],
        begins: &mut impl FnMut(&Effect),
    ) -> Vec<(usize, Outcome)> {
        let all_untried = |reason: String| {
            batch.iter().map(|&at| (at, Outcome::Untried(reason.clone()))).collect::<Vec<_>>()
        };
        let tasks: Vec<Task> = batch.iter().map(|&at| Task::of(&effects[at])).collect();
        let mut child = match self.started(&tasks) {
            Ok(child) => child,
            Err(error) => return all_untried(format!("no process for trials could be started ({error})")),
        };
        let (send, lines) = mpsc::channel();
        if let Some(stdout) = child.stdout.take() {
            thread::spawn(move || {
                for line in BufReader::new(stdout).lines().map_while(Result::ok) {
                    if send.send(line).is_err() {
                        break;
                    }
                }
            });
        }
        let mut found = Vec::new();
        let trying = doing_counted("trying effects of your own", "effects", batch.len());
        for &at in batch {
            trying.done(found.len());
            let effect = &effects[at];
            begins(effect);
            match lines.recv_timeout(self.limit).map(|line| serde_json::from_str::<Outcome>(&line)) {
                Ok(Ok(outcome)) => found.push((at, outcome)),
                Ok(Err(error)) => found.push((at, Outcome::Untried(error.to_string()))),
                Err(RecvTimeoutError::Timeout) => {
                    let stopped = format!(
                        "{}:1:1: its trial on small pictures was stopped after {} s; an effect that takes so long would hold up the whole program: shorten its loops",
                        effect.origin,
                        self.limit.as_secs()
                    );
                    found.push((at, Outcome::Stopped(stopped)));
                    break;
                }
                Err(RecvTimeoutError::Disconnected) => {
                    let how =
                        child.wait().map_or_else(|error| error.to_string(), |status| status.to_string());
                    let stopped = format!(
                        "{}:1:1: its trial brought the graphics driver down, or took more than {} MiB of memory ({how}); the effect is not used",
                        effect.origin, self.memory_mib
                    );
                    found.push((at, Outcome::Stopped(stopped)));
                    break;
                }
            }
        }
        // It has ended, or has to.
        let _ = child.kill();
        let _ = child.wait();
        found
    }

    fn started(&self, tasks: &[Task]) -> std::io::Result<Child> {
        let program =
            self.program.as_ref().ok_or_else(|| std::io::Error::other("this program is not found"))?;
        let mut command = Command::new(program);
        command.args([COMMAND, "--memory", &self.memory_mib.to_string()]);
        if let Some(adapter) = &self.adapter {
            command.args(["--adapter", adapter]);
        }
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut child = command.spawn()?;
        if let Some(mut stdin) = child.stdin.take() {
            match stdin.write_all(&serde_json::to_vec(tasks)?) {
                // It has ended already: that it gives no answer says so.
                Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => {}
                written => written?,
            }
        }
        Ok(child)
    }

    fn file(&self, key: &str) -> Option<PathBuf> {
        let name = format!("{}.json", Content::of(key));
        Some(self.state.as_ref()?.join("trials").join(name))
    }

    fn kept(&self, effect: &Effect, key: &str) -> Option<Outcome> {
        let kept: OutcomeFile =
            serde_json::from_slice(&plain::read(&self.file(key)?, plain::MOST_OWN_BYTES).ok()?).ok()?;
        // The whole text is compared: a hash alone could be another file's. Messages name the file's own place.
        (kept.key == key && kept.origin == effect.origin).then_some(kept.outcome)
    }

    fn keep(&self, effect: &Effect, key: &str, outcome: &Outcome) {
        let Some(file) = self.file(key).filter(|_| !matches!(outcome, Outcome::Untried(_))) else { return };
        let kept =
            OutcomeFile { key: key.to_owned(), origin: effect.origin.clone(), outcome: outcome.clone() };
        let Ok(text) = serde_json::to_vec(&kept) else { return };
        // Where nothing can be kept, it is tried again the next time.
        if file.parent().is_some_and(|folder| fs::create_dir_all(folder).is_ok()) {
            let _ = files::keep(&file, &text);
        }
    }
}

/// Everything that an outcome depends on.
fn key(effect: &Effect, adapter: &str) -> String {
    let shaders = PixelMode::ALL.map(|pixels| assembled(effect, pixels, Workgroup::WIDE));
    format!("{VERSION} {} {adapter}\n{}", effect.name, shaders.join("\n"))
}

impl Task {
    fn of(effect: &Effect) -> Self {
        Self { name: effect.name.clone(), origin: effect.origin.clone(), source: effect.source.clone() }
    }

    fn outcome(&self, renderer: &mut Option<Renderer>, adapter: Option<&str>) -> Outcome {
        let effect = match Effect::read(&self.name, &self.origin, &self.source) {
            Ok(effect) => Arc::new(effect),
            Err(error) => return Outcome::Stopped(error.to_string()),
        };
        if renderer.is_none() {
            match Gpu::open(adapter) {
                Ok(gpu) => *renderer = Some(Renderer::new(gpu)),
                Err(error) => return Outcome::Untried(error.to_string()),
            }
        }
        let Some(open) = renderer else { return Outcome::Untried("no GPU".to_owned()) };
        match tried(open, &effect) {
            Ok(outcome) => outcome,
            Err(error) => {
                // A device that failed once is not used for the next.
                *renderer = None;
                Outcome::Stopped(format!("{}:1:1: its trial failed: {error}", self.origin))
            }
        }
    }
}

/// Works off the tasks that stand on `input`, as JSON; a line of JSON for each, as soon as it is known. The whole
/// process takes no more than so much memory from then on.
///
/// # Errors
/// Where the tasks cannot be read or the answers not be written.
pub fn work_off(
    mut input: impl Read,
    mut output: impl Write,
    adapter: Option<&str>,
    memory_mib: u64,
) -> std::io::Result<()> {
    limit_memory(memory_mib << 20);
    let mut text = String::new();
    input.read_to_string(&mut text)?;
    let tasks: Vec<Task> = serde_json::from_str(&text)?;
    let mut renderer = None;
    for task in tasks {
        let outcome = task.outcome(&mut renderer, adapter);
        writeln!(output, "{}", serde_json::to_string(&outcome)?)?;
        output.flush()?;
    }
    Ok(())
}

/// Data are limited, not addresses: drivers of GPUs set large ranges of addresses aside without taking them.
#[cfg(unix)]
fn limit_memory(bytes: u64) {
    use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
    let there = getrlimit(Resource::Data);
    let lower = |limit: Option<u64>| Some(limit.map_or(bytes, |limit| limit.min(bytes)));
    let limit = Rlimit { current: lower(there.current), maximum: lower(there.maximum) };
    // Where the system refuses, the limit of time is left.
    let _ = setrlimit(Resource::Data, limit);
}

#[cfg(not(unix))]
fn limit_memory(_: u64) {}
