//! Step 4: hot and settled. Mixture, speed and vacuum of a cold engine say nothing.

use super::advice::capital;
use super::question::{Question, first_open};
use crate::procedure::ask::{Request, Tell, ValueUnit};
use crate::procedure::plan::Step;
use crate::procedure::state::State;
use crate::rules::book::Word;
use crate::rules::idle;
use crate::rules::needle::{self, NeedleSeen};
use crate::units::Temperature;
use crate::units::show::Shown;

/// Hot enough to set mixture by: 75 C of coolant (common practice: oil and coolant at normal, thermostat open).
const HOT: Temperature = Temperature::from_c(75.0);
/// After so many cold answers the question is let go, and the sheet says so.
const MOST_WAITS: u32 = 5;
const NEEDLE: &str = "needle";

pub(super) fn request(state: &State) -> Option<Request> {
    let mut questions = vec![
        Question::gate(
            "running",
            "Start it. Look at fuel line and bowl again. Running, dry, nothing rubbing, choke open by itself as it warms?",
            "Vibration and heat open leaks that were not there cold.",
            "Fuel off, ignition off. Mend it, then start again.",
        ),
        coolant(state),
    ];
    questions.push(Question::reading(
        "as-found",
        "Hot, choke open, hands off. Read vacuum and speed.",
        "This is how it was found; everything after is held against it.",
    ));
    if state.reading("as-found").is_some() {
        questions.push(Question::choose(
            NEEDLE,
            "What does the needle do while it idles?",
            "A needle tells an ignition miss, a valve or a leak from a mixture that only wants setting.",
            &[
                ("steady", "stands still"),
                ("slow-drift", "wanders slowly"),
                ("regular-dips", "dips, evenly spaced"),
                ("odd-flick", "flicks down now and then"),
                ("fast-shake", "shakes fast"),
            ],
        ));
    }
    first_open(Step::WarmUp, state, questions)
}

fn coolant(state: &State) -> Question {
    let waits = waits(state);
    let name = if waits == 0 { "coolant".to_owned() } else { format!("coolant.{}", waits + 1) };
    let say = if waits == 0 {
        "Coolant temperature (cylinder head, if air-cooled)?"
    } else {
        "Still warming: wait a few minutes. Coolant now?"
    };
    Question::value(
        &name,
        say,
        format!("Mixture is set at {} or more, choke fully open.", HOT.show(state.system)),
        ValueUnit::Temperature,
        Some(Temperature::from_c(82.0).show(state.system)),
    )
    .measured()
}

/// How many times the coolant was too cold, up to the most that are waited for.
fn waits(state: &State) -> u32 {
    (0..MOST_WAITS)
        .take_while(|n| {
            let name = if *n == 0 { "coolant".to_owned() } else { format!("coolant.{}", n + 1) };
            state.value::<Temperature>(&name).is_some_and(|t| t < HOT)
        })
        .count()
        .min(MOST_WAITS as usize - 1) as u32
}

pub(super) fn answered(state: &mut State, name: &str) {
    if name.starts_with("coolant") {
        match state.value::<Temperature>(name) {
            Some(t) if t < HOT => state
                .tell(Tell::note("Too cold to judge by. A fast, steady idle warms it; do not rev it cold.")),
            _ => {}
        }
    }
    if name == NEEDLE {
        say_needle(state);
    }
}

/// What needle and vacuum together point to.
fn say_needle(state: &mut State) {
    let word = state.choice(NEEDLE).and_then(|w| Word::ALL.into_iter().find(|of| word_name(*of) == w));
    let (Some(word), Some(reading)) = (word, state.reading("as-found")) else { return };
    let aim = idle::aim(
        &state.setup.engine,
        state.setup.application,
        state.setup.weather.map(|w| w.pressure),
        &state.job.rules,
        state.system,
    );
    let seen =
        NeedleSeen { word, vacuum: reading.vacuum, normal_low: aim.vacuum_low, normal_high: aim.vacuum_high };
    let needle = needle::read(&seen, &state.job.rules, state.system);
    state.tell(Tell::note(format!("{}.", capital(&needle.said))));
    for diagnosis in needle.diagnoses.iter().take(3) {
        state.tell(Tell::caution(format!(
            "Likely: {}. Next: {} ({}).",
            diagnosis.likely, diagnosis.check, diagnosis.source
        )));
    }
}

const fn word_name(word: Word) -> &'static str {
    match word {
        Word::Steady => "steady",
        Word::SlowDrift => "slow-drift",
        Word::RegularDips => "regular-dips",
        Word::OddFlick => "odd-flick",
        Word::FastShake => "fast-shake",
    }
}
