//! Temperature and temperature difference, two types, so that ten degrees of change is never 283 K.

use super::define::{NotFinite, Quantity, Unit, quantity, text_forms};

const ZERO_C: f64 = 273.15;
const F_SCALE: f64 = 5.0 / 9.0;
const ZERO_F: f64 = 459.67 * F_SCALE;

/// A temperature on the absolute scale.
#[derive(Clone, Copy, PartialEq, PartialOrd)]
pub struct Temperature(f64);

impl Quantity for Temperature {
    const NAME: &'static str = "a temperature";
    const UNITS: &'static [Unit] = &[
        Unit { symbol: "degC", aliases: &["c", "°c", "celsius", "deg c"], scale: 1.0, offset: ZERO_C },
        Unit {
            symbol: "degF", aliases: &["f", "°f", "fahrenheit", "deg f"], scale: F_SCALE, offset: ZERO_F
        },
        Unit { symbol: "K", aliases: &["kelvin"], scale: 1.0, offset: 0.0 },
    ];
    fn from_si(value: f64) -> Self {
        Self::from_k(value)
    }
    fn si(self) -> f64 {
        self.0
    }
}

#[allow(missing_docs)]
impl Temperature {
    pub const fn from_k(value: f64) -> Self {
        debug_assert!(value.is_finite());
        Self(value)
    }
    pub const fn as_k(self) -> f64 {
        self.0
    }
    pub const fn from_c(value: f64) -> Self {
        Self::from_k(value + ZERO_C)
    }
    pub const fn try_from_c(value: f64) -> Result<Self, NotFinite> {
        if value.is_finite() { Ok(Self(value + ZERO_C)) } else { Err(NotFinite) }
    }
    pub const fn as_c(self) -> f64 {
        self.0 - ZERO_C
    }
    pub const fn from_f(value: f64) -> Self {
        Self::from_k(value * F_SCALE + ZERO_F)
    }
    pub const fn try_from_f(value: f64) -> Result<Self, NotFinite> {
        if value.is_finite() { Ok(Self(value * F_SCALE + ZERO_F)) } else { Err(NotFinite) }
    }
    pub const fn as_f(self) -> f64 {
        (self.0 - ZERO_F) / F_SCALE
    }
    pub fn total_cmp(&self, other: &Self) -> core::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}

text_forms!(Temperature);

impl core::ops::Sub for Temperature {
    type Output = TemperatureChange;
    fn sub(self, other: Self) -> TemperatureChange {
        TemperatureChange::from_k(self.0 - other.0)
    }
}

impl core::ops::Add<TemperatureChange> for Temperature {
    type Output = Temperature;
    fn add(self, change: TemperatureChange) -> Temperature {
        Temperature::from_k(self.0 + change.as_k())
    }
}

quantity! {
    /// A difference between two temperatures.
    TemperatureChange, "a temperature difference", from_k / as_k,
    units: [("K", ["degc", "c", "°c"], 1.0), ("degF", ["f", "°f", "r"], F_SCALE)],
    doors: [from_f / try_from_f / as_f = F_SCALE]
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn fixed_points() {
        assert_relative_eq!(Temperature::from_f(32.0).as_c(), 0.0, epsilon = 1e-9);
        assert_relative_eq!(Temperature::from_c(100.0).as_f(), 212.0, epsilon = 1e-9);
        assert_relative_eq!(Temperature::from_f(60.0).as_k(), 288.7056, epsilon = 1e-4);
    }

    #[test]
    fn a_change_is_not_a_temperature() {
        let rise = Temperature::from_f(90.0) - Temperature::from_f(80.0);
        assert_relative_eq!(rise.as_f(), 10.0, epsilon = 1e-9);
        assert_relative_eq!((Temperature::from_c(20.0) + rise).as_c(), 25.555_555, epsilon = 1e-5);
    }
}
