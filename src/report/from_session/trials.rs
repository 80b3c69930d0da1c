//! Pulls of a session, and what came of what was set between them.

use super::Tale;
use crate::analysis::pulls::{Listed, Peak};
use crate::report::document::{Block, Section, Table, Text};
use crate::report::pulls::{PullSeries, PullsWanted, pull_series};
use crate::report::{differing, pulls};
use crate::units::show::{Shown, fixed};
use crate::units::{EngineSpeed, Power, System};

/// Pulls shown one by one; of more, the last ones.
const SHOWN: usize = 12;
/// States shown; of more, the first and the last ones.
const MOST_STATES: usize = 7;
/// Sentences shown; the session holds the rest.
const MOST_SAID: usize = 5;

/// The pulls of the session, judged together; `None` when there is none.
pub(super) fn series(tale: &Tale<'_>) -> Option<PullSeries> {
    pull_series(tale.state, &PullsWanted::default())
}

/// What each state did, and the pulls one by one, which on paper the states stand for.
pub(super) fn sections(tale: &Tale<'_>, series: &PullSeries) -> [Section; 2] {
    let system = tale.system();
    let mut blocks =
        vec![Block::Paragraph(Text::ours(grounds(series))), Block::Table(states(series, system))];
    let mut said: Vec<String> = match &series.account.against {
        Some(Err(_)) => pulls::verdicts(series, system),
        _ => Vec::new(),
    };
    said.extend(pulls::which(series, system));
    said.extend(pulls::unlike(series, system));
    if said.len() > MOST_SAID {
        said.truncate(MOST_SAID);
        said.push("More is in the session: `leanbest pulls --session` tells it.".to_owned());
    }
    if !said.is_empty() {
        // What was set is in the person's own words.
        blocks.push(Block::List(said.into_iter().map(Text::theirs).collect()));
    }
    let mut each = vec![Block::Table(table(series, system))];
    let count = series.account.pulls.len();
    if count > SHOWN {
        each.push(Block::Paragraph(format!("The last {SHOWN} of {count}; all are judged.").into()));
    }
    [
        Section::full("Pulls, and what each setting did", blocks),
        Section::full("Pull by pull", each).screen_only(),
    ]
}

/// One row for each state: its pulls, what they say against the first, and what was set.
fn states(series: &PullSeries, system: System) -> Table {
    let account = &series.account;
    let mut labels: Vec<&str> = Vec::new();
    for label in account.pulls.iter().filter_map(|p| p.label.as_deref()) {
        if !labels.contains(&label) {
            labels.push(label);
        }
    }
    if labels.len() > MOST_STATES {
        labels.drain(1..=labels.len() - MOST_STATES);
    }
    let unit = Power::unit_symbol(system);
    let first = labels.first().copied().unwrap_or_default();
    Table {
        caption: "Every state the engine was run in, and what it did".to_owned(),
        heads: [
            "State",
            "Pulls",
            &format!("Mean {unit}"),
            &format!("Against {first}, 9 in 10"),
            "",
            "Set as",
        ]
        .map(str::to_owned)
        .into(),
        figures: vec![1, 2, 3],
        rows: labels.iter().map(|label| state(series, label, first, system)).collect(),
    }
}

fn state(series: &PullSeries, label: &str, first: &str, system: System) -> Vec<Text> {
    let account = &series.account;
    let own: Vec<&Listed> = account.pulls.iter().filter(|p| p.label.as_deref() == Some(label)).collect();
    let means: Vec<f64> = own.iter().filter_map(|p| p.means).map(|m| m.power.number(system)).collect();
    let mean = if means.is_empty() {
        String::new()
    } else {
        fixed(means.iter().sum::<f64>() / means.len() as f64, 1)
    };
    let (effect, verdict) = pulls::effect(series, label, system).unwrap_or_default();
    vec![
        Text::ours(label),
        Text::ours(own.len().to_string()),
        Text::ours(mean),
        Text::ours(effect),
        Text::ours(verdict),
        Text::theirs(set_as(series, label, first, system)),
    ]
}

/// Values of the things that are not alike in all states: all of them for the first, what is not as the first for the
/// others.
fn set_as(series: &PullSeries, label: &str, first: &str, system: System) -> String {
    let Some(found) = &series.account.attributed else { return String::new() };
    let own = |of: &str| found.differences.iter().find(|d| d.0 == of).map(|d| d.1.as_slice());
    let mut said: Vec<String> = Vec::new();
    let all = found.differences.iter().flat_map(|d| &d.1);
    let set: Vec<_> =
        if label == first { all.collect() } else { own(label).unwrap_or_default().iter().collect() };
    for one in set {
        let value = if label == first { &one.from } else { &one.to };
        let value = value.as_ref().map_or_else(|| "not said".to_owned(), |v| v.show(system));
        let text = format!("{} {value}", differing::thing(&one.name));
        if !said.contains(&text) {
            said.push(text);
        }
    }
    said.join("; ")
}

/// By which correction, band and rig.
fn grounds(series: &PullSeries) -> String {
    let corrected = pulls::corrected(series);
    let mut letters = corrected.chars();
    let corrected =
        letters.next().map_or_else(String::new, |c| format!("{}{}", c.to_uppercase(), letters.as_str()));
    let band = series.account.band.map_or_else(String::new, |band| {
        format!(
            " Means are from {} to {} rpm ({}).",
            fixed(band.low.as_rpm(), 0),
            fixed(band.high.as_rpm(), 0),
            band.why
        )
    });
    let factors: Vec<f64> =
        series.account.pulls.iter().filter_map(|p| p.pull.correction).map(|c| c.factor).collect();
    let (low, high) = factors.iter().fold((f64::MAX, f64::MIN), |(l, h), f| (l.min(*f), h.max(*f)));
    let by = match (fixed(low, 3), fixed(high, 3)) {
        _ if factors.is_empty() => String::new(),
        (low, high) if low == high => format!(" by {low}"),
        (low, high) => format!(" by {low} to {high}"),
    };
    format!("Run on: {}. {corrected}{by}.{band}", series.asked.how.rig.said())
}

fn table(series: &PullSeries, system: System) -> Table {
    let all = &series.account.pulls;
    let from = all.len().saturating_sub(SHOWN);
    let unit = Power::unit_symbol(system);
    Table {
        caption: "Pulls, in the order run".to_owned(),
        heads: ["Pull", "Set as", &format!("Peak {unit}"), "at rpm", &format!("Mean {unit}"), "Factor"]
            .map(str::to_owned)
            .into(),
        figures: vec![2, 3, 4, 5],
        rows: all.iter().enumerate().skip(from).map(|(k, p)| row(k, p, system)).collect(),
    }
}

fn row(k: usize, listed: &Listed, system: System) -> Vec<Text> {
    let pull = &listed.pull;
    let peak = |p: Peak| {
        let beyond = if p.passed { "" } else { "over " };
        (
            fixed(Power::from_w(p.value * pull.factor()).number(system), 1),
            format!("{beyond}{}", fixed(EngineSpeed::from_rpm(p.rpm).as_rpm(), 0)),
        )
    };
    let (value, speed) = pull.power_peak.map_or_else(Default::default, peak);
    let mean = listed.means.map_or_else(String::new, |m| fixed(m.power.number(system), 1));
    let factor = pull.correction.map_or_else(|| "none".to_owned(), |c| fixed(c.factor, 3));
    let label = listed.label.clone().unwrap_or_default();
    [(k + 1).to_string(), label, value, speed, mean, factor].map(Text::ours).to_vec()
}

/// What the pulls put down to one thing alone, for the head of the sheet.
pub(super) fn lead(series: &PullSeries, system: System) -> Vec<Text> {
    pulls::put_down(series, system).into_iter().take(2).map(Text::theirs).collect()
}
