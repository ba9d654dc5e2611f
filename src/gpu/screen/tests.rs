use super::*;
use crate::base::clock::pause;
use crate::base::frame::PixelMode;
use crate::catalogue::Catalogue;
use crate::files;
use crate::files::Document;
use crate::footage::Shelf;
use crate::show::chain::EffectUse;
use crate::show::{Scope, Show};

fn demo() -> (Catalogue, Show) {
    let catalogue = Catalogue::built_in().unwrap();
    let (_, text) = crate::base::embedded::SHOWS.iter().find(|(name, _)| *name == "night-ferry").unwrap();
    match files::parse(text, "night-ferry", std::path::Path::new(""), &catalogue).unwrap() {
        Document::Show(show) => (catalogue, show),
        Document::Chain(_) => panic!("the demo is a show"),
    }
}

/// What a texture on the screen holds; only a test reads it back.
fn bytes_of(renderer: &mut Renderer, screen: &mut Screen, key: ScreenKey) -> Vec<u8> {
    let texture = screen.get(key).unwrap().texture.clone();
    let array = renderer.array(key.size, 1, BYTES);
    let mut encoder = renderer.gpu.device.create_command_encoder(&Default::default());
    encoder.copy_texture_to_texture(texture.as_image_copy(), array.texture.as_image_copy(), texture.size());
    renderer.gpu.queue.submit([encoder.finish()]);
    renderer.read_back(&array, 1).unwrap().remove(0).rgba
}

fn make_all(renderer: &mut Renderer, screen: &mut Screen, wanted: &[Wanted]) {
    let started = Since::now();
    while renderer.make(screen, wanted).unwrap() {
        assert!(started.elapsed() < Duration::from_secs(120), "the pictures never came");
        pause(Duration::from_millis(1));
    }
    while screen.is_busy(renderer.gpu()) {
        pause(Duration::from_millis(1));
    }
}

#[test]
fn a_picture_on_the_screen_has_the_bytes_of_the_one_that_is_written_and_is_never_read_back() {
    let (catalogue, show) = demo();
    let mut shelf = Shelf::new(&catalogue);
    for pixels in PixelMode::ALL {
        let mut renderer = Renderer::new(Gpu::open(None).unwrap());
        let mut screen = Screen::default();
        let frame = Frame { width: 96, height: 54 };
        let moment = Moment::at(frame, pixels, 174.0, 0.1);
        let mut wanted = Vec::new();
        let mut paths = Vec::new();
        let scopes =
            [Scope::Clip(0, 2, 0), Scope::Level(0, 1), Scope::Bundle(0), Scope::Bundle(1), Scope::Global];
        for scope in scopes {
            let path = Path::of_scope(&show, scope, moment, &mut shelf).unwrap();
            let order: Vec<usize> = (0..path.chain.len()).rev().collect();
            wanted.push(screen.wanted(Recipe::output(&path, &order), frame));
            paths.push((path, order));
        }
        make_all(&mut renderer, &mut screen, &wanted);
        assert_eq!(renderer.gpu().readbacks(), 0);
        for ((one, (path, order)), scope) in wanted.iter().zip(&paths).zip(scopes) {
            let shown = bytes_of(&mut renderer, &mut screen, one.key);
            let written = renderer.picture(path, order).unwrap().rgba;
            assert!(shown == written, "{pixels:?}, {scope:?}");
        }
    }
}

#[test]
fn pictures_that_share_a_beginning_render_it_once() {
    let (catalogue, show) = demo();
    let mut shelf = Shelf::new(&catalogue);
    let mut renderer = Renderer::new(Gpu::open(None).unwrap());
    let mut screen = Screen::default();
    let frame = Frame { width: 64, height: 36 };
    let moment = Moment::at(frame, PixelMode::default(), 174.0, 0.1);
    let path = Path::of_scope(&show, Scope::Bundle(0), moment, &mut shelf).unwrap();
    let chain = |order: &[usize], screen: &mut Screen| screen.wanted(Recipe::after(&path, order), frame);
    let first = chain(&[0, 1, 2, 3, 4], &mut screen);
    make_all(&mut renderer, &mut screen, &[first]);
    let before = screen.passes();
    // The last two of five exchanged: two passes more, however long the way to them.
    let second = chain(&[0, 1, 2, 4, 3], &mut screen);
    make_all(&mut renderer, &mut screen, std::slice::from_ref(&second));
    assert_eq!(screen.passes() - before, 2);
    // Another size of the same picture takes no pass at all.
    let small = second.at(Frame { width: 32, height: 18 });
    make_all(&mut renderer, &mut screen, &[small]);
    assert_eq!(screen.passes() - before, 2);
    // A part of a chain that was rendered is there already.
    let part = chain(&[0, 1, 2], &mut screen);
    make_all(&mut renderer, &mut screen, &[part]);
    assert_eq!(screen.passes() - before, 2);
}

#[test]
fn the_difference_of_a_picture_and_itself_is_black() {
    let (catalogue, show) = demo();
    let mut renderer = Renderer::new(Gpu::open(None).unwrap());
    let mut screen = Screen::default();
    let frame = Frame { width: 48, height: 27 };
    let moment = Moment::at(frame, PixelMode::default(), 174.0, 0.1);
    let path = Path::of_scope(&show, Scope::Bundle(0), moment, &mut Shelf::new(&catalogue)).unwrap();
    let output = |order: &[usize]| Recipe::output(&path, order);
    let own = output(&[0, 1, 2, 3, 4]);
    let none = screen.wanted(Recipe::difference(&own, &own), frame);
    let some = screen.wanted(Recipe::difference(&own, &output(&[4, 3, 2, 1, 0])), frame);
    make_all(&mut renderer, &mut screen, &[none.clone(), some.clone()]);
    let light = |bytes: &[u8]| bytes.chunks_exact(4).any(|texel| texel[..3].iter().any(|&c| c > 0));
    assert!(!light(&bytes_of(&mut renderer, &mut screen, none.key)));
    assert!(light(&bytes_of(&mut renderer, &mut screen, some.key)));
}

/// The demo with effects that remember on a clip, on a bundle and on everything.
fn remembering() -> (Catalogue, Show) {
    let (catalogue, mut show) = demo();
    let used = |name: &str, setting: f64| {
        let mut used = EffectUse::new(Arc::clone(catalogue.effect(name).unwrap()));
        used.set_number(0, setting).unwrap();
        used
    };
    show.bundles[0].levels[0].clips[0].chain.push(used("trails", 0.02));
    show.bundles[0].chain.insert(1, used("hold", 0.25));
    show.global.push(used("trails", 0.01));
    (catalogue, show)
}

#[test]
fn what_effects_remember_is_on_the_screen_as_it_is_written_scrubbed_or_played() {
    let (catalogue, show) = remembering();
    let mut shelf = Shelf::new(&catalogue);
    let mut renderer = Renderer::new(Gpu::open(None).unwrap());
    let mut screen = Screen::default();
    let frame = Frame { width: 32, height: 18 };
    let at = |number| Moment::of_frame(frame, PixelMode::default(), show.tempo_bpm, show.rate, number);
    let mut played = Vec::new();
    // Scrubbed to 300, played on, and back before it.
    for number in [300, 301, 302, 305, 306, 320, 321, 290] {
        for scope in [Scope::Global, Scope::Bundle(0)] {
            let carried = Path::of_scope_carried(&show, scope, at(number), &mut shelf).unwrap();
            let order: Vec<usize> = (0..carried.chain.len()).collect();
            let before = screen.passes();
            let wanted = screen.wanted(Recipe::output(&carried, &order), frame);
            make_all(&mut renderer, &mut screen, std::slice::from_ref(&wanted));
            played.push((number, scope, screen.passes() - before));
            let shown = bytes_of(&mut renderer, &mut screen, wanted.key);
            let path = Path::of_scope(&show, scope, at(number), &mut shelf).unwrap();
            let written = renderer.picture(&path, &order).unwrap();
            assert!(path.warm_up_frames() > 12, "{} frames", path.warm_up_frames());
            assert!(shown == written.rgba, "frame {number}, {scope:?}");
        }
    }
    // The bundle's path leads to the same output, so that it is there already; and a frame more
    // takes a frame's passes, not those of all that lead up to it.
    let passes = |wanted: u64| -> u64 {
        played.iter().filter(|(number, ..)| *number == wanted).map(|(.., passes)| passes).sum()
    };
    assert!(played.iter().skip(1).step_by(2).all(|(.., passes)| *passes == 0), "{played:?}");
    // At 306 and 321 a new picture is held, for which all below it is rendered too.
    let frame_passes = passes(306);
    assert!(passes(300) > 8 * frame_passes && passes(321) == frame_passes, "{played:?}");
    for (from, to) in [(300, 301), (301, 302), (302, 305), (306, 320)] {
        assert!(passes(to) <= (to - from) * frame_passes, "{played:?}");
    }
}
