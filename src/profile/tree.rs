//! A TOML text as a tree whose every value knows its place, and the laying of one tree over another.

use super::fault::{Faults, Place};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The largest file read: sixteen megabytes of keys would take half a gigabyte to hold.
pub(super) const LARGEST: usize = 1024 * 1024;

/// A value and where it stands.
#[derive(Debug, Clone)]
pub(super) struct Node {
    pub(super) value: Value,
    pub(super) place: Place,
}

/// What a value is.
#[derive(Debug, Clone)]
pub(super) enum Value {
    Text(String),
    /// `None`: more digits than 64 bits hold.
    Whole(Option<i64>),
    /// `None`: larger than any number.
    Number(Option<f64>),
    Flag(bool),
    Date,
    List(Vec<Node>),
    Table(Table),
    /// Something whose fault is told already: nothing under it need be missed.
    Lost,
}

impl Value {
    /// What it is called.
    pub(super) fn kind(&self) -> &'static str {
        match self {
            Value::Text(_) => "a text",
            Value::Whole(_) => "a whole number",
            Value::Number(_) => "a number",
            Value::Flag(_) => "true or false",
            Value::Date => "a date",
            Value::List(_) => "a list",
            Value::Table(_) => "a table",
            Value::Lost => "unreadable",
        }
    }
}

/// Keys in the order they were written.
#[derive(Debug, Clone, Default)]
pub(super) struct Table {
    pub(super) entries: Vec<Entry>,
}

/// A key with its value.
#[derive(Debug, Clone)]
pub(super) struct Entry {
    pub(super) key: String,
    pub(super) key_place: Place,
    pub(super) node: Node,
}

impl Table {
    /// The entry of a key.
    pub(super) fn entry(&self, key: &str) -> Option<&Entry> {
        self.entries.iter().find(|e| e.key == key)
    }

    /// The text of a key, when it is one.
    pub(super) fn text(&self, key: &str) -> Option<&str> {
        match &self.entry(key)?.node.value {
            Value::Text(text) => Some(text),
            _ => None,
        }
    }

    /// This table with `over` laid on it: a key in both is the upper one's; tables are laid key by key; the
    /// `main` circuits are laid set by set.
    pub(super) fn under(mut self, over: &Table) -> Table {
        for upper in &over.entries {
            let Some(lower) = self.entries.iter_mut().find(|e| e.key == upper.key) else {
                self.entries.push(upper.clone());
                continue;
            };
            lower.key_place = upper.key_place.clone();
            lower.node = match (&lower.node.value, &upper.node.value) {
                (Value::Table(low), Value::Table(up)) => {
                    Node { value: Value::Table(low.clone().under(up)), place: upper.node.place.clone() }
                }
                (Value::List(low), Value::List(up)) if upper.key == "main" => {
                    Node { value: Value::List(sets_under(low, up)), place: upper.node.place.clone() }
                }
                _ => upper.node.clone(),
            };
        }
        self
    }
}

/// Main circuits laid over one another by the name of their set.
fn sets_under(low: &[Node], up: &[Node]) -> Vec<Node> {
    let set = |node: &Node| match &node.value {
        Value::Table(table) => table.text("set").map(str::to_owned),
        _ => None,
    };
    let mut out = low.to_vec();
    for upper in up {
        let lower = out.iter_mut().find(|n| set(n).is_some() && set(n) == set(upper));
        match (lower, &upper.value) {
            (Some(Node { value: Value::Table(low), place }), Value::Table(table)) => {
                *low = low.clone().under(table);
                *place = upper.place.clone();
            }
            _ => out.push(upper.clone()),
        }
    }
    out
}

/// Reads bytes as TOML. Faults of the writing are added; what could be read is given all the same, so that faults
/// of the content are found in the same pass. `None` when nothing could be read.
pub(super) fn read(file: &str, bytes: &[u8], faults: &Faults) -> Option<Node> {
    if bytes.len() > LARGEST {
        faults.of_file(file, "is larger than 1 MiB; a profile is a few kilobytes", "name a profile file");
        return None;
    }
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text,
        Err(error) => {
            let good = String::from_utf8_lossy(&bytes[..error.valid_up_to()]).into_owned();
            let source = faults.open(file, &good);
            let place = Place { source, span: good.len()..good.len() };
            faults.at(&place, "", "here the file stops being UTF-8 text", "save it as UTF-8");
            return None;
        }
    };
    // The mark some editors put first is one character that is not the person's.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let source = faults.open(file, text);
    let (document, errors) = DeTable::parse_recoverable(text);
    for error in errors.iter().take(20) {
        let (what, hint) = reworded(error.message());
        let end = text.trim_end().len();
        let span = error.span().or_else(|| deepest(text)).unwrap_or(end..end);
        faults.at(&Place { source, span }, "", what, hint);
    }
    if document.get_ref().is_empty() && errors.iter().any(|e| e.message().contains("recurs")) {
        // Nothing was read: what is missing is not the person's fault.
        return None;
    }
    let span = document.span();
    Some(Node {
        value: Value::Table(table(source, document.into_inner())),
        place: Place { source, span: span.start..span.start },
    })
}

/// Where nesting is deepest, for a fault that comes without a place.
fn deepest(text: &str) -> Option<std::ops::Range<usize>> {
    let (mut depth, mut most, mut at) = (0i32, 0, None);
    for line in text.split_inclusive('\n') {
        let start = line.as_ptr() as usize - text.as_ptr() as usize;
        let dots = line.split(['=', '#']).next().unwrap_or("").matches('.').count();
        let dots = i32::try_from(dots).unwrap_or(i32::MAX);
        if dots > most {
            (most, at) = (dots, Some(start));
        }
        for (i, byte) in line.bytes().enumerate() {
            depth += i32::from(matches!(byte, b'[' | b'{')) - i32::from(matches!(byte, b']' | b'}'));
            if depth > most {
                (most, at) = (depth, Some(start + i));
            }
        }
    }
    at.map(|at| at..at + 1)
}

/// The parser's complaint in our words: only which of these kinds it is comes from outside.
fn reworded(message: &str) -> (&'static str, &'static str) {
    let has = |piece: &str| message.contains(piece);
    if has("duplicate key") {
        ("this key is written a second time", "keep one of the two")
    } else if has("recurs") {
        ("values are nested deeper than any profile needs", "take the nesting out")
    } else if has("string") || has("escape") || has("unicode") {
        (
            "this text is not written as TOML writes texts",
            "put it between double quotes, with \\ written as \\\\",
        )
    } else if has("inline table") {
        ("this table in braces is not whole", "write { from = \"...\", to = \"...\" } with commas between")
    } else if has("array") || has("comma") {
        ("this list is not whole", "write [\"...\", \"...\"] with commas between")
    } else if has("table") {
        ("this heading is not whole or stands where none can", "write [name] on a line of its own")
    } else if has("value")
        || has("number")
        || has("integer")
        || has("float")
        || has("date")
        || has("digit")
        || has("radix")
    {
        (
            "this is not a value",
            "a quantity is a text with its unit: \"0.060 in\"; a count is a bare number: 2",
        )
    } else if has("key") || has("assignment") {
        ("this line is not a key with a value", "write key = value")
    } else if has("control") || has("carriage") || has("comment") {
        ("here is a character that no TOML text may hold", "take it out")
    } else {
        ("this is not TOML", "write key = value, a line each")
    }
}

fn table(source: usize, from: DeTable<'_>) -> Table {
    let mut entries: Vec<Entry> = from
        .into_iter()
        .map(|(key, value)| Entry {
            key_place: Place { source, span: key.span() },
            key: key.into_inner().into_owned(),
            node: node(source, value),
        })
        .collect();
    entries.sort_by_key(|e| e.key_place.span.start);
    Table { entries }
}

fn node(source: usize, from: Spanned<DeValue<'_>>) -> Node {
    let place = Place { source, span: from.span() };
    let value = match from.into_inner() {
        DeValue::String(text) => Value::Text(text.into_owned()),
        DeValue::Integer(whole) => Value::Whole(i64::from_str_radix(whole.as_str(), whole.radix()).ok()),
        DeValue::Float(number) => {
            Value::Number(number.as_str().parse::<f64>().ok().filter(|f| f.is_finite()))
        }
        DeValue::Boolean(flag) => Value::Flag(flag),
        DeValue::Datetime(_) => Value::Date,
        DeValue::Array(list) => Value::List(list.into_iter().map(|v| node(source, v)).collect()),
        DeValue::Table(inner) => Value::Table(table(source, inner)),
    };
    Node { value, place }
}
