//! What a command was given to open: a chain, or a show.

use std::path::{Path, PathBuf};

use crate::base::coding::ColourCode;
use crate::beat::Moment;
use crate::files;
use crate::footage::{FootageError, Shelf};
use crate::plan::Path as PicturePath;
use crate::plan::memory::Needed;
use crate::readiness::caution;
use crate::show::chain::Preset;
use crate::show::clip::{Fit, FootageName};
use crate::show::{Scope, Show};

/// What was opened: a chain lies on footage, a show is looked at on one of its scopes.
pub(super) enum Opened {
    Chain { preset: Preset, footage: FootageName, fit: Fit },
    Show { show: Show, scope: Scope },
}

impl Opened {
    pub(super) fn name(&self) -> &str {
        match self {
            Self::Chain { preset, .. } => &preset.name,
            Self::Show { show, .. } => &show.name,
        }
    }

    /// What is under the chain, in words.
    pub(super) fn footage(&self) -> String {
        match self {
            Self::Chain { footage, .. } => footage.to_string(),
            Self::Show { show, scope } => show.address(*scope),
        }
    }

    /// The colour that a person gave what is under the chain.
    pub(super) fn colour(&self) -> Option<ColourCode> {
        match self {
            Self::Chain { .. } => None,
            Self::Show { show, scope } => show.colour(*scope),
        }
    }

    pub(super) fn needed(&self, moment: &Moment) -> Needed {
        match self {
            Self::Chain { preset, footage, .. } => {
                Needed::of_chain(&preset.chain, footage, moment.frame, moment.pixels)
            }
            Self::Show { show, .. } => Needed::of_show(show, moment.frame, moment.pixels),
        }
    }

    pub(super) fn caution(&self) -> Option<&'static str> {
        match self {
            Self::Chain { preset, .. } => caution::of_chain(&preset.chain),
            Self::Show { show, .. } => caution::of_show(show),
        }
    }

    /// The path at a moment, with the frames that lead up to it.
    pub(super) fn path(&self, moment: Moment, shelf: &mut Shelf) -> Result<PicturePath, FootageError> {
        match self {
            Self::Chain { preset, footage, fit } => {
                PicturePath::of_chain(&preset.chain, footage, *fit, moment, shelf)
            }
            Self::Show { show, scope } => PicturePath::of_scope(show, *scope, moment, shelf),
        }
    }

    /// The path at a moment alone.
    pub(super) fn path_alone(&self, moment: Moment, shelf: &mut Shelf) -> Result<PicturePath, FootageError> {
        match self {
            Self::Chain { preset, footage, fit } => {
                PicturePath::of_chain_alone(&preset.chain, footage, *fit, moment, shelf)
            }
            Self::Show { show, scope } => PicturePath::of_scope_alone(show, *scope, moment, shelf),
        }
    }

    pub(super) fn footage_files(&self) -> Vec<PathBuf> {
        match self {
            Self::Chain { footage: FootageName::File { path, .. }, .. } => vec![path.clone()],
            Self::Chain { .. } => Vec::new(),
            Self::Show { show, .. } => files::footage_files(show).map(Path::to_owned).collect(),
        }
    }
}
