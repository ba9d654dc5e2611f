//! The `underover` program.

fn main() {}
