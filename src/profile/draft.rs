//! A new setup in the making: which questions to ask, and each answer checked as it comes, by the same check that
//! reads files.

use super::fault::{Fault, Faults};
use super::graft::{at, remove, set};
use super::kind::Kind;
use super::load::{LoadError, fetch, load_setup_text};
use super::store::Store;
use super::tree::{self, Table, Value};
use super::write::to_toml;
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
}

impl Draft {
    /// Starts from an engine and a carburetor that come near.
    pub fn start(
        engine: &str,
        carburetor: &str,
        fuel: &str,
        profiles: Option<&Path>,
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
        let draft = Draft { table, profiles: profiles.map(Path::to_owned) };
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
        let default = stands.unwrap_or_else(|| "-".to_owned());
        let form = match ask.form {
            Asked::Text => Form::Text,
            Asked::Number => Form::Number,
            Asked::Words(words) => Form::Word(words.iter().map(|w| (*w).to_owned()).collect()),
            Asked::In(unit) => Form::Quantity(unit_of(&default).unwrap_or(unit).to_owned()),
        };
        Some(Question { key, say, form, default, optional: ask.optional })
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
        if text == "-" {
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

/// How an asked answer is written.
#[derive(Clone, Copy)]
enum Asked {
    Text,
    Number,
    Words(&'static [&'static str]),
    /// In the unit that stands there, or this one.
    In(&'static str),
}

struct Ask {
    key: &'static str,
    say: &'static str,
    form: Asked,
    optional: bool,
}

const fn ask(key: &'static str, say: &'static str, form: Asked) -> Ask {
    Ask { key, say, form, optional: false }
}

const fn maybe(key: &'static str, say: &'static str, form: Asked) -> Ask {
    Ask { key, say, form, optional: true }
}

/// Counts before what is measured against them, large bores before the small ones in them.
const ASKED: &[Ask] = &[
    ask("name", "What do you call this job", Asked::Text),
    ask("use", "What is the engine for", Asked::Words(&["street", "race", "marine", "tow", "farm"])),
    ask("engine.name", "The engine: what do you call it", Asked::Text),
    ask("engine.cylinders", "Cylinders", Asked::Number),
    ask("engine.displacement", "Displacement, all cylinders", Asked::In("L")),
    maybe("engine.compression", "Compression ratio", Asked::Number),
    maybe("engine.cam.intake_duration", "Cam: intake duration at 0.050 in", Asked::In("deg")),
    maybe("engine.cam.exhaust_duration", "Cam: exhaust duration at 0.050 in", Asked::In("deg")),
    maybe("engine.cam.separation", "Cam: lobe separation", Asked::In("deg")),
    ask("engine.cooling", "Cooling", Asked::Words(&["water", "air"])),
    ask(
        "engine.drive",
        "What it drives through (loose: its converter stalls high)",
        Asked::Words(&["manual", "automatic", "loose-automatic", "propeller", "none"]),
    ),
    ask("engine.plenum", "Intake", Asked::Words(&["dual-plane", "single-plane", "individual-runner"])),
    ask("engine.rated_speed", "Highest speed really used", Asked::In("rpm")),
    ask("engine.volumetric_efficiency", "Volumetric efficiency there, throttle wide open", Asked::In("%")),
    maybe("engine.idle_speed", "Curb idle its maker or builder names", Asked::In("rpm")),
    maybe("engine.idle_timing", "Ignition timing at idle, before top dead centre", Asked::In("deg")),
    ask("carburetor.name", "The carburetor: what do you call it", Asked::Text),
    ask("carburetor.rated_flow", "Rated air flow", Asked::In("cfm")),
    ask("carburetor.rated_depression", "Rated at a depression of", Asked::In("inHg")),
    ask("carburetor.idle.screws", "Mixture screws", Asked::Number),
    ask(
        "carburetor.idle.screws_meter",
        "What the screws meter (fuel: out is richer; air: out is leaner)",
        Asked::Words(&["fuel", "air"]),
    ),
    ask("carburetor.idle.turns_out", "Turns out from lightly seated", Asked::Number),
    ask("carburetor.idle.feed_restriction", "Idle feed restriction", Asked::In("in")),
    ask("carburetor.idle.air_bleed", "Idle air bleed", Asked::In("in")),
    ask("carburetor.main.*.venturi", "venturi", Asked::In("in")),
    ask("carburetor.main.*.jet", "main jet", Asked::In("in")),
    ask("carburetor.main.*.air_bleed", "main air bleed", Asked::In("in")),
    maybe("carburetor.enrichment.opens_below", "Enrichment (power) valve opens below", Asked::In("inHg")),
    maybe("carburetor.enrichment.channel_restriction", "Enrichment channel restriction", Asked::In("in")),
    maybe("carburetor.pump.nozzle", "Accelerator pump nozzle", Asked::In("in")),
    ask("instruments.vacuum_mark", "Vacuum gauge: from one mark to the next", Asked::In("inHg")),
    ask("instruments.speed_step", "Tachometer: smallest step", Asked::In("rpm")),
];

#[cfg(test)]
mod tests {
    use super::*;

    fn draft() -> Draft {
        Draft::start("large-eight", "plain-four-barrel", "e10", None).unwrap()
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
