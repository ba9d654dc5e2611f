//! What the pictures of a subject depend on, and what may come of them.

use std::path::Path;

use super::opened::Opened;
use super::subject::Subject;
use crate::footage::FootageError;
use crate::show::Scope;
use crate::{files, footage, plan};

impl Subject {
    /// Whether any picture of it may be transparent anywhere, as far as is known before it is rendered. A show lies
    /// over black before its global chain.
    pub(super) fn may_be_transparent(&self) -> Result<bool, FootageError> {
        if let Some(running) = &self.running {
            return Ok(running.stands().iter().any(|show| !plan::keeps_alpha(&show.global)));
        }
        Ok(match &self.opened {
            Opened::Show { show, .. } => !plan::keeps_alpha(show.chain(Scope::Global)),
            Opened::Chain { preset, footage, .. } => {
                !self.path.opaque
                    || !plan::keeps_alpha(&preset.chain)
                    || self.shelf.may_be_transparent(footage)?
            }
        })
    }

    /// Everything that the pictures depend on, as text: the document, and footage by path, size and age.
    pub(super) fn identity(&self) -> String {
        let mut text = match &self.opened {
            Opened::Chain { preset, footage, fit } => {
                format!("{}\n{footage} {}\n", files::chain_text(preset), fit.name())
            }
            Opened::Show { show, .. } => files::show_text(show, Path::new("")),
        };
        for (leg, show) in
            self.running.iter().flat_map(|running| running.order().legs.iter().zip(running.stands()))
        {
            text += &format!("{leg:?}\n{}", files::show_text(show, Path::new("")));
        }
        let moment = &self.path.moment;
        let scope = self.scope().unwrap_or("");
        text += &format!("{} {} {scope} {:?}\n", moment.frame, moment.pixels.name(), self.warm_up);
        for path in &self.read {
            text += &format!("{} {}\n", path.display(), footage::age_of(path));
        }
        for effect in self.catalogue.effects().iter().chain(self.catalogue.sources()) {
            text += &effect.source;
        }
        text
    }
}
