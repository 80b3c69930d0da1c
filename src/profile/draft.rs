//! A new setup in the making: which questions to ask, and each answer checked as it comes, by the same check that
//! reads files.

mod asked;

use super::fault::{Fault, Faults};
use super::graft::{at, remove, set};
use super::kind::Kind;
use super::load::{LoadError, fetch, load_setup_text};
use super::store::Store;
use super::tree::{self, Table, Value};
use super::write::to_toml;
use crate::units::show::Shown;
use crate::units::{Length, System, Vacuum, VolumeFlow};
use asked::{ASKED, Ask, Asked};
use std::path::{Path, PathBuf};

/// How an answer is written.
#[derive(Debug, Clone, PartialEq)]
pub enum Form {
    /// A few words.
    Text,
    /// A number with the unit shown; a bare number is in that unit.
    Quantity(String),
    /// A bare number.
    Number,
    /// One of these words.
    Word(Vec<String>),
}

/// One thing to ask.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Where the answer goes: `engine.cylinders`, `carburetor.main.0.jet`.
    pub key: String,
    /// What to ask.
    pub say: String,
    /// How it is answered.
    pub form: Form,
    /// What Enter keeps; `-` stands for "not known".
    pub default: String,
    /// It may be left unknown, with `-`.
    pub optional: bool,
}

/// A setup in the making. It is sound from the start and after every answer that was taken.
#[derive(Debug, Clone)]
pub struct Draft {
    table: Table,
    profiles: Option<PathBuf>,
    system: System,
}

impl Draft {
    /// Starts from an engine and a carburetor that come near; `system` is the units of what is asked.
    pub fn start(
        engine: &str,
        carburetor: &str,
        fuel: &str,
        profiles: Option<&Path>,
        system: System,
    ) -> Result<Draft, LoadError> {
        let store = Store::open(profiles);
        let engine = table_of(&store, Kind::Engine, engine)?;
        let mut carburetor = table_of(&store, Kind::Carburetor, carburetor)?;
        like_the_persons_own(&mut carburetor);
        let mut table = Table::default();
        set(&mut table, &["name"], Value::Text("my engine".to_owned()));
        set(&mut table, &["use"], Value::Text("street".to_owned()));
        set(&mut table, &["fuel"], Value::Text(fuel.to_owned()));
        set(&mut table, &["engine"], Value::Table(engine));
        set(&mut table, &["carburetor"], Value::Table(carburetor));
        set(&mut table, &["instruments", "vacuum_mark"], Value::Text("0.5 inHg".to_owned()));
        set(&mut table, &["instruments", "speed_step"], Value::Text("10 rpm".to_owned()));
        let draft = Draft { table, profiles: profiles.map(Path::to_owned), system };
        draft.check()?;
        Ok(draft)
    }

    /// What to ask, in order. An answer can bring in or take out questions that follow it.
    pub fn questions(&self) -> Vec<Question> {
        let mut all = Vec::new();
        for ask in ASKED {
            if !ask.key.contains(".*.") {
                all.extend(self.question(ask, ask.key.to_owned(), ask.say.to_owned()));
                continue;
            }
            for (i, set) in self.sets().into_iter().enumerate() {
                let say = format!("{set} {}", ask.say);
                all.extend(self.question(ask, ask.key.replace(".*.", &format!(".{i}.")), say));
            }
        }
        all
    }

    fn sets(&self) -> Vec<String> {
        let list = at(&self.table, &["carburetor", "main"]);
        let Some(Value::List(list)) = list else { return Vec::new() };
        let names = list.iter().map(|n| match &n.value {
            Value::Table(table) => table.text("set").unwrap_or("primary").to_owned(),
            _ => "primary".to_owned(),
        });
        names.collect()
    }

    /// The question, unless this engine or carburetor has no such thing.
    fn question(&self, ask: &Ask, key: String, say: String) -> Option<Question> {
        let path: Vec<&str> = key.split('.').collect();
        let stands = at(&self.table, &path).map(written);
        if stands.is_none() && (!ask.optional || self.group_is_out(&key)) {
            return None;
        }
        let default = stands.map_or_else(|| "-".to_owned(), |text| self.in_own_units(ask.form, text));
        let form = match ask.form {
            Asked::Text => Form::Text,
            Asked::Number => Form::Number,
            Asked::Words(words) => Form::Word(words.iter().map(|w| (*w).to_owned()).collect()),
            Asked::In(unit) => Form::Quantity(unit_of(&default).unwrap_or(self.unit(unit)).to_owned()),
        };
        Some(Question { key, say, form, default, optional: ask.optional })
    }

    /// The unit that a quantity without a value is asked for in.
    fn unit(&self, us: &'static str) -> &'static str {
        match us {
            "in" => Length::unit_symbol(self.system),
            "inHg" => Vacuum::unit_symbol(self.system),
            "cfm" => VolumeFlow::unit_symbol(self.system),
            other => other,
        }
    }

    /// What stands there, as a person who chose metric units reads it; to others it is as the profile has it.
    fn in_own_units(&self, form: Asked, text: String) -> String {
        fn shown<Q: Shown + std::str::FromStr>(text: &str, system: System) -> Option<String> {
            text.parse::<Q>().ok().map(|q| q.show(system))
        }
        let said = match (self.system, form) {
            (System::Metric, Asked::In("in")) => shown::<Length>(&text, self.system),
            (System::Metric, Asked::In("inHg")) => shown::<Vacuum>(&text, self.system),
            (System::Metric, Asked::In("cfm")) => shown::<VolumeFlow>(&text, self.system),
            _ => None,
        };
        said.unwrap_or(text)
    }

    /// Whether a key belongs to a part that this engine or carburetor does not have.
    fn group_is_out(&self, key: &str) -> bool {
        GROUPS.iter().any(|(group, first)| {
            let path: Vec<&str> = group.split('.').collect();
            key.starts_with(group) && key != *first && at(&self.table, &path).is_none()
        })
    }

    /// Takes an answer, or says why it cannot be; then nothing is changed.
    pub fn answer(&mut self, question: &Question, text: &str) -> Result<(), String> {
        let text = text.trim();
        let text = if text.is_empty() { question.default.as_str() } else { text };
        let mut next = self.clone();
        let path: Vec<&str> = question.key.split('.').collect();
        let kept = text == question.default && at(&self.table, &path).is_some();
        if kept {
            // as the profile has it, not as it was rounded to be shown
        } else if text == "-" {
            if !question.optional {
                return Err("this one must be known".to_owned());
            }
            let group = GROUPS.iter().find(|(group, _)| question.key.starts_with(group));
            let out: Vec<&str> = group.map_or_else(|| path.clone(), |(group, _)| group.split('.').collect());
            remove(&mut next.table, &out);
        } else {
            set(&mut next.table, &path, value(&question.form, text));
        }
        // Only what this answer brought in is its fault: a later answer may put another key right.
        let plain: String =
            path.iter().filter(|p| p.parse::<usize>().is_err()).copied().collect::<Vec<_>>().join(".");
        if let Err(LoadError::Faulty(faults)) = next.check()
            && let Some(fault) = faults.iter().find(|f| f.key == plain)
        {
            return Err(said(fault));
        }
        *self = next;
        Ok(())
    }

    /// Adds a wideband sensor as most are fitted; the person vouches for it, or not.
    pub fn with_lambda_sensor(&mut self, trusted: bool) {
        let sensor = ["instruments", "lambda"];
        set(&mut self.table, &[sensor[0], sensor[1], "time_constant"], Value::Text("70 ms".to_owned()));
        set(&mut self.table, &[sensor[0], sensor[1], "trusted"], Value::Flag(trusted));
    }

    /// Whether it would load.
    pub fn check(&self) -> Result<(), LoadError> {
        load_setup_text("the new setup", &self.text(), self.profiles.as_deref()).map(|_| ())
    }

    /// What the job is called.
    pub fn name(&self) -> &str {
        self.table.text("name").unwrap_or("my engine")
    }

    /// The TOML.
    pub fn text(&self) -> String {
        to_toml(&self.table)
    }
}

fn said(fault: &Fault) -> String {
    if fault.hint.is_empty() { fault.what.clone() } else { format!("{}; {}", fault.what, fault.hint) }
}

fn table_of(store: &Store, kind: Kind, name: &str) -> Result<Table, LoadError> {
    let found = fetch(store, kind, name)?;
    let faults = Faults::default();
    let root = tree::read(&found.file, &found.bytes, &faults);
    match root.map(|r| r.value) {
        Some(Value::Table(mut table)) if faults.is_empty() => {
            table.entries.retain(|e| e.key != "format");
            Ok(table)
        }
        _ => Err(LoadError::Faulty(faults.into_found())),
    }
}

/// Measurements of the carburetor that was started from are not this one's; what is asked for will be.
fn like_the_persons_own(carburetor: &mut Table) {
    carburetor.entries.retain(|e| e.key != "float_level");
    for entry in &mut carburetor.entries {
        match (entry.key.as_str(), &mut entry.node.value) {
            ("idle", Value::Table(idle)) => {
                idle.entries.retain(|e| e.key != "slot_exposure");
                if let Some(turns) = idle.entries.iter_mut().find(|e| e.key == "turns_out")
                    && let Value::List(list) = &turns.node.value
                    && let Some(first) = list.first().cloned()
                {
                    turns.node = first;
                }
            }
            ("main", Value::List(sets)) => {
                for set in sets {
                    if let Value::Table(set) = &mut set.value {
                        let own = ["set", "barrels", "venturi", "jet", "air_bleed"];
                        set.entries.retain(|e| own.contains(&e.key.as_str()));
                    }
                }
            }
            _ => {}
        }
    }
}

fn value(form: &Form, text: &str) -> Value {
    match form {
        Form::Text | Form::Word(_) => Value::Text(text.to_owned()),
        Form::Number => match (text.parse::<i64>(), text.replace(',', ".").parse::<f64>()) {
            (Ok(whole), _) => Value::Whole(Some(whole)),
            (_, Ok(number)) => Value::Number(Some(number).filter(|x| x.is_finite())),
            _ => Value::Text(text.to_owned()),
        },
        Form::Quantity(unit) => {
            let bare = !text.chars().any(|c| c.is_alphabetic() || matches!(c, '%' | '"' | '\'' | '°'));
            Value::Text(if bare { format!("{text} {unit}") } else { text.to_owned() })
        }
    }
}

fn written(value: &Value) -> String {
    match value {
        Value::Text(text) => text.clone(),
        Value::Whole(Some(whole)) => whole.to_string(),
        Value::Number(Some(number)) => number.to_string(),
        Value::Flag(flag) => flag.to_string(),
        _ => "-".to_owned(),
    }
}

/// The unit at the end of a written quantity.
fn unit_of(text: &str) -> Option<&str> {
    let unit =
        text.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '/' | ' '));
    (!unit.is_empty()).then_some(unit)
}

/// Parts that are there whole or not at all, and the question that decides it.
const GROUPS: &[(&str, &str)] = &[
    ("engine.cam", "engine.cam.intake_duration"),
    ("carburetor.enrichment", "carburetor.enrichment.opens_below"),
    ("carburetor.pump", "carburetor.pump.nozzle"),
];

#[cfg(test)]
mod tests {
    use super::*;

    fn draft() -> Draft {
        Draft::start("large-eight", "plain-four-barrel", "e10", None, System::Us).unwrap()
    }

    fn question(draft: &Draft, key: &str) -> Option<Question> {
        draft.questions().into_iter().find(|q| q.key == key)
    }

    #[test]
    fn every_default_is_taken_and_the_whole_loads() {
        let mut draft = draft();
        for question in draft.questions() {
            draft.answer(&question, "").unwrap_or_else(|e| panic!("{}: {e}", question.key));
        }
        load_setup_text("t", &draft.text(), None).unwrap();
    }

    /// What Enter keeps is exactly what the profile has; a bare number is in the unit that is shown.
    #[test]
    fn a_metric_person_is_asked_in_metric_units() {
        let start = |system| Draft::start("large-eight", "plain-four-barrel", "e10", None, system).unwrap();
        let (mut us, mut metric) = (start(System::Us), start(System::Metric));
        for key in ["carburetor.main.1.jet", "carburetor.rated_flow", "instruments.vacuum_mark"] {
            us.answer(&question(&us, key).unwrap(), "").unwrap();
            metric.answer(&question(&metric, key).unwrap(), "").unwrap();
        }
        assert_eq!(metric.text(), us.text());
        let jet = question(&metric, "carburetor.main.1.jet").unwrap();
        assert_eq!((jet.default.as_str(), jet.form.clone()), ("1.88 mm", Form::Quantity("mm".to_owned())));
        metric.answer(&jet, "1.9").unwrap();
        assert!(metric.text().contains("jet = \"1.9 mm\""), "{}", metric.text());
        assert_eq!(question(&us, "instruments.vacuum_mark").unwrap().default, "0.5 inHg");
        assert_eq!(question(&metric, "instruments.vacuum_mark").unwrap().default, "1.7 kPa");
        let asked = metric.questions().into_iter().map(|q| q.form);
        let us_units = ["in", "inHg", "cfm"].map(|unit| Form::Quantity(unit.to_owned()));
        assert_eq!(asked.filter(|form| us_units.contains(form)).count(), 0);
    }

    #[test]
    fn an_impossible_answer_changes_nothing_and_says_why() {
        let mut draft = draft();
        let jet = question(&draft, "carburetor.main.1.jet").unwrap();
        assert_eq!((jet.say.as_str(), jet.default.as_str()), ("secondary main jet", "0.074 in"));
        let before = draft.text();
        assert!(draft.answer(&jet, "7").unwrap_err().contains("from 0.01 in to 0.3 in"));
        assert!(draft.answer(&jet, "0.07 rpm").unwrap_err().contains("these would do: in, mm"));
        assert!(draft.answer(&jet, "-").is_err());
        assert_eq!(draft.text(), before);
        draft.answer(&jet, "0.078").unwrap();
        assert!(draft.text().contains("jet = \"0.078 in\""));
    }

    #[test]
    fn a_part_that_is_not_there_is_not_asked_about() {
        let mut draft = draft();
        let intake = question(&draft, "engine.cam.intake_duration").unwrap();
        assert!(question(&draft, "engine.cam.separation").is_some());
        draft.answer(&intake, "-").unwrap();
        assert!(question(&draft, "engine.cam.separation").is_none());
        draft.check().unwrap();
        // And it can come back.
        let intake = question(&draft, "engine.cam.intake_duration").unwrap();
        assert_eq!(intake.default, "-");
        draft.answer(&intake, "230").unwrap();
        assert!(draft.check().is_err(), "the rest of the cam is still to be asked for");
        assert!(question(&draft, "engine.cam.separation").is_some());
    }
}
