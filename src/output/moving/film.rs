//! Films through ffmpeg: H.264 in MP4, MOV and MKV, VP9 in WebM; with alpha, ProRes 4444 in MOV, and VP9 with alpha
//! in WebM, both straight.

use std::ffi::OsString;
use std::io;
use std::path::Path;

use super::{MovingError, Outline, Still, Written};
use crate::base::ffmpeg::{FfmpegError, Leash, Running, Way, file_argument};
use crate::base::frame::Frame;
use crate::base::ycbcr::Matrix;
use crate::files::{Growing, Permit};

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

    /// How its frames are compressed, where they may be transparent and where not.
    fn codec(self, may_be_transparent: bool) -> Codec {
        match self {
            Self::Mov if may_be_transparent => Codec::ProRes4444,
            Self::Webm => Codec::Vp9 { alpha: may_be_transparent },
            Self::Mp4 | Self::Mov | Self::Mkv => Codec::H264,
        }
    }

    /// Whether films in it keep alpha.
    pub fn keeps_alpha(self) -> bool {
        matches!(self, Self::Mov | Self::Webm)
    }
}

/// How frames are compressed: hardly to be told from the originals (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Codec {
    H264,
    ProRes4444,
    Vp9 { alpha: bool },
}

impl Codec {
    fn keeps_alpha(self) -> bool {
        matches!(self, Self::ProRes4444 | Self::Vp9 { alpha: true })
    }

    fn words(self) -> &'static [&'static str] {
        match self {
            Self::H264 => &["-c:v", "libx264", "-preset", "medium", "-crf", "16"],
            Self::ProRes4444 => {
                &["-c:v", "prores_ks", "-profile:v", "4444", "-alpha_bits", "16", "-vendor", "apl0"]
            }
            Self::Vp9 { .. } => &["-c:v", "libvpx-vp9", "-crf", "24", "-b:v", "0", "-row-mt", "1"],
        }
    }

    /// Its samples. Of H.264, players at large read 4:2:0 alone (common practice, no source).
    fn samples(self) -> &'static str {
        match self {
            Self::H264 | Self::Vp9 { alpha: false } => "yuv420p",
            Self::Vp9 { alpha: true } => "yuva420p",
            Self::ProRes4444 => "yuva444p10le",
        }
    }

    /// The size on file: H.264 in 4:2:0 holds even sides only (ITU-T H.264, 7.4.2.1.1, in units of two).
    fn size(self, frame: Frame) -> Frame {
        let even = |side: u32| side.next_multiple_of(2);
        match self {
            Self::H264 => Frame { width: even(frame.width), height: even(frame.height) },
            Self::ProRes4444 | Self::Vp9 { .. } => frame,
        }
    }

    fn name(self) -> &'static str {
        match self {
            Self::H264 => "H.264",
            Self::ProRes4444 => "ProRes 4444",
            Self::Vp9 { .. } => "VP9",
        }
    }
}

/// A film on its way through ffmpeg.
pub struct Film {
    codec: Codec,
    size: Frame,
    growing: Growing,
    running: Running,
    /// Frames handed over.
    frames: u64,
}

impl Film {
    pub(super) fn begin(
        container: Container,
        path: &Path,
        outline: &Outline,
        permit: Permit,
    ) -> Result<Self, MovingError> {
        let growing = Growing::permitted(path, permit)?;
        let codec = container.codec(outline.may_be_transparent);
        let arguments = arguments(container, codec, growing.working_path(), outline);
        let running = Running::start("ffmpeg", arguments, Way::In, &Leash::default());
        let running = running.map_err(|e| through(path, e))?;
        Ok(Self { codec, size: codec.size(outline.frame), growing, running, frames: 0 })
    }

    pub(super) fn written(&self) -> Written {
        Written { frame: self.size, keeps_alpha: self.codec.keeps_alpha(), codec: Some(self.codec.name()) }
    }

    pub(super) fn put(&mut self, bytes: Vec<u8>) -> Result<(), MovingError> {
        self.running.write(bytes).map_err(|error| through(self.growing.path(), error))?;
        self.frames += 1;
        Ok(())
    }

    pub(super) fn finish(self) -> Result<(), MovingError> {
        let Self { growing, running, frames, .. } = self;
        let film = growing.working_path();
        running.finish_file(film).map_err(|error| through(growing.path(), error))?;
        // A program that could not write all of it may end as if it had.
        let arrived = frames_in(film).map_err(|error| through(growing.path(), error))?;
        if let Some(arrived) = arrived.filter(|&arrived| arrived != frames) {
            let why = format!("only {arrived} of {frames} frames arrived in it, as on a full disk");
            let path = growing.path().display().to_string();
            return Err(MovingError::Refused { path, source: io::Error::other(why) });
        }
        Ok(growing.finish()?)
    }
}

/// The picture as ffmpeg is given it.
pub(super) fn texels(picture: Still<'_>, is_opaque: bool, written: Written) -> Vec<u8> {
    if written.keeps_alpha {
        enlarged(picture.texels(), picture.frame, written.frame)
    } else {
        let over: Vec<[u8; 3]> =
            picture.over_black(is_opaque).iter().map(|&[red, green, blue, _]| [red, green, blue]).collect();
        enlarged(&over, picture.frame, written.frame)
    }
}

/// How many frames a film holds, by its packets; nothing where the machine has no program that counts them.
fn frames_in(film: &Path) -> Result<Option<u64>, FfmpegError> {
    const PIECE: usize = 1 << 16;
    let mut arguments: Vec<OsString> = [
        "-v",
        "error",
        "-protocol_whitelist",
        "file",
        "-select_streams",
        "v:0",
        "-show_entries",
        "packet=flags",
        "-of",
        "default=noprint_wrappers=1",
    ]
    .map(Into::into)
    .to_vec();
    arguments.push(file_argument(film));
    let mut running = match Running::start("ffprobe", arguments, Way::Out, &Leash::default()) {
        Err(FfmpegError::Missing { .. }) => return Ok(None),
        running => running?,
    };
    // One line a packet, while it is read, so that a long film is seen to be at work.
    let (mut lines, mut frames) = (Vec::new(), 0);
    loop {
        let piece = running.read(PIECE)?;
        lines.extend_from_slice(&piece);
        if let Some(end) = lines.iter().rposition(|&byte| byte == b'\n') {
            frames +=
                lines[..end].split(|&byte| byte == b'\n').filter(|line| line.starts_with(b"flags=")).count();
            lines.drain(..=end);
        }
        if piece.len() < PIECE {
            break;
        }
    }
    // Of a file that cannot be read to its end the frames before are told apart from those that are missing.
    let _ = running.finish();
    Ok(Some(frames as u64))
}

fn through(path: &Path, source: FfmpegError) -> MovingError {
    MovingError::Ffmpeg { path: path.display().to_string(), source }
}

/// The texels with the last of each row, and the last row, repeated until they have the size.
fn enlarged<const N: usize>(texels: &[[u8; N]], from: Frame, into: Frame) -> Vec<u8> {
    let [width, more_across] = [from.width, into.width - from.width].map(|texels| texels as usize);
    let mut bytes = Vec::with_capacity(into.texels() as usize * N);
    let mut add = |row: &[[u8; N]]| {
        bytes.extend(row.as_flattened());
        for _ in 0..more_across {
            bytes.extend(row.last().into_iter().flatten());
        }
    };
    let rows = || texels.chunks_exact(width);
    rows().for_each(&mut add);
    for _ in from.height..into.height {
        rows().next_back().into_iter().for_each(&mut add);
    }
    bytes
}

/// What ffmpeg is told: frames come in as plain RGB or RGBA, the file is named by its working name.
fn arguments(container: Container, codec: Codec, into: &Path, outline: &Outline) -> Vec<OsString> {
    let [frames, seconds] = outline.rate.fraction();
    let (size, rate) = (codec.size(outline.frame).to_string(), format!("{frames}/{seconds}"));
    let (matrix, primaries) = match Matrix::of_lines(outline.frame.height) {
        Matrix::Bt601 => ("smpte170m", "smpte170m"),
        Matrix::Bt709 => ("bt709", "bt709"),
    };
    let scale = format!(
        "scale=out_color_matrix={matrix}:out_range=tv:flags=bicubic+accurate_rnd+full_chroma_int+bitexact,format={}",
        codec.samples()
    );
    let texels = if codec.keeps_alpha() { "rgba" } else { "rgb24" };
    let mut arguments: Vec<OsString> = Vec::new();
    let mut push = |words: &[&str]| arguments.extend(words.iter().map(OsString::from));
    push(&["-nostdin", "-v", "error", "-y"]);
    push(&["-f", "rawvideo", "-pix_fmt", texels, "-video_size", &size, "-framerate", &rate, "-i", "pipe:0"]);
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
    push(codec.words());
    if matches!(container, Container::Mp4 | Container::Mov) {
        push(&["-movflags", "+faststart"]);
    }
    push(&["-f", container.muxer()]);
    arguments.push(file_argument(into));
    arguments
}
