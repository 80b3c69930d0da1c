//! What `balance` comes to, in words.

use serde_json::Value;

/// Paragraphs, each with how far it is set in.
pub(super) fn said(result: &Value) -> Vec<(String, usize)> {
    let list = |key: &str| -> Vec<String> {
        let items = result[key].as_array().cloned().unwrap_or_default();
        items.iter().map(|v| v.as_str().map_or_else(|| v.to_string(), str::to_owned)).collect()
    };
    let mut said = vec![(
        format!(
            "Turns out: {}. Vacuum {} inHg, after {} turns and {} readings.",
            list("turns_out").join(", "),
            result["vacuum_inhg"],
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
