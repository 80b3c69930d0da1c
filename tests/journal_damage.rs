//! Every bit of a session file flipped, every byte cut off, every line removed, moved, doubled or brought in from
//! elsewhere: nothing altered is ever taken for a record, and no more is lost than what was hit.

#![expect(clippy::unwrap_used, reason = "a test helper that fails should fail the test")]

use leanbest::session::record::Record;
use leanbest::session::scan::{Scan, scan};
use std::fs;
use std::path::Path;

const FILES: [&str; 4] = ["v1-whole", "v1-crlf", "v1-resumed-after-torn", "v1-continued.2"];

fn bytes(name: &str) -> Vec<u8> {
    fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/sessions/{name}.tune.jsonl"))).unwrap()
}

fn same(a: &Record, b: &Record) -> bool {
    Record { line: 0, ..a.clone() } == Record { line: 0, ..b.clone() }
}

/// What is read is a beginning of what was written, unaltered.
fn is_beginning(spoiled: &Scan, whole: &Scan) -> bool {
    spoiled.records.len() <= whole.records.len()
        && spoiled.records.iter().zip(&whole.records).all(|(a, b)| same(a, b))
}

#[test]
fn no_flipped_bit_is_taken_for_what_was_written() {
    for name in ["v1-whole", "v1-resumed-after-torn"] {
        let bytes = bytes(name);
        let whole = scan(&bytes);
        for bit in 0..bytes.len() * 8 {
            let mut flipped = bytes.clone();
            flipped[bit / 8] ^= 1 << (bit % 8);
            let spoiled = scan(&flipped);
            assert!(is_beginning(&spoiled, &whole), "{name}, bit {bit}");
            let later = spoiled.damage.as_ref().map_or(0, |damage| damage.later);
            let lost = whole.records.len() as u64 - spoiled.records.len() as u64 - later;
            assert!(lost <= 1, "{name}, bit {bit}: {lost} records lost");
            let noticed = spoiled.damage.is_some() || spoiled.torn.is_some() || lost == 0;
            assert!(noticed, "{name}, bit {bit}: a record went without a word");
        }
    }
}

#[test]
fn a_file_cut_at_any_byte_gives_all_that_is_whole() {
    for name in FILES {
        let bytes = bytes(name);
        let whole = scan(&bytes);
        // Where each record ends, its line end not counted.
        let mut ends = Vec::new();
        let mut at = 0;
        for line in bytes.split_inclusive(|&byte| byte == b'\n') {
            let text = line.strip_suffix(b"\n").unwrap_or(line);
            let text = text.strip_suffix(b"\r").unwrap_or(text);
            if leanbest::session::record::open(text, 1).is_ok() {
                ends.push(at + text.len());
            }
            at += line.len();
        }
        assert_eq!(ends.len(), whole.records.len());
        for cut in 0..=bytes.len() {
            let spoiled = scan(&bytes[..cut]);
            let due = ends.iter().filter(|&&end| end <= cut).count();
            assert_eq!(spoiled.damage, None, "{name} cut at {cut}");
            assert_eq!(spoiled.records.len(), due, "{name} cut at {cut}");
            assert!(is_beginning(&spoiled, &whole), "{name} cut at {cut}");
        }
    }
}

#[test]
fn lines_removed_moved_doubled_or_brought_in_are_noticed() {
    let bytes = bytes("v1-whole");
    let whole = scan(&bytes);
    let lines: Vec<&[u8]> = bytes.split_inclusive(|&byte| byte == b'\n').collect();
    let foreign =
        fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/sessions/v1-foreign-line.tune.jsonl"))
            .unwrap();
    let foreign = foreign.split_inclusive(|&byte| byte == b'\n').nth(3).unwrap();
    let last = lines.len() - 1;
    for k in 0..lines.len() {
        let mut changed: Vec<Vec<&[u8]>> = Vec::new();
        // The last line taken away whole leaves nothing to notice it by: that is what a printed check is for.
        if k < last {
            changed
                .push(lines.iter().enumerate().filter(|(at, _)| *at != k).map(|(_, line)| *line).collect());
        }
        changed.push([&lines[..=k], &lines[k..]].concat());
        changed.push([&lines[..k], &[foreign], &lines[k..]].concat());
        for other in k + 1..lines.len() {
            let mut swapped = lines.clone();
            swapped.swap(k, other);
            changed.push(swapped);
        }
        for lines in changed {
            let spoiled = scan(&lines.concat());
            assert!(spoiled.damage.is_some(), "line {}: {:?}", k + 1, spoiled.records.len());
            assert!(is_beginning(&spoiled, &whole), "line {}", k + 1);
        }
    }
}

#[test]
fn a_hostile_line_is_read_in_bounded_time_and_refused() {
    // A check's beginning again and again, and the deepest nesting: neither may cost more than a pass over the bytes.
    for hostile in [r#","check":""#.repeat(400_000), "[".repeat(4_000_000), "\"".repeat(4_000_000)] {
        assert!(scan(hostile.as_bytes()).records.is_empty());
    }
}
