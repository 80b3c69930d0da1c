//! A setup with everything it names, read whole or refused with every fault.

use super::check;
use super::fault::{Fault, Faults, Place};
use super::kind::{Came, Kind, Origin};
use super::safe::{nearest, safe};
use super::section::Section;
use super::store::{Found, Store, read_file};
use super::tree::{self, Node, Table, Value};
use crate::rules::RuleBook;
use crate::setup::Setup;
use crate::trace::LoggerProfile;
use std::fmt::Write as _;
use std::io;
use std::path::{Path, PathBuf};

/// The format of profile files this program writes and reads.
pub const FORMAT: i64 = 1;

/// A setup and all that came with it.
#[derive(Debug, Clone)]
pub struct Loaded {
    /// The job.
    pub setup: Setup,
    /// The rules that go with it.
    pub rules: RuleBook,
    /// How its logger writes.
    pub logger: LoggerProfile,
    /// Where each profile came from, the setup first.
    pub from: Vec<Came>,
    /// What is worth saying, though nothing is wrong.
    pub warnings: Vec<String>,
}

/// A setup that could not be had.
#[derive(Debug, thiserror::Error)]
pub enum LoadError {
    /// No profile of that name.
    #[error("there is no {} called \"{name}\"", kind.map_or("profile", Kind::word))]
    NoSuch {
        /// What was wanted, when one kind was.
        kind: Option<Kind>,
        /// As written, made safe to print.
        name: String,
        /// What there is.
        known: Vec<String>,
    },
    /// A file that could not be read.
    #[error("could not read {}: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// A file that cannot be used.
    #[error("{}", list(.0))]
    Faulty(Vec<Fault>),
}

/// Every fault, and how many.
fn list(faults: &[Fault]) -> String {
    let mut out = String::new();
    for fault in faults.iter().take(50) {
        let _ = write!(out, "{fault}\n\n");
    }
    if faults.len() > 50 {
        let _ = write!(out, "and {} more\n\n", faults.len() - 50);
    }
    out + &if faults.len() == 1 { "1 fault".to_owned() } else { format!("{} faults", faults.len()) }
}

/// Loads a setup by the path of its file or by its name.
///
/// A text with a slash, or ending in `.toml`, is a path; anything else is a name, looked for in `profiles`, in the
/// user's data folder and among the built-in ones.
pub fn load_setup(name_or_path: &str, profiles: Option<&Path>) -> Result<Loaded, LoadError> {
    let store = Store::open(profiles);
    let found = fetch(&store, Kind::Setup, name_or_path)?;
    let came = Came {
        kind: Kind::Setup,
        name: name_or_path.to_owned(),
        origin: found.origin.clone(),
        overridden: false,
    };
    load_found(&store, &found, came)
}

/// Loads a setup from a text, named `file` in messages; files beside it cannot be named.
pub fn load_setup_text(file: &str, text: &str, profiles: Option<&Path>) -> Result<Loaded, LoadError> {
    let origin = Origin::File(file.to_owned());
    let found = Found {
        file: file.to_owned(),
        bytes: text.as_bytes().to_vec(),
        origin: origin.clone(),
        folder: None,
    };
    let came = Came { kind: Kind::Setup, name: file.to_owned(), origin, overridden: false };
    load_found(&Store::open(profiles), &found, came)
}

/// Loads a logger profile by the path of its file or by its name; of a name that is no profile's but a file's, the
/// file.
pub fn load_logger(name_or_path: &str, profiles: Option<&Path>) -> Result<LoggerProfile, LoadError> {
    let store = Store::open(profiles);
    let found = match fetch(&store, Kind::Logger, name_or_path) {
        Err(LoadError::NoSuch { .. }) if Path::new(name_or_path).is_file() => {
            fetch(&store, Kind::Logger, &format!("./{name_or_path}"))
        }
        other => other,
    }?;
    let faults = Faults::default();
    match check::tables::logger(&found.file, &found.bytes, &faults) {
        Some(logger) if faults.is_empty() => Ok(logger),
        _ => Err(LoadError::Faulty(faults.into_found())),
    }
}

/// A profile's bytes by name or path.
pub(super) fn fetch(store: &Store, kind: Kind, name_or_path: &str) -> Result<Found, LoadError> {
    if is_path(name_or_path) {
        let path = PathBuf::from(name_or_path);
        let bytes = read_file(&path).map_err(|source| LoadError::Read { path: path.clone(), source })?;
        let folder = path.parent().map(Path::to_owned);
        let shown = safe(name_or_path, 300);
        return Ok(Found { file: shown.clone(), bytes, origin: Origin::File(shown), folder });
    }
    match store.find(kind, name_or_path) {
        Ok(Some(found)) => Ok(found),
        Ok(None) => Err(LoadError::NoSuch {
            kind: Some(kind),
            name: safe(name_or_path, 60),
            known: store.names(kind),
        }),
        Err((path, source)) => Err(LoadError::Read { path, source }),
    }
}

/// Whether a text names a file rather than a profile.
pub(super) fn is_path(text: &str) -> bool {
    text.contains(['/', '\\']) || Path::new(text).extension().is_some_and(|e| e.eq_ignore_ascii_case("toml"))
}

/// A setup from its bytes.
pub(super) fn load_found(store: &Store, found: &Found, came: Came) -> Result<Loaded, LoadError> {
    let faults = Faults::default();
    let mut job = Job { store, faults: &faults, folder: found.folder.clone(), from: vec![came] };
    let mut warnings = Vec::new();
    let mut parts = None;
    if let Some(root) = tree::read(&found.file, &found.bytes, &faults)
        && let Value::Table(table) = &root.value
    {
        check_format(table, &faults);
        let whole = job.lay_in(table);
        let rules = job.rules(table);
        let logger = job.logger(table);
        let setup = check::setup::setup(Section::new(&whole, root.place, "", &faults), &mut warnings);
        parts = setup.zip(rules).zip(logger);
    }
    let from = job.from;
    match parts {
        Some(((setup, rules), logger)) if faults.is_empty() => {
            warnings.extend(rules.loosened(&RuleBook::common()));
            Ok(Loaded { setup, rules, logger, from, warnings })
        }
        _ => Err(LoadError::Faulty(faults.into_found())),
    }
}

/// Refuses a file of a newer format; its unknown keys are found as usual.
pub(super) fn check_format(table: &Table, faults: &Faults) {
    let Some(entry) = table.entry("format") else { return };
    match entry.node.value {
        Value::Whole(Some(1)) => {}
        Value::Whole(Some(n)) if n > FORMAT => faults.at(
            &entry.node.place,
            "format",
            &format!("this file is written in format {n}; this program reads format {FORMAT}"),
            "it needs a newer version of the program",
        ),
        _ => faults.at(
            &entry.node.place,
            "format",
            "format is not one this program knows",
            "write format = 1, or leave it out",
        ),
    }
}

/// A setup being put together.
struct Job<'a> {
    store: &'a Store,
    faults: &'a Faults,
    folder: Option<PathBuf>,
    from: Vec<Came>,
}

impl Job<'_> {
    /// The setup's table with each named engine, carburetor and fuel laid in under what the setup says itself.
    fn lay_in(&mut self, table: &Table) -> Table {
        let mut whole = table.clone();
        for (key, kind) in [("engine", Kind::Engine), ("carburetor", Kind::Carburetor), ("fuel", Kind::Fuel)]
        {
            let Some(entry) = whole.entries.iter_mut().find(|e| e.key == key) else { continue };
            match self.laid(kind, &entry.node) {
                Some(laid) => {
                    entry.node = Node { value: Value::Table(laid), place: entry.node.place.clone() }
                }
                None => entry.node.value = Value::Lost,
            }
        }
        whole
    }

    fn laid(&mut self, kind: Kind, node: &Node) -> Option<Table> {
        match &node.value {
            Value::Text(name) => self.named(kind, name, &node.place, false),
            Value::Table(own) => {
                let Some(base) = own.entry("profile") else {
                    self.note(kind, String::new(), Origin::Inline, false);
                    return Some(own.clone());
                };
                let mut over = own.clone();
                over.entries.retain(|e| e.key != "profile");
                let Value::Text(name) = &base.node.value else {
                    self.faults.at(
                        &base.node.place,
                        "profile",
                        "profile must be a name",
                        "write profile = \"...\"",
                    );
                    return None;
                };
                let under = self.named(kind, name, &base.node.place, !over.entries.is_empty())?;
                Some(under.under(&over))
            }
            _ => {
                let what = format!("{} is the name of a profile, or a table", kind.word());
                self.faults.at(&node.place, kind.word(), &what, &format!("write {} = \"...\"", kind.word()));
                None
            }
        }
    }

    /// The table of a profile named in the setup.
    fn named(&mut self, kind: Kind, name: &str, place: &Place, overridden: bool) -> Option<Table> {
        let found = self.find(kind, name, place)?;
        self.note(kind, name.to_owned(), found.origin.clone(), overridden);
        let root = tree::read(&found.file, &found.bytes, self.faults)?;
        let Value::Table(mut table) = root.value else { return None };
        check_format(&table, self.faults);
        table.entries.retain(|e| e.key != "format");
        Some(table)
    }

    fn note(&mut self, kind: Kind, name: String, origin: Origin, overridden: bool) {
        self.from.push(Came { kind, name, origin, overridden });
    }

    /// Finds what a setup names: a profile, or a file in the setup's own folder or below it.
    fn find(&self, kind: Kind, name: &str, place: &Place) -> Option<Found> {
        let fault = |what: &str, hint: &str| {
            self.faults.at(place, kind.word(), what, hint);
            None
        };
        if !is_path(name) {
            return match self.store.find(kind, name) {
                Ok(Some(found)) => Some(found),
                Ok(None) => {
                    let known = self.store.names(kind);
                    let hint = match nearest(name, known.iter().map(String::as_str)) {
                        Some(near) => format!("did you mean \"{near}\"?"),
                        None => format!("there are {}", known.join(", ")),
                    };
                    fault(
                        &format!("there is no {} profile called \"{}\"", kind.word(), safe(name, 40)),
                        &hint,
                    )
                }
                Err((path, error)) => fault(
                    &format!("could not read {}: {}", path.display(), error.kind()),
                    "look at its permissions",
                ),
            };
        }
        let Some(folder) = &self.folder else {
            return fault(
                "a built-in setup, or one that is not in a file, cannot name files",
                "name a profile",
            );
        };
        match inside(folder, name).and_then(|path| read_file(&path).map(|bytes| (path, bytes))) {
            Ok((path, bytes)) => {
                let file = safe(&path.display().to_string(), 300);
                Some(Found { file: file.clone(), bytes, origin: Origin::File(file), folder: None })
            }
            Err(error) if error.kind() == io::ErrorKind::PermissionDenied => fault(
                "a setup can name only files in its own folder or below it",
                "put the file beside the setup",
            ),
            Err(error) => {
                fault(&format!("could not read \"{}\": {}", safe(name, 60), error.kind()), "mend the path")
            }
        }
    }

    /// The rules the setup names, or the common ones.
    fn rules(&mut self, table: &Table) -> Option<RuleBook> {
        let Some(found) = self.named_only(Kind::Rules, table)? else { return Some(RuleBook::common()) };
        check::tables::rules(&found.file, &found.bytes, self.faults)
    }

    /// The logger the setup names, or the tool's own column names.
    fn logger(&mut self, table: &Table) -> Option<LoggerProfile> {
        let Some(found) = self.named_only(Kind::Logger, table)? else {
            return Some(LoggerProfile::standard());
        };
        check::tables::logger(&found.file, &found.bytes, self.faults)
    }

    /// A profile that is named, never written in the setup. `Some(None)`: not named; `None`: a fault was added.
    #[expect(clippy::option_option, reason = "not named and not found are two things")]
    fn named_only(&mut self, kind: Kind, table: &Table) -> Option<Option<Found>> {
        let Some(entry) = table.entry(kind.word()) else { return Some(None) };
        let Value::Text(name) = &entry.node.value else {
            let what = format!("{} is the name of a profile or of a file beside the setup", kind.word());
            self.faults.at(
                &entry.node.place,
                kind.word(),
                &what,
                "put the table into a file of its own and name it here",
            );
            return None;
        };
        let found = self.find(kind, name, &entry.node.place)?;
        self.note(kind, name.clone(), found.origin.clone(), false);
        Some(Some(found))
    }
}

/// The file `name` in `folder` or below it, links followed; what lies elsewhere is denied.
fn inside(folder: &Path, name: &str) -> io::Result<PathBuf> {
    let here = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let denied = || io::Error::from(io::ErrorKind::PermissionDenied);
    let relative = Path::new(name);
    if !relative
        .components()
        .all(|c| matches!(c, std::path::Component::Normal(_) | std::path::Component::CurDir))
    {
        return Err(denied());
    }
    let path = here.join(relative);
    if !path.canonicalize()?.starts_with(here.canonicalize()?) {
        return Err(denied());
    }
    Ok(path)
}
