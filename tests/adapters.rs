//! The same bytes whichever adapter renders, and clear words where an adapter cannot.
//!
//! Two implementations are compared: the software rasteriser through Vulkan and through GL. They
//! share little between the shader and the compiled code: the GL one is handed GLSL that naga writes.

use std::path::Path as FilePath;
use std::process::Command;
use std::sync::Arc;

use underover::catalogue::Catalogue;
use underover::chain::{Chain, EffectUse};
use underover::embedded::{CHAINS, SHOWS};
use underover::files::{Document, parse};
use underover::footage::{Fit, Picture, Shelf};
use underover::frame::{Frame, Moment, PixelMode};
use underover::gpu::{Budget, Fingerprint, Gpu, GpuError, Renderer, Want, adapters};
use underover::order::{Classes, Tree};
use underover::plan::{Path, Step};
use underover::show::{BlendMode, FootageName, Mix, Scope, Show};

/// Beats on either side of the gates' borders, before the start, and after a long night.
const BEATS: [f64; 6] = [0.0, 0.1, 0.4, 7.9, -3.3, 100_000.3];

/// Wide enough for many workgroups, with odd sides.
const FRAME: Frame = Frame { width: 161, height: 91 };

/// The software adapter through Vulkan and through GL. `None`, said on standard error with the reason,
/// where this machine lacks one: then nothing is compared.
fn both() -> Option<[Renderer; 2]> {
    let seen = adapters();
    let found = ["vulkan", "gl"]
        .map(|backend| seen.iter().find(|adapter| adapter.backend == backend && adapter.kind == "software"));
    if let [Some(_), Some(_)] = found {
        return Some(["vulkan software", "gl software"].map(|wanted| {
            let renderer = Renderer::new(Gpu::open(Some(wanted)).unwrap());
            let adapter = renderer.gpu().adapter();
            assert!(wanted.starts_with(&adapter.backend) && adapter.kind == "software", "{adapter}");
            renderer
        }));
    }
    let lacking: Vec<&str> = ["vulkan", "gl"]
        .into_iter()
        .zip(found)
        .filter_map(|(backend, found)| found.is_none().then_some(backend))
        .collect();
    let seen: Vec<String> = seen.iter().map(ToString::to_string).collect();
    eprintln!(
        "nothing was compared: this machine has no software adapter through {} (seen: {})",
        lacking.join(" nor "),
        if seen.is_empty() { "none".to_owned() } else { seen.join("; ") }
    );
    None
}

fn document((name, text): &(&str, &str), catalogue: &Catalogue) -> Document {
    parse(text, name, FilePath::new("presets"), catalogue).unwrap_or_else(|error| panic!("{error}"))
}

fn chains(catalogue: &Catalogue) -> Vec<(String, Chain)> {
    let chain = |file| match document(file, catalogue) {
        Document::Chain(preset) => (preset.name, preset.chain),
        Document::Show(show) => panic!("{} is a show", show.name),
    };
    CHAINS.iter().map(chain).collect()
}

fn shows(catalogue: &Catalogue) -> Vec<Show> {
    let show = |file| match document(file, catalogue) {
        Document::Show(show) => show,
        Document::Chain(preset) => panic!("{} is a chain", preset.name),
    };
    SHOWS.iter().map(show).collect()
}

/// A path to compare on, with the words that tell which it is.
struct Case {
    name: String,
    path: Path,
}

/// Every chain over the harbour, every show, and every generated source by itself.
fn cases(pixels: PixelMode) -> Vec<Case> {
    let catalogue = Catalogue::built_in().unwrap();
    let mut shelf = Shelf::new(&catalogue);
    let mut cases = Vec::new();
    let generated = |name: &str| FootageName::Generated(name.to_owned());
    let moment = |beats, tempo_bpm, frame| Moment { frame, pixels, beats, tempo_bpm };
    for beats in BEATS {
        let at = moment(beats, 120.0, FRAME);
        for (name, chain) in chains(&catalogue) {
            let path = Path::of_chain(&chain, &generated("harbour"), Fit::Fill, at, &mut shelf).unwrap();
            cases.push(Case { name: format!("{name} at beat {beats}"), path });
        }
        for show in shows(&catalogue) {
            let at = moment(beats, show.tempo_bpm, Frame { width: 320, height: 180 });
            let path = Path::of_scope(&show, Scope::Global, at, &mut shelf).unwrap();
            cases.push(Case { name: format!("{} at beat {beats}", show.name), path });
        }
        for source in catalogue.sources() {
            let path = Path::of_chain(&[], &generated(&source.name), Fit::Fill, at, &mut shelf).unwrap();
            cases.push(Case { name: format!("generated:{} at beat {beats}", source.name), path });
        }
    }
    cases
}

fn own_order(path: &Path) -> Vec<usize> {
    (0..path.chain.len()).collect()
}

/// How many bytes of two pictures differ, and by how much at most.
fn apart(a: &Picture, b: &Picture) -> (usize, u8) {
    assert_eq!((a.frame, a.rgba.len()), (b.frame, b.rgba.len()));
    let apart = a.rgba.iter().zip(&b.rgba).map(|(a, b)| a.abs_diff(*b)).filter(|&apart| apart > 0);
    apart.fold((0, 0), |(count, most), apart| (count + 1, most.max(apart)))
}

/// Source: DESIGN, "The picture path": values are rounded in the shader, so that every adapter stores
/// the same byte.
#[test]
fn every_chain_show_and_source_has_the_same_bytes_through_vulkan_and_gl() {
    let Some([mut vulkan, mut gl]) = both() else { return };
    let mut wrong = Vec::new();
    let mut pictures = Vec::new();
    for Case { name, path } in cases(PixelMode::Encoded8Bit) {
        let order = own_order(&path);
        let (one, other) = (vulkan.picture(&path, &order).unwrap(), gl.picture(&path, &order).unwrap());
        let (bytes, most) = apart(&one, &other);
        if bytes > 0 {
            wrong.push(format!("{name}: {bytes} bytes differ, by up to {most}"));
        }
        if !pictures.contains(&one) {
            pictures.push(one);
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // Blank pictures would agree too.
    assert!(pictures.len() > 20, "only {} different pictures were compared", pictures.len());
    let flat = |picture: &&Picture| picture.rgba.chunks_exact(4).all(|texel| texel == &picture.rgba[..4]);
    assert_eq!(pictures.iter().filter(flat).count(), 0, "a picture has one colour only");
}

/// Bytes may differ here, and by how much is reported. The bound is one byte: `linear-float` encodes with
/// `pow`, which adapters compute to different last bits, and a value that lies between two bytes may be
/// rounded to either. Intermediates are rounded to 11 significant bits by the adapter's own rule,
/// which is less than a byte as well.
#[test]
fn in_linear_light_vulkan_and_gl_are_at_most_a_byte_apart() {
    let Some([mut vulkan, mut gl]) = both() else { return };
    let (mut bytes, mut of, mut wrong) = (0, 0, Vec::new());
    for Case { name, path } in cases(PixelMode::LinearFloat) {
        let order = own_order(&path);
        let (one, other) = (vulkan.picture(&path, &order).unwrap(), gl.picture(&path, &order).unwrap());
        let (differing, most) = apart(&one, &other);
        if differing > 0 {
            eprintln!("{name}: {differing} of {} bytes differ, by up to {most}", one.rgba.len());
        }
        if most > 1 {
            wrong.push(format!("{name}: {differing} bytes differ, by up to {most}"));
        }
        bytes += differing;
        of += one.rgba.len();
    }
    eprintln!("linear-float: {bytes} of {of} bytes differ between Vulkan and GL");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(bytes * 1000 <= of, "{bytes} of {of} bytes differ");
}

/// Two opaque and two transparent pictures of noise, laid over one another in every mode.
#[test]
fn every_blend_mode_has_the_same_bytes_through_vulkan_and_gl() {
    let Some([mut vulkan, mut gl]) = both() else { return };
    // Numbers without a pattern: xorshift (Marsaglia 2003).
    let mut state = 0x9e37_79b9_u32;
    let mut noise = |opaque: bool| {
        let mut next = || {
            state ^= state << 13;
            state ^= state >> 17;
            state ^= state << 5;
            (state >> 16) as u8
        };
        let texels = (0..FRAME.texels()).flat_map(|_| {
            let [r, g, b, a] = [next(), next(), next(), next()];
            // The ends come up often enough to matter.
            let end = |value: u8| {
                if value < 24 {
                    0
                } else if value > 231 {
                    255
                } else {
                    value
                }
            };
            [end(r), end(g), end(b), if opaque { 255 } else { end(a) }]
        });
        Arc::new(Picture { frame: FRAME, rgba: texels.collect(), opaque })
    };
    let pictures = [noise(true), noise(false), noise(true), noise(false)];
    let mut distinct = Vec::new();
    for &blend in BlendMode::ALL {
        for (below, above, opacity) in [(0, 2, 1.0), (0, 3, 1.0), (1, 2, 0.7), (1, 3, 0.35)] {
            let path = Path {
                moment: Moment { frame: FRAME, pixels: PixelMode::Encoded8Bit, beats: 0.0, tempo_bpm: 120.0 },
                before: vec![
                    Step::TakeIn { picture: Arc::clone(&pictures[below]), into: 0 },
                    Step::TakeIn { picture: Arc::clone(&pictures[above]), into: 1 },
                    Step::Lay { backdrop: 0, source: 1, mix: Mix { blend, opacity }, into: 2 },
                ],
                input: 2,
                opaque: pictures[below].opaque,
                chain: Vec::new(),
                after: Vec::new(),
            };
            let (one, other) = (vulkan.picture(&path, &[]).unwrap(), gl.picture(&path, &[]).unwrap());
            assert_eq!(apart(&one, &other), (0, 0), "{} at opacity {opacity}", blend.name());
            assert!(!distinct.contains(&one), "{} at opacity {opacity} is like another", blend.name());
            distinct.push(one);
        }
    }
}

/// Exploring goes through texture arrays, fused runs and fingerprints, none of which one picture needs.
#[test]
fn exploring_gives_the_same_fingerprints_tiles_and_index_maps_through_vulkan_and_gl() {
    let Some([mut vulkan, mut gl]) = both() else { return };
    let catalogue = Catalogue::built_in().unwrap();
    let mut shelf = Shelf::new(&catalogue);
    let mut distinct: Vec<Fingerprint> = Vec::new();
    let night_ferry = shows(&catalogue).into_iter().find(|show| show.name == "Night ferry").unwrap();
    let moment = Moment { frame: FRAME, pixels: PixelMode::Encoded8Bit, beats: 0.1, tempo_bpm: 174.0 };
    let mut paths = vec![Path::of_scope(&night_ferry, Scope::Bundle(0), moment, &mut shelf).unwrap()];
    let footage = FootageName::Generated("ship-mark".to_owned());
    for (_, chain) in chains(&catalogue) {
        paths.push(Path::of_chain(&chain, &footage, Fit::Fill, moment, &mut shelf).unwrap());
    }
    for path in paths {
        let effects: Vec<&str> = path.chain.iter().map(|used| used.effect.name.as_str()).collect();
        let letters: Vec<usize> = (0..path.chain.len()).collect();
        let classes = Classes::new(letters, |_, _| false).all();
        let tree = Tree::of(&classes, |effect| path.chain[effect].idle_because(&moment).is_some());
        let want = Want::Tiles { size: Frame { width: 40, height: 23 }, most: 5 };
        let mut explored = [&mut vulkan, &mut gl].map(|renderer| {
            [u64::MAX, 0].map(|fuse_from| {
                renderer.fuse_from(fuse_from);
                let finished = renderer.explore(&path, &tree, want, Budget::default(), |_| {}).unwrap();
                let figures = finished.into_iter().map(|one| (one.fingerprint, one.picture));
                figures.unzip::<_, _, Vec<_>, Vec<_>>()
            })
        });
        let [[vulkan_alone, vulkan_fused], [gl_alone, gl_fused]] = &explored;
        assert_eq!(vulkan_alone, gl_alone, "{effects:?}");
        assert_eq!(vulkan_fused, gl_fused, "{effects:?} in fused runs");
        assert_eq!(vulkan_alone, vulkan_fused, "{effects:?} fused and not");
        let mut found = std::mem::take(&mut explored[0][0].0);
        found.sort_unstable();
        found.dedup();
        distinct.extend(found);
        let maps = [&mut vulkan, &mut gl].map(|r| r.index_maps(&path.chain, &moment).unwrap());
        assert_eq!(maps[0], maps[1], "{effects:?}");
    }
    assert!(distinct.len() > 40, "only {} different pictures were compared", distinct.len());
}

// Clear words.

#[test]
fn an_unknown_adapter_is_told_which_ones_there_are() {
    let seen = adapters();
    let error = Gpu::open(Some("steam engine")).unwrap_err();
    if seen.is_empty() {
        assert!(matches!(error, GpuError::NoAdapter), "{error}");
        return;
    }
    let GpuError::NoSuchAdapter { wanted, .. } = &error else { panic!("{error}") };
    assert_eq!(wanted, "steam engine");
    let message = error.to_string();
    for adapter in &seen {
        assert!(message.contains(&adapter.to_string()), "{adapter} is missing: {message}");
    }
    // One right word beside a wrong one is no match either.
    assert!(Gpu::open(Some(&format!("{} steam", seen[0].backend))).is_err());
    // Letter case is no matter, and neither is the order of the words.
    let shouted = format!("{} {}", seen[0].kind, seen[0].backend).to_uppercase();
    assert_eq!(Gpu::open(Some(&shouted)).unwrap().adapter(), &seen[0]);
}

#[test]
fn a_frame_past_the_texture_limit_is_refused_before_any_work() {
    let catalogue = Catalogue::built_in().unwrap();
    let mut renderer = Renderer::new(Gpu::open(None).unwrap());
    let limit = renderer.gpu().adapter().largest_side;
    let effect = |name| EffectUse::new(catalogue.effect(name).unwrap().clone());
    let path = |width, height| Path {
        moment: Moment {
            frame: Frame { width, height },
            pixels: PixelMode::Encoded8Bit,
            beats: 0.0,
            tempo_bpm: 120.0,
        },
        // A plan that cannot be carried out: were any work begun, this is what the error would be about.
        before: vec![Step::Lay { backdrop: 7, source: 8, mix: Mix::default(), into: 0 }],
        input: 0,
        opaque: true,
        chain: vec![effect("mirror"), effect("tint")],
        after: Vec::new(),
    };
    let tree = Tree::of(&Classes::new(vec![0, 1], |_, _| false).all(), |_| false);
    for (width, height) in [(limit + 1, 1), (1, limit + 1), (u32::MAX, u32::MAX)] {
        let path = path(width, height);
        let explored = renderer.explore(&path, &tree, Want::Figures, Budget::default(), |_| {});
        for error in [
            renderer.picture(&path, &[0, 1]).unwrap_err(),
            renderer.index_maps(&path.chain, &path.moment).unwrap_err(),
            explored.unwrap_err(),
        ] {
            assert!(matches!(error, GpuError::FrameTooLarge { .. }), "{error}");
            let message = error.to_string();
            let name = renderer.gpu().adapter().to_string();
            for part in [format!("{width}x{height}"), limit.to_string(), name, "--frame".to_owned()] {
                assert!(message.contains(&part), "`{part}` is missing: {message}");
            }
        }
    }
    // The plan is what fails where the frame is allowed.
    let error = renderer.picture(&path(8, 8), &[0, 1]).unwrap_err();
    assert!(matches!(error, GpuError::Refused(_)), "{error}");
    // The limit itself is allowed, and the renderer works after its refusals.
    let mut shelf = Shelf::new(&catalogue);
    let footage = FootageName::Generated("ramp".to_owned());
    let at_limit = Moment { frame: Frame { width: limit, height: 2 }, ..path(1, 1).moment };
    let fine = Path::of_chain(&[effect("mirror")], &footage, Fit::Fill, at_limit, &mut shelf).unwrap();
    let picture = renderer.picture(&fine, &[0]).unwrap();
    assert_eq!(picture.rgba.len(), limit as usize * 8);
    let (left, right) = (&picture.rgba[..4], &picture.rgba[limit as usize * 4 - 4..limit as usize * 4]);
    assert_eq!(left, right, "the mirror is not whole");
}

#[test]
fn the_program_refuses_a_frame_or_an_adapter_without_leaving_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("wall.png");
    let run = |arguments: &[&str]| {
        let mut program = Command::new(env!("CARGO_BIN_EXE_underover"));
        program.args(arguments).arg("--out").arg(&out).env_remove("UNDEROVER_ADAPTER");
        let ran = program.output().unwrap();
        (ran.status.code(), String::from_utf8(ran.stderr).unwrap())
    };
    for command in ["render", "orders"] {
        for subject in ["preset:lamp-lines", "preset:night-ferry"] {
            let (code, said) = run(&[command, subject, "--frame", "999999x3"]);
            assert_eq!(code, Some(1), "{said}");
            assert!(said.contains("999999x3") && said.contains("texels a side"), "{said}");
            let (code, said) = run(&[command, subject, "--adapter", "steam engine"]);
            assert_eq!(code, Some(1), "{said}");
            assert!(said.contains("steam engine") && said.contains("this machine has"), "{said}");
            assert!(!said.contains("panicked"), "{said}");
            assert!(std::fs::read_dir(folder.path()).unwrap().next().is_none(), "a file was left");
        }
    }
}
