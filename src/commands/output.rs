//! Writing what a command made.

use std::io::{Cursor, Write as _};
use std::path::Path;

use anyhow::Context as _;
use image::{ImageFormat, RgbaImage};
use serde::Serialize;

use super::WrongWords;
use crate::files;

/// Refuses a picture's name before any work: pictures are PNG, and the folder must be there.
pub(super) fn check_picture_name(path: &Path) -> anyhow::Result<()> {
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    if let Some(ending) = ending.filter(|ending| ending != "png") {
        let right = path.with_extension("png");
        return Err(WrongWords(format!(
            "--out {}: pictures are written as PNG, not as .{ending}; name it {}",
            path.display(),
            right.display()
        ))
        .into());
    }
    check_folder(path)
}

/// Refuses an output whose folder is missing, before any work.
pub(super) fn check_folder(path: &Path) -> anyhow::Result<()> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    if let Some(folder) = folder.filter(|folder| !folder.is_dir()) {
        let message = if folder.exists() { "is no folder" } else { "is missing; make it first" };
        anyhow::bail!("cannot write {}: the folder {} {message}", path.display(), folder.display());
    }
    Ok(())
}

/// Writes a picture as PNG, whole or not at all.
pub(super) fn write_picture(path: &Path, picture: &RgbaImage) -> anyhow::Result<()> {
    let mut png = Cursor::new(Vec::new());
    picture.write_to(&mut png, ImageFormat::Png).context("encoding the picture as PNG failed")?;
    Ok(files::write(path, png.get_ref())?)
}

/// Writes figures as JSON to a file, or to standard output for `-`.
pub(super) fn write_json(path: &Path, figures: &impl Serialize) -> anyhow::Result<()> {
    let mut text = serde_json::to_string_pretty(figures).context("writing the figures as JSON failed")?;
    text.push('\n');
    if path == Path::new("-") { say(&text) } else { Ok(files::write(path, text.as_bytes())?) }
}

/// Writes to standard output; a reader that has gone away is no failure of ours.
pub(super) fn say(text: &str) -> anyhow::Result<()> {
    match std::io::stdout().write_all(text.as_bytes()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(error).context("writing to standard output failed")
        }
        _ => Ok(()),
    }
}
