//! `leanbest compare`: two sessions, two trials of sessions, or two traces, side by side.

mod side;

use super::trace;
use crate::analysis::compare::{Side, compare};
use crate::cli::typed;
use crate::cli::{Console, Exit, Fault, pictures};
use crate::physics::air::MoistAir;
use crate::report::chart::Picture;
use crate::report::compare::{Held, json, say};
use crate::report::differing::Differing;
use crate::report::pictures::{Logs, lambda_by_air_flow};
use crate::report::pulls::{PullsWanted, pulls_against};
use crate::rules::RuleBook;
use crate::setup::{Setup, Weather};
use crate::trace::TraceSummary;
use side::Named;
use std::path::{Path, PathBuf};

/// Arguments of `compare`.
#[derive(Debug, clap::Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Args {
    /// The earlier session or log; FILE#2 is a session's second log, FILE#pull2 its second pull
    #[arg(value_name = "A")]
    before: PathBuf,
    /// The later one, named the same way
    #[arg(value_name = "B")]
    after: PathBuf,
    /// The setup both logs belong to: gives air flow, targets and the sensor
    #[arg(long, value_name = "SETUP")]
    setup: Option<String>,
    /// A logger profile, for both logs
    #[arg(long, value_name = "NAME|TOML")]
    logger: Option<PathBuf>,
    /// Air of the earlier log: "29.92 inHg, 59 F, 40 %"
    #[arg(long, value_name = "P,T,RH", value_parser = typed::air)]
    air_before: Option<MoistAir>,
    /// Air of the later log
    #[arg(long, value_name = "P,T,RH", value_parser = typed::air)]
    air_after: Option<MoistAir>,
    /// Draw lambda against air flow, both logs, into an SVG file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

const EXAMPLES: &str = "Examples:
  Last summer's session and this one:
    leanbest compare 2025.tune.jsonl 2026.tune.jsonl
  The first log of a session and its fourth:
    leanbest compare boat.tune.jsonl#1 boat.tune.jsonl#4
  Two pulls of one evening:
    leanbest compare boat.tune.jsonl#pull1 boat.tune.jsonl#pull2
  Two logs, the weather taken out:
    leanbest compare may.csv june.csv --setup petrel --air-before \"30.05 inHg,71F,62%\" --air-after \"29.80 inHg,92F,70%\"";

/// What was compared, and the logs for a picture.
struct Found {
    held: Held,
    logs: Option<(TraceSummary, TraceSummary)>,
    job: Option<(Setup, RuleBook)>,
}

/// Runs `compare`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let (before, after) = (Named::read(&args.before)?, Named::read(&args.after)?);
    let found = match (is_session(&before.path), is_session(&after.path)) {
        (true, true) => two_sessions(args, (&before, &after), console)?,
        (false, false) => traces(args, console)?,
        _ => {
            return Err(Fault::input("one is a session and the other a log; compare two of a kind")
                .hint("a session's file ends in .tune.jsonl"));
        }
    };
    if console.json {
        console.answer_json(&json(&found.held))?;
    } else {
        let words = say(&found.held, console.system, console.width);
        console.raw(words.as_bytes())?;
    }
    let chart = found.logs.as_ref().and_then(|(a, b)| {
        let logs = Logs { before: Some(("then", a)), now: ("now", b) };
        lambda_by_air_flow(&logs, found.job.as_ref().map(|(s, r)| (s, r)))
    });
    let all: Vec<Picture> = chart.map(Picture::Chart).into_iter().collect();
    pictures::show(&all, args.svg.as_deref(), console)?;
    Ok(Exit::Done)
}

fn is_session(path: &Path) -> bool {
    path.to_string_lossy().ends_with(".jsonl")
}

fn name(path: &Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned())
}

fn two_sessions(args: &Args, named: (&Named, &Named), console: &mut Console) -> Result<Found, Fault> {
    if args.setup.is_some() || args.logger.is_some() || args.air_before.is_some() || args.air_after.is_some()
    {
        return Err(Fault::input(
            "a session holds its own setup, logger and air; those options are for logs",
        ));
    }
    let (a, b) = (named.0.told(console)?, named.1.told(console)?);
    let mut notes = Vec::new();
    if a.state.setup.engine != b.state.setup.engine {
        notes.push("The two sessions are not of the same engine, as they describe it.".to_owned());
    }
    let (fuel, other) = (&a.state.setup.fuel, &b.state.setup.fuel);
    if fuel != other {
        notes.push(format!("The fuel differs: {} then, {} now.", fuel.name, other.name));
    }
    let (first, second) = (a.taken(named.0, &mut notes)?, b.taken(named.1, &mut notes)?);
    let air = |w: Option<Weather>| w.and_then(|w| MoistAir::from_weather(&w).ok());
    let logs = first.log.zip(second.log);
    let series = pulls_against(&first.pulls, &second.pulls, &b.state, &PullsWanted::default());
    for (source, _) in series.iter().flat_map(|s| &s.off_grid) {
        notes.push(format!("{source} was recorded on another grid of speeds than the first pull: left out."));
    }
    let series = series.filter(|s| s.account.against.is_some());
    if series.is_some() && named.0.path != named.1.path {
        notes.push(
            "The pulls of the two were not run in turn: whatever else changed from one to the other is in their effect, \
             drift included."
                .to_owned(),
        );
    }
    let kind = if named.0.which.is_none() && named.1.which.is_none() { "sessions" } else { "trials" };
    let held = Held {
        kind,
        names: (named.0.said(), named.1.said()),
        settings: Differing::between(
            (&first.carburetor, &first.settings),
            (&second.carburetor, &second.settings),
        ),
        settings_known: true,
        idle: (first.idle, second.idle),
        logs: logs.as_ref().map(|(x, y)| {
            compare(
                Side { summary: x, air: air(first.weather) },
                Side { summary: y, air: air(second.weather) },
            )
        }),
        pulls: series,
        air: (first.weather, second.weather),
        notes,
    };
    Ok(Found { held, logs, job: Some((b.state.setup.clone(), b.state.job.rules.clone())) })
}

fn traces(args: &Args, console: &mut Console) -> Result<Found, Fault> {
    let read = |log: &Path, console: &mut Console| -> Result<_, Fault> {
        let job = trace::job(args.setup.as_deref(), args.logger.as_deref(), console)?;
        Ok((trace::read(log, job.ctx)?, job.loaded))
    };
    let (a, _) = read(&args.before, console)?;
    let (b, loaded) = read(&args.after, console)?;
    let sides = (Side { summary: &a, air: args.air_before }, Side { summary: &b, air: args.air_after });
    let held = Held {
        kind: "traces",
        names: (name(&args.before), name(&args.after)),
        settings: Differing::default(),
        settings_known: false,
        idle: (None, None),
        logs: Some(compare(sides.0, sides.1)),
        pulls: None,
        air: (args.air_before.as_ref().map(weather), args.air_after.as_ref().map(weather)),
        notes: Vec::new(),
    };
    Ok(Found { held, job: loaded.map(|l| (l.setup, l.rules)), logs: Some((a, b)) })
}

fn weather(air: &MoistAir) -> Weather {
    Weather { pressure: air.pressure(), temperature: air.temperature(), humidity: air.relative_humidity() }
}
