//! The window's colours and sizes: calm, neutral, one accent, so that the pictures are what shines.

use egui::style::{Selection, WidgetVisuals, Widgets};
use egui::{
    Color32, Context, CornerRadius, FontDefinitions, FontFamily, FontId, Stroke, TextStyle, Theme, Visuals,
};

use crate::base::colour::Colour;
use crate::drawing::ink::{ChipForm, ChipLook};

/// The colours of one theme.
#[derive(Debug, Clone, Copy)]
pub struct Palette {
    /// Behind everything.
    pub ground: Color32,
    /// Panels and sections.
    pub panel: Color32,
    /// What can be pressed.
    pub raised: Color32,
    /// Under the pointer.
    pub lifted: Color32,
    /// Lines between things.
    pub line: Color32,
    /// Headings and names.
    pub bright: Color32,
    /// Running text.
    pub plain: Color32,
    /// Read second.
    pub quiet: Color32,
    /// The one accent: what is selected, and the way to go on. Sky blue or blue of Okabe and Ito.
    pub accent: Color32,
    /// Text on the accent.
    pub on_accent: Color32,
    /// The sign of a caution: yellow of Okabe and Ito, beside a sign and words.
    pub caution: Color32,
}

const fn grey(value: u8) -> Color32 {
    Color32::from_gray(value)
}

const DARK: Palette = Palette {
    ground: grey(0x10),
    panel: grey(0x1a),
    raised: grey(0x29),
    lifted: grey(0x36),
    line: grey(0x33),
    bright: grey(0xf2),
    plain: grey(0xcc),
    quiet: grey(0x9c),
    accent: Color32::from_rgb(0x56, 0xb4, 0xe9),
    on_accent: grey(0x08),
    caution: Color32::from_rgb(0xf0, 0xe4, 0x42),
};

const LIGHT: Palette = Palette {
    ground: grey(0xd9),
    panel: grey(0xec),
    raised: grey(0xfa),
    lifted: grey(0xff),
    line: grey(0xbd),
    bright: grey(0x0c),
    plain: grey(0x2a),
    quiet: grey(0x56),
    accent: Color32::from_rgb(0x00, 0x72, 0xb2),
    on_accent: grey(0xff),
    caution: Color32::from_rgb(0xf0, 0xe4, 0x42),
};

/// Radius of corners, in points.
pub const CORNER: u8 = 5;

/// The palette of the theme in use.
pub fn palette(ctx: &Context) -> Palette {
    if ctx.theme() == Theme::Dark { DARK } else { LIGHT }
}

/// A colour of ours as the interface takes it.
pub fn ink(colour: Colour) -> Color32 {
    let [r, g, b] = colour.0;
    Color32::from_rgb(r, g, b)
}

/// Gives the context our fonts' sizes and both themes.
pub fn dress(ctx: &Context) {
    // The face of running text has no arrows and no signs of maths: the other one lends them.
    let mut fonts = FontDefinitions::default();
    fonts.families.entry(FontFamily::Proportional).or_default().push("Hack".to_owned());
    ctx.set_fonts(fonts);
    // Our own keys enlarge text, within limits, and it is remembered.
    ctx.options_mut(|options| options.zoom_with_keyboard = false);
    for (theme, palette) in [(Theme::Dark, DARK), (Theme::Light, LIGHT)] {
        ctx.style_mut_of(theme, |style| {
            style.visuals = visuals(theme, palette);
            let size = |size| FontId::new(size, FontFamily::Proportional);
            style.text_styles = [
                (TextStyle::Small, size(11.0)),
                (TextStyle::Body, size(13.0)),
                (TextStyle::Button, size(13.0)),
                (TextStyle::Heading, size(16.0)),
                (TextStyle::Monospace, FontId::new(12.0, FontFamily::Monospace)),
            ]
            .into();
            style.spacing.item_spacing = egui::vec2(6.0, 5.0);
            style.spacing.button_padding = egui::vec2(8.0, 3.0);
            style.spacing.interact_size.y = 22.0;
            style.spacing.slider_width = 120.0;
            style.interaction.selectable_labels = false;
            style.interaction.tooltip_delay = 0.35;
            // Nothing fades: what is asked for is there at once, also where painting is slow.
            style.animation_time = 0.0;
        });
    }
}

fn visuals(theme: Theme, palette: Palette) -> Visuals {
    let mut visuals = if theme == Theme::Dark { Visuals::dark() } else { Visuals::light() };
    let corner_radius = CornerRadius::same(CORNER);
    let widget = |fill: Color32, text: Color32, rim: Color32| WidgetVisuals {
        bg_fill: fill,
        weak_bg_fill: fill,
        bg_stroke: Stroke::new(1.0, rim),
        corner_radius,
        fg_stroke: Stroke::new(1.0, text),
        expansion: 0.0,
    };
    visuals.widgets = Widgets {
        noninteractive: widget(palette.panel, palette.plain, palette.line),
        inactive: widget(palette.raised, palette.plain, Color32::TRANSPARENT),
        hovered: widget(palette.lifted, palette.bright, palette.quiet),
        active: widget(palette.lifted, palette.bright, palette.accent),
        open: widget(palette.lifted, palette.bright, palette.line),
    };
    visuals.selection = Selection { bg_fill: palette.accent, stroke: Stroke::new(1.0, palette.on_accent) };
    visuals.panel_fill = palette.panel;
    visuals.window_fill = palette.panel;
    visuals.window_stroke = Stroke::new(1.0, palette.line);
    visuals.extreme_bg_color = palette.ground;
    visuals.faint_bg_color = palette.raised;
    visuals.weak_text_color = Some(palette.quiet);
    visuals.hyperlink_color = palette.accent;
    visuals.window_corner_radius = CornerRadius::same(8);
    visuals.menu_corner_radius = CornerRadius::same(6);
    visuals.slider_trailing_fill = true;
    visuals
}

/// Paints an effect's chip: its mark in a colour and a form of its own.
pub fn paint_chip(painter: &egui::Painter, rect: egui::Rect, mark: u32) {
    let look = ChipLook::of(mark);
    let (fill, under) = (ink(look.colour), ink(look.under_numeral));
    let round = match look.form {
        ChipForm::Square | ChipForm::Frame => 3.0,
        ChipForm::Disc => rect.height() / 2.0,
    };
    painter.rect_filled(rect, round, fill);
    if look.form == ChipForm::Frame {
        painter.rect_filled(rect.shrink(2.0), 2.0, under);
    }
    // A black chip on a dark ground, a white one on a light one, keep an outline.
    painter.rect_stroke(rect, round, Stroke::new(0.5, grey(0x80)), egui::StrokeKind::Inside);
    let font = FontId::new(rect.height() * 0.78, FontFamily::Proportional);
    painter.text(rect.center(), egui::Align2::CENTER_CENTER, mark, font, ink(look.numeral));
}
