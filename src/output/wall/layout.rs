//! Where everything stands on the sheet, decided before anything is drawn.

use image::RgbaImage;

use super::composer::{
    CAPTION_GAP, CHIP_GAP, CODE_GAP, Cell, Composer, Item, NARROWEST_CONTENT, chip_width, code_width, draw,
    names,
};
use super::families::Shape;
use super::grid::{GUTTER, MARGIN, NARROWEST_CELL, ROW_GAP};
use super::{LONGEST_SIDE, Wall, WallError, families, grid};
use crate::drawing::{Area, Canvas, Faces, ink};

/// Where everything stands on a sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Layout {
    /// Texels across the sheet.
    pub width: u32,
    /// Texels down the sheet.
    pub height: u32,
    /// Title, facts and the key to the chips, with the rule below them.
    pub header: Area,
    /// What is said over each row of families, with the rule above it.
    pub headings: Vec<Area>,
    /// One cell a picture, in the wall's order.
    pub cells: Vec<Cell>,
    /// Cells in one full row, where there are no families.
    pub columns: usize,
    /// Notes under all pictures; none where there are none.
    pub foot: Option<Area>,
}

/// Draws the wall.
pub(super) fn drawn(wall: &Wall) -> Result<RgbaImage, WallError> {
    let (layout, faces, items) = composed(wall)?;
    let mut canvas = Canvas::new(layout.width, layout.height, ink::GROUND);
    for (cell, tile) in layout.cells.iter().zip(&wall.tiles) {
        canvas.outline(cell.picture, ink::KEYLINE);
        canvas.picture(cell.picture, &tile.picture, ink::CHECKER);
    }
    let chip_width = chip_width(&faces, &wall.effects);
    for item in &items {
        draw(&mut canvas, &faces, chip_width, item);
    }
    Ok(canvas.into_picture())
}

/// Decides where everything stands.
pub(super) fn composed(wall: &Wall) -> Result<(Layout, Faces, Vec<Item>), WallError> {
    checked(wall)?;
    let faces = Faces::new()?;
    let chip_width = chip_width(&faces, &wall.effects);
    let least_cell = NARROWEST_CELL.max(chip_width + CHIP_GAP);
    let widest = wall.tiles.iter().map(|tile| tile.picture.width()).max().unwrap_or(1);
    let tallest = wall.tiles.iter().map(|tile| tile.picture.height()).max().unwrap_or(1);
    let too_large = |width: u64, height: u64| WallError::TooLarge {
        width,
        height,
        tiles: wall.tiles.len(),
        tile_width: widest,
        tile_height: tallest,
    };
    let limit = u64::from(LONGEST_SIDE);
    // Before any text is set: an absurd picture is refused at once.
    if u64::from(widest.max(tallest)) > limit {
        return Err(too_large(widest.into(), tallest.into()));
    }
    let shape = (!wall.families.is_empty()).then(|| Shape::of(wall, least_cell));
    let columns = grid::columns(widest, tallest, wall.tiles.len());
    let cell_width = shape.map_or(widest.max(least_cell), Shape::cell);
    let content = match shape {
        Some(shape) => u64::from(shape.content),
        None => {
            let grid_width = columns as u64 * u64::from(cell_width + GUTTER) - u64::from(GUTTER);
            grid_width.max(u64::from(NARROWEST_CONTENT))
        }
    };
    let width = content + 2 * u64::from(MARGIN);
    let rows = wall.tiles.len().div_ceil(columns) as u64;
    let least_height = rows * u64::from(tallest + CAPTION_GAP + ROW_GAP);
    if width > limit || shape.is_none() && least_height > limit {
        return Err(too_large(width, least_height));
    }
    let content = content as u32;

    let code_width = code_width(&faces, wall);
    let longest = wall.tiles.iter().map(|tile| tile.order.len() as u32).max().unwrap_or(0);
    let chips = longest.saturating_mul(chip_width + CHIP_GAP).saturating_sub(CHIP_GAP);
    let mut composer = Composer {
        chip_width,
        code_width,
        beside_chips: code_width.saturating_add(CODE_GAP).saturating_add(chips),
        faces,
        effects: &wall.effects,
        names: names(&wall.effects),
        items: Vec::new(),
    };
    let header_bottom = composer.header(wall, content, cell_width);
    let header = Area { x: MARGIN, y: MARGIN, width: content, height: header_bottom - MARGIN };
    let top = header_bottom + ROW_GAP;
    // As far as it is known: the rows that are still to come count as pictures only.
    let too_long = |height: u64| too_large(width, height.max(if shape.is_none() { least_height } else { 0 }));
    let (cells, headings, bottom) = match shape {
        Some(shape) => {
            let hung = families::hung(&mut composer, wall, shape, top).map_err(too_long)?;
            (hung.cells, hung.headings, hung.bottom)
        }
        None => {
            let mut cells = Vec::with_capacity(wall.tiles.len());
            let mut below = header_bottom;
            for row in wall.tiles.chunks(columns) {
                let (hung, bottom) =
                    composer.row(row, MARGIN, cell_width, below + ROW_GAP, true).map_err(too_long)?;
                cells.extend(hung);
                below = bottom;
            }
            (cells, Vec::new(), below)
        }
    };
    let foot = composer.foot(&wall.notes, bottom + ROW_GAP, content);
    let height = u64::from(foot.map_or(bottom, Area::bottom)) + u64::from(MARGIN);
    if height > limit {
        return Err(too_large(width, height));
    }
    let layout =
        Layout { width: width as u32, height: height as u32, header, headings, cells, columns, foot };
    Ok((layout, composer.faces, composer.items))
}

fn checked(wall: &Wall) -> Result<(), WallError> {
    if wall.tiles.is_empty() {
        return Err(WallError::NoTiles);
    }
    for (tile, number) in wall.tiles.iter().zip(1..) {
        if tile.picture.width() == 0 || tile.picture.height() == 0 {
            return Err(WallError::EmptyPicture { tile: Some(number) });
        }
        if let Some(&place) = tile.order.iter().find(|&&place| place >= wall.effects.len()) {
            let effects = wall.effects.len();
            return Err(WallError::UnknownEffect { tile: number, place: place.saturating_add(1), effects });
        }
    }
    Ok(())
}
