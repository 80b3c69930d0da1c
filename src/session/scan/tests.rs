use super::*;
use crate::session::record::{Envelope, seal};
use std::time::Duration;

fn sealed(n: u64, previous: &str, kind: &str, payload: &str) -> String {
    let envelope = Envelope {
        n,
        tag: "k7q2m",
        run: 1,
        at: "2026-05-03T10:00:00Z".parse().unwrap(),
        up: Duration::from_millis(n),
        durable: n,
        kind,
        previous,
    };
    String::from_utf8(seal(&envelope, payload.as_bytes())).unwrap()
}

fn opening() -> String {
    sealed(0, "", "open", r#"{"program":"leanbest","version":"0.1.0","format":1,"need":[],"opening":{}}"#)
}

fn check_of(line: &str) -> String {
    record::open(line.trim_end().as_bytes(), 1).unwrap().check
}

/// Found by the crash simulator: the line end of a whole record is one byte of the next write, and may be the one
/// that never arrives.
#[test]
fn a_record_whose_line_end_was_lost_is_kept_with_the_remains_after_it_set_aside() {
    let first = opening();
    let reading = sealed(1, &check_of(&first), "reading", "{}");
    for remains in ["\0\0\0\0", "\u{b}{\"n\":2,\"se", "\0\n\0\0"] {
        let text = format!("{first}{}{remains}", reading.trim_end());
        let scan = scan(text.as_bytes());
        assert_eq!((scan.records.len(), scan.damage.as_ref()), (2, None), "{remains:?}");
        assert_eq!(scan.torn.as_ref().unwrap().line, 2);
        let torn = scan.torn_bytes(text.as_bytes());
        let payload = format!(r#"{{"torn_bytes":{torn}}}"#);
        let resumed = sealed(2, &check_of(&reading), "resume", &payload);
        let scan = super::scan(format!("{text}\n{resumed}").as_bytes());
        assert_eq!((scan.records.len(), scan.damage), (3, None), "{remains:?}");
        assert_eq!(scan.walled, [(2, torn)]);
    }
}

/// Found by the crash simulator: an opening that arrived whole but for one bit was called damage, though nobody
/// had been told that it was saved.
#[test]
fn an_opening_that_never_arrived_right_is_a_session_that_never_began() {
    let whole = opening();
    for at in 0..whole.len() {
        let mut bytes = whole.clone().into_bytes();
        bytes[at] ^= 0x10;
        let scan = scan(&bytes);
        assert_eq!(scan.damage, None, "byte {at}");
        assert!(scan.records.len() <= usize::from(at + 1 == whole.len()), "byte {at}");
    }
    assert_eq!(scan(whole.replace("0.1.0", "0.1.1").as_bytes()).sort, Sort::NeverBegun);
}

#[test]
fn an_empty_file_and_remains_of_an_opening_never_began_and_other_files_are_foreign() {
    for bytes in
        ["", "\n", "\0\0\0", "{\"n\":0,\"sess", "{\"n\":0,\"session\":\"k7q2m\",\"ru\n\0\0", "\u{feff}"]
    {
        assert_eq!(scan(bytes.as_bytes()).sort, Sort::NeverBegun, "{bytes:?}");
    }
    for bytes in ["time,rpm\n", "{}\n", "{\"n\":0}", "\u{1f}\u{8b}", "\0x"] {
        assert_eq!(scan(bytes.as_bytes()).sort, Sort::Foreign, "{bytes:?}");
    }
}

#[test]
fn remains_that_no_record_speaks_of_are_damage_and_so_is_a_record_that_speaks_of_none() {
    let first = opening();
    let check = check_of(&first);
    let speaking = |bytes: u64| sealed(1, &check, "resume", &format!(r#"{{"torn_bytes":{bytes}}}"#));
    let damage = |text: &str| scan(text.as_bytes()).damage.map(|damage| damage.line);
    assert_eq!(damage(&format!("{first}half\n{}", speaking(4))), None);
    assert_eq!(damage(&format!("{first}half\n{}", speaking(5))), Some(2));
    assert_eq!(damage(&format!("{first}half\n{}", sealed(1, &check, "reading", "{}"))), Some(2));
    assert_eq!(damage(&format!("{first}{}", speaking(4))), Some(2));
    // Another's payload may use the word; only this room's own records explain remains.
    assert_eq!(
        damage(&format!("{first}half\n{}", sealed(1, &check, "note", r#"{"torn_bytes":4}"#))),
        Some(2)
    );
}

#[test]
fn a_record_is_called_lost_only_when_a_later_one_knew_it_saved_and_it_is_nowhere() {
    let first = opening();
    let one = sealed(1, &check_of(&first), "reading", "{}");
    let two = sealed(2, &check_of(&one), "reading", "{}");
    let three = sealed(3, &check_of(&two), "reading", "{}");
    let damage = |lines: &[&str]| scan(lines.concat().as_bytes()).damage.unwrap();
    let missing = damage(&[&first, &one, &three]);
    assert_eq!((missing.line, missing.saved_lost, missing.later), (3, true, 1));
    let swapped = damage(&[&first, &two, &one, &three]);
    assert_eq!((swapped.line, swapped.saved_lost, swapped.later), (2, false, 3));
}

/// A record with one thing about it that its neighbours contradict.
fn odd(change: impl FnOnce(&mut Envelope<'_>), previous: &str) -> String {
    let at = "2026-05-03T10:00:00Z".parse().unwrap();
    let up = Duration::from_millis(1);
    let mut envelope = Envelope { n: 1, tag: "k7q2m", run: 1, at, up, durable: 1, kind: "reading", previous };
    change(&mut envelope);
    let opening = r#"{"program":"leanbest","version":"0.1.0","format":1,"need":[],"opening":{}}"#;
    let payload = if envelope.kind == "open" { opening } else { "{}" };
    String::from_utf8(seal(&envelope, payload.as_bytes())).unwrap()
}

#[test]
fn a_record_that_contradicts_the_one_before_it_is_damage() {
    let first = opening();
    let check = check_of(&first);
    let damage = |second: String| scan(format!("{first}{second}").as_bytes()).damage.map(|d| d.what);
    assert_eq!(damage(odd(|_| {}, &check)), None);
    let contradicts = Some("it contradicts the record before it".to_owned());
    assert_eq!(damage(odd(|e| e.durable = 2, &check)), contradicts);
    assert_eq!(damage(odd(|e| e.run = 0, &check)), contradicts);
    assert_eq!(damage(odd(|e| e.kind = "open", &check)), contradicts);
    assert_eq!(damage(odd(|e| e.run = 2, &check)), None, "a later run");
    assert_eq!(damage(odd(|e| e.durable = 0, &check)), None, "less was known");
}

#[test]
fn only_an_opening_opens_a_file() {
    let damage = |first: String| {
        let second = odd(|_| {}, &check_of(&first));
        scan(format!("{first}{second}").as_bytes()).damage.map(|d| d.line)
    };
    let opening = |e: &mut Envelope<'_>| (e.n, e.durable, e.kind) = (0, 0, "open");
    assert_eq!(damage(odd(opening, "")), None);
    assert_eq!(damage(odd(|e| e.kind = "open", "")), Some(1), "not the first");
    assert_eq!(damage(odd(|e| (e.n, e.durable) = (0, 0), "")), Some(1), "no opening");
    assert_eq!(damage(odd(opening, "0123456789abcdef")), Some(1), "something before it");
}

#[test]
fn a_gap_nobody_called_saved_is_no_loss() {
    let first = opening();
    let one = sealed(1, &check_of(&first), "reading", "{}");
    let later = |durable| odd(|e| (e.n, e.durable) = (3, durable), "0123456789abcdef");
    let lost = |durable| scan([first.clone(), one.clone(), later(durable)].concat().as_bytes()).damage;
    assert!(!lost(2).unwrap().saved_lost);
    assert!(lost(3).unwrap().saved_lost);
}

#[test]
fn a_bad_last_line_that_looks_whole_is_told_apart() {
    let first = opening();
    let torn = |tail: &str| scan(format!("{first}{tail}").as_bytes()).torn.map(|t| t.looks_whole);
    assert_eq!(torn("{\"n\":1}\n"), Some(true));
    assert_eq!(torn("{\"n\":1}"), Some(false), "no line end");
    assert_eq!(torn("{\"n\":1\n"), Some(false), "no end");
    assert_eq!(torn(""), None);
}
