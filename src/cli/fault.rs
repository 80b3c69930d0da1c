//! What a person is told when something is wrong, and the one table of exit codes.

use super::console::Console;
use std::io;
use std::process::ExitCode;

/// How a command that ran to its end came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done,
    /// The answer is "no": a check failed, no advice is possible.
    No,
    /// Interrupted; the session is whole.
    Interrupted,
}

/// A command that could not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum Fault {
    /// What was given cannot be used.
    #[error("{message}")]
    Input {
        /// What is wrong, where, what was expected.
        message: String,
        /// What to do about it.
        hints: Vec<String>,
    },
    /// A file or device could not be read or written.
    #[error("{doing}: {source}")]
    Io {
        /// What was being done, to what.
        doing: String,
        /// Why it failed.
        source: io::Error,
        /// What to do about it.
        hints: Vec<String>,
    },
    /// The person, or the system, asked to stop.
    #[error("stopped; everything acknowledged is in the file")]
    Interrupted,
    /// The reader of our output has gone; that is success.
    #[error("output closed")]
    OutputClosed,
}

impl Fault {
    /// Something given cannot be used.
    pub fn input(message: impl Into<String>) -> Self {
        Fault::Input { message: message.into(), hints: Vec::new() }
    }

    /// A file or device could not be read or written.
    pub fn io(doing: impl Into<String>, source: io::Error) -> Self {
        if source.kind() == io::ErrorKind::BrokenPipe {
            return Fault::OutputClosed;
        }
        Fault::Io { doing: doing.into(), source, hints: Vec::new() }
    }

    /// This fault with a hint added: what to do.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        if let Fault::Input { hints, .. } | Fault::Io { hints, .. } = &mut self {
            hints.push(hint.into());
        }
        self
    }

    fn code(&self) -> u8 {
        match self {
            Fault::Input { .. } => 2,
            Fault::Io { .. } => 3,
            Fault::Interrupted => 130,
            Fault::OutputClosed => 0,
        }
    }
}

/// Writing our own output failed.
impl From<io::Error> for Fault {
    fn from(source: io::Error) -> Self {
        Fault::io("could not write the answer", source)
    }
}

impl Exit {
    fn code(self) -> u8 {
        match self {
            Exit::Done => 0,
            Exit::No => 1,
            Exit::Interrupted => 130,
        }
    }
}

/// Ends a command that ran to its end.
pub(super) fn finish(console: &mut Console, exit: Exit) -> ExitCode {
    match console.flush() {
        Ok(()) => ExitCode::from(exit.code()),
        Err(error) => report(console, &Fault::from(error)),
    }
}

/// Says what went wrong on stderr and gives the code.
pub(super) fn report(console: &mut Console, fault: &Fault) -> ExitCode {
    if !matches!(fault, Fault::OutputClosed) {
        console.complain(&fault.to_string());
        if let Fault::Input { hints, .. } | Fault::Io { hints, .. } = fault {
            for hint in hints {
                console.complain(&format!("  {hint}"));
            }
        }
    }
    ExitCode::from(fault.code())
}

/// Usage, help and version, as clap words them.
pub(super) fn leave_with_usage(refusal: &clap::Error) -> ExitCode {
    // A closed pipe under --help is success like any other.
    let _ = refusal.print();
    ExitCode::from(if refusal.use_stderr() { 2 } else { 0 })
}
