//! Saying and writing what a command made.

use std::fmt::Display;
use std::fs;
use std::io::{Cursor, ErrorKind, Write as _, stderr, stdout};
use std::path::{Path, PathBuf};
use std::str::FromStr;

use image::{ImageFormat, RgbaImage};
use serde::Serialize;

use super::WrongWords;
use super::progress::wipe;
use crate::doing::doing;
use crate::files;
use crate::footage::Picture;
use crate::frame::Frame;

/// Standard output, as a path.
const STANDARD_OUTPUT: &str = "-";

/// A file that a command is told to write.
pub(super) struct Output<'a> {
    /// The option that names it.
    pub(super) option: &'static str,
    pub(super) path: &'a Path,
    /// The ending that its name has to have, if it has one; figures may have any.
    pub(super) ending: Option<&'static str>,
}

/// The output of a command that writes figures alone.
pub(super) fn figures_output(json: Option<&Path>) -> Vec<Output<'_>> {
    json.into_iter().map(|path| Output { option: "--json", path, ending: None }).collect()
}

/// The outputs of a command that draws a sheet and writes figures.
pub(super) fn sheet_outputs<'a>(out: Option<&'a Path>, json: Option<&'a Path>) -> Vec<Output<'a>> {
    let sheet = out.into_iter().map(|path| Output { option: "--out", path, ending: Some("png") });
    sheet.chain(figures_output(json)).collect()
}

/// Refuses, before any work, outputs that could not be written or that would replace each other.
pub(super) fn check_outputs(outputs: &[Output]) -> anyhow::Result<()> {
    for (at, output) in outputs.iter().enumerate() {
        output.check()?;
        if let Some(other) = outputs[..at].iter().find(|other| is_same(other.path, output.path)) {
            return Err(WrongWords(format!(
                "{} and {} both name {}; give each a name of its own",
                other.option,
                output.option,
                output.path.display()
            ))
            .into());
        }
    }
    Ok(())
}

/// Refuses outputs that would replace a file which the command reads.
pub(super) fn check_apart(outputs: &[Output], read: &[PathBuf]) -> Result<(), WrongWords> {
    match outputs.iter().find(|output| read.iter().any(|read| is_same(read, output.path))) {
        None => Ok(()),
        Some(Output { option, path, .. }) => Err(WrongWords(format!(
            "{option} {}: that file is read here and would be lost; choose another name",
            path.display()
        ))),
    }
}

impl Output<'_> {
    fn check(&self) -> anyhow::Result<()> {
        let Self { option, path, ending } = self;
        if is_standard_output(path) {
            return match ending {
                None => Ok(()),
                Some(ending) => {
                    let message =
                        format!("{option} -: only figures go to standard output; name a .{ending} file");
                    Err(WrongWords(message).into())
                }
            };
        }
        let found = path.extension().map(|found| found.to_string_lossy().to_lowercase());
        if let (Some(ending), Some(found)) = (ending, found)
            && found != *ending
        {
            return Err(WrongWords(format!(
                "{option} {}: this is written as .{ending}, not as .{found}; name it {}",
                path.display(),
                path.with_extension(ending).display()
            ))
            .into());
        }
        Ok(files::check(path)?)
    }
}

/// Whether figures go to standard output, where nothing else may stand then.
pub(super) fn is_standard_output(path: &Path) -> bool {
    path == Path::new(STANDARD_OUTPUT)
}

/// Whether two paths lead to one file; of files that are not there yet, whether they are named alike.
fn is_same(one: &Path, other: &Path) -> bool {
    match (fs::canonicalize(one), fs::canonicalize(other)) {
        (Ok(one), Ok(other)) => one == other,
        _ => one == other,
    }
}

/// Writes a picture as PNG, whole or not at all.
pub(super) fn write_picture(path: &Path, picture: &RgbaImage) -> anyhow::Result<()> {
    let _doing = doing(format!("writing {}", path.display()));
    let mut png = Cursor::new(Vec::new());
    picture
        .write_to(&mut png, ImageFormat::Png)
        .map_err(|error| anyhow::anyhow!("cannot write {} as PNG: {error}", path.display()))?;
    Ok(files::write(path, png.get_ref())?)
}

/// Writes figures as JSON to a file, or to standard output for `-`.
pub(super) fn write_json(path: &Path, figures: &impl Serialize) -> anyhow::Result<()> {
    let mut text = serde_json::to_string_pretty(figures)
        .map_err(|error| anyhow::anyhow!("cannot write the figures as JSON: {error}"))?;
    text.push('\n');
    if is_standard_output(path) { say(&text) } else { Ok(files::write(path, text.as_bytes())?) }
}

/// Writes to standard output; a reader that has gone away is no failure of ours.
pub(super) fn say(text: &str) -> anyhow::Result<()> {
    wipe();
    match stdout().write_all(text.as_bytes()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(anyhow::anyhow!("cannot write to standard output: {error}"))
        }
        _ => Ok(()),
    }
}

/// Writes a line to standard error. Where nobody can read it, the work goes on.
pub fn note(line: &str) {
    wipe();
    let _ = writeln!(stderr(), "{line}");
}

/// Reads a whole number of an option.
pub(super) fn whole<N>(text: &str, low: N, high: N) -> Result<N, String>
where
    N: FromStr + PartialOrd + Display,
{
    match text.parse::<N>() {
        Ok(number) if low <= number && number <= high => Ok(number),
        _ => Err(format!("a whole number from {low} to {high} is wanted")),
    }
}

/// A rendered picture, for the pictures' library.
pub(super) fn image_of(picture: &Picture) -> anyhow::Result<RgbaImage> {
    let Frame { width, height } = picture.frame;
    RgbaImage::from_raw(width, height, picture.rgba.clone())
        .ok_or_else(|| anyhow::anyhow!("the GPU gave back too few bytes for {width}x{height}"))
}
