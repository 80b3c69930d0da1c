//! What a next reading would be worth: the expected fall in what is still lost at the best setting known.

use super::engine::{Engine, Setting};
use super::merged::Carried;
use super::past::{Past, Seen};
use super::posterior::Posterior;
use super::prior::{MAX, Prior};

/// Vacuum that a hand and a common gauge can still tell apart near the top, inHg: what "on the top" means.
pub(super) const ON_TOP: f64 = 0.1;

/// Worth of knowing for certain whether a screw does anything, inHg for a unit of variance of the answer.
const DEAD_DOUBT: f64 = 0.15;

/// A setting with what is expected of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stand {
    /// Where.
    pub at: Setting,
    /// Expected vacuum lost there, inHg.
    pub loss: f64,
    /// Chance that more than [`ON_TOP`] is lost there.
    pub off: f64,
}

/// A next setting to read at, and what that is worth.
#[derive(Debug, Clone, Copy)]
pub(super) struct Probe {
    /// Where to read.
    pub at: Setting,
    /// Expected fall of the loss, inHg.
    pub gain: f64,
    /// Worth of what it tells about dead screws, inHg.
    pub doubt: f64,
    /// Gain for each unit of cost.
    pub rate: f64,
}

/// A setting, and how far each engine of the cloud would stand below its top there.
#[derive(Debug, Clone)]
pub(super) struct Weighed {
    /// Where.
    pub at: Setting,
    /// inHg, in the order of the cloud.
    pub falls: Vec<f64>,
    /// Their mean.
    pub mean: f64,
}

/// Works on one posterior.
pub(super) struct Scales<'a> {
    prior: &'a Prior,
    posterior: &'a Posterior,
    past: &'a Past,
    mark: f64,
    range: f64,
    /// The setting of the last reading.
    pub anchor: Weighed,
}

impl<'a> Scales<'a> {
    /// For this posterior, with this smallest turn and range of the screws.
    pub(super) fn new(
        prior: &'a Prior,
        posterior: &'a Posterior,
        past: &'a Past,
        mark: f64,
        range: f64,
    ) -> Self {
        let anchor = weighed(posterior, past.anchor);
        Self { prior, posterior, past, mark, range, anchor }
    }

    /// What the cloud makes of a setting.
    pub(super) fn weighed(&self, at: Setting) -> Weighed {
        weighed(self.posterior, at)
    }

    /// What is expected of a setting.
    pub(super) fn stand(&self, at: Setting) -> Stand {
        let (mut loss, mut off) = (0.0, 0.0);
        for p in &self.posterior.cloud {
            let fall = self.recoverable(&p.engine, &at);
            loss += p.weight * fall;
            if fall > ON_TOP {
                off += p.weight;
            }
        }
        Stand { at, loss, off }
    }

    /// Vacuum lost at a setting that turning could win back: what a stuck screw costs is not counted.
    fn recoverable(&self, engine: &Engine, at: &Setting) -> f64 {
        let fall = engine.fall(at);
        if self.past.stuck == 0 {
            return fall;
        }
        let mut best = *at;
        for i in (0..self.prior.n).filter(|&i| self.movable(i)) {
            best[i] = engine.top[i];
        }
        (fall - engine.fall(&best)).max(0.0)
    }

    fn movable(&self, i: usize) -> bool {
        self.past.stuck >> i & 1 == 0
    }

    /// `from` with some screws moved by whole marks, kept within the range; `None` when a screw cannot go there.
    pub(super) fn moved(&self, from: &Setting, screws: &[usize], by: f64) -> Option<Setting> {
        let mut at = *from;
        for &i in screws {
            at[i] += by;
            if !self.movable(i) || at[i] < -1e-9 || at[i] > self.range + 1e-9 {
                return None;
            }
        }
        Some(at)
    }

    /// The setting that loses least, on the marks that can be reached from where the screws stand at the anchor.
    /// Even settings are preferred when they lose no more than the gauge could show.
    pub(super) fn best(&self) -> Stand {
        let n = self.prior.n;
        let all: Vec<usize> = (0..n).filter(|&i| self.movable(i)).collect();
        let mut start = self.past.anchor;
        for &i in &all {
            let centre: f64 = self.posterior.cloud.iter().map(|p| p.weight * p.engine.top[i]).sum();
            start[i] = self.on_mark(start[i], centre);
        }
        let mut best = self.descend(self.stand(start), &all);
        let here = self.descend_from_here(&all);
        if here.loss < best.loss {
            best = here;
        }
        best
    }

    fn on_mark(&self, from: f64, target: f64) -> f64 {
        let mut at = from + ((target - from) / self.mark).round() * self.mark;
        while at < -1e-9 {
            at += self.mark;
        }
        while at > self.range + 1e-9 {
            at -= self.mark;
        }
        at
    }

    fn descend_from_here(&self, all: &[usize]) -> Stand {
        self.descend(self.stand(self.past.anchor), all)
    }

    fn descend(&self, mut best: Stand, all: &[usize]) -> Stand {
        for _ in 0..40 {
            let mut next = best;
            let mut try_move = |screws: &[usize], by: f64| {
                if let Some(at) = self.moved(&best.at, screws, by) {
                    let stand = self.stand(at);
                    if stand.loss < next.loss - 1e-9 {
                        next = stand;
                    }
                }
            };
            for by in [self.mark, -self.mark] {
                for i in all {
                    try_move(&[*i], by);
                }
                try_move(all, by);
            }
            if next.loss >= best.loss {
                break;
            }
            best = next;
        }
        best
    }

    /// Number of turn commands between two settings: screws that move by the same amount move together.
    pub(super) fn commands(&self, from: &Setting, to: &Setting) -> usize {
        groups(self.prior.n, from, to).len()
    }

    /// Worth of reading at each of `settings`.
    pub(super) fn worth(&self, settings: &[Weighed], best: &Stand) -> Vec<Probe> {
        let cloud = &self.posterior.cloud;
        let n = self.prior.n;
        let (tops, mean) = self.tops();
        let hessian = self.hessian();
        let mut unexplained = 0.0;
        for (p, top) in cloud.iter().zip(&tops) {
            for i in 0..n {
                for j in 0..n {
                    unexplained += 0.5 * p.weight * hessian[i][j] * (top[i] - mean[i]) * (top[j] - mean[j]);
                }
            }
        }
        // The parabola is an approximation; it is scaled to the loss that the cloud really expects.
        let scale = if unexplained > 1e-9 { (best.loss / unexplained).clamp(0.2, 5.0) } else { 1.0 };
        settings
            .iter()
            .map(|setting| {
                let at = &setting.at;
                let commands = self.commands(&self.past.stands, at);
                let seen = self.foresee(setting, commands);
                let (gain, doubt) = self.gain(&seen, scale, &tops, &mean, &hessian);
                let cost = commands as f64 + 1.0;
                let back = self.commands(at, &best.at) as f64;
                let cost_in_all = cost + 0.7 * back;
                Probe { at: *at, gain, doubt, rate: (gain + doubt) / cost_in_all }
            })
            .collect()
    }

    /// Expected fall of the parabolic loss from a reading at `at`: the linear update of the tops by the two channels.
    fn gain(
        &self,
        (seen, noise): &(Vec<[f64; 2]>, [f64; 2]),
        scale: f64,
        tops: &[Setting],
        mean: &Setting,
        hessian: &[Setting; MAX],
    ) -> (f64, f64) {
        let n = self.prior.n;
        let cloud = &self.posterior.cloud;
        let mut average = [0.0; 2];
        for (p, y) in cloud.iter().zip(seen) {
            average[0] += p.weight * y[0];
            average[1] += p.weight * y[1];
        }
        let (mut a, mut b, mut d) = (noise[0], 0.0, noise[1]);
        let mut cross = [[0.0; 2]; MAX];
        let mut idle = [[0.0; 2]; MAX];
        for ((p, y), top) in cloud.iter().zip(seen).zip(tops) {
            let (u, v) = (y[0] - average[0], y[1] - average[1]);
            a += p.weight * u * u;
            b += p.weight * u * v;
            d += p.weight * v * v;
            for i in 0..n {
                let off = p.weight * (top[i] - mean[i]);
                cross[i][0] += off * u;
                cross[i][1] += off * v;
                if p.dead >> i & 1 == 1 {
                    idle[i][0] += p.weight * u;
                    idle[i][1] += p.weight * v;
                }
            }
        }
        let det = a * d - b * b;
        if det <= 1e-12 {
            return (0.0, 0.0);
        }
        let mut sum = 0.0;
        let mut doubt = 0.0;
        for i in 0..n {
            let x = idle[i];
            doubt += (d * x[0] * x[0] - 2.0 * b * x[0] * x[1] + a * x[1] * x[1]) / det;
            for j in 0..n {
                let (x, y) = (cross[i], cross[j]);
                let known = (d * x[0] * y[0] - b * (x[0] * y[1] + x[1] * y[0]) + a * x[1] * y[1]) / det;
                sum += hessian[i][j] * known;
            }
        }
        (0.5 * scale * sum, DEAD_DOUBT * doubt)
    }

    /// Readings each engine of the cloud would give at a setting, and the variances of each channel.
    fn foresee(&self, Weighed { at, falls, .. }: &Weighed, commands: usize) -> (Vec<[f64; 2]>, [f64; 2]) {
        let posterior = self.posterior;
        let doubt = posterior.cloud.iter().map(|p| p.weight * p.engine.doubt(at)).sum();
        let next = Seen { doubt, ..self.next_after(at, commands) };
        let carried = Carried::to(&posterior.vacuum, &next);
        let noise = carried.left + posterior.vacuum.scatter.variance(doubt);
        let mut seen: Vec<[f64; 2]> =
            posterior.cloud.iter().zip(falls).map(|(p, fall)| [carried.height(p) - fall, 0.0]).collect();
        let Some(c) = posterior.speed.as_ref().filter(|_| !self.past.no_speed) else {
            return (seen, [noise, 1.0]);
        };
        let carried = Carried::to(c, &next);
        for ((p, f), y) in posterior.cloud.iter().zip(falls).zip(&mut seen) {
            y[1] = carried.speed_height(p) - p.engine.rpm_per_inhg * f;
        }
        (seen, [noise, carried.left + c.scatter.variance(doubt)])
    }

    /// A reading to come at this setting.
    pub(super) fn next_seen(&self, at: &Setting) -> Seen {
        self.next_after(at, self.commands(&self.past.stands, at))
    }

    fn next_after(&self, at: &Setting, commands: usize) -> Seen {
        let commands = commands as f64;
        Seen {
            at: *at,
            age: 0,
            place: 0,
            vacuum: 0.0,
            speed: None,
            coolant: None,
            lambda: None,
            minutes: self.past.minutes + (4.0 * commands + 10.0) / 60.0,
            jumps: self.past.jumps(),
            stalls: self.past.stalls,
            doubt: 0.0,
            rough: 1.0,
        }
    }

    /// Each engine's top as a vector, and their mean; a dead screw's top is put at the mean of the live ones.
    fn tops(&self) -> (Vec<Setting>, Setting) {
        let n = self.prior.n;
        let (mut mean, mut live) = ([0.0; MAX], [0.0; MAX]);
        for p in &self.posterior.cloud {
            for i in 0..n {
                if p.dead >> i & 1 == 0 {
                    mean[i] += p.weight * p.engine.top[i];
                    live[i] += p.weight;
                }
            }
        }
        for i in 0..n {
            mean[i] = if live[i] > 1e-9 { mean[i] / live[i] } else { self.past.stands[i] };
        }
        let tops = self
            .posterior
            .cloud
            .iter()
            .map(|p| {
                let mut top = p.engine.top;
                for i in (0..n).filter(|&i| p.dead >> i & 1 == 1) {
                    top[i] = mean[i];
                }
                top
            })
            .collect();
        (tops, mean)
    }

    /// Mean second derivative of the fall at the top.
    fn hessian(&self) -> [Setting; MAX] {
        let n = self.prior.n;
        let mut h = [[0.0; MAX]; MAX];
        for p in &self.posterior.cloud {
            let bends = p.engine.bends();
            for (i, row) in h.iter_mut().enumerate().take(n).filter(|(i, _)| self.movable(*i)) {
                for (j, cell) in row.iter_mut().enumerate().take(n).filter(|(j, _)| self.movable(*j)) {
                    *cell += p.weight * bends[i][j];
                }
            }
        }
        h
    }
}

fn weighed(posterior: &Posterior, at: Setting) -> Weighed {
    let falls: Vec<f64> = posterior.cloud.iter().map(|p| p.engine.fall(&at)).collect();
    let mean = posterior.cloud.iter().zip(&falls).map(|(p, fall)| p.weight * fall).sum();
    Weighed { at, falls, mean }
}

/// The turns that lead from one setting to another: screws that move by the same amount, and by how much; the
/// largest group first.
pub(super) fn groups(n: usize, from: &Setting, to: &Setting) -> Vec<(Vec<usize>, f64)> {
    let mut found: Vec<(Vec<usize>, f64)> = Vec::new();
    for i in 0..n.min(MAX) {
        let by = to[i] - from[i];
        if by.abs() < 1e-6 {
            continue;
        }
        match found.iter_mut().find(|(_, other)| (by - *other).abs() < 1e-6) {
            Some((screws, _)) => screws.push(i),
            None => found.push((vec![i], by)),
        }
    }
    found.sort_by_key(|(screws, _)| core::cmp::Reverse(screws.len()));
    found
}
