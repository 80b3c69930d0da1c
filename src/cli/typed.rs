//! Quantities as options: those whose option names the unit may be bare, the air of a day in one text.

use crate::physics::air::{MoistAir, Moisture};
use crate::units::parse::parse_or_in;
use crate::units::{CrankAngle, EngineSpeed, Fraction, Pressure, QuantityError, Temperature};

/// An engine speed; a bare number is in rpm, as the option says.
pub(super) fn rpm(text: &str) -> Result<EngineSpeed, QuantityError> {
    parse_or_in(text, "rpm")
}

/// An angle; a bare number is in degrees, as the option says.
pub(super) fn degrees(text: &str) -> Result<CrankAngle, QuantityError> {
    parse_or_in(text, "deg")
}

/// "29.92 inHg, 59 F, 0 %": station pressure, temperature, relative humidity; what is left out is standard and dry.
///
/// With a semicolon anywhere, only semicolons part the three, so that a decimal comma can be written.
pub(super) fn air(text: &str) -> Result<MoistAir, String> {
    let separator = if text.contains(';') { ';' } else { ',' };
    let parts: Vec<&str> = text.split(separator).map(str::trim).collect();
    if parts.len() > 3 {
        return Err("expected pressure, temperature and humidity, such as \"29.92 inHg, 59 F, 0 %\"; with decimal commas, \
                    part them by semicolons"
            .to_owned());
    }
    let part = |i: usize| parts.get(i).copied().filter(|p| !p.is_empty());
    let said = |e: QuantityError| e.to_string();
    let pressure = part(0).map_or(Ok(standard_pressure()), |p| p.parse::<Pressure>().map_err(said))?;
    let temperature =
        part(1).map_or(Ok(standard_temperature()), |t| t.parse::<Temperature>().map_err(said))?;
    let moisture = match part(2) {
        None => Moisture::Dry,
        Some(h) => Moisture::Relative(h.parse::<Fraction>().map_err(said)?),
    };
    MoistAir::new(pressure, temperature, moisture).map_err(|e| e.to_string())
}

/// Sea-level pressure of the standard atmosphere.
pub(super) fn standard_pressure() -> Pressure {
    Pressure::from_pa(crate::physics::atmosphere::SEA_LEVEL_PA)
}

/// Sea-level temperature of the standard atmosphere.
pub(super) fn standard_temperature() -> Temperature {
    Temperature::from_k(crate::physics::atmosphere::SEA_LEVEL_K)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_in_one_text() {
        let a = air("28.85 inHg, 85 F, 85 %").unwrap();
        assert!(
            (a.pressure().as_inhg() - 28.85).abs() < 1e-9 && (a.temperature().as_f() - 85.0).abs() < 1e-9
        );
        let b = air("1013,25 hPa; 15 C").unwrap();
        assert!((b.pressure().as_hpa() - 1013.25).abs() < 1e-9 && b.vapour_pressure() == Pressure::ZERO);
        assert!((air(",85F").unwrap().pressure().as_pa() - 101_325.0).abs() < 1e-9);
        for bad in ["29.92", "29.92 inHg, 59", "29.92 inHg, 59 F, 60", "1,2,3,4", "29.92 inHg, 59 F, 120 %"] {
            assert!(air(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn bare_where_the_option_names_the_unit() {
        assert!((rpm("5500").unwrap().as_rpm() - 5500.0).abs() < 1e-9);
        assert!((degrees("218").unwrap().as_deg() - 218.0).abs() < 1e-12);
        assert!(rpm("5500 cfm").is_err() && degrees("218 mm").is_err());
    }
}
