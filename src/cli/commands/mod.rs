//! One file for each command: its arguments, and what it does.

pub mod advise;
pub mod air;
pub mod balance;
pub mod cam;
pub mod compare;
pub mod completions;
pub mod demo;
pub mod fuel;
pub mod guide;
pub mod help;
pub mod history;
mod in_session;
pub mod man;
pub mod meter;
pub mod profile;
pub mod pulls;
pub mod rehearse;
pub mod replay;
pub mod sheet;
pub mod size;
pub mod trace;
pub mod watch;

use super::args::{Args, Command};
use super::{Console, Exit, Fault};

/// Runs the command that was typed.
pub(super) fn dispatch(typed: &Args, console: &mut Console) -> Result<Exit, Fault> {
    match &typed.command {
        Command::Demo(args) => demo::run(args, console),
        Command::Guide(args) => guide::run(args, console),
        Command::Rehearse(args) => rehearse::run(args, console),
        Command::Balance(args) => balance::run(args, console),
        Command::Size(args) => size::run(args, console),
        Command::Cam(args) => cam::run(args, console),
        Command::Air(args) => air::run(args, console),
        Command::Fuel(args) => fuel::run(args, console),
        Command::Meter(args) => meter::run(args, console),
        Command::Trace(args) => trace::run(args, console),
        Command::Advise(args) => advise::run(args, console),
        Command::Pulls(args) => pulls::run(args, console),
        Command::Watch(args) => watch::run(args, console),
        Command::Replay(args) => replay::run(args, console),
        Command::Compare(args) => compare::run(args, console),
        Command::Sheet(args) => sheet::run(args, console),
        Command::History(args) => history::run(args, console),
        Command::Profile(args) => profile::run(args, console),
        Command::Completions(args) => completions::run(args, console),
        Command::Man(args) => man::run(args, console),
        Command::Help(args) => help::run(args, console),
    }
}

/// A setup that could not be had, as a person is told.
fn load_fault(error: crate::profile::LoadError) -> Fault {
    use crate::profile::LoadError;
    match error {
        LoadError::Read { path, source } => Fault::io(format!("could not read {}", path.display()), source),
        LoadError::NoSuch { ref known, .. } => {
            let hint = format!("there are: {}; or give the path of a file ending in .toml", known.join(", "));
            Fault::input(error.to_string()).hint(hint)
        }
        LoadError::Faulty(_) => Fault::input(error.to_string()),
    }
}
