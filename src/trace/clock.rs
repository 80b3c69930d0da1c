//! The logger's clock: it should only run forward.

use super::fault::{FaultKind, Tally};

/// Seconds at which counters and clocks wrap: a minute, 16 bits of milliseconds, an hour, 32 bits of microseconds,
/// 16 bits of seconds, midnight, 32 bits of milliseconds.
const WRAPS: [f64; 7] = [60.0, 65.536, 3600.0, 4_294.967_296, 65_536.0, 86_400.0, 4_294_967.296];
/// A step back of less than this is a row out of order, not a new start.
const OUT_OF_ORDER_S: f64 = 1.0;

/// What a row's time says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Tick {
    /// Good, at this time.
    At(f64),
    /// Good, at this time, but not connected with what was before.
    Anew(f64),
    /// The row cannot be placed.
    SetAside,
}

/// Follows the time of a log.
#[derive(Debug, Clone, Default)]
pub(super) struct Clock {
    last: Option<f64>,
    /// Added to the logger's time after wraps and new starts.
    shift: f64,
    /// A time far back, waiting for the next row to confirm it.
    suspect: Option<f64>,
    /// The time before the last leap forward.
    before_leap: Option<f64>,
    usual_step: f64,
}

impl Clock {
    /// Takes the time of the next row, in seconds as logged; NaN when it has none.
    #[inline]
    pub(super) fn tick(&mut self, logged: f64, line: u64, column: usize, faults: &mut Tally) -> Tick {
        let time = logged + self.shift;
        match self.last {
            Some(last) if time > last && time - last < 5.0 => {
                self.usual_step += 0.05 * (time - last - self.usual_step);
                self.last = Some(time);
                self.suspect = None;
                Tick::At(time)
            }
            _ => self.unusual(logged, line, column, faults),
        }
    }

    fn unusual(&mut self, logged: f64, line: u64, column: usize, faults: &mut Tally) -> Tick {
        let found = || format!("{logged}");
        if logged.is_nan() {
            faults.note(line, column, FaultKind::NoTime, || ("a time".to_owned(), "nothing".to_owned()));
            return Tick::SetAside;
        }
        let time = logged + self.shift;
        let Some(last) = self.last else {
            self.last = Some(time);
            return Tick::At(time);
        };
        if time > last {
            self.before_leap = Some(last);
            self.last = Some(time);
            return Tick::At(time);
        }
        if time == last {
            faults.note(line, column, FaultKind::TimeTwice, || {
                ("a time later than the row before".to_owned(), found())
            });
            return Tick::At(time);
        }
        let back = last - time;
        let near = (20.0 * self.usual_step).clamp(0.1, 5.0);
        if let Some(wrap) = WRAPS.into_iter().find(|w| (back - w).abs() < near) {
            faults.note(line, column, FaultKind::TimeWrap, || {
                (
                    "time to run on".to_owned(),
                    format!("{logged}: a clock that wraps at {wrap} s; it was unwrapped"),
                )
            });
            self.shift += wrap;
            let time = time + wrap;
            self.last = Some(time.max(last));
            return Tick::At(time.max(last));
        }
        self.far_back(logged, time, last, line, column, faults)
    }

    fn far_back(
        &mut self,
        logged: f64,
        time: f64,
        last: f64,
        line: u64,
        column: usize,
        faults: &mut Tally,
    ) -> Tick {
        let back = last - time;
        if let Some(before) = self.before_leap
            && time > before
            && time - before < 5.0
        {
            // The leap was one wild time; the log goes on where it was.
            self.last = Some(time);
            self.before_leap = None;
            return Tick::Anew(time);
        }
        if let Some(suspect) = self.suspect
            && logged > suspect
            && logged - suspect < 5.0
            && back > OUT_OF_ORDER_S
        {
            // The second row in a row that says so: another stretch begins, put behind the first.
            let step = logged - suspect;
            self.shift += last + 1.0 - time;
            self.last = Some(last + 1.0);
            self.suspect = None;
            self.usual_step = step;
            return Tick::Anew(last + 1.0);
        }
        self.suspect = Some(logged);
        faults.note(line, column, FaultKind::TimeBack, || {
            (format!("a time after {:.3}", last - self.shift), format!("{logged} (two logs joined?)"))
        });
        Tick::SetAside
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(times: &[f64]) -> (Vec<Tick>, Tally) {
        let (mut clock, mut faults) = (Clock::default(), Tally::default());
        let ticks = times.iter().enumerate().map(|(i, t)| clock.tick(*t, i as u64, 1, &mut faults)).collect();
        (ticks, faults)
    }

    #[test]
    fn negative_times_before_a_trigger_are_fine() {
        let (ticks, _) = run(&[-0.2, -0.1, 0.0, 0.1]);
        assert!(ticks.iter().all(|t| matches!(t, Tick::At(_))));
    }

    #[test]
    fn wraps_are_unwrapped() {
        for wrap in WRAPS {
            let (ticks, faults) = run(&[wrap - 0.02, wrap - 0.01, 0.0, 0.01]);
            assert_eq!(faults.of(FaultKind::TimeWrap), 1, "{wrap}");
            let Tick::At(last) = ticks[3] else { panic!() };
            assert!((last - wrap - 0.01).abs() < 1e-6, "{wrap} {last}");
        }
    }

    #[test]
    fn one_row_out_of_order_is_set_aside_and_the_log_goes_on() {
        let (ticks, faults) = run(&[1.0, 1.1, 1.05, 1.2]);
        assert_eq!(ticks[2], Tick::SetAside);
        assert_eq!(ticks[3], Tick::At(1.2));
        assert_eq!(faults.of(FaultKind::TimeBack), 1);
    }

    #[test]
    fn two_logs_joined_go_on_behind_each_other() {
        let (ticks, faults) = run(&[100.0, 100.1, 0.0, 0.1, 0.2]);
        assert_eq!(ticks[2], Tick::SetAside);
        assert_eq!(ticks[3], Tick::Anew(101.1));
        assert!(matches!(ticks[4], Tick::At(t) if (t - 101.2).abs() < 1e-9));
        assert_eq!(faults.of(FaultKind::TimeBack), 1);
    }

    #[test]
    fn one_wild_time_does_not_take_the_rest_with_it() {
        let (ticks, _) = run(&[1.0, 1.1, 900_000.0, 1.2, 1.3]);
        assert_eq!(ticks[3], Tick::Anew(1.2));
        assert_eq!(ticks[4], Tick::At(1.3));
    }

    #[test]
    fn the_same_time_twice_is_said_and_used() {
        let (ticks, faults) = run(&[1.0, 1.0, 1.1]);
        assert_eq!(ticks[1], Tick::At(1.0));
        assert_eq!(faults.of(FaultKind::TimeTwice), 1);
    }

    #[test]
    fn a_wrap_is_missed_by_no_more_than_twenty_usual_steps() {
        let wraps = |step: f64, misses_by: f64| {
            let mut times: Vec<f64> = (0..200).map(|i| 60.0 - step * f64::from(200 - i)).collect();
            times.extend([step + misses_by, 2.0 * step + misses_by]);
            let (ticks, faults) = run(&times);
            match (faults.of(FaultKind::TimeWrap), ticks[201]) {
                (1, Tick::At(t)) => (t - 60.0 - 2.0 * step - misses_by).abs() < 1e-9,
                _ => false,
            }
        };
        assert!(wraps(0.02, 0.35) && !wraps(0.02, 0.37), "0.4 s from the last row to the next");
        assert!(wraps(0.001, 0.09) && !wraps(0.001, 0.11), "but a tenth of a second at least");
        assert!(wraps(0.29, 4.4) && !wraps(0.29, 5.1), "and five at most");
        // Once round, and round again.
        let (ticks, faults) = run(&[
            58.5, 59.5, 0.2, 1.0, 5.9, 10.8, 15.7, 20.6, 25.5, 30.4, 35.3, 40.2, 45.1, 50.0, 54.9, 59.8, 0.0,
        ]);
        assert_eq!(faults.of(FaultKind::TimeWrap), 2);
        assert_eq!(ticks[16], Tick::At(120.0));
    }

    #[test]
    fn a_time_far_back_begins_a_stretch_only_when_the_next_row_follows_it() {
        let third = |times: [f64; 4]| run(&times).0[3];
        assert_eq!(third([100.0, 100.1, 0.0, 4.9]), Tick::Anew(101.1));
        assert_eq!(third([100.0, 100.1, 0.0, 5.1]), Tick::SetAside, "too late");
        assert_eq!(third([100.0, 100.1, 7.0, 6.9]), Tick::SetAside, "further back");
        assert_eq!(third([100.0, 100.1, 7.0, 7.0]), Tick::SetAside, "the same again");
        assert_eq!(third([100.0, 100.1, 98.9, 99.0]), Tick::Anew(101.1));
        assert_eq!(third([100.0, 100.1, 99.3, 99.4]), Tick::SetAside, "out of order only");
        // The stretch goes on at its own pace, and what is said of a time names the log's own clock.
        let (ticks, _) = run(&[100.0, 100.1, 0.0, 0.5, 1.0, 1.5]);
        assert_eq!(ticks[3..], [Tick::Anew(101.1), Tick::At(101.6), Tick::At(102.1)]);
        let (_, faults) = run(&[100.0, 100.1, 0.0, 0.5, 1.0, 0.9]);
        assert!(faults.into_parts().0[1].expected.contains("after 1.000"));
    }

    #[test]
    fn after_a_leap_the_log_goes_on_within_five_seconds_of_where_it_was() {
        let after = |back: f64| run(&[1.0, 1.1, 900_000.0, back]).0[3];
        assert_eq!(after(6.0), Tick::Anew(6.0));
        assert_eq!(after(6.2), Tick::SetAside);
        assert_eq!(after(1.1), Tick::SetAside, "not later than the row before the leap");
    }

    #[test]
    fn a_leap_is_one_at_any_time_of_day_and_a_new_stretch_has_an_order_too() {
        let (ticks, _) = run(&[100.0, 100.1, 400.0, 100.2, 100.3]);
        assert_eq!(ticks[3..], [Tick::Anew(100.2), Tick::At(100.3)]);
        let (ticks, _) = run(&[100.0, 100.1, 0.0, 0.5, 0.4, 0.6]);
        assert_eq!(ticks[3..5], [Tick::Anew(101.1), Tick::SetAside]);
        assert!(matches!(ticks[5], Tick::At(t) if (t - 101.2).abs() < 1e-9), "{ticks:?}");
    }
}
