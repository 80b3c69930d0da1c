//! The engine running: time, chance, and the hands on it.

use super::build::{Built, build};
use super::character::{Character, HOT};
use super::loads::Load;
use super::plant::{Corners, MOST_CORNERS, Plant, Standing, WIDE_DEG};
use super::sensors::Sensors;
use crate::numeric::rng::Chance;
use crate::setup::{PartPath, PartSize, Setup};
use crate::units::{EngineSpeed, Temperature, TimeSpan, Turns};
use core::f64::consts::PI;

/// One step of the integration, seconds.
pub(super) const STEP: f64 = 0.01;
/// Below this it has stalled, rad/s (260 rpm).
pub(super) const STALL: f64 = 260.0 * PI / 30.0;

/// What moves from one moment to the next. SI.
#[derive(Debug, Clone)]
pub(super) struct Motion {
    pub(super) running: bool,
    pub(super) speed: f64,
    pub(super) manifold: f64,
    /// Fuel vapour in the manifold, by corner, kg.
    vapour: Corners,
    /// Fuel on the walls, by corner, kg.
    film: Corners,
    pub(super) valve_lift: f64,
    /// What the main nozzles really give, kg/s.
    main_fuel: f64,
    /// Where the pump's lever is, share of travel; fuel it has still to deliver, kg.
    pump_at: f64,
    pump_left: f64,
    pub(super) lambda: Corners,
    pub(super) misfire: f64,
    pub(super) residual: f64,
    pub(super) drawn: f64,
    pub(super) fuel: f64,
    /// Torque's cycle-to-cycle unrest, N m.
    unrest: f64,
}

/// An engine to practise on: it runs by the equations of [`super`], answers hands, and shows itself only through
/// gauges. The same setup, family, seed and hands give the same engine and the same readings.
///
/// [`VirtualEngine::new`] gives it *standing still*: [`VirtualEngine::start`] it first.
#[derive(Debug, Clone)]
pub struct VirtualEngine {
    pub(super) setup: Setup,
    pub(super) plant: Plant,
    pub(super) standing: Standing,
    pub(super) motion: Motion,
    pub(super) sensors: Sensors,
    chance: Chance,
    drift_size: f64,
    elapsed: f64,
    carried_over: f64,
    /// Where the idle-speed screw's slack lies, turns from its outer end.
    pub(super) slack: f64,
}

impl VirtualEngine {
    /// An engine of a family for a setup, standing still, drawn by `seed`.
    pub fn new(setup: &Setup, character: Character, seed: u64) -> Self {
        let mut chance = Chance::with_seed(seed ^ 0x9e37_79b9_7f4a_7c15);
        let Built { plant, standing, hidden } = build(setup, character, &mut chance);
        let mut setup = setup.clone();
        for (k, turns) in standing.turns.iter().enumerate() {
            let path = PartPath::IdleScrew(k as u8 + 1);
            if let Some(new) = setup.carburetor.with(path, PartSize::Turns(Turns::from_turns(*turns))) {
                setup.carburetor = new;
            }
        }
        let sensors = Sensors::new(&setup, hidden.needle, &mut chance);
        let motion = Motion {
            running: false,
            speed: 0.0,
            manifold: standing.pressure,
            vapour: [0.0; MOST_CORNERS],
            film: [0.0; MOST_CORNERS],
            valve_lift: 1.0,
            main_fuel: 0.0,
            pump_at: 0.0,
            pump_left: 0.0,
            lambda: [1.0; MOST_CORNERS],
            misfire: 0.0,
            residual: 0.0,
            drawn: 0.0,
            fuel: 0.0,
            unrest: 0.0,
        };
        let drift_size = hidden.drift;
        Self {
            setup,
            plant,
            standing,
            motion,
            sensors,
            chance,
            drift_size,
            elapsed: 0.0,
            carried_over: 0.0,
            slack: 0.0,
        }
    }

    /// The setup as it now stands, parts and screws as the hands have left them.
    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// Time since it was made.
    pub fn elapsed(&self) -> TimeSpan {
        TimeSpan::from_s(self.elapsed)
    }

    /// Whether it is running.
    pub fn is_running(&self) -> bool {
        self.motion.running
    }

    /// Cranks it; three seconds later it runs, or has died again. Does nothing to a running engine.
    pub fn start(&mut self) -> bool {
        if !self.motion.running {
            let guess = self.plant.steady(&self.standing);
            let m = &mut self.motion;
            m.running = true;
            m.speed = guess.map_or(0.7 * self.plant.idle, |x| x.speed);
            m.manifold = guess.map_or(0.6 * self.standing.pressure, |x| x.manifold);
            self.prime();
            self.advance(TimeSpan::from_s(3.0));
        }
        self.motion.running
    }

    /// Fills manifold and walls with the fuel they would hold in steady running.
    fn prime(&mut self) {
        let (plant, s, m) = (&self.plant, &self.standing, &mut self.motion);
        let open = plant.openings(s, m.speed);
        let air = Plant::air(s, &open, m.manifold);
        m.valve_lift = plant.valve_lift(s, m.manifold);
        let mains = plant.mains(s, air, m.valve_lift);
        m.main_fuel = mains.fuel;
        let fuel = plant.fuel(s, &open, m.manifold, mains);
        let held = plant.manifold * m.manifold / (287.05 * (s.temperature + 22.0));
        let on_walls = wetting(m.manifold / s.pressure, s.warmth()) * FILM_TIME;
        m.vapour = fuel.map(|f| f * held / air.total().max(1e-6));
        m.film = fuel.map(|f| f * on_walls);
    }

    /// Switches it off.
    pub fn stop(&mut self) {
        self.halt();
    }

    fn halt(&mut self) {
        let m = &mut self.motion;
        (m.running, m.speed, m.manifold, m.drawn, m.fuel) = (false, 0.0, self.standing.pressure, 0.0, 0.0);
    }

    /// Lets time pass.
    pub fn advance(&mut self, dt: TimeSpan) {
        self.carried_over += dt.as_s().max(0.0);
        while self.carried_over >= STEP - 1e-9 {
            self.carried_over -= STEP;
            self.step();
        }
    }

    fn step(&mut self) {
        self.elapsed += STEP;
        self.warm_and_drift();
        if self.motion.running {
            self.turn_over();
            if self.motion.speed < STALL {
                self.halt();
            }
        }
        self.sensors.step(&self.plant, &self.standing, &self.motion, &mut self.chance);
    }

    fn warm_and_drift(&mut self) {
        let s = &mut self.standing;
        let ambient = s.temperature - 273.15;
        let (toward, time) = if self.motion.running { (HOT + 6.0, 150.0) } else { (ambient, 3000.0) };
        s.coolant += (toward - s.coolant) * STEP / time;
        if self.motion.running {
            s.coolant = s.coolant.min(HOT);
        }
        // a slow wander with a memory of a minute and a half
        let pull = STEP / 90.0;
        s.drift += (1.0 - s.drift) * pull + self.drift_size * (2.0 * pull).sqrt() * self.chance.normal();
    }

    fn turn_over(&mut self) {
        let (plant, s, m) = (&self.plant, &self.standing, &mut self.motion);
        let n = plant.corner_count();
        let open = plant.openings(s, m.speed);
        let air = Plant::air(s, &open, m.manifold);
        let total = air.total();
        let target = plant.valve_lift(s, m.manifold);
        m.valve_lift += (target - m.valve_lift) * STEP / 0.12;
        // fuel in the main passages is heavier than air and comes after it
        let mut mains = plant.mains(s, air, m.valve_lift);
        m.main_fuel += (mains.fuel - m.main_fuel) * STEP / 0.10;
        mains.fuel = m.main_fuel;
        let mut fuel = plant.fuel(s, &open, m.manifold, mains);
        let shot = pump(plant, s, m);
        m.residual = plant.residual(s, m.speed, m.manifold);
        m.drawn = plant.drawn(s, m.speed, m.manifold, m.residual);

        // fuel: part lands on the walls and leaves them slowly, the rest rides with the air
        let hot_air = 287.05 * (s.temperature + 22.0);
        let held = plant.manifold * m.manifold / hot_air;
        let leaving = m.drawn / held.max(1e-9);
        let wet = wetting(m.manifold / s.pressure, s.warmth());
        let mut out = [0.0; MOST_CORNERS];
        m.fuel = 0.0;
        for k in 0..n {
            fuel[k] += shot / n as f64;
            m.fuel += fuel[k];
            let off_walls = m.film[k] / FILM_TIME;
            m.film[k] += (wet * fuel[k] - off_walls) * STEP;
            m.vapour[k] = (m.vapour[k] + ((1.0 - wet) * fuel[k] + off_walls) * STEP) / (1.0 + leaving * STEP);
            out[k] = m.vapour[k] * leaving;
        }
        let leak_share = if total > 0.0 { air.leak / total } else { 0.0 };
        m.lambda = plant.lambdas(s, m.drawn, leak_share, &out);

        // manifold: semi-implicit, because a wide throttle fills it faster than a step
        let slope_in = if m.manifold > 0.528 * s.pressure {
            0.5 * total / (s.pressure - m.manifold).max(20.0)
        } else {
            0.0
        };
        let slope = slope_in + m.drawn / m.manifold;
        let gain = hot_air / plant.manifold * STEP;
        m.manifold += gain * (total - m.drawn) / (1.0 + gain * slope);
        m.manifold = m.manifold.clamp(1e3, s.pressure - 1.0);

        let work = plant.work(s, m.speed, m.manifold, m.drawn, &m.lambda);
        m.misfire = work.misfire;
        self.unrest(work.torque, work.misfire);
        self.spin(work.torque);
    }

    /// Cycle-to-cycle unrest: firing pressures vary, more with burned gas and with every charge that fails to burn.
    fn unrest(&mut self, torque: f64, misfire: f64) {
        let m = &mut self.motion;
        let cylinders = f64::from(self.setup.engine.cylinders.max(1));
        let indicated = torque.abs() + 0.9e5 * self.plant.displacement / (4.0 * PI);
        let variation =
            0.03 + 0.5 * (m.residual - 0.2).max(0.0) + (misfire * (1.0 - misfire)).max(0.0).sqrt();
        let size = 0.6 * indicated * variation / cylinders.sqrt();
        let cycle = (4.0 * PI / m.speed.max(10.0)).max(2.0 * STEP);
        let pull = STEP / cycle;
        m.unrest += -m.unrest * pull + size * (2.0 * pull).sqrt() * self.chance.normal();
    }

    fn spin(&mut self, torque: f64) {
        let (plant, m) = (&self.plant, &mut self.motion);
        if let Load::Brake(speed) = self.standing.load {
            m.speed += (speed.as_rad_s() - m.speed) * STEP / 0.15;
            return;
        }
        let spare = torque + m.unrest - plant.load_torque(self.standing.load, m.speed);
        m.speed = (m.speed + spare / plant.inertia * STEP).clamp(0.0, 2.0 * plant.rated);
    }

    /// Coolant as it is, past every gauge.
    pub(super) fn coolant(&self) -> Temperature {
        Temperature::from_c(self.standing.coolant)
    }

    pub(super) fn chance(&mut self) -> &mut Chance {
        &mut self.chance
    }

    /// Throttle plate at rest, for the exposed slot.
    pub(super) fn plate_deg(&self) -> f64 {
        self.plant.plates(&self.standing, self.motion.speed).0.min(WIDE_DEG)
    }

    pub(super) fn speed_of(&self) -> EngineSpeed {
        EngineSpeed::from_rad_s(self.motion.speed)
    }
}

/// Time fuel stays on the walls, seconds.
const FILM_TIME: f64 = 0.35;

/// Share of the metered fuel that lands on the walls: more in a cold manifold and at little vacuum, where it does
/// not flash off. The film model is that of Aquino, SAE 810494 (1981), from memory; the shares are working values.
fn wetting(pressure_ratio: f64, warmth: f64) -> f64 {
    (0.10 + 0.30 * pressure_ratio.powi(2)) * (1.4 - 0.4 * warmth)
}

/// The pump follows the throttle when it opens and gives what it gathered through its nozzles.
fn pump(plant: &Plant, s: &Standing, m: &mut Motion) -> f64 {
    let Some(shot) = &plant.shot else { return 0.0 };
    let lever = (s.throttle - s.play).max(0.0);
    if lever > m.pump_at {
        m.pump_left += (lever - m.pump_at) * shot.stroke;
        m.pump_at = lever;
    } else {
        m.pump_at = m.pump_at.min(s.throttle);
    }
    let flow = shot.rate.min(m.pump_left / STEP);
    // what the nozzles do not pass in time leaks back past the piston
    m.pump_left = (m.pump_left - flow * STEP) * (1.0 - STEP / 0.3);
    flow
}
