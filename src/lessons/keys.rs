//! What a lesson file holds.

use super::{ClaimKind, When};
use crate::base::frame::PixelMode;
use crate::files::LESSON_FORMAT;
use crate::files::keys::{Group, Key, Takes, show_keys};

/// Furthest beat of a picture.
pub(super) const MOST_BEATS: f64 = 10_000.0;

const SAYS: Key = Key::needed("says", Takes::Text, "the text that is read");
const PICTURE: Key = Key::needed("picture", Takes::Text, "the name of a picture of the lesson");
const PARAGRAPHS: Takes = Takes::List(&Takes::Text, [1, 2]);

/// A lesson file.
pub static LESSON: Group = Group {
    name: "lesson",
    about: "A question about pictures: what a person predicts, and what of it the engine proves or measures.",
    keys: &[
        Key::needed("format", Takes::Just(LESSON_FORMAT), "says that this is a lesson"),
        Key::needed("title", Takes::Title, "what it is called"),
        Key::needed("about", PARAGRAPHS, "what leads to the question"),
        Key::needed(
            "show",
            Takes::Either(&[Takes::Text, Takes::Table(&SHOW)]),
            "the show that all pictures vary: the name of one that travels with the program, or one written here",
        ),
        Key::needed("picture", Takes::Tables(&PICTURES, 1), "its pictures, at most 16"),
        Key::needed("question", Takes::Text, "what is asked"),
        Key::needed("choice", Takes::Tables(&CHOICE, 2), "the answers to choose from, at most 4"),
        Key::needed("claim", Takes::Tables(&CLAIM, 1), "what is checked, at most 16"),
        Key::needed("because", PARAGRAPHS, "why the answer is right"),
        Key::needed("remember", Takes::Text, "one sentence to take along"),
        Key::needed("next", Takes::Table(&NEXT), "what to try next"),
    ],
    rivals: &[],
};

static SHOW: Group = Group {
    name: "show",
    about: "A show, as a show file holds it.",
    keys: &show_keys(Key::some("format", Takes::Text, "nothing", "not needed here")),
    rivals: &[],
};

/// One picture of a lesson.
pub(super) static PICTURES: Group = Group {
    name: "picture",
    about: "The show with one change, at a beat.",
    keys: &[
        Key::needed("name", Takes::Title, "what claims and choices call it"),
        Key::needed("says", Takes::Title, "what stands under it"),
        Key::usual(
            "shown",
            Takes::Word(|| When::ALL.map(When::name).to_vec()),
            "\"answer\"",
            "whether it is seen before the answer",
        ),
        Key::usual("at", Takes::Number([0.0, MOST_BEATS], "beats"), "0.0", "the beat of the picture"),
        Key::may(
            "pixels",
            Takes::Word(|| PixelMode::ALL.map(PixelMode::name).to_vec()),
            "as the show",
            "how pictures are held between effects",
        ),
        Key::may("scope", Takes::Text, "the one with most effects", "the scope that is changed"),
        Key::may(
            "section",
            Takes::Text,
            "the show as it stands",
            "the section of the show that it stands in; one that names no chains",
        ),
        Key::may(
            "order",
            Takes::Either(&[Takes::Text, Takes::List(&Takes::Text, [1, 64])]),
            "as it is",
            "its effects in another order: a code such as \"21\", or their names",
        ),
        Key::may("move", Takes::Table(&MOVE), "as it is", "one effect goes to another scope"),
        Key::may("effect", Takes::Chain, "as it is", "another chain instead"),
        Key::may("bare", Takes::Truth, "as it is", "true: no effect at all"),
    ],
    rivals: &[&["order", "move", "effect", "bare"]],
};

/// One effect goes to another scope.
pub(super) static MOVE: Group = Group {
    name: "move",
    about: "An effect that lies on another scope, over what is there.",
    keys: &[
        Key::needed("effect", Takes::Text, "its name in the chain"),
        Key::needed("from", Takes::Text, "the scope that it lies on"),
        Key::needed("to", Takes::Text, "the scope that it goes to"),
    ],
    rivals: &[],
};

/// One answer.
pub(super) static CHOICE: Group = Group {
    name: "choice",
    about: "An answer, and the claim that it rests on; one of them holds.",
    keys: &[
        SAYS,
        Key::may("picture", Takes::Text, "no picture", "the name of the picture that goes with it"),
        Key::needed("claim", Takes::Text, "the name of a claim of the lesson"),
    ],
    rivals: &[],
};

/// What is checked; each kind takes some of the keys.
static CLAIM: Group = Group {
    name: "claim",
    about: "What the engine proves or measures. `same` and `differs` take inside, `differs` and `only-8bit` least, `always` effects, `passes` over_beats.",
    keys: &[
        Key::needed("name", Takes::Title, "what choices call it"),
        Key::needed("is", Takes::Word(|| ClaimKind::NAMES.to_vec()), "what is claimed"),
        Key::usual("holds", Takes::Truth, "true", "false: it is claimed not to hold"),
        Key::needed(
            "of",
            Takes::Either(&[Takes::Text, Takes::List(&Takes::Text, [2, 2])]),
            "the picture, or the two pictures",
        ),
        Key::may(
            "inside",
            Takes::Either(&[Takes::Text, Takes::List(&Takes::Number([0.0, 1.0], ""), [4, 4])]),
            "all of the frame",
            "a scope, or left, top, width and height as parts of the frame",
        ),
        Key::may(
            "least",
            Takes::Number([f64::MIN_POSITIVE, 200.0], "CIEDE2000"),
            "needed",
            "the least mean difference",
        ),
        Key::some(
            "effects",
            Takes::List(&Takes::Text, [2, 2]),
            "needed",
            "the two effects that change places",
        ),
        Key::usual("over_beats", Takes::Number([1.0, 256.0], "beats"), "8.0", "how long flashes are counted"),
    ],
    rivals: &[],
};

/// What to try next.
pub(super) static NEXT: Group =
    Group { name: "next", about: "What to try next.", keys: &[SAYS, PICTURE], rivals: &[] };
