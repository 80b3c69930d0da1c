//! Absolute pressure, pressure difference and manifold vacuum: three meanings, three types.
//!
//! Conversion factors: NIST SP 811 (2008), appendix B.8, from memory: inch of mercury at 0 C 3386.389 Pa,
//! inch of water at 4 C 249.0889 Pa, pound-force per square inch 6894.757 Pa, millimetre of mercury
//! 133.3224 Pa.

use super::define::quantity;

const INHG: f64 = 3_386.389;
const INH2O: f64 = 249.0889;
const PSI: f64 = 6_894.757;
const MMHG: f64 = 133.3224;

quantity! {
    /// An absolute pressure: above nothing at all.
    Pressure, "an absolute pressure", from_pa / as_pa,
    units: [
        ("kPa", ["kpa abs", "kpaa"], 1e3), ("inHg", ["in hg", "\"hg", "inches hg"], INHG), ("hPa", ["mbar", "mb", "millibar"], 100.0),
        ("Pa", [], 1.0), ("psi", ["psia"], PSI), ("bar", [], 1e5), ("mmHg", ["torr"], MMHG),
    ],
    doors: [
        from_kpa / try_from_kpa / as_kpa = 1e3, from_hpa / try_from_hpa / as_hpa = 100.0,
        from_inhg / try_from_inhg / as_inhg = INHG, from_psi / try_from_psi / as_psi = PSI,
    ]
}

quantity! {
    /// A difference between two pressures: a depression, a drop across a filter, a fuel pressure on a gauge.
    PressureDifference, "a pressure difference", from_pa / as_pa,
    units: [
        ("inHg", ["in hg", "\"hg", "inches hg"], INHG), ("kPa", [], 1e3), ("inH2O", ["in h2o", "\"h2o", "in water"], INH2O),
        ("psi", ["psig", "lb/in2"], PSI), ("Pa", [], 1.0), ("hPa", ["mbar", "mb"], 100.0), ("bar", [], 1e5), ("mmHg", ["torr"], MMHG),
    ],
    doors: [
        from_kpa / try_from_kpa / as_kpa = 1e3, from_inhg / try_from_inhg / as_inhg = INHG,
        from_inh2o / try_from_inh2o / as_inh2o = INH2O, from_psi / try_from_psi / as_psi = PSI,
    ]
}

quantity! {
    /// Manifold vacuum as a gauge shows it: how far the manifold is below the air outside, positive downward.
    Vacuum, "a vacuum", from_pa / as_pa,
    units: [
        ("inHg", ["in hg", "\"hg", "inches hg", "in vac", "inhg vac"], INHG), ("kPa", [], 1e3), ("mmHg", ["torr"], MMHG),
        ("hPa", ["mbar", "mb"], 100.0), ("Pa", [], 1.0), ("psi", [], PSI), ("bar", [], 1e5),
    ],
    doors: [from_kpa / try_from_kpa / as_kpa = 1e3, from_inhg / try_from_inhg / as_inhg = INHG]
}

impl Pressure {
    /// The difference from `self` down to `lower`; negative when `lower` is the higher one.
    pub fn drop_to(self, lower: Pressure) -> PressureDifference {
        PressureDifference::from_pa(self.as_pa() - lower.as_pa())
    }

    /// This pressure less a difference.
    #[must_use]
    pub fn less(self, difference: PressureDifference) -> Pressure {
        Pressure::from_pa(self.as_pa() - difference.as_pa())
    }
}

impl Vacuum {
    /// What a gauge shows in a manifold at `manifold` with the air outside at `barometer` (station pressure,
    /// not the sea-level figure of a weather report).
    pub fn below(barometer: Pressure, manifold: Pressure) -> Vacuum {
        Vacuum::from_pa(barometer.as_pa() - manifold.as_pa())
    }

    /// The absolute manifold pressure under this vacuum.
    pub fn manifold(self, barometer: Pressure) -> Pressure {
        Pressure::from_pa(barometer.as_pa() - self.as_pa())
    }

    /// The difference `self - other`.
    pub fn above(self, other: Vacuum) -> PressureDifference {
        PressureDifference::from_pa(self.as_pa() - other.as_pa())
    }

    /// This vacuum with a difference added (negative takes away).
    #[must_use]
    pub fn plus(self, difference: PressureDifference) -> Vacuum {
        Vacuum::from_pa(self.as_pa() + difference.as_pa())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_vacuum_becomes_a_manifold_pressure_only_with_the_barometer() {
        let barometer = Pressure::from_inhg(29.92);
        let manifold = Vacuum::from_inhg(15.0).manifold(barometer);
        assert_relative_eq!(manifold.as_inhg(), 14.92, epsilon = 1e-9);
        assert_relative_eq!(Vacuum::below(barometer, manifold).as_inhg(), 15.0, epsilon = 1e-9);
    }

    #[test]
    fn not_finite_is_refused_at_the_door() {
        assert!(Pressure::try_from_kpa(f64::NAN).is_err());
        assert!(Vacuum::try_from_inhg(f64::INFINITY).is_err());
        assert!(Vacuum::try_from_inhg(15.0).is_ok());
    }
}
