//! The summary in words: eighty columns, the most important first.

use crate::report::lines;
use crate::setup::Regime;
use crate::trace::{DelaySource, Pull, ShareOf, Station, TipIn, TraceSummary};
use crate::units::show::{Shown, fixed, fuel_pressure_symbol};
use crate::units::{Lambda, System, TimeSpan, Vacuum};
use std::fmt::Write;

/// The summary as text; `name` is what the log is called.
pub fn summary_text(s: &TraceSummary, name: &str, system: System) -> String {
    let mut out = String::new();
    let set_aside = if s.lines.quarantined > 0 {
        format!(", {} set aside", count(s.lines.quarantined))
    } else {
        String::new()
    };
    line(&mut out, &format!("{name}: {} rows{set_aside}, {}", count(s.rows), time(s.seconds)));
    kept(&mut out, s);
    regimes(&mut out, s, system);
    delay(&mut out, s);
    stations(&mut out, s, system);
    tip_ins(&mut out, &s.tip_ins, s.tip_in_count);
    pulls(&mut out, &s.pulls, s.pull_count, system);
    faults(&mut out, s);
    notes(&mut out, s);
    out
}

pub(in crate::report) fn line(out: &mut String, text: &str) {
    out.push_str(text.trim_end());
    out.push('\n');
}

fn kept(out: &mut String, s: &TraceSummary) {
    line(out, &format!("{} rows are steady, warm and believable; the others:", count(s.kept)));
    let mut reasons: Vec<_> = s.dropped.iter().collect();
    reasons.sort_by(|a, b| b.1.cmp(a.1));
    for (reason, n) in reasons {
        line(out, &format!("  {:>12}  {}", count(*n), why(*reason)));
    }
}

fn why(reason: crate::trace::Dropped) -> &'static str {
    use crate::trace::Dropped as D;
    match reason {
        D::Incomplete => "no engine speed, or neither throttle nor vacuum",
        D::Stopped => "engine standing or cranked",
        D::TachNoise => "speed jumped as no crankshaft can",
        D::PressureImplausible => "manifold pressure impossible",
        D::WarmUp => "coolant below operating temperature",
        D::SensorWarmUp => "sensor heating up (first 30 s)",
        D::NoLambda => "no lambda reading",
        D::Gap => "hole in the log where its lambda would be",
        D::SensorRange => "lambda at the end of the sensor's range",
        D::SensorStuck => "lambda stuck",
        D::Overrun => "overrun",
        D::Transient => "tip-in (told apart below)",
        D::MisfireOrLeak => "too lean to burn at high vacuum: misfire or leak",
        D::Unsteady => "not steady for two seconds",
    }
}

fn regimes(out: &mut String, s: &TraceSummary, system: System) {
    let vacuum_unit = Vacuum::unit_symbol(system);
    line(out, "");
    line(out, &format!("regime          time   visits  kept s   lambda  10 % .. 90 %   rpm   {vacuum_unit}"));
    for r in &s.regimes {
        let spread = r.lambda.map_or_else(
            || "     -              -".to_owned(),
            |l| format!("{:>6}  {} .. {}", show(l.median), show(l.p10), show(l.p90)),
        );
        let speed = r.speed.map_or_else(|| "-".to_owned(), |v| fixed(v.as_rpm(), 0));
        let vacuum = r.vacuum.map_or_else(|| "-".to_owned(), |v| fixed(v.number(system), 1));
        let name = capital(r.regime.said());
        let kept = fixed(r.kept_seconds.as_s(), 0);
        line(
            out,
            &format!(
                "{name:<14}{:>7} {:>7} {kept:>7}   {spread}  {speed:>5}  {vacuum:>5}",
                time(r.seconds),
                r.visits
            ),
        );
    }
    let missing: Vec<&str> =
        Regime::ALL.iter().filter(|r| s.regime(**r).is_none()).map(|r| r.said()).collect();
    if !missing.is_empty() {
        line(out, &format!("Not in this log: {}.", missing.join(", ")));
    }
    if s.sensor.idle_witness_only {
        line(out, "Lambda at idle only witnesses here (overlap, or too wide a spread): vacuum decides.");
    }
}

fn delay(out: &mut String, s: &TraceSummary) {
    let d = &s.delay;
    let from = match d.source {
        DelaySource::Fitted => format!("fitted from {} transients of this log", d.transients),
        DelaySource::Setup => "from the setup's exhaust and sensor".to_owned(),
        DelaySource::Typical => "typical: neither setup nor log shows it".to_owned(),
    };
    let two = |t: TimeSpan| fixed(t.as_s(), 2);
    line(out, "");
    let text = format!(
        "Lambda comes {} s late at idle, {} (+-{}) at cruise, {} at full throttle; {from}. It has been taken out.",
        two(d.at_idle),
        two(d.at_cruise),
        two(d.uncertainty),
        two(d.at_full_throttle)
    );
    wrapped(out, &text, "");
}

fn stations(out: &mut String, s: &TraceSummary, system: System) {
    if s.stations.is_empty() {
        return;
    }
    let of = match s.share_of {
        ShareOf::Rating => "share of the carburetor's rating",
        ShareOf::SpeedDensity => "6000 rpm at 100 kPa is 100 %; no setup given",
    };
    line(out, "");
    line(out, &format!("Stations: air flow ({of})"));
    line(
        out,
        &format!(
            "air flow     vacuum {:<5} regime         lambda   spread     s   visits",
            Vacuum::unit_symbol(system)
        ),
    );
    for station in s.stations.iter().filter(|x| x.enough) {
        line(out, &station_line(station, system));
    }
    let thin = s.stations.iter().filter(|x| !x.enough).count();
    if thin > 0 {
        line(
            out,
            &format!("{thin} more have fewer than 20 rows or 3 visits: too little to rest a change on."),
        );
    }
}

fn station_line(x: &Station, system: System) -> String {
    let share =
        format!("{:.0}-{:.0} %", x.air_flow_share_low.as_percent(), x.air_flow_share_high.as_percent());
    let vacuum =
        format!("{} .. {}", fixed(x.vacuum_low.number(system), 1), fixed(x.vacuum_high.number(system), 1));
    format!(
        "{share:<12} {vacuum:<12} {:<14} {:>6}   {:>6} {:>6} {:>7}",
        x.regime.said(),
        show(x.lambda.median),
        show(x.lambda.spread),
        fixed(x.seconds.as_s(), 0),
        x.visits
    )
}

fn tip_ins(out: &mut String, tips: &[TipIn], total: u64) {
    if tips.is_empty() {
        return;
    }
    line(out, "");
    line(out, &format!("Tip-ins: {total}; the leanest:"));
    line(out, "at s          throttle        peak   lean s   settles at   recovers in");
    for t in tips.iter().take(5) {
        let throttle = format!("{:.0} -> {:.0} %", t.throttle_from.as_percent(), t.throttle_to.as_percent());
        let settled = t.settled.map_or_else(|| "-".to_owned(), show);
        let recovery = t.recovery.map_or_else(|| "-".to_owned(), |r| format!("{} s", fixed(r.as_s(), 2)));
        line(
            out,
            &format!(
                "{:<12}  {throttle:<13} {:>6} {:>8}   {settled:>10}   {recovery:>11}",
                fixed(t.start.as_s(), 2),
                show(t.peak),
                fixed(t.lean_seconds.as_s(), 2)
            ),
        );
    }
}

fn pulls(out: &mut String, pulls: &[Pull], total: u64, system: System) {
    if pulls.is_empty() {
        return;
    }
    line(out, "");
    line(out, &format!("Full-throttle pulls: {total}; the leanest:"));
    line(out, "at s          s     rpm             lambda   leanest   per 1000 rpm   fuel");
    for p in pulls.iter().take(5) {
        let or_dash = |l: Option<Lambda>| l.map_or_else(|| "-".to_owned(), show);
        let rpm = format!("{:.0} -> {:.0}", p.speed_from.as_rpm(), p.speed_to.as_rpm());
        let slope = p.lambda_per_1000_rpm.map_or_else(|| "-".to_owned(), |x| format!("{x:+.3}"));
        let unit = fuel_pressure_symbol(system);
        let fuel = match (p.fuel_pressure_from, p.fuel_pressure_to) {
            (Some(a), Some(b)) if system == System::Us => {
                format!("{} -> {} {unit}", fixed(a.as_psi(), 1), fixed(b.as_psi(), 1))
            }
            (Some(a), Some(b)) => format!("{} -> {} {unit}", fixed(a.as_kpa(), 0), fixed(b.as_kpa(), 0)),
            _ => "-".to_owned(),
        };
        line(
            out,
            &format!(
                "{:<12} {:>4}  {rpm:<14} {:>7}   {:>7}   {slope:>12}   {fuel}",
                fixed(p.start.as_s(), 2),
                fixed(p.seconds.as_s(), 1),
                or_dash(p.lambda),
                or_dash(p.worst)
            ),
        );
    }
}

fn faults(out: &mut String, s: &TraceSummary) {
    if s.fault_counts.is_empty() {
        return;
    }
    line(out, "");
    let all: Vec<String> =
        s.fault_counts.iter().map(|(k, n)| format!("{} {}", count(*n), k.name())).collect();
    wrapped(out, &format!("Faults in the log: {}.", all.join(", ")), "  ");
    for fault in s.faults.iter().take(8) {
        wrapped(out, &format!("  {fault}"), "    ");
    }
    let more = s.faults.len().saturating_sub(8);
    if more > 0 {
        line(out, "  more with their places: --json");
    }
}

fn notes(out: &mut String, s: &TraceSummary) {
    if s.notes.is_empty() {
        return;
    }
    line(out, "");
    for note in &s.notes {
        wrapped(out, &format!("Note: {}.", note.what.trim_end_matches('.')), "  ");
    }
}

/// Text in lines of at most eighty columns, those after the first set in.
pub(in crate::report) fn wrapped(out: &mut String, text: &str, indent: &str) {
    let first_indent: String = text.chars().take_while(|c| *c == ' ').collect();
    let mut row = first_indent;
    for word in lines::words(text) {
        if row.chars().count() + word.chars().count() + 1 > 80 && !row.trim().is_empty() {
            line(out, &row);
            indent.clone_into(&mut row);
        }
        if !row.trim().is_empty() {
            row.push(' ');
        }
        row.push_str(&word);
    }
    line(out, &row);
}

fn show(l: Lambda) -> String {
    fixed(l.as_ratio(), 3)
}

/// Hours, minutes and seconds.
fn time(t: TimeSpan) -> String {
    let s = t.as_s();
    match s {
        s if s < 100.0 => format!("{s:.1} s"),
        s if s < 3600.0 => format!("{:.0} min {:02.0}", (s / 60.0).floor(), (s % 60.0).floor()),
        s => format!("{:.0} h {:02.0}", (s / 3600.0).floor(), ((s % 3600.0) / 60.0).floor()),
    }
}

/// A count with its thousands apart.
fn count(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::new();
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(' ');
        }
        out.push(c);
    }
    out
}

fn capital(text: &str) -> String {
    let mut out = String::new();
    let mut chars = text.chars();
    if let Some(first) = chars.next() {
        let _ = write!(out, "{}", first.to_uppercase());
    }
    out.extend(chars);
    out
}
