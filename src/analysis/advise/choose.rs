//! Which parts, which sizes, in which order.
//!
//! Loss is the expected squared distance from the middle of the band in half widths, station by station, weighted by
//! time and importance, and more outside the band than in. The set of sizes with the least expected loss is sought
//! over all parts in stock, every changed part paying its way; the change made now is the one step toward it that
//! gains most and is safe at full throttle.

use super::bands::{Bands, chance_below};
use super::effects::{measure, same};
use super::learn::{Mind, Move};
use super::prior;
use crate::setup::{PartPath, PartSize, Regime};

/// What a changed part must gain, in units of the loss.
const COST: f64 = 0.05;
/// Nearer to the border of a band than this, in ln(lambda), no log tells inside from outside.
const BORDER: f64 = 0.005;
/// So sure that a regime is outside, before a part is taken back the way it came.
const SURELY: f64 = 0.9;
/// Bands narrower than this are held against this half width.
const LEAST_HALF: f64 = 0.012;
/// What doubt about the outcome costs against the distance itself: a change that comes out wide of its aim is put right after
/// the next log.
const DOUBT: f64 = 0.5;
/// A change that leans full throttle by less than this does not touch it.
const TOUCHES: f64 = 0.002;

/// What may be chosen from, and what it is held against.
pub(super) struct Chooser<'a> {
    mind: &'a Mind,
    bands: &'a Bands,
    /// Cells judged, with middle, half width and weight.
    judged: Vec<Judged>,
    /// Lean end of full throttle over its mean, in ln(lambda).
    lean_end: f64,
    /// Full-throttle readings may be acted on.
    full_throttle: bool,
    barred: Vec<PartPath>,
}

#[derive(Debug, Clone, Copy)]
struct Judged {
    cell: usize,
    middle: f64,
    low: f64,
    high: f64,
    weight: f64,
}

/// Why a change is not made.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Refusal {
    /// It would lean full throttle, and full throttle was not read, or not by a trusted sensor.
    FullThrottleUnknown,
    /// The chance of passing the lean limit.
    LeanLimit(f64),
    /// More than one jet step leaner at full throttle at once.
    TooFar,
}

/// The best that can be done.
#[derive(Debug, Clone, Default)]
pub(super) struct Choice {
    /// What to do now.
    pub(super) now: Option<Move>,
    /// Where each part should end; the first is the one changed now.
    pub(super) plan: Vec<Move>,
    /// What was wanted but is not safe.
    pub(super) refused: Vec<(Move, Refusal)>,
    /// Chance that the change brings its regimes nearer to their middle.
    pub(super) helps: f64,
    /// It takes the part back the way it came.
    pub(super) back: bool,
}

impl<'a> Chooser<'a> {
    /// For a mind, bands, the lean end of full throttle over its middle, whether full throttle may be acted on,
    /// and the parts that may not be touched.
    pub(super) fn new(
        mind: &'a Mind,
        bands: &'a Bands,
        lean_end: f64,
        full_throttle: bool,
        barred: Vec<PartPath>,
    ) -> Self {
        let seen: f64 = mind.cells.iter().map(|c| c.seconds).sum::<f64>().max(1.0);
        let mut judged = Vec::new();
        for regime in prior::JUDGED {
            let Some(aim) = bands.aim(regime) else { continue };
            if regime == Regime::FullThrottle && !full_throttle {
                continue;
            }
            let seconds: f64 = mind.cells.iter().filter(|c| c.regime == regime).map(|c| c.seconds).sum();
            if seconds <= 0.0 {
                continue;
            }
            let weight = prior::importance(regime) * (seconds / seen).sqrt().max(0.3);
            for (cell, share) in mind.weights(regime) {
                let weight = weight * share;
                judged.push(Judged { cell, middle: aim.middle(), low: aim.low, high: aim.high, weight });
            }
        }
        let sum: f64 = judged.iter().map(|j| j.weight).sum::<f64>().max(1e-12);
        for j in &mut judged {
            j.weight /= sum;
        }
        Self { mind, bands, judged, lean_end, full_throttle, barred }
    }

    /// Expected loss after some moves.
    pub(super) fn loss(&self, moves: &[Move]) -> f64 {
        self.judged.iter().map(|j| j.weight * self.loss_at(j, moves)).sum()
    }

    fn loss_at(&self, j: &Judged, moves: &[Move]) -> f64 {
        let (mean, variance) = self.mind.of(&self.mind.after(j.cell, moves));
        let half = (0.5 * (j.high - j.low)).max(LEAST_HALF);
        let (z, v) = ((mean - j.middle) / half, variance / (half * half));
        let sd = variance.sqrt();
        let lean = 1.0 - chance_below(mean, sd, j.middle + half);
        let rich = chance_below(mean, sd, j.middle - half);
        z * z + DOUBT * v + 1.5 * lean + rich
    }

    /// Regimes whose mean lies outside their band.
    pub(super) fn outside(&self) -> Vec<Regime> {
        let outside = |r: &Regime| {
            let aim = self.bands.aim(*r)?;
            let (mean, _) = self.mind.of(&self.mind.regime_after(*r, &[])?);
            Some(!aim.holds(mean))
        };
        let judged = |r: &Regime| self.judged.iter().any(|j| self.mind.cells[j.cell].regime == *r);
        prior::JUDGED.into_iter().filter(judged).filter(|r| outside(r) == Some(true)).collect()
    }

    /// Some regime lies outside its band by more than the noise of the logs could make of one that does not.
    pub(super) fn surely_outside(&self) -> bool {
        let sure = |r: Regime| {
            let (aim, what) = (self.bands.aim(r)?, self.mind.regime_after(r, &[])?);
            let (mean, variance) = self.mind.of(&what);
            let sd = variance.sqrt();
            let lean = 1.0 - chance_below(mean, sd, aim.high + BORDER);
            let rich = chance_below(mean, sd, aim.low - BORDER);
            Some(lean.max(rich) > SURELY)
        };
        self.outside().into_iter().any(|r| sure(r) == Some(true))
    }

    /// Why some moves may not be made in one go; `None` when they may.
    pub(super) fn refusal(&self, moves: &[Move]) -> Option<Refusal> {
        let full: Vec<usize> = (0..self.mind.cells.len())
            .filter(|c| self.mind.cells[*c].regime == Regime::FullThrottle)
            .collect();
        let steps_over = moves.iter().any(|(p, size)| {
            self.mind.parts[*p].steps_to(*size) > self.bands.steps.max(1)
                && self.leans_somewhere(&full, (*p, *size))
        });
        if full.is_empty() || !self.full_throttle {
            return moves
                .iter()
                .any(|m| self.leans_somewhere(&full, *m))
                .then_some(Refusal::FullThrottleUnknown);
        }
        let limit = self.bands.limits.stop_lean.as_ratio().ln();
        let mut worst: f64 = 0.0;
        let mut leans = false;
        for cell in &full {
            let (before, _) = self.mind.of(&self.mind.after(*cell, &[]));
            let (mean, variance) = self.mind.of(&self.mind.after(*cell, moves));
            leans |= mean > before + TOUCHES;
            worst = worst.max(1.0 - chance_below(mean + self.lean_end, variance.sqrt(), limit));
        }
        match () {
            () if leans && worst > self.bands.chance => Some(Refusal::LeanLimit(worst)),
            () if leans && steps_over => Some(Refusal::TooFar),
            () => None,
        }
    }

    /// Whether a move is expected to lean full throttle; judged by the heaviest cells when none was logged.
    fn leans_somewhere(&self, full: &[usize], m: Move) -> bool {
        let leans = |cell: &usize| self.mind.of(&self.mind.effect(*cell, m.0, m.1)).0 > TOUCHES;
        if !full.is_empty() {
            return full.iter().any(leans);
        }
        match self.mind.parts[m.0].path {
            // These have no say at full throttle; what the model says of lighter cells does not matter here.
            PartPath::IdleFeed
            | PartPath::IdleAirBleed
            | PartPath::IdleScrew(_)
            | PartPath::EnrichmentOpening => false,
            PartPath::MainAirBleed(_) => self.mind.parts[m.0].ln_area(m.1) > 0.0,
            _ => self.mind.parts[m.0].ln_area(m.1) < 0.0,
        }
    }

    /// Whether a size takes a part back the way it came.
    fn goes_back(&self, p: usize, size: PartSize) -> bool {
        (measure(size) - measure(self.mind.parts[p].fitted)) * self.mind.past(p).last < 0.0
    }

    /// A full-throttle station is more likely past its lean limit than may be: whatever is richer there may be done.
    fn too_lean(&self) -> bool {
        let limit = self.bands.limits.stop_lean.as_ratio().ln();
        let full = (0..self.mind.cells.len()).filter(|c| self.mind.cells[*c].regime == Regime::FullThrottle);
        full.into_iter().any(|cell| {
            let (mean, variance) = self.mind.of(&self.mind.after(cell, &[]));
            1.0 - chance_below(mean + self.lean_end, variance.sqrt(), limit) > self.bands.chance
        })
    }

    /// Sizes of a part worth considering. A valve is only ever exchanged for one that opens later: where it should open
    /// follows from idle and cruise vacuum, and it is no means of enriching what the jet should.
    fn sizes(&self, p: usize) -> impl Iterator<Item = PartSize> + '_ {
        let part = &self.mind.parts[p];
        // A part that was turned back once is not turned again: that would be hunting.
        let settled = self.mind.past(p).turned && !self.too_lean();
        let open = part.stock.iter().copied().filter(move |s| !(settled && self.goes_back(p, *s)));
        open.filter(move |s| match s {
            PartSize::Opening(v) => v.as_pa() < measure(part.fitted) && part.steps_to(*s) <= 2,
            _ => part.ln_area(*s).abs() < 0.45,
        })
    }

    fn open_parts(&self) -> Vec<usize> {
        (0..self.mind.parts.len()).filter(|p| !self.barred.contains(&self.mind.parts[*p].path)).collect()
    }

    /// The set of moves with the least loss and cost.
    pub(super) fn best_set(&self) -> Vec<Move> {
        let mut best: Vec<Move> = Vec::new();
        let mut least = self.loss(&best);
        for _ in 0..12 {
            let before = least;
            for p in self.open_parts() {
                let others: Vec<Move> = best.iter().copied().filter(|(q, _)| *q != p).collect();
                let options = std::iter::once(None).chain(self.sizes(p).map(Some));
                for option in options {
                    let mut trial = others.clone();
                    trial.extend(option.map(|s| (p, s)));
                    let loss = self.loss(&trial) + COST * trial.len() as f64;
                    if loss < least - 1e-9 {
                        (best, least) = (trial, loss);
                    }
                }
            }
            if least >= before - 1e-9 && !self.improve_by_pair(&mut best, &mut least) {
                break;
            }
        }
        best
    }

    /// Two parts at once, for what neither can do alone: a smaller jet and a larger channel.
    fn improve_by_pair(&self, best: &mut Vec<Move>, least: &mut f64) -> bool {
        let parts = self.open_parts();
        let mut improved = false;
        for (i, p) in parts.iter().enumerate() {
            for q in &parts[i + 1..] {
                let others: Vec<Move> = best.iter().copied().filter(|(r, _)| r != p && r != q).collect();
                for a in self.sizes(*p).filter(|s| self.mind.parts[*p].steps_to(*s) <= 4) {
                    for b in self.sizes(*q).filter(|s| self.mind.parts[*q].steps_to(*s) <= 4) {
                        let mut trial = others.clone();
                        trial.extend([(*p, a), (*q, b)]);
                        let loss = self.loss(&trial) + COST * trial.len() as f64;
                        if loss < *least - 1e-9 {
                            (*best, *least, improved) = (trial, loss, true);
                        }
                    }
                }
            }
        }
        improved
    }

    /// What to do now on the way to a set of moves.
    pub(super) fn choose(&self) -> Choice {
        let set = self.best_set();
        let base = self.loss(&[]);
        let mut choice = Choice::default();
        let mut options: Vec<(f64, Move)> = Vec::new();
        for (p, size) in &set {
            match self.as_far_as_safe(*p, *size) {
                Ok(safe) => options.push((base - self.loss(&[(*p, safe)]), (*p, safe))),
                Err(why) => choice.refused.push(((*p, *size), why)),
            }
        }
        // With several to do, one that gains nothing alone may still open the way: a richer one goes first.
        options.sort_by(|a, b| b.0.total_cmp(&a.0));
        let enough = |gain: f64| gain > if set.len() > 1 { -0.5 } else { COST };
        if let Some((_, now)) = options.first().filter(|(gain, _)| enough(*gain)) {
            choice.now = Some(*now);
            choice.helps = self.chance_it_helps(*now);
            choice.back = self.goes_back(now.0, now.1) && !self.too_lean();
            choice.plan.push(*now);
            if !set.iter().any(|(p, s)| *p == now.0 && same(*s, now.1)) {
                choice.plan.extend(set.iter().filter(|(p, _)| *p == now.0));
            }
            choice.plan.extend(options.iter().skip(1).map(|(_, m)| *m));
        }
        choice
    }

    /// The size nearest to the wanted one, on the way to it, that may be fitted in one go.
    fn as_far_as_safe(&self, p: usize, wanted: PartSize) -> Result<PartSize, Refusal> {
        let Some(why) = self.refusal(&[(p, wanted)]) else { return Ok(wanted) };
        let part = &self.mind.parts[p];
        let (from, to) = (measure(part.fitted), measure(wanted));
        let between = |s: &PartSize| (measure(*s) - from) * (to - measure(*s)) > 0.0;
        let mut on_the_way: Vec<PartSize> = part.stock.iter().copied().filter(between).collect();
        on_the_way.sort_by(|a, b| (measure(*b) - from).abs().total_cmp(&(measure(*a) - from).abs()));
        let safe = |s: &PartSize| self.refusal(&[(p, *s)]).is_none();
        on_the_way.into_iter().find(safe).ok_or(why)
    }

    /// Chance that a move brings the cells it moves nearer to their middle than they are.
    pub(super) fn chance_it_helps(&self, m: Move) -> f64 {
        let mut sum = super::belief::Linear::default();
        let mut moved = 0.0;
        for j in &self.judged {
            let effect = self.mind.effect(j.cell, m.0, m.1);
            let (by, _) = self.mind.of(&effect);
            let weight = j.weight * by;
            let mut halfway = self.mind.after(j.cell, &[]);
            halfway.add(&effect, 0.5);
            halfway.constant -= j.middle;
            sum.add(&halfway, weight);
            moved += weight.abs();
        }
        if moved <= 0.0 {
            return 0.5;
        }
        // Nearer, when halfway between before and after still lies on the side it comes from.
        let (mean, variance) = self.mind.of(&sum);
        chance_below(mean, variance.sqrt(), 0.0)
    }
}
