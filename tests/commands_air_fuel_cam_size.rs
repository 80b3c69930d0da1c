//! `air`, `fuel`, `cam` and `size` as whole programs: exit codes, JSON fields, bad units, a closed pipe.

#![expect(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on fails")]

use serde_json::Value;
use std::process::{Command, Output, Stdio};

fn run(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_leanbest"))
        .args(args)
        .env_remove("LEANBEST_UNITS")
        .env_remove("LEANBEST_PROFILES")
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

fn json(args: &[&str]) -> Value {
    let out = run(&[args, &["--json"]].concat());
    assert_eq!(out.status.code(), Some(0), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    assert!(out.stderr.is_empty(), "an answer says nothing on stderr");
    serde_json::from_slice(&out.stdout).expect("one JSON object and nothing else")
}

fn text(args: &[&str]) -> String {
    let out = run(args);
    assert_eq!(out.status.code(), Some(0), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

/// The command is refused as bad input, and says each of `words` on stderr and nothing on stdout.
fn refused(args: &[&str], words: &[&str]) {
    let out = run(args);
    let said = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(2), "{args:?}: {said}");
    assert!(out.stdout.is_empty(), "{args:?}");
    for word in words {
        assert!(said.contains(word), "{args:?}: no \"{word}\" in: {said}");
    }
}

#[track_caller]
fn close(answer: &Value, field: &str, expected: f64, within: f64) {
    let found = answer[field].as_f64().unwrap_or_else(|| panic!("{field} is {}", answer[field]));
    assert!((found - expected).abs() <= within, "{field}: {found} is not {expected} within {within}");
}

#[test]
fn size_in_json() {
    let a = json(&["size", "--displacement", "350cid", "--rpm", "6000", "--ve", "85%"]);
    close(&a, "airflow_cfm", 516.493, 0.01);
    close(&a, "airflow_kg_per_h", 516.493 * 1.699_010_8 * 1.225, 0.1);
    assert!(a["depression_at_rating_inhg"].is_null());
    close(&a, "rating_at_1_5_inhg_cfm", 516.493, 0.01);
    let b = json(&[
        "size",
        "--displacement",
        "256in3",
        "--rpm",
        "4100rpm",
        "--ve",
        "65%",
        "--rated",
        "280cfm",
        "--at",
        "3.0inHg",
    ]);
    close(&b, "depression_at_rating_inhg", 1.49, 0.01);
    close(&b, "rating_at_1_5_inhg_cfm", 197.99, 0.01);
    close(&b, "rating_at_3_0_inhg_cfm", 280.0, 1e-6);
}

#[test]
fn size_breathes_the_air_it_is_given() {
    let thin = json(&["size", "--displacement", "4.2L", "--rpm", "4000", "--air", "24.9inHg, 41F"]);
    let full = json(&["size", "--displacement", "4.2L", "--rpm", "4000"]);
    let ratio = thin["airflow_kg_per_h"].as_f64().unwrap() / full["airflow_kg_per_h"].as_f64().unwrap();
    assert!((ratio - 0.862).abs() < 0.002, "{ratio}");
    assert_eq!(thin["airflow_cfm"], full["airflow_cfm"]);
}

#[test]
fn size_refuses_what_it_cannot_size() {
    refused(&["size", "--displacement", "350", "--rpm", "6000"], &["no unit", "in3"]);
    refused(&["size", "--displacement", "350cid", "--rpm", "6000", "--ve", "0.85"], &["no unit", "%"]);
    refused(
        &["size", "--displacement", "350cid", "--rpm", "6000cfm"],
        &["not a unit of an engine speed", "rpm"],
    );
    refused(&["size", "--displacement", "350cid", "--rpm", "6000", "--rated", "600cfm"], &["--at"]);
    refused(&["size", "--displacement", "0 L", "--rpm", "6000"], &["above zero"]);
    refused(
        &["size", "--displacement", "350cid", "--rpm", "6000", "--rated", "0cfm", "--at", "1.5inHg"],
        &["above zero"],
    );
}

#[test]
fn cam_in_json() {
    let a = json(&[
        "cam",
        "--intake",
        "280",
        "--exhaust",
        "288deg",
        "--separation",
        "110",
        "--centerline",
        "106",
    ]);
    for (field, deg) in [
        ("overlap_deg", 64.0),
        ("ivo_btdc_deg", 34.0),
        ("ivc_abdc_deg", 66.0),
        ("evo_bbdc_deg", 78.0),
        ("evc_atdc_deg", 30.0),
    ] {
        close(&a, field, deg, 1e-9);
    }
    let b = json(&["cam", "--intake", "218", "--exhaust", "218", "--separation", "110"]);
    close(&b, "idle_aim_rpm", 750.0, 0.0);
    close(&b, "idle_low_rpm", 650.0, 0.0);
    close(&b, "idle_high_rpm", 750.0, 0.0);
    close(&b, "vacuum_low_inhg", 15.0, 1e-9);
    close(&b, "vacuum_high_inhg", 18.0, 1e-9);
    assert!(b["why"][0].as_str().unwrap().contains("common practice"));
}

#[test]
fn cam_of_a_setup() {
    let a = json(&["cam", "--setup", "petrel"]);
    close(&a, "overlap_deg", -20.0, 1e-9);
    close(&a, "idle_aim_rpm", 700.0, 0.0); // the builder's figure
    close(&a, "idle_low_rpm", 650.0, 0.0);
    close(&a, "idle_high_rpm", 750.0, 0.0);
    close(&a, "idle_in_gear_rpm", 650.0, 0.0);
    let b = json(&["cam", "--setup", "petrel", "--separation", "110"]);
    close(&b, "overlap_deg", -16.0, 1e-9);
    refused(&["cam", "--setup", "no-such-setup"], &["no-such-setup", "there are", "petrel"]);
}

#[test]
fn cam_refuses_what_is_no_cam() {
    refused(
        &["cam", "--intake", "21.8", "--exhaust", "218", "--separation", "110"],
        &["--intake", "outside 120 to 400"],
    );
    refused(&["cam", "--intake", "218", "--exhaust", "218", "--separation", "110mm"], &["deg"]);
    refused(&["cam", "--intake", "218", "--exhaust", "218"], &["--separation"]);
}

#[test]
fn air_by_instruments() {
    let a = json(&["air", "--pressure", "28.85inHg", "--temperature", "85F", "--humidity", "85%"]);
    close(&a, "factor_sae_j1349", 1.069, 0.003);
    close(&a, "factor_sae_j607", 1.1005, 0.003);
    close(&a, "vapour_pressure_pa", 1.03 * 3386.389, 20.0);
    let sum = a["dry_pressure_pa"].as_f64().unwrap() + a["vapour_pressure_pa"].as_f64().unwrap();
    close(&a, "station_pressure_pa", sum, 1e-6);
    assert_eq!(a["factor_in_range"]["sae_j1349"], true);
    assert_eq!(a["factor_in_range"]["sae_j607"], false);
    for field in [
        "density_kg_m3",
        "dew_point_c",
        "density_altitude_ft",
        "pressure_altitude_ft",
        "factor_iso_1585",
        "factor_din_70020",
    ] {
        assert!(a[field].is_f64(), "{field}");
    }
}

#[test]
fn air_by_altitude_is_standard_and_dry() {
    let a = json(&["air", "--altitude", "5000ft"]);
    close(&a, "station_pressure_pa", 84_307.26, 1.0);
    close(&a, "density_kg_m3", 1.055_546, 1e-5);
    close(&a, "density_altitude_ft", 5000.0, 0.1);
    close(&a, "jet_area_ratio", 0.928, 0.001);
    close(&a, "jet_bore_ratio", 0.9635, 0.001);
    assert!(a["dew_point_c"].is_null());
    let hot = json(&["air", "--altitude", "5000ft", "--temperature", "95F"]);
    assert!(hot["density_altitude_ft"].as_f64().unwrap() > 8000.0);
    let nothing = json(&["air"]);
    close(&nothing, "density_kg_m3", 1.225, 1e-5);
    close(&nothing, "jet_area_ratio", 1.0, 1e-9);
}

#[test]
fn three_ways_to_say_one_humidity() {
    let of = |option: &str, value: &str| {
        json(&["air", "--pressure", "101325Pa", "--temperature", "30C", option, value])
    };
    close(&of("--wet-bulb", "22C"), "vapour_pressure_pa", 2121.9, 6.4);
    assert_eq!(of("--wet-bulb", "22C")["wet_bulb_definition"], "thermodynamic");
    let aspirated =
        json(&["air", "--pressure", "101325Pa", "--temperature", "30C", "--wet-bulb", "22C", "--aspirated"]);
    close(&aspirated, "vapour_pressure_pa", 2105.0, 6.4);
    close(&of("--dew-point", "14.936C"), "relative_humidity_pct", 40.0, 0.1);
    close(&of("--humidity", "40%"), "dew_point_c", 14.936, 0.05);
}

#[test]
fn air_against_a_baseline() {
    let a = json(&[
        "air",
        "--pressure",
        "30.35inHg",
        "--temperature",
        "38F",
        "--humidity",
        "70%",
        "--baseline",
        "30.05inHg,71F,62%",
    ]);
    close(&a, "lambda_ratio", 1.043, 0.001);
    close(&a, "jet_area_ratio", 1.043, 0.001);
    assert!(a["field_rules"].as_array().unwrap().len() >= 4);
    let said = text(&["air", "--pressure", "25inHg", "--baseline", "29.92inHg,59F,0%"]);
    assert!(said.contains("jet back rich") && said.contains("smallest change"), "{said}");
}

#[test]
fn air_refuses_what_is_no_air() {
    refused(&["air", "--pressure", "29.92"], &["no unit", "inHg", "kPa"]);
    refused(&["air", "--pressure", "29.92 psi"], &["30 to 115 kPa"]);
    refused(
        &["air", "--temperature", "20C", "--dew-point", "21C"],
        &["dew point", "above the air temperature"],
    );
    refused(&["air", "--humidity", "130%"], &["0 to 100 %"]);
    refused(&["air", "--humidity", "50%", "--dew-point", "5C"], &["cannot be used with"]);
    refused(&["air", "--altitude", "5000ft", "--pressure", "29inHg"], &["cannot be used with"]);
    refused(&["air", "--altitude", "60000ft"], &["outside -5000 to 30000 ft"]);
    refused(&["air", "--baseline", "29.92,59F"], &["no unit"]);
    // a minus sign is a number, not an option
    close(&json(&["air", "--temperature", "-10C"]), "temperature_c", -10.0, 1e-9);
}

#[test]
fn fuel_by_name_and_by_share() {
    close(&json(&["fuel", "--blend", "e10"]), "stoich_afr", 14.10, 0.03);
    close(&json(&["fuel", "--ethanol", "85%"]), "stoich_afr", 9.81, 0.03);
    close(&json(&["fuel", "--blend", "E85"]), "jet_area_ratio", 1.46, 0.01);
    close(&json(&["fuel", "--blend", "e10"]), "density_kg_m3", 749.4, 0.5);
    close(&json(&["fuel", "--blend", "methanol"]), "stoich_afr", 6.47, 0.01);
    close(&json(&["fuel", "--blend", "e0", "--co", "3.7%"]), "lambda_from_co", 0.90, 0.01);
    let warm = json(&["fuel", "--blend", "e0", "--temperature", "100F"]);
    close(&warm, "density_at_temperature_kg_m3", 725.0, 1.0);
    refused(&["fuel"], &["--blend", "--ethanol"]);
    refused(&["fuel", "--blend", "diesel"], &["no fuel is called", "e100"]);
    refused(&["fuel", "--ethanol", "10"], &["no unit", "%"]);
    refused(&["fuel", "--ethanol", "110%"], &["0 to 100 %"]);
    refused(&["fuel", "--blend", "e10", "--co", "0.1%"], &["says nothing of lambda"]);
    refused(&["fuel", "--blend", "e85", "--co", "2%"], &["gasoline only"]);
}

#[test]
fn text_keeps_to_eighty_columns_and_to_the_units_asked_for() {
    let all: [&[&str]; 4] = [
        &["size", "--displacement", "350cid", "--rpm", "6000", "--rated", "600cfm", "--at", "1.5inHg"],
        &["cam", "--intake", "248", "--exhaust", "254", "--separation", "108", "--barometer", "25inHg"],
        &[
            "air",
            "--pressure",
            "28.85inHg",
            "--temperature",
            "85F",
            "--humidity",
            "85%",
            "--baseline",
            "30.05inHg,71F,62%",
        ],
        &["fuel", "--blend", "e85", "--temperature", "85F"],
    ];
    for args in all {
        let said = text(args);
        assert!(said.contains("Why"), "{said}");
        let widest = said.lines().map(|l| l.chars().count()).max().unwrap();
        assert!(widest <= 80, "{widest} columns: {said}");
    }
    assert!(text(&[all[0], &["--units", "metric"]].concat()).contains("kPa"));
}

#[test]
fn a_closed_pipe_is_success() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_leanbest"))
        .args(["air", "--altitude", "5000ft"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let out = child.wait_with_output().unwrap();
    assert_eq!(out.status.code(), Some(0));
    assert!(out.stderr.is_empty(), "{}", String::from_utf8_lossy(&out.stderr));
}
