//! What stands on the screen: plain data.

use crate::trace::live::AlarmLevel;

/// Everything the screen shows.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Screen {
    /// The number that matters now; `None` before there is any.
    pub number: Option<BigNumber>,
    /// What it should be.
    pub aim: Option<String>,
    /// Where it is going.
    pub trend: Option<Trend>,
    /// What to do next.
    pub next: String,
    /// What is still missing.
    pub lacks: Vec<String>,
    /// What must be acted on before anything else.
    pub danger: Option<Danger>,
    /// What is wrong with the line or a sensor.
    pub trouble: Option<String>,
    /// The keys that do something.
    pub keys: String,
}

/// A number to be drawn large.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BigNumber {
    /// What it is of: "Vacuum".
    pub name: &'static str,
    /// Its unit; empty for a ratio.
    pub unit: &'static str,
    /// The digits, right-aligned to the width of `widest`.
    pub text: String,
    /// The widest number there is room for, so that the digits stay where they are.
    pub widest: &'static str,
}

impl BigNumber {
    /// A value with so many decimals; dashes where there is none, or none that could be shown.
    pub fn of(
        name: &'static str,
        unit: &'static str,
        value: Option<f64>,
        decimals: usize,
        widest: &'static str,
    ) -> Self {
        let text = match value.filter(|v| v.is_finite() && v.abs() < 1e5) {
            Some(value) => crate::units::show::fixed(value, decimals),
            None => widest.replace('0', "-"),
        };
        Self { name, unit, text: format!("{text:>width$}", width = widest.len()), widest }
    }
}

/// Which way a number goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Up.
    Rising,
    /// Down.
    Falling,
    /// Neither.
    Steady,
}

/// Where a number is going.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trend {
    /// Which way.
    pub way: Way,
    /// In words: "rising, +0.4 in 5 s".
    pub said: String,
}

/// The lean alarm.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Danger {
    /// How bad.
    pub level: AlarmLevel,
    /// The reading and the limit.
    pub said: String,
}

/// What is to be heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Sound {
    /// Nothing.
    #[default]
    Silence,
    /// One bell: a reading can be taken.
    Ready,
    /// Three bells, again and again: act at once.
    Danger,
}

impl Sound {
    /// What a terminal makes of it.
    pub const fn bell(self) -> &'static str {
        match self {
            Sound::Silence => "",
            Sound::Ready => "\u{7}",
            Sound::Danger => "\u{7}\u{7}\u{7}",
        }
    }
}
