//! How far two pictures are apart, measured on a thread of its own.

use std::sync::Arc;

use super::worker::{Errand, News, Unfinished, Worker};
use crate::base::picture::Picture;
use crate::gpu::{Gpu, Renderer};
use crate::measure::Difference;

/// Two pictures of one size.
pub type Two = [Arc<Picture>; 2];

/// Measures the two pictures that were asked about last.
pub struct Apart {
    worker: Worker<Two, Difference>,
    open: Option<Errand>,
    of: Option<Two>,
    known: Option<Result<Difference, String>>,
}

impl Apart {
    pub fn new(gpu: Gpu, wake: impl Fn() + Send + 'static) -> Self {
        let begin = move || Ok(Renderer::giving_way(gpu.sibling()));
        let worker = Worker::new("compared", wake, begin, |renderer: &mut Renderer, [a, b]: Two, task| {
            renderer.stop_when(task.stop());
            renderer.difference(&a, &b).map_err(|error| Unfinished::Failed(error.to_string()))
        });
        Self { worker, open: None, of: None, known: None }
    }

    /// How far they are apart, or why that could not be measured; nothing while it is on its way.
    pub fn of(&mut self, two: &Two) -> Option<Result<Difference, String>> {
        while let Some((number, said)) = self.worker.hear() {
            if self.open.take_if(|errand| errand.is(number)).is_some() {
                self.known = match said {
                    News::Part(known) | News::Finished(known) => Some(Ok(known)),
                    News::Failed(why) => Some(Err(why)),
                    News::GaveWay => None,
                };
            }
        }
        let is_of = |of: &Two| of.iter().zip(two).all(|(a, b)| Arc::ptr_eq(a, b));
        if !self.of.as_ref().is_some_and(is_of) {
            if let Some(errand) = self.open.take() {
                errand.give_up();
            }
            self.known = None;
            self.of = Some(two.clone());
            self.open = Some(self.worker.ask(two.clone()));
        }
        self.known.clone()
    }
}
