//! What can hurt people, said where it belongs. Not replaceable by a profile.
//!
//! Figures come from the sources named at each; local codes and licensed practice come first.

use crate::setup::{Drive, FuelFamily, Setup};
use serde::{Deserialize, Serialize};

/// Where in the work a caution is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CautionAt {
    /// When a session begins, every time.
    Start,
    /// Before the engine is started for the first time.
    BeforeFirstStart,
    /// Whenever it runs and hands are near it.
    RunningEngine,
    /// Engaged.
    InGear,
    /// On the road.
    Road,
    /// On a dynamometer.
    Dyno,
    /// Whenever fuel is open to the air.
    FuelOpen,
    /// In a boat.
    Boat,
    /// With methanol.
    Methanol,
    /// When the session closes.
    Close,
}

/// What a caution is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Danger {
    /// Fire.
    Fire,
    /// Fuel vapour.
    Vapour,
    /// Carbon monoxide.
    CarbonMonoxide,
    /// Hot and turning parts.
    HotAndTurning,
    /// Spitting back through the carburetor.
    SpitBack,
    /// Static electricity.
    Static,
    /// Reading gauges while driving.
    RoadLogging,
    /// Getting rid of fuel.
    Disposal,
    /// Emissions law.
    EmissionsLaw,
    /// Methanol.
    Methanol,
    /// Boats.
    Boat,
    /// A vehicle that moves.
    Movement,
    /// Dynamometers.
    Dyno,
    /// Noise.
    Noise,
    /// An engine hurt by its mixture.
    Engine,
}

/// One caution.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Caution {
    /// About what.
    pub danger: Danger,
    /// Where it is said.
    pub at: &'static [CautionAt],
    /// What to do, short.
    pub text: &'static str,
    /// The figure behind it, when there is one.
    pub figure: Option<&'static str>,
    /// Who says so.
    pub source: &'static str,
}

use CautionAt as At;

/// All cautions, gravest first.
pub const ALL: [Caution; 19] = [
    Caution {
        danger: Danger::CarbonMonoxide,
        at: &[At::Start, At::RunningEngine],
        text: "Run the engine outdoors, or pipe the exhaust out and have a carbon-monoxide alarm where you breathe. Never \
               alone. Open doors and a fan are not enough. A headache means: engine off, out, now.",
        figure: Some(
            "35 ppm is the most for a working day, 200 ppm is the ceiling: leave. A small engine in a closed room passed that in under \
             a minute; cold exhaust holds more than 80000 ppm.",
        ),
        source: "NIOSH, Occupational exposure to carbon monoxide, 1972; Earnest et al., AIHA Journal 58 (1997) 11; T. Greiner, Iowa \
                 State University extension",
    },
    Caution {
        danger: Danger::Fire,
        at: &[At::Start, At::BeforeFirstStart],
        text: "An extinguisher rated B within reach, and not behind the fire. Nobody leans over the carburetor while it cranks. Air \
               cleaner or flame arrester on, unless a step needs it off.",
        figure: Some("Gasoline gives off enough vapour to burn down to about -45 degF (-43 degC)."),
        source: "common practice; flash point: NIOSH Pocket Guide (from memory)",
    },
    Caution {
        danger: Danger::Fire,
        at: &[At::BeforeFirstStart, At::FuelOpen],
        text: "Never pour fuel into the carburetor to start it: hot metal, a spark or a backfire lights it, and people have died of it. \
               Fill the bowl instead.",
        figure: None,
        source: "City of Bellingham, carburetor priming and burns; NIOSH FACE 11CA006 (2012)",
    },
    Caution {
        danger: Danger::Fire,
        at: &[At::Start, At::RunningEngine],
        text: "A leak, a drip or a strong smell of fuel: key off, touch no switch, ventilate, mend it first. Do not disconnect a battery \
               in vapour: it sparks.",
        figure: None,
        source: "common practice",
    },
    Caution {
        danger: Danger::Vapour,
        at: &[At::Start, At::FuelOpen],
        text: "Fuel vapour is heavy: it lies in pits, bilges and floor drains and creeps to a flame. No flame, heater, drop lamp or \
               smoking near it.",
        figure: Some(
            "3 to 4 times as heavy as air; burns from 1.4 to 7.6 % in air; keep ignition sources 20 ft (6 m) away.",
        ),
        source: "AARST SGM-SF 2017 tables; NIOSH Pocket Guide (from memory); 29 CFR 1926.152 as cited by a trade association",
    },
    Caution {
        danger: Danger::Static,
        at: &[At::FuelOpen],
        text: "Bond the can to the engine when draining; fill cans on the ground, nozzle touching, never on a plastic bed liner. \
               A proper can, not quite full.",
        figure: Some("5 gal at most, filled to 95 % at most."),
        source: "NIOSH 98-111; 29 CFR 1926.152 and 1910.106 as cited by trade associations",
    },
    Caution {
        danger: Danger::HotAndTurning,
        at: &[At::Start, At::RunningEngine],
        text: "Sleeves and hair tied, no gloves near belts, no tools on the intake, out of the plane of the fan, which may start by \
               itself. Hot parts: wait or cover.",
        figure: None,
        source: "common practice",
    },
    Caution {
        danger: Danger::HotAndTurning,
        at: &[At::FuelOpen],
        text: "Let the bowl cool before opening it, wipe every spill, and put the rags into a closed metal can. Gasoline is no parts \
               cleaner.",
        figure: Some("Open it below 120 degF (49 degC)."),
        source: "common practice; California Title 8 section 5417",
    },
    Caution {
        danger: Danger::SpitBack,
        at: &[At::RunningEngine, At::BeforeFirstStart],
        text: "A lean engine spits back through the carburetor: stay to the side, never look in while it runs or cranks.",
        figure: None,
        source: "common practice",
    },
    Caution {
        danger: Danger::Movement,
        at: &[At::InGear],
        text: "Chock the wheels, set the brake, one person at the brake and one at the carburetor. Never adjust from in front of a \
               vehicle in gear.",
        figure: None,
        source: "common practice",
    },
    Caution {
        danger: Danger::RoadLogging,
        at: &[At::Road],
        text: "The driver drives; a helper or a logger takes the readings. Never read or type while moving. Full throttle only where it \
               is legal and clear.",
        figure: None,
        source: "common practice",
    },
    Caution {
        danger: Danger::Dyno,
        at: &[At::Dyno],
        text: "Tie-downs and guards checked, fuel shut-off and kill switch within reach, nobody in the plane of rollers or driveline, \
               cell air drawn out.",
        figure: None,
        source: "common practice; S. Matthiesen on dynamometer testing",
    },
    Caution {
        danger: Danger::Noise,
        at: &[At::Dyno, At::RunningEngine],
        text: "Wear ear protection beside an open exhaust.",
        figure: Some("85 dBA for 8 hours; half the time for each 3 dB more: 100 dBA for 15 minutes."),
        source: "NIOSH Science Blog, 2016",
    },
    Caution {
        danger: Danger::Boat,
        at: &[At::Boat],
        text: "Open and sniff the bilge, run the blower before starting and after fuelling, flame arrester tight, kill lead on, nobody near \
               the propeller or at the stern while it idles. Helm manned whenever it is in gear.",
        figure: Some(
            "Blower 4 minutes at least. A child lost consciousness in under a minute at the stern of an idling boat in the open.",
        ),
        source: "33 CFR 183.610 as cited by boating guides; NIOSH, CO dangers in boating; CDC MMWR 51 (2002) 37",
    },
    Caution {
        danger: Danger::Methanol,
        at: &[At::Methanol],
        text: "A methanol flame is invisible in daylight; water dilutes it. Eye protection, no skin contact, never by mouth: it blinds and \
               kills.",
        figure: Some(
            "Flash point 52 degF (11 degC), burns from 6 to 36 % in air; 200 ppm at most; 60 mL can kill.",
        ),
        source: "US National Academies, Laboratory chemical safety summary: methanol; NIOSH (from memory)",
    },
    Caution {
        danger: Danger::Disposal,
        at: &[At::FuelOpen, At::Close],
        text: "Old fuel goes to a collection point in a proper can, never on the ground or down a drain. Use clean fuel up first.",
        figure: None,
        source: "public guidance on fuel disposal",
    },
    Caution {
        danger: Danger::EmissionsLaw,
        at: &[At::Start, At::Close],
        text: "Check your local law before changing anything that controls emissions. This program says nothing about any country's law \
               and gives no step for disabling such equipment.",
        figure: None,
        source: "common practice",
    },
    Caution {
        danger: Danger::Engine,
        at: &[At::Road, At::Dyno],
        text: "Lean under load kills pistons and valves: start rich, step leaner one jet at a time, and close the throttle at the first \
               knock or lean alarm.",
        figure: None,
        source: "common practice; Heywood, Internal Combustion Engine Fundamentals, 1988 (from memory)",
    },
    Caution {
        danger: Danger::Fire,
        at: &[At::Close],
        text: "Before it leaves your hands: leaks checked cold and hot, air cleaner or flame arrester back on, hoses on, throttle returns.",
        figure: None,
        source: "common practice",
    },
];

/// The cautions that belong to a place in the work, gravest first.
pub fn at(place: CautionAt) -> Vec<&'static Caution> {
    ALL.iter().filter(|c| c.at.contains(&place)).collect()
}

/// The cautions to acknowledge when a session begins: those of the start, and a boat's or methanol's where the setup has one.
pub fn at_start(setup: Option<&Setup>) -> Vec<&'static Caution> {
    let mut places = vec![CautionAt::Start];
    if let Some(setup) = setup {
        let boat =
            setup.application == crate::setup::Application::Marine || setup.engine.drive == Drive::Propeller;
        places.extend(boat.then_some(CautionAt::Boat));
        places.extend((setup.fuel.family == FuelFamily::Methanol).then_some(CautionAt::Methanol));
    }
    ALL.iter().filter(|c| places.iter().any(|p| c.at.contains(p))).collect()
}

/// What to do first in an emergency, in order.
pub const EMERGENCY: [&str; 4] = [
    "Close the throttle and switch the ignition off.",
    "Shut the fuel off if you can do it without reaching over the carburetor.",
    "Fire: extinguisher at its base from the side; do not take the air cleaner off; everyone out if it is not out at once.",
    "Someone dizzy or down: out to fresh air, call for help; do not go in without air yourself.",
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_place_has_its_caution_and_every_caution_a_place_and_a_source() {
        for place in [
            At::Start,
            At::BeforeFirstStart,
            At::RunningEngine,
            At::InGear,
            At::Road,
            At::Dyno,
            At::FuelOpen,
            At::Boat,
            At::Methanol,
            At::Close,
        ] {
            assert!(!at(place).is_empty(), "{place:?}");
        }
        for c in &ALL {
            assert!(!c.at.is_empty() && !c.text.is_empty() && !c.source.is_empty());
            assert!(c.text.len() <= 320, "a caution that is too long is not read: {}", c.text);
            assert!(!c.text.contains("  ") && !c.figure.unwrap_or("").contains("  "), "{}", c.text);
        }
    }

    #[test]
    fn carbon_monoxide_and_fire_come_first() {
        let start = at_start(None);
        assert_eq!((start[0].danger, start[1].danger), (Danger::CarbonMonoxide, Danger::Fire));
        assert!(start.iter().any(|c| c.danger == Danger::EmissionsLaw));
        assert!(!start.iter().any(|c| c.danger == Danger::Boat || c.danger == Danger::Methanol));
    }
}
