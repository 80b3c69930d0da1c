//! The session file from the outside: begun, resumed, torn, damaged, locked, moved.

#![expect(clippy::unwrap_used, reason = "a test helper that fails should fail the test")]

use leanbest::session::{self, Journal, SessionError};
use serde_json::json;
use std::fs;
use std::io::Write;
use std::path::PathBuf;

struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    fn new() -> Self {
        Bench { folder: tempfile::tempdir().unwrap() }
    }

    fn file(&self) -> PathBuf {
        self.folder.path().join("skiff.tune.jsonl")
    }

    /// A session of an opening and `readings` readings, closed.
    fn session(&self, readings: u64) -> PathBuf {
        let mut journal = Journal::create(&self.file(), json!({"engine": "inline six"})).unwrap();
        for reading in 0..readings {
            let saved = journal.append("reading", &json!({"vacuum_inhg": 14.5, "reading": reading})).unwrap();
            assert_eq!(saved.n, reading + 1);
            assert!(saved.notices.is_empty(), "{:?}", saved.notices);
        }
        self.file()
    }
}

#[test]
fn a_session_reads_back_as_it_was_written() {
    let bench = Bench::new();
    let path = bench.session(3);
    let read = session::read(&path).unwrap();
    assert_eq!(read.records.len(), 4);
    assert_eq!(read.records[0].payload, json!({"engine": "inline six"}));
    assert_eq!(read.records[3].payload, json!({"vacuum_inhg": 14.5, "reading": 2}));
    assert_eq!(read.records[3].line, 4);
    assert!(read.torn.is_none() && read.notes.is_empty(), "{read:?}");
}

#[test]
fn resuming_keeps_what_was_there_and_begins_a_new_run() {
    let bench = Bench::new();
    let path = bench.session(2);
    let (mut journal, recovered) = Journal::resume(&path).unwrap();
    assert_eq!(
        recovered.records.iter().map(|r| r.kind.as_str()).collect::<Vec<_>>(),
        ["open", "reading", "reading", "resume"]
    );
    assert_eq!(recovered.records[3].run, 2);
    let saved = journal.append("note", &json!({"text": "warm"})).unwrap();
    assert_eq!(saved.n, 4);
    drop(journal);
    assert_eq!(session::read(&path).unwrap().records.len(), 5);
}

#[test]
fn a_torn_tail_is_dropped_said_and_walled_off() {
    let bench = Bench::new();
    let path = bench.session(2);
    fs::OpenOptions::new().append(true).open(&path).unwrap().write_all(b"{\"n\":3,\"sess").unwrap();
    let (mut journal, recovered) = Journal::resume(&path).unwrap();
    let torn = recovered.torn.unwrap();
    assert_eq!((torn.line, torn.length), (4, 12));
    assert_eq!(
        recovered.notes,
        [
            "line 4: the last 12 bytes were being written when the session ended and are dropped; nothing saved is missing"
        ]
    );
    let _ = journal.append("note", &json!({})).unwrap();
    drop(journal);
    let read = session::read(&path).unwrap();
    assert_eq!(read.records.len(), 5);
    assert_eq!(read.notes, ["line 4: 12 bytes of an unfinished line, set aside by an earlier resume"]);
}

#[test]
fn a_second_writer_is_told_who_records() {
    let bench = Bench::new();
    let path = bench.session(1);
    let (journal, _) = Journal::resume(&path).unwrap();
    let error = Journal::resume(&path).unwrap_err();
    assert!(matches!(error, SessionError::Locked { .. }));
    let text = error.to_string();
    assert!(text.contains(&format!("process {}", std::process::id())), "{text}");
    assert!(session::read(&path).is_ok(), "readers take no lock");
    assert_eq!(journal.records(), 3, "an opening, a reading, a resume");
}

#[test]
fn a_writer_that_is_just_ending_is_waited_for() {
    let bench = Bench::new();
    let path = bench.session(1);
    let ending = fs::File::open(&path).unwrap();
    ending.try_lock().unwrap();
    let ends = std::thread::spawn(move || {
        std::thread::sleep(std::time::Duration::from_millis(60));
        drop(ending);
    });
    assert!(Journal::resume(&path).is_ok());
    ends.join().unwrap();
}

#[test]
fn what_the_format_cannot_hold_is_refused_and_the_session_goes_on() {
    let bench = Bench::new();
    let mut journal = Journal::create(&bench.file(), json!({})).unwrap();
    let before = fs::read(bench.file()).unwrap();
    let room = leanbest::session::record::WRITE_LIMIT;
    let deep = (0..130).fold(json!(1), |inner, _| json!([inner]));
    for (kind, payload) in
        [("note", json!({"text": "x".repeat(room)})), ("No Te", json!({})), ("", json!({})), ("note", deep)]
    {
        let error = journal.append(kind, &payload).unwrap_err();
        assert!(matches!(error, SessionError::Unwritable { .. }) && error.not_saved(), "{error}");
    }
    assert_eq!(fs::read(bench.file()).unwrap(), before, "nothing of it was written");
    assert_eq!(journal.append("note", &json!({})).unwrap().n, 1);
}

#[test]
fn the_longest_line_that_may_be_written_is() {
    let bench = Bench::new();
    let mut journal = Journal::create(&bench.file(), json!({})).unwrap();
    let length = |path: &std::path::Path| fs::read_to_string(path).unwrap().lines().last().unwrap().len() + 1;
    let _ = journal.append("note", &json!("")).unwrap();
    let room = leanbest::session::record::WRITE_LIMIT - length(&bench.file());
    let mut longest = 0;
    // The monotonic clock's digits may grow between two records, so the border is met within a few bytes.
    for less in (0..4).rev() {
        if journal.append("note", &json!("x".repeat(room - less))).is_ok() {
            longest = longest.max(length(&bench.file()));
        }
    }
    assert!(longest > leanbest::session::record::WRITE_LIMIT - 4, "{longest}");
    assert!(journal.append("note", &json!("x".repeat(room + 1))).is_err());
}

#[test]
fn a_file_deleted_while_recording_is_whole_again_elsewhere() {
    let bench = Bench::new();
    let path = bench.session(2);
    let (mut journal, _) = Journal::resume(&path).unwrap();
    fs::remove_file(&path).unwrap();
    let saved = journal.append("note", &json!({"text": "still here"})).unwrap();
    let on = bench.folder.path().join("skiff.2.tune.jsonl");
    assert_eq!(
        saved.notices,
        [format!(
            "{} can no longer be trusted: it was deleted while recording. The session goes on in {}, which holds all of it",
            path.display(),
            on.display()
        )]
    );
    assert_eq!(journal.path(), on);
    assert!(journal.append("note", &json!({})).unwrap().notices.is_empty());
    drop(journal);
    let kinds: Vec<String> =
        session::read(&on).unwrap().records.into_iter().map(|record| record.kind).collect();
    assert_eq!(kinds, ["open", "reading", "reading", "resume", "note", "continue", "note"]);
}

#[test]
fn a_session_that_went_on_elsewhere_is_taken_up_there() {
    let bench = Bench::new();
    let path = bench.session(2);
    let copy = fs::read(&path).unwrap();
    let (mut journal, _) = Journal::resume(&path).unwrap();
    fs::remove_file(&path).unwrap();
    let _ = journal.append("note", &json!({})).unwrap();
    drop(journal);
    fs::write(&path, copy).unwrap();
    let error = Journal::resume(&path).unwrap_err();
    assert!(
        matches!(&error, SessionError::WentOn { on, .. } if on.ends_with("skiff.2.tune.jsonl")),
        "{error}"
    );
    assert!(Journal::resume(&bench.folder.path().join("skiff.2.tune.jsonl")).is_ok());
    // Another session of a like name is none of its business.
    let other = bench.folder.path().join("dory.tune.jsonl");
    drop(Journal::create(&other, json!({})).unwrap());
    fs::copy(bench.folder.path().join("skiff.2.tune.jsonl"), bench.folder.path().join("dory.2.tune.jsonl"))
        .unwrap();
    assert!(Journal::resume(&other).is_ok());
}

#[test]
fn a_moved_file_is_written_where_it_went_and_that_is_said_once() {
    let bench = Bench::new();
    let path = bench.session(1);
    let (mut journal, _) = Journal::resume(&path).unwrap();
    let away = bench.folder.path().join("away.tune.jsonl");
    fs::rename(&path, &away).unwrap();
    assert_eq!(journal.append("note", &json!({})).unwrap().notices.len(), 1);
    assert!(journal.append("note", &json!({})).unwrap().notices.is_empty());
    drop(journal);
    assert_eq!(session::read(&away).unwrap().records.len(), 5);
}

#[test]
fn only_an_empty_or_never_begun_file_becomes_a_new_session() {
    let bench = Bench::new();
    let path = bench.session(1);
    assert!(matches!(Journal::create(&path, json!({})), Err(SessionError::AlreadyBegun { .. })));
    for (name, bytes) in [("empty", &b""[..]), ("half", b"{\"n\":0,\"session\":\"k7q"), ("zeros", &[0; 300])]
    {
        let file = bench.folder.path().join(format!("{name}.tune.jsonl"));
        fs::write(&file, bytes).unwrap();
        assert!(matches!(Journal::resume(&file), Err(SessionError::NotBegun { .. })), "{name}");
        let mut journal = Journal::create(&file, json!({"name": name})).unwrap();
        let _ = journal.append("note", &json!({})).unwrap();
        drop(journal);
        assert!(fs::read(&file).unwrap().starts_with(bytes), "{name}: what was there stays");
        assert_eq!(session::read(&file).unwrap().records.len(), 2, "{name}");
    }
    assert!(matches!(Journal::create(bench.folder.path(), json!({})), Err(SessionError::NotAFile { .. })));
    assert!(matches!(Journal::resume(std::path::Path::new("/dev/full")), Err(SessionError::NotAFile { .. })));
}

#[test]
fn every_refusal_says_what_to_do() {
    let bench = Bench::new();
    let path = bench.session(1);
    let (_held, _) = Journal::resume(&path).unwrap();
    let locked = Journal::resume(&path).unwrap_err();
    assert!(locked.is_io() && locked.hint().contains("leanbest replay"), "{}", locked.hint());
    let begun = Journal::create(&path, json!({})).unwrap_err();
    assert!(matches!(begun, SessionError::Locked { .. }), "{begun}");
    let missing = Journal::resume(&bench.folder.path().join("none.tune.jsonl")).unwrap_err();
    assert!(!missing.is_io() && missing.to_string().contains("none.tune.jsonl"), "{missing}");
}

#[test]
fn a_folder_of_sessions_is_listed_newest_first_with_the_unreadable_last() {
    let bench = Bench::new();
    let folder = bench.folder.path();
    let golden = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/sessions");
    for name in ["v1-whole", "v1-edited", "foreign"] {
        fs::copy(golden.join(format!("{name}.tune.jsonl")), folder.join(format!("{name}.tune.jsonl")))
            .unwrap();
    }
    bench.session(1);
    fs::write(folder.join("notes.txt"), "no session").unwrap();
    let list = session::library::list(folder).unwrap();
    let names: Vec<_> = list.iter().map(|brief| brief.path.file_name().unwrap().to_str().unwrap()).collect();
    assert_eq!(
        names,
        ["skiff.tune.jsonl", "v1-edited.tune.jsonl", "v1-whole.tune.jsonl", "foreign.tune.jsonl"]
    );
    let edited = list[1].content.as_ref().unwrap();
    assert!(edited.records.len() == 2 && edited.damage.as_ref().unwrap().contains(":3:"), "{edited:?}");
    let whole = list[2].content.as_ref().unwrap();
    assert_eq!((whole.runs, whole.records.len(), whole.damage.as_ref()), (1, 5, None));
    assert!(list[3].content.is_err());
}

#[test]
fn a_file_too_large_to_be_a_session_is_refused_before_it_fills_the_memory() {
    let bench = Bench::new();
    let file = fs::File::create(bench.file()).unwrap();
    file.set_len(257 * 1024 * 1024).unwrap();
    let error = session::read(&bench.file()).unwrap_err();
    assert!(error.to_string().ends_with("it is larger than 256 MiB, which no session is"), "{error}");
}
