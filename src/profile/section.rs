//! Reads a table key by key into typed values: what is missing, of the wrong kind, out of bounds or unknown
//! becomes a fault, and reading goes on.

use super::fault::{Faults, Place};
use super::safe::nearest;
use super::tree::{Node, Table, Value};
use crate::units::{Quantity, QuantityError, parse};
use std::cell::RefCell;
use std::str::FromStr;

/// The lowest and highest a value can be, and why.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bounds<T> {
    pub(super) low: T,
    pub(super) high: T,
    pub(super) why: &'static str,
}

/// Shorthand for bounds.
pub(super) const fn within<T>(low: T, high: T, why: &'static str) -> Bounds<T> {
    Bounds { low, high, why }
}

/// A table being read.
pub(super) struct Section<'t> {
    table: &'t Table,
    at: Place,
    path: String,
    faults: &'t Faults,
    asked: RefCell<Vec<&'static str>>,
}

impl<'t> Section<'t> {
    /// Starts on a table; `at` is where it is headed, for what is missing from it.
    pub(super) fn new(table: &'t Table, at: Place, path: &str, faults: &'t Faults) -> Self {
        Self { table, at, path: path.to_owned(), faults, asked: RefCell::default() }
    }

    fn path_of(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }

    /// The value of a key, which from here on is a known one.
    pub(super) fn get(&self, key: &'static str) -> Option<&'t Node> {
        self.asked.borrow_mut().push(key);
        self.table.entry(key).map(|e| &e.node)
    }

    /// Whether the key is there.
    pub(super) fn has(&self, key: &str) -> bool {
        self.table.entry(key).is_some()
    }

    /// A fault at a key of this table, or at its head when the key is not there.
    pub(super) fn fault(&self, key: &str, what: &str, hint: &str) {
        let place = self.table.entry(key).map_or(&self.at, |e| &e.node.place);
        self.faults.at(place, &self.path_of(key), what, hint);
    }

    /// A fault at a value somewhere under a key of this table.
    pub(super) fn fault_at(&self, node: &Node, key: &str, what: &str, hint: &str) {
        self.faults.at(&node.place, &self.path_of(key), what, hint);
    }

    fn missing(&self, key: &str, example: &str) {
        let whole = self.path_of(key);
        self.faults.at(&self.at, &whole, &format!("{whole} is missing"), &format!("write {key} = {example}"));
    }

    fn wrong_kind(&self, node: &Node, key: &str, example: &str) {
        let what = format!("{} cannot be {}", self.path_of(key), node.value.kind());
        self.fault_at(node, key, &what, &format!("write {key} = {example}"));
    }

    /// A quantity that must be there.
    pub(super) fn quantity<Q>(&self, key: &'static str, example: &str, bounds: &Bounds<Q>) -> Option<Q>
    where
        Q: Quantity + FromStr<Err = QuantityError>,
    {
        let Some(node) = self.get(key) else {
            self.missing(key, &format!("\"{example}\""));
            return None;
        };
        self.quantity_of(node, key, example, bounds)
    }

    /// A quantity that may be left out.
    pub(super) fn maybe_quantity<Q>(&self, key: &'static str, example: &str, bounds: &Bounds<Q>) -> Option<Q>
    where
        Q: Quantity + FromStr<Err = QuantityError>,
    {
        self.quantity_of(self.get(key)?, key, example, bounds)
    }

    /// A value read as a quantity within bounds. Turns may be bare: they have one unit, and everyone writes them so.
    pub(super) fn quantity_of<Q>(
        &self,
        node: &Node,
        key: &str,
        example: &str,
        bounds: &Bounds<Q>,
    ) -> Option<Q>
    where
        Q: Quantity + FromStr<Err = QuantityError>,
    {
        let turns = Q::UNITS[0].symbol == "turns";
        let read = match &node.value {
            Value::Text(text) if turns => parse::parse_or_in(text, "turns"),
            Value::Text(text) => text.parse(),
            Value::Whole(Some(n)) if turns => parse::parse_or_in(&n.to_string(), "turns"),
            Value::Number(Some(x)) if turns => parse::parse_or_in(&x.to_string(), "turns"),
            Value::Whole(Some(_)) | Value::Number(Some(_)) => {
                let what = format!(
                    "{} has no unit; {} is written in {}",
                    self.path_of(key),
                    Q::NAME,
                    parse::unit_list::<Q>()
                );
                self.fault_at(node, key, &what, &format!("write {key} = \"{example}\""));
                return None;
            }
            Value::Whole(None) | Value::Number(None) => {
                self.not_finite(node, key);
                return None;
            }
            _ => {
                self.wrong_kind(node, key, &format!("\"{example}\""));
                return None;
            }
        };
        match read {
            Ok(q) => self.bounded(node, key, q, bounds),
            Err(error) => {
                let what = format!("{}: {error}", self.path_of(key));
                self.fault_at(node, key, &what, &format!("write {key} = \"{example}\""));
                None
            }
        }
    }

    fn not_finite(&self, node: &Node, key: &str) {
        let what =
            format!("{} is not a finite number, or has more digits than can be held", self.path_of(key));
        self.fault_at(node, key, &what, "write a plain number");
    }

    fn bounded<Q: Quantity>(&self, node: &Node, key: &str, q: Q, bounds: &Bounds<Q>) -> Option<Q> {
        // The borders are written in other units than the file's: a breath of slack for the conversion.
        let slack = 1e-9 * (bounds.high.si() - bounds.low.si()).abs();
        if q.si() >= bounds.low.si() - slack && q.si() <= bounds.high.si() + slack {
            return Some(q);
        }
        let what = format!(
            "{} is {}; it can be from {} to {}: {}",
            self.path_of(key),
            parse::to_text(q),
            parse::to_text(bounds.low),
            parse::to_text(bounds.high),
            bounds.why
        );
        self.fault_at(node, key, &what, "mend the number or its unit");
        None
    }

    /// A plain number that may be left out.
    pub(super) fn maybe_number(&self, key: &'static str, example: &str, bounds: &Bounds<f64>) -> Option<f64> {
        let node = self.get(key)?;
        let value = match &node.value {
            Value::Whole(Some(n)) => *n as f64,
            Value::Number(Some(x)) => *x,
            Value::Whole(None) | Value::Number(None) => {
                self.not_finite(node, key);
                return None;
            }
            _ => {
                self.wrong_kind(node, key, example);
                return None;
            }
        };
        if (bounds.low..=bounds.high).contains(&value) {
            return Some(value);
        }
        let what = format!(
            "{} is {value}; it can be from {} to {}: {}",
            self.path_of(key),
            bounds.low,
            bounds.high,
            bounds.why
        );
        self.fault_at(node, key, &what, "mend the number");
        None
    }

    /// A count that must be there.
    pub(super) fn count(&self, key: &'static str, example: &str, bounds: &Bounds<u8>) -> Option<u8> {
        let Some(node) = self.get(key) else {
            self.missing(key, example);
            return None;
        };
        let value = match &node.value {
            Value::Whole(Some(n)) => *n,
            Value::Whole(None) => i64::MAX,
            _ => {
                self.wrong_kind(node, key, example);
                return None;
            }
        };
        match u8::try_from(value) {
            Ok(n) if (bounds.low..=bounds.high).contains(&n) => Some(n),
            _ => {
                let what = format!(
                    "{} can be from {} to {}: {}",
                    self.path_of(key),
                    bounds.low,
                    bounds.high,
                    bounds.why
                );
                self.fault_at(node, key, &what, "mend the number");
                None
            }
        }
    }

    /// Yes or no; `usual` when left out.
    pub(super) fn flag(&self, key: &'static str, usual: bool) -> Option<bool> {
        match self.get(key).map(|n| (n, &n.value)) {
            None => Some(usual),
            Some((_, Value::Flag(flag))) => Some(*flag),
            Some((node, _)) => {
                self.wrong_kind(node, key, "true (or false)");
                None
            }
        }
    }

    /// A name for people: something to read, not too long, nothing unprintable.
    pub(super) fn name(&self, key: &'static str, example: &str) -> Option<String> {
        let Some(node) = self.get(key) else {
            self.missing(key, &format!("\"{example}\""));
            return None;
        };
        let Value::Text(text) = &node.value else {
            self.wrong_kind(node, key, &format!("\"{example}\""));
            return None;
        };
        let length = text.trim().chars().count();
        if length == 0 || length > 80 || super::safe::safe(text, 80) != *text {
            let what = format!("{} must be 1 to 80 printable characters", self.path_of(key));
            self.fault_at(node, key, &what, &format!("write {key} = \"{example}\""));
            return None;
        }
        Some(text.trim().to_owned())
    }

    /// One of a few words; `usual` when left out, missing when there is no usual one.
    pub(super) fn choice<T: Copy>(
        &self,
        key: &'static str,
        words: &[(&str, T)],
        usual: Option<T>,
    ) -> Option<T> {
        let all = words.iter().map(|(w, _)| format!("\"{w}\"")).collect::<Vec<_>>().join(", ");
        let Some(node) = self.get(key) else {
            if usual.is_none() {
                self.missing(key, &format!("one of {all}"));
            }
            return usual;
        };
        let Value::Text(text) = &node.value else {
            self.wrong_kind(node, key, &format!("one of {all}"));
            return None;
        };
        let found = words.iter().find(|(w, _)| w == text).map(|(_, t)| *t);
        if found.is_none() {
            let meant = nearest(text, words.iter().map(|(w, _)| *w))
                .map_or(String::new(), |w| format!("; did you mean \"{w}\"?"));
            let what = format!("{} cannot be \"{}\"{meant}", self.path_of(key), super::safe::safe(text, 40));
            self.fault_at(node, key, &what, &format!("it is one of {all}"));
        }
        found
    }

    /// A table under a key, when there is one.
    pub(super) fn section(&self, key: &'static str) -> Option<Section<'t>> {
        let node = self.get(key)?;
        let at = self.table.entry(key).map_or(&node.place, |e| &e.key_place).clone();
        match &node.value {
            Value::Table(table) => Some(Section::new(table, at, &self.path_of(key), self.faults)),
            Value::Lost => None,
            _ => {
                self.wrong_kind(node, key, &format!("... as a table headed [{}]", self.path_of(key)));
                None
            }
        }
    }

    /// A table that must be there.
    pub(super) fn needed_section(&self, key: &'static str) -> Option<Section<'t>> {
        if !self.has(key) {
            self.get(key);
            let whole = self.path_of(key);
            self.faults.at(
                &self.at,
                &whole,
                &format!("the table [{whole}] is missing"),
                &format!("add [{whole}] and its keys"),
            );
            return None;
        }
        self.section(key)
    }

    /// The tables of a list of tables that must be there.
    pub(super) fn needed_sections(&self, key: &'static str) -> Vec<Section<'t>> {
        let whole = self.path_of(key);
        let hint = format!("write [[{whole}]] before each, with its keys under it");
        let Some(node) = self.get(key) else {
            self.faults.at(&self.at, &whole, &format!("[[{whole}]] is missing"), &hint);
            return Vec::new();
        };
        let Value::List(list) = &node.value else {
            self.fault_at(node, key, &format!("{whole} is a list of tables"), &hint);
            return Vec::new();
        };
        let mut out = Vec::new();
        for item in list {
            match &item.value {
                Value::Table(table) => out.push(Section::new(table, item.place.clone(), &whole, self.faults)),
                _ => self.fault_at(item, key, &format!("{whole} is a list of tables"), &hint),
            }
        }
        out
    }

    /// Ends the table: every key that was never asked for is unknown.
    pub(super) fn end(self) {
        let asked = self.asked.borrow();
        for entry in self.table.entries.iter().filter(|e| !asked.contains(&e.key.as_str())) {
            let whole = self.path_of(&super::safe::safe(&entry.key, 40));
            let meant = nearest(&entry.key, asked.iter().copied());
            let hint = match meant {
                Some(key) => format!("did you mean {key}?"),
                None => format!("the keys here are {}", asked.join(", ")),
            };
            self.faults.at(&entry.key_place, &whole, &format!("{whole} is not a key of this table"), &hint);
        }
    }
}
