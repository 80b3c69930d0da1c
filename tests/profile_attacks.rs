//! Profiles and setups that are wrong in every way a file can be: one row here for each, through `profile check`, with the
//! exact words it answers.

#![cfg(test)]

use std::process::{Command, Output};

struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn check(&self, bytes: &[u8], kind: &str) -> Output {
        std::fs::write(self.0.path().join("p.toml"), bytes).unwrap();
        let mut command = Command::new(env!("CARGO_BIN_EXE_leanbest"));
        command.args(["profile", "check", "p.toml", "--kind", kind]).current_dir(self.0.path());
        command.env_remove("LEANBEST_UNITS").env_remove("LEANBEST_PROFILES").output().unwrap()
    }
}

/// Every fault told of a file, one a line: place, what, what to do; the lines of the excerpt are left out.
fn told(bytes: &[u8], kind: &str) -> Vec<String> {
    let out = Place::new().check(bytes, kind);
    let said = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(2), "{said}{}", String::from_utf8_lossy(&out.stdout));
    assert!(said.chars().all(|c| c == '\n' || !c.is_control()), "{said:?}");
    let mut faults: Vec<String> = Vec::new();
    for line in said.lines() {
        if line.starts_with("p.toml") {
            faults.push(line.to_owned());
        } else if let Some(last) =
            faults.last_mut().filter(|_| line.starts_with("  ") && !line.contains(" | "))
        {
            last.push_str("; ");
            last.push_str(line.trim());
        }
    }
    faults
}

const SETUP: &str = "name = \"test\"\nuse = \"street\"\nengine = \"large-eight\"\ncarburetor = \"plain-two-barrel\"\nfuel = \"e10\"\n[instruments]\nvacuum_mark = \"0.5 inHg\"\nspeed_step = \"10 rpm\"\n";

fn setup(from: &str, to: &str) -> Vec<u8> {
    assert!(SETUP.contains(from), "{from}");
    SETUP.replacen(from, to, 1).into_bytes()
}

#[test]
#[expect(clippy::too_many_lines, reason = "a table")]
fn setups_are_refused_with_these_words() {
    let engine = |more: &str| setup("\"large-eight\"", &format!("{{ profile = \"large-eight\", {more} }}"));
    let jet = |jet: &str| {
        setup(
            "\"plain-two-barrel\"",
            &format!("{{ profile = \"plain-two-barrel\", main = [{{ set = \"primary\", jet = {jet} }}] }}"),
        )
    };
    for (what, bytes, said) in [
        (
            "larger than any profile",
            [SETUP.as_bytes(), "# ".as_bytes(), &vec![b'x'; 1 << 20]].concat(),
            &["p.toml: is larger than 1 MiB; a profile is a few kilobytes; name a profile file"][..],
        ),
        (
            "arrays too deep",
            format!("{SETUP}x = {}1{}\n", "[".repeat(5000), "]".repeat(5000)).into_bytes(),
            &[
                "p.toml:9:1: instruments.x is not a key of this table; the keys here are vacuum_mark, speed_step, lambda, fuel_pressure",
                "p.toml:9:85: values are nested deeper than any profile needs; take the nesting out",
            ],
        ),
        (
            "dotted keys too deep",
            format!("{}a = 1\n{SETUP}", "a.".repeat(100_000)).into_bytes(),
            &["p.toml:1:1: values are nested deeper than any profile needs; take the nesting out"],
        ),
        (
            "more digits than can be held",
            engine("cylinders = 99999999999999999999"),
            &[
                "p.toml:3:49: engine.cylinders can be from 1 to 28: an engine has at least one; mend the number",
            ],
        ),
        (
            "beyond every number",
            engine("compression = 1e999"),
            &[
                "p.toml:3:51: engine.compression is not a finite number, or has more digits than can be held; write a plain number",
            ],
        ),
        (
            "nan",
            engine("compression = nan"),
            &[
                "p.toml:3:51: engine.compression is not a finite number, or has more digits than can be held; write a plain number",
            ],
        ),
        (
            "inf",
            engine("compression = -inf"),
            &[
                "p.toml:3:51: engine.compression is not a finite number, or has more digits than can be held; write a plain number",
            ],
        ),
        (
            "below zero",
            engine("cylinders = -4"),
            &[
                "p.toml:3:49: engine.cylinders can be from 1 to 28: an engine has at least one; mend the number",
            ],
        ),
        (
            "none",
            engine("cylinders = 0"),
            &[
                "p.toml:3:49: engine.cylinders can be from 1 to 28: an engine has at least one; mend the number",
            ],
        ),
        (
            "a jet below zero",
            jet("\"-0.050 in\""),
            &[
                "p.toml:4:79: carburetor.main.jet is -0.05 in; it can be from 0.01 in to 0.3 in: main jets are drilled within this; mend the number or its unit",
            ],
        ),
        (
            "a jet like a pipe",
            jet("\"5 in\""),
            &[
                "p.toml:4:79: carburetor.main.jet is 5 in; it can be from 0.01 in to 0.3 in: main jets are drilled within this; mend the number or its unit",
            ],
        ),
        (
            "no unit",
            jet("0.060"),
            &[
                "p.toml:4:79: carburetor.main.jet has no unit; a length is written in in, mm, m, ft, cm, thou; write jet = \"0.060 in\"",
            ],
        ),
        (
            "the wrong unit",
            jet("\"0.060 inHg\""),
            &[
                "p.toml:4:79: carburetor.main.jet: \"inHg\" is not a unit of a length; these would do: in, mm, m, ft, cm, thou; write jet = \"0.060 in\"",
            ],
        ),
        (
            "a key twice",
            setup("use = \"street\"", "use = \"street\"\nuse = \"race\""),
            &["p.toml:3:1: this key is written a second time; keep one of the two"],
        ),
        (
            "a key nobody knows",
            setup("use = ", "usee = "),
            &[
                "p.toml:1:1: use is missing; write use = one of \"street\", \"race\", \"marine\", \"tow\", \"farm\"",
                "p.toml:2:1: usee is not a key of this table; did you mean use?",
            ],
        ),
        (
            "a word nobody knows",
            setup("\"street\"", "\"stret\""),
            &[
                "p.toml:2:7: use cannot be \"stret\"; did you mean \"street\"?; it is one of \"street\", \"race\", \"marine\", \"tow\", \"farm\"",
            ],
        ),
        (
            "a profile nobody has",
            setup("large-eight", "large-ieght"),
            &[
                "p.toml:3:10: there is no engine profile called \"large-ieght\"; did you mean \"large-eight\"?",
            ],
        ),
        (
            "a path outside",
            setup("\"large-eight\"", "\"../../etc/passwd.toml\""),
            &[
                "p.toml:3:10: a setup can name only files in its own folder or below it; put the file beside the setup",
            ],
        ),
        (
            "an absolute path",
            setup("\"large-eight\"", "\"/etc/passwd\""),
            &[
                "p.toml:3:10: a setup can name only files in its own folder or below it; put the file beside the setup",
            ],
        ),
        (
            "escapes in a value",
            setup("street", "\\u001b]0;owned\\u0007"),
            &[
                "p.toml:2:7: use cannot be \"\\u{1b}]0;owned\\u{7}\"; it is one of \"street\", \"race\", \"marine\", \"tow\", \"farm\"",
            ],
        ),
        (
            "a newer format",
            format!("format = 2\nspark_map = 1\n{SETUP}").into_bytes(),
            &[
                "p.toml:1:10: this file is written in format 2; this program reads format 1; it needs a newer version of the program",
                "p.toml:2:1: spark_map is not a key of this table; the keys here are name, use, engine, carburetor, fuel, instruments, air, logger, rules, format",
            ],
        ),
        (
            "a NUL",
            setup("test", "te\0st"),
            &[
                "p.toml:1:8: name must be 1 to 80 printable characters; write name = \"skiff, spring\"",
                "p.toml:1:11: this text is not written as TOML writes texts; put it between double quotes, with \\ written as \\\\",
            ],
        ),
        (
            "no UTF-8",
            setup("\"test\"", "\"test\"\n#")
                .iter()
                .flat_map(|b| if *b == b'#' { vec![b'#', 0xe9] } else { vec![*b] })
                .collect(),
            &["p.toml:2:2: here the file stops being UTF-8 text; save it as UTF-8"],
        ),
        (
            "a text that never closes",
            setup("\"test\"", "\"test"),
            &[
                "p.toml:1:13: this text is not written as TOML writes texts; put it between double quotes, with \\ written as \\\\",
            ],
        ),
        (
            "no value",
            setup("\"test\"", ""),
            &[
                "p.toml:1:8: this text is not written as TOML writes texts; put it between double quotes, with \\ written as \\\\",
                "p.toml:1:8: name must be 1 to 80 printable characters; write name = \"skiff, spring\"",
            ],
        ),
        (
            "nothing at all",
            Vec::new(),
            &[
                "p.toml:1:1: name is missing; write name = \"skiff, spring\"",
                "p.toml:1:1: use is missing; write use = one of \"street\", \"race\", \"marine\", \"tow\", \"farm\"",
                "p.toml:1:1: the table [engine] is missing; add [engine] and its keys",
                "p.toml:1:1: the table [carburetor] is missing; add [carburetor] and its keys",
                "p.toml:1:1: the table [fuel] is missing; add [fuel] and its keys",
            ],
        ),
    ] {
        assert_eq!(told(&bytes, "setup"), said, "{what}");
    }
}

#[test]
#[expect(clippy::too_many_lines, reason = "a table")]
fn loggers_are_refused_with_these_words() {
    let column = |rest: &str| {
        format!(
            "name = \"x\"\n[[column]]\nchannel = \"speed\"\nnames = [\"n\"]\n\n[[column]]\nchannel = \"lambda\"\n{rest}\n"
        )
    };
    let head =
        |rest: &str| format!("name = \"x\"\n{rest}\n[[column]]\nchannel = \"speed\"\nnames = [\"n\"]\n");
    for (what, text, said) in [
        (
            "no names",
            column("names = []"),
            &["p.toml:6:1: the lambda column: has no names; give names = [\"...\"]; mend this column"][..],
        ),
        (
            "blank names",
            column("names = [\" \"]"),
            &["p.toml:6:1: the lambda column: has no names; give names = [\"...\"]; mend this column"],
        ),
        (
            "volts without points",
            column("names = [\"a\"]\nunit = \"V\""),
            &[
                "p.toml:6:1: the lambda column: is a voltage: give its points, such as volts = [[0.0, 0.68], [5.0, 1.36]]; mend this column",
            ],
        ),
        (
            "one point",
            column("names = [\"a\"]\nvolts = [[0.0, 1.0]]"),
            &[
                "p.toml:6:1: the lambda column: a voltage table needs at least two points, such as [[0.0, 0.68], [5.0, 1.36]]; mend this column",
            ],
        ),
        (
            "points that fall",
            column("names = [\"a\"]\nvolts = [[1.0, 1.0], [0.0, 2.0]]"),
            &[
                "p.toml:6:1: the lambda column: the voltages of its table must be finite and rise; mend this column",
            ],
        ),
        (
            "a point that is no number",
            column("names = [\"a\"]\nvolts = [[0.0, nan], [5.0, 1.36]]"),
            &[
                "p.toml:6:1: the lambda column: the voltages of its table must be finite and rise; mend this column",
            ],
        ),
        (
            "scale of nothing",
            column("names = [\"a\"]\nscale = 0.0"),
            &[
                "p.toml:6:1: the lambda column: scale and offset must be finite, and scale not zero; mend this column",
            ],
        ),
        (
            "scale without end",
            column("names = [\"a\"]\nscale = inf"),
            &[
                "p.toml:6:1: the lambda column: scale and offset must be finite, and scale not zero; mend this column",
            ],
        ),
        (
            "a unit of something else",
            column("names = [\"a\"]\nunit = \"inHg\""),
            &[
                "p.toml:6:1: the lambda column: \"inHg\" is no unit of lambda; these would do: lambda, AFR, V; mend this column",
            ],
        ),
        (
            "a ratio below zero",
            column("names = [\"a\"]\nstoichiometric = \"-14.7 AFR\""),
            &[
                "p.toml:6:1: the lambda column: the stoichiometric ratio is from 3 to 25, such as \"14.7 AFR\" for gasoline; mend this column",
            ],
        ),
        (
            "a lag of an hour",
            column("names = [\"a\"]\nlag = \"3600 s\""),
            &[
                "p.toml:6:1: the lambda column: the lag of a filter is from 0 to 2 s, such as \"50 ms\"; mend this column",
            ],
        ),
        (
            "a lag in millimetres",
            column("names = [\"a\"]\nlag = \"50 mm\""),
            &["p.toml:9:7: \"mm\" is not a unit of a time; these would do: s, ms, min, h; mend the value"],
        ),
        (
            "a key nobody knows",
            column("names = [\"a\"]\ncolour = 1"),
            &[
                "p.toml:9:1: \"colour\" is not a key of this table; the keys here are channel, names, unit, volts, scale, offset, stoichiometric, lag",
            ],
        ),
        (
            "no channel",
            "name = \"x\"\n[[column]]\nnames = [\"a\"]\n".to_owned(),
            &["p.toml:2:1: channel is missing from this table; write channel = ..."],
        ),
        (
            "a channel nobody knows",
            "name = \"x\"\n[[column]]\nchannel = \"warp\"\nnames = [\"a\"]\n".to_owned(),
            &[
                "p.toml:3:11: \"warp\" is not one of the words known here; they are time, speed, manifold, vacuum, throttle, lambda, lambda-2, coolant, fuel-pressure, intake-air, barometer, air-flow, torque, power, road-speed, fuel-flow, humidity, oil, lateral, longitudinal, tilt",
            ],
        ),
        (
            "names that are one text",
            column("names = \"a\""),
            &["p.toml:8:9: names: this should be a list; write it as [\"...\", \"...\"]"],
        ),
        (
            "a letter between columns",
            head("delimiter = \"x\""),
            &[
                "p.toml:2:13: delimiter: cannot stand between columns; it is mostly \",\", \";\", \"|\" or \"\\t\"; mend this key, or leave it out",
            ],
        ),
        (
            "two characters between columns",
            head("delimiter = \";;\""),
            &["p.toml:2:13: delimiter: this should be one character; write it as \";\""],
        ),
        (
            "two commas",
            head("delimiter = \",\"\ndecimal_comma = true"),
            &[
                "p.toml:3:17: decimal_comma: the comma cannot stand both between columns and in numbers; one of the two is wrong; mend this key, or leave it out",
            ],
        ),
        (
            "no time between rows",
            head("period = \"0 s\""),
            &[
                "p.toml:2:10: period: the time between rows is from 0.01 ms to 60 s, such as \"10 ms\"; mend this key, or leave it out",
            ],
        ),
        (
            "an hour between rows",
            head("period = \"3600 s\""),
            &[
                "p.toml:2:10: period: the time between rows is from 0.01 ms to 60 s, such as \"10 ms\"; mend this key, or leave it out",
            ],
        ),
        (
            "an encoding that is not read",
            head("encoding = \"utf-16\""),
            &[
                "p.toml:2:12: \"utf-16\" is not one of the words known here; they are utf-8, latin-1, windows-1252",
            ],
        ),
        (
            "a key twice",
            head("header = true\nheader = false"),
            &["p.toml:3:1: this key is written a second time; keep one of the two"],
        ),
        (
            "no name",
            "[[column]]\nchannel = \"speed\"\nnames = [\"n\"]\n".to_owned(),
            &["p.toml:1:1: name is missing from this table; write name = ..."],
        ),
    ] {
        assert_eq!(told(text.as_bytes(), "logger"), said, "{what}");
    }
}

#[test]
fn a_mark_and_windows_line_ends_are_no_fault() {
    let windows = format!("\u{feff}{}", SETUP.replace('\n', "\r\n"));
    for text in [SETUP.to_owned(), windows, format!("format = 1\n{SETUP}")] {
        let out = Place::new().check(text.as_bytes(), "setup");
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    }
}
