//! Footage files: what each format gives, which frame shows when, how a picture is fitted, and what each
//! error says. Files are written with the `image` crate's encoders, or byte by byte from the format's
//! specification.

use crate::shared::CATALOGUE;
use std::fs;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use image::codecs::gif::{GifEncoder, Repeat};
use image::codecs::jpeg::JpegEncoder;
use image::{Delay, DynamicImage, Frame as GifFrame, ImageBuffer, ImageFormat, Luma, Rgba, RgbaImage};
use tempfile::TempDir;
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::beat::Moment;
use underover::catalogue::Catalogue;
use underover::footage::{Shelf, Shown};
use underover::show::clip::{Fit, FootageName, Play};

const RED: Rgba<u8> = Rgba([255, 0, 0, 255]);
const GREEN: Rgba<u8> = Rgba([0, 255, 0, 255]);
const BLUE: Rgba<u8> = Rgba([0, 0, 255, 255]);
const WHITE: Rgba<u8> = Rgba([255; 4]);
const CLEAR: Rgba<u8> = Rgba([0; 4]);

fn folder() -> TempDir {
    tempfile::tempdir().unwrap()
}

fn shelf() -> Shelf {
    Shelf::new(&CATALOGUE)
}

/// At 60 BPM a beat is a second.
fn moment(width: u32, height: u32, seconds: f64) -> Moment {
    let frame = Frame { width, height };
    Moment::at(frame, PixelMode::Encoded8Bit, 60.0, seconds)
}

fn at(shelf: &mut Shelf, path: &Path, fit: Fit, moment: &Moment) -> Arc<Picture> {
    let footage = FootageName::parsed(path.to_str().unwrap(), Path::new(""));
    match shelf.shown(&footage, fit, &Play::default(), moment).unwrap_or_else(|e| panic!("{e}")) {
        Shown::Pixels(picture) => picture,
        _ => panic!("a file gives pixels"),
    }
}

fn shown(path: &Path, fit: Fit, width: u32, height: u32) -> Arc<Picture> {
    at(&mut shelf(), path, fit, &moment(width, height, 0.0))
}

fn refused(path: &Path) -> String {
    let footage = FootageName::parsed(path.to_str().unwrap(), Path::new(""));
    let error =
        shelf().shown(&footage, Fit::Whole, &Play::default(), &moment(4, 4, 0.0)).unwrap_err().to_string();
    assert!(!error.contains('\n'), "{error}");
    error
}

fn texels(picture: &Picture) -> Vec<Rgba<u8>> {
    picture.rgba.chunks(4).map(|t| Rgba(t.try_into().unwrap())).collect()
}

fn texel(picture: &Picture, x: u32, y: u32) -> Rgba<u8> {
    texels(picture)[(y * picture.frame.width + x) as usize]
}

/// Every channel varies; left and right, top and bottom differ.
fn sample(width: u32, height: u32) -> RgbaImage {
    RgbaImage::from_fn(width, height, |x, y| {
        Rgba([(x * 37 + y * 5) as u8, (y * 53 + x) as u8, (x * y * 11 + 90) as u8, 255])
    })
}

fn row(colours: &[Rgba<u8>]) -> RgbaImage {
    RgbaImage::from_fn(colours.len() as u32, 1, |x, _| colours[x as usize])
}

fn encoded(picture: &DynamicImage, format: ImageFormat) -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

fn jpeg(picture: RgbaImage) -> Vec<u8> {
    let mut bytes = Vec::new();
    let rgb = DynamicImage::from(picture).to_rgb8();
    JpegEncoder::new_with_quality(&mut bytes, 100).encode_image(&rgb).unwrap();
    bytes
}

fn gif(frames: &[(Rgba<u8>, u64)]) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = GifEncoder::new(&mut bytes);
    encoder.set_repeat(Repeat::Infinite).unwrap();
    for &(colour, milliseconds) in frames {
        let delay = Delay::from_saturating_duration(Duration::from_millis(milliseconds));
        let picture = RgbaImage::from_pixel(4, 4, colour);
        encoder.encode_frame(GifFrame::from_parts(picture, 0, 0, delay)).unwrap();
    }
    drop(encoder);
    bytes
}

/// The checksum of W3C PNG, annex D.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, &byte| {
        (0..8).fold(crc ^ u32::from(byte), |c, _| if c & 1 == 1 { (c >> 1) ^ 0xedb8_8320 } else { c >> 1 })
    })
}

/// A PNG chunk: length, name, data, checksum (W3C PNG, 5.3).
fn png_chunk(name: &[u8; 4], data: &[u8]) -> Vec<u8> {
    let body = [name.as_slice(), data].concat();
    [&(data.len() as u32).to_be_bytes(), body.as_slice(), &crc32(&body).to_be_bytes()].concat()
}

/// An 8-bit RGBA PNG that ends after its header chunk (W3C PNG, 5.2 and 11.2.1).
fn png_header(width: u32, height: u32) -> Vec<u8> {
    let data = [&width.to_be_bytes()[..], &height.to_be_bytes(), &[8, 6, 0, 0, 0]].concat();
    [b"\x89PNG\r\n\x1a\n".as_slice(), &png_chunk(b"IHDR", &data)].concat()
}

#[test]
fn lossless_stills_keep_every_byte_whatever_the_ending() {
    let folder = folder();
    let mut picture = sample(7, 5);
    picture.put_pixel(2, 3, Rgba([200, 100, 50, 128]));
    let path = folder.path().join("sea.jpg");
    for format in [ImageFormat::Png, ImageFormat::WebP] {
        fs::write(&path, encoded(&picture.clone().into(), format)).unwrap();
        for fit in Fit::ALL {
            let shown = shown(&path, fit, 7, 5);
            assert_eq!(shown.rgba, *picture.as_raw(), "{format:?} {fit:?}");
            assert!(!shown.opaque);
        }
    }
    fs::write(&path, gif(&[(BLUE, 100)])).unwrap();
    let shown = shown(&path, Fit::Whole, 4, 4);
    assert_eq!(texels(&shown), [BLUE; 16]);
    assert!(shown.opaque);
}

#[test]
fn a_jpeg_comes_close_to_what_was_written() {
    let folder = folder();
    let path = folder.path().join("sea.png");
    fs::write(&path, jpeg(RgbaImage::from_pixel(16, 16, Rgba([200, 90, 30, 255])))).unwrap();
    for Rgba([r, g, b, a]) in texels(&shown(&path, Fit::Whole, 16, 16)) {
        // Two steps: the colour transform and the quantiser each round once.
        assert!(r.abs_diff(200) <= 2 && g.abs_diff(90) <= 2 && b.abs_diff(30) <= 2, "{r} {g} {b}");
        assert_eq!(a, 255);
    }
}

#[test]
fn sixteen_bits_and_grey_become_eight_bits_and_rgba() {
    let folder = folder();
    let path = folder.path().join("grey.png");
    let levels = [0_u16, 128, 129, 257, 32_768, 65_535];
    ImageBuffer::<Luma<u16>, _>::from_fn(6, 1, |x, _| Luma([levels[x as usize]])).save(&path).unwrap();
    // W3C PNG, 13.12: the nearest of v * 255 / 65535.
    let expected = [0, 0, 1, 1, 128, 255].map(|v| Rgba([v, v, v, 255]));
    assert_eq!(texels(&shown(&path, Fit::Whole, 6, 1)), expected);
}

#[test]
fn a_jpeg_is_turned_upright_as_its_exif_says() {
    let folder = folder();
    let path = folder.path().join("turned.jpg");
    let plain = jpeg(RgbaImage::from_fn(32, 16, |x, _| if x < 16 { RED } else { BLUE }));
    // An APP1 segment after the start of image, with one tag: 0x0112 (orientation) = 6, "the 0th row is
    // the visual right-hand side" (Exif 2.32, 4.6.4): the left of the file is the top.
    let exif = b"Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0";
    let length = (exif.len() as u16 + 2).to_be_bytes();
    fs::write(&path, [&plain[..2], &[0xff, 0xe1], &length, exif, &plain[2..]].concat()).unwrap();
    let shown = shown(&path, Fit::Centred, 16, 32);
    let (top, bottom) = (texel(&shown, 8, 4), texel(&shown, 8, 28));
    assert!(top.0[0] > 240 && bottom.0[2] > 240, "{top:?} {bottom:?}");
    assert!(shown.opaque, "the upright picture fills the upright frame");
}

#[test]
fn a_gif_shows_its_frames_by_their_delays_and_loops() {
    let folder = folder();
    let path = folder.path().join("lamps.gif");
    fs::write(&path, gif(&[(RED, 100), (GREEN, 300), (BLUE, 50)])).unwrap();
    let mut shelf = shelf();
    // By hand: red from 0, green from 0.1, blue from 0.4, and round again at 0.45 s.
    let expected = [
        (0.0, RED),
        (0.099, RED),
        (0.1, GREEN),
        (0.399, GREEN),
        (0.4, BLUE),
        (0.449, BLUE),
        (0.45, RED),
        (0.55, GREEN),
        (4500.0, RED),
        (4500.42, BLUE),
        (-0.01, BLUE),
    ];
    for (seconds, colour) in expected {
        let picture = at(&mut shelf, &path, Fit::Whole, &moment(4, 4, seconds));
        assert_eq!(texel(&picture, 1, 2), colour, "{seconds} s");
    }
}

#[test]
fn a_frame_of_no_duration_lasts_a_tenth_of_a_second() {
    // Common practice, no source.
    let folder = folder();
    let path = folder.path().join("lamps.gif");
    fs::write(&path, gif(&[(RED, 0), (BLUE, 0)])).unwrap();
    let mut shelf = shelf();
    for (seconds, colour) in [(0.05, RED), (0.15, BLUE), (0.25, RED)] {
        let picture = at(&mut shelf, &path, Fit::Whole, &moment(4, 4, seconds));
        assert_eq!(texel(&picture, 0, 0), colour, "{seconds} s");
    }
}

#[test]
fn an_animated_png_shows_its_frames_too() {
    // W3C PNG, third edition, 11.3.6: acTL, then fcTL and IDAT, then fcTL and fdAT. One texel; a stored
    // deflate block (RFC 1951, 3.2.4) in a zlib stream (RFC 1950) holds filter 0 and RGBA.
    let zlib = |Rgba([r, g, b, a]): Rgba<u8>| {
        let raw = [0, r, g, b, a];
        let (low, high) = raw.iter().fold((1_u32, 0_u32), |(low, high), &byte| {
            let low = (low + u32::from(byte)) % 65_521;
            (low, (high + low) % 65_521)
        });
        [&[0x78, 0x01, 1, 5, 0, 0xfa, 0xff], raw.as_slice(), &((high << 16) | low).to_be_bytes()].concat()
    };
    let control = |number: u32| {
        let mut data: Vec<u8> = [number, 1, 1, 0, 0].iter().flat_map(|v| v.to_be_bytes()).collect();
        data.extend([0, 2, 0, 10, 0, 0]); // shown for 2/10 of a second
        png_chunk(b"fcTL", &data)
    };
    let folder = folder();
    let path = folder.path().join("lamps.png");
    let chunks = [
        png_header(1, 1),
        png_chunk(b"acTL", &[0, 0, 0, 2, 0, 0, 0, 0]),
        control(0),
        png_chunk(b"IDAT", &zlib(RED)),
        control(1),
        png_chunk(b"fdAT", &[vec![0, 0, 0, 2], zlib(BLUE)].concat()),
        png_chunk(b"IEND", &[]),
    ];
    fs::write(&path, chunks.concat()).unwrap();
    let mut shelf = shelf();
    for (seconds, colour) in [(0.1, RED), (0.3, BLUE), (0.5, RED)] {
        let picture = at(&mut shelf, &path, Fit::Whole, &moment(1, 1, seconds));
        assert_eq!(texel(&picture, 0, 0), colour, "{seconds} s");
    }
}

#[test]
fn a_sequence_runs_at_25_pictures_a_second_and_loops() {
    let folder = folder();
    let save =
        |name: &str, colour| RgbaImage::from_pixel(2, 2, colour).save(folder.path().join(name)).unwrap();
    // Across the end of the padded width.
    save("sea-9998.png", RED);
    save("sea-9999.png", GREEN);
    save("sea-10000.png", BLUE);
    save("sea-10001.png", WHITE);
    // Not members: padded wider than it would be written, and another word.
    save("sea-09997.png", CLEAR);
    fs::write(folder.path().join("sea-old.png"), "no picture").unwrap();
    let path = folder.path().join("sea-####.png");
    let mut shelf = shelf();
    for (frame, colour) in [(0, RED), (1, GREEN), (2, BLUE), (3, WHITE), (4, RED), (7_250_002, BLUE)] {
        let picture = at(&mut shelf, &path, Fit::Whole, &moment(2, 2, f64::from(frame) / 25.0));
        assert_eq!(texel(&picture, 1, 1), colour, "frame {frame}");
    }
}

#[test]
fn a_file_with_a_hash_in_its_name_is_a_file() {
    let folder = folder();
    let path = folder.path().join("pier #1.png");
    RgbaImage::from_pixel(1, 1, BLUE).save(&path).unwrap();
    assert_eq!(texels(&shown(&path, Fit::Whole, 1, 1)), [BLUE]);
}

#[test]
fn centre_keeps_texels_and_pads_or_cuts() {
    let folder = folder();
    let path = folder.path().join("row.png");
    row(&[RED, GREEN, BLUE]).save(&path).unwrap();
    // By hand; where the room is odd, the texel too many is at the right or at the bottom.
    assert_eq!(texels(&shown(&path, Fit::Centred, 1, 1)), [GREEN]);
    assert_eq!(texels(&shown(&path, Fit::Centred, 2, 1)), [GREEN, BLUE]);
    assert_eq!(texels(&shown(&path, Fit::Centred, 6, 1)), [CLEAR, RED, GREEN, BLUE, CLEAR, CLEAR]);
    let padded = shown(&path, Fit::Centred, 3, 3);
    assert_eq!(texels(&padded), [[CLEAR; 3], [RED, GREEN, BLUE], [CLEAR; 3]].concat());
    assert!(!padded.opaque);
}

#[test]
fn fit_shows_all_of_the_picture_between_transparent_bars() {
    let folder = folder();
    let path = folder.path().join("wide.png");
    RgbaImage::from_pixel(8, 4, BLUE).save(&path).unwrap();
    let bars = shown(&path, Fit::Contained, 4, 4);
    assert_eq!(texels(&bars), [[CLEAR; 4], [BLUE; 4], [BLUE; 4], [CLEAR; 4]].concat());
    assert!(!bars.opaque);
    let enlarged = shown(&path, Fit::Contained, 18, 8);
    assert_eq!([texel(&enlarged, 0, 3), texel(&enlarged, 17, 3)], [CLEAR; 2]);
    assert_eq!([texel(&enlarged, 1, 0), texel(&enlarged, 16, 7)], [BLUE; 2]);
}

#[test]
fn fill_covers_the_frame_from_the_middle() {
    let folder = folder();
    let path = folder.path().join("banner.png");
    // Red, blue and green thirds: a square frame sees the blue third alone.
    RgbaImage::from_fn(12, 4, |x, _| [RED, BLUE, GREEN][x as usize / 4]).save(&path).unwrap();
    for (side, margin) in [(4, 0), (16, 4)] {
        // Enlarged, the kernel reaches over the cut by two texels of the file: only the middle is plain.
        let filled = shown(&path, Fit::Whole, side, side);
        assert!(filled.opaque);
        for (i, colour) in texels(&filled).into_iter().enumerate() {
            let x = i as u32 % side;
            assert!(colour == BLUE || x < 2 * margin || x >= side - 2 * margin, "{x} {colour:?}");
        }
        assert!(texel(&filled, side / 2, side / 2).0[2] > 250);
    }
}

#[test]
fn stretch_uses_all_of_the_picture() {
    let folder = folder();
    let path = folder.path().join("halves.png");
    RgbaImage::from_fn(16, 2, |x, _| if x < 8 { RED } else { BLUE }).save(&path).unwrap();
    let tall = shown(&path, Fit::Stretched, 4, 8);
    assert_eq!([texel(&tall, 0, 0), texel(&tall, 3, 7)], [RED, BLUE]);
}

#[test]
fn resizing_agrees_with_another_implementation_of_the_same_kernel() {
    // `image::imageops::resize`, Catmull-Rom. Two steps of 255: it rounds once, ours once each way. The
    // jumpy picture stays clear of 0 and 255, where ours clamps an overshoot between the two ways.
    use image::imageops::{FilterType, resize};
    let folder = folder();
    let path = folder.path().join("sample.png");
    let smooth =
        RgbaImage::from_fn(40, 30, |x, y| Rgba([(x * 6) as u8, (y * 8) as u8, ((x + y) * 3) as u8, 255]));
    let mut jumpy = sample(40, 30);
    jumpy.pixels_mut().for_each(|t| t.0[..3].iter_mut().for_each(|v| *v = 64 + *v / 2));
    for picture in [smooth, jumpy] {
        picture.save(&path).unwrap();
        for (width, height) in [(20, 15), (13, 29), (80, 60), (97, 31)] {
            let expected = resize(&picture, width, height, FilterType::CatmullRom);
            let ours = shown(&path, Fit::Stretched, width, height);
            let largest = ours.rgba.iter().zip(expected.as_raw()).map(|(a, b)| a.abs_diff(*b)).max();
            assert!(largest <= Some(2), "{width}x{height}: {largest:?}");
        }
    }
}

#[test]
fn the_colour_under_a_transparent_texel_does_not_bleed() {
    let folder = folder();
    let path = folder.path().join("mark.png");
    // White on a clear ground that hides pure red.
    RgbaImage::from_fn(16, 16, |x, _| if x < 8 { WHITE } else { Rgba([255, 0, 0, 0]) }).save(&path).unwrap();
    for side in [5, 37] {
        let seen = texels(&shown(&path, Fit::Stretched, side, side));
        assert!(seen.iter().any(|t| t.0[3] > 0 && t.0[3] < 255), "there is a soft edge");
        for texel in seen {
            // Under 8 of 255 alpha one rounding step is many steps of straight colour.
            assert!(texel.0[3] < 8 || (texel.0[1] >= 240 && texel.0[2] >= 240), "{texel:?}");
        }
    }
}

#[test]
fn pictures_and_frames_of_any_proportions_are_fitted() {
    let folder = folder();
    let path = folder.path().join("sliver.png");
    for (w, h) in [(1, 1), (3000, 1), (1, 3000), (7, 5)] {
        RgbaImage::from_pixel(w, h, GREEN).save(&path).unwrap();
        for fit in Fit::ALL {
            for (width, height) in [(1, 1), (1, 900), (900, 1), (64, 36)] {
                let seen = texels(&shown(&path, fit, width, height));
                assert_eq!(seen.len(), (width * height) as usize);
                assert!(seen.contains(&GREEN), "{w}x{h} {fit:?} {width}x{height}");
                assert!(seen.iter().all(|t| *t == GREEN || *t == CLEAR));
            }
        }
    }
}

#[test]
fn the_same_picture_is_made_once() {
    let folder = folder();
    let path = folder.path().join("sea.png");
    sample(8, 8).save(&path).unwrap();
    let mut shelf = shelf();
    let first = at(&mut shelf, &path, Fit::Whole, &moment(4, 4, 0.0));
    let again = at(&mut shelf, &path, Fit::Whole, &moment(4, 4, 9.0));
    assert!(Arc::ptr_eq(&first, &again));
    assert_ne!(first, at(&mut shelf, &path, Fit::Centred, &moment(4, 4, 0.0)));
}

#[test]
fn a_picture_past_the_limit_is_refused_from_its_header_at_once() {
    let folder = folder();
    let path = folder.path().join("poster.png");
    let whole = [png_header(30_000, 30_000), png_chunk(b"IDAT", &[0x78, 0x01])].concat();
    for (bytes, size) in [
        (png_header(30_000, 30_000), "30000x30000"),
        (whole, "30000x30000"),
        (png_header(16_385, 1), "16385x1"),
    ] {
        fs::write(&path, bytes).unwrap();
        let mut shelf = shelf();
        let footage = FootageName::parsed("poster.png", folder.path());
        let start = Instant::now();
        let error =
            shelf.shown(&footage, Fit::Whole, &Play::default(), &moment(4, 4, 0.0)).unwrap_err().to_string();
        assert!(start.elapsed() < Duration::from_millis(100), "{:?}", start.elapsed());
        assert!(error.contains(&format!("poster.png is {size} texels")), "{error}");
        assert!(error.contains("up to 16384x16384"), "{error}");
        assert_eq!(shelf.check(&footage).unwrap_err().to_string(), error);
    }
    // A GIF's screen has 16 bits a side (GIF89a, 18).
    let mut bytes = gif(&[(RED, 100)]);
    bytes[6..10].fill(0xff);
    fs::write(&path, bytes).unwrap();
    assert!(refused(&path).contains("65535x65535"));
}

#[test]
fn a_missing_file_or_folder_gives_the_nearest_name() {
    let folder = folder();
    RgbaImage::from_pixel(1, 1, RED).save(folder.path().join("harbour.png")).unwrap();
    fs::create_dir(folder.path().join("frames")).unwrap();
    for (path, said) in [
        ("harbor.png", ["there is no file", "harbor.png`; did you mean `harbour.png`?"]),
        ("frame/sea.png", ["there is no folder", "did you mean `frames`?"]),
        ("frame/sea-##.png", ["there is no folder", "a relative path starts from"]),
        ("harbour.png/sea.png", ["there is no file", "harbour.png` is a file, not a folder"]),
        ("harbour.png/sea-##.png", ["there is no file", "harbour.png` is a file, not a folder"]),
        ("frames", ["frames is a folder; name a picture in it", "sea-####.png"]),
        ("sky.png", ["there is no file", "name a picture"]),
    ] {
        let error = refused(&folder.path().join(path));
        assert!(said.iter().all(|part| error.contains(part)), "{error}");
    }
}

#[test]
fn what_is_no_picture_is_told_from_what_is_damaged() {
    let folder = folder();
    let path = folder.path().join("sea.png");
    for (bytes, found) in [
        (b"".as_slice(), "sea.png is an empty file"),
        (b"format = \"underover/show/1\"", "sea.png is not a picture"),
        (b"BM\x3a\0\0\0\0\0\0\0", "sea.png is a file of another kind (image/bmp)"),
    ] {
        fs::write(&path, bytes).unwrap();
        let error = refused(&path);
        assert!(error.contains(found) && error.contains("PNG, JPEG, WebP or GIF"), "{error}");
    }
}

/// One small file of each format.
fn one_of_each() -> [(&'static str, Vec<u8>); 4] {
    let picture = DynamicImage::from(sample(24, 24));
    [
        ("PNG", encoded(&picture, ImageFormat::Png)),
        ("JPEG", jpeg(sample(24, 24))),
        ("WebP", encoded(&picture, ImageFormat::WebP)),
        ("GIF", gif(&[(RED, 100), (BLUE, 100)])),
    ]
}

#[test]
fn a_file_cut_short_says_so() {
    let folder = folder();
    let path = folder.path().join("sea.bin");
    for (name, bytes) in one_of_each() {
        for kept in [16, bytes.len() / 2, bytes.len() * 3 / 4] {
            fs::write(&path, &bytes[..kept]).unwrap();
            let error = refused(&path);
            assert!(error.contains("sea.bin is damaged or cut short"), "{name} after {kept} bytes: {error}");
            assert!(error.contains("export it again"), "{error}");
        }
    }
}

#[test]
fn a_damaged_byte_is_never_a_panic() {
    let folder = folder();
    let path = folder.path().join("sea.bin");
    let footage = FootageName::parsed("sea.bin", folder.path());
    for (_, whole) in one_of_each() {
        for at in 0..whole.len().min(200) {
            let mut bytes = whole.clone();
            bytes[at] ^= 0xff;
            fs::write(&path, bytes).unwrap();
            let _ = shelf().shown(&footage, Fit::Whole, &Play::default(), &moment(4, 4, 0.0));
        }
    }
}

#[test]
fn a_gap_names_the_first_missing_file() {
    let folder = folder();
    for number in [3, 4, 6, 9] {
        let path = folder.path().join(format!("sea-{number:03}.png"));
        RgbaImage::from_pixel(1, 1, RED).save(path).unwrap();
    }
    for (path, said) in [
        ("sea-###.png", ["has a gap", "runs from 3 to 9, but there is no sea-005.png"]),
        ("sea-####.png", ["no file is named like", "did you mean `sea-###.png`?"]),
        ("lake-####.png", ["no file is named like", "stands for a digit"]),
    ] {
        let error = refused(&folder.path().join(path));
        assert!(said.iter().all(|part| error.contains(part)), "{error}");
    }
}

#[test]
fn a_damaged_member_of_a_sequence_is_named_itself() {
    let folder = folder();
    RgbaImage::from_pixel(1, 1, RED).save(folder.path().join("sea-1.png")).unwrap();
    fs::write(folder.path().join("sea-2.png"), "no picture").unwrap();
    let footage = FootageName::parsed("sea-#.png", folder.path());
    let mut shelf = shelf();
    assert!(shelf.shown(&footage, Fit::Whole, &Play::default(), &moment(1, 1, 0.0)).is_ok());
    let error =
        shelf.shown(&footage, Fit::Whole, &Play::default(), &moment(1, 1, 0.04)).unwrap_err().to_string();
    assert!(error.contains("sea-2.png is not a picture"), "{error}");
}

#[test]
fn checking_finds_what_a_header_tells() {
    let folder = folder();
    sample(4, 4).save(folder.path().join("sea.png")).unwrap();
    fs::write(folder.path().join("note.png"), "no picture").unwrap();
    let mut shelf = shelf();
    let mut check = |written: &str| shelf.check(&FootageName::parsed(written, folder.path()));
    for right in ["sea.png", "generated:harbour"] {
        check(right).unwrap_or_else(|e| panic!("{e}"));
    }
    for wrong in ["note.png", "se.png", "sea-##.png", "generated:harbor"] {
        assert!(check(wrong).is_err(), "{wrong}");
    }
}

#[test]
fn a_generated_source_is_a_call_that_follows_the_beat() {
    let mut shelf = shelf();
    let mut at_beat = |written: &str, beats: f64| {
        let footage = FootageName::parsed(written, Path::new(""));
        shelf.shown(&footage, Fit::Whole, &Play::default(), &moment(4, 4, beats))
    };
    let Shown::Generated { call, opaque } = at_beat("generated:waves", 0.0).unwrap() else {
        panic!("a generated source has no pixels here");
    };
    assert_eq!(call.effect.name, "waves");
    assert!(opaque);
    assert_ne!(at_beat("generated:waves", 0.0).unwrap(), at_beat("generated:waves", 0.5).unwrap());
    let error = at_beat("generated:wave", 0.0).unwrap_err().to_string();
    assert!(error.contains("did you mean `waves`?"), "{error}");
}

#[test]
fn the_ship_mark_alone_has_alpha() {
    let catalogue = Catalogue::built_in().unwrap();
    let clear: Vec<&str> =
        catalogue.sources().iter().filter(|s| !s.opaque).map(|s| s.name.as_str()).collect();
    assert_eq!(clear, ["ship-mark"]);
}

#[test]
fn footage_is_named_as_files_write_it() {
    let folder = Path::new("shows");
    let generated = FootageName::Generated("waves".to_owned());
    assert_eq!(FootageName::parsed("generated:waves", folder), generated);
    let written = "frames/sea-####.png";
    let file = FootageName::File { written: written.to_owned(), path: folder.join(written) };
    assert_eq!(FootageName::parsed(written, folder), file);
}
