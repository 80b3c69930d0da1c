//! Leaving well on a signal: the terminal as it was, the file whole, one line said. Put aside with Ctrl-Z and brought
//! back with fg: the terminal as it was meanwhile, and drawn again.
//!
//! Signals are kept away from the thread that prompts (the prompt library turns any interrupted read into an interrupt
//! of the whole program) and taken by a thread of their own. What was acknowledged is already on the disk, so that
//! thread only waits for a write in progress, restores the terminal and leaves.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

static WRITING: Mutex<()> = Mutex::new(());
static CAME_BACK: AtomicBool = AtomicBool::new(false);

/// Held while an event is being written and synced.
pub(super) fn hold() -> MutexGuard<'static, ()> {
    WRITING.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Whether the program was put aside and has come back since this was last asked: what was on the terminal is gone.
pub(super) fn came_back() -> bool {
    CAME_BACK.swap(false, Ordering::AcqRel)
}

/// Interrupts the program, as Ctrl-C does where the terminal still sees to that itself, and gives the thread that takes
/// signals the time to leave.
#[cfg(unix)]
pub(super) fn interrupt() {
    use nix::sys::signal::{Signal, kill};
    if kill(nix::unistd::Pid::this(), Signal::SIGINT).is_ok() {
        std::thread::sleep(Duration::from_secs(1));
    }
}

/// Elsewhere whoever asked returns.
#[cfg(not(unix))]
pub(super) fn interrupt() {}

/// Puts the program aside, as Ctrl-Z does where the terminal still sees to that itself.
#[cfg(unix)]
pub fn put_aside() {
    use nix::sys::signal::{Signal, kill};
    // A system that cannot stop us lets us go on.
    let _ = kill(nix::unistd::Pid::this(), Signal::SIGTSTP);
}

/// Elsewhere there is nothing to put a program aside with.
#[cfg(not(unix))]
pub fn put_aside() {}

/// From here on, an interrupt, a hang-up or a request to end leaves within half a second, saying `parting`.
#[cfg(unix)]
pub fn leave_well(parting: String) {
    use nix::sys::signal::{SigSet, Signal};
    use nix::sys::termios;
    let mut kept = SigSet::empty();
    for signal in [
        Signal::SIGINT,
        Signal::SIGTERM,
        Signal::SIGHUP,
        Signal::SIGWINCH,
        Signal::SIGQUIT,
        Signal::SIGTSTP,
        Signal::SIGCONT,
    ] {
        kept.add(signal);
    }
    let before = termios::tcgetattr(std::io::stdin()).ok();
    if kept.thread_block().is_err() {
        return;
    }
    std::thread::spawn(move || {
        loop {
            let Ok(signal) = kept.wait() else { continue };
            match signal {
                Signal::SIGWINCH | Signal::SIGCONT => continue,
                Signal::SIGTSTP => {
                    stop(before.as_ref());
                    continue;
                }
                _ => {}
            }
            for _ in 0..40 {
                if WRITING.try_lock().is_ok() {
                    break;
                }
                std::thread::sleep(Duration::from_millis(10));
            }
            crate::cli::screen::leave_screen();
            if let Some(before) = &before {
                let _ = termios::tcsetattr(std::io::stdin(), termios::SetArg::TCSANOW, before);
            }
            let _ = console::Term::stderr().show_cursor();
            if signal != Signal::SIGHUP {
                use std::io::Write;
                let _ = writeln!(std::io::stderr(), "\n{parting}");
            }
            crate::cli::console::leave(130);
        }
    });
}

/// Stops here with the terminal as it was before us, until somebody brings us back; then takes it again.
#[cfg(unix)]
fn stop(before: Option<&nix::sys::termios::Termios>) {
    use nix::sys::signal::{SigSet, Signal, kill};
    use nix::sys::termios;
    use std::io::Write;
    let _held = hold();
    let screen = crate::cli::screen::pause_screen();
    let now = termios::tcgetattr(std::io::stdin()).ok();
    if let Some(before) = before {
        let _ = termios::tcsetattr(std::io::stdin(), termios::SetArg::TCSANOW, before);
    }
    let _ = console::Term::stderr().show_cursor();
    let _ = writeln!(std::io::stderr(), "\nPut aside; fg brings it back.");
    // The stop takes hold of the whole program a moment after it was asked for: what brings us back is waited for.
    let mut back = SigSet::empty();
    back.add(Signal::SIGCONT);
    if kill(nix::unistd::Pid::this(), Signal::SIGSTOP).is_ok() {
        let _ = back.wait();
    }
    // Brought back. Put into the background instead, the terminal is not ours to set.
    if let Some(now) = &now {
        let _ = termios::tcsetattr(std::io::stdin(), termios::SetArg::TCSANOW, now);
    }
    if let Some(screen) = screen {
        screen.again();
    }
    CAME_BACK.store(true, Ordering::Release);
}

/// Elsewhere the system's own way of ending has to do.
#[cfg(not(unix))]
pub fn leave_well(_parting: String) {}
