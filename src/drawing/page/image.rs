//! Pictures that travel inside a page.

use std::io::Cursor;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ImageFormat, RgbaImage, imageops};
use thiserror::Error;

use crate::drawing::markup::escaped;

/// How closely pictures are packed, where they need not be kept to the byte.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Packing {
    /// The quality of a JPEG, of a hundred.
    pub quality: u8,
    /// Columns that are kept at most.
    pub widest: u32,
}

impl Packing {
    /// The first as pictures should be, each after it smaller than the one before. At 88 no difference is seen beside
    /// the original, at 75 hardly any (common practice, no source).
    pub const ALL: [Self; 5] = [
        Self { quality: 88, widest: u32::MAX },
        Self { quality: 82, widest: u32::MAX },
        Self { quality: 75, widest: u32::MAX },
        Self { quality: 75, widest: 480 },
        Self { quality: 60, widest: 320 },
    ];
}

/// A picture as a page holds it, with words for those who do not see it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Image {
    uri: String,
    alt: String,
    size: (u32, u32),
}

/// A picture that no page can hold.
#[derive(Debug, Error)]
#[error("a picture for the page could not be encoded: {0}")]
pub struct ImageError(#[from] image::ImageError);

impl Image {
    /// A picture of straight alpha, sRGB-encoded. `alt` says in words what it shows.
    ///
    /// # Errors
    /// [`ImageError`] for a picture without texels.
    pub fn of(picture: &RgbaImage, alt: &str) -> Result<Self, ImageError> {
        Self::packed(picture, alt, Packing::ALL[0])
    }

    /// The same packed otherwise; it is shown as large.
    ///
    /// # Errors
    /// [`ImageError`] for a picture without texels.
    pub fn packed(picture: &RgbaImage, alt: &str, packing: Packing) -> Result<Self, ImageError> {
        let size = picture.dimensions();
        let kept = if size.0 > packing.widest {
            let height = u64::from(size.1) * u64::from(packing.widest) / u64::from(size.0);
            imageops::thumbnail(picture, packing.widest, (height as u32).max(1))
        } else {
            picture.clone()
        };
        let is_opaque = kept.pixels().all(|texel| texel.0[3] == 255);
        let whole = DynamicImage::ImageRgba8(kept);
        let opaque = DynamicImage::ImageRgb8(whole.to_rgb8());
        // Without loss: flat pictures are small this way, and alpha is kept.
        let mut kept = Vec::new();
        let exact = if is_opaque { &opaque } else { &whole };
        exact.write_to(&mut Cursor::new(&mut kept), ImageFormat::WebP)?;
        let mut kind = "webp";
        if is_opaque {
            let mut jpeg = Vec::new();
            opaque.write_with_encoder(JpegEncoder::new_with_quality(&mut jpeg, packing.quality))?;
            if jpeg.len() < kept.len() {
                (kept, kind) = (jpeg, "jpeg");
            }
        }
        let uri = format!("data:image/{kind};base64,{}", STANDARD.encode(kept));
        Ok(Self { uri, alt: alt.to_owned(), size })
    }

    /// The same picture with other words.
    #[must_use]
    pub fn said(&self, alt: &str) -> Self {
        Self { alt: alt.to_owned(), ..self.clone() }
    }

    /// The picture as the target of a link: a `data:` URI, safe inside an attribute.
    pub fn uri(&self) -> &str {
        &self.uri
    }

    /// It as an element of a page.
    pub fn element(&self) -> String {
        let (width, height) = self.size;
        format!(
            "<img src=\"{}\" alt=\"{}\" width=\"{width}\" height=\"{height}\">",
            self.uri,
            escaped(&self.alt)
        )
    }
}

#[cfg(test)]
mod tests {
    use image::Rgba;

    use super::*;

    fn decoded(image: &Image) -> RgbaImage {
        let (_, bytes) = image.uri().split_once(',').unwrap();
        image::load_from_memory(&STANDARD.decode(bytes).unwrap()).unwrap().to_rgba8()
    }

    #[test]
    fn alpha_survives_to_the_byte() {
        let picture = RgbaImage::from_fn(9, 5, |x, y| Rgba([x as u8 * 20, y as u8 * 40, 7, (x * y) as u8]));
        let image = Image::of(&picture, "").unwrap();
        assert!(image.uri().starts_with("data:image/webp;base64,"));
        assert_eq!(decoded(&image), picture);
    }

    #[test]
    fn a_busy_picture_is_made_smaller_and_stays_near_itself() {
        let wave =
            |x: u32, y: u32| ((f64::from(x) / 9.0).sin() * (f64::from(y) / 7.0).cos() * 90.0 + 128.0) as u8;
        let picture = RgbaImage::from_fn(160, 90, |x, y| {
            let noise = ((x * 7 + y * 13) % 5) as u8;
            Rgba([wave(x, y) + noise, wave(y, x), wave(x + y, x), 255])
        });
        let image = Image::of(&picture, "").unwrap();
        assert!(image.uri().starts_with("data:image/jpeg;base64,"));
        let apart = decoded(&image)
            .pixels()
            .zip(picture.pixels())
            .flat_map(|(a, b)| (0..3).map(move |c| f64::from(a.0[c].abs_diff(b.0[c]))))
            .sum::<f64>()
            / (160.0 * 90.0 * 3.0);
        assert!(apart < 4.0, "{apart} of 255 apart on average");
    }

    #[test]
    fn a_picture_that_is_packed_closer_takes_less_and_is_shown_as_large() {
        let wave =
            |x: u32, y: u32| ((f64::from(x) / 9.0).sin() * (f64::from(y) / 7.0).cos() * 90.0 + 128.0) as u8;
        let picture = RgbaImage::from_fn(640, 90, |x, y| {
            let noise = ((x * 7 + y * 13) % 5) as u8;
            Rgba([wave(x, y) + noise, wave(y, x), wave(x + y, x), 255])
        });
        let packed = Packing::ALL.map(|packing| Image::packed(&picture, "", packing).unwrap());
        for (image, closer) in packed.iter().zip(&packed[1..]) {
            assert!(closer.uri().len() < image.uri().len());
            assert!(closer.element().contains("width=\"640\" height=\"90\""));
        }
        assert_eq!(decoded(&packed[4]).dimensions(), (320, 45));
    }

    #[test]
    fn a_picture_without_texels_is_refused() {
        assert!(Image::of(&RgbaImage::new(0, 3), "").is_err());
    }
}
