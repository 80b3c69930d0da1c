//! The response as the readings tell it, one screw at a time: for pictures, not for deciding.
//!
//! Each screw's curve is drawn with the others where they now stand and at the idle speed and warmth of the last
//! reading; every reading is brought to the same footing, keeping what it missed the curve by.

use super::cloud::Possible;
use super::engine::Setting;
use super::merged::Carried;
use super::past::{Past, Seen};
use super::posterior::{Posterior, learn};
use super::prior::{MAX, Prior};
use super::types::{Observation, Spec};
use crate::units::{PressureDifference, Turns, Vacuum};

/// Points on a curve.
const POINTS: usize = 41;

/// A point on the fitted curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapePoint {
    /// Turns out of the screw.
    pub turns: Turns,
    /// Vacuum expected there.
    pub vacuum: Vacuum,
    /// One standard deviation of that.
    pub unsure: PressureDifference,
}

/// One screw's response.
#[derive(Debug, Clone, PartialEq)]
pub struct ScrewShape {
    /// Which, from one.
    pub screw: u8,
    /// Where it stands.
    pub stands: Turns,
    /// The fitted curve, from the least to the most turns read, with some room.
    pub curve: Vec<ShapePoint>,
    /// The readings, brought to the footing of the curve.
    pub readings: Vec<(Turns, Vacuum)>,
}

/// The response of every screw that was moved and is thought to do something; nothing before the third reading.
pub fn shapes(spec: &Spec, history: &[Observation]) -> Vec<ScrewShape> {
    let past = Past::of(spec, history);
    let prior = Prior::of(spec, &past.trims);
    if past.seen.len() < 3 || past.no_reading {
        return Vec::new();
    }
    let Some(posterior) = learn(&prior, &past) else { return Vec::new() };
    let drawn = Drawn { past: &past, posterior: &posterior, range: spec.screws.range.as_turns() };
    (0..prior.n.min(MAX)).filter_map(|i| drawn.screw(i)).collect()
}

struct Drawn<'a> {
    past: &'a Past,
    posterior: &'a Posterior,
    range: f64,
}

impl Drawn<'_> {
    fn screw(&self, i: usize) -> Option<ScrewShape> {
        let last = self.past.seen.last()?;
        let turns = self.past.seen.iter().map(|s| s.at[i]).chain([self.past.stands[i]]);
        let (low, high) = turns.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), t| (l.min(t), h.max(t)));
        if high - low < 0.1 {
            return None;
        }
        let (low, high) = ((low - 0.125).max(0.0), (high + 0.125).min(self.range));
        let with = |turns: f64| {
            let mut at = self.past.stands;
            at[i] = turns;
            at
        };
        let point = |k: usize| {
            let turns = low + (high - low) * k as f64 / (POINTS - 1) as f64;
            let (vacuum, unsure) = self.expected(last, &with(turns));
            ShapePoint {
                turns: Turns::from_turns(turns),
                vacuum: Vacuum::from_inhg(vacuum),
                unsure: PressureDifference::from_inhg(unsure),
            }
        };
        let reading = |seen: &Seen| {
            let missed = seen.vacuum - self.expected(seen, &seen.at).0;
            let there = self.expected(last, &with(seen.at[i])).0 + missed;
            (Turns::from_turns(seen.at[i]), Vacuum::from_inhg(there))
        };
        Some(ScrewShape {
            screw: (i + 1) as u8,
            stands: Turns::from_turns(self.past.stands[i]),
            curve: (0..POINTS).map(point).collect(),
            readings: self.past.seen.iter().map(reading).collect(),
        })
    }

    /// Vacuum at a setting under the conditions of a reading, and one standard deviation of it.
    fn expected(&self, when: &Seen, at: &Setting) -> (f64, f64) {
        let p = self.posterior;
        let carried = Carried::to(&p.vacuum, when);
        let of = |m: &Possible| carried.height(m) - m.engine.fall_then(at, when.age);
        let mean: f64 = p.cloud.iter().map(|m| m.weight * of(m)).sum();
        let spread: f64 = p.cloud.iter().map(|m| m.weight * (of(m) - mean).powi(2)).sum();
        (mean + p.vacuum.origin, (spread + carried.left).max(0.0).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::balance::Reading;

    fn read(inhg: f64) -> Observation {
        Observation::Read(Reading {
            vacuum: Vacuum::from_inhg(inhg),
            speed: None,
            lambda: None,
            coolant: None,
        })
    }

    fn turn(by: f64) -> Observation {
        Observation::Turned { screws: vec![1, 2], by: Turns::from_turns(by) }
    }

    #[test]
    fn the_curve_goes_through_the_readings_and_its_top_is_where_they_are_highest() {
        let falls = |t: f64| 15.0 - 2.0 * (t - 1.75f64).powi(2);
        let mut history = vec![read(falls(1.0))];
        let mut at = 1.0;
        for by in [0.375, 0.375, 0.375, 0.375, -0.25] {
            at += by;
            history.extend([turn(by), read(falls(at))]);
        }
        let shapes = shapes(&Spec::plain(1.0, 2), &history);
        assert_eq!(shapes.len(), 2);
        for shape in &shapes {
            assert_eq!(shape.readings.len(), 6);
            assert!(shape.curve.windows(2).all(|w| w[0].turns < w[1].turns));
            for (turns, vacuum) in &shape.readings {
                let near = shape
                    .curve
                    .iter()
                    .min_by(|a, b| (a.turns - *turns).abs().total_cmp(&(b.turns - *turns).abs()))
                    .unwrap();
                assert!(
                    (near.vacuum.as_inhg() - vacuum.as_inhg()).abs() < 0.5,
                    "{turns:?} {vacuum:?} {near:?}"
                );
            }
        }
    }

    #[test]
    fn two_readings_draw_no_curve() {
        assert!(shapes(&Spec::plain(1.0, 2), &[read(14.0), turn(0.25), read(14.5)]).is_empty());
    }
}
