//! The shaders and presets that travel inside the program; `build.rs` lists them.

include!(concat!(env!("OUT_DIR"), "/embedded.rs"));
