//! Pulls as one JSON object.

use super::judged::{Scale, judged_json, round};
use super::separated;
use super::tables::{curve_table, effect_table};
use crate::analysis::pulls::{
    Account, Against, Asked, Attributed, Band, Figure, Listed, Peak, Reading, Remark, SizeVerdict,
    SpeedSource, flow_at,
};
use crate::analysis::verdict::{Judged, Unsteady};
use crate::units::{Power, System, Torque};
use serde_json::{Value, json};

fn power(_system: System) -> Scale {
    Scale::shown::<Power>(System::Metric, "kw", true)
}

fn torque(_system: System) -> Scale {
    Scale::shown::<Torque>(System::Metric, "n_m", true)
}

/// Everything the files say.
pub fn account_json(account: &Account, asked: &Asked, how: &Reading, system: System) -> Value {
    let mut object = json!({
        "pulls": account.pulls.iter().enumerate().map(|(k, p)| pull_json(account, asked, k, p)).collect::<Vec<_>>(),
        "outside_pulls": account.outside.iter().map(|(file, r)| with_file(account, *file, r)).collect::<Vec<_>>(),
        "smoothing": {
            "method": "local straight line, weighted by a bell over engine speed",
            "width_rpm": how.smoothing.width.as_rpm(),
            "grid_rpm": how.smoothing.step.as_rpm(),
        },
        "correction": how.standard.map(crate::physics::correction::Standard::name),
        "rig": asked.how.rig.said(),
        "noise_floor_pct": asked.how.rig.floor().as_percent(),
        "band": account.band.map(band_json),
        "comparison": null,
        "comparison_refused": null,
        "curves": curve_table(account).to_json(),
    });
    match &account.against {
        Some(Ok(against)) => object["comparison"] = against_json(account, against, system),
        Some(Err(refusal)) => object["comparison_refused"] = json!(refusal.to_string()),
        None => {}
    }
    if let Some(found) = &account.attributed {
        object["changes"] = separated::data(found, &power(system), system);
    }
    object
}

fn band_json(band: Band) -> Value {
    json!({ "low_rpm": round(band.low.as_rpm(), 1), "high_rpm": round(band.high.as_rpm(), 1), "why": band.why })
}

fn remark_json(remark: &Remark) -> Value {
    json!({
        "kind": remark.kind.name(),
        "first_line": remark.first_line,
        "last_line": remark.last_line,
        "say": remark.kind.to_string(),
        "stop": remark.kind.stops(),
    })
}

fn with_file(account: &Account, file: usize, remark: &Remark) -> Value {
    let mut o = remark_json(remark);
    o["file"] = json!(account.files.get(file).map(|f| &f.0));
    o
}

fn peak_json(peak: Option<Peak>, unit: &str, one: f64, factor: f64) -> Value {
    let Some(p) = peak else { return Value::Null };
    let mut o = json!({
        "rpm": round(p.rpm, 0),
        "rpm_error": round(p.rpm_error, 0),
        "passed": p.passed,
    });
    o[format!("value_{unit}")] = json!(round(p.value * factor / one, 3));
    o[format!("error_{unit}")] = json!(round(p.value_error * factor / one, 3));
    o[format!("raw_{unit}")] = json!(round(p.value / one, 3));
    o
}

fn pull_json(account: &Account, asked: &Asked, k: usize, listed: &Listed) -> Value {
    let pull = &listed.pull;
    let (low, high) = pull.torque.range();
    let file = account.files.get(listed.file);
    let source = match file.map(|f| f.1) {
        Some(SpeedSource::PowerOverTorque) => "power over torque",
        Some(SpeedSource::Gearing) => "road speed and gearing",
        _ => "read",
    };
    json!({
        "number": k + 1,
        "label": listed.label,
        "file": file.map(|f| &f.0),
        "first_line": pull.rows.first().map(|r| r.line),
        "last_line": pull.rows.last().map(|r| r.line),
        "rows": pull.rows.len(),
        "speed_from": source,
        "low_rpm": pull.torque.speed(low).as_rpm(),
        "high_rpm": pull.torque.speed(high).as_rpm(),
        "factor": pull.correction.map(|c| round(c.factor, 5)),
        "factor_in_range": pull.correction.map(|c| c.in_range),
        "air": pull.air.map(|(a, source)| json!({
            "station_pressure_pa": round(a.pressure().as_pa(), 0),
            "temperature_c": round(a.temperature().as_c(), 2),
            "humidity_pct": round(a.relative_humidity().as_percent(), 1),
            "density_kg_m3": round(a.density().as_kg_m3(), 4),
            "source": source.name(),
        })),
        "torque_peak": peak_json(pull.torque_peak, "n_m", 1.0, pull.factor()),
        "power_peak": peak_json(pull.power_peak, "kw", 1e3, pull.factor()),
        "mean_torque_n_m": listed.means.map(|m| round(m.torque.as_n_m(), 3)),
        "mean_power_kw": listed.means.map(|m| round(m.power.as_kw(), 3)),
        "mean_lambda": listed.means.and_then(|m| m.lambda).map(|l| round(l.as_ratio(), 4)),
        "bsfc_g_per_kwh": listed.means.and_then(|m| m.bsfc_g_per_kwh).map(|b| round(b, 1)),
        "full_throttle_vacuum_inhg": pull.top_vacuum.map(|v| round(v.as_inhg(), 2)),
        "carburetor_flow_cfm": asked.rating.zip(pull.top_vacuum).and_then(|((rated, at), v)| flow_at(rated, at, v)).map(|f| round(f.as_cfm(), 1)),
        "carburetor_size": pull.size_verdict().map(SizeVerdict::name),
        "oil_c": pull.oil.map(|t| round(t.as_c(), 1)),
        "coolant_c": pull.coolant.map(|t| round(t.as_c(), 1)),
        "remarks": pull.remarks.iter().map(remark_json).collect::<Vec<_>>(),
        "compared": pull.barred().is_none(),
    })
}

fn against_json(account: &Account, against: &Against, system: System) -> Value {
    let figure = |f: &Figure, scale: &Scale| judged_json(&f.judged, &f.further, scale);
    let left_out: Vec<Value> =
        against.left_out.iter().map(|(k, why)| json!({ "number": k + 1, "why": why })).collect();
    let verdicts: Vec<Value> = against
        .band_power
        .judged
        .effects
        .iter()
        .map(|e| json!({ "label": e.label, "verdict": e.verdict.name() }))
        .collect();
    json!({
        "baseline": against.band_power.judged.baseline,
        "verdicts": verdicts,
        "band": band_json(against.band),
        "band_power": figure(&against.band_power, &power(system)),
        "band_torque": figure(&against.band_torque, &torque(system)),
        "all_speeds": band_json(against.whole),
        "all_speeds_power": against.whole_power.as_ref().map(|f| figure(f, &power(system))),
        "all_speeds_torque": against.whole_torque.as_ref().map(|f| figure(f, &torque(system))),
        "speed_by_speed": effect_table(account).to_json(),
        "not_alike": against.unsteady.iter().map(|u| json!({ "kind": kind(u), "say": super::words::unsteady(u, system) })).collect::<Vec<_>>(),
        "left_out": left_out,
    })
}

fn kind(unsteady: &Unsteady) -> &'static str {
    match unsteady {
        Unsteady::Coolant { .. } => "coolant",
        Unsteady::OilCold { .. } => "oil-cold",
        Unsteady::WarmingUp { .. } => "warming-up",
        Unsteady::Settling { .. } => "settling",
        Unsteady::Weather { .. } => "weather",
        Unsteady::StartSpeed { .. } => "start-speed",
    }
}

/// Figures given by hand, judged.
pub fn values_json(
    judged: &Judged,
    further: &[Option<usize>],
    scale: &Scale,
    states: Option<&Attributed>,
    system: System,
) -> Value {
    let verdicts: Vec<Value> =
        judged.effects.iter().map(|e| json!({ "label": e.label, "verdict": e.verdict.name() })).collect();
    let mut object = json!({
        "pulls": [],
        "comparison": {
            "baseline": judged.baseline,
            "verdicts": verdicts,
            "better_is": if scale.up { "more" } else { "less" },
            "figure": judged_json(judged, further, scale),
        },
    });
    if let Some(found) = states {
        object["changes"] = separated::data(found, scale, system);
    }
    object
}
