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

/// The unit that is guessed for a column of twenty rows that ends in this number, and whether a word is said.
fn unit_and_doubt(name: &str, number: &str) -> (String, bool) {
    let g = guessed(&format!("time,rpm,{name}\n{}", rows(|i| format!("0.{i:02},{},{number}\n", 900 + i))));
    let column = g.profile.columns.last().unwrap();
    (column.unit.clone().unwrap(), !g.suspicious.is_empty())
}

#[test]
fn units_by_name_and_by_size_on_both_sides_of_each_border() {
    for (name, number, unit, doubted) in [
        ("map", "2.0", "bar", true),
        ("map", "2.1", "psi", false),
        ("map", "17.0", "psi", true),
        ("map", "17.1", "inHg", false),
        ("map", "34.0", "inHg", true),
        ("map", "34.1", "kPa", false),
        ("map (psi)", "1.9", "psi", false),
        ("vacuum", "35.0", "inHg", true),
        ("vacuum", "35.1", "kPa", false),
        ("vacuum (inHg)", "20", "inHg", false),
        ("vacuum (kPa)", "30", "kPa", false),
        ("map (foo)", "50", "kPa", false),
        ("tps", "1.0", "ratio", false),
        ("tps", "1.1", "%", true),
        ("tps", "5.0", "%", true),
        ("tps", "5.1", "%", false),
        ("tps_pct", "0.9", "%", false),
        ("coolant", "140", "degC", false),
        ("coolant", "141", "degF", true),
        ("coolant_c", "90", "degC", false),
        ("iat_f", "90", "degF", false),
        ("coolant (F)", "230", "F", false),
        ("lambda", "0.55", "lambda", false),
        ("lambda", "1.69", "lambda", false),
        ("lambda", "2.6", "V", true),
        ("lambda", "5.0", "V", true),
        ("lambda", "5.1", "AFR", true),
        ("afr", "8.5", "AFR", true),
        ("afr", "8.6", "AFR", false),
        ("afr", "8.9", "AFR", false),
        ("afr", "9.0", "AFR", true),
        ("afr", "11.0", "AFR", false),
        ("afr", "24.9", "AFR", false),
        ("afr", "25.0", "afr", true),
        ("o2 (AFR)", "0.9", "lambda", true),
        ("o2", "0.9", "lambda", false),
        ("o2", "13.2", "AFR", false),
    ] {
        assert_eq!(unit_and_doubt(name, number), (unit.to_owned(), doubted), "{name} {number}");
    }
}

#[test]
fn numbers_that_no_such_instrument_shows_are_doubted() {
    for (name, usual, odd) in [
        ("map_kpa", ["10.1", "109.9"], ["9.9", "110.1"]),
        ("vacuum_inhg", ["-0.9", "27.9"], ["-1.1", "28.1"]),
        ("tps_pct", ["-1.9", "101.9"], ["-2.1", "102.1"]),
        ("coolant_c", ["-29", "139"], ["-31", "141"]),
    ] {
        for number in usual {
            assert!(!unit_and_doubt(name, number).1, "{name} {number}");
        }
        for number in odd {
            assert!(unit_and_doubt(name, number).1, "{name} {number}");
        }
    }
    let speed = |rpm: u32| said("time,rpm", |i| format!("0.{i:02},{}", rpm + i % 2)).len();
    assert_eq!((speed(11_998), speed(12_002)), (0, 1));
}

#[test]
fn scales_on_both_sides_of_their_borders() {
    let scale = |name: &str, number: &str| {
        let g =
            guessed(&format!("time,map,{name}\n{}", rows(|i| format!("0.{i:02},{}.5,{number}\n", 40 + i))));
        g.profile.columns.last().unwrap().scale
    };
    for (name, number, expected) in [
        ("lambda", "549", None),
        ("lambda", "550", Some(0.001)),
        ("lambda", "1699", Some(0.001)),
        ("lambda", "1700", None),
        ("rpm", "29.9", Some(1000.0)),
        ("rpm", "30", None),
        ("rpm", "0", None),
        ("engine speed (krpm)", "2.5", None),
        ("vacuum", "-1.4", None),
        ("vacuum", "-1.5", None),
        ("vacuum", "-1.6", Some(-1.0)),
    ] {
        assert_eq!(scale(name, number), expected, "{name} {number}");
    }
}

#[test]
fn steps_of_time() {
    let unit = |name: &str, row: fn(u32) -> String, n: u32| {
        let g = guessed(&format!("{name},rpm\n{}", (0..n).map(|i| row(i) + ",900\n").collect::<String>()));
        (unit_of(&g, Channel::Time).to_owned(), g.suspicious.iter().any(|s| s.contains("goes up by")))
    };
    for (name, row, n, expected, said) in [
        ("time", (|i| format!("{}", 2 * i)) as fn(u32) -> String, 7, "ms", true),
        ("time", |i| format!("{}", 2 * i), 6, "s", false),
        ("time", |i| format!("{}", 999 * i), 20, "ms", true),
        ("time", |i| format!("{}", 1000 * i), 20, "us", true),
        ("time", |i| format!("{}", 20 * (i / 3)), 20, "ms", true),
        ("time", |i| format!("{}", if i < 3 { i } else { 20 * i }), 20, "ms", true),
        ("time", |i| format!("{i}"), 7, "s", true),
        ("time", |i| format!("{i}"), 6, "s", false),
        ("time", |i| format!("{:.1}", 1.5 * f64::from(i)), 20, "s", false),
        ("time (ms)", |i| format!("{}", 20 * i), 20, "ms", false),
        ("time (s)", |i| format!("{}", 20 * i), 20, "ms", true),
    ] {
        assert_eq!(unit(name, row, n), (expected.to_owned(), said), "{name} {}", row(1));
    }
}

#[test]
fn what_is_left_out_of_a_guess() {
    let g = guessed("# a note\n\ntime;rpm;afr 1;lambda;7\n0,1;900;13,2;0,9;x\n0,2;901;13,3;0,9;y\n");
    assert_eq!(g.profile.decimal_comma, Some(true));
    assert!(
        g.because.iter().any(|b| b == "\"lambda\" looks like lambda too; it was left out"),
        "{:?}",
        g.because
    );
    assert_eq!(g.profile.name, "guessed");
    assert_eq!(g.profile.columns.len(), 3, "a number is no name");
    // A comment is no header, however many names it has; notes say nothing of the decimal sign.
    let notes = guessed("# time,rpm,map,lambda\ntime;rpm;a;b\n0.1;900;x,y;x,y\n0.2;901;x,y;x,y\n");
    assert_eq!((notes.profile.delimiter, notes.profile.decimal_comma), (Some(';'), Some(false)));
    let notes = guessed("time;rpm;a;b\n0,1;900;x.y;x.y\n0,2;901;x.y;x.y\n");
    assert_eq!(notes.profile.decimal_comma, Some(true));
    assert_eq!(guessed("time;rpm\n1;900\n2;901\n").profile.decimal_comma, Some(false), "neither is seen");
    // One reading beyond any lambda, and the column is none.
    let volts = guessed(&format!(
        "time,rpm,lambda\n{}",
        rows(|i| format!("0.{i:02},900,{}\n", if i == 3 { 2.6 } else { 0.9 }))
    ));
    assert_eq!(unit_of(&volts, Channel::Lambda), "V");
    let points = guessed("time;rpm\n0.1;900\n0.2;901\n");
    assert_eq!(points.profile.decimal_comma, Some(false));
    let commas = guessed("time,rpm\n0.1,900\n");
    assert_eq!((commas.profile.delimiter, commas.profile.decimal_comma), (Some(','), Some(false)));
}
