//! What was asked for, what stood there, and how it was found.

use super::{Tale, used_for};
use crate::physics::cam;
use crate::procedure::{Answer, Due, Event, State, Step, next};
use crate::report::document::{Block, Text};
use crate::setup::{Cooling, Drive};
use crate::units::show::{Shown, fixed, turns_as_fraction};

/// What was asked.
pub(super) fn asked(tale: &Tale<'_>) -> Vec<Block> {
    let (state, system) = (tale.state, tale.system());
    let setup = &state.setup;
    let drive = match setup.engine.drive {
        Drive::Manual => "behind a clutch",
        Drive::Automatic => "with an automatic",
        Drive::LooseAutomatic => "with an automatic and a loose converter",
        Drive::Propeller => "with a propeller behind its gear",
        Drive::None => "with nothing to engage",
    };
    let history = match state.answered("history") {
        Some((_, Answer::Choice(c))) if c == "new" => " It had not run on this carburetor before.",
        Some(_) => " It ran, and was taken as found.",
        None => "",
    };
    let mut blocks = vec![Block::Paragraph(Text::ours(format!(
        "To tune it for work {}, {drive}, up to {}.{history}",
        used_for(setup.application),
        setup.engine.rated_speed.show(system)
    )))];
    let finish = match state.answered("finish") {
        Some((_, Answer::Choice(c))) => Some(match c.as_str() {
            "peak" => "Mixture screws to be left on the peak of vacuum.",
            "rich" => "Mixture screws to be left a little richer than the peak of vacuum.",
            _ => "Mixture screws to be left a lean drop below the peak of vacuum.",
        }),
        _ => None,
    };
    blocks.extend(finish.map(|f| Block::Paragraph(f.into())));
    blocks
}

/// The engine, the carburetor, the fuel and what it was measured with.
pub(super) fn engine(tale: &Tale<'_>) -> Vec<Block> {
    let (setup, system) = (&tale.state.setup, tale.system());
    let (e, c) = (&setup.engine, &setup.carburetor);
    let cooling = match e.cooling {
        Cooling::Water => "water-cooled",
        Cooling::Air => "air-cooled",
    };
    let compression = e.compression.map_or_else(String::new, |r| format!(", compression {}", fixed(r, 1)));
    let displacement = e.displacement.show(system);
    // A name that already says how large the engine is need not be followed by it again.
    let displacement =
        if e.name.contains(&displacement) { String::new() } else { format!(", {displacement}") };
    let mut facts = vec![(
        "Engine".to_owned(),
        Text::theirs(e.name.clone())
            .and(format!("{displacement}; {} cylinders, {cooling}{compression}", e.cylinders)),
    )];
    if let Some(cam) = &e.cam {
        facts.push((
            "Cam".to_owned(),
            Text::ours(format!(
                "{} intake, {} exhaust at 0.050 in, separation {}, overlap {}",
                degrees(cam.intake_duration),
                degrees(cam.exhaust_duration),
                degrees(cam.separation),
                degrees(cam::overlap(cam))
            )),
        ));
    }
    facts.push((
        "Carburetor".to_owned(),
        Text::theirs(c.name.clone()).and(format!(
            "; {} barrel{}, rated {} at {}",
            c.barrels,
            if c.barrels == 1 { "" } else { "s" },
            c.rated_flow.show(system),
            c.rated_depression.show(system)
        )),
    ));
    facts.push((
        "Fuel".to_owned(),
        Text::theirs(setup.fuel.name.clone())
            .and(format!(", stoichiometric at {}", setup.fuel.stoichiometric.show(system))),
    ));
    let sensor = match &setup.instruments.lambda {
        Some(s) if s.trusted => "; lambda sensor, vouched for",
        Some(_) => "; lambda sensor, not vouched for",
        None => "; no lambda sensor",
    };
    facts.push((
        "Measured with".to_owned(),
        Text::ours(format!(
            "vacuum gauge with marks every {}, tachometer to {}{sensor}",
            setup.instruments.vacuum_mark.show(system),
            setup.instruments.speed_step.show(system)
        )),
    ));
    vec![Block::Facts(facts)]
}

fn degrees(angle: crate::units::CrankAngle) -> String {
    format!("{} deg", fixed(angle.as_deg(), 0))
}

/// How it was found, and what was put right.
pub(super) fn found(tale: &Tale<'_>) -> Vec<Block> {
    let (state, system) = (tale.state, tale.system());
    let mut facts = Vec::new();
    if let Some(first) = state.outcome().idle_before {
        let r = first.reading;
        let speed = r.speed.map_or_else(String::new, |s| format!(" at {}", s.show(system)));
        let lambda =
            r.lambda.map_or_else(String::new, |l| format!(", {} {}", "lambda", fixed(l.as_ratio(), 2)));
        facts.push(("Idle".to_owned(), Text::ours(format!("{}{speed}{lambda}", r.vacuum.show(system)))));
    }
    let screws = (1..=state.setup.carburetor.idle.screws).filter_map(|n| as_found_turns(state, n));
    let screws: Vec<String> = screws.collect();
    if !screws.is_empty() {
        let each: Vec<&str> = screws.iter().map(String::as_str).collect();
        facts.push((
            "Screws".to_owned(),
            Text::ours(format!("{} turns out from lightly seated", super::join(&each))),
        ));
    }
    let checks = checks(tale);
    let mut blocks = Vec::new();
    if !facts.is_empty() {
        blocks.push(Block::Facts(facts));
    }
    if !checks.is_empty() {
        blocks.push(Block::List(checks));
    }
    if blocks.is_empty() {
        blocks.push(Block::Paragraph("Nothing was written down of how it was found.".into()));
    }
    blocks
}

fn as_found_turns(state: &State, screw: u8) -> Option<String> {
    match state.answered(&format!("turns-out.{screw}"))?.1 {
        Answer::Value(text) => text.parse().ok().map(turns_as_fraction),
        _ => None,
    }
}

/// The checks that were made, in the words they were asked in, and the notes of the first steps.
fn checks(tale: &Tale<'_>) -> Vec<Text> {
    let mut state = State::open(tale.state.job.clone(), tale.system());
    let mut told: Vec<Option<Text>> = Vec::new();
    let mut notes = Vec::new();
    for event in tale.events {
        if let Event::Undone = event {
            told.pop();
        } else if event.is_answer() {
            told.push(check(&state, event));
        }
        if let Event::Noted { text, .. } = event {
            notes.push(Text::ours("Noted: ").and_theirs(text.clone()));
        }
        if state.apply(event).is_err() {
            break;
        }
    }
    told.into_iter().flatten().chain(notes).collect()
}

fn check(state: &State, event: &Event) -> Option<Text> {
    let Event::Answered { step: Step::BeforeFirstStart, answer, name, .. } = event else { return None };
    let said = match answer {
        Answer::Yes(true) => Text::ours(" yes."),
        Answer::Yes(false) => Text::ours(" no."),
        Answer::Cannot(why) if why.is_empty() => Text::ours(" not done."),
        Answer::Cannot(why) => Text::ours(" not done: ").and_theirs(why.clone()),
        _ => return None,
    };
    match next(state) {
        Due::Ask(request) if request.name == *name => {
            let mut text = Text::ours(request.say);
            text.0.extend(said.0);
            Some(text)
        }
        _ => None,
    }
}
