//! Engines to hold the search against. They share nothing with it: one is a small mean-value engine (choked air,
//! mixture by corner, torque against mixture, friction), the other a plain family of lopsided power-law curves.

use leanbest::numeric::rng::Chance;

/// What kind of engine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Family {
    /// Smooth, small differences between corners.
    Mild,
    /// Large overlap: the needle and the tachometer shake.
    Lopey,
    /// Corners that want different settings and answer differently.
    Mismatched,
    /// One screw does nothing.
    Dead,
    /// Still warming: vacuum and speed rise by themselves.
    Warming,
    /// Screws far from where they should be.
    FarOff,
}

pub(crate) const FAMILIES: [Family; 6] =
    [Family::Mild, Family::Lopey, Family::Mismatched, Family::Dead, Family::Warming, Family::FarOff];

/// How an engine answers its screws.
#[derive(Debug, Clone)]
enum Answer {
    /// Mean-value: equivalence ratio by corner, torque, friction, choked air.
    MeanValue {
        seat: Vec<f64>,
        per_turn: Vec<f64>,
        saturation: f64,
        best: f64,
        rich: f64,
        lean: f64,
        spread: f64,
        cliff: (f64, f64),
        vacuum: f64,
        speed: f64,
    },
    /// Curves: fall = height * |x|^power, steeper on the lean side.
    Curves { height: Vec<f64>, power: f64, lean: f64, vacuum: f64, speed: f64, rpm_per_inhg: f64 },
}

/// One engine with its gauges.
#[derive(Debug, Clone)]
pub(crate) struct Engine {
    answer: Answer,
    /// Each screw's own top, turns.
    pub(crate) tops: Vec<f64>,
    mixing: f64,
    /// Screw that does nothing, if any.
    pub(crate) dead: Option<usize>,
    warm_rise: f64,
    warm_minutes: f64,
    vacuum_noise: f64,
    speed_noise: f64,
    wander: f64,
    read_to: f64,
    /// Highest vacuum when warm.
    pub(crate) highest: f64,
    /// Where the screws start.
    pub(crate) start: Vec<f64>,
    pub(crate) lopey: bool,
}

const AMBIENT_BAR: f64 = 1.0;
const INHG_PER_BAR: f64 = 29.53;

impl Engine {
    /// The `seed`th engine of a family with `n` screws.
    pub(crate) fn new(family: Family, n: usize, seed: u64) -> Self {
        let mut c =
            Chance::with_seed(seed.wrapping_mul(7919) + 104_729 * n as u64 + family as u64 * 1_000_003);
        let lopey = family == Family::Lopey;
        let usual = if n <= 2 { (0.8, 2.3) } else { (0.6, 1.6) };
        let start = if n <= 2 { 1.5 } else { 1.0 };
        let mean: f64 = if family == Family::FarOff {
            if c.uniform() < 0.4 { usual.0 - 0.05 } else { usual.1 + c.between(0.0, 0.3) }
        } else {
            usual.0 + (usual.1 - usual.0) * 0.5 * (c.uniform() + c.uniform())
        };
        let apart = if family == Family::Mismatched { 0.25 } else { 0.1 };
        let tops: Vec<f64> = (0..n).map(|_| (mean + apart * c.normal()).clamp(0.25, 3.5)).collect();
        let differ = if family == Family::Mismatched { 0.25 } else { 0.1 };
        let vacuum = if lopey { c.between(7.0, 12.0) } else { c.between(14.0, 20.0) };
        let speed = if lopey { c.between(850.0, 1050.0) } else { c.between(600.0, 800.0) };
        let answer = if seed.is_multiple_of(2) {
            let best = c.between(1.08, 1.16);
            let stretch: f64 = c.between(0.8, 1.4);
            let seat: Vec<f64> = tops.iter().map(|_| c.between(0.35, 0.7)).collect();
            let saturation = c.between(3.0, 8.0);
            let per_turn = tops
                .iter()
                .zip(&seat)
                .map(|(t, s)| stretch.min(2.0) * 0.0 + (best - s) / area(*t, saturation))
                .collect();
            Answer::MeanValue {
                seat,
                per_turn,
                saturation,
                best,
                rich: c.between(1.2, 2.6) * stretch,
                lean: c.between(3.5, 6.0) * stretch,
                spread: c.between(0.01, 0.04),
                cliff: (c.between(0.12, 0.25), c.between(5.0, 25.0)),
                vacuum,
                speed,
            }
        } else {
            let whole = c.between(2.5, 7.0) / n as f64;
            let power = c.between(1.7, 2.3);
            Answer::Curves {
                height: (0..n).map(|_| whole * (differ * c.normal()).exp()).collect(),
                power,
                lean: c.between(1.3, 3.0),
                vacuum,
                speed,
                rpm_per_inhg: c.between(25.0, 60.0),
            }
        };
        let mixing = if n == 1 { 0.0 } else { c.between(0.0, if n > 2 { 0.5 } else { 0.3 }) };
        let dead = (family == Family::Dead).then(|| (c.uniform() * n as f64) as usize);
        let mut engine = Self {
            answer,
            tops,
            mixing,
            dead,
            warm_rise: if family == Family::Warming { c.between(0.4, 1.4) } else { 0.0 },
            warm_minutes: c.between(2.0, 5.0),
            vacuum_noise: if lopey { c.between(0.12, 0.25) } else { c.between(0.03, 0.08) },
            speed_noise: if lopey { c.between(8.0, 18.0) } else { c.between(3.0, 7.0) },
            wander: if lopey { 0.04 } else { 0.02 },
            read_to: if c.uniform() < 0.5 { 0.1 } else { 0.25 },
            highest: 0.0,
            start: vec![start; n],
            lopey,
        };
        engine.highest = engine.find_highest();
        // Nobody starts a search on an engine that hardly runs: the screws were turned until it did.
        while engine.lost(&engine.start).is_none_or(|lost| lost > 0.25 * vacuum) {
            let toward = if mean > engine.start[0] { 0.125 } else { -0.125 };
            for t in &mut engine.start {
                *t += toward;
            }
            if (engine.start[0] - mean).abs() < 0.13 {
                break;
            }
        }
        engine
    }

    /// Mean torque share, 1 at the top (mean-value engine only), and steady vacuum and speed when warm.
    fn steady(&self, turns: &[f64]) -> Option<(f64, f64)> {
        match &self.answer {
            Answer::MeanValue {
                seat,
                per_turn,
                saturation,
                best,
                rich,
                lean,
                spread,
                cliff,
                vacuum,
                speed,
            } => {
                let phi: Vec<f64> = (0..turns.len())
                    .map(|i| {
                        if self.dead == Some(i) {
                            *best
                        } else {
                            seat[i] + per_turn[i] * area(turns[i], *saturation)
                        }
                    })
                    .collect();
                let mean = phi.iter().sum::<f64>() / phi.len() as f64;
                let mut torque = 0.0;
                for p in &phi {
                    let mixed = (1.0 - self.mixing) * p + self.mixing * mean;
                    for side in [-1.0, 1.0] {
                        torque += torque_share(mixed * (1.0 + side * spread), *best, *rich, *lean, *cliff);
                    }
                }
                torque /= 2.0 * phi.len() as f64;
                idle_balance(torque, *vacuum, *speed)
            }
            Answer::Curves { height, power, lean, vacuum, speed, rpm_per_inhg } => {
                let off: Vec<f64> = (0..turns.len())
                    .map(|i| if self.dead == Some(i) { 0.0 } else { turns[i] - self.tops[i] })
                    .collect();
                let mean = off.iter().sum::<f64>() / off.len() as f64;
                let fall: f64 = off
                    .iter()
                    .zip(height)
                    .map(|(x, h)| {
                        let x = (1.0 - self.mixing) * x + self.mixing * mean;
                        if x > 0.0 {
                            h * x.powf(*power) / (1.0 + 0.5 * x)
                        } else {
                            h * lean * (-x).powf(*power)
                        }
                    })
                    .sum();
                (fall < 0.4 * vacuum).then_some((vacuum - fall, speed - rpm_per_inhg * fall))
            }
        }
    }

    fn find_highest(&self) -> f64 {
        let mut at = self.tops.clone();
        let mut best = self.steady(&at).map_or(0.0, |s| s.0);
        let mut step = 0.25;
        while step > 0.004 {
            let mut moved = false;
            for i in 0..=at.len() {
                for by in [step, -step] {
                    let mut next = at.clone();
                    if i == at.len() {
                        for t in &mut next {
                            *t += by;
                        }
                    } else {
                        next[i] += by;
                    }
                    if let Some((v, _)) = self.steady(&next)
                        && v > best + 1e-9
                    {
                        best = v;
                        at = next;
                        moved = true;
                    }
                }
            }
            if !moved {
                step /= 2.0;
            }
        }
        best
    }

    /// Vacuum lost to the top when warm, inHg; `None` when the engine would not run there.
    pub(crate) fn lost(&self, turns: &[f64]) -> Option<f64> {
        self.steady(turns).map(|s| self.highest - s.0)
    }
}

/// Opening of a screw against its turns: the needle leaves the seat and then matters less and less.
fn area(turns: f64, saturation: f64) -> f64 {
    turns / (1.0 + turns / saturation)
}

/// Torque for the fuel burned, 1 at the best mixture: gentle on the rich side, steep on the lean, then misfire.
fn torque_share(phi: f64, best: f64, rich: f64, lean: f64, cliff: (f64, f64)) -> f64 {
    let x = phi - best;
    if x >= 0.0 {
        1.0 - rich * x * x / (1.0 + 0.8 * x)
    } else {
        let misfire = if x < -cliff.0 { cliff.1 * (x + cliff.0).powi(2) } else { 0.0 };
        (1.0 - lean * x * x - misfire).max(0.0)
    }
}

/// Speed and vacuum at which torque meets friction and pumping with the air choked at the throttle.
fn idle_balance(torque: f64, top_vacuum: f64, top_speed: f64) -> Option<(f64, f64)> {
    let top_map = AMBIENT_BAR - top_vacuum / INHG_PER_BAR;
    let friction = |rpm: f64| 0.85 + 0.25 * rpm / 1000.0;
    let gain = (friction(top_speed) + AMBIENT_BAR - top_map) / top_map;
    let surplus = |rpm: f64| {
        let map = (top_map * top_speed / rpm).min(AMBIENT_BAR);
        gain * torque * map - friction(rpm) - (AMBIENT_BAR - map)
    };
    let (mut low, mut high) = (0.55 * top_speed, 1.3 * top_speed);
    if surplus(low) <= 0.0 {
        return None;
    }
    for _ in 0..60 {
        let mid = 0.5 * (low + high);
        if surplus(mid) > 0.0 { low = mid } else { high = mid }
    }
    let map = top_map * top_speed / low;
    Some(((AMBIENT_BAR - map) * INHG_PER_BAR, low))
}

/// An engine being worked on: counts what is spent and remembers how good the setting was after each command.
#[derive(Debug, Clone)]
pub(crate) struct Bench {
    pub(crate) engine: Engine,
    pub(crate) turns: Vec<f64>,
    pub(crate) range: f64,
    pub(crate) commands: u32,
    pub(crate) readings: u32,
    pub(crate) stalls: u32,
    minutes: f64,
    wander: f64,
    chance: Chance,
    /// Cost so far and vacuum lost, after each command.
    pub(crate) track: Vec<(u32, f64)>,
}

impl Bench {
    pub(crate) fn new(engine: Engine, seed: u64) -> Self {
        let turns = engine.start.clone();
        let mut bench = Self {
            engine,
            turns,
            range: 4.0,
            commands: 0,
            readings: 0,
            stalls: 0,
            minutes: 0.0,
            wander: 0.0,
            chance: Chance::with_seed(seed ^ 0x5eed),
            track: Vec::new(),
        };
        bench.mark();
        bench
    }

    pub(crate) fn cost(&self) -> u32 {
        self.commands + self.readings
    }

    fn mark(&mut self) {
        let lost = self.engine.lost(&self.turns).unwrap_or(99.0);
        self.track.push((self.cost(), lost));
    }

    /// Turns some screws; false when the engine stalled (it is started again, the screws stay).
    pub(crate) fn turn_screws(&mut self, screws: &[usize], by: f64) -> bool {
        for &i in screws {
            self.turns[i] = (self.turns[i] + by).clamp(0.0, self.range);
        }
        self.commands += 1;
        self.minutes += 4.0 / 60.0;
        self.mark();
        let runs = self.engine.steady(&self.turns).is_some();
        if !runs {
            self.stalls += 1;
            self.minutes += 1.0;
        }
        runs
    }

    /// Reads the gauges after they have settled: vacuum to the fraction of a mark the eye can tell, speed to 10 rpm.
    pub(crate) fn read_gauges(&mut self) -> (f64, f64) {
        self.minutes += 10.0 / 60.0;
        self.readings += 1;
        self.mark();
        self.wander += self.engine.wander * self.chance.normal();
        let e = &self.engine;
        let (vacuum, speed) = e.steady(&self.turns).unwrap_or((3.0, 400.0));
        let cold = e.warm_rise * (-self.minutes / e.warm_minutes).exp();
        let v = vacuum - cold + self.wander + e.vacuum_noise * self.chance.normal();
        let s = speed - 40.0 * cold + 20.0 * self.wander + e.speed_noise * self.chance.normal();
        ((v / e.read_to).round() * e.read_to, (s / 10.0).round() * 10.0)
    }
}
