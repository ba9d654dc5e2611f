//! One picture file: known by its content, measured by its header, decoded to 8-bit RGBA.

use std::fs::{self, File};
use std::io::{BufReader, Cursor, Read, Seek};
use std::path::{Path, PathBuf};

use image::codecs::gif::GifDecoder;
use image::codecs::jpeg::JpegDecoder;
use image::codecs::png::PngDecoder;
use image::codecs::webp::WebPDecoder;
use image::{
    AnimationDecoder, DynamicImage, Frames, ImageDecoder, ImageError, ImageFormat, Limits, RgbaImage,
};

use super::error::FootageError;
use super::limits::{MAX_DECODER_BYTES, MAX_JPEG_BYTES, MAX_SIDE};

/// A picture file whose header has been read and found within the limits.
pub(super) struct PictureFile {
    path: PathBuf,
    decoder: Decoder,
}

enum Decoder {
    Png(Box<PngDecoder<BufReader<File>>>),
    Jpeg(Box<JpegDecoder<Cursor<Vec<u8>>>>),
    WebP(Box<WebPDecoder<BufReader<File>>>),
    Gif(Box<GifDecoder<BufReader<File>>>),
}

impl PictureFile {
    /// Opens a file and reads its header, whatever its ending; no texel is decoded.
    ///
    /// # Errors
    /// Every [`FootageError`] of a single file.
    pub fn open(path: &Path) -> Result<Self, FootageError> {
        let unreadable = |source| FootageError::unreadable(path, source);
        let broken = |error| damaged(path, error);
        let found = fs::metadata(path).map_err(|e| FootageError::of_opening(path, e))?;
        if found.is_dir() {
            return Err(FootageError::Folder { path: path.to_owned() });
        }
        let mut file = BufReader::new(File::open(path).map_err(|e| FootageError::of_opening(path, e))?);
        let mut start = Vec::new();
        file.by_ref().take(PNG_HEADER_BYTES).read_to_end(&mut start).map_err(unreadable)?;
        file.rewind().map_err(unreadable)?;

        let not_a_picture = |found: String| Err(FootageError::NotAPicture { path: path.to_owned(), found });
        let decoder = match image::guess_format(&start) {
            Ok(ImageFormat::Png) => {
                if let Some((width, height)) = png_size(&start) {
                    check_size(path, width, height)?;
                }
                Decoder::Png(Box::new(PngDecoder::with_limits(file, limits()).map_err(broken)?))
            }
            Ok(ImageFormat::Jpeg) if found.len() > MAX_JPEG_BYTES => {
                return Err(FootageError::TooManyBytes { path: path.to_owned(), bytes: found.len() });
            }
            Ok(ImageFormat::Jpeg) => {
                let mut bytes = Vec::new();
                file.read_to_end(&mut bytes).map_err(unreadable)?;
                if !is_whole_jpeg(&bytes) {
                    let why = "its end-of-image marker is missing".to_owned();
                    return Err(FootageError::Damaged { path: path.to_owned(), why });
                }
                Decoder::Jpeg(Box::new(JpegDecoder::new(Cursor::new(bytes)).map_err(broken)?))
            }
            Ok(ImageFormat::WebP) => Decoder::WebP(Box::new(WebPDecoder::new(file).map_err(broken)?)),
            Ok(ImageFormat::Gif) => Decoder::Gif(Box::new(GifDecoder::new(file).map_err(broken)?)),
            _ if start.is_empty() => return not_a_picture("an empty file".to_owned()),
            Ok(other) => return not_a_picture(format!("a file of another kind ({})", other.to_mime_type())),
            Err(_) => return not_a_picture("not a picture".to_owned()),
        };
        let mut opened = Self { path: path.to_owned(), decoder };
        let (width, height) = opened.decoder().dimensions();
        check_size(path, width, height)?;
        opened.decoder_mut().set_limits(limits()).map_err(broken)?;
        Ok(opened)
    }

    /// Whether the file may hold more than one frame.
    pub fn is_animated(&self) -> bool {
        match &self.decoder {
            Decoder::Png(png) => png.is_apng().unwrap_or(false),
            Decoder::Jpeg(_) => false,
            Decoder::WebP(webp) => webp.has_animation(),
            Decoder::Gif(_) => true,
        }
    }

    /// Whether it may be transparent, as its header says.
    pub fn carries_alpha(&self) -> bool {
        self.decoder().color_type().has_alpha()
    }

    /// The picture, turned upright as its EXIF orientation says; of an animation, the first frame.
    ///
    /// Values are taken as sRGB-encoded whatever profile the file names.
    pub fn still(self) -> Result<RgbaImage, FootageError> {
        if self.is_animated() {
            let path = self.path.clone();
            let first = self.frames()?.next();
            return match first {
                Some(frame) => Ok(frame.map_err(|e| damaged(&path, e))?.into_buffer()),
                None => Err(no_frame(&path)),
            };
        }
        let broken = |error| damaged(&self.path, error);
        let decoded = match self.decoder {
            Decoder::Png(png) => upright(*png),
            Decoder::Jpeg(jpeg) => upright(*jpeg),
            Decoder::WebP(webp) => upright(*webp),
            Decoder::Gif(gif) => upright(*gif),
        };
        Ok(decoded.map_err(broken)?.into_rgba8())
    }

    /// The frames of an animation, in order, each of the animation's full size.
    pub fn frames(self) -> Result<Frames<'static>, FootageError> {
        match self.decoder {
            Decoder::Png(png) => {
                png.apng().map(AnimationDecoder::into_frames).map_err(|e| damaged(&self.path, e))
            }
            Decoder::WebP(webp) => Ok(webp.into_frames()),
            Decoder::Gif(gif) => Ok(gif.into_frames()),
            Decoder::Jpeg(_) => Err(no_frame(&self.path)),
        }
    }

    fn decoder(&self) -> &dyn ImageDecoder {
        match &self.decoder {
            Decoder::Png(png) => png.as_ref(),
            Decoder::Jpeg(jpeg) => jpeg.as_ref(),
            Decoder::WebP(webp) => webp.as_ref(),
            Decoder::Gif(gif) => gif.as_ref(),
        }
    }

    fn decoder_mut(&mut self) -> &mut dyn ImageDecoder {
        match &mut self.decoder {
            Decoder::Png(png) => png.as_mut(),
            Decoder::Jpeg(jpeg) => jpeg.as_mut(),
            Decoder::WebP(webp) => webp.as_mut(),
            Decoder::Gif(gif) => gif.as_mut(),
        }
    }
}

fn upright(mut decoder: impl ImageDecoder) -> Result<DynamicImage, ImageError> {
    let orientation = decoder.orientation()?;
    let mut picture = DynamicImage::from_decoder(decoder)?;
    picture.apply_orientation(orientation);
    Ok(picture)
}

fn limits() -> Limits {
    let mut limits = Limits::no_limits();
    limits.max_image_width = Some(MAX_SIDE);
    limits.max_image_height = Some(MAX_SIDE);
    limits.max_alloc = Some(MAX_DECODER_BYTES);
    limits
}

pub(super) fn check_size(path: &Path, width: u32, height: u32) -> Result<(), FootageError> {
    let path = path.to_owned();
    if width == 0 || height == 0 {
        return Err(FootageError::Damaged { path, why: format!("its size is {width}x{height}") });
    }
    if width.max(height) > MAX_SIDE {
        return Err(FootageError::TooLarge { path, width, height });
    }
    Ok(())
}

/// Signature, chunk length and name, width, height (W3C PNG, 5.2 and 11.2.1).
const PNG_HEADER_BYTES: u64 = 24;

/// A PNG's size as its first chunk gives it; the decoder would read on before it tells.
fn png_size(start: &[u8]) -> Option<(u32, u32)> {
    let side = |at: usize| Some(u32::from_be_bytes(start.get(at..at + 4)?.try_into().ok()?));
    Some((side(16)?, side(20)?))
}

/// Whether a JPEG runs to its end-of-image marker (ITU-T T.81, B.1.1): the decoder would fill
/// what is cut off with grey and say nothing.
fn is_whole_jpeg(bytes: &[u8]) -> bool {
    let mut at = 0;
    while let Some(&[first, second]) = bytes.get(at..at + 2) {
        at += match (first, second) {
            (0xff, 0xd9) => return true,
            // A stuffed byte, or a marker that stands alone.
            (0xff, 0x00 | 0x01 | 0xd0..=0xd8) => 2,
            // A segment: the marker, then a length that counts itself.
            (0xff, 0x02..=0xfe) => match bytes.get(at + 2..at + 4) {
                Some(&[high, low]) => 2 + usize::from(u16::from_be_bytes([high, low])),
                _ => return false,
            },
            // A fill byte, or compressed data.
            _ => 1,
        };
    }
    false
}

pub(super) fn damaged(path: &Path, error: ImageError) -> FootageError {
    let why = match error {
        ImageError::IoError(source) if source.kind() != std::io::ErrorKind::UnexpectedEof => {
            return FootageError::unreadable(path, source);
        }
        ImageError::IoError(_) => "the file ends too early".to_owned(),
        other => other.to_string(),
    };
    FootageError::Damaged { path: path.to_owned(), why }
}

pub(super) fn no_frame(path: &Path) -> FootageError {
    FootageError::Damaged { path: path.to_owned(), why: "it has no frame".to_owned() }
}
