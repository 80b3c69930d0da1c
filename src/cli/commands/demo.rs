//! `leanbest demo`: the whole job on the virtual engine, end to end, unattended.

use super::guide::{job, session_fault};
use crate::bench::virtual_engine::{Character, Fault as EngineFault, VirtualEngine};
use crate::cli::guide::{Practice, Session, VirtualHands, change_json, round};
use crate::cli::{Console, Exit, Fault};
use crate::procedure::{Outcome, State, Step};
use crate::session::story::Recording;
use crate::setup::Regime;
use crate::units::show::{Shown, turns_as_fraction};
use indicatif::{ProgressBar, ProgressStyle};
use serde_json::json;
use std::path::{Path, PathBuf};

/// Arguments of `demo`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Folder for the session, the logs and the sheet
    #[arg(long, value_name = "DIR", default_value = "leanbest-demo")]
    out: PathBuf,
    /// Which engine of its kind
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

/// What the yard put right once the engine had been read as found, last first.
const MENDED: [(EngineFault, &str); 4] = [
    (EngineFault::PumpLeverPlay, "pump lever had 0.040 in of play; taken out"),
    (EngineFault::BaseGasketLeak, "card over the intake raised the speed: rear base gasket replaced"),
    (EngineFault::HighFloat, "float stood 1/16 in high; reset"),
    (
        EngineFault::HighFuelPressure,
        "fuel pressure 6.2 psi at idle against a limit of 5.0; regulator set to 4.5",
    ),
];

/// Runs `demo`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    std::fs::create_dir_all(&args.out)
        .map_err(|e| Fault::io(format!("could not make {}", args.out.display()), e))?;
    let session_file = free_name(&args.out);
    let job = job(Some("petrel"), console)?;
    let bar = progress(console);
    let engine = VirtualEngine::new(&job.setup, Character::as_found(), args.seed);
    let mut practice = Practice::new(engine, args.out.clone());
    let recording = Recording::create(&session_file, &job).map_err(session_fault)?;
    let mut session = Session::new(State::open(job, console.system), recording);
    let exit = {
        let mut hands = VirtualHands::new(
            &mut practice,
            |step: Step| {
                bar.set_position(step.number() as u64);
                bar.set_message(step.said());
            },
            |_| {},
        )
        .mending(MENDED.to_vec());
        session.run(&mut hands)?
    };
    bar.set_message("Sheet");
    let sheet = super::sheet::write_for(&session_file, console.system)?;
    bar.finish_and_clear();
    answer(&session.state, &session_file, &sheet, console)?;
    Ok(exit)
}

fn progress(console: &Console) -> ProgressBar {
    if console.json {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template("{msg:24} {wide_bar} {pos}/{len} {elapsed}");
    let bar = ProgressBar::new(Step::ALL.len() as u64);
    bar.with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}

/// A session file in `folder` that is not there yet: nothing recorded is ever written over.
fn free_name(folder: &Path) -> PathBuf {
    let named = |n: u32| {
        folder.join(if n == 1 {
            "petrel-ann.tune.jsonl".to_owned()
        } else {
            format!("petrel-ann-{n}.tune.jsonl")
        })
    };
    (1..=u32::MAX).map(named).find(|p| !p.exists()).unwrap_or_else(|| named(1))
}

fn answer(state: &State, session: &Path, sheet: &Path, console: &mut Console) -> Result<(), Fault> {
    let outcome = state.outcome();
    if console.json {
        return json_answer(&outcome, session, sheet, console);
    }
    let system = console.system;
    console.say("Petrel Ann, 24 ft oyster skiff: inline six, two-barrel carburetor, sooty and stalling.")?;
    console.say("")?;
    if let (Some(before), Some(after)) = (outcome.idle_before, outcome.idle_after) {
        let speed = |r: &crate::rules::balance::Reading| {
            r.speed.map_or_else(String::new, |s| format!(" at {}", s.show(system)))
        };
        console.say(&format!(
            "  Idle        {}{} as found, {}{} now",
            before.reading.vacuum.show(system),
            speed(&before.reading),
            after.reading.vacuum.show(system),
            speed(&after.reading)
        ))?;
    }
    let screws: Vec<String> = outcome.turns_out.iter().map(|t| turns_as_fraction(*t)).collect();
    console.say(&format!(
        "  Screws      {} turns out, after {} turns and {} readings",
        screws.join(" and "),
        outcome.screw_moves,
        outcome.screw_readings
    ))?;
    for change in &outcome.changes {
        console.say(&format!(
            "  Change      {}: {} -> {}",
            change.part.said(),
            change.from.show(system),
            change.to.show(system)
        ))?;
    }
    for (regime, from, to) in lambdas(state) {
        console.say(&format!("  {regime:<11} lambda {from} before, {to} after"))?;
    }
    console.say("")?;
    console.say(&format!("  Session     {}", session.display()))?;
    console.say(&format!("  Sheet       {}", sheet.display()))?;
    console.say("")?;
    console.say(&format!("Told again:   leanbest replay {}", session.display()))?;
    console.say("By hand:      leanbest rehearse")?;
    console.say("Your engine:  leanbest guide NAME.tune.jsonl")?;
    Ok(())
}

/// Lambda of each regime in the first and the last log.
fn lambdas(state: &State) -> Vec<(&'static str, String, String)> {
    let (Some(first), Some(last)) = (state.trials.first(), state.trials.last()) else { return Vec::new() };
    let median = |trial: &crate::analysis::advise::Trial, regime| {
        let found = trial.trace.regimes.iter().find(|r| r.regime == regime).and_then(|r| r.lambda.as_ref());
        found.map_or_else(|| "-".to_owned(), |l| format!("{:.2}", l.median.as_ratio()))
    };
    [(Regime::Cruise, "Cruise"), (Regime::HeavyCruise, "Heavy"), (Regime::FullThrottle, "Full")]
        .map(|(regime, name)| (name, median(first, regime), median(last, regime)))
        .into()
}

fn json_answer(outcome: &Outcome, session: &Path, sheet: &Path, console: &mut Console) -> Result<(), Fault> {
    let inhg = |r: Option<crate::procedure::IdleReading>| r.map(|r| round(r.reading.vacuum.as_inhg(), 3));
    console.answer_json(&json!({
        "session": session.display().to_string(),
        "sheet": sheet.display().to_string(),
        "idle_vacuum_before_inhg": inhg(outcome.idle_before),
        "idle_vacuum_after_inhg": inhg(outcome.idle_after),
        "screw_moves": outcome.screw_moves,
        "screw_readings": outcome.screw_readings,
        "changes": outcome.changes.iter().map(|c| change_json(c.part, c.from, c.to)).collect::<Vec<_>>(),
    }))?;
    Ok(())
}
