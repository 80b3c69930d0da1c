//! Are the numbers of a pull in the units their columns claim, and is the mixture safe through it?

use super::peak::at_the_top;
use super::remark::{Remark, RemarkKind};
use super::row::Row;
use crate::numeric::robust;
use crate::rules::limits::{Against, LambdaLimits};
use crate::units::{Lambda, PressureDifference};

/// Known slips of unit: power over torque times speed, and what it looks like.
const SLIPS: [(f64, &str); 6] = [
    (1.341_0, "the power column holds hp under a kW heading"),
    (0.745_7, "the power column holds kW under a hp heading"),
    (1.355_8, "the torque column holds lbf ft under a N m heading"),
    (0.737_6, "the torque column holds N m under a lbf ft heading"),
    (1.013_9, "the power column holds PS under a hp heading"),
    (0.986_3, "the power column holds hp under a PS heading"),
];

/// What a ratio of power to torque times speed looks like: the nearest slip of unit.
pub(super) fn looks_like(ratio: f64) -> &'static str {
    let far = |slip: &f64| (ratio / slip - 1.0).abs();
    SLIPS.iter().min_by(|a, b| far(&a.0).total_cmp(&far(&b.0))).map_or("another unit", |s| s.1)
}

/// The same slips between one pull and the others. A change may add a few percent of its own, so the two pairs of
/// units, 1 % apart, cannot be told from each other here.
const BETWEEN: [(f64, &str); 2] = [
    (1.348, "looks like hp where the others are kW, or N m where they are lbf ft"),
    (0.742, "looks like kW where the others are hp, or lbf ft where they are N m"),
];

/// Two readings of one shaft agree within this.
const AGREES: f64 = 0.01;
/// A slip of unit is recognised within this.
const SLIP_WITHIN: f64 = 0.004;
/// Ratio of a pull to others: within this of a slip of unit. No carburetor part changes an engine by a quarter.
const BETWEEN_WITHIN: f64 = 0.05;

/// Holds torque times speed against power, when a pull has both. The second value says that torque is to be taken
/// from power and engine speed.
pub(super) fn units(rows: &[Row]) -> (Option<Remark>, bool) {
    let ratio_of = |r: &Row| {
        let product = r.torque?.as_n_m() * r.speed?.as_rad_s();
        (product > 100.0).then(|| r.power.map(|p| p.as_w() / product)).flatten()
    };
    let mut ratios: Vec<f64> = rows.iter().filter_map(ratio_of).collect();
    let (Some(ratio), Some(spread)) = (robust::median(&mut ratios.clone()), robust::spread(&mut ratios))
    else {
        return (None, false);
    };
    if (ratio - 1.0).abs() <= AGREES && spread < 0.02 {
        return (None, false);
    }
    let (first_line, last_line) = (rows.first().map_or(0, |r| r.line), rows.last().map_or(0, |r| r.line));
    let remark = |kind| Some(Remark { kind, first_line, last_line });
    if spread > 0.03 * ratio.abs() {
        return (remark(RemarkKind::Inconsistent), false);
    }
    match SLIPS.iter().min_by(|a, b| (ratio / a.0 - 1.0).abs().total_cmp(&(ratio / b.0 - 1.0).abs())) {
        Some((slip, looks_like)) if (ratio / slip - 1.0).abs() <= SLIP_WITHIN => {
            (remark(RemarkKind::OtherUnits { ratio, looks_like }), false)
        }
        _ => (remark(RemarkKind::OtherShaft { ratio }), true),
    }
}

/// For each pull's figure: the remark that it stands off the others by the ratio of two units, if it does. Of two
/// pulls alone both stand off, for which of them is right cannot be told.
pub(super) fn unlike_others(figures: &[Option<f64>]) -> Vec<Option<RemarkKind>> {
    let known: Vec<f64> = figures.iter().flatten().copied().collect();
    let off = |figure: f64| {
        let mut others = known.clone();
        let at = others.iter().position(|o| *o == figure)?;
        others.remove(at);
        let usual = robust::median(&mut others)?;
        let ratio = figure / usual;
        let near = |s: &&(f64, &str)| (ratio / s.0 - 1.0).abs() <= BETWEEN_WITHIN;
        BETWEEN.iter().find(near).map(|(_, looks_like)| RemarkKind::UnlikeOthers { ratio, looks_like })
    };
    if known.len() < 2 {
        return vec![None; figures.len()];
    }
    figures.iter().map(|f| f.and_then(off)).collect()
}

/// Lambda climbing by more than 0.03 above the torque peak, and fuel pressure falling by more than 1 psi: each is said;
/// both together are a stop (common practice).
pub(super) fn supply(rows: &[Row], torque_peak_rpm: Option<f64>) -> Vec<Remark> {
    let (first_line, last_line) = (rows.first().map_or(0, |r| r.line), rows.last().map_or(0, |r| r.line));
    let psi = |r: &Row| r.fuel_pressure.map(PressureDifference::as_psi);
    let fall = start(rows, psi).zip(at_the_top(rows, psi)).map(|(a, b)| a - b).filter(|f| *f > 1.0);
    let lambda = |r: &Row| r.lambda.map(Lambda::as_ratio);
    let climb = torque_peak_rpm.and_then(|peak| {
        let mut near: Vec<f64> = rows
            .iter()
            .filter(|r| r.rpm().is_some_and(|s| (s / peak - 1.0).abs() <= 0.04))
            .filter_map(lambda)
            .collect();
        Some(at_the_top(rows, lambda)? - robust::median(&mut near)?)
    });
    let mut out = Vec::new();
    if let Some(by) = climb.filter(|c| *c > 0.03) {
        out.push(RemarkKind::LambdaClimbs { by, starving: fall.is_some() });
    }
    out.extend(fall.map(|by_psi| RemarkKind::PressureFalls { by_psi }));
    out.into_iter().map(|kind| Remark { kind, first_line, last_line }).collect()
}

/// Lambda beyond the full-throttle limits, for longer than they allow: the longest time beyond the stop, else beyond the
/// warning, on either side.
pub(super) fn limits(rows: &[Row], limits: &LambdaLimits) -> Vec<Remark> {
    let worst = |lean: bool, stop: bool, limit: Lambda, holds: &dyn Fn(Against) -> bool| {
        let (first, last) = longest(rows, &|l| holds(limits.judge(l)))?;
        let seconds = rows[last].time?.as_s() - rows[first].time?.as_s();
        if seconds <= limits.longer_than.as_s() {
            return None;
        }
        let beyond: Vec<f64> =
            rows[first..=last].iter().filter_map(|r| r.lambda.map(Lambda::as_ratio)).collect();
        let lambda = beyond.iter().sum::<f64>() / beyond.len().max(1) as f64;
        let kind = RemarkKind::BeyondLimit { lambda, limit: limit.as_ratio(), seconds, lean, stop };
        Some(Remark { kind, first_line: rows[first].line, last_line: rows[last].line })
    };
    let lean = worst(true, true, limits.stop_lean, &|a| a == Against::StopLean).or_else(|| {
        worst(true, false, limits.warn_lean, &|a| matches!(a, Against::StopLean | Against::WarnLean))
    });
    let rich = worst(false, true, limits.stop_rich, &|a| a == Against::StopRich).or_else(|| {
        worst(false, false, limits.warn_rich, &|a| matches!(a, Against::StopRich | Against::WarnRich))
    });
    lean.into_iter().chain(rich).collect()
}

/// First and last row of the longest stretch whose every lambda fits.
fn longest(rows: &[Row], fits: &dyn Fn(Lambda) -> bool) -> Option<(usize, usize)> {
    let mut best: Option<(usize, usize)> = None;
    let mut run: Option<(usize, usize)> = None;
    for (k, r) in rows.iter().enumerate() {
        match r.lambda {
            Some(l) if fits(l) => run = Some((run.map_or(k, |r| r.0), k)),
            Some(_) => run = None,
            None => {}
        }
        if let Some((a, b)) = run
            && best.is_none_or(|(c, d)| b - a > d - c)
        {
            best = run;
        }
    }
    best
}

/// Median of a channel over a pull's first tenth.
pub(super) fn start(rows: &[Row], channel: impl Fn(&Row) -> Option<f64>) -> Option<f64> {
    let mut first: Vec<f64> = rows.iter().take((rows.len() / 10).max(3)).filter_map(channel).collect();
    robust::median(&mut first)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{EngineSpeed, Power, Torque};

    fn with_ratio(ratio: f64) -> Vec<Row> {
        let row = |k: u32| {
            let (speed, torque) =
                (EngineSpeed::from_rpm(2000.0 + 20.0 * f64::from(k)), Torque::from_n_m(250.0));
            let power = Power::from_w((torque * speed).as_w() * ratio);
            Row {
                speed: Some(speed),
                torque: Some(torque),
                power: Some(power),
                line: u64::from(k) + 2,
                ..Row::default()
            }
        };
        (0..100).map(row).collect()
    }

    #[test]
    fn each_slip_of_unit_is_named_and_no_slip_is_not() {
        assert_eq!(units(&with_ratio(1.0)), (None, false));
        assert_eq!(units(&with_ratio(1.009)), (None, false));
        for (ratio, word) in [
            (1.341, "hp under a kW"),
            (0.7457, "kW under a hp"),
            (1.3558, "lbf ft under a N m"),
            (0.7376, "N m under a lbf ft"),
            (1.0139, "PS under a hp"),
        ] {
            match units(&with_ratio(ratio)) {
                (Some(Remark { kind: RemarkKind::OtherUnits { looks_like, .. }, .. }), false) => {
                    assert!(looks_like.contains(word), "{ratio}: {looks_like}");
                }
                other => panic!("{ratio}: {other:?}"),
            }
        }
        assert!(matches!(
            units(&with_ratio(3.9)),
            (Some(Remark { kind: RemarkKind::OtherShaft { .. }, .. }), true)
        ));
    }

    #[test]
    fn columns_that_do_not_belong_together_are_said() {
        let mut rows = with_ratio(1.0);
        for (k, r) in rows.iter_mut().enumerate() {
            r.power = r.power.map(|p| p * (0.6 + 0.01 * k as f64));
        }
        assert!(matches!(units(&rows).0.unwrap().kind, RemarkKind::Inconsistent));
    }

    #[test]
    fn one_pull_in_other_units_stands_off_and_a_real_gain_does_not() {
        let found = unlike_others(&[Some(200.0), Some(203.0), Some(271.0), Some(201.0)]);
        assert!(matches!(found[2], Some(RemarkKind::UnlikeOthers { .. })));
        assert!(found[0].is_none() && found[1].is_none() && found[3].is_none());
        assert!(unlike_others(&[Some(200.0), Some(240.0), Some(200.0)]).iter().all(Option::is_none));
    }

    #[test]
    fn a_limit_counts_when_it_is_passed_for_longer_than_it_allows() {
        use crate::rules::{RuleBook, limits::full_throttle};
        use crate::setup::{Application, Cooling, FuelFamily};
        use crate::units::TimeSpan;
        let book = RuleBook::common();
        let street = full_throttle(Application::Street, Cooling::Water, FuelFamily::Gasoline, &book);
        let read = |lambda: f64, rows_beyond: u32| {
            let row = |k: u32| Row {
                line: u64::from(k) + 2,
                time: Some(TimeSpan::from_s(0.05 * f64::from(k))),
                lambda: Some(Lambda::from_ratio(if (50..50 + rows_beyond).contains(&k) {
                    lambda
                } else {
                    0.85
                })),
                ..Row::default()
            };
            limits(&(0..100).map(row).collect::<Vec<_>>(), &street)
        };
        assert!(read(0.95, 10).is_empty(), "half a second is allowed");
        let found = read(0.95, 13);
        assert!(found[0].kind.stops() && (found[0].first_line, found[0].last_line) == (52, 64), "{found:?}");
        let warned = read(0.92, 20);
        assert!(matches!(
            warned[..],
            [Remark { kind: RemarkKind::BeyondLimit { stop: false, lean: true, .. }, .. }]
        ));
        assert!(read(0.69, 20)[0].kind.stops());
    }

    fn supplied(climb: f64, fall_psi: f64) -> Vec<Remark> {
        let row = |k: u32| {
            let part = f64::from(k) / 199.0;
            Row {
                speed: Some(EngineSpeed::from_rpm(2000.0 + 3000.0 * part)),
                torque: Some(Torque::from_n_m(250.0)),
                lambda: Some(Lambda::from_ratio(0.85 + if part > 0.6 { climb } else { 0.0 })),
                fuel_pressure: Some(PressureDifference::from_psi(6.0 - fall_psi * part)),
                ..Row::default()
            }
        };
        supply(&(0..200).map(row).collect::<Vec<_>>(), Some(3500.0))
    }

    #[test]
    fn starvation_needs_both_and_stops() {
        assert!(supplied(0.025, 0.5).is_empty());
        assert!(matches!(
            supplied(0.04, 0.5)[..],
            [Remark { kind: RemarkKind::LambdaClimbs { starving: false, .. }, .. }]
        ));
        assert!(matches!(supplied(0.02, 1.4)[..], [Remark { kind: RemarkKind::PressureFalls { .. }, .. }]));
        let both = supplied(0.04, 1.4);
        assert!(both[0].kind.stops() && both.len() == 2, "{both:?}");
    }
}
