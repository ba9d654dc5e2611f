//! Underover lets a live-visuals performer audition the order of picture effects before a show.
//!
//! Dependencies run one way: beat, catalogue, automation, chain, show, then order and plan, then gpu, then commands;
//! edit stands beside order, what hands play beside edit, and the window over all.

pub mod automation;
pub mod beat;
pub mod build_sheet;
pub mod catalogue;
pub mod caution;
pub mod chain;
pub mod colour;
pub mod commands;
pub mod cost;
pub mod doing;
pub mod edit;
pub mod embedded;
pub mod exploration;
pub mod ffmpeg;
pub mod files;
pub mod flashing;
mod fnv;
pub mod folders;
pub mod footage;
pub mod frame;
pub mod gpu;
pub mod hands;
pub mod lessons;
pub mod library;
pub mod markup;
pub mod measure;
pub mod memory;
pub mod midi;
pub mod moving;
pub mod order;
pub mod over_time;
pub mod page;
pub mod place;
pub mod plain;
pub mod plan;
pub mod readiness;
pub mod report;
pub mod show;
mod svg;
pub mod swaps;
pub mod trial;
pub mod wall;
pub mod window;
pub mod ycbcr;
