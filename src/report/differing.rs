//! What differs between two states of an engine, parts and everything else that was set, in words and as data.

use crate::analysis::verdict::{Setting, SettingDifference, Settings, differences};
use crate::procedure::PartChange;
use crate::setup::{Carburetor, PartPath, PartSize};
use crate::units::System;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What differs, from one state to another.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Differing {
    /// Parts of the carburetor.
    pub parts: Vec<PartChange>,
    /// Everything else that is named.
    pub named: Vec<SettingDifference>,
}

impl Differing {
    /// From one carburetor and what was set beside it to another.
    pub fn between(from: (&Carburetor, &Settings), to: (&Carburetor, &Settings)) -> Differing {
        let said = |settings: &Settings| -> BTreeMap<String, Setting> {
            settings.iter().map(|(name, to)| (name.clone(), Setting::Said(to.clone()))).collect()
        };
        let moved = to.0.parts().into_iter().filter_map(|(part, now)| {
            let was = from.0.size(part)?;
            // A size that went through text and back may have lost its last digit: that is no difference.
            let same = differences(&one(was), &one(now)).is_empty();
            (!same).then_some(PartChange { part, from: was, to: now })
        });
        Differing { parts: moved.collect(), named: differences(&said(from.1), &said(to.1)) }
    }

    /// Nothing differs.
    pub fn is_empty(&self) -> bool {
        self.parts.is_empty() && self.named.is_empty()
    }

    /// The other way round.
    #[must_use]
    pub fn back(&self) -> Differing {
        let part = |c: &PartChange| PartChange { part: c.part, from: c.to, to: c.from };
        let named = |d: &SettingDifference| SettingDifference {
            name: d.name.clone(),
            from: d.to.clone(),
            to: d.from.clone(),
        };
        Differing {
            parts: self.parts.iter().map(part).collect(),
            named: self.named.iter().map(named).collect(),
        }
    }

    /// Each as a name, what it was and what it is.
    pub fn rows(&self, system: System) -> Vec<(String, String, String)> {
        let parts = self.parts.iter().map(|c| (c.part.said(), c.from.show(system), c.to.show(system)));
        let named = self.named.iter().map(|d| (d.name.clone(), said(d.from.as_ref()), said(d.to.as_ref())));
        parts.chain(named).collect()
    }

    /// "primary main jet 0.060 in -> 0.058 in; timing 8 deg -> 12 deg".
    pub fn list(&self, system: System) -> String {
        let one = |(name, from, to): (String, String, String)| format!("{name} {from} -> {to}");
        self.rows(system).into_iter().map(one).collect::<Vec<_>>().join("; ")
    }

    /// The same where one thing was changed again and again: "timing 8 deg -> 12 deg -> 8 deg".
    pub fn chains(&self, system: System) -> String {
        let mut chains: Vec<(String, String)> = Vec::new();
        for (name, from, to) in self.rows(system) {
            match chains.iter_mut().find(|(known, _)| *known == name) {
                Some((_, chain)) => {
                    chain.push_str(" -> ");
                    chain.push_str(&to);
                }
                None => chains.push((name, format!("{from} -> {to}"))),
            }
        }
        chains.into_iter().map(|(name, chain)| format!("{name} {chain}")).collect::<Vec<_>>().join("; ")
    }

    /// What to do to get there: "primary main jet to 0.058 in; timing to 8 deg". Of what nobody wrote down then, what was
    /// first said of it stands in.
    pub fn to_do(&self, system: System, first_said: &Settings) -> String {
        let parts = self.parts.iter().map(|c| format!("{} to {}", c.part.said(), c.to.show(system)));
        let unsaid = |d: &SettingDifference| {
            let first = first_said.get(&d.name);
            let first = first.map(|to| format!(" ({to} when it was first said)")).unwrap_or_default();
            format!("{} to what it was then, which nobody wrote down{first}", d.name)
        };
        let named = self.named.iter().map(|d| {
            d.to.as_ref().map_or_else(|| unsaid(d), |to| format!("{} to {}", d.name, to.show(system)))
        });
        parts.chain(named).collect::<Vec<_>>().join("; ")
    }

    /// As data, parts first.
    pub fn json(&self) -> Vec<Value> {
        self.parts.iter().map(part_json).chain(self.named.iter().map(named_json)).collect()
    }
}

fn one(size: PartSize) -> BTreeMap<String, Setting> {
    BTreeMap::from([(String::new(), Setting::Part(size))])
}

fn said(setting: Option<&Setting>) -> String {
    setting.map_or_else(|| "not said".to_owned(), |s| s.show(System::Us))
}

/// A thing by its name in a sentence: a part as it is called, anything else as it was named.
pub fn thing(name: &str) -> String {
    name.parse::<PartPath>().map_or_else(|_| name.to_owned(), PartPath::said)
}

/// A changed part, as data.
fn part_json(c: &PartChange) -> Value {
    let inches = |s: PartSize| s.bore().map(|d| (d.as_inches() * 1e5).round() / 1e5);
    json!({
        "name": c.part.to_string(),
        "part": c.part.to_string(),
        "from": c.from.show(System::Us),
        "to": c.to.show(System::Us),
        "from_in": inches(c.from),
        "to_in": inches(c.to),
    })
}

/// Anything else that was set, as data; it is no part.
fn named_json(d: &SettingDifference) -> Value {
    json!({
        "name": d.name,
        "part": null,
        "from": d.from.as_ref().map(|s| s.show(System::Us)),
        "to": d.to.as_ref().map(|s| s.show(System::Us)),
        "from_in": null,
        "to_in": null,
    })
}
