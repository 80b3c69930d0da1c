//! The house rules as a test: who may import whom, which rooms are pure, where serde may be, how long a file may be,
//! and that each opens by saying what it is. The checker itself is tested with planted faults below.

#![cfg(test)]

use std::fs;
use std::path::{Path, PathBuf};

/// A room: its name, the rooms it may import, and what it may touch.
struct Room {
    name: &'static str,
    may_import: &'static [&'static str],
    /// No file, device, clock, terminal, environment or thread.
    pure: bool,
    /// Its types may be written to and read from text.
    serde: bool,
}

const fn room(name: &'static str, may_import: &'static [&'static str], pure: bool, serde: bool) -> Room {
    Room { name, may_import, pure, serde }
}

/// From the ground up. A room imports only rooms above its line in this table.
const ROOMS: &[Room] = &[
    // Quantities are text with a unit wherever they are written down.
    room("units", &[], true, true),
    room("numeric", &[], true, false),
    // A setup is the first line of every session.
    room("setup", &["units"], true, true),
    // Valve events and correction factors are kept with the answers they are part of.
    room("physics", &["units", "numeric", "setup"], true, true),
    // The rules' numbers are a table that a shop can replace; what they answer is kept in sessions.
    room("rules", &["units", "numeric", "setup", "physics"], true, true),
    // Logger profiles and summaries.
    room("trace", &["units", "numeric", "setup"], true, true),
    room("analysis", &["units", "numeric", "setup", "physics", "rules", "trace"], true, true),
    // Events are what a session is made of.
    room("procedure", &["units", "setup", "rules", "trace", "analysis"], true, true),
    room("session", &["units", "setup", "rules", "trace", "analysis", "procedure"], false, true),
    room("profile", &["units", "setup", "rules", "trace"], false, true),
    room("bench", &["units", "numeric", "setup", "physics", "trace"], false, false),
    room(
        "report",
        &["units", "numeric", "setup", "physics", "rules", "trace", "analysis", "procedure", "session"],
        true,
        true,
    ),
    room(
        "cli",
        &[
            "units",
            "numeric",
            "setup",
            "physics",
            "rules",
            "trace",
            "analysis",
            "procedure",
            "session",
            "profile",
            "bench",
            "report",
        ],
        false,
        true,
    ),
];

/// What a pure room may not say outside its tests.
const IMPURE: &[&str] = &[
    "std::fs",
    "std::net",
    "std::env",
    "std::process",
    "std::thread",
    "std::os",
    "std::io::stdin",
    "std::io::stdout",
    "std::io::stderr",
    "io::stdin(",
    "io::stdout(",
    "io::stderr(",
    "fs::read",
    "fs::write",
    "File::",
    "env::var",
    "Instant",
    "SystemTime",
    "println!",
    "print!",
    "eprintln!",
    "eprint!",
    "jiff::",
    "dialoguer::",
    "console::",
    "indicatif::",
    "ratatui::",
    "serial2::",
    "nix::",
    "signal_hook::",
    "etcetera::",
    "tempfile::",
];

/// Words for the screen: only the terminal's room writes there.
const PRINTS: &[&str] =
    &["println!", "print!", "eprintln!", "eprint!", "dialoguer::", "indicatif::", "ratatui::"];

/// Threads are for the live line and the signals: in the rooms that have them.
const MAY_THREAD: &[&str] = &["bench", "session", "cli"];

const LONGEST: usize = 420;

/// Files that are longer and wait for a good place to be cut: they may not grow.
const LONGER: &[(&str, usize)] = &[
    ("cli/guide/prompt.rs", 430),
    ("rules/balance/posterior.rs", 448),
    ("trace/course.rs", 434),
    ("trace/header.rs", 450),
];

/// Everything wrong with one file. `path` is relative to `src/`, with `/`.
fn faults(path: &str, text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut fault = |what: String| found.push(format!("src/{path}: {what}"));
    let longest = LONGER.iter().find(|(file, _)| *file == path).map_or(LONGEST, |(_, lines)| *lines);
    if text.lines().count() > longest {
        fault(format!("{} lines; at most {longest}", text.lines().count()));
    }
    // A file of tests is spoken for by the file it tests.
    if !text.starts_with("//!") && !is_test_file(path) {
        fault("does not open with a //! line".to_owned());
    }
    let Some(room) = ROOMS.iter().find(|r| path.split('/').next() == Some(r.name)) else {
        if !matches!(path, "lib.rs" | "main.rs") {
            fault("is in no room".to_owned());
        }
        return found;
    };
    let code = bare(text);
    for (name, line) in if is_test_file(path) { Vec::new() } else { imports(&code) } {
        let known = ROOMS.iter().any(|r| r.name == name);
        if known && name != room.name && !room.may_import.contains(&name.as_str()) {
            fault(format!("line {line}: {} may not import {name}", room.name));
        }
    }
    if let Some(line) = leaves_by_super(path, &code) {
        fault(format!("line {line}: climbs out of its room by super::"));
    }
    if is_test_file(path) {
        return found;
    }
    let code = without_tests(&code);
    let mut forbid = |words: &[&str], why: &str| {
        for word in words {
            if let Some(line) = says(&code, word) {
                fault(format!("line {line}: {word} in {} ({why})", room.name));
            }
        }
    };
    if room.pure {
        forbid(IMPURE, "a pure room");
    } else if room.name != "cli" {
        forbid(PRINTS, "only cli writes to the terminal");
    }
    if !MAY_THREAD.contains(&room.name) && !room.pure {
        forbid(&["std::thread"], "no threads here");
    }
    if !room.serde {
        forbid(&["serde::", "serde_json::", "Serialize", "Deserialize"], "not a room that is written down");
    }
    found
}

/// Tests kept in files of their own.
fn is_test_file(path: &str) -> bool {
    path.ends_with("/tests.rs") || path.contains("/tests/") || path.ends_with("_tests.rs")
}

/// The text with comments and what is between quotes blanked, line ends kept.
fn bare(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut out = String::with_capacity(text.len());
    let keep = |out: &mut String, c: char| out.push(if c == '\n' { '\n' } else { ' ' });
    let mut i = 0;
    while i < chars.len() {
        let next = chars.get(i + 1).copied();
        match (chars[i], next) {
            ('/', Some('/')) => {
                while i < chars.len() && chars[i] != '\n' {
                    i += 1;
                }
            }
            ('/', Some('*')) => {
                while i < chars.len() && !(chars[i] == '*' && chars.get(i + 1) == Some(&'/')) {
                    keep(&mut out, chars[i]);
                    i += 1;
                }
                i += 2;
            }
            ('r', Some('"' | '#')) if raw_hashes(&chars[i + 1..]).is_some() => {
                let hashes = raw_hashes(&chars[i + 1..]).unwrap_or(0);
                i += 2 + hashes;
                while i < chars.len() && !(chars[i] == '"' && closes(&chars[i + 1..], hashes)) {
                    keep(&mut out, chars[i]);
                    i += 1;
                }
                i += 1 + hashes;
            }
            ('"', _) => {
                i += 1;
                while i < chars.len() && chars[i] != '"' {
                    if chars[i] == '\\' {
                        keep(&mut out, chars[i]);
                        i += 1;
                    }
                    if i < chars.len() {
                        keep(&mut out, chars[i]);
                        i += 1;
                    }
                }
                i += 1;
            }
            // A character, not a lifetime: '"' would open a text otherwise.
            ('\'', Some('\\')) => {
                i += 3;
                while i < chars.len() && chars[i] != '\'' {
                    i += 1;
                }
                i += 1;
            }
            ('\'', Some(_)) if chars.get(i + 2) == Some(&'\'') => i += 3,
            (c, _) => {
                out.push(c);
                i += 1;
            }
        }
    }
    out
}

fn raw_hashes(after: &[char]) -> Option<usize> {
    let hashes = after.iter().take_while(|c| **c == '#').count();
    (after.get(hashes) == Some(&'"')).then_some(hashes)
}

fn closes(after: &[char], hashes: usize) -> bool {
    after.iter().take(hashes).filter(|c| **c == '#').count() == hashes
}

/// The code with every block headed `#[cfg(test)]` blanked.
fn without_tests(code: &str) -> String {
    let (mut out, mut skipping, mut depth, mut opened) = (String::new(), false, 0i32, false);
    for line in code.lines() {
        if !skipping && line.trim_start().starts_with("#[cfg(test)]") {
            (skipping, depth, opened) = (true, 0, false);
        }
        if skipping {
            for c in line.chars() {
                depth += i32::from(c == '{') - i32::from(c == '}');
                opened |= c == '{';
            }
            // A block that has closed, or an item without one: `mod tests;`.
            if (opened && depth <= 0) || (!opened && line.trim_end().ends_with(';')) {
                skipping = false;
            }
        } else {
            out.push_str(line);
        }
        out.push('\n');
    }
    out
}

/// Every `crate::name`, with its line; `crate::{a, b}` gives each.
fn imports(code: &str) -> Vec<(String, usize)> {
    let mut found = Vec::new();
    for (at, _) in code.match_indices("crate::") {
        let before = code[..at].chars().next_back();
        if before.is_some_and(|c| c.is_alphanumeric() || c == '_') {
            continue;
        }
        let line = code[..at].matches('\n').count() + 1;
        let rest = &code[at + "crate::".len()..];
        if let Some(group) = rest.strip_prefix('{') {
            let mut depth = 1;
            let mut name = String::new();
            let mut at_name = true;
            for c in group.chars() {
                depth += i32::from(c == '{') - i32::from(c == '}');
                if depth == 0 {
                    break;
                }
                match c {
                    ',' if depth == 1 => {
                        found.push((std::mem::take(&mut name), line));
                        at_name = true;
                    }
                    c if at_name && (c.is_alphanumeric() || c == '_') => name.push(c),
                    c if c.is_whitespace() => {}
                    _ => at_name = false,
                }
            }
            found.push((name, line));
        } else {
            found.push((rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect(), line));
        }
    }
    found
}

/// The line of a `super::` chain long enough to leave the room the file is in, counting one more for a block of tests.
fn leaves_by_super(path: &str, code: &str) -> Option<usize> {
    let parts = path.trim_end_matches(".rs").split('/').filter(|p| *p != "mod").count();
    code.lines().enumerate().find_map(|(i, line)| {
        let longest = line.split("super::").collect::<Vec<_>>();
        let (mut run, mut most) = (0, 0);
        for piece in longest.iter().skip(1) {
            run += 1;
            most = most.max(run);
            if !piece.is_empty() {
                run = 0;
            }
        }
        let inside = usize::from(line.starts_with(' '));
        (most > parts - 1 + inside).then_some(i + 1)
    })
}

/// The line where a word is said as a word of its own.
fn says(code: &str, word: &str) -> Option<usize> {
    code.match_indices(word).find_map(|(at, _)| {
        let before = code[..at].chars().next_back();
        let after = code[at + word.len()..].chars().next();
        let joined = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
        let own_end = word.ends_with(|c: char| !c.is_alphanumeric()) || !joined(after);
        let own_start = !joined(before) && (before != Some(':') || word.starts_with(char::is_uppercase));
        (own_start && own_end).then(|| code[..at].matches('\n').count() + 1)
    })
}

fn sources(folder: &Path, out: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

#[test]
fn the_house_keeps_its_rules() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    assert!(files.len() > 50, "the walk has missed the house: {} files", files.len());
    files.sort();
    let mut found = Vec::new();
    for file in files {
        let path = file.strip_prefix(&src).unwrap().to_str().unwrap().replace('\\', "/");
        found.extend(faults(&path, &fs::read_to_string(&file).unwrap()));
    }
    assert!(found.is_empty(), "{} faults:\n{}", found.len(), found.join("\n"));
}

#[test]
fn the_table_of_rooms_leads_one_way_and_is_the_map() {
    for (i, room) in ROOMS.iter().enumerate() {
        for import in room.may_import {
            let at = ROOMS.iter().position(|r| r.name == *import).unwrap();
            assert!(at < i, "{} imports {import}, which is not below it", room.name);
        }
    }
    let map = include_str!("../src/lib.rs");
    let mut declared: Vec<_> =
        map.lines().filter_map(|l| l.strip_prefix("pub mod ")?.strip_suffix(';')).collect();
    let mut known: Vec<_> = ROOMS.iter().map(|r| r.name).collect();
    declared.sort_unstable();
    known.sort_unstable();
    assert_eq!(declared, known);
}

/// A file with nothing wrong but what `line` brings in.
fn planted(path: &str, line: &str) -> Vec<String> {
    faults(path, &format!("//! A file.\n\n{line}\n"))
}

#[test]
fn each_planted_fault_is_found() {
    for (path, line, said) in [
        ("units/a.rs", "use crate::setup::Engine;", "units may not import setup"),
        ("physics/a.rs", "fn f() { crate::rules::book::common() }", "physics may not import rules"),
        ("trace/a.rs", "use crate::{units::Vacuum, analysis::Plan};", "trace may not import analysis"),
        ("profile/a.rs", "use crate::cli::Console;", "profile may not import cli"),
        ("bench/a.rs", "use crate::session::Journal;", "bench may not import session"),
        ("physics/a.rs", "use super::super::rules::book;", "climbs out"),
        ("rules/a.rs", "use std::fs;", "std::fs"),
        ("rules/a.rs", "fn f() { let t = std::time::Instant::now(); }", "Instant"),
        ("analysis/a.rs", "fn f() { println!(); }", "println!"),
        ("procedure/a.rs", "fn f() { std::env::var(X); }", "std::env"),
        ("report/a.rs", "fn f() { std::thread::spawn(g); }", "std::thread"),
        ("profile/a.rs", "fn f() { eprintln!(); }", "eprintln!"),
        ("profile/a.rs", "fn f() { std::thread::spawn(g); }", "std::thread"),
        ("numeric/a.rs", "#[derive(Serialize)]", "Serialize"),
        ("attic/a.rs", "", "no room"),
    ] {
        let found = planted(path, line);
        assert_eq!(found.len(), 1, "{path}: {line}: {found:?}");
        assert!(found[0].contains(said), "{found:?}");
    }
    assert_eq!(faults("units/a.rs", "fn f() {}\n").len(), 1, "no //! line");
    let long = format!("//! A file.\n{}", "\n".repeat(LONGEST - 1));
    assert!(faults("units/a.rs", &long).is_empty(), "just short enough");
    assert_eq!(faults("units/a.rs", &format!("{long}\n")).len(), 1, "one line too long");
}

#[test]
fn what_is_allowed_is_left_alone() {
    for (path, line) in [
        ("physics/a.rs", "use crate::units::Vacuum;"),
        ("physics/a.rs", "// use crate::cli::Console; println!"),
        ("physics/a.rs", "const S: &str = \"use crate::cli; println!(\\\"\\\") std::fs\";"),
        ("physics/a.rs", "const S: &str = r#\"\"std::fs\" crate::cli::x\"#;"),
        ("physics/a.rs", "const C: char = '\"'; // std::fs\"\nfn f<'a>() {}"),
        ("physics/a.rs", "#[cfg(test)]\nmod tests {\n    use super::*;\n    use std::fs;\n}"),
        ("physics/b/c.rs", "use super::super::units_of;"),
        ("session/a.rs", "use std::fs;"),
        ("cli/a.rs", "fn f() { println!(); }"),
        ("physics/a.rs", "fn blueprint() { reprint!(); }"),
    ] {
        let found = planted(path, line);
        assert!(found.is_empty(), "{line}: {found:?}");
    }
    // What follows a block of tests is looked at again.
    let after = planted("physics/a.rs", "#[cfg(test)]\nmod tests {\n    fn f() {}\n}\nuse std::fs;");
    assert_eq!(after.len(), 1, "{after:?}");
}
