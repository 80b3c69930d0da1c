//! `leanbest advise`.

use super::in_session::InSession;
use super::load_fault;
use super::trace::{named_logger, read};
use crate::analysis::advise::{Advice, AdviceInput, Options, Outcome, Rejet, Trial, advise, rejet};
use crate::cli::{Console, Exit, Fault, pictures};
use crate::procedure::{Event, LogTaken, advice_now, air_now, parse_settings};
use crate::profile::Loaded;
use crate::report::chart::Picture;
use crate::report::lines;
use crate::report::pictures::lambda_by_regime;
use crate::setup::{Carburetor, Setup, Weather};
use crate::trace::{LoggerProfile, TraceContext};
use crate::units::show::fixed;
use std::path::{Path, PathBuf};

/// Arguments of `advise`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Logs of the carburetor as it stands, oldest first
    #[arg(required = true, value_name = "LOG")]
    logs: Vec<PathBuf>,
    /// The setup of the job, with the parts as they stand: a name or a file; a session begun has its own
    #[arg(long, value_name = "S", required_unless_present = "session")]
    setup: Option<String>,
    /// A logger profile, by name or by its file: names, units and scales of the columns
    #[arg(long, value_name = "NAME|TOML")]
    logger: Option<PathBuf>,
    /// Session to record this in and to learn from; begun if it is new
    #[arg(long, value_name = "FILE")]
    session: Option<PathBuf>,
    /// What else was set for these logs, kept in the session: "fuel=e85, spacer=1 in"
    #[arg(long = "set", value_name = "NAME=VALUE,...", requires = "session")]
    sets: Vec<String>,
    /// Change parts of separate circuits in one step, instead of one part a time
    #[arg(long)]
    together: bool,
    /// Station pressure of the day of the log, when it was another than the setup's
    #[arg(long, value_name = "P", requires = "temperature")]
    pressure: Option<crate::units::Pressure>,
    /// Air temperature of that day
    #[arg(long, value_name = "T", requires = "pressure")]
    temperature: Option<crate::units::Temperature>,
    /// Relative humidity of that day
    #[arg(long, value_name = "RH", requires = "pressure")]
    humidity: Option<crate::units::Fraction>,
    /// Draw lambda by regime against its target, now and expected, into an SVG file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// Runs `advise`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let load =
        |name: &String| crate::profile::load_setup(name, console.profiles.as_deref()).map_err(load_fault);
    let loaded = args.setup.as_ref().map(load).transpose()?;
    let logger = named_logger(args.logger.as_deref(), console)?;
    let logger = logger.as_ref();
    let options = Options { together: args.together, system: console.system };
    let (advice, air) = match (&args.session, &loaded) {
        (Some(path), _) => in_a_session(args, path, (loaded.as_ref(), logger), options, console)?,
        (None, Some(loaded)) => alone(args, loaded, logger, options)?,
        (None, None) => return Err(Fault::input("give --setup, or a --session that has one")),
    };
    answer(&advice, air.as_ref(), console)?;
    let picture: Vec<Picture> = lambda_by_regime(&advice).map(Picture::Pairs).into_iter().collect();
    pictures::show(&picture, args.svg.as_deref(), console)?;
    Ok(if matches!(advice.outcome, Outcome::MendFirst | Outcome::NothingHelps) {
        Exit::No
    } else {
        Exit::Done
    })
}

/// The logs, read before anything is recorded.
fn taken(
    args: &Args,
    setup: &Setup,
    logger: &LoggerProfile,
    air: Option<Weather>,
) -> Result<Vec<LogTaken>, Fault> {
    let weather = weather(args).or(air);
    let one = |path: &PathBuf| {
        let trace = read(path, TraceContext::new(setup, logger))?;
        Ok(LogTaken { source: path.display().to_string(), weather, trace })
    };
    args.logs.iter().map(one).collect()
}

/// Advice on logs of one set of parts, remembered nowhere.
fn alone(
    args: &Args,
    loaded: &Loaded,
    logger: Option<&LoggerProfile>,
    options: Options,
) -> Result<(Advice, Option<Rejet>), Fault> {
    let mut taken = taken(args, &loaded.setup, logger.unwrap_or(&loaded.logger), None)?;
    let last = taken.pop().ok_or_else(|| Fault::input("name a log"))?;
    let memory: Vec<Trial> = taken.iter().map(|log| trial(&loaded.setup.carburetor, log)).collect();
    let input = AdviceInput {
        setup: &loaded.setup,
        rules: &loaded.rules,
        trace: &last.trace,
        weather: last.weather.as_ref(),
        memory: &memory,
        options,
    };
    let advice = advise(&input);
    let air = rejet(&input, &advice);
    Ok((advice, air))
}

/// Advice with the memory of a session: what changed, the logs and the advice are recorded in it, and every earlier
/// trial of it is learned from, as inside the guide.
fn in_a_session(
    args: &Args,
    path: &Path,
    (loaded, logger): (Option<&Loaded>, Option<&LoggerProfile>),
    options: Options,
    console: &mut Console,
) -> Result<(Advice, Option<Rejet>), Fault> {
    let set = args
        .sets
        .iter()
        .map(|text| parse_settings(text).map_err(|e| Fault::input(format!("--set \"{text}\": {e}"))));
    let set = set.collect::<Result<Vec<_>, _>>()?;
    // Read by the setup given, before the session is touched; without one, by the session's own. A logger named by hand
    // wins over either's, for these logs.
    let by_setup =
        loaded.map(|l| taken(args, &l.setup, logger.unwrap_or(&l.logger), l.setup.weather)).transpose()?;
    let mut session = InSession::open(path, loaded, console)?;
    let logs = match by_setup {
        Some(logs) => logs,
        None => taken(args, &session.state.setup, logger.unwrap_or(&session.state.job.logger), None)?,
    };
    if let Some(loaded) = loaded {
        session.fit(&loaded.setup, console)?;
    }
    for settings in &set {
        session.set(settings, console)?;
    }
    for log in logs {
        session.record(&Event::Logged(Box::new(log)), console)?;
    }
    let advice = advice_now(&session.state, options).ok_or_else(|| Fault::input("name a log"))?;
    session.record(&Event::Advised(Box::new(advice.clone())), console)?;
    let air = air_now(&session.state, &advice);
    Ok((advice, air))
}

fn weather(args: &Args) -> Option<Weather> {
    args.pressure.zip(args.temperature).map(|(pressure, temperature)| Weather {
        pressure,
        temperature,
        humidity: args.humidity.unwrap_or(crate::units::Fraction::ZERO),
    })
}

fn trial(carburetor: &Carburetor, log: &LogTaken) -> Trial {
    Trial { carburetor: carburetor.clone(), weather: log.weather, trace: log.trace.clone() }
}

fn answer(advice: &Advice, air: Option<&Rejet>, console: &mut Console) -> Result<(), Fault> {
    if console.json {
        let mut json = advice.to_json(console.system);
        json["air"] = air.map_or(serde_json::Value::Null, Rejet::to_json);
        console.answer_json(&json)?;
        return Ok(());
    }
    for r in &advice.regimes {
        console.say(&format!("{:<14} {}", r.regime.said(), r.says))?;
    }
    for m in &advice.mend_first {
        section(console, "First", &[&m.what, &m.why, &m.check])?;
    }
    for c in &advice.changes {
        let (from, to) = (c.from.show(console.system), c.to.show(console.system));
        section(console, "Change", &[&format!("{}: {from} -> {to}", c.part.said())])?;
        paragraph(console, &c.why)?;
        for e in &c.expect {
            let range = |l: crate::units::Lambda| fixed(l.as_ratio(), 3);
            let line = format!(
                "  {:<14} {}  ({} to {})",
                e.regime.said(),
                range(e.lambda),
                range(e.low),
                range(e.high)
            );
            console.say(&line)?;
        }
        paragraph(console, &c.how_sure)?;
        paragraph(console, &format!("Wrong if: {}", c.proves_wrong))?;
    }
    let headline = match advice.outcome {
        Outcome::LeaveAlone if advice.notes.iter().any(|n| n.contains("noise of the logs")) => {
            Some("Leave it alone: what is left is within the noise of the logs.")
        }
        Outcome::LeaveAlone => Some("Leave it alone: every regime seen is inside its band."),
        Outcome::LogMore => Some("Log more before changing anything."),
        Outcome::NothingHelps => Some("No part in stock helps safely."),
        Outcome::Change | Outcome::MendFirst => None,
    };
    if let Some(text) = headline {
        section(console, text, &[])?;
    }
    if !advice.plan.is_empty() {
        section(console, "Then", &[])?;
        for s in &advice.plan {
            let (from, to) = (s.from.show(console.system), s.to.show(console.system));
            paragraph(console, &format!("{}: {from} -> {to}; {}", s.part.said(), s.why))?;
        }
    }
    if !advice.withheld.is_empty() {
        section(console, "Held back", &[])?;
        for w in &advice.withheld {
            paragraph(console, &format!("{}: {}", w.said(console.system), w.reason))?;
        }
    }
    if !advice.learned.is_empty() {
        section(
            console,
            "What this engine has taught",
            &advice.learned.iter().map(String::as_str).collect::<Vec<_>>(),
        )?;
    }
    for text in &advice.notes {
        console.say("")?;
        paragraph(console, text)?;
    }
    if let Some(air) = air {
        let said = air.say(console.system);
        section(console, "Other air", &said.iter().map(String::as_str).collect::<Vec<_>>())?;
    }
    Ok(())
}

fn section(console: &mut Console, title: &str, paragraphs: &[&str]) -> Result<(), Fault> {
    console.say("")?;
    console.say(title)?;
    paragraphs.iter().try_for_each(|p| paragraph(console, p))
}

/// A paragraph, wrapped and set in by two.
fn paragraph(console: &mut Console, text: &str) -> Result<(), Fault> {
    let width = console.width.max(40) - 2;
    let mut line = String::new();
    for word in lines::words(text) {
        if !line.is_empty() && line.chars().count() + 1 + word.chars().count() > width {
            console.say(&format!("  {line}"))?;
            line.clear();
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(&word);
    }
    if !line.is_empty() {
        console.say(&format!("  {line}"))?;
    }
    Ok(())
}
