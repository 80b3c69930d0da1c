//! The virtual engine as a pair of hands: it does what is asked and reads its own gauges. Rehearsing, a person's
//! hands answer and the engine follows them.

use super::hands::{Hands, HandsError, Reply};
use super::log_source::LogSource;
use super::prompt::PromptHands;
use crate::bench::virtual_engine::{Fault, Load, RunProgram, VirtualEngine};
use crate::procedure::{Ask, Input, Outcome, Refusal, Request, Step, Tell, ValueUnit};
use crate::report::chart::{Chart, Picture};
use crate::rules::balance::Reading;
use crate::setup::Drive;
use crate::units::{Temperature, TimeSpan, Turns};
use std::io;
use std::path::{Path, PathBuf};

/// Time a person lets the needle settle.
const SETTLE: TimeSpan = TimeSpan::from_s(10.0);

/// An engine on a bench, with a folder for its logs.
pub struct Practice {
    engine: VirtualEngine,
    folder: PathBuf,
    logs: u32,
    /// What each answer did to the mixture screws, so that taking it back can undo it.
    done: Vec<Option<(Vec<u8>, Turns)>>,
}

impl Practice {
    /// Puts `engine` on the bench; its logs go to `folder`.
    pub fn new(engine: VirtualEngine, folder: PathBuf) -> Self {
        Self { engine, folder, logs: 0, done: Vec::new() }
    }

    /// The engine.
    pub fn engine(&self) -> &VirtualEngine {
        &self.engine
    }

    fn keep_running(&mut self) {
        for _ in 0..5 {
            if self.engine.is_running() || self.engine.start() {
                return;
            }
        }
    }

    /// Lets it settle and reads the gauges as a person would: several looks, the middle kept.
    fn read(&mut self) -> Reading {
        self.keep_running();
        self.engine.advance(SETTLE);
        let mut looks = Vec::new();
        for _ in 0..5 {
            self.engine.advance(TimeSpan::from_s(1.0));
            looks.push(self.engine.gauges());
        }
        let middle = |mut v: Vec<f64>| crate::numeric::robust::median(&mut v);
        let vacuum = middle(looks.iter().map(|g| g.vacuum.as_inhg()).collect()).unwrap_or(0.0);
        let speed = middle(looks.iter().map(|g| g.speed.as_rpm()).collect());
        let lambda =
            middle(looks.iter().filter_map(|g| g.lambda).map(crate::units::Lambda::as_ratio).collect());
        Reading {
            vacuum: crate::units::Vacuum::from_inhg(vacuum),
            speed: speed.map(crate::units::EngineSpeed::from_rpm),
            lambda: lambda.map(crate::units::Lambda::from_ratio),
            coolant: looks.last().map(|g| g.coolant),
        }
    }

    /// Warms it up; what the coolant then shows.
    fn warm(&mut self) -> Temperature {
        self.keep_running();
        for _ in 0..40 {
            if self.engine.gauges().coolant > Temperature::from_c(78.0) {
                break;
            }
            self.engine.advance(TimeSpan::from_s(30.0));
            self.keep_running();
        }
        self.engine.gauges().coolant
    }

    /// Drives the standard run and leaves its log in the folder.
    fn log(&mut self) -> io::Result<PathBuf> {
        self.keep_running();
        let program = RunProgram::standard(self.engine.setup());
        let text = self.engine.log(&program);
        self.engine.set_load(Load::Neutral);
        self.logs += 1;
        let path = self.folder.join(format!("log-{}.csv", self.logs));
        std::fs::write(&path, text)?;
        Ok(path)
    }

    /// Does to the engine what an accepted answer says was done.
    fn follow(&mut self, request: &Request, input: &Input) {
        match (&request.ask, input) {
            (_, Input::Undo) => {
                if let Some(Some((screws, by))) = self.done.pop() {
                    self.turn(&screws, -by);
                }
                return;
            }
            (_, Input::Note(_)) => return,
            (Ask::Turn { screws, by }, Input::Done) => self.done.push(Some((screws.clone(), *by))),
            (Ask::Turn { screws, .. }, Input::TurnedBy(by)) => self.done.push(Some((screws.clone(), *by))),
            _ => self.done.push(None),
        }
        match (&request.ask, input) {
            (Ask::Turn { screws, by }, Input::Done) => self.turn(screws, *by),
            (Ask::Turn { screws, .. }, Input::TurnedBy(by)) => self.turn(screws, *by),
            (Ask::IdleSpeed { .. }, Input::TurnedBy(by)) => self.engine.turn_idle_speed_screw(*by),
            (Ask::IdleSpeed { by: Some(by), .. }, Input::Done) => self.engine.turn_idle_speed_screw(*by),
            (Ask::IdleSpeed { toward, by: None }, Input::Done) => self.trim(*toward),
            (Ask::Change { part, to, .. }, Input::Done) => self.change(*part, *to),
            (Ask::Change { part, .. }, Input::Fitted(size)) => self.change(*part, *size),
            (Ask::Confirm, Input::Yes(true)) => self.gear(&request.name),
            _ => {}
        }
    }

    fn change(&mut self, part: crate::setup::PartPath, to: crate::setup::PartSize) {
        self.engine.stop();
        self.engine.change_part(part, to);
        self.keep_running();
    }

    fn turn(&mut self, screws: &[u8], by: Turns) {
        for screw in screws {
            self.engine.turn_screw(*screw, by);
        }
    }

    /// Brings the speed back with small moves of the idle-speed screw, as a hand and an ear do.
    fn trim(&mut self, toward: crate::units::EngineSpeed) {
        for _ in 0..12 {
            self.keep_running();
            self.engine.advance(TimeSpan::from_s(6.0));
            let off = (toward - self.engine.gauges().speed).as_rpm();
            if off.abs() < 15.0 {
                break;
            }
            self.engine.turn_idle_speed_screw(Turns::from_turns((off / 500.0).clamp(-0.25, 0.25)));
        }
    }

    fn gear(&mut self, name: &str) {
        match name {
            "in-gear.engaged" => {
                self.engine.set_load(Load::InGear);
                self.keep_running();
            }
            "in-gear.neutral" => self.engine.set_load(Load::Neutral),
            "running" => self.keep_running(),
            _ => {}
        }
    }

    /// What an instrument of the bench would answer to a plain question, when it has one.
    fn value(&mut self, request: &Request, unit: ValueUnit) -> Option<String> {
        match unit {
            ValueUnit::Temperature if request.step == Step::WarmUp => {
                Some(format!("{:.0} degC", self.warm().as_c()))
            }
            ValueUnit::Turns => {
                let screw = request.name.strip_prefix("turns-out.")?.parse::<usize>().ok()?;
                let turns = self.engine.screws().get(screw.checked_sub(1)?).copied()?;
                Some(format!("{} turns", turns.as_turns()))
            }
            ValueUnit::Vacuum if request.step == Step::EnrichmentCheck => self.cruise_vacuum(),
            _ => None,
        }
    }

    /// Vacuum at about three quarters of the rated speed under load.
    fn cruise_vacuum(&mut self) -> Option<String> {
        let setup = self.engine.setup().clone();
        if setup.engine.drive != Drive::Propeller {
            return None;
        }
        let mut run = RunProgram::standard(&setup);
        run.segments = vec![crate::bench::virtual_engine::Segment::Hold {
            speed: setup.engine.rated_speed * 0.73,
            load: Load::Propeller,
            span: TimeSpan::from_s(8.0),
        }];
        self.keep_running();
        let _ = self.engine.log(&run);
        let vacuum = self.engine.gauges().vacuum;
        self.engine.set_load(Load::Neutral);
        self.engine.set_throttle(crate::units::Fraction::ZERO);
        self.engine.advance(SETTLE);
        Some(format!("{:.1} inHg", vacuum.as_inhg()))
    }
}

/// Nobody there: the engine answers everything itself. Meant for the demonstration and for tests.
pub struct VirtualHands<'a> {
    practice: &'a mut Practice,
    mends: Vec<(Fault, &'static str)>,
    on_step: Box<dyn FnMut(Step) + 'a>,
    on_tell: Box<dyn FnMut(&Tell) + 'a>,
}

impl<'a> VirtualHands<'a> {
    /// Hands that work on `practice`, saying what they do through the two callbacks.
    pub fn new(
        practice: &'a mut Practice,
        on_step: impl FnMut(Step) + 'a,
        on_tell: impl FnMut(&Tell) + 'a,
    ) -> Self {
        Self { practice, mends: Vec::new(), on_step: Box::new(on_step), on_tell: Box::new(on_tell) }
    }

    /// Faults to put right, with what is noted of each, once the engine has been read as found.
    #[must_use]
    pub fn mending(mut self, mends: Vec<(Fault, &'static str)>) -> Self {
        self.mends = mends;
        self
    }
}

impl Hands for VirtualHands<'_> {
    fn heading(&mut self, step: Step) -> Result<(), HandsError> {
        (self.on_step)(step);
        Ok(())
    }

    fn tell(&mut self, tell: &Tell, _: Option<u64>) -> Result<(), HandsError> {
        (self.on_tell)(tell);
        Ok(())
    }

    fn answer(&mut self, request: &Request, _: Option<u64>) -> Result<Reply, HandsError> {
        if request.step == Step::CurbIdle
            && let Some((fault, note)) = self.mends.pop()
        {
            self.practice.engine.fix(fault);
            return Ok(Reply::Input(Input::Note(note.to_owned())));
        }
        let input = match &request.ask {
            Ask::Confirm => Input::Yes(true),
            Ask::Choose { options, default } => {
                let wanted = match request.name.as_str() {
                    "enrichment.fit" => "leave-it",
                    name if name.starts_with("more.") || name.starts_with("mend.") => "enough",
                    _ => "",
                };
                let choice = options.iter().find(|o| o.name == wanted).or_else(|| options.get(*default));
                Input::Choice(choice.map_or_else(String::new, |o| o.name.to_owned()))
            }
            Ask::Value { unit, default, .. } => {
                match self.practice.value(request, *unit).or_else(|| default.clone()) {
                    Some(value) => Input::Value(value),
                    None => Input::Cannot("not on this bench".to_owned()),
                }
            }
            Ask::Reading { .. } => Input::Reading(self.practice.read()),
            Ask::Turn { .. } | Ask::IdleSpeed { .. } | Ask::Change { .. } => Input::Done,
            Ask::Log { .. } => return Ok(Reply::Log(LogSource::File(self.practice.log()?))),
        };
        self.practice.follow(request, &input);
        Ok(Reply::Input(input))
    }

    fn refuse(&mut self, refusal: &Refusal) -> Result<(), HandsError> {
        (self.on_tell)(&Tell::caution(refusal.to_string()));
        Ok(())
    }

    fn plain_result(&mut self, _: &serde_json::Value) -> io::Result<()> {
        Ok(())
    }

    fn result(&mut self, _: &Outcome, _: &Path) -> io::Result<()> {
        Ok(())
    }
}

/// A person's hands on the virtual engine: Enter takes what its gauges show.
pub struct Rehearsal {
    person: PromptHands,
    practice: Practice,
}

impl Rehearsal {
    /// A person at the terminal, and an engine on the bench.
    pub fn new(person: PromptHands, practice: Practice) -> Self {
        Self { person, practice }
    }
}

impl Hands for Rehearsal {
    fn heading(&mut self, step: Step) -> Result<(), HandsError> {
        self.person.heading(step)
    }

    fn tell(&mut self, tell: &Tell, saved: Option<u64>) -> Result<(), HandsError> {
        self.person.tell(tell, saved)
    }

    fn answer(&mut self, request: &Request, saved: Option<u64>) -> Result<Reply, HandsError> {
        let mut shown = request.clone();
        match &mut shown.ask {
            Ask::Reading { .. } => {
                let reading = self.practice.read();
                if !self.practice.engine.is_running() {
                    self.person.tell(&Tell::caution("It stalls at this setting. Answer x."), None)?;
                }
                self.person.offer(Some(reading));
            }
            Ask::Value { unit, default, .. } => {
                let shown = self.practice.value(request, *unit).map(|text| self.person.in_own_units(&text));
                *default = shown.or_else(|| default.take());
            }
            Ask::Log { .. } => {
                let path = self.practice.log()?;
                self.person.tell(
                    &Tell::note(format!("The virtual engine has driven the run: {}", path.display())),
                    None,
                )?;
                return Ok(Reply::Log(LogSource::File(path)));
            }
            _ => {}
        }
        let mut reply = self.person.answer(&shown, saved)?;
        // What is shown here is what the gauges of the virtual engine, and its air, really are.
        if let (Reply::Input(kept @ Input::Kept), Ask::Value { default: Some(text), .. }) =
            (&mut reply, &shown.ask)
        {
            *kept = Input::Value(text.clone());
        }
        if let Reply::Input(input) = &reply {
            self.practice.follow(request, input);
        }
        Ok(reply)
    }

    fn refuse(&mut self, refusal: &Refusal) -> Result<(), HandsError> {
        self.person.refuse(refusal)
    }

    fn glance(&mut self, chart: &dyn Fn() -> Option<Chart>) -> Result<(), HandsError> {
        self.person.glance(chart)
    }

    fn pictures(&mut self, pictures: &[Picture]) -> Result<(), HandsError> {
        self.person.pictures(pictures)
    }

    fn plain_result(&mut self, result: &serde_json::Value) -> io::Result<()> {
        self.person.plain_result(result)
    }

    fn result(&mut self, outcome: &Outcome, file: &Path) -> io::Result<()> {
        self.person.result(outcome, file)
    }
}
