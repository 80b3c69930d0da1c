//! The hand-over sheet of a session, as a document.

mod changes;
mod found;
mod held;
mod pictures;
mod readings;
mod rest;
mod settings;
mod trials;

use super::chart::Picture;
use super::document::{Block, Document, Section, Text};
use super::pulls::PullSeries;
use crate::analysis::advise::{Advice, Trial, Verdict};
use crate::procedure::{Ending, Event, State};
use crate::setup::Application;
use crate::units::System;
use crate::units::show::Shown;

/// A session to be told on a sheet.
#[derive(Debug, Clone, Copy)]
pub struct Tale<'a> {
    /// As it stands at its end.
    pub state: &'a State,
    /// Its events, in order.
    pub events: &'a [Event],
    /// The day it was opened.
    pub opened: &'a str,
    /// The day of its last event.
    pub last: &'a str,
    /// Name of the session's file.
    pub file: &'a str,
    /// Records in it.
    pub records: u64,
    /// Check of the last record: it pins the history the sheet was made from.
    pub head: &'a str,
}

impl Tale<'_> {
    fn system(&self) -> System {
        self.state.system
    }

    fn first(&self) -> Option<&Trial> {
        self.state.trials.first()
    }

    /// The last log, when there is more than one.
    fn later(&self) -> Option<&Trial> {
        self.state.trials.last().filter(|_| self.state.trials.len() > 1)
    }

    fn last_advice(&self) -> Option<&Advice> {
        self.state.advice.last().map(|(_, advice)| advice)
    }
}

/// The sheet.
pub fn sheet(tale: &Tale<'_>) -> Document {
    let mut sections = vec![
        Section::half("What was asked", found::asked(tale)),
        Section::half("As found", found::found(tale)),
        Section::half("Idle", readings::idle(tale)),
        Section::half("Engine and carburetor", found::engine(tale)),
        Section::half("Lambda by regime", readings::regimes(tale)),
    ];
    sections.extend(rest::pulls(tale));
    let series = trials::series(tale);
    sections.extend(series.iter().flat_map(|series| trials::sections(tale, series)));
    sections.extend([
        Section::full("What was changed, and why", changes::blocks(tale)),
        Section::full("Every part, as it stands", settings::blocks(tale)),
        rest::open_items(tale),
    ]);
    let (picture, table) = held::against(tale).unzip();
    let pictures = pictures::blocks(tale, picture.flatten());
    if !pictures.is_empty() {
        sections.push(Section::full("What the engine answered", pictures));
    }
    sections.extend(table);
    sections.push(rest::weather(tale));
    sections.push(rest::cautions(tale));
    sections.push(Section::full(
        "Handed over",
        vec![Block::Fields(["Tuned by", "Date", "Received by", "Date"].map(str::to_owned).into())],
    ));
    Document {
        kind: "Tune sheet".to_owned(),
        title: Text::theirs(tale.state.setup.name.clone()),
        under: under(tale),
        lead: lead(tale, series.as_ref()),
        sections,
        foot: foot(tale),
        dense: series.is_some(),
    }
}

/// The pictures of a session: its logs, its mixture screws, and what came of its changes.
pub fn drawn(state: &State) -> Vec<Picture> {
    let tale = Tale { state, events: &[], opened: "", last: "", file: "", records: 0, head: "" };
    pictures::all(&tale, held::against(&tale).and_then(|(picture, _)| picture))
}

fn under(tale: &Tale<'_>) -> Text {
    let setup = &tale.state.setup;
    let days = if tale.opened == tale.last {
        tale.opened.to_owned()
    } else {
        format!("{} to {}", tale.opened, tale.last)
    };
    Text::theirs(setup.engine.name.clone())
        .and(", ")
        .and_theirs(setup.carburetor.name.clone())
        .and(format!(", {}. {days}.", used_for(setup.application)))
}

pub(super) const fn used_for(application: Application) -> &'static str {
    match application {
        Application::Street => "on the road",
        Application::Race => "in competition",
        Application::Marine => "in a boat",
        Application::Tow => "towing and hauling",
        Application::Farm => "in the field",
    }
}

/// The outcome in a few sentences.
fn lead(tale: &Tale<'_>, series: Option<&PullSeries>) -> Vec<Text> {
    let (outcome, system) = (tale.state.outcome(), tale.system());
    let mut lead = Vec::new();
    if let (Some(before), Some(after)) = (outcome.idle_before, outcome.idle_after) {
        let said = |r: &crate::procedure::IdleReading| {
            let speed = r.reading.speed.map_or_else(String::new, |s| format!(" at {}", s.show(system)));
            format!("{}{speed}", r.reading.vacuum.show(system))
        };
        lead.push(Text::ours(format!("Idle vacuum {} as found, {} now.", said(&before), said(&after))));
    }
    let parts: std::collections::BTreeSet<_> = outcome.changes.iter().map(|c| c.part).collect();
    let changed = match (parts.len(), outcome.changes.len()) {
        (0, _) => "No part was changed.".to_owned(),
        (1, 1) => "One part was changed.".to_owned(),
        (1, n) => format!("One part was changed, in {n} steps."),
        (p, n) if p == n => format!("{} parts were changed, one at a time.", counted(p)),
        (p, n) => format!("{} parts were changed, one at a time, in {n} steps.", counted(p)),
    };
    let set = match changes::named(tale).len() {
        0 => String::new(),
        1 => " One setting beside the parts was changed.".to_owned(),
        n => format!(" {} settings beside the parts were changed.", counted(n)),
    };
    lead.push(Text::ours(format!("{changed}{set} {}", stands(tale))));
    lead.extend(series.into_iter().flat_map(|series| trials::lead(series, system)));
    lead
}

/// How the regimes stand, in a sentence.
fn stands(tale: &Tale<'_>) -> String {
    let Some(advice) = tale.last_advice() else {
        return "No log was taken, so nothing is said of the mixture under load.".to_owned();
    };
    let named = |verdicts: &[Verdict]| {
        let names: Vec<&str> = advice
            .regimes
            .iter()
            .filter(|r| verdicts.contains(&r.verdict))
            .map(|r| r.regime.said())
            .collect();
        join(&names)
    };
    let mut parts = Vec::new();
    for (verdicts, said) in [
        (&[Verdict::Inside][..], "inside the target"),
        (&[Verdict::Rich][..], "still richer than the target"),
        (&[Verdict::Lean][..], "still leaner than the target"),
        (&[Verdict::Unsure, Verdict::NotSeen][..], "not seen for long enough to say"),
    ] {
        let names = named(verdicts);
        if !names.is_empty() {
            parts.push(format!("{said}: {names}"));
        }
    }
    let text = parts.join("; ");
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |c| format!("{}{}.", c.to_uppercase(), letters.as_str()))
}

/// Small numbers as words, to begin a sentence with.
fn counted(n: usize) -> String {
    let words = ["No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine"];
    words.get(n).map_or_else(|| n.to_string(), |w| (*w).to_owned())
}

/// "a", "a and b", "a, b and c".
pub(super) fn join(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

fn foot(tale: &Tale<'_>) -> Vec<Text> {
    let ending = match &tale.state.ending {
        Some(Ending::Finished) => "The procedure came to its end.",
        Some(Ending::Stopped | Ending::Emergency(_)) => "The session was stopped before its end.",
        Some(Ending::Paused) | None => "The session is not closed.",
    };
    vec![
        Text::ours(format!("{ending} Made from ")).and_theirs(tale.file).and(format!(
            ", {} records, opened {}; check of the last record {}. `leanbest replay` tells it again.",
            tale.records, tale.opened, tale.head
        )),
        Text::ours("Local codes and licensed practice come first."),
    ]
}
