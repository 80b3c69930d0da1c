//! How much good data each regime has, and what it still lacks.

use crate::setup::Regime;
use crate::units::TimeSpan;

/// What a regime still lacks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lack {
    /// Which regime.
    pub regime: Regime,
    /// Good data so far.
    pub have: TimeSpan,
    /// Good data wanted.
    pub need: TimeSpan,
    /// Separate visits so far.
    pub visits: u32,
    /// Separate visits wanted.
    pub need_visits: u32,
}

impl Lack {
    /// Whether it has enough.
    pub fn enough(&self) -> bool {
        self.have >= self.need && self.visits >= self.need_visits
    }
}

/// Seconds and visits wanted of each regime: three visits as for a station, and as long as each is usually held
/// (common practice).
const WANTED: [(Regime, f64, u32); 5] = [
    (Regime::Idle, 20.0, 2),
    (Regime::OffIdle, 15.0, 3),
    (Regime::Cruise, 30.0, 3),
    (Regime::HeavyCruise, 15.0, 3),
    (Regime::FullThrottle, 6.0, 2),
];

/// Counts good data by regime.
#[derive(Debug, Clone, Default)]
pub struct Meter {
    seconds: [f64; WANTED.len()],
    visits: [u32; WANTED.len()],
    last: Option<Regime>,
}

impl Meter {
    /// Nothing counted yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// A row of good data in a regime that stands for this long; `None` for a row that is not good.
    pub fn count(&mut self, regime: Option<Regime>, stands_for: TimeSpan) {
        if let Some(place) = WANTED.iter().position(|w| Some(w.0) == regime) {
            self.seconds[place] += stands_for.as_s();
            self.visits[place] += u32::from(self.last != regime);
        }
        self.last = regime;
    }

    /// Every regime that is wanted, with what it has.
    pub fn all(&self) -> Vec<Lack> {
        let counted = WANTED.iter().zip(self.seconds.iter().zip(&self.visits));
        counted
            .map(|((regime, need, need_visits), (have, visits))| Lack {
                regime: *regime,
                have: TimeSpan::from_s(*have),
                need: TimeSpan::from_s(*need),
                visits: *visits,
                need_visits: *need_visits,
            })
            .collect()
    }

    /// Those that lack something.
    pub fn lacks(&self) -> Vec<Lack> {
        self.all().into_iter().filter(|l| !l.enough()).collect()
    }
}
