//! The standard streams: one place that writes, and knows whether anyone is looking.

use super::args::Global;
use crate::report::sink::unseen;
use crate::units::System;
use std::io::{self, IsTerminal, Write};

/// Where a command writes: the answer to stdout, everything else to stderr.
pub struct Console {
    out: Box<dyn Write>,
    err: Box<dyn Write>,
    /// Units to show.
    pub system: System,
    /// One JSON object instead of text.
    pub json: bool,
    /// Folder of profiles given on the command line.
    pub profiles: Option<std::path::PathBuf>,
    /// Columns to lay text out in.
    pub width: usize,
    /// Plain ASCII only.
    pub ascii: bool,
}

impl Console {
    /// The process's own streams.
    pub(super) fn standard(global: &Global) -> Self {
        let (_, columns) = console::Term::stdout().size();
        let width = if io::stdout().is_terminal() { usize::from(columns).clamp(40, 120) } else { 80 };
        Self {
            out: Box::new(io::BufWriter::new(io::stdout())),
            err: Box::new(io::stderr()),
            system: global.units.map_or(System::Us, Into::into),
            json: global.json,
            profiles: global.profiles.clone(),
            width,
            ascii: global.ascii || std::env::var("TERM").is_ok_and(|t| t == "dumb"),
        }
    }

    /// Writes one line of the answer.
    pub fn say(&mut self, line: &str) -> io::Result<()> {
        writeln!(self.out, "{}", printable(line))
    }

    /// Writes the answer as one JSON object.
    pub fn answer_json(&mut self, value: &serde_json::Value) -> io::Result<()> {
        serde_json::to_writer(&mut self.out, value)?;
        writeln!(self.out)
    }

    /// Writes bytes of the answer as they are.
    pub fn raw(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.out.write_all(bytes)
    }

    /// Writes a line to stderr; a stderr that cannot be written is not worth dying for.
    pub fn complain(&mut self, line: &str) {
        let _ = writeln!(self.err, "{}", printable(line));
    }

    /// Sends what is buffered.
    pub fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// Text as it may be shown: whatever would move a cursor, hide text or turn it round is written out instead.
pub(super) fn printable(text: &str) -> std::borrow::Cow<'_, str> {
    let safe = |c: char| c == '\n' || !unseen(c);
    if text.chars().all(safe) {
        return text.into();
    }
    text.chars()
        .map(|c| if safe(c) { c.to_string() } else { c.escape_unicode().to_string() })
        .collect::<String>()
        .into()
}

/// Leaves the program at once, from whatever thread; the caller has put the terminal back.
pub(super) fn leave(code: i32) -> ! {
    #[expect(
        clippy::disallowed_methods,
        reason = "the one place that may: the terminal is restored by the caller"
    )]
    std::process::exit(code)
}

#[cfg(test)]
mod tests {
    use super::printable;

    #[test]
    fn nothing_that_steers_a_terminal_gets_through() {
        assert_eq!(printable("plain ± text\nnext"), "plain ± text\nnext");
        assert_eq!(printable("\u{1b}[2J"), "\\u{1b}[2J");
        assert_eq!(printable("a\u{202e}b\u{9b}c\r"), "a\\u{202e}b\\u{9b}c\\u{d}");
    }
}
