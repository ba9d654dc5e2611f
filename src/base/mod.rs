//! What everything stands on: sizes and pictures, names and places in files, folders, child processes, what is being
//! done. Nothing here knows of effects.

pub mod absent;
pub mod at_once;
pub mod cache;
pub mod clock;
pub mod coding;
pub mod colour;
pub mod content;
pub mod doing;
pub mod embedded;
pub mod ffmpeg;
pub mod folders;
pub mod frame;
pub mod hidden;
pub mod inputs;
pub mod picture;
pub mod place;
pub mod plain;
pub(crate) mod quiet;
pub(crate) mod random;
pub mod recent;
pub mod shown;
pub mod stamp;
pub mod typed_colour;
pub(crate) mod words;
pub mod ycbcr;
