//! Embeds the shader and preset folders, so that a new file in one of them is
//! part of the program without a line of Rust, and names this build by all that it is made from.

use std::fmt::Write as _;
use std::hash::{DefaultHasher, Hasher as _};
use std::path::{Path, PathBuf};
use std::{env, fs};

/// Folder, name of the generated constant, file ending.
const EMBEDDED: [(&str, &str, &str); 6] = [
    ("shaders/effects", "EFFECTS", "wgsl"),
    ("shaders/footage", "FOOTAGE", "wgsl"),
    ("presets/chains", "CHAINS", "toml"),
    ("presets/shows", "SHOWS", "toml"),
    ("presets/starters", "STARTERS", "toml"),
    ("presets/lessons", "LESSONS", "toml"),
];

fn main() {
    let root = PathBuf::from(env::var("CARGO_MANIFEST_DIR").expect("cargo sets CARGO_MANIFEST_DIR"));
    println!("cargo:rustc-env=UNDEROVER_BUILD={}", build(&root));
    let mut code = String::new();
    for (folder, constant, ending) in EMBEDDED {
        println!("cargo:rerun-if-changed={folder}");
        let files = files_in(&root.join(folder), ending);
        let _ = writeln!(code, "/// The files of `{folder}`: name without ending, text.");
        let _ = writeln!(code, "pub const {constant}: &[(&str, &str)] = &[");
        for file in files {
            let stem = file.file_stem().expect("a listed file has a name").to_string_lossy();
            let name = file.display().to_string();
            let text = match ending {
                "toml" => format!("bare(include_str!({name:?}))"),
                _ => format!("include_str!({name:?})"),
            };
            let _ = writeln!(code, "    ({stem:?}, {text}),");
        }
        let _ = writeln!(code, "];");
    }
    let out = PathBuf::from(env::var("OUT_DIR").expect("cargo sets OUT_DIR"));
    fs::write(out.join("embedded.rs"), code).expect("OUT_DIR is writable");
}

/// What is another in every build that could work something out differently: what is kept of one is of no use to another.
fn build(root: &Path) -> String {
    let mut files: Vec<PathBuf> = ["Cargo.toml", "Cargo.lock", "build.rs"].map(|name| root.join(name)).into();
    for folder in ["src", "shaders"] {
        println!("cargo:rerun-if-changed={folder}");
        gather(&root.join(folder), &mut files);
    }
    println!("cargo:rerun-if-changed=Cargo.lock");
    files.sort();
    let mut hasher = DefaultHasher::new();
    for file in files {
        // What is not packed with the sources is no part of them.
        let Ok(text) = fs::read(&file) else { continue };
        hasher.write(file.strip_prefix(root).unwrap_or(&file).to_string_lossy().as_bytes());
        hasher.write_usize(text.len());
        hasher.write(&text);
    }
    let of = |name| env::var(name).unwrap_or_default();
    format!("{} {} {:016x}", of("TARGET"), of("PROFILE"), hasher.finish())
}

fn gather(folder: &Path, files: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display())).flatten() {
        let path = entry.path();
        if path.is_dir() { gather(&path, files) } else { files.push(path) }
    }
}

fn files_in(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap_or_else(|e| panic!("{}: {e}", folder.display()))
        .filter_map(|entry| entry.ok().map(|e| e.path()))
        .filter(|path| path.extension().is_some_and(|e| e == ending))
        .collect();
    files.sort();
    files
}
