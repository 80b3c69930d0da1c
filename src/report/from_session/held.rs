//! Each change held against what was expected of it beforehand.

use super::Tale;
use super::changes::of;
use super::readings::capital;
use crate::analysis::advise::{Advice, Change, Expect, Trial};
use crate::numeric::robust;
use crate::report::chart::{Axis, PairRow, Pairs, Picture};
use crate::report::document::{Block, Section, Table, Text};
use crate::setup::{PartPath, Regime, SetName};
use crate::units::show::fixed;

/// Regimes shown of one change: those expected to move most, fewer when there are many changes. All are counted.
const SHOWN: usize = 2;
/// More changes than this are many.
const MANY: usize = 4;

/// One advised change that was made, and the logs on either side of it.
struct Made<'a> {
    change: &'a Change,
    before: &'a Trial,
    after: Option<&'a Trial>,
    advice: &'a Advice,
}

fn made<'a>(tale: &Tale<'a>) -> Vec<Made<'a>> {
    let state = tale.state;
    let mut found = Vec::new();
    for (logs, advice) in &state.advice {
        let Some(before) = logs.checked_sub(1).and_then(|i| state.trials.get(i)) else { continue };
        let after = state.trials.get(*logs);
        for change in &advice.changes {
            let done = state.changes.iter().any(|m| of(change, m));
            let stood = after.is_none_or(|t| t.carburetor.size(change.part) == Some(change.to));
            if done && stood {
                found.push(Made { change, before, after, advice });
            }
        }
    }
    found
}

/// Lambda of a regime in a log, as advice counts it: of a tip-in, the median of the lean peaks.
fn lambda(trial: &Trial, regime: Regime) -> Option<f64> {
    if regime == Regime::TipIn {
        let mut peaks: Vec<f64> = trial.trace.tip_ins.iter().map(|t| t.peak.as_ratio()).collect();
        return robust::median(&mut peaks);
    }
    trial.trace.regime(regime)?.lambda.as_ref().map(|l| l.median.as_ratio())
}

/// Each change as expected against measured: a picture, and the figures.
pub(super) fn against(tale: &Tale<'_>) -> Option<(Option<Picture>, Section)> {
    let made = made(tale);
    let all: Vec<PairRow> =
        made.iter().flat_map(|m| m.change.expect.iter().filter_map(|e| row(m, e))).collect();
    let rows: Vec<PairRow> =
        made.iter().flat_map(|m| most_moved(m, if made.len() > MANY { 1 } else { SHOWN })).collect();
    if rows.is_empty() {
        return None;
    }
    let table = Table {
        caption: "Each change as expected and as measured, in lambda".to_owned(),
        heads: ["Change", "Before", "Expected", "Measured", "Held"].map(str::to_owned).into(),
        figures: vec![1, 2, 3],
        rows: rows.iter().map(cells).collect(),
    };
    let values = rows.iter().flat_map(|p| {
        let band = p.band.map_or([p.before; 2], |(l, h)| [l, h]);
        let (_, low, high) = p.expected.unwrap_or((p.before, p.before, p.before));
        [p.before, low, high, p.after.unwrap_or(p.before), band[0], band[1]]
    });
    let x = Axis::around("lambda; rich to the left", values.collect::<Vec<_>>(), 0.05);
    let picture = x.map(|x| {
        Picture::Pairs(Pairs {
            id: "changes".to_owned(),
            title: "Each change, as expected and as measured".to_owned(),
            says: summary(&all),
            was: "before",
            x,
            rows,
        })
    });
    let blocks = vec![Block::Table(table)];
    let section = Section::half("Each change, as expected and as measured", blocks);
    Some((picture, section.screen_only()))
}

fn most_moved(made: &Made<'_>, shown: usize) -> Vec<PairRow> {
    let mut rows: Vec<(usize, PairRow)> =
        made.change.expect.iter().enumerate().filter_map(|(i, e)| Some((i, row(made, e)?))).collect();
    let moves = |r: &PairRow| r.expected.map_or(0.0, |(middle, _, _)| (middle - r.before).abs());
    rows.sort_by(|(_, a), (_, b)| moves(b).total_cmp(&moves(a)));
    rows.truncate(shown);
    rows.sort_by_key(|(i, _)| *i);
    rows.into_iter().map(|(_, r)| r).collect()
}

fn row(made: &Made<'_>, expect: &Expect) -> Option<PairRow> {
    let verdict = made.advice.regimes.iter().find(|v| v.regime == expect.regime);
    Some(PairRow {
        label: format!("{}, {}", short(made.change.part), expect.regime.said()),
        before: lambda(made.before, expect.regime)?,
        expected: Some((expect.lambda.as_ratio(), expect.low.as_ratio(), expect.high.as_ratio())),
        after: made.after.and_then(|t| lambda(t, expect.regime)),
        band: verdict.and_then(|v| Some((v.target_low?.as_ratio(), v.target_high?.as_ratio()))),
    })
}

fn cells(row: &PairRow) -> Vec<Text> {
    let two = |v: f64| fixed(v, 2);
    let expected = row.expected.map_or_else(String::new, |(middle, low, high)| {
        format!("{} ({} to {})", two(middle), two(low), two(high))
    });
    vec![
        Text::ours(capital(&row.label)),
        Text::ours(two(row.before)),
        Text::ours(expected),
        Text::ours(row.after.map_or_else(String::new, two)),
        Text::ours(held(row)),
    ]
}

fn held(row: &PairRow) -> &'static str {
    match row.after.zip(row.expected) {
        None => "not logged",
        // The ends are rounded as they are shown: what reads as the end is inside.
        Some((v, (_, low, _))) if v < low - 0.005 => "richer",
        Some((v, (_, _, high))) if v > high + 0.005 => "leaner",
        Some(_) => "yes",
    }
}

fn summary(all: &[PairRow]) -> String {
    let measured = all.iter().filter(|p| p.after.is_some()).count();
    let within = all.iter().filter(|p| held(p) == "yes").count();
    format!(
        "{within} of {measured} came out inside the interval given beforehand to hold nine times in ten; shown are those \
         expected to move most."
    )
}

/// A part's name where there is little room.
const fn short(part: PartPath) -> &'static str {
    match part {
        PartPath::MainJet(SetName::Primary) => "Main jet",
        PartPath::MainJet(SetName::Secondary) => "Secondary jet",
        PartPath::MainAirBleed(_) => "Main air bleed",
        PartPath::ChannelRestriction => "Channel",
        PartPath::EnrichmentOpening => "Valve",
        PartPath::IdleFeed => "Idle feed",
        PartPath::IdleAirBleed => "Idle air bleed",
        PartPath::PumpNozzle => "Pump nozzle",
        PartPath::IdleScrew(_) => "Mixture screw",
    }
}
