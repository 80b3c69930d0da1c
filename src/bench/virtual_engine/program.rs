//! A run that is logged: which regimes, for how long, and the file a logger would leave of it.

use super::engine::VirtualEngine;
use super::loads::Load;
use super::plant::{Plant, Standing};
use crate::numeric::solve::root;
use crate::setup::{Drive, Setup};
use crate::units::{EngineSpeed, Fraction, TimeSpan, Vacuum};
use std::fmt::Write as _;

/// A stretch of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Segment {
    /// Throttle on its stop, no load.
    Idle {
        /// How long.
        span: TimeSpan,
    },
    /// Throttle opened slowly from its stop and held there: the transition slot.
    Creep {
        /// Opening at the end.
        to: Fraction,
        /// Load.
        load: Load,
        /// How long, half of it opening.
        span: TimeSpan,
    },
    /// Throttle opened so slowly that the engine keeps up, and never held: a run up through the loads.
    RunUp {
        /// Opening at the end.
        to: Fraction,
        /// Load.
        load: Load,
        /// How long.
        span: TimeSpan,
    },
    /// The throttle that holds this speed under the load, steadily.
    Hold {
        /// Speed.
        speed: EngineSpeed,
        /// Load; a brake's own speed is replaced by `speed`.
        load: Load,
        /// How long.
        span: TimeSpan,
    },
    /// A brake holds the speed, the throttle the vacuum.
    HoldVacuum {
        /// Speed.
        speed: EngineSpeed,
        /// Vacuum.
        vacuum: Vacuum,
        /// How long.
        span: TimeSpan,
    },
    /// Throttle opened quickly from where it is, held, and let go.
    TipIn {
        /// Opening reached.
        to: Fraction,
        /// Load.
        load: Load,
        /// Time the throttle takes.
        over: TimeSpan,
        /// How long altogether.
        span: TimeSpan,
    },
    /// Full throttle: through the speeds on a brake, or against the propeller.
    Pull {
        /// Speed at the start.
        from: EngineSpeed,
        /// Speed at the end.
        to: EngineSpeed,
        /// Load: a propeller finds its own speed, anything else is taken as a brake.
        load: Load,
        /// How long.
        span: TimeSpan,
    },
    /// Throttle shut, the engine driven down.
    Overrun {
        /// Speed at the start.
        from: EngineSpeed,
        /// How long.
        span: TimeSpan,
    },
}

/// A run to log.
#[derive(Debug, Clone, PartialEq)]
pub struct RunProgram {
    /// Stretches, in order.
    pub segments: Vec<Segment>,
    /// Time between rows.
    pub interval: TimeSpan,
}

fn seconds(s: f64) -> TimeSpan {
    TimeSpan::from_s(s)
}

impl RunProgram {
    /// A run that fills every regime of the setup: idle, off idle, cruise and heavy cruise at several points, tip-ins,
    /// full throttle, overrun. About four minutes.
    pub fn standard(setup: &Setup) -> Self {
        let rated = setup.engine.rated_speed;
        let afloat = setup.engine.drive == Drive::Propeller;
        let load = if afloat { Load::Propeller } else { Load::Brake(rated * 0.45) };
        // off idle, only a propeller or a converter lets the engine choose its speed
        let creep = match setup.engine.drive {
            Drive::Propeller => Load::Propeller,
            Drive::Automatic | Drive::LooseAutomatic => Load::InGear,
            Drive::Manual | Drive::None => Load::Brake(rated * 0.3),
        };
        let off_idle =
            |to: f64| Segment::Creep { to: Fraction::from_ratio(to), load: creep, span: seconds(14.0) };
        let mut segments = vec![Segment::Idle { span: seconds(25.0) }, off_idle(0.05), off_idle(0.09)];
        if afloat {
            for share in [0.37, 0.44, 0.51, 0.585, 0.66] {
                segments.push(Segment::Hold { speed: rated * share, load, span: seconds(14.0) });
            }
            // a boat runs home at three quarters of its speed and only passes through what is above
            segments.push(Segment::Hold { speed: rated * 0.73, load, span: seconds(20.0) });
            segments.push(Segment::RunUp { to: Fraction::from_ratio(0.5), load, span: seconds(24.0) });
        } else {
            let opens = setup.carburetor.enrichment.map_or(6.5, |e| e.opens_below.as_inhg());
            for (share, above) in [(0.35, 6.0), (0.42, 5.0), (0.50, 4.2), (0.58, 3.6)] {
                let vacuum = Vacuum::from_inhg(opens + above);
                segments.push(Segment::HoldVacuum { speed: rated * share, vacuum, span: seconds(14.0) });
            }
            for (share, above) in [(0.50, 2.4), (0.58, 1.6), (0.62, 1.0), (0.65, -1.5)] {
                let vacuum = Vacuum::from_inhg((opens + above).max(1.0));
                segments.push(Segment::HoldVacuum { speed: rated * share, vacuum, span: seconds(12.0) });
            }
        }
        for to in [0.35, 0.5, 0.6] {
            segments.push(if afloat {
                Segment::Hold { speed: rated * 0.4, load, span: seconds(5.0) }
            } else {
                let vacuum = Vacuum::from_inhg(12.0);
                Segment::HoldVacuum { speed: rated * 0.4, vacuum, span: seconds(5.0) }
            });
            segments.push(Segment::TipIn {
                to: Fraction::from_ratio(to),
                load,
                over: seconds(0.25),
                span: seconds(4.0),
            });
        }
        for _ in 0..2 {
            segments.push(Segment::Pull { from: rated * 0.5, to: rated, load, span: seconds(11.0) });
            segments.push(Segment::Overrun { from: rated * 0.75, span: seconds(5.0) });
        }
        segments.push(Segment::Idle { span: seconds(15.0) });
        Self { segments, interval: TimeSpan::from_ms(40.0) }
    }

    /// How long it lasts.
    pub fn duration(&self) -> TimeSpan {
        self.segments.iter().map(Segment::span).sum()
    }
}

impl Segment {
    fn span(&self) -> TimeSpan {
        match *self {
            Self::Idle { span }
            | Self::Creep { span, .. }
            | Self::RunUp { span, .. }
            | Self::Hold { span, .. }
            | Self::HoldVacuum { span, .. }
            | Self::TipIn { span, .. }
            | Self::Pull { span, .. }
            | Self::Overrun { span, .. } => span,
        }
    }
}

/// Throttle and load over a segment, at a share of its time.
struct Course {
    from: f64,
    to: f64,
    opening: f64,
    load: Load,
    /// Speeds a brake sweeps.
    sweep: Option<(f64, f64)>,
}

impl VirtualEngine {
    /// Runs a program and writes what a logger would: CSV with `time_s,rpm,vacuum_inhg,map_kpa,tps_pct,lambda,
    /// coolant_c,fuel_pressure_kpa`, a row each interval. A field with nothing to say is empty. If the engine stalls
    /// it is started again and the log goes on; at the end it idles without load.
    pub fn log(&mut self, program: &RunProgram) -> String {
        let mut out =
            String::from("time_s,rpm,vacuum_inhg,map_kpa,tps_pct,lambda,coolant_c,fuel_pressure_kpa\n");
        let interval = program.interval.as_s().max(0.02);
        let mut row = 0u32;
        for segment in &program.segments {
            let course = self.course(segment);
            let rows = (segment.span().as_s() / interval).round() as u32;
            for i in 0..rows {
                let at = f64::from(i) * interval;
                self.steer(&course, at, segment.span().as_s());
                if !self.is_running() {
                    self.start();
                }
                self.advance(TimeSpan::from_s(interval));
                self.write_row(&mut out, f64::from(row) * interval);
                row += 1;
            }
        }
        self.set_load(Load::Neutral);
        self.set_throttle(Fraction::ZERO);
        out
    }

    fn steer(&mut self, course: &Course, at: f64, span: f64) {
        let opened = if course.opening > 0.0 { (at / course.opening).min(1.0) } else { 1.0 };
        self.set_throttle(Fraction::from_ratio(course.from + (course.to - course.from) * opened));
        let load = match course.sweep {
            Some((a, b)) => Load::Brake(EngineSpeed::from_rad_s(a + (b - a) * (at / span))),
            None => course.load,
        };
        self.set_load(load);
    }

    fn course(&self, segment: &Segment) -> Course {
        let now = self.standing.throttle;
        let glide = |to: f64, load: Load| Course { from: now, to, opening: 1.0, load, sweep: None };
        match *segment {
            Segment::Idle { .. } => glide(0.0, Load::Neutral),
            Segment::Creep { to, load, span } => {
                Course { opening: 0.5 * span.as_s(), ..glide(to.as_ratio(), load) }
            }
            Segment::RunUp { to, load, span } => {
                Course { opening: span.as_s(), ..glide(to.as_ratio(), load) }
            }
            Segment::Hold { speed, load, .. } => {
                let load = if matches!(load, Load::Brake(_)) { Load::Brake(speed) } else { load };
                glide(self.throttle_for(speed, load), load)
            }
            Segment::HoldVacuum { speed, vacuum, .. } => {
                glide(self.throttle_for_vacuum(speed, vacuum), Load::Brake(speed))
            }
            Segment::TipIn { to, load, over, .. } => {
                let load = if matches!(load, Load::Brake(_)) { self.standing.load } else { load };
                Course { opening: over.as_s(), ..glide(to.as_ratio(), load) }
            }
            Segment::Pull { from, to, load, .. } => Course {
                opening: 0.4,
                sweep: (load != Load::Propeller).then(|| (from.as_rad_s(), to.as_rad_s())),
                ..glide(1.0, load)
            },
            Segment::Overrun { from, .. } => Course {
                opening: 0.3,
                sweep: Some((from.as_rad_s(), 0.4 * from.as_rad_s())),
                ..glide(0.0, Load::Neutral)
            },
        }
    }

    /// The opening at which it runs steadily at this speed under this load: full throttle when it cannot reach it, the
    /// throttle left where it is when a brake holds the speed anyway.
    fn throttle_for(&self, speed: EngineSpeed, load: Load) -> f64 {
        if matches!(load, Load::Brake(_)) {
            return self.standing.throttle;
        }
        let speed = speed.as_rad_s();
        let wanted = self.plant.load_torque(load, speed);
        let spare = |x: f64| {
            let s = Standing { throttle: x, drift: 1.0, ..self.standing.clone() };
            self.plant.settle(&s, speed).map_or(-1e3, |p| self.plant.at(&s, speed, p).2.torque - wanted)
        };
        // the least opening that will do: a mixture hole further up must not catch the search
        let steps = 60;
        let opening = |i: i32| f64::from(i) / f64::from(steps);
        match (1..=steps).find(|i| spare(opening(*i)) > 0.0) {
            Some(i) => root(opening(i - 1), opening(i), 1e-4, spare).unwrap_or(0.0),
            None => 1.0,
        }
    }

    /// The opening that gives this vacuum at a speed held by a brake.
    fn throttle_for_vacuum(&self, speed: EngineSpeed, vacuum: Vacuum) -> f64 {
        let speed = speed.as_rad_s();
        let p = self.standing.pressure - vacuum.as_pa();
        let wanted =
            self.plant.drawn(&self.standing, speed, p, self.plant.residual(&self.standing, speed, p));
        let spare = |x: f64| {
            let s = Standing { throttle: x, ..self.standing.clone() };
            Plant::air(&s, &self.plant.openings(&s, speed), p).total() - wanted
        };
        root(0.0, 1.0, 1e-4, spare).unwrap_or(if spare(0.0) > 0.0 { 0.0 } else { 1.0 })
    }

    fn write_row(&mut self, out: &mut String, time: f64) {
        let (a, b, c) = (self.chance().normal(), self.chance().normal(), self.chance().normal());
        let m = &self.motion;
        let manifold = m.manifold + 180.0 * a;
        let vacuum = (self.standing.pressure - manifold) / 3386.389;
        let rpm = (self.speed_of().as_rpm() + 3.0 * b).max(0.0);
        let throttle = (100.0 * self.standing.throttle + 0.08 * c).clamp(0.0, 100.0);
        let lambda = if self.sensors.lambda > 0.0 && m.running {
            format!("{:.3}", self.sensors.lambda)
        } else {
            String::new()
        };
        let pressure = if m.running { self.standing.fuel_pressure * 1e-3 } else { 0.0 };
        // writing into a String cannot fail
        let _ = writeln!(
            out,
            "{time:.2},{rpm:.0},{vacuum:.2},{:.2},{throttle:.1},{lambda},{:.1},{pressure:.1}",
            manifold * 1e-3,
            self.standing.coolant,
        );
    }
}
