//! Step 7: in gear or under load, where the drive has such a thing.

use super::advice::capital;
use super::curb_idle::{self, trim_request};
use super::question::{Question, first_open};
use crate::procedure::ask::{Request, Tell};
use crate::procedure::event::Answer;
use crate::procedure::plan::Step;
use crate::procedure::state::State;
use crate::rules::in_gear::{GearReadings, GearVerdict, judge};
use crate::setup::Drive;

pub(super) fn request(state: &State) -> Option<Request> {
    let drive = state.setup.engine.drive;
    if !matches!(drive, Drive::Automatic | Drive::LooseAutomatic | Drive::Propeller) {
        return None;
    }
    first_open(Step::InGear, state, before(drive))
        .or_else(|| if passed(state) { trim(state) } else { None })
        .or_else(|| first_open(Step::InGear, state, after()))
}

fn before(drive: Drive) -> Vec<Question> {
    let guard = if drive == Drive::Propeller {
        "Tied fast, water clear astern and ahead, someone at the helm, nobody near the propeller or the belts?"
    } else {
        "Wheels chocked, parking brake on, someone on the brake pedal, nobody in front of the vehicle?"
    };
    vec![
        Question::gate(
            "in-gear.guarded",
            guard,
            "A stuck throttle in gear moves the whole machine.",
            "Not in gear before that is so.",
        ),
        Question::gate(
            "in-gear.engaged",
            "Engage gently. In gear and still running?",
            "The drop on engaging shows what converter or propeller take.",
            "If it stalls: back to neutral, and say what happened with a note; cannot lets the step go.",
        ),
        Question::reading(
            "in-gear.reading",
            "Read vacuum and speed in gear.",
            "Vacuum in gear is what the enrichment valve and the brakes live on.",
        ),
    ]
}

fn after() -> Vec<Question> {
    vec![Question::gate(
        "in-gear.neutral",
        "Back in neutral, idling?",
        "The rest is read in neutral.",
        "Neutral first.",
    )]
}

fn passed(state: &State) -> bool {
    state.reading("in-gear.reading").is_some_and(|r| r.speed.is_some())
}

/// The idle speed in gear, where that is the one that counts.
fn trim(state: &State) -> Option<Request> {
    let aim = curb_idle::aim(state).in_gear?;
    trim_request(state, Step::InGear, aim, "With this drive the idle that counts is the one in gear.")
}

pub(super) fn answered(state: &mut State, name: &str, answer: &Answer) {
    if matches!(answer, Answer::Reading(_)) || name.starts_with("in-gear.idle-speed") {
        curb_idle::answered(state, Step::InGear, answer);
    }
    if name == "in-gear.reading" {
        say_verdict(state);
    }
}

fn say_verdict(state: &mut State) {
    let Some(gear) = state.reading("in-gear.reading") else { return };
    let neutral = state.idle_readings.iter().rev().find(|r| r.step != Step::InGear).map(|r| r.reading);
    let Some((speed_neutral, neutral)) = neutral.and_then(|n| n.speed.map(|s| (s, n))) else { return };
    let readings = GearReadings {
        speed_neutral,
        speed_engaged: gear.speed,
        vacuum_neutral: Some(neutral.vacuum),
        vacuum_engaged: Some(gear.vacuum),
    };
    let opens = state.setup.carburetor.enrichment.map(|e| e.opens_below);
    let overlap = curb_idle::aim(state).overlap;
    let engine = &state.setup.engine;
    let (rules, system) = (&state.job.rules, state.system);
    let result = judge(&readings, state.setup.application, engine.drive, overlap, opens, rules, system);
    for finding in &result.findings {
        let said = format!("{}.", capital(&finding.what));
        state.tell(match finding.verdict {
            GearVerdict::Good => Tell::note(said),
            GearVerdict::Watch | GearVerdict::Stop => Tell::caution(said),
        });
    }
    if result.verdict != GearVerdict::Good {
        state.tell(Tell::caution(format!("Where to look, likeliest first: {}.", result.causes.join("; "))));
    }
}
