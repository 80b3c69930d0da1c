//! Moist air: vapour pressure from any of the ways humidity is measured, and density.

use crate::numeric::solve;
use crate::setup::Weather;
use crate::units::{Density, Fraction, Pressure, Temperature};

/// Gas constant of dry air, J/(kg K), as in the ICAO standard atmosphere (Doc 7488).
pub const DRY_AIR_R: f64 = 287.052_87;
/// Gas constant of water vapour, J/(kg K): molar gas constant 8.314 472 over 0.018 015 28 kg/mol (CIPM-2007).
const VAPOUR_R: f64 = 8.314_472 / 0.018_015_28;
/// Ratio of the molar masses of water and dry air (ASHRAE Fundamentals, psychrometrics chapter).
const MOLAR_RATIO: f64 = 0.621_945;

/// How the moisture of the air was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Moisture {
    /// None, or not counted.
    Dry,
    /// Relative humidity over liquid water, 0 to 1.
    Relative(Fraction),
    /// Dew point over liquid water.
    DewPoint(Temperature),
    /// Thermodynamic (adiabatic-saturation) wet bulb, as on psychrometric charts.
    WetBulb(Temperature),
    /// Wet bulb of an aspirated psychrometer; about 1 % lower in vapour pressure than the thermodynamic one.
    AspiratedWetBulb(Temperature),
}

/// Why a set of readings is no air.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AirError {
    /// The temperature is not one an engine breathes.
    #[error("air at {0:.0} degC is outside -40 to 60 degC, where these equations hold")]
    Temperature(f64),
    /// The pressure is not one an engine breathes.
    #[error(
        "an air pressure of {0:.2} kPa is outside 30 to 115 kPa; give the station pressure, read beside the engine"
    )]
    Pressure(f64),
    /// Relative humidity beyond its limits.
    #[error("a relative humidity of {0:.1} % is outside 0 to 100 %")]
    Humidity(f64),
    /// A dew point or wet bulb warmer than the air.
    #[error("the {what} ({given:.1} degC) is above the air temperature ({air:.1} degC)")]
    AboveAir {
        /// Which.
        what: &'static str,
        /// As given, Celsius.
        given: f64,
        /// Air temperature, Celsius.
        air: f64,
    },
    /// A wet bulb colder than perfectly dry air would give.
    #[error(
        "a wet bulb of {given:.1} degC is below what perfectly dry air at {air:.1} degC gives; read it again"
    )]
    TooDry {
        /// As given, Celsius.
        given: f64,
        /// Air temperature, Celsius.
        air: f64,
    },
}

/// Saturation vapour pressure over liquid water.
///
/// CIPM-2007 form (Picard, Davis, Glaeser and Fujii, Metrologia 45 (2008) 149); within 0.005 % of IAPWS-95 from 5 to
/// 40 C and used here from -40 to 60 C, where it stays within 1 %. Below freezing it is over supercooled water, as
/// weather stations report relative humidity.
pub fn saturation_pressure(temperature: Temperature) -> Pressure {
    let t = temperature.as_k();
    Pressure::from_pa((1.237_884_7e-5 * t * t - 1.912_131_6e-2 * t + 33.937_110_47 - 6_343.164_5 / t).exp())
}

/// Air as an engine breathes it: total pressure, temperature and the vapour in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoistAir {
    pressure: Pressure,
    temperature: Temperature,
    vapour: Pressure,
}

impl MoistAir {
    /// From a barometer (station pressure), a thermometer and a measure of moisture.
    pub fn new(pressure: Pressure, temperature: Temperature, moisture: Moisture) -> Result<Self, AirError> {
        if !(30e3..=115e3).contains(&pressure.as_pa()) {
            return Err(AirError::Pressure(pressure.as_kpa()));
        }
        if !(-40.0..=60.0).contains(&temperature.as_c()) {
            return Err(AirError::Temperature(temperature.as_c()));
        }
        let vapour = vapour_pressure(pressure, temperature, moisture)?;
        Ok(Self { pressure, temperature, vapour })
    }

    /// From the weather written in a setup.
    pub fn from_weather(weather: &Weather) -> Result<Self, AirError> {
        Self::new(weather.pressure, weather.temperature, Moisture::Relative(weather.humidity))
    }

    /// Total (station) pressure.
    pub fn pressure(&self) -> Pressure {
        self.pressure
    }

    /// Temperature.
    pub fn temperature(&self) -> Temperature {
        self.temperature
    }

    /// Partial pressure of the water vapour.
    pub fn vapour_pressure(&self) -> Pressure {
        self.vapour
    }

    /// Pressure of the dry air alone: what burns fuel. (Brooks and Garlock, NACA TR 426, 1932: humidity acts as an
    /// inert diluent.)
    pub fn dry_pressure(&self) -> Pressure {
        self.pressure - self.vapour
    }

    /// Density of the whole mixture, as ideal gases.
    ///
    /// 0.02 to 0.05 % below CIPM-2007; consistent with the standard atmosphere, which is an ideal gas too.
    pub fn density(&self) -> Density {
        let t = self.temperature.as_k();
        Density::from_kg_m3(
            self.dry_pressure().as_pa() / (DRY_AIR_R * t) + self.vapour.as_pa() / (VAPOUR_R * t),
        )
    }

    /// Mass of dry air in a volume of the mixture.
    pub fn dry_density(&self) -> Density {
        Density::from_kg_m3(self.dry_pressure().as_pa() / (DRY_AIR_R * self.temperature.as_k()))
    }

    /// Relative humidity over liquid water.
    pub fn relative_humidity(&self) -> Fraction {
        Fraction::from_ratio(self.vapour / saturation_pressure(self.temperature))
    }

    /// Dew point over liquid water; `None` for air drier than a dew point of -60 C.
    pub fn dew_point(&self) -> Option<Temperature> {
        let e = self.vapour.as_pa();
        let gap = |k: f64| saturation_pressure(Temperature::from_k(k)).as_pa() - e;
        solve::root(213.15, 335.0, 1e-7, gap).ok().map(Temperature::from_k)
    }

    /// Thermodynamic wet bulb; `None` when no root is found.
    pub fn wet_bulb(&self) -> Option<Temperature> {
        let (p, t, e) = (self.pressure.as_pa(), self.temperature.as_c(), self.vapour.as_pa());
        let gap = |tw: f64| thermodynamic(p, t, tw) - e;
        solve::root(t - 50.0, t, 1e-6, gap).ok().map(Temperature::from_c)
    }

    /// Density by the full CIPM-2007 equation with 400 ppm of carbon dioxide (Picard et al., Metrologia 45 (2008)
    /// 149; stated range 600 to 1100 hPa, 15 to 27 C). A witness for [`Self::density`].
    pub fn density_cipm(&self) -> Density {
        let (p, k, t) = (self.pressure.as_pa(), self.temperature.as_k(), self.temperature.as_c());
        let enhancement = 1.000_62 + 3.14e-8 * p + 5.6e-7 * t * t;
        let x = enhancement * self.vapour.as_pa() / p;
        let linear = 1.581_23e-6 - 2.933_1e-8 * t
            + 1.104_3e-10 * t * t
            + (5.707e-6 - 2.051e-8 * t) * x
            + (1.989_8e-4 - 2.376e-6 * t) * x * x;
        let z = 1.0 - p / k * linear + (p / k).powi(2) * (1.83e-11 - 0.765e-8 * x * x);
        let (air, water) = (0.028_965_46, 0.018_015_28);
        Density::from_kg_m3(p * air / (z * 8.314_472 * k) * (1.0 - x * (1.0 - water / air)))
    }
}

fn vapour_pressure(p: Pressure, t: Temperature, moisture: Moisture) -> Result<Pressure, AirError> {
    let not_above = |what, given: Temperature| {
        if given.as_k() > t.as_k() + 1e-9 {
            return Err(AirError::AboveAir { what, given: given.as_c(), air: t.as_c() });
        }
        Ok(())
    };
    let too_dry = |given: Temperature| AirError::TooDry { given: given.as_c(), air: t.as_c() };
    let wet =
        |given: Temperature, e: f64| if e < 0.0 { Err(too_dry(given)) } else { Ok(Pressure::from_pa(e)) };
    match moisture {
        Moisture::Dry => Ok(Pressure::ZERO),
        Moisture::Relative(rh) if (0.0..=1.0).contains(&rh.as_ratio()) => {
            Ok(saturation_pressure(t) * rh.as_ratio())
        }
        Moisture::Relative(rh) => Err(AirError::Humidity(rh.as_percent())),
        Moisture::DewPoint(dew) => {
            not_above("dew point", dew)?;
            Ok(if dew.as_c() < -80.0 { Pressure::ZERO } else { saturation_pressure(dew) })
        }
        Moisture::WetBulb(tw) => {
            not_above("wet bulb", tw)?;
            if tw.as_c() < -50.0 {
                return Err(too_dry(tw));
            }
            wet(tw, thermodynamic(p.as_pa(), t.as_c(), tw.as_c()))
        }
        Moisture::AspiratedWetBulb(tw) => {
            not_above("wet bulb", tw)?;
            wet(tw, aspirated(p.as_pa(), t.as_c(), tw))
        }
    }
}

/// Vapour pressure, Pa, from the thermodynamic wet bulb: the energy balance of adiabatic saturation (ASHRAE Handbook
/// of Fundamentals, psychrometrics, liquid water). Pressures in Pa, temperatures in C.
fn thermodynamic(p: f64, t: f64, tw: f64) -> f64 {
    let saturated = saturation_pressure(Temperature::from_c(tw)).as_pa();
    let ws = MOLAR_RATIO * saturated / (p - saturated);
    let w = ((2501.0 - 2.326 * tw) * ws - 1.006 * (t - tw)) / (2501.0 + 1.86 * t - 4.186 * tw);
    p * w / (MOLAR_RATIO + w)
}

/// Vapour pressure, Pa, from an aspirated psychrometer (WMO-No. 8, Guide to Instruments, annex 4.B; from memory).
fn aspirated(p: f64, t: f64, wet: Temperature) -> f64 {
    let tw = wet.as_c();
    saturation_pressure(wet).as_pa() - 6.53e-4 * (1.0 + 9.44e-4 * tw) * p * (t - tw)
}

#[cfg(test)]
mod tests;
