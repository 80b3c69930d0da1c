//! The plain kind of question: a gate to pass, a choice, a value, a reading.

use crate::procedure::ask::{Ask, Channel, Choice, Request, ValueUnit};
use crate::procedure::event::Answer;
use crate::procedure::plan::Step;
use crate::procedure::state::State;
use crate::units::show::Shown;

/// One question of a step's list.
pub(super) struct Question {
    pub(super) name: String,
    pub(super) say: String,
    pub(super) why: String,
    pub(super) kind: Kind,
}

/// What kind of answer it wants.
pub(super) enum Kind {
    /// Must be answered yes; a no is met with what to do about it, and the question stays.
    Gate {
        /// What to do when the answer is no.
        remedy: String,
    },
    /// One of several; the first is the default.
    Choose(Vec<Choice>),
    /// A quantity.
    Value { unit: ValueUnit, default: Option<String>, measured: bool },
    /// The gauges.
    Reading,
}

impl Question {
    pub(super) fn gate(
        name: &str,
        say: impl Into<String>,
        why: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self {
            name: name.to_owned(),
            say: say.into(),
            why: why.into(),
            kind: Kind::Gate { remedy: remedy.into() },
        }
    }

    pub(super) fn choose(
        name: &str,
        say: impl Into<String>,
        why: impl Into<String>,
        options: &[(&'static str, &str)],
    ) -> Self {
        let options = options.iter().map(|(name, said)| Choice { name, said: (*said).to_owned() }).collect();
        Self { name: name.to_owned(), say: say.into(), why: why.into(), kind: Kind::Choose(options) }
    }

    pub(super) fn value(
        name: &str,
        say: impl Into<String>,
        why: impl Into<String>,
        unit: ValueUnit,
        default: Option<String>,
    ) -> Self {
        let kind = Kind::Value { unit, default, measured: false };
        Self { name: name.to_owned(), say: say.into(), why: why.into(), kind }
    }

    /// A value that an instrument is read for: when the one shown is only kept, it is recorded as assumed.
    pub(super) fn measured(self) -> Self {
        match self.kind {
            Kind::Value { unit, default, .. } => {
                Self { kind: Kind::Value { unit, default, measured: true }, ..self }
            }
            _ => self,
        }
    }

    pub(super) fn reading(name: &str, say: impl Into<String>, why: impl Into<String>) -> Self {
        Self { name: name.to_owned(), say: say.into(), why: why.into(), kind: Kind::Reading }
    }

    fn is_answered(&self, state: &State) -> bool {
        match (&self.kind, state.answer(&self.name)) {
            (_, None) => false,
            (Kind::Gate { .. }, Some(Answer::Yes(yes))) => *yes,
            _ => true,
        }
    }

    fn into_request(self, step: Step, state: &State) -> Request {
        let refused = matches!(state.answer(&self.name), Some(Answer::Yes(false)));
        let (say, ask) = match self.kind {
            Kind::Gate { remedy } if refused => (format!("{remedy} Then: {}", self.say), Ask::Confirm),
            Kind::Gate { .. } => (self.say, Ask::Confirm),
            Kind::Choose(options) => (self.say, Ask::Choose { options, default: 0 }),
            Kind::Value { unit, default, measured } => (self.say, Ask::Value { unit, default, measured }),
            Kind::Reading => (self.say, gauges(state)),
        };
        Request { step, name: self.name, say, why: self.why, ask }
    }
}

/// The first question of a list that still wants an answer.
pub(super) fn first_open(step: Step, state: &State, questions: Vec<Question>) -> Option<Request> {
    questions.into_iter().find(|q| !q.is_answered(state)).map(|q| q.into_request(step, state))
}

/// A reading of what gauges there are.
pub(super) fn gauges(state: &State) -> Ask {
    let mut channels = vec![Channel::Vacuum, Channel::Speed];
    if state.setup.instruments.lambda.is_some() {
        channels.push(Channel::Lambda);
    }
    Ask::Reading { channels, mark: state.setup.instruments.vacuum_mark }
}

/// A quantity as a default for a prompt, in the units the person wants to see.
#[expect(clippy::unnecessary_wraps, reason = "a default is an option: some questions have none")]
pub(super) fn shown<Q: Shown>(quantity: Q, state: &State) -> Option<String> {
    Some(quantity.show(state.system))
}
