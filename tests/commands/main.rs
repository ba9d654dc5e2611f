//! The commands as a person types them, and the pages that they write.

#[path = "../common/shared.rs"]
mod shared;

#[path = "../common/browser.rs"]
mod browser;

mod build_sheet;
mod find;
mod live;
mod night;
mod package;
mod pieces;
mod program;
mod readiness;
mod report;
mod sampled;
mod shown;
