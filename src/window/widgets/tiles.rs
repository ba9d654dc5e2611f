//! Walls of small pictures: as many columns as their size leaves room for, and what changes that size.

use egui::{Id, Rect, Slider, Ui, Vec2};

use crate::window::action::Action;
use crate::window::keys::Command;
use crate::window::preferences::TILE_PERCENT;
use crate::window::scene::Scene;

/// Room between two tiles.
pub const SPACE: f32 = 10.0;
/// Room beside them for the bar of a scrolling area.
const BAR: f32 = 10.0;
/// From here on tiles are nearly as large as the largest, as a share of their width.
const NEARLY: f32 = 0.9;
/// Width of the slider.
const SLIDER: f32 = 64.0;

/// The tiles of a wall, before it is known how they stand.
#[derive(Debug, Clone, Copy)]
pub struct Tiles {
    pub count: usize,
    /// Of a picture: its width by its height.
    pub aspect: f32,
    /// Height of what stands over and under a picture.
    pub around: f32,
    /// The least width of the usual size.
    pub least: f32,
}

impl Tiles {
    /// How many columns a room has, and how wide a picture is. Usually as large as lets all be seen at once; where
    /// they are too many for that, as many columns as have their least width. A person's size makes more or fewer
    /// columns of that; whatever it is, columns fill the width.
    pub fn stand(self, room: Vec2, percent: u32) -> (usize, f32) {
        let count = self.count.max(1);
        let across = room.x - BAR;
        let width = |columns: usize| ((across + SPACE) / columns as f32 - SPACE).max(1.0);
        let columns = |wanted: f32| (across + SPACE) / (wanted + SPACE);
        let seen = |columns: usize| {
            let rows = count.div_ceil(columns) as f32;
            let height = (room.y + SPACE) / rows - SPACE - self.around;
            width(columns).min(height * self.aspect)
        };
        // More columns than fit at the least width are no better.
        let most = (columns(self.least).floor().max(1.0) as usize).min(count);
        let largest = (1..=most).map(seen).fold(0.0, f32::max);
        // Hardly larger ones in fewer columns would leave the room beside them empty.
        let best = (1..=most).rfind(|&columns| seen(columns) >= NEARLY * largest).unwrap_or(1);
        let (usual_columns, usual) = match seen(best) {
            large if large >= self.least => (best, large),
            _ => (most, width(most)),
        };
        if percent == 100 {
            return (usual_columns, usual);
        }
        let wanted = usual * percent as f32 / 100.0;
        let columns = (columns(wanted).round().max(1.0) as usize).min(count);
        (columns, if columns == usual_columns { wanted.min(width(columns)) } else { width(columns) })
    }
}

/// The size of tiles that the person chose: a slider, twice pressed back to the usual size.
pub fn size(ui: &mut Ui, scene: &mut Scene<'_>) {
    let [low, high] = TILE_PERCENT;
    let before = scene.view.preferences.tile_percent;
    let mut percent = before;
    // A slider does not go to the next line by itself.
    if ui.layout().main_wrap && ui.available_size_before_wrap().x < SLIDER + 10.0 {
        ui.end_row();
    }
    let usual = std::mem::replace(&mut ui.spacing_mut().slider_width, SLIDER);
    let slider = Slider::new(&mut percent, low..=high).logarithmic(true).show_value(false);
    let response = ui.add(slider).accessible_name("Size of the tiles");
    ui.spacing_mut().slider_width = usual;
    let percent = if response.double_clicked() { 100 } else { percent };
    take(ui, scene, percent);
    response.on_hover_text(format!(
        "Size of the tiles: {percent} % ({} and {}). Ctrl and the wheel over them, too. Twice: the usual size",
        Command::SmallerTiles.key(),
        Command::LargerTiles.key(),
    ));
}

/// Ctrl and the wheel over a wall make its tiles larger and smaller.
pub fn wheel(ui: &Ui, scene: &mut Scene<'_>, wall: Rect) {
    let factor = ui.input(egui::InputState::zoom_delta);
    let is_over = ui.rect_contains_pointer(wall);
    let id = Id::unique("size of tiles by the wheel");
    // Small turns add up to a step.
    let before = scene.view.preferences.tile_percent as f32;
    let exact = ui.data(|data| data.get_temp::<f32>(id)).filter(|exact| (exact - before).abs() <= 1.0);
    let [low, high] = TILE_PERCENT.map(|percent| percent as f32);
    let exact = exact.unwrap_or(before) * if is_over { factor } else { 1.0 };
    let exact = exact.clamp(low, high);
    ui.data_mut(|data| data.insert_temp(id, exact));
    if is_over && factor != 1.0 {
        take(ui, scene, exact.round() as u32);
    }
}

/// Takes a size; it is remembered once it rests.
fn take(ui: &Ui, scene: &mut Scene<'_>, percent: u32) {
    let id = Id::unique("size of tiles to be remembered");
    if percent != scene.view.preferences.tile_percent {
        scene.act(Action::TileSize(percent));
        ui.data_mut(|data| data.insert_temp(id, true));
    } else if !ui.input(|input| input.pointer.any_down())
        && ui.data_mut(|data| data.remove_temp::<bool>(id)).is_some()
    {
        scene.act(Action::KeepSizes);
    }
}

#[cfg(test)]
mod tests {
    use egui::vec2;

    use super::*;

    const ORDERS: Tiles = Tiles { count: 54, aspect: 16.0 / 9.0, around: 53.0, least: 150.0 };

    #[test]
    fn columns_fill_the_room_whatever_the_size() {
        for room in [vec2(260.0, 300.0), vec2(460.0, 400.0), vec2(1360.0, 1100.0)] {
            for percent in [50, 80, 100, 140, 200, 300] {
                let (columns, width) = ORDERS.stand(room, percent);
                let taken = columns as f32 * (width + SPACE) - SPACE;
                assert!(taken <= room.x - BAR + 0.1, "{room:?} at {percent} %: {columns} of {width}");
                assert!(
                    taken >= room.x * 0.6,
                    "{room:?} at {percent} %: {columns} of {width} leave it empty"
                );
            }
        }
    }

    #[test]
    fn a_larger_size_never_gives_smaller_tiles() {
        let room = vec2(900.0, 700.0);
        let widths: Vec<f32> = (50..=300).step_by(10).map(|percent| ORDERS.stand(room, percent).1).collect();
        assert!(widths.is_sorted(), "{widths:?}");
        assert!(widths[0] < ORDERS.stand(room, 100).1 && widths[25] > 2.0 * ORDERS.stand(room, 100).1);
    }

    #[test]
    fn few_tiles_are_as_large_as_lets_all_be_seen() {
        let (columns, width) = Tiles { count: 4, ..ORDERS }.stand(vec2(470.0, 400.0), 100);
        assert_eq!(columns, 2);
        assert!(width > 180.0, "{width}");
        let (columns, width) = Tiles { count: 1, ..ORDERS }.stand(vec2(470.0, 400.0), 100);
        assert!(columns == 1 && width > 400.0, "{width}");
        // Three in one column would be a little larger, and the half beside them empty.
        let three = Tiles { count: 3, around: 80.0, ..ORDERS };
        let (columns, width) = three.stand(vec2(920.0, 1080.0), 100);
        assert!(columns == 2 && width > 440.0, "{columns} of {width}");
        // None at all, and a room that is hardly there, are no reason to stop.
        assert!(Tiles { count: 0, ..ORDERS }.stand(vec2(3.0, 0.0), 300).1 >= 1.0);
    }
}
