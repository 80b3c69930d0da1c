//! Profiles one by one: the list, one shown, one checked.

use super::check::{self, tables};
use super::fault::Faults;
use super::kind::{Came, Kind, Origin};
use super::load::{LoadError, check_format, fetch, is_path, load_found};
use super::safe::safe;
use super::section::Section;
use super::store::{Found, Listed, Store};
use super::tree::{self, Table, Value};
use std::path::Path;

/// A profile as it is kept.
#[derive(Debug, Clone)]
pub struct Profile {
    /// Its kind.
    pub kind: Kind,
    /// The name it was asked for by.
    pub name: String,
    /// Where it is.
    pub origin: Origin,
    /// Its text.
    pub text: String,
    /// What the text says, as data.
    pub content: serde_json::Value,
}

/// A profile that was found in order.
#[derive(Debug, Clone)]
pub struct Checked {
    /// What it is.
    pub kind: Kind,
    /// What to call it in a message.
    pub file: String,
    /// What is worth saying, though nothing is wrong.
    pub warnings: Vec<String>,
}

/// Every profile there is.
pub fn list(profiles: Option<&Path>) -> Vec<Listed> {
    Store::open(profiles).list()
}

/// A profile by name or by the path of its file. A name that several kinds share is the first kind's, unless `kind`
/// says which.
pub fn show(name_or_path: &str, kind: Option<Kind>, profiles: Option<&Path>) -> Result<Profile, LoadError> {
    let store = Store::open(profiles);
    let (kind, found) = any(&store, name_or_path, kind)?;
    let faults = Faults::default();
    let root = tree::read(&found.file, &found.bytes, &faults);
    match root {
        Some(root) if faults.is_empty() => Ok(Profile {
            kind,
            name: name_or_path.to_owned(),
            origin: found.origin,
            text: String::from_utf8_lossy(&found.bytes).into_owned(),
            content: json(&root.value),
        }),
        _ => Err(LoadError::Faulty(faults.into_found())),
    }
}

/// Checks a profile, by name or by the path of its file. What kind it is is told from its folder and its keys,
/// unless `kind` says so.
pub fn check(name_or_path: &str, kind: Option<Kind>, profiles: Option<&Path>) -> Result<Checked, LoadError> {
    let store = Store::open(profiles);
    let (kind, found) = any(&store, name_or_path, kind)?;
    let file = found.file.clone();
    if kind == Kind::Setup {
        let came =
            Came { kind, name: name_or_path.to_owned(), origin: found.origin.clone(), overridden: false };
        let loaded = load_found(&store, &found, came)?;
        return Ok(Checked { kind, file, warnings: loaded.warnings });
    }
    let faults = Faults::default();
    content(kind, &found, &faults);
    if faults.is_empty() {
        Ok(Checked { kind, file, warnings: Vec::new() })
    } else {
        Err(LoadError::Faulty(faults.into_found()))
    }
}

fn content(kind: Kind, found: &Found, faults: &Faults) {
    match kind {
        Kind::Rules => {
            tables::rules(&found.file, &found.bytes, faults);
            return;
        }
        Kind::Logger => {
            tables::logger(&found.file, &found.bytes, faults);
            return;
        }
        Kind::Setup | Kind::Engine | Kind::Carburetor | Kind::Fuel => {}
    }
    let Some(root) = tree::read(&found.file, &found.bytes, faults) else { return };
    let Value::Table(mut table) = root.value else { return };
    check_format(&table, faults);
    table.entries.retain(|e| e.key != "format");
    let section = Section::new(&table, root.place, "", faults);
    match kind {
        Kind::Engine => drop(check::engine::engine(section)),
        Kind::Carburetor => drop(check::carburetor::carburetor(section)),
        _ => drop(check::fuel::fuel(section)),
    }
}

/// A profile of the kind wanted, or of the first kind that has it.
fn any(store: &Store, name_or_path: &str, kind: Option<Kind>) -> Result<(Kind, Found), LoadError> {
    if is_path(name_or_path) {
        let found = fetch(store, kind.unwrap_or(Kind::Setup), name_or_path)?;
        let kind = kind.unwrap_or_else(|| guess(name_or_path, &found));
        return Ok((kind, found));
    }
    let wanted = kind.map_or_else(|| Kind::ALL.to_vec(), |k| vec![k]);
    for kind in &wanted {
        match fetch(store, *kind, name_or_path) {
            Ok(found) => return Ok((*kind, found)),
            Err(LoadError::NoSuch { .. }) => {}
            Err(other) => return Err(other),
        }
    }
    let mut known: Vec<String> = wanted.iter().flat_map(|k| store.names(*k)).collect();
    known.dedup();
    Err(LoadError::NoSuch { kind, name: safe(name_or_path, 60), known })
}

/// Keys that tell a kind from the others.
const TELLING: [(Kind, &[&str]); 6] = [
    (Kind::Setup, &["use", "engine", "carburetor", "fuel", "instruments", "air"]),
    (Kind::Engine, &["displacement", "cylinders", "cam", "drive", "rated_speed", "volumetric_efficiency"]),
    (Kind::Carburetor, &["barrels", "rated_flow", "rated_depression", "idle", "main", "stock"]),
    (Kind::Fuel, &["family", "ethanol", "stoichiometric", "density"]),
    (Kind::Logger, &["column", "header", "delimiter", "period"]),
    (Kind::Rules, &["targets", "limits", "sizing", "start_turns", "in_gear", "tip_in"]),
];

/// The kind of a file, from its folder, or from the keys it has most of.
fn guess(path: &str, found: &Found) -> Kind {
    let folder = Path::new(path).parent().and_then(Path::file_name).and_then(|f| f.to_str()).unwrap_or("");
    if let Some(kind) = Kind::ALL.into_iter().find(|k| k.folder() == folder) {
        return kind;
    }
    let root = tree::read(&found.file, &found.bytes, &Faults::default());
    let Some(Value::Table(table)) = root.map(|r| r.value) else { return Kind::Setup };
    let has = |keys: &[&str]| keys.iter().filter(|k| table.entry(k).is_some()).count();
    // The first of equals: a setup, when nothing tells.
    TELLING.iter().rev().max_by_key(|(_, keys)| has(keys)).map_or(Kind::Setup, |(kind, _)| *kind)
}

/// A value as data.
fn json(value: &Value) -> serde_json::Value {
    match value {
        Value::Text(text) => text.clone().into(),
        Value::Whole(whole) => (*whole).into(),
        Value::Number(number) => (*number).into(),
        Value::Flag(flag) => (*flag).into(),
        Value::Date | Value::Lost => serde_json::Value::Null,
        Value::List(list) => list.iter().map(|n| json(&n.value)).collect(),
        Value::Table(Table { entries }) => entries
            .iter()
            .map(|e| (e.key.clone(), json(&e.node.value)))
            .collect::<serde_json::Map<_, _>>()
            .into(),
    }
}
