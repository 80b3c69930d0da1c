//! `leanbest profile`.

mod ask;
mod new;

use crate::cli::{Console, Exit, Fault};
use crate::profile::{self, Kind, LoadError, Origin, safe_text};
use clap::{Subcommand, ValueEnum};
use serde_json::{Value, json};
use std::path::PathBuf;

/// Arguments of `profile`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(subcommand)]
    what: What,
}

/// What to do with profiles.
#[derive(Debug, Subcommand)]
enum What {
    /// List every profile and where it is kept
    List {
        /// Only this kind
        #[arg(long, value_enum)]
        kind: Option<Word>,
    },
    /// Print a profile as TOML, ready to be copied
    Show {
        /// A name, or the path of a file
        name: String,
        /// The kind, when several share the name
        #[arg(long, value_enum)]
        kind: Option<Word>,
    },
    /// Check files, and tell every fault with its place
    Check {
        /// Files, or names
        #[arg(required = true, value_name = "FILE")]
        files: Vec<String>,
        /// What they are, when their keys do not tell
        #[arg(long, value_enum)]
        kind: Option<Word>,
    },
    /// Ask for a new setup and write it
    New {
        /// The file to write; one named after the job, among your own profiles, when left out
        file: Option<PathBuf>,
        /// Replace a file that is there
        #[arg(long)]
        force: bool,
    },
}

/// Kinds, as typed.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum Word {
    Setup,
    Engine,
    Carburetor,
    Fuel,
    Logger,
    Rules,
}

impl From<Word> for Kind {
    fn from(word: Word) -> Kind {
        match word {
            Word::Setup => Kind::Setup,
            Word::Engine => Kind::Engine,
            Word::Carburetor => Kind::Carburetor,
            Word::Fuel => Kind::Fuel,
            Word::Logger => Kind::Logger,
            Word::Rules => Kind::Rules,
        }
    }
}

/// Runs `profile`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    match &args.what {
        What::List { kind } => list(kind.map(Kind::from), console),
        What::Show { name, kind } => show(name, kind.map(Kind::from), console),
        What::Check { files, kind } => check(files, kind.map(Kind::from), console),
        What::New { file, force } => new::run(file.as_deref(), *force, console),
    }
}

fn list(kind: Option<Kind>, console: &mut Console) -> Result<Exit, Fault> {
    let all = profile::list(console.profiles.as_deref());
    let all: Vec<_> = all.into_iter().filter(|l| kind.is_none_or(|k| k == l.kind)).collect();
    if console.json {
        let rows: Vec<Value> = all
            .iter()
            .map(|l| json!({"kind": l.kind.word(), "name": l.name, "origin": origin(&l.origin), "hidden": l.hidden}))
            .collect();
        console.answer_json(&json!({ "profiles": rows, "user_folder": profile::user_folder() }))?;
        return Ok(Exit::Done);
    }
    let widest = all.iter().map(|l| l.name.chars().count()).max().unwrap_or(0);
    for kind in Kind::ALL {
        let rows: Vec<_> = all.iter().filter(|l| l.kind == kind).collect();
        if rows.is_empty() {
            continue;
        }
        console.say(kind.folder())?;
        for row in rows {
            let note = if row.hidden { " (hidden by the one above)" } else { "" };
            console.say(&format!("  {:widest$}  {}{note}", row.name, row.origin))?;
        }
    }
    if let Some(folder) = profile::user_folder() {
        console.say("")?;
        console.say(&format!("Your own go into {}, in a folder for each kind.", folder.display()))?;
    }
    Ok(Exit::Done)
}

fn origin(origin: &Origin) -> Value {
    match origin {
        Origin::BuiltIn => json!({"from": "built-in"}),
        Origin::Inline => json!({"from": "inline"}),
        Origin::Given(path) => json!({"from": "given", "path": path}),
        Origin::User(path) => json!({"from": "user", "path": path}),
        Origin::File(path) => json!({"from": "file", "path": path}),
    }
}

fn show(name: &str, kind: Option<Kind>, console: &mut Console) -> Result<Exit, Fault> {
    let folder = console.profiles.clone();
    let shown = profile::show(name, kind, folder.as_deref()).map_err(super::load_fault)?;
    if !console.json {
        console.raw(safe_text(&shown.text).as_bytes())?;
        return Ok(Exit::Done);
    }
    let mut answer = json!({
        "kind": shown.kind.word(), "name": shown.name, "origin": origin(&shown.origin), "content": shown.content,
    });
    if shown.kind == Kind::Setup {
        let loaded = profile::load_setup(name, folder.as_deref()).map_err(super::load_fault)?;
        let from: Vec<Value> = loaded
            .from
            .iter()
            .map(|c| json!({"kind": c.kind.word(), "name": c.name, "origin": origin(&c.origin), "overridden": c.overridden}))
            .collect();
        answer["setup"] = serde_json::to_value(&loaded.setup).map_err(std::io::Error::from)?;
        answer["profiles"] = from.into();
        answer["warnings"] = loaded.warnings.into();
    }
    console.answer_json(&answer)?;
    Ok(Exit::Done)
}

fn check(files: &[String], kind: Option<Kind>, console: &mut Console) -> Result<Exit, Fault> {
    let folder = console.profiles.clone();
    let (mut rows, mut faults, mut unread) = (Vec::new(), 0usize, None);
    for file in files {
        match profile::check(file, kind, folder.as_deref()) {
            Ok(checked) => {
                if !console.json {
                    console.say(&format!("{}: nothing wrong ({})", checked.file, checked.kind.word()))?;
                    for warning in &checked.warnings {
                        console.say(&format!("  note: {warning}"))?;
                    }
                }
                rows.push(json!({
                    "file": checked.file, "kind": checked.kind.word(), "good": true, "faults": [],
                    "warnings": checked.warnings,
                }));
            }
            Err(LoadError::Faulty(found)) => {
                faults += found.len();
                for fault in found
                    .iter()
                    .filter(|_| !console.json)
                    .take(50)
                    .map(ToString::to_string)
                    .collect::<Vec<_>>()
                {
                    console.complain(&fault);
                    console.complain("");
                }
                let told: Vec<Value> = found
                    .iter()
                    .map(|f| {
                        json!({"file": f.file, "line": f.line, "column": f.column, "key": f.key, "what": f.what, "hint": f.hint})
                    })
                    .collect();
                rows.push(
                    json!({"file": profile::safe(file, 300), "good": false, "faults": told, "warnings": []}),
                );
            }
            Err(other) => {
                let fault = super::load_fault(other);
                rows.push(
                    json!({"file": profile::safe(file, 300), "good": false, "error": fault.to_string()}),
                );
                if let Some(earlier) = unread.replace(fault) {
                    console.complain(&Fault::to_string(&earlier));
                }
            }
        }
    }
    if console.json {
        console.answer_json(&json!({ "files": rows }))?;
    }
    match (unread, faults) {
        (Some(fault), _) => Err(fault),
        (None, 0) => Ok(Exit::Done),
        (None, 1) => Err(Fault::input("1 fault in all")),
        (None, n) => Err(Fault::input(format!("{n} faults in all"))),
    }
}
