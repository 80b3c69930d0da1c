//! `leanbest sheet`: the hand-over sheet.

use super::guide::session_fault;
use crate::cli::{Console, Exit, Fault};
use crate::procedure::{Event, State};
use crate::report::from_session::Tale;
use crate::report::sheet::{self, Form};
use crate::session::story::read_story;
use crate::units::System;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Arguments of `sheet`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Session file
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// File to write, - for standard output; beside the session when left out
    #[arg(short, long, value_name = "OUT.html")]
    output: Option<PathBuf>,
    /// In which form
    #[arg(long = "as", value_enum, value_name = "FORM", default_value_t = As::Html)]
    form: As,
}

/// Forms, as typed.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum As {
    Html,
    Markdown,
    Text,
}

impl From<As> for Form {
    fn from(form: As) -> Form {
        match form {
            As::Html => Form::Html,
            As::Markdown => Form::Markdown,
            As::Text => Form::Text,
        }
    }
}

/// Runs `sheet`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let form = Form::from(args.form);
    let page = page_of(&args.file, form, console.system)?;
    if args.output.as_deref() == Some(Path::new("-")) {
        console.raw(page.as_bytes())?;
        return Ok(Exit::Done);
    }
    let output = args.output.clone().unwrap_or_else(|| beside(&args.file, form));
    refuse_own_input(&args.file, &output)?;
    write_whole(&output, page.as_bytes())?;
    if console.json {
        console.answer_json(&serde_json::json!({ "sheet": output.display().to_string() }))?;
    } else {
        console.say(&output.display().to_string())?;
    }
    Ok(Exit::Done)
}

/// Writes the sheet of a session as a page beside it, whole or not at all; where it was written.
pub(super) fn write_for(session: &Path, system: System) -> Result<PathBuf, Fault> {
    let page = page_of(session, Form::Html, system)?;
    let output = beside(session, Form::Html);
    write_whole(&output, page.as_bytes())?;
    Ok(output)
}

fn page_of(session: &Path, form: Form, system: System) -> Result<String, Fault> {
    let story = read_story(session, None).map_err(session_fault)?;
    let events: Vec<Event> = story.events().cloned().collect();
    let state = State::replay(story.job.clone(), system, &events).map_err(|e| Fault::input(e.to_string()))?;
    let day = |at: jiff::Timestamp| at.strftime("%Y-%m-%d").to_string();
    let tale = Tale {
        state: &state,
        events: &events,
        opened: &day(story.opened),
        last: &day(story.told.last().map_or(story.opened, |t| t.at)),
        file: &session.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned()),
        records: story.records,
        head: &story.head,
    };
    Ok(sheet::page(&tale, form))
}

/// The page must never be written over the session it is made from.
fn refuse_own_input(session: &Path, output: &Path) -> Result<(), Fault> {
    let whole = |p: &Path| p.canonicalize().ok();
    if whole(session).is_some_and(|s| whole(output) == Some(s)) {
        return Err(Fault::input("the sheet would be written over the session itself; give another -o"));
    }
    Ok(())
}

/// `NAME.tune.jsonl` gives `NAME.html`.
fn beside(session: &Path, form: Form) -> PathBuf {
    let name = session.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    let stem = name.strip_suffix(".tune.jsonl").unwrap_or(&name);
    session.with_file_name(format!("{stem}.{}", form.ending()))
}

/// A temporary file in the same folder, synced, then renamed over the target: the old page or the new one, never
/// half of one.
pub(in crate::cli) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    let failed = |e: std::io::Error| Fault::io(format!("could not write {}", path.display()), e);
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut temporary = tempfile::NamedTempFile::new_in(folder).map_err(failed)?;
    temporary.write_all(bytes).map_err(failed)?;
    temporary.as_file().sync_all().map_err(failed)?;
    temporary.persist(path).map_err(|e| failed(e.error))?;
    if let Ok(folder) = std::fs::File::open(folder) {
        // Some file systems cannot sync a folder; the page itself is whole either way.
        let _ = folder.sync_all();
    }
    Ok(())
}
