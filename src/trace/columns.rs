//! Which of a header's names are known, in which units, and with which decimal sign.

use super::channel::Channel;
use super::fault::{TraceError, excerpt};
use super::header::Line;
use super::layout::{Used, plausible};
use super::logger::{ColumnMap, LoggerProfile};
use super::number::{self, Cell};
use super::split;
use super::summary::Note;
use super::unit;

/// Whether a header name is one of a column's: without case, and without a unit in brackets behind it.
pub(super) fn matches(column: &ColumnMap, name: &str) -> bool {
    let name = name.trim().trim_start_matches('\u{feff}');
    let (bare, _) = without_unit(name);
    column.names.iter().any(|n| n.trim().eq_ignore_ascii_case(name) || n.trim().eq_ignore_ascii_case(bare))
}

/// A name and the unit in brackets behind it: "Manifold (kPa)".
pub(super) fn without_unit(name: &str) -> (&str, Option<&str>) {
    for (open, close) in [('(', ')'), ('[', ']'), ('{', '}')] {
        if let Some(inner) = name.trim().strip_suffix(close)
            && let Some(at) = inner.rfind(open)
            && at > 0
        {
            return (inner[..at].trim(), Some(inner[at + open.len_utf8()..].trim()));
        }
    }
    (name.trim(), None)
}

/// Known columns by place. Of several for one channel the one listed first in the profile is taken.
pub(super) fn pick<'a>(
    names: &[String],
    logger: &'a LoggerProfile,
    line: u64,
    notes: &mut Vec<Note>,
) -> Result<Vec<(usize, &'a ColumnMap)>, TraceError> {
    let mut picked: Vec<(usize, &ColumnMap)> = Vec::new();
    for column in &logger.columns {
        let mut places = names.iter().enumerate().filter(|(_, n)| matches(column, n)).map(|(i, _)| i);
        let Some(place) = places.next() else { continue };
        if let Some(second) = places.find(|p| names[*p].eq_ignore_ascii_case(&names[place])) {
            return Err(TraceError::TwoColumns {
                line,
                name: names[place].clone(),
                first: place as u32 + 1,
                second: second as u32 + 1,
            });
        }
        if let Some((taken, _)) = picked.iter().find(|(_, c)| c.channel == column.channel) {
            let what = format!(
                "column {} ({}) is used for {}; column {} ({}) is left out",
                taken + 1,
                names[*taken],
                column.channel.name(),
                place + 1,
                names[place]
            );
            notes.push(Note { name: "second-column".to_owned(), what });
        } else {
            picked.push((place, column));
        }
    }
    let unknown: Vec<&str> = names
        .iter()
        .enumerate()
        .filter(|(i, _)| !picked.iter().any(|(p, _)| p == i))
        .map(|(_, n)| n.as_str())
        .collect();
    if !unknown.is_empty() {
        let listed: Vec<&str> = unknown.iter().take(12).copied().collect();
        let more =
            if unknown.len() > 12 { format!(" and {} more", unknown.len() - 12) } else { String::new() };
        let what = format!("columns not used: {}{more}", excerpt_list(&listed));
        notes.push(Note { name: "unused-columns".to_owned(), what });
    }
    picked.sort_by_key(|(place, _)| *place);
    Ok(picked)
}

fn excerpt_list(names: &[&str]) -> String {
    let safe: Vec<String> =
        names.iter().map(|n| excerpt(n.as_bytes()).trim_matches('"').to_owned()).collect();
    safe.join(", ")
}

/// A used column, with the unit from the units row, from brackets in its name, from the profile, or the usual one.
pub(super) fn make(
    index: usize,
    column: &ColumnMap,
    name: &str,
    unit_cell: Option<&String>,
    suffix: &[u8],
    notes: &mut Vec<Note>,
) -> Used {
    let bracket = without_unit(name).1;
    let channel = column.channel;
    let written = [unit_cell.map(String::as_str).map(|u| u.trim_matches(['(', ')', '[', ']'])), bracket];
    // What stands beside every number is surer than what stands above them.
    let mut conversion = std::str::from_utf8(suffix)
        .ok()
        .filter(|s| !s.is_empty())
        .and_then(|s| unit::to_inside(channel, s, column.stoichiometric));
    if conversion.is_some() {
        let what = format!(
            "every cell of column {} ({}) ends in its unit, {}; it was taken off",
            index + 1,
            excerpt(name.as_bytes()).trim_matches('"'),
            excerpt(suffix).trim_matches('"')
        );
        notes.push(Note { name: "unit-in-cells".to_owned(), what });
    }
    for unit in written.into_iter().flatten().filter(|u| !u.trim().is_empty()) {
        conversion = conversion.or_else(|| unit::to_inside(channel, unit, column.stoichiometric));
    }
    let given = column.unit.as_deref().unwrap_or(unit::usual(channel));
    let (scale, offset) =
        conversion.or_else(|| unit::to_inside(channel, given, column.stoichiometric)).unwrap_or_else(|| {
            let what =
                format!("\"{given}\" is no unit of {}; {} is assumed", channel.name(), unit::usual(channel));
            notes.push(Note { name: "unit".to_owned(), what });
            (1.0, 0.0)
        });
    let is_ratio = scale < 0.2 && matches!(channel, Channel::Lambda | Channel::Lambda2);
    if is_ratio && column.stoichiometric.is_none() && column.volts.is_empty() {
        let what = format!(
            "the air-fuel ratio was read on a display scale of {}; when the display is scaled by the fuel's own ratio, \
             say so in a logger profile (stoichiometric = \"14.1 AFR\")",
            unit::DISPLAY_SCALE
        );
        notes.push(Note { name: "afr-scale".to_owned(), what });
    }
    let (before, shift) = (column.scale.unwrap_or(1.0), column.offset.unwrap_or(0.0));
    let (low, high) = plausible(channel);
    Used {
        index,
        channel,
        scale: before * scale,
        offset: shift * scale + offset,
        untouched: column.volts.is_empty() && before * scale == 1.0 && shift * scale + offset == 0.0,
        volts: column.volts.clone(),
        low,
        high,
        name: excerpt(name.as_bytes()).trim_matches('"').to_owned(),
        suffix: suffix.to_vec(),
    }
}

/// The unit that stands behind the number in every filled cell of a column, when it is one of the channel's.
pub(super) fn suffix_of(rows: &[Line<'_>], separator: u8, index: usize, channel: Channel) -> Vec<u8> {
    let mut found: Option<Vec<u8>> = None;
    for row in rows {
        let Ok(cells) = split::cells(row.text, separator) else { continue };
        let Some(cell) = cells.get(index).map(|c| c.trim_ascii()).filter(|c| !c.is_empty()) else { continue };
        let number = cell.iter().take_while(|b| b.is_ascii_digit() || b"+-.,".contains(b)).count();
        let unit = cell[number..].trim_ascii();
        if number == 0 || unit.is_empty() || found.as_ref().is_some_and(|f| f != unit) {
            return Vec::new();
        }
        found.get_or_insert_with(|| unit.to_vec());
    }
    let known =
        |u: &Vec<u8>| std::str::from_utf8(u).is_ok_and(|u| unit::to_inside(channel, u, None).is_some());
    found.filter(known).unwrap_or_default()
}

/// What the first rows hold that does not fit the names above them: said, never changed.
pub(super) fn doubts(rows: &[Line<'_>], separator: u8, point: u8, used: &[Used], notes: &mut Vec<Note>) {
    let rows: Vec<_> = rows.iter().filter_map(|r| split::cells(r.text, separator).ok()).collect();
    for column in used {
        let values: Vec<f64> = rows
            .iter()
            .filter_map(|cells| match number::cell(column.bare(cells.get(column.index)?), point) {
                Cell::Number(value) => Some(value),
                _ => None,
            })
            .collect();
        let mut sorted = values.clone();
        sorted.sort_by(f64::total_cmp);
        let Some(middle) = sorted.get(sorted.len() / 2) else { continue };
        let place = format!("column {} ({})", column.index + 1, column.name);
        let is_lambda =
            matches!(column.channel, Channel::Lambda | Channel::Lambda2) && column.volts.is_empty();
        let ratio = column.scale < 0.2;
        let what = if is_lambda && ratio && (0.5..1.7).contains(middle) {
            format!("{place} is called a ratio but begins near {middle}: that looks like lambda")
        } else if is_lambda && !ratio && (8.0..25.0).contains(middle) {
            format!("{place} is called lambda but begins near {middle}: that looks like an air-fuel ratio")
        } else if is_lambda && ratio && column.scale < 0.1 && (5.5..11.0).contains(middle) {
            format!("{place} begins near {middle}: that looks like another fuel's own scale than gasoline's")
        } else if column.channel == Channel::Time && column.scale == 1.0 && in_whole_steps(&values) {
            format!(
                "{place} goes up by more than one from row to row: those look like milliseconds, and were read as seconds"
            )
        } else {
            continue;
        };
        let what = format!("{what}; say what it is in a logger profile (trace --guess begins one)");
        notes.push(Note { name: "doubtful-column".to_owned(), what });
    }
}

/// Whether a time goes up by whole numbers of two and more: no logger is that slow.
fn in_whole_steps(values: &[f64]) -> bool {
    values.len() > 5 && values.windows(2).all(|w| w[1] - w[0] >= 2.0 && (w[1] - w[0]).fract() == 0.0)
}

/// A row without any number under the header, some cells filled: units.
pub(super) fn is_units_row(text: &[u8], separator: u8, fields: usize) -> bool {
    let Ok(cells) = split::cells(text, separator) else { return false };
    let filled: Vec<_> = cells.iter().filter(|c| number::cell(c, b'.') != Cell::Empty).collect();
    let words = |c: &&Vec<u8>| number::cell(c, b'.') == Cell::Bad && number::cell(c, b',') == Cell::Bad;
    cells.len() == fields && !filled.is_empty() && filled.iter().all(words)
}

/// The decimal sign, from the used cells of the first rows.
pub(super) fn decimal_sign(
    rows: &[Line<'_>],
    separator: u8,
    used: &[Used],
    fields: usize,
    logger: &LoggerProfile,
    line: u64,
) -> Result<u8, TraceError> {
    if let Some(comma) = logger.decimal_comma {
        return Ok(if comma { b',' } else { b'.' });
    }
    let (mut commas, mut points, mut wide, mut seen, mut widest) = (0, 0, 0, 0, 0);
    for row in rows {
        let Ok(cells) = split::cells(row.text, separator) else { continue };
        seen += 1;
        wide += usize::from(cells.len() > fields + 1 && cells.len() <= 2 * fields);
        widest = widest.max(cells.len());
        for cell in used.iter().filter_map(|u| Some(u.bare(cells.get(u.index)?))) {
            let (by_point, by_comma) = (number::cell(cell, b'.'), number::cell(cell, b','));
            commas += usize::from(matches!(by_comma, Cell::Number(_)) && by_point == Cell::Bad);
            points += usize::from(matches!(by_point, Cell::Number(_)) && by_comma == Cell::Bad);
        }
    }
    if separator == b',' {
        // More cells than names, row after row: the decimal commas fell apart.
        return if wide > 1 && wide == seen {
            Err(TraceError::TwoCommas { line, cells: widest, names: fields })
        } else {
            Ok(b'.')
        };
    }
    Ok(if commas > 0 && points == 0 { b',' } else { b'.' })
}

#[cfg(test)]
mod tests;
