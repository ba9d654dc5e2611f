//! GPU time by timestamps: how long the dispatches of submissions took.

use std::time::Duration;

/// At most this many submissions are timed between two readings.
const SUBMISSIONS: u32 = 512;

/// Two timestamps a submission, kept on the GPU until they are read.
#[derive(Debug)]
pub(super) struct Clock {
    set: wgpu::QuerySet,
    resolved: wgpu::Buffer,
    /// Nanoseconds a tick.
    period: f32,
    timed: u32,
}

impl Clock {
    /// `None` where the adapter has no timestamps.
    pub(super) fn of(device: &wgpu::Device, queue: &wgpu::Queue) -> Option<Self> {
        if !device.features().contains(wgpu::Features::TIMESTAMP_QUERY) {
            return None;
        }
        let set = device.create_query_set(&wgpu::QuerySetDescriptor {
            label: Some("clock"),
            ty: wgpu::QueryType::Timestamp,
            count: SUBMISSIONS * 2,
        });
        let resolved = device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("clock"),
            size: u64::from(SUBMISSIONS) * 16,
            usage: wgpu::BufferUsages::QUERY_RESOLVE | wgpu::BufferUsages::COPY_SRC,
            mapped_at_creation: false,
        });
        Some(Self { set, resolved, period: queue.get_timestamp_period(), timed: 0 })
    }

    /// Where the next submission's compute pass writes its two timestamps.
    pub(super) fn next(&mut self) -> Option<wgpu::ComputePassTimestampWrites<'_>> {
        if self.timed == SUBMISSIONS {
            return None;
        }
        let first = self.timed * 2;
        self.timed += 1;
        Some(wgpu::ComputePassTimestampWrites {
            query_set: &self.set,
            beginning_of_pass_write_index: Some(first),
            end_of_pass_write_index: Some(first + 1),
        })
    }

    /// Resolves what was timed since the last reading; gives the buffer and its size in bytes.
    pub(super) fn resolve(&mut self, encoder: &mut wgpu::CommandEncoder) -> Option<(wgpu::Buffer, u64)> {
        let queries = std::mem::take(&mut self.timed) * 2;
        if queries == 0 {
            return None;
        }
        encoder.resolve_query_set(&self.set, 0..queries, &self.resolved, 0);
        Some((self.resolved.clone(), u64::from(queries) * 8))
    }

    /// The sum of what the resolved timestamps span.
    pub(super) fn sum(&self, bytes: &[u8]) -> Duration {
        let ticks: Vec<u64> = bytes
            .chunks_exact(8)
            .map(|word| word.iter().rev().fold(0, |sum, &byte| sum << 8 | u64::from(byte)))
            .collect();
        let spans = ticks.chunks_exact(2).map(|span| span[1].saturating_sub(span[0]));
        Duration::from_nanos((spans.sum::<u64>() as f64 * f64::from(self.period)) as u64)
    }
}
