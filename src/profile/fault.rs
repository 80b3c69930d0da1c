//! What is wrong with a file a person wrote: where, what was found, what would do. Gathered, never stopped at.

use super::safe::safe;
use std::cell::RefCell;
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

/// A stretch of one of the texts being read.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Place {
    /// Which text, in the order they were opened.
    pub(super) source: usize,
    /// Bytes of it.
    pub(super) span: Range<usize>,
}

/// One fault, located.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// The file, or "built-in ...".
    pub file: String,
    /// Line, from 1; 0 when the whole file is meant.
    pub line: usize,
    /// Column in characters, from 1; 0 when the whole file is meant.
    pub column: usize,
    /// The key it is about, as a path: `carburetor.idle.screws`. Empty when it is not about a key.
    pub key: String,
    /// What is wrong and what was expected.
    pub what: String,
    /// What to do.
    pub hint: String,
    /// The line it is in, made safe to print and cut around the place.
    pub excerpt: String,
    /// Characters of the excerpt before the place.
    pub caret_at: usize,
    /// Characters of the excerpt that are meant, at least one.
    pub caret_width: usize,
}

const SAID_AT_MOST: usize = 300;
const EXCERPT_AT_MOST: usize = 70;

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.line == 0 {
            write!(f, "{}: {}", self.file, self.what)?;
        } else {
            write!(f, "{}:{}:{}: {}", self.file, self.line, self.column, self.what)?;
        }
        if !self.excerpt.is_empty() {
            let number = self.line.to_string();
            let gap = " ".repeat(number.len());
            let (before, carets) = (" ".repeat(self.caret_at), "^".repeat(self.caret_width.max(1)));
            write!(f, "\n  {number} | {}\n  {gap} | {before}{carets}", self.excerpt)?;
        }
        if !self.hint.is_empty() {
            write!(f, "\n  {}", self.hint)?;
        }
        Ok(())
    }
}

/// A text being read, and what to call it.
#[derive(Debug, Clone)]
struct Source {
    file: String,
    text: Arc<str>,
}

/// The texts being read and every fault found in them so far.
#[derive(Debug, Default)]
pub(super) struct Faults {
    sources: RefCell<Vec<Source>>,
    found: RefCell<Vec<Fault>>,
}

impl Faults {
    /// Takes a text in; its number is what places in it carry.
    pub(super) fn open(&self, file: &str, text: &str) -> usize {
        let mut sources = self.sources.borrow_mut();
        sources.push(Source { file: safe(file, 200), text: text.into() });
        sources.len() - 1
    }

    /// A fault at a place.
    pub(super) fn at(&self, place: &Place, key: &str, what: &str, hint: &str) {
        let sources = self.sources.borrow();
        let Some(source) = sources.get(place.source) else { return };
        let mut fault = whole(&source.file, key, what, hint);
        locate(&mut fault, &source.text, place.span.clone());
        self.add(fault);
    }

    /// A fault of a whole file.
    pub(super) fn of_file(&self, file: &str, what: &str, hint: &str) {
        self.add(whole(&safe(file, 200), "", what, hint));
    }

    fn add(&self, fault: Fault) {
        let mut found = self.found.borrow_mut();
        if !found.contains(&fault) {
            found.push(fault);
        }
    }

    /// Whether nothing is wrong so far.
    pub(super) fn is_empty(&self) -> bool {
        self.found.borrow().is_empty()
    }

    /// All of them, file by file in the order opened, from the top of each.
    pub(super) fn into_found(self) -> Vec<Fault> {
        let order: Vec<String> = self.sources.into_inner().into_iter().map(|s| s.file).collect();
        let mut found = self.found.into_inner();
        found.sort_by_key(|f| (order.iter().position(|o| *o == f.file), f.line, f.column));
        found
    }
}

fn whole(file: &str, key: &str, what: &str, hint: &str) -> Fault {
    Fault {
        file: file.to_owned(),
        line: 0,
        column: 0,
        key: safe(key, 120),
        what: safe(what, SAID_AT_MOST),
        hint: safe(hint, SAID_AT_MOST),
        excerpt: String::new(),
        caret_at: 0,
        caret_width: 1,
    }
}

/// Line, column and excerpt of a stretch. Lines end with LF, CR LF or a lone CR.
fn locate(fault: &mut Fault, text: &str, span: Range<usize>) {
    let start = floor(text, span.start);
    let line_start = text[..start].rfind(['\n', '\r']).map_or(0, |i| i + 1);
    let line_end = text[start..].find(['\n', '\r']).map_or(text.len(), |i| start + i);
    let before = &text[line_start..start];
    fault.line = count_lines(&text[..line_start]) + 1;
    fault.column = before.chars().count() + 1;
    // A long line is cut so that the place stays in sight.
    let skipped = before.chars().count().saturating_sub(EXCERPT_AT_MOST / 2);
    let shown_from = before.char_indices().nth(skipped).map_or(start, |(i, _)| line_start + i);
    let lead = safe(&text[shown_from..start], EXCERPT_AT_MOST);
    let mark = if skipped > 0 { "…" } else { "" };
    let end = floor(text, span.end.clamp(start, line_end));
    let meant = safe(&text[start..end], EXCERPT_AT_MOST / 2);
    fault.caret_at = mark.chars().count() + lead.chars().count();
    fault.caret_width = meant.chars().count().max(1);
    let rest =
        if meant.ends_with('…') { String::new() } else { safe(&text[end..line_end], EXCERPT_AT_MOST / 2) };
    fault.excerpt = format!("{mark}{lead}{meant}{rest}");
}

fn count_lines(text: &str) -> usize {
    let crlf = text.matches("\r\n").count();
    text.matches(['\n', '\r']).count() - crlf
}

/// The nearest character border at or before `at`.
fn floor(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(text: &str, span: Range<usize>) -> Fault {
        let faults = Faults::default();
        let source = faults.open("a.toml", text);
        faults.at(&Place { source, span }, "k", "wrong", "mend it");
        faults.into_found().remove(0)
    }

    #[test]
    fn columns_count_characters_and_lines_every_line_end() {
        let text = "a = 1\r\nb = 2\rname = \"é\" # jet\n";
        let at = text.find("jet").unwrap();
        let fault = one(text, at..at + 3);
        assert_eq!((fault.line, fault.column), (3, 14));
        assert_eq!(
            fault.to_string(),
            "a.toml:3:14: wrong\n  3 | name = \"é\" # jet\n    |              ^^^\n  mend it"
        );
    }

    #[test]
    fn a_place_outside_the_text_or_inside_a_character_is_brought_in() {
        assert_eq!(one("", 7..9).line, 1);
        assert_eq!(one("é", 1..1).column, 1);
    }

    #[test]
    fn a_long_line_is_cut_with_the_place_in_sight() {
        let text = format!("{}JET{}", "x".repeat(5000), "y".repeat(5000));
        let fault = one(&text, 5000..5003);
        assert!(fault.excerpt.chars().count() < 120, "{}", fault.excerpt);
        let marked: String = fault.excerpt.chars().skip(fault.caret_at).take(fault.caret_width).collect();
        assert_eq!(marked, "JET");
        assert_eq!(fault.column, 5001);
    }
}
