//! Pulls in a few sentences: for the sheet, a comparison, a folder of sessions.

use super::judged::{Scale, effect_line, grounds};
use super::series::PullSeries;
use super::{separated, words};
use crate::analysis::pulls::Against;
use crate::analysis::verdict::Setting;
use crate::physics::correction::Standard;
use crate::units::{Power, System};
use serde_json::{Value, json};

fn scale(system: System) -> Scale {
    Scale::shown::<Power>(system, "kw", true)
}

/// To which standard the figures are corrected, in two or three words.
pub fn corrected(series: &PullSeries) -> String {
    let to = |standard: Standard| format!("corrected to {}", standard.said());
    series.reading.standard.map_or_else(|| "as read, not corrected".to_owned(), to)
}

/// What each state did against the first, a sentence each; why nothing is said, when nothing is.
pub fn verdicts(series: &PullSeries, system: System) -> Vec<String> {
    match &series.account.against {
        Some(Ok(against)) => judged(against, system),
        Some(Err(refusal)) => vec![format!("Not compared: {refusal}.")],
        None => Vec::new(),
    }
}

fn judged(against: &Against, system: System) -> Vec<String> {
    let power = &against.band_power.judged;
    let one = |e: &crate::analysis::verdict::Effect| {
        format!("{} against {}: {}.", e.label, power.baseline, effect_line(power, e, &scale(system)))
    };
    power.effects.iter().map(one).collect()
}

/// A state's effect on mean power in the band with its interval, and what that says; `None` for the first one.
pub fn effect(series: &PullSeries, label: &str, system: System) -> Option<(String, String)> {
    let Some(Ok(against)) = &series.account.against else { return None };
    let e = against.band_power.judged.effects.iter().find(|e| e.label == label)?;
    let signed = |v: f64| scale(system).signed(v);
    let said = format!("{} ({} to {})", signed(e.effect), signed(e.low), signed(e.high));
    Some((said, e.verdict.said().to_owned()))
}

/// What cannot be put down to one thing, and what a fit over all pulls puts down to each.
pub fn which(series: &PullSeries, system: System) -> Vec<String> {
    let Some(found) = &series.account.attributed else { return Vec::new() };
    let mut out: Vec<String> = Vec::new();
    for line in separated::causes(found, &scale(system), system) {
        // What is set in belongs to the sentence before it.
        match (line.strip_prefix("  "), out.last_mut()) {
            (Some(item), Some(last)) => {
                last.push_str(if last.ends_with(':') { " " } else { "; " });
                last.push_str(item.trim_start());
            }
            _ => out.push(line),
        }
    }
    for said in &mut out {
        if !said.ends_with('.') {
            said.push('.');
        }
    }
    out
}

/// Drift, noise, what would settle it, and what was not kept alike.
pub fn reasons(series: &PullSeries, system: System) -> Vec<String> {
    let Some(Ok(against)) = &series.account.against else { return Vec::new() };
    let mut out = grounds(&against.band_power.judged, &against.band_power.further, &scale(system));
    out.extend(unlike(series, system));
    out
}

/// What was not kept alike, and which pulls were left out.
pub fn unlike(series: &PullSeries, system: System) -> Vec<String> {
    let Some(Ok(against)) = &series.account.against else { return Vec::new() };
    let mut out: Vec<String> = against.unsteady.iter().map(|u| words::unsteady(u, system)).collect();
    out.extend(against.left_out.iter().map(|(k, why)| format!("Pull {} was left out: {why}.", k + 1)));
    out
}

/// What is put down to one thing alone, a sentence each.
pub fn put_down(series: &PullSeries, system: System) -> Vec<String> {
    let Some(Ok(against)) = &series.account.against else { return Vec::new() };
    let power = &against.band_power.judged;
    let show = |s: &Option<Setting>| s.as_ref().map_or_else(|| "not said".to_owned(), |s| s.show(system));
    let found = series.put_down().into_iter();
    found
        .filter_map(|p| {
            let effect = power.effects.iter().find(|e| e.label == p.label)?;
            let (from, to) = (show(&p.thing.from), show(&p.thing.to));
            Some(format!(
                "By the pulls, {} from {from} to {to}: {}.",
                super::super::differing::thing(&p.thing.name),
                effect_line(power, effect, &scale(system))
            ))
        })
        .collect()
}

/// As data, in brief.
pub fn brief_json(series: &PullSeries) -> Value {
    let effects = match &series.account.against {
        Some(Ok(against)) => {
            let power = &against.band_power.judged;
            let pct = |v: f64| super::judged::round(100.0 * v / power.level, 3);
            let one = |e: &crate::analysis::verdict::Effect| {
                json!({
                    "label": e.label, "against": power.baseline, "verdict": e.verdict.name(),
                    "effect_pct": pct(e.effect), "low_pct": pct(e.low), "high_pct": pct(e.high),
                })
            };
            power.effects.iter().map(one).collect()
        }
        _ => Vec::new(),
    };
    let unattributed =
        series.account.attributed.as_ref().map(crate::analysis::pulls::Attributed::unattributed);
    json!({
        "pulls": series.account.pulls.len(),
        "correction": series.reading.standard.map(Standard::name),
        "effects": effects,
        "put_down_to": series.put_down().iter().map(|p| json!({ "label": p.label, "to": p.thing.name })).collect::<Vec<_>>(),
        "unattributed": unattributed.unwrap_or_default(),
    })
}
