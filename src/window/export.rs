//! Pictures and walls written to files: the one place of the window that reads back from the GPU, when asked to.

use std::io::Cursor;
use std::path::Path;
use std::sync::Arc;

use image::{ImageFormat, RgbaImage};

use super::pictures::Pictures;
use crate::caution;
use crate::chain::labels;
use crate::files;
use crate::footage::Picture;
use crate::frame::{Frame, Moment};
use crate::gpu::{Budget, Want};
use crate::order::{Facts, Proofs, Tree};
use crate::show::{Scope, Show};
use crate::wall::{EffectKey, Tile, Wall, tile_size};

/// The most pictures of an exported wall.
const MOST: usize = 240;

/// What is exported: a scope of a show at a moment.
type Subject<'a> = (&'a Arc<Show>, Scope, Moment);

/// Writes the output with a scope's chain in an order, at the show's own frame.
pub fn picture(
    pictures: &mut Pictures,
    (show, scope, moment): Subject<'_>,
    order: &[usize],
    path: &Path,
) -> Result<(), String> {
    let planned = planned(pictures, (show, scope, moment))?;
    let renderer = pictures.renderer().ok_or("there is no GPU to render on")?;
    let picture = renderer.picture(&planned, order).map_err(|error| error.to_string())?;
    write(path, &image_of(&picture)?)
}

/// Writes the wall of a scope's chain.
pub fn wall(pictures: &mut Pictures, (show, scope, moment): Subject<'_>, path: &Path) -> Result<(), String> {
    let planned = planned(pictures, (show, scope, moment))?;
    let renderer = pictures.renderer().ok_or("there is no GPU to render on")?;
    let say = |error: crate::gpu::GpuError| error.to_string();
    let maps = renderer.index_maps(&planned.chain, &moment).map_err(say)?;
    let facts = Facts { chain: &planned.chain, moment: &moment, opaque: planned.opaque, maps: &maps };
    let proofs = Proofs::of(&facts);
    let classes = proofs.classes.all();
    let tree = Tree::of(&classes, |effect| proofs.idle[effect].is_some());
    let most = classes.len().min(MOST);
    let grid = tile_size(moment.frame, most);
    let frame = moment.frame;
    let size = Frame { width: grid.width.min(frame.width), height: grid.height.min(frame.height) };
    let want = Want::Tiles { size, most };
    let finished = renderer.explore(&planned, &tree, want, Budget::default(), |_| {}).map_err(say)?;
    let mut tiles = Vec::with_capacity(most);
    for (at, (class, finished)) in classes.iter().zip(&finished).enumerate().take(most) {
        let Some(picture) = &finished.picture else { continue };
        let picture = grid.tile(&image_of(picture)?).map_err(|error| error.to_string())?;
        let note = (at == 0).then(|| "the present order".to_owned());
        tiles.push(Tile { picture, order: class.order.clone(), number: at + 1, note });
    }
    let names = labels(&planned.chain);
    let effects = planned.chain.iter().enumerate().map(|(at, used)| EffectKey {
        label: names[at].clone(),
        settings: used.written_changes().join(", "),
        idle: proofs.idle[at].clone(),
    });
    let sheet = Wall {
        title: show.name.clone(),
        facts: vec![format!("{}, beat {:.2}, {frame}", show.address(scope), moment.beats)],
        effects: effects.collect(),
        notes: if most < classes.len() {
            vec![format!("{most} of {} orders.", classes.len())]
        } else {
            Vec::new()
        },
        tiles,
        caution: caution::of_show(show).map(str::to_owned),
    };
    write(path, &sheet.drawn().map_err(|error| error.to_string())?)
}

fn planned(
    pictures: &mut Pictures,
    (show, scope, moment): Subject<'_>,
) -> Result<Arc<crate::plan::Path>, String> {
    pictures
        .path(show, scope, moment)
        .ok_or_else(|| pictures.problem().unwrap_or("the footage cannot be shown").to_owned())
}

fn image_of(picture: &Picture) -> Result<RgbaImage, String> {
    let Frame { width, height } = picture.frame;
    RgbaImage::from_raw(width, height, picture.rgba.clone())
        .ok_or_else(|| format!("the GPU gave back too few bytes for {width}x{height}"))
}

fn write(path: &Path, picture: &RgbaImage) -> Result<(), String> {
    let mut bytes = Vec::new();
    picture.write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png).map_err(|error| error.to_string())?;
    files::write(path, &bytes).map_err(|error| error.to_string())
}
