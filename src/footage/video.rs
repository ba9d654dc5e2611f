//! Films of other kinds, through ffmpeg: when each frame shows is asked of `ffprobe` once, frames come from
//! `ffmpeg` as plain RGBA.

use std::ffi::OsString;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};

use image::RgbaImage;
use serde::Deserialize;

use super::error::FootageError;
use super::picture_file::check_size;
use super::reel::Source;
use super::timing::Timing;
use crate::ffmpeg::{FfmpegError, Running, file_argument};
use crate::ycbcr::Matrix;

/// Endings that films have.
pub const FILM_ENDINGS: [&str; 32] = [
    "264", "265", "3gp", "asf", "avi", "dv", "flv", "gxf", "h264", "hevc", "ivf", "m1v", "m2ts", "m2v",
    "m4v", "mkv", "mjpeg", "mov", "mp4", "mpeg", "mpg", "mts", "mxf", "nut", "obu", "ogg", "ogv", "qt", "ts",
    "vob", "webm", "wmv",
];

/// What films open with: the place of the mark, and the mark.
const MARKS: [(usize, &[u8]); 8] = [
    (4, b"ftyp"),
    (4, b"moov"),
    (0, &[0x1a, 0x45, 0xdf, 0xa3]), // Matroska and WebM
    (8, b"AVI "),
    (0, b"FLV\x01"),
    (0, &[0x30, 0x26, 0xb2, 0x75]), // ASF
    (0, &[0, 0, 1, 0xba]),          // MPEG programme stream
    (0, b"OggS"),
];

/// Pictures that open as films do.
const PICTURE_BRANDS: [&[u8]; 4] = [b"avif", b"heic", b"heix", b"mif1"];

/// Frames further ahead than this are gone to, not run to.
const FAR: u64 = 96;

/// A film, as ffprobe knows it.
pub(super) struct Video {
    path: PathBuf,
    size: [u32; 2],
    /// For each frame a time, in seconds from the start of the file, at which it is the next to come; empty
    /// where the film's index is not to be relied on.
    entries_secs: Vec<f64>,
    filter: Option<String>,
}

#[derive(Deserialize)]
struct Probe {
    #[serde(default)]
    streams: Vec<Stream>,
    #[serde(default)]
    packets: Vec<Packet>,
    format: Format,
}

#[derive(Deserialize)]
struct Format {
    #[serde(default)]
    format_name: String,
    start_time: Option<String>,
}

#[derive(Deserialize)]
struct Stream {
    width: u32,
    height: u32,
    color_space: Option<String>,
    #[serde(default)]
    pix_fmt: String,
    time_base: String,
    avg_frame_rate: String,
    #[serde(default)]
    side_data_list: Vec<SideData>,
}

#[derive(Deserialize)]
struct SideData {
    rotation: Option<f64>,
}

#[derive(Deserialize)]
struct Packet {
    pts: Option<i64>,
    duration: Option<i64>,
    #[serde(default)]
    flags: String,
}

impl Video {
    /// Whether the file looks like a film, by its content or by its ending.
    pub fn is_named_by(path: &Path) -> bool {
        if !path.is_file() {
            return false;
        }
        let mut start = Vec::new();
        if File::open(path).and_then(|file| file.take(12).read_to_end(&mut start)).is_err() {
            return false;
        }
        if start.get(8..12).is_some_and(|brand| PICTURE_BRANDS.contains(&brand)) {
            return false;
        }
        let marked =
            MARKS.iter().any(|(at, mark)| start.get(*at..).is_some_and(|rest| rest.starts_with(mark)));
        let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
        // A picture under a film's name is a picture.
        marked || (FILM_ENDINGS.contains(&ending.as_str()) && image::guess_format(&start).is_err())
    }

    /// Asks for the film's size and for the time of every frame.
    pub fn open(path: &Path) -> Result<(Self, Timing), FootageError> {
        let damaged = |why: &str| FootageError::Damaged { path: path.to_owned(), why: why.to_owned() };
        let probe: Probe = serde_json::from_slice(&probed(path).map_err(|e| through(path, e))?)
            .map_err(|_| damaged("it holds no film that ffprobe can read"))?;
        let stream = probe.streams.first().ok_or_else(|| damaged("it holds no film"))?;
        let turned = stream
            .side_data_list
            .iter()
            .filter_map(|data| data.rotation)
            .any(|angle| (angle.rem_euclid(180.0) - 90.0).abs() < 45.0);
        let size = if turned { [stream.height, stream.width] } else { [stream.width, stream.height] };
        check_size(path, size[0], size[1])?;

        let shown = || probe.packets.iter().filter(|packet| !packet.flags.contains('D'));
        let pts: Option<Vec<(i64, i64)>> =
            shown().map(|packet| Some((packet.pts?, packet.duration.unwrap_or(0)))).collect();
        let tick = ratio(&stream.time_base).ok_or_else(|| damaged("it has no time base"))?;
        let rate = ratio(&stream.avg_frame_rate).filter(|&rate| rate > 0.0);
        let mut entries_secs = Vec::new();
        let timing = match pts {
            Some(mut pts) if pts.len() > 1 => {
                pts.sort_unstable();
                let is_indexed =
                    ["mp4", "matroska"].iter().any(|kind| probe.format.format_name.contains(kind));
                let start = probe.format.start_time.as_deref().and_then(|secs| secs.parse::<f64>().ok());
                if let Some(start) = start.filter(|_| is_indexed) {
                    // Half way from the frame before: no rounding leads past the frame wanted.
                    let half_way = |two: &[(i64, i64)]| (two[0].0 + two[1].0) as f64 / 2.0 * tick - start;
                    entries_secs = [0.0].into_iter().chain(pts.windows(2).map(half_way)).collect();
                }
                Timing::Ends(ends_secs(&pts, tick, rate))
            }
            // Some films say how many frames they have, and of no frame when it comes.
            _ => match (shown().count() as u64, rate) {
                (0, _) => return Err(damaged("it has no frame")),
                (1, _) => Timing::Still,
                (count, Some(rate)) => Timing::steady(rate, count),
                (_, None) => return Err(damaged("it gives neither times nor a frame rate")),
            },
        };
        Ok((Self { path: path.to_owned(), size, entries_secs, filter: filter(stream, size[1]) }, timing))
    }

    pub fn far(&self) -> u64 {
        if self.entries_secs.is_empty() { u64::MAX } else { FAR }
    }

    /// Frames from `number` where the film's index is good, else from the first.
    pub fn frames_from(&self, number: u64) -> Result<(u64, Box<dyn Source>), FootageError> {
        let entry = self.entries_secs.get(number as usize).filter(|_| number > 0).copied();
        let mut arguments: Vec<OsString> = ["-nostdin", "-v", "error"].map(Into::into).to_vec();
        if let Some(entry) = entry {
            arguments.extend(["-ss".into(), format!("{:.9}", entry.max(0.0)).into()]);
        }
        arguments.extend(["-protocol_whitelist", "file,pipe", "-i"].map(Into::into));
        arguments.push(file_argument(&self.path));
        arguments.extend(["-map", "0:V:0", "-fps_mode", "passthrough"].map(Into::into));
        if let Some(filter) = &self.filter {
            arguments.extend(["-vf".into(), filter.into()]);
        }
        arguments.extend(["-f", "rawvideo", "-pix_fmt", "rgba", "pipe:1"].map(Into::into));
        let running = Running::start("ffmpeg", arguments, false, true).map_err(|e| through(&self.path, e))?;
        let frames = Frames { path: self.path.clone(), size: self.size, running: Some(running) };
        Ok((if entry.is_some() { number } else { 0 }, Box::new(frames)))
    }
}

/// A film that names no matrix gets the one that its lines call for; ffmpeg would take BT.601 for all.
fn filter(stream: &Stream, lines: u32) -> Option<String> {
    let unnamed = stream.color_space.as_deref().is_none_or(|space| matches!(space, "unknown" | "reserved"));
    let has_differences = stream.pix_fmt.starts_with("yuv") || stream.pix_fmt.starts_with("nv");
    let scaled = "scale=flags=bilinear+accurate_rnd+full_chroma_int+bitexact";
    (unnamed && has_differences && Matrix::of_lines(lines) == Matrix::Bt709)
        .then(|| format!("{scaled}:in_color_matrix=bt709"))
        .or_else(|| has_differences.then(|| scaled.to_owned()))
}

/// The end of each frame: where the next begins; the last lasts as long as its packet says, or as its like.
fn ends_secs(pts: &[(i64, i64)], tick: f64, rate: Option<f64>) -> Vec<f64> {
    let Some((&(first, _), &(last, duration))) = pts.first().zip(pts.last()) else { return Vec::new() };
    let secs = |pts: i64| (pts - first) as f64 * tick;
    let mut ends: Vec<f64> = pts.windows(2).map(|two| secs(two[1].0)).collect();
    let lasts = if duration > 0 {
        duration as f64 * tick
    } else {
        rate.map_or(secs(last) / ends.len().max(1) as f64, |rate| 1.0 / rate)
    };
    ends.push(secs(last) + lasts);
    ends
}

/// What ffprobe says of the film, as JSON.
fn probed(path: &Path) -> Result<Vec<u8>, FfmpegError> {
    let entries = "format=format_name,start_time:stream=width,height,pix_fmt,color_space,time_base,avg_frame_rate\
                   :stream_side_data=rotation:packet=pts,duration,flags";
    let mut arguments: Vec<OsString> = [
        "-v",
        "error",
        "-protocol_whitelist",
        "file,pipe",
        "-select_streams",
        "V:0",
        "-show_entries",
        entries,
    ]
    .map(Into::into)
    .to_vec();
    arguments.extend(["-of", "json", "-i"].map(Into::into));
    arguments.push(file_argument(path));
    let mut running = Running::start("ffprobe", arguments, false, true)?;
    let mut said = Vec::new();
    if let Some(output) = &mut running.child().stdout {
        // What breaks off here shows in how the program ends.
        let _ = output.read_to_end(&mut said);
    }
    running.finish()?;
    Ok(said)
}

fn through(path: &Path, error: FfmpegError) -> FootageError {
    FootageError::ThroughFfmpeg { path: path.to_owned(), source: error }
}

/// "30000/1001".
fn ratio(written: &str) -> Option<f64> {
    let (over, under) = written.split_once('/')?;
    let (over, under): (f64, f64) = (over.parse().ok()?, under.parse().ok()?);
    (under > 0.0).then(|| over / under)
}

struct Frames {
    path: PathBuf,
    size: [u32; 2],
    /// Gone once it has ended.
    running: Option<Running>,
}

impl Source for Frames {
    fn next(&mut self) -> Result<Option<RgbaImage>, FootageError> {
        let Some(running) = &mut self.running else { return Ok(None) };
        let Some(output) = &mut running.child().stdout else { return Ok(None) };
        let [width, height] = self.size;
        let bytes = width as usize * height as usize * 4;
        let mut texels = Vec::with_capacity(bytes);
        let read = output.take(bytes as u64).read_to_end(&mut texels);
        if texels.len() == bytes {
            return Ok(RgbaImage::from_raw(width, height, texels));
        }
        let ended = self.running.take().map_or(Ok(()), Running::finish);
        ended.map_err(|e| through(&self.path, e))?;
        match read {
            Err(error) if error.kind() != ErrorKind::UnexpectedEof => {
                Err(FootageError::unreadable(&self.path, error))
            }
            _ if texels.is_empty() => Ok(None),
            _ => Err(FootageError::Damaged {
                path: self.path.clone(),
                why: "its frames change their size".to_owned(),
            }),
        }
    }
}
