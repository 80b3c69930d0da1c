//! What the search and its rivals work on: something with screws to turn and gauges to read, that counts what is
//! spent and knows in secret how much vacuum is left on the table.

use super::engine::Bench;
use leanbest::bench::virtual_engine::{Gauges, VirtualEngine};
use leanbest::units::{EngineSpeed, Lambda, Temperature, TimeSpan, Turns};

/// What the gauges said.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Seen {
    pub(crate) vacuum: f64,
    pub(crate) speed: f64,
    pub(crate) lambda: Option<f64>,
    pub(crate) coolant: Option<f64>,
}

/// Screws, gauges and the count.
pub(crate) trait Rig {
    fn turns(&self) -> Vec<f64>;
    fn range(&self) -> f64;
    fn lopey(&self) -> bool;
    /// Speed at which it is to idle, rpm, where there is an idle-speed screw to bring it back with.
    fn idle_aim(&self) -> Option<f64>;
    /// Brings the speed back with the idle-speed screw: a turn and a reading.
    fn trim(&mut self, toward: f64);
    /// Turns some screws (from 0); false when the engine stalled, and runs again where the screws stand or does not.
    fn turn(&mut self, screws: &[usize], by: f64) -> bool;
    fn read(&mut self) -> Seen;
    fn cost(&self) -> u32;
    fn stalls(&self) -> u32;
    /// Vacuum left on the table after each command, with the cost then.
    fn track(&self) -> &[(u32, f64)];
    /// Screws that do nothing.
    fn dead(&self) -> Vec<usize>;
    /// Where the top lies now, turns out.
    fn best(&self) -> Vec<f64>;

    /// Vacuum left on the table now, inHg.
    fn lost(&self) -> f64 {
        self.track().last().map_or(99.0, |t| t.1)
    }

    /// Cost at which it came within `tolerance` of the top for good; `None` when it never did.
    fn cost_to_stay(&self, tolerance: f64) -> Option<u32> {
        match self.track().iter().rposition(|t| t.1 > tolerance) {
            None => Some(0),
            Some(i) => self.track().get(i + 1).map(|t| t.0),
        }
    }
}

impl Rig for Bench {
    fn turns(&self) -> Vec<f64> {
        self.turns.clone()
    }
    fn range(&self) -> f64 {
        self.range
    }
    fn lopey(&self) -> bool {
        self.engine.lopey
    }
    /// It answers its mixture screws and nothing else.
    fn idle_aim(&self) -> Option<f64> {
        None
    }
    fn trim(&mut self, _: f64) {}
    fn turn(&mut self, screws: &[usize], by: f64) -> bool {
        self.turn_screws(screws, by)
    }
    fn read(&mut self) -> Seen {
        let (vacuum, speed) = self.read_gauges();
        Seen { vacuum, speed, lambda: None, coolant: None }
    }
    fn cost(&self) -> u32 {
        self.commands + self.readings
    }
    fn stalls(&self) -> u32 {
        self.stalls
    }
    fn track(&self) -> &[(u32, f64)] {
        &self.track
    }
    fn dead(&self) -> Vec<usize> {
        self.engine.dead.into_iter().collect()
    }
    fn best(&self) -> Vec<f64> {
        self.engine.tops.clone()
    }
}

/// Looks at the gauges in one reading, a second apart. Common practice has the needle watched until it has moved less
/// than 0.2 inHg in five seconds, and the middle of its sway read; one instant of it is not a reading.
const LOOKS: u32 = 5;
/// Small moves of the idle-speed screw in one trim, three and a half seconds each: as long as a turn and a reading.
const TRIM_STEPS: u32 = 4;

/// The program's own virtual engine, which knows nothing of the search.
pub(crate) struct Rehearsal {
    engine: VirtualEngine,
    lopey: bool,
    /// The top is found anew at each command, because it moves as the engine warms.
    moves: bool,
    /// The idle speed was trimmed since the top was last found.
    trimmed: bool,
    best: f64,
    commands: u32,
    readings: u32,
    stalls: u32,
    track: Vec<(u32, f64)>,
    dead: Vec<usize>,
}

impl Rehearsal {
    /// Starts it, lets it settle; `None` when it will not run as found.
    pub(crate) fn new(mut engine: VirtualEngine, lopey: bool, moves: bool) -> Option<Self> {
        if !engine.start() {
            return None;
        }
        engine.advance(TimeSpan::from_s(20.0));
        let dead = (0..engine.screws().len()).filter(|&i| does_nothing(&engine, i)).collect();
        let mut rig = Self {
            engine,
            lopey,
            moves,
            trimmed: false,
            best: 0.0,
            commands: 0,
            readings: 0,
            stalls: 0,
            track: Vec::new(),
            dead,
        };
        rig.best = rig.engine.best_vacuum()?.vacuum.as_inhg();
        rig.mark();
        Some(rig)
    }

    fn mark(&mut self) {
        if self.moves || core::mem::take(&mut self.trimmed) {
            self.best = self.engine.best_vacuum().map_or(self.best, |b| b.vacuum.as_inhg());
        }
        let lost = self.engine.settled().map_or(99.0, |s| self.best - s.vacuum.as_inhg());
        self.track.push((self.commands + self.readings, lost));
    }
}

/// Does the vacuum stay where it is with the screw anywhere?
fn does_nothing(engine: &VirtualEngine, screw: usize) -> bool {
    let Some(here) = engine.settled() else { return false };
    [-1.0, 1.0].into_iter().all(|by| {
        let mut other = engine.clone();
        other.turn_screw(screw as u8 + 1, Turns::from_turns(by));
        other.settled().is_some_and(|s| (s.vacuum.as_inhg() - here.vacuum.as_inhg()).abs() < 0.02)
    })
}

impl Rig for Rehearsal {
    fn turns(&self) -> Vec<f64> {
        self.engine.screws().iter().map(|t| t.as_turns()).collect()
    }
    fn range(&self) -> f64 {
        4.0
    }
    fn lopey(&self) -> bool {
        self.lopey
    }
    fn idle_aim(&self) -> Option<f64> {
        self.engine.setup().engine.idle_speed.map(EngineSpeed::as_rpm)
    }
    /// As a hand and an ear do: a little, wait, a little more.
    fn trim(&mut self, toward: f64) {
        for _ in 0..TRIM_STEPS {
            let off = toward - self.engine.gauges().speed.as_rpm();
            if off.abs() < 15.0 {
                break;
            }
            self.engine.turn_idle_speed_screw(Turns::from_turns((off / 500.0).clamp(-0.25, 0.25)));
            self.engine.start();
            self.engine.advance(TimeSpan::from_s(3.5));
        }
        self.trimmed = true;
        self.commands += 1;
        self.readings += 1;
        self.mark();
    }
    fn turn(&mut self, screws: &[usize], by: f64) -> bool {
        for &i in screws {
            self.engine.turn_screw(i as u8 + 1, Turns::from_turns(by));
        }
        self.commands += 1;
        let runs = self.engine.start();
        self.engine.advance(TimeSpan::from_s(4.0));
        self.mark();
        let runs = runs && self.engine.is_running();
        self.stalls += u32::from(!runs);
        runs
    }
    /// Ten seconds: half of them to settle, and half to watch the needle sway and the tachometer waver, whose middle is
    /// what a person reads, to half a mark and to the tachometer's step.
    fn read(&mut self) -> Seen {
        self.engine.start();
        self.engine.advance(TimeSpan::from_s(10.0 - f64::from(LOOKS)));
        let looks: Vec<Gauges> = (0..LOOKS)
            .map(|_| {
                self.engine.advance(TimeSpan::from_s(1.0));
                self.engine.gauges()
            })
            .collect();
        self.readings += 1;
        self.mark();
        let middle = |of: &dyn Fn(&Gauges) -> f64, step: f64| {
            (looks.iter().map(of).sum::<f64>() / f64::from(LOOKS) / step).round() * step
        };
        let last = looks[looks.len() - 1];
        Seen {
            vacuum: middle(&|g| g.vacuum.as_inhg(), 0.25),
            speed: middle(&|g| g.speed.as_rpm(), 10.0),
            lambda: last.lambda.map(Lambda::as_ratio),
            coolant: Some(last.coolant.as_c()),
        }
    }
    fn cost(&self) -> u32 {
        self.commands + self.readings
    }
    fn stalls(&self) -> u32 {
        self.stalls
    }
    fn track(&self) -> &[(u32, f64)] {
        &self.track
    }
    fn dead(&self) -> Vec<usize> {
        self.dead.clone()
    }
    fn best(&self) -> Vec<f64> {
        self.engine.best_vacuum().iter().flat_map(|b| b.turns.iter().map(|t| t.as_turns())).collect()
    }
}

/// The typed form of what the gauges said.
pub(crate) fn reading(seen: Seen) -> leanbest::rules::balance::Reading {
    leanbest::rules::balance::Reading {
        vacuum: leanbest::units::Vacuum::from_inhg(seen.vacuum),
        speed: Some(EngineSpeed::from_rpm(seen.speed)),
        lambda: seen.lambda.map(Lambda::from_ratio),
        coolant: seen.coolant.map(Temperature::from_c),
    }
}
