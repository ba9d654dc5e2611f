//! A name changed where it stands.

use egui::{Align, Id, Key, Layout, Rect, Ui, UiBuilder, vec2};

use super::name;
use super::text::TextField;

/// Draws the field in which something is renamed where its name stands; once that is over gives the new name, or nothing
/// where it stays.
pub fn rename_field(ui: &mut Ui, id: Id, own: &str, place: Rect) -> Option<Option<String>> {
    let id = id.with("name");
    // What another renaming left behind, where it was broken off, is none of this one.
    let pass = ui.ctx().cumulative_pass_nr();
    let begun = ui.data(|data| data.get_temp::<(String, u64)>(id));
    let begun = begun.filter(|(_, last)| last + 2 >= pass).map(|(text, _)| text);
    let mut text = begun.clone().unwrap_or_else(|| own.to_owned());
    let layout = Layout::left_to_right(Align::Center);
    let mut inside = ui.new_child(UiBuilder::new().max_rect(place.expand2(vec2(0.0, 3.0))).layout(layout));
    let said = format!("New name of {}", name(own));
    let entry = TextField::new(&said, place.width() - 8.0).id(id.with("field")).show(&mut inside, &mut text);
    if begun.is_none() {
        entry.request_focus();
    }
    ui.data_mut(|data| data.insert_temp(id, (text.clone(), pass)));
    let is_given_up = ui.input(|input| input.key_pressed(Key::Escape));
    if begun.is_none() || (!entry.lost_focus() && entry.has_focus()) {
        return None;
    }
    ui.data_mut(|data| data.remove::<(String, u64)>(id));
    let text = text.trim();
    Some((!is_given_up && text != own).then(|| text.to_owned()))
}
