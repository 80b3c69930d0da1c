//! Labelled pulls held against each other: over the whole curve, in the band that matters, and speed by speed.

use super::band::{Band, common_range, has, means, shared};
use super::check;
use super::pull::Pull;
use super::remark::Remark;
use crate::analysis::verdict::{
    Conditions, EffectError, Judged, Observation, Rig, Unsteady, Verdict, further_pulls, judge, judge_at,
    unsteadiness,
};
use crate::units::EngineSpeed;

/// A pull and what it was run with.
#[derive(Debug, Clone, PartialEq)]
pub struct Labelled {
    /// "A", "B".
    pub label: String,
    /// The pull.
    pub pull: Pull,
}

/// One figure judged, and how many further pulls would settle each label.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// The judgement, in W or N m.
    pub judged: Judged,
    /// Further pulls for each effect, in the same order; `None` beyond the limit.
    pub further: Vec<Option<usize>>,
}

/// The effect over a short stretch of speeds, N m.
#[derive(Debug, Clone, PartialEq)]
pub struct SpeedEffect {
    /// The label judged.
    pub label: String,
    /// Lower end of the stretch.
    pub low_speed: EngineSpeed,
    /// Upper end.
    pub high_speed: EngineSpeed,
    /// Mean corrected torque of the baseline there, N m.
    pub level: f64,
    /// Effect on torque, N m.
    pub effect: f64,
    /// Its own 90 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Clear of zero still when every stretch is allowed its chance to be wrong (Bonferroni).
    pub clear: bool,
}

/// Pulls held against each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Against {
    /// Mean power over the band.
    pub band_power: Figure,
    /// Mean torque over the band.
    pub band_torque: Figure,
    /// Mean power over all common speeds; `None` when holes leave no two states to compare there.
    pub whole_power: Option<Figure>,
    /// Mean torque over all common speeds.
    pub whole_torque: Option<Figure>,
    /// The band, cut to the speeds in common.
    pub band: Band,
    /// All common speeds.
    pub whole: Band,
    /// Speed by speed.
    pub curve: Vec<SpeedEffect>,
    /// What was not kept alike.
    pub unsteady: Vec<Unsteady>,
    /// Numbers (from 0) of the pulls that were used.
    pub used: Vec<usize>,
    /// Pulls left out, and why.
    pub left_out: Vec<(usize, String)>,
}

/// Why pulls cannot be held against each other.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AgainstError {
    /// Corrections beyond what the standard vouches for, and not all alike.
    #[error(
        "the correction of pull {pull} is {factor:.3}, outside what {standard} vouches for: pulls corrected so far are not \
         compared; run A and B in the same hour, or compare them uncorrected (--correct none)"
    )]
    OutOfRange {
        /// Which pull, from 1.
        pull: usize,
        /// Its factor.
        factor: f64,
        /// Which standard.
        standard: &'static str,
    },
    /// Some are corrected and some cannot be.
    #[error(
        "pull {0} has no air to correct by, and others have; give --air for it, or --correct none for all"
    )]
    MixedCorrection(usize),
    /// Nothing is left.
    #[error("too few pulls are left to compare; pull {pull} was left out: {why}")]
    LeftOut {
        /// The first left out, from 1.
        pull: usize,
        /// Why.
        why: String,
    },
    /// No speeds in common.
    #[error("the pulls have no speeds in common")]
    NoCommonSpeeds,
    /// Nothing of the band is in the pulls.
    #[error(
        "the band {low:.0} to {high:.0} rpm is not in all pulls; they have {from:.0} to {to:.0} rpm in common"
    )]
    NoBand {
        /// Band asked for.
        low: f64,
        /// Band asked for.
        high: f64,
        /// Common speeds.
        from: f64,
        /// Common speeds.
        to: f64,
    },
    /// Too few left.
    #[error("{0}")]
    Effect(#[from] EffectError),
}

/// How pulls are to be held against each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct How {
    /// Grid step the pulls were read with.
    pub step: EngineSpeed,
    /// The band; all common speeds when not given.
    pub band: Option<Band>,
    /// What they were run on.
    pub rig: Rig,
    /// The standard's name, for messages.
    pub standard: &'static str,
}

/// Width of a stretch in the speed-by-speed table, rpm.
const STRETCH_RPM: f64 = 250.0;

/// Marks every pull that stands off the others by the ratio of two units.
pub fn mark_unlike(pulls: &mut [Labelled]) {
    let figure = |l: &Labelled| {
        let (from, to) = l.pull.torque.range();
        l.pull.barred().is_none().then(|| l.pull.torque.mean(from, to)).flatten()
    };
    let figures: Vec<Option<f64>> = pulls.iter().map(figure).collect();
    for (l, kind) in pulls.iter_mut().zip(check::unlike_others(&figures)) {
        if let Some(kind) = kind {
            let (first_line, last_line) =
                (l.pull.rows.first().map_or(0, |r| r.line), l.pull.rows.last().map_or(0, |r| r.line));
            l.pull.remarks.push(Remark { kind, first_line, last_line });
        }
    }
}

/// Holds pulls, in the order run, against those of the first label.
pub fn hold(pulls: &[Labelled], how: &How) -> Result<Against, AgainstError> {
    let mut left_out = Vec::new();
    let mut used = Vec::new();
    for (k, l) in pulls.iter().enumerate() {
        match l.pull.barred() {
            Some(remark) => left_out.push((k, remark.kind.to_string())),
            None => used.push(k),
        }
    }
    enough_left(pulls, &used, &left_out)?;
    check_corrections(pulls, &used, how)?;
    let refs: Vec<&Pull> = used.iter().map(|k| &pulls[*k].pull).collect();
    let common = common_range(&refs).ok_or(AgainstError::NoCommonSpeeds)?;
    let speed = |k: i64| how.step * k as f64;
    let whole = Band::whole(speed(common.0), speed(common.1));
    let asked = how.band.unwrap_or(whole);
    let (from, to) = asked.within(how.step, common).ok_or(AgainstError::NoBand {
        low: asked.low.as_rpm(),
        high: asked.high.as_rpm(),
        from: whole.low.as_rpm(),
        to: whole.high.as_rpm(),
    })?;
    let band = Band { low: speed(from), high: speed(to), ..asked };
    used.retain(|k| {
        let has_band = has(&pulls[*k].pull, from, to);
        if !has_band {
            left_out.push((*k, "a tenth of the band or more is missing from it".to_owned()));
        }
        has_band
    });
    enough_left(pulls, &used, &left_out)?;
    let series = |range: (i64, i64), power: bool| -> Vec<Observation> {
        let there: Vec<usize> =
            used.iter().copied().filter(|k| has(&pulls[*k].pull, range.0, range.1)).collect();
        let refs: Vec<&Pull> = there.iter().map(|k| &pulls[*k].pull).collect();
        let speeds = shared(&refs, range.0, range.1);
        let one = |k: &usize| {
            let m = means(&pulls[*k].pull, &speeds)?;
            let value = if power { m.power.as_w() } else { m.torque.as_n_m() };
            Some(Observation { label: pulls[*k].label.clone(), value, at: *k as f64 })
        };
        there.iter().filter_map(one).collect()
    };
    let figure = |range: (i64, i64), power: bool| -> Result<Figure, EffectError> {
        let series = series(range, power);
        let judged = judge(&series, how.rig.floor(), true)?;
        let further = judged.effects.iter().map(|e| further_pulls(&series, &judged, &e.label)).collect();
        Ok(Figure { judged, further })
    };
    let band_power = figure((from, to), true)?;
    let refs: Vec<&Pull> = used.iter().map(|k| &pulls[*k].pull).collect();
    let speeds = shared(&refs, from, to);
    let conditions =
        |k: &usize| conditions(&pulls[*k], means(&pulls[*k].pull, &speeds).map(|m| m.power.as_w()));
    Ok(Against {
        band_power,
        band_torque: figure((from, to), false)?,
        whole_power: figure(common, true).ok(),
        whole_torque: figure(common, false).ok(),
        curve: speed_by_speed(&|range| series(range, false), common, how),
        unsteady: unsteadiness(&used.iter().map(conditions).collect::<Vec<_>>()),
        band,
        whole,
        used,
        left_out,
    })
}

impl Against {
    /// The headline: the verdict on mean power in the band, for a label.
    pub fn verdict(&self, label: &str) -> Option<Verdict> {
        self.band_power.judged.effects.iter().find(|e| e.label == label).map(|e| e.verdict)
    }
}

/// With pulls left out, two labels must still be there.
fn enough_left(pulls: &[Labelled], used: &[usize], left_out: &[(usize, String)]) -> Result<(), AgainstError> {
    let first = used.first().map(|k| &pulls[*k].label);
    let several = used.iter().any(|k| Some(&pulls[*k].label) != first);
    match left_out.first().filter(|_| !several) {
        Some((k, why)) => Err(AgainstError::LeftOut { pull: k + 1, why: why.clone() }),
        None => Ok(()),
    }
}

fn check_corrections(pulls: &[Labelled], used: &[usize], how: &How) -> Result<(), AgainstError> {
    let corrected = used.iter().any(|k| pulls[*k].pull.correction.is_some());
    for k in used {
        let pull = &pulls[*k].pull;
        if corrected && pull.correction.is_none() {
            return Err(AgainstError::MixedCorrection(k + 1));
        }
        if let Some(c) = pull.correction.filter(|c| !c.in_range) {
            return Err(AgainstError::OutOfRange { pull: k + 1, factor: c.factor, standard: how.standard });
        }
    }
    Ok(())
}

fn conditions(l: &Labelled, figure: Option<f64>) -> Conditions {
    Conditions {
        label: l.label.clone(),
        oil: l.pull.oil,
        coolant: l.pull.coolant,
        factor: l.pull.correction.map(|c| c.factor),
        first_rpm: l.pull.first_speed().map(EngineSpeed::as_rpm),
        figure,
    }
}

/// Every stretch of speeds judged on its own, and again with every stretch's chance to be wrong shared out.
fn speed_by_speed(
    series: &dyn Fn((i64, i64)) -> Vec<Observation>,
    common: (i64, i64),
    how: &How,
) -> Vec<SpeedEffect> {
    let stride = ((STRETCH_RPM / how.step.as_rpm()).round() as i64).max(1);
    let starts: Vec<i64> =
        (common.0..=common.1).filter(|k| k.rem_euclid(stride) == 0 || *k == common.0).collect();
    let count = starts.len();
    let strict = 1.0 - 0.1 / count.max(1) as f64;
    let mut out = Vec::new();
    for (k, from) in starts.iter().enumerate() {
        let to = starts.get(k + 1).map_or(common.1, |next| next - 1);
        if to - from < stride / 2 {
            continue;
        }
        let observed = series((*from, to));
        let plain = judge(&observed, how.rig.floor(), true);
        let shared = judge_at(&observed, how.rig.floor(), true, strict);
        let (Ok(plain), Ok(shared)) = (plain, shared) else { continue };
        for (e, s) in plain.effects.iter().zip(&shared.effects) {
            out.push(SpeedEffect {
                label: e.label.clone(),
                low_speed: how.step * *from as f64,
                high_speed: how.step * to as f64,
                level: plain.level,
                effect: e.effect,
                low: e.low,
                high: e.high,
                clear: s.low > 0.0 || s.high < 0.0,
            });
        }
    }
    out
}

#[cfg(test)]
#[path = "against/tests.rs"]
mod tests;
