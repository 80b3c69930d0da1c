//! Lengths, areas, volumes, angles, turns of a screw and plain shares.

use super::define::quantity;

const INCH: f64 = 0.0254;
const FOOT: f64 = 0.3048;

quantity! {
    /// A length: a bore, a stroke, an altitude.
    Length, "a length", from_m / as_m,
    units: [
        ("in", ["inch", "inches", "\"", "″"], INCH), ("mm", [], 1e-3), ("m", ["meter", "metre", "metres", "meters"], 1.0),
        ("ft", ["feet", "foot", "'"], FOOT), ("cm", [], 1e-2), ("thou", ["mil"], INCH / 1000.0),
    ],
    doors: [
        from_mm / try_from_mm / as_mm = 1e-3, from_inches / try_from_inches / as_inches = INCH,
        from_feet / try_from_feet / as_feet = FOOT,
    ]
}

quantity! {
    /// An area.
    Area, "an area", from_m2 / as_m2,
    units: [("mm2", ["mm²", "sq mm"], 1e-6), ("in2", ["in²", "sq in"], INCH * INCH), ("cm2", ["cm²"], 1e-4), ("m2", ["m²"], 1.0)],
    doors: [from_mm2 / try_from_mm2 / as_mm2 = 1e-6, from_in2 / try_from_in2 / as_in2 = INCH * INCH]
}

quantity! {
    /// A volume: a displacement, a pump shot.
    Volume, "a volume", from_m3 / as_m3,
    units: [
        ("L", ["l", "litre", "liter", "litres", "liters"], 1e-3), ("in3", ["cid", "ci", "cu in", "cuin", "in³"], INCH * INCH * INCH),
        ("cc", ["cm3", "cm³", "ml"], 1e-6), ("m3", ["m³"], 1.0), ("gal", ["us gal", "gallon", "gallons"], 231.0 * INCH * INCH * INCH),
    ],
    doors: [
        from_l / try_from_l / as_l = 1e-3, from_cc / try_from_cc / as_cc = 1e-6,
        from_in3 / try_from_in3 / as_in3 = INCH * INCH * INCH,
    ]
}

quantity! {
    /// An angle of the crankshaft (or of the cam, where a name says so).
    CrankAngle, "an angle", from_deg / as_deg,
    units: [("deg", ["°", "degree", "degrees"], 1.0)],
    doors: []
}

quantity! {
    /// Turns of a screw; positive outward (anticlockwise).
    Turns, "a number of turns", from_turns / as_turns,
    units: [("turns", ["turn", "t"], 1.0)],
    doors: []
}

quantity! {
    /// A share of a whole: 0.85 for 85 %.
    Fraction, "a share", from_ratio / as_ratio,
    units: [("%", ["percent", "pct"], 0.01)],
    doors: [from_percent / try_from_percent / as_percent = 0.01]
}

impl Length {
    /// The area of a round hole of this bore.
    pub fn bore_area(self) -> Area {
        Area::from_m2(core::f64::consts::PI / 4.0 * self.as_m() * self.as_m())
    }
}

impl Area {
    /// The bore of a round hole of this area.
    pub fn bore(self) -> Length {
        Length::from_m((4.0 / core::f64::consts::PI * self.as_m2()).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn cubic_inch_and_litre() {
        assert_relative_eq!(Volume::from_in3(302.0).as_l(), 4.948_89, epsilon = 1e-4);
        assert_relative_eq!(Volume::from_in3(1.0).as_cc(), 16.387_064, epsilon = 1e-9);
    }

    #[test]
    fn bore_and_area_are_each_others_way_back() {
        let bore = Length::from_inches(0.060);
        assert_relative_eq!(bore.bore_area().bore().as_inches(), 0.060, epsilon = 1e-12);
    }
}
