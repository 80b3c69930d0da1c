//! Trials in a session, the whole program: what was set is said once and kept, what differs is computed, and what
//! helped is put down to it only where it can be.

#![cfg(test)]

#[path = "guide/rig.rs"]
#[allow(dead_code, reason = "one of several users of the rig: each needs a part of it")]
mod rig;

use leanbest::numeric::rng::Chance;
use rig::{Engine, Link, answer, folder, run, to_the_end};
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::path::Path;

const JOB: &str = "job.tune.jsonl";

/// Kinds of the records, in order, with their payloads.
fn records(folder: &Path) -> Vec<(String, Value)> {
    let text = std::fs::read_to_string(folder.join(JOB)).expect("the session");
    let record = |line: &str| {
        let value: Value = serde_json::from_str(line).ok()?;
        Some((value["kind"].as_str()?.to_owned(), value["payload"].clone()))
    };
    text.lines().filter_map(record).collect()
}

fn kinds(folder: &Path) -> Vec<String> {
    records(folder).into_iter().map(|r| r.0).collect()
}

/// A rising pull of a boat's engine; `strength` multiplies its torque.
fn pull(folder: &Path, name: &str, strength: f64, seed: u64) {
    let mut chance = Chance::with_seed(seed);
    let mut text = "time_s,rpm,torque_lbf_ft,oil_f\n".to_owned();
    for k in 0..180u32 {
        let rpm = 1800.0 + 2500.0 * f64::from(k) / 179.0;
        let torque = (221.0 - 31.7 * ((rpm - 2400.0) / 1700.0).powi(2)) * strength + 1.2 * chance.normal();
        let _ = writeln!(text, "{:.2},{rpm:.1},{torque:.2},195", 0.05 * f64::from(k));
    }
    std::fs::write(folder.join(name), text).expect("a pull");
}

const DAY: [&str; 2] = ["--air", "30.05 inHg, 71 F, 62 %"];

#[test]
fn what_was_set_is_kept_can_be_taken_back_and_is_refused_when_it_says_nothing() {
    let folder = folder();
    let mut link = Link::start(folder.path(), &["guide", JOB, "--setup", "petrel", "--answers", "-"]);
    link.next().expect("asked");
    link.answer(&json!({ "set": { "Timing": " 8  deg " , "spacer": "none" } }));
    let asked = link.next().expect("the same question again");
    assert_eq!(asked["name"], "cautions");
    link.answer(&json!({ "set": { "timing": 8 } }));
    let (tells, _) = link.next_with_tells();
    assert!(tells.iter().any(|t| t["refused"] == true), "{tells:?}");
    link.answer(&json!({ "set": {} }));
    let (tells, _) = link.next_with_tells();
    assert!(tells.iter().any(|t| t["refused"] == true), "{tells:?}");
    let set: Vec<_> = records(folder.path()).into_iter().filter(|r| r.0 == "set").collect();
    assert_eq!(set.len(), 1, "refusals are not recorded");
    assert_eq!(set[0].1["settings"], json!({ "timing": "8 deg", "spacer": "none" }));
    link.answer(&json!({ "set": { "main.primary.jet": "0.061 in" } }));
    link.next().expect("asked again");
    assert_eq!(kinds(folder.path()).last().map(String::as_str), Some("part-changed"));
    link.answer(&json!({ "undo": true }));
    let (tells, _) = link.next_with_tells();
    assert!(tells.iter().any(|t| t["tell"].as_str().is_some_and(|t| t.contains("refit"))), "{tells:?}");
    link.answer(&json!({ "undo": true }));
    let (tells, _) = link.next_with_tells();
    let put_back =
        |t: &Value| t["tell"].as_str().is_some_and(|t| t.contains("timing") && t.contains("put it back"));
    assert!(tells.iter().any(put_back), "{tells:?}");
    link.code();
    let told = String::from_utf8(run(folder.path(), &["replay", JOB]).stdout).expect("text");
    assert!(told.contains("set: spacer none, timing 8 deg"), "{told}");
}

#[test]
fn timing_moved_after_the_screws_were_set_voids_them_and_they_are_set_again() {
    let folder = folder();
    let mut link = Link::start(folder.path(), &["guide", JOB, "--setup", "petrel", "--answers", "-"]);
    let mut engine = Engine::new(2);
    let (mut moved, mut asked_again) = (false, 0);
    let result = loop {
        let (tells, line) = link.next_with_tells();
        let line = line.expect("a line");
        if moved && asked_again == 0 {
            let void = |t: &Value| t["tell"].as_str().is_some_and(|t| t.contains("no longer holds"));
            assert!(tells.iter().any(void), "{tells:?}");
        }
        if let Some(result) = line.get("result") {
            break result.clone();
        }
        if line["name"] == "mixture.again.1" {
            asked_again += 1;
            link.answer(&json!({ "choice": "again" }));
        } else if line["step"] == "close" && !moved {
            moved = true;
            link.answer(&json!({ "set": { "timing": "12 deg" } }));
        } else {
            let reply = engine.answer(&line);
            link.answer(&reply);
        }
    };
    assert_eq!(link.code(), Some(0));
    assert_eq!(asked_again, 1);
    assert_eq!(result["finished"], true);
    let kinds = kinds(folder.path());
    let set = kinds.iter().position(|k| k == "set").expect("set");
    assert!(kinds[set..].iter().any(|k| k == "mixture-read"), "the screws are read again: {kinds:?}");
    assert!(!result["open_items"].to_string().contains("timing"), "{result}");
    assert_eq!(answer(folder.path(), &["replay", JOB])["agrees"], true);
}

#[test]
fn one_change_run_a_b_a_is_put_down_to_what_was_set() {
    let folder = folder();
    let here = folder.path();
    for (name, strength, seed) in [("one.csv", 1.0, 1), ("two.csv", 1.03, 2), ("three.csv", 1.001, 3)] {
        pull(here, name, strength, seed);
    }
    let begin =
        ["pulls", "one.csv", "--session", JOB, "--setup", "petrel", "--set", "timing=10 deg", DAY[0], DAY[1]];
    let first = answer(here, &begin);
    assert_eq!(first["recorded"], 1, "{first}");
    assert!(first["comparison"].is_null(), "one state has nothing to be held against");
    let rig = ["--rig", "engine-dyno"];
    let second = answer(
        here,
        &["pulls", "two.csv", "--session", JOB, "--set", "timing=14deg", DAY[0], DAY[1], rig[0], rig[1]],
    );
    assert_eq!(second["pulls"].as_array().map(Vec::len), Some(2));
    let third = answer(
        here,
        &["pulls", "three.csv", "--session", JOB, "--set", "timing=10 deg", DAY[0], DAY[1], rig[0], rig[1]],
    );
    let labels: Vec<_> =
        third["pulls"].as_array().expect("pulls").iter().map(|p| p["label"].clone()).collect();
    assert_eq!(labels, ["A", "B", "A"], "what differs is computed");
    assert_eq!(third["attributed"][0]["to"], "timing", "{}", third["attributed"]);
    assert_eq!(third["attributed"][0]["verdict"], "better");
    let effect = third["comparison"]["band_power"]["effects"][0]["effect_pct"].as_f64().expect("an effect");
    assert!((effect - 2.95).abs() < 0.4, "{effect}");
    // told again without files, and not a record more
    let before = kinds(here);
    let again = answer(here, &["pulls", "--session", JOB, rig[0], rig[1]]);
    assert_eq!(again["comparison"], third["comparison"]);
    assert_eq!(again["recorded"], 0);
    assert_eq!(kinds(here), before);
    // the same whole series from files at once, by the same analysis
    let at_once = answer(
        here,
        &[
            "pulls",
            "A=one.csv",
            "B=two.csv",
            "A=three.csv",
            DAY[0],
            DAY[1],
            rig[0],
            rig[1],
            "--use",
            "marine",
        ],
    );
    let theirs =
        at_once["comparison"]["all_speeds_power"]["effects"][0]["effect_kw"].as_f64().expect("an effect");
    let ours =
        third["comparison"]["all_speeds_power"]["effects"][0]["effect_kw"].as_f64().expect("an effect");
    assert!((theirs - ours).abs() < 0.01, "{theirs} {ours}");
    let text =
        String::from_utf8(run(here, &["pulls", "--session", JOB, rig[0], rig[1]]).stdout).expect("text");
    assert!(text.contains("put down to timing, 10 deg to 14deg"), "{text}");
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    assert_eq!(answer(here, &["replay", JOB])["agrees"], true);
}

#[test]
fn two_changes_at_once_are_said_and_left_unattributed_until_they_are_separated() {
    let folder = folder();
    let here = folder.path();
    let states = [("a", 0, 0), ("b", 1, 1), ("c", 1, 0), ("d", 0, 1), ("a", 0, 0), ("b", 1, 1)];
    let mut last = Value::Null;
    for (k, (_, timing, spacer)) in states.iter().enumerate() {
        let name = format!("{k}.csv");
        pull(here, &name, 1.0 + 0.03 * f64::from(*timing), 10 + k as u64);
        let set = format!("timing={} deg, spacer={}", 10 + 4 * timing, ["no", "1 in"][*spacer]);
        let mut arguments = vec!["pulls", &name, "--session", JOB, "--set", &set, DAY[0], DAY[1]];
        arguments.extend(["--rig", "engine-dyno"]);
        if k == 0 {
            arguments.extend(["--setup", "petrel"]);
        }
        last = answer(here, &arguments);
        if k == 1 {
            assert_eq!(last["changes"]["unattributed"], json!(["B"]), "{}", last["changes"]);
            assert_eq!(last["attributed"], json!([]));
            assert!(last["changes"]["further_states"].as_array().is_some_and(|f| !f.is_empty()));
        }
    }
    assert_eq!(last["changes"]["separated"], true, "{}", last["changes"]);
    assert_eq!(last["changes"]["unattributed"], json!([]));
    let term = |name: &str| {
        let terms = last["changes"]["terms"].as_array().expect("terms");
        terms.iter().find(|t| t["change"] == name).expect(name).clone()
    };
    assert!(term("timing")["low_kw"].as_f64().expect("low") > 0.0, "{}", term("timing"));
    assert!(term("spacer")["low_kw"].as_f64().expect("low") < 0.0, "{}", term("spacer"));
    assert_eq!(answer(here, &["replay", JOB])["agrees"], true);
}

#[test]
fn a_session_says_what_it_lacks() {
    let folder = folder();
    let here = folder.path();
    pull(here, "one.csv", 1.0, 1);
    let said = |arguments: &[&str], code: i32, word: &str| {
        let out = run(here, arguments);
        let text = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(code), "{text}");
        assert!(text.contains(word), "{text}");
    };
    said(&["pulls", "one.csv", "--session", JOB], 2, "--setup");
    said(&["pulls", "A=one.csv", "--session", JOB, "--setup", "petrel"], 2, "--set says nothing of A");
    said(&["pulls", "one.csv", "--session", JOB, "--setup", "petrel", "--set", "B=timing=3 deg"], 2, "B");
    said(&["pulls", "nowhere.csv", "--session", JOB, "--setup", "petrel"], 3, "nowhere.csv");
    assert!(!here.join(JOB).exists(), "nothing is begun for what cannot be done");
    assert_eq!(run(here, &["pulls", "--session", JOB]).status.code(), Some(2));
}

#[test]
fn advice_in_a_session_records_what_changed_and_replays_the_same() {
    let folder = folder();
    let here = folder.path();
    log(here, "one.csv", 0.86);
    log(here, "two.csv", 0.93);
    let out = run(here, &["advise", "one.csv", "--setup", "petrel", "--session", JOB, "--json"]);
    assert!(matches!(out.status.code(), Some(0 | 1)), "{}", String::from_utf8_lossy(&out.stderr));
    let begun = kinds(here);
    assert!(begun.ends_with(&["logged".to_owned(), "advised".to_owned()]), "{begun:?}");
    let out = run(
        here,
        &["advise", "two.csv", "--session", JOB, "--set", "main.primary.jet=0.058 in, fuel=pump", "--json"],
    );
    assert!(matches!(out.status.code(), Some(0 | 1)), "{}", String::from_utf8_lossy(&out.stderr));
    let then = kinds(here);
    for kind in ["part-changed", "set"] {
        assert_eq!(then.iter().filter(|k| *k == kind).count(), 1, "{kind}: {then:?}");
    }
    let advice: Value = serde_json::from_slice(&out.stdout).expect("advice");
    assert!(advice["notes"].to_string().contains("another fuel"), "{}", advice["notes"]);
    let told = answer(here, &["replay", JOB]);
    assert_eq!(told["agrees"], true, "{told}");
    assert_eq!(told["changes"].as_array().map(Vec::len), Some(1), "{told}");
    // given again, the setup says what it always said: the jet goes back, and that is a change too
    let back = run(here, &["advise", "one.csv", "--setup", "petrel", "--session", JOB, "--json"]);
    let said = String::from_utf8_lossy(&back.stderr).into_owned();
    assert!(said.contains("as the setup has it"), "{said}");
    assert_eq!(kinds(here).iter().filter(|k| *k == "part-changed").count(), 2);
    assert_eq!(answer(here, &["replay", JOB])["agrees"], true);
}

#[test]
fn a_logger_named_by_hand_reads_the_log_over_the_setups_and_the_sessions() {
    let folder = folder();
    let here = folder.path();
    log(here, "own.csv", 0.86);
    // two columns that could be lambda: each logger knows one of them
    let text = std::fs::read_to_string(here.join("own.csv")).expect("the log");
    let both: String = text
        .lines()
        .map(|l| format!("{l},{}\n", if l.starts_with("time") { "other" } else { "0.930" }))
        .collect();
    std::fs::write(here.join("log.csv"), both.replace(",lambda,", ",first,")).expect("a log");
    for name in ["first", "other"] {
        let columns = [
            ("time", "time_s", "s"),
            ("speed", "rpm", "rpm"),
            ("manifold", "map_kpa", "kPa"),
            ("throttle", "tps_pct", "%"),
            ("lambda", name, "lambda"),
            ("coolant", "coolant_c", "degC"),
        ];
        let column = |(channel, column, unit)| {
            format!("[[column]]\nchannel = \"{channel}\"\nnames = [\"{column}\"]\nunit = \"{unit}\"\n")
        };
        let profile: String = columns.into_iter().map(column).collect();
        std::fs::write(here.join(format!("{name}.toml")), format!("name = \"{name}\"\n{profile}"))
            .expect("it");
    }
    let setup = include_str!("../profiles/setups/petrel.toml")
        .replace("fuel = \"e10\"", "fuel = \"e10\"\nlogger = \"first.toml\"");
    std::fs::write(here.join("boat.toml"), setup).expect("a setup");
    let lambda = |arguments: &[&str]| {
        let advice = answer(here, &[&["advise", "log.csv"], arguments].concat());
        let median = advice["regimes"][0]["lambda_median"].as_f64().unwrap_or_else(|| panic!("{advice}"));
        (median * 100.0).round()
    };
    let (by_setup, named) = (["--setup", "boat.toml"], ["--logger", "other.toml"]);
    assert_eq!(lambda(&by_setup), 86.0);
    assert_eq!(lambda(&[by_setup, named].concat()), 93.0);
    let session = ["--session", JOB];
    assert_eq!(lambda(&[by_setup, session].concat()), 86.0);
    assert_eq!(lambda(&[session, named].concat()), 93.0);
    assert_eq!(lambda(&session), 86.0, "for those logs only");
    let nobody = run(here, &["advise", "log.csv", "--setup", "boat.toml", "--logger", "nobody"]);
    assert_eq!(nobody.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&nobody.stderr).contains("nobody"));
}

/// A log with cruise and full throttle at `lambda` in both.
fn log(folder: &Path, name: &str, lambda: f64) {
    let mut text = "time_s,rpm,map_kpa,tps_pct,lambda,coolant_c\n".to_owned();
    for k in 0..1200u32 {
        let (rpm, map, tps) = match k {
            0..=299 => (700, 40, 0.0),
            300..=899 => (2200, 60, 18.0),
            _ => (3900, 97, 100.0),
        };
        let _ = writeln!(text, "{:.1},{rpm},{map},{tps},{lambda:.3},85", 0.1 * f64::from(k));
    }
    std::fs::write(folder.join(name), text).expect("a log");
}

#[test]
fn the_guide_goes_on_after_advice_given_outside_it() {
    let folder = folder();
    let here = folder.path();
    log(here, "one.csv", 0.86);
    run(here, &["advise", "one.csv", "--setup", "petrel", "--session", JOB, "--json"]);
    let mut link = Link::start(here, &["guide", JOB, "--answers", "-"]);
    let result = to_the_end(&mut link, &mut Engine::new(2)).expect("a result");
    assert_eq!(result["finished"], true, "{result}");
    assert_eq!(link.code(), Some(0));
    assert_eq!(answer(here, &["replay", JOB])["agrees"], true);
}
