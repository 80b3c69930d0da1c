//! Files of every released format must read for ever, with the same outcome and the same words.
//!
//! The files are frozen under `tests/sessions`; `fixtures_are_made_here` (ignored) shows how they were made and
//! makes only those that are missing.

#![expect(clippy::unwrap_used, reason = "a test helper that fails should fail the test")]

use leanbest::session::clock::{Clock, StepClock};
use leanbest::session::disk::{Disk, LockedFile};
use leanbest::session::{self, Journal, SessionError};
use serde_json::json;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

fn golden(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/sessions").join(name)
}

/// What reading a file must come to: records and notes, or the refusal.
fn outcome(name: &str) -> Result<(usize, Vec<String>), String> {
    match session::read(&golden(name)) {
        Ok(read) => Ok((read.records.len(), read.notes)),
        Err(error) => Err(error.to_string().replace(&golden("").display().to_string(), "")),
    }
}

fn reads(name: &str, records: usize, notes: &[&str]) {
    let notes = notes.iter().map(|&note| note.to_owned()).collect();
    assert_eq!(outcome(name), Ok((records, notes)), "{name}");
}

fn refuses(name: &str, words: &str) {
    assert_eq!(outcome(name), Err(words.to_owned()), "{name}");
}

#[test]
fn whole_files_read() {
    reads("v1-whole.tune.jsonl", 5, &[]);
    reads("v1-crlf.tune.jsonl", 5, &[]);
    reads("v1-byte-order-mark.tune.jsonl", 5, &[]);
    reads("v1-continued.2.tune.jsonl", 8, &[]);
    reads("v1-trials.tune.jsonl", 10, &[]);
}

#[test]
fn torn_files_read_and_say_so() {
    let torn = "line 6: the last 57 bytes were being written when the session ended and are dropped; nothing saved \
                is missing";
    reads("v1-torn.tune.jsonl", 5, &[torn]);
    reads("v1-torn-zeros.tune.jsonl", 5, &[torn]);
    reads("v1-no-last-line-end.tune.jsonl", 5, &[]);
    reads(
        "v1-resumed-after-torn.tune.jsonl",
        7,
        &["line 6: 57 bytes of an unfinished line, set aside by an earlier resume"],
    );
    reads(
        "v1-last-line-changed.tune.jsonl",
        4,
        &[
            "line 5: the last line is dropped, its check does not fit: it was being written when the session ended, or was \
           changed afterwards",
        ],
    );
    reads(
        "v1-clock-set-back.tune.jsonl",
        3,
        &["before record 2 the clock was set back by 3540 s; order is by record number"],
    );
}

#[test]
fn damaged_files_are_refused_with_the_line() {
    refuses(
        "v1-edited.tune.jsonl",
        "v1-edited.tune.jsonl:3: its check does not fit its text: it was damaged or changed; 2 later records are readable by \
         themselves; a saved record is gone: unless someone edited the file, stop using this disk",
    );
    refuses(
        "v1-resealed.tune.jsonl",
        "v1-resealed.tune.jsonl:4: the history before record 3 was changed; 2 later records are readable by themselves",
    );
    refuses(
        "v1-line-missing.tune.jsonl",
        "v1-line-missing.tune.jsonl:3: record 3 stands where record 2 should; 2 later records are readable by themselves; a saved \
         record is gone: unless someone edited the file, stop using this disk",
    );
    refuses(
        "v1-line-twice.tune.jsonl",
        "v1-line-twice.tune.jsonl:4: record 2 stands where record 3 should; 2 later records are readable by themselves",
    );
    refuses(
        "v1-foreign-line.tune.jsonl",
        "v1-foreign-line.tune.jsonl:4: it belongs to another session; 2 later records are readable by themselves",
    );
    refuses(
        "v1-opening-changed.tune.jsonl",
        "v1-opening-changed.tune.jsonl:1: its check does not fit its text: it was damaged or changed; 4 later records are readable by themselves; a saved record is gone: unless someone edited the file, stop using this disk",
    );
}

#[test]
fn damage_leaves_what_is_before_it_readable() {
    let path = golden("v1-edited.tune.jsonl");
    let read = session::read_until(&path, 1).unwrap();
    assert_eq!(read.records.len(), 2);
    assert_eq!(
        read.notes,
        ["line 3 and what follows is not used: its check does not fit its text: it was damaged or changed"]
    );
    let error = session::read_until(&path, 2).unwrap_err();
    assert!(error.hint().contains("--until 1"), "{}", error.hint());
}

#[test]
fn what_is_not_ours_or_newer_is_refused_and_left_alone() {
    refuses(
        "v2-newer.tune.jsonl",
        "v2-newer.tune.jsonl: written by version 9.0.0 in format 2; this program knows format 1",
    );
    refuses(
        "v1-needs-more.tune.jsonl",
        "v1-needs-more.tune.jsonl: written by version 9.0.0 in format 1, needing encryption; this program knows format 1",
    );
    refuses("foreign.tune.jsonl", "foreign.tune.jsonl: not a session file");
    let folder = tempfile::tempdir().unwrap();
    for name in [
        "v2-newer.tune.jsonl",
        "v1-needs-more.tune.jsonl",
        "foreign.tune.jsonl",
        "v1-edited.tune.jsonl",
        "v1-opening-changed.tune.jsonl",
    ] {
        let copy = folder.path().join(name);
        fs::copy(golden(name), &copy).unwrap();
        let before = fs::read(&copy).unwrap();
        assert!(Journal::resume(&copy).is_err(), "{name} was resumed");
        assert!(Journal::create(&copy, json!({})).is_err(), "{name} was begun anew");
        assert_eq!(fs::read(&copy).unwrap(), before, "{name} was touched");
    }
}

#[test]
fn old_files_can_be_gone_on_with() {
    let folder = tempfile::tempdir().unwrap();
    for name in [
        "v1-whole",
        "v1-crlf",
        "v1-torn",
        "v1-torn-zeros",
        "v1-no-last-line-end",
        "v1-resumed-after-torn",
        "v1-byte-order-mark",
    ] {
        let name = format!("{name}.tune.jsonl");
        let copy = folder.path().join(&name);
        fs::copy(golden(&name), &copy).unwrap();
        let had = session::read(&copy).unwrap().records.len();
        let (mut journal, _) = Journal::resume(&copy).unwrap();
        assert!(journal.append("note", &json!({"text": "gone on"})).unwrap().notices.is_empty());
        drop(journal);
        assert_eq!(session::read(&copy).unwrap().records.len(), had + 2, "{name}");
    }
}

#[test]
fn every_file_of_the_folder_is_read_by_a_test() {
    let text = include_str!("journal_golden.rs");
    for entry in fs::read_dir(golden("")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        if name.ends_with(".tune.jsonl") {
            assert!(
                text.contains(&format!("s(\"{name}\"")) || text.contains(&format!("        \"{name}\",")),
                "{name}"
            );
        }
    }
}

fn stepping() -> Box<dyn Clock> {
    Box::new(StepClock::new("2026-05-03T10:00:00Z".parse().unwrap(), Duration::from_millis(500)))
}

fn begun(path: &Path, tag: &str) -> Journal {
    let Ok(disk) = LockedFile::create(path) else { panic!("{} is there", path.display()) };
    let disk: Box<dyn Disk> = Box::new(disk);
    Journal::create_on(disk, stepping(), path, tag, &json!({"engine": "oyster skiff, inline six"})).unwrap()
}

#[test]
#[ignore = "makes the frozen files that are missing"]
fn fixtures_are_made_here() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("v1-whole.tune.jsonl");
    let mut journal = begun(&path, "k7q2m");
    let readings = [
        ("reading", json!({"vacuum_inhg": 14.5, "speed_rpm": 760})),
        ("turn", json!({"screws": [1], "by_turns": -0.125})),
        ("reading", json!({"vacuum_inhg": 14.8, "speed_rpm": 771})),
        ("note", json!({"text": "glove on the hose: \u{201c}hisses\u{201d} \u{2013} look again"})),
    ];
    for (kind, payload) in readings {
        let _ = journal.append(kind, &payload).unwrap();
    }
    drop(journal);
    let whole = fs::read(&path).unwrap();
    let keep = |name: &str, bytes: &[u8]| {
        let to = golden(name);
        if !to.exists() {
            fs::write(to, bytes).unwrap();
        }
    };
    let text = String::from_utf8(whole.clone()).unwrap();
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let half = &lines[4].as_bytes()[..57];
    keep("v1-whole.tune.jsonl", &whole);
    keep("v1-crlf.tune.jsonl", text.replace('\n', "\r\n").as_bytes());
    keep("v1-byte-order-mark.tune.jsonl", format!("\u{feff}{text}").as_bytes());
    keep("v1-torn.tune.jsonl", &[&whole, half].concat());
    keep("v1-torn-zeros.tune.jsonl", &[&whole[..], &[0; 57]].concat());
    keep("v1-no-last-line-end.tune.jsonl", text.trim_end().as_bytes());
    let last_changed = format!("{}{}", lines[..4].concat(), lines[4].replace("hisses", "whistl"));
    keep("v1-last-line-changed.tune.jsonl", last_changed.as_bytes());
    keep("v1-edited.tune.jsonl", text.replace("-0.125", "-0.250").as_bytes());
    keep("v1-opening-changed.tune.jsonl", text.replace("oyster", "mussel").as_bytes());
    keep("v1-line-missing.tune.jsonl", text.replace(lines[2], "").as_bytes());
    keep("v1-line-twice.tune.jsonl", text.replace(lines[2], &lines[2].repeat(2)).as_bytes());
    let record = |n: u64, tag: &str, previous: &str, kind: &str, at: &str, payload: &str| {
        let envelope = session::record::Envelope {
            n,
            tag,
            run: 1,
            at: at.parse().unwrap(),
            up: Duration::from_millis(1_000 * n),
            durable: n,
            kind,
            previous,
        };
        String::from_utf8(session::record::seal(&envelope, payload.as_bytes())).unwrap()
    };
    let read = session::read(&path).unwrap().records;
    let noon = "2026-05-03T12:00:00Z";
    let resealed = record(2, "k7q2m", &read[1].check, "turn", noon, r#"{"screws":[1],"by_turns":-0.25}"#);
    keep("v1-resealed.tune.jsonl", text.replace(lines[2], &resealed).as_bytes());
    let foreign = record(3, "w3f9p", &read[2].check, "note", noon, "{}");
    keep(
        "v1-foreign-line.tune.jsonl",
        [&lines[..3].concat(), &foreign[..], &lines[3..].concat()].concat().as_bytes(),
    );
    let newer = |format: u64, need: &str| {
        let payload = format!(
            r#"{{"program":"leanbest","version":"9.0.0","format":{format},"need":[{need}],"opening":{{}}}}"#
        );
        record(0, "k7q2m", "", "open", noon, &payload)
    };
    keep("v2-newer.tune.jsonl", newer(2, "").as_bytes());
    keep("v1-needs-more.tune.jsonl", newer(1, "\"encryption\"").as_bytes());
    keep("foreign.tune.jsonl", b"{\"time\":1,\"vacuum\":14.5}\n{\"time\":2,\"vacuum\":14.6}\n");
    let one = record(1, "k7q2m", &read[0].check, "reading", "2026-05-03T10:00:01Z", "{}");
    let check = &one[one.len() - 19..one.len() - 3];
    let two = record(2, "k7q2m", check, "reading", "2026-05-03T09:01:02Z", "{}");
    keep("v1-clock-set-back.tune.jsonl", format!("{}{one}{two}", lines[0]).as_bytes());
    let torn = folder.path().join("v1-torn.tune.jsonl");
    fs::write(&torn, [&whole, half].concat()).unwrap();
    let disk: Box<dyn Disk> = Box::new(LockedFile::open(&torn).map_err(|_| ()).unwrap());
    let (mut journal, _) = Journal::resume_on(disk, stepping(), &torn).unwrap();
    let _ = journal.append("note", &json!({"text": "gone on"})).unwrap();
    drop(journal);
    keep("v1-resumed-after-torn.tune.jsonl", &fs::read(&torn).unwrap());
    let old = folder.path().join("v1-continued.tune.jsonl");
    fs::write(&old, &whole).unwrap();
    let disk: Box<dyn Disk> = Box::new(LockedFile::open(&old).map_err(|_| ()).unwrap());
    let (mut journal, _) = Journal::resume_on(disk, stepping(), &old).unwrap();
    fs::remove_file(&old).unwrap();
    assert_eq!(journal.append("note", &json!({})).unwrap().notices.len(), 1);
    let on = journal.path().to_owned();
    drop(journal);
    keep("v1-continued.2.tune.jsonl", &fs::read(on).unwrap());
}

#[test]
fn a_missing_file_is_said_to_be_missing() {
    let error = session::read(&golden("no-such.tune.jsonl")).unwrap_err();
    assert!(matches!(error, SessionError::Io { .. }) && !error.is_io(), "exit code 2: {error}");
    assert!(
        error.to_string().ends_with("could not be read: No such file or directory (os error 2)"),
        "{error}"
    );
}
