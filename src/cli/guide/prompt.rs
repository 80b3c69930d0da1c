//! A person at a terminal: one question at a time, for one greasy hand. Enter keeps the shown value, numbers need no
//! unit, and one key with Enter takes back, notes, skips, pauses or stops.

mod paging;

use super::hands::{Hands, HandsError, Reply};
use super::keys::{KEYS, Typed, choice, done_or_turns, filled, maybe, typed, yes};
use super::line::{self, Alert, NoLine};
use super::link::{part_size, unit_symbol};
use super::log_source::LogSource;
use super::plain_result;
use super::{passed_over, step_heading};
use crate::cli::screen::Sound;
use crate::procedure::{Ask, Channel, Choice, Input, Level, Outcome, Refusal, Request, Step, Tell};
use crate::report::chart::{Chart, Picture};
use crate::report::chart_text;
use crate::rules::balance::Reading;
use crate::units::parse::parse_or_in;
use crate::units::show::Shown;
use crate::units::{EngineSpeed, Lambda, System, Temperature, Vacuum};
use console::Term;
use std::cell::{Cell, RefCell};
use std::io;
use std::path::{Path, PathBuf};

/// A person.
pub struct PromptHands {
    term: Term,
    system: System,
    width: usize,
    /// Gauges to offer as the value Enter keeps; set by the virtual engine when rehearsing.
    offered: Option<Reading>,
    last: Option<Reading>,
    greeted: bool,
    /// The step last headed.
    step: Option<Step>,
    watch: RefCell<Box<Watch>>,
    shown: Cell<usize>,
    /// The last line was Enter alone, which gave the default.
    kept: Cell<bool>,
    /// Pictures in plain characters.
    ascii: bool,
}

/// Lines of the terminal that a question and what is said before it need.
const BESIDE: usize = 12;

/// What is watched while a line is typed.
pub(super) type Watch = dyn FnMut() -> Option<Alert>;

impl PromptHands {
    /// A person at this process's terminal.
    pub fn new(system: System, width: usize, ascii: bool) -> Self {
        Self {
            term: Term::stderr(),
            system,
            width: width.min(78),
            offered: None,
            last: None,
            greeted: false,
            step: None,
            watch: RefCell::new(Box::new(|| None)),
            shown: Cell::new(0),
            kept: Cell::new(false),
            ascii,
        }
    }

    /// A quantity in the units that are shown, when it is one that has such.
    pub(super) fn in_own_units(&self, text: &str) -> String {
        let shown = text.parse::<Temperature>().map(|t| t.show(self.system)).ok();
        shown.or_else(|| text.parse::<Vacuum>().map(|v| v.show(self.system)).ok()).unwrap_or(text.to_owned())
    }

    /// What Enter gives at the next reading.
    pub fn offer(&mut self, reading: Option<Reading>) {
        self.offered = reading;
    }

    /// A reading was taken without typing: it is said, and is what Enter gives the next time.
    pub(super) fn took(&mut self, asked: &str, reading: &Reading) -> io::Result<()> {
        self.put("")?;
        self.write(asked, 0)?;
        let mut parts = vec![reading.vacuum.show(self.system)];
        parts.extend(reading.speed.map(|s| s.show(self.system)));
        parts.extend(reading.lambda.map(|l| format!("lambda {:.2}", l.as_ratio())));
        self.last = Some(*reading);
        self.write(&format!("Taken: {}.", parts.join(", ")), 2)
    }

    /// Sounds the bell.
    pub(super) fn sound(&self, sound: Sound) -> io::Result<()> {
        self.term.write_str(sound.bell())
    }

    /// From now on `watch` is asked, while a line is typed, whether something must be said.
    pub(super) fn watched(mut self, watch: Box<Watch>) -> Self {
        self.watch = RefCell::new(watch);
        self
    }

    fn line(&self, prompt: &str, default: Option<&str>) -> Result<String, HandsError> {
        let mut watch = self.watch.borrow_mut();
        self.shown.set(1);
        line::ask(&self.term, prompt, default, &mut **watch).map_err(|none| match none {
            NoLine::Interrupted => HandsError::Interrupted,
            NoLine::End => HandsError::EndOfInput,
            NoLine::Lost(source) => HandsError::Lost(source),
        })
    }

    fn ask(&self, prompt: &str, default: Option<&str>) -> Result<Typed, HandsError> {
        let line = self.line(prompt, default)?;
        self.kept.set(line.trim().is_empty() && default.is_some());
        let line = if self.kept.get() { default.unwrap_or_default() } else { line.trim() };
        Ok(typed(line))
    }

    /// What is asked; several things to be read one by one are marked as such.
    fn say(&self, text: &str) -> Result<(), HandsError> {
        let several = text.lines().count() > 2;
        for (i, paragraph) in text.lines().enumerate() {
            let item = several && i + 1 < text.lines().count();
            let (mark, indent) = if item { ("- ", 2) } else { ("", 0) };
            self.put_paragraph(paragraph, mark, indent)?;
        }
        Ok(())
    }

    /// Asks until the answer can be used; keys that are not answers come back as inputs.
    fn until<T>(
        &self,
        request: &Request,
        prompt: &str,
        default: Option<&str>,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Result<Result<T, Input>, HandsError> {
        loop {
            match self.ask(prompt, default)? {
                Typed::Input(input) => return Ok(Err(input)),
                Typed::Why => self.write(&request.why, 2)?,
                Typed::Say(text) => self.write(&text, 2)?,
                Typed::Answer(text) => match read(&text) {
                    Ok(value) => return Ok(Ok(value)),
                    Err(why) => self.write(&why, 2)?,
                },
            }
        }
    }

    fn reply(&mut self, request: &Request) -> Result<Result<Reply, Input>, HandsError> {
        let input = match &request.ask {
            // No default: a gate that guards people is never passed by Enter alone.
            Ask::Confirm => self.until(request, "  Yes? (y/n)", None, yes)?.map(Input::Yes),
            Ask::Choose { options, default } => {
                self.list(options)?;
                let shown = (default + 1).to_string();
                self.until(request, "  Number", Some(&shown), |t| choice(options, t))?.map(Input::Choice)
            }
            Ask::Value { unit, default, measured } => {
                let symbol = unit_symbol(*unit, self.system);
                let comma = if symbol.is_empty() { "" } else { ", " };
                let assumes = if *measured && default.is_some() { " (Enter: assumed)" } else { "" };
                let prompt = format!("  Value{comma}{symbol}{assumes}");
                let taken = self.until(request, &prompt, default.as_deref(), filled)?;
                taken.map(|text| if self.kept.get() { Input::Kept } else { Input::Value(text) })
            }
            Ask::Turn { .. } | Ask::IdleSpeed { .. } => self.until(
                request,
                "  Done? (Enter, or turns really made, out is +)",
                Some("done"),
                done_or_turns,
            )?,
            Ask::Reading { channels, .. } => self.reading(request, channels)?.map(|r| {
                self.last = Some(r);
                Input::Reading(r)
            }),
            Ask::Change { from, .. } => {
                let from = *from;
                self.until(request, "  Fitted? (Enter, or the size put in)", Some("done"), move |t| {
                    if t == "done" {
                        Ok(Input::Done)
                    } else {
                        part_size(t, from).map(Input::Fitted).map_err(|e| e.to_string())
                    }
                })?
            }
            Ask::Log { lacks } => return self.log(request, lacks),
        };
        Ok(input.map(Reply::Input))
    }

    fn list(&self, options: &[Choice]) -> io::Result<()> {
        for (i, option) in options.iter().enumerate() {
            self.write(&format!("{} {}", i + 1, option.said), 4)?;
        }
        Ok(())
    }

    fn reading(&self, request: &Request, channels: &[Channel]) -> Result<Result<Reading, Input>, HandsError> {
        let kept = self.offered.or(self.last);
        let system = self.system;
        let vacuum_unit = Vacuum::unit_symbol(system);
        let shown = kept.map(|k| k.vacuum.show(system));
        let vacuum = self.until(request, &format!("  Vacuum, {vacuum_unit}"), shown.as_deref(), |t| {
            parse_or_in::<Vacuum>(t, vacuum_unit).map_err(|e| e.to_string())
        })?;
        let mut reading = match vacuum {
            Ok(vacuum) => Reading { vacuum, speed: None, lambda: None, coolant: None },
            Err(input) => return Ok(Err(input)),
        };
        for channel in channels {
            let taken = match channel {
                Channel::Speed => {
                    let shown = kept.and_then(|k| k.speed).map(|s| s.show(system));
                    self.until(
                        request,
                        "  Speed, rpm (- if there is none)",
                        shown.as_deref(),
                        maybe::<EngineSpeed>("rpm"),
                    )?
                    .map(|speed| reading.speed = speed)
                }
                Channel::Lambda => {
                    let shown = kept
                        .and_then(|k| k.lambda)
                        .map_or_else(|| "-".to_owned(), |l| format!("{:.2}", l.as_ratio()));
                    self.until(
                        request,
                        "  Lambda (- if there is none)",
                        Some(&shown),
                        maybe::<Lambda>("lambda"),
                    )?
                    .map(|lambda| reading.lambda = lambda)
                }
                Channel::Vacuum | Channel::Coolant => Ok(()),
            };
            if let Err(input) = taken {
                return Ok(Err(input));
            }
        }
        Ok(Ok(reading))
    }

    fn log(
        &mut self,
        request: &Request,
        lacks: &[(crate::setup::Regime, crate::units::TimeSpan)],
    ) -> Result<Result<Reply, Input>, HandsError> {
        let wanted: Vec<_> = lacks
            .iter()
            .map(|(regime, s)| {
                if s.as_s() > 0.0 {
                    format!("{} {:.0} s", regime.said(), s.as_s())
                } else {
                    format!("{} a few times", regime.said())
                }
            })
            .collect();
        if !wanted.is_empty() {
            self.write(&format!("Still wanted: {}.", wanted.join(", ")), 4)?;
        }
        let file = self.until(request, "  Log file (CSV)", None, |t| {
            let path = PathBuf::from(t);
            if t.is_empty() {
                Err("the name of a file; c REASON when there is no log".to_owned())
            } else if path.is_file() {
                Ok(path)
            } else {
                Err(format!("{t}: no such file"))
            }
        })?;
        Ok(file.map(|path| Reply::Log(LogSource::File(path))))
    }
}

impl Hands for PromptHands {
    fn heading(&mut self, step: Step) -> Result<(), HandsError> {
        if !self.greeted {
            self.greeted = true;
            self.write(&format!("At any question: {KEYS}"), 0)?;
        }
        self.put("")?;
        if let Some(passed) = self.step.and_then(|from| passed_over(from, step)) {
            self.write(&passed, 0)?;
            self.put("")?;
        }
        self.step = Some(step);
        self.put(&console::style(step_heading(step)).for_stderr().bold().to_string())?;
        Ok(())
    }

    fn tell(&mut self, tell: &Tell, _: Option<u64>) -> Result<(), HandsError> {
        match tell.level {
            Level::Note => self.write(&tell.text, 2)?,
            Level::Caution => self.write(&format!("CAUTION  {}", tell.text), 2)?,
            Level::Danger => {
                self.put(Sound::Danger.bell())?;
                self.write(&format!("DANGER  {}", tell.text), 0)?;
            }
        }
        Ok(())
    }

    fn answer(&mut self, request: &Request, _: Option<u64>) -> Result<Reply, HandsError> {
        self.put("")?;
        self.say(&request.say)?;
        Ok(match self.reply(request)? {
            Ok(reply) => reply,
            Err(input) => Reply::Input(input),
        })
    }

    fn refuse(&mut self, refusal: &Refusal) -> Result<(), HandsError> {
        Ok(self.write(&format!("{refusal}."), 2)?)
    }

    fn glance(&mut self, chart: &dyn Fn() -> Option<Chart>) -> Result<(), HandsError> {
        let (lines, columns) = self.term.size();
        let room = usize::from(lines).saturating_sub(BESIDE);
        let width = usize::from(columns).saturating_sub(1).min(self.width);
        let Some(drawn) = chart().and_then(|c| chart_text::small(&c, width, room, self.ascii)) else {
            return Ok(());
        };
        self.put("")?;
        Ok(self.put_together(&drawn.lines().collect::<Vec<_>>())?)
    }

    fn pictures(&mut self, pictures: &[Picture]) -> Result<(), HandsError> {
        for picture in pictures {
            self.put("")?;
            let drawn = chart_text::draw(picture, self.width, self.ascii);
            self.put_together(&drawn.lines().collect::<Vec<_>>())?;
        }
        Ok(())
    }

    fn plain_result(&mut self, result: &serde_json::Value) -> io::Result<()> {
        self.put("")?;
        plain_result::said(result, self.system)
            .iter()
            .try_for_each(|(text, indent)| self.write(text, *indent))
    }

    fn result(&mut self, outcome: &Outcome, file: &Path) -> io::Result<()> {
        self.put("")?;
        if let (Some(before), Some(after)) = (outcome.idle_before, outcome.idle_after) {
            self.write(
                &format!(
                    "Idle vacuum {} as found, {} now.",
                    before.reading.vacuum.show(self.system),
                    after.reading.vacuum.show(self.system)
                ),
                0,
            )?;
        }
        for item in &outcome.open_items {
            self.write(&format!("Open: {item}"), 0)?;
        }
        self.write(
            &format!(
                "{} Recorded in {}.",
                if outcome.finished {
                    "Finished."
                } else {
                    "Not finished; the same command goes on from here."
                },
                file.display()
            ),
            0,
        )?;
        if outcome.finished {
            self.write(&format!("The sheet: leanbest sheet {}", file.display()), 0)?;
        }
        Ok(())
    }
}
