//! `leanbest guide`.

use crate::bench::line::LineSource;
use crate::cli::guide::{Hands, LinkHands, LiveHands, PromptHands, Session, leave_well};
use crate::cli::screen::Feed;
use crate::cli::{Console, Exit, Fault};
use crate::procedure::{Job, State, Tell};
use crate::rules::limits;
use crate::session::SessionError;
use crate::session::story::{Recording, Story, read_story};
use crate::trace::TraceContext;
use std::fs::File;
use std::io::{self, BufReader, IsTerminal};
use std::path::{Path, PathBuf};

/// Arguments of `guide`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Session file: begun if it is new, gone on with if it is not
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Setup of a new session: a name or a file
    #[arg(long, value_name = "S")]
    setup: Option<String>,
    /// Answers as JSON Lines from a file, or - for standard input
    #[arg(long, value_name = "FILE")]
    answers: Option<PathBuf>,
    /// Serial device of the instruments: readings are taken from it, logs are recorded from it
    #[arg(long, value_name = "DEV", conflicts_with = "answers")]
    port: Option<PathBuf>,
    /// Speed of the serial device
    #[arg(long, default_value_t = 115_200, requires = "port")]
    baud: u32,
}

/// Runs `guide`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let (recording, state, notes) = open(args, console)?;
    leave_well(format!(
        "Stopped. Everything acknowledged is in {}.\nThe same command goes on from here.",
        args.file.display()
    ));
    let mut hands: Box<dyn Hands> = match &args.port {
        Some(port) => Box::new(live_hands(port, args, &state.job, console)?),
        None => hands(args.answers.as_deref(), console)?,
    };
    for note in notes {
        hands.tell(&note, None).map_err(|e| Fault::input(e.to_string()))?;
    }
    Session::new(state, recording).run(hands.as_mut())
}

/// The person at the terminal, and instruments on a serial line.
fn live_hands(port: &Path, args: &Args, job: &Job, console: &Console) -> Result<LiveHands, Fault> {
    if !(io::stdin().is_terminal() && io::stderr().is_terminal()) {
        return Err(Fault::input("a live line is for a person at a terminal")
            .hint("a program that answers sends its readings as answers: leave --port out"));
    }
    let source = LineSource::Serial { port: port.to_owned(), baud: args.baud };
    let limits = limits::full_throttle(
        job.setup.application,
        job.setup.engine.cooling,
        job.setup.fuel.family,
        &job.rules,
    );
    let aims = super::watch::aims(&job.setup, &job.rules, super::trace::alarms_of(&limits));
    let mut ctx = TraceContext::new(&job.setup, &job.logger);
    ctx.idle_speed = ctx.idle_speed.or(aims.idle_speed);
    let feed = Feed::open(&source, ctx.clone()).map_err(super::watch::refused)?;
    let person = PromptHands::new(console.system, console.width, console.ascii);
    Ok(LiveHands::new(person, feed, (ctx, aims), console.system, super::watch::look(console), &args.file))
}

fn open(args: &Args, console: &Console) -> Result<(Recording, State, Vec<Tell>), Fault> {
    if has_session(&args.file)? {
        // only the torn beginning of an opening: nothing was ever acknowledged in it, and a session begins there
        let begun = !matches!(crate::session::read(&args.file), Err(SessionError::NotBegun { .. }));
        if begun && let Some(setup) = &args.setup {
            let story = read_story(&args.file, None).map_err(session_fault)?;
            if !same(&story.job, &job(Some(setup), console)?) {
                return Err(Fault::input(format!(
                    "{}: there is a session in it already, begun with another setup",
                    args.file.display()
                ))
                .hint("leave --setup out to go on with it, or give another file name"));
            }
        }
        if begun {
            let (recording, story) = Recording::resume(&args.file).map_err(session_fault)?;
            return go_on(recording, story, console);
        }
    }
    let job = job(args.setup.as_deref(), console)?;
    let recording = Recording::create(&args.file, &job).map_err(session_fault)?;
    Ok((recording, State::open(job, console.system), Vec::new()))
}

/// The same job, as both are written down: the command that began a session goes on with it.
fn same(begun: &Job, given: &Job) -> bool {
    matches!((serde_json::to_value(begun), serde_json::to_value(given)), (Ok(a), Ok(b)) if a == b)
}

fn go_on(
    recording: Recording,
    story: Story,
    console: &Console,
) -> Result<(Recording, State, Vec<Tell>), Fault> {
    let state = State::replay(story.job.clone(), console.system, story.events())
        .map_err(|e| Fault::input(e.to_string()))?;
    let mut notes: Vec<Tell> = story.notes.into_iter().map(Tell::caution).collect();
    notes.push(Tell::note(format!("Going on with a session of {} records.", story.records)));
    Ok((recording, taken_up(state), notes))
}

/// A paused or stopped session is gone on with; one that is finished stays finished.
fn taken_up(mut state: State) -> State {
    use crate::procedure::Ending;
    if matches!(state.ending, Some(Ending::Paused | Ending::Stopped | Ending::Emergency(_))) {
        state.ending = None;
    }
    state
}

/// There is something in the file; an empty or missing file is where a new session begins.
fn has_session(path: &Path) -> Result<bool, Fault> {
    match std::fs::metadata(path) {
        Ok(meta) => Ok(!meta.is_file() || meta.len() > 0),
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(false),
        Err(e) => Err(Fault::io(path.display().to_string(), e)),
    }
}

/// The job of a new session.
pub(super) fn job(setup: Option<&str>, console: &Console) -> Result<Job, Fault> {
    let loaded = crate::profile::load_setup(setup.unwrap_or("plain"), console.profiles.as_deref())
        .map_err(super::load_fault)?;
    Ok(Job {
        setup: loaded.setup,
        rules: loaded.rules,
        logger: loaded.logger,
        ask_for_setup: setup.is_none(),
    })
}

/// The hands that answer: the terminal when there is one and no answers were named, else the link.
pub(super) fn hands(answers: Option<&Path>, console: &Console) -> Result<Box<dyn Hands>, Fault> {
    let here = io::stdin().is_terminal() && io::stderr().is_terminal();
    let source: Box<dyn io::BufRead> = match answers {
        None if here => return Ok(Box::new(PromptHands::new(console.system, console.width, console.ascii))),
        None => Box::new(BufReader::new(io::stdin())),
        Some(path) if path.as_os_str() == "-" => Box::new(BufReader::new(io::stdin())),
        Some(path) => {
            Box::new(BufReader::new(File::open(path).map_err(|e| Fault::io(path.display().to_string(), e))?))
        }
    };
    let piped = answers.is_none_or(|path| path.as_os_str() == "-");
    Ok(Box::new(LinkHands::new(source, piped, Box::new(io::stdout()), console.system)))
}

/// A session file that could not be used, as a person is told.
#[expect(clippy::needless_pass_by_value, reason = "it is handed to map_err")]
pub(super) fn session_fault(error: SessionError) -> Fault {
    let hint = error.hint();
    if error.is_io() {
        Fault::io(error.to_string(), io::Error::other("the session file could not be used")).hint(hint)
    } else {
        Fault::input(error.to_string()).hint(hint)
    }
}
