//! Finds the pulls in a file, and says what else is in it.

use super::remark::{Remark, RemarkKind};
use super::row::Row;
use crate::numeric::robust;
use crate::units::{Fraction, TimeSpan};

/// The rows of one pull, rising in speed under full torque.
#[derive(Debug, Clone, PartialEq)]
pub struct PullRows {
    /// Rows, slipping ones left out.
    pub rows: Vec<Row>,
    /// What is wrong with it, if anything.
    pub remarks: Vec<Remark>,
}

/// What a file holds.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Found {
    /// Pulls in order.
    pub pulls: Vec<PullRows>,
    /// What was met outside them.
    pub remarks: Vec<Remark>,
}

/// A pull spans at least this, or a quarter of its top speed when that is less (common practice: less than that shows
/// no curve).
const LEAST_SPAN_RPM: f64 = 1000.0;
/// And has at least this many rows.
const LEAST_ROWS: usize = 15;
/// A rise smaller than this is somebody's foot, not a pull.
const A_RISE_RPM: f64 = 400.0;
/// Speed fallen by this much below its highest has turned.
const TURN_RPM: f64 = 100.0;
const TURN_SHARE: f64 = 0.03;
/// A flare of the engine that comes back within this time is slip, s.
const SLIP_TIME_S: f64 = 2.0;
/// A hole in time: so many usual intervals, and at least so long, s.
const GAP_PERIODS: f64 = 6.0;
const GAP_LEAST_S: f64 = 0.4;
/// After a hole this long a new stretch begins, s.
const STRETCH_S: f64 = 8.0;

/// The view of a file the search works on: usable rows, their times, speeds and torques.
struct View<'a> {
    rows: Vec<&'a Row>,
    time: Vec<f64>,
    rpm: Vec<f64>,
    torque: Vec<f64>,
    period: f64,
}

/// Finds every pull. Rows without speed, torque or power are passed over. Without a time column rows are taken as
/// evenly spaced, a tenth of a second apart.
pub fn find_pulls(rows: &[Row]) -> Found {
    let view = View::new(rows);
    let mut found = Found::default();
    for (from, to) in view.stretches() {
        view.walk(from, to, &mut found);
    }
    found
}

impl<'a> View<'a> {
    fn new(all: &'a [Row]) -> Self {
        let rows: Vec<&Row> = all.iter().filter(|r| r.speed.is_some() && r.torque_n_m().is_some()).collect();
        let timed = rows.iter().all(|r| r.time.is_some());
        let at = |k: usize, r: &Row| if timed { r.time.map_or(0.0, TimeSpan::as_s) } else { k as f64 * 0.1 };
        let time: Vec<f64> = rows.iter().enumerate().map(|(k, r)| at(k, r)).collect();
        let raw: Vec<f64> = rows.iter().filter_map(|r| r.rpm()).collect();
        let torque = rows.iter().filter_map(|r| r.torque_n_m()).collect();
        let mut steps: Vec<f64> = time.windows(2).map(|w| w[1] - w[0]).collect();
        let period = robust::median(&mut steps).unwrap_or(0.1).max(1e-3);
        Self { rpm: median_of_five(&raw), rows, time, torque, period }
    }

    /// Stretches of rows without a long hole and without time going back.
    fn stretches(&self) -> Vec<(usize, usize)> {
        let mut out = Vec::new();
        let mut from = 0;
        for k in 1..=self.rows.len() {
            let broken = k == self.rows.len() || {
                let step = self.time[k] - self.time[k - 1];
                step < 0.0 || step > STRETCH_S.max(GAP_PERIODS * self.period)
            };
            if broken {
                out.push((from, k));
                from = k;
            }
        }
        out
    }

    /// Walks one stretch: rises and falls in turn.
    fn walk(&self, from: usize, to: usize, found: &mut Found) {
        let mut low = from;
        let mut k = from;
        while k < to {
            let (top, slips) = self.climb(low, to);
            if self.rpm[top] - self.rpm[low] >= A_RISE_RPM {
                self.take(low, top, &slips, found);
            }
            let bottom = self.descend(top, to);
            self.note_fall(top, bottom, found);
            if bottom <= low {
                break;
            }
            (low, k) = (bottom, bottom + 1);
        }
    }

    fn turned(high: f64, now: f64) -> bool {
        high - now > TURN_RPM.max(TURN_SHARE * high)
    }

    /// The last row of a rise that begins at `low`, and the slips inside it (from, to).
    fn climb(&self, low: usize, to: usize) -> (usize, Vec<(usize, usize)>) {
        let mut top = low;
        let mut slips = Vec::new();
        let mut k = low + 1;
        while k < to {
            if self.rpm[k] >= self.rpm[top] {
                top = k;
            } else if Self::turned(self.rpm[top], self.rpm[k]) {
                match self.regained(top, k, to) {
                    Some(back) => {
                        slips.push((self.flare_start(low, top, k), back));
                        (top, k) = (back, back);
                    }
                    None => break,
                }
            }
            k += 1;
        }
        (top, slips)
    }

    /// The row where speed is again what it was at `top`, soon after, with torque still on.
    fn regained(&self, top: usize, k: usize, to: usize) -> Option<usize> {
        let soon = |i: &usize| self.time[*i] - self.time[top] <= SLIP_TIME_S;
        let back = (k..to).take_while(soon).find(|i| self.rpm[*i] >= self.rpm[top])?;
        (top..back)
            .any(|i| self.torque[i] > 0.3 * self.torque[strongest(&self.torque[..=top])])
            .then_some(back)
    }

    /// Where the flare to `top` left the rise: the last row below the speed it fell back to.
    fn flare_start(&self, low: usize, top: usize, k: usize) -> usize {
        let floor = (k..self.rows.len().min(k + 40)).map(|i| self.rpm[i]).fold(f64::INFINITY, f64::min);
        (low..top).rev().find(|i| self.rpm[*i] <= floor).unwrap_or(low)
    }

    /// The last row of a fall that begins at `top`.
    fn descend(&self, top: usize, to: usize) -> usize {
        let mut bottom = top;
        for k in top + 1..to {
            if self.rpm[k] <= self.rpm[bottom] {
                bottom = k;
            } else if self.rpm[k] - self.rpm[bottom] > TURN_RPM.max(TURN_SHARE * self.rpm[bottom]) {
                break;
            }
        }
        bottom
    }

    fn note_fall(&self, top: usize, bottom: usize, found: &mut Found) {
        if bottom <= top || self.rpm[top] - self.rpm[bottom] < A_RISE_RPM {
            return;
        }
        let mut torque = self.torque[top + 1..=bottom].to_vec();
        let middle = robust::median(&mut torque).unwrap_or(0.0);
        let most = self.torque.iter().copied().fold(0.0, f64::max);
        let kind = if middle < 0.35 * most { RemarkKind::CoastDown } else { RemarkKind::DownSweep };
        found.remarks.push(self.remark(kind, top + 1, bottom));
    }

    fn remark(&self, kind: RemarkKind, from: usize, to: usize) -> Remark {
        Remark { kind, first_line: self.rows[from].line, last_line: self.rows[to].line }
    }

    /// Trims a rise to its full-torque part, and takes it when it is long enough.
    fn take(&self, low: usize, top: usize, slips: &[(usize, usize)], found: &mut Found) {
        let Some((first, last)) = self.full_torque(low, top) else { return };
        let (bottom_rpm, top_rpm) = (self.rpm[first], self.rpm[last]);
        let span = top_rpm - bottom_rpm;
        if span < LEAST_SPAN_RPM.min(0.25 * top_rpm) || last - first + 1 < LEAST_ROWS {
            if span >= 0.5 * A_RISE_RPM {
                let kind = RemarkKind::TooShort { span_rpm: span.round(), rows: last - first + 1 };
                found.remarks.push(self.remark(kind, first, last));
            }
            return;
        }
        let mut remarks = Vec::new();
        for k in first + 1..=last {
            let hole = self.time[k] - self.time[k - 1];
            if hole > (GAP_PERIODS * self.period).max(GAP_LEAST_S) {
                let kind = RemarkKind::Gap {
                    seconds: hole,
                    from_rpm: self.rpm[k - 1].round(),
                    to_rpm: self.rpm[k].round(),
                };
                remarks.push(self.remark(kind, k - 1, k));
            }
        }
        let mut slipping = vec![false; self.rows.len()];
        let flares = slips.iter().copied().filter(|(a, b)| *b > first && *a < last);
        let within = |(a, b): (usize, usize)| (a.max(first), b.min(last));
        for (a, b) in one_by_one(flares.chain(self.ratio_slips(first, last)).map(within).collect()) {
            let kind = RemarkKind::Slip { from_rpm: self.rpm[a].round(), to_rpm: self.rpm[b].round() };
            remarks.push(self.remark(kind, a, b));
            slipping[a..=b].fill(true);
        }
        let rows = (first..=last).filter(|k| !slipping[*k]).map(|k| *self.rows[k]).collect();
        found.pulls.push(PullRows { rows, remarks });
    }

    /// First and last row under full throttle: by the throttle when it is logged, else by torque.
    fn full_torque(&self, low: usize, top: usize) -> Option<(usize, usize)> {
        let throttle = |k: usize| self.rows[k].throttle.map(Fraction::as_ratio);
        let widest = (low..=top).filter_map(throttle).fold(0.0, f64::max);
        let mut torque = self.torque[low..=top].to_vec();
        let usual = robust::quantile(&mut torque, 0.6)?;
        let full = |k: usize| match throttle(k) {
            Some(t) if widest > 0.0 => t >= 0.92 * widest && self.torque[k] > 0.0,
            _ => self.torque[k] >= 0.6 * usual && self.torque[k] > 0.0,
        };
        let first = (low..=top).find(|k| full(*k))?;
        let last = (first..=top).rev().find(|k| full(*k))?;
        Some((first, last))
    }

    /// Stretches where engine speed runs ahead of road speed by more than 2 %, when both are logged.
    fn ratio_slips(&self, first: usize, last: usize) -> Vec<(usize, usize)> {
        let ratio = |k: usize| {
            let road = self.rows[k].road_speed?.as_m_s();
            (road > 1.0).then(|| self.rpm[k] / road)
        };
        let mut all: Vec<f64> = (first..=last).filter_map(ratio).collect();
        let Some(usual) = robust::quantile(&mut all, 0.3).filter(|_| all.len() >= LEAST_ROWS) else {
            return Vec::new();
        };
        let mut out: Vec<(usize, usize)> = Vec::new();
        for k in (first..=last).filter(|k| ratio(*k).is_some_and(|r| r > 1.02 * usual)) {
            match out.last_mut() {
                Some((_, end)) if k <= *end + 3 => *end = k,
                _ => out.push((k, k)),
            }
        }
        out.retain(|(a, b)| b - a >= 2);
        out
    }
}

/// Index of the greatest torque so far: the measure "torque still on" is taken by.
fn strongest(torque: &[f64]) -> usize {
    torque.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |(k, _)| k)
}

fn median_of_five(values: &[f64]) -> Vec<f64> {
    let at = |k: usize| {
        let half = 2.min(k).min(values.len() - 1 - k);
        let mut window = values[k - half..=k + half].to_vec();
        robust::median(&mut window).unwrap_or(values[k])
    };
    (0..values.len()).map(at).collect()
}

/// Stretches in order, those that overlap or touch as one: what two signs show is one slip.
fn one_by_one(mut stretches: Vec<(usize, usize)>) -> Vec<(usize, usize)> {
    stretches.sort_unstable();
    let mut out: Vec<(usize, usize)> = Vec::new();
    for (a, b) in stretches {
        match out.last_mut() {
            Some(last) if a <= last.1 + 1 => last.1 = last.1.max(b),
            _ => out.push((a, b)),
        }
    }
    out
}

#[cfg(test)]
#[path = "find/tests.rs"]
mod tests;
