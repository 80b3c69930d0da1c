//! Lays a page of the manual out: paragraphs wrapped, items hung under their mark, examples as they stand.

use crate::report::lines;

/// A page being written.
pub(super) struct Page {
    lines: Vec<String>,
    width: usize,
}

impl Page {
    pub(super) fn new(title: &str, width: usize) -> Self {
        Self { lines: vec![title.to_owned()], width: width.max(40) }
    }

    /// A heading after an empty line.
    pub(super) fn heading(&mut self, text: &str) {
        self.space();
        self.lines.push(text.to_owned());
    }

    /// Paragraphs with an empty line between them; lines behind a dash hang, lines set in by four stand as they are.
    pub(super) fn text(&mut self, text: &str) {
        let mut open: Option<(String, String)> = None;
        let mut gap = true;
        for line in text.lines() {
            let example = line.starts_with("    ");
            let item = line.strip_prefix("- ");
            if (line.is_empty() || example || item.is_some())
                && let Some((mark, words)) = open.take()
            {
                self.put(&mark, &words, &mut gap);
            }
            if line.is_empty() {
                gap = true;
            } else if example {
                self.gap(&mut gap);
                self.lines.push(line.to_owned());
            } else if let Some(item) = item {
                open = Some(("- ".to_owned(), item.to_owned()));
            } else {
                let (_, words) = open.get_or_insert_with(Default::default);
                if !words.is_empty() {
                    words.push(' ');
                }
                words.push_str(line.trim());
            }
        }
        if let Some((mark, words)) = open {
            self.put(&mark, &words, &mut gap);
        }
    }

    /// One item: `mark`, then words hung under themselves (or, where the mark is long, under four columns).
    pub(super) fn item(&mut self, mark: &str, words: &str) {
        let hang = if mark.chars().count() > 8 { 4 } else { mark.chars().count() };
        let mut line = mark.to_owned();
        let mut empty = true;
        for word in lines::words(words) {
            if !empty && line.chars().count() + 1 + word.chars().count() > self.width {
                self.lines.push(std::mem::replace(&mut line, " ".repeat(hang)).trim_end().to_owned());
                empty = true;
            }
            if !empty {
                line.push(' ');
            }
            line.push_str(&word);
            empty = false;
        }
        self.lines.push(line.trim_end().to_owned());
    }

    /// A line that must not be wrapped.
    pub(super) fn as_it_is(&mut self, line: &str) {
        if line.trim().is_empty() {
            self.space();
        } else {
            self.lines.push(line.trim_end().to_owned());
        }
    }

    /// An empty line, where there is none yet.
    fn space(&mut self) {
        if self.lines.last().is_some_and(|l| !l.is_empty()) {
            self.lines.push(String::new());
        }
    }

    pub(super) fn lines(self) -> Vec<String> {
        self.lines
    }

    fn gap(&mut self, wanted: &mut bool) {
        if std::mem::take(wanted) {
            self.space();
        }
    }

    fn put(&mut self, mark: &str, words: &str, gap: &mut bool) {
        self.gap(gap);
        self.item(mark, words);
    }
}
