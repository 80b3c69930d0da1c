//! One line typed at the terminal. The prompt library dresses it; the keys are read here, because its own reader can
//! neither be put aside with Ctrl-Z nor let anything else be watched while it waits.

use super::signals;
use crate::cli::screen::Sound;
use console::Term;
use dialoguer::theme::{SimpleTheme, Theme};
use ratatui::crossterm::event::{self, Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use ratatui::crossterm::terminal::{disable_raw_mode, enable_raw_mode};
use std::io::{self, BufRead};
use std::time::Duration;

/// Why there is no line.
#[derive(Debug)]
pub(super) enum NoLine {
    /// Ctrl-C.
    Interrupted,
    /// Ctrl-D, or the end of what can be typed.
    End,
    /// The terminal cannot be used.
    Lost(io::Error),
}

impl From<io::Error> for NoLine {
    fn from(source: io::Error) -> Self {
        match source.kind() {
            io::ErrorKind::Interrupted => NoLine::Interrupted,
            io::ErrorKind::UnexpectedEof | io::ErrorKind::NotConnected => NoLine::End,
            _ => NoLine::Lost(source),
        }
    }
}

/// Something to be said and heard while a line is being typed.
pub(super) struct Alert {
    /// What to say; nothing when it has been said.
    pub(super) said: Option<String>,
    /// What to sound.
    pub(super) sound: Sound,
}

/// How long the keys are waited for before anything else is looked at.
const WAIT: Duration = Duration::from_millis(50);

/// Asks for one line; Enter alone gives an empty one, for the default that was shown. `meanwhile` is asked all the time
/// whether something must be said.
pub(super) fn ask(
    term: &Term,
    prompt: &str,
    default: Option<&str>,
    meanwhile: &mut dyn FnMut() -> Option<Alert>,
) -> Result<String, NoLine> {
    let mut asking = String::new();
    let _ = SimpleTheme.format_input_prompt(&mut asking, prompt, default);
    let typed = if std::env::var("TERM").is_ok_and(|t| t == "dumb") {
        plain(term, &asking)
    } else {
        let _raw = Raw::take()?;
        Typing { term, asking, text: String::new() }.until_enter(meanwhile)
    };
    let typed = typed.inspect_err(|none| {
        if matches!(none, NoLine::Interrupted) {
            signals::interrupt();
        }
    })?;
    let line = if typed.trim().is_empty() { default.unwrap_or_default() } else { &typed };
    if !std::env::var("TERM").is_ok_and(|t| t == "dumb") {
        let mut answered = String::new();
        // What Enter would have done is no longer of use.
        let asked = prompt.split(" (Enter").next().unwrap_or(prompt);
        let _ = SimpleTheme.format_input_prompt_selection(&mut answered, asked, line);
        term.clear_line()?;
        term.write_line(&answered)?;
    }
    Ok(typed)
}

/// A terminal that can do nothing: the system reads the line.
fn plain(term: &Term, asking: &str) -> Result<String, NoLine> {
    term.write_str(asking)?;
    let mut line = String::new();
    if io::stdin().lock().read_line(&mut line)? == 0 {
        return Err(NoLine::End);
    }
    Ok(line)
}

/// Keys come one by one while this is held.
struct Raw;

impl Raw {
    fn take() -> io::Result<Self> {
        enable_raw_mode()?;
        Ok(Raw)
    }
}

impl Drop for Raw {
    fn drop(&mut self) {
        // A terminal that has gone away needs nothing back.
        let _ = disable_raw_mode();
    }
}

struct Typing<'a> {
    term: &'a Term,
    asking: String,
    text: String,
}

impl Typing<'_> {
    fn until_enter(mut self, meanwhile: &mut dyn FnMut() -> Option<Alert>) -> Result<String, NoLine> {
        self.show()?;
        loop {
            if signals::came_back() {
                self.term.write_str("\r\n")?;
                self.show()?;
            }
            if let Some(alert) = meanwhile() {
                self.alert(&alert)?;
            }
            if !event::poll(WAIT)? {
                continue;
            }
            match event::read()? {
                Event::Key(key) if key.kind != KeyEventKind::Release && self.key(key)? => {
                    return Ok(self.text);
                }
                Event::Paste(text) => {
                    self.text.extend(text.chars().filter(|c| !c.is_control()));
                    self.show()?;
                }
                Event::Resize(..) => self.show()?,
                _ => {}
            }
        }
    }

    /// Takes a key; whether the line is done.
    fn key(&mut self, key: KeyEvent) -> Result<bool, NoLine> {
        let control = key.modifiers.contains(KeyModifiers::CONTROL);
        match key.code {
            // A line feed, as pasted text has it, comes as Ctrl-J.
            KeyCode::Enter => return Ok(true),
            KeyCode::Char('j' | 'm') if control => return Ok(true),
            KeyCode::Char('c') if control => {
                self.term.write_str("\r\n")?;
                return Err(NoLine::Interrupted);
            }
            KeyCode::Char('d') if control && self.text.is_empty() => return Err(NoLine::End),
            KeyCode::Char('z') if control => signals::put_aside(),
            KeyCode::Char('u') if control => self.text.clear(),
            KeyCode::Char('w') if control => {
                let kept = self.text.trim_end().rfind(' ').map_or(0, |at| at + 1);
                self.text.truncate(kept);
            }
            KeyCode::Backspace => {
                self.text.pop();
            }
            KeyCode::Char(c) if !control && !c.is_control() => self.text.push(c),
            _ => return Ok(false),
        }
        self.show()?;
        Ok(false)
    }

    /// The prompt and the end of what was typed, in one line.
    fn show(&self) -> io::Result<()> {
        let columns = Some(usize::from(self.term.size().1)).filter(|c| *c > 0).unwrap_or(80);
        let room = columns.saturating_sub(self.asking.chars().count() + 1).max(8);
        let typed = self.text.chars().count();
        let shown: String = self.text.chars().skip(typed.saturating_sub(room)).collect();
        self.term.clear_line()?;
        self.term.write_str(&format!("{}{shown}", self.asking))
    }

    fn alert(&self, alert: &Alert) -> io::Result<()> {
        self.term.write_str(alert.sound.bell())?;
        if let Some(said) = &alert.said {
            self.term.clear_line()?;
            self.term.write_str(&format!("{said}\r\n"))?;
            self.show()?;
        }
        self.term.flush()
    }
}
