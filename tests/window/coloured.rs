//! What a person gave a colour has its stripe wherever the window names it, and the name stands beside every stripe.

use crate::driving::*;
use egui::{Rect, Shape, vec2};
use underover::base::coding::ColourCode;
use underover::edit::{Named, Spot, Work};
use underover::files::Document;
use underover::show::{ClipPlace, Scope};
use underover::window::{Action, Dialog, LibraryAct, List, ShowFrom, Shown, Tab};

/// Colours that nothing else in the window has.
const BUNDLE: [u8; 3] = [0x12, 0xab, 0x34];
const LEVEL: [u8; 3] = [0xab, 0x12, 0x35];
const CLIP: [u8; 3] = [0x13, 0x35, 0xac];

fn coloured() -> Work {
    let mut show = (**work("night-ferry").show()).clone();
    let code = |[r, g, b]: [u8; 3]| format!("#{r:02x}{g:02x}{b:02x}").parse::<ColourCode>().ok();
    show.bundles[0].colour = code(BUNDLE);
    show.bundles[0].levels[0].colour = code(LEVEL);
    show.bundles[0].levels[0].clips[0].colour = code(CLIP);
    Work::new(Document::Show(show), None)
}

/// Every rectangle that is painted and every text, each where it is painted.
fn painted(shape: &Shape, rects: &mut Vec<(Rect, [u8; 3])>, texts: &mut Vec<Rect>) {
    match shape {
        Shape::Vec(shapes) => shapes.iter().for_each(|shape| painted(shape, rects, texts)),
        Shape::Rect(rect) => rects.push((rect.rect, rect.fill.to_array()[..3].try_into().unwrap())),
        Shape::Text(text) => texts.push(text.galley.rect.translate(text.pos.to_vec2())),
        _ => {}
    }
}

/// The stripes of a colour, and whether a text stands beside each.
fn stripes(window: &Window, colour: [u8; 3]) -> Vec<(Rect, bool)> {
    let (mut rects, mut texts) = (Vec::new(), Vec::new());
    for clipped in &window.output().shapes {
        painted(&clipped.shape, &mut rects, &mut texts);
    }
    let of = rects.into_iter().filter(|(rect, known)| *known == colour && rect.width() < 6.0);
    of.map(|(rect, _)| {
        // In a row of the structure a small picture stands between.
        let beside = Rect::from_min_size(rect.min, vec2(90.0, rect.height()));
        (rect, texts.iter().any(|text| text.intersects(beside)))
    })
    .collect()
}

#[test]
fn a_stripe_stands_beside_the_name_wherever_a_coloured_thing_is_named() {
    let mut window = window(desk(coloured(), None));
    let spot = Spot { scope: PICTURE, at: 1 };
    let place = ClipPlace { bundle: 0, level: 0, clip: 0 };
    let library = |list| vec![Action::Tab(Tab::Library), Action::Library(LibraryAct::List(list))];
    let ask = |dialog| vec![Action::Ask(dialog)];
    let bring = [
        Action::Tab(Tab::Library),
        Action::Library(LibraryAct::List(List::OtherShow)),
        Action::Library(LibraryAct::Look(ShowFrom::Preset("harbour-lamps".to_owned()))),
        Action::Library(LibraryAct::Part(Some(Scope::Bundle(0)))),
    ];
    // Where it is said besides the path and the structure: a part of the window that has one stripe more.
    let cases: Vec<(&str, Vec<Action>, [u8; 3], &str)> = vec![
        ("the settings", vec![Action::Scope(Scope::Level(0, 0))], LEVEL, "settings"),
        ("a clip's settings", vec![Action::Scope(Scope::Clip(0, 0, 0))], CLIP, "settings"),
        ("the output", vec![Action::Scope(PICTURE)], BUNDLE, "picture"),
        ("shown alone", vec![Action::Alone(Some(Scope::Level(0, 0)))], LEVEL, "picture"),
        ("after an effect", vec![Action::Show(Shown::After(spot))], BUNDLE, "picture"),
        ("what is kept", library(List::Chains), BUNDLE, "beside"),
        ("where a chain goes", bring.to_vec(), BUNDLE, "beside"),
        ("rename", ask(Dialog::Rename(Named::Scope(Scope::Level(0, 0)))), LEVEL, "dialog"),
        ("footage", ask(Dialog::Footage(place)), CLIP, "dialog"),
        ("a file", ask(Dialog::AddFile(Scope::Level(0, 0))), LEVEL, "dialog"),
        ("files", ask(Dialog::AddFiles(PICTURE, vec!["quay.png".into()])), BUNDLE, "dialog"),
        ("an effect", ask(Dialog::Add(spot)), BUNDLE, "dialog"),
        ("levels in other orders", ask(Dialog::LevelOrders(0)), BUNDLE, "dialog"),
    ];
    for (what, actions, colour, region) in cases {
        for action in
            [Action::Close, Action::Tab(Tab::Orders), Action::Alone(None), Action::Show(Shown::Output)]
        {
            window.state_mut().act(action);
        }
        window.state_mut().act(Action::Scope(PICTURE));
        window.run_steps(2);
        let usual = stripes(&window, colour).len();
        actions.into_iter().for_each(|action| window.state_mut().act(action));
        window.run_steps(4);
        let found = stripes(&window, colour);
        let alone: Vec<&Rect> =
            found.iter().filter(|(_, has_name)| !has_name).map(|(rect, _)| rect).collect();
        assert!(alone.is_empty(), "{what}: a stripe has no name beside it: {alone:?}");
        if region == "dialog" {
            assert!(found.len() > usual, "{what}: {found:?}");
            continue;
        }
        let (_, within) = *window.state().regions().iter().find(|(name, _)| *name == region).unwrap();
        let is_there = found.iter().any(|(rect, _)| within.contains_rect(*rect));
        assert!(is_there, "{what}: no stripe in {region} {within}: {found:?}");
    }
}
