//! Readings of one setting stand together as one: what they say of the height there, and how surely.
//!
//! With readings `v`, of settings told by `S`, of covariance `K`, an engine that falls by `f` at the settings costs
//! `(v + S f)' K^-1 (v + S f)`. But for what no engine changes, that is `(u + f)' A (u + f)` with `A = S' K^-1 S` and
//! `A u = S' K^-1 v`: exactly the same, with as many numbers as settings instead of readings (generalised least
//! squares: Aitken 1935). A long search reads few new settings.

use super::cloud::Possible;
use super::lower::{Lower, dot};
use super::noise::Channel;
use super::past::Seen;
use nalgebra::DMatrix;

/// A channel, one number a setting.
#[derive(Debug)]
pub(super) struct Merged {
    /// The settings it was read at, as places among all settings.
    pub places: Vec<usize>,
    /// Height there, above the channel's origin.
    pub values: Vec<f64>,
    certain: Lower,
}

impl Merged {
    /// `None` when the covariance cannot be factored.
    pub(super) fn of(channel: &Channel) -> Option<Self> {
        let mut places: Vec<usize> = channel.seen.iter().map(|s| s.place).collect();
        places.sort_unstable();
        places.dedup();
        let mut read = channel.values.clone();
        channel.whiten(&mut read);
        let columns: Vec<Vec<f64>> = places
            .iter()
            .map(|place| {
                let mut column: Vec<f64> =
                    channel.seen.iter().map(|s| f64::from(u8::from(s.place == *place))).collect();
                channel.whiten(&mut column);
                column
            })
            .collect();
        let n = places.len();
        let certain = DMatrix::from_fn(n, n, |i, j| dot(&columns[i.max(j)], &columns[i.min(j)]));
        let certain = Lower::of(certain)?;
        let mut values: Vec<f64> = columns.iter().map(|c| dot(c, &read)).collect();
        certain.solve(&mut values);
        Some(Self { places, values, certain })
    }

    /// Residuals, or their slopes, become independent and of unit spread.
    pub(super) fn whiten(&self, residuals: &mut [f64]) {
        self.certain.transposed_times(residuals);
    }
}

/// How what was read carries over to one more reading: so much by itself, and so much for the fall at each setting.
#[derive(Debug)]
pub(super) struct Carried {
    read: f64,
    by_place: Vec<f64>,
    /// Spread left, without the new reading's own noise, squared.
    pub left: f64,
}

impl Carried {
    /// From one channel to `next`.
    pub(super) fn to(channel: &Channel, next: &Seen) -> Self {
        let (weights, left) = channel.carry_to(next);
        let most = channel.seen.iter().map(|s| s.place + 1).max().unwrap_or(0);
        let mut by_place = vec![0.0; most];
        for (s, w) in channel.seen.iter().zip(&weights) {
            by_place[s.place] += w;
        }
        Self { read: dot(&channel.values, &weights), by_place, left }
    }

    /// Height of an engine's top then, vacuum above the channel's origin, inHg.
    pub(super) fn height(&self, p: &Possible) -> f64 {
        self.read + dot(&self.by_place, &p.falls)
    }

    /// The same of its speed, rpm.
    pub(super) fn speed_height(&self, p: &Possible) -> f64 {
        self.read + p.engine.rpm_per_inhg * dot(&self.by_place, &p.falls)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::balance::noise::Scatter;
    use approx::assert_relative_eq;

    fn seen(k: usize, place: usize) -> Seen {
        let mut at = [0.0; super::super::prior::MAX];
        at[0] = 0.25 * place as f64;
        Seen {
            at,
            age: 0,
            place,
            vacuum: 0.0,
            speed: None,
            coolant: None,
            lambda: None,
            minutes: 0.3 * k as f64,
            jumps: (k / 4) as f64,
            stalls: 0,
            doubt: 0.05 * place as f64,
            rough: 1.0 + 0.3 * (k % 3) as f64,
        }
    }

    /// Seven readings of three settings, the third not among them.
    fn channel() -> Channel {
        let seen: Vec<Seen> =
            [0, 1, 1, 3, 0, 3, 3].iter().enumerate().map(|(k, place)| seen(k, *place)).collect();
        Channel::new(seen, &[14.0, 14.3, 14.2, 13.6, 14.1, 13.9, 13.7], Scatter::vacuum(0.1, 1.0)).unwrap()
    }

    #[test]
    fn what_tells_engines_apart_is_the_same_as_with_every_reading_by_itself() {
        let channel = channel();
        let merged = Merged::of(&channel).unwrap();
        assert_eq!(merged.places, [0, 1, 3]);
        let cost = |falls: &[f64; 4]| {
            let mut whole: Vec<f64> =
                channel.seen.iter().zip(&channel.values).map(|(s, v)| v + falls[s.place]).collect();
            channel.whiten(&mut whole);
            let mut few: Vec<f64> =
                merged.places.iter().zip(&merged.values).map(|(p, v)| v + falls[*p]).collect();
            merged.whiten(&mut few);
            (dot(&whole, &whole), dot(&few, &few))
        };
        let (whole, few) = cost(&[0.0; 4]);
        for falls in [[0.5, 0.1, 9.0, 0.9], [0.0, 0.2, 9.0, 0.3], [2.0, 0.0, 9.0, 0.0]] {
            let (w, f) = cost(&falls);
            assert_relative_eq!(w - whole, f - few, epsilon = 1e-7, max_relative = 1e-9);
        }
    }
}
