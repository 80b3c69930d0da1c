//! `leanbest pulls`, the whole program: files in, answer out.

#![cfg(test)]

use leanbest::numeric::rng::Chance;
use serde_json::Value;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A made-up dyno file of the skiff's engine.
#[derive(Clone, Copy)]
struct Run {
    strength: f64,
    seed: u64,
    /// Multiplies the torque column only.
    torque_scale: f64,
    coast: bool,
    hole: Option<(usize, usize)>,
    slip: bool,
    oil_f: f64,
    starved: bool,
}

const PLAIN: Run = Run {
    strength: 1.0,
    seed: 1,
    torque_scale: 1.0,
    coast: false,
    hole: None,
    slip: false,
    oil_f: 195.0,
    starved: false,
};

fn csv(run: Run) -> String {
    let mut chance = Chance::with_seed(run.seed);
    let mut out =
        "time_s,rpm,torque_lbf_ft,power_hp,lambda,fuel_flow_lb_per_h,fuel_pressure_psi,vacuum_inhg,oil_f\n"
            .to_owned();
    for k in 0..180 {
        if run.hole.is_some_and(|(a, b)| (a..b).contains(&k)) {
            continue;
        }
        let part = f64::from(k as u32) / 179.0;
        let mut rpm = 1800.0 + 2500.0 * part;
        let torque =
            (221.0 - 31.7 * ((rpm - 2400.0) / 1700.0).powi(2)) * run.strength + 1.2 * chance.normal();
        if run.slip && (90..104).contains(&k) {
            rpm += 350.0 * (1.0 - ((f64::from(k as u32) - 96.5) / 7.0).powi(2)).max(0.0);
        }
        let power = torque * rpm / 5252.113;
        let (climb, fall) = if run.starved { (0.08 * part, 2.0 * part) } else { (0.0, 0.0) };
        let _ = writeln!(
            out,
            "{:.2},{:.1},{:.2},{:.2},{:.3},{:.2},{:.2},{:.2},{:.0}",
            0.05 * f64::from(k as u32),
            rpm,
            torque * run.torque_scale,
            power,
            0.826 + climb,
            power * 0.55,
            5.0 - fall,
            1.6 * (rpm / 4300.0).powi(2),
            run.oil_f
        );
    }
    if run.coast {
        for k in 0..60 {
            let rpm = 4300.0 - 40.0 * f64::from(k);
            let _ = writeln!(
                out,
                "{:.2},{rpm:.1},-12,{:.2},1.3,1,5,18,195",
                9.0 + 0.05 * f64::from(k),
                -12.0 * rpm / 5252.113
            );
        }
    }
    out
}

struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn file(&self, name: &str, text: &str) -> PathBuf {
        let path = self.folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path
    }

    fn run(&self, args: &[&str]) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_leanbest"));
        command.current_dir(self.folder.path()).env_clear().args(["pulls"]).args(args);
        command.output().unwrap()
    }

    fn json(&self, args: &[&str]) -> Value {
        let mut all = vec!["--json"];
        all.extend(args);
        let output = self.run(&all);
        assert!(matches!(output.status.code(), Some(0 | 1)), "{}", String::from_utf8_lossy(&output.stderr));
        serde_json::from_slice(&output.stdout).unwrap()
    }

    fn aba(&self, effect: f64) {
        self.file("a1.csv", &csv(PLAIN));
        self.file("b.csv", &csv(Run { strength: 1.0 + effect, seed: 2, ..PLAIN }));
        self.file("a2.csv", &csv(Run { strength: 1.001, seed: 3, ..PLAIN }));
    }
}

const ABA: [&str; 3] = ["A=a1.csv", "B=b.csv", "A=a2.csv"];
const DAY: [&str; 2] = ["--air", "30.05 inHg, 71 F, 62 %"];

fn near(value: &Value, expected: f64, within: f64) {
    let found = value.as_f64().unwrap_or_else(|| panic!("{value} is no number"));
    assert!((found - expected).abs() <= within, "{found} is not {expected} within {within}");
}

#[test]
fn the_worked_numbers_are_exact() {
    let bench = Bench::new();
    let judged = |figures: [&str; 3]| {
        bench.json(&["--value", figures[0], "--value", figures[1], "--value", figures[2]])
    };
    let real = judged(["A=212.4 hp", "B=215.9 hp", "A=213.0 hp"]);
    let figure = &real["comparison"]["figure"];
    near(&figure["effects"][0]["effect_hp"], 3.2, 1e-6);
    near(&figure["drift_between_returns_hp"], 0.6, 1e-6);
    assert_eq!(figure["effects"][0]["verdict"], "better");
    let nothing = judged(["A=212.4 hp", "B=214.0 hp", "A=215.1 hp"]);
    let figure = &nothing["comparison"]["figure"];
    near(&figure["effects"][0]["effect_hp"], 0.25, 1e-6);
    near(&figure["drift_between_returns_hp"], 2.7, 1e-6);
    assert_eq!(figure["effects"][0]["verdict"], "within-noise");
    // without a return: the next pull is A again, and it would settle it
    let there = bench.run(&["--value", "A=200 hp", "--value", "B=203 hp"]);
    assert!(String::from_utf8(there.stdout).unwrap().contains("1 more pull (A) would"));
}

#[test]
fn a_gain_is_shown_with_its_interval_and_everything_beside_it() {
    let bench = Bench::new();
    bench.aba(0.025);
    let mut args = ABA.to_vec();
    args.extend(DAY);
    args.extend(["--use", "marine", "--rig", "engine-dyno", "--rated", "280 cfm", "--at", "3.0 inHg"]);
    let answer = bench.json(&args);
    let comparison = &answer["comparison"];
    assert_eq!(comparison["verdicts"][0]["verdict"], "better");
    let effect = &comparison["band_power"]["effects"][0];
    near(&effect["effect_pct"], 2.45, 0.2);
    assert!(effect["low_pct"].as_f64().unwrap() > 0.0);
    near(&answer["pulls"][0]["factor"], 0.980, 0.001);
    // raw is kept beside the corrected figure
    let peak = &answer["pulls"][0]["power_peak"];
    near(&peak["value_kw"], peak["raw_kw"].as_f64().unwrap() * 0.980, 0.1);
    near(&answer["pulls"][0]["bsfc_g_per_kwh"], 334.6, 1.0);
    near(&answer["pulls"][0]["full_throttle_vacuum_inhg"], 1.52, 0.1);
    assert_eq!(answer["pulls"][0]["carburetor_size"], "economy-or-tow");
    near(&answer["pulls"][0]["carburetor_flow_cfm"], 199.0, 8.0);
    let text = String::from_utf8(bench.run(&args).stdout).unwrap();
    assert!(text.contains("B against A: better"), "{text}");
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
}

#[test]
fn published_corrections_come_out_of_the_program() {
    let bench = Bench::new();
    bench.file("flat.csv", &csv(PLAIN));
    let cases: toml::Table = toml::from_str(include_str!("published/pulls.toml")).unwrap();
    let cases = cases["case"].as_array().unwrap();
    assert!(cases.len() >= 7);
    for case in cases {
        let text = |key: &str| case[key].as_str().unwrap();
        let number = |key: &str| case[key].as_float().unwrap();
        let answer = bench.json(&["flat.csv", "--air", text("air"), "--correct", text("correct")]);
        let pull = &answer["pulls"][0];
        near(&pull["factor"], number("factor"), number("tolerance"));
        assert_eq!(pull["factor_in_range"].as_bool(), case["in_range"].as_bool(), "{}", text("what"));
    }
}

#[test]
fn out_of_range_is_refused_to_be_compared_but_still_shown() {
    let bench = Bench::new();
    bench.aba(0.02);
    let mut args = ABA.to_vec();
    args.extend(["--air", "28.85 inHg, 85 F, 85 %", "--correct", "j607"]);
    let answer = bench.json(&args);
    assert!(answer["comparison"].is_null());
    assert!(answer["comparison_refused"].as_str().unwrap().contains("outside what SAE J607 vouches for"));
    assert_eq!(answer["pulls"].as_array().unwrap().len(), 3);
    assert_eq!(bench.run(&args).status.code(), Some(1));
    let mut raw = ABA.to_vec();
    raw.extend(["--air", "28.85 inHg, 85 F, 85 %", "--correct", "none"]);
    assert_eq!(bench.run(&raw).status.code(), Some(0));
}

#[test]
fn a_setup_gives_use_rating_and_limits() {
    let bench = Bench::new();
    bench.aba(0.02);
    let mut args = ABA.to_vec();
    args.extend(["--setup", "petrel"]);
    let answer = bench.json(&args);
    assert!(answer["band"]["why"].as_str().unwrap().starts_with("boat"), "{}", answer["band"]);
    near(&answer["band"]["low_rpm"], 0.65 * 4100.0, 1.0);
    near(&answer["pulls"][0]["carburetor_flow_cfm"], 199.0, 8.0);
    // a boat's lean limit is nearer than the road's: 0.91 is a stop for the one and a warning for the other
    let lean = csv(PLAIN).replace(",0.826,", ",0.910,");
    bench.file("lean.csv", &lean);
    assert_eq!(bench.json(&["lean.csv", "--setup", "petrel"])["pulls"][0]["remarks"][0]["stop"], true);
    assert_eq!(bench.json(&["lean.csv"])["pulls"][0]["remarks"][0]["stop"], false);
    let unknown = bench.run(&["lean.csv", "--setup", "no-such-boat"]);
    assert_eq!(unknown.status.code(), Some(2));
    assert!(String::from_utf8(unknown.stderr).unwrap().contains("petrel"));
}

fn kinds(pull: &Value) -> Vec<&str> {
    pull["remarks"].as_array().unwrap().iter().map(|r| r["kind"].as_str().unwrap()).collect()
}

#[test]
fn bad_pulls_are_found_and_said() {
    let bench = Bench::new();
    let read = |run: Run| {
        bench.file("run.csv", &csv(run));
        bench.json(&["run.csv"])
    };
    let clean = read(PLAIN);
    assert!(kinds(&clean["pulls"][0]).is_empty() && clean["outside_pulls"].as_array().unwrap().is_empty());

    let coasting = read(Run { coast: true, ..PLAIN });
    assert_eq!(coasting["pulls"].as_array().unwrap().len(), 1);
    assert_eq!(coasting["outside_pulls"][0]["kind"], "coast-down");

    assert_eq!(kinds(&read(Run { hole: Some((80, 110)), ..PLAIN })["pulls"][0]), ["gap"]);

    let slipping = read(Run { slip: true, ..PLAIN });
    assert_eq!(kinds(&slipping["pulls"][0]), ["wheel-slip"]);
    assert_eq!(slipping["pulls"][0]["compared"], false);

    let other = read(Run { torque_scale: 1.355_818, ..PLAIN });
    assert_eq!(kinds(&other["pulls"][0]), ["other-units"]);
    assert!(other["pulls"][0]["power_peak"].is_null(), "no figure in doubtful units");
    assert!(other["pulls"][0]["remarks"][0]["say"].as_str().unwrap().contains("N m under a lbf ft heading"));

    let starved = read(Run { starved: true, ..PLAIN });
    assert_eq!(starved["pulls"][0]["remarks"][0]["stop"], true);
    let text = String::from_utf8(bench.run(&["run.csv"]).stdout).unwrap();
    assert!(text.starts_with("Pull 1: STOP"), "what is unsafe comes first: {text}");
}

#[test]
fn a_run_in_other_units_is_left_out_of_the_comparison() {
    let bench = Bench::new();
    bench.aba(0.02);
    let power_only = |run: Run, unit: &str, scale: f64| {
        let mut out = format!("rpm,power_{unit}\n");
        for line in csv(run).lines().skip(1) {
            let cells: Vec<&str> = line.split(',').collect();
            let _ = writeln!(out, "{},{}", cells[1], cells[3].parse::<f64>().unwrap() * scale);
        }
        out
    };
    bench.file("odd.csv", &power_only(Run { seed: 9, ..PLAIN }, "kw", 1.0));
    let answer = bench.json(&["A=a1.csv", "B=b.csv", "A=a2.csv", "B=odd.csv"]);
    let left_out = answer["comparison"]["left_out"].as_array().unwrap();
    assert_eq!((left_out.len(), left_out[0]["number"].as_u64()), (1, Some(4)));
    assert!(left_out[0]["why"].as_str().unwrap().contains("hp where the others are kW"));
}

#[test]
fn two_changes_at_once_are_not_attributed_until_separated() {
    let bench = Bench::new();
    for (name, strength, seed) in
        [("a1", 1.0, 1), ("b", 1.04, 2), ("a2", 1.0, 3), ("c", 1.01, 4), ("d", 1.03, 5), ("a3", 1.0, 6)]
    {
        bench.file(&format!("{name}.csv"), &csv(Run { strength, seed, ..PLAIN }));
    }
    let (a, b) = ("A=timing=8,spacer=no", "B=timing=12,spacer=yes");
    let mut args = ABA.to_vec();
    args.extend(["--rig", "engine-dyno", "--set", a, "--set", b]);
    let at_once = bench.json(&args)["changes"].clone();
    assert_eq!(at_once["unattributed"], serde_json::json!(["B"]));
    assert_eq!(at_once["settings"][0]["differs"].as_array().unwrap().len(), 2);
    let plan = at_once["further_states"].as_array().unwrap();
    assert_eq!(plan.len(), 2, "each alone, once");
    for state in plan {
        assert_ne!(state["timing"] == "12", state["spacer"] == "yes");
    }
    let done = bench.json(&[
        "A=a1.csv",
        "B=b.csv",
        "A=a2.csv",
        "C=c.csv",
        "D=d.csv",
        "A=a3.csv",
        "--rig",
        "engine-dyno",
        "--set",
        a,
        "--set",
        b,
        "--set",
        "C=timing=8,spacer=yes",
        "--set",
        "D=timing=12,spacer=no",
    ])["changes"]
        .clone();
    assert_eq!(done["separated"], true);
    assert_eq!(done["unattributed"], serde_json::json!([]));
    let term =
        |name: &str| done["terms"].as_array().unwrap().iter().find(|t| t["change"] == name).unwrap().clone();
    // about 94 kW mean: timing is worth 3 %, the spacer 1 %
    near(&term("timing")["effect_kw"], 2.5, 0.6);
    near(&term("spacer")["effect_kw"], 0.83, 0.6);
}

#[test]
fn tables_are_exported_and_nothing_is_overwritten() {
    let bench = Bench::new();
    bench.file("=1+1.csv", &csv(PLAIN));
    let run = |args: &[&str]| bench.run(args).status.code();
    assert_eq!(run(&["./=1+1.csv", "--export", "out.csv"]), Some(0));
    let text = std::fs::read_to_string(bench.folder.path().join("out.csv")).unwrap();
    let (header, row) = text.trim_end().split_once('\n').unwrap();
    assert_eq!(header.split(',').count(), row.split(',').count());
    assert!(header.contains("power_peak_kw") && row.contains("./=1+1.csv"));
    assert_eq!(run(&["./=1+1.csv", "--export", "out.csv"]), Some(2), "exists already");
    assert_eq!(run(&["./=1+1.csv", "--export", "out.csv", "--force", "--table", "curves"]), Some(0));
    assert!(std::fs::read_to_string(bench.folder.path().join("out.csv")).unwrap().lines().count() > 40);
    assert_eq!(run(&["./=1+1.csv", "--export", "out.json"]), Some(0));
    let all: Value =
        serde_json::from_str(&std::fs::read_to_string(bench.folder.path().join("out.json")).unwrap())
            .unwrap();
    assert!(all["curves"].as_array().unwrap().len() > 40 && all["pulls"][0]["pull"] == 1);
    assert_eq!(run(&["./=1+1.csv", "--export", "out.parquet"]), Some(2));
}

#[test]
fn bad_input_says_where_and_what_would_do() {
    let bench = Bench::new();
    bench.file("bare.csv", "rpm,torque\n3000,200\n");
    bench.file("none.csv", "rpm,lambda\n3000,0.9\n");
    bench.file("good.csv", &csv(PLAIN));
    let refused = |args: &[&str], code: i32, says: &str| {
        let output = bench.run(args);
        let error = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(code), "{error}");
        assert!(error.contains(says), "{error}");
        assert!(output.stdout.is_empty());
    };
    refused(&["bare.csv"], 2, "bare.csv: line 1, column 2: \"torque\" does not say its unit");
    refused(&["none.csv"], 2, "no torque and no power column");
    refused(&["missing.csv"], 3, "could not read missing.csv");
    refused(&["."], 2, "not a file");
    refused(&["A=good.csv", "good.csv"], 2, "has no label");
    refused(&["good.csv", "--air", "30.05,71F,62%"], 2, "has no unit");
    refused(&["good.csv", "--band", "2800-4100"], 2, "no unit");
    refused(&["A=good.csv", "B=good.csv", "--set", "A=timing=10"], 2, "says nothing of B");
    refused(&["--value", "A=212.4", "--value", "B=213 hp"], 2, "with its unit");
    refused(&["--value", "A=212.4 hp", "--value", "B=14.2 s"], 2, "not all of one kind");
    refused(&["--value", "A=212.4 hp", "--value", "A=213 hp"], 2, "one label");
    bench.file("idle.csv", "rpm,torque_n_m\n800,10\n810,11\n805,10\n");
    let nothing = bench.run(&["idle.csv"]);
    assert_eq!(nothing.status.code(), Some(1));
    assert!(Path::new(&bench.folder.path().join("idle.csv")).exists());
    assert!(String::from_utf8(nothing.stdout).unwrap().contains("No pull was found"));
}
