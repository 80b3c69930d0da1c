//! Logs through the library and the whole program: every malformation has its stated, counted behaviour.

#![cfg(test)]

use leanbest::bench::log_file::read_log;
use leanbest::setup::Regime;
use leanbest::trace::{
    Analyzer, Dropped, FaultKind, LoggerProfile, Rows, TraceContext, TraceError, TraceSummary,
};
use proptest::prelude::*;
use std::fmt::Write as _;
use std::io::Write as _;
use std::process::{Command, Stdio};

const HEADER: &str = "time_s,rpm,map_kpa,tps_pct,lambda\n";

fn ctx() -> TraceContext {
    TraceContext::bare(&LoggerProfile::standard())
}

fn analyzed(text: &[u8]) -> Result<TraceSummary, TraceError> {
    let mut analyzer = Analyzer::new(ctx());
    analyzer.push(text);
    analyzer.finish()
}

fn good(text: &str) -> TraceSummary {
    let summary = analyzed(text.as_bytes()).unwrap();
    accounts(&summary);
    summary
}

/// Every line and every row is accounted for.
fn accounts(s: &TraceSummary) {
    let l = &s.lines;
    let all = l.header
        + l.units
        + l.preamble
        + l.comments
        + l.blank
        + l.headers_again
        + l.continued
        + l.quarantined
        + l.used;
    assert_eq!(l.lines, all, "{l:?}");
    assert_eq!(s.rows, l.used + l.quarantined);
    assert_eq!(l.used, s.kept + s.dropped.values().sum::<u64>(), "{:?}", s.dropped);
    let by_regime: u64 = s.regimes.iter().map(|r| r.samples).sum();
    assert_eq!(s.kept, by_regime);
    let seconds: f64 = s.regimes.iter().map(|r| r.seconds.as_s()).sum::<f64>() + s.stopped_seconds.as_s();
    assert!((seconds - s.seconds.as_s()).abs() < 0.2, "{seconds} {:?}", s.seconds);
}

fn rows(n: u32, row: impl Fn(u32) -> String) -> String {
    (0..n).fold(HEADER.to_owned(), |mut text, i| {
        let _ = writeln!(text, "{}", row(i));
        text
    })
}

fn plain(i: u32) -> String {
    format!(
        "{:.2},{},{:.1},20.0,{:.3}",
        f64::from(i) / 100.0,
        2000 + i % 5,
        50.0,
        0.9 + f64::from(i % 7) / 1000.0
    )
}

/// A drive: idle, tip-in, cruise, full throttle, overrun, with noise that follows from the row's number.
fn drive(rows: u32) -> String {
    let mut text = HEADER.to_owned();
    for i in 0..rows {
        let t = f64::from(i) / 50.0;
        let phase = t % 60.0;
        let noise = f64::from(i.wrapping_mul(2_654_435_761) >> 20) / 4096.0 - 0.5;
        let (rpm, map, tps, lambda) = match phase {
            p if p < 15.0 => (750.0, 42.0, 0.5, 0.90),
            p if p < 16.0 => {
                (750.0 + 1250.0 * (p - 15.0), 42.0 + 20.0 * (p - 15.0), 0.5 + 25.0 * (p - 15.0), 0.98)
            }
            p if p < 40.0 => (2000.0, 62.0, 25.5, 0.95),
            p if p < 47.0 => (2000.0 + 300.0 * (p - 40.0), 98.0, 98.0, 0.84),
            p if p < 52.0 => (2800.0 - 350.0 * (p - 47.0), 25.0, 0.5, 1.1),
            _ => (750.0, 42.0, 0.5, 0.90),
        };
        let _ = writeln!(
            text,
            "{t:.3},{:.0},{:.2},{tps:.1},{:.3}",
            rpm + 6.0 * noise,
            map + noise,
            lambda + 0.02 * noise
        );
    }
    text
}

#[test]
fn the_regimes_of_a_drive() {
    let s = good(&drive(50 * 60 * 10));
    let median =
        |r| s.regime(r).and_then(|r: &leanbest::trace::RegimeSummary| r.lambda).map(|l| l.median.as_ratio());
    assert!((median(Regime::Idle).unwrap() - 0.90).abs() < 0.003, "{:?}", s.regimes);
    assert!((median(Regime::Cruise).unwrap() - 0.95).abs() < 0.003);
    assert!((median(Regime::FullThrottle).unwrap() - 0.84).abs() < 0.003);
    assert_eq!(s.pull_count, 10);
    assert_eq!(s.regime(Regime::Overrun).unwrap().visits, 10);
    assert!(s.stations.iter().any(|x| x.enough && x.regime == Regime::Cruise));
    assert!(s.dropped.contains_key(&Dropped::Overrun) && s.dropped.contains_key(&Dropped::SensorWarmUp));
}

#[test]
fn the_same_summary_whichever_way_the_bytes_are_cut() {
    let text = format!(
        "# made for a test\n{}\r\n\n\"note, with\n1,2,3,4,5\n{}",
        drive(900),
        "18.1,800,40,1,x\n18.2,800,40,1,0.9"
    );
    let whole = analyzed(text.as_bytes()).unwrap();
    accounts(&whole);
    for size in [1, 7, 64, 4097] {
        let mut analyzer = Analyzer::new(ctx());
        text.as_bytes().chunks(size).for_each(|piece| analyzer.push(piece));
        assert_eq!(analyzer.finish().unwrap(), whole, "pieces of {size}");
    }
    let short = &text.as_bytes()[..500];
    let whole = analyzed(short).unwrap();
    for cut in 0..short.len() {
        let mut analyzer = Analyzer::new(ctx());
        analyzer.push(&short[..cut]);
        analyzer.push(&short[cut..]);
        assert_eq!(analyzer.finish().unwrap(), whole, "cut at {cut}");
    }
}

/// What the fuzzer found worth keeping: each the same summary, or a refusal, whichever way its bytes come.
#[test]
fn odd_logs_found_before_are_the_same_whichever_way_they_are_cut() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fuzz/corpus/log");
    let mut seen = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let bytes = std::fs::read(&path).unwrap();
        seen += 1;
        cut_anywhere(&bytes, &path.display().to_string());
    }
    assert!(seen >= 4, "{seen}");
}

/// Cuts into two all along it, and many sizes of pieces.
fn cut_anywhere(bytes: &[u8], what: &str) {
    let whole = analyzed(bytes);
    for cut in (0..bytes.len()).step_by(1 + bytes.len() / 60) {
        let mut analyzer = Analyzer::new(ctx());
        analyzer.push(&bytes[..cut]);
        analyzer.push(&bytes[cut..]);
        assert_eq!(analyzer.finish().ok(), whole.clone().ok(), "{what} cut at {cut}");
    }
    for size in [1, 2, 3, 5, 8, 13, 16, 17, 21, 34] {
        let mut analyzer = Analyzer::new(ctx());
        bytes.chunks(size).for_each(|piece| analyzer.push(piece));
        assert_eq!(analyzer.finish().ok(), whole.clone().ok(), "{what} in pieces of {size}");
    }
}

#[test]
fn nuls_near_the_start_are_weighed_the_same_however_they_come() {
    for nuls in [1, 4, 9, 70] {
        let text = format!("{HEADER}{}", "\0".repeat(nuls));
        for lines in [0, 3, 25] {
            let rows = (0..lines).map(|i| format!("\n{}", plain(i))).collect::<String>();
            let text = format!("{text}{rows}\n");
            cut_anywhere(text.as_bytes(), &format!("{nuls} NULs, {lines} lines"));
        }
    }
    // Carriage returns first, a line feed much later.
    let returns = rows(300, plain).replace('\n', "\r") + "\n";
    let whole = analyzed(returns.as_bytes());
    let mut analyzer = Analyzer::new(ctx());
    returns.as_bytes().chunks(1000).for_each(|piece| analyzer.push(piece));
    assert_eq!(analyzer.finish(), whole);
}

/// A line is read by the quick way or the slow one depending on its neighbours: nobody must be able to tell.
#[test]
fn odd_lines_are_read_the_same_among_many_as_alone() {
    let odd = [
        "note,33.00,2000,50.0,20.0,0.9\u{b0}",
        "\u{b0}C,33.00,2000,50.0,20.0,0.900",
        "# note,33.00,2000,50.0,20.0,0.900",
        " % note,33.00,2000,50.0,20.0,0.900",
        "// note,33.00,2000,50.0,20.0,0.900",
        "a\rb,33.00,2000,50.0,20.0,0.900",
        "note,33.00,2000,50.0,20.0,0.900\r",
        "note,33.00,2000,50.0,20.0,0.900,",
        "note,33.00,2000,50.0,20.0,0.900,\r",
        "note,33.00,2000,50.0,20.0,0.900,7",
        "note,33.00,2000,50.0,20.0",
        "\"a,b\",33.00,2000,50.0,20.0,0.900",
        "\"a\nb\",33.00,2000,50.0,20.0,0.900",
        "a\0b,33.00,2000,50.0,20.0,0.900",
        "note,33.00,2000,50.0,20.0,",
        "note,33.00,2000,50.0,20.0,\r",
        "note,33.00,2000,50.0,20.0,-0.900",
        "note,33.00,2000,50.0,-1.25,0.900",
        "note,33.00,+2000,50.0,20.0,0.900",
        "note,33.00,2e3,50.0,20.0,0.900",
        "note,33.00,2000.0000000001,50,20,.9",
        "note,33.00,123456789012345678,50,20,.9",
        "note, 33.00 ,2000,50.0,20.0,0.900",
        "note,33.00,2000,50.0,20.0,NaN",
        ",,,,,",
        ",33.00,2000,50.0,20.0,0.900",
        "note,33.00,2000,5 0.0,20.0,0.900",
        "note,33.00,2000,50:0,20.0,0.900",
        "note,33.00,2000,50.0,20.0,0.9.0",
        "note,33.00,99999,50.0,20.0,0.900",
        "note,time_s,rpm,map_kpa,tps_pct,lambda",
        "note,time_s,rpm,map_kpa,tps_pct,lambda\r",
        "",
        "\r",
        "   ",
    ];
    for line in odd {
        let noted = |i: u32| format!("x,{}", plain(i));
        let text = rows(700, |i| if i == 400 { line.replace("33.00", "4.00") } else { noted(i) }).replacen(
            "time_s",
            "note,time_s",
            1,
        );
        let mut bytes = text.into_bytes();
        for latin in [false, true] {
            if latin {
                bytes.retain(|b| *b != 0xc2);
            }
            let whole = analyzed(&bytes).unwrap();
            accounts(&whole);
            for size in [1, 50, 9001] {
                let mut analyzer = Analyzer::new(ctx());
                bytes.chunks(size).for_each(|piece| analyzer.push(piece));
                assert_eq!(analyzer.finish().unwrap(), whole, "{line:?} in pieces of {size}");
            }
            if !line.contains('\u{b0}') {
                break;
            }
        }
    }
}

#[test]
fn read_apart_and_taken_in_order_is_the_same() {
    let text = drive(4000);
    let whole = analyzed(text.as_bytes()).unwrap();
    let bytes = text.as_bytes();
    let mut analyzer = Analyzer::new(ctx());
    analyzer.push(&bytes[..3000]);
    let shape = analyzer.shape().unwrap();
    let mut parts = Rows::default();
    for chunk in bytes[3000..].chunks(2777) {
        let begins = chunk.iter().position(|b| *b == shape.line_end()).map_or(chunk.len(), |n| n + 1);
        let used = shape.read(&chunk[begins..], &mut parts);
        analyzer.push(&chunk[..begins]);
        if analyzer.take(&parts) {
            analyzer.push(&chunk[begins + used..]);
        } else {
            analyzer.push(&chunk[begins..]);
        }
    }
    assert_eq!(analyzer.finish().unwrap(), whole);
}

#[test]
fn a_file_read_on_every_core_is_the_same() {
    let text = drive(90_000);
    assert!(text.len() > 2 << 20);
    let whole = analyzed(text.as_bytes()).unwrap();
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(text.as_bytes()).unwrap();
    assert_eq!(read_log(file.path(), ctx()).unwrap(), whole);
}

#[test]
fn separators_decimal_commas_marks_and_line_ends() {
    let text = rows(3500, plain);
    let reference = good(&text);
    let semicolon = text.replace(',', ";");
    for (what, other) in [
        ("semicolon", semicolon.clone()),
        ("tab", text.replace(',', "\t")),
        ("bar", text.replace(',', "|")),
        ("decimal comma", semicolon.replace('.', ",")),
        ("BOM", format!("\u{feff}{text}")),
        ("CRLF", text.replace('\n', "\r\n")),
        ("CR", text.replace('\n', "\r")),
        ("quotes", text.lines().map(|l| format!("\"{}\"\n", l.replace(',', "\",\""))).collect()),
        ("spaces", text.replace(',', " , ")),
    ] {
        let s = good(&other);
        assert_eq!(
            (s.rows, s.kept, &s.regimes),
            (reference.rows, reference.kept, &reference.regimes),
            "{what}"
        );
    }
}

#[test]
fn what_is_not_text_is_refused_with_a_hint() {
    let utf16: Vec<u8> = HEADER.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let with_mark = [b"\xff\xfe".to_vec(), utf16.clone()].concat();
    for bytes in [
        with_mark,
        utf16,
        b"PK\x03\x04aaaaaaaaaaaaaaaa".to_vec(),
        b"\x1f\x8b\x08".to_vec(),
        b"<!DOCTYPE html>".to_vec(),
    ] {
        let error = analyzed(&bytes).unwrap_err();
        assert!(matches!(error, TraceError::NotText { .. }), "{error}");
    }
    assert!(analyzed(b"\xff\xfea\0").unwrap_err().to_string().contains("iconv"));
}

#[test]
fn headers() {
    let no_rows = analyzed(HEADER.as_bytes()).unwrap_err();
    assert!(matches!(no_rows, TraceError::NoRows { .. }));
    assert!(matches!(analyzed(b"").unwrap_err(), TraceError::NoRows { .. }));
    let unknown = analyzed(b"foo,bar\n1,2\n").unwrap_err().to_string();
    assert!(unknown.contains("--guess") && unknown.contains("line 1"), "{unknown}");
    let twice = analyzed(b"time_s,rpm,lambda,rpm\n0,1,2,3\n").unwrap_err();
    assert_eq!(twice, TraceError::TwoColumns { line: 1, name: "rpm".to_owned(), first: 2, second: 4 });
    assert!(matches!(analyzed(b"time_s,lambda\n0,0.9\n").unwrap_err(), TraceError::NoColumn { .. }));
    assert!(matches!(analyzed(b"rpm,lambda\n800,0.9\n").unwrap_err(), TraceError::NoColumn { .. }));
    let commas = "time_s,rpm,lambda\n0,00,800,0,90\n0,01,800,0,91\n0,02,800,0,91\n";
    assert_eq!(
        analyzed(commas.as_bytes()).unwrap_err(),
        TraceError::TwoCommas { line: 2, cells: 5, names: 3 }
    );
    let late = good(&format!("Logger 7\nmade on a boat\n\n# remark\n{}", rows(50, plain)));
    assert_eq!((late.lines.preamble, late.lines.comments, late.lines.blank, late.rows), (2, 1, 1, 50));
    let units = good(&rows(50, plain).replacen('\n', "\ns,1/min,kPa,%,lambda\n", 1));
    assert_eq!((units.lines.units, units.rows), (1, 50));
    let again = good(&format!("{}{}", rows(50, plain), rows(50, |i| plain(i + 50))));
    assert_eq!(
        (again.lines.headers_again, again.rows, again.fault_counts[&FaultKind::HeaderAgain]),
        (1, 100, 1)
    );
    let unused = good(&rows(50, |i| format!("{},7", plain(i))).replacen('\n', ",marker\n", 1));
    assert!(unused.notes.iter().any(|n| n.what.contains("marker")));
}

#[test]
fn units_in_the_units_row_or_in_brackets_count() {
    let text = "time_s,rpm,map_kpa,tps_pct,lambda\nms,rpm,inHg,%,-\n".to_owned()
        + &(0..300).map(|i| format!("{},800,12.5,0.5,0.9{}\n", i * 10, i % 10)).collect::<String>();
    let s = good(&text);
    assert!((s.seconds.as_s() - 2.99).abs() < 0.02, "{:?}", s.seconds);
    let bracket = text.replacen(
        "time_s,rpm,map_kpa,tps_pct,lambda\nms,rpm,inHg,%,-\n",
        "time_s (ms),rpm,map_kpa [inHg],tps_pct,lambda\n",
        1,
    );
    assert_eq!(good(&bracket).seconds, s.seconds);
}

/// One bad line among good ones: the fault, its kind and place; everything else is as without it.
#[test]
fn each_bad_line_costs_only_itself() {
    let base = rows(3500, plain);
    let reference = good(&base);
    let long = format!("1.005,{}", "9".repeat(70_000));
    let cases: [(&str, &str, FaultKind, u32); 9] = [
        ("word", "1.005,abc,50,20,0.9", FaultKind::NotANumber, 2),
        ("hexadecimal", "1.005,0x10,50,20,0.9", FaultKind::NotANumber, 2),
        ("unit in the cell", "1.005,2000,50 kPa,20,0.9", FaultKind::NotANumber, 3),
        ("not UTF-8 is read as text", "1.005,\u{fffd},50,20,0.9", FaultKind::NotANumber, 2),
        ("short", "1.005,2000,50", FaultKind::Ragged, 0),
        ("wide", "1.005,2000,50,20,0.9,1,2", FaultKind::Ragged, 0),
        ("open quote", "1.005,2000,50,\"20,0.9", FaultKind::OpenQuote, 4),
        ("NUL", "1.005,2000,\0,20,0.9", FaultKind::NulByte, 0),
        ("long", &long, FaultKind::LongLine, 0),
    ];
    for (what, bad, kind, column) in cases {
        let mut lines: Vec<&str> = base.lines().collect();
        lines.insert(102, bad);
        let s = good(&(lines.join("\n") + "\n"));
        assert_eq!(s.lines.quarantined, 1, "{what}");
        assert_eq!(s.fault_counts.get(&kind), Some(&1), "{what}: {:?}", s.fault_counts);
        let fault = s.faults.iter().find(|f| f.kind == kind).unwrap();
        assert_eq!((fault.line, fault.column), (103, column), "{what}");
        assert!(!fault.expected.is_empty());
        assert_eq!(
            (&s.regimes, &s.stations, s.kept, &s.dropped),
            (&reference.regimes, &reference.stations, reference.kept, &reference.dropped),
            "{what}"
        );
    }
}

#[test]
fn cells_without_a_usable_number_are_missing_and_counted() {
    let cell = |text: &str| {
        good(&rows(3500, |i| if i == 3300 { format!("33.00,2000,50.0,20.0,{text}") } else { plain(i) }))
    };
    for (text, kind) in [
        ("", FaultKind::Missing),
        ("-", FaultKind::Missing),
        ("N/A", FaultKind::Missing),
        ("NaN", FaultKind::NotFinite),
        ("inf", FaultKind::NotFinite),
        ("1e309", FaultKind::NotFinite),
        ("-5", FaultKind::OutOfRange),
        ("1e30", FaultKind::OutOfRange),
    ] {
        let s = cell(text);
        assert_eq!(
            (s.lines.quarantined, s.fault_counts.get(&kind)),
            (0, Some(&1)),
            "{text}: {:?}",
            s.fault_counts
        );
    }
    assert_eq!(cell("").dropped.get(&Dropped::NoLambda), Some(&1));
    assert_eq!(cell("2.000").dropped.get(&Dropped::SensorRange), Some(&1));
    let time = good(&rows(400, |i| if i == 200 { ",2000,50.0,20.0,0.9".to_owned() } else { plain(i) }));
    assert_eq!((time.lines.quarantined, time.fault_counts[&FaultKind::NoTime]), (1, 1));
}

#[test]
fn a_note_in_quotes_may_go_over_lines_and_a_lost_quote_costs_one_row() {
    let noted = |note: &str| {
        rows(100, |i| format!("{},{}", plain(i), if i == 50 { note } else { "" }))
            .replacen('\n', ",note\n", 1)
    };
    let joined = good(&noted("\"leaned\nit out, \"\"a lot\"\"\n\""));
    assert_eq!(
        (joined.rows, joined.lines.continued, joined.lines.quarantined),
        (100, 2, 0),
        "{:?}",
        joined.faults
    );
    let lost = good(&noted("\"never closed"));
    assert_eq!((lost.rows, lost.lines.quarantined, lost.fault_counts[&FaultKind::OpenQuote]), (100, 1, 1));
    let two = good(
        &rows(100, |i| {
            format!(
                "{},{}",
                plain(i),
                match i {
                    50 => "\"lost",
                    53 => "\"kept\"",
                    _ => "",
                }
            )
        })
        .replacen('\n', ",note\n", 1),
    );
    assert_eq!(two.lines.quarantined, 1);
}

#[test]
fn clocks_that_go_back_wrap_or_stand() {
    let wrapped = good(&rows(2000, |i| {
        plain(i).replacen(
            &format!("{:.2}", f64::from(i) / 100.0),
            &format!("{:.2}", (60.0 + f64::from(i) / 100.0) % 65.536),
            1,
        )
    }));
    assert_eq!((wrapped.lines.quarantined, wrapped.fault_counts[&FaultKind::TimeWrap]), (0, 1));
    assert!((wrapped.seconds.as_s() - 19.99).abs() < 0.05, "{:?}", wrapped.seconds);
    let joined = good(&format!("{}{}", rows(500, plain), rows(500, plain).replacen(HEADER, "", 1)));
    assert_eq!((joined.rows, joined.fault_counts[&FaultKind::TimeBack]), (1000, 1));
    let twice = good(&rows(400, |i| plain(i / 2)));
    assert_eq!((twice.lines.quarantined, twice.fault_counts[&FaultKind::TimeTwice]), (0, 200));
}

#[test]
fn a_line_without_end_is_refused_at_once_and_in_little_memory() {
    let mut analyzer = Analyzer::new(ctx());
    let piece = vec![b'a'; 1 << 16];
    let mut pushed = 0;
    while analyzer.failed().is_none() && pushed < 100 {
        analyzer.push(&piece);
        pushed += 1;
    }
    assert!(pushed <= 2, "{pushed}");
    assert!(analyzer.finish().unwrap_err().to_string().contains("65536 bytes"));
}

#[test]
fn summaries_written_and_read_back_are_the_same() {
    let s = good(&drive(6000));
    let text = serde_json::to_string(&s).unwrap();
    assert_eq!(serde_json::from_str::<TraceSummary>(&text).unwrap(), s);
}

#[test]
fn adding_summaries_is_the_same_in_any_order_and_grouping() {
    let parts: Vec<TraceSummary> = [3000, 4500, 2000].map(|n| good(&drive(n))).into();
    let [a, b, c] = &parts[..] else { panic!() };
    let left = a.clone().merge(b).merge(c);
    let right = a.clone().merge(&b.clone().merge(c));
    let turned = c.clone().merge(a).merge(b);
    assert_eq!(left, right);
    assert_eq!(left, turned);
    assert_eq!(a.clone().merge(&TraceSummary::empty()).regimes, a.regimes);
    assert_eq!(left.rows, a.rows + b.rows + c.rows);
    accounts(&left);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn no_bytes_panic_and_every_line_is_accounted_for(
        bytes in proptest::collection::vec(prop_oneof![Just(b','), Just(b'\n'), Just(b'"'), Just(b'.'), Just(b'-'), 0u8..=255, b'0'..=b'9'], 0..600),
        cut in 0usize..600,
    ) {
        let text = [HEADER.as_bytes(), b"0,800,40,1,0.9\n", &bytes].concat();
        let whole = analyzed(&text);
        if let Ok(s) = &whole {
            accounts(s);
        }
        let cut = cut.min(text.len());
        let mut analyzer = Analyzer::new(ctx());
        analyzer.push(&text[..cut]);
        analyzer.push(&text[cut..]);
        prop_assert_eq!(analyzer.finish(), whole);
    }

    #[test]
    fn stations_have_the_medians_of_their_sorted_values(seed in any::<u32>(), wide in 2u32..120) {
        let value = |i: u32| 0.850 + f64::from((i.wrapping_mul(seed | 1) >> 7) % wide) / 1000.0;
        let text = rows(4000, |i| format!("{:.2},2000,50.0,20.0,{:.3}", f64::from(i) / 100.0, value(i)));
        let s = good(&text);
        prop_assert_eq!(s.stations.len(), 1);
        // Held still throughout: kept are the rows after the sensor's warm-up whose lambda came before the end.
        let late = s.delay.at_cruise.as_s();
        let delay = f64::from((s.kept as u32).max(1));
        let first = 3000u32;
        let lag = 4000 - first - s.kept as u32;
        let mut values: Vec<f64> = (first + lag..4000).map(value).collect();
        prop_assert!(f64::from(lag) / 100.0 <= late + 0.2 && delay > 0.0);
        let spread = s.stations[0].lambda;
        for (q, got) in [(0.5, spread.median), (0.1, spread.p10), (0.9, spread.p90)] {
            let sorted = leanbest::numeric::robust::quantile(&mut values, q).unwrap();
            prop_assert!((got.as_ratio() - sorted).abs() < 1e-9, "{q}: {got:?} {sorted}");
        }
        prop_assert_eq!(spread.count, values.len() as u64);
    }
}

fn program(args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_leanbest"));
    command.args(args).env_remove("LEANBEST_UNITS").env_remove("LEANBEST_PROFILES");
    command
}

#[test]
fn the_command_answers_in_json_and_in_eighty_columns() {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(drive(9000).as_bytes()).unwrap();
    let path = file.path().to_str().unwrap();
    let out = program(&["trace", path, "--setup", "petrel", "--json"]).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    for field in ["rows", "faults", "dropped", "regimes", "stations", "delay", "findings"] {
        assert!(!json[field].is_null(), "{field}");
    }
    assert_eq!(json["rows"], 9000);
    assert_eq!(json["air_flow_share_of"], "rating");
    for args in
        [&["trace", path][..], &["trace", path, "--setup", "petrel"], &["trace", path, "--units", "metric"]]
    {
        let out = program(args).output().unwrap();
        let text = String::from_utf8(out.stdout).unwrap();
        let wide: Vec<&str> = text.lines().filter(|l| l.chars().count() > 80).collect();
        assert!(wide.is_empty(), "{wide:#?}");
        assert!(text.contains("Cruise") && text.contains("Lambda comes"));
    }
}

#[test]
fn standard_input_refusals_and_guesses() {
    let mut child =
        program(&["trace", "-", "--json"]).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(drive(2000).as_bytes()).unwrap();
    let out = child.wait_with_output().unwrap();
    assert!(out.status.success());
    let code = |args: &[&str]| program(args).output().unwrap().status.code();
    assert_eq!(code(&["trace", "/no/such/log.csv"]), Some(3));
    assert_eq!(code(&["trace", "/"]), Some(2));
    assert_eq!(code(&["trace", "/dev/zero"]), Some(2));
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(b"Zeit,Drehzahl\n0,800\n").unwrap();
    let out = program(&["trace", file.path().to_str().unwrap()]).output().unwrap();
    assert_eq!(out.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&out.stderr).contains("--guess"));
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(b"Time (s),Engine Speed (rpm),AFR\n0.0,800,13.2\n0.1,800,13.3\n").unwrap();
    let path = file.path().to_str().unwrap();
    let out = program(&["trace", path, "--guess"]).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let profile = tempfile::Builder::new().suffix(".toml").tempfile().unwrap();
    std::fs::write(profile.path(), &out.stdout).unwrap();
    let with =
        program(&["trace", path, "--logger", profile.path().to_str().unwrap(), "--json"]).output().unwrap();
    assert!(with.status.success(), "{}", String::from_utf8_lossy(&with.stderr));
}
