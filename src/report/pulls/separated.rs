//! What was changed, and which change made the difference: the sentences and the data.

use super::super::differing::thing;
use super::judged::{Scale, plus};
use crate::analysis::factorial::{State, Term};
use crate::analysis::pulls::Attributed;
use crate::analysis::verdict::{Setting, SettingDifference, area_change};
use crate::units::System;
use serde_json::{Value, json};

fn said(setting: Option<&Setting>, system: System) -> String {
    setting.map_or_else(|| "not said".to_owned(), |s| s.show(system))
}

fn difference(d: &SettingDifference, system: System) -> String {
    let area = area_change(d).map(|a| format!(" ({} % area)", plus(a.as_percent(), 1))).unwrap_or_default();
    format!("{} {} to {}{area}", thing(&d.name), said(d.from.as_ref(), system), said(d.to.as_ref(), system))
}

fn term(term: &Term, system: System) -> String {
    match term {
        Term::Change { factor, from, to } => {
            format!("{} {} to {}", thing(factor), from.show(system), to.show(system))
        }
        Term::Together { first, second } => {
            format!("{} and {} together, beyond the sum of each", thing(first), thing(second))
        }
    }
}

fn state(state: &State, of: &[&str], system: System) -> String {
    let one = |name: &&str| state.get(*name).map(|s| format!("{} {}", thing(name), s.show(system)));
    of.iter().filter_map(one).collect::<Vec<_>>().join(", ")
}

/// Sentences; each is one paragraph.
pub(super) fn lines(found: &Attributed, baseline: &str, scale: &Scale, system: System) -> Vec<String> {
    let mut out = Vec::new();
    for (label, differences) in &found.differences {
        let list: Vec<String> = differences.iter().map(|d| difference(d, system)).collect();
        out.push(match list.len() {
            0 => format!("{label} is set as {baseline}: nothing was changed."),
            _ => format!("{label} differs from {baseline} in {}: {}.", counted(list.len()), list.join("; ")),
        });
    }
    out.extend(causes(found, scale, system));
    if !found.unsaid.is_empty() {
        out.push(format!("Not said for every label, and so left out: {}.", found.unsaid.join(", ")));
    }
    out
}

/// What cannot be put down to one thing, what a fit puts down to each, and the pulls that would tell; what is set in
/// goes on with the line before it.
pub(super) fn causes(found: &Attributed, scale: &Scale, system: System) -> Vec<String> {
    let mut out = Vec::new();
    for label in found.unattributed() {
        out.push(format!("Two things or more were changed at once for {label}: its effect is not put down to any one of them."));
    }
    if let Some(a) = found.attribution.as_ref().filter(|a| a.separated && a.factors.len() > 1) {
        let alone = ", the effects taken to add up (the pulls made cannot show otherwise)";
        out.push(format!("By least squares over all pulls{}:", if a.interactions { "" } else { alone }));
        for t in &a.terms {
            if let Some(i) = t.effect {
                let clear = if i.low > 0.0 || i.high < 0.0 { "" } else { ", within the noise" };
                out.push(format!(
                    "  {}: {} {} ({} to {}){clear}",
                    term(&t.term, system),
                    scale.signed(i.value),
                    scale.symbol,
                    scale.signed(i.low),
                    scale.signed(i.high)
                ));
            }
        }
    }
    out.extend(plan(found, system));
    out
}

fn counted(n: usize) -> &'static str {
    match n {
        1 => "one thing",
        2 => "two things",
        3 => "three things",
        _ => "many things",
    }
}

fn plan(found: &Attributed, system: System) -> Vec<String> {
    let Some(a) = found.attribution.as_ref().filter(|a| a.factors.len() > 1) else { return Vec::new() };
    let names: Vec<&str> = a.factors.iter().map(|f| f.name.as_str()).collect();
    match &found.further {
        Some(states) if states.is_empty() => Vec::new(),
        Some(states) => {
            let what = if a.separated {
                "tell whether they work together"
            } else {
                "tell them apart, and whether they work together"
            };
            let mut out = vec![format!("The fewest further pulls that {what}, in this order:")];
            out.extend(
                states.iter().enumerate().map(|(k, s)| format!("  {}. {}", k + 1, state(s, &names, system))),
            );
            out
        }
        None => vec![
            "Too many things differ for a small set of further pulls: go back, and change one at a time."
                .to_owned(),
        ],
    }
}

/// As data.
pub(super) fn data(found: &Attributed, scale: &Scale, system: System) -> Value {
    let differences: Vec<Value> = found
        .differences
        .iter()
        .map(|(label, list)| {
            let one = |d: &SettingDifference| {
                json!({
                    "name": d.name,
                    "from": d.from.as_ref().map(|s| s.show(system)),
                    "to": d.to.as_ref().map(|s| s.show(system)),
                    "area_change_pct": area_change(d).map(|a| super::judged::round(a.as_percent(), 2)),
                })
            };
            json!({ "label": label, "differs": list.iter().map(one).collect::<Vec<_>>() })
        })
        .collect();
    let terms = found.attribution.as_ref().map(|a| {
        let one = |t: &crate::analysis::factorial::TermEffect| {
            let mut o = match &t.term {
                Term::Change { factor, from, to } => {
                    json!({ "change": factor, "from": from.show(system), "to": to.show(system) })
                }
                Term::Together { first, second } => json!({ "together": [first, second] }),
            };
            o["told"] = json!(t.effect.is_some());
            for (name, pick) in [("effect", 0), ("low", 1), ("high", 2)] {
                let value = t.effect.map(|i| [i.value, i.low, i.high][pick] / scale.one);
                o[format!("{name}_{}", scale.suffix)] = json!(value.map(|v| super::judged::round(v, 4)));
            }
            o
        };
        a.terms.iter().map(one).collect::<Vec<_>>()
    });
    let shown = |s: &State| {
        let pairs = s.iter().map(|(k, v)| (k.clone(), json!(v.show(system))));
        Value::Object(pairs.collect())
    };
    json!({
        "settings": differences,
        "unattributed": found.unattributed(),
        "separated": found.attribution.as_ref().is_some_and(|a| a.separated),
        "interactions": found.attribution.as_ref().is_some_and(|a| a.interactions && a.separated),
        "terms": terms,
        "further_states": found.further.as_ref().map(|f| f.iter().map(shown).collect::<Vec<_>>()),
        "not_said_for_all": found.unsaid,
    })
}
