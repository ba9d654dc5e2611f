//! Whole commands, as a person waits for them: each in a process of its own, first with folders that hold nothing yet, then
//! with what those before left behind.

use std::env::current_exe;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use super::Row;
use crate::base::folders::STATE_VARIABLE;
use crate::base::frame::Frame;
use crate::commands::progress::TIMES_VARIABLE;
use crate::gpu::ADAPTER_VARIABLE;

/// Folders in which drivers keep compiled programs: Mesa's (its documentation, "Environment Variables"), NVIDIA's (the README
/// of its driver for Unix, "Shader Disk Cache").
const DRIVER_CACHES: [&str; 2] = ["MESA_SHADER_CACHE_DIR", "__GL_SHADER_DISK_CACHE_PATH"];
const DRIVER: &str = "driver";
/// Times that a command is run once everything is warm.
const WARM_RUNS: usize = 3;
/// Parts of a command's time that are told.
const TOLD: usize = 6;

/// A command: its row, its words, the size of its pictures, and how many frames it writes.
pub(super) struct Whole {
    pub(super) name: &'static str,
    words: &'static str,
    frame: Frame,
    frames: usize,
}

const fn whole(name: &'static str, words: &'static str) -> Whole {
    Whole { name, words, frame: Frame { width: 1280, height: 720 }, frames: 0 }
}

/// Every row of a whole command.
pub(super) const ALL: [Whole; 9] = [
    whole("still", "render preset:night-ferry --out still.png"),
    whole("wall", "orders preset:night-ferry --at 0.1 --out wall.png"),
    whole("over-4", "orders preset:night-ferry --over 4 --json over.json"),
    whole("report", "report preset:night-ferry --out report.html"),
    whole("check", "check --show preset:night-ferry --json check.json"),
    whole("sheet", "sheet preset:night-ferry --out sheet.svg"),
    whole("flashes", "flashes preset:night-ferry --over 29 --no-suggestions --json flashes.json"),
    Whole { frames: 60, ..whole("film-720p", "render preset:night-ferry --frames 60 --out film.y4m") },
    Whole {
        frames: 332,
        frame: Frame { width: 1920, height: 1080 },
        ..whole("film-1080p", "render preset:night-ferry --frames 332 --frame 1920x1080 --out film.y4m")
    },
];

impl Whole {
    /// The command with cold and with warm caches, and where the time went.
    pub(super) fn rows(&self, adapter: Option<&str>) -> anyhow::Result<Vec<Row>> {
        let folder = tempfile::tempdir()?;
        // Drivers make no folder of theirs.
        fs::create_dir(folder.path().join(DRIVER))?;
        let (cold, cold_parts) = self.ran(folder.path(), adapter)?;
        let mut warm = Vec::new();
        let mut warm_parts = Vec::new();
        for _ in 0..WARM_RUNS {
            let (took, parts) = self.ran(folder.path(), adapter)?;
            warm.push(took);
            warm_parts = parts;
        }
        let row = |how: &str, walls, parts: Vec<String>| {
            let what = format!("{}, caches {how}", self.name);
            Row { parts, ..Row::of(what, self.frame, [0, self.frames], walls) }
        };
        Ok(vec![row("cold", vec![cold], cold_parts), row("warm", warm, warm_parts)])
    }

    /// One run: how long it took in milliseconds, and the longest parts of that in its own words.
    fn ran(&self, folder: &Path, adapter: Option<&str>) -> anyhow::Result<(f64, Vec<String>)> {
        let mut command = Command::new(current_exe()?);
        command.args(self.words.split(' ')).current_dir(folder);
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::piped());
        command.env(TIMES_VARIABLE, "1").env(STATE_VARIABLE, folder.join("state"));
        for variable in DRIVER_CACHES {
            command.env(variable, folder.join(DRIVER));
        }
        if let Some(adapter) = adapter {
            command.env(ADAPTER_VARIABLE, adapter);
        }
        let began = Instant::now();
        let output = command.output()?;
        let took = began.elapsed().as_secs_f64() * 1e3;
        let said = String::from_utf8_lossy(&output.stderr);
        // A check says by 1 that a point would fail the show, which on a slow adapter one does.
        let fails_the_show = self.name == "check" && output.status.code() == Some(1);
        if !output.status.success() && !fails_the_show {
            return Err(anyhow::anyhow!("`underover {}` failed: {said}", self.words));
        }
        let is_part = |line: &&str| {
            line.trim_start().starts_with(|c: char| c.is_ascii_digit()) && line.contains(" s  ")
        };
        let parts = said.lines().filter(is_part).take(TOLD).map(|line| line.trim().to_owned()).collect();
        Ok((took, parts))
    }
}
