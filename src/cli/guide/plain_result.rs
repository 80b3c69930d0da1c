//! What `balance` comes to, in words.

use crate::units::show::{Shown, fixed};
use crate::units::{System, Vacuum};
use serde_json::Value;

/// Paragraphs in the units asked for, each with how far it is set in.
pub(super) fn said(result: &Value, system: System) -> Vec<(String, usize)> {
    let list = |key: &str| -> Vec<String> {
        let items = result[key].as_array().cloned().unwrap_or_default();
        items.iter().map(|v| v.as_str().map_or_else(|| v.to_string(), str::to_owned)).collect()
    };
    let vacuum = Vacuum::from_inhg(result["vacuum_inhg"].as_f64().unwrap_or_default());
    let mut said = vec![(
        format!(
            "Turns out: {}. Vacuum {} {}, after {} turns and {} readings.",
            list("turns_out").join(", "),
            fixed(vacuum.number(system), 2),
            Vacuum::unit_symbol(system),
            result["moves"],
            result["readings"]
        ),
        0,
    )];
    said.extend(list("remarks").into_iter().map(|remark| (remark, 0)));
    for screw in result["causes"].as_array().into_iter().flatten() {
        said.push((format!("Screw {} does nothing. Likely, in this order:", screw["screw"]), 0));
        for likely in screw["likely"].as_array().into_iter().flatten() {
            let text = |key: &str| likely[key].as_str().unwrap_or_default();
            said.push((format!("{}: {}", text("cause"), text("test")), 2));
        }
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_vacuum_is_in_the_units_asked_for() {
        let result =
            serde_json::json!({ "turns_out": [1.5, 1.375], "vacuum_inhg": 17.9, "moves": 7, "readings": 8 });
        let first = |system| said(&result, system)[0].0.clone();
        let after = "after 7 turns and 8 readings.";
        assert_eq!(first(System::Us), format!("Turns out: 1.5, 1.375. Vacuum 17.90 inHg, {after}"));
        assert_eq!(first(System::Metric), format!("Turns out: 1.5, 1.375. Vacuum 60.62 kPa, {after}"));
    }
}
