//! Folds a live line into what the screen shows. Pure: time comes in with the rows.

use super::next::{lacks_said, next_said};
use super::state::{BigNumber, Danger, Screen, Sound, Trend, Way};
use crate::rules::balance::Reading;
use crate::setup::Regime;
use crate::trace::TraceContext;
use crate::trace::live::{AlarmLevel, Alarms, LiveRow, Meter, Monitor, Say, Trail};
use crate::trace::settle::Settled;
use crate::units::show::{Shown, fixed};
use crate::units::{EngineSpeed, Lambda, System, TimeSpan, Vacuum};

/// What the numbers should be.
#[derive(Debug, Clone, Default)]
pub struct Aims {
    /// Vacuum at idle, from and to.
    pub idle_vacuum: Option<(Vacuum, Vacuum)>,
    /// Speed at idle.
    pub idle_speed: Option<EngineSpeed>,
    /// Lambda by regime, from and to.
    pub lambda: Vec<(Regime, Lambda, Lambda)>,
    /// Limits of the lean alarm.
    pub alarms: Option<Alarms>,
}

/// A number that can be the large one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gauge {
    /// Manifold vacuum.
    Vacuum,
    /// Engine speed.
    Speed,
    /// Lambda.
    Lambda,
}

/// What the screen is for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Task {
    /// Watching.
    Watch,
    /// Taking a reading; what the person is asked.
    Read(String),
    /// Recording a log, into this file.
    Record(String),
}

/// A live line, as far as it has come.
#[derive(Debug)]
pub struct Gauges {
    monitor: Monitor,
    trail: Trail,
    aims: Aims,
    system: System,
    task: Task,
    chosen: Option<Gauge>,
    line_trouble: Option<String>,
    sensor_trouble: Option<String>,
    lean: Option<(AlarmLevel, Lambda, Lambda)>,
    belled_s: f64,
    alarms: u32,
}

/// The danger bell comes again this often, s.
const BELL_AGAIN_S: f64 = 1.0;

impl Gauges {
    /// Nothing seen yet.
    pub fn new(ctx: &TraceContext, aims: Aims, system: System, task: Task) -> Self {
        Self {
            monitor: Monitor::new(ctx, aims.alarms),
            trail: Trail::default(),
            aims,
            system,
            task,
            chosen: None,
            line_trouble: None,
            sensor_trouble: None,
            lean: None,
            belled_s: f64::NEG_INFINITY,
            alarms: 0,
        }
    }

    /// Takes rows that came in one piece at `now`, and says what is to be heard.
    pub fn rows(&mut self, now: TimeSpan, rows: &[LiveRow]) -> Sound {
        let many = rows.len().max(1) as f64;
        let mut sound = Sound::Silence;
        for (n, row) in rows.iter().enumerate() {
            // Rows of one piece were made one after another: spread them over the moment they came in.
            let at = TimeSpan::from_s((now.as_s() - 0.02 * (1.0 - (n as f64 + 1.0) / many)).max(0.0));
            self.line_trouble = None;
            for say in self.monitor.push(at, row) {
                sound = sound.max(self.heard(say));
            }
            self.trail.push(at, row);
        }
        if let (Some(lean), Some(lambda)) = (&mut self.lean, self.trail.last().and_then(|r| r.lambda)) {
            lean.1 = lambda;
        }
        if self.lean.is_some() && now.as_s() - self.belled_s >= BELL_AGAIN_S {
            sound = Sound::Danger;
        }
        if sound == Sound::Danger {
            self.belled_s = now.as_s();
        }
        sound
    }

    /// Time goes on without a row; whether the screen changes by it.
    pub fn tick(&mut self, now: TimeSpan) -> bool {
        let Some(Say::Stalled { .. }) = self.monitor.tick(now) else { return false };
        self.trail.clear();
        self.lean = None;
        self.line_trouble.get_or_insert_with(|| {
            "No readings. The lean alarm is blind. Look at plug, power and logger.".to_owned()
        });
        true
    }

    /// Something is wrong with the line, or no longer.
    pub fn line(&mut self, trouble: Option<String>) {
        if trouble.is_some() {
            self.trail.clear();
        }
        self.line_trouble = trouble;
    }

    /// Which number is to be large; `None` lets the regime choose.
    pub fn choose(&mut self, gauge: Option<Gauge>) {
        self.chosen = gauge;
    }

    /// The reading, once it stands.
    pub fn settled(&self) -> Option<Reading> {
        let Settled::Yes { vacuum: Some(vacuum), speed } = self.monitor.settled() else { return None };
        Some(Reading { vacuum, speed, lambda: self.trail.settled_lambda(), coolant: self.coolant() })
    }

    /// The reading as it is now, standing or not.
    pub fn as_it_is(&self) -> Option<Reading> {
        let vacuum = self.trail.vacuum()?;
        let (speed, lambda) = (self.trail.speed(), self.trail.lambda());
        Some(Reading { vacuum, speed, lambda, coolant: self.coolant() })
    }

    /// What each regime has and lacks.
    pub fn meter(&self) -> &Meter {
        self.monitor.meter()
    }

    /// Lean alarms so far.
    pub fn alarms(&self) -> u32 {
        self.alarms
    }

    /// What the screen shows.
    pub fn screen(&self) -> Screen {
        let gauge = self.gauge();
        let lacks = match &self.task {
            Task::Read(_) => self.missing(),
            Task::Watch | Task::Record(_) => lacks_said(&self.monitor.meter().lacks()),
        };
        Screen {
            number: Some(self.number(gauge)),
            aim: self.aim(gauge),
            trend: self.trend(gauge),
            next: self.next(),
            lacks,
            danger: self.danger(),
            trouble: self.line_trouble.clone().or_else(|| self.sensor_trouble.clone()),
            keys: match self.task {
                Task::Watch => "q ends    v vacuum    l lambda    s speed    a by itself".to_owned(),
                Task::Read(_) => "Enter takes it    any other key: type it instead".to_owned(),
                Task::Record(_) => "Enter ends the log    Esc: give a file instead".to_owned(),
            },
        }
    }

    #[expect(clippy::needless_pass_by_value, reason = "what was said is used up by being heard")]
    fn heard(&mut self, say: Say) -> Sound {
        match say {
            Say::Lean { level, lambda, limit } => {
                self.alarms += u32::from(self.lean.is_none());
                self.lean = Some((level, lambda, limit));
                return Sound::Danger;
            }
            Say::LeanOver => self.lean = None,
            Say::SensorStuck { lambda } => {
                self.sensor_trouble = Some(format!(
                    "Lambda stands at {:.2} while the engine moves: the sensor is stuck or cold. Do not go by it.",
                    lambda.as_ratio()
                ));
            }
            Say::SensorMoves => self.sensor_trouble = None,
            Say::Settled { .. } if matches!(self.task, Task::Read(_)) => return Sound::Ready,
            Say::Settled { .. }
            | Say::Stalled { .. }
            | Say::Resumed { .. }
            | Say::ClockJumped { .. }
            | Say::Regime(_) => {}
        }
        Sound::Silence
    }

    /// At idle vacuum matters, under load the mixture; whatever the line has.
    fn gauge(&self) -> Gauge {
        if self.lean.is_some() {
            return Gauge::Lambda;
        }
        if let Some(chosen) = self.chosen {
            return chosen;
        }
        let last = self.trail.last();
        let has = |of: fn(&LiveRow) -> bool| last.is_none_or(of);
        let (vacuum, lambda) = (has(|r| r.vacuum.is_some()), has(|r| r.lambda.is_some()));
        let under_load =
            !matches!(self.task, Task::Read(_)) && self.monitor.regime().is_some_and(|r| r != Regime::Idle);
        match (under_load, vacuum, lambda) {
            (true, _, true) | (false, false, true) => Gauge::Lambda,
            (_, true, _) => Gauge::Vacuum,
            _ => Gauge::Speed,
        }
    }

    fn number(&self, gauge: Gauge) -> BigNumber {
        let system = self.system;
        match gauge {
            Gauge::Vacuum => {
                let value = self.trail.vacuum().map(|v| v.number(system));
                BigNumber::of("Vacuum", Vacuum::unit_symbol(system), value, 1, "00.0")
            }
            // To the next ten: the last digit is never still, and says nothing.
            Gauge::Speed => {
                let value = self.trail.speed().map(|s| (s.as_rpm() / 10.0).round() * 10.0);
                BigNumber::of("Speed", "rpm", value, 0, "0000")
            }
            Gauge::Lambda => {
                let value = match &self.lean {
                    Some((_, lambda, _)) => Some(*lambda),
                    None => self.trail.lambda(),
                };
                BigNumber::of("Lambda", "", value.map(Lambda::as_ratio), 2, "0.00")
            }
        }
    }

    fn aim(&self, gauge: Gauge) -> Option<String> {
        let regime = self.monitor.regime();
        match gauge {
            Gauge::Vacuum => {
                let (low, high) = self.aims.idle_vacuum.filter(|_| regime == Some(Regime::Idle))?;
                let system = self.system;
                Some(format!("normal here {} to {}", fixed(low.number(system), 1), high.show(system)))
            }
            Gauge::Speed => {
                let speed = self.aims.idle_speed.filter(|_| regime == Some(Regime::Idle))?;
                Some(format!("aim {}", speed.show(self.system)))
            }
            Gauge::Lambda => {
                if let Some((_, _, limit)) = &self.lean {
                    return Some(format!("never leaner than {:.2} at load", limit.as_ratio()));
                }
                let (_, low, high) = self.aims.lambda.iter().find(|(r, _, _)| Some(*r) == regime)?;
                Some(format!("aim {:.2} to {:.2}", low.as_ratio(), high.as_ratio()))
            }
        }
    }

    fn trend(&self, gauge: Gauge) -> Option<Trend> {
        // Less than the last digit shown is no trend.
        let (gone, least, decimals) = match gauge {
            Gauge::Vacuum => {
                let shown = |v: f64| Vacuum::from_inhg(v).number(self.system);
                (self.trail.vacuum_trend().map(|d| shown(d.as_inhg()))?, 0.1, 1)
            }
            Gauge::Speed => (self.trail.speed_trend().map(EngineSpeed::as_rpm)?, 10.0, 0),
            Gauge::Lambda => (self.trail.lambda_trend().map(Lambda::as_ratio)?, 0.01, 2),
        };
        let way = match gone {
            g if g >= least => Way::Rising,
            g if g <= -least => Way::Falling,
            _ => Way::Steady,
        };
        let said = match way {
            Way::Steady => "steady".to_owned(),
            Way::Rising => format!("rising, +{} in 5 s", fixed(gone, decimals)),
            Way::Falling => format!("falling, {} in 5 s", fixed(gone, decimals)),
        };
        Some(Trend { way, said })
    }

    fn danger(&self) -> Option<Danger> {
        let (level, lambda, limit) = self.lean?;
        let said = format!("LEAN AT LOAD   lambda {:.2}, limit {:.2}", lambda.as_ratio(), limit.as_ratio());
        Some(Danger { level, said })
    }

    fn next(&self) -> String {
        if let Some((level, ..)) = self.lean {
            return match level {
                AlarmLevel::Stop => "Close the throttle now.".to_owned(),
                AlarmLevel::Warn => "Close the throttle: it is leaner than it may be at load.".to_owned(),
            };
        }
        if self.trail.last().is_none() {
            return "Waiting for readings.".to_owned();
        }
        let settled = self.monitor.settled();
        match &self.task {
            Task::Read(say) => format!("{say} {}", self.settling(settled)),
            Task::Watch | Task::Record(_) => {
                let lacks = self.monitor.meter().lacks();
                let recorded = match &self.task {
                    Task::Record(file) => format!("{file}: all regimes have enough. Enter ends the log."),
                    _ => "Every regime has enough.".to_owned(),
                };
                next_said(self.monitor.regime(), &lacks, &settled).unwrap_or(recorded)
            }
        }
    }

    fn settling(&self, settled: Settled) -> String {
        match settled {
            Settled::TooFew { wait } => format!("Leave it: it settles in {:.0} s.", wait.as_s().ceil()),
            Settled::Moving { .. } => "Still moving: leave it.".to_owned(),
            Settled::Yes { .. } => match self.settled() {
                None => "There is no vacuum on the line: any key, and type it.".to_owned(),
                Some(reading) => {
                    let mut parts = vec![reading.vacuum.show(self.system)];
                    parts.extend(reading.speed.map(|s| s.show(self.system)));
                    parts.extend(reading.lambda.map(|l| format!("lambda {:.2}", l.as_ratio())));
                    format!("It stands: Enter takes {}.", parts.join(", "))
                }
            },
        }
    }

    /// Gauges a reading wants that the line does not have.
    fn missing(&self) -> Vec<String> {
        let Some(last) = self.trail.last() else { return Vec::new() };
        let named = [
            ("vacuum", last.vacuum.is_some()),
            ("speed", last.speed.is_some()),
            ("lambda", last.lambda.is_some()),
        ];
        named.iter().filter(|(_, there)| !there).map(|(name, _)| format!("{name} on the line")).collect()
    }

    fn coolant(&self) -> Option<crate::units::Temperature> {
        self.trail.last().and_then(|r| r.coolant)
    }
}
