//! A document as plain text in so many columns.

use super::document::{Block, Document, Section, Span, Table, Text};
use super::lines;
use super::sink::Term;

/// The document, in lines of at most `width` columns where words allow it.
pub fn page(document: &Document, width: usize) -> String {
    let mut out = Vec::new();
    out.push(format!("{}: {}", document.kind, words(&document.title)));
    wrap(&mut out, &words(&document.under), "", width);
    for lead in &document.lead {
        out.push(String::new());
        wrap(&mut out, &words(lead), "", width);
    }
    for section in &document.sections {
        one_section(&mut out, section, width);
    }
    out.push(String::new());
    for line in &document.foot {
        wrap(&mut out, &words(line), "", width);
    }
    let mut page = out.iter().map(|l| l.trim_end()).collect::<Vec<_>>().join("\n");
    page.push('\n');
    page
}

fn words(text: &Text) -> String {
    let one = |(at, span): (usize, &Span)| match span {
        Span::Ours(words) | Span::Theirs(words) => Term(words).to_string(),
        Span::Aside(words) => format!("{}({words})", if at == 0 { "" } else { " " }),
    };
    text.0.iter().enumerate().map(one).collect::<String>().trim_end().to_owned()
}

fn one_section(out: &mut Vec<String>, section: &Section, width: usize) {
    out.extend([String::new(), section.heading.clone(), "-".repeat(section.heading.chars().count())]);
    for (i, block) in section.blocks.iter().enumerate() {
        if i > 0 {
            out.push(String::new());
        }
        one_block(out, block, width);
    }
}

fn one_block(out: &mut Vec<String>, block: &Block, width: usize) {
    match block {
        Block::Paragraph(text) => wrap(out, &words(text), "", width),
        Block::Facts(facts) => {
            let names = facts.iter().map(|(n, _)| n.chars().count()).max().unwrap_or(0);
            for (name, what) in facts {
                hang(out, &format!("{name:names$}  "), &words(what), width);
            }
        }
        Block::List(items) => items.iter().for_each(|item| hang(out, "- ", &words(item), width)),
        Block::Steps(steps) => {
            for (i, step) in steps.iter().enumerate() {
                hang(out, &format!("{}. ", i + 1), &words(&step.what), width);
                wrap(out, &words(&step.why), "   ", width);
            }
        }
        Block::Table(table) => one_table(out, table, width),
        Block::Pictures(pictures) => {
            for picture in pictures {
                let (title, says) = picture.words();
                hang(out, "- ", &format!("{title}: {says}"), width);
            }
        }
        Block::Fields(fields) => {
            for field in fields {
                out.extend([String::new(), format!("{field:12} {}", "_".repeat(40))]);
            }
        }
    }
}

/// Columns as wide as their widest cell; the last one wraps under itself. Where that is wider than the page, what is
/// said by the way of a row's name goes onto a line of its own.
fn one_table(out: &mut Vec<String>, table: &Table, width: usize) {
    let columns = table.heads.len();
    let widest =
        |i: usize| table.rows.iter().filter_map(|r| r.get(i)).map(|c| words(c).chars().count()).max();
    let all: usize =
        (0..columns).map(|i| widest(i).unwrap_or(0).max(table.heads[i].chars().count()) + 2).sum();
    let aside = |s: &Span| matches!(s, Span::Aside(_));
    if all <= width + 2 || !table.rows.iter().any(|r| r.first().is_some_and(|c| c.0.iter().any(aside))) {
        return laid_out(out, table, width);
    }
    let mut bare = table.clone();
    let mut under: Vec<String> = Vec::new();
    for row in &mut bare.rows {
        let Some(name) = row.first_mut() else { continue };
        let (by_the_way, rest): (Vec<Span>, Vec<Span>) = name.0.drain(..).partition(aside);
        *name = Text(rest);
        under.push(words(&Text(by_the_way)));
    }
    let mut lines = Vec::new();
    let mut each = Vec::new();
    laid_out_by_row(&mut lines, &mut each, &bare, width);
    for (k, line) in lines.into_iter().enumerate() {
        out.push(line);
        // The heads are row 0; a row's words follow its last line.
        if let Some(row) = each.iter().position(|last| *last == k + 1).and_then(|at| at.checked_sub(1))
            && let Some(said) = under.get(row).filter(|said| !said.is_empty())
        {
            wrap(out, said, "  ", width);
        }
    }
}

fn laid_out(out: &mut Vec<String>, table: &Table, width: usize) {
    laid_out_by_row(out, &mut Vec::new(), table, width);
}

/// Rows in lines; `ends` gets, for the heads and each row, how many lines there are after it.
fn laid_out_by_row(out: &mut Vec<String>, ends: &mut Vec<usize>, table: &Table, width: usize) {
    let rows: Vec<Vec<String>> = std::iter::once(table.heads.clone())
        .chain(table.rows.iter().map(|r| r.iter().map(words).collect()))
        .collect();
    let columns = table.heads.len();
    let wide: Vec<usize> = (0..columns)
        .map(|i| rows.iter().filter_map(|r| r.get(i)).map(|c| c.chars().count()).max().unwrap_or(0))
        .collect();
    for row in &rows {
        let mut left = String::new();
        for (i, cell) in row.iter().enumerate().take(columns.saturating_sub(1)) {
            let w = wide[i];
            let gap = if w == 0 { "" } else { "  " };
            let padded = if table.figures.contains(&i) {
                format!("{cell:>w$}{gap}")
            } else {
                format!("{cell:<w$}{gap}")
            };
            left.push_str(&padded);
        }
        hang(out, &left, row.last().map_or("", String::as_str), width);
        ends.push(out.len());
    }
}

/// A paragraph behind an indent.
pub(super) fn paragraph(out: &mut Vec<String>, text: &str, indent: &str, width: usize) {
    wrap(out, text, indent, width);
}

/// A table in columns.
pub(super) fn table(out: &mut Vec<String>, table: &Table, width: usize) {
    one_table(out, table, width);
}

/// Words in lines of at most so many columns.
pub fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    wrap(&mut lines, text, "", width);
    lines
}

fn hang(out: &mut Vec<String>, left: &str, text: &str, width: usize) {
    let indent = " ".repeat(left.chars().count());
    let mut lines = Vec::new();
    wrap(&mut lines, text, &indent, width);
    if let Some(first) = lines.first_mut() {
        *first = format!("{left}{}", first.trim_start());
    }
    out.extend(lines);
}

fn wrap(out: &mut Vec<String>, text: &str, indent: &str, width: usize) {
    let mut line = indent.to_owned();
    let mut empty = true;
    for word in lines::words(text) {
        if !empty && line.chars().count() + 1 + word.chars().count() > width {
            out.push(std::mem::replace(&mut line, indent.to_owned()));
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(&word);
        empty = false;
    }
    out.push(line);
}
