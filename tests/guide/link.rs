//! Over the link: the whole procedure, and every way out of it.

use super::rig::{Engine, Link, folder, program, to_the_end};
use serde_json::{Value, json};
use std::fs;
use std::path::Path;

const NEW: [&str; 6] = ["guide", "job.tune.jsonl", "--setup", "petrel", "--answers", "-"];
const ON: [&str; 4] = ["guide", "job.tune.jsonl", "--answers", "-"];

fn replay(folder: &Path) -> Value {
    let out = program(folder).args(["replay", "job.tune.jsonl", "--json"]).output().expect("replay runs");
    serde_json::from_slice(&out.stdout)
        .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&out.stderr)))
}

/// The fields of the records that a person's answers made, in order.
fn answers(folder: &Path) -> Vec<String> {
    let text = fs::read_to_string(folder.join("job.tune.jsonl")).expect("the session");
    text.lines()
        .filter_map(|l| serde_json::from_str::<Value>(l).ok())
        .filter(|v| {
            matches!(
                v["kind"].as_str(),
                Some("answered" | "turned" | "mixture-read" | "idle-speed-moved" | "part-changed")
            )
        })
        .map(|v| format!("{} {}", v["kind"], v["payload"]))
        .collect()
}

#[test]
fn the_whole_procedure_sets_the_screws_and_replays_the_same() {
    let folder = folder();
    let (mut link, mut engine) = (Link::start(folder.path(), &NEW), Engine::new(2));
    engine.screws = vec![2.5, 1.25];
    let result = to_the_end(&mut link, &mut engine).expect("a result");
    assert_eq!(link.code(), Some(0));
    assert_eq!(result["finished"], true, "{result}");
    let after = result["idle_vacuum_after_inhg"].as_f64().expect("vacuum after");
    assert!(after > result["idle_vacuum_before_inhg"].as_f64().expect("vacuum before"));
    assert!(after > 17.2, "17.6 is the top, an eighth richer costs 0.1: {after}");
    let told = replay(folder.path());
    assert_eq!(told["agrees"], true, "{told}");
    assert!(told["events"].as_u64() > Some(20));
    assert!(told["steps"].as_array().is_some_and(|s| s.len() >= 9), "{}", told["steps"]);
}

#[test]
fn an_engine_whose_name_says_how_large_it_is_is_not_given_its_size_twice() {
    for (units, size) in [("us", "256 in3"), ("metric", "4195 cc")] {
        let folder = folder();
        let mut link = Link::start(folder.path(), &[&NEW[..], &["--units", units]].concat());
        let mut engine = Engine::new(2);
        let said = loop {
            let line = link.next().expect("a question");
            if line["name"] == "setup" {
                break line["say"].to_string();
            }
            link.answer(&engine.answer(&line));
        };
        assert_eq!(said.matches(size).count(), 1, "{said}");
    }
}

/// Every text in a line of the link.
fn texts(line: &Value) -> Vec<&str> {
    match line {
        Value::String(text) => vec![text],
        Value::Array(items) => items.iter().flat_map(texts).collect(),
        Value::Object(fields) => fields.values().flat_map(texts).collect(),
        _ => Vec::new(),
    }
}

#[test]
fn a_guide_in_metric_units_says_nothing_in_others_alone() {
    let folder = folder();
    let metric = [&NEW[..], &["--units", "metric"]].concat();
    let (mut link, mut engine) = (Link::start(folder.path(), &metric), Engine::new(2));
    let (mut seen, mut in_kpa) = (Vec::new(), 0);
    let result = loop {
        let (tells, line) = link.next_with_tells();
        let line = line.expect("a line before the end");
        seen.extend(tells);
        if let Some(result) = line.get("result") {
            break result.clone();
        }
        link.answer(&engine.answer(&line));
        seen.push(line);
    };
    assert_eq!(result["finished"], true, "{result}");
    for text in seen.iter().flat_map(texts) {
        in_kpa += usize::from(text.contains(" kPa"));
        for (us, metric) in
            [(" inHg", " kPa"), (" psi", " kPa"), (" degF", " degC"), (" in3", " cc"), (" ft", " m)")]
        {
            let figure =
                text.match_indices(us).any(|(at, _)| text[..at].ends_with(|c: char| c.is_ascii_digit()));
            assert!(!figure || text.contains(metric), "{us}: {text}");
        }
    }
    assert!(in_kpa > 10, "{in_kpa}");
    assert_eq!(replay(folder.path())["agrees"], true, "guided in kPa, told again in inHg");
    let told = |units: &str| {
        let out = program(folder.path()).args(["replay", "job.tune.jsonl", "--units", units]).output();
        String::from_utf8(out.expect("replay runs").stdout).expect("text")
    };
    let us = told("us");
    assert!(us.contains("barometer: 30.06 inHg") && us.contains("air-temperature: 72 degF"), "{us}");
    let metric = told("metric");
    assert!(metric.contains("barometer: 101.8 kPa") && metric.contains("humidity: 62 %"), "{metric}");
    assert!(metric.contains("screws 1 and 2: ") && metric.contains("of a turn "), "{metric}");
}

#[test]
fn killed_at_one_question_after_another_and_started_again_nothing_acknowledged_is_lost_or_doubled() {
    let folder = folder();
    let mut engine = Engine::new(2);
    engine.screws = vec![2.5, 1.25];
    let mut whole = Vec::new();
    let mut arguments: &[&str] = &NEW;
    let mut result = None;
    for round in 0..400 {
        let mut link = Link::start(folder.path(), arguments);
        arguments = &ON;
        // a few questions a run: the first is the one the last run was killed on
        let Some(line) = link.next() else { panic!("round {round}: nothing asked") };
        let now = answers(folder.path());
        assert_eq!(now, whole, "round {round}: what was acknowledged is not what is in the file");
        if let Some(done) = line.get("result") {
            result = Some(done.clone());
            break;
        }
        let mut line = line;
        for _ in 0..=round % 4 {
            let answer = engine.answer(&line);
            link.answer(&answer);
            let Some(next) = link.next() else { break }; // its arrival acknowledges the answer
            line = next;
            if line.get("result").is_some() {
                break;
            }
        }
        whole = answers(folder.path());
        if let Some(done) = line.get("result") {
            result = Some(done.clone());
            break;
        }
        link.child.kill().expect("killed");
        link.child.wait().expect("gone");
    }
    let result = result.expect("it came to its end");
    assert_eq!(result["finished"], true);
    assert_eq!(replay(folder.path())["agrees"], true);
}

#[test]
fn undo_asks_the_same_question_again_and_is_itself_recorded() {
    let folder = folder();
    let mut link = Link::start(folder.path(), &NEW);
    let first = link.next().expect("cautions");
    assert_eq!(first["name"], "cautions");
    link.answer(&json!({ "undo": true }));
    let (tells, again) = link.next_with_tells();
    assert!(
        tells.iter().any(|t| t["tell"].as_str().is_some_and(|t| t.contains("nothing to take back"))),
        "{tells:?}"
    );
    assert_eq!(again.expect("cautions again")["name"], "cautions");
    link.answer(&json!({ "yes": true }));
    let second = link.next().expect("setup");
    link.answer(&json!({ "undo": true }));
    assert_eq!(link.next().expect("back")["name"], "cautions");
    link.answer(&json!({ "yes": true }));
    assert_eq!(link.next().expect("forward")["name"], second["name"]);
    link.answer(&json!({ "stop": true }));
    assert!(link.next().expect("result")["result"]["finished"] == false);
    assert_eq!(link.code(), Some(0));
    let text = fs::read_to_string(folder.path().join("job.tune.jsonl")).expect("the session");
    assert_eq!(text.matches("\"kind\":\"undone\"").count(), 1);
}

#[test]
fn an_undone_turn_says_how_to_put_it_back() {
    let folder = folder();
    let (mut link, mut engine) = (Link::start(folder.path(), &NEW), Engine::new(2));
    engine.screws = vec![2.5, 1.25];
    loop {
        let line = link.next().expect("a question");
        let turn = line["ask"] == "turn";
        let answer = engine.answer(&line);
        link.answer(&answer);
        if turn {
            break;
        }
    }
    link.next().expect("the next question");
    link.answer(&json!({ "undo": true }));
    let (tells, _) = link.next_with_tells();
    assert!(
        tells.iter().any(|t| t["tell"].as_str().is_some_and(|t| t.contains("turn it back"))),
        "{tells:?}"
    );
}

#[test]
fn notes_skips_and_what_cannot_be_are_kept_and_the_procedure_goes_on() {
    let folder = folder();
    let (mut link, mut engine) = (Link::start(folder.path(), &NEW), Engine::new(2));
    let mut noted = false;
    let result = loop {
        let line = link.next().expect("a line");
        if let Some(result) = line.get("result") {
            break result.clone();
        }
        let answer = match line["step"].as_str() {
            Some("warm-up") if !noted => {
                noted = true;
                json!({ "note": "plug 3 <b>looked</b> white \u{1b}[31m" })
            }
            Some("in-gear") => json!({ "skip": "on a stand" }),
            Some("curb-idle") => json!({ "cannot": true, "why": "no tachometer" }),
            _ => engine.answer(&line),
        };
        link.answer(&answer);
    };
    assert_eq!(link.code(), Some(0));
    let open = result["open_items"].to_string();
    assert!(open.contains("on a stand") && open.contains("no tachometer"), "{open}");
    let text = fs::read_to_string(folder.path().join("job.tune.jsonl")).expect("the session");
    assert!(text.contains("plug 3 <b>looked</b> white"), "the note is kept as written");
    let told = program(folder.path()).args(["replay", "job.tune.jsonl"]).output().expect("replay");
    assert!(!told.stdout.contains(&0x1b), "a note's escape sequence reached the terminal");
}

#[test]
fn a_default_that_is_only_taken_is_recorded_as_assumed() {
    let folder = folder();
    let (mut link, mut engine) = (Link::start(folder.path(), &NEW), Engine::new(2));
    loop {
        let line = link.next().expect("a line");
        match line["name"].as_str() {
            Some("barometer") => link.answer(&json!({ "value": null })),
            Some("air-temperature") => link.answer(&json!({ "value": line["default"] })),
            Some("humidity") => break,
            _ => link.answer(&engine.answer(&line)),
        }
    }
    let text = fs::read_to_string(folder.path().join("job.tune.jsonl")).expect("the session");
    let of =
        |name: &str| text.lines().find(|l| l.contains(&format!("\"name\":\"{name}\""))).expect("answered");
    assert!(of("barometer").contains("\"assumed\":true"), "{text}");
    assert!(!of("air-temperature").contains("assumed"), "a value that is given was read");
}

#[test]
fn cautions_cannot_be_skipped() {
    let folder = folder();
    let mut link = Link::start(folder.path(), &NEW);
    for way in [json!({ "skip": "in a hurry" }), json!({ "cannot": true }), json!({ "yes": false })] {
        link.next().expect("cautions");
        link.answer(&way);
    }
    assert_eq!(link.next().expect("still cautions")["name"], "cautions");
}

#[test]
fn a_surprising_reading_is_questioned_once_then_believed_and_marked() {
    let folder = folder();
    let (mut link, mut engine) = (Link::start(folder.path(), &NEW), Engine::new(2));
    let mut asked = 0;
    loop {
        let line = link.next().expect("a line");
        if line["name"] == "as-found" {
            asked += 1;
            link.answer(&json!({ "vacuum": "28.9 inHg", "speed": "760 rpm" }));
        } else if asked > 0 {
            break;
        } else {
            let answer = engine.answer(&line);
            link.answer(&answer);
        }
    }
    assert_eq!(asked, 2, "questioned once, then believed");
    let text = fs::read_to_string(folder.path().join("job.tune.jsonl")).expect("the session");
    assert!(text.contains("\"surprising\":true"));
}

#[test]
fn a_reading_without_a_unit_is_refused_with_the_units_that_would_do() {
    let folder = folder();
    let mut link =
        Link::start(folder.path(), &["balance", "--screws", "2", "--turns-out", "1.5", "--answers", "-"]);
    assert_eq!(link.next().expect("a reading")["ask"], "reading");
    for (answer, said) in [
        (json!({ "vacuum": 14.5 }), "inHg"),
        (json!({ "vacuum": "14.5" }), "no unit"),
        (json!({ "vacuum": "14.5 rpm" }), "not a unit of a vacuum"),
        (json!({ "vacum": "14.5 inHg" }), "vacuum is wanted"),
        (json!([1, 2]), "not a JSON object"),
    ] {
        link.answer(&answer);
        let (tells, again) = link.next_with_tells();
        assert!(
            tells.iter().any(|t| t["tell"].as_str().is_some_and(|t| t.contains(said))),
            "{answer}: {tells:?}"
        );
        assert_eq!(again.expect("asked again")["ask"], "reading");
    }
}

#[test]
fn an_answerer_that_makes_no_sense_is_not_asked_for_ever() {
    let folder = folder();
    let mut link = Link::start(folder.path(), &NEW);
    while link.next().is_some() {
        link.answer(&json!({ "sense": "none" }));
    }
    assert_eq!(link.code(), Some(2));
}

#[test]
fn when_the_answers_end_the_file_is_whole_and_the_next_run_goes_on_from_the_same_question() {
    let folder = folder();
    let mut link = Link::start(folder.path(), &NEW);
    link.next().expect("cautions");
    link.answer(&json!({ "yes": true }));
    let second = link.next().expect("setup");
    assert_eq!(link.code(), Some(130));
    let mut again = Link::start(folder.path(), &ON);
    assert_eq!(again.next().expect("the same question")["name"], second["name"]);
}

#[test]
fn balance_finds_the_top_and_ends_with_the_contracts_result() {
    let folder = folder();
    for screws in [1usize, 2, 4] {
        let n = screws.to_string();
        let mut link =
            Link::start(folder.path(), &["balance", "--screws", &n, "--turns-out", "1.75", "--answers", "-"]);
        let mut engine = Engine::new(screws);
        let result = to_the_end(&mut link, &mut engine).expect("a result");
        assert_eq!(link.code(), Some(0));
        assert!(engine.vacuum() > 17.4, "{screws} screws: {:?}", engine.screws);
        let turns: Vec<f64> =
            result["turns_out"].as_array().expect("turns_out").iter().filter_map(Value::as_f64).collect();
        assert_eq!(turns, engine.screws, "what it says is where the screws are");
        for field in ["vacuum_inhg", "moves", "readings"] {
            assert!(result[field].is_number(), "{field} in {result}");
        }
        assert!(result["unresponsive"].as_array().is_some_and(Vec::is_empty), "{result}");
    }
}

#[test]
fn a_real_session_cut_at_every_byte_of_its_last_lines_is_taken_up_again() {
    use leanbest::session::story::{Recording, read_story};
    let folder = folder();
    let (mut link, mut engine) = (Link::start(folder.path(), &NEW), Engine::new(2));
    engine.screws = vec![2.5, 1.25];
    to_the_end(&mut link, &mut engine).expect("a result");
    link.code();
    let path = folder.path().join("job.tune.jsonl");
    let whole = fs::read(&path).expect("the session");
    let story = read_story(&path, None).expect("it reads");
    let ends: Vec<usize> =
        whole.iter().enumerate().filter(|(_, b)| **b == b'\n').map(|(i, _)| i + 1).collect();
    let from = ends[ends.len() - 4];
    let cut_path = folder.path().join("cut.tune.jsonl");
    for cut in from..=whole.len() {
        fs::write(&cut_path, &whole[..cut]).unwrap();
        let (recording, cut_story) =
            Recording::resume(&cut_path).unwrap_or_else(|e| panic!("cut at {cut}: {e}"));
        // a line that lost only its newline is whole
        let lines = ends.iter().filter(|end| **end <= cut + 1).count() - 1;
        assert_eq!(cut_story.told.len(), lines, "cut at {cut}");
        assert!(story.told.iter().zip(&cut_story.told).all(|(a, b)| a.event == b.event), "cut at {cut}");
        drop(recording);
    }
}

#[test]
fn a_log_may_be_piped_in_while_the_answers_come_from_a_file() {
    let folder = folder();
    let demo = program(folder.path()).args(["demo", "--out", "d", "--json"]).output().expect("a demo");
    assert!(demo.status.success());
    // a session stopped before its log, gone on with from a file of answers
    let (mut link, mut engine) = (Link::start(folder.path(), &NEW), Engine::new(2));
    engine.screws = vec![2.5, 1.25];
    loop {
        let line = link.next().expect("a line");
        if line["ask"] == "log" {
            break;
        }
        let answer = engine.answer(&line);
        link.answer(&answer);
    }
    link.code();
    fs::write(folder.path().join("answers.jsonl"), "{\"file\":\"-\"}\n").unwrap();
    let log = fs::File::open(folder.path().join("d/log-1.csv")).unwrap();
    let out = program(folder.path())
        .args(["guide", "job.tune.jsonl", "--answers", "answers.jsonl"])
        .stdin(log)
        .output()
        .unwrap();
    let text = String::from_utf8_lossy(&out.stdout);
    assert!(text.contains("rows. Lambda:"), "{text}");
    assert_eq!(out.status.code(), Some(130), "the answers end after the log");
    assert!(
        fs::read_to_string(folder.path().join("job.tune.jsonl")).unwrap().contains("\"kind\":\"advised\"")
    );
}
