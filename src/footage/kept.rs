//! Pictures made lately, within a budget of bytes that all footage of a shelf shares.

use std::collections::HashMap;
use std::path::Path;
use std::sync::Arc;

use crate::base::frame::Frame;
use crate::base::picture::Picture;
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
pub(super) struct Kept {
    pictures: HashMap<Key, (Arc<Picture>, u64)>,
    budget_bytes: usize,
    bytes: usize,
    /// Counts uses: a picture's last use is the count then.
    uses: u64,
}

impl Kept {
    pub fn new(budget_bytes: usize) -> Self {
        Self { pictures: HashMap::new(), budget_bytes, bytes: 0, uses: 0 }
    }

    pub fn bytes(&self) -> usize {
        self.bytes
    }

    pub fn has(&self, key: &Key) -> bool {
        self.pictures.contains_key(key)
    }

    pub fn get(&mut self, key: &Key) -> Option<Arc<Picture>> {
        self.uses += 1;
        let (picture, last_use) = self.pictures.get_mut(key)?;
        *last_use = self.uses;
        Some(Arc::clone(picture))
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
        self.pictures.get(nearest).map(|(picture, _)| Arc::clone(picture))
    }

    /// Keeps a picture; one alone may be larger than the budget.
    pub fn insert(&mut self, key: Key, picture: Picture) {
        self.uses += 1;
        self.bytes += picture.rgba.len();
        if let Some((old, _)) = self.pictures.insert(key, (Arc::new(picture), self.uses)) {
            self.bytes -= old.rgba.len();
        }
        while self.bytes > self.budget_bytes && self.pictures.len() > 1 {
            let oldest = self.pictures.iter().min_by_key(|(_, (_, last_use))| *last_use);
            let Some(oldest) = oldest.map(|(key, _)| key.clone()) else { break };
            if let Some((gone, _)) = self.pictures.remove(&oldest) {
                self.bytes -= gone.rgba.len();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_picture_unused_for_longest_goes_first() {
        let frame = Frame { width: 8, height: 8 };
        let key = |number| Key { path: Path::new("sea").into(), number, fit: Fit::Fill, frame };
        let picture = || Picture { frame, rgba: vec![0; 256], opaque: false };
        let mut kept = Kept::new(1024);
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
