//! Colours as a person types them: digits, or a name.

use super::coding::OkabeIto;
use super::colour::Colour;

/// The colour that a person means by a text: `#ff8c33`, `#f83`, a name of CSS Color Module Level 4 such as `teal`, or
/// one of Okabe and Ito such as `vermilion` or `sky blue`. Three names stand in both lists for other colours: alone
/// they are those of CSS, after `okabe` (`okabe blue`) those of Okabe and Ito.
pub fn typed_colour(text: &str) -> Option<Colour> {
    let text = text.trim().to_lowercase();
    let is_plain = match text.strip_prefix('#') {
        Some(digits) => [3, 6].contains(&digits.len()),
        None => text.chars().all(|c| c.is_ascii_alphabetic()),
    };
    // English writes grey in both ways, as CSS does.
    let css = color::parse_color(&text.replace("grey", "gray")).ok().filter(|_| is_plain);
    let css = css.map(|found| found.to_alpha_color::<color::Srgb>().to_rgba8());
    if let Some(color::Rgba8 { r, g, b, a: 255 }) = css {
        return Some(Colour([r, g, b]));
    }
    let words: Vec<&str> =
        text.split([' ', '-']).filter(|word| !matches!(*word, "" | "okabe" | "ito")).collect();
    // And vermilion.
    OkabeIto::named(&words.join("-").replace("vermillion", "vermilion")).map(OkabeIto::colour)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_colour_is_read_from_digits_and_from_names() {
        // CSS Color Module Level 4, section 6.1 "Named Colors"; Okabe and Ito's table of 2008.
        for (text, colour) in [
            ("#ff8c33", "#ff8c33"),
            (" #F83 ", "#ff8833"),
            ("teal", "#008080"),
            ("RebeccaPurple", "#663399"),
            ("skyblue", "#87ceeb"),
            ("sky blue", "#56b4e9"),
            ("sky-blue", "#56b4e9"),
            ("blue", "#0000ff"),
            ("okabe blue", "#0072b2"),
            ("Okabe-Ito blue", "#0072b2"),
            ("orange", "#ffa500"),
            ("vermilion", "#d55e00"),
            ("vermillion", "#d55e00"),
            ("reddish purple", "#cc79a7"),
        ] {
            assert_eq!(
                typed_colour(text).map(|colour| colour.to_string()).as_deref(),
                Some(colour),
                "{text}"
            );
        }
        for text in
            ["", "#", "#12345", "#12345678", "#ggg", "transparent", "none", "rgb(1 2 3)", "okabe", "tealish"]
        {
            assert_eq!(typed_colour(text), None, "{text}");
        }
    }

    #[test]
    fn every_name_of_css_is_known() {
        // The names of CSS Color Module Level 4 (section 6.1) that SVG 1.1 has too; what they mean, from the independent
        // list of the crate `svgtypes`.
        const NAMES: &str = "\
            aliceblue antiquewhite aqua aquamarine azure beige bisque black blanchedalmond blue blueviolet \
            brown burlywood cadetblue chartreuse chocolate coral cornflowerblue cornsilk crimson cyan \
            darkblue darkcyan darkgoldenrod darkgray darkgreen darkgrey darkkhaki darkmagenta darkolivegreen \
            darkorange darkorchid darkred darksalmon darkseagreen darkslateblue darkslategray darkslategrey \
            darkturquoise darkviolet deeppink deepskyblue dimgray dimgrey dodgerblue firebrick floralwhite \
            forestgreen fuchsia gainsboro ghostwhite gold goldenrod gray green greenyellow grey honeydew \
            hotpink indianred indigo ivory khaki lavender lavenderblush lawngreen lemonchiffon lightblue \
            lightcoral lightcyan lightgoldenrodyellow lightgray lightgreen lightgrey lightpink lightsalmon \
            lightseagreen lightskyblue lightslategray lightslategrey lightsteelblue lightyellow lime \
            limegreen linen magenta maroon mediumaquamarine mediumblue mediumorchid mediumpurple \
            mediumseagreen mediumslateblue mediumspringgreen mediumturquoise mediumvioletred midnightblue \
            mintcream mistyrose moccasin navajowhite navy oldlace olive olivedrab orange orangered orchid \
            palegoldenrod palegreen paleturquoise palevioletred papayawhip peachpuff peru pink plum \
            powderblue purple red rosybrown royalblue saddlebrown salmon sandybrown seagreen seashell sienna \
            silver skyblue slateblue slategray slategrey snow springgreen steelblue tan teal thistle tomato \
            turquoise violet wheat white whitesmoke yellow yellowgreen";
        for name in NAMES.split_whitespace() {
            let svgtypes::Color { red, green, blue, .. } = name.parse().unwrap();
            assert_eq!(typed_colour(name), Some(Colour([red, green, blue])), "{name}");
        }
        assert!(NAMES.split_whitespace().count() >= 147);
    }
}
