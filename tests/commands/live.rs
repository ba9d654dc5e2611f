//! Pages that are alive, in a browser: what they show is what the program renders, to the byte.
//!
//! The browser computes by its own software adapter, SwiftShader; the program by Mesa's, through Vulkan and through GL. So
//! three drivers, each with compilers of its own, are to give one picture: in `encoded-8bit` no byte differs.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::LazyLock;

use image::RgbaImage;
use serde_json::{Value, json};

use underover::base::frame::{Frame, PixelMode};
use underover::beat::Moment;
use underover::drawing::page::{ImageError, Page};
use underover::files::{Document, parse};
use underover::footage::Shelf;
use underover::gpu::{Gpu, Renderer};
use underover::output::page::{Stills, written_within};
use underover::plan;
use underover::show::clip::{Fit, FootageName};

use crate::browser::{Browser, SOFTWARE};
use crate::shared::CATALOGUE;

const OWN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/own_effects");

fn underover(folder: &Path, args: &[&str]) {
    let output =
        Command::new(env!("CARGO_BIN_EXE_underover")).current_dir(folder).args(args).output().unwrap();
    assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
}

/// The software adapters that the program runs on. One that is missing is told on standard error.
static ADAPTERS: LazyLock<Vec<&str>> = LazyLock::new(|| {
    let mut all = vec!["vulkan software", "gl software"];
    all.retain(|name| {
        let opened =
            Gpu::open(Some(name)).map_err(|error| eprintln!("no page is compared with {name}: {error}"));
        opened.is_ok()
    });
    all
});

/// The page of a chain's orders, open in a browser and live.
fn live(folder: &Path, file: &str, more: &[&str]) -> Option<Browser> {
    live_in(None, folder, file, more)
}

/// The same, in a browser that is open already where one is given.
fn live_in(browser: Option<Browser>, folder: &Path, file: &str, more: &[&str]) -> Option<Browser> {
    let page = folder.join("page.html");
    underover(folder, &[&["orders", file, "--page", "page.html", "--replace"], more].concat());
    let mut browser = match browser {
        None => Browser::open(&page, SOFTWARE, (1280, 900))?,
        Some(mut browser) => {
            browser.go(&page);
            browser
        }
    };
    browser.wait("document.documentElement.dataset.live");
    let why =
        browser.text("document.documentElement.dataset.live + (document.documentElement.dataset.why ?? '')");
    assert_eq!(why, "on");
    Some(browser)
}

/// What the program renders.
fn rendered(folder: &Path, file: &str, more: &[&str]) -> RgbaImage {
    underover(folder, &[&["render", file, "--out", "still.png", "--replace"], more].concat());
    image::open(folder.join("still.png")).unwrap().to_rgba8()
}

/// What the program renders on each software adapter.
fn rendered_on_each(folder: &Path, file: &str, more: &[&str]) -> Vec<(&'static str, RgbaImage)> {
    let on = |&adapter: &&'static str| {
        (adapter, rendered(folder, file, &[more, &["--adapter", adapter]].concat()))
    };
    ADAPTERS.iter().map(on).collect()
}

/// How many bytes differ.
fn apart(a: &RgbaImage, b: &RgbaImage) -> usize {
    assert_eq!(a.dimensions(), b.dimensions());
    a.as_raw().iter().zip(b.as_raw()).filter(|(a, b)| a != b).count()
}

/// Asks for the same picture, and says where it is another.
#[track_caller]
fn same(live: &RgbaImage, wanted: &RgbaImage, what: &str) {
    assert_eq!(live.dimensions(), wanted.dimensions());
    let others: Vec<_> = live.enumerate_pixels().zip(wanted.pixels()).filter(|((.., a), b)| a != b).collect();
    if let Some(((x, y, a), b)) = others.first() {
        panic!(
            "{what}: {} pixels are others, the first at {x},{y}: {a:?} in the page, {b:?} rendered",
            others.len()
        );
    }
}

fn shows(browser: &mut Browser, code: &str) {
    browser.wait(&format!("document.documentElement.dataset.shown.startsWith('{code} ')"));
}

/// Goes to an order by its address, as a link does.
fn go_to(browser: &mut Browser, code: &str) {
    browser.value(&format!("location.hash = '#{code}'"));
    shows(browser, if code.is_empty() { "12345" } else { code });
}

fn quiet(browser: &Browser) {
    assert_eq!(browser.complaints(), Vec::<String>::new());
}

/// Numbers that follow from their place alone (SplitMix64: Steele, Lea and Flood, 2014; constants from memory).
fn drawn(nth: u64) -> u64 {
    let mut z = nth.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    z = (z ^ z >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ z >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ z >> 31
}

/// An order of so many marks, by chance.
fn code(effects: usize, nth: u64) -> String {
    let mut marks: Vec<usize> = (1..=effects).collect();
    for at in (1..effects).rev() {
        marks.swap(at, (drawn(nth * 100 + at as u64) % (at as u64 + 1)) as usize);
    }
    marks.iter().map(usize::to_string).collect()
}

/// The orders of a chain of the program on its own footage, as each software adapter renders them.
fn rendered_here(
    name: &str,
    frame: Frame,
    beats: f64,
    orders: &[Vec<usize>],
) -> Vec<(String, Vec<RgbaImage>)> {
    let text = underover::base::embedded::CHAINS.iter().find(|(known, _)| *known == name).unwrap().1;
    let Document::Chain(preset) = parse(text, name, Path::new("."), &CATALOGUE).unwrap() else {
        panic!("{name}")
    };
    let mut shelf = Shelf::new(&CATALOGUE);
    let moment = Moment::at(frame, PixelMode::Encoded8Bit, 120.0, beats);
    let footage = FootageName::Generated("harbour".to_owned());
    let path = plan::Path::of_chain(&preset.chain, &footage, Fit::Whole, moment, &mut shelf).unwrap();
    let on = |adapter: &&str| {
        let mut renderer = Renderer::new(Gpu::open(Some(adapter)).unwrap());
        let picture = |order: &Vec<usize>| {
            let picture = renderer.picture(&path, order).unwrap();
            RgbaImage::from_raw(frame.width, frame.height, picture.rgba).unwrap()
        };
        ((*adapter).to_owned(), orders.iter().map(picture).collect())
    };
    ADAPTERS.iter().map(on).collect()
}

#[test]
fn twenty_orders_of_a_chain_are_in_the_page_what_the_program_renders_on_both_software_adapters() {
    let folder = tempfile::tempdir().unwrap();
    let frame = ["--at", "0.1", "--frame", "96x54"];
    let Some(mut browser) = live(folder.path(), "preset:all-hands", &frame) else { return };
    let codes: Vec<String> = (0..20).map(|nth| code(5, nth)).collect();
    let order = |code: &String| code.bytes().map(|mark| usize::from(mark - b'1')).collect();
    let orders: Vec<Vec<usize>> = codes.iter().map(order).collect();
    let wanted = rendered_here("all-hands", Frame { width: 96, height: 54 }, 0.1, &orders);
    for (nth, code) in codes.iter().enumerate() {
        go_to(&mut browser, code);
        let live = browser.canvas("live");
        for (adapter, pictures) in &wanted {
            same(&live, &pictures[nth], &format!("{code} on {adapter}"));
        }
    }
    // The program itself gives what was rendered here.
    let last = [&frame[..], &["--order", &codes[19]]].concat();
    for (adapter, picture) in rendered_on_each(folder.path(), "preset:all-hands", &last) {
        same(&browser.canvas("live"), &picture, &format!("the program on {adapter}"));
    }
    quiet(&browser);
}

/// A chain by chance: three of the effects, with one number of each somewhere in its range.
fn chain(nth: u64) -> String {
    let effects = [
        ("tint", "amount", 0.0, 1.0),
        ("edge-find", "gain", 0.5, 6.0),
        ("channel-offset", "angle", -180.0, 180.0),
        ("mirror", "", 0.0, 0.0),
        ("posterise", "", 0.0, 0.0),
        ("hue-turn", "angle", -180.0, 180.0),
        ("blur", "", 0.0, 0.0),
        ("trails", "decay", 0.0, 0.3),
        ("hold", "", 0.0, 0.0),
        ("invert", "", 0.0, 0.0),
        ("mosaic", "", 0.0, 0.0),
        ("wedge-repeat", "", 0.0, 0.0),
    ];
    let mut text = format!("format = \"underover/chain/1\"\nname = \"By chance {nth}\"\n");
    let own = ["dim-rows", "row-slip"][nth as usize % 2];
    text += &format!("[[effect]]\nuse = \"{own}\"\n");
    for at in 0..3 {
        let drawn = drawn(nth * 10 + at + 1);
        let (name, setting, low, high) = effects[drawn as usize % effects.len()];
        text += &format!("[[effect]]\nuse = \"{name}\"\n");
        if !setting.is_empty() {
            let share = (drawn >> 40 & 0xff) as f64 / 255.0;
            text += &format!("{setting} = {:.3}\n", low + (high - low) * share);
        }
    }
    text
}

#[test]
fn ten_chains_by_chance_with_effects_of_ones_own_and_memory_are_what_the_program_renders_on_both_software_adapters()
 {
    let folder = tempfile::tempdir().unwrap();
    let mut open = None;
    let mut remember = 0;
    for nth in 0..10 {
        fs::write(folder.path().join("chance.toml"), chain(nth)).unwrap();
        let footage = ["generated:harbour", "generated:landfall", "generated:ramp"][nth as usize % 3];
        let more = ["--effects", OWN, "--footage", footage, "--at", "1.3", "--frame", "48x27"];
        let Some(mut browser) = live_in(open.take(), folder.path(), "chance.toml", &more) else { return };
        let code = code(4, nth);
        go_to(&mut browser, &code);
        let live = browser.canvas("live");
        let more = [&more[..], &["--order", &code]].concat();
        for (adapter, wanted) in rendered_on_each(folder.path(), "chance.toml", &more) {
            same(&live, &wanted, &format!("{code} on {adapter} of\n{}", chain(nth)));
        }
        let recording = "JSON.parse(document.getElementById('recording').textContent).remembers";
        remember += usize::from(browser.value(recording) == json!(true));
        quiet(&browser);
        open = Some(browser);
    }
    assert!(remember >= 2, "only {remember} of the chains remember");
}

#[test]
fn a_scope_of_a_show_runs_to_the_shows_output_with_all_that_lies_over_it() {
    let folder = tempfile::tempdir().unwrap();
    let more = ["--frame", "96x54", "--at", "0.1"];
    let Some(mut browser) = live(folder.path(), "preset:night-ferry", &more) else { return };
    let marks = browser.text("JSON.parse(document.getElementById('recording').textContent).effects.length");
    let code = code(marks.parse().unwrap(), 3);
    go_to(&mut browser, &code);
    let live = browser.canvas("live");
    let ordered = [&more[..], &["--order", &code]].concat();
    for (adapter, wanted) in rendered_on_each(folder.path(), "preset:night-ferry", &ordered) {
        same(&live, &wanted, &format!("{code} on {adapter}"));
    }
    // What lies under the chain and over it is the same, whichever of them recorded the page.
    let recorded = |adapter: &&str| {
        let page =
            ["orders", "preset:night-ferry", "--page", "other.html", "--replace", "--adapter", adapter];
        underover(folder.path(), &[&page[..], &more].concat());
        let html = fs::read_to_string(folder.path().join("other.html")).unwrap();
        let begins = html.find("id=\"shared\">").unwrap();
        html[begins..begins + html[begins..].find("</script>").unwrap()].to_owned()
    };
    let recordings: Vec<String> = ADAPTERS.iter().map(recorded).collect();
    assert!(recordings.windows(2).all(|two| two[0] == two[1]), "another adapter records other pictures");
    quiet(&browser);
}

#[test]
fn cards_move_by_mouse_touch_and_keys_and_the_address_and_the_picture_follow() {
    let folder = tempfile::tempdir().unwrap();
    let frame = ["--at", "0.1", "--frame", "64x36"];
    let Some(mut browser) = live(folder.path(), "preset:all-hands", &frame) else { return };
    let grip = |mark: u32| format!("#path [data-effect=\"{}\"] .grip", mark - 1);
    browser.middle(&grip(1));
    let (from, to) = (browser.middle_as_it_stands(&grip(1)), browser.middle_as_it_stands(&grip(3)));
    browser.mouse("mousePressed", from);
    browser.mouse("mouseMoved", to);
    browser.mouse("mouseReleased", to);
    shows(&mut browser, "23145");
    let (from, to) = (browser.middle_as_it_stands(&grip(5)), browser.middle_as_it_stands(&grip(2)));
    browser.touch("touchStart", Some(from));
    browser.touch("touchMove", Some(to));
    browser.touch("touchEnd", None);
    shows(&mut browser, "52314");
    browser.value(&format!("document.querySelector('{}').focus()", grip(4)));
    browser.key("ArrowLeft");
    shows(&mut browser, "52341");
    browser.key("Home");
    shows(&mut browser, "45231");
    assert_eq!(browser.text("location.hash"), "#45231");
    let cards = "[...document.querySelectorAll('#path > li .chip')].map((chip) => chip.textContent).join('')";
    assert_eq!(browser.text(cards), "45231");
    assert!(browser.text("document.getElementById('said').textContent").starts_with("45231"));
    // An address that names no order changes nothing; one without a code is the file's own.
    browser.value("location.hash = '#%'");
    browser.value("location.hash = '#99'");
    assert!(browser.text("document.getElementById('said').textContent").starts_with("45231"));
    go_to(&mut browser, "");
    assert!(browser.text("document.getElementById('said').textContent").starts_with("12345"));
    go_to(&mut browser, "45231");
    // The card that was moved keeps the keyboard.
    assert_eq!(
        browser.text(&format!("document.activeElement === document.querySelector('{}')", grip(4))),
        "true"
    );
    let wanted = rendered(folder.path(), "preset:all-hands", &[&frame[..], &["--order", "45231"]].concat());
    assert_eq!(apart(&browser.canvas("live"), &wanted), 0);
    // A link far below the picture brings it back into view, and the keyboard to its cards.
    let last = "[...document.querySelectorAll('a[data-code]')].pop()";
    let asked = browser.text(&format!("{last}.dataset.code"));
    let out_of_view = "document.getElementById('live').getBoundingClientRect().bottom < 0";
    browser.value(&format!("{last}.scrollIntoView({{ block: 'center' }})"));
    assert_eq!(browser.text(out_of_view), "true");
    let at = browser.middle(&format!("li:last-child > p > a[data-code=\"{asked}\"]"));
    browser.mouse("mousePressed", at);
    browser.mouse("mouseReleased", at);
    shows(&mut browser, &asked);
    let stands = "(({ top, bottom }) => `${top >= 0 && bottom <= innerHeight}: ${top} to ${bottom} of ${innerHeight}, scrolled by ${scrollY}`)\
                  (document.getElementById('live').getBoundingClientRect())";
    let stands = browser.text(stands);
    assert!(stands.starts_with("true"), "{stands}");
    assert_eq!(browser.text("document.getElementById('path').contains(document.activeElement)"), "true");
    quiet(&browser);
}

#[test]
fn a_pair_of_the_triangle_is_turned_round_by_mouse_touch_and_keys_and_says_how_it_stands() {
    let folder = tempfile::tempdir().unwrap();
    let frame = ["--at", "0.1", "--frame", "64x36"];
    let Some(mut browser) = live(folder.path(), "preset:all-hands", &frame) else { return };
    let field = |a: u32, b: u32| format!("#pairs [data-pair=\"{} {}\"]", a - 1, b - 1);
    let said = |browser: &mut Browser, a, b| {
        browser.text(&format!("document.querySelector('{}').ariaLabel", field(a, b)))
    };
    // A field for each pair, as large as the others, and its mark as large as its share.
    assert_eq!(browser.value("document.querySelectorAll('#pairs button').length"), json!(10));
    let width = "document.querySelector('#pairs [data-pair=\"0 1\"] rect').getBoundingClientRect().width";
    let faint = width.replace("0 1", "3 4");
    let [most, least] = [width, faint.as_str()].map(|width| browser.value(width).as_f64());
    assert!(most > least, "{most:?} {least:?}");
    assert!(said(&mut browser, 1, 2).starts_with("tint under flash-gate. Another picture"));
    let at = browser.middle(&field(1, 2));
    browser.mouse("mousePressed", at);
    browser.mouse("mouseReleased", at);
    shows(&mut browser, "21345");
    assert!(said(&mut browser, 1, 2).starts_with("flash-gate under tint. "));
    let pressed = format!("document.querySelector('{}').ariaPressed", field(1, 2));
    assert_eq!(browser.text(&pressed), "true");
    let at = browser.middle(&field(3, 5));
    browser.touch("touchStart", Some(at));
    browser.touch("touchEnd", None);
    shows(&mut browser, "21534");
    // One stop of Tab, arrow keys within it.
    assert_eq!(browser.value("document.querySelectorAll('#pairs [tabindex=\"0\"]').length"), json!(1));
    browser.value(&format!("document.querySelector('{}').focus()", field(1, 2)));
    browser.key("ArrowDown");
    assert_eq!(browser.text("document.activeElement.dataset.pair"), "0 2");
    browser.key("Enter");
    shows(&mut browser, "23154");
    let told = browser.text("document.getElementById('pair-said').textContent");
    assert!(told.starts_with("edge-find under tint. ") && told.contains("hangs on it"), "{told}");
    // What prints is the list.
    browser.call("Emulation.setEmulatedMedia", json!({ "media": "print" }));
    let shown = |what: &str| format!("getComputedStyle(document.querySelector('{what}')).display");
    assert_eq!(browser.text(&shown(".of-pairs .when-live")), "none");
    assert_eq!(browser.text(&shown("ul.pairs")), "block");
    assert!(browser.text("document.querySelector('ul.pairs').textContent").contains("by itself"));
    quiet(&browser);
}

#[test]
fn what_lies_under_a_chain_in_floats_comes_to_the_page_whole() {
    let folder = tempfile::tempdir().unwrap();
    let more = ["--frame", "96x54", "--at", "0.1", "--pixels", "linear-float"];
    let Some(mut browser) = live(folder.path(), "preset:night-ferry", &more) else { return };
    let recording = "JSON.parse(document.getElementById('recording').textContent)";
    let halves = format!("{recording}.frames[0].pictures.some((parts) => parts.length === 2)");
    assert_eq!(browser.value(&halves), json!(true));
    for nth in [3, 4] {
        let code = code(5, nth);
        go_to(&mut browser, &code);
        let wanted =
            rendered(folder.path(), "preset:night-ferry", &[&more[..], &["--order", &code]].concat());
        let live = browser.canvas("live");
        let most = live.as_raw().iter().zip(wanted.as_raw()).map(|(a, b)| a.abs_diff(*b)).max();
        // Another adapter may decode, divide and encode to a byte beside.
        assert!(most <= Some(1), "{code}: {most:?} of 255");
    }
    quiet(&browser);
}

/// Sets a field as a hand does, and waits for the picture.
fn set(browser: &mut Browser, selector: &str, change: &str, event: &str) {
    let before = browser.canvas("live");
    browser.value(&format!(
        "(() => {{ const field = document.querySelector({selector:?}); {change}; \
         field.dispatchEvent(new Event('{event}', {{ bubbles: true }})); }})()"
    ));
    for _ in 0..500 {
        if browser.canvas("live") != before {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    panic!("{selector} changed nothing");
}

#[test]
fn what_is_moved_switched_off_and_recoloured_is_taken_along_as_a_chain_that_renders_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let frame = ["--at", "0.1", "--frame", "96x54"];
    let Some(mut browser) = live(folder.path(), "preset:all-hands", &frame) else { return };
    go_to(&mut browser, "53142");
    let card = |effect: usize| format!("#path [data-effect=\"{effect}\"] ");
    // Something that the shader reads as it is, a colour, something that is worked out, and a switch.
    set(&mut browser, &format!("{}input[type=range]", card(2)), "field.value = 2.5", "input");
    set(&mut browser, &format!("{}input[type=color]", card(0)), "field.value = '#22cc88'", "input");
    set(&mut browser, &format!("{}input[type=range]", card(3)), "field.value = field.max", "input");
    set(&mut browser, &format!("{}input[type=checkbox]", card(4)), "field.checked = false", "change");
    let toml = browser.text("document.getElementById('toml').value");
    fs::write(folder.path().join("taken.toml"), &toml).unwrap();
    let wanted = rendered(folder.path(), "taken.toml", &frame);
    assert_eq!(apart(&browser.canvas("live"), &wanted), 0, "{toml}");
    assert!(toml.contains("#22cc88") && toml.contains("on = false"), "{toml}");
    browser.value("document.getElementById('own').click()");
    shows(&mut browser, "12345");
    let own = rendered(folder.path(), "preset:all-hands", &frame);
    assert_eq!(apart(&browser.canvas("live"), &own), 0);
    quiet(&browser);
}

#[test]
fn two_orders_are_held_side_by_side_and_wiped_and_moments_are_stepped_through() {
    let folder = tempfile::tempdir().unwrap();
    let frame = ["--frame", "64x36", "--footage", "generated:ramp"];
    let Some(mut browser) = live(folder.path(), "preset:all-hands", &frame) else { return };
    browser.value("document.getElementById('compare').click()");
    go_to(&mut browser, "21534");
    let other = rendered(folder.path(), "preset:all-hands", &frame);
    assert_eq!(apart(&browser.canvas("other"), &other), 0);
    let wipe = "document.getElementById('other').style.clipPath";
    assert_eq!(browser.text(wipe), "inset(0px 50% 0px 0px)");
    browser.value(
        "(() => { const wipe = document.getElementById('wipe'); wipe.value = 20; wipe.dispatchEvent(new Event('input')); })()",
    );
    assert_eq!(browser.text(wipe), "inset(0px 80% 0px 0px)");
    browser.value("document.getElementById('beside').click()");
    let [left, right] = ["other", "live"].map(|id| {
        browser.value(&format!("document.getElementById('{id}').getBoundingClientRect().x")).as_f64().unwrap()
    });
    assert!(left < right, "{left} {right}");
    // The fifth moment is about half a beat on, where the flash is over.
    let step = "const beat = document.getElementById('beat'); beat.value = 4; beat.dispatchEvent(new Event('input'));";
    browser.value(&format!("(() => {{ {step} }})()"));
    browser.wait("document.documentElement.dataset.shown === '21534 4'");
    let beat = browser.text("document.getElementById('beat-said').textContent");
    let later = [&frame[..], &["--at", beat.strip_prefix("beat ").unwrap(), "--order", "21534"]].concat();
    let wanted = rendered(folder.path(), "preset:all-hands", &later);
    assert_eq!(apart(&browser.canvas("live"), &wanted), 0);
    // Nothing plays before it is pressed.
    assert_eq!(browser.text("document.getElementById('play').textContent"), "Play");
    quiet(&browser);
}

#[test]
fn without_webgpu_the_page_keeps_its_stills_and_says_so_in_one_line() {
    let folder = tempfile::tempdir().unwrap();
    underover(folder.path(), &["orders", "preset:lamp-lines", "--frame", "64x36", "--page", "page.html"]);
    let page: PathBuf = folder.path().join("page.html");
    let Some(mut browser) = Browser::open(&page, &["--disable-gpu", "--disable-features=WebGPU"], (400, 800))
    else {
        return;
    };
    browser.wait("document.documentElement.dataset.live");
    assert_eq!(browser.text("document.documentElement.dataset.live"), "off");
    let shown = |id: &str| format!("getComputedStyle(document.querySelector('{id}')).display");
    assert_ne!(browser.text(&shown(".screen img")), "none");
    assert_eq!(browser.text(&shown("#live")), "none");
    assert_ne!(browser.text(&shown(".when-still")), "none");
    assert!(browser.text("document.getElementById('why').textContent").contains("WebGPU"));
    assert_eq!(browser.value("document.documentElement.scrollWidth <= innerWidth"), json!(true));
    quiet(&browser);
}

#[test]
fn hostile_names_stay_words() {
    let folder = tempfile::tempdir().unwrap();
    let hostile = "</script><img src=x onerror=\"document.title='broken in'\">";
    let name = Value::from(hostile).to_string();
    let chain = format!(
        "format = \"underover/chain/1\"\nname = {name}\nabout = {name}\n[[effect]]\nuse = \"tint\"\nname = {name}\n\
         [[effect]]\nuse = \"mirror\"\n[[effect]]\nuse = \"edge-find\"\n"
    );
    fs::write(folder.path().join("hostile.toml"), chain).unwrap();
    let Some(mut browser) = live(folder.path(), "hostile.toml", &["--frame", "32x18"]) else { return };
    assert_eq!(browser.text("document.title"), hostile);
    assert!(browser.text("document.querySelector('#path .grip').textContent").contains(hostile));
    assert_eq!(browser.value("document.querySelectorAll('img[src=x]').length"), json!(0));
    let toml = browser.text("document.getElementById('toml').value");
    fs::write(folder.path().join("taken.toml"), toml).unwrap();
    rendered(folder.path(), "taken.toml", &["--frame", "32x18"]);
    quiet(&browser);
}

#[test]
fn a_lesson_is_guessed_tried_by_hand_and_then_answered() {
    let folder = tempfile::tempdir().unwrap();
    underover(folder.path(), &["lessons", "colour-and-flash", "--out", "lesson.html"]);
    let page = folder.path().join("lesson.html");
    let Some(mut browser) = Browser::open(&page, SOFTWARE, (1000, 900)) else { return };
    browser.wait("document.documentElement.dataset.live");
    let tried = "getComputedStyle(document.querySelector('.to-try')).display";
    assert_eq!(browser.text(tried), "none");
    let answer = browser.text("document.querySelector('.choices').dataset.answer").parse::<usize>().unwrap();
    let verdict = "document.querySelector('.verdict').textContent";
    for (choice, said) in [((answer + 1) % 2, "It comes out otherwise"), (answer, "Fine")] {
        browser.value(
            "document.querySelector('.choices').parentElement.querySelector(':scope > details').open = false",
        );
        browser.value(&format!("document.querySelectorAll('.choices input')[{choice}].click()"));
        browser.wait(&format!("{verdict}.startsWith('Noted')"));
        browser.value(
            "document.querySelector('.choices').parentElement.querySelector(':scope > details').open = true",
        );
        browser.wait(&format!("{verdict}.startsWith('{said}')"));
    }
    assert_eq!(browser.text(tried), "block");
    browser.value("document.querySelector('.grip').focus()");
    let before = browser.canvas("live");
    browser.key("ArrowRight");
    shows(&mut browser, "21");
    assert!(before != browser.canvas("live"), "the other order shows another picture");
    // What was answered is there when the page is opened again, until it is begun again.
    let answered = "document.querySelector('.choices').parentElement.matches('.answered')";
    let chosen = "[...document.querySelectorAll('.choices input')].findIndex((field) => field.checked)";
    let again = "document.querySelector('header button')";
    browser.reload();
    browser.wait("document.documentElement.dataset.live");
    assert_eq!(browser.text(answered), "true");
    assert_eq!(browser.text(chosen), answer.to_string());
    assert_eq!(browser.text(tried), "block");
    assert!(browser.text(verdict).starts_with("Noted"));
    browser.value(&format!("{again}.click()"));
    assert_eq!(browser.text(answered), "false");
    assert_eq!(browser.text(&format!("{again}.hidden")), "true");
    browser.reload();
    browser.wait("document.documentElement.dataset.live");
    assert_eq!((browser.text(answered), browser.text(chosen)), ("false".to_owned(), "-1".to_owned()));
    quiet(&browser);
    // A browser that keeps nothing for files loses nothing else.
    let refused = "Object.defineProperty(window, 'localStorage', { get() { throw new Error('refused'); } })";
    browser.call("Page.addScriptToEvaluateOnNewDocument", json!({ "source": refused }));
    browser.reload();
    browser.wait("document.documentElement.dataset.live");
    browser.value("document.querySelector('.choices input').click()");
    assert_eq!(browser.text(answered), "true");
    quiet(&browser);
}

#[test]
fn a_page_past_its_size_leaves_out_moments_then_packs_its_stills_closer_and_says_so() {
    let grain = |x: u32, y: u32| ((x * 31) ^ (y * 17)) as u8;
    let picture = RgbaImage::from_fn(320, 180, |x, y| image::Rgba([grain(x, y), grain(y, x), 90, 255]));
    let page = |stills: &Stills| -> Result<Page, ImageError> {
        let mut page = Page::new("Grain");
        page.body.figure(&stills.image(&picture, "grain")?, "grain");
        Ok(page)
    };
    let whole = written_within(usize::MAX, &[], &[&picture], page).unwrap();
    assert!(whole.smaller.is_none());
    let most = whole.html.len() - 1;
    let closer = written_within(most, &[], &[&picture], page).unwrap();
    assert!(closer.html.len() <= most);
    let said = closer.smaller.unwrap();
    assert!(said.contains("stays within") && said.contains("stills are packed closer"), "{said}");
    assert!(closer.html.contains("stills are packed closer"));
    // What cannot be smaller is given all the same.
    let least = written_within(100, &[], &[&picture], page).unwrap();
    assert!(least.html.len() > 100 && least.html.len() < closer.html.len());
    // A chain that moves, with its stills: moments go first.
    let folder = tempfile::tempdir().unwrap();
    let args = ["orders", "preset:all-hands", "--frame", "240x135", "--footage", "generated:harbour"];
    let page = |name: &str, more: &[&str]| {
        underover(folder.path(), &[&args[..], &["--page", name], more].concat());
        fs::read_to_string(folder.path().join(name)).unwrap()
    };
    let (usual, small) = (page("usual.html", &[]), page("small.html", &["--page-size", "1"]));
    assert!(usual.len() <= 4_000_000 && small.len() <= 1_000_000, "{} {}", usual.len(), small.len());
    assert!(!usual.contains("So that this page stays within"));
    assert!(small.contains("So that this page stays within 1 MB, moments are left out"));
}

/// From opening a page to its first live picture, in a browser that has just been started.
#[test]
#[ignore = "a stopwatch: cargo test --test commands first_live_picture -- --ignored --nocapture, on a quiet machine"]
fn the_first_live_picture_is_timed() {
    let folder = tempfile::tempdir().unwrap();
    let (page, blank) = (folder.path().join("page.html"), folder.path().join("blank.html"));
    underover(
        folder.path(),
        &["orders", "preset:landfall", "--at", "0.1", "--frame", "640x360", "--page", "page.html"],
    );
    fs::write(&blank, "<!DOCTYPE html><title>blank</title>").unwrap();
    let noted = "new MutationObserver(() => { if (document.documentElement?.dataset.live) window.first ??= performance.now(); })\
                 .observe(document, { attributes: true, subtree: true })";
    let mut times = Vec::new();
    for _ in 0..5 {
        let Some(mut browser) = Browser::open(&blank, SOFTWARE, (1280, 900)) else { return };
        browser.call("Page.addScriptToEvaluateOnNewDocument", json!({ "source": noted }));
        browser.go(&page);
        browser.wait("window.first");
        assert_eq!(browser.text("document.documentElement.dataset.live"), "on");
        times.push(browser.value("window.first").as_f64().unwrap().round());
    }
    times.sort_by(f64::total_cmp);
    let load = fs::read_to_string("/proc/loadavg").unwrap_or_default();
    eprintln!("first live picture of 640x360, five times: {times:?} ms; load {}", load.trim());
}

#[test]
fn the_script_is_small_and_names_no_effect() {
    let script = underover::output::page::SCRIPT;
    assert!(script.len() < 25_000, "{}", script.len());
    for effect in CATALOGUE.effects() {
        for word in [format!("\"{}\"", effect.name), format!("'{}'", effect.name)] {
            assert!(!script.contains(&word), "{word}");
        }
    }
}
