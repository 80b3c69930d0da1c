//! Two summaries to one: the same in any order and any grouping.

use super::fault::KEPT_OF_A_KIND;
use super::found::MOST_LISTED;
use super::summary::{LineCounts, Pull, RegimeSummary, SensorQuality, Station, TipIn, TraceSummary};
use crate::units::{Fraction, TimeSpan};
use std::cmp::Ordering;
use std::collections::BTreeMap;

impl TraceSummary {
    /// Both logs in one summary. Lists keep the leanest; figures are worked out again from the counts.
    #[must_use]
    pub fn merge(mut self, other: &TraceSummary) -> TraceSummary {
        self.rows += other.rows;
        add_lines(&mut self.lines, &other.lines);
        merge_faults(&mut self, other);
        self.kept += other.kept;
        add_counts(&mut self.dropped, &other.dropped);
        add_counts(&mut self.fault_counts, &other.fault_counts);
        add_counts(&mut self.event_counts, &other.event_counts);
        self.start = least(self.start, other.start, Ordering::Less);
        self.end = least(self.end, other.end, Ordering::Greater);
        self.seconds += other.seconds;
        self.stopped_seconds += other.stopped_seconds;
        // The one further in: a stop that a log never touched reads too high.
        self.throttle_closed = match (self.throttle_closed, other.throttle_closed) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        self.period = least(self.period, other.period, Ordering::Greater);
        merge_regimes(&mut self.regimes, &other.regimes);
        merge_stations(&mut self.stations, &other.stations);
        self.share_of = self.share_of.max(other.share_of);
        // One of the two, chosen alike from either side: the one most rows were read with.
        if other.delay.rank(&self.delay) == Ordering::Greater {
            self.delay = other.delay.clone();
        }
        self.tip_in_count += other.tip_in_count;
        self.tip_ins.extend(other.tip_ins.iter().cloned());
        keep_worst_tips(&mut self.tip_ins);
        self.pull_count += other.pull_count;
        self.pulls.extend(other.pulls.iter().cloned());
        keep_worst_pulls(&mut self.pulls);
        self.events.extend(other.events.iter().cloned());
        keep_first_events(&mut self.events);
        self.sensor = merge_sensor(&self.sensor, &other.sensor);
        self.notes.extend(other.notes.iter().cloned());
        self.notes.sort();
        self.notes.dedup();
        self.figured()
    }

    /// What follows from other fields, worked out again.
    #[must_use]
    pub(super) fn figured(mut self) -> Self {
        let sensor = &mut self.sensor;
        sensor.believable = (sensor.running > 0)
            .then(|| Fraction::from_ratio(sensor.believed as f64 / sensor.running as f64));
        sensor.bank_difference =
            sensor.bank_counts.quantile(0.5).map(|bin| crate::units::Lambda::from_ratio(bin / 1000.0));
        let regime = |which| self.regimes.iter().find(|r| r.regime == which).and_then(|r| r.lambda);
        sensor.cruise_noise = regime(crate::setup::Regime::Cruise).map(|l| l.p90 - l.p10);
        let idle_wide =
            regime(crate::setup::Regime::Idle).is_some_and(|l| (l.p90 - l.p10).as_ratio() > IDLE_WITNESS);
        sensor.idle_witness_only = sensor.much_overlap || idle_wide;
        self
    }
}

/// An idle lambda that spreads wider than this only witnesses (common practice).
const IDLE_WITNESS: f64 = 0.10;

fn add_lines(into: &mut LineCounts, other: &LineCounts) {
    into.lines += other.lines;
    into.header += other.header;
    into.units += other.units;
    into.preamble += other.preamble;
    into.comments += other.comments;
    into.blank += other.blank;
    into.headers_again += other.headers_again;
    into.continued += other.continued;
    into.quarantined += other.quarantined;
    into.used += other.used;
}

impl LineCounts {
    /// Adds those of a further stretch.
    pub(super) fn add(&mut self, other: &LineCounts) {
        add_lines(self, other);
    }
}

fn add_counts<K: Ord + Copy>(into: &mut BTreeMap<K, u64>, other: &BTreeMap<K, u64>) {
    for (key, count) in other {
        *into.entry(*key).or_default() += count;
    }
}

fn least(a: Option<TimeSpan>, b: Option<TimeSpan>, wanted: Ordering) -> Option<TimeSpan> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if b.total_cmp(&a) == wanted { b } else { a }),
        (a, b) => a.or(b),
    }
}

fn merge_faults(into: &mut TraceSummary, other: &TraceSummary) {
    into.faults.extend(other.faults.iter().cloned());
    into.faults.sort_by(|a, b| (a.kind, a).cmp(&(b.kind, b)));
    let mut kept = Vec::new();
    for fault in into.faults.drain(..) {
        if kept.iter().rev().take_while(|f: &&super::fault::Fault| f.kind == fault.kind).count()
            < KEPT_OF_A_KIND
        {
            kept.push(fault);
        }
    }
    kept.sort();
    into.faults = kept;
}

fn merge_regimes(into: &mut Vec<RegimeSummary>, other: &[RegimeSummary]) {
    for theirs in other {
        let Some(ours) = into.iter_mut().find(|r| r.regime == theirs.regime) else {
            into.push(theirs.clone());
            continue;
        };
        let mut counts = std::mem::take(&mut ours.counts);
        counts.lambda.add(&theirs.counts.lambda);
        counts.vacuum.add(&theirs.counts.vacuum);
        counts.speed.add(&theirs.counts.speed);
        counts.air_flow.add(&theirs.counts.air_flow);
        counts.enriched += theirs.counts.enriched;
        counts.enriched_of += theirs.counts.enriched_of;
        *ours = RegimeSummary::from_counts(
            ours.regime,
            ours.seconds + theirs.seconds,
            ours.visits + theirs.visits,
            ours.samples + theirs.samples,
            ours.kept_seconds + theirs.kept_seconds,
            counts,
        );
    }
    into.sort_by_key(|r| r.regime);
}

fn merge_stations(into: &mut Vec<Station>, other: &[Station]) {
    for theirs in other {
        let Some(ours) = into.iter_mut().find(|s| s.place() == theirs.place()) else {
            into.push(theirs.clone());
            continue;
        };
        ours.counts.lambda.add(&theirs.counts.lambda);
        ours.counts.speed_rpm += theirs.counts.speed_rpm;
        ours.counts.vacuum_centi_inhg += theirs.counts.vacuum_centi_inhg;
        ours.counts.air_flow_mg_s += theirs.counts.air_flow_mg_s;
        for (air, theirs) in &theirs.counts.by_air {
            let ours = ours.counts.by_air.entry(*air).or_default();
            ours.rows += theirs.rows;
            ours.milli_lambda += theirs.milli_lambda;
        }
        ours.seconds += theirs.seconds;
        ours.visits += theirs.visits;
        *ours = ours.clone().figured();
    }
    into.sort_by_key(Station::place);
}

impl Station {
    /// Regime, air flow and vacuum, as whole numbers to sort and compare by.
    fn place(&self) -> (crate::setup::Regime, i64, i64) {
        let whole = |v: f64| (v * 100.0).round() as i64;
        (self.regime, whole(self.air_flow_share_low.as_percent()), whole(self.vacuum_low.as_inhg()))
    }
}

fn merge_sensor(a: &SensorQuality, b: &SensorQuality) -> SensorQuality {
    let mut bank_counts = a.bank_counts.clone();
    bank_counts.add(&b.bank_counts);
    SensorQuality {
        // Trusted only when every log says so.
        vouched: match (a.vouched, b.vouched) {
            (Some(a), Some(b)) => Some(a && b),
            (a, b) => a.or(b),
        },
        stuck: a.stuck + b.stuck,
        out_of_range: a.out_of_range + b.out_of_range,
        missing: a.missing + b.missing,
        running: a.running + b.running,
        believed: a.believed + b.believed,
        much_overlap: a.much_overlap || b.much_overlap,
        bank_counts,
        believable: None,
        cruise_noise: None,
        idle_witness_only: false,
        bank_difference: None,
    }
}

/// The leanest, then by time.
pub(super) fn keep_worst_tips(tips: &mut Vec<TipIn>) {
    tips.sort_by(|a, b| {
        b.peak
            .total_cmp(&a.peak)
            .then(a.start.total_cmp(&b.start))
            .then_with(|| format!("{a:?}").cmp(&format!("{b:?}")))
    });
    tips.truncate(MOST_LISTED);
}

/// The leanest, then by time.
pub(super) fn keep_worst_pulls(pulls: &mut Vec<Pull>) {
    let worst = |p: &Pull| p.worst.map_or(0.0, crate::units::Lambda::as_ratio);
    pulls.sort_by(|a, b| {
        worst(b)
            .total_cmp(&worst(a))
            .then(a.start.total_cmp(&b.start))
            .then_with(|| format!("{a:?}").cmp(&format!("{b:?}")))
    });
    pulls.truncate(MOST_LISTED);
}

/// The first of each kind.
pub(super) fn keep_first_events(events: &mut Vec<super::events::Event>) {
    events.sort_by(|a, b| {
        a.kind
            .cmp(&b.kind)
            .then(a.start.total_cmp(&b.start))
            .then(a.seconds.total_cmp(&b.seconds))
            .then_with(|| format!("{a:?}").cmp(&format!("{b:?}")))
    });
    let mut kept: Vec<super::events::Event> = Vec::new();
    for event in events.drain(..) {
        if kept.iter().rev().take_while(|e| e.kind == event.kind).count() < super::events::LISTED_OF_A_KIND {
            kept.push(event);
        }
    }
    *events = kept;
}

#[cfg(test)]
mod tests;
