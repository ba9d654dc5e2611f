//! The running order: what each beat shows, fades against a scalar model, and what effects remember across sections.

use std::collections::BTreeMap;

use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::beat::{FrameRate, Moment};
use underover::files::{Document, parse};
use underover::footage::Shelf;
use underover::gpu::Player;
use underover::plan::{Path, Running};
use underover::show::chain::Chain;
use underover::show::{Scope, Show};

use crate::common::{CATALOGUE, with_renderer};

const FRAME: Frame = Frame { width: 33, height: 17 };
/// What is added before rounding, so that ties by arithmetic fall alike everywhere.
const LITTLE: f64 = 1.0 / 16_384.0;

/// Two sections and a third that comes back to the first; trails and a flash on everything.
const NIGHT: &str = r##"format = "underover/show/1"
name = "Night"
frame = { width = 33, height = 17 }
tempo_bpm = 120.0
running_order = ["quay", "water", "quay", "port"]

[[bundle]]
name = "picture"
[[bundle.level]]
name = "sea"
[[bundle.level.clip]]
name = "waves"
footage = "generated:waves"
[[bundle.level.clip]]
name = "landfall"
footage = "generated:landfall"

[[bundle]]
name = "signs"
[[bundle.level]]
name = "mark"
[[bundle.level.clip]]
name = "ship mark"
footage = "generated:ship-mark"

[[section]]
name = "quay"
beats = 2.0
shows = { "picture/sea" = "landfall" }
opacity = { "signs" = 0.5 }

[[section]]
name = "water"
beats = 3.0
fade = 1.5
shows = { "signs/mark" = "none" }
chains = { "bundle:picture" = "preset:lamp-lines" }

[[section]]
name = "port"
beats = 1.0
fade = 1.0
"##;

fn night(text: &str, pixels: PixelMode) -> (Show, Running) {
    let document = parse(text, "night.toml", std::path::Path::new(""), &CATALOGUE);
    let Document::Show(show) = document.unwrap_or_else(|error| panic!("{error}")) else { panic!("a chain") };
    let show = Show { pixels, ..show };
    let lamps = || -> Chain {
        let (_, text) =
            underover::base::embedded::CHAINS.iter().find(|(name, _)| *name == "lamp-lines").unwrap();
        match parse(text, "lamp-lines.toml", std::path::Path::new(""), &CATALOGUE).unwrap() {
            Document::Chain(preset) => preset.chain,
            Document::Show(_) => panic!("a show"),
        }
    };
    let order = show.running(8.0).unwrap();
    let running = Running::of(order, |section| {
        show.in_section(
            section,
            |name| if name == "preset:lamp-lines" { Ok(lamps()) } else { Err(name.to_owned()) },
        )
    });
    (show.clone(), running.unwrap())
}

fn moment(pixels: PixelMode, frame: u64) -> Moment {
    Moment::of_frame(FRAME, pixels, 120.0, FrameRate::default(), frame)
}

fn rendered(path: &Path) -> Picture {
    let order: Vec<usize> = (0..path.chain.len()).collect();
    with_renderer(|renderer| renderer.picture(path, &order).unwrap())
}

/// The output at a frame, with all that leads up to it.
fn output(running: &Running, pixels: PixelMode, frame: u64) -> Picture {
    rendered(&running.path(moment(pixels, frame), true, &mut Shelf::new(&CATALOGUE)).unwrap())
}

/// The output of the show as it stands in a leg, since the start.
fn stands(running: &Running, pixels: PixelMode, leg: usize, frame: u64) -> Picture {
    let shelf = &mut Shelf::new(&CATALOGUE);
    rendered(&Path::of_scope(&running.stands()[leg], Scope::Global, moment(pixels, frame), shelf).unwrap())
}

/// IEC 61966-2-1.
fn decoded(c: f64) -> f64 {
    if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
}

fn encoded(c: f64) -> f64 {
    if c <= 0.003_130_8 { c * 12.92 } else { 1.055 * c.powf(1.0 / 2.4) - 0.055 }
}

/// One byte on its way from one output to another; both are opaque, so that source-over (W3C Compositing and Blending
/// Level 1) is the mean weighted by the share.
fn mixed(pixels: PixelMode, from: u8, to: u8, share: f64) -> u8 {
    let [from, to] = [from, to].map(|byte| f64::from(byte) / 255.0);
    let mean = |from: f64, to: f64| from * (1.0 - share) + to * share;
    let mixed = match pixels {
        PixelMode::Encoded8Bit => mean(from, to),
        PixelMode::LinearFloat => encoded(mean(decoded(from), decoded(to))),
    };
    (mixed * 255.0 + 0.5 + LITTLE).floor() as u8
}

/// Frames a second times seconds a beat: a beat has 30 frames.
const A_BEAT: u64 = 30;

#[test]
fn outside_fades_each_frame_is_that_of_its_section_and_within_them_the_mean_of_both_by_the_scalar_model() {
    for (text, pixels) in [(NIGHT, PixelMode::Encoded8Bit), (NIGHT, PixelMode::LinearFloat)] {
        let (_, running) = night(text, pixels);
        let mut seen = BTreeMap::new();
        // The legs begin at beats 0, 2, 5 and 7 and the set ends at 8; water comes over 1.5 beats, port over 1, and quay
        // cuts (arithmetic).
        for frame in (0..8 * A_BEAT).step_by(7).chain([2 * A_BEAT, 5 * A_BEAT, 7 * A_BEAT, 8 * A_BEAT]) {
            let (leg, share) = match frame as f64 / A_BEAT as f64 {
                beats if beats < 2.0 => (0, 1.0),
                beats if beats < 5.0 => (1, ((beats - 2.0) / 1.5).min(1.0)),
                beats if beats < 7.0 => (2, 1.0),
                beats => (3, (beats - 7.0).min(1.0)),
            };
            let found = output(&running, pixels, frame);
            let to = stands(&running, pixels, leg, frame);
            if share == 1.0 {
                assert_eq!(found.rgba, to.rgba, "frame {frame}");
                *seen.entry((leg, false)).or_insert(0) += 1;
                continue;
            }
            let from = stands(&running, pixels, leg - 1, frame);
            let expected = from.rgba.iter().zip(&to.rgba).map(|(&from, &to)| mixed(pixels, from, to, share));
            // In floats the model starts from rounded bytes, and so may be a byte off, in the darkest shades by a few.
            let most = if pixels == PixelMode::Encoded8Bit { 0 } else { 4 };
            for (at, (found, expected)) in found.rgba.iter().zip(expected).enumerate() {
                assert!(
                    found.abs_diff(expected) <= most,
                    "frame {frame}, byte {at}: {found}, not {expected}"
                );
            }
            if share > 0.2 && share < 0.8 {
                assert!(found.rgba != from.rgba && found.rgba != to.rgba, "a fade shows both: frame {frame}");
            }
            *seen.entry((leg, true)).or_insert(0) += 1;
        }
        assert_eq!(seen.len(), 6, "each section is met alone, and both fades: {seen:?}");
    }
}

#[test]
fn a_section_takes_over_from_the_mean_of_those_that_were_seen_when_it_was_called() {
    for pixels in [PixelMode::Encoded8Bit, PixelMode::LinearFloat] {
        let (_, running) = night(NIGHT, pixels);
        let [quay, water, port] = [0, 1, 3].map(|leg| &running.stands()[leg]);
        let frame = 3 * A_BEAT;
        let [a, b, c] = [0, 1, 3].map(|leg| stands(&running, pixels, leg, frame).rgba);
        // Called a quarter of the way into water, port is a half of the way.
        for (from, share) in [
            (vec![(quay, 0.75), (water, 0.25)], 0.5),
            (vec![(quay, 0.75), (water, 0.25)], 0.0),
            (vec![(water, 1.0)], 0.5),
        ] {
            let shelf = &mut Shelf::new(&CATALOGUE);
            let path = Path::of_fade(&from, port, |_| share, moment(pixels, frame), true, shelf).unwrap();
            let found = rendered(&path).rgba;
            let seen: Vec<u8> = match from.len() {
                1 => b.clone(),
                _ => a.iter().zip(&b).map(|(&a, &b)| mixed(pixels, a, b, 0.25)).collect(),
            };
            // In floats nothing is rounded on the way, and the model rounds at each step.
            let most = if pixels == PixelMode::Encoded8Bit { 0 } else { 6 };
            for (at, (found, (seen, to))) in found.iter().zip(seen.iter().zip(&c)).enumerate() {
                let expected = mixed(pixels, *seen, *to, share);
                assert!(found.abs_diff(expected) <= most, "byte {at}, {share}: {found}, not {expected}");
            }
        }
    }
}

#[test]
fn what_effects_remember_is_kept_apart_for_each_section_and_playing_on_gives_the_same_as_looking_back() {
    let trails = "\n[[global.effect]]\nuse = \"trails\"\n\n[[global.effect]]\nuse = \"flash-gate\"\nrate = 2.0\nstrength = 0.3\n\n[[section]]";
    let text = NIGHT.replacen("\n[[section]]", trails, 1);
    let pixels = PixelMode::Encoded8Bit;
    let (_, running) = night(&text, pixels);
    let shelf = &mut Shelf::new(&CATALOGUE);
    let mut player = Player::default();
    let mut stretch = None;
    for frame in A_BEAT..4 * A_BEAT {
        let now = moment(pixels, frame);
        if stretch != Some(running.stretch(now.beats)) {
            (player, stretch) = (Player::default(), Some(running.stretch(now.beats)));
        }
        let path = running.path(now, !player.has_begun(), shelf).unwrap();
        let order: Vec<usize> = (0..path.chain.len()).collect();
        let played = with_renderer(|renderer| renderer.play_on(&mut player, &path, &order).unwrap());
        if frame % 11 != 0 && frame != 2 * A_BEAT {
            continue;
        }
        assert_eq!(played.rgba, output(&running, pixels, frame).rgba, "frame {frame}");
        let (share, from, to) = ((frame as f64 / A_BEAT as f64 - 2.0) / 1.5, 0, 1);
        let alone = |leg| stands(&running, pixels, leg, frame).rgba;
        let expected = match share {
            share if share < 0.0 => alone(from),
            share if share >= 1.0 => alone(to),
            share => {
                let both = alone(from).into_iter().zip(alone(to));
                both.map(|(from, to)| mixed(pixels, from, to, share)).collect()
            }
        };
        assert_eq!(
            played.rgba, expected,
            "frame {frame}: each side remembers what it showed since the start"
        );
    }
}
