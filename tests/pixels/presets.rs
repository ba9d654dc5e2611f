//! The chains and shows that travel with the program.

use std::collections::HashSet;
use std::path::Path;

use underover::base::embedded::{CHAINS, SHOWS};
use underover::catalogue::Catalogue;
use underover::files::{Document, chain_text, parse, show_text};
use underover::hands::Map;
use underover::show::automation::Automation;
use underover::show::chain::{EffectUse, Preset};
use underover::show::control::ControlKind;
use underover::show::{Scope, Show};

fn read(folder: &str, (name, text): &(&str, &str)) -> Document {
    let file = format!("presets/{folder}/{name}.toml");
    let catalogue = Catalogue::built_in().unwrap();
    parse(text, &file, &Path::new("presets").join(folder), &catalogue).unwrap_or_else(|e| panic!("{e}"))
}

fn chains() -> Vec<Preset> {
    let chain = |file| match read("chains", file) {
        Document::Chain(preset) => preset,
        Document::Show(show) => panic!("{} is a show among the chains", show.name),
    };
    CHAINS.iter().map(chain).collect()
}

fn shows() -> Vec<Show> {
    let show = |file| match read("shows", file) {
        Document::Show(show) => show,
        Document::Chain(preset) => panic!("{} is a chain among the shows", preset.name),
    };
    SHOWS.iter().map(show).collect()
}

fn names(chain: &[EffectUse]) -> Vec<&str> {
    chain.iter().map(|used| used.effect.name.as_str()).collect()
}

#[test]
fn every_chain_is_written_and_read_back_equal() {
    let catalogue = Catalogue::built_in().unwrap();
    for preset in chains() {
        let text = chain_text(&preset);
        let again = parse(&text, "again.toml", Path::new("presets/chains"), &catalogue).unwrap();
        assert_eq!(again, Document::Chain(preset), "{text}");
    }
}

#[test]
fn every_show_is_written_and_read_back_equal() {
    let catalogue = Catalogue::built_in().unwrap();
    let folder = Path::new("presets/shows");
    for show in shows() {
        let text = show_text(&show, folder);
        let again = parse(&text, "again.toml", folder, &catalogue).unwrap();
        assert_eq!(again, Document::Show(show), "{text}");
    }
}

#[test]
fn every_preset_says_what_it_is_for_under_a_name_of_its_own() {
    let chains = chains().into_iter().map(|preset| ("chain", preset.name, preset.about, preset.tags));
    let shows = shows().into_iter().map(|show| ("show", show.name, show.about, show.tags));
    let mut seen = HashSet::new();
    for (kind, name, about, tags) in chains.chain(shows) {
        assert!(about.ends_with('.') && about.len() > 60, "{name}: {about}");
        assert!(!tags.is_empty(), "{name} has no words to find it by");
        assert!(seen.insert((kind, name.clone())), "two presets are named {name}");
    }
}

#[test]
fn the_chains_use_every_one_of_the_first_five_effects() {
    let chains = chains();
    assert!(chains.len() >= 6);
    for preset in &chains {
        assert!((2..=5).contains(&preset.chain.len()), "{}", preset.name);
    }
    let used: HashSet<&str> = chains.iter().flat_map(|preset| names(&preset.chain)).collect();
    for effect in ["tint", "flash-gate", "edge-find", "channel-offset", "mirror"] {
        assert!(used.contains(effect), "no chain uses {effect}");
    }
}

#[test]
fn all_hands_is_the_five_effects_nearly_as_they_come() {
    let preset = chains().into_iter().find(|preset| preset.name == "All hands").unwrap();
    assert_eq!(names(&preset.chain), ["tint", "flash-gate", "edge-find", "channel-offset", "mirror"]);
    let changes: Vec<String> = preset.chain.iter().flat_map(EffectUse::written_changes).collect();
    assert_eq!(changes, ["colour #2a62ff", "strength 0.35", "gain 4"]);
}

#[test]
fn the_night_ferry_has_effects_on_every_kind_of_scope_and_most_on_its_picture() {
    let show = shows().into_iter().find(|show| show.name == "Night ferry").unwrap();
    assert_eq!((show.frame.to_string().as_str(), show.tempo_bpm), ("1280x720", 174.0));
    let with_effects: Vec<Scope> =
        show.scopes().into_iter().filter(|&scope| !show.chain(scope).is_empty()).collect();
    for kind in ["clip:", "level:", "bundle:", "global"] {
        assert!(with_effects.iter().any(|&scope| show.address(scope).starts_with(kind)), "none on {kind}");
    }
    assert_eq!(show.address(show.busiest_scope()), "bundle:picture");
    assert_eq!(show.chain(show.busiest_scope()).len(), 5);
    assert!(with_effects.iter().all(|&scope| !show.address(scope).contains(":signs")));
}

#[test]
fn the_night_crossing_moves_with_the_beat_and_can_be_played_without_a_hand_too_many() {
    let show = shows().into_iter().find(|show| show.name == "Night crossing").unwrap();
    let mut shapes = HashSet::new();
    for scope in show.scopes() {
        for used in show.chain(scope) {
            let places = 0..used.effect.settings.len();
            shapes.extend(places.filter_map(|place| used.automation(place)).map(Automation::shape));
        }
    }
    for shape in ["sine", "triangle", "steps", "random", "envelope"] {
        assert!(shapes.contains(shape), "no setting moves as {shape}");
    }
    let map = Map::of(&show);
    assert_eq!(map.control.len(), 5);
    assert!(map.warning.is_empty(), "{:?}", map.warning);
    assert!(map.control.iter().all(|control| !control.moves.is_empty() || !control.fires.is_empty()));
    for kind in ControlKind::ALL {
        assert!(show.controls.iter().any(|control| control.kind == kind), "no control is {}", kind.name());
    }
}
