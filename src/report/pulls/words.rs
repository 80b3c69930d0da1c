//! Pulls in words, for eighty columns.

use super::judged::{Scale, effect_line, grounds};
use super::separated;
use crate::analysis::pulls::{
    Account, Against, Asked, Attributed, Band, Figure, Listed, Peak, Reading, SizeVerdict, SpeedSource,
    flow_at,
};
use crate::analysis::verdict::{Judged, Unsteady};
use crate::report::lines;
use crate::units::show::{Shown, fixed};
use crate::units::{Power, System, Temperature, Torque};

/// Columns a line may have.
const WIDTH: usize = 80;

/// A paragraph broken at spaces, further lines indented by `indent`.
fn wrap(text: &str, indent: usize, out: &mut Vec<String>) {
    let lead = text.len() - text.trim_start().len();
    let mut line = " ".repeat(lead);
    let mut empty = true;
    for word in lines::words(text) {
        if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            out.push(std::mem::replace(&mut line, " ".repeat(lead + indent)));
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(&word);
        empty = false;
    }
    out.push(line);
}

/// What was not kept alike, in a sentence.
pub(super) fn unsteady(found: &Unsteady, system: System) -> String {
    match found {
        Unsteady::Coolant { low, high } => {
            format!("Coolant started anywhere from {} to {}: keep it within {} either way.", low.show(system), high.show(system), match system {
                System::Us => "5 degF",
                System::Metric => "3 K",
            })
        }
        Unsteady::OilCold { pull, oil } => {
            format!("Oil was at {} at the start of run {pull}: {} is the least for a pull.", oil.show(system), Temperature::from_f(160.0).show(system))
        }
        Unsteady::WarmingUp { from, to } => {
            format!("Oil rose from {} to {} all through the series: part of the drift is warm-up.", from.show(system), to.show(system))
        }
        Unsteady::Settling { .. } => {
            "Each return to the first state moved it less, in one direction: the engine was still settling. Drift of that shape is \
             only partly taken out; warm it through and run again."
                .to_owned()
        }
        Unsteady::Weather { low, high } => format!(
            "The air moved over the series: corrections from {} to {}. It is taken out as far as the correction is right.",
            fixed(*low, 3),
            fixed(*high, 3)
        ),
        Unsteady::StartSpeed { low, high } => {
            format!("Pulls began anywhere from {low:.0} to {high:.0} rpm: begin them at one speed.")
        }
    }
}

/// Everything the files say.
pub fn account_text(account: &Account, asked: &Asked, how: &Reading, system: System) -> Vec<String> {
    let mut out = Vec::new();
    for (k, remark) in account.stops() {
        wrap(&format!("Pull {}: {}", k + 1, remark.kind), 2, &mut out);
        out.push(String::new());
    }
    if account.pulls.is_empty() {
        out.push("No pull was found.".to_owned());
    } else {
        pull_lines(account, how, system, &mut out);
    }
    remark_lines(account, &mut out);
    supply_lines(account, asked, system, &mut out);
    match &account.against {
        Some(Ok(against)) => against_lines(against, asked, system, &mut out),
        Some(Err(refusal)) => {
            out.push(String::new());
            wrap(&format!("Not compared: {refusal}."), 2, &mut out);
        }
        None => {}
    }
    if let Some(found) = &account.attributed {
        out.push(String::new());
        let baseline = account.pulls.first().and_then(|p| p.label.clone()).unwrap_or_default();
        for line in separated::lines(found, &baseline, &Scale::shown::<Power>(system, "kw", true), system) {
            wrap(&line, 2, &mut out);
        }
    }
    out
}

fn pull_lines(account: &Account, how: &Reading, system: System, out: &mut Vec<String>) {
    let (t, p) = (Torque::unit_symbol(system), Power::unit_symbol(system));
    let corrected =
        how.standard.map_or_else(|| "as read".to_owned(), |s| format!("corrected to {}", s.said()));
    out.push(format!("Pulls, {corrected}"));
    out.push(String::new());
    out.push(format!(
        "{:<4} {:<6} {:>11}  {:>16}  {:>16}  {:>6}  {:>8}",
        "pull",
        "label",
        "rpm",
        format!("peak {t}"),
        format!("peak {p}"),
        "factor",
        format!("mean {p}")
    ));
    for (k, listed) in account.pulls.iter().enumerate() {
        out.push(pull_line(k, listed, system));
    }
    out.push(String::new());
    let peaks = "Peaks are of a parabola through the rows about them; +- is one standard error within the pull, and repeats differ by more; > marks a pull that ended before its peak.";
    wrap(peaks, 0, out);
    wrap(
        &format!(
            "Curves: a straight line fitted at every {:.0} rpm, rows weighted by a bell {:.0} rpm wide.",
            how.smoothing.step.as_rpm(),
            how.smoothing.width.as_rpm()
        ),
        0,
        out,
    );
    if let Some(band) = account.band {
        wrap(&format!("Means are from {} ({}).", range(&band), band.why), 0, out);
        if account.holes > 0 {
            wrap(
                "Speeds at which one of the pulls has a hole are left out of the means of all of them.",
                0,
                out,
            );
        }
    }
    for (name, source) in &account.files {
        match source {
            SpeedSource::Read => {}
            SpeedSource::PowerOverTorque => {
                wrap(&format!("{name}: engine speed was worked out from power and torque."), 2, out);
            }
            SpeedSource::Gearing => {
                wrap(&format!("{name}: engine speed was worked out from road speed and gearing."), 2, out);
            }
        }
    }
    air_lines(account, how, out);
}

fn range(band: &Band) -> String {
    format!("{:.0} to {:.0} rpm", band.low.as_rpm(), band.high.as_rpm())
}

fn pull_line(k: usize, listed: &Listed, system: System) -> String {
    let pull = &listed.pull;
    let (low, high) = pull.torque.range();
    let rpm = format!("{:.0}-{:.0}", pull.torque.speed(low).as_rpm(), pull.torque.speed(high).as_rpm());
    let peak = |peak: Option<Peak>, scale: &Scale| match peak {
        None => "-".to_owned(),
        Some(p) => {
            let (value, error) =
                (scale.bare(p.value * pull.factor()), scale.bare(p.value_error * pull.factor()));
            let beyond = if p.passed { format!("@{:.0}", p.rpm) } else { format!(">{:.0}", p.rpm) };
            format!("{value}+-{error}{beyond}")
        }
    };
    let (torque, power) = (Scale::shown::<Torque>(system, "", true), Scale::shown::<Power>(system, "", true));
    let label: String = listed.label.as_deref().unwrap_or("-").chars().take(6).collect();
    let factor = pull.correction.map_or_else(|| "-".to_owned(), |c| fixed(c.factor, 3));
    let mean = listed.means.map_or_else(|| "-".to_owned(), |m| fixed(m.power.number(system), 1));
    format!(
        "{:<4} {label:<6} {rpm:>11}  {:>16}  {:>16}  {factor:>6}  {mean:>8}",
        k + 1,
        peak(pull.torque_peak, &torque),
        peak(pull.power_peak, &power)
    )
}

fn air_lines(account: &Account, how: &Reading, out: &mut Vec<String>) {
    use crate::analysis::pulls::AirSource;
    let Some(standard) = how.standard else { return };
    if account.pulls.iter().any(|p| p.pull.correction.is_none()) {
        wrap(
            "Some pulls have no air to correct by and stand as read: give --air \"PRESSURE,TEMPERATURE,HUMIDITY\".",
            2,
            out,
        );
    }
    if account.pulls.iter().any(|p| matches!(p.pull.air, Some((_, AirSource::FileDry)))) {
        wrap(
            "The files have no humidity: the air was taken as dry, which reads up to 3 % low on a humid day.",
            2,
            out,
        );
    }
    for (k, p) in account.pulls.iter().enumerate().filter(|(_, p)| p.pull.out_of_range()) {
        wrap(
            &format!(
                "Pull {}: a correction of {} is outside what {} vouches for; do not compare it with other days.",
                k + 1,
                fixed(p.pull.factor(), 3),
                standard.said()
            ),
            2,
            out,
        );
    }
}

fn remark_lines(account: &Account, out: &mut Vec<String>) {
    let mut lines = Vec::new();
    for (file, r) in &account.outside {
        let name = account.files.get(*file).map(|f| f.0.as_str()).unwrap_or_default();
        lines.push(format!("{name}, lines {}-{}: {}.", r.first_line, r.last_line, r.kind));
    }
    for (k, p) in account.pulls.iter().enumerate() {
        for r in p.pull.remarks.iter().filter(|r| !r.kind.stops()) {
            lines.push(format!("Pull {}, lines {}-{}: {}.", k + 1, r.first_line, r.last_line, r.kind));
        }
    }
    if !lines.is_empty() {
        out.push(String::new());
    }
    for line in lines {
        wrap(&line, 2, out);
    }
}

/// Vacuum at the top, lambda and consumption over the band, where they are logged: one line each for all pulls.
fn supply_lines(account: &Account, asked: &Asked, system: System, out: &mut Vec<String>) {
    let mut lines = size_lines(account, system);
    lines.extend(flow_line(account, asked, system));
    let row = |what: &str, one: &dyn Fn(&Listed) -> Option<String>| {
        let cells: Vec<Option<String>> = account.pulls.iter().map(one).collect();
        let said: Vec<String> = cells.iter().map(|c| c.clone().unwrap_or_else(|| "-".to_owned())).collect();
        cells.iter().any(Option::is_some).then(|| format!("{what}, pull by pull: {}.", said.join(", ")))
    };
    lines.extend(row("Mean lambda", &|p| p.means?.lambda.map(|l| fixed(l.as_ratio(), 3))));
    let (unit, one, decimals) = match system {
        System::Us => ("lb/hp h", 453.592_37 / 0.745_699_872, 3),
        System::Metric => ("g/kWh", 1.0, 0),
    };
    lines.extend(row(&format!("Fuel for the work, as read ({unit})"), &|p| {
        p.means?.bsfc_g_per_kwh.map(|b| fixed(b / one, decimals))
    }));
    if !lines.is_empty() {
        out.push(String::new());
    }
    for line in lines {
        wrap(&line, 2, out);
    }
}

/// The flow a rated carburetor passes at the top of the pulls.
fn flow_line(account: &Account, asked: &Asked, system: System) -> Option<String> {
    let (rated, at) = asked.rating?;
    let flows = account.pulls.iter().filter_map(|p| flow_at(rated, at, p.pull.top_vacuum?));
    let mut said: Vec<String> = flows.map(|f| f.show(system)).collect();
    said.dedup();
    (!said.is_empty()).then(|| {
        format!("Rated {} at {}, it passes {} there.", rated.show(system), at.show(system), said.join(", "))
    })
}

/// What full-throttle vacuum says of the carburetor: one line for pulls that say the same.
fn size_lines(account: &Account, system: System) -> Vec<String> {
    let mut lines: Vec<(SizeVerdict, Vec<String>)> = Vec::new();
    for p in &account.pulls {
        let (Some(vacuum), Some(verdict)) = (p.pull.top_vacuum, p.pull.size_verdict()) else { continue };
        match lines.iter_mut().find(|l| l.0 == verdict) {
            Some((_, seen)) => seen.push(vacuum.show(system)),
            None => lines.push((verdict, vec![vacuum.show(system)])),
        }
    }
    let said = |(verdict, mut seen): (SizeVerdict, Vec<String>)| {
        seen.dedup();
        format!(
            "Full-throttle vacuum at the top of the pull {}: the carburetor is {}.",
            seen.join(", "),
            verdict.said()
        )
    };
    lines.into_iter().map(said).collect()
}

fn against_lines(against: &Against, asked: &Asked, system: System, out: &mut Vec<String>) {
    let (power, torque) =
        (Scale::shown::<Power>(system, "kw", true), Scale::shown::<Torque>(system, "n_m", true));
    let baseline = &against.band_power.judged.baseline;
    let both = against.band.low == against.whole.low && against.band.high == against.whole.high;
    for (k, effect) in against.band_power.judged.effects.iter().enumerate() {
        out.push(String::new());
        out.push(format!("{} against {baseline}: {}", effect.label, effect.verdict.said()));
        let line = |what: &str, f: &Figure, scale: &Scale, out: &mut Vec<String>| {
            if let Some(e) = f.judged.effects.get(k) {
                wrap(&format!("  {what}: {}", effect_line(&f.judged, e, scale)), 4, out);
            }
        };
        out.push(format!("  {} ({})", range(&against.band), against.band.why));
        line("power", &against.band_power, &power, out);
        line("torque", &against.band_torque, &torque, out);
        if !both {
            out.push(format!("  {} ({})", range(&against.whole), against.whole.why));
            for (what, figure, scale) in
                [("power", &against.whole_power, &power), ("torque", &against.whole_torque, &torque)]
            {
                match figure {
                    Some(figure) => line(what, figure, scale, out),
                    None => out.push(format!("  {what}: not told, for holes in the pulls")),
                }
            }
        }
        curve_lines(against, &effect.label, &torque, out);
    }
    out.push(String::new());
    for line in grounds(&against.band_power.judged, &against.band_power.further, &power) {
        wrap(&line, 2, out);
    }
    wrap(
        &format!(
            "Run on: {} (floor {} %).",
            asked.how.rig.said(),
            fixed(asked.how.rig.floor().as_percent(), 1)
        ),
        2,
        out,
    );
    for u in &against.unsteady {
        wrap(&unsteady(u, system), 2, out);
    }
    for (k, why) in &against.left_out {
        wrap(&format!("Pull {} was left out: {why}.", k + 1), 2, out);
    }
}

fn curve_lines(against: &Against, label: &str, torque: &Scale, out: &mut Vec<String>) {
    out.push(format!("  {:>11}  {:>9}  {:>8}  {}", "rpm", torque.symbol, "effect", "90 % interval"));
    for s in against.curve.iter().filter(|s| s.label == label) {
        out.push(format!(
            "  {:>11}  {:>9}  {:>8}  {} to {}{}",
            format!("{:.0}-{:.0}", s.low_speed.as_rpm(), s.high_speed.as_rpm()),
            torque.bare(s.level),
            torque.signed(s.effect),
            torque.signed(s.low),
            torque.signed(s.high),
            if s.clear { "  clear" } else { "" }
        ));
    }
}

/// Figures given by hand, judged.
pub fn values_text(
    judged: &Judged,
    further: &[Option<usize>],
    scale: &Scale,
    states: Option<&Attributed>,
    system: System,
) -> Vec<String> {
    let mut out = Vec::new();
    for effect in &judged.effects {
        let heading = format!("{} against {}: {}", effect.label, judged.baseline, effect.verdict.said());
        out.push(heading);
        let sense = if scale.up { "" } else { " (less is better)" };
        wrap(&format!("  {}{sense}", effect_line(judged, effect, scale)), 4, &mut out);
    }
    out.push(String::new());
    for line in grounds(judged, further, scale) {
        wrap(&line, 2, &mut out);
    }
    if let Some(found) = states {
        out.push(String::new());
        for line in separated::lines(found, &judged.baseline, scale, system) {
            wrap(&line, 2, &mut out);
        }
    }
    out
}
