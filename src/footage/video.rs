//! Films of other kinds, through ffmpeg: when each frame shows is asked of `ffprobe` once, frames come from
//! `ffmpeg` as plain RGBA.
//!
//! Both open the file itself and no other, and only as one of [`FORMATS`]: a playlist under a film's name would
//! play what it names. Alpha is taken as straight, as films mostly have it (common practice, no source).

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use image::RgbaImage;
use serde::Deserialize;

use super::error::FootageError;
use super::picture_file::{check_size, no_frame};
use super::source::FrameSource;
use super::timing::Timing;
use crate::base::ffmpeg::{FfmpegError, Leash, Running, Way, file_argument};
use crate::base::ycbcr::Matrix;

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

/// The formats that a film may have, by ffmpeg's names: each holds its pictures itself.
const FORMATS: &str =
    "asf,asf_o,avi,dv,flv,gxf,h264,hevc,ivf,m4v,matroska,mjpeg,mov,mpeg,mpegts,mpegvideo,mxf,nut,obu,ogg";

/// Formats that play other files or what comes over a network, by ffmpeg's names, and what they are called.
const LISTS: [(&str, &str); 6] = [
    ("hls", "a playlist (HLS)"),
    ("concat", "a list of films (ffconcat)"),
    ("dash", "a manifest (MPEG-DASH)"),
    ("webm_dash_manifest", "a manifest (MPEG-DASH)"),
    ("imf", "a list of films (IMF)"),
    ("sdp", "a description of a stream (SDP)"),
];

/// Pictures that open as films do.
const PICTURE_BRANDS: [&[u8]; 4] = [b"avif", b"heic", b"heix", b"mif1"];

/// Frames further ahead than this are gone to, not run to.
const FAR: u64 = 96;

/// A film, as ffprobe knows it.
pub(super) struct Video {
    path: PathBuf,
    leash: Leash,
    size: [u32; 2],
    /// For each frame a time, in seconds from the start of the file, at which it is the next to come; empty
    /// where the film's index is not to be relied on.
    entries_secs: Vec<f64>,
    filter: Option<String>,
    /// The decoder, where it is not ffmpeg's own choice.
    decoder: Option<&'static str>,
    is_quicktime: bool,
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
    #[serde(default)]
    codec_name: String,
    width: u32,
    height: u32,
    color_space: Option<String>,
    #[serde(default)]
    pix_fmt: String,
    time_base: String,
    avg_frame_rate: String,
    #[serde(default)]
    side_data_list: Vec<SideData>,
    #[serde(default)]
    tags: BTreeMap<String, String>,
}

impl Stream {
    /// Whether alpha lies beside the picture, as VP8 and VP9 have it (WebM Container Guidelines, "Alpha").
    fn has_alpha_beside(&self) -> bool {
        self.tags.iter().any(|(name, value)| name.eq_ignore_ascii_case("alpha_mode") && value != "0")
    }

    /// Whether its frames may be transparent; ffmpeg's names of kinds of samples say so.
    fn carries_alpha(&self) -> bool {
        const WITH_ALPHA: [&str; 12] =
            ["yuva", "rgba", "bgra", "argb", "abgr", "gbrap", "ya8", "ya16", "pal8", "vuya", "ayuv", "yaf"];
        self.has_alpha_beside() || WITH_ALPHA.iter().any(|kind| self.pix_fmt.starts_with(kind))
    }

    /// The decoder that reads alpha beside the picture: ffmpeg's own leave it out.
    fn decoder(&self) -> Option<&'static str> {
        match self.codec_name.as_str() {
            "vp8" if self.has_alpha_beside() => Some("libvpx"),
            "vp9" if self.has_alpha_beside() => Some("libvpx-vp9"),
            _ => None,
        }
    }
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
    pub fn open(path: &Path, leash: &Leash) -> Result<(Self, Timing), FootageError> {
        let damaged = |why: &str| FootageError::Damaged { path: path.to_owned(), why: why.to_owned() };
        let probe = Probe::of(path, Packets::All, leash)?;
        let stream = probe.stream(path)?;
        let decoder = decoder(path, stream, leash)?;
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
        let is_quicktime = probe.format.format_name.split(',').any(|name| name == "mov");
        let (path, leash) = (path.to_owned(), leash.clone());
        let filter = filter(stream, size[1]);
        Ok((Self { path, leash, size, entries_secs, filter, decoder, is_quicktime }, timing))
    }

    /// Checks that the film can be opened: what its header says, and that a frame comes.
    pub fn check(path: &Path) -> Result<(), FootageError> {
        let leash = Leash::default();
        let probe = Probe::of(path, Packets::First, &leash)?;
        let stream = probe.stream(path)?;
        check_size(path, stream.width, stream.height)?;
        if probe.packets.is_empty() {
            return Err(no_frame(path));
        }
        decoder(path, stream, &leash).map(drop)
    }

    /// Whether its frames may be transparent.
    pub fn carries_alpha(path: &Path) -> Result<bool, FootageError> {
        let probe = Probe::of(path, Packets::First, &Leash::default())?;
        Ok(probe.stream(path)?.carries_alpha())
    }

    pub fn far(&self) -> u64 {
        if self.entries_secs.is_empty() { u64::MAX } else { FAR }
    }

    /// Frames from `number` where the film's index is good, else from the first.
    pub fn frames_from(&self, number: u64) -> Result<(u64, Box<dyn FrameSource>), FootageError> {
        let entry = self.entries_secs.get(number as usize).filter(|_| number > 0).copied();
        let mut arguments: Vec<OsString> = ["-nostdin", "-v", "error"].map(Into::into).to_vec();
        if let Some(entry) = entry {
            arguments.extend(["-ss".into(), format!("{:.9}", entry.max(0.0)).into()]);
        }
        if let Some(decoder) = self.decoder {
            arguments.extend(["-c:v", decoder].map(Into::into));
        }
        if self.is_quicktime {
            // QuickTime may keep its samples in other files.
            arguments.extend(["-enable_drefs", "0", "-use_absolute_path", "0"].map(Into::into));
        }
        arguments.extend(ONLY_ITSELF.map(Into::into));
        arguments.extend(["-i".into(), file_argument(&self.path)]);
        arguments.extend(["-map", "0:V:0", "-fps_mode", "passthrough"].map(Into::into));
        if let Some(filter) = &self.filter {
            arguments.extend(["-vf".into(), filter.into()]);
        }
        arguments.extend(["-f", "rawvideo", "-pix_fmt", "rgba", "pipe:1"].map(Into::into));
        let running = Running::start("ffmpeg", arguments, Way::Out, &self.leash);
        let running = running.map_err(|e| through(&self.path, e))?;
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

/// Which packets of a film are asked for.
#[derive(Clone, Copy, PartialEq)]
enum Packets {
    All,
    First,
}

/// The file is read as a file, as one of the formats of films, and nothing else is opened.
const ONLY_ITSELF: [&str; 4] = ["-protocol_whitelist", "file", "-format_whitelist", FORMATS];

impl Probe {
    /// What ffprobe says of a film.
    fn of(path: &Path, packets: Packets, leash: &Leash) -> Result<Self, FootageError> {
        let entries = "format=format_name,start_time\
             :stream=codec_name,width,height,pix_fmt,color_space,time_base,avg_frame_rate:stream_tags=alpha_mode\
             :stream_side_data=rotation:packet=pts,duration,flags";
        let mut arguments: Vec<OsString> = ["-v", "error"].map(Into::into).to_vec();
        if packets == Packets::First {
            arguments.extend(["-read_intervals", "%+#1"].map(Into::into));
        }
        arguments.extend(["-select_streams", "V:0", "-show_entries", entries, "-of", "json"].map(Into::into));
        let said = probed(path, arguments, leash).and_then(Running::read_to_end);
        let said = said.map_err(|error| match error {
            FfmpegError::Failed { .. } => is_other(path, leash).unwrap_or_else(|| through(path, error)),
            error => through(path, error),
        })?;
        serde_json::from_slice(&said).map_err(|_| {
            let why = "it holds no film that ffprobe can read".to_owned();
            FootageError::Damaged { path: path.to_owned(), why }
        })
    }

    fn stream(&self, path: &Path) -> Result<&Stream, FootageError> {
        self.streams.first().ok_or_else(|| FootageError::Damaged {
            path: path.to_owned(),
            why: "it holds no film".to_owned(),
        })
    }
}

fn probed(path: &Path, mut arguments: Vec<OsString>, leash: &Leash) -> Result<Running, FfmpegError> {
    arguments.extend(ONLY_ITSELF.map(Into::into));
    arguments.extend(["-i".into(), file_argument(path)]);
    Running::start("ffprobe", arguments, Way::Out, leash)
}

/// What a file is that ffprobe does not read as a film: the format that it found before it refused it.
fn is_other(path: &Path, leash: &Leash) -> Option<FootageError> {
    let running = probed(path, ["-v", "debug"].map(Into::into).to_vec(), leash).ok()?;
    let words = running.words().ok()?;
    let named = words.lines().find_map(|line| {
        let (name, _) = line.split_once("Format ")?.1.split_once(" probed with ")?;
        name.split(',').next()
    })?;
    if FORMATS.split(',').any(|format| format == named) {
        return None;
    }
    let path = path.to_owned();
    Some(match LISTS.iter().find(|(name, _)| *name == named) {
        Some((_, found)) => FootageError::NamesOthers { path, found },
        None => FootageError::NotAPicture { path, found: format!("a file of another kind ({named})") },
    })
}

/// The decoder that a film needs, where it is not ffmpeg's own choice.
fn decoder(path: &Path, stream: &Stream, leash: &Leash) -> Result<Option<&'static str>, FootageError> {
    let Some(decoder) = stream.decoder() else { return Ok(None) };
    let asked = ["-v", "error", "-h", &format!("decoder={decoder}")].map(OsString::from);
    let known = Running::start("ffmpeg", asked, Way::Out, leash).and_then(Running::read_to_end);
    // "Decoder libvpx-vp9 [...]:", or nothing.
    if String::from_utf8_lossy(&known.map_err(|e| through(path, e))?).contains(decoder) {
        return Ok(Some(decoder));
    }
    Err(FootageError::AlphaNotRead { path: path.to_owned(), decoder })
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

impl FrameSource for Frames {
    fn next(&mut self) -> Result<Option<RgbaImage>, FootageError> {
        let Some(running) = &mut self.running else { return Ok(None) };
        let [width, height] = self.size;
        let bytes = width as usize * height as usize * 4;
        let read = running.read(bytes);
        let texels = read.map_err(|e| through(&self.path, e))?;
        if texels.len() == bytes {
            return Ok(RgbaImage::from_raw(width, height, texels));
        }
        let ended = self.running.take().map_or(Ok(()), Running::finish);
        ended.map_err(|e| through(&self.path, e))?;
        if texels.is_empty() {
            return Ok(None);
        }
        Err(FootageError::Damaged { path: self.path.clone(), why: "its frames change their size".to_owned() })
    }
}
