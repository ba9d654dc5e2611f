//! Files: what is read, what is written, and what is never lost.

#[path = "../common/shared.rs"]
mod shared;

mod damage;
mod documents;
mod edit;
mod format;
mod keeping;
mod library;
mod sections;
mod starters;
mod written_back;
