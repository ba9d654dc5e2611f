//! The report, through the program and in a browser.

use std::fs;
use std::path::Path;
use std::process::Command;

use underover::base::frame::{Frame, PixelMode};
use underover::beat::Moment;
use underover::explore::{self, Orders};
use underover::footage::Shelf;
use underover::gpu::{ADAPTER_VARIABLE, Budget, Gpu, Renderer, Want};
use underover::order::LookLimits;
use underover::output::report::Chapter;
use underover::plan;
use underover::show::chain::EffectUse;
use underover::show::clip::{Fit, FootageName};

use crate::shared::CATALOGUE;

fn report(file: &str, more: &[&str], out: &Path) {
    let output = Command::new(env!("CARGO_BIN_EXE_underover"))
        .env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"))
        .args(["report", file, "--frame", "64x36", "--over", "1", "--out"])
        .arg(out)
        .args(more)
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

/// What the browser makes of the page: its last state as markup, and what it complained of.
fn opened(page: &Path, probe: &str) -> Option<(String, String)> {
    let html = fs::read_to_string(page).unwrap();
    // The page's policy lets no script run, so that the copy that is looked into has none.
    let policy = html.find("<meta http-equiv").unwrap();
    let end = policy + html[policy..].find('\n').unwrap();
    let probed = format!("{}{}", &html[..policy], &html[end..])
        .replace("</body>", &format!("<script>{probe}</script></body>"));
    let copy = page.with_file_name("probed.html");
    fs::write(&copy, probed).unwrap();
    let found = Command::new("chromium")
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--enable-logging=stderr"])
        .args(["--window-size=800,1200", "--virtual-time-budget=4000", "--dump-dom"])
        .arg(format!("--user-data-dir={}", page.with_file_name("profile").display()))
        .arg(format!("file://{}", copy.display()))
        .output();
    let Ok(output) = found else {
        eprintln!("chromium is missing, so only the page's structure is checked");
        return None;
    };
    Some((
        String::from_utf8_lossy(&output.stdout).into_owned(),
        String::from_utf8_lossy(&output.stderr).into_owned(),
    ))
}

#[test]
fn a_chain_makes_one_page_with_everything_on_it() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("lines.html");
    report("preset:lamp-lines", &[], &page);
    let html = fs::read_to_string(&page).unwrap();
    for section in [
        "What it is",
        "Every look",
        "What matters",
        "Which effects may change places",
        "Step by step",
        "Flashing",
        "What a frame costs",
        "Words used here",
    ] {
        assert!(html.contains(&format!(">{section}</h2>")), "no section {section}");
    }
    assert!(html.contains("no certified test"));
    assert!(!html.contains("src=\"http"));
    assert_eq!(html.matches("<img ").count(), html.matches("src=\"data:image/").count());
    assert_eq!(html.matches("<img ").count(), html.matches(" alt=\"").count());
    let probe = "addEventListener('load', async () => { const images = [...document.images]; \
        const decoded = await Promise.all(images.map(i => i.decode().then(() => i.naturalWidth > 0, () => false))); \
        const wide = document.documentElement.scrollWidth; \
        const asked = performance.getEntriesByType('resource').filter(e => !e.name.startsWith('data:')).length; \
        document.title = `probe ${decoded.every(d => d)} ${images.length > 0} ${wide <= innerWidth} ${asked}`; });";
    if let Some((dom, complaints)) = opened(&page, probe) {
        let title = dom.split("<title>").nth(1).and_then(|rest| rest.split("</title>").next());
        assert_eq!(
            title,
            Some("probe true true true 0"),
            "decoded, has pictures, no wider than 800 px, asked for"
        );
        // The browser itself says so where it has no WebGPU.
        let told = |line: &&str| line.contains("CONSOLE") && !line.contains("No available adapters");
        assert_eq!(complaints.lines().find(told), None);
    }
}

/// A tint and outlines so faint that it hardly shows which comes first.
const FAINT: &str = "\
format = \"underover/chain/1\"
name = \"Faint\"
[[effect]]
use = \"tint\"
amount = 0.02
[[effect]]
use = \"edge-find\"
amount = 0.02
[[effect]]
use = \"channel-offset\"
distance = 0.1
";

#[test]
fn what_hardly_shows_is_said_so_and_never_0() {
    let folder = tempfile::tempdir().unwrap();
    let (chain, page) = (folder.path().join("faint.toml"), folder.path().join("faint.html"));
    fs::write(&chain, FAINT).unwrap();
    report(chain.to_str().unwrap(), &[], &page);
    let html = fs::read_to_string(&page).unwrap();
    let row = html.split("<tr>").find(|row| row.contains(">tint / edge-find<")).unwrap();
    assert!(row.contains("hardly shows") && row.contains("below 0.1"), "{row}");
    assert!(!html.contains(">0.00<"));
    // Every look is named by the code of the order that is shown.
    assert!(html.contains("Shown: 123, tint, then edge-find, then channel-offset."));
}

#[test]
fn a_chapter_has_the_same_pictures_whether_they_were_kept_in_passing_or_are_rendered_again() {
    let mut shelf = Shelf::new(&CATALOGUE);
    let chain =
        ["tint", "mirror", "edge-find"].map(|name| EffectUse::new(CATALOGUE.effect(name).unwrap().clone()));
    let frame = Frame { width: 64, height: 36 };
    let moment = Moment::at(frame, PixelMode::Encoded8Bit, 120.0, 0.1);
    let footage = FootageName::Generated("harbour".to_owned());
    let path = plan::Path::of_chain(&chain, &footage, Fit::Whole, moment, &mut shelf).unwrap();
    let mut renderer = Renderer::new(Gpu::open(std::env::var(ADAPTER_VARIABLE).ok().as_deref()).unwrap());
    let [again, kept] = [Want::Figures, Chapter::wants(&path)].map(|want| {
        let orders = Orders::of(&mut renderer, &path).unwrap();
        let limits = LookLimits::default();
        let explored =
            orders.explored(&mut renderer, &path, want, limits, Budget::default(), |_| {}).unwrap();
        assert_eq!(explored.finished[0].picture.is_some(), want != Want::Figures);
        let parts = explore::parts(&mut renderer, &path, limits).unwrap();
        Chapter::of_explored(&mut renderer, &path, "harbour".to_owned(), explored, parts).unwrap()
    });
    assert!(again.looks.len() > 1 && again.stages.len() == 4);
    assert!(again.families == kept.families && again.looks == kept.looks && again.stages == kept.stages);
    // What came whole is let go with the pictures made.
    assert!(kept.explored.finished.iter().all(|finished| finished.picture.is_none()));
}

#[test]
fn a_report_never_replaces_what_it_reads_and_wants_its_ending() {
    let output = Command::new(env!("CARGO_BIN_EXE_underover"))
        .env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"))
        .args(["report", "preset:lamp-lines", "--out", "page.pdf"])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("written as .html"));
}
