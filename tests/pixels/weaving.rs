//! Frames rendered one by one in few passes, each over no more than is read, have the bytes of plain passes.

use std::sync::Arc;

use crate::common::Set::{To, Word};
use crate::common::{Alpha, CATALOGUE, difference, scattered, used, with_renderer};
use underover::base::embedded::SHOWS;
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::beat::Moment;
use underover::files::{self, Document};
use underover::footage::Shelf;
use underover::gpu::{Against, Asked, Finished, Gpu, Player, Renderer, Unmoved, Want};
use underover::order::{Class, IndexMap, Tree};
use underover::plan::passes::{Area, areas, passes};
use underover::plan::{Path, Step};
use underover::show::chain::{EffectCall, EffectUse};
use underover::show::{BlendMode, Mix, Scope, Show};

/// Gives `work` the renderer with every frame woven, or none.
fn with_weaving<T>(all: bool, work: impl FnOnce(&mut Renderer) -> T) -> T {
    with_renderer(|renderer| {
        renderer.weave_from(if all { 0 } else { u64::MAX });
        work(renderer)
    })
}

fn shows() -> Vec<Show> {
    let read = |(name, text): &(&str, &str)| {
        let parsed = files::parse(text, name, std::path::Path::new(""), &CATALOGUE);
        match parsed.unwrap_or_else(|e| panic!("{e}")) {
            Document::Show(show) => show,
            Document::Chain(_) => panic!("{name} is a chain"),
        }
    };
    SHOWS.iter().map(read).collect()
}

fn demo() -> Show {
    shows().into_iter().find(|show| show.name == "Night ferry").unwrap()
}

fn output(show: &Show, frame: Frame, number: u64, shelf: &mut Shelf) -> Path {
    let moment = Moment::of_frame(frame, show.pixels, show.tempo_bpm, show.rate, number);
    Path::of_scope(show, Scope::Global, moment, shelf).unwrap()
}

/// Plays some frames of a show woven, and renders each of them alone.
fn check(show: &Show, frame: Frame, what: &str) {
    let order: Vec<usize> = (0..show.global.len()).collect();
    let mut shelf = Shelf::new(&CATALOGUE);
    let mut player = Player::default();
    for number in 95..103 {
        let path = output(show, frame, number, &mut shelf);
        let alone = with_weaving(false, |renderer| renderer.picture(&path, &order)).unwrap();
        let next = Path { past: if player.has_begun() { Arc::default() } else { path.past.clone() }, ..path };
        let woven = with_weaving(true, |renderer| renderer.play_on(&mut player, &next, &order)).unwrap();
        let differs = difference(&woven, &alone);
        assert!(woven.rgba == alone.rgba, "{what}, frame {number} of {frame}: {differs:?}");
    }
}

#[test]
fn shows_are_the_same_woven_and_not() {
    for show in shows() {
        for (width, height) in [(48, 27), (31, 18), (1, 5)] {
            check(&show, Frame { width, height }, &show.name);
        }
    }
}

#[test]
fn shows_with_memory_other_folds_and_other_ways_to_lay_are_the_same_woven_and_not() {
    let frame = Frame { width: 40, height: 23 };
    for (at, blend) in BlendMode::ALL.into_iter().enumerate() {
        let mut show = demo();
        let fold = ["left-over-right", "right-over-left", "top-over-bottom", "bottom-over-top"][at % 4];
        *show.bundles[0].chain.last_mut().unwrap() = used("mirror", &[("fold", Word(fold))]);
        show.bundles[0].levels[1].mix = Mix { blend, opacity: 0.7 };
        show.bundles[0].mix.opacity = 0.8;
        show.bundles[1].mix = Mix { blend, opacity: 0.6 };
        match at % 3 {
            0 => show.bundles[0].chain.insert(2, used("trails", &[])),
            1 => show.global.insert(0, used("blur", &[])),
            _ => {
                let clip = show.bundles[0].levels[0].showing;
                show.bundles[0].levels[0].clips[clip].chain.push(used("hold", &[("every", To(0.25))]));
            }
        }
        check(&show, frame, &format!("{blend:?}, {fold}"));
    }
}

/// A plan drawn by lot: pictures with and without alpha, sources, every kind of effect and every way to lay.
struct Drawn(u64);

impl Drawn {
    /// A number below another (Knuth's 64-bit linear congruential generator).
    fn below(&mut self, most: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % most
    }

    fn effects() -> Vec<EffectUse> {
        let effects = CATALOGUE.effects().iter().filter(|effect| !effect.remembers());
        effects
            .map(|effect| {
                let mut used = EffectUse::new(Arc::clone(effect));
                for (at, setting) in effect.settings.iter().enumerate() {
                    match setting.name.as_str() {
                        "amount" | "strength" => used.set_number(at, 0.7).unwrap(),
                        "distance" => used.set_number(at, 0.15).unwrap(),
                        _ => {}
                    }
                }
                used
            })
            .collect()
    }

    /// The steps of frames that follow each other: the same, but for the settings that move with the beat and for what
    /// every second of some sources shows.
    fn frames(&mut self, frame: Frame, count: u64) -> Vec<Path> {
        let effects = Self::effects();
        let stills = [Alpha::Full, Alpha::Mixed]
            .map(|alpha| Arc::new(scattered(frame.width, frame.height, alpha, self.below(1000) as u32)));
        let films: Vec<Arc<Picture>> = (0..count)
            .map(|_| Arc::new(scattered(frame.width, frame.height, Alpha::Mixed, self.below(1000) as u32)))
            .collect();
        // What each step is, once for all frames.
        let kinds: Vec<[usize; 5]> = (0..12)
            .map(|_| [self.below(10), self.below(64), self.below(64), self.below(64), self.below(64)])
            .collect();
        let frames = 0..count;
        let path = |number: u64| {
            let moment = Moment::at(frame, PixelMode::Encoded8Bit, 120.0, 0.2 + 0.3 * number as f64);
            let mut steps: Vec<Step> = Vec::new();
            for (into, &[kind, a, b, c, d]) in kinds.iter().enumerate() {
                let moving = Moment::at(
                    frame,
                    PixelMode::Encoded8Bit,
                    120.0,
                    if d % 2 == 0 { 0.2 } else { moment.beats },
                );
                steps.push(match kind {
                    _ if into == 0 => Step::TakeIn { picture: Arc::clone(&films[number as usize]), into },
                    0 => Step::TakeIn { picture: Arc::clone(&stills[a % 2]), into },
                    1 => {
                        let sources = CATALOGUE.sources();
                        let source = EffectUse::new(Arc::clone(&sources[a % sources.len()]));
                        Step::Generate { call: source.call(&moving), into }
                    }
                    2..=6 => {
                        let call = effects[a % effects.len()].call(&moving);
                        Step::Apply { call, from: into - 1 - b % into.min(3), into }
                    }
                    _ => {
                        let blend = BlendMode::ALL[a % BlendMode::ALL.len()];
                        let mix = Mix { blend, opacity: if d % 3 == 0 { 1.0 } else { 0.6 } };
                        let [backdrop, source] = [b, c].map(|back| into - 1 - back % into.min(4));
                        Step::Lay { backdrop, source, mix, into }
                    }
                });
            }
            let input = steps.len() - 1;
            Path {
                moment,
                before: steps,
                input,
                opaque: false,
                chain: Vec::new(),
                after: Vec::new(),
                past: Arc::default(),
            }
        };
        frames.map(path).collect()
    }
}

#[test]
fn plans_drawn_by_lot_are_the_same_woven_and_not() {
    let frame = Frame { width: 33, height: 17 };
    for seed in 0..24 {
        let mut player = Player::default();
        for (number, path) in Drawn(seed).frames(frame, 5).iter().enumerate() {
            let alone = with_weaving(false, |renderer| renderer.picture(path, &[])).unwrap();
            let woven = with_weaving(true, |renderer| renderer.play_on(&mut player, path, &[])).unwrap();
            let differs = difference(&woven, &alone);
            assert!(woven.rgba == alone.rgba, "plan {seed}, frame {number}: {differs:?}\n{:#?}", path.before);
        }
    }
}

/// Orders of a scope of a show as an exploration finishes them: woven behind the chain and not, and each rendered alone.
fn check_orders(show: &Show, scope: Scope, frame: Frame, what: &str) {
    let mut shelf = Shelf::new(&CATALOGUE);
    let moment = Moment::of_frame(frame, show.pixels, show.tempo_bpm, show.rate, 95);
    let path = Path::of_scope(show, scope, moment, &mut shelf).unwrap();
    let own: Vec<usize> = (0..path.chain.len()).collect();
    let orders = [own.clone(), own.iter().rev().copied().collect(), own[1..].to_vec()];
    let classes = orders.clone().map(|order| Class { order });
    let tree = Tree::of(&classes, |effect| path.idle_because(effect).is_some());
    // Tiles that cover whole texels, and such that do not.
    for size in
        [frame, Frame { width: frame.width / 2, height: frame.height / 3 }, Frame { width: 7, height: 5 }]
    {
        let want = Want::Tiles { size, most: usize::MAX };
        let asked = Asked { want, against: Some(Against::Order(&own)), ..Asked::default() };
        let found = [true, false].map(|all| {
            with_weaving(all, |renderer| renderer.explore(&path, &tree, &asked, |_| {}).unwrap().0)
        });
        let told = |found: &[Finished]| -> Vec<_> {
            found.iter().map(|one| (one.fingerprint, one.difference, one.picture.clone())).collect()
        };
        assert_eq!(told(&found[0]), told(&found[1]), "{what}, {}, tiles of {size}", show.address(scope));
        for (found, order) in found[0].iter().zip(&orders).filter(|_| size == frame) {
            let alone = with_weaving(false, |renderer| renderer.picture(&path, order)).unwrap();
            assert!(found.picture.as_ref() == Some(&alone), "{what}, {}, {order:?}", show.address(scope));
        }
    }
}

#[test]
fn orders_are_finished_the_same_woven_behind_their_chain_and_not() {
    for show in shows() {
        for scope in
            show.scopes().into_iter().filter(|&scope| show.shows(scope) && show.chain(scope).len() > 1)
        {
            check_orders(&show, scope, Frame { width: 40, height: 24 }, &show.name);
        }
    }
    // Every mode is laid by frames that are played; each is a program of its own, and takes long to compile.
    for (at, blend) in BlendMode::ALL.into_iter().enumerate().step_by(3) {
        let mut show = demo();
        show.bundles[0].mix = Mix { blend, opacity: 0.8 };
        show.bundles[1].mix = Mix { blend, opacity: 0.6 };
        match at / 3 % 3 {
            0 => show.global.insert(0, used("blur", &[])),
            1 => show.global.push(used("mirror", &[])),
            _ => show.pixels = PixelMode::LinearFloat,
        }
        check_orders(&show, Scope::Bundle(0), Frame { width: 40, height: 24 }, &format!("{blend:?}"));
    }
}

#[test]
fn two_that_play_by_turns_and_share_what_does_not_move_keep_their_own_pictures() {
    let frame = Frame { width: 48, height: 27 };
    let mut shows = [demo(), demo()];
    // The other reads all of what the first reads half of.
    shows[1].bundles[0].chain.pop();
    let order: Vec<usize> = (0..shows[0].global.len()).collect();
    let mut shelf = Shelf::new(&CATALOGUE);
    let mut players = [Player::default(), Player::default()];
    let mut unmoved = Unmoved::default();
    for number in 95..101 {
        for (show, player) in shows.iter().zip(&mut players) {
            let path = output(show, frame, number, &mut shelf);
            let alone = with_weaving(false, |renderer| renderer.picture(&path, &order)).unwrap();
            player.trade(&mut unmoved);
            let woven = with_weaving(true, |renderer| renderer.play_on(player, &path, &order)).unwrap();
            player.trade(&mut unmoved);
            assert!(woven.rgba == alone.rgba, "frame {number}: {:?}", difference(&woven, &alone));
        }
    }
}

/// What a move takes its texels from, by its index map.
fn taken_from(call: &EffectCall, moment: &Moment, area: Area) -> Area {
    let used = EffectUse::new(Arc::clone(&call.effect));
    let maps = |renderer: &mut Renderer| {
        renderer.index_maps_knowing(std::slice::from_ref(&used), moment, [], |_| true).unwrap()
    };
    let map: Arc<IndexMap> = with_renderer(maps).pop().flatten().unwrap();
    let (mut xs, mut ys) = (Vec::new(), Vec::new());
    for y in area.top..area.bottom {
        for x in area.left..area.right {
            for channel in &map.channels {
                let from = channel[(y * moment.frame.width + x) as usize];
                xs.push(from & 0xffff);
                ys.push(from >> 16);
            }
        }
    }
    let ends = |all: &[u32]| (*all.iter().min().unwrap(), all.iter().max().unwrap() + 1);
    let ((left, right), (top, bottom)) = (ends(&xs), ends(&ys));
    Area { left, top, right, bottom }
}

#[test]
fn of_what_lies_under_a_fold_only_the_half_that_is_kept_is_read() {
    let frame = Frame { width: 64, height: 36 };
    let moment = Moment::at(frame, PixelMode::Encoded8Bit, 120.0, 0.1);
    let calls =
        [used("tint", &[]), used("edge-find", &[]), used("mirror", &[])].map(|used| used.call(&moment));
    let mut steps = vec![Step::TakeIn { picture: Arc::new(scattered(64, 36, Alpha::Full, 1)), into: 0 }];
    for (from, call) in calls.into_iter().enumerate() {
        steps.push(Step::Apply { call, from, into: from + 1 });
    }
    let found: Result<_, ()> = areas(&steps, &[3], frame, |call, area| Ok(taken_from(call, &moment, area)));
    let wide = |right| Some(Area { left: 0, top: 0, right, bottom: 36 });
    // Edges look one texel past the half that is kept.
    assert_eq!(found.unwrap(), [wide(33), wide(33), wide(32), wide(64)]);
}

#[test]
fn a_frame_of_the_demo_takes_less_than_half_the_passes_that_it_has_steps() {
    let show = demo();
    let mut shelf = Shelf::new(&CATALOGUE);
    // The gate is open there.
    let path = output(&show, show.frame, 0, &mut shelf);
    let (steps, last) = path.in_order(&[0]);
    let whole = vec![Some(Area::whole(show.frame)); steps.len()];
    let mut stored = vec![false; steps.len()];
    stored[last] = true;
    let made = passes(&steps, &vec![true; steps.len()], &stored, &whole);
    assert!(steps.len() >= 14 && made.len() <= 7, "{} passes of {} steps: {made:?}", made.len(), steps.len());
    // Each step is in one pass, behind what it reads.
    let mut done = vec![false; steps.len()];
    for pass in &made {
        assert!(pass.pictures.iter().all(|&picture| done[picture]), "{made:?}");
        for &step in &pass.steps {
            assert!(!std::mem::replace(&mut done[step], true), "{made:?}");
        }
    }
    assert!(done.into_iter().all(|done| done));
}

#[test]
fn frames_that_are_played_take_the_texture_arrays_of_those_before() {
    let frame = Frame { width: 96, height: 54 };
    for mut show in shows() {
        show.pixels = PixelMode::Encoded8Bit;
        for weaves in [false, true] {
            let mut renderer = Renderer::new(Gpu::open(None).unwrap());
            renderer.weave_from(if weaves { 0 } else { u64::MAX });
            let order: Vec<usize> = (0..show.global.len()).collect();
            let mut shelf = Shelf::new(&CATALOGUE);
            let mut player = Player::default();
            let mut made = Vec::new();
            for number in 0..8 {
                let path = output(&show, frame, number, &mut shelf);
                let before = renderer.arrays_made();
                renderer.play_on(&mut player, &path, &order).unwrap();
                made.push(renderer.arrays_made() - before);
            }
            assert!(made[0] > 1 && made[4..] == [0; 4], "{}, {weaves}: {made:?}", show.name);
        }
    }
}
