//! The polynomials of Crossley and Cook (IEE Control 91, 1991, volume 2, pages 921 to 925) for one car engine, as
//! coded in the engine example of the Modelica Standard Library: a published engine to hold ours against. The cubic
//! throttle coefficient is 0.00063; the library notes that the paper prints 0.0063.

use crate::numeric::solve::{SolveError, root};
use crate::physics::engine::throttle::PlateAngle;
use crate::units::{AirFuelRatio, CrankAngle, EngineSpeed, MassFlow, Pressure, Torque};

/// Mass of charge in a cylinder, as the torque polynomial takes it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChargeMass(f64);

impl ChargeMass {
    /// From grams.
    pub const fn from_g(grams: f64) -> Self {
        Self(grams)
    }
}

/// Air past the throttle, with one bar outside; valid to wide open.
pub fn throttle_flow(angle: PlateAngle, manifold: Pressure) -> MassFlow {
    let (t, p) = (angle.as_deg(), manifold.as_pa() * 1e-5);
    let opening = 2.821 - 0.05231 * t + 0.10299 * t * t - 0.00063 * t * t * t;
    let drive = if p <= 0.5 { 1.0 } else { 2.0 * (p - p * p).max(0.0).sqrt() };
    MassFlow::from_g_s(opening * drive)
}

/// Air into the cylinders.
pub fn pumping_flow(speed: EngineSpeed, manifold: Pressure) -> MassFlow {
    let (n, p) = (speed.as_rad_s(), manifold.as_pa() * 1e-5);
    MassFlow::from_g_s(-0.366 + 0.08979 * n * p - 0.0337 * n * p * p + 0.0001 * n * n * p)
}

/// Torque of a charge, a mixture, a spark and a speed.
pub fn torque(charge: ChargeMass, mixture: AirFuelRatio, spark: CrankAngle, speed: EngineSpeed) -> Torque {
    let (m, af, s, n) = (charge.0, mixture.as_ratio(), spark.as_deg(), speed.as_rad_s());
    Torque::from_n_m(
        -181.3 + 379.36 * m + 21.91 * af - 0.85 * af * af + 0.26 * s - 0.0028 * s * s + 0.027 * n
            - 0.000107 * n * n
            + 0.00048 * n * s
            + 2.55 * s * m
            - 0.05 * s * s * m,
    )
}

/// The ratio at which that torque is greatest.
pub fn best_ratio() -> AirFuelRatio {
    AirFuelRatio::from_ratio(21.91 / (2.0 * 0.85))
}

/// The manifold pressure at which throttle and cylinders pass the same air.
pub fn balance(angle: PlateAngle, speed: EngineSpeed) -> Result<Pressure, SolveError> {
    let off = |bar: f64| {
        let p = Pressure::from_pa(bar * 1e5);
        throttle_flow(angle, p).as_g_s() - pumping_flow(speed, p).as_g_s()
    };
    root(0.05, 1.0, 1e-7, off).map(|bar| Pressure::from_pa(bar * 1e5))
}
