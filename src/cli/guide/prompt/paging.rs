//! A page at a time: nothing runs off the screen before a key says that it was read.

use super::PromptHands;
use crate::cli::console::printable;
use crate::cli::guide::hands::HandsError;
use crate::cli::guide::pages::pages;
use crate::cli::layout::wrap;
use std::io;

impl PromptHands {
    /// Lines of one page: what is to be read before a key is waited for.
    fn page(&self) -> usize {
        // Terminals that do not say how large they are are as large as terminals are.
        Some(usize::from(self.term.size().0)).filter(|rows| *rows >= 8).unwrap_or(24) - 1
    }

    /// Waits for a key, and begins a page.
    fn turn_page(&self) -> io::Result<()> {
        // Whoever is gone, or has had enough, is met at the next question.
        match self.line("  More (Enter)", None) {
            Err(HandsError::Lost(source)) => Err(source),
            _ => Ok(()),
        }
    }

    /// Writes one line. When the screen is full of what nobody has had a key pressed under, a key is waited for.
    pub(super) fn put(&self, line: &str) -> io::Result<()> {
        if self.shown.get() >= self.page() {
            self.turn_page()?;
        }
        self.shown.set(self.shown.get() + 1);
        self.term.write_line(line)
    }

    /// Writes what belongs together, on one page where one holds it.
    pub(super) fn put_together<T: AsRef<str>>(&self, lines: &[T]) -> io::Result<()> {
        let page = self.page();
        if self.shown.get() + lines.len() > page && lines.len() < page && self.shown.get() > 1 {
            self.turn_page()?;
        }
        lines.iter().try_for_each(|line| self.put(line.as_ref()))
    }

    /// Writes a paragraph, its first line after `mark`; a page is turned before it, or at the end of a sentence.
    pub(super) fn put_paragraph(&self, text: &str, mark: &str, indent: usize) -> io::Result<()> {
        let width = self.width.saturating_sub(indent);
        let first = self.page().saturating_sub(self.shown.get());
        for (n, part) in pages(text, width, first, self.page() - 1).iter().enumerate() {
            let lines = wrap(part, width).into_iter().enumerate().map(|(i, line)| {
                let mark = if n + i == 0 { mark } else { "" };
                format!("{mark:indent$}{}", printable(&line))
            });
            self.put_together(&lines.collect::<Vec<_>>())?;
        }
        Ok(())
    }

    pub(super) fn write(&self, text: &str, indent: usize) -> io::Result<()> {
        text.lines().try_for_each(|paragraph| self.put_paragraph(paragraph, "", indent))
    }
}
