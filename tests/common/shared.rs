//! What tests of every subject share: the effects inside the program, and a person who runs it.
#![allow(dead_code, reason = "each test program uses another part")]

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::LazyLock;

use tempfile::TempDir;
use underover::catalogue::Catalogue;

/// The effects inside the program.
pub static CATALOGUE: LazyLock<Catalogue> = LazyLock::new(|| Catalogue::built_in().unwrap());

pub const PROGRAM: &str = env!("CARGO_BIN_EXE_underover");

/// Two numbers that are one but for rounding.
#[track_caller]
pub fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-12, "{found} is not {expected}");
}

/// A person with a folder of their own, in which the program runs and keeps what it keeps: it never meets those of
/// whoever runs the tests.
pub struct Person {
    home: TempDir,
}

impl Person {
    pub fn new() -> Self {
        Self { home: tempfile::tempdir().unwrap() }
    }

    pub fn home(&self) -> &Path {
        self.home.path()
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    pub fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(PROGRAM);
        command.args(words).current_dir(self.home.path()).stdin(Stdio::null());
        for (variable, folder) in
            [("UNDEROVER_DATA", "data"), ("UNDEROVER_STATE", "state"), ("UNDEROVER_CONFIG", "config")]
        {
            command.env(variable, self.path(folder));
        }
        command
    }

    /// How the program ends, what it says, and what it says on standard error.
    pub fn run(&self, words: &[&str]) -> (i32, String, String) {
        let output = self.command(words).output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
    }

    /// What the program says where it has to do what it is asked.
    #[track_caller]
    pub fn right(&self, words: &[&str]) -> String {
        let (code, said, wrong) = self.run(words);
        assert_eq!(code, 0, "{words:?}: {wrong}");
        said
    }

    /// How it ends and what it complains of where it has to refuse.
    #[track_caller]
    pub fn wrong(&self, words: &[&str]) -> (i32, String) {
        let (code, said, wrong) = self.run(words);
        assert_ne!(code, 0, "{words:?}: {said}");
        (code, wrong)
    }
}
