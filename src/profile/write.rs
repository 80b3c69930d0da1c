//! A tree written as TOML, and a file written whole or not at all.

use super::tree::{Node, Table, Value};
use std::fmt::Write as _;
use std::io::{self, Write as _};
use std::path::Path;

/// Writes a table: plain keys first, then each table under its heading.
pub(super) fn to_toml(table: &Table) -> String {
    let mut out = String::new();
    write_table(&mut out, table, "");
    out
}

fn write_table(out: &mut String, table: &Table, path: &str) {
    let apart = |value: &Value| match value {
        Value::Table(inner) => !in_steps(inner),
        Value::List(list) => list.iter().any(|n| matches!(n.value, Value::Table(_))),
        _ => false,
    };
    for entry in table.entries.iter().filter(|e| !apart(&e.node.value)) {
        let _ = writeln!(out, "{} = {}", key(&entry.key), inline(&entry.node.value));
    }
    for entry in table.entries.iter().filter(|e| apart(&e.node.value)) {
        let whole = if path.is_empty() { key(&entry.key) } else { format!("{path}.{}", key(&entry.key)) };
        match &entry.node.value {
            Value::Table(inner) => {
                let _ = writeln!(out, "\n[{whole}]");
                write_table(out, inner, &whole);
            }
            Value::List(list) => {
                for Node { value, .. } in list {
                    if let Value::Table(inner) = value {
                        let _ = writeln!(out, "\n[[{whole}]]");
                        write_table(out, inner, &whole);
                    }
                }
            }
            _ => {}
        }
    }
}

/// Sizes in steps read best on one line.
fn in_steps(table: &Table) -> bool {
    table.entry("step").is_some()
}

fn key(key: &str) -> String {
    let bare = !key.is_empty() && key.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_'));
    if bare { key.to_owned() } else { text(key) }
}

/// A text as TOML quotes it.
fn text(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

fn inline(value: &Value) -> String {
    match value {
        Value::Text(said) => text(said),
        Value::Whole(whole) => whole.unwrap_or(i64::MAX).to_string(),
        Value::Number(number) => toml::Value::Float(number.unwrap_or(f64::MAX)).to_string(),
        Value::Flag(flag) => flag.to_string(),
        Value::Date | Value::Lost => "\"\"".to_owned(),
        Value::List(list) => {
            format!("[{}]", list.iter().map(|n| inline(&n.value)).collect::<Vec<_>>().join(", "))
        }
        Value::Table(table) => {
            let pairs: Vec<_> = table
                .entries
                .iter()
                .map(|e| format!("{} = {}", key(&e.key), inline(&e.node.value)))
                .collect();
            format!("{{ {} }}", pairs.join(", "))
        }
    }
}

/// Writes a file whole or not at all: beside it first, synced, then put in its place. A file that is there is
/// replaced only with `replace`; folders on the way are made.
pub fn save(path: &Path, text: &str, replace: bool) -> io::Result<()> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    std::fs::create_dir_all(folder)?;
    let mut beside = tempfile::NamedTempFile::new_in(folder)?;
    beside.write_all(text.as_bytes())?;
    beside.as_file().sync_all()?;
    if replace {
        beside.persist(path).map_err(|e| e.error)?;
    } else {
        beside.persist_noclobber(path).map_err(|e| e.error)?;
    }
    #[cfg(unix)]
    std::fs::File::open(folder)?.sync_all()?;
    Ok(())
}
