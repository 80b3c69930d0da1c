//! The guided procedure itself, driven over its link, killed and failed: what a question says is saved must be
//! there, and a session taken up again must ask the same question.

use crate::subject::{count, now, program};
use crate::table::Table;
use leanbest::session;
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, ExitStatus, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// What the program had said by the time it ended.
#[derive(Debug, Default)]
struct Talk {
    /// How many records it last said were saved.
    saved: Option<u64>,
    /// Its last question.
    asked: Option<(String, String)>,
    /// How many records that question said were saved: what is told after the answer says more.
    asked_after: Option<u64>,
    /// Where it said it went on.
    moved: Option<PathBuf>,
    questions: u64,
    unsaved: u64,
    finished: bool,
    status: Option<ExitStatus>,
    complaint: String,
}

/// Answers a question in the plainest way; the third time it is asked, says there is no such thing.
fn answer(ask: &Value, again: u32, questions: u64) -> Value {
    if again >= 2 {
        return json!({"skip": "the rig has no such thing"});
    }
    if again == 1 {
        return json!({"cannot": true, "why": "the rig has no such thing"});
    }
    match ask["ask"].as_str() {
        Some("confirm") => json!({"yes": true}),
        Some("choose") => json!({"choice": ask["default"]}),
        Some("value") => json!({"value": ask["default"]}),
        Some("reading") => {
            let vacuum = 14.0 + (questions % 9) as f64 / 10.0;
            json!({"vacuum": format!("{vacuum:.1} inHg"), "speed": "760 rpm"})
        }
        Some("log") => json!({"cannot": true, "why": "no log here"}),
        _ => json!({"done": true}),
    }
}

fn guide(file: &Path) -> Vec<String> {
    let mut words =
        vec![program("leanbest").display().to_string(), "guide".to_owned(), file.display().to_string()];
    // A file in which no session ever began takes a setup; any other has its own.
    if !matches!(session::read(file), Ok(_) | Err(session::SessionError::Damaged { .. })) {
        words.extend(["--setup", "plain"].map(str::to_owned));
    }
    words.extend(["--answers", "-"].map(str::to_owned));
    words
}

/// What is done when a question is not answered any more.
#[derive(Clone, Copy, PartialEq)]
enum Then {
    /// The answers end.
    Close,
    /// Nobody says anything, and it is killed while it waits.
    Kill,
}

/// Talks with the program, answering so many questions at most, until it ends; or kills it when `limit` is over.
fn talk(words: &[String], limit: Duration, most: u64, then: Then) -> Talk {
    let (name, rest) = words.split_first().unwrap();
    let mut child = Command::new(name)
        .args(rest)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let (out, errors) = (child.stdout.take().unwrap(), child.stderr.take().unwrap());
    let mut into = child.stdin.take();
    let complaints = std::thread::spawn(move || std::io::read_to_string(errors).unwrap_or_default());
    let quiet = Arc::new(AtomicBool::new(false));
    let listened = Arc::clone(&quiet);
    let listener = std::thread::spawn(move || {
        let mut talk = Talk::default();
        let mut again = 0;
        let mut lines = BufReader::new(out);
        let mut line = String::new();
        while lines.read_line(&mut line).is_ok_and(|read| read > 0) && line.ends_with('\n') {
            let said: Value = serde_json::from_str(&line).unwrap_or_default();
            line.clear();
            if let Some(saved) = said["saved"].as_u64() {
                talk.saved = Some(saved);
            }
            if let Some(text) = said["tell"].as_str() {
                talk.hear(text);
            }
            talk.finished |= said.get("result").is_some();
            let Some(kind) = said["ask"].as_str() else { continue };
            let asked = Some((kind.to_owned(), said["name"].as_str().unwrap_or_default().to_owned()));
            again = if talk.asked == asked && kind != "reading" && kind != "turn" { again + 1 } else { 0 };
            talk.asked = asked;
            talk.asked_after = said["saved"].as_u64();
            talk.questions += 1;
            if talk.questions > most {
                if then == Then::Close {
                    into = None;
                }
                listened.store(true, Ordering::SeqCst);
                continue;
            }
            if let Some(into) = into.as_mut() {
                // A program that was killed hears nothing more.
                let _ = writeln!(into, "{}", answer(&said, again, talk.questions));
            }
        }
        talk
    });
    let until = now() + limit;
    let status = loop {
        match child.try_wait().unwrap() {
            Some(status) => break Some(status),
            None if now() > until || then == Then::Kill && quiet.load(Ordering::SeqCst) => {
                child.kill().unwrap();
                child.wait().unwrap();
                break None;
            }
            None => std::thread::sleep(Duration::from_millis(1)),
        }
    };
    let mut talk = listener.join().unwrap();
    talk.status = status;
    talk.complaint = complaints.join().unwrap();
    talk
}

impl Talk {
    fn hear(&mut self, text: &str) {
        if let Some((_, rest)) = text.split_once("The session goes on in ") {
            self.moved = rest.split(", which holds").next().map(PathBuf::from);
        }
        self.unsaved += u64::from(text.starts_with("NOT SAVED"));
    }
}

/// Holds the file against what was said to be saved; gives how many records it holds.
fn judge(table: &mut Table, talk: &Talk, file: &Path, how: &str) -> u64 {
    let file = talk.moved.as_deref().unwrap_or(file);
    table.zero("guide: panics", u64::from(talk.complaint.contains("panicked")));
    table.hold(!talk.complaint.contains("panicked"), &format!("{how}: {}", talk.complaint));
    let Some(saved) = talk.saved else { return 0 };
    match session::read(file) {
        Ok(read) => {
            let found = read.records.len() as u64;
            table.zero("guide: acknowledged records lost", u64::from(found < saved));
            table.hold(found >= saved, &format!("{how}: {saved} said to be saved, {found} found"));
            found
        }
        Err(error) => {
            table.zero("guide: acknowledged records lost", 1);
            table.failed(&format!("{how}: {error}"));
            0
        }
    }
}

pub(crate) fn run(table: &mut Table) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("skiff.tune.jsonl");
    let whole = talk(&guide(&file), Duration::from_mins(1), 400, Then::Close);
    judge(table, &whole, &file, "undisturbed");
    table.count("guide: questions of an undisturbed session", whole.questions);
    table.hold(
        whole.questions > 8,
        &format!("the undisturbed session asked {} questions: {}", whole.questions, whole.complaint),
    );
    kills(table);
    calls(table);
}

fn kills(table: &mut Table) {
    let mut folder = tempfile::tempdir().unwrap();
    let mut seed = count("LEANBEST_SEED", 1);
    for kill in 0..count("LEANBEST_GUIDE_KILLS", 200) {
        // A few kills to a session, and then a new one: most of them are to meet it before its end.
        if kill % 4 == 0 {
            folder = tempfile::tempdir().unwrap();
        }
        let file = folder.path().join("skiff.tune.jsonl");
        seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        let pause = Duration::from_micros(2_000 + (seed >> 33) % 60_000);
        // Every other time it is killed while it waits for an answer, as a person beside an engine takes their time.
        let talked = if kill % 2 == 0 {
            talk(&guide(&file), pause, u64::MAX, Then::Close)
        } else {
            talk(&guide(&file), Duration::from_secs(20), seed >> 40 & 15, Then::Kill)
        };
        let how = format!("guide killed after {pause:?}");
        let found = judge(table, &talked, &file, &how);
        table.count("guide: kill -9 at random times", 1);
        // Nothing was recorded after its last question: taken up again, that is the question.
        if talked.asked_after == Some(found) && !talked.finished {
            let again = talk(&guide(&file), Duration::from_secs(20), 0, Then::Close);
            let same = again.asked == talked.asked;
            table.hold(same, &format!("{how}: {:?} was asked, then {:?}", talked.asked, again.asked));
            table.count("guide: taken up on the same question", u64::from(same));
        }
    }
}

/// Every write and sync of the session killed and failed.
fn calls(table: &mut Table) {
    if !Command::new("strace").arg("-V").output().is_ok_and(|output| output.status.success()) {
        table.skipped("guide: kills and errors at system calls: strace is not installed");
        return;
    }
    let most = count("LEANBEST_GUIDE_CALLS", 40);
    for calls in ["write", "fdatasync"] {
        for injection in ["signal=SIGKILL", "error=EIO", "error=ENOSPC"] {
            for when in 1..=most {
                let folder = tempfile::tempdir().unwrap();
                let file = folder.path().join("skiff.tune.jsonl");
                let mut words: Vec<String> =
                    ["strace", "-f", "-qq", "-o", "/dev/null"].map(str::to_owned).to_vec();
                words.extend(["-e".to_owned(), format!("trace={calls}")]);
                words.extend(["-e".to_owned(), format!("inject={calls}:{injection}:when={when}")]);
                words.extend(guide(&file));
                let talked = talk(&words, Duration::from_secs(20), most + 5, Then::Close);
                let how = format!("guide, {injection} at {calls} number {when}");
                judge(table, &talked, &file, &how);
                table.zero("guide: hangs", u64::from(talked.status.is_none()));
                table.hold(talked.status.is_some(), &format!("{how}: hung"));
                table.count("guide: kills and errors at system calls", 1);
                table.count("guide: sessions moved to another file", u64::from(talked.moved.is_some()));
                table.count("guide: records said not to be saved", talked.unsaved);
            }
        }
    }
}
