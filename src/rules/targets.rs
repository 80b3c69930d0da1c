//! Lambda to aim at, by regime.
#![doc = "\n"]
#![doc = include_str!("why/targets.md")]

use super::book::{RuleBook, Use};
use super::border::{above, below};
use crate::setup::{Application, Cooling, FuelFamily, Regime};
use crate::units::{CrankAngle, Lambda};
use serde::{Deserialize, Serialize};

/// A range of lambda to be in, and why that one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// Rich end.
    pub low: Lambda,
    /// Lean end.
    pub high: Lambda,
    /// Which columns of the table, and what else was weighed.
    pub why: String,
}

impl Band {
    /// Whether `lambda` lies in it, ends included.
    pub fn holds(&self, lambda: Lambda) -> bool {
        !below(lambda, self.low) && !above(lambda, self.high)
    }

    /// Its middle.
    pub fn middle(&self) -> Lambda {
        (self.low + self.high) / 2.0
    }
}

/// The columns of the tables that an engine falls under; never empty.
pub fn uses(application: Application, cooling: Cooling, family: FuelFamily) -> Vec<Use> {
    let mut uses = Vec::new();
    match family {
        FuelFamily::Ethanol => uses.push(Use::Ethanol),
        FuelFamily::Methanol => uses.push(Use::Methanol),
        FuelFamily::Gasoline => {}
    }
    if cooling == Cooling::Air {
        uses.push(Use::AirCooled);
    }
    match application {
        Application::Marine | Application::Tow | Application::Farm => uses.push(Use::Work),
        Application::Race => uses.push(Use::Race),
        Application::Street if uses.is_empty() => uses.push(Use::Street),
        Application::Street => {}
    }
    uses
}

/// The lambda band of a regime. Where an engine falls under several columns (air-cooled, at work, on ethanol) the richest
/// of each end is taken. `None` for overrun, which nothing is tuned by.
///
/// Why, and from where: see [the module](self). For tip-in this is where lambda settles; its peak is [`super::tip_in`]'s.
pub fn band(
    regime: Regime,
    application: Application,
    cooling: Cooling,
    family: FuelFamily,
    overlap: Option<CrankAngle>,
    book: &RuleBook,
) -> Option<Band> {
    let uses = uses(application, cooling, family);
    let rough = regime == Regime::Idle && overlap.is_some_and(|o| above(o, book.idle.rough_overlap));
    let spans = uses.iter().filter_map(|of| match regime {
        Regime::Overrun => None,
        Regime::TipIn => Some(book.tip_in.settle),
        Regime::Idle if rough => book.targets.overlapped(*of),
        _ => book.targets.of(regime, *of),
    });
    let span = spans.reduce(|a, b| super::book::Span { low: a.low.min(b.low), high: a.high.min(b.high) })?;
    let columns: Vec<_> = uses.iter().map(|of| of.said()).collect();
    let mut why = columns.join("; ");
    if uses.len() > 1 {
        why.push_str(" (the richer of each)");
    }
    if rough {
        why.push_str("; much overlap: leaner readings would be false");
        if uses.contains(&Use::Work) {
            why.push_str("; such a cam is better avoided at work");
        }
    }
    why.push_str("; common practice, best power 0.85 to 0.97 by NACA TR 189");
    Some(Band { low: span.low, high: span.high, why })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const APPLICATIONS: [Application; 5] =
        [Application::Street, Application::Race, Application::Marine, Application::Tow, Application::Farm];
    const FAMILIES: [FuelFamily; 3] = [FuelFamily::Gasoline, FuelFamily::Ethanol, FuelFamily::Methanol];

    fn of(r: Regime, a: Application, c: Cooling, f: FuelFamily, overlap: f64) -> Option<(f64, f64)> {
        band(r, a, c, f, Some(CrankAngle::from_deg(overlap)), &RuleBook::common())
            .map(|b| (b.low.as_ratio(), b.high.as_ratio()))
    }

    #[test]
    fn one_column_each() {
        use {Application as A, Cooling as C, FuelFamily as F, Regime as R};
        assert_eq!(of(R::Cruise, A::Street, C::Water, F::Gasoline, 0.0), Some((0.96, 1.05)));
        assert_eq!(of(R::FullThrottle, A::Race, C::Water, F::Gasoline, 0.0), Some((0.85, 0.89)));
        assert_eq!(of(R::FullThrottle, A::Marine, C::Water, F::Gasoline, 0.0), Some((0.80, 0.86)));
        assert_eq!(of(R::HeavyCruise, A::Marine, C::Water, F::Gasoline, 0.0), Some((0.88, 0.95)));
        assert_eq!(of(R::OffIdle, A::Street, C::Air, F::Gasoline, 0.0), Some((0.88, 0.95)));
        assert_eq!(of(R::TipIn, A::Street, C::Water, F::Gasoline, 0.0), Some((0.80, 0.92)));
        assert_eq!(of(R::Overrun, A::Street, C::Water, F::Gasoline, 0.0), None);
    }

    #[test]
    fn several_columns_take_the_richer() {
        use {Application as A, Cooling as C, FuelFamily as F, Regime as R};
        assert_eq!(of(R::Cruise, A::Marine, C::Water, F::Ethanol, 0.0), Some((0.92, 0.98)));
        assert_eq!(of(R::FullThrottle, A::Farm, C::Air, F::Gasoline, 0.0), Some((0.80, 0.86)));
    }

    #[test]
    fn idle_changes_beyond_fifteen_degrees_of_overlap() {
        use {Application as A, Cooling as C, FuelFamily as F, Regime as R};
        assert_eq!(of(R::Idle, A::Street, C::Water, F::Gasoline, 15.0), Some((0.92, 1.00)));
        assert_eq!(of(R::Idle, A::Street, C::Water, F::Gasoline, 15.1), Some((0.82, 0.92)));
        assert_eq!(of(R::Cruise, A::Street, C::Water, F::Gasoline, 40.0), Some((0.96, 1.05)));
    }

    #[test]
    fn every_target_is_inside_the_limits() {
        let book = RuleBook::common();
        for a in APPLICATIONS {
            for c in [Cooling::Water, Cooling::Air] {
                for f in FAMILIES {
                    let b = band(Regime::FullThrottle, a, c, f, None, &book).unwrap();
                    let l = crate::rules::limits::full_throttle(a, c, f, &book);
                    assert!(b.high <= l.warn_lean && b.low >= l.warn_rich, "{a:?} {c:?} {f:?} {b:?} {l:?}");
                }
            }
        }
    }

    proptest! {
        #[test]
        fn more_load_is_never_aimed_leaner(a in 0usize..5, f in 0usize..3, air in any::<bool>()) {
            let c = if air { Cooling::Air } else { Cooling::Water };
            let mut last = f64::INFINITY;
            for r in [Regime::Cruise, Regime::HeavyCruise, Regime::FullThrottle] {
                let (low, high) = of(r, APPLICATIONS[a], c, FAMILIES[f], 0.0).unwrap();
                prop_assert!(low < high && high <= last);
                last = high;
            }
        }
    }
}
