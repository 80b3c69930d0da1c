//! One figure judged: the sentences and the data.

use crate::analysis::verdict::{DriftSource, Effect, FURTHER_LIMIT, Judged, NoiseSource, Verdict};
use crate::units::show::{Shown, fixed};
use crate::units::{System, Unit};
use serde_json::{Value, json};

/// How a figure held in SI is written: unit, decimals, and whether more of it is better.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// What a person reads.
    pub symbol: &'static str,
    /// The end of a field name in JSON.
    pub suffix: &'static str,
    /// SI in one written unit.
    pub one: f64,
    /// Decimals.
    pub decimals: usize,
    /// More is better.
    pub up: bool,
}

impl Scale {
    /// A quantity as a system of units shows it.
    pub fn shown<Q: Shown>(system: System, suffix: &'static str, up: bool) -> Scale {
        let (symbol, decimals) = match system {
            System::Us => Q::US,
            System::Metric => Q::METRIC,
        };
        let unit: Option<&Unit> = Q::UNITS.iter().find(|u| u.symbol == symbol);
        Scale { symbol, suffix, one: unit.map_or(1.0, |u| u.scale), decimals, up }
    }

    pub(super) fn show(&self, si: f64) -> String {
        format!("{} {}", self.bare(si), self.symbol)
    }

    pub(super) fn bare(&self, si: f64) -> String {
        fixed(si / self.one, self.decimals)
    }

    pub(super) fn signed(&self, si: f64) -> String {
        let text = self.bare(si);
        if text.starts_with('-') || text.bytes().all(|b| matches!(b, b'0' | b'.')) {
            text
        } else {
            format!("+{text}")
        }
    }

    fn data(&self, si: f64) -> f64 {
        let power = 10f64.powf(self.decimals as f64 + 2.0);
        (si / self.one * power).round() / power
    }
}

/// The sentence for one effect: amount, interval, verdict.
pub(super) fn effect_line(judged: &Judged, effect: &Effect, scale: &Scale) -> String {
    let share = 100.0 * effect.effect / judged.level;
    format!(
        "{} {} ({} %), 90 % interval {} to {}: {}",
        scale.signed(effect.effect),
        scale.symbol,
        plus(share, 1),
        scale.signed(effect.low),
        scale.signed(effect.high),
        effect.verdict.said(),
    )
}

pub(super) fn plus(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    if text.starts_with('-') || text.bytes().all(|b| matches!(b, b'0' | b'.')) {
        text
    } else {
        format!("+{text}")
    }
}

/// Drift, noise and what would settle it, in sentences.
pub(super) fn grounds(judged: &Judged, further: &[Option<usize>], scale: &Scale) -> Vec<String> {
    let mut out = Vec::new();
    match (judged.drift, judged.drift_between_returns) {
        (DriftSource::Fitted, Some(between)) => out.push(format!(
            "Drift: {} from one run of a state to its next; taken out as a steady drift.",
            scale.show(between)
        )),
        _ => out.push(
            "Drift cannot be told from the effect: no state was returned to. The interval allows for some; run A again after B."
                .to_owned(),
        ),
    }
    let source = match judged.noise.source {
        NoiseSource::Floor => "the floor assumed for the rig, since nothing was repeated",
        NoiseSource::FloorAndRepeats => "few repeats, weighed with the floor assumed for the rig",
        NoiseSource::Repeats => "the repeats",
    };
    out.push(format!(
        "Noise: one pull differs from the next by {} (one deviation), from {source}.",
        scale.show(judged.noise.deviation)
    ));
    for (effect, more) in judged.effects.iter().zip(further) {
        out.extend(settling(judged, effect, *more));
    }
    out
}

fn settling(judged: &Judged, effect: &Effect, further: Option<usize>) -> Option<String> {
    if effect.held_back_by_drift {
        return Some(format!(
            "{}: the interval is clear of zero, but the effect is not twice the drift; let the engine settle and run {} and {} again.",
            effect.label, judged.baseline, effect.label
        ));
    }
    if effect.verdict != Verdict::WithinNoise {
        return None;
    }
    Some(match further {
        Some(n) if n > 0 => format!(
            "{}: if the effect is what it looks like, {n} more pull{} ({}) would settle it.",
            effect.label,
            if n == 1 { "" } else { "s" },
            in_turn(judged, effect, n)
        ),
        _ => format!(
            "{}: more than {FURTHER_LIMIT} further pulls would be needed to show so small an effect: treat it as none.",
            effect.label
        ),
    })
}

/// The labels to run next, in turn, beginning with the one that was not run last.
fn in_turn(judged: &Judged, effect: &Effect, n: usize) -> String {
    let mut pair = [&effect.label, &judged.baseline];
    if judged.last == effect.label {
        pair.reverse();
    }
    let first: Vec<&str> = (0..n.min(4)).map(|k| pair[k % 2].as_str()).collect();
    format!("{}{}", first.join(", "), if n > 4 { " and so on" } else { "" })
}

/// One figure judged, as data.
pub(super) fn judged_json(judged: &Judged, further: &[Option<usize>], scale: &Scale) -> Value {
    let key = |name: &str| format!("{name}_{}", scale.suffix);
    let effects: Vec<Value> = judged
        .effects
        .iter()
        .zip(further)
        .map(|(e, more)| {
            let mut o = json!({
                "label": e.label,
                "pulls": e.pulls,
                "effect_pct": round(100.0 * e.effect / judged.level, 3),
                "low_pct": round(100.0 * e.low / judged.level, 3),
                "high_pct": round(100.0 * e.high / judged.level, 3),
                "verdict": e.verdict.name(),
                "held_back_by_drift": e.held_back_by_drift,
                "further_pulls": more,
            });
            for (name, value) in [("effect", e.effect), ("low", e.low), ("high", e.high)] {
                o[key(name)] = json!(scale.data(value));
            }
            o
        })
        .collect();
    let mut out = json!({
        "baseline": judged.baseline,
        "confidence": 0.9,
        "effects": effects,
        "drift_told": judged.drift == DriftSource::Fitted,
        "noise_source": judged.noise.source.name(),
        "noise_pct": round(100.0 * judged.noise.deviation / judged.level, 3),
    });
    out[key("baseline_mean")] = json!(scale.data(judged.level));
    out[key("drift_between_returns")] = json!(judged.drift_between_returns.map(|d| scale.data(d)));
    out[key("drift_per_pull")] = json!(judged.drift_per_pull.map(|d| scale.data(d)));
    out[key("noise")] = json!(scale.data(judged.noise.deviation));
    out
}

/// Rounded for a file.
pub(super) fn round(value: f64, decimals: i32) -> f64 {
    let power = 10f64.powi(decimals);
    (value * power).round() / power
}
