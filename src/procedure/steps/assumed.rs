//! What nobody read: the value shown was kept. It is reckoned with, and said to be assumed wherever it is shown.

use crate::procedure::plan::Step;
use crate::procedure::state::State;
use crate::units::show::{Shown, turns_as_fraction};
use crate::units::{Fraction, Pressure, Temperature, Turns, Vacuum};

/// The questions about today's air, and what they ask for.
const AIR: [(&str, &str); 3] =
    [("barometer", "barometer"), ("air-temperature", "air temperature"), ("humidity", "humidity")];

/// What was only assumed, as open items.
pub(super) fn open_items(state: &State) -> Vec<String> {
    let item = |step: Step, what: String| format!("{}: {what}", step.said());
    let mut items: Vec<String> = air(state).map(|what| item(Step::Setup, what)).into_iter().collect();
    for (name, given) in state.given.iter().filter(|(_, given)| given.assumed) {
        let system = state.system;
        let what = match name.split('.').next().unwrap_or_default() {
            "coolant" => state
                .value::<Temperature>(name)
                .map(|t| format!("coolant not read; {} assumed", t.show(system))),
            "enrichment" => state
                .value::<Vacuum>(name)
                .map(|v| format!("lowest cruise vacuum not read; {} assumed", v.show(system))),
            "turns-out" => state.value::<Turns>(name).zip(name.split('.').nth(1)).map(|(t, n)| {
                format!("mixture screw {n} not counted; {} turns out assumed", turns_as_fraction(t))
            }),
            _ => None,
        };
        items.extend(what.map(|what| item(given.step, what)));
    }
    items
}

/// Which figures of the air were not read, and what stood in for them.
fn air(state: &State) -> Option<String> {
    let missing: Vec<(&str, String)> = AIR
        .iter()
        .filter(|(name, _)| state.assumed(name))
        .filter_map(|(name, said)| Some((*said, figure(state, name)?)))
        .collect();
    if missing.is_empty() {
        return None;
    }
    let names: Vec<&str> = missing.iter().map(|(said, _)| *said).collect();
    let figures: Vec<&str> = missing.iter().map(|(_, figure)| figure.as_str()).collect();
    let whose = if state.job.setup.weather.is_some() { "the setup's air" } else { "standard air" };
    Some(format!("{} not read; {whose} assumed ({})", names.join(", "), figures.join(", ")))
}

fn figure(state: &State, name: &str) -> Option<String> {
    let system = state.system;
    match name {
        "barometer" => state.value::<Pressure>(name).map(|p| p.show(system)),
        "air-temperature" => state.value::<Temperature>(name).map(|t| t.show(system)),
        _ => state.value::<Fraction>(name).map(|h| h.show(system)),
    }
}
