//! Whether the engine has been held still, from means over a quarter second: noise of one row does not count.

use super::sample::Sample;

/// Length of one mean.
pub(super) const BLOCK_S: f64 = 0.25;
/// Means looked back on: two seconds.
const BLOCKS: usize = 8;
/// Speed may move this much, as a share (common practice).
const SPEED_SHARE: f64 = 0.03;
/// Vacuum may move this much, inHg (common practice).
const VACUUM_INHG: f64 = 1.0;
/// A carbureted idle wanders more: at least this is allowed at idle, rpm and inHg (common practice).
const IDLE_RPM: f64 = 75.0;
const IDLE_INHG: f64 = 2.0;
/// A held throttle moves less than this in half a second, %.
const HELD_PCT: f64 = 4.0;

/// What was still at the end of a block.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Still {
    /// Still enough for a cruise: two seconds.
    pub(super) cruise: bool,
    /// Still enough for an idle: two seconds.
    pub(super) idle: bool,
    /// The throttle was held for half a second.
    pub(super) throttle: bool,
}

/// Means of one block.
#[derive(Debug, Clone, Copy)]
pub(super) struct BlockMean {
    pub(super) t_s: f64,
    pub(super) speed_rpm: f64,
    pub(super) vacuum_inhg: f64,
    pub(super) throttle_pct: f64,
}

/// Follows the means.
#[derive(Debug, Clone)]
pub(super) struct Steadiness {
    means: [BlockMean; BLOCKS],
    filled: usize,
    number: u32,
    from_s: f64,
    sums: [f64; 3],
    rows: u32,
    /// What was still, by block number modulo the length.
    still: [Still; REMEMBERED],
}

/// Blocks whose outcome is remembered: more than there can be between a row and its judgement.
const REMEMBERED: usize = 1024;

const EMPTY: BlockMean = BlockMean { t_s: 0.0, speed_rpm: 0.0, vacuum_inhg: 0.0, throttle_pct: 0.0 };

impl Steadiness {
    /// Nothing seen yet.
    pub(super) fn new() -> Self {
        Self {
            means: [EMPTY; BLOCKS],
            filled: 0,
            number: 0,
            from_s: f64::NAN,
            sums: [0.0; 3],
            rows: 0,
            still: [Still::default(); REMEMBERED],
        }
    }

    /// Takes a row; gives the block that it is in.
    #[inline]
    pub(super) fn push(&mut self, s: &Sample) -> u32 {
        if self.from_s.is_nan() {
            self.from_s = s.t_s;
        } else if s.t_s - self.from_s >= BLOCK_S {
            self.close();
            self.from_s = s.t_s;
        }
        self.sums[0] += s.speed_rpm;
        self.sums[1] += s.vacuum_inhg;
        self.sums[2] += s.throttle_pct;
        self.rows += 1;
        self.number
    }

    /// The log breaks off: what comes is not connected. Closes the block under way.
    pub(super) fn end(&mut self) {
        self.close();
        self.filled = 0;
        self.from_s = f64::NAN;
    }

    /// What was still at the end of a block, if that is not too long ago.
    #[inline]
    pub(super) fn at(&self, block: u32) -> Still {
        self.still[block as usize % REMEMBERED]
    }

    fn close(&mut self) {
        if self.rows == 0 {
            return;
        }
        let n = f64::from(self.rows);
        let mean = BlockMean {
            t_s: self.from_s,
            speed_rpm: self.sums[0] / n,
            vacuum_inhg: self.sums[1] / n,
            throttle_pct: self.sums[2] / n,
        };
        self.sums = [0.0; 3];
        self.rows = 0;
        self.means.rotate_left(1);
        self.means[BLOCKS - 1] = mean;
        self.filled = (self.filled + 1).min(BLOCKS);
        self.still[self.number as usize % REMEMBERED] = self.judge();
        self.number = self.number.wrapping_add(1);
    }

    fn judge(&self) -> Still {
        let known = &self.means[BLOCKS - self.filled..];
        let now = known[known.len() - 1];
        // Blocks of a slow logger are longer: go by time, not by number.
        let covers = |seconds: f64| now.t_s - known[0].t_s >= seconds - 1.01 * BLOCK_S;
        let recent = |seconds: f64| known.iter().filter(move |m| now.t_s - m.t_s < seconds);
        let speed = span(recent(2.0).map(|m| m.speed_rpm));
        let vacuum = span(recent(2.0).map(|m| m.vacuum_inhg));
        let throttle = span(recent(0.5).map(|m| m.throttle_pct));
        let long_enough = covers(2.0);
        let share = SPEED_SHARE * now.speed_rpm;
        Still {
            cruise: long_enough && speed <= share && (vacuum <= VACUUM_INHG || vacuum.is_nan()),
            idle: long_enough && speed <= share.max(IDLE_RPM) && (vacuum <= IDLE_INHG || vacuum.is_nan()),
            throttle: covers(0.5) && (throttle <= HELD_PCT || throttle.is_nan()),
        }
    }
}

/// Highest less lowest; NaN when one is.
fn span(values: impl Iterator<Item = f64>) -> f64 {
    let (mut low, mut high, mut sum) = (f64::INFINITY, f64::NEG_INFINITY, 0.0);
    for v in values {
        low = low.min(v);
        high = high.max(v);
        sum += v;
    }
    if sum.is_nan() { f64::NAN } else { high - low }
}

#[cfg(test)]
mod tests {
    use super::super::segment::tests::row;
    use super::*;

    fn last(rows: impl Iterator<Item = Sample>) -> Still {
        let mut steady = Steadiness::new();
        let block = rows.map(|r| steady.push(&r)).last().unwrap();
        steady.end();
        steady.at(block)
    }

    fn moving(speed_span: f64, vacuum_span: f64, seconds: f64) -> Still {
        let rows = (seconds * 100.0) as u32;
        last((0..rows).map(|i| {
            let part = f64::from(i) / f64::from(rows - 25);
            row(f64::from(i) / 100.0, 2000.0 + speed_span * part, 14.0 + vacuum_span * part, 20.0)
        }))
    }

    #[test]
    fn three_percent_and_one_inch_over_two_seconds() {
        assert!(moving(50.0, 0.8, 2.0).cruise);
        assert!(!moving(70.0, 0.8, 2.0).cruise, "speed");
        assert!(!moving(50.0, 1.3, 2.0).cruise, "vacuum");
        assert!(!moving(0.0, 0.0, 1.5).cruise, "too short");
    }

    #[test]
    fn noise_of_single_rows_is_not_movement() {
        let noisy = |i: u32| {
            row(f64::from(i) / 100.0, 850.0 + if i.is_multiple_of(2) { 40.0 } else { -40.0 }, 16.0, 0.5)
        };
        assert!(last((0..300).map(noisy)).cruise);
    }

    #[test]
    fn an_idle_may_wander_more() {
        let idle = |i: u32| row(f64::from(i) / 100.0, 850.0 + 25.0 * (f64::from(i) / 40.0).sin(), 16.0, 0.5);
        let still = last((0..400).map(idle));
        assert!(still.idle && !still.cruise);
    }

    fn throttled(moves_pct: f64, seconds: f64) -> bool {
        let rows = (seconds * 32.0) as u32;
        let at = |i: u32| {
            row(f64::from(i) / 32.0, 3000.0, 1.0, if i + 8 < rows { 90.0 } else { 90.0 + moves_pct })
        };
        last((0..rows).map(at)).throttle
    }

    #[test]
    fn a_throttle_is_held_within_four_percent_for_half_a_second() {
        assert!(throttled(3.9, 2.0) && throttled(-3.9, 2.0));
        assert!(!throttled(4.1, 2.0) && !throttled(-4.1, 2.0));
        assert!(throttled(0.0, 0.5) && !throttled(0.0, 0.25), "too short");
        assert!(throttled(f64::NAN, 2.0), "without a throttle nothing moved that is seen");
    }

    #[test]
    fn an_idle_too_short_or_too_wide_is_not_still() {
        let idle = |speed_span: f64, vacuum_span: f64, rows: u32| {
            let part = |i: u32| f64::from(i / 8) / 7.0;
            let at = |i: u32| {
                row(
                    100.0 + f64::from(i) / 32.0,
                    850.0 + speed_span * part(i),
                    16.0 + vacuum_span * part(i),
                    0.5,
                )
            };
            last((0..rows).map(at)).idle
        };
        assert!(idle(74.0, 1.9, 64) && !idle(76.0, 1.9, 64) && !idle(74.0, 2.1, 64));
        assert!(idle(74.0, f64::NAN, 64), "no vacuum is logged");
        assert!(!idle(0.0, 0.0, 48), "too short");
    }
}
