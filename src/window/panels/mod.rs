//! What the window shows: a file or a folder a panel, none of which names another.

pub(super) mod bar;
pub(super) mod dialogs;
pub(super) mod find;
pub(super) mod flash;
pub(super) mod hands;
pub(super) mod lessons;
pub(super) mod library;
pub(super) mod picture;
pub(super) mod rehearsal;
pub(super) mod ribbon;
pub(super) mod sections;
pub(super) mod settings;
pub(super) mod structure;
pub(super) mod swaps;
pub(super) mod wall;
