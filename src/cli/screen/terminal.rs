//! The terminal while the screen is on, and how it is given back: at the end, after a panic, on a signal.

use ratatui::crossterm::cursor::{Hide, Show};
use ratatui::crossterm::execute;
use ratatui::crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use std::io::{self, stdout};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, Once, PoisonError};
use std::time::Duration;

static ON: AtomicBool = AtomicBool::new(false);
static AGAIN: AtomicBool = AtomicBool::new(false);
static DRAWING: Mutex<()> = Mutex::new(());
static HOOK: Once = Once::new();

/// Whether the screen is on.
pub(super) fn is_on() -> bool {
    ON.load(Ordering::Acquire)
}

/// Whether the screen was on until now; it is held to be off from here.
pub(super) fn was_on() -> bool {
    ON.swap(false, Ordering::AcqRel)
}

/// Held while drawing, so that nothing is drawn on a terminal that is being given back.
pub(super) fn drawing() -> MutexGuard<'static, ()> {
    DRAWING.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Takes the terminal.
pub(super) fn take() -> io::Result<()> {
    HOOK.call_once(|| {
        super::abort::watch_for_aborts();
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            give_back();
            before(info);
        }));
    });
    // On before anything is changed: a signal between the two then gives back what may not have been taken, which
    // does no harm; the other way round it would not give back what was.
    ON.store(true, Ordering::Release);
    let taken = enable_raw_mode().and_then(|()| execute!(stdout(), EnterAlternateScreen, Hide));
    if taken.is_err() {
        give_back();
    }
    taken
}

/// Gives the terminal back; once, whoever comes first.
pub(super) fn give_back() {
    if was_on() {
        // A terminal that has gone away needs nothing back.
        let _ = disable_raw_mode();
        let _ = execute!(stdout(), LeaveAlternateScreen, Show);
    }
}

/// The screen, put aside: nothing is drawn while this is held.
pub struct Paused {
    _drawing: MutexGuard<'static, ()>,
}

/// Puts the screen aside from another thread, when it is on.
pub fn pause_screen() -> Option<Paused> {
    if !is_on() {
        return None;
    }
    let held = drawing();
    let _ = execute!(stdout(), LeaveAlternateScreen, Show);
    Some(Paused { _drawing: held })
}

impl Paused {
    /// Takes the screen again; all of it has to be drawn anew.
    pub fn again(self) {
        let _ = execute!(stdout(), EnterAlternateScreen, Hide);
        AGAIN.store(true, Ordering::Release);
    }
}

/// Whether all has to be drawn anew; asked once.
pub(super) fn draw_all() -> bool {
    AGAIN.swap(false, Ordering::AcqRel)
}

/// Gives the terminal back from another thread, for good: whatever is being drawn is waited for (not for ever), and
/// nothing is drawn after it.
pub fn leave_screen() {
    if !is_on() {
        return;
    }
    for _ in 0..20 {
        match DRAWING.try_lock() {
            Ok(held) => {
                std::mem::forget(held);
                break;
            }
            Err(_) => std::thread::sleep(Duration::from_millis(10)),
        }
    }
    give_back();
}
