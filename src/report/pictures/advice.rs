//! Lambda of each regime against its target, now and as expected after the change.

use crate::analysis::advise::{Advice, Expect, RegimeVerdict, Verdict};
use crate::report::chart::{Axis, PairRow, Pairs};
use crate::setup::Regime;

/// Regimes with a steady mixture and a band.
const STEADY: [Regime; 5] =
    [Regime::Idle, Regime::OffIdle, Regime::Cruise, Regime::HeavyCruise, Regime::FullThrottle];

/// Every steady regime that was read, a row each. `None` when none was.
pub fn lambda_by_regime(advice: &Advice) -> Option<Pairs> {
    let expect = advice.changes.first().map(|c| c.expect.as_slice()).unwrap_or_default();
    let seen = advice.regimes.iter().filter(|r| STEADY.contains(&r.regime));
    let rows: Vec<PairRow> = seen.filter_map(|r| row(r, expect)).collect();
    let values = rows.iter().flat_map(|r| {
        let (_, low, high) = r.expected.unwrap_or((r.before, r.before, r.before));
        let (rich, lean) = r.band.unwrap_or((r.before, r.before));
        [r.before, low, high, rich, lean]
    });
    let x = Axis::around("lambda; rich to the left", values.collect::<Vec<_>>(), 0.1)?;
    Some(Pairs {
        id: "advice".to_owned(),
        title: "Lambda by regime against its target".to_owned(),
        says: in_words(advice, &rows),
        was: "now",
        x,
        rows,
    })
}

fn row(verdict: &RegimeVerdict, expect: &[Expect]) -> Option<PairRow> {
    let now = verdict.lambda_median?.as_ratio();
    let after = expect.iter().find(|e| e.regime == verdict.regime);
    let mut label = verdict.regime.said().to_owned();
    if verdict.verdict == Verdict::WitnessOnly {
        label.push_str(" (witness)");
    }
    Some(PairRow {
        label,
        before: now,
        expected: after.map(|e| (e.lambda.as_ratio(), e.low.as_ratio(), e.high.as_ratio())),
        after: None,
        band: verdict.target_low.zip(verdict.target_high).map(|(l, h)| (l.as_ratio(), h.as_ratio())),
    })
}

fn in_words(advice: &Advice, rows: &[PairRow]) -> String {
    let inside = |x: f64, r: &PairRow| r.band.is_some_and(|(low, high)| (low..=high).contains(&x));
    let now = rows.iter().filter(|r| inside(r.before, r)).count();
    let all = rows.len();
    let Some(change) = advice.changes.first() else {
        return format!("{now} of {all} regimes read inside their target.");
    };
    let then = rows.iter().filter(|r| inside(r.expected.map_or(r.before, |(x, _, _)| x), r)).count();
    let and = if advice.changes.len() > 1 { " and what goes with it" } else { "" };
    format!(
        "{now} of {all} regimes read inside their target; with the {}{and} changed, {then} of {all} should.",
        change.part.said()
    )
}
