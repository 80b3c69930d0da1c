//! The unit a column is written in, as a factor and an offset to the unit rows are kept in.

use super::channel::Channel;
use crate::units::{
    AirFuelRatio, EngineSpeed, Fraction, MassFlow, Power, Pressure, PressureDifference, Quantity,
    Temperature, TimeSpan, Torque, Vacuum, Velocity,
};

/// Air-fuel displays are scaled by this unless told otherwise: most show 14.7 times lambda whatever is in the tank
/// (common practice).
pub(super) const DISPLAY_SCALE: f64 = 14.7;

/// `inside = written * scale + offset`. Inside: s, rpm, kPa, inHg, %, lambda, degC, kPa, degC, kPa, g/s,
/// N m, kW, m/s, g/s, %, degC, g, g, degrees.
/// `None` for a unit that is none of this channel's.
pub(super) fn to_inside(
    channel: Channel,
    unit: &str,
    stoichiometric: Option<AirFuelRatio>,
) -> Option<(f64, f64)> {
    let unit = unit.trim();
    let lower = unit.to_lowercase();
    match channel {
        Channel::Time if matches!(lower.as_str(), "us" | "µs" | "μs") => Some((1e-6, 0.0)),
        Channel::Time => linear::<TimeSpan>(unit, 1.0, 0.0),
        Channel::Speed if matches!(lower.as_str(), "krpm" | "x1000 rpm" | "rpm x1000") => Some((1000.0, 0.0)),
        Channel::Speed => linear::<EngineSpeed>(unit, EngineSpeed::from_rpm(1.0).si(), 0.0),
        Channel::Manifold | Channel::Barometer => linear::<Pressure>(unit, 1e3, 0.0),
        Channel::Vacuum => linear::<Vacuum>(unit, Vacuum::from_inhg(1.0).si(), 0.0),
        Channel::Throttle if matches!(lower.as_str(), "ratio" | "0-1" | "1") => Some((100.0, 0.0)),
        Channel::Throttle | Channel::Humidity => linear::<Fraction>(unit, 0.01, 0.0),
        Channel::Lambda | Channel::Lambda2 => lambda(&lower, stoichiometric),
        Channel::Coolant | Channel::IntakeAir | Channel::Oil => linear::<Temperature>(unit, 1.0, 273.15),
        Channel::FuelPressure => linear::<PressureDifference>(unit, 1e3, 0.0),
        Channel::AirFlow | Channel::FuelFlow => linear::<MassFlow>(unit, 1e-3, 0.0),
        Channel::Torque => linear::<Torque>(unit, 1.0, 0.0),
        Channel::Power => linear::<Power>(unit, 1e3, 0.0),
        Channel::RoadSpeed => linear::<Velocity>(unit, 1.0, 0.0),
        Channel::Lateral | Channel::Longitudinal => match lower.as_str() {
            "g" => Some((1.0, 0.0)),
            "m/s2" | "m/s^2" | "m/s²" => Some((1.0 / STANDARD_GRAVITY, 0.0)),
            _ => None,
        },
        Channel::Tilt => match lower.as_str() {
            "deg" | "°" | "degrees" => Some((1.0, 0.0)),
            "rad" => Some((180.0 / std::f64::consts::PI, 0.0)),
            _ => None,
        },
    }
}

/// m/s2 in one g (third General Conference on Weights and Measures, 1901).
const STANDARD_GRAVITY: f64 = 9.806_65;

/// Units a column of this channel can be written in, for messages.
pub(super) fn known(channel: Channel) -> String {
    use crate::units::parse::unit_list;
    match channel {
        Channel::Time => unit_list::<TimeSpan>(),
        Channel::Speed => unit_list::<EngineSpeed>(),
        Channel::Manifold | Channel::Barometer => unit_list::<Pressure>(),
        Channel::Vacuum => unit_list::<Vacuum>(),
        Channel::Throttle => format!("{}, ratio", unit_list::<Fraction>()),
        Channel::Humidity => unit_list::<Fraction>(),
        Channel::Lambda | Channel::Lambda2 => "lambda, AFR, V".to_owned(),
        Channel::Coolant | Channel::IntakeAir | Channel::Oil => unit_list::<Temperature>(),
        Channel::FuelPressure => unit_list::<PressureDifference>(),
        Channel::AirFlow | Channel::FuelFlow => unit_list::<MassFlow>(),
        Channel::Torque => unit_list::<Torque>(),
        Channel::Power => unit_list::<Power>(),
        Channel::RoadSpeed => unit_list::<Velocity>(),
        Channel::Lateral | Channel::Longitudinal => "g, m/s2".to_owned(),
        Channel::Tilt => "deg, rad".to_owned(),
    }
}

fn lambda(unit: &str, stoichiometric: Option<AirFuelRatio>) -> Option<(f64, f64)> {
    match unit {
        // A voltage goes through a table whose values are lambda already.
        "lambda" | "λ" | "lam" | "la" | "" | "v" | "volt" | "volts" => Some((1.0, 0.0)),
        "afr" | ":1" | "a/f" | "air/fuel" => {
            let scale = stoichiometric.map_or(DISPLAY_SCALE, AirFuelRatio::as_ratio);
            (scale > 0.0).then_some((1.0 / scale, 0.0))
        }
        _ => None,
    }
}

/// From a quantity's own list of units; `one` and `zero` are the inside unit's one and zero in SI.
fn linear<Q: Quantity>(unit: &str, one: f64, zero: f64) -> Option<(f64, f64)> {
    let at = |n: u8| crate::units::parse::parse::<Q>(&format!("{n} {unit}")).ok().map(Quantity::si);
    let (nought, unity) = (at(0)?, at(1)?);
    let scale = (unity - nought) / one;
    // Exactly one when it is the inside unit itself, so that numbers come through untouched.
    let scale = if (scale - 1.0).abs() < 1e-12 { 1.0 } else { scale };
    let offset = (nought - zero) / one;
    Some((scale, if offset.abs() < 1e-9 { 0.0 } else { offset }))
}

/// The unit a channel is kept in, as it is written.
pub(super) const fn usual(channel: Channel) -> &'static str {
    match channel {
        Channel::Time => "s",
        Channel::Speed => "rpm",
        Channel::Manifold | Channel::Barometer | Channel::FuelPressure => "kPa",
        Channel::Vacuum => "inHg",
        Channel::Throttle | Channel::Humidity => "%",
        Channel::Lambda | Channel::Lambda2 => "lambda",
        Channel::Coolant | Channel::IntakeAir | Channel::Oil => "degC",
        Channel::AirFlow | Channel::FuelFlow => "g/s",
        Channel::Torque => "N m",
        Channel::Power => "kW",
        Channel::RoadSpeed => "m/s",
        Channel::Lateral | Channel::Longitudinal => "g",
        Channel::Tilt => "deg",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn the_inside_unit_is_left_untouched() {
        for channel in Channel::ALL {
            assert_eq!(to_inside(channel, usual(channel), None), Some((1.0, 0.0)), "{channel:?}");
        }
    }

    #[test]
    fn other_units() {
        let read = |c, u: &str, v: f64| to_inside(c, u, None).map(|(s, o)| v * s + o).unwrap();
        assert_relative_eq!(read(Channel::Time, "ms", 250.0), 0.25);
        assert_relative_eq!(read(Channel::Manifold, "inHg", 29.92), 101.32, epsilon = 0.01);
        assert_relative_eq!(read(Channel::Vacuum, "kPa", 50.796), 15.0, epsilon = 0.001);
        assert_relative_eq!(read(Channel::Coolant, "F", 212.0), 100.0, epsilon = 1e-6);
        assert_relative_eq!(read(Channel::FuelPressure, "psi", 6.0), 41.37, epsilon = 0.01);
        assert_relative_eq!(read(Channel::Lambda, "AFR", 13.23), 0.9, epsilon = 1e-9);
        assert_relative_eq!(read(Channel::AirFlow, "kg/h", 3.6), 1.0, epsilon = 1e-9);
        assert!(to_inside(Channel::Manifold, "rpm", None).is_none());
        let e85 = AirFuelRatio::from_ratio(9.8);
        let (scale, _) = to_inside(Channel::Lambda, "AFR", Some(e85)).unwrap();
        assert_relative_eq!(8.33 * scale, 0.85, epsilon = 1e-9);
    }

    #[test]
    fn units_that_no_quantity_lists() {
        for (channel, unit, one) in [
            (Channel::Time, "us", 1e-6),
            (Channel::Time, "\u{b5}s", 1e-6),
            (Channel::Speed, "krpm", 1000.0),
            (Channel::Throttle, "ratio", 100.0),
            (Channel::Throttle, "1", 100.0),
            (Channel::Lateral, "m/s2", 1.0 / 9.806_65),
            (Channel::Longitudinal, "m/s^2", 1.0 / 9.806_65),
            (Channel::Tilt, "rad", 57.295_78),
            (Channel::Tilt, "degrees", 1.0),
            (Channel::Lambda, "V", 1.0),
        ] {
            let (scale, offset) = to_inside(channel, unit, None).unwrap();
            assert_relative_eq!(scale, one, max_relative = 1e-6);
            assert_eq!(offset, 0.0, "{unit}");
        }
        assert!(to_inside(Channel::Lambda, "AFR", Some(AirFuelRatio::from_ratio(0.0))).is_none());
    }

    #[test]
    fn every_unit_that_is_named_would_do() {
        for channel in Channel::ALL {
            let all = known(channel);
            assert!(!all.is_empty(), "{channel:?}");
            for unit in all.split([',', ';']).flat_map(|u| u.split(" or ")).map(str::trim) {
                assert!(to_inside(channel, unit, None).is_some(), "{channel:?}: {unit} of {all}");
            }
        }
    }
}
