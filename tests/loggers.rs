//! Logger profiles by name, through the whole program: the same drive written as eight loggers would write it gives the
//! same answer.

#![cfg(test)]

use serde_json::Value;
use std::fmt::Write as _;
use std::process::{Command, Output};

fn program(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_leanbest"))
        .args(args)
        .env_remove("LEANBEST_UNITS")
        .env_remove("LEANBEST_PROFILES")
        .output()
        .unwrap()
}

/// Trace of a log by a logger profile, as data; the log's lines are bytes, for encodings.
fn traced(log: &[u8], logger: &str) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.csv");
    std::fs::write(&path, log).unwrap();
    let out = program(&["trace", path.to_str().unwrap(), "--logger", logger, "--json"]);
    assert!(out.status.success(), "{logger}: {}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}

/// One row of the drive: seconds, rpm, manifold kPa, throttle %, lambda.
fn drive(mut row: impl FnMut(f64, f64, f64, f64, f64) -> String) -> String {
    let mut text = String::new();
    for i in 0..6000 {
        let t = f64::from(i) / 50.0;
        let noise = f64::from(i % 7) / 1000.0;
        let (rpm, map, tps, lambda) = match t {
            t if t < 60.0 => (750.0, 42.0, 0.0, 0.900 + noise),
            t if t < 62.0 => (750.0 + 625.0 * (t - 60.0), 42.0 + 5.0 * (t - 60.0), 12.5 * (t - 60.0), 0.95),
            _ => (2000.0, 52.0, 25.0, 0.950 + noise),
        };
        let _ = writeln!(text, "{}", row(t, rpm + f64::from(i % 3), map, tps, lambda));
    }
    text
}

fn median(trace: &Value, regime: &str) -> f64 {
    let all = trace["regimes"].as_array().unwrap();
    all.iter().find(|r| r["regime"] == regime).unwrap_or_else(|| panic!("no {regime} in {all:#?}"))
        ["lambda_median"]
        .as_f64()
        .unwrap()
}

/// The median idle and cruise of the drive, whatever wrote it.
fn is_the_drive(trace: &Value, what: &str) {
    assert_eq!(trace["lines"]["quarantined"], 0, "{what}: {:#}", trace["faults"]);
    assert_eq!(trace["rows"], 6000, "{what}");
    for (regime, lambda) in [("idle", 0.903), ("cruise", 0.953)] {
        let got = median(trace, regime);
        assert!((got - lambda).abs() < 0.0025, "{what}: {regime} {got}");
    }
    assert!((trace["seconds"].as_f64().unwrap() - 119.98).abs() < 0.1, "{what}: {}", trace["seconds"]);
}

#[test]
fn the_same_drive_through_each_logger_by_name() {
    let volts = |lambda: f64| (lambda - 0.68) / 0.136;
    let table =
        |lambda: f64| if lambda < 0.92 { 2.0 + (lambda - 0.82) / 0.10 } else { 3.0 + (lambda - 0.92) / 0.14 };
    let header = "Elapsed time,Engine RPM,MAP,TPS";
    for (logger, log) in [
        (
            "volts-linear",
            format!("{header},O2 volts\n")
                + &drive(|t, n, p, x, l| format!("{t:.2},{n},{p},{x},{:.4}", volts(l))),
        ),
        (
            "volts-table",
            format!("{header},O2 volts\n")
                + &drive(|t, n, p, x, l| format!("{t:.2},{n},{p},{x},{:.4}", table(l))),
        ),
        (
            "afr-gasoline",
            format!("{header},AFR\n") + &drive(|t, n, p, x, l| format!("{t:.2},{n},{p},{x},{:.3}", 14.7 * l)),
        ),
        (
            "afr-e85",
            format!("{header},AFR\n") + &drive(|t, n, p, x, l| format!("{t:.2},{n},{p},{x},{:.3}", 9.8 * l)),
        ),
        (
            "vacuum-inhg",
            "Time,RPM,Vacuum,Baro,TPS,Lambda\n".to_owned()
                + &drive(|t, n, p, x, l| format!("{t:.2},{n},{:.3},29.92,{x},{l:.3}", 29.92 - p / 3.386_389)),
        ),
        ("no-header", drive(|_, n, p, x, l| format!("{n},{p},{x},{l:.3}"))),
        (
            "dyno",
            "Time,RPM,Torque,HP,Vacuum,TPS,Air/Fuel\n".to_owned()
                + &drive(|t, n, p, x, l| {
                    format!(
                        "{t:.2},{n},100,{:.1},{:.3},{x},{:.3}",
                        n / 52.52,
                        (101.325 - p) / 3.386_389,
                        14.7 * l
                    )
                }),
        ),
        (
            "accelerometer",
            format!("{header},Lambda,ax,ay\n")
                + &drive(|t, n, p, x, l| format!("{t:.2},{n},{p},{x},{l:.3},0.01,-0.02")),
        ),
    ] {
        is_the_drive(&traced(log.as_bytes(), logger), logger);
    }
}

#[test]
fn milliseconds_semicolons_commas_and_an_umlaut_in_windows_1252() {
    let log = "Zeit (ms);Drehzahl;Saugrohrdruck;Drosselklappe;Lambda;K\u{fc}hlmittel (\u{b0}C)\n".to_owned()
        + &drive(|t, n, p, x, l| {
            format!("{:.0};{n};{p:.1};{x:.1};{l:.3};85,0", 1000.0 * t).replace('.', ",")
        });
    let bytes: Vec<u8> = log.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    let trace = traced(&bytes, "milliseconds-semicolon");
    is_the_drive(&trace, "Windows-1252");
    assert!(trace["fault_counts"].get("not-utf8").is_none(), "{:#}", trace["fault_counts"]);
    let notes = trace["notes"].to_string();
    assert!(!notes.contains("columns not used"), "the coolant column is known by its umlaut: {notes}");
    is_the_drive(&traced(&bytes, "milliseconds semicolon"), "a space stands for a hyphen");
}

#[test]
fn every_built_in_logger_is_listed_shown_and_in_order() {
    let listed = program(&["profile", "list", "--kind", "logger", "--json"]);
    let listed: Value = serde_json::from_slice(&listed.stdout).unwrap();
    let names: Vec<&str> =
        listed["profiles"].as_array().unwrap().iter().map(|p| p["name"].as_str().unwrap()).collect();
    for name in [
        "accelerometer",
        "afr-e85",
        "afr-gasoline",
        "dyno",
        "milliseconds-semicolon",
        "no-header",
        "vacuum-inhg",
        "volts-linear",
        "volts-table",
    ] {
        assert!(names.contains(&name), "{name} in {names:?}");
        for what in ["show", "check"] {
            let out = program(&["profile", what, name]);
            assert!(out.status.success(), "{what} {name}: {}", String::from_utf8_lossy(&out.stderr));
        }
    }
}

#[test]
fn a_name_that_is_no_logger_and_a_file_without_an_ending() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("log.csv");
    std::fs::write(&log, "time,rpm,afr\n0.0,800,13.2\n0.1,800,13.3\n").unwrap();
    let log = log.to_str().unwrap();
    let out = program(&["trace", log, "--logger", "afr-gasolin"]);
    assert_eq!(out.status.code(), Some(2));
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(said.contains("there is no logger called \"afr-gasolin\""), "{said}");
    assert!(said.contains("afr-gasoline"), "{said}");
    let plain = folder.path().join("mine");
    std::fs::write(&plain, include_str!("../profiles/loggers/afr-gasoline.toml")).unwrap();
    let out = Command::new(env!("CARGO_BIN_EXE_leanbest"))
        .args(["trace", "log.csv", "--logger", "mine", "--json"])
        .current_dir(folder.path())
        .output()
        .unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
}

/// The names of what is found in a log by a logger profile, with the plain setup, and their evidence.
fn found(log: &str, logger: &[&str]) -> Vec<(String, Value)> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.csv");
    std::fs::write(&path, log).unwrap();
    let out = program(&[&["trace", path.to_str().unwrap(), "--setup", "plain", "--json"], logger].concat());
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let trace: Value = serde_json::from_slice(&out.stdout).unwrap();
    let all = trace["findings"].as_array().unwrap();
    all.iter().map(|f| (f["name"].as_str().unwrap().to_owned(), f["evidence"].clone())).collect()
}

/// Cruise with a turn each twenty seconds, in which lambda steps by so much.
fn turns(step: f64) -> String {
    let mut log = "Time,RPM,MAP,TPS,Lambda,Lateral g\n".to_owned();
    for i in 0..6000 {
        let t = f64::from(i) / 50.0;
        let turning = t % 20.0 > 16.0 && t > 40.0;
        let (g, lambda) = if turning { (0.45, 0.95 + step) } else { (0.02, 0.95) };
        let noise = f64::from(i % 7) / 1000.0;
        let _ = writeln!(log, "{t:.2},{},52,20,{:.3},{g}", 2000 + i % 3, lambda + noise);
    }
    log
}

#[test]
fn a_bowl_that_empties_in_turns_shows_through_the_accelerometer_logger() {
    let logger = ["--logger", "accelerometer"];
    let all = found(&turns(0.10), &logger);
    let slosh = all.iter().find(|(name, _)| name == "slosh").unwrap_or_else(|| panic!("{all:?}"));
    let times: Vec<f64> = slosh.1.as_array().unwrap().iter().map(|e| e["at_s"].as_f64().unwrap()).collect();
    assert_eq!(times.len(), 4, "{:#}", slosh.1);
    assert!(times.iter().zip([56.0, 76.0, 96.0, 116.0]).all(|(t, at)| (t - at).abs() < 0.6), "{times:?}");
    assert!(found(&turns(0.03), &logger).iter().all(|(name, _)| name != "slosh"));
}

/// Cruise first with cool air, then with hot, at the same flow and vacuum.
fn warming(hot_lambda: f64) -> String {
    let mut log = "time_s,rpm,map_kpa,tps_pct,lambda,iat_c\n".to_owned();
    for i in 0..9000 {
        let t = f64::from(i) / 50.0;
        let (lambda, air) = if t < 100.0 { (0.95, 18.0) } else { (hot_lambda, 52.0) };
        let noise = f64::from(i % 7) / 1000.0;
        let _ = writeln!(log, "{t:.2},{},52,20,{:.3},{air}", 2000 + i % 3, lambda + noise);
    }
    log
}

#[test]
fn lean_in_hot_air_shows_with_the_tools_own_names() {
    let all = found(&warming(1.0), &[]);
    let hot = all.iter().find(|(name, _)| name == "lean-when-hot").unwrap_or_else(|| panic!("{all:?}"));
    let what = hot.1[0]["what"].as_str().unwrap();
    assert!(what.starts_with("from 18 to 52 degC of intake air lambda changes by +5.1 %"), "{what}");
    assert!(found(&warming(0.90), &[]).iter().all(|(name, _)| name != "lean-when-hot"), "as density has it");
}
