//! Step 8: does the enrichment valve open where idle and cruise want it to?

use super::advice::capital;
use super::question::{Question, first_open, shown};
use crate::procedure::ask::{Ask, Request, Tell, ValueUnit};
use crate::procedure::plan::Step;
use crate::procedure::state::State;
use crate::rules::enrichment::{EnrichmentAdvice, VacuumSeen, opening};
use crate::setup::{PartPath, PartSize};
use crate::units::Vacuum;
use crate::units::show::Shown;

const CRUISE: &str = "enrichment.cruise-vacuum";
const FIT: &str = "enrichment.fit";
const CHANGE: &str = "enrichment.change";

pub(super) fn request(state: &State) -> Option<Request> {
    state.job.setup.carburetor.enrichment?;
    let cruise = Question::value(
        CRUISE,
        "Lowest steady vacuum at the speed it cruises at: loaded, into the wind, on the hill. Not known: say so, and only the idle rules are used.",
        "A valve that opens at cruise burns fuel for nothing; one that opens late leans the climb.",
        ValueUnit::Vacuum,
        state
            .setup
            .carburetor
            .enrichment
            .and_then(|e| shown(e.opens_below.plus(crate::units::PressureDifference::from_inhg(2.0)), state)),
    )
    .measured();
    if let Some(request) = first_open(Step::EnrichmentCheck, state, vec![cruise]) {
        return Some(request);
    }
    let (from, to) = proposed(state)?;
    let fit = Question::choose(
        FIT,
        format!(
            "Fitted: opens below {}. These readings ask for {}. Fit it now, before the log?",
            from.show(state.system),
            to.show(state.system)
        ),
        "The valve decides where lambda steps down under load; jets read through a wrong valve mislead.",
        &[
            ("leave-it", "no: log with the one fitted, and let the log decide"),
            ("fit-it", "yes: change the valve now"),
        ],
    );
    if let Some(request) = first_open(Step::EnrichmentCheck, state, vec![fit]) {
        return Some(request);
    }
    let done = state.changes.iter().any(|c| c.part == PartPath::EnrichmentOpening);
    if state.choice(FIT) != Some("fit-it") || done || state.cannot(CHANGE) {
        return None;
    }
    Some(Request {
        step: Step::EnrichmentCheck,
        name: CHANGE.to_owned(),
        say: format!(
            "Engine off, fuel drained below the valve. Fit the {} valve in place of {}.",
            to.show(state.system),
            from.show(state.system)
        ),
        why: "One change; everything else as it is.".to_owned(),
        ask: Ask::Change {
            part: PartPath::EnrichmentOpening,
            from: PartSize::Opening(from),
            to: PartSize::Opening(to),
        },
    })
}

fn advice(state: &State) -> Option<EnrichmentAdvice> {
    let seen = VacuumSeen {
        idle_neutral: state.idle_vacuum(),
        idle_in_gear: state.reading("in-gear.reading").map(|r| r.vacuum),
        lowest_cruise: state.value::<Vacuum>(CRUISE),
    };
    opening(
        &seen,
        state.setup.engine.drive,
        &state.setup.carburetor.stock.enrichment_valves,
        &state.job.rules,
        state.system,
    )
    .ok()
}

/// From what was fitted when the session was opened, to what is asked for, when they differ.
fn proposed(state: &State) -> Option<(Vacuum, Vacuum)> {
    let fitted = state.job.setup.carburetor.enrichment?.opens_below;
    let wanted = advice(state)?.stocked?;
    ((fitted.as_inhg() - wanted.as_inhg()).abs() > 0.25).then_some((fitted, wanted))
}

pub(super) fn answered(state: &mut State, name: &str) {
    if name != CRUISE {
        return;
    }
    match advice(state) {
        Some(advice) => {
            for reason in &advice.reasons {
                state.tell(Tell::note(format!("{}.", capital(reason))));
            }
        }
        None => state.tell(Tell::note("Nothing can be said of the valve without a vacuum reading.")),
    }
}
