//! The kinds of profile, and where one came from.

use serde::Serialize;
use std::fmt;

/// A kind of profile.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// A whole job.
    Setup,
    /// An engine.
    Engine,
    /// A carburetor.
    Carburetor,
    /// A fuel.
    Fuel,
    /// A logger's names and units.
    Logger,
    /// A table of rules.
    Rules,
}

impl Kind {
    /// All of them, setups first.
    pub const ALL: [Kind; 6] =
        [Kind::Setup, Kind::Engine, Kind::Carburetor, Kind::Fuel, Kind::Logger, Kind::Rules];

    /// The folder its profiles are in.
    pub const fn folder(self) -> &'static str {
        match self {
            Kind::Setup => "setups",
            Kind::Engine => "engines",
            Kind::Carburetor => "carburetors",
            Kind::Fuel => "fuels",
            Kind::Logger => "loggers",
            Kind::Rules => "rules",
        }
    }

    /// What one is called.
    pub const fn word(self) -> &'static str {
        match self {
            Kind::Setup => "setup",
            Kind::Engine => "engine",
            Kind::Carburetor => "carburetor",
            Kind::Fuel => "fuel",
            Kind::Logger => "logger",
            Kind::Rules => "rules",
        }
    }
}

/// Where a profile is kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "from", content = "path")]
pub enum Origin {
    /// Compiled in.
    BuiltIn,
    /// In the folder given with `--profiles`.
    Given(String),
    /// In the user's data folder.
    User(String),
    /// In a file named by its path.
    File(String),
    /// Written in the setup itself.
    Inline,
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Origin::BuiltIn => f.write_str("built-in"),
            Origin::Inline => f.write_str("in the setup"),
            Origin::Given(path) | Origin::User(path) | Origin::File(path) => f.write_str(path),
        }
    }
}

/// One profile that was used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Came {
    /// Its kind.
    pub kind: Kind,
    /// The name it was asked for by; empty when written in the setup.
    pub name: String,
    /// Where it was found.
    pub origin: Origin,
    /// The setup overrides some of its keys.
    pub overridden: bool,
}
