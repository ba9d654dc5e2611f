//! Adapters: two of them give the same picture, and one that is not there or not able says so.
//!
//! Mesa's software rasteriser is reached through Vulkan and through GL: two drivers, two shader
//! compilers and two shading languages that the same WGSL is turned into. Where one of the two is
//! missing, a test says on standard error that it compared nothing, and why.

use std::path::Path;
use std::sync::Arc;

use underover::base::embedded::{CHAINS, SHOWS};
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::beat::Moment;
use underover::catalogue::{Catalogue, Effect, Kind};
use underover::files::{Document, parse};
use underover::footage::Shelf;
use underover::gpu::{Asked, Gpu, GpuError, Renderer, Want, adapters};
use underover::order::{Premises, Proofs, Tree};
use underover::plan;
use underover::show::Show;
use underover::show::chain::{EffectUse, Preset};
use underover::show::clip::{Fit, FootageName};

/// On a beat, between two, past the middle of one, and so late that a float would have lost the beat.
const BEATS: [f64; 4] = [0.0, 0.3, 1.62, 250_560.37];

/// Even sides, and odd ones that no workgroup divides.
const FRAMES: [Frame; 2] = [Frame { width: 160, height: 90 }, Frame { width: 67, height: 41 }];

/// A renderer through Vulkan and one through GL, both in software; or why there are not both.
fn both_ways() -> Result<[Renderer; 2], String> {
    let open = |way: &str| match Gpu::open(Some(&format!("{way} software"))) {
        Ok(gpu) if gpu.adapter().backend == way => Ok(Renderer::new(gpu)),
        Ok(gpu) => Err(format!("asked for {way}, got {}", gpu.adapter())),
        Err(error) => Err(error.to_string()),
    };
    Ok([open("vulkan")?, open("gl")?])
}

/// Both renderers, or a line on standard error that nothing was compared.
fn both_ways_or_say(what: &str) -> Option<[Renderer; 2]> {
    both_ways().map_err(|why| eprintln!("{what}: nothing was compared, since {why}")).ok()
}

fn catalogue() -> Catalogue {
    Catalogue::built_in().unwrap()
}

fn generated(name: &str) -> FootageName {
    FootageName::Generated(name.to_owned())
}

fn document(folder: &str, name: &str, text: &str) -> Document {
    let folder = Path::new("presets").join(folder);
    parse(text, &format!("{}/{name}.toml", folder.display()), &folder, &catalogue()).unwrap()
}

fn chains() -> Vec<Preset> {
    let chain = |(name, text): &(&str, &str)| match document("chains", name, text) {
        Document::Chain(preset) => preset,
        Document::Show(show) => panic!("{} is a show among the chains", show.name),
    };
    CHAINS.iter().map(chain).collect()
}

fn shows() -> Vec<Show> {
    let show = |(name, text): &(&str, &str)| match document("shows", name, text) {
        Document::Show(show) => show,
        Document::Chain(preset) => panic!("{} is a chain among the shows", preset.name),
    };
    SHOWS.iter().map(show).collect()
}

/// Everything that ships, as paths with a name: each chain over the harbour and over the mark, which
/// has alpha; each show at each of its scopes; each generated source alone.
fn shipped(pixels: PixelMode) -> Vec<(String, plan::Path)> {
    let catalogue = catalogue();
    let mut shelf = Shelf::new(&catalogue);
    let mut paths = Vec::new();
    for (frame, beats) in FRAMES.into_iter().flat_map(|frame| BEATS.map(|beats| (frame, beats))) {
        let at = |tempo_bpm| Moment::at(frame, pixels, tempo_bpm, beats);
        let mut lone = |name: &str, chain: &[EffectUse], source: &str| {
            let path = plan::Path::of_chain(chain, &generated(source), Fit::Whole, at(120.0), &mut shelf);
            paths.push((format!("{name} over {source}, {frame}, beat {beats}"), path.unwrap()));
        };
        for preset in chains() {
            for source in ["harbour", "ship-mark"] {
                lone(&preset.name, &preset.chain, source);
            }
        }
        for source in catalogue.sources() {
            lone("no effect", &[], &source.name);
        }
        for show in shows() {
            let path = plan::Path::of_scope(&show, show.busiest_scope(), at(show.tempo_bpm), &mut shelf);
            paths.push((format!("{}, {frame}, beat {beats}", show.name), path.unwrap()));
        }
    }
    paths
}

/// Of the bytes of two pictures: how many differ, and by how much at most.
fn apart(a: &Picture, b: &Picture) -> (usize, u8) {
    assert_eq!((a.frame, a.rgba.len()), (b.frame, b.rgba.len()));
    let differences = a.rgba.iter().zip(&b.rgba).map(|(a, b)| a.abs_diff(*b)).filter(|&d| d > 0);
    differences.fold((0, 0), |(count, most), d| (count + 1, most.max(d)))
}

/// Renders each path through both; gives the bytes compared and those that differ by more than
/// `allowed`, with a line for each picture that has any.
fn compared(
    [first, second]: &mut [Renderer; 2],
    pixels: PixelMode,
    allowed: u8,
) -> (usize, usize, Vec<String>) {
    let (mut bytes, mut differing, mut refused) = (0, 0, Vec::new());
    for (name, path) in shipped(pixels) {
        let order: Vec<usize> = (0..path.chain.len()).collect();
        let one = first.picture(&path, &order).unwrap();
        let other = second.picture(&path, &order).unwrap();
        let (count, most) = apart(&one, &other);
        bytes += one.rgba.len();
        differing += count;
        if most > allowed {
            refused.push(format!("{name}: {count} bytes differ, by up to {most}"));
        }
    }
    (bytes, differing, refused)
}

/// Each effect at its defaults, and with each setting at its ends and in its middle.
fn settings_tried(effect: &Arc<Effect>) -> Vec<EffectUse> {
    let usual = EffectUse::new(Arc::clone(effect));
    let mut tried = vec![usual.clone()];
    for (place, setting) in effect.settings.iter().enumerate() {
        let [low, high] = match &setting.kind {
            Kind::Number { range, .. } => *range,
            Kind::Whole { range: [low, high], .. } => [*low as f64, *high as f64],
            Kind::Colour => {
                let mut used = usual.clone();
                used.set_word(place, "#56b4e9").unwrap();
                tried.push(used);
                continue;
            }
            Kind::Choice(words) => {
                tried.extend(words.iter().map(|word| {
                    let mut used = usual.clone();
                    used.set_word(place, word).unwrap();
                    used
                }));
                continue;
            }
        };
        for share in [0.0, 0.31, 0.5, 1.0] {
            let mut used = usual.clone();
            let number = low + (high - low) * share;
            // A whole setting takes the nearest whole number.
            if used.set_number(place, number).or_else(|_| used.set_number(place, number.round())).is_ok() {
                tried.push(used);
            }
        }
    }
    tried
}

#[test]
fn every_effect_gives_the_same_bytes_through_vulkan_and_gl_at_many_settings() {
    let Some([mut first, mut second]) = both_ways_or_say("effects") else { return };
    let catalogue = catalogue();
    let mut shelf = Shelf::new(&catalogue);
    let (mut compared, mut refused) = (0, Vec::new());
    for used in catalogue.effects().iter().flat_map(settings_tried) {
        for source in ["ramp", "ship-mark", "lattice"] {
            let moment = Moment::at(FRAMES[1], PixelMode::Encoded8Bit, 120.0, 0.1);
            let chain = [used.clone()];
            let path =
                plan::Path::of_chain(&chain, &generated(source), Fit::Whole, moment, &mut shelf).unwrap();
            let (count, most) =
                apart(&first.picture(&path, &[0]).unwrap(), &second.picture(&path, &[0]).unwrap());
            compared += 1;
            if count > 0 {
                let settings = used.written_changes().join(", ");
                refused.push(format!(
                    "{} ({settings}) over {source}: {count} bytes differ, by up to {most}",
                    used.effect.name
                ));
            }
        }
    }
    eprintln!("effects: {compared} pictures compared");
    assert!(refused.is_empty(), "{} pictures differ:\n{}", refused.len(), refused.join("\n"));
}

#[test]
fn what_effects_remember_has_the_same_bytes_through_vulkan_and_gl_after_many_frames() {
    let Some([mut first, mut second]) = both_ways_or_say("effects that remember") else { return };
    let catalogue = catalogue();
    let mut shelf = Shelf::new(&catalogue);
    let (mut frames, mut refused) = (0, Vec::new());
    let remembering = catalogue.effects().iter().filter(|effect| effect.remembers());
    for used in remembering.flat_map(settings_tried) {
        for source in ["harbour", "waves", "ship-mark"] {
            // Away from every multiple of what is held, so that there is something to hold.
            let moment = Moment::at(FRAMES[1], PixelMode::Encoded8Bit, 120.0, 11.3);
            let chain = [used.clone()];
            let path =
                plan::Path::of_chain(&chain, &generated(source), Fit::Whole, moment, &mut shelf).unwrap();
            frames += path.frames().count();
            let (count, most) =
                apart(&first.picture(&path, &[0]).unwrap(), &second.picture(&path, &[0]).unwrap());
            if count > 0 {
                let settings = used.written_changes().join(", ");
                refused.push(format!(
                    "{} ({settings}) over {source}: {count} bytes differ, by up to {most}",
                    used.effect.name
                ));
            }
        }
    }
    eprintln!("effects that remember: {frames} frames");
    assert!(refused.is_empty(), "{} pictures differ:\n{}", refused.len(), refused.join("\n"));
}

#[test]
fn in_encoded_8bit_vulkan_and_gl_give_the_same_bytes_for_all_that_ships() {
    let Some(mut renderers) = both_ways_or_say("encoded-8bit") else { return };
    let (bytes, _, refused) = compared(&mut renderers, PixelMode::Encoded8Bit, 0);
    eprintln!("encoded-8bit: {bytes} bytes compared");
    assert!(refused.is_empty(), "{} pictures differ:\n{}", refused.len(), refused.join("\n"));
}

/// One byte: the sRGB curve is made with `pow`, which an adapter may work out as `exp2(y * log2(x))`
/// with the errors of both (WGSL specification, accuracy of built-in functions); where that crosses
/// the middle between two 16-bit floats or two bytes, the byte is the next one. Measured on llvmpipe:
/// 6 bytes of 6 million.
#[test]
fn in_linear_float_vulkan_and_gl_stay_within_a_byte_for_all_that_ships() {
    let Some(mut renderers) = both_ways_or_say("linear-float") else { return };
    let (bytes, differing, refused) = compared(&mut renderers, PixelMode::LinearFloat, 1);
    eprintln!("linear-float: {differing} of {bytes} bytes differ");
    assert!(refused.is_empty(), "{} pictures differ:\n{}", refused.len(), refused.join("\n"));
}

#[test]
fn explored_orders_have_the_same_fingerprints_through_vulkan_and_gl() {
    let Some(mut renderers) = both_ways_or_say("fingerprints") else { return };
    let preset = chains().into_iter().find(|preset| preset.name == "All hands").unwrap();
    let frame = FRAMES[1];
    let moment = Moment::at(frame, PixelMode::Encoded8Bit, 120.0, 0.1);
    let mut shelf = Shelf::new(&catalogue());
    let source = generated("harbour");
    let path = plan::Path::of_chain(&preset.chain, &source, Fit::Whole, moment, &mut shelf).unwrap();
    let explored = renderers.each_mut().map(|renderer| {
        let maps = renderer.index_maps(&path.chain, &moment).unwrap();
        let premises = Premises { chain: &path.chain, moment: &moment, opaque: path.opaque, maps: &maps };
        let proofs = Proofs::of(&premises);
        let classes = proofs.classes.all();
        let tree = Tree::of(&classes, |effect| proofs.idle[effect].is_some());
        let want = Want::Tiles { size: Frame { width: 32, height: 20 }, most: usize::MAX };
        let (finished, _) =
            renderer.explore(&path, &tree, &Asked { want, ..Asked::default() }, |_| {}).unwrap();
        let figures: Vec<_> = finished.into_iter().map(|f| (f.fingerprint, f.picture.unwrap())).collect();
        (maps, classes, figures)
    });
    let [(maps_a, classes_a, figures_a), (maps_b, classes_b, figures_b)] = explored;
    assert_eq!(maps_a, maps_b, "the moves take their texels from elsewhere");
    assert_eq!(classes_a, classes_b);
    assert!(classes_a.len() > 20, "{} classes say little", classes_a.len());
    assert_eq!(figures_a, figures_b, "fingerprints or tiles differ");
}

#[test]
fn an_adapter_of_no_such_name_is_refused_with_those_there_are() {
    let error = match Gpu::open(Some("lantern 9000")) {
        Err(GpuError::NoAdapter) => return eprintln!("this machine has no adapter to list"),
        other => other.expect_err("no adapter is called that").to_string(),
    };
    assert!(error.contains("`lantern 9000`"), "{error}");
    let seen = adapters();
    assert!(!seen.is_empty());
    for adapter in seen {
        assert!(error.contains(&adapter.name) && error.contains(&adapter.backend), "{error}");
    }
}

#[test]
fn an_adapter_is_chosen_by_words_of_its_name_in_any_letter_case() {
    for adapter in adapters() {
        let words = format!("{} {}", adapter.backend.to_uppercase(), adapter.kind);
        let chosen = Gpu::open(Some(&words)).unwrap();
        assert_eq!(chosen.adapter().backend, adapter.backend, "asked for {words}");
    }
}

#[test]
fn a_frame_past_the_adapters_limit_is_refused_before_any_work() {
    let mut renderer = Renderer::new(Gpu::open(None).unwrap());
    let largest = renderer.gpu().adapter().largest_side;
    let catalogue = catalogue();
    let chain = [EffectUse::new(catalogue.effect("mirror").unwrap().clone())];
    let mut shelf = Shelf::new(&catalogue);
    for frame in [Frame { width: largest + 1, height: 1 }, Frame { width: 8, height: u32::MAX }] {
        let moment = Moment::at(frame, PixelMode::Encoded8Bit, 120.0, 0.0);
        let path = plan::Path::of_chain(&chain, &generated("waves"), Fit::Whole, moment, &mut shelf).unwrap();
        let tree = Tree::of(&[], |_| false);
        let errors = [
            renderer.picture(&path, &[0]).expect_err("the frame is too large"),
            renderer.index_maps(&chain, &moment).expect_err("the frame is too large"),
            renderer
                .explore(&path, &tree, &Asked::default(), |_| panic!("work was done"))
                .expect_err("the frame is too large"),
        ];
        for error in errors {
            let text = error.to_string();
            assert!(matches!(error, GpuError::FrameTooLarge { .. }), "{text}");
            for part in [&frame.to_string(), &format!("{largest} texels a side"), "smaller --frame"] {
                assert!(text.contains(part), "{part} is not in: {text}");
            }
        }
    }
    // The refusal leaves a renderer that works.
    let frame = Frame { width: 4, height: 4 };
    let moment = Moment::at(frame, PixelMode::Encoded8Bit, 120.0, 0.0);
    let path = plan::Path::of_chain(&chain, &generated("waves"), Fit::Whole, moment, &mut shelf).unwrap();
    assert_eq!(renderer.picture(&path, &[0]).unwrap().frame, frame);
}
