//! Through a real pseudo-terminal of 80 by 24: a person's way of answering.

use super::rig::folder;
use rexpect::session::{Options, PtySession, spawn_with_options};
use std::fs;
use std::path::Path;
use std::process::Command;

fn start(folder: &Path, arguments: &[&str]) -> PtySession {
    let mut command = Command::new(env!("CARGO_BIN_EXE_leanbest"));
    command
        .env_clear()
        .env("HOME", folder)
        .env("TERM", "xterm")
        .env("COLUMNS", "80")
        .env("LINES", "24")
        .current_dir(folder);
    command.args(arguments);
    spawn_with_options(command, Options::new().timeout_ms(Some(20_000)).strip_ansi_escape_codes(true))
        .expect("a terminal")
}

/// Reads the cautions, a screen at a time, and comes to the question under them.
fn reads_the_cautions(person: &mut PtySession) {
    person.exp_string("Step 1 of 11: Cautions").unwrap();
    person.exp_string("More (Enter)").unwrap();
    person.send_line("").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
}

fn answered(folder: &Path) -> usize {
    let text = fs::read_to_string(folder.join("a.tune.jsonl")).unwrap_or_default();
    text.lines().filter(|l| l.contains("\"kind\":\"answered\"")).count()
}

#[test]
fn start_answer_undo_and_stop() {
    let folder = folder();
    let mut person = start(folder.path(), &["guide", "a.tune.jsonl", "--setup", "petrel"]);
    reads_the_cautions(&mut person);
    person.send_line("maybe").unwrap();
    person.exp_string("y (or 1) if it is so").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("").unwrap(); // Enter alone is no yes to what guards people
    person.exp_string("y (or 1) if it is so").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("1").unwrap();
    person.exp_string("Step 2 of 11").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("?").unwrap();
    person.exp_string("Targets, limits and advice").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("u").unwrap();
    person.exp_string("Taken back").unwrap();
    reads_the_cautions(&mut person);
    person.send_line("y").unwrap();
    person.exp_string("Step 2 of 11").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("q").unwrap();
    person.exp_string("Recorded in a.tune.jsonl").unwrap();
    person.exp_eof().unwrap();
    assert_eq!(answered(folder.path()), 2);
}

#[test]
fn what_was_set_is_said_at_any_question() {
    let folder = folder();
    let mut person = start(folder.path(), &["guide", "a.tune.jsonl", "--setup", "petrel"]);
    reads_the_cautions(&mut person);
    person.send_line("y").unwrap();
    person.exp_string("Step 2 of 11").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("set timing").unwrap(); // to what, it does not say
    person.exp_string("NAME=VALUE is wanted").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("set timing=8 deg, Spacer = 1 in open").unwrap();
    person.exp_string("spacer: 1 in open.").unwrap();
    person.exp_string("timing: 8 deg.").unwrap();
    person.exp_string("Yes? (y/n)").unwrap(); // the same question again
    person.send_line("set timing=12 deg").unwrap();
    person.exp_string("timing: 12 deg (was 8 deg).").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("set main.primary.jet=0.061 in").unwrap();
    person.exp_string("Primary main jet: 0.060 in -> 0.061 in").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("set main.primary.jet=0.061 furlong").unwrap();
    person.exp_string("furlong").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("u").unwrap();
    person.exp_string("refit 0.060 in").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("u").unwrap();
    person.exp_string("timing").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("q").unwrap();
    person.exp_string("Recorded in a.tune.jsonl").unwrap();
    person.exp_eof().unwrap();
    let text = fs::read_to_string(folder.path().join("a.tune.jsonl")).unwrap();
    let count = |what: &str| text.lines().filter(|l| l.contains(what)).count();
    assert_eq!((count("\"kind\":\"set\""), count("\"kind\":\"part-changed\"")), (2, 1));
    assert_eq!(count("\"kind\":\"undone\""), 2);
    assert!(text.contains("\"settings\":{\"spacer\":\"1 in open\",\"timing\":\"8 deg\"}"), "{text}");
}

#[test]
fn an_interrupt_leaves_the_file_whole_and_the_next_run_asks_the_same_question() {
    let folder = folder();
    let mut person = start(folder.path(), &["guide", "a.tune.jsonl", "--setup", "petrel"]);
    reads_the_cautions(&mut person);
    person.send_line("y").unwrap();
    person.exp_string("Step 2 of 11").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_control('c').unwrap();
    person.exp_eof().unwrap();
    assert_eq!(answered(folder.path()), 1);
    // The same command goes on; one with another engine does not.
    let mut other = start(folder.path(), &["guide", "a.tune.jsonl", "--setup", "pulling-tractor"]);
    other.exp_string("begun with another setup").unwrap();
    other.exp_eof().unwrap();
    let mut again = start(folder.path(), &["guide", "a.tune.jsonl", "--setup", "petrel"]);
    again.exp_string("Going on with a session").unwrap();
    again.exp_string("Step 2 of 11").unwrap();
    again.exp_string("Yes? (y/n)").unwrap();
    again.send_line("q").unwrap();
    again.exp_string("Recorded in a.tune.jsonl").unwrap();
    again.exp_eof().unwrap();
}

#[test]
fn a_value_takes_a_bare_number_in_the_unit_shown() {
    let folder = folder();
    let mut person = start(folder.path(), &["guide", "a.tune.jsonl", "--setup", "petrel"]);
    reads_the_cautions(&mut person);
    person.send_line("y").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("y").unwrap();
    person.exp_string("Value, inHg").unwrap();
    person.send_line("29,8").unwrap();
    person.exp_string("Value, degF").unwrap();
    person.send_line("80 rpm").unwrap();
    person.exp_string("not a unit of a temperature").unwrap();
    person.exp_string("Value, degF").unwrap();
    person.send_line("27C").unwrap();
    person.exp_string("Value, %").unwrap();
    person.send_line("q").unwrap();
    person.exp_string("Recorded in").unwrap();
    person.exp_eof().unwrap();
    let text = fs::read_to_string(folder.path().join("a.tune.jsonl")).unwrap();
    assert!(text.contains("\"value\":\"27 degC\""), "kept with its unit");
    assert!(text.contains("\"value\":\"100.9143"), "29.8 inHg in the unit of files");
}

#[test]
fn air_that_nobody_read_is_recorded_and_shown_as_assumed() {
    let folder = folder();
    let mut person = start(folder.path(), &["guide", "a.tune.jsonl", "--setup", "plain"]);
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("y").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("y").unwrap();
    person.exp_string("Value, inHg (Enter: assumed) [29.92 inHg]").unwrap();
    person.send_line("").unwrap();
    person.exp_string("Value, degF").unwrap();
    person.send_line("75").unwrap();
    person.exp_string("Value, %").unwrap();
    person.send_line("50 %").unwrap(); // what Enter would give, but somebody read it
    person.exp_string("Number").unwrap();
    person.send_line("q").unwrap();
    person.exp_string("barometer not read; standard air assumed (29.92 inHg)").unwrap();
    person.exp_string("Recorded in").unwrap();
    person.exp_eof().unwrap();
    let text = fs::read_to_string(folder.path().join("a.tune.jsonl")).unwrap();
    let assumed: Vec<&str> = text.lines().filter(|l| l.contains("\"assumed\":true")).collect();
    assert!(assumed.len() == 1 && assumed[0].contains("\"name\":\"barometer\""), "{assumed:?}");
    let told = |arguments: &[&str]| {
        let said = super::rig::program(folder.path()).args(arguments).output().expect("an answer");
        String::from_utf8(said.stdout).expect("text").split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let sheet = told(&["sheet", "a.tune.jsonl", "--as", "text", "-o", "-"]);
    assert!(
        sheet.contains("29.92 inHg (assumed: no barometer was read), 75 degF, 50 % humidity:"),
        "{sheet}"
    );
    let replay = told(&["replay", "a.tune.jsonl"]);
    assert!(replay.contains("(assumed, not read)"), "{replay}");
}

#[test]
fn a_page_is_turned_at_the_end_of_a_sentence() {
    let folder = folder();
    let mut person = start(folder.path(), &["guide", "a.tune.jsonl", "--setup", "petrel"]);
    let page = person.exp_string("  More (Enter)").unwrap();
    let last = page.trim_end().lines().last().unwrap_or_default().trim_end().to_owned();
    assert!(last.ends_with(['.', ':', '?']), "{page}");
    person.send_line("").unwrap();
    person.exp_string("Yes? (y/n)").unwrap();
    person.send_line("q").unwrap();
    person.exp_eof().unwrap();
}

#[test]
fn a_rehearsal_lets_enter_do_the_work_but_for_what_guards_people() {
    let folder = folder();
    let mut person = start(folder.path(), &["rehearse", "r.tune.jsonl", "--engine", "mild"]);
    for _ in 0..40 {
        let (_, seen) = person
            .exp_regex(r"(More[^\n]*:|\(y/n\)[^\n]*:|Number[^\n]*:|Value[^\n]*:|Vacuum, inHg[^\n]*:)")
            .unwrap();
        if seen.starts_with("Vacuum") {
            break;
        }
        person.send_line(if seen.starts_with("(y/n)") { "y" } else { "" }).unwrap();
    }
    person.send_line("").unwrap();
    person.exp_string("Speed, rpm").unwrap();
    person.send_line("").unwrap();
    person.exp_string("Lambda").unwrap();
    person.send_line("q").unwrap();
    person.exp_string("Recorded in").unwrap();
    person.exp_eof().unwrap();
}

#[test]
fn a_terminal_that_is_closed_leaves_the_file_whole() {
    let folder = folder();
    let mut person = start(folder.path(), &["guide", "a.tune.jsonl", "--setup", "petrel"]);
    reads_the_cautions(&mut person);
    person.send_line("y").unwrap();
    person.exp_string("Step 2 of 11").unwrap();
    drop(person);
    assert_eq!(answered(folder.path()), 1);
    let mut again = start(folder.path(), &["guide", "a.tune.jsonl"]);
    again.exp_string("Step 2 of 11").unwrap();
    again.send_line("q").unwrap();
    again.exp_string("Recorded in").unwrap();
    again.exp_eof().unwrap();
}
