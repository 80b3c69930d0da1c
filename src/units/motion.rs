//! Speed of the crankshaft, torque, power, and spans of time.

use super::define::quantity;

const RPM: f64 = core::f64::consts::PI / 30.0;
const LBF_FT: f64 = 1.355_817_948_331_400_4;

quantity! {
    /// Speed of the crankshaft; inside, radians a second.
    EngineSpeed, "an engine speed", from_rad_s / as_rad_s,
    units: [("rpm", ["rev/min", "1/min", "r/min"], RPM), ("rad/s", [], 1.0), ("Hz", ["rev/s"], RPM * 60.0)],
    doors: [from_rpm / try_from_rpm / as_rpm = RPM]
}

quantity! {
    /// Turning moment at the crankshaft.
    Torque, "a torque", from_n_m / as_n_m,
    units: [("N m", ["nm", "n·m", "n-m"], 1.0), ("lbf ft", ["lb ft", "lbft", "ft lb", "ftlb", "lb-ft", "ft-lb", "ftlbf"], LBF_FT)],
    doors: [from_lbf_ft / try_from_lbf_ft / as_lbf_ft = LBF_FT]
}

quantity! {
    /// Power at the crankshaft.
    Power, "a power", from_w / as_w,
    units: [("kW", [], 1e3), ("hp", ["bhp"], 745.699_871_582_270_2), ("PS", ["cv"], 735.498_75), ("W", [], 1.0)],
    doors: [from_kw / try_from_kw / as_kw = 1e3, from_hp / try_from_hp / as_hp = 745.699_871_582_270_2]
}

quantity! {
    /// A span of time.
    TimeSpan, "a time", from_s / as_s,
    units: [("s", ["sec", "second", "seconds"], 1.0), ("ms", [], 1e-3), ("min", ["minute", "minutes"], 60.0), ("h", ["hour", "hours"], 3600.0)],
    doors: [from_ms / try_from_ms / as_ms = 1e-3, from_min / try_from_min / as_min = 60.0]
}

impl core::ops::Mul<EngineSpeed> for Torque {
    type Output = Power;
    fn mul(self, speed: EngineSpeed) -> Power {
        Power::from_w(self.as_n_m() * speed.as_rad_s())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn torque_and_power_cross_at_5252() {
        let power = Torque::from_lbf_ft(300.0) * EngineSpeed::from_rpm(5252.113);
        assert_relative_eq!(power.as_hp(), 300.0, epsilon = 1e-3);
    }
}
