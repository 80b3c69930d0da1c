//! `leanbest trace`.

use crate::analysis::findings;
use crate::bench::log_file::{self, LogError};
use crate::cli::progress::Working;
use crate::cli::{Console, Exit, Fault, pictures};
use crate::profile::Loaded;
use crate::report;
use crate::report::chart::Picture;
use crate::report::pictures::{Logs, lambda_by_air_flow};
use crate::rules::limits::{self, LambdaLimits};
use crate::trace::live::Alarms;
use crate::trace::{Encoding, LoggerProfile, TraceContext, TraceSummary, guess};
use std::io::Read;
use std::path::{Path, PathBuf};

/// Arguments of `trace`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The log: a CSV file, or - for standard input
    log: PathBuf,
    /// The setup of the job: gives air flow, the fuel's ratio, the barometer, the sensor and its delay
    #[arg(long, value_name = "SETUP")]
    setup: Option<String>,
    /// A logger profile, by name or by its file: names, units and scales of the columns
    #[arg(long, value_name = "NAME|TOML")]
    logger: Option<PathBuf>,
    /// How the text of the log is written, when not in UTF-8
    #[arg(long, value_name = "utf-8|latin-1|windows-1252", value_parser = encoding)]
    encoding: Option<Encoding>,
    /// Guess a logger profile from the header and the first rows, and print it instead of reading the log
    #[arg(long, conflicts_with = "logger")]
    guess: bool,
    /// Draw lambda against air flow into an SVG file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// What is known of the job while a log is read or a line watched.
pub(crate) struct Job {
    /// For the reading.
    pub(crate) ctx: TraceContext,
    /// The setup and what came with it, when one was given.
    pub(crate) loaded: Option<Loaded>,
    /// Limits of the lean alarm, when a setup was given.
    pub(crate) alarms: Option<Alarms>,
}

/// Runs `trace`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    if args.guess {
        return show_guess(&args.log, args.encoding, console);
    }
    let mut job = job(args.setup.as_deref(), args.logger.as_deref(), console)?;
    job.ctx.logger.encoding = args.encoding.or(job.ctx.logger.encoding);
    let summary = read(&args.log, job.ctx)?;
    let found = job.loaded.as_ref().map(|l| findings::find(&summary, &l.setup, &l.rules, console.system));
    let found = found.unwrap_or_default();
    if console.json {
        let mut json = report::trace::summary_json(&summary);
        json["findings"] = report::trace::findings_json(&found);
        console.answer_json(&json)?;
    } else {
        let name = args.log.file_name().map_or_else(|| "log".into(), |n| n.to_string_lossy());
        let text = report::trace::summary_text(&summary, &name, console.system);
        console.raw(text.as_bytes())?;
        console.raw(report::trace::findings_text(&found).as_bytes())?;
    }
    let logs = Logs { before: None, now: ("read", &summary) };
    let chart = lambda_by_air_flow(&logs, job.loaded.as_ref().map(|l| (&l.setup, &l.rules)));
    pictures::show(&chart.map(Picture::Chart).into_iter().collect::<Vec<_>>(), args.svg.as_deref(), console)?;
    Ok(Exit::Done)
}

/// Reads a log from a file, or from standard input for "-".
pub(crate) fn read(log: &Path, ctx: TraceContext) -> Result<TraceSummary, Fault> {
    let working = Working::reading(log);
    let read = if log == Path::new("-") {
        log_file::read_stream(std::io::stdin().lock(), Path::new("standard input"), ctx)
    } else {
        log_file::read_log_telling(log, ctx, &|done| working.at(done))
    };
    read.map_err(fault)
}

fn fault(error: LogError) -> Fault {
    match error {
        LogError::Io { path, source } => Fault::io(format!("could not read {}", path.display()), source),
        LogError::Broken { path, line, source } => Fault::io(
            format!(
                "{}, line {line}: reading stopped here (copy the log to a disk that can be read; the lines before \
                 are whole: head -n {line})",
                path.display()
            ),
            source,
        ),
        other => Fault::input(other.to_string()),
    }
}

/// The logger profile named by hand, when one was.
pub(crate) fn named_logger(logger: Option<&Path>, console: &Console) -> Result<Option<LoggerProfile>, Fault> {
    let by_name = |path: &Path| {
        crate::profile::load_logger(&path.to_string_lossy(), console.profiles.as_deref())
            .map_err(super::load_fault)
    };
    logger.map(by_name).transpose()
}

/// What is known, from a setup and a logger profile; the logger given by hand wins over the setup's.
pub(crate) fn job(setup: Option<&str>, logger: Option<&Path>, console: &Console) -> Result<Job, Fault> {
    let given = named_logger(logger, console)?;
    let Some(name) = setup else {
        let logger = given.unwrap_or_else(LoggerProfile::standard);
        return Ok(Job { ctx: TraceContext::bare(&logger), loaded: None, alarms: None });
    };
    let loaded = crate::profile::load_setup(name, console.profiles.as_deref()).map_err(super::load_fault)?;
    let setup = &loaded.setup;
    let logger = given.unwrap_or_else(|| loaded.logger.clone());
    let mut ctx = TraceContext::new(setup, &logger);
    if ctx.idle_speed.is_none() && setup.engine.cam.is_some() {
        let barometer = setup.weather.map(|w| w.pressure);
        let aim = crate::rules::idle::aim;
        let aim = aim(&setup.engine, setup.application, barometer, &loaded.rules, console.system);
        ctx.idle_speed = Some(aim.aim);
    }
    let full =
        limits::full_throttle(setup.application, setup.engine.cooling, setup.fuel.family, &loaded.rules);
    Ok(Job { ctx, alarms: Some(alarms_of(&full)), loaded: Some(loaded) })
}

/// The alarm's limits from the rules.
pub(crate) fn alarms_of(limits: &LambdaLimits) -> Alarms {
    Alarms { warn: limits.warn_lean, stop: limits.stop_lean, longer_than: limits.longer_than }
}

/// An encoding by any of its usual names.
fn encoding(written: &str) -> Result<Encoding, String> {
    let plain: String = written.to_lowercase().chars().filter(char::is_ascii_alphanumeric).collect();
    match plain.as_str() {
        "utf8" => Ok(Encoding::Utf8),
        "latin1" | "iso88591" | "l1" => Ok(Encoding::Latin1),
        "windows1252" | "cp1252" | "win1252" | "ansi" => Ok(Encoding::Windows1252),
        wide if wide.starts_with("utf16") || wide.starts_with("utf32") || wide.starts_with("ucs2") => {
            Err("a log of two or four bytes a character is not read; convert it: iconv -f UTF-16 -t UTF-8 LOG > NEW.csv"
                .to_owned())
        }
        _ => Err("known are utf-8, latin-1 and windows-1252".to_owned()),
    }
}

/// Bytes looked at for a guess.
const LOOKED_AT: u64 = 64 * 1024;

fn show_guess(log: &Path, encoding: Option<Encoding>, console: &mut Console) -> Result<Exit, Fault> {
    let reading = || format!("could not read {}", log.display());
    let mut bytes = Vec::new();
    let read = if log == Path::new("-") {
        std::io::stdin().lock().take(LOOKED_AT).read_to_end(&mut bytes)
    } else {
        let file = std::fs::File::open(log).map_err(|e| Fault::io(reading(), e))?;
        file.take(LOOKED_AT).read_to_end(&mut bytes)
    };
    read.map_err(|e| Fault::io(reading(), e))?;
    let guessed =
        guess::guess_in(&bytes, encoding).map_err(|e| Fault::input(format!("{}: {e}", log.display())))?;
    if console.json {
        let json = serde_json::json!({
            "profile": guessed.profile, "because": guessed.because, "suspicious": guessed.suspicious,
        });
        console.answer_json(&json)?;
        return Ok(Exit::Done);
    }
    for line in &guessed.because {
        console.say(&format!("# {line}"))?;
    }
    for line in &guessed.suspicious {
        console.say(&format!("# SUSPICIOUS: {line}"))?;
    }
    console.raw(crate::profile::safe_text(&guessed.to_toml()).as_bytes())?;
    console.complain("Read it, correct it, save it as NAME.toml, and give it with --logger NAME.toml.");
    Ok(Exit::Done)
}
