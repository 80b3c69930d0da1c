//! Loads, and where the engine settles under them.

use super::engine::STALL;
use super::loads::Load;
use super::plant::{Air, Corners, Plant, Standing, Work};
use crate::numeric::solve::root;
use crate::setup::Drive;

/// Torque a boat's gear takes when engaged, N m.
pub(super) const GEAR_DRAG: f64 = 3.5;

/// A steady state.
#[derive(Debug, Clone, Copy)]
pub(super) struct Steady {
    pub(super) speed: f64,
    pub(super) manifold: f64,
}

impl Plant {
    /// Torque the load takes at a speed.
    pub(super) fn load_torque(&self, load: Load, speed: f64) -> f64 {
        match load {
            Load::Neutral | Load::Brake(_) => 0.0,
            Load::Steady(torque) => torque.as_n_m(),
            Load::Propeller => {
                // torque to the 1.7th power of speed, and more while the hull climbs its own wave
                let hump = 0.22 * (-((speed / self.rated - 0.72) / 0.16).powi(2)).exp();
                self.propeller * speed.powf(1.7) * (1.0 + hump) + GEAR_DRAG
            }
            Load::InGear => {
                let litres = self.displacement * 1e3;
                match self.drive {
                    // a propeller tied to the dock slips all it can and takes a little more than under way
                    Drive::Propeller => 1.15 * self.propeller * speed.powf(1.7) + GEAR_DRAG,
                    Drive::Automatic => 4.2 * litres * (speed / 73.3).powi(2),
                    Drive::LooseAutomatic => 2.2 * litres * (speed / 73.3).powi(2),
                    Drive::Manual | Drive::None => 0.0,
                }
            }
        }
    }

    /// Manifold pressure at which plates and cylinders pass the same air.
    pub(super) fn settle(&self, s: &Standing, speed: f64) -> Option<f64> {
        let open = self.openings(s, speed);
        root(2e3, s.pressure - 1.0, 0.5, |p| {
            Self::air(s, &open, p).total() - self.drawn(s, speed, p, self.residual(s, speed, p))
        })
        .ok()
    }

    /// Everything at a speed and manifold pressure, as if it had stood there for ever.
    pub(super) fn at(&self, s: &Standing, speed: f64, manifold: f64) -> (Air, Corners, Work) {
        let open = self.openings(s, speed);
        let air = Self::air(s, &open, manifold);
        let fuel = self.fuel(s, &open, manifold, self.mains(s, air, self.valve_lift(s, manifold)));
        let total = air.total();
        let lambda = self.lambdas(s, total, if total > 0.0 { air.leak / total } else { 0.0 }, &fuel);
        (air, lambda, self.work(s, speed, manifold, total, &lambda))
    }

    /// Where it runs steadily under its load, if it can.
    pub(super) fn steady(&self, s: &Standing) -> Option<Steady> {
        if let Load::Brake(speed) = s.load {
            let speed = speed.as_rad_s();
            return self.settle(s, speed).map(|manifold| Steady { speed, manifold });
        }
        let spare = |speed: f64| match self.settle(s, speed) {
            Some(p) => self.at(s, speed, p).2.torque - self.load_torque(s.load, speed),
            None => -1.0,
        };
        // the fastest of its balances is the stable one: slower ones, if any, are the edge of stalling
        let mut high = 1.8 * self.rated;
        let mut low = 0.88 * high;
        while spare(low) <= 0.0 {
            (high, low) = (low, 0.88 * low);
            if low < STALL {
                return None;
            }
        }
        let speed = root(low, high, 0.01, spare).ok()?;
        self.settle(s, speed).map(|manifold| Steady { speed, manifold })
    }
}
