//! Saying and writing what a command made.

use std::fmt::Display;
use std::io::{Cursor, ErrorKind, Write as _, stdout};
use std::path::Path;
use std::str::FromStr;

use clap::Args;
use image::{ImageFormat, RgbaImage};
use serde::Serialize;

use super::WrongWords;
use super::progress::wipe;
use crate::base::doing::doing;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::base::shown::shown;
use crate::files;
use crate::files::{FileKind, NotReplaced, Permit, WriteError};

/// Standard output, as a path.
const STANDARD_OUTPUT: &str = "-";
/// Standard output as the file that a shell may have been told to write on.
const STANDARD_OUTPUT_FILE: &str = "/dev/stdout";

/// The option that lets an output take the place of what is kept.
#[derive(Debug, Clone, Copy, Default, Args)]
pub(super) struct Replace {
    /// Write over a file that Underover did not make, or that is a chain, show, starter, lesson or effect; never over one that is read
    #[arg(long = "replace")]
    pub(super) replaces: bool,
}

/// A file that a command is told to write.
#[derive(Debug, Clone)]
pub(super) struct Output<'a> {
    /// The option that names it.
    option: &'static str,
    path: &'a Path,
    /// The endings that its name may have, if it must have one of them; figures may have any.
    ending: Option<&'static str>,
    permit: Permit,
}

/// The output of a command that writes figures alone.
pub(super) fn figures_output(json: Option<&Path>, replace: Replace) -> Vec<Output<'_>> {
    json.into_iter().map(|path| Output::figures(path, replace)).collect()
}

/// The outputs of a command that draws a sheet and writes figures.
pub(super) fn sheet_outputs<'a>(
    out: Option<&'a Path>,
    json: Option<&'a Path>,
    replace: Replace,
) -> Vec<Output<'a>> {
    let sheet = out.into_iter().map(|path| Output::made("--out", path, "png", replace));
    sheet.chain(figures_output(json, replace)).collect()
}

/// Refuses, before any work, outputs that could not be written, or that would replace each other or a file that is
/// read by now.
pub(super) fn check_places(outputs: &[Output]) -> anyhow::Result<()> {
    check_each(outputs, Permit::check_read)
}

/// The same once all is read that will be, and what would replace a file that stays: that is known only now, for of one
/// that is read nobody is told to add an option.
pub(super) fn check_outputs(outputs: &[Output]) -> anyhow::Result<()> {
    check_each(outputs, Permit::check)
}

type Check = fn(&Permit, &Path) -> Result<(), NotReplaced>;

fn check_each(outputs: &[Output], check: Check) -> anyhow::Result<()> {
    for (at, output) in outputs.iter().enumerate() {
        output.check(check)?;
        if let Some(other) = outputs[..at].iter().find(|other| files::is_same(other.path, output.path)) {
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

impl<'a> Output<'a> {
    /// Figures, as JSON; `-` is standard output.
    pub(super) fn figures(path: &'a Path, replace: Replace) -> Self {
        let permit = Permit::new(FileKind::Again, replace.replaces);
        Self { option: "--json", path, ending: None, permit }
    }

    /// What is made anew whenever it is asked for, and is named with this ending.
    pub(super) fn made(option: &'static str, path: &'a Path, ending: &'static str, replace: Replace) -> Self {
        let permit = Permit::new(FileKind::Again, replace.replaces);
        Self { option, path, ending: Some(ending), permit }
    }

    /// A chain or show file.
    pub(super) fn document(option: &'static str, path: &'a Path, replace: Replace) -> Self {
        let permit = Permit::new(FileKind::Document, replace.replaces);
        Self { option, path, ending: Some("toml"), permit }
    }

    /// The same, where it may be the document that is edited.
    pub(super) fn editing(self, file: &Path) -> Self {
        Self { permit: self.permit.editing(file), ..self }
    }

    /// A moving picture, of which the form has seen to the name.
    pub(super) fn moving(path: &'a Path, replace: Replace) -> Self {
        Self { option: "--out", path, ending: None, permit: Permit::new(FileKind::Again, replace.replaces) }
    }

    pub(super) fn path(&self) -> &'a Path {
        self.path
    }

    pub(super) fn is_standard_output(&self) -> bool {
        is_standard_output(self.path)
    }

    /// What it may replace.
    pub(super) fn permit(&self) -> Permit {
        self.permit.clone()
    }

    fn check(&self, check: Check) -> anyhow::Result<()> {
        let Self { option, path, ending, .. } = self;
        if is_standard_output(path) {
            return match ending {
                None => self.permitted(Permit::check_read, Path::new(STANDARD_OUTPUT_FILE)),
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
        files::check(path)?;
        self.permitted(check, path)
    }

    fn permitted(&self, check: Check, path: &Path) -> anyhow::Result<()> {
        let refused = |why| WrongWords(format!("{} {}: {why}", self.option, self.path.display()));
        Ok(check(&self.permit, path).map_err(refused)?)
    }

    /// The error as the command line is at fault for it, if it is.
    pub(super) fn worded(&self, error: WriteError) -> anyhow::Error {
        match error {
            WriteError::NotReplaced { path, why } => {
                WrongWords(format!("{} {path}: {why}", self.option)).into()
            }
            error => error.into(),
        }
    }

    /// Writes it whole or not at all, where nothing has come to stand there that stays.
    pub(super) fn write(&self, bytes: &[u8]) -> anyhow::Result<()> {
        files::write_permitted(self.path, bytes, self.permit()).map_err(|error| self.worded(error))
    }

    /// Writes a picture as PNG.
    pub(super) fn write_picture(&self, picture: &RgbaImage) -> anyhow::Result<()> {
        let _doing = doing(format!("writing {}", self.path.display()));
        let mut png = Cursor::new(Vec::new());
        picture
            .write_to(&mut png, ImageFormat::Png)
            .map_err(|error| anyhow::anyhow!("cannot write {} as PNG: {error}", self.path.display()))?;
        self.write(png.get_ref())
    }

    /// Writes figures as JSON to the file, or to standard output for `-`.
    pub(super) fn write_json(&self, figures: &impl Serialize) -> anyhow::Result<()> {
        let mut text = serde_json::to_string_pretty(figures)
            .map_err(|error| anyhow::anyhow!("cannot write the figures as JSON: {error}"))?;
        text.push('\n');
        if is_standard_output(self.path) { say_as_it_is(&text) } else { self.write(text.as_bytes()) }
    }
}

/// Whether figures go to standard output, where nothing else may stand then.
pub(super) fn is_standard_output(path: &Path) -> bool {
    path == Path::new(STANDARD_OUTPUT)
}

/// Says words on standard output; what in names would steer them is written out.
pub(super) fn say(text: &str) -> anyhow::Result<()> {
    say_as_it_is(&shown(text))
}

/// Writes what another program reads to standard output; a reader that has gone away is no failure of ours.
pub(super) fn say_as_it_is(text: &str) -> anyhow::Result<()> {
    wipe();
    match stdout().write_all(text.as_bytes()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(anyhow::anyhow!("cannot write to standard output: {error}"))
        }
        _ => Ok(()),
    }
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
