//! Headers as loggers write them.

use super::*;

fn guessed(text: &str) -> Guess {
    guess(text.as_bytes()).unwrap()
}

fn unit_of(g: &Guess, channel: Channel) -> &str {
    g.profile.columns.iter().find(|c| c.channel == channel).and_then(|c| c.unit.as_deref()).unwrap_or("-")
}

fn rows(row: impl Fn(u32) -> String) -> String {
    (0..20).map(row).collect()
}

#[test]
fn foreign_names_with_units_in_brackets() {
    let text = format!(
        "Time (ms);Engine RPM;MAP [kPa];Throttle Pos (%);AFR\n{}",
        rows(|i| format!("{};{};45,5;12,0;13,{}\n", i * 20, 900 + i, i % 10))
    );
    let g = guessed(&text);
    assert_eq!(
        (unit_of(&g, Channel::Time), unit_of(&g, Channel::Speed), unit_of(&g, Channel::Manifold)),
        ("ms", "rpm", "kPa")
    );
    assert_eq!((unit_of(&g, Channel::Throttle), unit_of(&g, Channel::Lambda)), ("%", "AFR"));
    assert_eq!((g.profile.delimiter, g.profile.decimal_comma), (Some(';'), Some(true)));
    assert_eq!(LoggerProfile::from_toml(&g.to_toml()).unwrap(), g.profile);
}

#[test]
fn a_ratio_column_that_holds_lambda_is_suspicious() {
    let g = guessed(&format!("time,rpm,afr\n{}", rows(|i| format!("0.{i:02},900,0.9{}\n", i % 10))));
    assert_eq!(unit_of(&g, Channel::Lambda), "lambda");
    assert!(g.suspicious.iter().any(|s| s.contains("holds lambda")), "{:?}", g.suspicious);
    let right = guessed(&format!("time,rpm,afr\n{}", rows(|i| format!("0.{i:02},900,13.{}\n", i % 10))));
    assert_eq!(unit_of(&right, Channel::Lambda), "AFR");
    assert!(right.suspicious.is_empty(), "{:?}", right.suspicious);
}

#[test]
fn a_lambda_column_that_holds_a_ratio_and_odd_fuel_scales() {
    let g = guessed(&format!("time,rpm,lambda\n{}", rows(|i| format!("0.{i:02},900,13.{}\n", i % 10))));
    assert_eq!(unit_of(&g, Channel::Lambda), "AFR");
    assert!(!g.suspicious.is_empty());
    let e85 = guessed(&format!("time,rpm,afr\n{}", rows(|i| format!("0.{i:02},900,9.{}\n", i % 10))));
    assert!(e85.suspicious.iter().any(|s| s.contains("9.8")), "{:?}", e85.suspicious);
    let methanol = guessed(&format!("time,rpm,afr\n{}", rows(|i| format!("0.{i:02},900,6.{}\n", i % 10))));
    assert!(methanol.suspicious.iter().any(|s| s.contains("methanol")));
    let volts = guessed(&format!("time,rpm,wideband\n{}", rows(|i| format!("0.{i:02},900,2.{}\n", i % 10))));
    assert_eq!(unit_of(&volts, Channel::Lambda), "V");
}

#[test]
fn time_in_milliseconds_and_no_time_at_all() {
    let g = guessed(&format!("time,rpm\n{}", rows(|i| format!("{},900\n", i * 10))));
    assert_eq!(unit_of(&g, Channel::Time), "ms");
    let none = guessed(&format!("rpm,afr\n{}", rows(|i| format!("900,13.{}\n", i % 10))));
    assert!(none.suspicious.iter().any(|s| s.contains("no time column")));
}

#[test]
fn nothing_known_is_refused() {
    assert!(matches!(guess(b"a,b\n1,2\n"), Err(TraceError::NoHeader { .. })));
    assert!(matches!(guess(b"PK\x03\x04"), Err(TraceError::NotText { .. })));
}

/// Everything that is said to be suspicious of a log of twenty rows.
fn said(header: &str, row: impl Fn(u32) -> String) -> Vec<String> {
    guessed(&format!("{header}\n{}", rows(|i| row(i) + "\n"))).suspicious
}

#[test]
#[expect(clippy::too_many_lines, reason = "a table")]
fn awkward_headers_are_told_in_these_words() {
    let t = |i: u32| format!("0.{i:02}");
    let n = |i: u32| 900 + i;
    for (what, got, expected) in [
        (
            "an AFR column that holds lambda",
            said("time,rpm,AFR", |i| format!("{},{},0.9{}", t(i), n(i), i % 10)),
            &["\"AFR\" is called a ratio but holds lambda (mostly 0.95): taken for lambda"][..],
        ),
        (
            "a lambda column that holds a ratio",
            said("time,rpm,lambda", |i| format!("{},{},13.{}", t(i), n(i), i % 10)),
            &[
                "\"lambda\" is called lambda but holds a ratio (mostly 13.5): taken for AFR on a display scale of 14.7",
            ],
        ),
        (
            "E85's own scale",
            said("time,rpm,afr", |i| format!("{},{},9.{}", t(i), n(i), i % 10)),
            &[
                "\"afr\" is mostly near 9.5: if that is E85 on its own scale, give stoichiometric = \"9.8 AFR\"",
            ],
        ),
        (
            "methanol's own scale",
            said("time,rpm,afr", |i| format!("{},{},6.{}", t(i), n(i), i % 10)),
            &[
                "\"afr\" is mostly near 6.5: a ratio of another fuel than gasoline (methanol is 6.4), or not a ratio; give stoichiometric = \"... AFR\"",
            ],
        ),
        (
            "volts",
            said("time,rpm,wideband", |i| format!("{},{},2.{}", t(i), n(i), i % 10)),
            &[
                "\"wideband\" is mostly near 2.5: neither lambda nor a ratio; if it is a voltage, give its points (volts = [[0.0, 0.68], [5.0, 1.36]])",
            ],
        ),
        (
            "lambda in thousandths",
            said("time,rpm,lambda", |i| format!("{},{},{}", t(i), n(i), 905 + i % 10)),
            &["\"lambda\" is mostly near 910: taken for lambda in thousandths (scale = 0.001)"],
        ),
        (
            "milliseconds",
            said("time,rpm,lambda", |i| format!("{},{},0.9{}", 20 * i, n(i), i % 10)),
            &["\"time\" goes up by 20 from row to row: taken for milliseconds"],
        ),
        (
            "microseconds",
            said("time,rpm,lambda", |i| format!("{},{},0.9{}", 20_000 * i, n(i), i % 10)),
            &["\"time\" goes up by 20000 from row to row: taken for microseconds"],
        ),
        (
            "row numbers, or a kilohertz of milliseconds",
            said("time,rpm,lambda", |i| format!("{i},{},0.9{}", n(i), i % 10)),
            &[
                "\"time\" goes up by 1 from row to row: taken for seconds; if they are milliseconds, or row numbers, say so (unit = \"ms\", or period = \"10 ms\" without a time column)",
            ],
        ),
        (
            "a time of day",
            said("time,rpm,lambda", |i| format!("12:03:{i:02},{},0.9{}", n(i), i % 10)),
            &[
                "\"time\" holds no plain numbers (\"12:03:00\"): a time of day is not read. Export seconds or milliseconds, or give the time between rows (period = \"10 ms\")",
                "no time column: give the time between rows (period = \"10 ms\")",
            ],
        ),
        (
            "thousands of rpm",
            said("time,rpm,lambda", |i| format!("{},0.{},0.9{}", t(i), n(i), i % 10)),
            &["\"rpm\" is mostly near 0.91: taken for thousands of rpm (scale = 1000)"],
        ),
        (
            "vacuum below zero",
            said("time,rpm,vacuum", |i| format!("{},{},-15.{}", t(i), n(i), i % 10)),
            &[
                "\"vacuum\" is mostly near -15.4: taken for pressure against the air outside, which is vacuum below zero (scale = -1)",
            ],
        ),
        (
            "degrees Fahrenheit",
            said("time,rpm,coolant", |i| format!("{},{},18{}", t(i), n(i), i % 10)),
            &["\"coolant\" reaches 189: taken for degF"],
        ),
        (
            "a manifold in the wrong unit",
            said("time,rpm,map_kpa", |i| format!("{},{},5{}00", t(i), n(i), i % 10)),
            &["\"map_kpa\" is mostly near 5500 kpa: no usual manifold"],
        ),
        (
            "an empty column",
            said("time,rpm,lambda", |i| format!("{},{},", t(i), n(i))),
            &["\"lambda\" is empty in the first rows; it was left out"],
        ),
    ] {
        assert_eq!(got, expected, "{what}");
    }
    let volts = said("time,rpm,tps", |i| format!("{},{},{}", t(i), n(i), if i < 5 { 4.4 } else { 0.7 }));
    assert_eq!(
        volts,
        [
            "\"tps\" stays between 0 and 5 (4.4 at most): if it is a voltage, give its points (volts = [[0.5, 0.0], [4.5, 100.0]])"
        ]
    );
    let still = guessed(&format!(
        "time,rpm,lambda\n{}",
        (0..30).map(|i| format!("0.{i:02},{},0.95\n", n(i))).collect::<String>()
    ));
    assert_eq!(still.suspicious, ["\"lambda\" does not move in the first 30 rows: is it connected?"]);
}

#[test]
fn a_scale_that_was_guessed_is_in_the_profile() {
    let g = guessed(&format!("time,rpm,lambda\n{}", rows(|i| format!("0.{i:02},900,{}\n", 905 + i % 10))));
    let lambda = g.profile.columns.iter().find(|c| c.channel == Channel::Lambda).unwrap();
    assert_eq!((lambda.scale, lambda.unit.as_deref()), (Some(0.001), Some("lambda")));
    assert_eq!(LoggerProfile::from_toml(&g.to_toml()).unwrap(), g.profile);
}

#[test]
fn a_header_in_windows_1252_is_guessed_at_and_kept_so() {
    let g = guess(b"time (s),rpm,coolant (\xb0C)\n0.0,900,80\n0.1,901,81\n").unwrap();
    assert_eq!(g.profile.encoding, Some(Encoding::Windows1252));
    assert_eq!(unit_of(&g, Channel::Coolant), "\u{b0}C");
}
