//! Pictures made lately, within a budget of bytes that all footage of a shelf shares.

use std::path::Path;
use std::sync::Arc;

use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::base::recent::Recent;
use crate::show::clip::Fit;

/// Which picture of which footage, made how.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Key {
    pub path: Arc<Path>,
    pub number: u64,
    pub fit: Fit,
    pub frame: Frame,
}

/// Fitted pictures up to a budget; the one unused for longest goes first.
#[derive(Debug)]
pub(super) struct FrameStore {
    /// Every use is a turn.
    pictures: Recent<Key, Arc<Picture>>,
    budget_bytes: u64,
}

impl FrameStore {
    pub fn new(budget_bytes: usize) -> Self {
        Self { pictures: Recent::default(), budget_bytes: budget_bytes as u64 }
    }

    pub fn bytes(&self) -> usize {
        self.pictures.bytes() as usize
    }

    pub fn has(&self, key: &Key) -> bool {
        self.pictures.has(key)
    }

    pub fn get(&mut self, key: &Key) -> Option<Arc<Picture>> {
        self.pictures.next_turn();
        self.pictures.get(key).map(|picture| Arc::clone(picture))
    }

    /// The picture of the same footage, made the same way, whose number is nearest.
    pub fn nearest(&self, key: &Key) -> Option<Arc<Picture>> {
        let alike = |known: &&Key| known.path == key.path && known.fit == key.fit && known.frame == key.frame;
        // Of two as near, the earlier: what showed stays until its time is over.
        let nearest = self
            .pictures
            .keys()
            .filter(alike)
            .min_by_key(|known| (known.number.abs_diff(key.number), known.number))?;
        self.pictures.peek(nearest).map(Arc::clone)
    }

    /// Keeps a picture; one alone may be larger than the budget.
    pub fn insert(&mut self, key: Key, picture: Picture) {
        self.pictures.next_turn();
        let bytes = picture.rgba.len() as u64;
        self.pictures.insert(key, Arc::new(picture), bytes);
        let _ = self.pictures.let_go(self.budget_bytes, 1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_picture_unused_for_longest_goes_first() {
        let frame = Frame { width: 8, height: 8 };
        let key = |number| Key { path: Path::new("sea").into(), number, fit: Fit::Whole, frame };
        let picture = || Picture { frame, rgba: vec![0; 256], opaque: false };
        let mut kept = FrameStore::new(1024);
        for number in 0..4 {
            kept.insert(key(number), picture());
        }
        assert_eq!(kept.bytes(), 1024);
        assert!(kept.get(&key(0)).is_some());
        kept.insert(key(4), picture());
        let there: Vec<bool> = (0..5).map(|n| kept.has(&key(n))).collect();
        assert_eq!(there, [true, false, true, true, true]);
        assert_eq!(kept.bytes(), 1024);
    }
}
