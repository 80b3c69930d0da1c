//! Values from outside: how a case is written, and how it is held.

use serde::Deserialize;
use std::collections::BTreeMap;
use std::fmt::Debug;
use std::str::FromStr;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Case {
    pub(crate) id: String,
    pub(crate) what: String,
    /// Which quantity is computed.
    pub(crate) of: String,
    pub(crate) inputs: BTreeMap<String, toml::Value>,
    pub(crate) value: f64,
    /// Absolute.
    pub(crate) tolerance: Option<f64>,
    pub(crate) relative: Option<f64>,
    pub(crate) source: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    case: Vec<Case>,
}

impl Case {
    /// A quantity, with its unit beside it.
    pub(crate) fn q<Q: FromStr<Err: Debug>>(&self, name: &str) -> Q {
        self.maybe(name).unwrap_or_else(|| panic!("{}: no input {name}", self.id))
    }

    /// A quantity that may be left out.
    pub(crate) fn maybe<Q: FromStr<Err: Debug>>(&self, name: &str) -> Option<Q> {
        let text =
            self.inputs.get(name)?.as_str().unwrap_or_else(|| panic!("{}: {name} is no text", self.id));
        Some(text.parse().unwrap_or_else(|e| panic!("{}: {name}: {e:?}", self.id)))
    }

    /// A number without unit.
    pub(crate) fn n(&self, name: &str) -> f64 {
        let value = &self.inputs[name];
        value
            .as_float()
            .or_else(|| value.as_integer().map(|i| i as f64))
            .unwrap_or_else(|| panic!("{}: {name}", self.id))
    }

    fn allowed(&self) -> f64 {
        self.tolerance.unwrap_or(0.0).max(self.relative.unwrap_or(0.0) * self.value.abs())
    }
}

/// Runs every case of a file and says all that fail; a case nothing computes is a failure too.
pub(crate) fn hold(text: &str, at_least: usize, compute: impl Fn(&Case) -> Option<f64>) {
    let file: File = toml::from_str(text).unwrap_or_else(|e| panic!("{e}"));
    assert!(file.case.len() >= at_least, "{} cases, {at_least} were there once", file.case.len());
    let mut failures = Vec::new();
    for case in &file.case {
        assert!(case.tolerance.is_some() != case.relative.is_some(), "{}: one tolerance", case.id);
        match compute(case) {
            None => failures.push(format!("{}: nothing computes {}", case.id, case.of)),
            Some(x) if (x - case.value).abs() <= case.allowed() => {}
            Some(x) => failures.push(format!(
                "{} ({}): {x} is not {} within {} ({})",
                case.id,
                case.what,
                case.value,
                case.allowed(),
                case.source
            )),
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
