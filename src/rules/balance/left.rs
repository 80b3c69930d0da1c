//! What is thought now, in a sentence: where the top is, what is still to gain, how many turns that may take.

use super::say::fine;
use super::types::Belief;
use crate::units::System;
use crate::units::show::{Shown, fixed};

/// Screws for which the turns to come have been held against what they came to.
const MEASURED_FOR: usize = 2;
/// Less than this is written as nothing, inHg.
const LEAST_SHOWN_INHG: f64 = 0.005;

impl Belief {
    /// Turns still to come, from and to: eight searches in ten end within. `None` where nothing has been measured that
    /// this could stand on: other counts of screws than two.
    ///
    /// Measured on 140 engines of 14 families with two screws (`cargo bench --bench balance -- --left 10`): where 2, 4, 8
    /// and 15 moves were reckoned, from the tenth to the ninetieth in a hundred took 1 to 9, 3 to 9, 5 to 12 and 7 to 15
    /// turns. With one screw and with four they scatter too widely for a number to help.
    pub fn turns_left(&self) -> Option<(u32, u32)> {
        if self.screws.len() != MEASURED_FOR || self.moves_left == 0 {
            return None;
        }
        let reckoned = f64::from(self.moves_left);
        let (low, high) = (0.45 * reckoned + 0.5, 0.45 * reckoned + 8.3);
        Some(((low.round() as u32).max(1), high.round() as u32))
    }

    /// Where the top is thought to be, what is still to gain and, where that is known, how many turns it may take.
    pub fn said(&self, system: System) -> String {
        let top: Vec<String> = self
            .screws
            .iter()
            .map(|s| format!("{} ± {}", fixed(s.top.as_turns(), 2), fixed(s.unsure.as_turns(), 2)))
            .collect();
        let gain = if self.to_gain.as_inhg() < LEAST_SHOWN_INHG {
            "that is about where they stand".to_owned()
        } else {
            format!("{} still to gain", fine(self.to_gain, system))
        };
        let left = self.turns_left();
        let left = left.map(|(low, high)| format!(", likely {low} to {high} more turns")).unwrap_or_default();
        format!(
            "Top thought to be near {} turns out, {}; {gain}{left}.",
            top.join(", "),
            self.top.show(system)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::balance::ScrewBelief;
    use crate::units::{PressureDifference, Turns, Vacuum};

    fn belief(screws: usize, moves_left: u32) -> Belief {
        let (stands, top) = (Turns::from_turns(1.5), Turns::from_turns(1.25));
        let screw = ScrewBelief { stands, top, unsure: Turns::from_turns(0.2), dead: 0.0 };
        Belief {
            screws: vec![screw; screws],
            top: Vacuum::from_inhg(15.04),
            top_unsure: PressureDifference::from_inhg(0.3),
            to_gain: PressureDifference::from_inhg(0.4),
            moves_left,
            drifting: None,
        }
    }

    /// The tenth and the ninetieth of a hundred searches that were measured, to within a turn.
    #[test]
    fn the_turns_said_are_those_it_took() {
        let took =
            [(2, 1, 9), (3, 2, 11), (4, 3, 9), (6, 4, 10), (8, 5, 12), (10, 6, 14), (12, 7, 13), (15, 7, 15)];
        for (reckoned, low, high) in took {
            let (from, to) = belief(2, reckoned).turns_left().unwrap();
            assert!(from.abs_diff(low) <= 1 && to.abs_diff(high) <= 1, "{reckoned}: {from} to {to}");
        }
    }

    #[test]
    fn nothing_to_gain_is_not_called_a_gain() {
        let mut belief = belief(2, 6);
        belief.to_gain = PressureDifference::from_inhg(0.006);
        assert!(belief.said(System::Us).contains("0.01 inHg still to gain"));
        belief.to_gain = PressureDifference::from_inhg(0.004);
        let said = belief.said(System::Us);
        assert!(
            said.contains("15.0 inHg; that is about where they stand, likely 3 to 11 more turns."),
            "{said}"
        );
    }

    #[test]
    fn no_number_is_given_that_nothing_stands_behind() {
        assert_eq!(belief(2, 0).turns_left(), None);
        for screws in [1, 3, 4] {
            assert_eq!(belief(screws, 12).turns_left(), None);
            assert!(!belief(screws, 12).said(System::Us).contains("more turns"));
        }
    }

    #[test]
    fn it_is_said_in_the_units_asked_for() {
        let said = "Top thought to be near 1.25 ± 0.20, 1.25 ± 0.20 turns out, 15.0 inHg; 0.40 inHg still to gain, \
                    likely 3 to 11 more turns.";
        assert_eq!(belief(2, 6).said(System::Us), said);
        assert!(belief(2, 6).said(System::Metric).contains("50.9 kPa; 1.35 kPa still to gain"));
    }
}
