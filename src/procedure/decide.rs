//! An input in a state gives events, or a typed refusal. Nothing is changed here.

use super::ask::{Ask, Input, Refusal, Request, ValueUnit};
use super::event::{Answer, Event, PartChange};
use super::next::{Due, next};
use super::plan::Step;
use super::plausible;
use super::set;
use super::state::State;
use super::steps;
use crate::rules::balance::Reading;
use crate::setup::PartSize;
use crate::units::parse::parse_or_in;
use crate::units::show::{Shown, fuel_pressure_symbol};
use crate::units::{
    CrankAngle, EngineSpeed, Fraction, Length, Pressure, PressureDifference, Quantity, System, Temperature,
    Turns, Vacuum, Volume, VolumeFlow,
};

/// What `input` comes to in `state`: the events to record, in order.
pub fn decide(state: &State, input: Input) -> Result<Vec<Event>, Refusal> {
    let Due::Ask(request) = next(state) else {
        return Err(Refusal("nothing is being asked now".to_owned()));
    };
    match input {
        Input::Undo if state.can_undo() => Ok(vec![Event::Undone]),
        Input::Undo => Err(Refusal("there is nothing to take back yet".to_owned())),
        Input::Note(text) if text.trim().is_empty() => Err(Refusal("the note is empty".to_owned())),
        Input::Note(text) => Ok(vec![Event::Noted { step: request.step, text }]),
        Input::Set(settings) => set::events(state, request.step, &settings),
        Input::Skip(reason) => skip(request.step, reason),
        Input::Stalled => Ok(vec![stalled(&request)]),
        Input::Pause => Ok(vec![Event::Paused]),
        Input::Stop => Ok(vec![Event::Stopped]),
        Input::Emergency(why) => Ok(vec![Event::EmergencyStopped { why }]),
        Input::Cannot(why) => cannot(&request, why),
        answer => answered(state, &request, answer),
    }
}

/// In the search it is an observation of it. Where the idle is being set, or is to be handed over, it is a reading of an
/// engine that has stopped, so that something is done about it. Elsewhere it is written down.
fn stalled(request: &Request) -> Event {
    if steps::mixture::asks(&request.name) {
        return Event::Stalled;
    }
    let idle_counts = matches!(request.step, Step::CurbIdle | Step::Mixture | Step::Close);
    if idle_counts && matches!(request.ask, Ask::Reading { .. }) {
        return Event::Answered {
            name: request.name.clone(),
            step: request.step,
            answer: Answer::Reading(Reading::STOPPED),
            surprising: false,
            assumed: false,
        };
    }
    Event::Noted { step: request.step, text: "stalled, and started again".to_owned() }
}

fn skip(step: Step, reason: String) -> Result<Vec<Event>, Refusal> {
    if !step.may_be_skipped() {
        return Err(Refusal(format!("{} cannot be left out", step.said())));
    }
    if reason.trim().is_empty() {
        return Err(Refusal("a step is left out with a reason: it goes on the sheet".to_owned()));
    }
    Ok(vec![Event::Skipped { step, reason }])
}

fn cannot(request: &Request, why: String) -> Result<Vec<Event>, Refusal> {
    if request.step == Step::Cautions {
        return Err(Refusal("the cautions must be acknowledged before anything else".to_owned()));
    }
    if request.step == Step::Mixture {
        match &request.ask {
            Ask::Turn { screws, .. } if steps::mixture::asks(&request.name) => {
                return Ok(screws
                    .iter()
                    .map(|s| Event::MixtureCannot { what: format!("turn {s}") })
                    .collect());
            }
            Ask::Reading { .. } => return Ok(vec![Event::MixtureCannot { what: "reading".to_owned() }]),
            Ask::IdleSpeed { .. } => return Ok(vec![Event::MixtureCannot { what: "trim".to_owned() }]),
            _ => {}
        }
    }
    Ok(vec![Event::Answered {
        name: request.name.clone(),
        step: request.step,
        answer: Answer::Cannot(why),
        surprising: false,
        assumed: false,
    }])
}

fn answered(state: &State, request: &Request, input: Input) -> Result<Vec<Event>, Refusal> {
    let plain = |answer| Event::Answered {
        name: request.name.clone(),
        step: request.step,
        answer,
        surprising: false,
        assumed: false,
    };
    match (&request.ask, input) {
        (Ask::Confirm, Input::Yes(yes)) => Ok(vec![plain(Answer::Yes(yes))]),
        (Ask::Confirm, Input::Done) => Ok(vec![plain(Answer::Yes(true))]),
        (Ask::Choose { options, .. }, Input::Choice(choice)) => {
            if options.iter().any(|o| o.name == choice) {
                return Ok(vec![plain(Answer::Choice(choice))]);
            }
            let names: Vec<_> = options.iter().map(|o| o.name).collect();
            Err(Refusal(format!("\"{choice}\" is not on offer; choose one of {}", names.join(", "))))
        }
        (Ask::Value { unit, .. }, Input::Value(text)) => value(state, request, *unit, &text, false),
        (Ask::Value { unit, default: Some(text), measured }, Input::Kept) => {
            value(state, request, *unit, text, *measured)
        }
        (Ask::Reading { .. }, Input::Reading(reading)) => Ok(reading_taken(state, request, reading)),
        (Ask::Turn { screws, by }, Input::Done) => {
            Ok(vec![Event::Turned { screws: screws.clone(), by: *by }])
        }
        (Ask::Turn { screws, .. }, Input::TurnedBy(by)) => turned(state, screws, by),
        (Ask::IdleSpeed { toward, by }, Input::Done) => {
            Ok(vec![Event::IdleSpeedMoved { step: request.step, toward: *toward, by: *by }])
        }
        (Ask::IdleSpeed { toward, .. }, Input::TurnedBy(by)) => {
            Ok(vec![Event::IdleSpeedMoved { step: request.step, toward: *toward, by: Some(by) }])
        }
        (Ask::Change { part, from, to }, Input::Done) => {
            Ok(vec![Event::PartChanged(PartChange { part: *part, from: *from, to: *to })])
        }
        (Ask::Change { part, from, .. }, Input::Fitted(size)) => {
            fitted(state, PartChange { part: *part, from: *from, to: size })
        }
        (Ask::Log { .. }, Input::Log(log)) => Ok(vec![Event::Logged(log)]),
        (ask, _) => Err(Refusal(format!("that does not answer the question; {}", wanted(ask)))),
    }
}

fn wanted(ask: &Ask) -> &'static str {
    match ask {
        Ask::Confirm => "yes or no is wanted",
        Ask::Choose { .. } => "one of the choices is wanted",
        Ask::Value { .. } => "a value is wanted",
        Ask::Turn { .. } => "say when it is done, or by how much it was turned",
        Ask::IdleSpeed { .. } | Ask::Change { .. } => "say when it is done",
        Ask::Reading { .. } => "a reading of the gauges is wanted",
        Ask::Log { .. } => "a log is wanted",
    }
}

fn turned(state: &State, screws: &[u8], by: Turns) -> Result<Vec<Event>, Refusal> {
    let idle = &state.setup.carburetor.idle;
    for &screw in screws {
        let stands = idle.turns_out.get(usize::from(screw).saturating_sub(1)).copied().unwrap_or(Turns::ZERO);
        let ends = stands + by;
        if ends.as_turns() < -1e-9 || ends > idle.screw_range {
            return Err(Refusal(format!(
                "screw {screw} stands {} turns out; {} more would take it past {}",
                stands.as_turns(),
                by.as_turns(),
                if by.as_turns() < 0.0 { "its seat" } else { "its range" }
            )));
        }
    }
    Ok(vec![Event::Turned { screws: screws.to_vec(), by }])
}

pub(super) fn fitted(state: &State, change: PartChange) -> Result<Vec<Event>, Refusal> {
    let same_kind = std::mem::discriminant(&change.from) == std::mem::discriminant(&change.to);
    let sensible = match change.to {
        PartSize::Bore(bore) => bore.as_mm() > 0.05 && bore.as_mm() < 10.0,
        PartSize::Opening(vacuum) => vacuum.as_inhg() > 0.0 && vacuum.as_inhg() < 25.0,
        PartSize::Turns(turns) => turns.as_turns() >= 0.0 && turns <= state.setup.carburetor.idle.screw_range,
    };
    if same_kind && sensible {
        return Ok(vec![Event::PartChanged(change)]);
    }
    Err(Refusal(format!("{} cannot be {}", change.part.said(), change.to.show(state.system))))
}

fn reading_taken(state: &State, request: &Request, reading: Reading) -> Vec<Event> {
    let odd = plausible::reading(state, &reading);
    let stood_by = state.questioned.as_ref().is_some_and(|(name, _)| *name == request.name);
    if let Some(because) = odd.as_ref().filter(|_| !stood_by) {
        return vec![Event::Questioned { name: request.name.clone(), because: because.clone() }];
    }
    let surprising = odd.is_some();
    vec![if request.step == Step::Mixture && request.name == steps::mixture::READING {
        Event::MixtureRead { reading, surprising }
    } else {
        Event::Answered {
            name: request.name.clone(),
            step: request.step,
            answer: Answer::Reading(reading),
            surprising,
            assumed: false,
        }
    }]
}

fn value(
    state: &State,
    request: &Request,
    unit: ValueUnit,
    text: &str,
    assumed: bool,
) -> Result<Vec<Event>, Refusal> {
    let system = state.system;
    let (tidy, odd) = match unit {
        ValueUnit::Vacuum => read::<Vacuum>(text, system, plausible::vacuum)?,
        ValueUnit::Pressure => read::<Pressure>(text, system, plausible::barometer)?,
        ValueUnit::GaugePressure => {
            read_in::<PressureDifference>(text, fuel_pressure_symbol(system), plausible::fuel_pressure)?
        }
        ValueUnit::Temperature => read::<Temperature>(text, system, plausible::temperature)?,
        ValueUnit::Percent => read_in::<Fraction>(text, "%", plausible::share)?,
        ValueUnit::Turns => read_in::<Turns>(text, "turns", plausible::turns)?,
        ValueUnit::Speed => read_in::<EngineSpeed>(text, "rpm", plausible::speed)?,
        ValueUnit::Displacement => read::<Volume>(text, system, plausible::displacement)?,
        ValueUnit::Bore => read::<Length>(text, system, plausible::bore)?,
        ValueUnit::Angle => read_in::<CrankAngle>(text, "deg", |_| None)?,
        ValueUnit::AirFlow => read::<VolumeFlow>(text, system, |_| None)?,
        ValueUnit::Count => count(text)?,
    };
    let stood_by = state.questioned.as_ref().is_some_and(|(name, _)| *name == request.name);
    if let Some(because) = odd.as_ref().filter(|_| !stood_by) {
        return Ok(vec![Event::Questioned { name: request.name.clone(), because: because.clone() }]);
    }
    Ok(vec![Event::Answered {
        name: request.name.clone(),
        step: request.step,
        answer: Answer::Value(tidy),
        surprising: odd.is_some(),
        assumed,
    }])
}

type Read = (String, Option<String>);

fn read<Q: Shown>(text: &str, system: System, odd: fn(Q) -> Option<String>) -> Result<Read, Refusal> {
    read_in(text, Q::unit_symbol(system), odd)
}

fn read_in<Q: Quantity>(text: &str, unit: &str, odd: fn(Q) -> Option<String>) -> Result<Read, Refusal> {
    let quantity: Q = parse_or_in(text, unit).map_err(|e| Refusal(e.to_string()))?;
    Ok((crate::units::parse::to_text(quantity), odd(quantity)))
}

fn count(text: &str) -> Result<Read, Refusal> {
    match text.trim().parse::<u8>() {
        Ok(n) if n > 0 => Ok((n.to_string(), (n > 16).then(|| format!("{n} is a great many.")))),
        _ => Err(Refusal("a whole number from 1 is wanted".to_owned())),
    }
}
