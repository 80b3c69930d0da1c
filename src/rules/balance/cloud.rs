//! A cloud of engines that stands for what is known: drawn wide of the fits and brought to the posterior in stages,
//! weighed, resampled and spread by Metropolis steps at each (Del Moral, Doucet and Jasra 2006; the steps are
//! differences of other members, ter Braak 2006).

use super::engine::Engine;
use super::fit::{Channels, Fit};
use super::lower::dot;
use crate::numeric::rng::Chance;

/// Engines in the cloud.
const CLOUD: usize = 300;
/// Fewest that a hypothesis is given.
const FEWEST: usize = 20;
/// How much wider than the normal approximation the cloud begins.
const WIDE: f64 = 1.5;
/// Stages at most.
const STAGES: usize = 7;
/// Metropolis steps at each stage, and more of them at the last: with few unknowns, and with many. Too few leave the
/// cloud surer than the readings are.
const STEPS: (usize, usize) = (1, 3);
const STEPS_MANY: (usize, usize) = (2, 14);
/// Readings up to which many are taken: beyond, each costs more, and the readings themselves hold the cloud together.
const READINGS_MANY: usize = 48;

/// One engine of the cloud.
#[derive(Debug, Clone)]
pub(super) struct Possible {
    /// The engine.
    pub engine: Engine,
    /// Its weight; all sum to one.
    pub weight: f64,
    /// Screws that do nothing in it.
    pub dead: u16,
    /// How far below its top it stood at each vacuum reading, inHg.
    pub falls: Vec<f64>,
}

/// Draws the cloud.
pub(super) fn draw(channels: &Channels<'_>, fits: &[Fit]) -> Vec<Possible> {
    let best = fits.iter().map(|f| f.ln_evidence).fold(f64::NEG_INFINITY, f64::max);
    let likely: Vec<&Fit> = fits.iter().filter(|f| f.ln_evidence > best - 7.0).collect();
    // Half the engines are shared out evenly, so that a hypothesis the normal approximation slights is heard.
    let shares: Vec<f64> = likely.iter().map(|f| (f.ln_evidence - best).exp()).collect();
    let total: f64 = shares.iter().sum();
    // The same deviates every time: a fixed set of points, not chance.
    let mut points = Chance::with_seed(0x00ba_1a9c_e5ee_d000);
    let mut members = Vec::new();
    for (place, (fit, share)) in likely.iter().zip(&shares).enumerate() {
        let part = 0.5 * share / total + 0.5 / likely.len() as f64;
        let count = ((CLOUD as f64 * part).round() as usize).max(FEWEST);
        for _ in 0..count {
            members.push(channels.wide(fit, place, count, &mut points));
        }
    }
    let mut smc = Stages { channels, fits: &likely, members, points };
    smc.run();
    smc.cloud()
}

/// One engine on its way into the cloud.
#[derive(Clone)]
struct Member {
    z: Vec<f64>,
    /// Which fit it was drawn about.
    place: usize,
    /// Log density of where it was drawn from, and of the posterior, there.
    drawn: f64,
    says: f64,
    /// Logarithm of its weight.
    weight: f64,
    engine: Engine,
    falls: Vec<f64>,
}

impl Channels<'_> {
    fn member(&self, z: Vec<f64>, fit: &Fit, place: usize) -> Member {
        let engine = Engine::from_deviates(self.prior, &z, fit.dead);
        let falls = self.falls(&engine);
        let says = fit.ln_chance - self.cost_of(&z, &engine, &falls);
        Member { drawn: fit.wide_density(&z), says, weight: 0.0, z, place, engine, falls }
    }

    fn wide(&self, fit: &Fit, place: usize, count: usize, points: &mut Chance) -> Member {
        let mut step: Vec<f64> = fit.at.iter().map(|_| WIDE * points.normal()).collect();
        fit.precision.backward(&mut step);
        let z = step.iter().zip(&fit.at).map(|(s, z)| s + z).collect();
        let mut member = self.member(z, fit, place);
        member.weight = -(count as f64).ln();
        member
    }
}

impl Fit {
    /// Log density of the wide normal about this fit, without the constant that all share.
    fn wide_density(&self, z: &[f64]) -> f64 {
        let off: Vec<f64> = z.iter().zip(&self.at).map(|(z, a)| z - a).collect();
        0.5 * self.precision.ln_det()
            - 0.5 * self.precision.squared(&off) / WIDE.powi(2)
            - z.len() as f64 * WIDE.ln()
    }
}

struct Stages<'a> {
    channels: &'a Channels<'a>,
    fits: &'a [&'a Fit],
    members: Vec<Member>,
    points: Chance,
}

impl Stages<'_> {
    /// From the wide draw (0) to the posterior (1).
    fn run(&mut self) {
        let mut reached = 0.0;
        for stage in 1..=STAGES {
            let next = if stage == STAGES { 1.0 } else { self.next(reached) };
            for m in &mut self.members {
                m.weight += (next - reached) * (m.says - m.drawn);
            }
            reached = next;
            self.resample();
            let many = self.channels.prior.n > 2 && self.channels.vacuum.seen.len() <= READINGS_MANY;
            let steps = if many { STEPS_MANY } else { STEPS };
            let steps = if reached >= 1.0 { steps.1 } else { steps.0 };
            for _ in 0..steps {
                self.step(reached);
            }
            if reached >= 1.0 {
                break;
            }
        }
    }

    /// The furthest stage at which half of the members still count.
    fn next(&self, reached: f64) -> f64 {
        let enough = 0.4 * self.members.len() as f64;
        let counts = |to: f64| {
            let logs: Vec<f64> =
                self.members.iter().map(|m| m.weight + (to - reached) * (m.says - m.drawn)).collect();
            let weights = relative(&logs);
            let sum: f64 = weights.iter().sum();
            sum * sum / dot(&weights, &weights)
        };
        if counts(1.0) >= enough {
            return 1.0;
        }
        let (mut low, mut high) = (reached, 1.0);
        for _ in 0..12 {
            let mid = 0.5 * (low + high);
            if counts(mid) >= enough { low = mid } else { high = mid }
        }
        low.max(reached + 1e-3).min(1.0)
    }

    /// As many members as before, each as often as its weight says; weights become even.
    fn resample(&mut self) {
        let logs: Vec<f64> = self.members.iter().map(|m| m.weight).collect();
        let weights = relative(&logs);
        let count = self.members.len();
        let step = weights.iter().sum::<f64>() / count as f64;
        let (mut next, mut passed) = (0.5 * step, 0.0);
        let mut chosen: Vec<Member> = Vec::with_capacity(count);
        for (member, w) in self.members.iter().zip(&weights) {
            passed += w;
            while next < passed && chosen.len() < count {
                chosen.push(Member { weight: 0.0, ..member.clone() });
                next += step;
            }
        }
        if !chosen.is_empty() {
            self.members = chosen;
        }
    }

    /// One Metropolis step of each member by the difference of two others of its fit.
    fn step(&mut self, reached: f64) {
        let mut from = 0;
        while from < self.members.len() {
            let place = self.members[from].place;
            let to = from + self.members[from..].iter().take_while(|m| m.place == place).count();
            let dims = self.members[from].z.len();
            for i in from..to {
                let other = |points: &mut Chance| {
                    from + ((points.uniform() * (to - from) as f64) as usize).min(to - from - 1)
                };
                let (a, b) = (other(&mut self.points), other(&mut self.points));
                let reach = if self.points.uniform() < 0.15 {
                    1.0
                } else {
                    2.0 / (2.0 * dims as f64).sqrt() * (0.4 + self.points.uniform())
                };
                let mut dust: Vec<f64> = (0..dims).map(|_| 0.12 * self.points.normal()).collect();
                let fit = self.fits[place];
                fit.precision.backward(&mut dust);
                let z: Vec<f64> = (0..dims)
                    .map(|k| {
                        self.members[i].z[k] + reach * (self.members[a].z[k] - self.members[b].z[k]) + dust[k]
                    })
                    .collect();
                let next = self.channels.member(z, fit, place);
                let level = |m: &Member| (1.0 - reached) * m.drawn + reached * m.says;
                if (level(&next) - level(&self.members[i])).exp() > self.points.uniform() {
                    self.members[i] = next;
                }
            }
            from = to;
        }
    }

    fn cloud(self) -> Vec<Possible> {
        let each = 1.0 / self.members.len().max(1) as f64;
        let fits = self.fits;
        self.members
            .into_iter()
            .map(|m| Possible { engine: m.engine, weight: each, dead: fits[m.place].dead, falls: m.falls })
            .collect()
    }
}

/// Weights whose logarithms these are, the largest one.
fn relative(logs: &[f64]) -> Vec<f64> {
    let highest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    logs.iter().map(|l| (l - highest).exp()).collect()
}
