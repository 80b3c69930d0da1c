//! What this engine has taught, in words, and what sources disagree on.

use super::input::AdviceInput;
use super::learn::Mind;
use super::prior;
use super::say;
use crate::physics::air::MoistAir;
use crate::rules::field_rules;
use crate::setup::{PartSize, Regime};
use crate::units::show::fixed;

/// A sentence for each part whose step is now known better than the model knew it.
pub(super) fn say(mind: &Mind) -> Vec<String> {
    if !mind.has_seen_changes() {
        return Vec::new();
    }
    (0..mind.parts.len()).filter_map(|p| part(mind, p)).collect()
}

fn part(mind: &Mind, p: usize) -> Option<String> {
    let part = &mind.parts[p];
    let step = part.next(true).or_else(|| part.next(false)).filter(|s| matches!(s, PartSize::Bore(_)))?;
    let worth = |r: Regime| {
        let weights = mind.weights(r);
        let model: f64 = weights.iter().map(|(c, w)| w * part.effect(*c, step)).sum();
        let mut sum = super::belief::Linear::default();
        for (c, w) in &weights {
            sum.add(&mind.say_of(*c, p, step), *w);
        }
        (r, model, sum)
    };
    let most = prior::JUDGED.into_iter().map(worth).max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    let (regime, model, sum) = most;
    let ((thought, unsure), (mean, variance)) = (mind.beforehand(&sum), mind.of(&sum));
    let spread = variance.sqrt();
    if model.abs() < 0.003 || spread > 0.8 * unsure.sqrt() {
        return None;
    }
    let percent = |x: f64| fixed(100.0 * x.abs(), 1);
    let against = if percent(mean) == percent(thought) {
        "as was thought beforehand".to_owned()
    } else {
        format!("not the {} % thought beforehand", percent(thought))
    };
    Some(format!(
        "On this engine one step on the {} is worth {} % at {} (give or take {}), {against}.",
        part.path.said(),
        percent(mean),
        regime.said(),
        percent(spread)
    ))
}

/// What else is worth knowing: how the air of this log differs from the setup's, and what the charts would make of
/// it.
pub(super) fn notes(input: &AdviceInput<'_>) -> Vec<String> {
    let mut notes = Vec::new();
    let pair = input.setup.weather.zip(input.weather.copied());
    let airs =
        pair.and_then(|(a, b)| Some((MoistAir::from_weather(&a).ok()?, MoistAir::from_weather(&b).ok()?)));
    let Some((from, to)) = airs else { return notes };
    let jetting = field_rules::jetting(&from, &to, input.rules);
    let large = jetting.says.iter().any(|s| s.fuel.as_ratio().abs() > 0.01);
    if large {
        let each: Vec<String> = jetting
            .says
            .iter()
            .map(|s| format!("{} {} % fuel", s.name, fixed(s.fuel.as_percent(), 1)))
            .collect();
        notes.push(format!("The air differs from that of the setup. {}.", say::capital(&each.join("; "))));
        notes.extend(jetting.notes);
    }
    notes
}
