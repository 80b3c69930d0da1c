//! Step 6: the mixture screws, to peak manifold vacuum; then the finish; then the idle speed once more.

use super::StepDue;
use super::again::{self, Voids};
use super::curb_idle;
use super::question::{Question, first_open, gauges};
use crate::procedure::ask::{Ask, Request, Tell};
use crate::procedure::event::{Answer, Event};
use crate::procedure::plan::Step;
use crate::procedure::state::{Damaged, IdleReading, State};
use crate::rules::balance::{
    Belief, Decision, Finish, Move, Observation, Outcome, Reading, ScrewSpec, Spec, decide,
};
use crate::rules::{finish, start_turns};
use crate::units::Turns;
use crate::units::show::{Shown, turned_by, turns_as_fraction};

/// Names of the search's requests.
pub(in crate::procedure) const READING: &str = "mixture.reading";
const TURN: &str = "mixture.turn";
const IDLE_SPEED: &str = "mixture.idle-speed";
/// Eighths of a turn, by the slot of a screw (common practice).
pub(super) const MARK: Turns = Turns::from_turns(0.125);
/// Screws of one carburetor further apart than this are brought together first (common practice).
const MOST_APART: f64 = 0.5;

/// The search so far.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Mixture {
    pub(super) spec: Option<Spec>,
    pub(super) history: Vec<Observation>,
    pub(super) pending: Option<Decision>,
    pub(super) outcome: Option<Outcome>,
    pub(super) belief: Option<Belief>,
    /// Earlier searches of this session, whose results no longer hold: their turns and readings.
    pub(super) earlier: (u32, u32),
    /// What has made a search of this session void.
    pub(super) voids: Voids,
}

impl Mixture {
    /// What the search was told beforehand, once it has begun.
    pub(crate) fn spec(&self) -> Option<&Spec> {
        self.spec.as_ref()
    }

    /// What has happened in it.
    pub(crate) fn history(&self) -> &[Observation] {
        &self.history
    }

    /// How it ended, when it has.
    pub(crate) fn outcome(&self) -> Option<&Outcome> {
        self.outcome.as_ref()
    }

    /// What was thought at its last decision.
    pub(crate) fn belief(&self) -> Option<&Belief> {
        self.belief.as_ref()
    }

    pub(crate) fn turn_commands(&self) -> u32 {
        let now = self.history.iter().filter(|o| matches!(o, Observation::Turned { .. })).count() as u32;
        self.earlier.0 + now
    }

    pub(crate) fn readings(&self) -> u32 {
        let now = self.history.iter().filter(|o| matches!(o, Observation::Read(_))).count() as u32;
        self.earlier.1 + now
    }
}

pub(super) fn due(state: &State) -> Option<StepDue> {
    if let Some(question) = again::question(state)
        && let Some(request) = first_open(Step::Mixture, state, vec![question])
    {
        return Some(StepDue::Ask(Box::new(request)));
    }
    if let Some(request) = again::lead(state).or_else(|| level(state)) {
        return Some(StepDue::Ask(Box::new(request)));
    }
    if let Some(request) = first_open(Step::Mixture, state, vec![finish_question(state)]) {
        return Some(StepDue::Ask(Box::new(request)));
    }
    let mixture = &state.mixture;
    if mixture.outcome.is_some() {
        let aim = curb_idle::aim(state).aim;
        return curb_idle::trim_request(
            state,
            Step::Mixture,
            aim,
            "The mixture has moved the speed; bring it back once more.",
        )
        .map(|r| StepDue::Ask(Box::new(r)));
    }
    let Some(decision) = &mixture.pending else {
        let spec = mixture.spec.as_ref()?;
        let decision = decide(spec, &mixture.history, state.system);
        return Some(StepDue::Own(Box::new(Event::Proposed(Box::new(decision)))));
    };
    request(state, decision).map(|r| StepDue::Ask(Box::new(r)))
}

/// Screws found far apart, or outside the usable window, are first brought to the start line, so that they leave it
/// even (equal turns: US Army TM 9-2320-211-20; the window: common practice).
fn level(state: &State) -> Option<Request> {
    if state.mixture.spec.is_some() {
        return None;
    }
    let start = start_turns::start(&state.setup.carburetor, state.setup.application, &state.job.rules)?;
    let turns = &state.setup.carburetor.idle.turns_out;
    let apart = turns.iter().any(|t| (*t - turns[0]).abs().as_turns() > MOST_APART);
    let outside = turns.iter().any(|t| *t < start.low || *t > start.high);
    if !(apart || outside) {
        return None;
    }
    let (screw, stands) = (1u8..).zip(turns).find(|(n, t)| {
        (**t - start.start).abs().as_turns() > 0.01 && !state.cannot(&format!("mixture.level.{n}"))
    })?;
    let by = start.start - *stands;
    Some(Request {
        step: Step::Mixture,
        name: format!("mixture.level.{screw}"),
        say: say_turn(state, &[screw], by),
        why: format!(
            "The screws stand uneven or outside their window; they leave the start line together. {}",
            start.why
        ),
        ask: Ask::Turn { screws: vec![screw], by },
    })
}

fn finish_question(state: &State) -> Question {
    let advice = finish::advise(
        state.setup.application,
        state.setup.engine.cooling,
        state.setup.engine.drive,
        curb_idle::aim(state).overlap,
        &state.job.rules,
    );
    let usual = match advice.finish {
        Finish::Peak => ("peak", "on the peak: the leanest point that still holds it"),
        Finish::LeanDrop(_) => ("lean-drop", "a lean drop below the peak"),
        Finish::Rich(_) => ("rich", "a little richer than the peak"),
    };
    let mut options = vec![usual];
    for other in [
        ("peak", "on the peak: the leanest point that still holds it"),
        ("rich", "a little richer than the peak"),
        ("lean-drop", "a lean drop below the peak"),
    ] {
        let refused = other.0 == "lean-drop" && !advice.lean_drop_allowed;
        if other.0 != usual.0 && !refused {
            options.push(other);
        }
    }
    Question::choose("finish", "Where shall the mixture screws be left?", advice.why, &options)
}

fn request(state: &State, decision: &Decision) -> Option<Request> {
    let (name, say, ask) = match &decision.next {
        Move::Turn { screws, by } => {
            (TURN, say_turn(state, screws, *by), Ask::Turn { screws: screws.clone(), by: *by })
        }
        Move::Read => (READING, "Let it settle, then read.".to_owned(), gauges(state)),
        Move::TrimIdle { toward } => (
            IDLE_SPEED,
            format!("Bring the idle speed back to {} with the idle-speed screw.", toward.show(state.system)),
            Ask::IdleSpeed { toward: *toward, by: None },
        ),
        Move::Done(_) => return None,
    };
    Some(Request { step: Step::Mixture, name: name.to_owned(), say, why: decision.why.clone(), ask })
}

/// A turn, as it is said beside the engine.
pub(in crate::procedure) fn say_turn(state: &State, screws: &[u8], by: Turns) -> String {
    let idle = &state.setup.carburetor.idle;
    let out = by.as_turns() > 0.0;
    let richer = out != idle.screws_meter_air;
    let which = match screws {
        [one] => format!("Screw {one}"),
        all if all.len() == usize::from(idle.screws) => "Every mixture screw".to_owned(),
        some => format!("Screws {}", some.iter().map(u8::to_string).collect::<Vec<_>>().join(" and ")),
    };
    let to: Vec<String> = screws
        .iter()
        .filter_map(|s| idle.turns_out.get(usize::from(*s).checked_sub(1)?))
        .map(|t| turns_as_fraction(*t + by))
        .collect();
    format!(
        "{which}: {} {} ({}), to {} out.",
        turned_by(by),
        if out { "out" } else { "in" },
        if richer { "richer" } else { "leaner" },
        to.join(" and ")
    )
}

/// The choice of a finish opens the search.
pub(super) fn answered(state: &mut State, name: &str, answer: &Answer) {
    if name.starts_with(again::NAME) {
        again::answered(state, answer);
        return;
    }
    if name.starts_with(again::LEAD) {
        again::led(state);
        return;
    }
    if name != "finish" {
        curb_idle::answered(state, Step::Mixture, answer);
        return;
    }
    let rules = &state.job.rules;
    let usual = finish::advise(
        state.setup.application,
        state.setup.engine.cooling,
        state.setup.engine.drive,
        curb_idle::aim(state).overlap,
        rules,
    );
    let chosen = match (state.choice("finish"), usual.finish) {
        (Some("peak"), _) => Finish::Peak,
        (Some("lean-drop"), _) => finish::lean_drop(rules),
        (Some("rich"), Finish::Rich(by)) => Finish::Rich(by),
        (Some("rich"), _) => Finish::Rich(MARK),
        _ => usual.finish,
    };
    state.mixture.spec = Some(spec(state, chosen));
}

pub(super) fn spec(state: &State, finish: Finish) -> Spec {
    let idle = &state.setup.carburetor.idle;
    let aim = curb_idle::aim(state);
    Spec {
        screws: ScrewSpec {
            turns_out: idle.turns_out.clone(),
            range: idle.screw_range,
            mark: MARK,
            meter_air: idle.screws_meter_air,
        },
        gauge_mark: state.setup.instruments.vacuum_mark,
        speed_step: state.setup.instruments.speed_step,
        idle_aim: Some(aim.aim),
        lopey: aim.lambda_is_witness,
        finish,
        before: None,
    }
}

/// The search proposed a move.
pub(in crate::procedure) fn proposed(state: &mut State, decision: &Decision) {
    if let Some(belief) = &decision.belief {
        state.mixture.belief = Some(belief.clone());
    }
    // A turn that was not read yet teaches nothing: where the top lies is said when the gauges have spoken.
    // At the end the result says it.
    let heard = matches!(state.mixture.history.last(), Some(Observation::Read(_)))
        && !matches!(decision.next, Move::Done(_));
    if let Some(belief) = decision.belief.as_ref().filter(|_| heard) {
        state.tell(Tell::note(belief.said(state.system)));
        if let Some(drift) = belief.drifting {
            state.tell(Tell::caution(format!(
                "The needle drifts by about {} a minute: it may still be warming.",
                drift.show(state.system)
            )));
        }
    }
    if let Move::Done(outcome) = &decision.next {
        say_done(state, outcome, &decision.why);
        state.mixture.outcome = Some(outcome.clone());
        state.mixture.pending = None;
    } else {
        state.mixture.pending = Some(decision.clone());
    }
}

fn say_done(state: &mut State, outcome: &Outcome, why: &str) {
    let screws: Vec<String> = outcome.turns_out.iter().map(|t| turns_as_fraction(*t)).collect();
    state.tell(Tell::note(format!(
        "Mixture set: {} turns out, {} after {} turns and {} readings. {why}",
        screws.join(", "),
        outcome.vacuum.show(state.system),
        outcome.moves,
        outcome.readings
    )));
    for remark in &outcome.remarks {
        state.tell(Tell::note(remark.clone()));
    }
    for screw in &outcome.unresponsive {
        let causes: Vec<String> =
            screw.causes.iter().map(|(cause, test)| format!("{cause} ({test})")).collect();
        state.tell(Tell::caution(format!(
            "Screw {} does nothing. Likely: {}.",
            screw.screw,
            causes.join("; ")
        )));
    }
}

/// The search itself asks this, so that a stall is one of its observations.
pub(in crate::procedure) fn asks(name: &str) -> bool {
    [READING, TURN, IDLE_SPEED].contains(&name)
}

fn observe(state: &mut State, observation: Observation) {
    state.mixture.history.push(observation);
    state.mixture.pending = None;
}

/// Screws were turned.
pub(in crate::procedure) fn turned(state: &mut State, screws: &[u8], by: Turns) -> Result<(), Damaged> {
    for screw in screws {
        let slot =
            usize::from(*screw).checked_sub(1).and_then(|i| state.setup.carburetor.idle.turns_out.get_mut(i));
        let slot = slot.ok_or_else(|| Damaged(format!("there is no mixture screw {screw}")))?;
        *slot += by;
    }
    again::led(state);
    if state.mixture.spec.is_some() {
        observe(state, Observation::Turned { screws: screws.to_vec(), by });
    }
    Ok(())
}

/// The gauges were read for the search.
pub(in crate::procedure) fn read(state: &mut State, reading: Reading, surprising: bool) {
    state.idle_readings.push(IdleReading { step: Step::Mixture, reading, surprising });
    observe(state, Observation::Read(reading));
}

/// The rig has no such thing.
pub(in crate::procedure) fn cannot(state: &mut State, what: &str) {
    if what == "reading" {
        state.tell(Tell::caution(
            "Without a vacuum gauge the screws cannot be set by the needle; the search ends here.",
        ));
        state.mixture.outcome = Some(Outcome {
            turns_out: state.setup.carburetor.idle.turns_out.clone(),
            vacuum: state.idle_vacuum().unwrap_or_default(),
            moves: state.mixture.turn_commands(),
            readings: state.mixture.readings(),
            unresponsive: Vec::new(),
            remarks: vec!["No vacuum could be read.".to_owned()],
        });
        return;
    }
    observe(state, Observation::Cannot { what: what.to_owned() });
}

/// It stalled and was started again.
pub(in crate::procedure) fn stalled(state: &mut State) {
    observe(state, Observation::Stalled);
}

/// The idle-speed screw was moved for the search; false once the search is over.
pub(super) fn trimmed(state: &mut State) -> bool {
    if state.mixture.outcome.is_some() {
        return false;
    }
    observe(state, Observation::Trimmed { to: None });
    true
}
