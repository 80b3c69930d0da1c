//! Flow and density. Factors from the inch (0.0254 m) and pound (0.45359237 kg), both exact.

use super::define::quantity;

const POUND: f64 = 0.453_592_37;
const CFM: f64 = 0.3048 * 0.3048 * 0.3048 / 60.0;

quantity! {
    /// Mass in a time: air or fuel.
    MassFlow, "a mass flow", from_kg_s / as_kg_s,
    units: [("g/s", [], 1e-3), ("kg/h", ["kg/hr"], 1.0 / 3600.0), ("lb/h", ["lb/hr", "lbs/hr", "pph"], POUND / 3600.0), ("kg/s", [], 1.0), ("lb/min", [], POUND / 60.0)],
    doors: [
        from_g_s / try_from_g_s / as_g_s = 1e-3, from_kg_h / try_from_kg_h / as_kg_h = 1.0 / 3600.0,
        from_lb_h / try_from_lb_h / as_lb_h = POUND / 3600.0,
    ]
}

quantity! {
    /// Volume in a time, at the density that goes with it.
    VolumeFlow, "a volume flow", from_m3_s / as_m3_s,
    units: [("cfm", ["ft3/min", "cu ft/min"], CFM), ("m3/h", ["m³/h"], 1.0 / 3600.0), ("L/s", [], 1e-3), ("L/min", ["lpm"], 1e-3 / 60.0), ("cc/min", ["ml/min"], 1e-6 / 60.0), ("m3/s", [], 1.0)],
    doors: [
        from_cfm / try_from_cfm / as_cfm = CFM, from_m3_h / try_from_m3_h / as_m3_h = 1.0 / 3600.0,
        from_l_s / try_from_l_s / as_l_s = 1e-3, from_cc_min / try_from_cc_min / as_cc_min = 1e-6 / 60.0,
    ]
}

quantity! {
    /// Mass in a volume.
    Density, "a density", from_kg_m3 / as_kg_m3,
    units: [("kg/m3", ["kg/m³", "g/l"], 1.0), ("g/cc", ["g/cm3", "kg/l"], 1000.0), ("lb/ft3", [], POUND / (0.3048 * 0.3048 * 0.3048))],
    doors: []
}

quantity! {
    /// A speed in space: of gas in a throat, of a vehicle.
    Velocity, "a speed", from_m_s / as_m_s,
    units: [("m/s", [], 1.0), ("km/h", ["kph"], 1.0 / 3.6), ("mph", [], 0.44704), ("kn", ["kt", "knots"], 1852.0 / 3600.0)],
    doors: [from_km_h / try_from_km_h / as_km_h = 1.0 / 3.6, from_mph / try_from_mph / as_mph = 0.44704]
}

impl core::ops::Mul<Density> for VolumeFlow {
    type Output = MassFlow;
    fn mul(self, density: Density) -> MassFlow {
        MassFlow::from_kg_s(self.as_m3_s() * density.as_kg_m3())
    }
}

impl core::ops::Div<Density> for MassFlow {
    type Output = VolumeFlow;
    fn div(self, density: Density) -> VolumeFlow {
        VolumeFlow::from_m3_s(self.as_kg_s() / density.as_kg_m3())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn cubic_foot_a_minute() {
        assert_relative_eq!(VolumeFlow::from_cfm(1.0).as_m3_h(), 1.699_010_8, epsilon = 1e-6);
    }

    #[test]
    fn volume_times_density_is_mass_and_back() {
        let air = Density::from_kg_m3(1.2);
        let flow = VolumeFlow::from_l_s(10.0) * air;
        assert_relative_eq!(flow.as_g_s(), 12.0, epsilon = 1e-9);
        assert_relative_eq!((flow / air).as_l_s(), 10.0, epsilon = 1e-9);
    }
}
