//! Families of engines to practise on, each with its own seeded spread.

use crate::numeric::rng::Chance;

/// A family of engines.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Character {
    /// In order, screws turned out too far or too little.
    Mild,
    /// A long cam (longer than the setup says, if that one is short): a weak, wandering needle.
    Lopey,
    /// Corners that breathe and meter differently, so that the best screws are not even.
    MismatchedCorners,
    /// One screw does nothing.
    DeadScrew,
    /// Started warm but not hot: everything drifts for some minutes.
    WarmingUp,
    /// Air leaks in under the carburetor.
    LeakingBaseGasket,
    /// The demonstration's oyster skiff: throttle too far open, screws uneven, float and fuel pressure high, gasket
    /// leaking, timing late, main circuit rich, pump lever loose.
    AsFound,
}

impl Character {
    /// Every family, in the order they are told.
    pub const ALL: [Self; 7] = [
        Self::Mild,
        Self::Lopey,
        Self::MismatchedCorners,
        Self::DeadScrew,
        Self::WarmingUp,
        Self::LeakingBaseGasket,
        Self::AsFound,
    ];

    /// The demonstration's engine.
    pub const fn as_found() -> Self {
        Self::AsFound
    }

    /// Its name on a command line.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Mild => "mild",
            Self::Lopey => "lopey",
            Self::MismatchedCorners => "mismatched-corners",
            Self::DeadScrew => "dead-screw",
            Self::WarmingUp => "warming-up",
            Self::LeakingBaseGasket => "leaking-base-gasket",
            Self::AsFound => "as-found",
        }
    }

    /// The family of that name; spaces and underscores count as hyphens.
    pub fn named(name: &str) -> Option<Self> {
        let wanted = name.trim().to_lowercase().replace([' ', '_'], "-");
        Self::ALL.into_iter().find(|c| c.name() == wanted)
    }
}

/// What one engine of a family is really like, drawn from the family's spread. Nothing of it is told to the person.
#[derive(Debug, Clone)]
pub(super) struct Hidden {
    /// Where each corner's best mixture lies, turns out.
    pub(super) best_turns: Vec<f64>,
    /// Share of the air each corner breathes; sums to one.
    pub(super) air_share: Vec<f64>,
    /// Lambda a dead corner runs at, whatever its screw says.
    pub(super) dead: Option<(usize, f64)>,
    /// How much of a corner's mixture is everybody's.
    pub(super) mixing: f64,
    /// Lambda spread between the cylinders of one corner, relative.
    pub(super) spread: f64,
    /// Share of a healthy corner's fuel that passes its screw at the best setting.
    pub(super) screw_share: f64,
    /// Lambda of the primary main circuit as found, part throttle.
    pub(super) main_lambda: f64,
    /// Real area over stamped area: primary jet, secondary jet, channel, bleeds, idle feed, pump nozzle.
    pub(super) off_stamp: [f64; 6],
    /// Real opening of the enrichment valve less its stamp, Pa.
    pub(super) valve_off: f64,
    /// Friction against the textbook.
    pub(super) friction: f64,
    /// Flow of a leaking gasket, share of idle air.
    pub(super) leak: f64,
    /// Coolant at the start, C.
    pub(super) coolant: f64,
    /// Idle speed at the start over the design's.
    pub(super) start_speed: f64,
    /// Where each screw stands at the start; the setup's own figure when empty.
    pub(super) start_turns: Vec<f64>,
    /// Overlap added beyond what the setup says, degrees.
    pub(super) more_overlap: f64,
    /// Slow drift of the engine's friction, relative deviation.
    pub(super) drift: f64,
    /// Gauge needle's own unsteadiness, Pa.
    pub(super) needle: f64,
}

/// Coolant of a hot engine, C.
pub(super) const HOT: f64 = 82.0;

impl Hidden {
    pub(super) fn draw(character: Character, screws: usize, overlap: f64, chance: &mut Chance) -> Self {
        let four = screws >= 4;
        let centre = if four { 0.95 } else { 1.35 }
            + if four { 0.16 } else { 0.30 } * chance.normal().clamp(-2.0, 2.0);
        let uneven = match character {
            Character::MismatchedCorners => 0.22,
            Character::AsFound => 0.02,
            _ => 0.07,
        };
        let breathing = if character == Character::MismatchedCorners { 0.035 } else { 0.008 };
        let mut share: Vec<f64> =
            (0..screws).map(|_| 1.0 + breathing * chance.normal().clamp(-2.0, 2.0)).collect();
        let total: f64 = share.iter().sum();
        for s in &mut share {
            *s /= total;
        }
        let mut hidden = Self {
            best_turns: (0..screws)
                .map(|_| (centre + uneven * chance.normal().clamp(-2.2, 2.2)).clamp(0.5, 3.0))
                .collect(),
            air_share: share,
            dead: None,
            mixing: if four { 0.55 } else { 0.33 } + 0.05 * chance.normal().clamp(-2.0, 2.0),
            spread: 0.035 * (1.0 + 0.2 * chance.normal().clamp(-2.0, 2.0)),
            screw_share: chance.between(0.58, 0.72),
            main_lambda: chance.between(0.84, 0.98),
            off_stamp: core::array::from_fn(|_| 1.0 + 0.012 * chance.normal().clamp(-2.5, 2.5)),
            valve_off: 3386.389 * 0.25 * chance.normal().clamp(-2.0, 2.0),
            friction: 1.0 + 0.05 * chance.normal().clamp(-2.0, 2.0),
            leak: 0.0,
            coolant: HOT,
            start_speed: 1.0 + 0.03 * chance.normal().clamp(-2.0, 2.0),
            start_turns: Vec::new(),
            more_overlap: 0.0,
            drift: 0.005,
            needle: 120.0,
        };
        hidden.shape(character, screws, overlap, chance);
        hidden
    }

    fn shape(&mut self, character: Character, screws: usize, overlap: f64, chance: &mut Chance) {
        match character {
            Character::Mild | Character::MismatchedCorners => {}
            Character::Lopey => self.more_overlap = (chance.between(14.0, 30.0) - overlap).max(0.0),
            Character::DeadScrew => {
                let which = ((chance.uniform() * screws as f64) as usize).min(screws - 1);
                self.dead = Some((which, chance.between(0.84, 0.98)));
            }
            Character::WarmingUp => self.coolant = chance.between(45.0, 60.0),
            Character::LeakingBaseGasket => self.leak = chance.between(0.08, 0.17),
            Character::AsFound => {
                self.best_turns = (0..screws).map(|i| if i % 2 == 0 { 1.22 } else { 1.18 }).collect();
                self.start_turns = (0..screws).map(|i| if i % 2 == 0 { 3.5 } else { 1.25 }).collect();
                self.screw_share = 0.72;
                self.main_lambda = 0.86;
                self.friction = 1.0;
                self.leak = 0.17;
                self.coolant = 45.0;
                self.start_speed = 1.17;
                self.valve_off = 0.0;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_family_answers_to_its_name() {
        for character in Character::ALL {
            assert_eq!(Character::named(character.name()), Some(character));
        }
        assert_eq!(Character::named("Dead Screw"), Some(Character::DeadScrew));
        assert_eq!(Character::named("perfect"), None);
    }

    #[test]
    fn air_is_shared_out_whole_and_a_lopey_engine_has_the_overlap() {
        for seed in 0..50 {
            let h = Hidden::draw(Character::MismatchedCorners, 4, 0.0, &mut Chance::with_seed(seed));
            assert!((h.air_share.iter().sum::<f64>() - 1.0).abs() < 1e-12);
            let h = Hidden::draw(Character::Lopey, 2, -20.0, &mut Chance::with_seed(seed));
            assert!(h.more_overlap >= 34.0);
            let h = Hidden::draw(Character::Lopey, 2, 35.0, &mut Chance::with_seed(seed));
            assert_eq!(h.more_overlap, 0.0);
        }
    }
}
