//! The rendering of a trial, on the adapter on which the effect is to be used.

use std::sync::Arc;
use std::time::Instant;

use super::probes::{Claim, Draws, Lie};
use super::{Outcome, TOO_SLOW_MS, Tried, probes};
use crate::base::frame::{Frame, PixelMode};
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::catalogue::{Effect, Position, Reach};
use crate::gpu::{GpuError, Renderer};
use crate::plan::{Path, Step};
use crate::show::chain::EffectUse;

/// Draws of all settings, beside the defaults and the ends of the ranges.
const DRAWS: usize = 4;
/// Beats at which an effect is tried.
const BEATS: [f64; 4] = [0.5, 2.37, 7.81, 64.03];
/// Settings and beats drawn at most until an idle state is met.
const IDLE_DRAWS: usize = 600;
/// Of each idle state, how many pairs of settings and beats are rendered.
const IDLE_SHOTS: usize = 4;
const TEMPO_BPM: f64 = 120.0;
/// The size of the demo, at which costs are told; and a part of it, to see whether that is safe.
const WHOLE: Frame = Frame { width: 1280, height: 720 };
/// What a whole picture may take, by what a part took, to be rendered and timed itself.
const WHOLE_BELOW_MS: f64 = 3000.0;
const PART: Frame = Frame { width: 160, height: 90 };

/// Puts one effect or generated source to the test.
///
/// # Errors
/// [`GpuError`] where the adapter fails.
pub fn tried(renderer: &mut Renderer, effect: &Arc<Effect>) -> Result<Outcome, GpuError> {
    let mut trial = Trial { renderer, effect, pictures: 0, lies: Vec::new(), unseen: Vec::new() };
    let cost_ms = match trial.cost()? {
        Ok(cost) => cost,
        Err(part_ms) => {
            let ms = part_ms * (WHOLE.texels() / PART.texels()) as f64;
            return Ok(Outcome::Stopped(format!(
                "{}:1:1: a picture of {WHOLE} would take about {:.0} s on {}; the most is {:.0} s: let it look at fewer texels, or lower the ranges of its settings",
                effect.origin,
                ms / 1000.0,
                trial.renderer.gpu().adapter().name,
                TOO_SLOW_MS / 1000.0
            )));
        }
    };
    for pixels in PixelMode::ALL {
        if effect.reach == Reach::Source {
            trial.source(pixels)?;
        } else {
            trial.effect(pixels)?;
            for nth in 0..effect.idle.len() {
                trial.idle(nth, pixels)?;
            }
        }
    }
    Ok(Outcome::Tried(trial.found(cost_ms)))
}

struct Trial<'a> {
    renderer: &'a mut Renderer,
    effect: &'a Arc<Effect>,
    pictures: usize,
    /// One for each claim that does not hold, with where it was seen.
    lies: Vec<(Claim, String)>,
    /// Idle states that were never met.
    unseen: Vec<Claim>,
}

impl Trial<'_> {
    fn found(self, cost_ms: [f64; 2]) -> Tried {
        let (mut confirmed, mut refuted) = (Vec::new(), Vec::new());
        for claim in Claim::all(self.effect) {
            let (line, claimed) = claim.of(self.effect);
            let place = format!("{}:{line}:1", self.effect.origin);
            // What is seen from further away looks like a matter of position too.
            let reaches_further = self.lies.iter().any(|(lie, _)| *lie == Claim::Reach);
            if claim == Claim::Position && reaches_further {
                continue;
            }
            if let Some((_, seen)) = self.lies.iter().find(|(lie, _)| *lie == claim) {
                refuted.push(format!("{place}: the header claims {claimed}, but {seen}"));
            } else if self.unseen.contains(&claim) {
                refuted.push(format!(
                    "{place}: the header claims {claimed}, but no settings were met at which that is so; remove it, or write the value that is meant"
                ));
            } else {
                confirmed.push(claimed);
            }
        }
        Tried {
            confirmed,
            refuted,
            pictures: self.pictures,
            cost_ms,
            adapter: self.renderer.gpu().adapter().to_string(),
        }
    }

    fn note(&mut self, lie: Option<Lie>, used: &EffectUse, moment: &Moment) {
        let Some(Lie { claim, seen }) = lie else { return };
        if self.lies.iter().all(|(known, _)| *known != claim) {
            self.lies.push((claim, format!("{seen} ({})", probes::taken_at(used, moment))));
        }
    }

    /// The last of these frames after the effect, or as it is.
    fn shot(
        &mut self,
        used: Option<&EffectUse>,
        frames: &[Picture],
        moment: Moment,
    ) -> Result<Picture, GpuError> {
        self.pictures += 1;
        let path = |picture: &Picture, moment: Moment, chain: &[EffectUse]| Path {
            moment,
            before: vec![Step::TakeIn { picture: Arc::new(picture.clone()), into: 0 }],
            input: 0,
            opaque: picture.opaque,
            chain: chain.to_vec(),
            after: Vec::new(),
            past: Arc::default(),
        };
        let Some((last, earlier)) = frames.split_last() else {
            return Err(GpuError::Defect("a trial without a picture"));
        };
        match used {
            // What remembers is played; the rest is applied also where it would be left out as idle.
            Some(used) if used.effect.remembers() => {
                let chain = std::slice::from_ref(used);
                let past = earlier.iter().zip((1..=earlier.len() as u64).rev());
                let past =
                    past.filter_map(|(picture, back)| Some(path(picture, moment.before(back)?, chain)));
                let path = Path { past: past.collect(), ..path(last, moment, chain) };
                self.renderer.picture(&path, &[0])
            }
            Some(used) => {
                let mut path = path(last, moment, &[]);
                path.before.push(Step::Apply { call: used.call(&moment), from: 0, into: 1 });
                path.input = 1;
                self.renderer.picture(&path, &[])
            }
            None => self.renderer.picture(&path(last, moment, &[]), &[]),
        }
    }

    /// Reach, channels, position and alpha.
    fn effect(&mut self, pixels: PixelMode) -> Result<(), GpuError> {
        let frame = probes::frame(self.effect);
        let mut draws = Draws::of(u64::from(frame.width));
        let settings = probes::settings(self.effect, DRAWS, &mut draws);
        for (nth, used) in settings.iter().enumerate() {
            let moment = Moment::at(frame, pixels, TEMPO_BPM, BEATS[nth % BEATS.len()]);
            let frames: Vec<Picture> = (0..3).map(|_| probes::scattered(frame, true, &mut draws)).collect();
            let result = self.shot(Some(used), &frames, moment)?;
            self.note(probes::holes(Claim::Alpha, &result), used, &moment);
            if self.effect.reach == Reach::Move {
                self.agrees_with_map(used, &frames[2], &result, moment)?;
                continue;
            }
            for channel in 0..3 {
                let at = (draws.below(frame.width), draws.below(frame.height));
                let mut changed = frames.clone();
                // What remembers sees a change of an earlier frame too.
                let which = if self.effect.remembers() { channel } else { 2 };
                changed[which] = probes::flipped(&frames[which], at, channel);
                let after = self.shot(Some(used), &changed, moment)?;
                self.note(probes::spread(self.effect, (at, channel), &result, &after), used, &moment);
            }
            if self.effect.position == Position::Ignored {
                let by = if nth % 2 == 0 { (5, 3) } else { (1, 1) };
                let moved: Vec<Picture> = frames.iter().map(|frame| probes::rolled(frame, by)).collect();
                let of_moved = self.shot(Some(used), &moved, moment)?;
                self.note(probes::moved(self.effect, by, &result, &of_moved), used, &moment);
            }
        }
        Ok(())
    }

    /// A move takes every texel from where its index map says.
    fn agrees_with_map(
        &mut self,
        used: &EffectUse,
        picture: &Picture,
        result: &Picture,
        moment: Moment,
    ) -> Result<(), GpuError> {
        let maps = self.renderer.index_maps(std::slice::from_ref(used), &moment)?;
        let Some(map) = maps.into_iter().next().flatten() else { return Ok(()) };
        let still = self.shot(None, std::slice::from_ref(picture), moment)?;
        let mut expected = still.clone();
        for channel in 0..3 {
            for (at, packed) in map.channels[channel].iter().enumerate() {
                let from = (packed >> 16) as usize * moment.frame.width as usize + (packed & 0xffff) as usize;
                let byte = still.rgba.get(from * 4 + channel).copied().unwrap_or_default();
                expected.rgba[at * 4 + channel] = byte;
            }
        }
        if let Some(at) = probes::first_difference(&expected, result) {
            let (wanted, seen) = (probes::texel(&expected, at), probes::texel(result, at));
            let seen =
                format!("the texel at {},{} is {seen:?}; where it is taken from is {wanted:?}", at.0, at.1);
            self.note(Some(Lie { claim: Claim::Reach, seen }), used, &moment);
        }
        Ok(())
    }

    /// Where the header says that nothing changes, nothing may.
    fn idle(&mut self, nth: usize, pixels: PixelMode) -> Result<(), GpuError> {
        let frame = probes::frame(self.effect);
        let mut draws = Draws::of(nth as u64 + 7);
        let idle = self.effect.idle[nth].clone();
        let place = self.effect.settings.iter().position(|setting| setting.name == idle.member);
        let mut shots = 0;
        for round in 0..IDLE_DRAWS {
            let drawn = probes::settings(self.effect, 1, &mut draws);
            let mut used = drawn[round % drawn.len()].clone();
            if let Some(place) = place {
                // A value that the setting cannot have is never met.
                let kind = &used.effect.settings[place].kind;
                let value = match kind {
                    crate::catalogue::Kind::Choice(words) if (idle.is as usize) < words.len() => {
                        Some(crate::catalogue::Value::Choice(idle.is as usize))
                    }
                    kind => kind.number(idle.is).ok(),
                };
                let Some(value) = value else { break };
                used.fix(place, value);
            }
            let moment =
                Moment::at(frame, pixels, TEMPO_BPM, BEATS[round % BEATS.len()] + round as f64 / 7.0);
            if !self.is_idle_throughout(&used, nth, &moment) {
                continue;
            }
            for opaque in [true, false] {
                let frames: Vec<Picture> =
                    (0..3).map(|_| probes::scattered(frame, opaque, &mut draws)).collect();
                let before = self.shot(None, &frames, moment)?;
                let after = self.shot(Some(&used), &frames, moment)?;
                if let Some(at) = probes::first_difference(&before, &after) {
                    let (old, new) = (probes::texel(&before, at), probes::texel(&after, at));
                    let seen = format!("the texel at {},{} went from {old:?} to {new:?}", at.0, at.1);
                    self.note(Some(Lie { claim: Claim::Idle(nth), seen }), &used, &moment);
                    return Ok(());
                }
            }
            shots += 1;
            if shots == IDLE_SHOTS {
                break;
            }
        }
        if shots == 0 && !self.unseen.contains(&Claim::Idle(nth)) {
            self.unseen.push(Claim::Idle(nth));
        }
        Ok(())
    }

    /// Whether the state named is met at this moment, and for what remembers at those before it too.
    fn is_idle_throughout(&self, used: &EffectUse, nth: usize, moment: &Moment) -> bool {
        let back = if self.effect.remembers() { 2 } else { 0 };
        (0..=back)
            .all(|back| moment.before(back).is_some_and(|moment| used.idle_states(&moment).contains(&nth)))
    }

    fn source(&mut self, pixels: PixelMode) -> Result<(), GpuError> {
        let mut draws = Draws::of(3);
        for (nth, used) in probes::settings(self.effect, DRAWS, &mut draws).iter().enumerate() {
            let frame = Frame { width: 64, height: 36 };
            let moment = Moment::at(frame, pixels, TEMPO_BPM, BEATS[nth % BEATS.len()]);
            let picture = self.painted(used, moment)?;
            if self.effect.opaque {
                self.note(probes::holes(Claim::Opaque, &picture), used, &moment);
            }
        }
        Ok(())
    }

    fn painted(&mut self, used: &EffectUse, moment: Moment) -> Result<Picture, GpuError> {
        self.pictures += 1;
        let path = Path {
            moment,
            before: vec![Step::Generate { call: used.call(&moment), into: 0 }],
            input: 0,
            opaque: false,
            chain: Vec::new(),
            after: Vec::new(),
            past: Arc::default(),
        };
        self.renderer.picture(&path, &[])
    }

    /// Milliseconds of a whole picture at the defaults and at the highest settings; of a part, where the whole
    /// would take too long.
    fn cost(&mut self) -> Result<Result<[f64; 2], f64>, GpuError> {
        let mut cost = [0.0; 2];
        let mut highest = EffectUse::new(Arc::clone(self.effect));
        for place in 0..self.effect.settings.len() {
            highest.fix(place, probes::highest(&self.effect.settings[place].kind));
        }
        let times = WHOLE.texels() as f64 / PART.texels() as f64;
        for (used, cost) in [EffectUse::new(Arc::clone(self.effect)), highest].iter().zip(&mut cost) {
            // The first of a small one compiles. Of two the faster counts: others use the machine too.
            self.timed(Some(used), Frame { width: 16, height: 9 })?;
            let mut part = self.timed(Some(used), PART)?;
            if part * times < 2.0 * TOO_SLOW_MS {
                part = part.min(self.timed(Some(used), PART)?);
            }
            *cost = part * times;
            if *cost > TOO_SLOW_MS {
                return Ok(Err(part));
            }
            if *cost < WHOLE_BELOW_MS {
                let still = self.timed(None, WHOLE)?;
                *cost = (self.timed(Some(used), WHOLE)? - still).max(0.0);
            }
        }
        Ok(Ok(cost))
    }

    fn timed(&mut self, used: Option<&EffectUse>, frame: Frame) -> Result<f64, GpuError> {
        let moment = Moment::at(frame, PixelMode::default(), TEMPO_BPM, BEATS[0]);
        let picture = Picture { frame, rgba: vec![128; frame.texels() as usize * 4], opaque: false };
        let began = Instant::now();
        match used {
            Some(used) if self.effect.reach == Reach::Source => self.painted(used, moment)?,
            used => self.shot(used, std::slice::from_ref(&picture), moment)?,
        };
        Ok(began.elapsed().as_secs_f64() * 1000.0)
    }
}
