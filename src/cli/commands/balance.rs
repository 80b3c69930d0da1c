//! `leanbest balance`: the mixture screws alone, from where they stand now.

use super::guide::hands;
use crate::cli::guide::glance_at_screw;
use crate::cli::guide::{Hands, HandsError, Reply, change_free_result, leave_well};
use crate::cli::{Console, Exit, Fault, pictures};
use crate::procedure::{Ask, Channel, Input, Refusal, Request, Step, Tell};
use crate::report::chart::Picture;
use crate::report::pictures::vacuum_by_turns;
use crate::rules::balance::{Decision, Finish, Move, Observation, Outcome, ScrewSpec, Spec, decide};
use crate::units::show::{turned_by, turns_as_fraction};
use crate::units::{EngineSpeed, PressureDifference, System, Turns};
use clap::ValueEnum;
use std::path::PathBuf;

/// Arguments of `balance`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Number of mixture screws
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..=4))]
    screws: u8,
    /// Turns out from lightly seated: one figure, or one for each screw (1,1.25)
    #[arg(long, value_name = "TURNS", value_delimiter = ',', value_parser = turns)]
    turns_out: Vec<Turns>,
    /// Turns from seated to falling out
    #[arg(long, value_name = "TURNS", value_parser = turns, default_value = "4")]
    screw_range: Turns,
    /// Distance between two marks of the vacuum gauge
    #[arg(long, value_name = "VACUUM", default_value = "0.5inHg")]
    gauge_mark: PressureDifference,
    /// What the screws meter: with air, out is leaner
    #[arg(long, value_name = "fuel|air", default_value = "fuel")]
    screws_meter: Meter,
    /// Where to leave them
    #[arg(long, value_name = "FINISH", default_value = "peak")]
    finish: FinishName,
    /// Idle speed to hold while searching
    #[arg(long, value_name = "RPM")]
    idle_aim: Option<EngineSpeed>,
    /// The needle wanders: a cam with more than about 15 degrees of overlap
    #[arg(long)]
    lopey: bool,
    /// Answers as JSON Lines from a file, or - for standard input
    #[arg(long, value_name = "FILE")]
    answers: Option<PathBuf>,
    /// Draw vacuum against the turns of each screw into an SVG file, when the search is over
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// What a screw meters, as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Meter {
    Fuel,
    Air,
}

/// A finish, as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FinishName {
    Peak,
    LeanDrop,
    Rich,
}

/// Turns need no unit here: there is only one.
fn turns(text: &str) -> Result<Turns, String> {
    let turns: Turns = crate::units::parse::parse_or_in(text, "turns").map_err(|e| e.to_string())?;
    if (0.0..=20.0).contains(&turns.as_turns()) {
        Ok(turns)
    } else {
        Err("between 0 and 20 turns".to_owned())
    }
}

/// Runs `balance`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let spec = spec(args)?;
    leave_well("Stopped; the screws are where they were last turned.".to_owned());
    let mut hands = hands(args.answers.as_deref(), console)?;
    let mut history: Vec<Observation> = Vec::new();
    let seen = |history: &[Observation]| -> Vec<Picture> {
        vacuum_by_turns(&spec, history, console.system).into_iter().map(Picture::Chart).collect()
    };
    match search(&spec, &mut history, hands.as_mut(), console.system) {
        Ok((outcome, whole)) => {
            hands.plain_result(&change_free_result(&outcome)).map_err(Fault::from)?;
            hands.pictures(&seen(&history)).map_err(|e| Fault::input(e.to_string()))?;
            if let Some(file) = args.svg.as_deref() {
                pictures::save(&seen(&history), file)?;
            }
            Ok(if whole { Exit::Done } else { Exit::No })
        }
        Err(HandsError::EndOfInput | HandsError::Interrupted) => Err(Fault::Interrupted),
        Err(HandsError::Lost(source)) => Err(Fault::from(source)),
        Err(HandsError::Useless(why)) => Err(Fault::input(why)),
    }
}

fn spec(args: &Args) -> Result<Spec, Fault> {
    let n = usize::from(args.screws);
    let start = match args.turns_out.as_slice() {
        [] => vec![Turns::from_turns(if n >= 4 { 1.0 } else { 1.5 }); n],
        [one] => vec![*one; n],
        all if all.len() == n => all.to_vec(),
        all => {
            return Err(Fault::input(format!("--turns-out has {} figures for {n} screws", all.len()))
                .hint("give one figure, or one for each screw"));
        }
    };
    if start.iter().any(|t| *t > args.screw_range) {
        return Err(Fault::input("a screw stands further out than its range")
            .hint("give the range of the screws with --screw-range"));
    }
    if args.gauge_mark.as_pa() <= 0.0 {
        return Err(Fault::input("the marks of a gauge lie further apart than nothing"));
    }
    let finish = match args.finish {
        FinishName::Peak => Finish::Peak,
        FinishName::LeanDrop => crate::rules::finish::lean_drop(&crate::rules::RuleBook::common()),
        FinishName::Rich => Finish::Rich(Turns::from_turns(0.125)),
    };
    Ok(Spec {
        screws: ScrewSpec {
            turns_out: start,
            range: args.screw_range,
            mark: Turns::from_turns(0.125),
            meter_air: args.screws_meter == Meter::Air,
        },
        gauge_mark: args.gauge_mark,
        speed_step: EngineSpeed::from_rpm(10.0),
        idle_aim: args.idle_aim,
        lopey: args.lopey,
        finish,
        before: None,
    })
}

/// The search with a pair of hands; false when the person ended it before it was done.
fn search(
    spec: &Spec,
    history: &mut Vec<Observation>,
    hands: &mut dyn Hands,
    system: System,
) -> Result<(Outcome, bool), HandsError> {
    let mut refusals = 0;
    let mut said = None;
    loop {
        let decision = decide(spec, history, system);
        if said != Some(history.len()) {
            said = Some(history.len());
            // A turn that was not read yet teaches nothing, and at the end the result says and shows it.
            let ended = matches!(decision.next, Move::Done(_));
            if matches!(history.last(), Some(Observation::Read(_))) && !ended {
                say_belief(&decision, hands, system)?;
                hands.glance(&|| glance_at_screw(spec, history, system))?;
            }
        }
        let request = match request(&decision, spec, history) {
            Ok(request) => request,
            Err(outcome) => return Ok((outcome, true)),
        };
        let Reply::Input(input) = hands.answer(&request, None)? else { continue };
        match observed(&request, input, spec, history) {
            Ok(Next::Observe(seen)) => {
                refusals = 0;
                history.extend(seen);
            }
            Ok(Next::TakeBack) => {
                history.pop();
            }
            Ok(Next::Stop) => return Ok((stands(spec, history), false)),
            Err(refusal) => {
                refusals += 1;
                hands.refuse(&refusal)?;
                if refusals >= 20 {
                    return Err(HandsError::Useless(refusal.to_string()));
                }
            }
        }
    }
}

enum Next {
    Observe(Vec<Observation>),
    TakeBack,
    Stop,
}

fn observed(request: &Request, input: Input, spec: &Spec, history: &[Observation]) -> Result<Next, Refusal> {
    let seen = match (&request.ask, input) {
        (_, Input::Undo) if history.is_empty() => {
            return Err(Refusal("there is nothing to take back yet".to_owned()));
        }
        (_, Input::Undo) => return Ok(Next::TakeBack),
        (_, Input::Stop | Input::Pause | Input::Emergency(_)) => return Ok(Next::Stop),
        (_, Input::Stalled) => vec![Observation::Stalled],
        (_, Input::Note(_)) => Vec::new(),
        (Ask::Turn { screws, .. }, Input::Cannot(_)) => {
            screws.iter().map(|s| Observation::Cannot { what: format!("turn {s}") }).collect()
        }
        (Ask::IdleSpeed { .. }, Input::Cannot(_)) => vec![Observation::Cannot { what: "trim".to_owned() }],
        (Ask::Reading { .. }, Input::Cannot(_)) => return Ok(Next::Stop),
        (Ask::Turn { screws, by }, Input::Done) => {
            vec![Observation::Turned { screws: screws.clone(), by: *by }]
        }
        (Ask::Turn { screws, .. }, Input::TurnedBy(by)) => vec![turned(spec, history, screws, by)?],
        (Ask::IdleSpeed { .. }, Input::Done | Input::TurnedBy(_)) => vec![Observation::Trimmed { to: None }],
        (Ask::Reading { .. }, Input::Reading(reading)) => vec![Observation::Read(reading)],
        _ => return Err(Refusal("that does not answer the question".to_owned())),
    };
    Ok(Next::Observe(seen))
}

fn turned(spec: &Spec, history: &[Observation], screws: &[u8], by: Turns) -> Result<Observation, Refusal> {
    let now = positions(spec, history);
    for screw in screws {
        let ends = now.get(usize::from(*screw) - 1).copied().unwrap_or_default() + by;
        if ends.as_turns() < -1e-9 || ends > spec.screws.range {
            return Err(Refusal(format!("screw {screw} cannot stand {} turns out", ends.as_turns())));
        }
    }
    Ok(Observation::Turned { screws: screws.to_vec(), by })
}

fn positions(spec: &Spec, history: &[Observation]) -> Vec<Turns> {
    let mut now = spec.screws.turns_out.clone();
    for seen in history {
        if let Observation::Turned { screws, by } = seen {
            for screw in screws {
                if let Some(slot) = now.get_mut(usize::from(*screw).wrapping_sub(1)) {
                    *slot += *by;
                }
            }
        }
    }
    now
}

/// Where things stand when the person ends it early.
fn stands(spec: &Spec, history: &[Observation]) -> Outcome {
    let last = history.iter().rev().find_map(|o| match o {
        Observation::Read(reading) => Some(reading.vacuum),
        _ => None,
    });
    Outcome {
        turns_out: positions(spec, history),
        vacuum: last.unwrap_or_default(),
        moves: history.iter().filter(|o| matches!(o, Observation::Turned { .. })).count() as u32,
        readings: history.iter().filter(|o| matches!(o, Observation::Read(_))).count() as u32,
        unresponsive: Vec::new(),
        remarks: vec!["Ended before the search was done.".to_owned()],
    }
}

fn say_belief(decision: &Decision, hands: &mut dyn Hands, system: System) -> Result<(), HandsError> {
    let Some(belief) = &decision.belief else { return Ok(()) };
    hands.tell(&Tell::note(belief.said(system)), None)
}

fn request(decision: &Decision, spec: &Spec, history: &[Observation]) -> Result<Request, Outcome> {
    let (name, say, ask) = match &decision.next {
        Move::Done(outcome) => return Err(outcome.clone()),
        Move::Read => (
            "reading",
            "Let it settle, then read.".to_owned(),
            Ask::Reading { channels: vec![Channel::Vacuum, Channel::Speed], mark: spec.gauge_mark },
        ),
        Move::Turn { screws, by } => {
            ("turn", say_turn(spec, history, screws, *by), Ask::Turn { screws: screws.clone(), by: *by })
        }
        Move::TrimIdle { toward } => (
            "idle_speed",
            format!("Bring the idle speed back to {:.0} rpm with the idle-speed screw.", toward.as_rpm()),
            Ask::IdleSpeed { toward: *toward, by: None },
        ),
    };
    Ok(Request { step: Step::Mixture, name: name.to_owned(), say, why: decision.why.clone(), ask })
}

fn say_turn(spec: &Spec, history: &[Observation], screws: &[u8], by: Turns) -> String {
    let out = by.as_turns() > 0.0;
    let now = positions(spec, history);
    let to: Vec<String> = screws
        .iter()
        .filter_map(|s| now.get(usize::from(*s) - 1))
        .map(|t| turns_as_fraction(*t + by))
        .collect();
    let which: Vec<String> = screws.iter().map(u8::to_string).collect();
    format!(
        "Screw{} {}: {} {} ({}), to {} out.",
        if which.len() > 1 { "s" } else { "" },
        which.join(" and "),
        turned_by(by),
        if out { "out" } else { "in" },
        if out == spec.screws.meter_air { "leaner" } else { "richer" },
        to.join(" and ")
    )
}
