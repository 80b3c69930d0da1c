//! A cloud of engines that stands for what is known: drawn wide of the fits and brought to the posterior in stages,
//! weighed, resampled and spread by Metropolis steps at each (Del Moral, Doucet and Jasra 2006): toward fresh draws about
//! the fit, and by differences of other members (ter Braak 2006).

use super::engine::Engine;
use super::fit::{Channels, Fit};
use super::lower::dot;
use crate::numeric::alike::{exp, ln};
use crate::numeric::rng::Chance;

/// Engines in the cloud.
const CLOUD: usize = 300;
/// Fewest that a hypothesis is given.
const FEWEST: usize = 20;
/// How much wider than the normal approximation the cloud begins.
const WIDE: f64 = 1.5;
/// Stages at most.
const STAGES: usize = 7;
/// Metropolis steps at each stage, and more of them at the last. Too few leave the cloud surer than the readings are.
const STEPS: (usize, usize) = (2, 14);
/// Places read up to which so many are taken: each costs more with more of them, and the readings themselves hold the
/// cloud together; and the fewest that are.
const PLACES: usize = 20;
const FEWEST_STEPS: usize = 4;
/// Share of the steps that go part of the way to a fresh draw about the fit, and how much wider than the normal
/// approximation that is. They go far where the posterior is nearly normal; the others do not need it to be.
const FRESH_SHARE: f64 = 0.8;
const FRESH: f64 = 1.2;

/// One engine of the cloud.
#[derive(Debug, Clone)]
pub(super) struct Possible {
    /// The engine.
    pub engine: Engine,
    /// Its weight; all sum to one.
    pub weight: f64,
    /// Screws that do nothing in it.
    pub dead: u16,
    /// How far below its top it stood at each setting read, inHg.
    pub falls: Vec<f64>,
}

/// Draws the cloud.
pub(super) fn draw(channels: &Channels<'_>, fits: &[Fit]) -> Vec<Possible> {
    let best = fits.iter().map(|f| f.ln_evidence).fold(f64::NEG_INFINITY, f64::max);
    let likely: Vec<&Fit> = fits.iter().filter(|f| f.ln_evidence > best - 7.0).collect();
    // Half the engines are shared out evenly, so that a hypothesis the normal approximation slights is heard.
    let shares: Vec<f64> = likely.iter().map(|f| exp(f.ln_evidence - best)).collect();
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
    /// How far from its fit, in spreads, squared.
    off: f64,
    /// Logarithm of its weight.
    weight: f64,
    engine: Engine,
    falls: Vec<f64>,
}

impl Member {
    /// Log density that far from the wide draw (0) to the posterior (1).
    fn level(&self, reached: f64) -> f64 {
        (1.0 - reached) * self.drawn + reached * self.says
    }
}

impl Channels<'_> {
    fn member(&self, z: Vec<f64>, fit: &Fit, place: usize) -> Member {
        let engine = Engine::from_deviates(self.prior, &z, fit.dead);
        let falls = self.falls(&engine);
        let says = fit.ln_chance - self.cost_of(&z, &engine, &falls);
        let off = fit.off(&z);
        Member { drawn: fit.wide_density(off), says, off, weight: 0.0, z, place, engine, falls }
    }

    fn wide(&self, fit: &Fit, place: usize, count: usize, points: &mut Chance) -> Member {
        let mut step: Vec<f64> = fit.at.iter().map(|_| WIDE * points.normal()).collect();
        fit.precision.backward(&mut step);
        let z = step.iter().zip(&fit.at).map(|(s, z)| s + z).collect();
        let mut member = self.member(z, fit, place);
        member.weight = -ln(count as f64);
        member
    }
}

impl Fit {
    /// How far from this fit, in spreads, squared.
    fn off(&self, z: &[f64]) -> f64 {
        let off: Vec<f64> = z.iter().zip(&self.at).map(|(z, a)| z - a).collect();
        self.precision.squared(&off)
    }

    /// Log density of the wide normal about this fit so far off, without the constants that all share.
    fn wide_density(&self, off: f64) -> f64 {
        0.5 * (self.ln_det - off / WIDE.powi(2))
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
            let most = STEPS.1.min(STEPS.1 * PLACES / self.channels.past.places.len().max(1));
            let steps = if reached >= 1.0 { most.max(FEWEST_STEPS) } else { STEPS.0 };
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

    /// One Metropolis step of each member, among those of its fit.
    fn step(&mut self, reached: f64) {
        let mut from = 0;
        while from < self.members.len() {
            let place = self.members[from].place;
            let to = from + self.members[from..].iter().take_while(|m| m.place == place).count();
            for i in from..to {
                if self.points.uniform() < FRESH_SHARE {
                    self.step_afresh(i, reached);
                } else {
                    self.step_by_others(i, from..to, reached);
                }
            }
            from = to;
        }
    }

    /// Part of the way to a fresh draw about the fit (Neal 1998; Cotter, Roberts, Stuart and White 2013).
    fn step_afresh(&mut self, i: usize, reached: f64) {
        let fit = self.fits[self.members[i].place];
        let kept = 0.3 + 0.65 * self.points.uniform();
        let part = FRESH * (1.0 - kept * kept).sqrt();
        let mut z: Vec<f64> = fit.at.iter().map(|_| part * self.points.normal()).collect();
        fit.precision.backward(&mut z);
        for ((z, own), centre) in z.iter_mut().zip(&self.members[i].z).zip(&fit.at) {
            *z += centre + kept * (own - centre);
        }
        self.take_or_leave(i, z, |m| m.level(reached) + 0.5 * m.off / FRESH.powi(2));
    }

    /// By the difference of two others.
    fn step_by_others(&mut self, i: usize, others: core::ops::Range<usize>, reached: f64) {
        let other = |points: &mut Chance| {
            others.start + ((points.uniform() * others.len() as f64) as usize).min(others.len() - 1)
        };
        let (a, b) = (other(&mut self.points), other(&mut self.points));
        let dims = self.members[i].z.len();
        let reach = if self.points.uniform() < 0.15 {
            1.0
        } else {
            2.0 / (2.0 * dims as f64).sqrt() * (0.4 + self.points.uniform())
        };
        let mut z: Vec<f64> = (0..dims).map(|_| 0.12 * self.points.normal()).collect();
        self.fits[self.members[i].place].precision.backward(&mut z);
        for (k, z) in z.iter_mut().enumerate() {
            *z += self.members[i].z[k] + reach * (self.members[a].z[k] - self.members[b].z[k]);
        }
        self.take_or_leave(i, z, |m| m.level(reached));
    }

    fn take_or_leave(&mut self, i: usize, z: Vec<f64>, level: impl Fn(&Member) -> f64) {
        let place = self.members[i].place;
        let next = self.channels.member(z, self.fits[place], place);
        if exp(level(&next) - level(&self.members[i])) > self.points.uniform() {
            self.members[i] = next;
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
    logs.iter().map(|l| exp(l - highest)).collect()
}
