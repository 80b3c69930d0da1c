//! Lambda at which a full-throttle pull is warned of, and stopped.
#![doc = "\n"]
#![doc = include_str!("why/limits.md")]

use super::book::{LimitKind, RuleBook};
use super::border::{above, below};
use crate::setup::{Application, Cooling, FuelFamily};
use crate::units::{Lambda, TimeSpan};
use serde::{Deserialize, Serialize};

/// Limits at full throttle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LambdaLimits {
    /// Leaner than this is warned of.
    pub warn_lean: Lambda,
    /// Leaner than this: close the throttle.
    pub stop_lean: Lambda,
    /// Richer than this is warned of.
    pub warn_rich: Lambda,
    /// Richer than this: stop, it misfires and washes the bores.
    pub stop_rich: Lambda,
    /// A limit counts when it is passed for longer than this.
    pub longer_than: TimeSpan,
    /// What they rest on.
    pub why: String,
}

/// Where a lambda stands against the limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Against {
    /// Inside.
    Inside,
    /// Beyond the lean warning.
    WarnLean,
    /// Beyond the lean stop.
    StopLean,
    /// Beyond the rich warning.
    WarnRich,
    /// Beyond the rich stop.
    StopRich,
}

impl LambdaLimits {
    /// Where `lambda` stands. A limit itself is still inside.
    pub fn judge(&self, lambda: Lambda) -> Against {
        match lambda {
            l if above(l, self.stop_lean) => Against::StopLean,
            l if above(l, self.warn_lean) => Against::WarnLean,
            l if below(l, self.stop_rich) => Against::StopRich,
            l if below(l, self.warn_rich) => Against::WarnRich,
            _ => Against::Inside,
        }
    }
}

/// Full-throttle limits of an engine. Of the lean limits that fit (fuel; air-cooled or at work) the richest holds; the rich limits
/// are the fuel's.
/// Why, and from where: see [the module](self).
pub fn full_throttle(
    application: Application,
    cooling: Cooling,
    family: FuelFamily,
    book: &RuleBook,
) -> LambdaLimits {
    let common = RuleBook::common();
    let row = |kind| {
        let found = book.limits.of(kind).or_else(|| common.limits.of(kind));
        found.copied().unwrap_or(STRICTEST)
    };
    let fuel = row(LimitKind::of_fuel(family));
    let at_work = matches!(application, Application::Marine | Application::Tow | Application::Farm);
    let hard = (cooling == Cooling::Air || at_work).then(|| row(LimitKind::HardWorked));
    let lean =
        |of: fn(&super::book::FullThrottleLimit) -> Lambda| hard.map_or(of(&fuel), |h| of(&h).min(of(&fuel)));
    let mut why = format!("{} fuel", LimitKind::of_fuel(family).name().replace("water", "gasoline"));
    if hard.is_some() {
        why.push_str(if at_work { ", worked hard for long" } else { ", air-cooled" });
        why.push_str(": the richer lean limit holds");
    }
    why.push_str(" (common practice; principle: Heywood 1988)");
    LambdaLimits {
        warn_lean: lean(|l| l.warn_lean),
        stop_lean: lean(|l| l.stop_lean),
        warn_rich: fuel.warn_rich,
        stop_rich: fuel.stop_rich,
        longer_than: book.limits.longer_than,
        why,
    }
}

/// What holds if a table had no row at all, which no book that was read has.
const STRICTEST: super::book::FullThrottleLimit = super::book::FullThrottleLimit {
    kind: LimitKind::HardWorked,
    warn_lean: Lambda::from_ratio(0.85),
    stop_lean: Lambda::from_ratio(0.90),
    warn_rich: Lambda::from_ratio(0.76),
    stop_rich: Lambda::from_ratio(0.70),
};

/// The most jet steps leaner that one change may go at full throttle: the book's, but at least none.
pub fn jet_steps_leaner(book: &RuleBook) -> u8 {
    book.limits.jet_steps_leaner_at_full_throttle
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(a: Application, c: Cooling, f: FuelFamily) -> LambdaLimits {
        full_throttle(a, c, f, &RuleBook::common())
    }

    #[test]
    fn both_sides_of_every_limit() {
        let l = of(Application::Street, Cooling::Water, FuelFamily::Gasoline);
        let at = |x| l.judge(Lambda::from_ratio(x));
        assert_eq!((at(0.90), at(0.9001)), (Against::Inside, Against::WarnLean));
        assert_eq!((at(0.93), at(0.9301)), (Against::WarnLean, Against::StopLean));
        assert_eq!((at(0.76), at(0.7599)), (Against::Inside, Against::WarnRich));
        assert_eq!((at(0.70), at(0.6999)), (Against::WarnRich, Against::StopRich));
    }

    #[test]
    fn hard_work_and_air_cooling_are_kept_richer() {
        for (a, c) in [
            (Application::Marine, Cooling::Water),
            (Application::Tow, Cooling::Water),
            (Application::Farm, Cooling::Water),
            (Application::Street, Cooling::Air),
            (Application::Race, Cooling::Air),
        ] {
            let l = of(a, c, FuelFamily::Gasoline);
            assert_eq!((l.warn_lean.as_ratio(), l.stop_lean.as_ratio()), (0.87, 0.90), "{a:?} {c:?}");
        }
        let race = of(Application::Race, Cooling::Water, FuelFamily::Gasoline);
        assert_eq!((race.warn_lean.as_ratio(), race.stop_lean.as_ratio()), (0.90, 0.93));
    }

    #[test]
    fn where_two_fit_the_richer_holds() {
        let l = of(Application::Marine, Cooling::Water, FuelFamily::Ethanol);
        assert_eq!((l.warn_lean.as_ratio(), l.stop_lean.as_ratio()), (0.87, 0.90));
        let m = of(Application::Marine, Cooling::Water, FuelFamily::Methanol);
        assert_eq!((m.warn_lean.as_ratio(), m.stop_lean.as_ratio()), (0.85, 0.90));
        assert_eq!((m.warn_rich.as_ratio(), m.stop_rich.as_ratio()), (0.70, 0.65));
    }

    #[test]
    fn one_jet_step_is_the_most() {
        assert_eq!(jet_steps_leaner(&RuleBook::common()), 1);
    }
}
