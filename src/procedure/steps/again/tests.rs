use super::*;
use crate::bench::virtual_engine::scenario::oyster_skiff;
use crate::physics::metering::{Model, Operating, elasticity};
use crate::procedure::state::Job;
use crate::procedure::{Due, Event, Input, Retelling, decide, next};
use crate::rules::RuleBook;
use crate::setup::{PartSize, SetName};
use crate::trace::LoggerProfile;
use crate::units::{EngineSpeed, Length, MassFlow, System, Vacuum};

fn job() -> Job {
    Job {
        setup: oyster_skiff(),
        rules: RuleBook::common(),
        logger: LoggerProfile::standard(),
        ask_for_setup: false,
    }
}

/// A session on an engine of two screws, both best at `top`.
struct Played {
    state: State,
    events: Vec<Event>,
    top: f64,
    speed: EngineSpeed,
}

impl Played {
    fn new() -> Self {
        let speed = EngineSpeed::from_rpm(700.0);
        Self { state: State::open(job(), System::Us), events: Vec::new(), top: 1.25, speed }
    }

    fn take(&mut self, event: Event) {
        self.state.apply(&event).unwrap();
        self.events.push(event);
    }

    fn give(&mut self, input: Input) {
        for event in decide(&self.state, input).unwrap() {
            self.take(event);
        }
    }

    fn reading(&self) -> Reading {
        let screws = &self.state.setup.carburetor.idle.turns_out;
        let off = |t: &Turns| t.as_turns() - self.top;
        let loss: f64 = screws.iter().map(off).map(|x| if x < 0.0 { 6.0 } else { 3.0 } * x * x).sum();
        let vacuum = Vacuum::from_inhg(((17.6 - loss) * 4.0).round() / 4.0);
        Reading { vacuum, speed: Some(self.speed), lambda: None, coolant: None }
    }

    /// Answers as asked until something named like one of `stops` is asked; its name.
    fn on_to(&mut self, stops: &[&str]) -> String {
        for _ in 0..200 {
            let request = match next(&self.state) {
                Due::Own(event) => {
                    self.take(*event);
                    continue;
                }
                Due::Ask(request) => request,
                Due::Over(_) => return "over".to_owned(),
            };
            if stops.iter().any(|stop| request.name.starts_with(stop)) {
                return request.name;
            }
            let input = match &request.ask {
                Ask::Confirm => Input::Yes(true),
                Ask::Choose { options, default } => Input::Choice(options[*default].name.to_owned()),
                Ask::Value { default, .. } => Input::Value(default.clone().unwrap()),
                Ask::Reading { .. } => Input::Reading(self.reading()),
                Ask::IdleSpeed { toward, .. } => {
                    self.speed = *toward;
                    Input::Done
                }
                Ask::Turn { .. } | Ask::Change { .. } => Input::Done,
                Ask::Log { .. } => Input::Cannot("no logger".to_owned()),
            };
            self.give(input);
        }
        panic!("no end");
    }

    fn fit(&mut self, part: PartPath, inches: f64) {
        let from = self.state.setup.carburetor.size(part).unwrap();
        let to = PartSize::Bore(Length::from_inches(inches));
        self.take(Event::PartChanged(PartChange { part, from, to }));
    }

    /// Every move comes out again, and a state told from any beginning of the record asks what was asked then.
    fn tells_the_same(&self) {
        let mut retelling = Retelling::open(job(), System::Us);
        for (n, event) in self.events.iter().enumerate() {
            retelling.tell(event).unwrap();
            if matches!(self.events.get(n + 1), None | Some(Event::Proposed(_))) {
                continue; // the retelling makes these anew itself
            }
            let told = State::replay(job(), System::Us, &self.events[..=n]).unwrap();
            assert_eq!(next(&told), next(&retelling.state), "record {n}");
        }
        assert!(retelling.agrees(), "{:?}", retelling.disagreements());
    }
}

#[test]
fn a_part_of_the_idle_circuit_leads_back_before_the_log_and_the_search_is_short_where_nothing_moved() {
    let mut played = Played::new();
    assert_eq!(played.on_to(&["log."]), "log.1");
    let first = (played.state.mixture.turn_commands(), played.state.mixture.readings());
    played.fit(PartPath::IdleFeed, 0.0301);
    assert_eq!(played.on_to(&["mixture.again.", "log."]), "mixture.again.part.1");
    played.give(Input::Choice("again".to_owned()));
    assert_eq!(played.on_to(&["curb-idle.reading", "log."]), "curb-idle.reading.1");
    assert_eq!(played.on_to(&["mixture.reading", "log."]), "mixture.reading");
    assert_eq!(played.on_to(&["log."]), "log.1");
    let both = (played.state.mixture.turn_commands(), played.state.mixture.readings());
    let second = (both.0 - first.0, both.1 - first.1);
    assert!(second.0 + second.1 < first.0 + first.1, "{first:?} then {second:?}");
    assert!(open_items(&played.state).is_empty());
    played.on_to(&[]);
    played.tells_the_same();
}

#[test]
fn the_tops_are_found_again_where_the_part_moved_them() {
    for (part, inches, top) in [(PartPath::IdleAirBleed, 0.080, 1.75), (PartPath::IdleFeed, 0.034, 0.9)] {
        let mut played = Played::new();
        played.on_to(&["log."]);
        played.fit(part, inches);
        played.top = top;
        played.on_to(&["log."]);
        for screw in &played.state.setup.carburetor.idle.turns_out {
            assert!((screw.as_turns() - top).abs() <= 0.25 + 1e-9, "{part}: {screw:?}");
        }
    }
}

#[test]
fn parts_that_do_not_reach_idle_and_parts_before_the_search_ask_for_nothing() {
    let mut played = Played::new();
    played.on_to(&["curb-idle", "mixture"]);
    played.fit(PartPath::IdleFeed, 0.031);
    assert_eq!(played.on_to(&["mixture.again.", "log."]), "log.1");
    for part in [
        PartPath::MainJet(SetName::Primary),
        PartPath::MainAirBleed(SetName::Primary),
        PartPath::ChannelRestriction,
        PartPath::PumpNozzle,
    ] {
        assert!(!acts_at_idle(part));
        let size = played.state.setup.carburetor.size(part).and_then(PartSize::bore).unwrap();
        played.fit(part, size.as_inches() + 0.001);
    }
    assert_eq!(played.on_to(&["mixture.again.", "log."]), "log.1");
}

#[test]
fn the_carburetor_model_says_the_same_of_what_reaches_idle() {
    let setup = oyster_skiff();
    let model = Model::of(&setup.carburetor, &setup.fuel, &setup.weather.unwrap());
    let idle = Operating { air_flow: MassFlow::from_kg_h(27.0), vacuum: Vacuum::from_inhg(17.6) };
    let say = |part| elasticity(&model, part, idle).unwrap().unwrap().value.abs();
    for part in [PartPath::IdleFeed, PartPath::IdleAirBleed] {
        assert!(say(part) > 0.05, "{part}: {}", say(part));
    }
    let set = SetName::Primary;
    for part in [PartPath::MainJet(set), PartPath::MainAirBleed(set), PartPath::ChannelRestriction] {
        assert!(say(part) < 0.05, "{part}: {}", say(part));
    }
}

#[test]
fn only_a_leaner_part_turns_the_screws_beforehand_and_toward_rich() {
    let lead_of = |part, inches, meter_air: bool| {
        let mut played = Played::new();
        played.on_to(&["log."]);
        played.state.setup.carburetor.idle.screws_meter_air = meter_air;
        let from = played.state.setup.carburetor.size(part).unwrap();
        let change = PartChange { part, from, to: PartSize::Bore(Length::from_inches(inches)) };
        void(&mut played.state, Void::Part(change));
        answered(&mut played.state, &Answer::Choice("again".to_owned()));
        played.state.mixture.voids.lead.map(Turns::as_turns)
    };
    assert!(lead_of(PartPath::IdleAirBleed, 0.080, false).unwrap() > 0.2);
    assert!(lead_of(PartPath::IdleAirBleed, 0.080, true).unwrap() < -0.2);
    assert!(lead_of(PartPath::IdleFeed, 0.020, false).unwrap() <= MOST_LEAD);
    assert_eq!(lead_of(PartPath::IdleAirBleed, 0.060, false), None, "richer");
    assert_eq!(lead_of(PartPath::IdleFeed, 0.036, true), None, "richer");
    assert_eq!(lead_of(PartPath::IdleAirBleed, 0.0702, false), None, "less than half a mark");
}

#[test]
fn a_session_recorded_before_this_was_asked_is_told_as_it_was() {
    let mut played = Played::new();
    played.on_to(&["log."]);
    let at = played.events.len();
    played.on_to(&[]);
    assert_eq!(played.events.last(), Some(&Event::Finished));
    let part = PartPath::IdleAirBleed;
    let [from, to] = [0.070, 0.074].map(|inch| PartSize::Bore(Length::from_inches(inch)));
    played.events.insert(at, Event::PartChanged(PartChange { part, from, to }));
    let mut retelling = Retelling::open(job(), System::Us);
    for event in &played.events {
        retelling.tell(event).unwrap();
    }
    assert!(retelling.agrees(), "{:?}", retelling.disagreements());
    assert_eq!(open_items(&retelling.state).len(), 1);
}

#[test]
fn a_turn_that_cannot_be_made_beforehand_is_let_go_and_no_screw_is_called_stuck() {
    let mut played = Played::new();
    played.on_to(&["log."]);
    played.fit(PartPath::IdleAirBleed, 0.080);
    assert!(played.on_to(&[LEAD, "log."]).starts_with(LEAD));
    let stood = played.state.setup.carburetor.idle.turns_out.clone();
    played.give(Input::Cannot("caps on the screws".to_owned()));
    assert_eq!(played.on_to(&["curb-idle", "log."]), "curb-idle.reading.1");
    assert_eq!(played.state.setup.carburetor.idle.turns_out, stood);
    assert!(played.state.mixture.history.is_empty());
}
