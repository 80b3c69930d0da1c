//! One possible engine: how far the vacuum falls below its top with the screws anywhere.

use super::prior::{MAX, MOST_TRIMS, Prior, SHAPES};
use crate::numeric::alike::{exp, pow};

/// Share of a fall that a fitted curve may miss; the same of a lean fall beyond its first part, and that part, inHg.
const CURVE_MISSES: f64 = 0.12;
const MISFIRE_MISSES: f64 = 0.35;
const MISFIRE_FROM: f64 = 0.25;
/// Turns by which a curve may stand beside the engine's.
const ASIDE: f64 = 0.01;

/// Turns out of each screw; unused places are zero.
pub(super) type Setting = [f64; MAX];

/// A response the engine might have. Falls are in inches of mercury.
#[derive(Debug, Clone, Copy)]
pub(super) struct Engine {
    n: usize,
    sign: f64,
    /// Each screw's own top, turns out.
    pub top: Setting,
    /// How much further out the tops stood so many idle trims ago.
    before: [f64; MOST_TRIMS + 1],
    /// How much each screw meters in a turn, 1 in the middle; 0 for a screw that does nothing.
    pub gain: Setting,
    rich: f64,
    lean: f64,
    flat: f64,
    bend: f64,
    /// One over the distance of the cliff.
    per_cliff: f64,
    per_turn: f64,
    shared: f64,
    /// Speed gained with an inch of mercury, rpm.
    pub rpm_per_inhg: f64,
}

impl Engine {
    /// The engine that standard normal deviates `z` stand for, with the screws in `dead` doing nothing.
    pub(super) fn from_deviates(prior: &Prior, z: &[f64], dead: u16) -> Self {
        let n = prior.n;
        let spread = |(centre, log): (f64, f64), z: f64| centre * exp(log * z);
        let mean = prior.top.0 + prior.top.1 * z[0];
        let (mut top, mut gain) = ([0.0; MAX], [0.0; MAX]);
        for i in 0..n {
            let own = z[1 + i];
            top[i] = mean + prior.own[i] + prior.apart * own * (1.0 + prior.odd * own * own);
            let out = pow(mean.clamp(0.4, 4.0) / top[i].clamp(0.3, 4.0), prior.gain_by_top);
            gain[i] = if dead >> i & 1 == 1 { 0.0 } else { out * exp(prior.gain * z[1 + n + i]) };
        }
        // A screw that must stand further out gives less for each turn.
        let per_turn = pow(prior.top.0 / mean.clamp(0.4, 4.0), 0.8);
        let (shape, trims) = z[1 + 2 * n..].split_at(SHAPES);
        let mut before = [0.0; MOST_TRIMS + 1];
        for (age, (z, spread)) in trims.iter().zip(&prior.trims).enumerate() {
            before[age + 1] = before[age] + spread * z;
        }
        let bend = spread(prior.bend, shape[3]);
        let rich = spread(prior.slope, shape[0]) / bend;
        Self {
            n,
            sign: prior.sign,
            top,
            before,
            gain,
            rich,
            lean: rich * spread(prior.lean_ratio, shape[1]),
            flat: spread(prior.flat, shape[2]),
            bend,
            shared: 1.0 / (1.0 + exp(-(prior.shared.0 + prior.shared.1 * shape[4]))),
            per_turn,
            per_cliff: 1.0 / spread(prior.cliff, shape[6]),
            rpm_per_inhg: spread(prior.rpm_per_inhg, shape[5]),
        }
    }

    /// The setting that would do now what this one did `age` idle trims ago.
    pub(super) fn as_now(&self, at: &Setting, age: usize) -> Setting {
        let moved = self.before[age.min(MOST_TRIMS)];
        core::array::from_fn(|i| at[i] - moved)
    }

    /// Fall of the vacuum below its top at a setting, `age` idle trims ago, inHg.
    pub(super) fn fall_then(&self, at: &Setting, age: usize) -> f64 {
        self.fall(&self.as_now(at, age))
    }

    /// Fall of the vacuum below its top at a setting, inHg; zero at the top, positive elsewhere.
    pub(super) fn fall(&self, at: &Setting) -> f64 {
        let (off, common) = self.off(at);
        let own = 1.0 - self.shared;
        off[..self.n].iter().map(|x| self.side(own * x + common)).sum()
    }

    /// How many turns rich of its own top each screw stands, and what all cylinders have of that in common.
    #[inline]
    fn off(&self, at: &Setting) -> (Setting, f64) {
        let mut off = [0.0; MAX];
        let mut sum = 0.0;
        for i in 0..self.n {
            off[i] = self.sign * self.gain[i] * (at[i] - self.top[i]);
            sum += off[i];
        }
        (off, self.shared * sum / self.n as f64)
    }

    /// Fall of one screw's cylinders at `x` turns rich of their top: flat at the top, a parabola beyond, straight far
    /// out on the rich side, and on the lean side a parabola until the misfire, where it falls off a cliff.
    fn side(&self, x: f64) -> f64 {
        let far = x.abs() * self.per_turn;
        let beyond = far * far / (far + self.flat);
        if x >= 0.0 {
            self.rich * beyond * beyond / (1.0 + beyond / self.bend)
        } else {
            let toward = beyond * self.per_cliff;
            self.lean * beyond * beyond * (1.0 + toward * toward * toward)
        }
    }

    /// How far the reading at a setting may lie from this curve, inHg: a share of the fall, and of a lean fall much
    /// more beyond its first part, because where misfire begins no curve holds.
    pub(super) fn doubt(&self, at: &Setting) -> f64 {
        self.doubt_aside(at, ASIDE)
    }

    /// The same of a reading so many idle trims ago, before which the tops stood elsewhere, each a little its own way.
    pub(super) fn doubt_then(&self, at: &Setting, age: usize, prior: &Prior) -> f64 {
        let moved = prior.trims.iter().take(age).map(|by| by * by).sum::<f64>().sqrt();
        self.doubt_aside(&self.as_now(at, age), ASIDE.hypot(prior.own_way * moved))
    }

    fn doubt_aside(&self, at: &Setting, by: f64) -> f64 {
        self.falls_by_screw(at)
            .map(|(x, fall)| {
                let misfiring = if x < 0.0 { MISFIRE_MISSES * (fall - MISFIRE_FROM).max(0.0) } else { 0.0 };
                // As far off as if the screw stood a little elsewhere: most where the curve is steep.
                let aside = if x < 0.0 { x - by } else { x + by };
                CURVE_MISSES * fall + misfiring + self.beside(x, aside, fall)
            })
            .sum()
    }

    /// How much more is lost at `aside` than at `x`, where `fall` is.
    fn beside(&self, x: f64, aside: f64, fall: f64) -> f64 {
        let here = self.side(x);
        if here <= 1e-9 { 0.0 } else { (fall * (self.side(aside) / here - 1.0)).min(fall) }
    }

    /// Each screw's cylinders: turns rich of their top, and their fall. A screw that does nothing leaves its
    /// cylinders what they had, but for what the others share.
    fn falls_by_screw(&self, at: &Setting) -> impl Iterator<Item = (f64, f64)> {
        let (off, common) = self.off(at);
        (0..self.n).map(move |i| {
            let x = (1.0 - self.shared) * off[i] + common;
            (x, self.side(x))
        })
    }

    /// How sharply the vacuum bends at the top with each pair of screws, inHg a turn squared.
    pub(super) fn bends(&self) -> [Setting; MAX] {
        let n = self.n;
        let sharp = (self.rich + self.lean) * self.per_turn.powi(2);
        let (own, share) = (1.0 - self.shared, self.shared / n as f64);
        let mut bends = [[0.0; MAX]; MAX];
        for (i, row) in bends.iter_mut().enumerate().take(n) {
            for (j, cell) in row.iter_mut().enumerate().take(n) {
                let both =
                    2.0 * own * share + n as f64 * share * share + if i == j { own * own } else { 0.0 };
                *cell = sharp * self.gain[i] * self.gain[j] * both;
            }
        }
        bends
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::balance::Spec;
    use approx::assert_relative_eq;

    fn prior(trims: &[f64]) -> Prior {
        Prior::of(&Spec::plain(1.5, 2), trims)
    }

    #[test]
    fn a_trim_moves_the_tops_of_what_was_read_before_it_and_of_nothing_after() {
        let prior = prior(&[50.0, 100.0]);
        let mut z = vec![0.0; prior.unknowns()];
        let last = z.len() - 1;
        // The last trim moved them by a spread, the one before by half of one: 0.2 and 0.05 turns.
        (z[last - 1], z[last]) = (1.0, 0.5);
        let engine = Engine::from_deviates(&prior, &z, 0);
        for (age, moved) in [(0, 0.0), (1, 0.2), (2, 0.25)] {
            let then = |off: f64| engine.fall_then(&engine.top.map(|t| t + moved + off), age);
            assert_relative_eq!(then(0.0), 0.0, epsilon = 1e-9);
            assert_relative_eq!(then(0.5), engine.fall(&engine.top.map(|t| t + 0.5)), epsilon = 1e-9);
        }
    }

    #[test]
    fn older_readings_are_believed_less() {
        let prior = prior(&[50.0, 100.0]);
        let engine = Engine::from_deviates(&prior, &vec![0.0; prior.unknowns()], 0);
        let rich = engine.top.map(|t| t + 0.4);
        let doubts = [0, 1, 2].map(|age| engine.doubt_then(&rich, age, &prior));
        assert_relative_eq!(doubts[0], engine.doubt(&rich));
        assert!(doubts[0] < doubts[1] && doubts[1] < doubts[2], "{doubts:?}");
    }
}
