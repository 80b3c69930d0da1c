//! What it cannot use: said what, where and what to do, with the exit codes of the contract, and nothing lost.

use super::rig::{Link, folder, program};
use serde_json::json;
use std::fs;
use std::path::Path;

struct Said {
    code: Option<i32>,
    err: String,
}

fn run(folder: &Path, arguments: &[&str]) -> Said {
    let out = program(folder).args(arguments).stdin(std::process::Stdio::null()).output().expect("it runs");
    Said { code: out.status.code(), err: String::from_utf8_lossy(&out.stderr).into_owned() }
}

#[test]
fn a_setup_nobody_knows() {
    let folder = folder();
    let said = run(folder.path(), &["guide", "a.tune.jsonl", "--setup", "petrol", "--answers", "-"]);
    assert_eq!(said.code, Some(2));
    assert!(said.err.contains("petrol") && said.err.contains("petrel"), "{}", said.err);
    assert!(!folder.path().join("a.tune.jsonl").exists(), "no session is begun");
}

#[test]
fn a_profile_with_a_typo_and_a_wrong_unit_both_located() {
    let folder = folder();
    fs::write(folder.path().join("mine.toml"), "name = \"mine\"\nuse = \"marine\"\nengine = \"workboat-six\"\ncarburetor = \"two-barrel-280\"\nfuel = \"e10\"\nloger = \"x\"\n[air]\npressure = \"30 rpm\"\n").unwrap();
    let said = run(folder.path(), &["guide", "a.tune.jsonl", "--setup", "./mine.toml", "--answers", "-"]);
    assert_eq!(said.code, Some(2), "{}", said.err);
    assert!(said.err.contains("mine.toml:6:1") && said.err.contains("loger"), "{}", said.err);
    assert!(said.err.contains("mine.toml:8:") && said.err.contains("inHg"), "{}", said.err);
}

#[test]
fn a_file_that_is_not_ours_is_left_alone() {
    let folder = folder();
    let path = folder.path().join("letter.tune.jsonl");
    fs::write(&path, "Dear sir,\n").unwrap();
    let said = run(folder.path(), &["guide", "letter.tune.jsonl", "--answers", "-"]);
    assert_eq!(said.code, Some(2), "{}", said.err);
    assert!(said.err.contains("not a session file"), "{}", said.err);
    assert_eq!(fs::read_to_string(&path).unwrap(), "Dear sir,\n");
}

#[test]
fn a_session_from_a_newer_format() {
    let folder = folder();
    let newer = include_str!("../sessions/v2-newer.tune.jsonl");
    fs::write(folder.path().join("n.tune.jsonl"), newer).unwrap();
    for command in [
        &["guide", "n.tune.jsonl", "--answers", "-"][..],
        &["replay", "n.tune.jsonl"],
        &["sheet", "n.tune.jsonl"],
    ] {
        let said = run(folder.path(), command);
        assert_eq!(said.code, Some(2), "{command:?}: {}", said.err);
        assert!(said.err.contains("or later"), "{command:?} says what to do: {}", said.err);
    }
    assert_eq!(fs::read_to_string(folder.path().join("n.tune.jsonl")).unwrap(), newer);
}

#[test]
fn a_second_writer() {
    let folder = folder();
    let mut first =
        Link::start(folder.path(), &["guide", "a.tune.jsonl", "--setup", "petrel", "--answers", "-"]);
    first.next().expect("asked");
    let said = run(folder.path(), &["guide", "a.tune.jsonl", "--answers", "-"]);
    assert_eq!(said.code, Some(3), "{}", said.err);
    assert!(said.err.contains("being recorded"), "{}", said.err);
    first.answer(&json!({ "yes": true }));
    assert!(first.next().is_some(), "the first goes on undisturbed");
    let read = run(folder.path(), &["replay", "a.tune.jsonl"]);
    assert_eq!(read.code, Some(0), "readers are let in: {}", read.err);
}

#[test]
fn a_folder_that_is_not_there() {
    let folder = folder();
    let said = run(folder.path(), &["guide", "no/such/a.tune.jsonl", "--setup", "petrel", "--answers", "-"]);
    assert!(matches!(said.code, Some(2 | 3)), "{}", said.err);
    assert!(said.err.contains("no/such/a.tune.jsonl"), "{}", said.err);
}

#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_written() {
    use std::os::unix::fs::PermissionsExt;
    let folder = folder();
    let shut = folder.path().join("shut");
    fs::create_dir(&shut).unwrap();
    fs::set_permissions(&shut, fs::Permissions::from_mode(0o555)).unwrap();
    if fs::write(shut.join("probe"), "").is_ok() {
        // root may write anywhere; the kernel's own read-only folder serves then
        let said =
            run(folder.path(), &["guide", "/proc/a.tune.jsonl", "--setup", "petrel", "--answers", "-"]);
        assert!(matches!(said.code, Some(2 | 3)), "{}", said.err);
        return;
    }
    let said = run(folder.path(), &["guide", "shut/a.tune.jsonl", "--setup", "petrel", "--answers", "-"]);
    assert_eq!(said.code, Some(3), "{}", said.err);
}

#[test]
fn a_setup_for_a_session_that_has_one() {
    let folder = folder();
    let mut first =
        Link::start(folder.path(), &["guide", "a.tune.jsonl", "--setup", "petrel", "--answers", "-"]);
    first.next().expect("asked");
    first.code();
    let said = run(folder.path(), &["guide", "a.tune.jsonl", "--setup", "plain", "--answers", "-"]);
    assert_eq!(said.code, Some(2));
    assert!(said.err.contains("--setup"), "{}", said.err);
}

#[test]
fn logs_that_cannot_be_used_are_refused_in_the_guide_and_asked_for_again() {
    let folder = folder();
    for (name, text) in [
        ("empty.csv", ""),
        ("no-time.csv", "rpm,lambda\n800,0.9\n"),
        ("words.csv", "Dear sir, I write to you\nabout a carburetor\n"),
    ] {
        fs::write(folder.path().join(name), text).unwrap();
        let said = run(folder.path(), &["trace", name]);
        assert_eq!(said.code, Some(2), "{name}: {}", said.err);
        assert!(said.err.contains(name), "{name}: {}", said.err);
    }
    let ragged =
        "time_s,rpm,vacuum_inhg,lambda\n0.0,800,15,0.9\n0.1,800,15\n0.2,NaN,15,0.9\n0.3,800,15,0.9\n";
    fs::write(folder.path().join("ragged.csv"), ragged).unwrap();
    let out = program(folder.path()).args(["trace", "ragged.csv", "--json"]).output().unwrap();
    let value: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one object");
    assert_eq!(value["rows"], 4);
    assert!(value["faults"].to_string().contains("\"line\":3"), "{}", value["faults"]);
}

#[test]
fn a_file_with_only_the_torn_beginning_of_an_opening_becomes_the_new_session() {
    let folder = folder();
    let path = folder.path().join("a.tune.jsonl");
    let whole = include_str!("../sessions/v1-whole.tune.jsonl");
    fs::write(&path, &whole[..60]).unwrap();
    let mut link =
        Link::start(folder.path(), &["guide", "a.tune.jsonl", "--setup", "petrel", "--answers", "-"]);
    assert_eq!(link.next().expect("asked")["name"], "cautions");
    assert_eq!(link.code(), Some(130));
}
