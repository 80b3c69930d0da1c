//! What was changed, and why.

use super::Tale;
use super::readings::capital;
use crate::analysis::advise::Change;
use crate::procedure::PartChange;
use crate::report::document::{Block, Step, Text};
use crate::setup::{PartPath, PartSize};
use crate::units::show::{Shown, turns_as_fraction};

/// Values of one setting that are told one by one.
const MOST_VALUES: usize = 6;

/// The screws, what else was set, then every part in order; steps of one part that follow each other are told together.
pub(super) fn blocks(tale: &Tale<'_>) -> Vec<Block> {
    let mut steps: Vec<Step> = screws(tale).into_iter().collect();
    steps.extend(settings(tale));
    steps.extend(tale.state.changes.chunk_by(|a, b| a.part == b.part).filter_map(|run| one_part(tale, run)));
    if steps.is_empty() {
        return vec![Block::Paragraph("Nothing was changed.".into())];
    }
    vec![Block::Steps(steps)]
}

/// One part's steps: why the first was made, and how sure the last was.
fn one_part(tale: &Tale<'_>, run: &[PartChange]) -> Option<Step> {
    let system = tale.system();
    let (first, last) = (run.first()?, run.last()?);
    let advised = |made: &PartChange| {
        tale.state.advice.iter().flat_map(|(_, a)| &a.changes).find(|advised| of(advised, made))
    };
    let sizes: Vec<String> =
        std::iter::once(first.from).chain(run.iter().map(|c| c.to)).map(|s| s.show(system)).collect();
    let why = match (advised(first), advised(last)) {
        (None, None) => "Not advised by this program.".to_owned(),
        (Some(one), None) | (None, Some(one)) => format!("{} {}", one.why, one.how_sure),
        (Some(one), Some(_)) if run.len() == 1 => format!("{} {}", one.why, one.how_sure),
        (Some(one), Some(other)) => format!("{} The last step: {}", one.why, lower(&other.how_sure)),
    };
    Some(Step {
        what: Text::ours(format!("{}: {}", capital(&first.part.said()), sizes.join(", then "))),
        why: Text::ours(why),
    })
}

/// Settings beside the parts that were changed, in the order they first were: the name and every value it took.
pub(super) fn named(tale: &Tale<'_>) -> Vec<(String, Vec<String>)> {
    let mut all: Vec<(String, Vec<String>)> = Vec::new();
    for change in tale.state.set.iter().filter(|c| c.is_change()) {
        let from = change.from.clone().unwrap_or_else(|| "not said".to_owned());
        match all.iter_mut().find(|(name, _)| *name == change.name) {
            Some((_, values)) => values.push(change.to.clone()),
            None => all.push((change.name.clone(), vec![from, change.to.clone()])),
        }
    }
    all
}

/// All of them in one step.
fn settings(tale: &Tale<'_>) -> Option<Step> {
    let one = |(name, values): &(String, Vec<String>)| {
        // Of many goes only the last few are told one by one.
        let from = values.len().saturating_sub(MOST_VALUES);
        let earlier = if from > 0 { "others, then " } else { "" };
        format!("{}: {earlier}{}.", capital(name), values.get(from..).unwrap_or_default().join(", then "))
    };
    let said: Vec<String> = named(tale).iter().map(one).collect();
    let why = if tale.state.pulls.is_empty() {
        " No pull was run to show what it did."
    } else {
        " The pulls say what it did."
    };
    (!said.is_empty()).then(|| Step {
        what: Text::ours("Set beside the parts, by hand"),
        why: Text::theirs(said.join(" ")).and(why),
    })
}

fn lower(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |c| format!("{}{}", c.to_lowercase(), letters.as_str()))
}

pub(super) fn of(advised: &Change, made: &PartChange) -> bool {
    advised.part == made.part && advised.from == made.from && advised.to == made.to
}

fn screws(tale: &Tale<'_>) -> Option<Step> {
    let search = tale.state.screw_search()?;
    let outcome = tale.state.outcome();
    let now: Vec<String> = outcome.turns_out.iter().map(|t| turns_as_fraction(*t)).collect();
    let found =
        (1..=tale.state.setup.carburetor.idle.screws).zip(&search.spec.screws.turns_out).map(|(n, began)| {
            match super::settings::as_found(tale, PartPath::IdleScrew(n)) {
                Some(PartSize::Turns(t)) => t,
                _ => *began,
            }
        });
    let was: Vec<String> = found.map(turns_as_fraction).collect();
    let (now, was): (Vec<&str>, Vec<&str>) =
        (now.iter().map(String::as_str).collect(), was.iter().map(String::as_str).collect());
    let mut why = format!(
        "By manifold vacuum, in {} turns and {} readings.",
        outcome.screw_moves, outcome.screw_readings
    );
    if let Some(belief) = search.belief {
        let system = tale.system();
        let said = format!(
            " The top is thought to be at {}, give or take {}.",
            belief.top.show(system),
            belief.top_unsure.show(system)
        );
        why.push_str(&said);
    }
    for remark in search.outcome.into_iter().flat_map(|o| &o.remarks) {
        let said = format!(" {}.", capital(remark.trim_end_matches('.')));
        why.push_str(&said);
    }
    Some(Step {
        what: Text::ours(format!("Mixture screws: {} to {} turns out", super::join(&was), super::join(&now))),
        why: Text::ours(why),
    })
}
