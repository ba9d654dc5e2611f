//! The commands as a person types them, and the pages that they write.

#[path = "../common/shared.rs"]
mod shared;

mod build_sheet;
mod find;
mod package;
mod pieces;
mod program;
mod readiness;
mod report;
mod sampled;
mod shown;
