//! Advice as one JSON object; field names end in their unit.

use super::types::{Advice, Change, PlanStep, RegimeVerdict};
use crate::setup::PartSize;
use crate::units::{Lambda, System};
use serde_json::{Map, Value, json};

fn rounded(value: f64) -> Value {
    json!((value * 1e4).round() / 1e4)
}

fn lambda(l: Option<Lambda>) -> Value {
    l.map_or(Value::Null, |l| rounded(l.as_ratio()))
}

/// A size under `NAME` as text and `NAME_in`, `NAME_inhg` or `NAME_turns` as a number.
fn size(into: &mut Map<String, Value>, name: &str, size: PartSize, system: System) {
    let (key, value) = match size {
        PartSize::Bore(d) => ("in", d.as_inches()),
        PartSize::Opening(v) => ("inhg", v.as_inhg()),
        PartSize::Turns(t) => ("turns", t.as_turns()),
    };
    into.insert(name.to_owned(), json!(size.show(system)));
    into.insert(format!("{name}_{key}"), rounded(value));
}

fn regime(r: &RegimeVerdict) -> Value {
    json!({
        "regime": r.regime,
        "lambda_median": lambda(r.lambda_median),
        "lambda_uncertainty": lambda(r.uncertainty),
        "target_low": lambda(r.target_low),
        "target_high": lambda(r.target_high),
        "seconds": rounded(r.seconds.as_s()),
        "verdict": r.verdict,
        "needs_seconds": rounded(r.needs.as_s()),
        "says": r.says,
    })
}

fn change(c: &Change, system: System) -> Value {
    let mut of = Map::new();
    of.insert("part".to_owned(), json!(c.part));
    size(&mut of, "from", c.from, system);
    size(&mut of, "to", c.to, system);
    let expect = c.expect.iter().map(|e| {
        json!({
            "regime": e.regime,
            "lambda": lambda(Some(e.lambda)), "low": lambda(Some(e.low)), "high": lambda(Some(e.high)),
        })
    });
    of.insert("expect".to_owned(), expect.collect());
    of.insert("why".to_owned(), json!(c.why));
    of.insert("how_sure".to_owned(), json!(c.how_sure));
    of.insert("proves_wrong".to_owned(), json!(c.proves_wrong));
    Value::Object(of)
}

fn step(s: &PlanStep, system: System) -> Value {
    let mut of = Map::new();
    of.insert("part".to_owned(), json!(s.part));
    size(&mut of, "from", s.from, system);
    size(&mut of, "to", s.to, system);
    of.insert("why".to_owned(), json!(s.why));
    Value::Object(of)
}

impl Advice {
    /// As one JSON object, sizes also as text in the units a person wants.
    pub fn to_json(&self, system: System) -> Value {
        json!({
            "outcome": self.outcome,
            "regimes": self.regimes.iter().map(regime).collect::<Value>(),
            "mend_first": self.mend_first.iter()
                .map(|m| json!({ "what": m.what, "why": m.why, "check": m.check })).collect::<Value>(),
            "changes": self.changes.iter().map(|c| change(c, system)).collect::<Value>(),
            "plan": self.plan.iter().map(|s| step(s, system)).collect::<Value>(),
            "withheld": self.withheld.iter()
                .map(|w| json!({ "what": w.said(system), "reason": w.reason })).collect::<Value>(),
            "learned": self.learned,
            "notes": self.notes,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::{PartPath, SetName};
    use crate::units::{Length, Vacuum};

    fn keys(size_of: PartSize) -> Vec<String> {
        let change = Change {
            part: PartPath::MainJet(SetName::Primary),
            from: size_of,
            to: size_of,
            expect: Vec::new(),
            why: String::new(),
            how_sure: String::new(),
            proves_wrong: String::new(),
        };
        change_keys(&super::change(&change, System::Us))
    }

    fn change_keys(value: &Value) -> Vec<String> {
        value.as_object().unwrap().keys().cloned().collect()
    }

    #[test]
    fn a_size_carries_its_unit_in_its_name() {
        let bore = keys(PartSize::Bore(Length::from_inches(0.06)));
        assert!(bore.contains(&"from_in".to_owned()) && bore.contains(&"to_in".to_owned()), "{bore:?}");
        let opening = keys(PartSize::Opening(Vacuum::from_inhg(6.5)));
        assert!(opening.contains(&"to_inhg".to_owned()) && !opening.contains(&"to_in".to_owned()));
    }
}
