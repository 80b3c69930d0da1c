//! The sheet, the comparison and the history as whole programs, and the page as a browser sees it.

#![cfg(test)]
#![expect(clippy::print_stderr, reason = "a test that was skipped says so")]

mod page {
    pub(crate) mod browser;
    pub(crate) mod markup;
}

use leanbest::procedure::{Event, State, Step};
use leanbest::report::from_session::Tale;
use leanbest::report::sheet::{Form, page};
use leanbest::session::story::read_story;
use leanbest::units::System;
use page::{browser, markup};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

/// Names and notes that want to be more than words.
const HOSTILE: [&str; 6] = [
    "</title><script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "' onmouseover='alert(1)",
    "a & b <svg/onload=1> ]]> <!-- -->",
    "\u{202e}desrever\u{1b}[2J\u{0}\u{9b}\u{feff}",
    "https://example.com/x.css",
];

fn leanbest(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_leanbest"))
        .args(args)
        .env_remove("LEANBEST_UNITS")
        .output()
        .expect("it starts")
}

/// Two sessions of the demo, told once for all tests.
fn demo() -> &'static Path {
    static DEMO: OnceLock<tempfile::TempDir> = OnceLock::new();
    DEMO.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a folder");
        for seed in ["1", "2"] {
            let out =
                leanbest(&["demo", "--seed", seed, "--out", folder.path().to_str().expect("a plain path")]);
            assert!(out.status.success(), "{out:?}");
        }
        folder
    })
    .path()
}

fn session() -> PathBuf {
    demo().join("petrel-ann.tune.jsonl")
}

fn said(path: &Path) -> &str {
    path.to_str().expect("a plain path")
}

/// The sheet of the demo with every name in it hostile.
fn hostile(form: Form) -> String {
    let mut story = read_story(&session(), None).expect("the demo's session");
    let setup = &mut story.job.setup;
    setup.name = HOSTILE.join(" ");
    setup.engine.name = HOSTILE[0].to_owned();
    setup.carburetor.name = HOSTILE[1].to_owned();
    setup.fuel.name = HOSTILE[3].to_owned();
    let mut events: Vec<Event> = story.events().cloned().collect();
    for words in HOSTILE {
        events.push(Event::Noted { step: Step::Close, text: words.to_owned() });
        events.push(Event::Skipped { step: Step::InGear, reason: words.to_owned() });
    }
    let state = State::replay(story.job, System::Us, &events).expect("the events are its own");
    let tale = Tale {
        state: &state,
        events: &events,
        opened: "2024-05-01",
        last: "2024-05-01",
        file: HOSTILE[2],
        records: 3,
        head: "00",
    };
    page(&tale, form)
}

#[test]
fn the_page_holds_nothing_but_words_tables_and_pictures() {
    let page = std::fs::read_to_string(demo().join("petrel-ann.html")).expect("the demo's sheet");
    for page in [page, hostile(Form::Html)] {
        let elements = markup::parse(&page).expect("it parses");
        markup::only_known(&elements).expect("nothing unknown");
        markup::numbers_are_finite(&elements).expect("finite numbers");
        for never in ["url(", "@import", "<script", "javascript:", "src=", "href="] {
            assert!(!page.contains(never) || markup::in_text_only(&page, never), "{never}");
        }
    }
}

#[test]
fn a_persons_words_come_through_whole_and_only_as_words() {
    let page = hostile(Form::Html);
    let elements = markup::parse(&page).expect("it parses");
    let words = markup::texts_of(&elements, "bdi");
    for hostile in HOSTILE {
        let shown: String = hostile.chars().map(|c| if c.is_control() { '\u{FFFD}' } else { c }).collect();
        assert!(words.iter().any(|w| w.contains(&shown)), "{hostile:?} is not shown as it is: {words:?}");
    }
    let outside = markup::texts_outside(&elements, &["bdi", "title"]);
    assert!(!outside.iter().any(|t| t.contains("alert(1)")), "{outside:?}");
    for form in [Form::Markdown, Form::Text] {
        let words = hostile_form_words(form);
        assert!(!words.chars().any(|c| c != '\n' && (c.is_control() || c == '\u{202e}')), "{form:?}");
        assert!(form == Form::Text || !words.contains("<img"), "{words}");
    }
}

fn hostile_form_words(form: Form) -> String {
    hostile(form)
}

#[test]
fn what_is_asked_of_a_sheet_is_on_it_in_every_form() {
    for form in ["html", "markdown", "text"] {
        let out = leanbest(&["sheet", said(&session()), "--as", form, "-o", "-"]);
        assert!(out.status.success(), "{out:?}");
        let words = String::from_utf8(out.stdout).expect("UTF-8");
        for wanted in [
            "What was asked",
            "Engine and carburetor",
            "As found",
            "What was changed, and why",
            "Every part, as it stands",
            "Primary main jet",
            "Pump nozzle",
            "Mixture screw 2",
            "Lambda against air flow",
            "Vacuum against turns of mixture screw 1",
            "Each change, as expected and as measured",
            "Full-throttle pulls",
            "Re-jet if",
            "Take care",
            "Open items",
            "Received by",
            "Local codes",
        ] {
            assert!(words.contains(wanted), "{form}: {wanted}");
        }
    }
}

#[test]
fn the_session_itself_is_never_written_over() {
    let session = session();
    let before = std::fs::read(&session).expect("the session");
    let out = leanbest(&["sheet", said(&session), "-o", said(&session)]);
    assert_eq!(out.status.code(), Some(2));
    assert_eq!(std::fs::read(&session).expect("the session"), before);
}

#[test]
fn two_sessions_side_by_side() {
    let other = demo().join("petrel-ann-2.tune.jsonl");
    let out = leanbest(&["compare", said(&session()), said(&other), "--json"]);
    assert!(out.status.success(), "{out:?}");
    let answer: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one JSON object");
    assert!(answer["settings"].is_array() && answer["air"]["lambda_ratio"].as_f64() == Some(1.0), "{answer}");
    let regimes = answer["readings"]["regimes"].as_array().expect("regimes");
    assert!(regimes.iter().any(|r| r["regime"] == "cruise" && r["lambda_before"].is_f64()), "{answer}");
    let same = leanbest(&["compare", said(&session()), said(&session()), "--json"]);
    let answer: serde_json::Value = serde_json::from_slice(&same.stdout).expect("one JSON object");
    assert_eq!(answer["settings"].as_array().map(Vec::len), Some(0));
    assert!(
        answer["readings"]["regimes"]
            .as_array()
            .is_some_and(|r| r.iter().all(|r| r["shift"] != "leaner" && r["shift"] != "richer"))
    );
}

#[test]
fn weather_is_taken_out_of_two_logs() {
    let (a, b) = (demo().join("log-1.csv"), demo().join("log-2.csv"));
    let picture = demo().join("logs.svg");
    let out = leanbest(&[
        "compare",
        said(&a),
        said(&b),
        "--setup",
        "petrel",
        "--air-before",
        "30.00 inHg, 60 F, 40 %",
        "--air-after",
        "25.00 inHg, 60 F, 40 %",
        "--json",
        "--svg",
        said(&picture),
    ]);
    assert!(out.status.success(), "{out:?}");
    let answer: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one JSON object");
    // On fixed jets lambda goes with the root of density: thinner air is richer.
    let ratio = answer["air"]["lambda_ratio"].as_f64().expect("both airs are known");
    assert!((ratio - (25.0f64 / 30.0).sqrt()).abs() < 0.002, "{ratio}");
    let svg = std::fs::read_to_string(picture).expect("the picture");
    let elements = markup::parse(svg.trim_start_matches("<?xml version=\"1.0\" encoding=\"UTF-8\"?>"))
        .expect("it parses");
    markup::numbers_are_finite(&elements).expect("finite numbers");
    let mixed = leanbest(&["compare", said(&a), said(&session())]);
    assert_eq!(mixed.status.code(), Some(2));
}

#[test]
fn a_folder_of_sessions() {
    let out = leanbest(&["history", said(demo()), "--json"]);
    assert!(out.status.success(), "{out:?}");
    let answer: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one JSON object");
    let sessions = answer["sessions"].as_array().expect("sessions");
    assert_eq!(sessions.len(), 2);
    for one in sessions {
        assert_eq!(one["name"], "Petrel Ann");
        assert!(one["last_readings"]["idle"]["vacuum_inhg"].as_f64().is_some_and(|v| v > 10.0), "{one}");
    }
    let empty = tempfile::tempdir().expect("a folder");
    std::fs::write(empty.path().join("bad.tune.jsonl"), "not a session\n").expect("written");
    let out = leanbest(&["history", said(empty.path()), "--json"]);
    let answer: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one JSON object");
    assert!(answer["sessions"][0]["damage"].is_string(), "{answer}");
    assert_eq!(leanbest(&["history", "/no/such/folder"]).status.code(), Some(3));
}

#[test]
fn plain_pictures_are_plain() {
    let out = leanbest(&["trace", said(&demo().join("log-1.csv")), "--setup", "petrel", "--ascii"]);
    let words = String::from_utf8(out.stdout).expect("UTF-8");
    let picture = words.split("Lambda against air flow").nth(1).expect("a picture");
    assert!(
        picture.is_ascii() && picture.contains(":::") && picture.contains("% of the carburetor"),
        "{picture}"
    );
    assert!(picture.lines().all(|l| l.len() <= 80), "{picture}");
}

/// The demo's session with an evening of pulls after it: two things set at once, then told apart, and a jet.
fn evening(folder: &Path) -> PathBuf {
    let session = folder.join("evening.tune.jsonl");
    std::fs::copy(self::session(), &session).expect("a copy");
    let states = [
        (1.0, "timing=8 deg, spacer=no"),
        (1.015, "timing=12 deg, spacer=1 in"),
        (1.03, "spacer=no"),
        (0.985, "timing=8 deg, spacer=1 in"),
        (1.001, "spacer=no"),
        (1.02, "timing=12 deg, main.primary.jet=0.060 in"),
    ];
    for (k, (strength, set)) in states.into_iter().enumerate() {
        let file = folder.join(format!("pull-{k}.csv"));
        std::fs::write(&file, pull(strength, k as u64)).expect("a pull");
        let out = leanbest(&[
            "pulls",
            said(&file),
            "--session",
            said(&session),
            "--set",
            set,
            "--air",
            "30.05 inHg,71F,62%",
            "--rig",
            "engine-dyno",
        ]);
        assert!(out.status.success(), "{out:?}");
    }
    session
}

/// A rising pull of the skiff's engine as CSV.
fn pull(strength: f64, seed: u64) -> String {
    let mut chance = leanbest::numeric::rng::Chance::with_seed(seed);
    let row = |k: u32| {
        let rpm = 1800.0 + 2500.0 * f64::from(k) / 179.0;
        let torque = (221.0 - 31.7 * ((rpm - 2400.0) / 1700.0).powi(2)) * strength + 1.2 * chance.normal();
        format!("{:.2},{rpm:.1},{torque:.2}\n", 0.05 * f64::from(k))
    };
    format!("time_s,rpm,torque_lbf_ft\n{}", (0..180).map(row).collect::<String>())
}

#[test]
fn pulls_and_settings_are_on_the_sheet_and_it_still_prints_two_sides() {
    let folder = tempfile::tempdir().expect("a folder");
    let session = evening(folder.path());
    for form in ["html", "markdown", "text"] {
        let out = leanbest(&["sheet", said(&session), "--as", form, "-o", "-"]);
        assert!(out.status.success(), "{out:?}");
        let page = String::from_utf8(out.stdout).expect("UTF-8");
        let words = page.replace('\\', "").split_whitespace().collect::<Vec<_>>().join(" ");
        for wanted in [
            "Pulls, and what each setting did",
            "engine dyno",
            "orrected to SAE J1349",
            "By the pulls, timing from 8 deg to 12 deg",
            "9 in 10",
            "Pull by pull",
            "Set beside the parts, by hand",
            "Timing: not said, then 8 deg, then 12 deg, then 8 deg, then 12 deg.",
            "Two settings beside the parts were changed.",
        ] {
            assert!(words.contains(wanted), "{form}: {wanted}: {words}");
        }
        if form == "text" {
            let of = |heading: &str| page.split(heading).nth(1).expect("a section").to_owned();
            let section = of("Pulls, and what each setting did");
            let section = section.split("What was changed").next().expect("it ends");
            assert!(section.lines().all(|l| l.chars().count() <= 80), "{section}");
            let parts = of("Every part, as it stands");
            let parts = parts.split("Open items").next().expect("it ends");
            assert!(parts.lines().all(|l| l.chars().count() <= 80), "{parts}");
        }
    }
    let page = folder.path().join("evening.html");
    let out = leanbest(&["sheet", said(&session), "-o", said(&page)]);
    assert!(out.status.success(), "{out:?}");
    let words = std::fs::read_to_string(&page).expect("the sheet");
    let elements = markup::parse(&words).expect("it parses");
    markup::only_known(&elements).expect("nothing unknown");
    let Some(browser) = browser::find() else {
        eprintln!("skipped: no chromium here, so the page was not printed");
        return;
    };
    for paper in ["A4", "letter"] {
        let sized = folder.path().join(format!("{paper}.html"));
        std::fs::write(&sized, words.replace("size:auto", &format!("size:{paper}"))).expect("written");
        assert_eq!(browser.printed_sides(&sized), 2, "{paper}");
    }
}

#[test]
fn a_browser_shows_it_quietly_and_prints_two_sides() {
    let Some(browser) = browser::find() else {
        eprintln!("skipped: no chromium here, so the page was not shown to a browser");
        return;
    };
    let page = demo().join("petrel-ann.html");
    let seen = browser.show(&page);
    assert!(seen.console.is_empty(), "the console said: {:?}", seen.console);
    assert!(seen.requests.is_empty(), "asked for: {:?}", seen.requests);
    assert!(seen.picture_bytes > 20_000, "the picture is nearly empty: {} bytes", seen.picture_bytes);
    // Without a size of its own the page takes the printer's paper; here both usual ones are asked for.
    for paper in ["A4", "letter"] {
        let sized = demo().join(format!("{paper}.html"));
        let words = std::fs::read_to_string(&page).expect("the sheet");
        std::fs::write(&sized, words.replace("size:auto", &format!("size:{paper}"))).expect("written");
        assert_eq!(browser.printed_sides(&sized), 2, "{paper}");
    }
}

/// On a phone a line ends anywhere: but not inside "1 3/8", which would be read as 1 and as 3/8.
#[test]
fn a_page_breaks_no_line_inside_a_quantity() {
    let page = std::fs::read_to_string(demo().join("petrel-ann.html")).expect("the sheet");
    assert!(page.contains("1\u{a0}3/8") && page.contains("\u{a0}inHg"));
    // what a picture says is read aloud, and set in no lines
    let page: String =
        page.split("<desc").map(|p| p.split_once("</desc>").map_or(p, |(_, rest)| rest)).collect();
    let broken = |(at, _): (usize, &str)| {
        let (before, after) = (&page[..at], page[at + 1..].split([' ', '<', ',']).next().unwrap_or_default());
        before.ends_with(|c: char| c.is_ascii_digit()) && (after == "inHg" || after.contains('/'))
    };
    let found: Vec<&str> =
        page.match_indices(' ').filter(|w| broken(*w)).map(|(at, _)| &page[at - 20..at + 20]).collect();
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn a_metric_sheet_leaves_no_figure_in_other_units_and_its_session_replays_the_same() {
    let text = leanbest(&["--units", "metric", "sheet", said(&session()), "--as", "text", "-o", "-"]);
    let text = String::from_utf8(text.stdout).expect("text");
    let (weather, pulls) = ("Re-jet if", "Full-throttle pulls");
    for part in [weather, pulls] {
        let section: Vec<&str> = text
            .lines()
            .skip_while(|l| !l.starts_with(part))
            .skip(1)
            .take_while(|l| !l.starts_with("Take care"))
            .collect();
        let section: Vec<&str> = section.into_iter().take(14).collect();
        assert!(section.iter().any(|l| l.contains(" mm") || l.contains(" kPa")), "{part}: {section:#?}");
        for unit in [" ft", " degF", " psi"] {
            assert!(!section.iter().any(|l| l.contains(unit)), "{part}: {unit}: {section:#?}");
        }
    }
    let told = leanbest(&["--units", "metric", "--json", "replay", said(&session())]);
    let told: serde_json::Value = serde_json::from_slice(&told.stdout).expect("json");
    assert_eq!(told["agrees"], true, "advised in inches, told again in millimetres");
}

/// The table of settings alone has both, side by side.
#[test]
fn a_metric_demo_has_a_metric_sheet() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = leanbest(&["demo", "--units", "metric", "--out", said(folder.path())]);
    assert!(out.status.success(), "{out:?}");
    let page = std::fs::read_to_string(folder.path().join("petrel-ann.html")).expect("the sheet");
    assert!(page.contains("kPa"));
    for unit in ["inHg", "degF", "lb/h"] {
        let alone =
            |(at, _): &(usize, &str)| !page[..*at].trim_end_matches(|c| c != '<').ends_with("kPa</td><");
        let found: Vec<&str> =
            page.match_indices(unit).filter(alone).map(|(at, _)| &page[at - 80..at + 20]).collect();
        assert!(found.is_empty(), "{found:#?}");
    }
}
