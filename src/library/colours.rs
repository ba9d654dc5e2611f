//! Words for colours, so that a chain can be found by the colour that it gives.

use crate::base::colour::Colour;

/// The words that [`colour_word`] gives.
pub const COLOUR_WORDS: [&str; 12] =
    ["white", "grey", "black", "red", "orange", "brown", "yellow", "green", "cyan", "blue", "purple", "pink"];

/// The word for a colour, by its hue in the hexagon of red, green and blue; the borders are where English speakers
/// commonly put them (common practice, no source).
pub fn colour_word(colour: Colour) -> &'static str {
    let [r, g, b] = colour.encoded();
    let (most, least) = (r.max(g).max(b), r.min(g).min(b));
    let chroma = most - least;
    if chroma < 0.08 || (most > 0.0 && chroma / most < 0.25) {
        return match most {
            light if light > 0.85 => "white",
            dark if dark < 0.15 => "black",
            _ => "grey",
        };
    }
    if most < 0.12 {
        return "black";
    }
    let sixths = if most == r {
        ((g - b) / chroma).rem_euclid(6.0)
    } else if most == g {
        (b - r) / chroma + 2.0
    } else {
        (r - g) / chroma + 4.0
    };
    match sixths * 60.0 {
        hue if hue < 15.0 => "red",
        hue if hue < 45.0 && most < 0.6 => "brown",
        hue if hue < 45.0 => "orange",
        hue if hue < 70.0 => "yellow",
        hue if hue < 165.0 => "green",
        hue if hue < 195.0 => "cyan",
        hue if hue < 255.0 => "blue",
        hue if hue < 290.0 => "purple",
        hue if hue < 345.0 => "pink",
        _ => "red",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn well_known_colours_get_their_words() {
        // Okabe and Ito's own names for their palette (2008): orange, sky blue, bluish green, yellow, blue, vermilion
        // and reddish purple; vermilion has no word here and counts as orange.
        for (written, word) in [
            ("#e69f00", "orange"),
            ("#56b4e9", "blue"),
            ("#009e73", "green"),
            ("#f0e442", "yellow"),
            ("#0072b2", "blue"),
            ("#d55e00", "orange"),
            ("#cc79a7", "pink"),
            ("#000000", "black"),
            ("#ffffff", "white"),
            ("#808080", "grey"),
            ("#ff0000", "red"),
            ("#00ffff", "cyan"),
            ("#7a4a12", "brown"),
            ("#8000ff", "purple"),
        ] {
            assert_eq!(colour_word(written.parse().unwrap()), word, "{written}");
            assert!(COLOUR_WORDS.contains(&word));
        }
    }
}
