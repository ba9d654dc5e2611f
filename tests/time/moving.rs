//! Moving footage and moving output: which frame shows when, films read and written, renders broken off and
//! taken up again. Films are written byte by byte from the format's description, by the `y4m` crate, or by
//! ffmpeg; a test that needs ffmpeg says on standard error where it is missing.

use crate::shared::{CATALOGUE, PROGRAM};
use std::collections::{BTreeMap, VecDeque};
use std::fs::{self, File};
use std::io::{BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use image::codecs::gif::{GifEncoder, Repeat};
use image::codecs::png::PngDecoder;
use image::{AnimationDecoder as _, Delay, Frame as GifFrame, Rgba, RgbaImage};
use tempfile::TempDir;
use underover::base::ffmpeg::GIVES_WITHIN;
use underover::base::frame::{Frame, PixelMode};
use underover::base::ycbcr::{Matrix, Range, from_rgb, rgb};
use underover::beat::Moment;
use underover::footage::{Shelf, Shown};
use underover::gpu::{Gpu, Player, Renderer, Underway};
use underover::output::moving::{Form, Line, Outline, Writer};
use underover::plan;
use underover::show::clip::{AtEnd, Fit, FootageName, Pace, Play};

fn folder() -> TempDir {
    tempfile::tempdir().unwrap()
}

fn has_ffmpeg() -> bool {
    let found = ["ffmpeg", "ffprobe"].iter().all(|program| {
        Command::new(program).arg("-version").stdout(Stdio::null()).stderr(Stdio::null()).status().is_ok()
    });
    if !found {
        eprintln!("ffmpeg is missing here: what goes through it is not tested");
    }
    found
}

fn ffmpeg(arguments: &[&str]) -> Vec<u8> {
    let done =
        Command::new("ffmpeg").args(["-nostdin", "-v", "error", "-y"]).args(arguments).output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    done.stdout
}

/// A film of grey frames, 4x4, each of which holds its number in its first two texels.
fn counted(header: &str, count: u32) -> Vec<u8> {
    let mut film = format!("YUV4MPEG2 W4 H4 {header} Cmono XCOLORRANGE=FULL\n").into_bytes();
    for number in 0..count {
        film.extend(b"FRAME\n");
        let [low, high, ..] = number.to_le_bytes();
        film.extend([low, high]);
        film.extend([0; 14]);
    }
    film
}

fn counted_film(folder: &TempDir, rate: &str, count: u32) -> PathBuf {
    let path = folder.path().join("counted.y4m");
    fs::write(&path, counted(&format!("F{rate}"), count)).unwrap();
    path
}

/// The number that a frame of such a film holds; none where nothing shows.
fn number(shelf: &mut Shelf, path: &Path, play: &Play, moment: &Moment) -> Result<Option<u32>, String> {
    let footage = FootageName::parsed(path.to_str().unwrap(), Path::new(""));
    match shelf.shown(&footage, Fit::Centred, play, moment).map_err(|e| e.to_string())? {
        Shown::Pixels(picture) => Ok(Some(u32::from(picture.rgba[0]) + 256 * u32::from(picture.rgba[4]))),
        Shown::Nothing => Ok(None),
        Shown::Generated { .. } => panic!("a film gives pixels"),
    }
}

/// At 60 BPM a beat is a second.
fn second(seconds: f64) -> Moment {
    Moment::at(Frame { width: 4, height: 4 }, PixelMode::Encoded8Bit, 60.0, seconds)
}

#[test]
fn every_way_to_end_shows_the_frames_that_it_says() {
    let folder = folder();
    // 10 frames of a tenth of a second.
    let path = counted_film(&folder, "10:1", 10);
    let mut shelf = Shelf::new(&CATALOGUE);
    // By hand. The section from 0.2 to 0.6 s holds the frames 2, 3, 4, 5.
    let section = Play { in_secs: 0.2, out_secs: Some(0.6), ..Play::default() };
    let whole = Play::default();
    let cases = [
        (whole, AtEnd::Loop, [9, 0, 3, 9, 0, 5].map(Some)),
        (whole, AtEnd::Hold, [0, 0, 3, 9, 9, 9].map(Some)),
        (whole, AtEnd::Once, [None, Some(0), Some(3), Some(9), None, None]),
        (whole, AtEnd::BackAndForth, [0, 0, 3, 9, 9, 4].map(Some)),
        (section, AtEnd::Loop, [5, 2, 5, 3, 4, 5].map(Some)),
        (section, AtEnd::Hold, [2, 2, 5, 5, 5, 5].map(Some)),
        (section, AtEnd::Once, [None, Some(2), Some(5), None, None, None]),
        (section, AtEnd::BackAndForth, [2, 2, 5, 3, 4, 2].map(Some)),
    ];
    for (play, at_end, frames) in cases {
        let play = Play { at_end, ..play };
        let moments = [-0.1, 0.0, 0.3, 0.9, 1.0, 1.5];
        for (seconds, frame) in moments.into_iter().zip(frames) {
            let found = number(&mut shelf, &path, &play, &second(seconds)).unwrap();
            assert_eq!(found, frame, "{play:?} at {seconds} s");
        }
    }
}

#[test]
fn a_speed_and_a_loop_in_beats_are_exact_over_hours() {
    let folder = folder();
    let path = counted_film(&folder, "30000:1001", 300);
    let mut shelf = Shelf::new(&CATALOGUE);
    let frame = Frame { width: 4, height: 4 };
    let mut at = |play: &Play, tempo_bpm: f64, beats: f64| {
        let moment = Moment::at(frame, PixelMode::Encoded8Bit, tempo_bpm, beats);
        number(&mut shelf, &path, play, &moment).unwrap().unwrap()
    };
    let paced = |pace| Play { pace, ..Play::default() };
    // At 60 BPM frame n of 29.97 a second begins at beat n * 1001/30000.
    for n in [0_u32, 1, 2, 17, 299, 300, 301, 1_000_003] {
        let begins = f64::from(n) * 1001.0 / 30000.0;
        assert_eq!(at(&Play::default(), 60.0, begins), n % 300, "frame {n}");
        // At half the speed each shows twice as long.
        assert_eq!(at(&paced(Pace::Speed(0.5)), 60.0, 2.0 * begins), n % 300, "frame {n} at half the speed");
        assert_eq!(at(&paced(Pace::Speed(2.0)), 60.0, begins), 2 * n % 300, "frame {n} at twice the speed");
        assert_eq!(at(&paced(Pace::Speed(0.0)), 60.0, begins), 0);
    }
    // 300 frames on 12 beats: 25 a beat, whatever the tempo.
    for tempo_bpm in [174.0, 60.0, 128.0] {
        for beats in [0.0, 0.04, 1.0, 11.96, 12.0, 13.0, 120_000.0, 123_456.08] {
            let expected = (beats * 25.0_f64).round() as u32 % 300;
            assert_eq!(
                at(&paced(Pace::LoopBeats(12.0)), tempo_bpm, beats),
                expected,
                "{beats} at {tempo_bpm} BPM"
            );
        }
    }
    // There and back in 12 beats: back at frame 299 from beat 6 on, 50 frames a beat.
    let both = Play { pace: Pace::LoopBeats(12.0), at_end: AtEnd::BackAndForth, ..Play::default() };
    let shown = [0.0, 1.0, 5.98, 6.0, 6.02, 11.98, 12.0].map(|beats| at(&both, 174.0, beats));
    assert_eq!(shown, [0, 50, 299, 299, 298, 0, 0]);
}

#[test]
fn a_film_rendered_at_its_own_rate_shows_each_frame_once() {
    let folder = folder();
    for (rate, written) in [("24000/1001", "24000:1001"), ("30", "30:1"), ("59.94", "60000:1001")] {
        let path = counted_film(&folder, written, 1000);
        let mut shelf = Shelf::new(&CATALOGUE);
        let rate = rate.parse().unwrap();
        for n in 0..1000_u32 {
            let frame = Frame { width: 4, height: 4 };
            let moment = Moment::of_frame(frame, PixelMode::Encoded8Bit, 174.0, rate, n.into());
            assert_eq!(number(&mut shelf, &path, &Play::default(), &moment), Ok(Some(n)), "at {rate}");
        }
    }
}

/// One of each kind of footage whose frames follow each other; `count` frames of 1/10 s that all differ.
fn films(folder: &TempDir, count: u32) -> Vec<PathBuf> {
    let frames =
        || (0..count).map(|n| RgbaImage::from_pixel(16, 16, Rgba([(n * 5) as u8, 255 - n as u8, 64, 255])));
    let gif = folder.path().join("film.gif");
    let mut encoder = GifEncoder::new(File::create(&gif).unwrap());
    encoder.set_repeat(Repeat::Infinite).unwrap();
    let delay = Delay::from_numer_denom_ms(100, 1);
    encoder.encode_frames(frames().map(|frame| GifFrame::from_parts(frame, 0, 0, delay))).unwrap();
    let apng = folder.path().join("film.png");
    let mut encoder = png::Encoder::new(BufWriter::new(File::create(&apng).unwrap()), 16, 16);
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_animated(count, 0).unwrap();
    encoder.set_frame_delay(1, 10).unwrap();
    let mut writer = encoder.write_header().unwrap();
    frames().for_each(|frame| writer.write_image_data(&frame).unwrap());
    writer.finish().unwrap();
    for (n, frame) in frames().enumerate() {
        frame.save(folder.path().join(format!("film-{n:03}.png"))).unwrap();
    }
    let mut all = vec![gif, apng, folder.path().join("film-###.png"), counted_film(folder, "10:1", count)];
    if has_ffmpeg() {
        let from = folder.path().join("film-%03d.png").display().to_string();
        for (name, codec) in [("film.mp4", "libx264"), ("film.webm", "libvpx"), ("film.avi", "mpeg4")] {
            let into = folder.path().join(name);
            ffmpeg(&[
                "-framerate",
                "10",
                "-i",
                &from,
                "-pix_fmt",
                "yuv420p",
                "-c:v",
                codec,
                into.to_str().unwrap(),
            ]);
            all.push(into);
        }
    }
    all
}

#[test]
fn scrubbing_shows_what_playing_shows() {
    let folder = folder();
    let count = 240_u32;
    for path in films(&folder, count) {
        let footage = FootageName::parsed(path.to_str().unwrap(), Path::new(""));
        // Sequences run at 25 pictures a second, the others at 10.
        let rate = if path.to_str().unwrap().contains('#') { 25.0 } else { 10.0 };
        let shown = |shelf: &mut Shelf, n: u32| {
            let moment = second((f64::from(n) + 0.5) / rate);
            match shelf
                .shown(&footage, Fit::Centred, &Play::default(), &moment)
                .unwrap_or_else(|e| panic!("{e}"))
            {
                Shown::Pixels(picture) => picture.rgba.clone(),
                _ => panic!("a film gives pixels"),
            }
        };
        let mut shelf = Shelf::new(&CATALOGUE);
        let played: Vec<Vec<u8>> = (0..count).map(|n| shown(&mut shelf, n)).collect();
        let changes = played.windows(2).filter(|two| two[0] != two[1]).count();
        assert!(changes + 1 > count as usize * 3 / 4, "{}: {changes} changes", path.display());
        // Far, near, back, and back in small steps, each from a new shelf, which has kept nothing.
        let mut scrubbing = Shelf::new(&CATALOGUE);
        for n in [200, 5, 239, 238, 237, 236, 120, 121, 119, 0, 150, 239] {
            assert_eq!(shown(&mut scrubbing, n), played[n as usize], "{} at frame {n}", path.display());
            assert_eq!(shown(&mut Shelf::new(&CATALOGUE), n), played[n as usize], "{} alone", path.display());
        }
    }
}

#[test]
fn a_live_shelf_never_waits_and_comes_to_show_what_is_due() {
    let folder = folder();
    let path = counted_film(&folder, "10:1", 100);
    let mut shelf = Shelf::live(&CATALOGUE);
    let began = Instant::now();
    let wait_for = |shelf: &mut Shelf, seconds: f64, due: u32| {
        loop {
            let found = number(shelf, &path, &Play::default(), &second(seconds)).unwrap();
            if !shelf.take_stood_in() {
                assert_eq!(found, Some(due));
                return;
            }
            // What stands in is a frame of the film, or nothing at first.
            assert!(found.is_none_or(|n| n < 100));
            assert!(began.elapsed() < Duration::from_secs(60), "it never came");
            thread::sleep(Duration::from_millis(2));
        }
    };
    for (seconds, due) in [(0.0, 0), (0.1, 1), (5.0, 50), (0.3, 3), (9.95, 99)] {
        wait_for(&mut shelf, seconds, due);
    }
    let missing = folder.path().join("none.y4m");
    let error = loop {
        match number(&mut shelf, &missing, &Play::default(), &second(0.0)) {
            Err(error) => break error,
            Ok(found) => assert_eq!(found, None),
        }
    };
    assert!(error.contains("there is no file"), "{error}");
}

#[test]
fn ten_thousand_frames_leave_memory_as_it_was() {
    let folder = folder();
    let path = counted_film(&folder, "25:1", 10_000);
    // 111 pictures; a show has 256 MiB.
    const BUDGET_BYTES: usize = 4 << 20;
    let mut shelf = Shelf::within(&CATALOGUE, BUDGET_BYTES);
    let footage = FootageName::parsed(path.to_str().unwrap(), Path::new(""));
    // Pages of 4 KiB, as on every system where these tests run.
    let resident = || {
        let statm = fs::read_to_string("/proc/self/statm").ok()?;
        Some(statm.split(' ').nth(1)?.parse::<usize>().ok()? * 4096)
    };
    let mut settled = None;
    for n in 0..10_000_u32 {
        let frame = Frame { width: 128, height: 72 };
        let moment = Moment::at(frame, PixelMode::Encoded8Bit, 60.0, (f64::from(n) + 0.5) / 25.0);
        assert!(matches!(
            shelf.shown(&footage, Fit::Stretched, &Play::default(), &moment),
            Ok(Shown::Pixels(_))
        ));
        assert!(shelf.kept_bytes() <= BUDGET_BYTES);
        if n == 1000 {
            assert!(shelf.kept_bytes() > BUDGET_BYTES / 2, "the budget is in use");
            settled = resident();
        }
    }
    if let (Some(settled), Some(at_end)) = (settled, resident()) {
        let grown = at_end.saturating_sub(settled) >> 20;
        eprintln!("resident after 1,000 frames {} MiB, after 10,000 {} MiB", settled >> 20, at_end >> 20);
        assert!(grown < 32, "{grown} MiB more after 9,000 further frames");
    }
}

/// One frame of a film of these samples.
fn film_of(size: [u32; 2], words: &str, samples: &[u8]) -> Vec<u8> {
    let header = format!("YUV4MPEG2 W{} H{} F25:1 {words}\nFRAME\n", size[0], size[1]);
    [header.as_bytes(), samples].concat()
}

fn first_frame(path: &Path, frame: Frame) -> Result<Vec<u8>, String> {
    let footage = FootageName::parsed(path.to_str().unwrap(), Path::new(""));
    let moment = Moment::at(frame, PixelMode::Encoded8Bit, 60.0, 0.0);
    match Shelf::new(&CATALOGUE).shown(&footage, Fit::Centred, &Play::default(), &moment) {
        Ok(Shown::Pixels(picture)) => Ok(picture.rgba.clone()),
        Ok(other) => panic!("{other:?}"),
        Err(error) => Err(error.to_string()),
    }
}

#[test]
fn samples_become_colours_by_the_standards_of_their_lines() {
    let folder = folder();
    let path = folder.path().join("one.y4m");
    // ITU-R BT.601-7, 2.5: 81, 90, 240 is red, 145, 54, 34 green, in limited range (from memory); 16 and 235 black and white.
    let planes = [[81, 145, 16, 235], [90, 54, 128, 128], [240, 34, 128, 128]].concat();
    fs::write(&path, film_of([4, 1], "C444", &planes)).unwrap();
    let expected = [[255, 0, 0], [0, 255, 0], [0, 0, 0], [255, 255, 255]];
    let found = first_frame(&path, Frame { width: 4, height: 1 }).unwrap();
    for (texel, wanted) in found.chunks(4).zip(expected) {
        let off = texel.iter().zip(wanted).map(|(&a, b)| a.abs_diff(b)).max().unwrap();
        assert!(off <= 1 && texel[3] == 255, "{texel:?} {wanted:?}");
    }
    // Above 576 lines BT.709 holds: 63, 102, 240 is red there (from memory).
    let lines = 577;
    let planes = [63, 102, 240].map(|sample| vec![sample; lines as usize]).concat();
    fs::write(&path, film_of([1, lines], "C444", &planes)).unwrap();
    let found = first_frame(&path, Frame { width: 1, height: lines }).unwrap();
    assert!(found.chunks(4).all(|t| t[0] >= 254 && t[1] <= 1 && t[2] <= 1), "{:?}", &found[..4]);
}

#[test]
fn every_sampling_agrees_with_ffmpeg() {
    if !has_ffmpeg() {
        return;
    }
    let folder = folder();
    let (width, height) = (34, 18);
    let smooth = |w: u32, h: u32, from: f32, across: f32, down: f32| -> Vec<u8> {
        let texels = (0..h).flat_map(|y| (0..w).map(move |x| (x, y)));
        texels
            .map(|(x, y)| (from + across * x as f32 / w as f32 + down * y as f32 / h as f32) as u8)
            .collect()
    };
    // Grey films are left out: ffmpeg takes them for full range, whatever it is told.
    for (words, [w, h]) in [
        ("C420jpeg", [17, 9]),
        ("C420mpeg2", [17, 9]),
        ("C420paldv", [17, 9]),
        ("C422", [17, 18]),
        ("C444", [34, 18]),
    ] {
        let path = folder.path().join("smooth.y4m");
        let differences = [smooth(w, h, 90.0, 60.0, 20.0), smooth(w, h, 170.0, -30.0, -50.0)].concat();
        let samples = [smooth(width, height, 40.0, 90.0, 60.0), differences].concat();
        fs::write(&path, film_of([width, height], words, &samples)).unwrap();
        let filter = "scale=in_range=tv:in_color_matrix=bt601:flags=bilinear+accurate_rnd+full_chroma_int";
        let arguments =
            ["-i", path.to_str().unwrap(), "-vf", filter, "-f", "rawvideo", "-pix_fmt", "rgba", "-"];
        let expected = ffmpeg(&arguments);
        let found = first_frame(&path, Frame { width, height }).unwrap();
        assert_eq!(found.len(), expected.len(), "{words}");
        let off = found.iter().zip(&expected).map(|(a, b)| a.abs_diff(*b)).max().unwrap();
        // Both interpolate, in other arithmetic and at the borders in another way.
        assert!(off <= 6, "{words}: {off}");
    }
}

#[test]
fn a_film_that_is_not_right_says_why() {
    let folder = folder();
    let path = folder.path().join("wrong.y4m");
    let whole = counted("F25:1", 3);
    let cases: [(Vec<u8>, &str); 8] = [
        (whole[..whole.len() - 1].to_vec(), "frame 3 ends too early"),
        (whole[..whole.len() - 20].to_vec(), "no frame 3 where one should begin"),
        (film_of([2, 2], "C420p10", &[0; 12]), "C420p10"),
        (film_of([2, 2], "C411", &[0; 12]), "C411"),
        (film_of([99_999, 2], "C444", &[]), "99999x2"),
        (b"YUV4MPEG2 W4294967295 H4294967295 F1:1\n".to_vec(), "texels"),
        (b"YUV4MPEG2 F25:1\n".to_vec(), "no size"),
        (b"YUV4MPEG2 W4 H4 F0:1\n".to_vec(), "no frame rate"),
    ];
    for (bytes, word) in cases {
        fs::write(&path, bytes).unwrap();
        let error = first_frame(&path, Frame { width: 4, height: 4 }).unwrap_err();
        assert!(error.contains("wrong.y4m") && error.contains(word), "{error} ({word})");
    }
    fs::write(&path, counted("F10:1", 10)).unwrap();
    let late = Play { in_secs: 1.0, ..Play::default() };
    let error = number(&mut Shelf::new(&CATALOGUE), &path, &late, &second(0.0)).unwrap_err();
    assert!(error.contains("lasts 1.000 s") && error.contains("in_secs"), "{error}");
}

#[cfg(unix)]
#[test]
fn a_named_pipe_is_read_forwards_and_holds_its_last_frame() {
    let folder = folder();
    let path = folder.path().join("pipe");
    assert!(Command::new("mkfifo").arg(&path).status().unwrap().success());
    let into = path.clone();
    let feeder = thread::spawn(move || fs::write(into, counted("F10:1", 20)).unwrap());
    let mut shelf = Shelf::new(&CATALOGUE);
    let mut at = |seconds: f64| number(&mut shelf, &path, &Play::default(), &second(seconds));
    assert_eq!(at(0.0), Ok(Some(0)));
    assert_eq!(at(0.5), Ok(Some(5)));
    assert_eq!(at(1.5), Ok(Some(15)));
    // Frame 20 would be the first again.
    assert_eq!(at(100.0), Ok(Some(19)));
    assert_eq!(at(1.9), Ok(Some(19)));
    let error = at(0.7).unwrap_err();
    assert!(error.contains("forwards"), "{error}");
    feeder.join().unwrap();
    let stretched = Play { pace: Pace::LoopBeats(4.0), ..Play::default() };
    let other = folder.path().join("other");
    assert!(Command::new("mkfifo").arg(&other).status().unwrap().success());
    let into = other.clone();
    let feeder = thread::spawn(move || fs::write(into, counted("F10:1", 2)));
    let error = number(&mut shelf, &other, &stretched, &second(0.0)).unwrap_err();
    assert!(error.contains("out_secs"), "{error}");
    drop(shelf);
    let _ = feeder.join().unwrap();
}

#[test]
fn films_through_ffmpeg_have_their_times_colours_and_alpha() {
    if !has_ffmpeg() {
        return;
    }
    let folder = folder();
    // 12 frames of half red, half nothing, in a film with alpha.
    let mark = RgbaImage::from_fn(32, 32, |x, _| if x < 16 { Rgba([255, 0, 0, 255]) } else { Rgba([0; 4]) });
    let still = folder.path().join("mark.png");
    mark.save(&still).unwrap();
    let path = folder.path().join("mark's film.mov");
    ffmpeg(&[
        "-loop",
        "1",
        "-framerate",
        "12",
        "-i",
        still.to_str().unwrap(),
        "-frames:v",
        "12",
        "-c:v",
        "qtrle",
        path.to_str().unwrap(),
    ]);
    let found = first_frame(&path, Frame { width: 32, height: 32 }).unwrap();
    assert_eq!(found, mark.into_raw());
    // Frames at 0, 0.1, 0.4 s, the last 0.1 s long: each frame at its own time.
    let uneven = folder.path().join("uneven.mkv");
    for (n, grey) in [40_u8, 120, 200].into_iter().enumerate() {
        RgbaImage::from_pixel(16, 16, Rgba([grey, grey, grey, 255]))
            .save(folder.path().join(format!("u{n}.png")))
            .unwrap();
    }
    let from = folder.path().join("u%d.png").display().to_string();
    let times = "setpts=(eq(N\\,1)*0.1+eq(N\\,2)*0.4)/TB";
    ffmpeg(&[
        "-framerate",
        "10",
        "-i",
        &from,
        "-vf",
        times,
        "-fps_mode",
        "passthrough",
        "-enc_time_base",
        "1/1000",
        "-c:v",
        "ffv1",
        uneven.to_str().unwrap(),
    ]);
    let footage = FootageName::parsed(uneven.to_str().unwrap(), Path::new(""));
    let mut shelf = Shelf::new(&CATALOGUE);
    for (seconds, grey) in [(0.0, 40), (0.09, 40), (0.1, 120), (0.39, 120), (0.4, 200)] {
        let Ok(Shown::Pixels(picture)) =
            shelf.shown(&footage, Fit::Centred, &Play::default(), &second(seconds))
        else {
            panic!("no picture at {seconds} s");
        };
        assert!(picture.rgba[0].abs_diff(grey) <= 2, "{} at {seconds} s", picture.rgba[0]);
    }
    let broken = folder.path().join("broken.mp4");
    fs::write(&broken, b"\0\0\0\x18ftypisom and no more").unwrap();
    let error = first_frame(&broken, Frame { width: 4, height: 4 }).unwrap_err();
    assert!(error.contains("broken.mp4"), "{error}");
}

/// A film of one colour.
fn film_of_colour(folder: &TempDir, name: &str, colour: &str, more: &[&str]) -> PathBuf {
    let path = folder.path().join(name);
    let source = format!("color={colour}:s=32x32:r=10:d=0.5");
    let arguments = ["-f", "lavfi", "-i", &source];
    ffmpeg(&[arguments.as_slice(), more, &[path.to_str().unwrap()]].concat());
    path
}

#[test]
fn a_list_under_a_films_name_plays_no_other_file() {
    if !has_ffmpeg() {
        return;
    }
    let folder = folder();
    film_of_colour(&folder, "secret.ts", "red", &["-c:v", "mpeg2video"]);
    film_of_colour(&folder, "secret.mp4", "red", &["-c:v", "libx264"]);
    // HLS: RFC 8216, 4.3; ffconcat: ffmpeg-formats(1), "concat"; MPEG-DASH: ISO/IEC 23009-1, 5.3; SDP: RFC 8866.
    let hls = "#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:0.5,\nsecret.ts\n#EXT-X-ENDLIST\n";
    let concat = "ffconcat version 1.0\nfile secret.mp4\n";
    let dash = r#"<?xml version="1.0"?><MPD xmlns="urn:mpeg:dash:schema:mpd:2011" type="static"
        mediaPresentationDuration="PT0.5S" profiles="urn:mpeg:dash:profile:isoff-on-demand:2011"><Period><AdaptationSet
        mimeType="video/mp4"><Representation id="1" bandwidth="1000" width="32" height="32"><BaseURL>secret.mp4</BaseURL>
        </Representation></AdaptationSet></Period></MPD>"#;
    let sdp = "v=0\r\no=- 0 0 IN IP4 127.0.0.1\r\ns=x\r\nc=IN IP4 127.0.0.1\r\nt=0 0\r\nm=video 5004 RTP/AVP 96\r\na=rtpmap:96 H264/90000\r\n";
    let srt = "1\n00:00:00,000 --> 00:00:01,000\nmovie=secret.mp4\n";
    let graph = "movie=secret.mp4 [out0]\n";
    let lists = [
        ("hls", hls, "a playlist (HLS)"),
        ("concat", concat, "a list of films (ffconcat)"),
        ("dash", dash, "a manifest (MPEG-DASH)"),
        ("sdp", sdp, "a description of a stream (SDP)"),
        ("srt", srt, "a file of another kind (srt)"),
        ("graph", graph, "ffprobe says"),
    ];
    for (name, text, said) in lists {
        for ending in ["mp4", "mkv", "webm"] {
            let path = folder.path().join(format!("{name}.{ending}"));
            fs::write(&path, text).unwrap();
            let shown = first_frame(&path, Frame { width: 32, height: 32 });
            let error = shown.expect_err("nothing is shown of what it names");
            assert!(error.contains(&format!("{name}.{ending}")) && error.contains(said), "{error}");
            let footage = FootageName::parsed(path.to_str().unwrap(), Path::new(""));
            let checked = Shelf::new(&CATALOGUE).check(&footage).unwrap_err().to_string();
            assert_eq!(checked, error, "checking says the same");
        }
    }
    // A name that ffmpeg would take for a pattern of names is a name.
    let pattern = folder.path().join("secret-%d.mp4");
    film_of_colour(&folder, "secret-1.mp4", "red", &["-c:v", "libx264"]);
    assert!(first_frame(&pattern, Frame { width: 32, height: 32 }).is_err());
}

/// A QuickTime film that holds one film's samples and names another file for them (QuickTime File Format, "Data
/// reference atoms": an alias record of the old Macintosh).
fn with_samples_elsewhere(film: &[u8], other: &str) -> Vec<u8> {
    let number = |at: usize| u32::from_be_bytes(film[at..at + 4].try_into().unwrap()) as usize;
    let mut bounds = 0..film.len();
    let mut boxes = Vec::new();
    for kind in [b"moov", b"trak", b"mdia", b"minf", b"dinf", b"dref"] {
        let mut at = bounds.start;
        while &film[at + 4..at + 8] != kind {
            at += number(at);
            assert!(at < bounds.end, "no {kind:?}");
        }
        boxes.push(at);
        bounds = at + 8..at + number(at);
    }
    let padded = |text: &[u8], length: usize| [text, &vec![0; length - text.len()]].concat();
    let path = format!("vol:{other}");
    let path = padded(path.as_bytes(), path.len().next_multiple_of(2));
    let mut alias = [vec![0; 10], vec![3], padded(b"vol", 27), vec![0; 12]].concat();
    alias.push(other.len() as u8);
    alias.extend(
        [padded(other.as_bytes(), 63), vec![0; 16], vec![0, 1, 0, 1], vec![0; 16], vec![0, 2]].concat(),
    );
    alias.extend((path.len() as u16).to_be_bytes());
    alias.extend([path, vec![0xff, 0xff, 0, 0]].concat());
    let alias = padded(&alias, alias.len().max(160));
    let entry = [&(alias.len() as u32 + 12).to_be_bytes(), b"alis".as_slice(), &[0; 4], &alias].concat();
    let dref =
        [&(entry.len() as u32 + 16).to_be_bytes(), b"dref".as_slice(), &[0, 0, 0, 0, 0, 0, 0, 1], &entry]
            .concat();
    let (&at, outer) = boxes.split_last().unwrap();
    let more = dref.len() - number(at);
    let mut changed = film.to_vec();
    for &outer in outer {
        changed[outer..outer + 4].copy_from_slice(&((number(outer) + more) as u32).to_be_bytes());
    }
    changed.splice(at..at + number(at), dref);
    changed
}

#[test]
fn a_quicktime_film_shows_no_samples_of_another_file() {
    if !has_ffmpeg() {
        return;
    }
    let folder = folder();
    let raw = ["-c:v", "rawvideo", "-pix_fmt", "rgb24"];
    film_of_colour(&folder, "secret.mov", "red", &raw);
    let own = film_of_colour(&folder, "own.mov", "blue", &raw);
    let hostile = folder.path().join("hostile.mov");
    fs::write(&hostile, with_samples_elsewhere(&fs::read(own).unwrap(), "secret.mov")).unwrap();
    // It is as hostile as it is meant to be.
    let hostile = hostile.to_str().unwrap();
    let open =
        ["-enable_drefs", "1", "-i", hostile, "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "rgb24", "-"];
    assert!(ffmpeg(&open)[0] > 200, "red");
    if let Ok(shown) = first_frame(Path::new(hostile), Frame { width: 32, height: 32 }) {
        assert!(shown.chunks(4).all(|texel| texel[0] < 50), "{:?}", &shown[..4]);
    }
}

/// A folder with programs of these names and scripts, and a PATH on which they are found first. In a script, `$REST`
/// is what the PATH was.
#[cfg(unix)]
fn programs(folder: &TempDir, scripts: &[(&str, &str)]) -> String {
    use std::os::unix::fs::PermissionsExt;
    let rest = std::env::var("PATH").unwrap();
    for (name, script) in scripts {
        let path = folder.path().join(name);
        fs::write(&path, format!("#!/bin/sh\nREST='{rest}'\n{script}\n")).unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o755)).unwrap();
    }
    format!("{}:{rest}", folder.path().display())
}

#[cfg(unix)]
#[test]
fn a_program_that_never_answers_is_ended_and_the_person_is_told() {
    if !has_ffmpeg() {
        return;
    }
    let sleeps = ["sleep 4251.5 & sleep 4251.5", "sleep 4252.5 & sleep 4252.5"];
    let runs = [("ffprobe", sleeps[0]), ("ffmpeg", sleeps[1])].map(|(name, script)| {
        thread::spawn(move || {
            let folder = folder();
            let film = film_of_colour(&folder, "film.mp4", "red", &["-c:v", "libx264"]).display().to_string();
            let path = programs(&folder, &[(name, script)]);
            let chain = chain(&folder, false);
            let out = folder.path().join("out.png").display().to_string();
            let begun = Instant::now();
            let words = ["render", &chain, "--footage", &film, "--frame", "32x18", "--out", &out];
            let done = program(&words).env("PATH", path).output().unwrap();
            (name, begun.elapsed(), done)
        })
    });
    for run in runs {
        let (name, took, done) = run.join().unwrap();
        let said = String::from_utf8_lossy(&done.stderr);
        assert_eq!(done.status.code(), Some(1), "{said}");
        let wanted = format!("`{name}` did nothing for {} s and was ended", GIVES_WITHIN.as_secs());
        assert!(said.contains("film.mp4") && said.contains(&wanted), "{said}");
        assert!(took >= GIVES_WITHIN && took < GIVES_WITHIN + Duration::from_secs(30), "{took:?}");
    }
    for sleep in ["sleep 4251.5", "sleep 4252.5"] {
        let found = Command::new("pgrep").args(["-f", "--", sleep]).output().unwrap();
        assert!(!found.status.success(), "left behind: {}", String::from_utf8_lossy(&found.stdout));
    }
}

#[cfg(unix)]
#[test]
fn a_program_that_is_waited_for_ends_with_this_one() {
    if !has_ffmpeg() {
        return;
    }
    for (signal, code) in [("-INT", 2), ("-TERM", 15)] {
        let folder = folder();
        let film = film_of_colour(&folder, "film.mp4", "red", &["-c:v", "libx264"]).display().to_string();
        let begun = folder.path().join("begun");
        let script = format!("touch '{}'; sleep 4253.5 & sleep 4253.5", begun.display());
        let path = programs(&folder, &[("ffprobe", &script)]);
        let chain = chain(&folder, false);
        let out = folder.path().join("out.png").display().to_string();
        let words = ["render", &chain, "--footage", &film, "--frame", "32x18", "--out", &out];
        let mut running = program(&words).env("PATH", path).spawn().unwrap();
        let waited = Instant::now();
        while !begun.exists() {
            assert!(waited.elapsed() < Duration::from_secs(60), "it never began");
            thread::sleep(Duration::from_millis(20));
        }
        assert!(Command::new("kill").args([signal, &running.id().to_string()]).status().unwrap().success());
        let ended = std::os::unix::process::ExitStatusExt::signal(&running.wait().unwrap());
        assert_eq!(ended, Some(code), "{signal}");
        let is_left =
            || Command::new("pgrep").args(["-f", "--", "sleep 4253.5"]).output().unwrap().status.success();
        assert!((0..40).any(|_| {
            thread::sleep(Duration::from_millis(50));
            !is_left()
        }));
    }
}

/// 32x24: the left half opaque red, the right half nothing.
fn half_clear(folder: &TempDir, name: &str) -> String {
    let path = folder.path().join(name);
    let half = |x, _| if x < 16 { Rgba([255, 0, 0, 255]) } else { Rgba([0; 4]) };
    RgbaImage::from_fn(32, 24, half).save(&path).unwrap();
    path.display().to_string()
}

#[test]
fn a_webm_film_keeps_its_alpha() {
    if !has_ffmpeg() {
        return;
    }
    let folder = folder();
    let mark = half_clear(&folder, "mark.png");
    for (codec, name) in [("libvpx", "vp8.webm"), ("libvpx-vp9", "vp9.webm")] {
        let path = folder.path().join(name);
        let film = path.to_str().unwrap();
        let from = ["-loop", "1", "-framerate", "10", "-i", &mark, "-frames:v", "20", "-g", "8"];
        let words =
            ["-c:v", codec, "-pix_fmt", "yuva420p", "-auto-alt-ref", "0", "-crf", "4", "-b:v", "2M", film];
        ffmpeg(&[from.as_slice(), &words].concat());
        let footage = FootageName::parsed(film, Path::new(""));
        let mut shelf = Shelf::new(&CATALOGUE);
        let mut at = |seconds: f64| {
            let moment = Moment::at(Frame { width: 32, height: 24 }, PixelMode::Encoded8Bit, 60.0, seconds);
            match shelf.shown(&footage, Fit::Whole, &Play::default(), &moment).unwrap() {
                Shown::Pixels(picture) => picture,
                other => panic!("{other:?}"),
            }
        };
        // From the start, and entered in the middle.
        for seconds in [0.0, 1.7, 0.3] {
            let picture = at(seconds);
            assert!(!picture.opaque, "{name}");
            let texel = |x: usize| &picture.rgba[(12 * 32 + x) * 4..][..4];
            assert!(texel(4)[0] > 200 && texel(4)[3] > 250, "{name} {:?}", texel(4));
            assert!(texel(28)[3] < 5, "{name} {:?}", texel(28));
        }
    }
}

#[cfg(unix)]
#[test]
fn a_machine_that_cannot_read_a_films_alpha_says_so_and_hides_nothing() {
    if !has_ffmpeg() {
        return;
    }
    let folder = folder();
    let mark = half_clear(&folder, "mark.png");
    let film = folder.path().join("mark.webm").display().to_string();
    ffmpeg(&[
        "-loop",
        "1",
        "-i",
        &mark,
        "-frames:v",
        "3",
        "-c:v",
        "libvpx-vp9",
        "-pix_fmt",
        "yuva420p",
        &film,
    ]);
    let without = r#"case "$*" in *decoder=*) echo "Codec is not recognized by FFmpeg." >&2; exit 0;; esac
PATH="$REST" exec ffmpeg "$@""#;
    let path = programs(&folder, &[("ffmpeg", without)]);
    let show = folder.path().join("show.toml");
    let clip =
        "[[bundle]]\nname = \"a\"\n[[bundle.level]]\nname = \"b\"\n[[bundle.level.clip]]\nname = \"c\"\n";
    let head = "format = \"underover/show/1\"\nname = \"x\"\nframe = { width = 32, height = 24 }\ntempo_bpm = 120.0\n";
    fs::write(&show, format!("{head}{clip}footage = \"mark.webm\"\n")).unwrap();
    let show = show.to_str().unwrap();
    let out = folder.path().join("out.png").display().to_string();
    for words in [vec!["check", show], vec!["render", show, "--scope", "global", "--out", &out]] {
        let with = ran(&words);
        assert!(with.status.success(), "{}", String::from_utf8_lossy(&with.stderr));
        let done = program(&words).env("PATH", &path).output().unwrap();
        let said =
            String::from_utf8_lossy(&done.stdout).into_owned() + &String::from_utf8_lossy(&done.stderr);
        assert_eq!(done.status.code(), Some(1), "{said}");
        assert!(said.contains("mark.webm has alpha") && said.contains("no decoder `libvpx-vp9`"), "{said}");
    }
}

/// What ffprobe says of a film's stream: these entries, with commas.
fn stream(path: &str, entries: &str) -> String {
    let entries = format!("stream={entries}:stream_tags=alpha_mode");
    let arguments = ["-v", "error", "-select_streams", "V:0", "-show_entries", &entries, "-of", "csv=p=0"];
    let probe = Command::new("ffprobe").args(arguments).arg(path).output().unwrap();
    String::from_utf8_lossy(&probe.stdout).trim().trim_end_matches(',').to_owned()
}

#[test]
fn what_is_transparent_is_written_transparent_where_the_form_can() {
    if !has_ffmpeg() {
        return;
    }
    let folder = folder();
    let path = |name: &str| folder.path().join(name).display().to_string();
    let chain = chain(&folder, false);
    let none = path("none.toml");
    fs::write(&none, "format = \"underover/chain/1\"\nname = \"none\"\n").unwrap();
    let mark = half_clear(&folder, "mark.png");
    // Opaque at its first picture only.
    RgbaImage::from_pixel(32, 24, Rgba([255, 0, 0, 255])).save(path("late-1.png")).unwrap();
    half_clear(&folder, "late-2.png");
    let late = path("late-#.png");
    let film = path("mark.webm");
    ffmpeg(&[
        "-loop",
        "1",
        "-i",
        &mark,
        "-frames:v",
        "3",
        "-c:v",
        "libvpx-vp9",
        "-pix_fmt",
        "yuva420p",
        &film,
    ]);
    let span = ["--fit", "whole", "--frame", "32x24", "--frames", "2", "--rate", "25"];
    let figures = path("figures.json");
    let write = |footage: &str, out: &str| {
        let words = ["render", &none, "--footage", footage, "--out", out, "--json", &figures];
        let done = ran(&[words.as_slice(), &span].concat());
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        assert!(done.status.success(), "{said}");
        let figures: serde_json::Value = serde_json::from_slice(&fs::read(&figures).unwrap()).unwrap();
        (said, figures)
    };
    let out = |name: &str| path(&format!("out{name}"));
    for footage in [&mark, &late, &film] {
        let (said, figures) = write(footage, &out(".mov"));
        assert_eq!(stream(&out(".mov"), "codec_name,codec_tag_string"), "prores,ap4h", "{said}");
        assert_eq!(figures["alpha"], "kept");
        write(footage, &out(".webm"));
        assert_eq!(stream(&out(".webm"), "codec_name,pix_fmt"), "vp9,yuv420p,1");
        // Decoded by ffmpeg, with libvpx for what stands beside; the second frame, its middle row.
        for (name, decoder) in [(".mov", "prores"), (".webm", "libvpx-vp9")] {
            let out = out(name);
            let read = ["-c:v", decoder, "-i", &out, "-f", "rawvideo", "-pix_fmt", "rgba", "-"];
            let frames = ffmpeg(&read);
            assert_eq!(frames.len(), 2 * 32 * 24 * 4);
            let texel = |x: usize| &frames[(32 * 24 + 12 * 32 + x) * 4..][..4];
            assert!(texel(4)[0] > 230 && texel(4)[1] < 20 && texel(4)[3] > 250, "{name} {:?}", texel(4));
            assert!(texel(28)[3] < 5, "{name} {:?}", texel(28));
        }
        // And by our own reading.
        let back = first_frame(Path::new(&out(".mov")), Frame { width: 32, height: 24 }).unwrap();
        assert_eq!(back[28 * 4 + 3] < 255, footage != &late, "{footage}");
        for name in [".mp4", ".mkv", ".y4m"] {
            let (said, figures) = write(footage, &out(name));
            assert!(said.contains("holds no alpha") && said.contains(".mov"), "{said}");
            let lost = if footage == &late { "1 of 2" } else { "2 of 2" };
            assert!(said.contains(&format!("{lost} frames are transparent somewhere")), "{said}");
            assert_eq!(figures["alpha"], "over-black");
        }
        let (said, figures) = write(footage, &out(".apng"));
        assert!(!said.contains("alpha"), "{said}");
        assert_eq!(figures["alpha"], "kept");
    }
    // What is opaque throughout takes the smaller film, and no words.
    let opaque = path("late-1.png");
    for (name, found) in [(".mov", "h264,yuv420p"), (".webm", "vp9,yuv420p"), (".mp4", "h264,yuv420p")] {
        let (said, figures) = write(&opaque, &out(name));
        assert_eq!(stream(&out(name), "codec_name,pix_fmt"), found);
        assert!(!said.contains("alpha") && figures["alpha"] == "none", "{said}");
    }
    // A show lies over black before its global chain.
    made(&render(&chain, &["--frames", "2", "--out", &out(".mov")]));
    made(&[
        "render",
        "preset:night-ferry",
        "--scope",
        "global",
        "--frame",
        "32x18",
        "--frames",
        "2",
        "--out",
        &out(".mov"),
    ]);
    assert_eq!(stream(&out(".mov"), "codec_name,pix_fmt"), "h264,yuv420p");
}

#[test]
fn a_film_of_odd_sides_plays_where_others_play() {
    if !has_ffmpeg() {
        return;
    }
    let folder = folder();
    let path = |name: &str| folder.path().join(name).display().to_string();
    let none = path("none.toml");
    fs::write(&none, "format = \"underover/chain/1\"\nname = \"none\"\n").unwrap();
    // The last row and column are blue, all else red.
    for (width, height, on_file) in
        [(33, 17, "34,18"), (32, 17, "32,18"), (33, 18, "34,18"), (32, 18, "32,18")]
    {
        let last = |x, y| if x >= width - 1 || y >= height - 1 { [0, 0, 255, 255] } else { [255, 0, 0, 255] };
        RgbaImage::from_fn(width, height, |x, y| Rgba(last(x, y))).save(path("picture.png")).unwrap();
        let frame = format!("{width}x{height}");
        let is_odd = width % 2 + height % 2 > 0;
        for name in ["film.mp4", "film.mov", "film.mkv"] {
            let (picture, out, json) = (path("picture.png"), path(name), path("figures.json"));
            let words = ["render", &none, "--footage", &picture, "--frame", &frame, "--frames", "2"];
            let done = ran(&[words.as_slice(), &["--out", &out, "--json", &json]].concat());
            let said = String::from_utf8_lossy(&done.stderr);
            assert!(done.status.success(), "{said}");
            assert_eq!(stream(&out, "width,height,pix_fmt"), format!("{on_file},yuv420p"), "{name} {frame}");
            assert_eq!(said.contains("has even sides"), is_odd, "{said}");
            let figures: serde_json::Value = serde_json::from_slice(&fs::read(&json).unwrap()).unwrap();
            assert_eq!(figures["written_frame"], on_file.replace(',', "x"));
            assert_eq!(figures["frame"], frame);
            // What is added repeats what is beside it.
            let texels = ffmpeg(&["-i", &out, "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "rgb24", "-"]);
            let corner = &texels[texels.len() - 3..];
            // Where nothing is added, a colour difference is shared with what is red.
            assert!(!is_odd || (corner[2] > 180 && corner[0] < 40), "{name} {frame} {corner:?}");
        }
        // VP9 holds any size.
        let out = path("film.webm");
        made(&[
            "render",
            &none,
            "--footage",
            &path("picture.png"),
            "--frame",
            &frame,
            "--frames",
            "2",
            "--out",
            &out,
        ]);
        assert_eq!(stream(&out, "width,height,pix_fmt"), format!("{width},{height},yuv420p"));
    }
}

/// Runs the program with a file's bytes on a pipe as its standard input.
fn fed(arguments: &[&str], bytes: &[u8]) -> Output {
    let mut running = program(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // What is not read is not missed.
    let _ = running.stdin.take().unwrap().write_all(bytes);
    running.wait_with_output().unwrap()
}

#[cfg(target_os = "linux")]
#[test]
fn a_document_on_a_pipe_is_read_once_by_every_command() {
    let show = "format = \"underover/show/1\"\nname = \"piped\"\nframe = { width = 32, height = 18 }\ntempo_bpm = 120.0\n\
        [[bundle]]\nname = \"a\"\n[[bundle.level]]\nname = \"b\"\n[[bundle.level.clip]]\nname = \"c\"\nfootage = \"generated:waves\"\n\
        [[bundle.effect]]\nuse = \"tint\"\n[[bundle.effect]]\nuse = \"edge-find\"\n";
    let folder = folder();
    let out = folder.path().join("out.png").display().to_string();
    let stdin = "/dev/stdin";
    for words in [
        vec!["flashes", stdin, "--over", "0.25"],
        vec!["places", stdin, "--effect", "tint", "--out", &out],
        vec!["orders", stdin, "--out", &out],
        vec!["swaps", stdin],
        vec!["sheet", stdin, "--out", &out],
        vec!["render", stdin, "--scope", "global", "--out", &out],
        vec!["hands", stdin],
        vec!["check", stdin],
    ] {
        let done = fed(&words, show.as_bytes());
        let said = String::from_utf8_lossy(&done.stderr);
        assert!(!said.contains("empty") && !said.contains("gave nothing"), "{words:?}: {said}");
        assert_ne!(done.status.code(), Some(1), "{words:?}: {said}");
    }
    // Given twice, it is empty the second time.
    let done = fed(&["compare", stdin, stdin, "--scope", "global"], show.as_bytes());
    let said = String::from_utf8_lossy(&done.stderr);
    assert_eq!(done.status.code(), Some(1), "{said}");
    assert!(said.contains("`/dev/stdin` is a pipe and gave nothing") && said.contains("save"), "{said}");
}

#[cfg(unix)]
#[test]
fn a_pipe_that_two_clips_play_says_what_to_do() {
    let folder = folder();
    let pipe = folder.path().join("pipe");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let into = pipe.clone();
    let feeder = thread::spawn(move || {
        let _ = fs::write(into, counted("F10:1", 400));
    });
    let mut shelf = Shelf::new(&CATALOGUE);
    assert_eq!(number(&mut shelf, &pipe, &Play::default(), &second(0.0)), Ok(Some(0)));
    let other = Play { pace: Pace::Speed(2.0), ..Play::default() };
    let error = number(&mut shelf, &pipe, &other, &second(0.0)).unwrap_err();
    assert!(error.contains("read once only") && error.contains("save it as a .y4m file"), "{error}");
    drop(shelf);
    feeder.join().unwrap();
    // What gives nothing says that it may have been read before.
    let empty = folder.path().join("empty");
    assert!(Command::new("mkfifo").arg(&empty).status().unwrap().success());
    let into = empty.clone();
    let feeder = thread::spawn(move || fs::write(into, b""));
    let error = number(&mut Shelf::new(&CATALOGUE), &empty, &Play::default(), &second(0.0)).unwrap_err();
    assert!(error.contains("gave nothing") && error.contains(".y4m"), "{error}");
    feeder.join().unwrap().unwrap();
}

fn program(arguments: &[&str]) -> Command {
    let mut command = Command::new(PROGRAM);
    command
        .args(arguments)
        .env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"))
        .env("RUST_BACKTRACE", "0")
        .stdin(Stdio::null());
    command
}

fn ran(arguments: &[&str]) -> Output {
    program(arguments).output().unwrap()
}

/// Standard output of a run that has to end well.
fn made(arguments: &[&str]) -> Vec<u8> {
    let done = ran(arguments);
    assert!(done.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
    done.stdout
}

/// The one error of a run that has to fail with this exit code.
fn refused(arguments: &[&str], code: i32) -> String {
    let done = ran(arguments);
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(code), "{arguments:?}: {said}");
    said
}

/// A chain that moves with the beat, in `folder`.
fn chain(folder: &TempDir, flashes: bool) -> String {
    let path = folder.path().join("chain.toml");
    let flash = if flashes { "[[effect]]\nuse = \"flash-gate\"\n" } else { "" };
    let text = format!(
        "format = \"underover/chain/1\"\nname = \"Lines\"\n\n{flash}[[effect]]\nuse = \"edge-find\"\n"
    );
    fs::write(&path, text).unwrap();
    path.display().to_string()
}

/// Every file of a folder whose name holds `part`, by name; one that goes while it is looked for is not there.
fn files(folder: &Path, part: &str) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap());
    entries
        .map(|entry| entry.file_name().into_string().unwrap())
        .filter(|name| name.contains(part))
        .filter_map(|name| fs::read(folder.join(&name)).ok().map(|bytes| (name, bytes)))
        .collect()
}

const WAVES: [&str; 4] = ["--footage", "generated:waves", "--frame", "32x18"];

fn render<'a>(chain: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    [&["render", chain], WAVES.as_slice(), more].concat()
}

#[test]
fn every_form_holds_the_same_frames_at_their_beats() {
    let folder = folder();
    let chain = chain(&folder, false);
    let path = |name: &str| folder.path().join(name).display().to_string();
    // 3 beats at 120 BPM are 1.5 s: 18 frames of 12 a second, a sixth of a beat each.
    let span = ["--beats", "1..4", "--rate", "12"];
    let to = |out: &str| -> Vec<u8> { made(&render(&chain, &[span.as_slice(), &["--out", out]].concat())) };
    to(&path("frame-##.png"));
    let frames = files(folder.path(), "frame-");
    let names: Vec<String> = (1..=18).map(|n| format!("frame-{n:02}.png")).collect();
    assert_eq!(frames.keys().cloned().collect::<Vec<_>>(), names, "18 frames and no note");
    let frames: Vec<RgbaImage> =
        frames.values().map(|bytes| image::load_from_memory(bytes).unwrap().into_rgba8()).collect();
    assert!(frames.windows(2).all(|two| two[0] != two[1]), "each beat has its own picture");
    for n in [0, 7, 17] {
        let still = path("still.png");
        let beats = (1.0 + n as f64 * 120.0 / 60.0 / 12.0).to_string();
        made(&render(&chain, &["--at", &beats, "--out", &still]));
        assert_eq!(image::open(&still).unwrap().into_rgba8(), frames[n], "frame {n}");
    }

    to(&path("moving.png"));
    let file = BufReader::new(File::open(path("moving.png")).unwrap());
    let apng = PngDecoder::new(file).unwrap().apng().unwrap().into_frames().collect_frames().unwrap();
    assert_eq!(apng.len(), 18);
    for (frame, numbered) in apng.iter().zip(&frames) {
        assert_eq!(frame.buffer(), numbered);
        let [over, under] = <[u32; 2]>::from(frame.delay().numer_denom_ms());
        assert!((f64::from(over) / f64::from(under) - 1000.0 / 12.0).abs() < 1.0, "{over}/{under} ms");
    }
    // No larger than what the `png` crate writes of them by itself, one after another.
    let mut reference = Vec::new();
    let mut encoder = png::Encoder::new(&mut reference, 32, 18);
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_animated(18, 0).unwrap();
    encoder.set_frame_delay(1, 12).unwrap();
    let mut writer = encoder.write_header().unwrap();
    frames.iter().for_each(|frame| writer.write_image_data(frame).unwrap());
    writer.finish().unwrap();
    let length = fs::metadata(path("moving.png")).unwrap().len();
    assert!(length <= reference.len() as u64, "{length} bytes, {} would do", reference.len());

    to(&path("moving.y4m"));
    let film = fs::read(path("moving.y4m")).unwrap();
    assert_eq!(to("-"), film, "standard output and a file hold the same");
    let mut decoder = y4m::decode(film.as_slice()).unwrap();
    assert_eq!((decoder.get_width(), decoder.get_height()), (32, 18));
    assert_eq!((decoder.get_framerate().num, decoder.get_framerate().den), (12, 1));
    let mut planes = Vec::new();
    for numbered in &frames {
        let frame = decoder.read_frame().unwrap();
        let [y, cb, cr] = [frame.get_y_plane(), frame.get_u_plane(), frame.get_v_plane()];
        planes.extend([y, cb, cr].concat());
        for (at, texel) in numbered.pixels().enumerate() {
            let [r, g, b, _] = texel.0;
            assert_eq!([y[at], cb[at], cr[at]], from_rgb([r, g, b], Matrix::Bt601, Range::Limited));
        }
    }
    assert!(matches!(decoder.read_frame(), Err(y4m::Error::EOF)), "18 frames and no more");
    if has_ffmpeg() {
        let read = ffmpeg(&["-i", &path("moving.y4m"), "-f", "rawvideo", "-pix_fmt", "yuv444p", "-"]);
        assert!(read == planes, "ffmpeg reads the same samples");
    }
    // And back through our own reading: a byte or two are lost to the limited range.
    let back = first_frame(Path::new(&path("moving.y4m")), Frame { width: 32, height: 18 }).unwrap();
    let off = back.iter().zip(frames[0].as_raw()).map(|(a, b)| a.abs_diff(*b)).max().unwrap();
    assert!(off <= 2, "{off}");

    if !has_ffmpeg() {
        return;
    }
    for name in ["moving.mp4", "moving.mov", "moving.mkv", "moving.webm"] {
        let path = path(name);
        to(&path);
        let probe = Command::new("ffprobe")
            .args([
                "-v",
                "error",
                "-count_frames",
                "-show_entries",
                "stream=nb_read_frames,r_frame_rate",
                "-of",
                "csv=p=0",
            ])
            .arg(&path)
            .output()
            .unwrap();
        assert_eq!(String::from_utf8_lossy(&probe.stdout).trim(), "12/1,18", "{name}");
        let back = first_frame(Path::new(&path), Frame { width: 32, height: 18 }).unwrap();
        let off: u32 = back.iter().zip(frames[0].as_raw()).map(|(a, b)| u32::from(a.abs_diff(*b))).sum();
        let mean = f64::from(off) / back.len() as f64;
        assert!(mean < 12.0, "{name}: {mean}");
    }
    assert!(files(folder.path(), ".part").is_empty(), "no working file is left");
}

#[test]
fn memory_that_frames_come_back_in_serves_again_however_long_the_film() {
    let frame = Frame { width: 24, height: 10 };
    let mut renderer = Renderer::new(Gpu::open(None).unwrap());
    let mut shelf = Shelf::new(&CATALOGUE);
    let footage = FootageName::Generated("waves".to_owned());
    let mut path = |number: u32| {
        let moment = Moment::at(frame, PixelMode::Encoded8Bit, 120.0, f64::from(number) / 30.0);
        plan::Path::of_chain(&[], &footage, Fit::Whole, moment, &mut shelf).unwrap()
    };
    let folder = folder();
    let film = folder.path().join("film.y4m");
    let count = 600;
    let outline = Outline {
        frame,
        rate: "30".parse().unwrap(),
        count,
        may_be_transparent: false,
        subject: String::new(),
    };
    let writer = Writer::begin(Form::of(&film).unwrap(), &film, &outline, false).unwrap();
    let line = Line::to(writer).unwrap();
    let mut player = Player::default();
    let mut underway = VecDeque::new();
    for number in 0..count {
        let next = path(number as u32);
        underway.push_back((number, renderer.begin_several(&mut player, &[next], &[]).unwrap()));
        while underway.len() > Underway::AHEAD || number + 1 == count && !underway.is_empty() {
            let (number, before) = underway.pop_front().unwrap();
            assert!(line.put(number, renderer.finish(before).unwrap().pop().unwrap()));
        }
    }
    let ended = line.ended().unwrap();
    assert_eq!(ended.transparent, 0);
    ended.writer.finish().unwrap();
    // Header, and of each frame its word and three planes.
    let bytes = fs::read(&film).unwrap();
    let first = bytes.iter().position(|&byte| byte == b'\n').unwrap() + 1;
    assert_eq!(bytes.len() - first, count as usize * ("FRAME\n".len() + 24 * 10 * 3));
    // Those under way, those that wait for their turn to be written, and one in the hands of each processor.
    let processors = thread::available_parallelism().unwrap().get();
    let most = (2 * processors + Underway::AHEAD + 8) as u64;
    assert!(renderer.readback_buffers() <= most, "{} of {most}", renderer.readback_buffers());
}

#[test]
fn a_sample_and_its_colour_agree_both_ways() {
    for matrix in [Matrix::Bt601, Matrix::Bt709] {
        for step in 0..4096_u32 {
            let colour = [step % 16, step / 16 % 16, step / 256].map(|n| (n * 17) as u8);
            let [y, cb, cr] = from_rgb(colour, matrix, Range::Limited).map(f32::from);
            let back = rgb(y, cb, cr, matrix, Range::Limited);
            let off = back.iter().zip(colour).map(|(&a, b)| a.abs_diff(b)).max().unwrap();
            assert!(off <= 3, "{colour:?} {back:?}");
        }
    }
}

#[test]
fn a_film_on_standard_input_runs_under_a_chain() {
    let folder = folder();
    let empty = folder.path().join("none.toml");
    fs::write(&empty, "format = \"underover/chain/1\"\nname = \"Nothing\"\n").unwrap();
    let out = folder.path().join("out-##.png").display().to_string();
    let chain = empty.display().to_string();
    let arguments = [
        "render",
        &chain,
        "--footage",
        "-",
        "--frame",
        "4x4",
        "--frames",
        "12",
        "--rate",
        "10",
        "--out",
        &out,
    ];
    let mut child = program(&arguments).stdin(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(&counted("F10:1", 10)).unwrap();
    let done = child.wait_with_output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let numbers: Vec<u8> = files(folder.path(), "out-")
        .values()
        .map(|bytes| image::load_from_memory(bytes).unwrap().into_rgba8().into_raw()[0])
        .collect();
    assert_eq!(numbers, [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 9, 9]);
}

/// Starts a run and kills it (kill -9) as soon as `far_enough`.
fn killed(arguments: &[&str], far_enough: impl Fn() -> bool) {
    let mut child = program(arguments).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let began = Instant::now();
    while !far_enough() {
        assert!(child.try_wait().unwrap().is_none(), "it ended before it could be killed");
        assert!(began.elapsed() < Duration::from_secs(120), "it never began");
        thread::sleep(Duration::from_millis(1));
    }
    child.kill().unwrap();
    child.wait().unwrap();
}

#[test]
fn a_sequence_killed_in_the_middle_is_taken_up_again_to_the_byte() {
    let folder = folder();
    let chain = chain(&folder, false);
    let [cut, whole] = ["cut", "whole"].map(|name| {
        let path = folder.path().join(name);
        fs::create_dir(&path).unwrap();
        path
    });
    let out = |folder: &Path| folder.join("frame-####.png").display().to_string();
    let (cut_out, whole_out) = (out(&cut), out(&whole));
    let span = |out| render(&chain, &["--frames", "150", "--rate", "30", "--out", out]);
    killed(&span(&cut_out), || files(&cut, ".png").len() > 5);
    let left = files(&cut, "");
    let note = "frame-####.png.unfinished";
    assert!(left.contains_key(note), "a note says that frames are missing");
    let frames: BTreeMap<_, _> = left.iter().filter(|(name, _)| name.ends_with(".png")).collect();
    assert!(frames.len() < 150);
    for (name, bytes) in &frames {
        assert!(image::load_from_memory(bytes).is_ok(), "{name} is whole");
    }
    // A frame that something else has damaged since is made anew.
    fs::write(cut.join("frame-0002.png"), &left["frame-0002.png"][..60]).unwrap();
    let kept = cut.join("frame-0001.png").metadata().unwrap().modified().unwrap();
    let said = String::from_utf8(made(&span(&cut_out))).unwrap();
    assert!(said.contains("150 frames") && said.contains("from before"), "{said}");
    assert_eq!(
        cut.join("frame-0001.png").metadata().unwrap().modified().unwrap(),
        kept,
        "it was not made again"
    );
    made(&span(&whole_out));
    let finished = |folder| -> BTreeMap<_, _> {
        files(folder, "").into_iter().filter(|(name, _)| !name.ends_with(".part")).collect()
    };
    assert!(finished(&cut) == finished(&whole), "byte for byte the same, and no note");
    assert_eq!(finished(&whole).len(), 150);
}

#[test]
fn a_sequence_of_something_else_is_not_written_over_unasked() {
    let folder = folder();
    let chain = chain(&folder, false);
    let out = folder.path().join("frame-#.png").display().to_string();
    let span = |frames, more: &[&'static str]| {
        let to = ["--frames", frames, "--out", out.as_str()];
        render(&chain, &[to.as_slice(), more].concat()).into_iter().map(str::to_owned).collect::<Vec<_>>()
    };
    let words = |owned: &[String]| owned.iter().map(String::as_str).map(str::to_owned).collect::<Vec<_>>();
    let run = |owned: Vec<String>| ran(&words(&owned).iter().map(String::as_str).collect::<Vec<_>>());
    assert!(run(span("5", &[])).status.success());
    let before = files(folder.path(), "frame-");
    let done = run(span("3", &[]));
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(1));
    assert!(said.contains("frame-1.png") && said.contains("--replace"), "{said}");
    assert_eq!(files(folder.path(), "frame-"), before);
    assert!(run(span("3", &["--replace"])).status.success());
    assert_eq!(files(folder.path(), "frame-").len(), 3, "no frame of the old render stays among the new");
}

#[test]
fn a_film_killed_in_the_middle_leaves_nothing_that_looks_whole() {
    let folder = folder();
    let chain = chain(&folder, false);
    for name in ["film.apng", "film.y4m"] {
        let out = folder.path().join(name);
        fs::write(&out, "what was there before").unwrap();
        let is_begun = || files(folder.path(), ".part").values().any(|bytes| bytes.len() > 2000);
        let words = ["--frames", "5000", "--replace", "--out", out.to_str().unwrap()];
        killed(&render(&chain, &words), is_begun);
        assert_eq!(fs::read(&out).unwrap(), b"what was there before", "{name}");
        for part in files(folder.path(), ".part").keys() {
            assert!(part.starts_with(".underover-"), "{part}");
            fs::remove_file(folder.path().join(part)).unwrap();
        }
    }
}

#[cfg(unix)]
#[test]
fn control_c_tidies_up_and_says_how_far_it_came() {
    let folder = folder();
    let chain = chain(&folder, false);
    let out = folder.path().join("film.y4m");
    let arguments = render(&chain, &["--frames", "5000", "--out", out.to_str().unwrap()]);
    let child = program(&arguments).stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
    let began = Instant::now();
    while !files(folder.path(), ".part").values().any(|bytes| bytes.len() > 2000) {
        assert!(began.elapsed() < Duration::from_secs(120), "it never began");
        thread::sleep(Duration::from_millis(1));
    }
    assert!(Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success());
    let done = child.wait_with_output().unwrap();
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(1), "{said}");
    assert!(said.contains("interrupted after") && said.contains("of 5000 frames"), "{said}");
    assert!(!out.exists() && files(folder.path(), ".part").is_empty());
}

#[cfg(unix)]
#[test]
fn a_terminal_that_is_closed_tidies_up_unless_the_program_outlives_it() {
    let folder = folder();
    let chain = chain(&folder, false);
    let out = folder.path().join("film.y4m");
    let arguments = render(&chain, &["--frames", "5000", "--out", out.to_str().unwrap()]);
    let begun = |command: &mut Command| {
        let child = command.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
        let began = Instant::now();
        while !files(folder.path(), ".part").values().any(|bytes| bytes.len() > 2000) {
            assert!(began.elapsed() < Duration::from_secs(120), "it never began");
            thread::sleep(Duration::from_millis(1));
        }
        child
    };
    let told = |child: &Child, signal: &str| {
        assert!(Command::new("kill").args([signal, &child.id().to_string()]).status().unwrap().success());
    };
    let child = begun(&mut program(&arguments));
    told(&child, "-HUP");
    let done = child.wait_with_output().unwrap();
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(1), "{said}");
    assert!(said.contains("interrupted after") && said.contains("nothing was kept"), "{said}");
    assert!(!out.exists() && files(folder.path(), ".part").is_empty());
    // As `nohup` starts a program.
    let mut ignoring = Command::new("sh");
    ignoring.args(["-c", "trap '' HUP; exec \"$0\" \"$@\"", PROGRAM]).args(&arguments).stdin(Stdio::null());
    let mut child = begun(&mut ignoring);
    if cfg!(target_os = "linux") {
        told(&child, "-HUP");
        thread::sleep(Duration::from_millis(300));
        assert!(child.try_wait().unwrap().is_none(), "it goes on");
    }
    told(&child, "-TERM");
    assert_eq!(child.wait().unwrap().code(), Some(1));
    assert!(files(folder.path(), ".part").is_empty());
}

#[cfg(unix)]
#[test]
fn what_an_ended_program_left_half_written_is_cleared_away_by_the_next_and_no_other() {
    let folder = folder();
    let chain = chain(&folder, false);
    let to = |name: &str| folder.path().join(name).display().to_string();
    let long = |out: &str| {
        render(&chain, &["--frames", "100000", "--out", out])
            .into_iter()
            .map(str::to_owned)
            .collect::<Vec<_>>()
    };
    let parts = || files(folder.path(), ".part").into_keys().collect::<Vec<_>>();
    let words = long(&to("running.y4m"));
    let mut running =
        program(&words.iter().map(String::as_str).collect::<Vec<_>>()).stderr(Stdio::null()).spawn().unwrap();
    let began = Instant::now();
    let is_written = || files(folder.path(), ".part").values().any(|bytes| bytes.len() > 2000);
    while parts().len() != 1 || !is_written() {
        assert!(began.elapsed() < Duration::from_secs(120), "it never began");
        thread::sleep(Duration::from_millis(1));
    }
    let held = parts();
    for name in ["killed.y4m", "killed.apng"] {
        let words = long(&to(name));
        killed(&words.iter().map(String::as_str).collect::<Vec<_>>(), || parts().len() > 1);
    }
    // Whatever else has such a name and is no file is none of ours.
    fs::create_dir(folder.path().join(".underover-folder.part")).unwrap();
    made(&render(&chain, &["--frames", "1", "--out", &to("short.y4m")]));
    let (left, still) = (parts(), running.try_wait().unwrap());
    running.kill().unwrap();
    running.wait().unwrap();
    assert!(still.is_none(), "it is at work");
    assert_eq!(left, held, "that of the program at work stays, the others are gone");
    assert!(folder.path().join(".underover-folder.part").is_dir());
    made(&render(&chain, &["--at", "0", "--out", &to("picture.png")]));
    assert!(parts().is_empty());
}

/// A folder with an `ffmpeg` of its own, which does as this script says; the real one is `$real`.
#[cfg(unix)]
fn other_ffmpeg(folder: &Path, script: &str) -> String {
    use std::os::unix::fs::PermissionsExt;
    let path = std::env::var("PATH").unwrap();
    let real = std::env::split_paths(&path).map(|folder| folder.join("ffmpeg")).find(|file| file.is_file());
    let own = folder.join("own");
    fs::create_dir_all(&own).unwrap();
    let script = format!("#!/bin/sh\nreal='{}'\n{script}\n", real.unwrap().display());
    fs::write(own.join("ffmpeg"), script).unwrap();
    fs::set_permissions(own.join("ffmpeg"), PermissionsExt::from_mode(0o755)).unwrap();
    format!("{}:{path}", own.display())
}

#[cfg(unix)]
#[test]
fn a_film_that_is_cut_short_does_not_take_its_name() {
    if !has_ffmpeg() {
        return;
    }
    let folder = folder();
    let chain = chain(&folder, false);
    let tricks = [
        // A disk that is full after some blocks: the system refuses what goes past (setrlimit(2)).
        "trap '' XFSZ; ulimit -f 2; exec \"$real\" \"$@\"",
        // One that ends as if all were well.
        "trap '' XFSZ; ulimit -f 2; \"$real\" \"$@\" 2> /dev/null; exit 0",
        // One that loses frames without a word: 32x18 in RGB are 1728 bytes.
        "{ head -c 8640; cat > /dev/null; } | \"$real\" \"$@\"",
    ];
    for (trick, ending) in
        tricks.iter().flat_map(|trick| ["mp4", "mov", "mkv", "webm"].map(|ending| (trick, ending)))
    {
        let path = other_ffmpeg(folder.path(), trick);
        let out = folder.path().join(format!("film.{ending}"));
        fs::write(&out, "yesterday's film").unwrap();
        let words = render(&chain, &["--frames", "40", "--replace", "--out", out.to_str().unwrap()]);
        let done = program(&words).env("PATH", &path).output().unwrap();
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        assert_eq!(done.status.code(), Some(1), "{ending}, {trick}: {said}");
        assert!(said.contains(out.to_str().unwrap()), "{said}");
        assert_eq!(fs::read(&out).unwrap(), b"yesterday's film", "{ending}, {trick}");
        assert!(files(folder.path(), ".part").is_empty(), "{ending}, {trick}");
        // With room it is written, and whole.
        if trick == tricks.last().unwrap() {
            made(&words);
        }
    }
}

#[test]
fn wrong_words_are_told_before_any_work() {
    let folder = folder();
    let chain = chain(&folder, false);
    let path = |name: &str| folder.path().join(name).display().to_string();
    let (mp4, png, gif, numbered) = (path("a.mp4"), path("a.png"), path("a.gif"), path("a-###.png"));
    let cases: [(&[&str], &str); 10] = [
        (&["--out", &mp4], "--beats 0..16"),
        (&["--out", &numbered], "--beats 0..16"),
        (&["--out", "-"], "--beats 0..16"),
        (&["--out", &gif, "--frames", "3"], ".apng"),
        (&["--out", &png, "--rate", "30"], "--rate"),
        (&["--out", &png, "--frames", "0"], "whole number"),
        (&["--out", &png, "--beats", "4..4"], "0..16"),
        (&["--out", &png, "--beats", "0..4", "--at", "1"], "--at"),
        (&["--out", &png, "--beats", "0..4", "--rate", "0"], "240"),
        (&["--out", &png, "--frames", "3", "--explain"], "--explain"),
    ];
    for (words, expected) in cases {
        let said = refused(&render(&chain, words), 2);
        assert!(said.contains(expected), "{words:?}: {said}");
    }
    assert_eq!(files(folder.path(), "a").len(), 1, "only the chain is there");
}

#[test]
fn a_machine_without_ffmpeg_is_told_which_package_it_needs() {
    let folder = folder();
    let chain = chain(&folder, false);
    let without = |arguments: &[&str]| {
        let done = program(arguments).env("PATH", folder.path()).output().unwrap();
        assert_eq!(done.status.code(), Some(1));
        String::from_utf8_lossy(&done.stderr).into_owned()
    };
    let film = folder.path().join("film.mp4");
    let said = without(&render(&chain, &["--frames", "3", "--out", film.to_str().unwrap()]));
    assert!(said.contains("apt-get install ffmpeg") && said.contains("film.mp4"), "{said}");
    assert_eq!(files(folder.path(), "film").len() + files(folder.path(), ".part").len(), 0);
    fs::write(&film, b"\0\0\0\x18ftypisom\0\0\0\0").unwrap();
    let out = folder.path().join("out.png");
    let said =
        without(&["render", &chain, "--footage", film.to_str().unwrap(), "--out", out.to_str().unwrap()]);
    assert!(said.contains("apt-get install ffmpeg") && said.contains("film.mp4"), "{said}");
}

#[test]
fn a_moving_picture_that_flashes_comes_with_the_caution() {
    let folder = folder();
    for flashes in [true, false] {
        let chain = chain(&folder, flashes);
        let out = folder.path().join("film.y4m");
        let done = ran(&render(&chain, &["--frames", "2", "--out", out.to_str().unwrap()]));
        assert!(done.status.success());
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        assert_eq!(said.contains("photosensitive epilepsy"), flashes, "{said}");
    }
}
