//! What the window shows: one file a panel.

pub(super) mod automation;
pub(super) mod bar;
pub(super) mod flash;
pub(super) mod hands;
pub(super) mod lessons;
pub(super) mod library;
pub(super) mod other_show;
pub(super) mod picture;
pub(super) mod play;
pub(super) mod ribbon;
pub(super) mod settings;
pub(super) mod sheets;
pub(super) mod swaps;
pub(super) mod wall;
