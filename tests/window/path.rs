//! The path under the pointer: what is pointed at moves, and stands still again.

use std::time::Duration;

use crate::driving::{catalogue, work};
use egui::{Event, Pos2, pos2};
use image::RgbaImage;
use image::imageops::crop_imm;
use underover::base::frame::Frame;
use underover::edit::Work;
use underover::files::Document;
use underover::gpu::Gpu;
use underover::show::Show;
use underover::window::Offscreen;

/// A window on a show of the program, on a small frame.
fn opened(name: &str) -> Offscreen {
    let show = Show { frame: Frame { width: 160, height: 90 }, ..Show::clone(work(name).show()) };
    let gpu = Gpu::open(None).expect("an adapter");
    let work = Work::new(Document::Show(show), None);
    let size = Frame { width: 1280, height: 800 };
    let mut window = Offscreen::new(gpu, work, catalogue(), size).expect("a window");
    assert!(window.settle(Duration::from_secs(300)).expect("a GPU"), "the window never came to rest");
    window
}

/// The middle of the first card of the path, and what stands there.
fn first_card(window: &mut Offscreen) -> (Pos2, RgbaImage) {
    let regions = window.desk().regions();
    let path = regions.iter().find(|(name, _)| *name == "path").expect("the path").1;
    let middle = pos2(path.left() + 46.0, path.top() + 60.0);
    let picture = window.picture().expect("a picture");
    (middle, crop_imm(&picture, middle.x as u32 - 24, middle.y as u32 - 24, 48, 48).to_image())
}

/// Goes on for a second and more, and gives the pictures that the card showed.
fn shown(window: &mut Offscreen, events: Vec<Event>) -> Vec<RgbaImage> {
    window.step(0.1, events);
    let mut shown = Vec::new();
    for _ in 0..12 {
        window.step(0.1, Vec::new());
        window.finish().expect("a GPU");
        shown.push(first_card(window).1);
    }
    shown
}

#[test]
fn a_card_of_the_path_moves_while_it_is_pointed_at_and_then_stands_where_the_beat_does() {
    let mut window = opened("landfall");
    let (at, still) = first_card(&mut window);
    assert!(
        shown(&mut window, Vec::new()).iter().all(|picture| *picture == still),
        "nothing moves by itself"
    );
    let pictures = shown(&mut window, vec![Event::PointerMoved(at)]);
    assert!(pictures.iter().filter(|picture| **picture != still).count() > 3, "it moves");
    assert_eq!(window.desk().view().beats.to_bits(), 0.1_f64.to_bits(), "the beat stands where it stood");
    assert!(window.desk().known().is_some(), "and what is known of the orders is known");
    shown(&mut window, vec![Event::PointerGone]);
    assert_eq!(first_card(&mut window).1, still);
}

#[test]
fn a_card_of_a_show_that_may_flash_stands_still_until_it_is_played() {
    let mut window = opened("night-ferry");
    let (at, still) = first_card(&mut window);
    let pictures = shown(&mut window, vec![Event::PointerMoved(at)]);
    assert!(pictures.iter().all(|picture| *picture == still));
}
