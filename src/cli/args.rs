//! The command line as typed.

use super::commands;
use crate::units::System;
use clap::{Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Tunes the carburetor of a four-stroke engine with you: idle, mixture screws, jets, and a record of it all.
#[derive(Debug, Parser)]
#[command(name = "leanbest", version, max_term_width = 100, after_help = EXIT_CODES, disable_help_subcommand = true)]
pub(super) struct Args {
    #[command(flatten)]
    pub(super) global: Global,
    #[command(subcommand)]
    pub(super) command: Command,
}

const EXIT_CODES: &str = "leanbest help COMMAND tells more; leanbest help lists the topics of the manual: the steps, the why behind \
each rule, your setup, carburetor, logger and rules, safety.\n\nExit codes: 0 done; 1 the answer is no; 2 bad input or usage; 3 could not read or write; \
130 interrupted (the session is whole).";

const EVERYWHERE: &str = "Options of every command";

/// Options every command takes.
#[derive(Debug, clap::Args)]
pub(super) struct Global {
    /// Units to show
    #[arg(long, global = true, help_heading = EVERYWHERE, env = "LEANBEST_UNITS", value_name = "us|metric")]
    pub(super) units: Option<Units>,
    /// Print one JSON object on stdout and nothing else
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    pub(super) json: bool,
    /// Folder of profiles to look in first
    #[arg(long, global = true, help_heading = EVERYWHERE, value_name = "DIR", env = "LEANBEST_PROFILES")]
    pub(super) profiles: Option<PathBuf>,
    /// Plain ASCII only
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    pub(super) ascii: bool,
}

/// Systems of units, as typed.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum Units {
    Us,
    Metric,
}

impl From<Units> for System {
    fn from(units: Units) -> System {
        match units {
            Units::Us => System::Us,
            Units::Metric => System::Metric,
        }
    }
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// The whole job on the virtual engine, unattended
    Demo(commands::demo::Args),
    /// The guided procedure: a new session, or the one in FILE resumed
    Guide(commands::guide::Args),
    /// The guided procedure by hand on the virtual engine
    Rehearse(commands::rehearse::Args),
    /// The mixture screws alone, from where they stand now
    Balance(commands::balance::Args),
    /// Carburetor capacity for an engine
    Size(commands::size::Args),
    /// Valve events and idle aims from a cam
    Cam(commands::cam::Args),
    /// Air density and corrections
    Air(commands::air::Args),
    /// Stoichiometry and density of a fuel
    Fuel(commands::fuel::Args),
    /// The carburetor model: mixture, flows and elasticities by air flow
    Meter(commands::meter::Args),
    /// Reads a log: faults, regimes, stations, delay
    Trace(commands::trace::Args),
    /// The next change, and the plan behind it
    Advise(commands::advise::Args),
    /// Dyno pulls: correction, averages, did it help
    Pulls(commands::pulls::Args),
    /// Live gauges, settle and lean alarm
    Watch(commands::watch::Args),
    /// A session told again, its advice recomputed
    Replay(commands::replay::Args),
    /// Two sessions or two traces side by side
    Compare(commands::compare::Args),
    /// The hand-over sheet: one self-contained page
    Sheet(commands::sheet::Args),
    /// A folder of sessions
    History(commands::history::Args),
    /// Profiles: list, show, check, new
    Profile(commands::profile::Args),
    /// Shell completions
    Completions(commands::completions::Args),
    /// The manual page
    Man(commands::man::Args),
    /// A command or a topic explained: steps, rules, your own files
    Help(commands::help::Args),
}
