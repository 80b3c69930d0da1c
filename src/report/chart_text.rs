//! Pictures for a terminal: small, labelled, in characters. The words about a picture come before it.

use super::chart::{Chart, Mark, PairRow, Pairs, Picture};
use super::sink::Term;
use crate::units::show::fixed;

/// Rows of a plot where there is room.
const ROWS: usize = 13;
/// Fewest rows in which anything is to be seen.
const LEAST_ROWS: usize = 5;
/// Rows about a plot: its legend, the axis, its figures and its label.
const ABOUT: usize = 4;
/// Columns for the figures of the upright axis.
const LEFT: usize = 8;

/// The characters of a picture.
struct Ink {
    open: char,
    filled: char,
    small_open: char,
    small_filled: char,
    curve: char,
    band: char,
    upright: char,
    flat: char,
    corner: char,
    stand: char,
    middle: char,
}

const PLAIN: Ink = Ink {
    open: 'o',
    filled: '#',
    small_open: ',',
    small_filled: '*',
    curve: '.',
    band: ':',
    upright: '|',
    flat: '-',
    corner: '+',
    stand: '!',
    middle: '+',
};
const FULL: Ink = Ink {
    open: '○',
    filled: '●',
    small_open: '∘',
    small_filled: '•',
    curve: '·',
    band: '░',
    upright: '│',
    flat: '─',
    corner: '└',
    stand: '┆',
    middle: '┼',
};

/// A picture in at most `width` columns, its title and what is to be seen first.
pub fn draw(picture: &Picture, width: usize, ascii: bool) -> String {
    let ink = if ascii { &PLAIN } else { &FULL };
    let width = width.clamp(40, 100);
    let (title, says) = picture.words();
    let mut out = format!("{}\n", Term(title));
    for line in super::text::wrapped(&Term(says).to_string(), width.saturating_sub(2)) {
        out.push_str("  ");
        out.push_str(&line);
        out.push('\n');
    }
    out.push('\n');
    let lines = match picture {
        Picture::Chart(chart) => plot(chart, width, ROWS, ink),
        Picture::Pairs(pairs) => rows(pairs, width, ink),
    };
    joined(out, &lines)
}

/// A chart alone in at most `lines` lines, for beside a question: no title, no words, fewer rows. `None` where there is no room.
pub fn small(chart: &Chart, width: usize, lines: usize, ascii: bool) -> Option<String> {
    let tall = lines.checked_sub(ABOUT).filter(|rows| *rows >= LEAST_ROWS)?.min(ROWS);
    let ink = if ascii { &PLAIN } else { &FULL };
    Some(joined(String::new(), &plot(chart, width.clamp(40, 100), tall, ink)))
}

fn joined(mut out: String, lines: &[String]) -> String {
    for line in lines {
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

fn plot(chart: &Chart, width: usize, tall: usize, ink: &Ink) -> Vec<String> {
    let columns = width.saturating_sub(LEFT + 1).max(20);
    let mut cells = vec![vec![' '; columns]; tall];
    let x = |v: f64| chart.x.share(v).map(|s| (s * (columns - 1) as f64).round() as usize);
    let y = |v: f64| chart.y.share(v).map(|s| tall - 1 - (s * (tall - 1) as f64).round() as usize);
    for band in &chart.bands {
        if let (Some(x0), Some(x1), Some(top), Some(foot)) =
            (x(band.x.0), x(band.x.1), y(band.y.1), y(band.y.0))
        {
            cells[top..=foot].iter_mut().for_each(|row| row[x0..=x1].fill(ink.band));
        }
    }
    for (value, _) in chart.lines.iter().filter(|(v, _)| chart.x.holds(*v)) {
        if let Some(at) = x(*value) {
            for row in &mut cells {
                row[at] = ink.stand;
            }
        }
    }
    for series in &chart.series {
        let joins = matches!(series.mark, Mark::Curve | Mark::Line { .. });
        for pair in series.points.windows(2).filter(|_| joins) {
            line(chart, (pair[0].x, pair[0].y), (pair[1].x, pair[1].y), columns, |column, value| {
                if let Some(row) = y(value) {
                    cells[row][column] = mark(series.mark, true, ink);
                }
            });
        }
        for p in series.points.iter().filter(|p| chart.x.holds(p.x) && chart.y.holds(p.y)) {
            if let (Some(column), Some(row)) = (x(p.x), y(p.y)) {
                cells[row][column] = mark(series.mark, p.sure, ink);
            }
        }
    }
    let (ticks, decimals) = chart.y.ticks(if tall < 9 { 3 } else { 5 });
    let labelled: Vec<(usize, String)> =
        ticks.iter().filter_map(|t| Some((y(*t)?, fixed(*t, decimals)))).collect();
    let mut lines = vec![format!("  {}   {}", Term(&chart.y.label), legend(chart, ink))];
    for (i, row) in cells.iter().enumerate() {
        let label = labelled.iter().find(|(at, _)| *at == i).map_or("", |(_, l)| l.as_str());
        let figures = LEFT - 1;
        lines.push(format!("{label:>figures$} {}{}", ink.upright, row.iter().collect::<String>()));
    }
    let shift = LEFT;
    lines.push(format!("{}{}{}", " ".repeat(shift), ink.corner, ink.flat.to_string().repeat(columns)));
    lines.push(axis_figures(&chart.x, columns, shift + 1));
    lines.push(format!("{}{}", " ".repeat(shift + 1), Term(&chart.x.label)));
    lines
}

/// Every column between two points, with the value of the straight line there.
fn line(chart: &Chart, from: (f64, f64), to: (f64, f64), columns: usize, mut put: impl FnMut(usize, f64)) {
    let at = |v: f64| chart.x.share(v).map(|s| s * (columns - 1) as f64);
    let (Some(a), Some(b)) = (at(from.0), at(to.0)) else { return };
    for column in (a.ceil() as usize)..=(b.floor().max(0.0) as usize).min(columns - 1) {
        let share = if b > a { (column as f64 - a) / (b - a) } else { 0.0 };
        let value = from.1 + share * (to.1 - from.1);
        if chart.y.holds(value) {
            put(column, value);
        }
    }
}

const fn mark(mark: Mark, sure: bool, ink: &Ink) -> char {
    match (mark, sure) {
        (Mark::Line { sign, .. }, _) => sign,
        (Mark::Curve, _) => ink.curve,
        (Mark::Open, true) => ink.open,
        (Mark::Open, false) => ink.small_open,
        (Mark::Filled, true) => ink.filled,
        (Mark::Filled, false) => ink.small_filled,
    }
}

fn legend(chart: &Chart, ink: &Ink) -> String {
    let mut words: Vec<String> = Vec::new();
    if !chart.bands.is_empty() {
        words.push(format!("{} target", ink.band));
    }
    words.extend(chart.series.iter().map(|s| format!("{} {}", mark(s.mark, true, ink), Term(&s.name))));
    words.extend(chart.lines.iter().map(|(_, said)| format!("{} {}", ink.stand, Term(said))));
    words.join("   ")
}

/// The figures under an axis, each beginning so that its middle stands at its place.
fn axis_figures(axis: &super::chart::Axis, columns: usize, indent: usize) -> String {
    let (ticks, decimals) = axis.ticks(6);
    let mut line = vec![' '; indent + columns + 8];
    let mut free = 0;
    for tick in ticks {
        let Some(share) = axis.share(tick) else { continue };
        let label: Vec<char> = fixed(tick, decimals).chars().collect();
        let middle = indent + (share * (columns - 1) as f64).round() as usize;
        let start = middle.saturating_sub(label.len() / 2);
        if start >= free && start + label.len() <= line.len() {
            line[start..start + label.len()].copy_from_slice(&label);
            free = start + label.len() + 1;
        }
    }
    line.into_iter().collect()
}

fn rows(pairs: &Pairs, width: usize, ink: &Ink) -> Vec<String> {
    let words = pairs.rows.iter().map(|r| r.label.chars().count()).max().unwrap_or(0);
    let columns = width.saturating_sub(words + 4).max(20);
    let banded = if pairs.rows.iter().any(|r| r.band.is_some()) {
        format!("{} target   ", ink.band)
    } else {
        String::new()
    };
    let mut legend = format!("  {banded}{} {}", ink.open, pairs.was);
    if pairs.rows.iter().any(|r| r.expected.is_some()) {
        legend.push_str(&format!("   {} expected, 9 in 10", ink.flat.to_string().repeat(3)));
    }
    if pairs.rows.iter().any(|r| r.after.is_some()) {
        legend.push_str(&format!("   {} measured", ink.filled));
    }
    let mut lines = vec![legend];
    for row in &pairs.rows {
        lines.push(format!(
            "  {:words$}  {}",
            Term(&row.label).to_string(),
            pair(row, &pairs.x, columns, ink)
        ));
    }
    lines.push(axis_figures(&pairs.x, columns, words + 4));
    lines.push(format!("{}{}", " ".repeat(words + 4), Term(&pairs.x.label)));
    lines
}

fn pair(row: &PairRow, axis: &super::chart::Axis, columns: usize, ink: &Ink) -> String {
    let at = |v: f64| axis.share(v).map(|s| (s * (columns - 1) as f64).round() as usize);
    let mut cells = vec![' '; columns];
    if let Some((Some(low), Some(high))) = row.band.map(|(l, h)| (at(l), at(h))) {
        cells[low..=high].fill(ink.band);
    }
    if let Some((middle, low, high)) = row.expected
        && let (Some(middle), Some(low), Some(high)) = (at(middle), at(low), at(high))
    {
        cells[low.min(high)..=high].fill(ink.flat);
        cells[middle] = ink.middle;
    }
    for (place, mark) in [(at(row.before), ink.open), (row.after.and_then(at), ink.filled)] {
        if let Some(place) = place {
            cells[place] = mark;
        }
    }
    cells.into_iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::chart::{Axis, Band, Point, Series};

    fn chart() -> Picture {
        let point = |x, y, sure| Point { x, y, interval: None, sure };
        Picture::Chart(Chart {
            id: "lambda".into(),
            title: "Lambda against air flow".into(),
            says: "One of two inside.".into(),
            x: Axis { label: "air flow, %".into(), low: 0.0, high: 100.0 },
            y: Axis { label: "lambda".into(), low: 0.8, high: 1.0 },
            bands: vec![Band { label: "cruise".into(), x: (0.0, 50.0), y: (0.9, 1.0) }],
            series: vec![
                Series { name: "as found".into(), mark: Mark::Open, points: vec![point(0.0, 0.8, true)] },
                Series {
                    name: "now\u{1b}[2J".into(),
                    mark: Mark::Filled,
                    points: vec![point(100.0, 1.0, true), point(f64::NAN, 0.9, true)],
                },
            ],
            lines: Vec::new(),
        })
    }

    #[test]
    fn marks_stand_at_the_corners_they_belong_to() {
        let text = draw(&chart(), 60, true);
        assert!(text.is_ascii() && !text.contains('\u{1b}'), "{text}");
        assert!(text.lines().all(|l| l.chars().count() <= 78), "{text}");
        let plot: Vec<&str> = text.lines().filter(|l| l.contains('|')).collect();
        assert_eq!(plot.len(), ROWS);
        assert!(plot[0].ends_with('#') && plot[0].contains("1.00"), "{text}");
        let last = plot[ROWS - 1];
        assert!(last[last.find('|').unwrap()..].starts_with("|o") && last.contains("0.80"), "{text}");
        assert!(plot[0].contains("|::::") && !last.contains(':'), "{text}");
    }

    #[test]
    fn a_pair_shows_before_expected_and_measured() {
        let picture = Picture::Pairs(Pairs {
            id: "changes".into(),
            title: "Changes".into(),
            says: String::new(),
            was: "before",
            x: Axis { label: "lambda".into(), low: 0.8, high: 1.0 },
            rows: vec![PairRow {
                label: "Main jet, cruise".into(),
                before: 0.8,
                expected: Some((0.95, 0.9, 1.0)),
                after: Some(1.0),
                band: None,
            }],
        });
        let text = draw(&picture, 60, true);
        let row = text.lines().find(|l| l.contains("Main jet")).unwrap();
        assert!(row.contains("cruise  o") && row.ends_with("-#"), "{text}");
    }
}
