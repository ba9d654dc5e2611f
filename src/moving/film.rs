//! Films through ffmpeg: H.264 in MP4, MOV and MKV, VP9 in WebM.

use std::ffi::OsString;
use std::io::Write;
use std::path::Path;

use super::{MovingError, Outline, over_black};
use crate::ffmpeg::{FfmpegError, Running, file_argument};
use crate::files::Growing;
use crate::footage::Picture;
use crate::ycbcr::Matrix;

/// The kind of file that a film is in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Container {
    /// `.mp4`
    Mp4,
    /// `.mov`
    Mov,
    /// `.mkv`
    Mkv,
    /// `.webm`
    Webm,
}

impl Container {
    /// The kind with this ending.
    pub fn of_ending(ending: &str) -> Option<Self> {
        Some(match ending {
            "mp4" => Self::Mp4,
            "mov" => Self::Mov,
            "mkv" => Self::Mkv,
            "webm" => Self::Webm,
            _ => return None,
        })
    }

    /// ffmpeg's name for it.
    fn muxer(self) -> &'static str {
        match self {
            Self::Mp4 => "mp4",
            Self::Mov => "mov",
            Self::Mkv => "matroska",
            Self::Webm => "webm",
        }
    }

    /// How it is compressed: hardly to be told from the original (common practice, no source).
    fn compression(self) -> &'static [&'static str] {
        match self {
            Self::Mp4 | Self::Mov => {
                &["-c:v", "libx264", "-preset", "medium", "-crf", "16", "-movflags", "+faststart"]
            }
            Self::Mkv => &["-c:v", "libx264", "-preset", "medium", "-crf", "16"],
            Self::Webm => &["-c:v", "libvpx-vp9", "-crf", "24", "-b:v", "0", "-row-mt", "1"],
        }
    }
}

/// A film on its way through ffmpeg.
pub struct Film {
    growing: Growing,
    /// Gone once it has ended.
    running: Option<Running>,
}

impl Film {
    pub(super) fn begin(container: Container, path: &Path, outline: &Outline) -> Result<Self, MovingError> {
        let growing = Growing::create(path)?;
        let arguments = arguments(container, growing.working_path(), outline);
        let running = Running::start("ffmpeg", arguments, true, false).map_err(|e| through(path, e))?;
        Ok(Self { growing, running: Some(running) })
    }

    pub(super) fn add(&mut self, picture: &Picture) -> Result<(), MovingError> {
        let bytes: Vec<u8> = over_black(picture).into_flattened();
        let input = self.running.as_mut().and_then(|running| running.child().stdin.as_mut());
        match input.map(|input| input.write_all(&bytes)) {
            Some(Ok(())) => Ok(()),
            // It has gone away, and says why.
            _ => {
                self.end()?;
                let why = "it ended before the last frame".to_owned();
                Err(through(self.growing.path(), FfmpegError::Failed { program: "ffmpeg", why }))
            }
        }
    }

    pub(super) fn finish(mut self) -> Result<(), MovingError> {
        self.end()?;
        Ok(self.growing.finish()?)
    }

    fn end(&mut self) -> Result<(), MovingError> {
        let Some(mut running) = self.running.take() else { return Ok(()) };
        // The end of its input is the end of the film.
        drop(running.child().stdin.take());
        running.finish().map_err(|error| through(self.growing.path(), error))
    }
}

fn through(path: &Path, source: FfmpegError) -> MovingError {
    MovingError::Ffmpeg { path: path.display().to_string(), source }
}

/// What ffmpeg is told: frames come in as plain RGB, the file is named by its working name.
fn arguments(container: Container, into: &Path, outline: &Outline) -> Vec<OsString> {
    let [frames, seconds] = outline.rate.fraction();
    let (size, rate) = (outline.frame.to_string(), format!("{frames}/{seconds}"));
    let (matrix, primaries) = match Matrix::of_lines(outline.frame.height) {
        Matrix::Bt601 => ("smpte170m", "smpte170m"),
        Matrix::Bt709 => ("bt709", "bt709"),
    };
    // Colour differences for two texels each way need even sides; other sizes keep all of them.
    let is_even = outline.frame.width.is_multiple_of(2) && outline.frame.height.is_multiple_of(2);
    let samples = if is_even { "yuv420p" } else { "yuv444p" };
    let scale = format!(
        "scale=out_color_matrix={matrix}:out_range=tv:flags=bicubic+accurate_rnd+full_chroma_int+bitexact,format={samples}"
    );
    let mut arguments: Vec<OsString> = Vec::new();
    let mut push = |words: &[&str]| arguments.extend(words.iter().map(OsString::from));
    push(&["-nostdin", "-v", "error", "-y"]);
    push(&["-f", "rawvideo", "-pix_fmt", "rgb24", "-video_size", &size, "-framerate", &rate, "-i", "pipe:0"]);
    push(&["-vf", &scale, "-r", &rate]);
    push(&[
        "-colorspace",
        matrix,
        "-color_primaries",
        primaries,
        "-color_trc",
        "iec61966-2-1",
        "-color_range",
        "tv",
    ]);
    push(container.compression());
    push(&["-f", container.muxer()]);
    arguments.push(file_argument(into));
    arguments
}
