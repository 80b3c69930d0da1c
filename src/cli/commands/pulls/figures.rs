//! Figures read off elsewhere, judged like pulls.

use super::{Args, given};
use crate::analysis::verdict::{Observation, further_pulls, judge};
use crate::cli::{Console, Exit, Fault};
use crate::report;
use crate::report::pulls::Scale;
use crate::units::show::Shown;
use crate::units::{MassFlow, Power, Quantity, TimeSpan, Torque, Velocity, VolumeFlow};

/// A figure and the kind of quantity it is.
struct Kind {
    name: &'static str,
    read: fn(&str) -> Option<f64>,
    scale: fn(crate::units::System) -> Scale,
}

fn read<Q: Quantity>(text: &str) -> Option<f64> {
    crate::units::parse::parse::<Q>(text).ok().map(Quantity::si)
}

fn scale<Q: Shown>(system: crate::units::System, suffix: &'static str, up: bool) -> Scale {
    Scale::shown::<Q>(system, suffix, up)
}

/// More is better of a power, a torque, a trap speed; less of a time or a fuel flow.
const KINDS: [Kind; 6] = [
    Kind { name: "a power", read: read::<Power>, scale: |s| scale::<Power>(s, suffix(s, "hp", "kw"), true) },
    Kind {
        name: "a torque",
        read: read::<Torque>,
        scale: |s| scale::<Torque>(s, suffix(s, "lbf_ft", "n_m"), true),
    },
    Kind {
        name: "a time",
        read: read::<TimeSpan>,
        scale: |s| Scale { decimals: 2, ..scale::<TimeSpan>(s, "s", false) },
    },
    Kind {
        name: "a speed",
        read: read::<Velocity>,
        scale: |s| scale::<Velocity>(s, suffix(s, "mph", "km_h"), true),
    },
    Kind {
        name: "a mass flow",
        read: read::<MassFlow>,
        scale: |s| Scale { decimals: 2, ..scale::<MassFlow>(s, suffix(s, "lb_per_h", "g_per_s"), false) },
    },
    Kind {
        name: "a volume flow",
        read: read::<VolumeFlow>,
        scale: |_| Scale { symbol: "L/min", suffix: "l_per_min", one: 1e-3 / 60.0, decimals: 3, up: false },
    },
];

fn suffix(system: crate::units::System, us: &'static str, metric: &'static str) -> &'static str {
    match system {
        crate::units::System::Us => us,
        crate::units::System::Metric => metric,
    }
}

/// Judges the figures of `--value`.
pub(super) fn run(args: &Args, asked: &super::Asked, console: &mut Console) -> Result<Exit, Fault> {
    let pairs = args.values.iter().map(|t| split(t)).collect::<Result<Vec<_>, _>>()?;
    given::check_labels(&asked.states, pairs.iter().map(|p| p.0))?;
    let all = |kind: &&Kind| pairs.iter().all(|p| (kind.read)(p.1).is_some());
    let Some(kind) = KINDS.iter().find(all) else { return Err(refusal(&pairs)) };
    let one = |(k, (label, text)): (usize, &(&str, &str))| {
        Some(Observation { label: (*label).to_owned(), value: (kind.read)(text)?, at: k as f64 })
    };
    let series: Vec<Observation> = pairs.iter().enumerate().filter_map(one).collect();
    let shown = (kind.scale)(console.system);
    // A figure given by hand has the decimals it was given with; an effect needs one more.
    let scale = Scale { decimals: shown.decimals + 1, ..shown };
    let judged = judge(&series, asked.how.rig.floor(), scale.up).map_err(|e| Fault::input(e.to_string()))?;
    let further: Vec<Option<usize>> =
        judged.effects.iter().map(|e| further_pulls(&series, &judged, &e.label)).collect();
    let states = (!asked.states.is_empty()).then(|| separated(&series, asked));
    if console.json {
        console.answer_json(&report::pulls::values_json(
            &judged,
            &further,
            &scale,
            states.as_ref(),
            console.system,
        ))?;
    } else {
        for line in report::pulls::values_text(&judged, &further, &scale, states.as_ref(), console.system) {
            console.say(&line)?;
        }
    }
    Ok(Exit::Done)
}

fn separated(series: &[Observation], asked: &super::Asked) -> crate::analysis::pulls::Attributed {
    use crate::analysis::factorial::Run;
    let run =
        |o: &Observation| Some(Run { state: asked.states.get(&o.label)?.clone(), value: o.value, at: o.at });
    let runs: Vec<Run> = series.iter().filter_map(run).collect();
    let mut labels: Vec<String> = Vec::new();
    for o in series {
        if !labels.contains(&o.label) {
            labels.push(o.label.clone());
        }
    }
    crate::analysis::pulls::attributed(&runs, &labels, asked)
}

fn split(text: &str) -> Result<(&str, &str), Fault> {
    let refuse = || {
        Fault::input(format!("--value \"{text}\": expected a label and a figure with its unit"))
            .hint("such as --value \"A=212.4 hp\"")
    };
    text.split_once('=')
        .map(|(l, v)| (l.trim(), v.trim()))
        .filter(|(l, v)| !l.is_empty() && !v.is_empty())
        .ok_or_else(refuse)
}

/// Names the first figure that cannot be read, or says that kinds were mixed.
fn refusal(pairs: &[(&str, &str)]) -> Fault {
    for (label, text) in pairs {
        if KINDS.iter().all(|k| (k.read)(text).is_none()) {
            let names: Vec<&str> = KINDS.iter().map(|k| k.name).collect();
            return Fault::input(format!("--value \"{label}={text}\" is none of {}", names.join(", "))).hint(
                "write the number with its unit: 212.4 hp, 300 N m, 14.52 s, 96.1 mph, 35 lb/h, 0.39 L/min",
            );
        }
    }
    Fault::input("the figures are not all of one kind; compare powers with powers, times with times")
}
