//! A table of the rule book as a person reads it: its own remarks, its figures with theirs, its rows in columns. It is
//! read from the text of the book, so that what is shown is what is used.

use crate::rules::RuleBook;
use toml::Value;

/// A line of a table.
pub(super) enum Line {
    /// A sentence.
    Remark(String),
    /// A figure with its remark.
    Fact(String, String),
    /// A row of columns.
    Row(String),
}

/// The table of this name; nothing when there is none.
pub(super) fn table(name: &str) -> Vec<Line> {
    let text = RuleBook::common_text();
    let head = format!("[{name}]");
    let Some((before, section)) = text.split_once(&format!("\n{head}\n")) else { return Vec::new() };
    let section = section.split("\n# ----").next().unwrap_or(section);
    let section = section.split("\n[").next().unwrap_or(section);
    let mut lines = Vec::new();
    let above: Vec<&str> =
        before.lines().rev().take_while(|l| l.starts_with("# ") && !l.starts_with("# --")).collect();
    let above: Vec<&str> = above.into_iter().rev().collect();
    lines.extend(remark(&above));
    let values = values(name);
    let mut remarks: Vec<&str> = Vec::new();
    for line in section.lines() {
        if line.starts_with("# ") {
            remarks.push(line);
            continue;
        }
        let Some((key, rest)) = line.split_once(" = ") else { continue };
        if key.starts_with(' ') || key.contains('{') {
            continue;
        }
        lines.extend(remark(&std::mem::take(&mut remarks)));
        match values.as_ref().and_then(|v| v.get(key)) {
            Some(Value::Array(rows)) if rows.iter().all(Value::is_table) => {
                lines.extend(columns(rows, section));
            }
            Some(value) => {
                let said = rest.split_once(" # ").map(|(_, r)| format!("; {}", r.trim())).unwrap_or_default();
                lines.push(Line::Fact(key.replace('_', " "), format!("{}{said}", shown(value))));
            }
            None => {}
        }
    }
    lines
}

fn values(name: &str) -> Option<toml::Table> {
    let book: toml::Table = RuleBook::common_text().parse().ok()?;
    book.get(name)?.as_table().cloned()
}

fn remark(lines: &[&str]) -> Option<Line> {
    let words: Vec<&str> = lines.iter().map(|l| l.trim_start_matches('#').trim()).collect();
    (!words.is_empty()).then(|| Line::Remark(words.join(" ")))
}

/// A value in words: a span as "from to", a list with commas.
fn shown(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Array(values) => values.iter().map(shown).collect::<Vec<_>>().join(", "),
        Value::Table(table) => {
            if let (Some(low), Some(high), 2) = (table.get("low"), table.get("high"), table.len()) {
                return span(&shown(low), &shown(high));
            }
            let each = table.iter().map(|(k, v)| format!("{} {}", k.replace('_', " "), shown(v)));
            each.collect::<Vec<_>>().join(", ")
        }
        other => other.to_string(),
    }
}

/// "1 inHg" and "3 inHg" as "1 to 3 inHg".
fn span(low: &str, high: &str) -> String {
    match (low.split_once(' '), high.split_once(' ')) {
        (Some((number, unit)), Some((_, other))) if unit == other => format!("{number} to {high}"),
        _ => format!("{low} to {high}"),
    }
}

/// Longer texts than this go under their row.
const NARROW: usize = 22;

/// Rows of the same keys, in columns as `section` orders them; long texts under the row they belong to.
fn columns(rows: &[Value], section: &str) -> Vec<Line> {
    let tables: Vec<&toml::Table> = rows.iter().filter_map(Value::as_table).collect();
    let mut keys: Vec<&str> = Vec::new();
    for key in tables.iter().flat_map(|t| t.keys()) {
        if !keys.contains(&key.as_str()) {
            keys.push(key);
        }
    }
    let place = |key: &str| {
        [format!("{{ {key} = "), format!(", {key} = ")].iter().filter_map(|k| section.find(k)).min()
    };
    keys.sort_by_key(|key| place(key));
    let cell = |t: &toml::Table, key: &str| t.get(key).map(shown).unwrap_or_default();
    let wide = |key: &&str| tables.iter().map(|t| cell(t, key).len()).max().unwrap_or(0) > NARROW;
    let (long, short): (Vec<&str>, Vec<&str>) = keys.iter().partition(|k| wide(k));
    let widths: Vec<usize> = short
        .iter()
        .map(|k| tables.iter().map(|t| cell(t, k).len()).chain([k.len()]).max().unwrap_or(0))
        .collect();
    let line = |cells: Vec<String>| {
        let padded = cells.iter().zip(&widths).map(|(c, w)| format!("{c:w$}"));
        format!("  {}", padded.collect::<Vec<_>>().join("  "))
    };
    let mut lines = vec![Line::Row(String::new())];
    if !short.is_empty() {
        lines.push(Line::Row(line(short.iter().map(|k| k.replace('_', " ")).collect())));
    }
    for table in &tables {
        if !short.is_empty() {
            lines.push(Line::Row(line(short.iter().map(|k| cell(table, k)).collect())));
        }
        for key in &long {
            if table.contains_key(*key) {
                lines.push(Line::Fact(format!("  {}", key.replace('_', " ")), cell(table, key)));
            }
        }
    }
    lines.push(Line::Row(String::new()));
    lines
}
