//! The gauges: damped, marked coarsely, unsteady, late.

use super::engine::{Motion, STEP, VirtualEngine};
use super::plant::{Plant, Standing};
use crate::numeric::rng::Chance;
use crate::setup::Setup;
use crate::units::{EngineSpeed, Lambda, PressureDifference, Temperature, Vacuum};
use std::collections::VecDeque;

/// What the gauges show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gauges {
    /// Manifold vacuum, read to half a mark.
    pub vacuum: Vacuum,
    /// Tachometer, to its step.
    pub speed: EngineSpeed,
    /// Wideband sensor, when one is fitted and the engine has run long enough to reach it.
    pub lambda: Option<Lambda>,
    /// Coolant, to a degree.
    pub coolant: Temperature,
    /// Fuel pressure, to a tenth of a psi.
    pub fuel_pressure: PressureDifference,
}

/// Gas on its way to the sensor.
#[derive(Debug, Clone, Copy)]
struct Parcel {
    /// Exhaust volume passed since the start when it left the ports, m3.
    at: f64,
    lambda: f64,
}

#[derive(Debug, Clone)]
pub(super) struct Sensors {
    mark: f64,
    speed_step: f64,
    fitted: bool,
    time_constant: f64,
    pipe: f64,
    half_exhaust: bool,
    /// A sensor nobody vouches for reads a few per cent off.
    bias: f64,
    needle: f64,
    needle_unrest: f64,
    needle_size: f64,
    tach: f64,
    passed: f64,
    pipe_gas: VecDeque<Parcel>,
    at_sensor: f64,
    pub(super) lambda: f64,
}

impl Sensors {
    pub(super) fn new(setup: &Setup, needle_size: f64, chance: &mut Chance) -> Self {
        let sensor = setup.instruments.lambda.as_ref();
        let off = chance.normal().clamp(-2.0, 2.0);
        Self {
            mark: setup.instruments.vacuum_mark.as_pa().max(1.0),
            speed_step: setup.instruments.speed_step.as_rad_s().max(1e-6),
            fitted: sensor.is_some(),
            time_constant: sensor.map_or(0.1, |l| l.time_constant.as_s()).max(STEP),
            pipe: sensor.and_then(|l| l.pipe_volume).map_or(3e-3, crate::units::Volume::as_m3),
            half_exhaust: sensor.is_some_and(|l| l.share_of_exhaust.as_ratio() < 0.75),
            bias: 1.0 + if sensor.is_some_and(|l| l.trusted) { 0.004 } else { 0.02 } * off,
            needle: 0.0,
            needle_unrest: 0.0,
            needle_size,
            tach: 0.0,
            passed: 0.0,
            pipe_gas: VecDeque::new(),
            at_sensor: 0.0,
            lambda: 0.0,
        }
    }

    pub(super) fn step(&mut self, plant: &Plant, s: &Standing, m: &Motion, chance: &mut Chance) {
        // the gauge's restrictor and its own unrest; a long cam shakes it
        let vacuum = s.pressure - m.manifold;
        self.needle += (vacuum - self.needle) * STEP / 0.5;
        self.tach += (m.speed - self.tach) * STEP / 0.25;
        let shake =
            if m.running { self.needle_size * (1.0 + 22.0 * (m.residual - 0.22).max(0.0)) } else { 0.0 };
        let pull = STEP / 0.4;
        self.needle_unrest += -self.needle_unrest * pull + shake * (2.0 * pull).sqrt() * chance.normal();
        if self.fitted && m.running {
            self.exhaust(plant, s, m, chance);
        }
        if !m.running {
            self.pipe_gas.clear();
            self.at_sensor = 0.0;
        }
    }

    fn exhaust(&mut self, plant: &Plant, s: &Standing, m: &Motion, chance: &mut Chance) {
        let flow = (m.drawn + m.fuel).max(1e-6);
        let hot = 620.0 + 330.0 * (m.drawn / plant.rated_air).min(1.0);
        let volume = flow * 287.0 * hot / s.pressure;
        self.passed += volume * STEP;
        self.pipe_gas.push_back(Parcel {
            at: self.passed,
            lambda: self.leaving(plant, m) * (1.0 + s.exhaust_leak / flow),
        });
        // three quarters of a cycle from filling to the exhaust valve, then the pipe
        let wait = volume * 0.75 * 4.0 * core::f64::consts::PI / m.speed.max(10.0);
        let due = self.passed - self.pipe - wait;
        while let Some(parcel) = self.pipe_gas.front().copied().filter(|p| p.at <= due) {
            self.at_sensor = parcel.lambda;
            self.pipe_gas.pop_front();
        }
        if self.at_sensor > 0.0 {
            let seen = (self.at_sensor * self.bias).clamp(0.62, 1.70);
            let first = self.lambda <= 0.0;
            self.lambda += (seen - self.lambda) * if first { 1.0 } else { STEP / self.time_constant };
            self.lambda += 0.0012 * (1.0 + 4.0 * m.misfire) * chance.normal();
        }
    }

    /// What the sensor would read of the gas now leaving: it sees oxygen, so charges that did not burn, and fresh
    /// charge swept through at overlap, read lean whatever their mixture.
    fn leaving(&self, plant: &Plant, m: &Motion) -> f64 {
        let (mut air, mut fuel) = (0.0, 0.0);
        for k in (0..plant.corner_count()).filter(|k| !self.half_exhaust || k % 2 == 0) {
            air += plant.air_share[k];
            fuel += plant.air_share[k] / m.lambda[k].max(0.05);
        }
        let through = 0.10 * (m.residual - 0.30).max(0.0);
        air / fuel * (1.0 / (1.0 - m.misfire.min(0.5))) * (1.0 + through)
    }
}

impl VirtualEngine {
    /// Reads the gauges as a person does.
    pub fn gauges(&mut self) -> Gauges {
        let (parallax, jitter, mark) = (self.chance().normal(), self.chance().normal(), self.sensors.mark);
        let x = &self.sensors;
        let half = 0.5 * mark;
        let needle = (x.needle + x.needle_unrest + 0.12 * mark * parallax).max(0.0);
        let running = self.is_running();
        let speed = if running { (x.tach + 0.25 * jitter).max(0.0) } else { x.tach.max(0.0) };
        let psi = 6894.757;
        Gauges {
            vacuum: Vacuum::from_pa((needle / half).round() * half),
            speed: EngineSpeed::from_rad_s((speed / x.speed_step).round() * x.speed_step),
            lambda: Some(x.lambda)
                .filter(|l| x.fitted && running && *l > 0.0)
                .map(|l| Lambda::from_ratio((l * 100.0).round() / 100.0)),
            coolant: Temperature::from_c(self.coolant().as_c().round()),
            fuel_pressure: PressureDifference::from_pa(if running {
                (10.0 * self.standing.fuel_pressure / psi).round() / 10.0 * psi
            } else {
                0.0
            }),
        }
    }
}
