//! The idle and every regime, before and after.

use super::Tale;
use crate::analysis::advise::{RegimeVerdict, Trial, Verdict};
use crate::procedure::{IdleReading, Step};
use crate::report::document::{Block, Table, Text};
use crate::setup::Regime;
use crate::units::show::{Shown, fixed};

/// The idle as found, now, and in gear.
pub(super) fn idle(tale: &Tale<'_>) -> Vec<Block> {
    let table = idle_table(tale);
    if table.rows.is_empty() {
        return vec![Block::Paragraph("The idling engine was not read.".into())];
    }
    vec![Block::Table(table)]
}

fn idle_table(tale: &Tale<'_>) -> Table {
    let (outcome, system) = (tale.state.outcome(), tale.system());
    let row = |said: &str, r: Option<IdleReading>| {
        let r = r?.reading;
        Some(vec![
            Text::ours(said),
            Text::ours(r.vacuum.show(system)),
            Text::ours(r.speed.map_or_else(String::new, |s| s.show(system))),
            Text::ours(r.lambda.map_or_else(String::new, |l| fixed(l.as_ratio(), 2))),
        ])
    };
    let in_gear = tale.state.idle_readings.iter().rev().find(|r| r.step == Step::InGear).copied();
    Table {
        caption: "Idle, as found and now".to_owned(),
        heads: ["Reading", "Vacuum", "Speed", "Lambda"].map(str::to_owned).into(),
        figures: vec![1, 2, 3],
        rows: [row("As found", outcome.idle_before), row("Now", outcome.idle_after), row("In gear", in_gear)]
            .into_iter()
            .flatten()
            .collect(),
    }
    .said()
}

/// Every regime seen, against its target.
pub(super) fn regimes(tale: &Tale<'_>) -> Vec<Block> {
    match regime_table(tale) {
        Some(table) => vec![Block::Table(table)],
        None => vec![Block::Paragraph("No log was taken.".into())],
    }
}

fn regime_table(tale: &Tale<'_>) -> Option<Table> {
    let first = tale.first()?;
    let verdicts = tale.last_advice().map(|a| a.regimes.as_slice()).unwrap_or_default();
    let rows = Regime::ALL.into_iter().filter(|r| *r != Regime::Overrun).filter_map(|regime| {
        let verdict = verdicts.iter().find(|v| v.regime == regime);
        let before = median(first, regime);
        let after = tale.later().and_then(|t| median(t, regime));
        if before.is_none() && after.is_none() {
            return None;
        }
        Some(vec![
            Text::ours(capital(regime.said())),
            Text::ours(verdict.and_then(target).unwrap_or_default()),
            Text::ours(before.unwrap_or_default()),
            Text::ours(after.unwrap_or_default()),
            Text::ours(verdict.map_or("", |v| said(v.verdict))),
        ])
    });
    let rows: Vec<_> = rows.collect();
    let (caption, read) = match tale.later() {
        Some(_) => ("Lambda by regime, first and last log", "First"),
        None => ("Lambda by regime", "Read"),
    };
    let any = !rows.is_empty();
    let table = Table {
        caption: caption.to_owned(),
        heads: ["Regime", "Target", read, "Last", "Stands"].map(str::to_owned).into(),
        figures: vec![1, 2, 3],
        rows,
    };
    any.then(|| table.said())
}

fn target(v: &RegimeVerdict) -> Option<String> {
    let (low, high) = (v.target_low?, v.target_high?);
    Some(format!("{} to {}", fixed(low.as_ratio(), 2), fixed(high.as_ratio(), 2)))
}

/// The median of a regime; of a tip-in, where it settled, which is what its target speaks of.
fn median(trial: &Trial, regime: Regime) -> Option<String> {
    if regime == Regime::TipIn {
        let mut settled: Vec<f64> =
            trial.trace.tip_ins.iter().filter_map(|t| Some(t.settled?.as_ratio())).collect();
        return crate::numeric::robust::median(&mut settled).map(|v| fixed(v, 2));
    }
    trial.trace.regime(regime)?.lambda.as_ref().map(|l| fixed(l.median.as_ratio(), 2))
}

/// A verdict in two or three words.
pub(super) const fn said(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Inside => "inside",
        Verdict::Rich => "rich",
        Verdict::Lean => "lean",
        Verdict::Unsure => "too little log",
        Verdict::NotSeen => "not seen",
        Verdict::WitnessOnly => "witness only",
        Verdict::NoTarget => "",
    }
}

pub(super) fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |c| format!("{}{}", c.to_uppercase(), letters.as_str()))
}
