//! The terminal: arguments, prompts, exit codes. No formula, no threshold, no file format lives here.

mod args;
pub mod commands;
pub(crate) mod console;
mod fault;
pub mod guide;
mod layout;
mod pictures;
mod progress;
pub mod screen;
mod typed;

pub use console::Console;
pub use fault::{Exit, Fault};

use clap::Parser;
use std::process::ExitCode;

/// Runs the program on the process's own arguments and streams.
pub fn run() -> ExitCode {
    let typed = match args::Args::try_parse() {
        Ok(typed) => typed,
        Err(refusal) => return fault::leave_with_usage(&refusal),
    };
    let mut console = Console::standard(&typed.global);
    match commands::dispatch(&typed, &mut console) {
        Ok(exit) => fault::finish(&mut console, exit),
        Err(fault) => fault::report(&mut console, &fault),
    }
}
