//! Drawing: the canvas with its inks and text, vector drawings, and pages of HTML. What is drawn is said by others.

mod canvas;
pub mod ink;
pub mod markup;
pub mod page;
pub mod svg;
mod text;

pub(crate) use canvas::{Area, Canvas, Rounded};
pub use text::FaceError;
pub(crate) use text::{Face, Faces, Style};
