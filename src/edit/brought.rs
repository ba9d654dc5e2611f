//! Clips that were brought from another show: what tells one from every other, and the note that says where it is from.

use std::path::Path;

use crate::base::content::Content;
use crate::files;
use crate::show::clip::FootageName;
use crate::show::{Bundle, Clip, ClipPlace, Level, Scope, Show, Taken};

/// What stands for a clip: alike for clips that show the same, whatever they are called, how they are told apart, and
/// in which folder their footage lies.
pub fn content_of_clip(clip: &Clip) -> String {
    let footage = match &clip.footage {
        // By its name alone, in small letters, and by no file of this machine.
        FootageName::File { path, .. } => {
            let name = path.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
            FootageName::Generated(format!("file {name}"))
        }
        other => other.clone(),
    };
    let mut chain = clip.chain.clone();
    chain.iter_mut().for_each(|used| used.mark = None);
    let bare = Clip { fit: clip.fit, play: clip.play, chain, ..Clip::of("clip", footage) };
    let bundles = vec![Bundle::of("bundle", vec![Level::of("level", bare)])];
    let alone = Show { bundles, ..Show::around(Vec::new(), Vec::new()) };
    Content::of(files::show_text(&alone, Path::new(""))).to_string()
}

/// A clip's address without what kind of scope it is: `picture/sea/waves`.
pub fn clip_address(show: &Show, clip: ClipPlace) -> String {
    let address = show.address(clip.into());
    address.strip_prefix("clip:").unwrap_or(&address).to_owned()
}

/// Every clip of a scope.
pub(super) fn clips_in(show: &Show, scope: Scope) -> Vec<ClipPlace> {
    let all = show.scopes().into_iter().filter(|&one| super::spot::lies_in(one, scope));
    let clip = |scope: Scope| match scope {
        Scope::Clip(bundle, level, clip) => Some(ClipPlace { bundle, level, clip }),
        _ => None,
    };
    all.filter_map(clip).collect()
}

/// The note on a clip that it was brought from a show.
pub(super) fn brought(from: &Show, clip: ClipPlace, to: Scope) -> Taken {
    let content = from.clip(clip).map(content_of_clip).unwrap_or_default();
    Taken { scope: to, preset: from.name.clone(), clip: Some(clip_address(from, clip)), content }
}
