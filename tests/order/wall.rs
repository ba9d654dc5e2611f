//! The wall: pictures, captions, words and colours land where and as they should.
//!
//! `cargo test --test order wall:: -- --ignored` writes sheets to look at into `target/wall/`.

use std::path::Path;

use image::{Rgba, RgbaImage, imageops};
use proptest::prelude::*;
use underover::base::coding::ColourCode;
use underover::base::colour::Colour;
use underover::base::frame::Frame;
use underover::drawing::ink;
use underover::drawing::ink::ChipLook;
use underover::output::wall::{
    Asked, Captioned, Column, EffectKey, Group, LONGEST_SIDE, PiecesGrid, Row, Section, Spread, Striped,
    Tile, Wall, WallError, Word, tile_size,
};

/// A small harbour at night: sky, quay lamps with their reflections, a ferry.
fn harbour(width: u32, height: u32) -> RgbaImage {
    let (w, h) = (width as f32, height as f32);
    RgbaImage::from_fn(width, height, |x, y| {
        let (u, v) = ((x as f32 + 0.5) / w, (y as f32 + 0.5) / h);
        let aspect = w / h;
        let water = 0.58;
        let mut c = if v < water {
            let t = v / water;
            [0.03 + 0.13 * t, 0.05 + 0.14 * t, 0.16 + 0.2 * t]
        } else {
            let t = (v - water) / (1.0 - water);
            let wave = 0.03 * ((v * 160.0 + (u * 9.0).sin() * 2.0).sin());
            [0.06 - 0.03 * t + wave, 0.1 - 0.05 * t + wave, 0.2 - 0.1 * t + wave]
        };
        let moon = ((u - 0.76) * aspect).hypot(v - 0.18);
        if moon < 0.085 {
            c = [0.95, 0.93, 0.82];
        } else {
            let glow = 0.12 * (-((moon - 0.085) * 9.0)).exp();
            c = [c[0] + glow, c[1] + glow, c[2] + glow * 0.8];
        }
        let hills = 0.5 - 0.05 * (u * 7.0 + 1.0).sin() - 0.03 * (u * 17.0).sin();
        if v > hills && v < water {
            c = [0.04, 0.05, 0.08];
        }
        for (n, lamp) in [0.07_f32, 0.17, 0.27, 0.86, 0.94].into_iter().enumerate() {
            let warm = [[1.0, 0.62, 0.2], [0.95, 0.3, 0.2], [0.5, 0.9, 0.75]][n % 3];
            let (dx, top) = ((u - lamp) * aspect, 0.5);
            let glow = (-(dx.hypot(v - top) * 26.0)).exp() * 1.3;
            let column = if v > water { (-(dx.abs() * 70.0)).exp() * (0.8 - (v - water) * 1.6) } else { 0.0 };
            let streak = column.max(0.0) * (0.65 + 0.35 * (v * 190.0).sin());
            for k in 0..3 {
                c[k] += warm[k] * (glow + streak);
            }
        }
        let hull = v > 0.52 && v < 0.64 && u > 0.36 + (v - 0.52) * 0.5 && u < 0.72 - (v - 0.52) * 0.35;
        let deck = v > 0.43 && v <= 0.52 && u > 0.42 && u < 0.66;
        let funnel = v > 0.34 && v <= 0.43 && u > 0.55 && u < 0.59;
        if hull {
            c = if v > 0.6 { [0.55, 0.12, 0.1] } else { [0.1, 0.13, 0.2] };
        }
        if deck {
            c = [0.75, 0.76, 0.74];
            let (cell, row) = ((u * 42.0).fract(), (v - 0.43) / 0.09);
            if cell > 0.3 && cell < 0.75 && row > 0.35 && row < 0.7 {
                c = [1.0, 0.8, 0.35];
            }
        }
        if funnel {
            c = if v < 0.375 { [0.1, 0.1, 0.12] } else { [0.82, 0.35, 0.12] };
        }
        let byte = |share: f32| (share.clamp(0.0, 1.0) * 255.0 + 0.5) as u8;
        Rgba([byte(c[0]), byte(c[1]), byte(c[2]), 255])
    })
}

type Effect = fn(&RgbaImage) -> RgbaImage;

/// Effects for the pictures of these sheets: enough that their order shows, no reference for shaders.
const EFFECTS: [(&str, &str, Effect); 5] = [
    ("edge-find", "gain 1.5", edges),
    ("tint", "colour #ff8c33, amount 0.8", tinted),
    ("channel-offset", "distance 0.03", offset),
    ("flash-gate", "strength 0.35, open 0.5", flashed),
    ("mirror", "", mirrored),
];

fn mapped(p: &RgbaImage, f: impl Fn(u32, u32) -> [f32; 3]) -> RgbaImage {
    RgbaImage::from_fn(p.width(), p.height(), |x, y| {
        let [r, g, b] = f(x, y).map(|share| (share.clamp(0.0, 1.0) * 255.0 + 0.5) as u8);
        Rgba([r, g, b, p.get_pixel(x, y)[3]])
    })
}

fn texel(p: &RgbaImage, x: i64, y: i64) -> [f32; 3] {
    let side = |at: i64, length: u32| at.clamp(0, i64::from(length) - 1) as u32;
    let t = p.get_pixel(side(x, p.width()), side(y, p.height()));
    [t[0], t[1], t[2]].map(|byte| f32::from(byte) / 255.0)
}

fn edges(p: &RgbaImage) -> RgbaImage {
    mapped(p, |x, y| {
        let at = |dx, dy| texel(p, i64::from(x) + dx, i64::from(y) + dy);
        std::array::from_fn(|k| {
            let row = |dy: i64| at(1, dy)[k] - at(-1, dy)[k];
            let column = |dx: i64| at(dx, 1)[k] - at(dx, -1)[k];
            let gx = row(-1) + 2.0 * row(0) + row(1);
            let gy = column(-1) + 2.0 * column(0) + column(1);
            0.25 * texel(p, x.into(), y.into())[k] + 0.75 * gx.hypot(gy)
        })
    })
}

fn tinted(p: &RgbaImage) -> RgbaImage {
    mapped(p, |x, y| {
        let [r, g, b] = texel(p, x.into(), y.into());
        let luma = 0.2126 * r + 0.7152 * g + 0.0722 * b;
        let to = [luma, luma * 0.55, luma * 0.2];
        [r + (to[0] - r) * 0.8, g + (to[1] - g) * 0.8, b + (to[2] - b) * 0.8]
    })
}

fn offset(p: &RgbaImage) -> RgbaImage {
    let d = (p.width() as f32 * 0.03).round() as i64;
    mapped(p, |x, y| {
        let (x, y) = (i64::from(x), i64::from(y));
        [texel(p, x + d, y)[0], texel(p, x, y)[1], texel(p, x - d, y)[2]]
    })
}

fn flashed(p: &RgbaImage) -> RgbaImage {
    mapped(p, |x, y| texel(p, x.into(), y.into()).map(|share| share + (1.0 - share) * 0.35))
}

fn mirrored(p: &RgbaImage) -> RgbaImage {
    mapped(p, |x, y| texel(p, i64::from(x.min(p.width() - 1 - x)), y.into()))
}

/// Every arrangement of 0..n, in lexical order.
fn arrangements(n: usize) -> Vec<Vec<usize>> {
    if n == 0 {
        return vec![Vec::new()];
    }
    let mut all = Vec::new();
    for shorter in arrangements(n - 1) {
        for at in 0..n {
            let mut longer = shorter.clone();
            longer.insert(at, n - 1);
            all.push(longer);
        }
    }
    all.sort();
    all
}

fn key(place: usize, label: &str, settings: &str) -> EffectKey {
    let mark = place as u32 + 1;
    EffectKey { label: label.to_owned(), mark, settings: settings.to_owned(), idle: None }
}

/// The code of an order where each effect's mark is its place.
fn code(order: &[usize]) -> String {
    let marks: Vec<String> = order.iter().map(|place| (place + 1).to_string()).collect();
    marks.join(if order.len() > 9 { "." } else { "" })
}

/// A wall with pictures that only stand for some.
fn plain_wall(width: u32, height: u32, tiles: usize, effects: usize) -> Wall {
    let labels = ["edge-find", "tint", "mirror", "channel-offset", "flash-gate", "blur", "tint"];
    let order: Vec<usize> = (0..effects).collect();
    let tile = |n: usize| {
        let mut order = order.clone();
        order.rotate_left(if effects == 0 { 0 } else { n % effects });
        let picture = RgbaImage::from_fn(width, height, |x, y| {
            Rgba([(x * 7 + n as u32 * 31) as u8, (y * 5) as u8, ((x ^ y) * 3) as u8, 255])
        });
        Tile { picture, code: code(&order), order, note: (n == 0).then(|| "the file's own order".to_owned()) }
    };
    Wall {
        title: "Harbour lamps".to_owned(),
        facts: vec!["harbour at beat 0.1, 640x360, encoded-8bit".into()],
        effects: (0..effects).map(|n| key(n, labels[n % labels.len()], "amount 0.8")).collect(),
        tiles: (0..tiles).map(tile).collect(),
        ..Wall::default()
    }
}

/// The same in families of so many tiles each, the first of each as large as `large`.
fn family_wall(large: (u32, u32), small: (u32, u32), families: &[usize], effects: usize) -> Wall {
    let tiles = families.iter().sum();
    let mut wall = plain_wall(small.0, small.1, tiles, effects);
    let mut at = 0;
    for (nth, &tiles) in families.iter().enumerate() {
        wall.tiles[at].picture = RgbaImage::from_fn(large.0, large.1, |x, y| {
            Rgba([(x * 3 + nth as u32 * 41) as u8, (y * 2) as u8, (x + y) as u8, 255])
        });
        at += tiles;
        let under = [Word::Effect(nth % effects), Word::Text(" under "), Word::Effect((nth + 1) % effects)];
        let heading = under.iter().cloned().chain([Word::Text(", ")]).chain(under.iter().cloned()).collect();
        wall.families.push(Group { heading, lines: vec!["20 orders of 120, 17 %.".to_owned()], tiles });
        let mut question = vec![Word::Text("where ")];
        question.extend(under);
        question.push(Word::Text("?"));
        let said = format!("{} %", 40 - nth * 7);
        let remark = (nth == 1).then(|| "It matters only there.".to_owned());
        wall.questions.push(Asked { share: 0.4 - nth as f64 * 0.07, said, question, remark });
    }
    wall.answer = Some("Two questions decide 88 % of what order does here.".to_owned());
    wall.notes = vec!["Save one as a chain file by its code.".to_owned(), "Another note. ".repeat(20)];
    wall
}

/// The wall of a chain of the first `n` effects over the harbour, one tile for each picture.
fn harbour_wall(n: usize, shrink: Option<Frame>) -> Wall {
    let frame = shrink.unwrap_or(Frame { width: 640, height: 360 });
    let footage = harbour(frame.width, frame.height);
    let mut tiles: Vec<Tile> = Vec::new();
    let orders = arrangements(n);
    for order in &orders {
        let mut picture = footage.clone();
        for &place in order {
            picture = EFFECTS[place].2(&picture);
        }
        if !tiles.iter().any(|tile| tile.picture == picture) {
            let own = tiles.is_empty().then(|| "the file's own order".to_owned());
            tiles.push(Tile { picture, order: order.clone(), code: code(order), note: own });
        }
    }
    let grid = tile_size(frame, tiles.len());
    let shown = tiles.len();
    for tile in &mut tiles {
        tile.picture = grid.tile(&tile.picture).unwrap();
    }
    Wall {
        title: "Harbour lamps".to_owned(),
        facts: vec![
            format!("{} orders, {shown} that can differ, {shown} that differ on this footage", orders.len())
                .into(),
            format!("harbour at beat 0.1, {frame}, encoded-8bit").into(),
        ],
        effects: (0..n).map(|at| key(at, EFFECTS[at].0, EFFECTS[at].1)).collect(),
        tiles,
        ..Wall::default()
    }
}

#[test]
fn what_a_person_gave_a_colour_stands_behind_a_stripe_on_every_kind_of_sheet() {
    let colour: ColourCode = "#12ab34".parse().unwrap();
    let picture = RgbaImage::from_pixel(160, 90, Rgba([90, 90, 90, 255]));
    let sheets = |colour: Option<ColourCode>| {
        let named = Striped::of(colour, "bundle:picture").then(", beat 0.1");
        let wall = Wall { facts: vec![named.clone()], ..plain_wall(160, 90, 2, 2) };
        let mut heading = Striped::from("1  ");
        heading.0.extend([(None, "sea".to_owned()), (None, ", ".to_owned()), (colour, "lamps".to_owned())]);
        let captioned =
            Captioned { picture: picture.clone(), heading, lines: vec![named.clone()], scale: None };
        let spread = Spread {
            title: "Levels".to_owned(),
            pictures: vec![captioned],
            facts: vec![named.clone()],
            ..Spread::default()
        };
        let row = Row {
            code: "12".to_owned(),
            order: vec![0, 1],
            lines: vec!["look 1".to_owned()],
            pictures: vec![(picture.clone(), None)],
        };
        let pieces = PiecesGrid {
            title: "Harbour".to_owned(),
            facts: vec![named],
            effects: wall.effects.clone(),
            columns: vec![Column { name: "a".repeat(80), colour, note: String::new() }],
            sections: vec![Section { heading: "Looks".to_owned(), note: String::new(), rows: vec![row] }],
            ..PiecesGrid::default()
        };
        [wall.drawn().unwrap(), spread.drawn().unwrap(), pieces.drawn().unwrap()]
    };
    // A stripe is as high as its line of text, nearly, and nothing else has its colour.
    let stripes = |sheet: &RgbaImage| {
        let is_it = |x: u32, y: u32| sheet.get_pixel(x, y).0 == [0x12, 0xab, 0x34, 255];
        let tops = |x: u32| (1..sheet.height()).filter(move |&y| is_it(x, y) && !is_it(x, y - 1));
        (1..sheet.width())
            .flat_map(|x| tops(x).map(move |y| (x, y)))
            .filter(|&(x, y)| !is_it(x - 1, y) && (0..12).all(|down| is_it(x, y + down)))
            .collect::<Vec<_>>()
    };
    let [plain, with] = [sheets(None), sheets(Some(colour))];
    for ((plain, with), count) in plain.iter().zip(&with).zip([1, 3, 2]) {
        assert_eq!((stripes(plain).len(), stripes(with).len()), (0, count));
        // Nothing is pushed out of the sheet, and its name is right of each.
        assert_eq!(plain.width(), with.width());
        for (x, y) in stripes(with) {
            let beside = (x + 10..x + 60).any(|x| (y..y + 16).any(|y| with.get_pixel(x, y)[0] > 0xa0));
            assert!(beside, "{x} {y}: a stripe stands alone");
        }
    }
}

#[test]
#[ignore = "writes sheets for a person to look at"]
fn sheets_to_look_at() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).parent().unwrap().join("wall");
    std::fs::create_dir_all(&folder).unwrap();
    let save = |name: &str, wall: &Wall| {
        let sheet = wall.drawn().unwrap();
        println!("{name}: {}x{}, {} tiles", sheet.width(), sheet.height(), wall.tiles.len());
        sheet.save(folder.join(name)).unwrap();
    };
    let mut five = harbour_wall(5, None);
    five.caution = Some(
        "Flashing light: 2.9 flashes a second. Some of these orders flash a quarter of the picture or more; \
         look at them one at a time before the show."
            .to_owned(),
    );
    five.notes = vec!["All of 54 shown.".to_owned()];
    five.tiles[4].note = Some("same picture here as 3".to_owned());
    save("five.png", &five);
    let mut three = harbour_wall(3, None);
    three.effects[1].idle = Some("amount is 0".to_owned());
    save("three.png", &three);
    save("two.png", &harbour_wall(2, None));
    save("one.png", &harbour_wall(0, None));
    save("portrait.png", &harbour_wall(4, Some(Frame { width: 360, height: 640 })));
    save("wide.png", &harbour_wall(4, Some(Frame { width: 840, height: 360 })));
    save("tiny.png", &harbour_wall(3, Some(Frame { width: 16, height: 9 })));
    let mut twelve = plain_wall(240, 240, 18, 12);
    twelve.title = "Night ferry \u{2013} \u{6d77} \u{1f6a2}, a chain with a long name".to_owned();
    twelve.effects[2].label = "a-very-long-effect-name-that-somebody-wrote-in-a-hurry".to_owned();
    for tile in &mut twelve.tiles {
        for texel in tile.picture.pixels_mut() {
            texel[3] = texel[0];
        }
    }
    save("twelve.png", &twelve);
    save("many.png", &plain_wall(256, 144, 240, 8));
}

/// Why a wall is not drawn (a sheet would be printed texel by texel if it were).
fn refused(wall: &Wall) -> WallError {
    wall.drawn().map(|sheet| sheet.dimensions()).unwrap_err()
}

/// Checks a drawn sheet: every picture is where the layout says, byte for byte; nothing overlaps; and
/// outside header, pictures (with the line around each) and captions there is bare ground.
fn assert_in_place(wall: &Wall) {
    let layout = wall.layout().unwrap();
    let sheet = wall.drawn().unwrap();
    assert_eq!(sheet.dimensions(), (layout.width, layout.height));
    // What is taken of each row, from where to where; rows are compared as bytes, as that is quick in any build.
    let mut taken: Vec<Vec<(u32, u32)>> = vec![Vec::new(); layout.height as usize];
    let mut take = |what: &str, x: u32, y: u32, width: u32, height: u32| {
        assert!(x + width <= layout.width && y + height <= layout.height, "{what} leaves the sheet");
        for row in y..y + height {
            let is_free = |&(from, to): &(u32, u32)| x + width <= from || to <= x;
            assert!(taken[row as usize].iter().all(is_free), "{what} overlaps something at {x},{row}");
            taken[row as usize].push((x, x + width));
        }
    };
    let header = layout.header;
    take("the header", header.x, header.y, header.width, header.height);
    for at in layout.headings.iter().chain(&layout.foot) {
        take("a heading", at.x, at.y, at.width, at.height);
    }
    assert_eq!(layout.foot.is_some(), !wall.notes.is_empty());
    assert_eq!(layout.cells.len(), wall.tiles.len());
    let row = |y: u32, (from, to): (u32, u32)| {
        let at = |x: u32| (y as usize * layout.width as usize + x as usize) * 4;
        &sheet.as_raw()[at(from)..at(to)]
    };
    for (cell, tile) in layout.cells.iter().zip(&wall.tiles) {
        let at = cell.picture;
        take("a picture", at.x - 1, at.y - 1, at.width + 2, at.height + 2);
        take("a caption", cell.caption.x, cell.caption.y, cell.caption.width, cell.caption.height);
        assert_eq!(tile.picture.dimensions(), (at.width, at.height), "picture {}", tile.code);
        let given = tile.picture.as_raw().chunks(at.width as usize * 4);
        let is_shown = given.zip(at.y..).all(|(given, y)| row(y, (at.x, at.x + at.width)) == given);
        assert!(is_shown, "picture {} is not what was given", tile.code);
    }
    let ground = opaque(ink::GROUND).0.repeat(layout.width as usize);
    for (y, taken) in (0..).zip(&mut taken) {
        taken.sort_unstable();
        let mut from = 0;
        for &(next, to) in taken.iter().chain(&[(layout.width, layout.width)]) {
            let free = row(y, (from, next));
            assert!(free == &ground[..free.len()], "ink outside every cell in row {y}, {from} to {next}");
            from = to;
        }
    }
}

fn opaque(Colour([r, g, b]): Colour) -> Rgba<u8> {
    Rgba([r, g, b, 255])
}

#[test]
fn every_count_and_shape_is_in_place() {
    let every = [1, 2, 6, 18, 54, 120, 240];
    let shapes =
        [(640, 360), (360, 640), (512, 512), (840, 360), (1, 1), (16, 9), (3000, 1), (1, 3000), (1281, 719)];
    for (n, (width, height)) in shapes.into_iter().enumerate() {
        let counts = if n == 0 { &every[..] } else { &every[..4] };
        for (m, &tiles) in counts.iter().enumerate() {
            let grid = tile_size(Frame { width, height }, tiles);
            let effects = [0, 1, 2, 5, 8, 12][(n + m) % 6];
            let wall = plain_wall(grid.width, grid.height, tiles, effects);
            assert_in_place(&wall);
            assert_eq!(wall.layout().unwrap().columns, grid.columns, "{width}x{height}, {tiles} tiles");
        }
    }
}

#[test]
fn families_of_every_count_and_shape_are_in_place() {
    let shapes =
        [((640, 360), (288, 162)), ((360, 640), (162, 288)), ((1283, 180), (601, 84)), ((60, 30), (20, 10))];
    let counts: [&[usize]; 7] =
        [&[1], &[1, 1], &[1, 1, 1, 1], &[2, 1, 7], &[12, 3, 1, 9], &[5; 6], &[70, 1, 2, 90]];
    for (large, small) in shapes {
        for (nth, families) in counts.into_iter().enumerate() {
            let wall = family_wall(large, small, families, [2, 3, 5, 8][nth % 4]);
            assert_in_place(&wall);
            let layout = wall.layout().unwrap();
            // The first of each family is the large one, and all stand in the order in which they were given.
            let mut at = 0;
            for &tiles in families {
                let picture = layout.cells[at].picture;
                assert_eq!((picture.width, picture.height), large);
                for cell in &layout.cells[at + 1..at + tiles] {
                    assert!(cell.picture.y >= picture.y, "a small picture stands above its family");
                    assert!(cell.words.is_empty(), "a small picture says its order by code and chips");
                }
                at += tiles;
            }
        }
    }
}

#[test]
fn names_that_are_long_or_longer_than_a_line_are_in_place_in_headings_and_questions() {
    let mut wall = family_wall((640, 360), (288, 162), &[3, 1, 1], 3);
    wall.effects[0].label = "the warm lamps of the western quay, at midnight, seen from the ferry".to_owned();
    wall.effects[1].label = "einsehrlangerzusammengeschriebenername".repeat(8);
    wall.answer = Some("An answer that is long ".repeat(20));
    assert_in_place(&wall);
    for tile in &mut wall.tiles {
        tile.picture = RgbaImage::from_pixel(40, 40, Rgba([9, 9, 9, 255]));
    }
    assert_in_place(&wall);
}

#[test]
fn every_length_of_chain_is_in_place() {
    for effects in (0..=12).chain([25, 64]) {
        let mut wall = plain_wall(200, 120, 5, effects);
        wall.caution = Some("Flashing light: look at one picture at a time.".to_owned());
        assert_in_place(&wall);
    }
}

#[test]
fn pictures_of_unlike_sizes_and_a_code_that_is_longer_than_a_line_are_in_place() {
    let mut wall = plain_wall(200, 120, 7, 3);
    wall.tiles[2].picture = RgbaImage::from_pixel(300, 40, Rgba([9, 90, 200, 255]));
    wall.tiles[4].picture = RgbaImage::from_pixel(1, 260, Rgba([200, 90, 9, 255]));
    wall.tiles[5].code = "12.1.".repeat(40);
    assert_in_place(&wall);
}

#[test]
fn a_caption_changes_no_texel_outside_itself() {
    let with = plain_wall(240, 135, 6, 5);
    let cells = with.layout().unwrap().cells;
    let full = with.drawn().unwrap();
    let mut compared = 0;
    for (n, cell) in cells.iter().enumerate() {
        let mut without = with.clone();
        without.tiles[n].order.reverse();
        without.tiles[n].code = code(&without.tiles[n].order);
        let changed = without.drawn().unwrap();
        if changed.dimensions() != full.dimensions() {
            continue; // The other order took another line, so that the rows below moved.
        }
        let mut texels = 0;
        for (x, y, texel) in changed.enumerate_pixels() {
            if texel != full.get_pixel(x, y) {
                assert!(cell.caption.holds(x, y), "tile {n} changed {x},{y}");
                texels += 1;
            }
        }
        assert!(texels > 200, "the caption of tile {n} does not show");
        compared += 1;
    }
    assert!(compared >= 3, "only {compared} captions could be compared");
}

#[test]
fn captions_of_a_row_are_alike_high() {
    let wall = plain_wall(240, 135, 7, 5);
    let layout = wall.layout().unwrap();
    for row in layout.cells.chunks(layout.columns) {
        assert!(
            row.iter().all(
                |cell| (cell.caption.y, cell.caption.height) == (row[0].caption.y, row[0].caption.height)
            )
        );
    }
    assert!(!layout.cells[0].note.is_empty());
}

#[test]
fn two_effects_of_one_name_are_told_apart_in_words() {
    let mut wall = plain_wall(400, 225, 1, 3);
    wall.effects[2].label = wall.effects[1].label.clone();
    let words = wall.layout().unwrap().cells[0].words.join(" ").replace('\u{a0}', " ");
    assert_eq!(words, "edge-find, then tint (2), then tint (3)");
}

#[test]
fn the_empty_chain_says_so() {
    let wall = plain_wall(320, 180, 1, 0);
    assert_eq!(wall.layout().unwrap().cells[0].words, ["no effect: the footage as it is"]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn words_wrap_without_loss_whatever_the_names(
        labels in prop::collection::vec("[a-z]{0,3}\\PC{0,60}", 1..6),
        note in "\\PC{0,120}",
        width in 1_u32..400,
    ) {
        let mut wall = plain_wall(width, 20, 1, labels.len());
        for (n, (effect, label)) in wall.effects.iter_mut().zip(&labels).enumerate() {
            effect.label = format!("{label}{n}");
        }
        wall.tiles[0].note = Some(note.clone());
        let solid = |text: &str| text.chars().filter(|c| !c.is_whitespace()).collect::<String>();
        let names: Vec<&str> = wall.effects.iter().map(|effect| effect.label.as_str()).collect();
        let cell = &wall.layout().unwrap().cells[0];
        prop_assert_eq!(solid(&cell.words.concat()), solid(&names.join(", then ")));
        prop_assert_eq!(solid(&cell.note.concat()), solid(&note));
        assert_in_place(&wall);
    }
}

/// The reference is the `palette` crate; its formula (WCAG 2.1) is the one of WCAG 2.2, which asks
/// 4.5:1 of text (success criterion 1.4.3).
#[test]
fn every_text_stands_out_from_its_ground() {
    use palette::{Srgb, color_difference::Wcag21RelativeContrast};
    let reference = |Colour(a): Colour, Colour(b): Colour| {
        let light = |[r, g, b]: [u8; 3]| Srgb::new(r, g, b).into_format::<f64>();
        light(a).relative_contrast(light(b))
    };
    let mut pairs: Vec<(String, Colour, Colour)> =
        ink::TEXT_ON_GROUND.iter().map(|&(name, text, ground)| (name.to_owned(), text, ground)).collect();
    for mark in 1..=24 {
        let look = ChipLook::of(mark);
        pairs.push((format!("numeral {mark}"), look.numeral, look.under_numeral));
    }
    for (name, text, ground) in pairs {
        let contrast = reference(text, ground);
        assert!(contrast >= 4.5, "{name}: {text} on {ground} is {contrast:.2}:1");
        assert!((contrast - ink::contrast(text, ground)).abs() < 0.02, "{name}");
    }
    assert!((ink::contrast(ink::BLACK, Colour([255; 3])) - 21.0).abs() < 1e-9);
}

/// Okabe and Ito, "Color Universal Design" (2002, revised 2008): R, G, B as that set is quoted widely.
#[test]
fn chips_take_the_published_palette_and_never_repeat_a_look() {
    let published = [
        [230, 159, 0],
        [86, 180, 233],
        [0, 158, 115],
        [240, 228, 66],
        [0, 114, 178],
        [213, 94, 0],
        [204, 121, 167],
        [0, 0, 0],
    ];
    assert_eq!(ink::OKABE_ITO, published.map(Colour));
    let looks: std::collections::HashSet<ChipLook> = (1..=24).map(ChipLook::of).collect();
    assert_eq!(looks.len(), 24);
}

#[test]
fn a_transparent_picture_shows_a_checker() {
    let mut wall = plain_wall(64, 64, 1, 1);
    wall.tiles[0].picture = RgbaImage::from_pixel(64, 64, Rgba([255, 0, 0, 0]));
    let at = wall.layout().unwrap().cells[0].picture;
    let sheet = wall.drawn().unwrap();
    let [dark, light] = ink::CHECKER.map(opaque);
    assert_eq!((*sheet.get_pixel(at.x, at.y), *sheet.get_pixel(at.x + 8, at.y)), (dark, light));

    // Source-over by hand: 255 * 128/255 + 0x2b * 127/255 = 149.4; 0x2b * 127/255 = 21.4.
    wall.tiles[0].picture = RgbaImage::from_pixel(64, 64, Rgba([255, 0, 0, 128]));
    assert_eq!(*wall.drawn().unwrap().get_pixel(at.x, at.y), Rgba([149, 21, 21, 255]));
}

#[test]
fn a_character_that_no_face_has_still_leaves_a_mark() {
    let drawn = |title: &str| {
        let mut wall = plain_wall(64, 64, 1, 1);
        wall.title = title.to_owned();
        wall.drawn().unwrap()
    };
    let (blank, boxed, more) = (drawn("x"), drawn("x\u{6d77}"), drawn("x\u{6d77}\u{1f6a2}"));
    assert_ne!(blank, boxed);
    assert_ne!(boxed, more);
}

#[test]
fn a_letter_and_its_mark_are_drawn_as_the_letter_that_has_it() {
    let drawn = |title: &str| {
        let mut wall = plain_wall(64, 64, 1, 1);
        wall.title = title.to_owned();
        wall.drawn().unwrap()
    };
    // Canonical equivalents (Unicode Standard Annex 15).
    for (alone, together) in
        [("cafe\u{301}", "caf\u{e9}"), ("no\u{308}rth", "n\u{f6}rth"), ("\u{418}\u{306}", "\u{419}")]
    {
        assert_ne!(drawn(together), drawn("x"));
        assert!(drawn(alone) == drawn(together), "{together}");
    }
}

#[test]
fn a_wall_that_is_too_large_says_by_how_much_and_what_to_do() {
    for wall in [plain_wall(9, 17_000, 2, 2), plain_wall(20_000, 1, 1, 2), plain_wall(1, 1, 20_000, 2)] {
        let error = refused(&wall);
        let WallError::TooLarge { width, height, tiles, .. } = error else { panic!("{error}") };
        assert!(width.max(height) > u64::from(LONGEST_SIDE));
        let words = error.to_string();
        for part in
            [&format!("{width}x{height}"), "16384", &format!("fewer than {tiles} pictures"), "smaller"]
        {
            assert!(words.contains(part), "{words}");
        }
    }
}

#[test]
fn wrong_walls_are_refused_in_words() {
    let mut wall = plain_wall(16, 9, 2, 2);
    wall.tiles[1].order.push(7);
    let unknown = refused(&wall).to_string();
    assert_eq!(unknown, "picture 2 of the wall names effect 8, but the chain has 2");
    wall.tiles[1].picture = RgbaImage::new(0, 9);
    assert_eq!(refused(&wall), WallError::EmptyPicture { tile: Some(2) });
    wall.tiles.clear();
    assert_eq!(refused(&wall), WallError::NoTiles);
}

#[test]
fn tiles_keep_the_frames_shape_and_a_wall_of_54_suits_a_screen() {
    let grid = tile_size(Frame { width: 1280, height: 720 }, 54);
    assert_eq!((grid.width, grid.height, grid.columns, grid.magnified), (384, 216, 6, 1));
    let layout = plain_wall(grid.width, grid.height, 54, 5).layout().unwrap();
    assert!((1800..=2600).contains(&layout.width), "{}", layout.width);

    for tiles in [1, 2, 6, 18, 54, 120, 240, 5000] {
        for (width, height) in [(1920, 1080), (1080, 1920), (7, 5), (1, 1), (2560, 1080), (300, 300)] {
            let grid = tile_size(Frame { width, height }, tiles);
            if grid.magnified > 1 {
                assert_eq!((grid.width, grid.height), (width * grid.magnified, height * grid.magnified));
            } else {
                assert!(grid.width <= width && grid.height <= height);
                let exact = f64::from(grid.width) * f64::from(height) / f64::from(width);
                assert!((exact - f64::from(grid.height)).abs() <= 1.0);
            }
        }
    }
    for side in [u32::MAX, 1] {
        let grid = tile_size(Frame { width: u32::MAX, height: side }, 3);
        assert!(grid.width >= 1 && grid.height >= 1);
    }
}

/// Half black and half white light is sRGB 188: 255 * (1.055 * 0.5^(1/2.4) - 0.055) = 187.5 (IEC 61966-2-1).
#[test]
fn a_picture_shrinks_in_linear_light() {
    let stripes = RgbaImage::from_fn(1280, 720, |x, _| {
        let light = if x % 2 == 0 { 0 } else { 255 };
        Rgba([light, light, light, 255])
    });
    let grid = tile_size(Frame { width: 1280, height: 720 }, 6);
    let small = grid.tile(&stripes).unwrap();
    assert_eq!(small.dimensions(), (640, 360));
    let middle = small.get_pixel(320, 180);
    assert!(middle[0].abs_diff(188) <= 2, "{middle:?}");

    // Hidden colour must not bleed out of transparent texels.
    let half =
        RgbaImage::from_fn(
            1280,
            720,
            |x, _| {
                if x % 2 == 0 { Rgba([0, 200, 0, 255]) } else { Rgba([255, 0, 0, 0]) }
            },
        );
    let middle = *grid.tile(&half).unwrap().get_pixel(320, 180);
    assert!(middle[0] == 0 && middle[1].abs_diff(200) <= 1 && middle[3].abs_diff(128) <= 2, "{middle:?}");
}

#[test]
fn a_small_picture_is_magnified_texel_by_texel() {
    let frame = Frame { width: 16, height: 9 };
    let picture = harbour(16, 9);
    let grid = tile_size(frame, 54);
    let tile = grid.tile(&picture).unwrap();
    let reference = imageops::resize(&picture, grid.width, grid.height, imageops::FilterType::Nearest);
    assert_eq!(tile, reference);
    assert_eq!(grid.tile(&tile).unwrap(), tile);
    let empty = grid.tile(&RgbaImage::new(0, 0)).unwrap_err().to_string();
    assert!(empty.contains("at least 1x1"), "{empty}");
}
