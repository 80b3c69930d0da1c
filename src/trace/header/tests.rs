use super::*;

fn settled(text: impl AsRef<[u8]>) -> Result<Head, TraceError> {
    settle(text.as_ref(), true, false, &LoggerProfile::standard()).map(Option::unwrap)
}

fn refused(text: impl AsRef<[u8]>) -> String {
    settled(text).unwrap_err().to_string()
}

#[test]
fn lines_above_the_rows_are_counted_for_what_they_are() {
    let text = "\u{feff}# a note\n\n% another\nMade by hand\non a bench\ntime_s,rpm\ns,rpm\n0,800\n";
    let head = settled(text).unwrap();
    let expected = LineCounts {
        lines: 7,
        comments: 2,
        blank: 1,
        preamble: 2,
        header: 1,
        units: 1,
        ..LineCounts::default()
    };
    assert_eq!(head.lines, expected);
    assert_eq!(&text.as_bytes()[head.consumed..], b"0,800\n");
    assert_eq!(head.names, ["time_s", "rpm"]);
    let logger = LoggerProfile { header: false, ..LoggerProfile::standard() };
    let two = LoggerProfile { columns: logger.columns[..2].to_vec(), ..logger };
    let text = "# a note\n\n0;800\n1;800\n";
    let bare = settle(text.as_bytes(), true, false, &two).unwrap().unwrap();
    assert_eq!((bare.lines.lines, bare.lines.comments, bare.lines.blank), (2, 1, 1));
    assert_eq!((&text.as_bytes()[bare.consumed..], bare.layout.delimiter), (&b"0;800\n1;800\n"[..], b';'));
}

#[test]
fn the_line_with_most_names_is_the_header() {
    let header = |text: &str| settled(text).map(|h| h.names.join("|"));
    assert_eq!(header("rpm\ntime_s,rpm,lambda\n0,1,2\n").unwrap(), "time_s|rpm|lambda");
    assert_eq!(header("time_s,rpm,lambda\nrpm\n0,1,2\n").unwrap(), "time_s|rpm|lambda");
    assert_eq!(header("# time_s,rpm,map_kpa,lambda\ntime_s,rpm\n0,1\n").unwrap(), "time_s|rpm");
    assert_eq!(
        header("rpm,x;time_s\n0;1\n").unwrap_err().to_string().split(':').next(),
        Some("the separator cannot be told")
    );
    assert_eq!(header("rpm\n1\n").unwrap(), "rpm", "one name needs no separator");
}

#[test]
fn a_log_without_a_header_is_refused_with_its_line() {
    assert_eq!(refused(""), "no rows of readings: the log is empty");
    assert_eq!(refused("\n# note\n"), "no rows of readings: the log is empty");
    let numbers = refused("# note\n\n0.1,800,0.9\n0.2,801,0.9\n");
    assert!(numbers.starts_with("line 3: numbers where the names of the columns should be"), "{numbers}");
    let commas = refused("# note\n0;800;\n");
    assert!(commas.starts_with("line 2: numbers where"), "{commas}");
    for (text, line) in [("a,b\n1,2\n", 1), ("# note\na,b\n", 2), ("\n\n\n7\n8\n", 4)] {
        let unknown = refused(text);
        assert!(
            unknown.starts_with(&format!("line {line}: ")) && !unknown.contains("numbers where"),
            "{unknown}"
        );
    }
}

#[test]
fn names_and_columns_of_a_size_that_a_logger_writes() {
    let wide = |columns: usize| format!("# note\ntime_s{}\n", ",x".repeat(columns - 1));
    assert!(settled(wide(MOST_COLUMNS)).is_ok());
    assert!(refused(wide(MOST_COLUMNS + 1)).starts_with("line 2: 257 columns, more than the 256"));
    let long = |characters: usize| format!("time_s,rpm,{}\n", "\u{e4}".repeat(characters));
    assert!(settled(long(LONGEST_NAME)).is_ok());
    assert!(refused(long(LONGEST_NAME + 1)).starts_with("line 1, column 3: the name is longer than 128"));
}

#[test]
fn a_line_without_end_is_no_table() {
    let long = |before: &str, n: usize| format!("{before}{}\ntime_s,rpm\n0,1\n", "x".repeat(n));
    assert!(settled(long("", LONGEST_LINE)).is_ok());
    assert!(refused(long("", LONGEST_LINE + 1)).starts_with("line 1: longer than 65536 bytes"));
    assert!(refused(long("# a\n", LONGEST_LINE + 1)).starts_with("line 2: longer than 65536 bytes"));
    let logger = LoggerProfile::standard();
    let endless = |n: usize| settle(format!("# a\n{}", "x".repeat(n)).as_bytes(), false, false, &logger);
    assert!(matches!(endless(LONGEST_LINE), Ok(None)), "its end may come");
    assert!(matches!(endless(LONGEST_LINE + 1), Err(TraceError::LongLine { line: 2, .. })));
}

#[test]
fn nothing_is_settled_before_enough_has_come() {
    let logger = LoggerProfile::standard();
    let of = |text: &str, live: bool| settle(text.as_bytes(), false, live, &logger).unwrap().is_some();
    let rows = |n: usize| format!("time_s,rpm\n{}", "0,1\n".repeat(n));
    assert!(!of(&rows(LINES_LOOKED_AT - 2), false) && of(&rows(LINES_LOOKED_AT - 1), false));
    assert!(!of("time_s,rpm\n", true) && of("time_s,rpm\n0,1\n", true), "a live line settles with a row");
    assert!(!of("time_s,rpm\n0,1", true), "the row is not whole");
    assert!(settled("time_s,rpm").is_ok(), "no line end at the end");
    assert!(!of("tim", true) && !of("\u{feff}", true));
    assert!(matches!(settle(b"x,y\n1,2\n", false, true, &logger), Ok(None)), "the header may come yet");
}

#[test]
fn nuls_tell_what_else_it_may_be() {
    let what = |bytes: &[u8]| match not_mostly_nul(bytes) {
        Err(TraceError::NotText { what, .. }) => what.split(' ').take(3).collect::<Vec<_>>().join(" "),
        _ => String::new(),
    };
    let each = |one: [u8; 2], n: usize| one.repeat(n);
    assert_eq!(what(&each([b'a', 0], 40)), "UTF-16 text (little-endian,");
    assert_eq!(what(&each([0, b'a'], 40)), "UTF-16 text (big-endian,");
    assert_eq!(what(&[0; 80]), "a binary file");
    assert_eq!(
        what(&[&each([b'a', 0], 35)[..], &each([0, b'a'], 5)].concat()),
        "a binary file",
        "seven in eight"
    );
    assert_eq!(
        what(&[&each([b'a', 0], 38)[..], &each([0, b'a'], 2)].concat()),
        "UTF-16 text (little-endian,"
    );
    assert_eq!(what(&[&each([0, b'a'], 38)[..], &each([b'a', 0], 2)].concat()), "UTF-16 text (big-endian,");
    // Fewer than one byte in ten, or too few bytes to tell.
    let some = |nuls: usize, of: usize| [vec![0; nuls], vec![b'a'; of - nuls]].concat();
    assert_eq!((what(&some(10, 100)).as_str(), what(&some(11, 100)).as_str()), ("", "a binary file"));
    assert_eq!((what(&some(15, 15)).as_str(), what(&some(16, 16)).as_str()), ("", "a binary file"));
}

#[test]
fn what_ends_a_line() {
    const N: Option<u8> = Some(b'\n');
    const R: Option<u8> = Some(b'\r');
    let long = |text: &str| format!("{}{text}", "x".repeat(RETURNS_ALONE_IN));
    for (text, all_there, end) in [
        ("a\nb", false, N),
        ("a\r\nb", false, N),
        ("a\rb", false, None),
        ("a\rb", true, R),
        ("a\r", true, R),
        ("ab", false, None),
        ("ab", true, N),
        (long("\nb").as_str(), false, N),
        (long("\r\nb").as_str(), false, N),
        (long("\rb").as_str(), false, R),
        (long("\r").as_str(), false, None),
        (long("\r").as_str(), true, R),
        (long("x").as_str(), false, None),
    ] {
        assert_eq!(
            line_end(text.as_bytes(), all_there, LONGEST_LINE),
            end,
            "{:?} {all_there}",
            text.trim_start_matches('x')
        );
    }
    // Four thousand bytes with a carriage return and no line feed are enough to tell.
    let told = |n: usize| line_end(format!("a\r{}", "x".repeat(n - 2)).as_bytes(), false, LONGEST_LINE);
    assert_eq!((told(RETURNS_ALONE_IN), told(RETURNS_ALONE_IN + 1)), (None, R));
    let silent = |n: usize| line_end("x".repeat(n).as_bytes(), false, LONGEST_LINE);
    assert_eq!((silent(LONGEST_LINE), silent(LONGEST_LINE + 1)), (None, N));
}

#[test]
fn pages_and_odd_bytes_in_the_header() {
    for page in ["<!DOCTYPE html>\n", "  <html>\n", "<?xml version=\"1.0\"?>\n"] {
        assert!(refused(page).starts_with("this is a web page"), "{page}");
    }
    let latin = settled(b"time_s,rpm,temp \xb0C\n0,1,2\n").unwrap();
    assert_eq!(latin.names[2], "temp \u{b0}C");
    assert!(latin.notes.iter().any(|n| n.name == "encoding"));
}
