//! Step 10: advice on the last log, one change, log again, until inside the targets or the evidence says stop.

use super::StepDue;
use super::question::{Question, first_open};
use crate::analysis::advise::{
    Advice, AdviceInput, Change, Options, Outcome, Rejet, Trial, Withheld, advise, rejet,
};
use crate::analysis::verdict::Settings;
use crate::procedure::ask::{Ask, Request, Tell};
use crate::procedure::event::{Answer, Event};
use crate::procedure::plan::Step;
use crate::procedure::set::meters_nothing;
use crate::procedure::state::State;
use crate::units::System;

/// After so many logs the tool says that something other than jets is wrong.
const MOST_ROUNDS: usize = 12;

pub(super) fn due(state: &State) -> Option<StepDue> {
    let logs = state.trials.len();
    if logs == 0 {
        return None;
    }
    match state.advice.last() {
        Some((on, advice)) if *on == logs => request(state, advice, logs).map(|r| StepDue::Ask(Box::new(r))),
        _ => Some(StepDue::Own(Box::new(Event::Advised(Box::new(now(
            state,
            Options { together: false, system: state.system },
        )?))))),
    }
}

/// The advice on the last log, with every earlier trial of the session as evidence. Logs taken with something else set
/// that may meter (another fuel, a spacer, another air cleaner) teach nothing of the parts, and are left out.
pub fn now(state: &State, options: Options) -> Option<Advice> {
    let (last, earlier) = state.trials.split_last()?;
    let (settings, then) = state.trial_settings.split_last()?;
    let alike = |then: &Settings| differing(then, settings).all(meters_nothing);
    let memory: Vec<Trial> =
        earlier.iter().zip(then).filter(|(_, then)| alike(then)).map(|(trial, _)| trial.clone()).collect();
    let input = AdviceInput {
        setup: &state.setup,
        rules: &state.job.rules,
        trace: &last.trace,
        weather: last.weather.as_ref(),
        memory: &memory,
        options,
    };
    let mut advice = advise(&input);
    let left_out = earlier.len() - memory.len();
    if left_out > 0 {
        let mut what: Vec<&str> =
            then.iter().flat_map(|then| differing(then, settings)).filter(|n| !meters_nothing(n)).collect();
        what.sort_unstable();
        what.dedup();
        advice.notes.push(format!(
            "{left_out} earlier log{} taken with another {}: not learned from.",
            if left_out == 1 { " was" } else { "s were" },
            what.join(", ")
        ));
    }
    Some(advice)
}

/// What other air would ask of the jets after the advised change.
pub fn air_now(state: &State, advice: &Advice) -> Option<Rejet> {
    let last = state.trials.last()?;
    let input = AdviceInput {
        setup: &state.setup,
        rules: &state.job.rules,
        trace: &last.trace,
        weather: last.weather.as_ref(),
        memory: &[],
        options: Options { together: false, system: state.system },
    };
    rejet(&input, advice)
}

/// Names that two sets of settings do not say the same of.
fn differing<'a>(one: &'a Settings, other: &'a Settings) -> impl Iterator<Item = &'a str> {
    let names = one.keys().chain(other.keys().filter(|name| !one.contains_key(*name)));
    names.filter(|name| one.get(*name) != other.get(*name)).map(String::as_str)
}

fn request(state: &State, advice: &Advice, round: usize) -> Option<Request> {
    if round >= MOST_ROUNDS {
        return None;
    }
    match advice.outcome {
        Outcome::Change => change_request(state, advice, round),
        Outcome::MendFirst => {
            ask(state, again(&format!("mend.{round}"), &mend(advice), ("mended", "mended: log again")))
        }
        Outcome::LogMore => ask(
            state,
            again(
                &format!("more.{round}"),
                "More log is worth more than another part now.",
                ("log-more", "log more"),
            ),
        ),
        Outcome::LeaveAlone | Outcome::NothingHelps => None,
    }
}

fn mend(advice: &Advice) -> String {
    let what: Vec<String> = advice.mend_first.iter().map(|m| format!("{}: {}", m.what, m.check)).collect();
    format!("Before any part: {}.", what.join("; "))
}

fn again(name: &str, say: &str, go_on: (&'static str, &str)) -> Question {
    Question::choose(
        name,
        say,
        "A log that cannot be believed, or is too short, makes bad advice.",
        &[("enough", "enough for today: close"), go_on],
    )
}

fn ask(state: &State, question: Question) -> Option<Request> {
    first_open(Step::Advice, state, vec![question])
}

fn change_request(state: &State, advice: &Advice, round: usize) -> Option<Request> {
    let change = advice.changes.iter().find(|c| !made(state, c))?;
    let name = format!("change.{round}");
    if state.cannot(&name) {
        return None;
    }
    let expect: Vec<String> = change
        .expect
        .iter()
        .map(|e| {
            format!(
                "{} {:.2} ({:.2} to {:.2})",
                e.regime.said(),
                e.lambda.as_ratio(),
                e.low.as_ratio(),
                e.high.as_ratio()
            )
        })
        .collect();
    Some(Request {
        step: Step::Advice,
        name,
        say: format!(
            "Engine off, cool enough, fuel drained into a proper can. {}: {} -> {}. {} Expected lambda: {}.",
            capital(&change.part.said()),
            change.from.show(state.system),
            change.to.show(state.system),
            change.why,
            expect.join("; ")
        ),
        why: format!("{} It would be wrong if: {}", change.how_sure, change.proves_wrong),
        ask: Ask::Change { part: change.part, from: change.from, to: change.to },
    })
}

/// With a capital, to begin a sentence.
pub(in crate::procedure) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// The part stands where the advice wanted it.
fn made(state: &State, change: &Change) -> bool {
    state.setup.carburetor.size(change.part) != Some(change.from)
}

/// Advice was given.
pub(in crate::procedure) fn advised(state: &mut State, advice: &Advice) {
    for mend in &advice.mend_first {
        state.tell(Tell::caution(format!("{}. {}", mend.what, mend.why)));
    }
    for regime in &advice.regimes {
        if regime.lambda_median.is_some() {
            state.tell(Tell::note(format!("{}: {}", capital(regime.regime.said()), regime.says)));
        }
    }
    for withheld in &advice.withheld {
        state.tell(Tell::caution(held_back(withheld, state.system)));
    }
    for learned in advice.learned.iter().chain(&advice.notes) {
        state.tell(Tell::note(learned.clone()));
    }
    match advice.outcome {
        Outcome::LeaveAlone => {
            state.tell(Tell::note("Every regime seen is inside its band. Leave it alone."));
        }
        Outcome::NothingHelps => {
            state.tell(Tell::caution("Something is outside its band, but no part in stock helps safely."));
        }
        Outcome::Change | Outcome::LogMore | Outcome::MendFirst => {}
    }
    state.advice.push((state.trials.len(), advice.clone()));
}

/// What is not done, and why, as sentences.
fn held_back(withheld: &Withheld, system: System) -> String {
    let end = if withheld.reason.ends_with('.') { "" } else { "." };
    format!("Held back: {}. {}{end}", withheld.said(system), capital(&withheld.reason))
}

pub(super) fn answered(state: &mut State, name: &str, answer: &Answer) {
    if let Answer::Choice(choice) = answer
        && (choice == "mended" || choice == "log-more")
    {
        state.log_wanted = true;
    }
    if matches!(answer, Answer::Cannot(_)) && name.starts_with("change.") {
        state.tell(Tell::note("Left as it is."));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_held_back_is_said_in_sentences() {
        let held = |reason: &str| {
            let what = "idle feed 0.060 in to 0.064 in".to_owned();
            held_back(&Withheld { what, reason: reason.to_owned(), change: None }, System::Us)
        };
        let said = "Held back: idle feed 0.060 in to 0.064 in. It would lean full throttle.";
        assert_eq!(held("it would lean full throttle"), said);
        assert_eq!(held("It would lean full throttle."), said);
    }
}
