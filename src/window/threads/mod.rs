//! What the window leaves to others, so that it answers: each an errand of the one worker type.

pub(super) mod apart;
pub(super) mod documents;
pub(super) mod export;
pub(super) mod file_dialog;
pub(super) mod find;
pub(super) mod flash;
pub(super) mod own_effects;
pub(super) mod pieces;
pub(super) mod prover;
pub(super) mod starters;
pub(super) mod thumbnails;
pub(super) mod worker;
