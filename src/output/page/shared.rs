//! What the stages of a page share, so that it stands in the page once.

use std::convert::Infallible;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Value as Json, json};

use super::packed::Packed;
use super::recorder::Once;
use crate::base::content::Content;
use crate::gpu::WrittenProgram;

/// Programs, pictures, tables, and the channels of colours as effects read them, each by its place.
#[derive(Default)]
pub(super) struct Shared {
    programs: Once<Json>,
    pictures: Once<Json>,
    tables: Once<String>,
    levels: Once<Vec<f32>>,
}

/// Where something stands that is put down once.
fn place<T>(once: &mut Once<T>, content: Content, value: T) -> usize {
    let Ok(at) = once.put(content, || Ok::<_, Infallible>(value));
    at
}

impl Shared {
    pub(super) fn program(&mut self, program: &WrittenProgram) -> usize {
        let written = json!({
            "code": program.code,
            "entry": program.entry_point,
            "bindings": program.bindings,
            "format": program.format,
            "texels": program.texels,
        });
        place(&mut self.programs, Content::of(written.to_string()), written)
    }

    pub(super) fn picture(&mut self, picture: &Packed) -> usize {
        let Packed { frame, by, text } = picture;
        let content = Content::of_values((frame.width, frame.height, by, text));
        place(&mut self.pictures, content, json!([frame.width, frame.height, by, text]))
    }

    pub(super) fn table(&mut self, table: &[u8]) -> usize {
        place(&mut self.tables, Content::of(table), STANDARD.encode(table))
    }

    pub(super) fn levels(&mut self, levels: Vec<f32>) -> usize {
        place(&mut self.levels, Content::of(bytemuck::cast_slice::<f32, u8>(&levels)), levels)
    }

    pub(super) fn json(self) -> Json {
        json!({
            "programs": self.programs.all,
            "pictures": self.pictures.all,
            "tables": self.tables.all,
            "levels": self.levels.all,
        })
    }
}
