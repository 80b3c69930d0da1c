//! Live readings and warnings in words and as data.

use crate::trace::live::{AlarmLevel, LiveRow, Monitor, Say};
use crate::trace::settle::Settled;
use crate::units::show::Shown;
use crate::units::{Lambda, System, TimeSpan};
use serde_json::{Value, json};

/// One line of readings; each stands in its own columns, a dash where there is none.
pub fn reading_text(now: TimeSpan, row: &LiveRow, monitor: &Monitor, system: System) -> String {
    let or_dash = |text: Option<String>| text.unwrap_or_else(|| "-".to_owned());
    let speed = or_dash(row.speed.map(|s| s.show(system)));
    let vacuum = or_dash(row.vacuum.map(|v| v.show(system)));
    let lambda = or_dash(row.lambda.map(|l| format!("{:.3}", l.as_ratio())));
    let throttle = or_dash(row.throttle.map(|t| format!("{:.0} %", t.as_percent())));
    let regime = monitor.regime().map_or("-", crate::setup::Regime::said);
    let settled = if matches!(monitor.settled(), Settled::Yes { .. }) { "settled" } else { "" };
    let alarm = match monitor.alarm() {
        Some(AlarmLevel::Stop) => "LEAN ",
        Some(AlarmLevel::Warn) => "lean ",
        None => "",
    };
    let text = format!(
        "{alarm}{:>8.1} s {speed:>9} {vacuum:>10}  lambda {lambda:>5}  throttle {throttle:>5}  {regime:<13} {settled}",
        now.as_s()
    );
    text.trim_end().to_owned()
}

/// The readings as one JSON object.
pub fn reading_json(now: TimeSpan, row: &LiveRow, monitor: &Monitor) -> Value {
    let tidy = |v: f64| (v * 1e4).round() / 1e4;
    json!({
        "at_s": tidy(now.as_s()),
        "time_s": row.time.map(|t| tidy(t.as_s())),
        "speed_rpm": row.speed.map(|v| tidy(v.as_rpm())),
        "vacuum_inhg": row.vacuum.map(|v| tidy(v.as_inhg())),
        "throttle_pct": row.throttle.map(|v| tidy(v.as_percent())),
        "lambda": row.lambda.map(|v| tidy(v.as_ratio())),
        "coolant_c": row.coolant.map(|v| tidy(v.as_c())),
        "fuel_pressure_kpa": row.fuel_pressure.map(|v| tidy(v.as_kpa())),
        "regime": monitor.regime().map(crate::setup::Regime::name),
        "settled": matches!(monitor.settled(), Settled::Yes { .. }),
        "lean_alarm": monitor.alarm().map(|a| if a == AlarmLevel::Stop { "stop" } else { "warn" }),
    })
}

/// What is said; `None` for what the readings show anyway.
pub fn said_text(say: &Say, system: System) -> Option<String> {
    let ratio = |l: &Lambda| format!("{:.3}", l.as_ratio());
    Some(match say {
        Say::Lean { level: AlarmLevel::Stop, lambda, limit } => format!(
            "*** LEAN AT LOAD: lambda {}, limit {:.2}. CLOSE THE THROTTLE. ***",
            ratio(lambda),
            limit.as_ratio()
        ),
        Say::Lean { level: AlarmLevel::Warn, lambda, limit } => {
            format!(
                "*** LEAN AT LOAD: lambda {}, warning above {:.2}. Ease off: close the throttle. ***",
                ratio(lambda),
                limit.as_ratio()
            )
        }
        Say::LeanOver => "Lean alarm over.".to_owned(),
        Say::SensorStuck { lambda } => {
            format!(
                "Lambda stands at {} while the engine moves: the sensor is stuck or cold. Do not go by it.",
                ratio(lambda)
            )
        }
        Say::SensorMoves => "Lambda moves again.".to_owned(),
        Say::Stalled { since } => {
            format!("No readings for {:.0} s. What is shown is old; the lean alarm is blind.", since.as_s())
        }
        Say::Resumed { after } => format!("Readings again after {:.0} s.", after.as_s()),
        Say::Settled { vacuum, speed } => {
            let parts = [vacuum.map(|v| v.show(system)), speed.map(|s| s.show(system))];
            let parts: Vec<String> = parts.into_iter().flatten().collect();
            format!("Settled: {}.", parts.join(", "))
        }
        Say::ClockJumped { from, to } => format!(
            "The logger's clock jumped from {:.2} s to {:.2} s. Readings go by this machine's clock.",
            from.as_s(),
            to.as_s()
        ),
        Say::Regime(_) => return None,
    })
}
