//! What each kind of file holds.

use super::{Group, Key, Takes};
use crate::base::coding::OkabeIto;
use crate::base::frame::{LARGEST_SIDE, PixelMode};
use crate::beat::TEMPO_BPM;
use crate::files::{CHAIN_FORMAT, SHOW_FORMAT, STARTER_FORMAT};
use crate::order::LARGEST_MARK;
use crate::show::BlendMode;
use crate::show::automation::{FIRED_BEATS, MOST_LISTED, PART_BEATS, PERIOD_BEATS, PHASE};
use crate::show::clip::{AtEnd, Fit, Play};
use crate::show::control::{ControlKind, Curve, Hand, MOST_PLACES, REACH_MS};
use crate::show::cue::{LENGTH_BEATS, MOST_CUED};
use crate::show::section::{FADE_BEATS, SECTION_BEATS};

const NAME: Key = Key::needed("name", Takes::Title, "what it is called, on walls, in lists and in messages");
const SCOPE_NAME: Key = Key::needed("name", Takes::ScopeName, "what it is called, also in a scope's address");
const ABOUT: Key = Key::usual("about", Takes::Text, "\"\"", "a few lines for whoever opens it next");
const TAGS: Key = Key::usual(
    "tags",
    Takes::List(&Takes::Title, [0, usize::MAX]),
    "[]",
    "words to find it by in the library",
);
const EFFECTS: Key = Key::some("effect", Takes::Chain, "no effects", "its chain, the first applied first");
const COLOUR: Key = Key::may(
    "colour",
    Takes::Either(&[
        Takes::Word(|| OkabeIto::ALL.map(OkabeIto::name).to_vec()),
        Takes::Like(HEX, "a colour such as \"#ff8c33\""),
    ]),
    "no colour",
    "a colour to tell it by, beside its name",
);
const HIDDEN: Key = Key::usual("hidden", Takes::Truth, "false", "true: it does not show");
const TAKEN: Key =
    Key::may("taken", Takes::Tables(&NOTE, 0), "nothing", "which chains of the library lie on it").own();
const BLEND: Key = Key::usual(
    "blend",
    Takes::Word(|| BlendMode::ALL.map(BlendMode::name).to_vec()),
    "\"normal\"",
    "how it lies over what is below (W3C Compositing and Blending)",
);
const OPACITY: Key = Key::usual("opacity", Takes::Number([0.0, 1.0], ""), "1.0", "how much of it shows");
pub(super) const HEX: &str = "^#[0-9a-fA-F]{6}$";
const BEATS: Takes = Takes::Number(FIRED_BEATS, "beats");

/// A chain file.
pub static CHAIN: Group = Group {
    name: "chain",
    about: "A chain of effects, to be put on a scope of a show.",
    keys: &[
        Key::needed("format", Takes::Just(CHAIN_FORMAT), "says that this is a chain"),
        NAME,
        ABOUT,
        TAGS,
        EFFECTS,
        Key::may(
            "control",
            Takes::Tables(&CHAIN_CONTROL, 0),
            "no controls",
            "what a hand plays of it; it comes along when the chain is put",
        ),
    ],
    rivals: &[],
};

/// A show file.
pub static SHOW: Group = Group {
    name: "show",
    about: "A show: footage on levels, levels in bundles, effects on any of them, controls, sections.",
    keys: &show_keys(Key::needed("format", Takes::Just(SHOW_FORMAT), "says that this is a show")),
    rivals: &[],
};

/// A starter file: a show without footage.
pub static STARTER: Group = Group {
    name: "starter",
    about: "A show with stand-ins for all footage, to begin the next one from.",
    keys: &show_keys(Key::needed("format", Takes::Just(STARTER_FORMAT), "says that this is a starter")),
    rivals: &[],
};

/// What a show holds, after what its first key says.
pub const fn show_keys(format: Key) -> [Key; 15] {
    [
        format,
        NAME,
        ABOUT,
        TAGS,
        Key::may("venue", Takes::Title, "it is not said", "where it plays"),
        Key::usual("frame", Takes::Table(&FRAME), "{ width = 1280, height = 720 }", "the size of the output"),
        Key::usual("tempo_bpm", Takes::Number(TEMPO_BPM, "beats per minute"), "120.0", "the tempo"),
        Key::usual(
            "rate",
            Takes::Either(&[
                Takes::Number([1.0, 240.0], "frames a second"),
                Takes::Like("^[0-9]+(/[0-9]+|\\.[0-9]+)?$", "text such as \"30000/1001\""),
            ]),
            "60",
            "frames a second of what is rendered",
        ),
        Key::usual(
            "pixels",
            Takes::Word(|| PixelMode::ALL.map(PixelMode::name).to_vec()),
            "\"encoded-8bit\"",
            "how pictures are held between effects",
        ),
        Key::needed(
            "bundle",
            Takes::Tables(&BUNDLE, 1),
            "levels kept together; later ones lie over earlier ones",
        ),
        Key::may("global", Takes::Table(&GLOBAL), "no effects", "the chain over everything"),
        Key::may("control", Takes::Tables(&CONTROL, 0), "no controls", "what a hand plays"),
        Key::usual(
            "reach_ms",
            Takes::Number(REACH_MS, "milliseconds"),
            "250.0",
            "how long a hand takes from one control to another",
        ),
        Key::may("section", Takes::Tables(&SECTION, 0), "no sections", "the stretches of the set"),
        Key::may(
            "running_order",
            Takes::List(&Takes::Title, [0, usize::MAX]),
            "sections are called by hand",
            "names of sections in the order in which they come; one may come again; it stands above the first [[bundle]]",
        ),
    ]
}

pub(in crate::files) static FRAME: Group = Group {
    name: "frame",
    about: "A size, in pixels.",
    keys: &[
        Key::needed("width", Takes::Whole([1, LARGEST_SIDE], "pixels"), "from left to right"),
        Key::needed("height", Takes::Whole([1, LARGEST_SIDE], "pixels"), "from top to bottom"),
    ],
    rivals: &[],
};

/// The chain over everything.
pub(in crate::files) static GLOBAL: Group =
    Group { name: "global", about: "Effects on the whole output.", keys: &[EFFECTS, TAKEN], rivals: &[] };

/// A bundle.
pub(in crate::files) static BUNDLE: Group = Group {
    name: "bundle",
    about: "Levels kept together, so that a chain can act on them and spare the rest.",
    keys: &[
        SCOPE_NAME,
        BLEND,
        OPACITY,
        HIDDEN,
        COLOUR,
        EFFECTS,
        Key::needed("level", Takes::Tables(&LEVEL, 1), "its layers; later ones lie over earlier ones"),
        TAKEN,
    ],
    rivals: &[],
};

/// A level.
pub(in crate::files) static LEVEL: Group = Group {
    name: "level",
    about: "One layer of the picture; one of its clips shows at a time.",
    keys: &[
        SCOPE_NAME,
        BLEND,
        OPACITY,
        HIDDEN,
        COLOUR,
        Key::may("showing", Takes::ScopeName, "its first clip", "the name of the clip that shows"),
        EFFECTS,
        Key::needed("clip", Takes::Tables(&CLIP, 1), "its pieces of footage"),
        TAKEN,
    ],
    rivals: &[],
};

/// A clip.
pub(in crate::files) static CLIP: Group = Group {
    name: "clip",
    about: "A piece of footage. What says how it is played is for footage that moves in a file.",
    keys: &[
        SCOPE_NAME,
        Key::needed(
            "footage",
            Takes::Like("\\S", "a file's path, from this file's folder, \"generated:NAME\" or a stand-in"),
            "what it shows",
        ),
        Key::usual(
            "fit",
            Takes::Word(|| Fit::ALL.map(Fit::name).to_vec()),
            "\"whole\"",
            "how footage of another size lies in the frame",
        ),
        HIDDEN,
        COLOUR,
        EFFECTS,
        Key::usual("speed", Takes::Number(Play::SPEED, "times its own"), "1.0", "how fast it is played"),
        Key::may("loop_beats", Takes::Number(Play::LOOP_BEATS, "beats"), "its own time", "how long it lasts"),
        Key::usual("in_secs", Takes::Number(Play::SECS, "seconds"), "0.0", "where in the film it begins"),
        Key::may(
            "out_secs",
            Takes::Number(Play::SECS, "seconds"),
            "the film's end",
            "where in the film it ends",
        ),
        Key::usual(
            "at_end",
            Takes::Word(|| AtEnd::ALL.map(AtEnd::name).to_vec()),
            "\"loop\"",
            "what follows its end",
        ),
        TAKEN,
    ],
    rivals: &[&["speed", "loop_beats"]],
};

/// What an effect's table holds beside its settings.
pub(in crate::files) static EFFECT: Group = Group {
    name: "effect",
    about: "An effect of a chain. Its other keys are its settings: `underover effects NAME` has them. A setting that is no choice may be a table: then it moves.",
    keys: &[
        Key::needed("use", Takes::Title, "the effect's name, as `underover effects` lists them"),
        Key::usual("on", Takes::Truth, "true", "false: it is there and does nothing"),
        Key::may("name", Takes::Title, "the effect's name", "what it is called here"),
        Key::may(
            "mark",
            Takes::Whole([1, LARGEST_MARK], ""),
            "its place in the chain",
            "its numeral in order codes, which it keeps wherever it moves",
        ),
    ],
    rivals: &[],
};

/// What a chain leads to.
pub(super) static EFFECT_GROUPS: [&Group; 2] = [&EFFECT, &MOTION];

/// A setting that moves by the beat.
pub(super) static MOTION: Group = Group {
    name: "motion",
    about: "A setting that moves by the beat: a wave, steps, random values, or an envelope.",
    keys: &[
        Key::needed(
            "shape",
            Takes::Word(|| crate::show::automation::Automation::SHAPES.to_vec()),
            "how it moves",
        ),
        Key::may(
            "period",
            Takes::Number(PERIOD_BEATS, "beats"),
            "needed, but for an envelope",
            "how long one round takes",
        ),
        Key::usual("phase", Takes::Number(PHASE, "periods"), "0.0", "where in the round it begins"),
        Key::some("low", Takes::Setting, "needed, but for steps", "one end, a value of the setting"),
        Key::some("high", Takes::Setting, "needed, but for steps", "the other end"),
        Key::some(
            "values",
            Takes::List(&Takes::Setting, [2, MOST_LISTED]),
            "needed for steps",
            "steps: the values in turn",
        ),
        Key::usual("seed", Takes::Whole([0, u32::MAX], ""), "0", "random: which random values"),
        Key::usual("attack", Takes::Number(PART_BEATS, "beats"), "0.0", "envelope: from `low` to `high`"),
        Key::usual("hold", Takes::Number(PART_BEATS, "beats"), "0.0", "envelope: at `high`"),
        Key::usual("decay", Takes::Number(PART_BEATS, "beats"), "0.0", "envelope: back to `low`"),
        Key::some(
            "every",
            Takes::Number(PERIOD_BEATS, "beats"),
            "one of the three",
            "envelope: fired again and again",
        ),
        Key::usual(
            "offset",
            Takes::Number(PART_BEATS, "beats"),
            "0.0",
            "envelope: when the first of `every` is",
        ),
        Key::some(
            "at",
            Takes::List(&BEATS, [1, MOST_LISTED]),
            "one of the three",
            "envelope: fired at these beats",
        ),
        Key::some("control", Takes::Title, "one of the three", "envelope: fired by this control"),
    ],
    rivals: &[&["every", "at", "control"]],
};

/// What a hand plays.
pub(in crate::files) static CONTROL: Group = Group {
    name: "control",
    about: "What a hand plays: a button or a fader, with what it moves.",
    keys: &control_keys(Key::may("grip", Takes::Tables(&GRIP, 0), "it moves nothing", "what it moves")),
    rivals: &[],
};

/// What a hand plays of a chain that is in no show.
pub(in crate::files) static CHAIN_CONTROL: Group = Group {
    name: "control",
    about: "What a hand plays, with what it moves of this chain: it comes along when the chain is put onto a scope.",
    keys: &control_keys(Key::may(
        "grip",
        Takes::Tables(&CHAIN_GRIP, 0),
        "it moves nothing",
        "what it moves of this chain",
    )),
    rivals: &[],
};

/// What a control holds, with its grips last.
const fn control_keys(grip: Key) -> [Key; 9] {
    [
        NAME,
        Key::needed("hand", Takes::Word(|| Hand::ALL.map(Hand::name).to_vec()), "which hand plays it"),
        Key::needed(
            "kind",
            Takes::Word(|| ControlKind::ALL.map(ControlKind::name).to_vec()),
            "how it is played",
        ),
        Key::some(
            "key",
            Takes::Like("^[A-Za-z0-9]$", "one of \"A\" to \"Z\" and \"0\" to \"9\""),
            "no key",
            "the key that plays it",
        ),
        Key::may("midi", Takes::Table(&MIDI), "no MIDI", "what plays it on a MIDI device"),
        Key::may("cue", Takes::Table(&CUE), "no cue", "when it is meant to be played"),
        Key::may(
            "at",
            Takes::List(&Takes::Whole([1, MOST_PLACES], ""), [2, 2]),
            "nobody knows",
            "where it lies on the device: column from the left, row from the far side",
        ),
        COLOUR,
        grip,
    ]
}

/// What a control is bound to.
pub(in crate::files) static MIDI: Group = Group {
    name: "midi",
    about: "One thing of a MIDI device: a note, a controller, or the pitch bend.",
    keys: &[
        Key::needed("channel", Takes::Whole([1, 16], ""), "the channel, counted from 1"),
        Key::may("note", Takes::Whole([0, 127], ""), "one of the three", "a pad or key"),
        Key::some("controller", Takes::Whole([0, 119], ""), "one of the three", "a knob or fader"),
        Key::usual(
            "bits",
            Takes::Either(&[Takes::Whole([7, 7], ""), Takes::Whole([14, 14], "")]),
            "7",
            "of a controller",
        ),
        Key::some("bend", Takes::Truth, "one of the three", "true: the pitch bend"),
    ],
    rivals: &[&["note", "controller", "bend"]],
};

/// A stretch of the set.
pub(in crate::files) static SECTION: Group = Group {
    name: "section",
    about: "A stretch of the set in which certain clips show together: what it changes of the show as it stands.",
    keys: &[
        NAME,
        Key::may(
            "beats",
            Takes::Number(SECTION_BEATS, "beats"),
            "it lasts until the next is called",
            "how long it lasts",
        ),
        COLOUR,
        Key::usual("note", Takes::Text, "\"\"", "what to keep in mind while it plays"),
        Key::usual(
            "fade",
            Takes::Number(FADE_BEATS, "beats"),
            "0.0",
            "in which it takes over from the section before, at most its own `beats`; 0 cuts",
        ),
        Key::may(
            "shows",
            Takes::Named("^[^/:]+/[^/:]+$", "a level as BUNDLE/LEVEL", &CLIP_NAME),
            "every level stays as it is",
            "the clip that a level shows",
        ),
        Key::may(
            "opacity",
            Takes::Named("^[^/:]+(/[^/:]+)?$", "a bundle, or a level as BUNDLE/LEVEL", &SHARE),
            "every opacity stays as it is",
            "how much of a bundle or a level shows",
        ),
        Key::may(
            "chains",
            Takes::Named(SCOPE, "a scope", &CHAIN_NAME),
            "every scope keeps its own",
            "a chain that lies on a scope in place of its own",
        ),
        Key::may(
            "effects",
            Takes::Named(SCOPE, "a scope", &SWITCHES),
            "every effect stays as it is",
            "which effects of a scope are on, by what they are called there",
        ),
        Key::may(
            "controls",
            Takes::Named(".", "a control", &SHARE),
            "every control stands where it is",
            "where a control stands, 0 to 1, until a hand plays it",
        ),
    ],
    rivals: &[],
};

const SCOPE: &str = "^(global|bundle:[^/:]+|level:[^/:]+/[^/:]+|clip:[^/:]+/[^/:]+/[^/:]+)$";
const SWITCHES: Takes = Takes::Named(".", "an effect", &Takes::Truth);
const CLIP_NAME: Takes = Takes::Like(
    "^(clip:)?[^/:]*[^/:\\s][^/:]*$",
    "its clip, \"none\", or \"clip:none\" for a clip of that name",
);
const SHARE: Takes = Takes::Number([0.0, 1.0], "");
const CHAIN_NAME: Takes = Takes::Like("^(library|preset):.*\\S", "\"library:NAME\" or \"preset:NAME\"");

/// When a control is meant to be played.
pub(in crate::files) static CUE: Group = Group {
    name: "cue",
    about: "The beats at which a control is meant to be played.",
    keys: &[
        Key::needed("at", Takes::List(&BEATS, [1, MOST_CUED]), "the beats"),
        Key::may("every", Takes::Number(PERIOD_BEATS, "beats"), "once each", "again after so many beats"),
        Key::may(
            "length",
            Takes::Number(LENGTH_BEATS, "beats"),
            "it is over at once",
            "how long it is held from each on, or moved: the hand is busy meanwhile",
        ),
    ],
    rivals: &[],
};

/// A setting that a control moves.
pub(in crate::files) static GRIP: Group = Group {
    name: "grip",
    about: "A thing that a control moves, and how far: a setting of an effect or whether it is on, an opacity, the clip that a level shows, the section.",
    keys: &[
        Key::some(
            "scope",
            Takes::Text,
            "needed, but for the section",
            "global, bundle:NAME, level:BUNDLE/LEVEL or clip:BUNDLE/LEVEL/CLIP",
        ),
        Key::some(
            "effect",
            Takes::Either(&[Takes::Text, Takes::Whole([1, 64], "")]),
            "needed for what an effect has",
            "its name there, or its place from 1",
        ),
        Key::needed(
            "setting",
            Takes::Text,
            "a setting's name, or `on`, of the effect; `opacity` or `showing` of the scope; `section` of the show",
        ),
        Key::some(
            "low",
            Takes::Setting,
            "needed, but for words that a button gives",
            "the value at rest; of words a continuous control goes through all from here on",
        ),
        Key::needed(
            "high",
            Takes::Setting,
            "the value when played: a clip's name for `showing`; a section's, `next` or `previous` for `section` (`section:next` for one of that name)",
        ),
        Key::usual(
            "curve",
            Takes::Word(|| Curve::ALL.map(Curve::name).to_vec()),
            "\"linear\"",
            "how it goes from one to the other",
        ),
    ],
    rivals: &[],
};

/// What a control moves of a chain that is in no show.
pub(in crate::files) static CHAIN_GRIP: Group = Group {
    name: "grip",
    about: "A setting of this chain that a control moves, or whether an effect is on.",
    keys: &[
        Key::needed(
            "effect",
            Takes::Either(&[Takes::Text, Takes::Whole([1, 64], "")]),
            "its name here, or its place from 1",
        ),
        Key::needed("setting", Takes::Text, "a setting's name, or `on`"),
        Key::some("low", Takes::Setting, "needed, but for words that a button gives", "the value at rest"),
        Key::needed("high", Takes::Setting, "the value when played"),
        Key::usual(
            "curve",
            Takes::Word(|| Curve::ALL.map(Curve::name).to_vec()),
            "\"linear\"",
            "how it goes from one to the other",
        ),
    ],
    rivals: &[],
};

/// Where a chain or a clip was taken from.
pub(in crate::files) static NOTE: Group = Group {
    name: "taken",
    about: "A chain of the library that lies on this scope, or the show that this clip was brought from; written by the program.",
    keys: &[
        Key::needed("preset", Takes::Title, "the chain; of a clip, the show that it is from"),
        Key::may("clip", Takes::Text, "a chain was taken", "the clip of that show, as BUNDLE/LEVEL/CLIP"),
        Key::needed(
            "content",
            Takes::Like("^([0-9a-f]{16}|[0-9a-f]{32})$", "32 digits of 0 to 9 and a to f"),
            "what it held",
        ),
    ],
    rivals: &[],
};
