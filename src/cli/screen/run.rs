//! The loop: takes what comes from the line and the keys, draws when something changed, at most ten times a second.

use super::feed::{Fed, Feed};
use super::gauges::{Gauge, Gauges, Task};
use super::render::{Look, render};
use super::state::{Screen, Sound};
use super::terminal;
use crate::units::TimeSpan;
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use ratatui::crossterm::event::{self, Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use std::io::{self, Stdout, Write, stdout};
use std::time::Duration;

/// Why the screen was left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Left {
    /// The person has had enough, or takes what is shown.
    Done,
    /// The person wants to type instead.
    Typing,
    /// Ctrl-C.
    Interrupted,
}

/// Drawn no more often than this, s.
const DRAWN_EVERY_S: f64 = 0.1;
/// How long the line is waited for before the keys are looked at.
const WAIT: Duration = Duration::from_millis(40);

/// Shows a live line until the person leaves; `keep` is given the bytes of the line as they come.
pub fn show(
    feed: &mut Feed,
    gauges: &mut Gauges,
    task: &Task,
    look: Look,
    mut keep: impl FnMut(&[u8]) -> io::Result<()>,
) -> io::Result<Left> {
    let mut face = Face::take(look)?;
    // Something has changed that is not drawn yet.
    let mut waiting = true;
    loop {
        let mut changed = false;
        match feed.next(WAIT) {
            Some(Fed::Rows(rows, bytes)) => {
                keep(&bytes)?;
                changed = !rows.is_empty();
                face.sound(gauges.rows(feed.now(), &rows))?;
            }
            Some(Fed::Trouble(said)) => {
                gauges.line(Some(said));
                changed = true;
            }
            Some(Fed::Well) => {
                gauges.line(None);
                changed = true;
            }
            Some(Fed::Ended) => {
                gauges.line(Some("The line has ended.".to_owned()));
                changed = true;
            }
            None => {}
        }
        changed |= gauges.tick(feed.now());
        while let Some(key) = key()? {
            if key.modifiers.contains(KeyModifiers::CONTROL) && key.code == KeyCode::Char('z') {
                crate::cli::guide::put_aside();
                continue;
            }
            if let Some(left) = left(task, key) {
                return Ok(left);
            }
            if let Some(gauge) = chosen(task, key) {
                gauges.choose(gauge);
                changed = true;
            }
        }
        if terminal::draw_all() {
            face.forget()?;
            changed = true;
        }
        waiting |= changed;
        if face.resized()? || waiting {
            waiting = !face.draw(gauges.screen(), feed.now())?;
        }
    }
}

/// A key, if one was pressed.
fn key() -> io::Result<Option<KeyEvent>> {
    while event::poll(Duration::ZERO)? {
        if let Event::Key(key) = event::read()?
            && key.kind != KeyEventKind::Release
        {
            return Ok(Some(key));
        }
    }
    Ok(None)
}

fn left(task: &Task, key: KeyEvent) -> Option<Left> {
    if key.modifiers.contains(KeyModifiers::CONTROL) && matches!(key.code, KeyCode::Char('c' | 'd')) {
        return Some(Left::Interrupted);
    }
    match (task, key.code) {
        (Task::Watch, KeyCode::Char('q') | KeyCode::Esc) => Some(Left::Done),
        (Task::Watch, _) => None,
        (Task::Read(_) | Task::Record(_), KeyCode::Enter) => Some(Left::Done),
        (Task::Read(_), _) | (Task::Record(_), KeyCode::Esc) => Some(Left::Typing),
        (Task::Record(_), _) => None,
    }
}

#[expect(clippy::option_option, reason = "no key of this kind; all gauges; one")]
fn chosen(task: &Task, key: KeyEvent) -> Option<Option<Gauge>> {
    if matches!(task, Task::Read(_)) {
        return None;
    }
    match key.code {
        KeyCode::Char('v') => Some(Some(Gauge::Vacuum)),
        KeyCode::Char('l') => Some(Some(Gauge::Lambda)),
        KeyCode::Char('s') => Some(Some(Gauge::Speed)),
        KeyCode::Char('a') => Some(None),
        _ => None,
    }
}

/// The terminal, taken; given back when dropped.
struct Face {
    terminal: Terminal<CrosstermBackend<Stdout>>,
    look: Look,
    drawn_s: f64,
    size: (u16, u16),
    shown: Option<Screen>,
}

impl Face {
    fn take(look: Look) -> io::Result<Self> {
        terminal::take()?;
        let made = Terminal::new(CrosstermBackend::new(stdout()));
        let terminal = made.inspect_err(|_| terminal::give_back())?;
        Ok(Self { terminal, look, drawn_s: f64::NEG_INFINITY, size: (0, 0), shown: None })
    }

    /// Whether the window has another size than what was drawn. It is asked for, not waited for: the signal that tells
    /// of it goes to the thread that takes signals.
    fn resized(&self) -> io::Result<bool> {
        Ok(ratatui::crossterm::terminal::size()? != self.size)
    }

    /// What was drawn is gone. A terminal of its own again, for clearing the old one asks the terminal where its cursor
    /// is, and waits for an answer.
    fn forget(&mut self) -> io::Result<()> {
        let _held = terminal::drawing();
        self.terminal = Terminal::new(CrosstermBackend::new(stdout()))?;
        (self.drawn_s, self.shown) = (f64::NEG_INFINITY, None);
        Ok(())
    }

    /// Draws what has changed, unless it was drawn a moment ago; whether nothing is left to draw.
    fn draw(&mut self, screen: Screen, now: TimeSpan) -> io::Result<bool> {
        if !terminal::is_on() {
            return Err(io::Error::other("the terminal was given back"));
        }
        let size = ratatui::crossterm::terminal::size()?;
        if size == self.size && self.shown.as_ref() == Some(&screen) {
            return Ok(true);
        }
        if now.as_s() - self.drawn_s < DRAWN_EVERY_S {
            return Ok(false);
        }
        let _held = terminal::drawing();
        self.terminal.draw(|frame| render(&screen, self.look, frame.area(), frame.buffer_mut()))?;
        (self.drawn_s, self.size, self.shown) = (now.as_s(), size, Some(screen));
        Ok(true)
    }

    #[expect(clippy::unused_self, reason = "there is no bell without the terminal")]
    fn sound(&mut self, sound: Sound) -> io::Result<()> {
        if sound == Sound::Silence {
            return Ok(());
        }
        let _held = terminal::drawing();
        stdout().write_all(sound.bell().as_bytes())?;
        stdout().flush()
    }
}

impl Drop for Face {
    fn drop(&mut self) {
        terminal::give_back();
    }
}
