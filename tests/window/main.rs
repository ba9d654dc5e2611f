//! The window, driven without a display.

#[path = "../common/driving.rs"]
mod driving;

mod bar;
mod coloured;
mod compared;
mod desk;
mod dialogs;
mod effects;
mod families;
mod fields;
mod files;
mod find;
mod hands;
mod keys;
mod layout;
mod lessons;
mod library;
mod names;
mod orders;
mod path;
mod pieces;
mod reach;
mod sections;
mod several;
mod snapshots;
mod structure;
mod tiles;
mod time;
mod values;
