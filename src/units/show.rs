//! Writes a quantity for a person, in US or metric units, rounded to what the gauge can resolve.

use super::{
    AirFuelRatio, Area, CrankAngle, Density, EngineSpeed, Fraction, Lambda, Length, MassFlow, Power,
    Pressure, PressureDifference, Quantity, Temperature, TemperatureChange, TimeSpan, Torque, Turns, Vacuum,
    Velocity, Volume, VolumeFlow,
};
use serde::{Deserialize, Serialize};

/// The units a person wants to see.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum System {
    /// inHg, degF, inches, CFM.
    #[default]
    Us,
    /// kPa, degC, millimetres, kg/h.
    Metric,
}

/// How a kind of quantity is shown: unit symbol and decimals for each system.
pub trait Shown: Quantity {
    /// Unit symbol and decimals in US units.
    const US: (&'static str, usize);
    /// Unit symbol and decimals in metric units.
    const METRIC: (&'static str, usize);

    /// The symbol of the unit this is shown in.
    fn unit_symbol(system: System) -> &'static str {
        match system {
            System::Us => Self::US.0,
            System::Metric => Self::METRIC.0,
        }
    }

    /// The number alone, in the unit it is shown in.
    fn number(self, system: System) -> f64 {
        let symbol = Self::unit_symbol(system);
        let unit = Self::UNITS.iter().find(|u| u.symbol == symbol).unwrap_or(&Self::UNITS[0]);
        self.in_unit(unit)
    }

    /// Number and unit: "14.5 inHg".
    fn show(self, system: System) -> String {
        let decimals = match system {
            System::Us => Self::US.1,
            System::Metric => Self::METRIC.1,
        };
        format!("{} {}", fixed(self.number(system), decimals), Self::unit_symbol(system))
    }
}

/// The unit fuel pressure is shown in: its gauges are marked in psi where vacuum gauges are marked in inHg.
pub const fn fuel_pressure_symbol(system: System) -> &'static str {
    match system {
        System::Us => "psi",
        System::Metric => "kPa",
    }
}

/// Fuel pressure, or a difference of it: "5.5 psi", "37.9 kPa".
pub fn fuel_pressure(pressure: PressureDifference, system: System) -> String {
    match system {
        System::Us => format!("{} psi", fixed(pressure.as_psi(), 1)),
        System::Metric => pressure.show(system),
    }
}

/// A number with fixed decimals that never prints "-0.0".
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

macro_rules! shown {
    ($($name:ty: $us:expr, $metric:expr;)*) => {
        $(
            impl Shown for $name {
                const US: (&'static str, usize) = $us;
                const METRIC: (&'static str, usize) = $metric;
            }
        )*

        /// Symbols a quantity may be shown with.
        const SYMBOLS: &[&str] = &[$(<$name as Shown>::US.0, <$name as Shown>::METRIC.0),*];
    };
}

/// Symbols written in sentences, beside those of [`Shown`].
const IN_SENTENCES: [&str; 7] = ["psi", "ft", "m", "turn", "degrees", "min", "h"];

/// The word is the symbol of a unit, or the first part of one ("lbf ft").
pub fn is_symbol(word: &str) -> bool {
    IN_SENTENCES.contains(&word)
        || SYMBOLS.iter().any(|s| *s == word || s.split_once(' ').is_some_and(|(first, _)| first == word))
}

shown! {
    Pressure: ("inHg", 2), ("kPa", 1);
    PressureDifference: ("inHg", 1), ("kPa", 1);
    Vacuum: ("inHg", 1), ("kPa", 1);
    Temperature: ("degF", 0), ("degC", 0);
    TemperatureChange: ("degF", 0), ("K", 0);
    Length: ("in", 3), ("mm", 2);
    Area: ("in2", 4), ("mm2", 2);
    Volume: ("in3", 0), ("cc", 0);
    CrankAngle: ("deg", 0), ("deg", 0);
    Turns: ("turns", 3), ("turns", 3);
    Fraction: ("%", 0), ("%", 0);
    MassFlow: ("lb/h", 1), ("g/s", 1);
    VolumeFlow: ("cfm", 0), ("m3/h", 0);
    Density: ("kg/m3", 3), ("kg/m3", 3);
    Velocity: ("mph", 1), ("km/h", 1);
    EngineSpeed: ("rpm", 0), ("rpm", 0);
    Torque: ("lbf ft", 1), ("N m", 1);
    Power: ("hp", 1), ("kW", 1);
    TimeSpan: ("s", 1), ("s", 1);
    Lambda: ("lambda", 3), ("lambda", 3);
    AirFuelRatio: ("AFR", 1), ("AFR", 1);
}

/// Turns of a screw as a mechanic says them: "1 3/8 out", "1/8 in", in eighths when they are eighths.
pub fn turns_as_fraction(turns: Turns) -> String {
    let value = turns.as_turns().abs();
    let sixteenths = (value * 16.0).round();
    if (value * 16.0 - sixteenths).abs() > 0.02 {
        return fixed(value, 2);
    }
    let (whole, mut part, mut of) = ((sixteenths / 16.0).floor(), (sixteenths % 16.0) as u32, 16u32);
    while part != 0 && part.is_multiple_of(2) {
        part /= 2;
        of /= 2;
    }
    match (whole as u32, part) {
        (w, 0) => format!("{w}"),
        (0, p) => format!("{p}/{of}"),
        (w, p) => format!("{w} {p}/{of}"),
    }
}

/// How far a screw is turned: "1/8 of a turn", "1 turn", "1 3/8 turns".
pub fn turned_by(turns: Turns) -> String {
    let said = turns_as_fraction(turns);
    let of = match said.parse::<f64>() {
        Ok(1.0) => "turn",
        Ok(by) if by > 1.0 => "turns",
        Err(_) if said.contains(' ') => "turns",
        _ => "of a turn",
    };
    format!("{said} {of}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounded_to_what_the_gauge_can_resolve() {
        assert_eq!(Vacuum::from_inhg(14.5499).show(System::Us), "14.5 inHg");
        assert_eq!(Vacuum::from_inhg(14.5).show(System::Metric), "49.1 kPa");
        assert_eq!(EngineSpeed::from_rpm(749.6).show(System::Us), "750 rpm");
        assert_eq!(Length::from_inches(0.06).show(System::Us), "0.060 in");
        assert_eq!(Length::from_inches(0.06).show(System::Metric), "1.52 mm");
        assert_eq!(Temperature::from_c(82.0).show(System::Us), "180 degF");
    }

    #[test]
    fn fuel_pressure_is_in_psi_or_kpa() {
        let shown = |system| fuel_pressure(PressureDifference::from_psi(5.5), system);
        assert_eq!((shown(System::Us), shown(System::Metric)), ("5.5 psi".to_owned(), "37.9 kPa".to_owned()));
        for system in [System::Us, System::Metric] {
            assert!(shown(system).ends_with(fuel_pressure_symbol(system)));
        }
    }

    #[test]
    fn there_is_no_minus_nothing() {
        assert_eq!(fixed(-0.0001, 1), "0.0");
        assert_eq!(fixed(-0.06, 1), "-0.1");
    }

    #[test]
    fn turns_are_said_in_fractions() {
        for (turns, said) in [
            (0.125, "1/8"),
            (-0.25, "1/4"),
            (1.375, "1 3/8"),
            (2.0, "2"),
            (0.0625, "1/16"),
            (0.3, "0.30"),
            (0.0, "0"),
        ] {
            assert_eq!(turns_as_fraction(Turns::from_turns(turns)), said);
        }
        for (turns, said) in [
            (0.125, "1/8 of a turn"),
            (-0.3, "0.30 of a turn"),
            (1.0, "1 turn"),
            (-1.375, "1 3/8 turns"),
            (2.0, "2 turns"),
            (2.3, "2.30 turns"),
        ] {
            assert_eq!(turned_by(Turns::from_turns(turns)), said);
        }
    }
}
