//! Logs that are wrong in every way a file can be: one row here for each, through the whole program, with the exact
//! words it answers.

#![cfg(test)]

use leanbest::bench::log_file::{LogError, read_stream};
use leanbest::trace::{LoggerProfile, TraceContext};
use serde_json::Value;
use std::fmt::Write as _;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const HEADER: &str = "time_s,rpm,map_kpa,tps_pct,lambda";

struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn write(&self, bytes: &[u8]) -> PathBuf {
        let path = self.0.path().join("log.csv");
        std::fs::write(&path, bytes).unwrap();
        path
    }

    fn run(&self, args: &[&str]) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_leanbest"));
        command.args(args).current_dir(self.0.path());
        command.env_remove("LEANBEST_UNITS").env_remove("LEANBEST_PROFILES").output().unwrap()
    }
}

/// What the program says of a log it refuses, after its own name; it ends with 2.
fn refused(bytes: &[u8]) -> String {
    let place = Place::new();
    place.write(bytes);
    let out = place.run(&["trace", "log.csv"]);
    assert_eq!(out.status.code(), Some(2), "{}", String::from_utf8_lossy(&out.stdout));
    assert!(out.stdout.is_empty());
    String::from_utf8(out.stderr).unwrap().trim_end().trim_start_matches("leanbest: ").to_owned()
}

/// What it reads of one it does not refuse.
fn read_with(bytes: &[u8], more: &[&str]) -> Value {
    let place = Place::new();
    place.write(bytes);
    let out = place.run(&[&["trace", "log.csv", "--json"], more].concat());
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}

fn read(bytes: &[u8]) -> Value {
    read_with(bytes, &[])
}

fn plain(i: u32) -> String {
    format!("{:.2},{},50.0,20.0,{:.3}", f64::from(i) / 100.0, 2000 + i % 5, 0.9 + f64::from(i % 7) / 1000.0)
}

fn rows(n: u32) -> String {
    (0..n).fold(format!("{HEADER}\n"), |mut text, i| {
        let _ = writeln!(text, "{}", plain(i));
        text
    })
}

/// A good log with a line put in as line 103.
fn with_line(line: &[u8]) -> Vec<u8> {
    let good = rows(3500);
    let at = good.match_indices('\n').nth(101).unwrap().0 + 1;
    [&good.as_bytes()[..at], line, b"\n", &good.as_bytes()[at..]].concat()
}

/// The faults of a trace, as they are told.
fn faults(trace: &Value) -> Vec<String> {
    let all = trace["faults"].as_array().unwrap();
    all.iter()
        .map(|f| {
            let column = f["column"].as_u64().filter(|c| *c > 0).map_or(String::new(), |c| format!(":{c}"));
            let found = f["found"]
                .as_str()
                .filter(|f| !f.is_empty())
                .map_or(String::new(), |f| format!(", found {f}"));
            format!(
                "{}{column} {}: expected {}{found}",
                f["line"],
                f["kind"].as_str().unwrap(),
                f["expected"].as_str().unwrap()
            )
        })
        .collect()
}

fn notes(trace: &Value) -> Vec<String> {
    trace["notes"].as_array().unwrap().iter().map(|n| n["what"].as_str().unwrap().to_owned()).collect()
}

/// Whole logs that are refused, and what is said.
#[test]
#[expect(clippy::too_many_lines, reason = "a table")]
fn refused_with_these_words() {
    let utf16 = |text: &str, big: bool| -> Vec<u8> {
        text.encode_utf16().flat_map(|u| if big { u.to_be_bytes() } else { u.to_le_bytes() }).collect()
    };
    let good = rows(30);
    let long_line = vec![b'a'; 200_000];
    let wide = (0..257).map(|i| format!("c{i}")).collect::<Vec<_>>().join(",");
    let long_name = format!("time_s,rpm,{}\n0,800,1\n", "x".repeat(129));
    let decimal_commas = "time_s,rpm,lambda\n0,00,800,0,90\n0,01,800,0,91\n0,02,800,0,91\n";
    let bars = "time_s;rpm,lambda\n0;800,0.9\n1;800,0.9\n";
    let all_ragged = format!("{HEADER}\n1,2\n3,4\n");
    for (what, bytes, said) in [
        (
            "one endless line",
            &long_line[..],
            "log.csv: line 1: longer than 65536 bytes; this is not a table of readings, or its line ends are lost",
        ),
        (
            "UTF-16, little-endian, marked",
            &[b"\xff\xfe", &utf16(&good, false)[..]].concat(),
            "log.csv: this is UTF-16 text, not a text table of readings; save it as UTF-8, or convert it: iconv -f UTF-16 -t UTF-8 LOG > NEW.csv",
        ),
        (
            "UTF-16, big-endian, marked",
            &[b"\xfe\xff", &utf16(&good, true)[..]].concat(),
            "log.csv: this is UTF-16 text, not a text table of readings; save it as UTF-8, or convert it: iconv -f UTF-16 -t UTF-8 LOG > NEW.csv",
        ),
        (
            "UTF-32, marked",
            b"\xff\xfe\0\0t\0\0\0i\0\0\0m\0\0\0e\0\0\0",
            "log.csv: this is UTF-32 text, not a text table of readings; save it as UTF-8, or convert it: iconv -f UTF-32 -t UTF-8 LOG > NEW.csv",
        ),
        (
            "UTF-16, little-endian, no mark",
            &utf16(&good, false),
            "log.csv: this is UTF-16 text (little-endian, without its mark) or a binary file, not a text table of readings; save it as UTF-8, or convert it: iconv -f UTF-16LE -t UTF-8 LOG > NEW.csv",
        ),
        (
            "UTF-16, big-endian, no mark",
            &utf16(&good, true),
            "log.csv: this is UTF-16 text (big-endian, without its mark) or a binary file, not a text table of readings; save it as UTF-8, or convert it: iconv -f UTF-16BE -t UTF-8 LOG > NEW.csv",
        ),
        (
            "binary",
            &b"\x01\0\0\0\x02\0\0\0\0\0\x03\0\0\0\0\0\0\x04\0\0"[..],
            "log.csv: this is a binary file, not a text table of readings; export the log as CSV (plain text, UTF-8)",
        ),
        (
            "a spreadsheet",
            b"PK\x03\x04\x14\0\x06\0\x08\0\0\0!\0b\xee",
            "log.csv: this is a spreadsheet or a zip archive, not a text table of readings; export the log as CSV (plain text, UTF-8)",
        ),
        (
            "an old spreadsheet",
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
            "log.csv: this is a spreadsheet in an old format, not a text table of readings; export the log as CSV (plain text, UTF-8)",
        ),
        (
            "gzip",
            b"\x1f\x8b\x08\0\0\0\0\0",
            "log.csv: this is a gzip archive, not a text table of readings; unpack it first: gunzip LOG.gz",
        ),
        (
            "xz",
            b"\xfd7zXZ\0\0\x04",
            "log.csv: this is an xz archive, not a text table of readings; unpack it first: unxz LOG.xz",
        ),
        (
            "a web page",
            b"\n  <!doctype html><title>404</title>",
            "log.csv: this is a web page, not a text table of readings; the download failed; fetch the log itself",
        ),
        (
            "a PDF",
            b"%PDF-1.7\n",
            "log.csv: this is a PDF, not a text table of readings; export the log as CSV (plain text, UTF-8)",
        ),
        ("nothing at all", b"", "log.csv: no rows of readings: the log is empty"),
        ("blank lines only", b"\n\n# a remark\n", "log.csv: no rows of readings: the log is empty"),
        (
            "a header and nothing under it",
            format!("{HEADER}\n").as_bytes(),
            "log.csv: no rows of readings: the log has a header and nothing under it",
        ),
        (
            "no header",
            b"0.00,800,42.0,0.5,0.90\n0.01,800,42.0,0.5,0.90\n",
            "log.csv: line 1: numbers where the names of the columns should be (\"0.00,800,42.0,0.5,0.90\"); write a first line such as time_s,rpm,map_kpa,tps_pct,lambda, or give a logger profile with header = false",
        ),
        (
            "no name that is known",
            b"Zeit,Drehzahl\n0,800\n",
            "log.csv: line 1: no column name is known here (found \"Zeit,Drehzahl\"); known are time_s, time_ms, time_min, rpm, map_kpa, map_inhg, vacuum_inhg, vacuum_kpa, tps_pct. Map its names in a logger profile; `leanbest trace --guess LOG` proposes one",
        ),
        (
            "one name twice",
            b"time_s,rpm,lambda,RPM\n0,800,0.9,801\n",
            "log.csv: line 1: columns 2 and 4 are both called \"rpm\"; rename one, or name one in a logger profile",
        ),
        (
            "no time",
            b"rpm,lambda\n800,0.9\n",
            "log.csv: line 1: there is no time column (found rpm, lambda); name it in a logger profile, or give the time between rows there (period = \"10 ms\")",
        ),
        (
            "no speed",
            b"time_s,lambda\n0,0.9\n",
            "log.csv: line 1: there is no engine speed column (found time_s, lambda); without it no regime can be told; map it in a logger profile",
        ),
        (
            "too many columns",
            format!("{wide}\n1\n").replacen("c0,c1", "time_s,rpm", 1).as_bytes(),
            "log.csv: line 1: 257 columns, more than the 256 that are read; is the separator right?",
        ),
        (
            "a name too long",
            long_name.as_bytes(),
            "log.csv: line 1, column 3: the name is longer than 128 characters; is this line the header, and are its quotes closed?",
        ),
        (
            "decimal commas between commas",
            decimal_commas.as_bytes(),
            "log.csv: line 2: 5 cells under 3 names: the comma is both separator and decimal point here; export with semicolon or tab between columns",
        ),
        (
            "two separators",
            bars.as_bytes(),
            "log.csv: the separator cannot be told: \"time_s;rpm,lambda\"; give it in a logger profile (delimiter = \";\")",
        ),
        (
            "every row ragged",
            all_ragged.as_bytes(),
            "log.csv: no rows of readings: 2 lines do not have as many columns as the header; is the separator right?",
        ),
    ] {
        assert_eq!(refused(bytes), said, "{what}");
    }
}

/// A line among good ones: it is set aside, and only it; its fault is told so.
#[test]
#[expect(clippy::too_many_lines, reason = "a table")]
fn a_bad_line_is_set_aside_and_told() {
    let good = read(rows(3500).as_bytes());
    let long = format!("1.005,{}", "9".repeat(70_000));
    let long_cell = format!("1.005,2000,50,20,0.9{}", "0".repeat(4_100));
    for (what, line, said) in [
        (
            "open quote",
            &b"1.005,2000,50,\"20,0.9"[..],
            "103:4 open-quote: expected a quote that closes on its line, found \"1.005,2000,50,\"20,0.9\"",
        ),
        (
            "NUL",
            b"1.005,2000,\0,20,0.9",
            "103 nul-byte: expected text without NUL bytes, found \"1.005,2000,\\u{0},20,0.9\"",
        ),
        (
            "no UTF-8 in a number",
            b"1.005,20\xff0,50,20,0.9",
            "103:2 not-a-number: expected a number for rpm, found \"20\\xFF0\"",
        ),
        (
            "decimal comma in quotes",
            b"1.005,\"2000,5\",50,20,0.9",
            "103:2 not-a-number: expected a number for rpm, found \"2000,5\"",
        ),
        (
            "thousands",
            b"1.005,2 000,50,20,0.9",
            "103:2 not-a-number: expected a number for rpm, found \"2 000\"",
        ),
        (
            "thousands, hard space",
            "1.005,2\u{a0}000,50,20,0.9".as_bytes(),
            "103:2 not-a-number: expected a number for rpm, found \"2\u{a0}000\"",
        ),
        (
            "full-width digits",
            "1.005,\u{ff12}000,50,20,0.9".as_bytes(),
            "103:2 not-a-number: expected a number for rpm, found \"\u{ff12}000\"",
        ),
        (
            "a unit in one cell",
            b"1.005,2000,50 kPa,20,0.9",
            "103:3 not-a-number: expected a number for map_kpa, found \"50 kPa\"",
        ),
        (
            "a ratio in one cell",
            b"1.005,2000,50,20,14.7:1",
            "103:5 not-a-number: expected a number for lambda, found \"14.7:1\"",
        ),
        (
            "hexadecimal",
            b"1.005,0x10,50,20,0.9",
            "103:2 not-a-number: expected a number for rpm, found \"0x10\"",
        ),
        (
            "underscores",
            b"1.005,2_000,50,20,0.9",
            "103:2 not-a-number: expected a number for rpm, found \"2_000\"",
        ),
        (
            "400 digits",
            &[b"1.005,", "9".repeat(400).as_bytes(), b",50,20,0.9"].concat(),
            &format!("103:2 not-a-number: expected a number for rpm, found \"{}…\"", "9".repeat(40)),
        ),
        ("too few columns", b"1.005,2000,50", "103 ragged: expected 5 columns, found 3 (\"1.005,2000,50\")"),
        (
            "too many columns",
            b"1.005,2000,50,20,0.9,1,2",
            "103 ragged: expected 5 columns, found 7 (\"1.005,2000,50,20,0.9,1,2\")",
        ),
        (
            "a line too long",
            long.as_bytes(),
            "103 long-line: expected a line of at most 65536 bytes, found a longer one",
        ),
        (
            "a cell too long",
            long_cell.as_bytes(),
            "103:5 long-cell: expected a cell of at most 4096 bytes, found 4103 bytes",
        ),
        ("no time", b",2000,50,20,0.9", "103:1 no-time: expected a time, found nothing"),
        (
            "time out of order",
            b"0.505,2000,50,20,0.9",
            "103:1 time-back: expected a time after 1.000, found 0.505 (two logs joined?)",
        ),
        (
            "a negative time later on",
            b"-5,2000,50,20,0.9",
            "103:1 time-back: expected a time after 1.000, found -5 (two logs joined?)",
        ),
        (
            "terminal escapes",
            b"1.005,\x1b]0;owned\x07,50,20,0.9",
            "103:2 not-a-number: expected a number for rpm, found \"\\u{1b}]0;owned\\u{7}\"",
        ),
        (
            "a formula",
            b"1.005,=cmd|'/c calc'!A0,50,20,0.9",
            "103:2 not-a-number: expected a number for rpm, found \"=cmd|'/c calc'!A0\"",
        ),
        (
            "mark-up",
            b"1.005,<script>alert(1)</script>,50,20,0.9",
            "103:2 not-a-number: expected a number for rpm, found \"<script>alert(1)</script>\"",
        ),
    ] {
        let trace = read(&with_line(line));
        assert_eq!(faults(&trace).join(" | "), said, "{what}");
        assert_eq!(trace["lines"]["quarantined"], 1, "{what}");
        for same in ["regimes", "stations", "kept", "dropped"] {
            assert_eq!(trace[same], good[same], "{what}: {same}");
        }
    }
}

/// Cells without a usable number: the cell is missing, the row stays.
#[test]
fn a_cell_without_a_number_is_missing_and_told() {
    for (cell, said) in [
        ("", ""),
        ("-", ""),
        ("#N/A", ""),
        ("NaN", "3302:5 not-finite: expected a finite number for lambda, found \"NaN\""),
        ("Infinity", "3302:5 not-finite: expected a finite number for lambda, found \"Infinity\""),
        ("1e309", "3302:5 not-finite: expected a finite number for lambda, found \"1e309\""),
        (
            "1e5000000000000",
            "3302:5 not-finite: expected a finite number for lambda, found \"1e5000000000000\"",
        ),
        ("1e308", "3302:5 out-of-range: expected lambda between 0 and 20, found \"1e308\""),
        ("-0.9", "3302:5 out-of-range: expected lambda between 0 and 20, found \"-0.9\""),
        ("1e-400", ""),
        ("+.9", ""),
        ("1.", ""),
        ("-0", ""),
    ] {
        let text = rows(3500).lines().enumerate().fold(String::new(), |mut text, (n, line)| {
            let line = if n == 3301 { format!("33.00,2000,50.0,20.0,{cell}") } else { line.to_owned() };
            let _ = writeln!(text, "{line}");
            text
        });
        let trace = read(text.as_bytes());
        let expected: Vec<String> = Some(said.to_owned()).filter(|s| !s.is_empty()).into_iter().collect();
        assert_eq!(faults(&trace), expected, "{cell}");
        assert_eq!((&trace["lines"]["quarantined"], &trace["rows"]), (&0.into(), &3500.into()), "{cell}");
    }
}

/// What is read as it is meant, and with which words.
#[test]
fn read_and_said() {
    let good = read(rows(3500).as_bytes());
    let same = |trace: &Value, what: &str| {
        for field in ["regimes", "stations", "kept", "rows"] {
            assert_eq!(trace[field], good[field], "{what}: {field}");
        }
    };
    let text = rows(3500);
    for (what, bytes) in [
        ("UTF-8 mark", format!("\u{feff}{text}")),
        ("CR LF", text.replace('\n', "\r\n")),
        ("lone CR", text.replace('\n', "\r")),
        ("mixed line ends", text.replacen('\n', "\r\n", 50)),
        ("semicolons and decimal commas", text.replace(',', ";").replace('.', ",")),
        ("tabs", text.replace(',', "\t")),
        ("bars", text.replace(',', "|")),
        (
            "quotes and spaces",
            text.lines()
                .map(|l| format!(" \"{}\" \n", l.replace(',', "\" , \"")))
                .collect::<String>()
                .replace("\" \n", "\"\n"),
        ),
        ("an empty name", text.lines().map(|l| format!("{l},\n")).collect()),
    ] {
        let trace = read(bytes.as_bytes());
        same(&trace, what);
        assert_eq!(faults(&trace), Vec::<String>::new(), "{what}");
    }
    // The header again: the logger started anew.
    let again = read(format!("{text}{text}").as_bytes());
    assert_eq!(
        faults(&again)[0],
        "3502 header-again: expected the header once only (the logger started again here)"
    );
    // A last line without its end.
    let torn = read(text.trim_end().as_bytes());
    assert_eq!(
        faults(&torn),
        ["3501 torn-end: expected a line end after the last line, found \"34.99,2004,50.0,20.0,0.906\""]
    );
    // A note over several lines, and one that holds what a page or a spreadsheet would obey.
    let noted: String = text
        .lines()
        .enumerate()
        .map(|(n, l)| match n {
            0 => format!("{l},note\n"),
            60 => format!("{l},\"leaned\nit out, \"\"a lot\"\"\"\n"),
            70 => format!("{l},=1+1 <b>\u{202e}\u{1b}[2J\n"),
            _ => format!("{l},\n"),
        })
        .collect();
    let trace = read(noted.as_bytes());
    same(&trace, "notes");
    assert_eq!(
        faults(&trace),
        ["61 joined: expected a record on one line (this one goes over several; it was joined)"]
    );
    assert!(notes(&trace).contains(&"columns not used: note".to_owned()));
    // A unit in every cell of a column.
    let units: String =
        text.lines()
            .enumerate()
            .map(|(n, l)| {
                if n == 0 {
                    format!("{l}\n")
                } else {
                    format!("{}:1\n", l.replacen(",50.0,", ",50.0 kPa,", 1))
                }
            })
            .collect();
    let ratio = units.replacen("lambda", "afr", 1);
    let trace = read(ratio.replace(",0.9", ",13.23").as_bytes());
    assert_eq!(trace["lines"]["quarantined"], 0);
    assert!(
        notes(&trace)
            .contains(&"every cell of column 3 (map_kpa) ends in its unit, kPa; it was taken off".to_owned()),
        "{:?}",
        notes(&trace)
    );
    assert!(
        notes(&trace)
            .contains(&"every cell of column 5 (afr) ends in its unit, :1; it was taken off".to_owned())
    );
    // Many rows set aside: said, and nothing that follows from the others is touched.
    let many: String = text
        .lines()
        .enumerate()
        .map(|(n, l)| if n % 10 == 5 { format!("{l}\n1,2\n") } else { format!("{l}\n") })
        .collect();
    let trace = read(many.as_bytes());
    same(
        &{
            let mut t = trace.clone();
            t["rows"] = good["rows"].clone();
            t
        },
        "ragged",
    );
    assert!(
        notes(&trace).contains(
            &"350 of 3850 rows were set aside: is the separator right, is the file whole?".to_owned()
        ),
        "{:?}",
        notes(&trace)
    );
}

#[test]
fn latin_1_and_windows_1252() {
    let text = rows(3500).lines().enumerate().fold(String::new(), |mut all, (n, l)| {
        let more = if n == 0 { "K\u{fc}hlwasser (\u{b0}C),coolant_c (\u{b0}C)" } else { "80,80" };
        let _ = writeln!(all, "{l},{more}");
        all
    });
    let bytes: Vec<u8> = text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    let plain = read(text.as_bytes());
    let guessed = read(&bytes);
    assert_eq!(guessed["regimes"], plain["regimes"]);
    assert!(
        notes(&guessed).contains(&"the header is not UTF-8 (\"time_s,rpm,map_kpa,tps_pct,lambda,K\\xFChlwa…\"); it was read as Windows-1252, numbers are not affected. Say which it is with --encoding latin-1 or windows-1252, or save the log as UTF-8".to_owned()),
        "{:#?}",
        notes(&guessed)
    );
    for name in ["latin-1", "ISO-8859-1", "windows-1252", "cp1252"] {
        let told = read_with(&bytes, &["--encoding", name]);
        assert_eq!(told["notes"], plain["notes"], "{name}");
        assert_eq!(told["fault_counts"], plain["fault_counts"], "{name}");
    }
    // A note in Latin-1 under a header in ASCII is not looked at: nothing of it is used.
    let noted: Vec<u8> = rows(3500)
        .lines()
        .enumerate()
        .flat_map(|(n, l)| match n {
            0 => format!("{l},note\n").into_bytes(),
            200 => [l.as_bytes(), b",caf\xe9\n"].concat(),
            _ => format!("{l},\n").into_bytes(),
        })
        .collect();
    assert_eq!(faults(&read(&noted)), Vec::<String>::new());
    let place = Place::new();
    place.write(&bytes);
    for (name, said) in [
        (
            "utf-16",
            "a log of two or four bytes a character is not read; convert it: iconv -f UTF-16 -t UTF-8 LOG > NEW.csv",
        ),
        ("koi8-r", "known are utf-8, latin-1 and windows-1252"),
    ] {
        let out = place.run(&["trace", "log.csv", "--encoding", name]);
        assert_eq!(out.status.code(), Some(2));
        let err = String::from_utf8_lossy(&out.stderr).into_owned();
        assert!(err.contains(said), "{err}");
    }
}

#[test]
fn clocks() {
    let timed = |time: &dyn Fn(u32) -> f64| {
        (0..3500).fold(format!("{HEADER}\n"), |mut text, i| {
            let _ = writeln!(text, "{:.3}{}", time(i), &plain(i)[plain(i).find(',').unwrap()..]);
            text
        })
    };
    let straight = read(rows(3500).as_bytes());
    // Before a trigger.
    let before = read(timed(&|i| f64::from(i) / 100.0 - 5.0).as_bytes());
    assert_eq!((faults(&before), &before["kept"]), (vec![], &straight["kept"]));
    // Sixteen bits of milliseconds, and thirty-two.
    for (modulus, said) in [
        (65.536, "found 0.004: a clock that wraps at 65.536 s; it was unwrapped"),
        (4_294_967.296, "found 0.004: a clock that wraps at 4294967.296 s; it was unwrapped"),
    ] {
        let wrapped = read(timed(&|i| (modulus - 10.0 + 0.004 + f64::from(i) / 100.0) % modulus).as_bytes());
        assert_eq!(faults(&wrapped), [format!("1002:1 time-wrap: expected time to run on, {said}")]);
        assert_eq!(wrapped["kept"], straight["kept"], "{modulus}");
    }
    // A clock that stands: every time twice.
    let twice = read(timed(&|i| f64::from(i / 2) / 50.0).as_bytes());
    assert_eq!(twice["fault_counts"]["time-twice"], 1750);
    assert_eq!(faults(&twice)[0], "3:1 time-twice: expected a time later than the row before, found 0");
    // A hole: never gone over.
    let hole = read(timed(&|i| f64::from(i) / 100.0 + if i < 3200 { 0.0 } else { 100.0 }).as_bytes());
    assert!((hole["seconds"].as_f64().unwrap() - 34.98).abs() < 0.1, "{}", hole["seconds"]);
    assert!(hole["dropped"]["gap"].as_u64().unwrap() > 0);
    // Two logs joined: the second is put behind the first.
    let joined = read(
        format!("{}{}", timed(&|i| 100.0 + f64::from(i) / 100.0), rows(500).replacen(HEADER, "", 1))
            .as_bytes(),
    );
    assert_eq!(
        faults(&joined),
        ["3503:1 time-back: expected a time after 134.990, found 0 (two logs joined?)"]
    );
}

#[test]
fn what_is_no_file_is_told_in_words() {
    let place = Place::new();
    place.write(rows(30).as_bytes());
    std::os::unix::fs::symlink("loop", place.0.path().join("loop")).unwrap();
    nix::unistd::mkfifo(&place.0.path().join("pipe"), nix::sys::stat::Mode::S_IRWXU).unwrap();
    for (named, code, said) in [
        (".", 2, ". is a folder; give a file, or - to read standard input\n"),
        ("pipe", 2, "pipe is a device or a pipe; give a file, or - to read standard input\n"),
        ("/dev/zero", 2, "/dev/zero is a device or a pipe; give a file, or - to read standard input\n"),
        ("loop", 3, "could not read loop: Too many levels of symbolic links (os error 40)\n"),
        ("none.csv", 3, "could not read none.csv: No such file or directory (os error 2)\n"),
    ] {
        let out = place.run(&["trace", named]);
        assert_eq!((out.status.code(), String::from_utf8_lossy(&out.stderr).as_ref()), (Some(code), said));
    }
}

/// Gives out a text in small pieces, interrupted now and then, and breaks or ends at its end.
struct Stick {
    text: Vec<u8>,
    at: usize,
    piece: usize,
    breaks: bool,
    turn: u32,
}

impl Read for Stick {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.turn += 1;
        if self.turn.is_multiple_of(3) {
            return Err(io::ErrorKind::Interrupted.into());
        }
        if self.at == self.text.len() && self.breaks {
            return Err(io::Error::other("input/output error"));
        }
        let n = self.piece.min(buffer.len()).min(self.text.len() - self.at);
        buffer[..n].copy_from_slice(&self.text[self.at..self.at + n]);
        self.at += n;
        Ok(n)
    }
}

#[test]
fn a_stick_pulled_half_way_and_one_read_byte_by_byte() {
    let ctx = || TraceContext::bare(&LoggerProfile::standard());
    let stick = |piece, breaks| Stick { text: rows(200).into_bytes(), at: 0, piece, breaks, turn: 0 };
    let name = Path::new("log.csv");
    let whole = read_stream(stick(1 << 16, false), name, ctx()).unwrap();
    assert_eq!(read_stream(stick(1, false), name, ctx()).unwrap(), whole);
    let broken = read_stream(stick(100, true), name, ctx()).unwrap_err();
    assert_eq!(broken.to_string(), "log.csv, line 201: reading stopped here: input/output error");
    assert!(matches!(broken, LogError::Broken { line: 201, .. }));
}

#[test]
fn a_file_that_shrinks_while_it_is_read() {
    use leanbest::bench::log_file::read_log;
    // Large enough to be read in chunks; what is cut off is far behind the first.
    let mut text = rows(0);
    (0..400_000).for_each(|i| {
        let _ = writeln!(text, "{}", plain(i));
    });
    let place = Place::new();
    let path = place.write(text.as_bytes());
    let whole = read_log(&path, TraceContext::bare(&LoggerProfile::standard())).unwrap();
    let file = std::fs::OpenOptions::new().write(true).open(&path).unwrap();
    let cutter = std::thread::spawn(move || {
        std::thread::sleep(std::time::Duration::from_millis(30));
        file.set_len(1 << 20).unwrap();
    });
    let read = read_log(&path, TraceContext::bare(&LoggerProfile::standard()));
    cutter.join().unwrap();
    // Either it was quicker than the cut, or it says that it was cut: never a short log taken for a whole one.
    match read {
        Ok(summary) => assert_eq!(summary, whole),
        Err(error) => {
            assert!(error.to_string().ends_with("the file became shorter while it was read"), "{error}");
        }
    }
}

/// Each line with a quote is looked at on its own, with at most sixteen after it.
#[test]
fn quotes_without_end_cost_no_more_than_their_lines() {
    let lines = 3_000;
    let text = format!("{HEADER}\n{}\n{}", plain(0), "\"\"\",\"\n".repeat(lines));
    let ctx = TraceContext::bare(&LoggerProfile::standard());
    let read = read_stream(text.as_bytes(), Path::new("log.csv"), ctx).unwrap();
    assert_eq!((read.rows, read.lines.quarantined), (1 + lines as u64, lines as u64));
}
