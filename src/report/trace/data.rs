//! The summary as one JSON object; names end in their unit.

use crate::trace::{DelayUsed, Event, Pull, RegimeSummary, ShareOf, Spread, Station, TipIn, TraceSummary};
use crate::units::{Lambda, TimeSpan};
use serde_json::{Map, Value, json};

/// Everything `trace --json` prints.
pub fn summary_json(s: &TraceSummary) -> Value {
    let faults: Vec<Value> = s
        .faults
        .iter()
        .map(|f| json!({"line": f.line, "column": f.column, "kind": f.kind.name(), "expected": f.expected, "found": f.found}))
        .collect();
    let fault_counts: Map<String, Value> =
        s.fault_counts.iter().map(|(k, n)| (k.name().to_owned(), json!(n))).collect();
    let dropped: Map<String, Value> =
        s.dropped.iter().map(|(r, n)| (r.name().to_owned(), json!(n))).collect();
    let events: Map<String, Value> =
        s.event_counts.iter().map(|(k, n)| (k.name().to_owned(), json!(n))).collect();
    let sensor = &s.sensor;
    json!({
        "rows": s.rows,
        "lines": s.lines,
        "faults": faults,
        "fault_counts": fault_counts,
        "kept": s.kept,
        "dropped": dropped,
        "start_s": s.start.map(seconds),
        "end_s": s.end.map(seconds),
        "seconds": seconds(s.seconds),
        "stopped_seconds": seconds(s.stopped_seconds),
        "period_s": s.period.map(seconds),
        "regimes": s.regimes.iter().map(regime).collect::<Vec<_>>(),
        "stations": s.stations.iter().map(station).collect::<Vec<_>>(),
        "air_flow_share_of": match s.share_of { ShareOf::Rating => "rating", ShareOf::SpeedDensity => "speed-density" },
        "delay": delay(&s.delay),
        "tip_in_count": s.tip_in_count,
        "tip_ins": s.tip_ins.iter().map(tip_in).collect::<Vec<_>>(),
        "pull_count": s.pull_count,
        "pulls": s.pulls.iter().map(pull).collect::<Vec<_>>(),
        "event_counts": events,
        "events": s.events.iter().map(event).collect::<Vec<_>>(),
        "sensor": {
            "vouched": sensor.vouched,
            "believable_share": sensor.believable.map(|f| tidy(f.as_ratio())),
            "stuck": sensor.stuck,
            "out_of_range": sensor.out_of_range,
            "missing": sensor.missing,
            "cruise_noise": sensor.cruise_noise.map(ratio),
            "idle_witness_only": sensor.idle_witness_only,
            "bank_difference": sensor.bank_difference.map(ratio),
        },
        "notes": s.notes,
    })
}

fn regime(r: &RegimeSummary) -> Value {
    let mut out = json!({
        "regime": r.regime.name(),
        "seconds": seconds(r.seconds),
        "visits": r.visits,
        "samples": r.samples,
        "kept_seconds": seconds(r.kept_seconds),
        "vacuum_inhg": r.vacuum.map(|v| tidy(v.as_inhg())),
        "speed_rpm": r.speed.map(|v| tidy(v.as_rpm())),
        "air_flow_g_per_s": r.air_flow.map(|v| tidy(v.as_g_s())),
        "enriched_share": r.enriched.map(|v| tidy(v.as_ratio())),
    });
    add_spread(&mut out, r.lambda.as_ref());
    out
}

fn station(s: &Station) -> Value {
    let mut out = json!({
        "regime": s.regime.name(),
        "air_flow_share_low": tidy(s.air_flow_share_low.as_ratio()),
        "air_flow_share_high": tidy(s.air_flow_share_high.as_ratio()),
        "vacuum_low_inhg": tidy(s.vacuum_low.as_inhg()),
        "vacuum_high_inhg": tidy(s.vacuum_high.as_inhg()),
        "vacuum_inhg": tidy(s.vacuum.as_inhg()),
        "speed_rpm": tidy(s.speed.as_rpm()),
        "air_flow_g_per_s": s.air_flow.map(|v| tidy(v.as_g_s())),
        "seconds": seconds(s.seconds),
        "visits": s.visits,
        "samples": s.lambda.count,
        "enough": s.enough,
    });
    add_spread(&mut out, Some(&s.lambda));
    out
}

fn add_spread(out: &mut Value, spread: Option<&Spread>) {
    let of = |pick: fn(&Spread) -> Lambda| spread.map(|s| ratio(pick(s)));
    out["lambda_median"] = json!(of(|s| s.median));
    out["lambda_p10"] = json!(of(|s| s.p10));
    out["lambda_p90"] = json!(of(|s| s.p90));
    out["lambda_spread"] = json!(of(|s| s.spread));
}

fn delay(d: &DelayUsed) -> Value {
    json!({
        "source": d.source,
        "at_idle_s": seconds(d.at_idle),
        "at_cruise_s": seconds(d.at_cruise),
        "at_full_throttle_s": seconds(d.at_full_throttle),
        "uncertainty_s": seconds(d.uncertainty),
        "transients": d.transients,
    })
}

fn tip_in(t: &TipIn) -> Value {
    json!({
        "start_s": seconds(t.start),
        "throttle_from_pct": tidy(t.throttle_from.as_percent()),
        "throttle_to_pct": tidy(t.throttle_to.as_percent()),
        "opening_pct_per_s": tidy(100.0 * t.opening_per_s),
        "lambda_peak": ratio(t.peak),
        "peak_after_s": seconds(t.peak_after),
        "lean_seconds": seconds(t.lean_seconds),
        "lambda_richest": ratio(t.richest),
        "rich_seconds": seconds(t.rich_seconds),
        "recovery_s": t.recovery.map(seconds),
        "lambda_settled": t.settled.map(ratio),
        "speed_dip_rpm": tidy(t.speed_dip.as_rpm()),
        "lambda_second_peak": t.second_peak.map(ratio),
    })
}

fn pull(p: &Pull) -> Value {
    json!({
        "start_s": seconds(p.start),
        "seconds": seconds(p.seconds),
        "speed_from_rpm": tidy(p.speed_from.as_rpm()),
        "speed_to_rpm": tidy(p.speed_to.as_rpm()),
        "lambda_median": p.lambda.map(ratio),
        "lambda_from": p.lambda_from.map(ratio),
        "lambda_to": p.lambda_to.map(ratio),
        "lambda_per_1000_rpm": p.lambda_per_1000_rpm.map(tidy),
        "lambda_worst": p.worst.map(ratio),
        "worst_at_s": p.worst_at.map(seconds),
        "lambda_richest": p.richest.map(ratio),
        "fuel_pressure_from_kpa": p.fuel_pressure_from.map(|v| tidy(v.as_kpa())),
        "fuel_pressure_to_kpa": p.fuel_pressure_to.map(|v| tidy(v.as_kpa())),
        "vacuum_to_inhg": p.vacuum_to.map(|v| tidy(v.as_inhg())),
        "samples": p.samples,
    })
}

fn event(e: &Event) -> Value {
    json!({
        "kind": e.kind.name(),
        "start_s": seconds(e.start),
        "seconds": seconds(e.seconds),
        "lambda": e.lambda.map(ratio),
        "speed_rpm": e.speed.map(|v| tidy(v.as_rpm())),
    })
}

fn seconds(t: TimeSpan) -> f64 {
    (t.as_s() * 1e4).round() / 1e4
}

fn ratio(l: Lambda) -> f64 {
    (l.as_ratio() * 1e5).round() / 1e5
}

fn tidy(value: f64) -> f64 {
    (value * 1e5).round() / 1e5
}
