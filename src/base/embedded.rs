//! The shaders and presets that travel inside the program; `build.rs` lists them.

include!(concat!(env!("OUT_DIR"), "/embedded.rs"));

/// A preset without the line that leads an editor to its schema: where the text is saved by a person, there is none beside it.
const fn bare(text: &'static str) -> &'static str {
    let bytes = text.as_bytes();
    if bytes.is_empty() || bytes[0] != b'#' || bytes.len() < 2 || bytes[1] != b':' {
        return text;
    }
    let mut end = 0;
    while bytes[end] != b'\n' {
        end += 1;
    }
    text.split_at(end + 1).1
}
