//! How far out the mixture screws start.
#![doc = "\n"]
#![doc = include_str!("why/start-turns.md")]

use super::book::{Arrangement, RuleBook};
use crate::setup::{Application, Carburetor};
use crate::units::Turns;
use crate::units::show::turns_as_fraction;
use serde::{Deserialize, Serialize};

/// Where to start, and the window outside which a screw says that something else is wrong.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StartTurns {
    /// Turns out from lightly seated, every screw the same.
    pub start: Turns,
    /// Fewer than this at the end is a symptom.
    pub low: Turns,
    /// More than this at the end is a symptom.
    pub high: Turns,
    /// What it rests on.
    pub why: String,
}

/// How the screws of a carburetor are arranged.
pub fn arrangement(carburetor: &Carburetor, application: Application) -> Arrangement {
    match (carburetor.idle.screws, carburetor.barrels, application) {
        (0 | 1, _, _) => Arrangement::Single,
        (2, 4, Application::Marine) => Arrangement::MarineFourBarrel,
        (2 | 3, _, _) => Arrangement::TwoScrew,
        _ => Arrangement::FourCorner,
    }
}

/// Turns out to start with, never more than the screw has. Seat lightly: a forced needle is ruined. `None` when the book has no row
/// for the arrangement.
pub fn start(carburetor: &Carburetor, application: Application, book: &RuleBook) -> Option<StartTurns> {
    let wanted = arrangement(carburetor, application);
    let row = book.start_turns.row.iter().find(|r| r.arrangement == wanted)?;
    let range = carburetor.idle.screw_range;
    let meaning = if carburetor.idle.screws_meter_air { "; these meter air: out is leaner" } else { "" };
    Some(StartTurns {
        start: row.start.min(range),
        low: row.low.min(range),
        high: row.high.min(range),
        why: format!("{} turns out, all the same: {}{meaning}", turns_as_fraction(row.start), row.source),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::{IdleCircuit, MainSet, SetName, Stock};
    use crate::units::{Length, PressureDifference, VolumeFlow};

    fn carburetor(screws: u8, barrels: u8) -> Carburetor {
        Carburetor {
            name: "test".to_owned(),
            barrels,
            rated_flow: VolumeFlow::from_cfm(280.0),
            rated_depression: PressureDifference::from_inhg(3.0),
            idle: IdleCircuit {
                screws,
                screws_meter_air: false,
                turns_out: vec![Turns::from_turns(1.5); usize::from(screws)],
                screw_range: Turns::from_turns(4.0),
                feed_restriction: Length::from_inches(0.03),
                air_bleed: Length::from_inches(0.07),
                slot_exposure: None,
            },
            main: vec![MainSet {
                set: SetName::Primary,
                barrels,
                venturi: Length::from_inches(1.06),
                jet: Length::from_inches(0.06),
                air_bleed: Length::from_inches(0.028),
                throttle_bore: None,
                nozzle: None,
                emulsion_depth: None,
                lip: None,
                booster_gain: None,
            }],
            enrichment: None,
            pump: None,
            secondary_opens_at: None,
            float_level: None,
            stock: Stock::default(),
        }
    }

    fn turns(screws: u8, barrels: u8, application: Application) -> (f64, f64, f64) {
        let s = start(&carburetor(screws, barrels), application, &RuleBook::common()).unwrap();
        (s.start.as_turns(), s.low.as_turns(), s.high.as_turns())
    }

    #[test]
    fn each_arrangement() {
        assert_eq!(turns(4, 4, Application::Street), (1.0, 0.5, 1.75));
        assert_eq!(turns(2, 2, Application::Marine), (1.5, 0.75, 2.5));
        assert_eq!(turns(2, 4, Application::Marine), (1.25, 0.75, 2.5));
        assert_eq!(turns(2, 4, Application::Street), (1.5, 0.75, 2.5));
        assert_eq!(turns(1, 1, Application::Farm), (1.0, 0.75, 2.5));
    }

    #[test]
    fn never_more_than_the_screw_has() {
        let mut c = carburetor(2, 2);
        c.idle.screw_range = Turns::from_turns(1.0);
        let s = start(&c, Application::Street, &RuleBook::common()).unwrap();
        assert_eq!((s.start.as_turns(), s.high.as_turns()), (1.0, 1.0));
    }

    #[test]
    fn air_screws_are_said_to_be() {
        let mut c = carburetor(2, 2);
        c.idle.screws_meter_air = true;
        assert!(start(&c, Application::Street, &RuleBook::common()).unwrap().why.contains("out is leaner"));
    }
}
