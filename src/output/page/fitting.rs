//! A page within the size that it may have: where it would take more, its chains have fewer moments, then its stills are
//! packed closer.

use std::collections::HashMap;

use image::RgbaImage;
use serde_json::Value as Json;

use super::shared::Shared;
use super::{Recorded, SCRIPT};
use crate::base::at_once::at_once;
use crate::base::content::Content;
use crate::drawing::page::{Image, ImageError, Packing, Page};

/// The stills of a page, each encoded once, on all processors.
#[derive(Debug)]
pub struct Stills {
    packing: Packing,
    encoded: HashMap<Content, Image>,
}

/// A page as text.
#[derive(Debug)]
pub struct Written {
    pub html: String,
    /// What was left smaller than it could be, where anything was: a sentence that stands on the page as well.
    pub smaller: Option<String>,
}

impl Stills {
    fn of(pictures: &[&RgbaImage], packing: Packing) -> Result<Self, ImageError> {
        let mut wanted: Vec<(Content, &RgbaImage)> =
            pictures.iter().map(|&picture| (content(picture), picture)).collect();
        wanted.sort_by_key(|&(content, _)| content);
        wanted.dedup_by_key(|&mut (content, _)| content);
        let images = at_once(&wanted, |(_, picture)| Image::packed(picture, "", packing));
        let each = wanted.into_iter().zip(images);
        let encoded =
            each.map(|((content, _), image)| Ok((content, image?))).collect::<Result<_, ImageError>>()?;
        Ok(Self { packing, encoded })
    }

    /// A picture with words for those who do not see it.
    ///
    /// # Errors
    /// [`ImageError`] for a picture without texels.
    pub fn image(&self, picture: &RgbaImage, alt: &str) -> Result<Image, ImageError> {
        match self.encoded.get(&content(picture)) {
            Some(image) => Ok(image.said(alt)),
            None => Image::packed(picture, alt, self.packing),
        }
    }
}

fn content(picture: &RgbaImage) -> Content {
    Content::of_values((picture.dimensions(), picture.as_raw()))
}

/// The text of a page that runs these chains, within `most` bytes where that can be; `pictures` are its stills, from
/// which `page` makes it.
///
/// # Errors
/// What `page` gives, and [`ImageError`] for a picture without texels.
pub fn written_within<E: From<ImageError>>(
    most: usize,
    chains: &[Recorded],
    pictures: &[&RgbaImage],
    page: impl Fn(&Stills) -> Result<Page, E>,
) -> Result<Written, E> {
    let mut packings = Packing::ALL.into_iter().skip(1);
    let mut packing = Packing::ALL[0];
    loop {
        let page = page(&Stills::of(pictures, packing)?)?;
        let mut left = chains.to_vec();
        let written = loop {
            let smaller = smaller_said(chains, &left, packing, most);
            let mut page = page.clone();
            if let Some(smaller) = &smaller {
                page.foot(smaller);
            }
            if !left.is_empty() || page.body.asks() {
                let mut shared = Shared::default();
                let stages = left.iter().map(|chain| text(&chain.json(&mut shared))).collect();
                page.live(SCRIPT, text(&shared.json()), stages);
            }
            let written = Written { html: page.html(), smaller };
            if written.html.len() <= most {
                return Ok(written);
            }
            let halved: Vec<bool> = left.iter_mut().map(Recorded::halve).collect();
            if !halved.contains(&true) {
                break written;
            }
        };
        match packings.next() {
            Some(closer) => packing = closer,
            None => return Ok(written),
        }
    }
}

/// What was left smaller for the sake of the page's size, in a sentence.
fn smaller_said(chains: &[Recorded], left: &[Recorded], packing: Packing, most: usize) -> Option<String> {
    let moments = |chains: &[Recorded]| chains.iter().map(|chain| chain.frames.len()).sum::<usize>();
    let (had, has) = (moments(chains), moments(left));
    let mut said = Vec::new();
    if has < had {
        said.push(format!("moments are left out ({has} of {had} are there)"));
    }
    if packing != Packing::ALL[0] {
        said.push(format!("stills are packed closer (JPEG at a quality of {})", packing.quality));
    }
    if packing.widest < u32::MAX {
        said.push(format!("stills are at most {} pixels wide", packing.widest));
    }
    let megabytes = most / 1_000_000;
    (!said.is_empty()).then(|| {
        format!(
            "So that this page stays within {megabytes} MB, {}; `--page-size` gives it more room.",
            said.join(", ")
        )
    })
}

/// JSON as text for a script: nothing in it reads as markup.
fn text(json: &Json) -> String {
    json.to_string().replace('<', "\\u003c").replace('\u{2028}', "\\u2028").replace('\u{2029}', "\\u2029")
}
