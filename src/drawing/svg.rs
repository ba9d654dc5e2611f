//! Drawings as SVG: words and lines on a page.

use std::fmt::Write as _;
use std::io::Cursor;

use image::{ImageFormat, RgbaImage};
use resvg::{tiny_skia, usvg};
use thiserror::Error;

use super::markup::escaped;
use super::text::FONTS;
use crate::base::coding::ColourCode;

/// The typefaces of a drawing: the first that the reader's system has.
pub(crate) const FACES: &str = "Ubuntu, 'Noto Sans', 'DejaVu Sans', Helvetica, Arial, sans-serif";
/// Widest average advance of the faces that a printer may put in, in em.
const ADVANCE: f64 = 0.56;

/// Elements of a drawing, in the order drawn; lengths are millimetres.
#[derive(Debug, Default)]
pub(crate) struct Drawing {
    /// Its elements.
    pub(crate) body: String,
}

impl Drawing {
    /// One line of words from a point on its baseline.
    pub(crate) fn text(&mut self, at: [f64; 2], size: f64, style: &str, words: &str) {
        let [x, y] = at;
        let _ = writeln!(
            self.body,
            "<text x=\"{x:.2}\" y=\"{y:.2}\" font-size=\"{size}\" {style}>{}</text>",
            escaped(words)
        );
    }

    /// Lines of words from `at` on, wrapped; the y of the line after them.
    pub(crate) fn wrapped(&mut self, at: [f64; 2], width: f64, size: f64, style: &str, words: &str) -> f64 {
        let [x, mut y] = at;
        for line in lines(words, (width / (size * ADVANCE)) as usize) {
            self.text([x, y], size, style, &line);
            y += size * 1.35;
        }
        y
    }

    /// A straight line.
    pub(crate) fn line(&mut self, from: [f64; 2], to: [f64; 2], width: f64, colour: &str) {
        let _ = writeln!(
            self.body,
            "<line x1=\"{:.2}\" y1=\"{:.2}\" x2=\"{:.2}\" y2=\"{:.2}\" stroke=\"{colour}\" stroke-width=\"{width}\"/>",
            from[0], from[1], to[0], to[1]
        );
    }

    /// A rectangle.
    /// The stripe of what a person gave a colour, so high, with its top left corner here; its name stands beside it.
    pub(crate) fn stripe(&mut self, at: [f64; 2], height: f64, colour: Option<ColourCode>) {
        if let Some(colour) = colour {
            let style = format!("fill=\"{}\" stroke=\"#808080\" stroke-width=\"0.1\"", colour.colour());
            self.frame(at, [1.6, height], 0.3, &style);
        }
    }

    pub(crate) fn frame(&mut self, at: [f64; 2], size: [f64; 2], radius: f64, style: &str) {
        let _ = writeln!(
            self.body,
            "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"{:.2}\" height=\"{:.2}\" rx=\"{radius}\" {style}/>",
            at[0], at[1], size[0], size[1]
        );
    }
}

/// Why a drawing could not be made into a picture.
#[derive(Debug, Error)]
pub enum DrawnError {
    /// Its text does not read as a drawing.
    #[error("the drawing does not read: {0}")]
    Drawing(#[from] usvg::Error),
    /// It is too large for memory.
    #[error("a picture of {width}x{height} is too large")]
    TooLarge {
        /// Its width, in texels.
        width: u32,
        /// Its height, in texels.
        height: u32,
    },
    /// It could not be written as PNG.
    #[error("the picture could not be made into a PNG: {0}")]
    Png(#[from] image::ImageError),
}

/// A drawing as a PNG of so many texels across, its words in the faces that travel inside the program.
///
/// # Errors
/// [`DrawnError`] for a text that is no drawing, and where there is no room for it.
pub(crate) fn png(svg: &str, width: u32) -> Result<Vec<u8>, DrawnError> {
    let mut options = usvg::Options { font_family: "Ubuntu".to_owned(), ..usvg::Options::default() };
    let faces = options.fontdb_mut();
    for (_, face) in FONTS {
        faces.load_font_data(face.to_vec());
    }
    let tree = usvg::Tree::from_str(svg, &options)?;
    let scale = width as f32 / tree.size().width();
    let height = (tree.size().height() * scale).round() as u32;
    let too_large = || DrawnError::TooLarge { width, height };
    let mut page = tiny_skia::Pixmap::new(width, height).ok_or_else(too_large)?;
    resvg::render(&tree, tiny_skia::Transform::from_scale(scale, scale), &mut page.as_mut());
    // The page under a sheet is opaque, so that its texels are the same with and without alpha multiplied in.
    let page = RgbaImage::from_raw(width, height, page.take()).ok_or_else(too_large)?;
    let mut bytes = Cursor::new(Vec::new());
    page.write_to(&mut bytes, ImageFormat::Png)?;
    Ok(bytes.into_inner())
}

/// Words in lines of at most this many characters; a longer word is broken.
pub(crate) fn lines(words: &str, most: usize) -> Vec<String> {
    let most = most.max(1);
    let mut lines = vec![String::new()];
    let mut used = 0;
    for word in words.split_whitespace() {
        let mut rest: Vec<char> = word.chars().collect();
        while !rest.is_empty() {
            let gap = usize::from(used > 0);
            if used + gap + rest.len() > most && used > 0 {
                lines.push(String::new());
                used = 0;
                continue;
            }
            let taken: Vec<char> = rest.drain(..rest.len().min(most)).collect();
            if let Some(line) = lines.last_mut() {
                if gap > 0 {
                    line.push(' ');
                }
                line.extend(&taken);
            }
            used += gap + taken.len();
        }
    }
    lines
}
