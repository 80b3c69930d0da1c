//! The history told again: where the screws stand, what was read where and when.

use super::engine::Setting;
use super::prior::MAX;
use super::types::{Observation, Reading, Spec};
use crate::units::{EngineSpeed, Lambda, Temperature};

/// Seconds a turn takes, and seconds until the needle has settled (common practice).
const TURN_S: f64 = 4.0;
const SETTLE_S: f64 = 10.0;

/// An engine that reads this much below its best, and a seventh, runs badly, inHg.
const BADLY: f64 = 1.0;

/// A speed that moves less than this with an inch of mercury, over at least so many, is held by something.
const HELD_RPM_PER_INHG: f64 = 8.0;
const HELD_OVER: f64 = 0.7;

/// Speed that a trim takes off when no tachometer tells, rpm.
const USUAL_TRIM: f64 = 50.0;

/// A setting that was read, at one idle trim.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    /// Where the screws stood.
    pub at: Setting,
    /// How many trims ago.
    pub age: usize,
}

/// One reading and where it was taken.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    /// Where the screws stood.
    pub at: Setting,
    /// How many idle trims ago that was.
    pub age: usize,
    /// Which of the places read so far that is.
    pub place: usize,
    /// Vacuum, inHg.
    pub vacuum: f64,
    /// Speed, rpm.
    pub speed: Option<f64>,
    /// Coolant, kelvin.
    pub coolant: Option<f64>,
    /// Lambda, a witness only.
    pub lambda: Option<f64>,
    /// Minutes since the search began, by the cost of what was done.
    pub minutes: f64,
    /// What the trims before it may have done to the height, as a variance: 1 for one of the usual size.
    pub jumps: f64,
    /// How many times the engine had been started again.
    pub stalls: usize,
    /// How far the curve first fitted may be off there, inHg: none is trusted far from the top.
    pub doubt: f64,
    /// How many times the usual variance it is given, because it misses the rest by far.
    pub rough: f64,
}

/// Everything that happened.
#[derive(Debug, Clone)]
pub(super) struct Past {
    /// Where the screws stand now, turns out.
    pub stands: Setting,
    /// Where they stood at the last reading, trim or stall: what is left of a plan is measured from there.
    pub anchor: Setting,
    /// Readings, in order.
    pub seen: Vec<Seen>,
    /// The places read so far, each once.
    pub places: Vec<Place>,
    /// Readings taken, those of an engine that had stopped included.
    pub readings: u32,
    /// Turn commands carried out.
    pub moves: u32,
    /// Minutes gone.
    pub minutes: f64,
    /// What each idle-speed trim was to take off, rpm.
    pub trims: Vec<f64>,
    /// Stalls.
    pub stalls: usize,
    /// Nothing was turned, trimmed or restarted since the last reading.
    pub fresh: bool,
    /// Turn commands since the last reading, trim or stall.
    pub turned_since_reading: usize,
    /// Trims since a screw was last turned.
    pub trims_in_a_row: usize,
    /// Speed before the last trim, until it is read again, rpm.
    pub trimmed_from: Option<f64>,
    /// Trims in a row after which the speed stayed up: something else holds it.
    pub trims_in_vain: usize,
    /// Where the engine stalled: from the setting of the last reading before, to where, and the number of readings
    /// then.
    pub stalled_at: Vec<(Setting, Setting, usize)>,
    /// The rig has no tachometer.
    pub no_speed: bool,
    /// The rig has no idle-speed screw to turn.
    pub no_trim: bool,
    /// The rig cannot read the vacuum.
    pub no_reading: bool,
    /// Screws that cannot be turned.
    pub stuck: u16,
}

impl Past {
    /// Folds the history.
    pub(super) fn of(spec: &Spec, history: &[Observation]) -> Self {
        let mut stands = [0.0; MAX];
        for (place, turns) in stands.iter_mut().zip(&spec.screws.turns_out) {
            *place = turns.as_turns();
        }
        let mut past = Self {
            stands,
            anchor: stands,
            seen: Vec::new(),
            places: Vec::new(),
            readings: 0,
            moves: 0,
            minutes: 0.0,
            trims: Vec::new(),
            stalls: 0,
            fresh: false,
            turned_since_reading: 0,
            trims_in_a_row: 0,
            trimmed_from: None,
            trims_in_vain: 0,
            stalled_at: Vec::new(),
            no_speed: false,
            no_trim: false,
            no_reading: false,
            stuck: 0,
        };
        for observation in history {
            past.take(spec, observation);
        }
        past
    }

    /// What all trims may have done to the height, as a variance: 1 for one of the usual size.
    pub(super) fn jumps(&self) -> f64 {
        self.trims.iter().map(|by| (by / USUAL_TRIM).powi(2).max(0.25)).sum()
    }

    /// Is `at`, in every screw, as far as or further than a setting where the engine stalled?
    pub(super) fn stalled_beyond(&self, n: usize, at: &Setting) -> bool {
        self.stalled_at.iter().any(|(ran, stalled, _)| {
            let way: f64 = (0..n).map(|i| stalled[i] - ran[i]).sum::<f64>().signum();
            ran != stalled && (0..n).all(|i| way * (at[i] - stalled[i]) >= -1e-6)
        })
    }

    /// The best reading since the idle-speed screw was last moved.
    pub(super) fn best_seen(&self) -> Option<&Seen> {
        self.seen.iter().filter(|s| s.age == 0).max_by(|a, b| a.vacuum.total_cmp(&b.vacuum))
    }

    /// Did the last reading fall far short of this one?
    pub(super) fn runs_badly(&self, best: &Seen) -> bool {
        self.seen
            .last()
            .is_some_and(|s| s.vacuum < best.vacuum - (0.15 * best.vacuum).max(BADLY) && s.at == self.anchor)
    }

    /// Has it stalled since it was last read?
    pub(super) fn stalled_since_reading(&self) -> bool {
        self.stalled_at.last().is_some_and(|(_, _, read)| *read == self.seen.len())
    }

    /// Was the idle speed trimmed since it was last read?
    pub(super) fn trimmed_since_reading(&self) -> bool {
        self.seen.last().is_some_and(|s| s.age > 0)
    }

    /// Vacuum read at or nearest before a setting, inHg.
    pub(super) fn vacuum_at(&self, at: &Setting) -> f64 {
        let there = self.seen.iter().rev().find(|s| s.at == *at).or(self.seen.last());
        there.map_or(12.0, |s| s.vacuum).max(3.0)
    }

    /// Does the coolant say that the engine is still warming: two kelvin or more since the first reading?
    pub(super) fn coolant_rises(&self) -> bool {
        let mut read = self.seen.iter().filter_map(|s| s.coolant);
        read.next().zip(read.next_back()).is_some_and(|(first, last)| last - first >= 2.0)
    }

    /// Median lambda read, when any was.
    pub(super) fn lambda(&self) -> Option<f64> {
        let mut read: Vec<f64> = self.seen.iter().filter_map(|s| s.lambda).collect();
        crate::numeric::robust::median(&mut read)
    }

    fn take(&mut self, spec: &Spec, observation: &Observation) {
        match observation {
            Observation::Turned { screws, by } => {
                for &screw in screws {
                    if let Some(place) = self.stands.get_mut(usize::from(screw).wrapping_sub(1)) {
                        *place = (*place + by.as_turns()).clamp(0.0, spec.screws.range.as_turns());
                    }
                }
                self.moves += 1;
                self.minutes += TURN_S / 60.0;
                self.fresh = false;
                self.turned_since_reading += 1;
                self.trims_in_a_row = 0;
            }
            Observation::Read(reading) => {
                self.minutes += SETTLE_S / 60.0;
                self.readings += 1;
                if reading.has_stopped() {
                    self.stalled();
                    return;
                }
                self.judge_trim(spec, reading);
                let here = Place { at: self.stands, age: 0 };
                let place = self.places.iter().position(|place| *place == here).unwrap_or_else(|| {
                    self.places.push(here);
                    self.places.len() - 1
                });
                self.seen.push(Seen {
                    at: self.stands,
                    age: 0,
                    place,
                    vacuum: reading.vacuum.as_inhg(),
                    speed: reading.speed.map(EngineSpeed::as_rpm),
                    coolant: reading.coolant.map(Temperature::as_k),
                    lambda: reading.lambda.map(Lambda::as_ratio),
                    minutes: self.minutes,
                    jumps: self.jumps(),
                    stalls: self.stalls,
                    doubt: 0.0,
                    rough: 1.0,
                });
                self.fresh = true;
                self.turned_since_reading = 0;
                self.anchor = self.stands;
            }
            Observation::Trimmed { .. } => {
                self.trimmed_from = self.seen.last().and_then(|s| s.speed);
                let off = self.trimmed_from.zip(spec.idle_aim).map(|(from, aim)| (from - aim.as_rpm()).abs());
                self.trims.push(off.unwrap_or(USUAL_TRIM));
                for age in self.seen.iter_mut().map(|s| &mut s.age) {
                    *age += 1;
                }
                for age in self.places.iter_mut().map(|p| &mut p.age) {
                    *age += 1;
                }
                self.trims_in_a_row += 1;
                self.minutes += (TURN_S + SETTLE_S) / 60.0;
                self.fresh = false;
                self.turned_since_reading = 0;
                self.anchor = self.stands;
            }
            Observation::Stalled => self.stalled(),
            Observation::Cannot { what } => self.cannot(what),
        }
    }

    /// Did the trim bring the speed at least a third of the way to the aim?
    fn judge_trim(&mut self, spec: &Spec, reading: &Reading) {
        let (Some(from), Some(aim), Some(now)) = (self.trimmed_from.take(), spec.idle_aim, reading.speed)
        else {
            return;
        };
        let in_vain = from - now.as_rpm() < (from - aim.as_rpm()) / 3.0;
        self.trims_in_vain = if in_vain { self.trims_in_vain + 1 } else { 0 };
    }

    /// Does something hold the speed, a brake or a governor: does it stay while the vacuum moves?
    pub(super) fn speed_held(&self) -> bool {
        let span = |of: &dyn Fn(&Seen) -> Option<f64>| {
            let (low, high) = self
                .seen
                .iter()
                .filter_map(of)
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)));
            high - low
        };
        let trimmed = self.trims.len() > self.trims_in_vain;
        let vacuum = span(&|s| s.speed.map(|_| s.vacuum));
        !trimmed && vacuum > HELD_OVER && span(&|s| s.speed) < HELD_RPM_PER_INHG * vacuum
    }

    fn stalled(&mut self) {
        self.stalls += 1;
        self.minutes += 1.0;
        self.fresh = false;
        self.turned_since_reading = 0;
        let ran = self.seen.last().map_or(self.anchor, |s| s.at);
        self.stalled_at.push((ran, self.stands, self.seen.len()));
        self.anchor = self.stands;
    }

    fn cannot(&mut self, what: &str) {
        let what = what.to_ascii_lowercase();
        if what.contains("trim") || what.contains("idle") {
            self.no_trim = true;
        } else if what.contains("turn") || what.contains("screw") {
            for digit in what.split(|c: char| !c.is_ascii_digit()).filter_map(|d| d.parse::<usize>().ok()) {
                if (1..=MAX).contains(&digit) {
                    self.stuck |= 1 << (digit - 1);
                }
            }
        } else if what.contains("speed") || what.contains("tach") {
            self.no_speed = true;
        } else if what.contains("read") || what.contains("vacuum") {
            self.no_reading = true;
        }
    }
}
