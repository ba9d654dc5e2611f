//! Underover lets a live-visuals performer audition the order of picture effects before a show.
//!
//! The rooms, each of which uses only those before it:
//! base, beat, catalogue, measure, midi, show, order, drawing, footage, files, edit,
//! hands, plan, gpu, trial, explore, readiness, output, lessons, library, window, commands. `tests/layers.rs` holds them to it.

pub mod base;
pub mod beat;
pub mod catalogue;
pub mod commands;
pub mod drawing;
pub mod edit;
pub mod explore;
pub mod files;
pub mod footage;
pub mod gpu;
pub mod hands;
pub mod lessons;
pub mod library;
pub mod measure;
pub mod midi;
pub mod order;
pub mod output;
pub mod plan;
pub mod readiness;
pub mod show;
pub mod trial;
pub mod window;
