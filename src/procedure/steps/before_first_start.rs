//! Step 3: with the engine off. Everything here is cheaper to find now than with the engine running.

use super::question::{Question, first_open, shown};
use crate::procedure::ask::{Request, Tell, ValueUnit};
use crate::procedure::event::Answer;
use crate::procedure::plan::Step;
use crate::procedure::state::State;
use crate::rules::start_turns;
use crate::units::Turns;
use crate::units::show::turns_as_fraction;

pub(super) fn request(state: &State) -> Option<Request> {
    let mut questions = vec![
        Question::choose(
            "history",
            "Has this engine run on this carburetor?",
            "An engine that has never run gets every check and the start settings; one that runs keeps its own.",
            &[("runs", "yes, it runs: take it as found"), ("new", "no: first start")],
        ),
        Question::gate(
            "leaks-cold",
            "Fuel line and bowl at full pressure, engine off: everything dry?",
            "A leak found before cranking is a wipe; after, it is a fire.",
            "Stop the pump, mend the leak, wipe up, let the vapour clear.",
        ),
        Question::gate(
            "linkage",
            "Throttle opens fully, and shuts by itself from anywhere?",
            "A throttle that hangs open cannot be argued with.",
            "Free the shaft and linkage, check the return spring.",
        ),
    ];
    if state.choice("history") == Some("new") {
        questions.extend(first_start(state));
    }
    questions.extend(screws(state));
    first_open(Step::BeforeFirstStart, state, questions)
}

fn first_start(state: &State) -> Vec<Question> {
    let mut questions = vec![Question::gate(
        "float",
        "Float level set, dry and then wet?",
        "Level moves every circuit at once.",
        "Set it to the maker's figure first.",
    )];
    if state.setup.carburetor.pump.is_some() {
        questions.push(Question::gate(
            "pump",
            "Engine off, look across the bore, open the throttle: a stream from every nozzle at the first degree?",
            "A late or missing shot is a bog, and a pop back through the carburetor.",
            "Take the slack out of the pump linkage; clear the nozzle.",
        ));
    }
    questions.extend([
        Question::gate("blades", "Idle-speed screw backed off until the blades shut, then cracked open a quarter turn?", "It starts the search from a known place (common practice).", "Do that now."),
        Question::gate(
            "slot",
            "Seen from below, the transition slot shows about as tall as it is wide (0.020 to 0.040 in, 0.5 to 1 mm)?",
            "Too much and the screws go dead; too little and it stumbles off idle (common practice).",
            "Set the blade by the slot; get the missing air from timing, secondaries or a bypass.",
        ),
        Question::gate("timing", "Ignition timed statically, rotor and firing order checked?", "Most carburetor faults are ignition.", "Set it to the maker's figure; about 8 to 12 degrees before top centre to start with (common practice)."),
        Question::gate("choke", "Choke opens fully when warm, and nothing loose can fall in?", "A choke half shut looks like a rich carburetor.", "Free or set it."),
    ]);
    questions
}

/// Where the mixture screws stand, or are put.
fn screws(state: &State) -> Vec<Question> {
    let carburetor = &state.setup.carburetor;
    let new = state.choice("history") == Some("new");
    let start = start_turns::start(carburetor, state.setup.application, &state.job.rules);
    (1..=carburetor.idle.screws)
        .map(|n| {
            let found = state.job.setup.carburetor.idle.turns_out.get(usize::from(n) - 1).copied();
            let default = match &start {
                Some(s) if new => s.start,
                _ => found.unwrap_or(Turns::from_turns(1.5)),
            };
            let say = if new {
                format!("Seat mixture screw {n} gently, then out {}. Where does it stand?", turns_as_fraction(default))
            } else {
                format!("Turn mixture screw {n} in gently to its seat, counting; then back out. Turns out as found?")
            };
            let why = start.as_ref().map_or_else(String::new, |s| format!("Start: {}. A forced needle is ruined.", s.why));
            let name = format!("turns-out.{n}");
            let question = Question::value(&name, say, why, ValueUnit::Turns, shown(default, state));
            if new { question } else { question.measured() }
        })
        .collect()
}

pub(super) fn answered(state: &mut State, name: &str, answer: &Answer) {
    let Some(screw) = name.strip_prefix("turns-out.").and_then(|n| n.parse::<usize>().ok()) else { return };
    if let (Answer::Value(_), Some(turns)) = (answer, state.value::<Turns>(name)) {
        let range = state.setup.carburetor.idle.screw_range;
        if turns > range {
            state.setup.carburetor.idle.screw_range = turns.max(range);
            state.tell(Tell::caution(
                "That is further out than this screw was said to go; its range is taken to be more.",
            ));
        }
        if let Some(slot) = state.setup.carburetor.idle.turns_out.get_mut(screw.saturating_sub(1)) {
            *slot = turns;
        }
    }
}
