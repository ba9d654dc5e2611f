//! What effects, footage and blending do to pixels, against scalar models and general libraries.

#[path = "../common/mod.rs"]
mod common;

mod adapters;
mod blending;
mod candidates;
mod catalogue;
mod effects;
mod further_effects;
mod fusing;
mod kept;
mod model;
mod own_effects;
mod past;
mod presets;
mod running;
mod weaving;
