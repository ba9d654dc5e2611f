//! Where the window's regions stand: from its size and what the person dragged, never from what is in them.

use egui::{Rect, Vec2, pos2, vec2};

use crate::base::words::words;

words! {
    /// An edge between two regions, which the person drags.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
    pub enum Edge {
        /// The width of the column at the left: bundles, levels and clips.
        Structure = "structure",
        /// The width of the column at the right: orders, swaps, pins and more.
        Beside = "beside",
        /// The height of the settings under the picture.
        Settings = "settings",
    }
}

/// What the person dragged the edges to, in points; where nothing is set, what is usual in a window of the size.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PanelSizes([Option<u16>; Edge::ALL.len()]);

impl PanelSizes {
    /// The size that was set.
    pub fn of(&self, edge: Edge) -> Option<u16> {
        self.0[edge as usize]
    }

    /// Sets a size, or takes the usual one again.
    pub fn set(&mut self, edge: Edge, size: Option<u16>) {
        self.0[edge as usize] = size;
    }
}

/// The largest size that is kept for an edge: more than any screen has.
pub const MOST_POINTS: u16 = 8192;
/// Room around the contents of a region.
pub const MARGIN: Vec2 = vec2(10.0, 6.0);
/// The least room that the picture keeps, whatever is dragged.
const PICTURE_LEAST: Vec2 = vec2(340.0, 180.0);
/// The least width of the column at the right.
const BESIDE_LEAST: f32 = 260.0;
/// What stands over and under the picture in its region: its title, its line, caution and flashes.
const AROUND_PICTURE: f32 = 92.0;
/// The proportions that most screens have, by which the usual sizes leave room for the picture.
const ASPECT: f32 = 16.0 / 9.0;

/// The regions under the path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arrangement {
    /// Bundles, levels and clips.
    pub structure: Option<Rect>,
    /// The output: the largest.
    pub picture: Rect,
    /// The settings of what is selected.
    pub settings: Rect,
    /// The tabs.
    pub beside: Rect,
}

impl Arrangement {
    /// The regions of a room; each is as large as the person made it, as far as the others keep their least.
    pub fn of(room: Rect, sizes: &PanelSizes, has_structure: bool) -> Self {
        let size = |edge: Edge, usual: f32, [least, most]: [f32; 2]| {
            let wanted = sizes.of(edge).map_or(usual, f32::from);
            wanted.min(most).max(least).round()
        };
        let width = room.width();
        let structure = match has_structure {
            true => size(
                Edge::Structure,
                (width * 0.125).clamp(150.0, 240.0),
                [120.0, (width - PICTURE_LEAST.x - BESIDE_LEAST).min(width * 0.3)],
            ),
            false => 0.0,
        };
        let most = width - structure - PICTURE_LEAST.x;
        let beside = size(Edge::Beside, width * 0.36, [BESIDE_LEAST, most]);
        let picture = width - structure - beside;
        let ideal = (picture - 2.0 * MARGIN.x) / ASPECT + AROUND_PICTURE + 2.0 * MARGIN.y;
        let left = room.height() - ideal;
        let usual = left.clamp((room.height() * 0.25).min(138.0), 242.0);
        let settings = size(Edge::Settings, usual, [64.0, room.height() - PICTURE_LEAST.y]);
        let x = [room.left() + structure, room.right() - beside];
        let y = room.bottom() - settings;
        Self {
            structure: has_structure.then(|| room.with_max_x(x[0])),
            picture: Rect::from_min_max(pos2(x[0], room.top()), pos2(x[1], y)),
            settings: Rect::from_min_max(pos2(x[0], y), pos2(x[1], room.bottom())),
            beside: room.with_min_x(x[1]),
        }
    }

    /// The line of an edge, and the size that it would have if it were dragged to a point.
    pub fn edge(&self, edge: Edge) -> Option<Rect> {
        Some(match edge {
            Edge::Structure => {
                let rect = self.structure?;
                rect.with_min_x(rect.right())
            }
            Edge::Beside => self.beside.with_max_x(self.beside.left()),
            Edge::Settings => self.settings.with_max_y(self.settings.top()),
        })
    }

    /// The size that an edge asks for where it is dragged to a point.
    pub fn dragged(&self, edge: Edge, to: egui::Pos2) -> u16 {
        let points = match edge {
            Edge::Structure => to.x - self.structure.map_or(to.x, |rect| rect.left()),
            Edge::Beside => self.beside.right() - to.x,
            Edge::Settings => self.settings.bottom() - to.y,
        };
        points.round().clamp(1.0, f32::from(MOST_POINTS)) as u16
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn room(width: f32, height: f32) -> Rect {
        Rect::from_min_size(pos2(0.0, 168.0), vec2(width, height - 192.0))
    }

    #[test]
    fn the_picture_is_the_largest_and_takes_at_least_45_percent_of_the_width() {
        for (width, height) in
            [(820.0, 512.0), (1024.0, 640.0), (1280.0, 800.0), (1920.0, 1080.0), (2560.0, 1440.0)]
        {
            for has_structure in [false, true] {
                let room = room(width, height);
                let of = Arrangement::of(room, &PanelSizes::default(), has_structure);
                assert!(of.picture.width() >= width * 0.45, "{width}: {of:?}");
                let others = [of.structure, Some(of.settings), Some(of.beside)];
                let area = |rect: Rect| rect.area();
                if height >= 640.0 {
                    assert!(
                        others.into_iter().flatten().all(|other| area(other) < area(of.picture)),
                        "{of:?}"
                    );
                }
            }
        }
    }

    #[test]
    fn regions_fill_the_room_and_meet_at_their_edges_whatever_was_dragged() {
        for points in [None, Some(1), Some(300), Some(700), Some(MOST_POINTS)] {
            for (width, height) in [(820.0, 512.0), (1280.0, 800.0), (2560.0, 1440.0)] {
                let mut sizes = PanelSizes::default();
                Edge::ALL.into_iter().for_each(|edge| sizes.set(edge, points));
                let room = room(width, height);
                let of = Arrangement::of(room, &sizes, true);
                let all = [of.structure.unwrap(), of.picture, of.settings, of.beside];
                let sum: f32 = all.iter().map(|rect| rect.area()).sum();
                assert!((sum - room.area()).abs() < 1.0, "{points:?} {of:?}");
                assert!(all.iter().all(|rect| room.contains_rect(*rect) && rect.is_positive()), "{of:?}");
                assert!(
                    of.picture.width() >= PICTURE_LEAST.x && of.picture.height() >= PICTURE_LEAST.y,
                    "{of:?}"
                );
            }
        }
    }

    #[test]
    fn an_edge_lies_where_it_was_dragged_to() {
        let room = room(1280.0, 800.0);
        let of = Arrangement::of(room, &PanelSizes::default(), true);
        for (edge, to) in [
            (Edge::Structure, pos2(200.0, 300.0)),
            (Edge::Beside, pos2(800.0, 300.0)),
            (Edge::Settings, pos2(400.0, 600.0)),
        ] {
            let mut sizes = PanelSizes::default();
            sizes.set(edge, Some(of.dragged(edge, to)));
            let line = Arrangement::of(room, &sizes, true).edge(edge).unwrap();
            let distance =
                if edge == Edge::Settings { line.center().y - to.y } else { line.center().x - to.x };
            assert!(distance.abs() < 1.0, "{edge:?} {line:?}");
        }
    }
}
