//! The terminal given back when the program is aborted: no memory left, a stack that ran over, a panic within a panic.
//!
//! Neither `Drop` nor the panic hook runs then, and nothing safe can: a signal handler may only call what POSIX lists
//! as safe there (POSIX.1-2017, System Interfaces, section 2.4.3: `tcsetattr` and `write` are). It is the only unsafe code
//! of the program.

#[cfg(unix)]
use std::sync::OnceLock;

#[cfg(unix)]
static BEFORE: OnceLock<nix::libc::termios> = OnceLock::new();
#[cfg(unix)]
const LEAVE: &[u8] = b"\x1b[?1049l\x1b[?25h";

/// Remembers the terminal as it is, and has it given back on an abort from here on. Does nothing without a terminal.
#[cfg(unix)]
pub(super) fn watch_for_aborts() {
    use nix::sys::signal::{SaFlags, SigAction, SigHandler, SigSet, Signal, sigaction};
    let Ok(before) = nix::sys::termios::tcgetattr(std::io::stdin()) else { return };
    if BEFORE.set(before.into()).is_err() {
        return;
    }
    // On the stack that the runtime keeps for a stack that ran over.
    let action = SigAction::new(SigHandler::Handler(give_back), SaFlags::SA_ONSTACK, SigSet::empty());
    #[expect(unsafe_code, reason = "the handler below keeps to what a handler may do")]
    // SAFETY: `give_back` takes no lock, allocates nothing and touches no state but an atomic and two system calls.
    let _ = unsafe { sigaction(Signal::SIGABRT, &action) };
}

/// Elsewhere there is no such signal.
#[cfg(not(unix))]
pub(super) fn watch_for_aborts() {}

/// When it returns, `abort` ends the program as it was about to.
#[cfg(unix)]
extern "C" fn give_back(_: nix::libc::c_int) {
    if !super::terminal::was_on() {
        return;
    }
    if let Some(before) = BEFORE.get() {
        #[expect(unsafe_code, reason = "the safe wrappers may allocate, and a handler must not")]
        // SAFETY: both calls are async-signal-safe; the pointers are to statics of the right size.
        unsafe {
            nix::libc::tcsetattr(nix::libc::STDIN_FILENO, nix::libc::TCSANOW, before);
            nix::libc::write(nix::libc::STDOUT_FILENO, LEAVE.as_ptr().cast(), LEAVE.len());
        }
    }
}
