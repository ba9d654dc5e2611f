//! What tests of pixels share: one renderer a thread, pictures that leave nothing out, one effect over given pixels.

use std::cell::RefCell;
use std::mem::ManuallyDrop;
use std::sync::{Arc, LazyLock};

use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::beat::Moment;
use underover::catalogue::Catalogue;
use underover::gpu::{ADAPTER_VARIABLE, Gpu, Renderer};
use underover::plan::{Path, Step};
use underover::show::chain::EffectUse;

/// The shaders inside the program.
pub static CATALOGUE: LazyLock<Catalogue> = LazyLock::new(|| Catalogue::built_in().unwrap());

/// Sizes that effects go wrong on: odd ones, an even one, and those of one texel a side.
pub const SIZES: [(u32, u32); 6] = [(7, 5), (12, 8), (1, 1), (1, 9), (9, 1), (33, 17)];

/// Gives `work` this thread's renderer, on the adapter found by default or named in the environment.
pub fn with_renderer<T>(work: impl FnOnce(&mut Renderer) -> T) -> T {
    // Never dropped: wgpu's own thread-locals are gone when a thread's are.
    thread_local! {
        static RENDERER: RefCell<Option<ManuallyDrop<Renderer>>> = const { RefCell::new(None) };
    }
    let opened = || {
        let named = std::env::var(ADAPTER_VARIABLE).ok();
        ManuallyDrop::new(Renderer::new(Gpu::open(named.as_deref()).unwrap_or_else(|e| panic!("{e}"))))
    };
    RENDERER.with_borrow_mut(|renderer| work(renderer.get_or_insert_with(opened)))
}

/// A value for a setting: a number, or a word.
#[derive(Debug, Clone, Copy)]
pub enum Set {
    /// A number or a whole number.
    To(f64),
    /// A colour or a choice.
    Word(&'static str),
}

/// The effect named, with these settings and the rest at their defaults.
pub fn used(name: &str, settings: &[(&str, Set)]) -> EffectUse {
    let mut used = EffectUse::new(Arc::clone(CATALOGUE.effect(name).unwrap()));
    for &(setting, value) in settings {
        let place = used.effect.settings.iter().position(|s| s.name == setting);
        let place = place.unwrap_or_else(|| panic!("{name} has no {setting}"));
        match value {
            Set::To(number) => used.set_number(place, number),
            Set::Word(word) => used.set_word(place, word),
        }
        .unwrap_or_else(|e| panic!("{setting} {e}"));
    }
    used
}

/// A moment at 120 BPM.
pub fn moment(frame: Frame, pixels: PixelMode, beats: f64) -> Moment {
    Moment::at(frame, pixels, 120.0, beats)
}

/// Which alphas a test picture has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Alpha {
    /// 255 everywhere.
    Full,
    /// 0, 255, the smallest, and anything between.
    Mixed,
}

impl Alpha {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Full, Self::Mixed];
}

/// A picture of unrelated texels, black, white and pure channels among them; `nth` picks another one.
pub fn scattered(width: u32, height: u32, alpha: Alpha, nth: u32) -> Picture {
    let mut state = nth.wrapping_mul(0x9e37_79b9) ^ (width << 16) ^ height;
    // Numerical Recipes' 32-bit linear congruential generator.
    let mut byte = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 24) as u8
    };
    let mut rgba = Vec::new();
    for _ in 0..width * height {
        let colour = [byte(), byte(), byte()].map(|b| match b {
            0..16 => 0,
            240.. => 255,
            between => between,
        });
        let a = match (alpha, byte()) {
            (Alpha::Full, _) | (_, 192..) => 255,
            (_, 0..32) => 0,
            (_, 32..48) => 1,
            (_, between) => between,
        };
        rgba.extend([colour[0], colour[1], colour[2], a]);
    }
    picture(width, height, rgba)
}

/// A picture of these bytes.
pub fn picture(width: u32, height: u32, rgba: Vec<u8>) -> Picture {
    assert_eq!(rgba.len(), (width * height * 4) as usize);
    let opaque = rgba.chunks(4).all(|texel| texel[3] == 255);
    Picture { frame: Frame { width, height }, rgba, opaque }
}

/// A chain over a picture, as data.
pub fn path(picture: &Picture, chain: &[EffectUse], moment: Moment) -> Path {
    assert_eq!(picture.frame, moment.frame);
    Path {
        moment,
        before: vec![Step::TakeIn { picture: Arc::new(picture.clone()), into: 0 }],
        input: 0,
        opaque: picture.opaque,
        chain: chain.to_vec(),
        after: Vec::new(),
        past: Arc::default(),
    }
}

/// The picture after the effects, each in its turn. Unlike a chain it renders idle effects too.
pub fn rendered(picture: &Picture, effects: &[EffectUse], moment: Moment) -> Picture {
    let mut path = path(picture, &[], moment);
    for (from, used) in effects.iter().enumerate() {
        path.before.push(Step::Apply { call: used.call(&moment), from, into: from + 1 });
        path.input = from + 1;
    }
    with_renderer(|renderer| renderer.picture(&path, &[])).unwrap_or_else(|e| panic!("{e}"))
}

/// The first texel at which two pictures differ, for a message.
pub fn difference(one: &Picture, other: &Picture) -> Option<String> {
    assert_eq!(one.frame, other.frame);
    let at = one.rgba.chunks(4).zip(other.rgba.chunks(4)).position(|(a, b)| a != b)?;
    let (x, y) = (at % one.frame.width as usize, at / one.frame.width as usize);
    let [a, b] = [one, other].map(|p| &p.rgba[at * 4..at * 4 + 4]);
    Some(format!("at {x},{y} of {}: {a:?} and {b:?}", one.frame))
}
