//! Findings in words and as data.

use super::words::{line, wrapped};
use crate::analysis::findings::Finding;
use serde_json::{Value, json};

/// The findings as a JSON array.
pub fn findings_json(all: &[Finding]) -> Value {
    let one = |f: &Finding| {
        let evidence: Vec<Value> = f
            .evidence
            .iter()
            .map(|e| json!({"at_s": e.at.map(|t| (t.as_s() * 1e3).round() / 1e3), "what": e.what}))
            .collect();
        json!({
            "name": f.name, "layer": f.layer, "what": f.what, "evidence": evidence,
            "causes": f.causes, "check": f.check, "not_yet": f.not_yet,
        })
    };
    all.iter().map(one).collect()
}

/// The findings as text; nothing when there are none.
pub fn findings_text(all: &[Finding]) -> String {
    let mut out = String::new();
    for f in all {
        line(&mut out, "");
        wrapped(&mut out, &f.what, "");
        let seen: Vec<String> = f
            .evidence
            .iter()
            .take(3)
            .map(|e| e.at.map_or_else(|| e.what.clone(), |t| format!("at {:.1} s, {}", t.as_s(), e.what)))
            .collect();
        let more = f.evidence.len().saturating_sub(3);
        let more = if more > 0 { format!("; and {more} more") } else { String::new() };
        wrapped(&mut out, &format!("  Seen: {}{more}.", seen.join("; ")), "    ");
        wrapped(&mut out, &format!("  Likely, in this order: {}.", f.causes.join("; ")), "    ");
        wrapped(&mut out, &format!("  Check: {}", f.check), "    ");
        wrapped(&mut out, &format!("  Not yet: {}", f.not_yet), "    ");
    }
    out
}
