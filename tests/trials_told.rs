//! What is told of trials afterwards: history and the way back, trials side by side, a session told again, old files.

#![cfg(test)]

#[path = "guide/rig.rs"]
#[allow(dead_code, reason = "one of several users of the rig: each needs a part of it")]
mod rig;

use leanbest::numeric::rng::Chance;
use rig::{answer, folder, run};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::path::Path;

const JOB: &str = "job.tune.jsonl";
const DAY: &str = "30.05 inHg, 71 F, 62 %";

fn text(folder: &Path, arguments: &[&str]) -> String {
    let out = run(folder, arguments);
    let text = String::from_utf8(out.stdout).expect("UTF-8");
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    text
}

/// Lines put together again.
fn unbroken(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A steady log at idle, cruise and full throttle.
fn log(folder: &Path, name: &str, [idle, cruise, full]: [f64; 3]) {
    let mut chance = Chance::with_seed(7);
    let mut text = "time_s,rpm,map_kpa,tps_pct,lambda,coolant_c\n".to_owned();
    for k in 0..2400u32 {
        let (rpm, map, tps, lambda) = match k {
            0..=599 => (700, 40, 0.0, idle),
            600..=1799 => (2200, 60, 18.0, cruise),
            _ => (3900, 97, 100.0, full),
        };
        let lambda = lambda + 0.003 * chance.normal();
        let _ = writeln!(text, "{:.1},{rpm},{map},{tps},{lambda:.3},85", 0.1 * f64::from(k));
    }
    std::fs::write(folder.join(name), text).expect("a log");
}

/// A rising pull; `strength` multiplies its torque. Columns by the names given.
fn pull_as(folder: &Path, name: &str, strength: f64, seed: u64, header: &str) {
    let mut chance = Chance::with_seed(seed);
    let mut text = format!("{header}\n");
    for k in 0..180u32 {
        let rpm = 1800.0 + 2500.0 * f64::from(k) / 179.0;
        let torque = (221.0 - 31.7 * ((rpm - 2400.0) / 1700.0).powi(2)) * strength + 1.2 * chance.normal();
        let _ = writeln!(text, "{:.2},{rpm:.1},{torque:.2}", 0.05 * f64::from(k));
    }
    std::fs::write(folder.join(name), text).expect("a pull");
}

fn pull(folder: &Path, name: &str, strength: f64, seed: u64) {
    pull_as(folder, name, strength, seed, "time_s,rpm,torque_lbf_ft");
}

/// Writes files to try two changes at once with: `cargo test --test trials_told write -- --ignored`, into the folder
/// that `TRIALS_TO` names.
#[test]
#[ignore = "writes files for trying by hand"]
fn write_files_to_try_with() {
    let to = std::env::var("TRIALS_TO").expect("TRIALS_TO names a folder");
    for (k, strength) in [1.0, 1.015, 1.03, 0.985, 1.001, 1.015].into_iter().enumerate() {
        pull(Path::new(&to), &format!("{}.csv", k + 1), strength, 20 + k as u64);
    }
}

#[test]
fn history_finds_the_last_good_state_what_was_changed_since_and_the_way_back() {
    let folder = folder();
    let here = folder.path();
    let advise = |arguments: &[&str]| {
        let out = run(here, &[&["advise"], arguments, &["--json"]].concat());
        let advice: Value = serde_json::from_slice(&out.stdout).expect("advice");
        advice["regimes"].as_array().expect("regimes").clone()
    };
    log(here, "found.csv", [0.86, 0.86, 0.78]);
    let found = advise(&["found.csv", "--setup", "petrel", "--session", JOB, "--set", "timing=8 deg"]);
    let before = answer(here, &["history"]);
    assert_eq!(before["sessions"][0]["last_good"], Value::Null, "rich everywhere");
    assert!(text(here, &["history"]).contains("No log so far found everything inside its target."));
    // The next log stands in the middle of every band that was said.
    let middle = |regime: &str| {
        let one = found.iter().find(|r| r["regime"] == regime).expect(regime);
        let end = |name: &str| one[name].as_f64().expect("a target");
        f64::midpoint(end("target_low"), end("target_high"))
    };
    log(here, "good.csv", [middle("idle"), middle("cruise"), middle("full-throttle")]);
    let good = advise(&["good.csv", "--session", JOB, "--set", "main.primary.jet=0.058 in"]);
    for regime in ["idle", "cruise", "full-throttle"] {
        let one = good.iter().find(|r| r["regime"] == regime).expect(regime);
        assert_eq!(one["verdict"], "inside", "{one}");
    }
    let now = answer(here, &["history"]);
    let last = &now["sessions"][0]["last_good"];
    assert_eq!(last["session"], JOB);
    assert_eq!(last["inside"], json!(["idle", "cruise", "full-throttle"]));
    assert_eq!((&last["changed_since"], &last["go_back"]), (&json!([]), &json!([])));
    assert!(unbroken(&text(here, &["history"])).contains("It stands so still."));
    // Then it is changed for the worse, a part and a setting.
    log(here, "worse.csv", [0.93, 0.90, 0.79]);
    advise(&["worse.csv", "--session", JOB, "--set", "main.primary.jet=0.061 in, timing=12 deg"]);
    let now = answer(here, &["history"]);
    let last = &now["sessions"][0]["last_good"];
    let pairs = |list: &Value| -> Vec<[String; 3]> {
        let one = |d: &Value| ["name", "from", "to"].map(|k| d[k].as_str().expect(k).to_owned());
        list.as_array().expect("a list").iter().map(one).collect()
    };
    let jet = |from: &str, to: &str| ["main.primary.jet", from, to].map(str::to_owned);
    let timing = |from: &str, to: &str| ["timing", from, to].map(str::to_owned);
    assert_eq!(pairs(&last["changed_since"]), [jet("0.058 in", "0.061 in"), timing("8 deg", "12 deg")]);
    assert_eq!(pairs(&last["go_back"]), [jet("0.061 in", "0.058 in"), timing("12 deg", "8 deg")]);
    let told = unbroken(&text(here, &["history"]));
    assert!(
        told.contains("Changed since: primary main jet 0.058 in -> 0.061 in; timing 8 deg -> 12 deg."),
        "{told}"
    );
    assert!(told.contains("To go back: primary main jet to 0.058 in; timing to 8 deg."), "{told}");
    assert!(
        told.contains("Changed: primary main jet 0.060 in -> 0.058 in -> 0.061 in; timing 8 deg -> 12 deg."),
        "{told}"
    );
    // A later session of the same engine still knows it, and of what it never said it says so.
    let later =
        run(here, &["advise", "worse.csv", "--setup", "petrel", "--session", "later.tune.jsonl", "--json"]);
    assert!(matches!(later.status.code(), Some(0 | 1)), "{later:?}");
    let now = answer(here, &["history"]);
    assert_eq!(now["sessions"][0]["file"], "later.tune.jsonl", "newest first");
    let last = &now["sessions"][0]["last_good"];
    assert_eq!(last["session"], JOB);
    assert_eq!(last["go_back"][0]["to"], "0.058 in");
    assert_eq!((&last["go_back"][1]["name"], &last["go_back"][1]["from"]), (&json!("timing"), &Value::Null));
}

#[test]
fn trials_of_a_session_are_held_against_each_other() {
    let folder = folder();
    let here = folder.path();
    log(here, "one.csv", [0.86, 0.86, 0.78]);
    log(here, "two.csv", [0.86, 0.93, 0.84]);
    for (k, (file, set)) in
        [("one.csv", "timing=8 deg"), ("two.csv", "main.primary.jet=0.058 in, timing=12 deg")]
            .iter()
            .enumerate()
    {
        let mut arguments = vec!["advise", file, "--session", JOB, "--set", set, "--json"];
        if k == 0 {
            arguments.extend(["--setup", "petrel"]);
        }
        run(here, &arguments);
    }
    let logs = answer(here, &["compare", "job.tune.jsonl#1", "job.tune.jsonl#2"]);
    assert_eq!(logs["kind"], "trials");
    let names: Vec<_> = logs["settings"].as_array().expect("settings").iter().map(|s| &s["name"]).collect();
    assert_eq!(names, ["main.primary.jet", "timing"]);
    let cruise = logs["readings"]["regimes"]
        .as_array()
        .and_then(|r| r.iter().find(|r| r["regime"] == "cruise").cloned())
        .expect("cruise");
    assert_eq!(cruise["shift"], "leaner");
    assert!((cruise["lambda_left"].as_f64().expect("left") - 0.07).abs() < 0.005, "{cruise}");
    let said = text(here, &["compare", "job.tune.jsonl#1", "job.tune.jsonl#2", "--ascii"]);
    assert!(unbroken(&said).contains("timing 8 deg -> 12 deg"), "{said}");

    for (name, strength, seed, set) in [
        ("a.csv", 1.0, 1, "timing=10 deg"),
        ("b.csv", 1.03, 2, "timing=14 deg"),
        ("c.csv", 1.0, 3, "timing=10 deg"),
    ] {
        pull(here, name, strength, seed);
        let out =
            run(here, &["pulls", name, "--session", JOB, "--set", set, "--air", DAY, "--rig", "engine-dyno"]);
        assert!(out.status.success(), "{out:?}");
    }
    let pulls = answer(here, &["compare", "job.tune.jsonl#pull1", "job.tune.jsonl#pull2"]);
    assert_eq!(pulls["pulls"]["rig"], "engine dyno", "the session remembers what they were run on");
    let effect = &pulls["pulls"]["comparison"]["band_power"]["effects"][0];
    assert_eq!((&effect["label"], &effect["verdict"]), (&json!("B"), &json!("better")));
    assert!((effect["effect_pct"].as_f64().expect("an effect") - 3.0).abs() < 0.6, "{effect}");
    let back = answer(here, &["compare", "job.tune.jsonl#pull1", "job.tune.jsonl#pull3"]);
    assert_eq!(back["settings"], json!([]));
    assert_eq!(back["pulls"]["comparison"]["verdicts"][0]["verdict"], "within-noise");
    let said = unbroken(&text(here, &["compare", "job.tune.jsonl#pull1", "job.tune.jsonl#pull2"]));
    assert!(said.contains("corrected to SAE J1349") && said.contains("better"), "{said}");
    // A whole session: what was changed after its last log is said, for the log does not tell of it.
    let whole = answer(here, &["compare", "job.tune.jsonl#1", JOB]);
    assert!(whole["notes"].to_string().contains("changed after its last log"), "{}", whole["notes"]);
    // Another evening is another series, and curves on another grid are not laid over these.
    std::fs::copy(here.join(JOB), here.join("other.tune.jsonl")).expect("a copy");
    let evenings = answer(here, &["compare", JOB, "other.tune.jsonl"]);
    assert_eq!(evenings["pulls"]["comparison"]["verdicts"][0]["verdict"], "within-noise");
    assert!(evenings["notes"].to_string().contains("not run in turn"), "{}", evenings["notes"]);
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/sessions/v1-trials.tune.jsonl");
    let coarse = answer(here, &["compare", JOB, golden.to_str().expect("a plain path")]);
    assert_eq!(coarse["pulls"], Value::Null);
    assert!(coarse["notes"].to_string().contains("another grid"), "{}", coarse["notes"]);
    for (what, word) in [
        ("job.tune.jsonl#9", "it has 2 logs"),
        ("job.tune.jsonl#pull9", "it has 3 pulls"),
        ("job.tune.jsonl#x", "names no trial"),
    ] {
        let out = run(here, &["compare", "job.tune.jsonl#1", what]);
        assert_eq!(out.status.code(), Some(2), "{what}");
        assert!(String::from_utf8_lossy(&out.stderr).contains(word), "{out:?}");
    }
}

#[test]
fn the_setups_own_logger_reads_dyno_files() {
    let folder = folder();
    let here = folder.path();
    std::fs::write(
        here.join("brake.toml"),
        "name = \"brake\"\n[[column]]\nchannel = \"speed\"\nnames = [\"Drehzahl\"]\n\
         [[column]]\nchannel = \"torque\"\nnames = [\"Moment\"]\nunit = \"lbf ft\"\n",
    )
    .expect("a logger");
    let shown = run(here, &["profile", "show", "petrel", "--json"]);
    assert!(shown.status.success(), "{shown:?}");
    let setup =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles/setups/petrel.toml"))
            .expect("the setup");
    std::fs::write(here.join("own.toml"), format!("logger = \"brake.toml\"\n{setup}")).expect("a setup");
    pull_as(here, "one.csv", 1.0, 1, "time_s,Drehzahl,Moment");
    let alone = run(here, &["pulls", "one.csv", "--air", DAY]);
    assert_eq!(alone.status.code(), Some(2), "nobody said what its columns are");
    let own = answer(here, &["pulls", "one.csv", "--setup", "own.toml", "--air", DAY]);
    let peak = own["pulls"][0]["torque_peak"]["raw_n_m"].as_f64().expect("a peak");
    assert!((peak - 221.0 * 1.3558).abs() < 3.0, "{peak}");
    // In a session it is told once.
    answer(here, &["pulls", "one.csv", "--session", JOB, "--setup", "own.toml", "--air", DAY]);
    let again = answer(here, &["pulls", "one.csv", "--session", JOB, "--air", DAY]);
    assert_eq!(again["recorded"], 1);
    // The tool's own names still do, beside the logger's.
    pull(here, "plain.csv", 1.0, 2);
    let plain = answer(here, &["pulls", "plain.csv", "--session", JOB, "--air", DAY]);
    assert_eq!(plain["recorded"], 1, "{plain}");
}

/// A session as another version might have written it: every line changed by `change`, and sealed again.
fn resealed(text: &str, change: impl Fn(&str) -> String) -> String {
    let mut previous: Option<(String, String)> = None;
    let mut out = String::new();
    for line in text.lines() {
        let mut line = change(line);
        if let Some((was, is)) = &previous {
            line = line.replace(&format!("\"previous\":\"{was}\""), &format!("\"previous\":\"{is}\""));
        }
        let (body, rest) = line.rsplit_once(",\"check\":\"").expect("a check");
        let check: String = Sha256::digest(body.as_bytes())[..8].iter().map(|b| format!("{b:02x}")).collect();
        previous = Some((rest[..16].to_owned(), check.clone()));
        let _ = writeln!(out, "{body},\"check\":\"{check}\"}}");
    }
    out
}

#[test]
fn advice_that_comes_out_differently_names_the_version_that_gave_it() {
    let folder = folder();
    let here = folder.path();
    log(here, "one.csv", [0.86, 0.86, 0.78]);
    run(here, &["advise", "one.csv", "--setup", "petrel", "--session", JOB, "--json"]);
    let whole = std::fs::read_to_string(here.join(JOB)).expect("the session");
    assert_eq!(resealed(&whole, str::to_owned), whole, "sealed as the program seals");
    assert_eq!(answer(here, &["replay", JOB])["note"], Value::Null);
    let advised = whole.lines().find(|l| l.contains("\"kind\":\"advised\"")).expect("advice");
    let advice: Value = serde_json::from_str(advised).expect("JSON");
    let to = advice["payload"]["changes"][0]["to"]["bore"].as_str().expect("a size").to_owned();
    let older = resealed(&whole, |line| {
        let line =
            line.replace(concat!("\"version\":\"", env!("CARGO_PKG_VERSION"), "\""), "\"version\":\"0.0.1\"");
        line.replace(&format!("\"to\":{{\"bore\":\"{to}\"}}"), "\"to\":{\"bore\":\"0.05 in\"}")
    });
    std::fs::write(here.join("older.tune.jsonl"), older).expect("written");
    let out = run(here, &["replay", "older.tune.jsonl"]);
    assert_eq!(out.status.code(), Some(1), "the answer is no");
    let told = unbroken(&String::from_utf8(out.stdout).expect("UTF-8"));
    assert!(told.contains("advice: primary main jet 0.060 in -> 0.050 in"), "then: {told}");
    let now = format!("Comes out differently now: advice: primary main jet 0.060 in -> {}", three(&to));
    assert!(told.contains(&now), "{now}: {told}");
    let note = format!(
        "It was written by version 0.0.1; this is version {}, and advice may have changed since.",
        env!("CARGO_PKG_VERSION")
    );
    assert!(told.contains(&note), "{told}");
    let data = answer(here, &["replay", "older.tune.jsonl"]);
    assert_eq!((&data["agrees"], &data["note"]), (&json!(false), &json!(note)));
    assert_eq!(data["written_by_versions"], json!(["0.0.1"]));
    let differs = &data["then_and_now"][0];
    assert_eq!(differs["record"], data["disagreements"][0]);
    assert!(differs["now"].as_str().is_some_and(|n| n.contains(&three(&to))), "{differs}");
}

/// "0.058 in" with its three decimals.
fn three(size: &str) -> String {
    let inches: f64 = size.trim_end_matches(" in").parse().expect("inches");
    format!("{inches:.3} in")
}

#[test]
fn pulls_and_settings_as_they_were_written_read_for_ever() {
    let folder = folder();
    let here = folder.path();
    // Its first pull was written before what it was run on was kept; the later ones say it.
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/sessions/v1-trials.tune.jsonl");
    std::fs::copy(golden, here.join(JOB)).expect("a copy");
    let told = answer(here, &["replay", JOB]);
    assert_eq!((&told["agrees"], &told["events"]), (&json!(true), &json!(7)), "{told}");
    assert_eq!(told["changes"].as_array().map(Vec::len), Some(1));
    let pulls = answer(here, &["pulls", "--session", JOB]);
    assert_eq!(pulls["rig"], "engine dyno");
    let labels: Vec<_> = pulls["pulls"].as_array().expect("pulls").iter().map(|p| &p["label"]).collect();
    assert_eq!(labels, ["A", "B", "C"]);
    let put_down: Vec<_> = pulls["attributed"].as_array().expect("a list").iter().map(|a| &a["to"]).collect();
    assert_eq!(put_down, ["timing", "main.primary.jet"], "another spelling of 10 deg is no change");
    let effects = pulls["comparison"]["band_power"]["effects"].as_array().expect("effects").clone();
    for (effect, kw) in effects.iter().zip([1.313, 2.915]) {
        assert!((effect["effect_kw"].as_f64().expect("an effect") - kw).abs() < 0.002, "{effect}");
    }
    pull(here, "more.csv", 1.0, 9);
    let gone_on = answer(here, &["pulls", "more.csv", "--session", JOB, "--air", DAY, "--grid", "250 rpm"]);
    assert_eq!(gone_on["recorded"], 1, "and it is gone on with");
}
