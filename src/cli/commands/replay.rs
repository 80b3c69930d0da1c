//! `leanbest replay`: a session told again, its moves and advice recomputed.

use super::guide::session_fault;
use crate::cli::guide::{change_json, ending_said, outcome_json, round, step_heading};
use crate::cli::{Console, Exit, Fault, pictures};
use crate::procedure::{Answer, Event, Level, Retelling, Step};
use crate::report::text::wrapped;
use crate::session::story::{Story, Told, read_story};
use crate::units::show::{Shown, turned_by};
use crate::units::{Length, Pressure, System, Temperature, Vacuum, Volume, VolumeFlow};
use serde_json::json;
use std::path::PathBuf;
use std::time::Duration;

/// Arguments of `replay`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Session file
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Only up to and including this record; damage beyond it does no harm
    #[arg(long, value_name = "N")]
    until: Option<u64>,
    /// At this many times the pace it was recorded at; without it, at once
    #[arg(long, value_name = "X", value_parser = pace)]
    pace: Option<f64>,
    /// Draw the mixture search and the last log into an SVG file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// No wait between two events is longer than this, however long the lunch was.
const LONGEST_WAIT: Duration = Duration::from_secs(10);

fn pace(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if x.is_finite() && x > 0.0 => Ok(x),
        _ => Err("a number above 0; 1 is the pace it was recorded at".to_owned()),
    }
}

/// Runs `replay`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let story = read_story(&args.file, args.until).map_err(session_fault)?;
    for note in &story.notes {
        console.complain(note);
    }
    let mut retelling = Retelling::open(story.job.clone(), console.system);
    if !console.json {
        console.say(&format!(
            "{}: {}, opened {}",
            args.file.display(),
            story.job.setup.name,
            story.opened.strftime("%Y-%m-%d %H:%M UTC")
        ))?;
    }
    let mut differing = Vec::new();
    let mut heading = None;
    let mut last: Option<&Told> = None;
    for told in &story.told {
        if let (Some(pace), Some(last)) = (args.pace, last) {
            console.flush()?;
            wait(last, told, pace);
        }
        last = Some(told);
        let retold = retelling
            .tell(&told.event)
            .map_err(|e| Fault::input(format!("{}: record {}: {e}", args.file.display(), told.n)))?;
        let differs = (retold.agrees == Some(false)).then(|| Differs::of(told, retold.now.as_ref(), console));
        differing.extend(differs.clone());
        if console.json {
            continue;
        }
        if let Some(step) = retold.step.filter(|s| heading != Some(*s)) {
            heading = Some(step);
            console.say("")?;
            console.say(&step_heading(step))?;
        }
        if let Some(line) = line(&told.event, console) {
            console.say(&format!("  {:>4}  {line}", told.n))?;
        }
        let tells = retold.tells.iter().filter(|t| t.level != Level::Note).map(|t| t.text.clone());
        let width = console.width.saturating_sub(8);
        for said in tells.chain(differs.map(|d| d.said())).flat_map(|said| wrapped(&said, width)) {
            console.say(&format!("        {said}"))?;
        }
    }
    answer(args, &story, &retelling, &differing, console)?;
    let drawn = crate::report::from_session::drawn(&retelling.state);
    pictures::show(&drawn, args.svg.as_deref(), console)?;
    Ok(if retelling.agrees() { Exit::Done } else { Exit::No })
}

/// Something the tool said of itself that comes out differently now.
#[derive(Debug, Clone)]
struct Differs {
    n: u64,
    then: String,
    now: Option<String>,
}

impl Differs {
    fn of(told: &Told, now: Option<&Event>, console: &Console) -> Differs {
        let said = |event: &Event| line(event, console).unwrap_or_else(|| "the end".to_owned());
        Differs { n: told.n, then: said(&told.event), now: now.map(said) }
    }

    fn said(&self) -> String {
        match &self.now {
            None => "Comes out differently now: nothing of the kind.".to_owned(),
            Some(now) if *now == self.then => {
                "Comes out differently now: the same move, with other figures behind it.".to_owned()
            }
            Some(now) => format!("Comes out differently now: {now}"),
        }
    }
}

/// Who wrote it, and what that may have to do with a difference.
fn version_note(story: &Story) -> String {
    let (here, wrote) = (env!("CARGO_PKG_VERSION"), story.versions.join(" and "));
    if story.versions.iter().all(|v| v == here) {
        format!(
            "It was written by version {wrote}, and this is version {here}: another build of it, whose advice may have \
             changed since."
        )
    } else {
        format!(
            "It was written by version {wrote}; this is version {here}, and advice may have changed since."
        )
    }
}

fn answer(
    args: &Args,
    story: &Story,
    retelling: &Retelling,
    differing: &[Differs],
    console: &mut Console,
) -> Result<(), Fault> {
    let outcome = retelling.state.outcome();
    if console.json {
        let steps: Vec<_> = Step::ALL.iter().filter(|s| touched(**s, story)).map(|s| s.name()).collect();
        let disagreements: Vec<u64> = differing.iter().map(|d| d.n).collect();
        let told: Vec<_> =
            differing.iter().map(|d| json!({ "record": d.n, "then": d.then, "now": d.now })).collect();
        console.answer_json(&json!({
            "events": story.told.len(),
            "steps": steps,
            "changes": outcome.changes.iter().map(|c| change_json(c.part, c.from, c.to)).collect::<Vec<_>>(),
            "agrees": retelling.agrees(),
            "disagreements": disagreements,
            "then_and_now": told,
            "written_by_versions": story.versions,
            "version": env!("CARGO_PKG_VERSION"),
            "note": (!retelling.agrees()).then(|| version_note(story)),
            "outcome": outcome_json(&outcome, &args.file),
        }))?;
        return Ok(());
    }
    console.say("")?;
    console.say(ending_said(&retelling.state))?;
    if let (Some(before), Some(after)) = (outcome.idle_before, outcome.idle_after) {
        let system = console.system;
        console.say(&format!(
            "Idle vacuum {} as found, {} at the end.",
            before.reading.vacuum.show(system),
            after.reading.vacuum.show(system)
        ))?;
    }
    for change in &outcome.changes {
        console.say(&format!(
            "{}: {} -> {}",
            change.part.said(),
            change.from.show(console.system),
            change.to.show(console.system)
        ))?;
    }
    console.say(if retelling.agrees() {
        "Every move and every advice comes out the same today."
    } else {
        "Some moves or advice come out differently today; see above."
    })?;
    if !retelling.agrees() {
        for said in wrapped(&version_note(story), console.width) {
            console.say(&said)?;
        }
    }
    Ok(())
}

fn touched(step: Step, story: &Story) -> bool {
    story.events().any(|e| match e {
        Event::Answered { step: s, .. } | Event::IdleSpeedMoved { step: s, .. } => *s == step,
        Event::Turned { .. } | Event::MixtureRead { .. } | Event::Proposed(_) => step == Step::Mixture,
        Event::Logged(_) => step == Step::Logging,
        Event::Advised(_) => step == Step::Advice,
        _ => false,
    })
}

fn wait(last: &Told, now: &Told, pace: f64) {
    if last.run == now.run {
        let span = now.up.saturating_sub(last.up).div_f64(pace);
        std::thread::sleep(span.min(LONGEST_WAIT));
    }
}

/// One event in one line; `None` for those that only matter to the machine.
fn line(event: &Event, console: &Console) -> Option<String> {
    let system = console.system;
    Some(match event {
        Event::Answered { name, answer, surprising, assumed, .. } => {
            let said = match answer {
                Answer::Yes(yes) => if *yes { "yes" } else { "no" }.to_owned(),
                Answer::Choice(choice) => choice.clone(),
                Answer::Value(value) => in_units(value, system).unwrap_or_else(|| short(value)),
                Answer::Done => "done".to_owned(),
                Answer::Cannot(why) if why.is_empty() => "there is no such thing here".to_owned(),
                Answer::Cannot(why) => format!("there is no such thing here: {why}"),
                Answer::Reading(reading) => reading_line(reading, console),
            };
            let surprising = if *surprising { " (surprising, stood by)" } else { "" };
            format!("{name}: {said}{}{surprising}", if *assumed { " (assumed, not read)" } else { "" })
        }
        Event::Questioned { because, .. } => format!("asked again: {because}"),
        Event::Proposed(decision) => decision.why.clone(),
        Event::Turned { screws, by } => {
            let which: Vec<_> = screws.iter().map(u8::to_string).collect();
            format!(
                "screw{} {}: {} {}",
                if which.len() > 1 { "s" } else { "" },
                which.join(" and "),
                turned_by(*by),
                if by.as_turns() > 0.0 { "out" } else { "in" }
            )
        }
        Event::MixtureRead { reading, .. } => reading_line(reading, console),
        Event::IdleSpeedMoved { toward, .. } => format!("idle-speed screw, toward {}", toward.show(system)),
        Event::MixtureCannot { what } => format!("cannot: {what}"),
        Event::Stalled => "stalled, and started again".to_owned(),
        Event::PartChanged(c) => {
            format!("{}: {} -> {}", c.part.said(), c.from.show(system), c.to.show(system))
        }
        Event::Set { settings, .. } => {
            let said: Vec<String> = settings.iter().map(|(name, to)| format!("{name} {to}")).collect();
            format!("set: {}", said.join(", "))
        }
        Event::Pulled(taken) => match taken.pull.mean {
            Some(mean) => format!(
                "pull {}: {} on the mean from {} to {}, {}",
                taken.source,
                mean.power.show(system),
                mean.low.show(system),
                mean.high.show(system),
                taken.pull.standard.map_or_else(|| "as read".to_owned(), |s| format!("by {}", s.said()))
            ),
            None => format!("pull {}: {} rows", taken.source, taken.pull.rows),
        },
        Event::Logged(log) => format!("log {}: {} rows", log.source, log.trace.rows),
        Event::Advised(advice) => match advice.changes.first() {
            Some(c) => format!("advice: {} {} -> {}", c.part.said(), c.from.show(system), c.to.show(system)),
            None => "advice: no change".to_owned(),
        },
        Event::Noted { text, .. } => format!("note: {text}"),
        Event::Skipped { step, reason } => format!("{} left out: {reason}", step.said()),
        Event::Undone => "the last answer was taken back".to_owned(),
        Event::Paused => "paused".to_owned(),
        Event::Stopped => "stopped".to_owned(),
        Event::EmergencyStopped { why } => format!("ENDED AT ONCE: {why}"),
        Event::Finished => return None,
    })
}

/// A recorded value in the units asked for; `None` where there is nothing to choose, or none can be told.
fn in_units(value: &str, system: System) -> Option<String> {
    fn of<Q: Shown + std::str::FromStr>(value: &str, system: System) -> Option<String> {
        let (_, unit) = value.split_once(' ')?;
        // Of all quantities a file holds, only one is written in this unit.
        (unit == Q::UNITS[0].symbol).then(|| value.parse::<Q>().ok()).flatten().map(|q| q.show(system))
    }
    of::<Pressure>(value, system)
        .or_else(|| of::<Vacuum>(value, system))
        .or_else(|| of::<Temperature>(value, system))
        .or_else(|| of::<Length>(value, system))
        .or_else(|| of::<Volume>(value, system))
        .or_else(|| of::<VolumeFlow>(value, system))
}

/// A recorded value without the digits that only serve to read it back exactly.
fn short(value: &str) -> String {
    let Some((number, unit)) = value.split_once(' ') else { return value.to_owned() };
    number.parse::<f64>().map_or_else(|_| value.to_owned(), |n| format!("{} {unit}", round(n, 2)))
}

fn reading_line(reading: &crate::rules::balance::Reading, console: &Console) -> String {
    let mut said = reading.vacuum.show(console.system);
    if let Some(speed) = reading.speed {
        said.push_str(&format!(", {}", speed.show(console.system)));
    }
    if let Some(lambda) = reading.lambda {
        said.push_str(&format!(", lambda {:.2}", lambda.as_ratio()));
    }
    said
}
