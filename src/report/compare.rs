//! Two sessions, two trials or two traces side by side, in words and as data.

use crate::analysis::compare::{Comparison, LambdaChange, RegimeChange, Shift, StationChange};
use crate::procedure::IdleReading;
use crate::report::differing::Differing;
use crate::report::document::Table;
use crate::report::pulls::PullSeries;
use crate::report::{pulls, text, words};
use crate::setup::Weather;
use crate::units::System;
use crate::units::show::{Shown, fixed};
use serde_json::{Value, json};

/// What is held against what.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// "sessions", "trials" or "traces".
    pub kind: &'static str,
    /// The two, as named.
    pub names: (String, String),
    /// Parts and settings that differ, from the first to the second.
    pub settings: Differing,
    /// Settings are known of both.
    pub settings_known: bool,
    /// Last reading of the idling engine in each.
    pub idle: (Option<IdleReading>, Option<IdleReading>),
    /// Their last logs held against each other, when both have one.
    pub logs: Option<Comparison>,
    /// Their pulls held against each other, A and B, when both have some.
    pub pulls: Option<PullSeries>,
    /// The air of each, when known.
    pub air: (Option<Weather>, Option<Weather>),
    /// What else is to be said.
    pub notes: Vec<String>,
}

/// As one JSON object.
pub fn json(held: &Held) -> Value {
    let logs = held.logs.as_ref();
    json!({
        "kind": held.kind,
        "before": held.names.0,
        "after": held.names.1,
        "settings": held.settings.json(),
        "settings_known": held.settings_known,
        "readings": {
            "idle": { "before": held.idle.0.as_ref().map(idle), "after": held.idle.1.as_ref().map(idle) },
            "regimes": logs.map(|l| l.regimes.iter().map(regime).collect::<Vec<_>>()).unwrap_or_default(),
            "stations": logs.map(|l| l.stations.iter().map(station).collect::<Vec<_>>()).unwrap_or_default(),
            "only_before": logs.map(|l| l.only_before.iter().map(|r| r.name()).collect::<Vec<_>>()).unwrap_or_default(),
            "only_after": logs.map(|l| l.only_after.iter().map(|r| r.name()).collect::<Vec<_>>()).unwrap_or_default(),
        },
        "air": {
            "before": held.air.0.as_ref().map(air),
            "after": held.air.1.as_ref().map(air),
            "lambda_ratio": logs.and_then(|l| l.weather_ratio).map(|r| tidy(r, 5)),
        },
        "pulls": held
            .pulls
            .as_ref()
            .map(|p| pulls::account_json(&p.account, &p.asked, &p.reading, System::Us)),
        "notes": held.notes,
    })
}

fn idle(r: &IdleReading) -> Value {
    json!({
        "vacuum_inhg": tidy(r.reading.vacuum.as_inhg(), 3),
        "speed_rpm": r.reading.speed.map(|s| tidy(s.as_rpm(), 1)),
        "lambda": r.reading.lambda.map(|l| tidy(l.as_ratio(), 4)),
    })
}

fn air(w: &Weather) -> Value {
    let density =
        crate::physics::air::MoistAir::from_weather(w).ok().map(|a| tidy(a.density().as_kg_m3(), 5));
    json!({
        "station_pressure_pa": tidy(w.pressure.as_pa(), 1),
        "temperature_c": tidy(w.temperature.as_c(), 2),
        "humidity_pct": tidy(w.humidity.as_percent(), 2),
        "density_kg_m3": density,
    })
}

fn add_lambda(out: &mut Value, change: Option<&LambdaChange>) {
    let of = |pick: fn(&LambdaChange) -> crate::units::Lambda| change.map(|c| tidy(pick(c).as_ratio(), 5));
    out["lambda_before"] = json!(of(|c| c.before));
    out["lambda_after"] = json!(of(|c| c.after));
    out["lambda_by_weather"] = json!(of(|c| c.by_weather));
    out["lambda_left"] = json!(of(|c| c.left));
    out["lambda_left_low"] = json!(of(|c| c.low));
    out["lambda_left_high"] = json!(of(|c| c.high));
    out["shift"] = json!(change.map(|c| c.shift.name()));
}

fn regime(r: &RegimeChange) -> Value {
    let mut out = json!({
        "regime": r.regime.name(),
        "vacuum_change_inhg": r.vacuum.map(|v| tidy(v.as_inhg(), 3)),
        "speed_change_rpm": r.speed.map(|v| tidy(v.as_rpm(), 1)),
        "enriched_share_before": r.enriched.map(|e| tidy(e.0.as_ratio(), 4)),
        "enriched_share_after": r.enriched.map(|e| tidy(e.1.as_ratio(), 4)),
    });
    add_lambda(&mut out, r.lambda.as_ref());
    out
}

fn station(s: &crate::analysis::compare::StationChange) -> Value {
    let mut out = json!({
        "regime": s.regime.name(),
        "air_flow_share_low": tidy(s.air_flow_share.0.as_ratio(), 4),
        "air_flow_share_high": tidy(s.air_flow_share.1.as_ratio(), 4),
        "vacuum_low_inhg": tidy(s.vacuum.0.as_inhg(), 3),
        "vacuum_high_inhg": tidy(s.vacuum.1.as_inhg(), 3),
        "enough": s.enough,
    });
    add_lambda(&mut out, Some(&s.lambda));
    out
}

fn tidy(value: f64, decimals: i32) -> f64 {
    let power = 10f64.powi(decimals);
    (value * power).round() / power
}

/// In words, for so many columns.
pub fn say(held: &Held, system: System, width: usize) -> String {
    let mut out = vec![format!("{} against {}", words(&held.names.1), words(&held.names.0))];
    for note in &held.notes {
        text::paragraph(&mut out, &words(note), "", width);
    }
    say_settings(&mut out, held, system);
    say_air(&mut out, held, system, width);
    say_idle(&mut out, held, system);
    say_pulls(&mut out, held, system, width);
    if let Some(logs) = &held.logs {
        say_regimes(&mut out, logs, system, width);
        say_stations(&mut out, &logs.stations, system, width);
    } else {
        out.extend([
            String::new(),
            "There is no log in both, so nothing is said of the mixture under load.".to_owned(),
        ]);
    }
    let mut page = out.join("\n");
    page.push('\n');
    page
}

fn say_settings(out: &mut Vec<String>, held: &Held, system: System) {
    out.extend([String::new(), "Settings".to_owned()]);
    if !held.settings_known {
        out.push("  A log does not say what was in the carburetor.".to_owned());
    } else if held.settings.is_empty() {
        out.push("  The same.".to_owned());
    }
    let rows = held.settings.rows(system);
    let wide = rows.iter().map(|(name, ..)| name.chars().count()).max().unwrap_or(0);
    for (name, from, to) in rows {
        out.push(words(&format!("  {name:wide$}  {from} -> {to}")));
    }
}

fn say_pulls(out: &mut Vec<String>, held: &Held, system: System, width: usize) {
    let Some(series) = &held.pulls else { return };
    let counted =
        |label: &str| match series.account.pulls.iter().filter(|p| p.label.as_deref() == Some(label)).count()
        {
            1 => String::new(),
            n => format!(", {n} pulls of one state"),
        };
    out.extend([String::new(), "Pulls".to_owned()]);
    let mut said = vec![format!(
        "A is {}{}; B is {}{}; {}.",
        held.names.0,
        counted("A"),
        held.names.1,
        counted("B"),
        pulls::corrected(series)
    )];
    said.extend(pulls::verdicts(series, system));
    said.extend(pulls::reasons(series, system));
    for line in said {
        text::paragraph(out, &words(&line), "  ", width);
    }
}

fn say_air(out: &mut Vec<String>, held: &Held, system: System, width: usize) {
    out.extend([String::new(), "Air".to_owned()]);
    let said = |w: &Weather| {
        format!(
            "{}, {}, {} humidity",
            w.pressure.show(system),
            w.temperature.show(system),
            w.humidity.show(system)
        )
    };
    let line = match (&held.air.0, &held.air.1) {
        (Some(a), Some(b)) => format!("{} then, {} now.", said(a), said(b)),
        _ => "Not known of both, so nothing is laid to the weather.".to_owned(),
    };
    text::paragraph(out, &line, "  ", width);
    if let Some(ratio) = held.logs.as_ref().and_then(|l| l.weather_ratio) {
        let percent = (ratio - 1.0) * 100.0;
        let line = if percent.abs() < 0.05 {
            "On fixed jets that moves lambda by less than 0.1 %.".to_owned()
        } else {
            format!(
                "On fixed jets that alone moves lambda {} by {} %.",
                if percent > 0.0 { "leaner" } else { "richer" },
                fixed(percent.abs(), 1)
            )
        };
        text::paragraph(out, &line, "  ", width);
    }
}

fn say_idle(out: &mut Vec<String>, held: &Held, system: System) {
    let (Some(a), Some(b)) = (&held.idle.0, &held.idle.1) else { return };
    let said = |r: &IdleReading| {
        let speed = r.reading.speed.map_or_else(String::new, |s| format!(" at {}", s.show(system)));
        format!("{}{speed}", r.reading.vacuum.show(system))
    };
    out.extend([String::new(), "Idle".to_owned(), format!("  {} then, {} now.", said(a), said(b))]);
}

fn say_regimes(out: &mut Vec<String>, logs: &Comparison, system: System, width: usize) {
    out.extend([String::new(), "Lambda by regime, the weather's part taken out".to_owned()]);
    let row = |r: &RegimeChange| {
        let l = r.lambda.as_ref()?;
        let n = |v: crate::units::Lambda| fixed(v.as_ratio(), 3);
        let said = match l.shift {
            Shift::Leaner => "leaner",
            Shift::Richer => "richer",
            Shift::WithinNoise => "not shown",
        };
        Some(
            [
                r.regime.said().to_owned(),
                n(l.before),
                n(l.by_weather),
                n(l.after),
                format!("{} ({} to {})", n(l.left), n(l.low), n(l.high)),
                said.to_owned(),
            ]
            .map(Into::into)
            .to_vec(),
        )
    };
    let table = Table {
        caption: String::new(),
        heads: ["  Regime", "Then", "Weather", "Now", "Left, 9 in 10", ""].map(str::to_owned).into(),
        figures: vec![1, 2, 3, 4],
        rows: logs
            .regimes
            .iter()
            .filter_map(row)
            .map(|mut r: Vec<super::document::Text>| {
                r[0] = format!("  {}", r[0].plain()).into();
                r
            })
            .collect(),
    };
    text::table(out, &table, width);
    for r in logs.regimes.iter().filter(|r| r.lambda.is_none()) {
        let moved = r.vacuum.map_or_else(String::new, |v| format!("; vacuum moved by {}", v.show(system)));
        out.push(format!("  {}: too little in one of them to say{moved}", r.regime.said()));
    }
    for (only, name) in [(&logs.only_before, "first"), (&logs.only_after, "second")] {
        if !only.is_empty() {
            let names: Vec<&str> = only.iter().map(|r| r.said()).collect();
            out.push(format!("  Only in the {name}: {}", names.join(", ")));
        }
    }
    if logs.stations_differ {
        text::paragraph(
            out,
            "Stations are shares of different things in the two logs, and are not held against each other.",
            "  ",
            width,
        );
    }
}

/// Stations that moved, weather apart; the others are counted.
fn say_stations(out: &mut Vec<String>, all: &[StationChange], system: System, width: usize) {
    let enough: Vec<&StationChange> = all.iter().filter(|s| s.enough).collect();
    if enough.is_empty() {
        return;
    }
    let moved: Vec<&&StationChange> =
        enough.iter().filter(|s| s.lambda.shift != Shift::WithinNoise).collect();
    out.extend([String::new(), "Stations that moved, the weather's part taken out".to_owned()]);
    let n = |v: crate::units::Lambda| fixed(v.as_ratio(), 3);
    let row = |s: &&&StationChange| {
        let l = &s.lambda;
        let percent = |f: crate::units::Fraction| fixed(f.as_percent(), 0);
        let (low, high) = s.vacuum;
        let regime = format!("  {}", s.regime.said());
        let flow = format!("{} to {}", percent(s.air_flow_share.0), percent(s.air_flow_share.1));
        let vacuum = format!("{} to {}", fixed(low.number(system), 1), fixed(high.number(system), 1));
        let said = if l.shift == Shift::Leaner { "leaner" } else { "richer" };
        [regime, flow, vacuum, n(l.before), n(l.after), n(l.left), said.to_owned()].map(Into::into).to_vec()
    };
    if !moved.is_empty() {
        let table = Table {
            caption: String::new(),
            heads: [
                "  Regime",
                "Air flow, %",
                &format!("Vacuum, {}", crate::units::Vacuum::unit_symbol(system)),
                "Then",
                "Now",
                "Left",
                "",
            ]
            .map(str::to_owned)
            .into(),
            figures: vec![1, 2, 3, 4, 5],
            rows: moved.iter().map(row).collect(),
        };
        text::table(out, &table, width);
    }
    let still = enough.len() - moved.len();
    let line = match (moved.len(), still) {
        (_, 0) => return,
        (0, 1) => "The one station that both have enough of did not move beyond the noise.".to_owned(),
        (0, n) => format!("None of the {n} stations that both have enough of moved beyond the noise."),
        (_, n) => format!("{n} more that both have enough of did not move beyond the noise."),
    };
    text::paragraph(out, &line, "  ", width);
}
