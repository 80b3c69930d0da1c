//! What the trade knows before the first reading: where the tops of screws usually are, how tall and how steep the
//! response is, how well gauges are read.
//!
//! Every figure is common practice unless a source is named. They are deliberately wide: the engine overrules them.

use super::types::{Before, Spec};
use crate::numeric::alike::ln;

/// Most screws the search handles.
pub(super) const MAX: usize = 8;
/// Unknowns of the curve that all screws have in common.
pub(super) const SHAPES: usize = 7;
/// Trims that the tops are followed through; what is older counts with the last of them.
pub(super) const MOST_TRIMS: usize = 7;

/// How far a trim of the idle speed moves all tops, turns for each rpm taken off: another throttle opening, another slot
/// uncovered, another flow past the plate. The trade sets the speed, the mixture, and both once more
/// (common practice); how far is a working value without a source, of the size that the virtual engine shows.
const TRIM_MOVES: f64 = 0.1 / 50.0;

/// How far a part that acts on the idle mixture moves the tops together, and how far it moves one against another, turns.
/// Soft: the change of one size of a bleed or restriction is worth an eighth to half a turn.
const PART_MOVES: f64 = 0.3;
const PART_PARTS: f64 = 0.05;
/// Nearer its seat no top is expected, turns.
const LOWEST: f64 = 0.4;

/// The tops an earlier search found, as a start.
struct KnownTops {
    shared: (f64, f64),
    own: [f64; MAX],
    apart: f64,
}

impl KnownTops {
    /// `None` where it does not tell of these screws.
    fn of(before: &Before, n: usize) -> Option<Self> {
        if before.tops.len() < n || before.unsure.len() < n {
            return None;
        }
        let mean = before.tops.iter().take(n).map(|t| t.as_turns()).sum::<f64>() / n as f64;
        let unsure = before.unsure.iter().take(n).map(|u| u.as_turns().powi(2)).sum::<f64>() / n as f64;
        let mut own = [0.0; MAX];
        for (own, top) in own.iter_mut().zip(&before.tops).take(n) {
            *own = top.as_turns() - mean;
        }
        (mean.is_finite() && unsure.is_finite()).then(|| Self {
            shared: (mean.max(LOWEST), PART_MOVES.hypot(unsure.sqrt())),
            own,
            apart: PART_PARTS.hypot(unsure.sqrt()).min(0.2),
        })
    }
}

/// Beliefs before the first reading. Centres and spreads in turns, inches of mercury and revolutions a minute.
#[derive(Debug, Clone)]
pub(super) struct Prior {
    /// Number of screws.
    pub n: usize,
    /// +1 where turning out enriches, -1 where the screws meter air.
    pub sign: f64,
    /// Shared top, turns out: centre and spread.
    pub top: (f64, f64),
    /// How far each screw's own top is thought to lie from the shared one, turns.
    pub own: [f64; MAX],
    /// Own deviation of each screw beyond that, turns. Screws of one pair end within a quarter turn of each other, across a
    /// four-corner carburetor within a half.
    pub apart: f64,
    /// How much longer than a normal's the tails of that are: now and then one corner is far from its neighbours.
    pub odd: f64,
    /// Needle and tachometer sway together, so that reading both tells less than two readings would: each is given so
    /// many times its spread.
    pub together: f64,
    /// Chance of ending more than the tolerance below the top at which the search rests: with four screws the curve
    /// is less like the engine, and with a shaking needle the noise less like a normal: the chance is taken lower for it.
    pub rest_off: f64,
    /// Spread of ln(what a turn meters) between screws.
    pub gain: f64,
    /// A screw whose own top is further out than the others' gives less for each turn, because its needle opens from the
    /// seat: the power of that. Two screws end too near each other for it to matter.
    pub gain_by_top: f64,
    /// Fall far out on the rich side, inHg a turn for each screw: centre and spread of the logarithm.
    pub slope: (f64, f64),
    /// Lean fall over rich fall: centre and spread of the logarithm.
    pub lean_ratio: (f64, f64),
    /// Half width of the flat top, turns: centre and spread of the logarithm.
    pub flat: (f64, f64),
    /// Distance over which the rich side straightens, turns: centre and spread of the logarithm.
    pub bend: (f64, f64),
    /// Distance on the lean side at which misfire has doubled the fall, turns: centre and spread of the logarithm.
    pub cliff: (f64, f64),
    /// Share of each screw's fuel that reaches the others' cylinders: centre and spread of the logit.
    pub shared: (f64, f64),
    /// Speed gained with an inch of mercury, rpm: centre and spread of the logarithm.
    pub rpm_per_inhg: (f64, f64),
    /// Spread of one reading of the vacuum gauge, inHg.
    pub vacuum_noise: f64,
    /// Spread of one reading of the tachometer, rpm.
    pub speed_noise: f64,
    /// Chance that a given screw does nothing.
    pub dead: f64,
    /// How far each of the last idle trims, the last one first, may have moved the tops, turns.
    pub trims: Vec<f64>,
    /// How much of that each screw may have gone its own way (a working value without a source): a leak or a throttle plate is nearer to one than to another.
    pub own_way: f64,
}

impl Prior {
    /// The trade's beliefs for this job, and after trims that took so many rpm off.
    pub(super) fn of(spec: &Spec, trims: &[f64]) -> Self {
        let n = spec.screws.turns_out.len().clamp(1, MAX);
        // One and a half turns is the usual start with one or two screws (usable from 3/4 to 2 1/2), one turn with
        // four (usable from 1/2 to 1 3/4).
        let top = if n <= 2 { (1.5, 0.5) } else { (1.1, 0.38) };
        let before = spec.before.as_ref().and_then(|before| KnownTops::of(before, n));
        // Well off the top an eighth of a turn moves the needle 0.4 to 0.8 inHg with two screws, and about half as far
        // with four, which share the fuel.
        let slope = match n {
            1 => 4.0,
            2 => 2.8,
            3 => 2.4,
            _ => 2.1,
        };
        let mark = spec.gauge_mark.as_inhg().abs().max(0.01);
        let beat: f64 = if spec.lopey { 0.15 } else { 0.07 };
        let shake: f64 = if spec.lopey { 12.0 } else { 5.0 };
        let step = spec.speed_step.as_rpm().abs();
        // Two barrels mostly feed a divided manifold, four an open one, where a lean corner is soon a misfiring one.
        let few = n <= 2;
        Self {
            n,
            sign: if spec.screws.meter_air { -1.0 } else { 1.0 },
            top: before.as_ref().map_or(top, |b| b.shared),
            own: before.as_ref().map_or([0.0; MAX], |b| b.own),
            apart: match (n, &before) {
                (1, _) => 1e-3,
                (_, Some(before)) => before.apart,
                (2, None) => 0.2,
                (_, None) => 0.24,
            },
            odd: if few { 0.12 } else { 0.2 },
            together: if few { 1.0 } else { 1.2 },
            rest_off: match (few, spec.lopey) {
                (true, false) => 0.04,
                (true, true) => 0.025,
                (false, _) => 0.02,
            },
            gain: if n == 1 { 1e-3 } else { 0.18 },
            gain_by_top: if few { 0.0 } else { 0.8 },
            slope: (slope, if few { 0.7 } else { 0.6 }),
            lean_ratio: (2.1, 0.5),
            flat: (0.05, 0.5),
            bend: if few { (1.0, 0.6) } else { (0.85, 0.75) },
            cliff: if few { (0.9, 0.6) } else { (0.5, 0.8) },
            shared: match n {
                1 => (-9.0, 0.8),
                2 => (-1.4, 0.8),
                _ => (-0.5, 0.9),
            },
            rpm_per_inhg: (42.0, 0.4),
            vacuum_noise: beat.hypot(0.25 * mark),
            speed_noise: shake.hypot(0.4 * step),
            dead: 0.03,
            own_way: 0.7,
            trims: trims.iter().rev().take(MOST_TRIMS).map(|by| TRIM_MOVES * by.max(25.0)).collect(),
        }
    }

    /// Logarithm of the chance that just these screws do nothing.
    pub(super) fn ln_chance(&self, dead: u16) -> f64 {
        match dead.count_ones() {
            0 => 0.0,
            all if all as usize == self.n => ln(0.01),
            some => f64::from(some) * ln(self.dead),
        }
    }

    /// Number of unknowns of the response.
    pub(super) fn unknowns(&self) -> usize {
        1 + 2 * self.n + SHAPES + self.trims.len()
    }
}
