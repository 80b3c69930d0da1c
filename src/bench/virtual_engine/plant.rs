//! The engine as equations: given a speed, a manifold pressure and where the hands have left everything, what flows,
//! what burns and what torque comes out. No time and no chance in here.
//!
//! Inside this file: SI units, speeds in rad/s.

use super::circuits::{IdleCorner, MainBarrel};
use super::loads::Load;
use crate::physics::engine::{
    Gas, OverlapFactor, PlateAngle, ResidualState, barnes_moss, burn, dilution_factor, nozzle_flow,
    plate_area, residual_fraction, spark_factor,
};
use crate::setup::Drive;
use crate::units::{Area, CrankAngle, EngineSpeed, Lambda, Length, Pressure, Temperature};
use core::f64::consts::PI;

/// The most corners told apart.
pub(super) const MOST_CORNERS: usize = 16;
/// Plate angle at full throttle.
pub(super) const WIDE_DEG: f64 = 87.0;
const INHG: f64 = 3386.389;
/// Height of the whole transition slot.
const FULL_SLOT: f64 = 2.7e-3;

/// One set of barrels as the air sees it.
#[derive(Debug, Clone)]
pub(super) struct Barrels {
    pub(super) count: f64,
    pub(super) bore: f64,
    pub(super) closed_deg: f64,
    /// Effective area of venturi and air horn, whole set.
    pub(super) venturi: f64,
    /// Plate angle at which the slot stands as designed.
    pub(super) idle_deg: f64,
    /// Slot showing then, metres.
    pub(super) slot: f64,
    pub(super) main: MainBarrel,
}

/// The enrichment valve and its channel.
#[derive(Debug, Clone)]
pub(super) struct Valve {
    /// Opening vacuum as stamped, Pa.
    pub(super) opens_below: f64,
    /// Real less stamped, Pa.
    pub(super) off: f64,
    /// Channel of one barrel, kg/s/sqrt(Pa).
    pub(super) channel: f64,
}

/// The accelerator pump.
#[derive(Debug, Clone)]
pub(super) struct Shot {
    /// Flow while it discharges, kg/s, all nozzles.
    pub(super) rate: f64,
    /// Mass of a full stroke, kg.
    pub(super) stroke: f64,
}

/// What does not change while it runs (parts changed by hand aside).
#[derive(Debug, Clone)]
pub(super) struct Plant {
    pub(super) displacement: f64,
    pub(super) compression: f64,
    pub(super) overlap: OverlapFactor,
    pub(super) filling_low: f64,
    pub(super) filling_rated: f64,
    pub(super) rated: f64,
    pub(super) rated_air: f64,
    pub(super) inertia: f64,
    /// Heat of the fuel that a kilogram of air burns, J/kg, times the indicated efficiency at its best.
    pub(super) work_per_air: f64,
    pub(super) stoichiometric: f64,
    pub(super) fuel_density: f64,
    pub(super) friction: f64,
    pub(super) manifold: f64,
    pub(super) spread: f64,
    pub(super) mixing: f64,
    pub(super) air_share: Vec<f64>,
    pub(super) corners: Vec<IdleCorner>,
    pub(super) primary: Barrels,
    pub(super) secondary: Option<Barrels>,
    pub(super) secondary_opens_at: f64,
    pub(super) valve: Option<Valve>,
    pub(super) shot: Option<Shot>,
    pub(super) drive: Drive,
    pub(super) propeller: f64,
    /// Design idle speed, rad/s.
    pub(super) idle: f64,
    /// Corner that a gasket leak is nearest to.
    pub(super) leak_corner: usize,
}

/// Where hands, weather and warmth have left it.
#[derive(Debug, Clone)]
pub(super) struct Standing {
    pub(super) turns: Vec<f64>,
    pub(super) stop_deg: f64,
    pub(super) throttle: f64,
    pub(super) load: Load,
    pub(super) pressure: f64,
    pub(super) temperature: f64,
    pub(super) density: f64,
    /// Share of the intake that is dry air.
    pub(super) dry: f64,
    /// Fuel standing above its level, metres.
    pub(super) float_high: f64,
    pub(super) fuel_pressure: f64,
    pub(super) timing: f64,
    pub(super) leak_area: f64,
    pub(super) torn_valve: bool,
    pub(super) play: f64,
    /// Air drawn into the exhaust ahead of the sensor, kg/s.
    pub(super) exhaust_leak: f64,
    pub(super) coolant: f64,
    /// Slow change of friction, 1 at rest.
    pub(super) drift: f64,
}

/// What stands open: effective areas, and how much of each set's slot shows and what vacuum it feels.
#[derive(Debug, Clone, Copy)]
pub(super) struct Openings {
    primary: f64,
    secondary: f64,
    leak: f64,
    slot: [f64; 2],
    felt: [f64; 2],
}

/// Air past each way in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Air {
    pub(super) primary: f64,
    pub(super) secondary: f64,
    pub(super) leak: f64,
}

impl Air {
    pub(super) fn total(self) -> f64 {
        self.primary + self.secondary + self.leak
    }
}

/// What the main circuits give: fuel of all, and the depression in the well of a barrel of each set.
#[derive(Debug, Clone, Copy)]
pub(super) struct Mains {
    pub(super) fuel: f64,
    primary_well: f64,
    secondary_well: f64,
}

/// A figure for each corner.
pub(super) type Corners = [f64; MOST_CORNERS];

/// What a moment of running gives.
#[derive(Debug, Clone, Copy)]
pub(super) struct Work {
    /// Brake torque before the load, N m.
    pub(super) torque: f64,
    pub(super) misfire: f64,
}

impl Standing {
    fn gas(&self) -> Gas {
        Gas { gamma: 1.4, constant: self.pressure / (self.density * self.temperature) }
    }

    /// 0 stone cold, 1 hot.
    pub(super) fn warmth(&self) -> f64 {
        ((self.coolant - 10.0) / 72.0).clamp(0.0, 1.0)
    }

    fn fuel_rise(&self) -> f64 {
        let over = (self.fuel_pressure / 6894.757 - 5.0).max(0.0);
        self.float_high + 0.9e-3 * over
    }
}

impl Barrels {
    /// Effective area with the plate at an angle.
    pub(super) fn area(&self, plate_deg: f64) -> f64 {
        let (bore, shaft) = (Length::from_m(self.bore), Length::from_m(0.2 * self.bore));
        let open =
            plate_area(bore, shaft, PlateAngle::from_deg(self.closed_deg), PlateAngle::from_deg(plate_deg));
        let plates = 0.80 * self.count * open.as_m2();
        if plates <= 0.0 { 0.0 } else { plates * self.venturi / plates.hypot(self.venturi) }
    }

    /// Slot showing over slot at the design idle, none to a full slot.
    pub(super) fn slot_ratio(&self, plate_deg: f64) -> f64 {
        (self.slot_showing(plate_deg) / self.slot).max(0.0)
    }

    /// Slot showing, metres.
    pub(super) fn slot_showing(&self, plate_deg: f64) -> f64 {
        (self.slot + 0.5 * self.bore * (plate_deg - self.idle_deg).to_radians()).clamp(0.0, FULL_SLOT)
    }
}

impl Plant {
    pub(super) fn corner_count(&self) -> usize {
        self.corners.len()
    }

    /// Angles of the primary and secondary plates. An air valve keeps the secondaries from opening further than the
    /// engine can draw through.
    pub(super) fn plates(&self, s: &Standing, speed: f64) -> (f64, f64) {
        let fast_idle = 1.6 * (1.0 - s.warmth()) * (1.0 - s.throttle);
        let primary = s.stop_deg + (WIDE_DEG - s.stop_deg) * s.throttle + fast_idle;
        let share = (s.throttle - self.secondary_opens_at) / (1.0 - self.secondary_opens_at).max(1e-3);
        let drawn = (1.8 * speed / self.rated - 0.35).clamp(0.0, 1.0).powf(2.5);
        let share = share.clamp(0.0, 1.0) * drawn;
        let secondary = self.secondary.as_ref().map_or(0.0, |b| b.idle_deg + (WIDE_DEG - b.idle_deg) * share);
        (primary, secondary)
    }

    /// What the plates, the slots and the leak leave open at a speed.
    pub(super) fn openings(&self, s: &Standing, speed: f64) -> Openings {
        let (plate_1, plate_2) = self.plates(s, speed);
        // the further a plate has swung from its slot, the less of the manifold's vacuum the slot feels
        let felt = |swung: f64| (1.0 - swung / 90.0).clamp(0.0, 1.0);
        let second = self.secondary.as_ref();
        Openings {
            primary: self.primary.area(plate_1),
            secondary: second.map_or(0.0, |b| b.area(plate_2)),
            leak: s.leak_area,
            slot: [self.primary.slot_ratio(plate_1), second.map_or(0.0, |b| b.slot_ratio(plate_2))],
            felt: [felt(plate_1 - s.stop_deg), second.map_or(0.0, |b| felt(plate_2 - b.idle_deg))],
        }
    }

    /// Air through the openings at a manifold pressure.
    pub(super) fn air(s: &Standing, open: &Openings, manifold: f64) -> Air {
        let flux = nozzle_flow(
            Area::from_m2(1.0),
            s.gas(),
            Pressure::from_pa(s.pressure),
            Temperature::from_k(s.temperature),
            Pressure::from_pa(manifold),
        )
        .as_kg_s();
        Air { primary: flux * open.primary, secondary: flux * open.secondary, leak: flux * open.leak }
    }

    /// How far the enrichment valve is open in steady running at a manifold pressure.
    pub(super) fn valve_lift(&self, s: &Standing, manifold: f64) -> f64 {
        self.valve.as_ref().map_or(0.0, |v| {
            let vacuum = s.pressure - manifold;
            ((v.opens_below + v.off + 0.25 * INHG - vacuum) / (0.5 * INHG)).clamp(0.0, 1.0)
        })
    }

    /// What the main circuits give, with the enrichment valve open so far.
    pub(super) fn mains(&self, s: &Standing, air: Air, lift: f64) -> Mains {
        let rise = s.fuel_rise();
        let extra = self.valve.as_ref().map_or(0.0, |v| v.channel * lift);
        let of = |b: &Barrels, flow: f64, extra: f64| {
            let (fuel, well) = b.main.fuel(flow / b.count, s.density, extra, self.fuel_density, rise);
            (b.count * fuel, well)
        };
        let (fuel_1, primary_well) = of(&self.primary, air.primary, extra);
        let (fuel_2, secondary_well) =
            self.secondary.as_ref().map_or((0.0, 0.0), |b| of(b, air.secondary, 0.0));
        Mains { fuel: fuel_1 + fuel_2, primary_well, secondary_well }
    }

    /// Fuel metered into each corner (after what the corners share), without the pump.
    pub(super) fn fuel(&self, s: &Standing, open: &Openings, manifold: f64, mains: Mains) -> Corners {
        let n = self.corner_count();
        let rise = s.fuel_rise();
        let drop = (s.pressure - manifold).min(0.49 * s.pressure);
        let wells = [mains.primary_well, mains.secondary_well];
        let mut own = [0.0; MOST_CORNERS];
        let mut sum = 0.0;
        for ((own, corner), turns) in own.iter_mut().zip(&self.corners).zip(&s.turns) {
            let set = usize::from(corner.secondary);
            let drop = open.felt[set] * drop;
            *own = corner.fuel(*turns, open.slot[set], drop, wells[set], self.fuel_density, rise);
            sum += *own;
        }
        let drip = 0.013e-3 * ((rise - 0.5e-3) * 1e3).max(0.0);
        let torn = if s.torn_valve {
            self.valve.as_ref().map_or(0.0, |v| 0.16 * v.channel * drop.max(0.0).sqrt())
        } else {
            0.0
        };
        let common = (mains.fuel + drip + torn + self.mixing * sum) / n as f64;
        let mut into = [0.0; MOST_CORNERS];
        for k in 0..n {
            into[k] = (1.0 - self.mixing) * own[k] + common;
        }
        into
    }

    /// Share of the metered mixture that reaches each corner, over its even share: a leak near one corner pushes
    /// carburetor mixture out of it.
    fn metered_share(&self, k: usize, leak_share: f64) -> f64 {
        let n = self.corner_count() as f64;
        let near = if k == self.leak_corner { 0.5 + 0.5 / n } else { 0.5 / n };
        let share = self.air_share[k];
        ((share - leak_share * near) / (1.0 - leak_share).max(0.05)).max(0.02 / n) * n
    }

    /// Lambda of each corner from the air the cylinders draw and the fuel that goes with it.
    pub(super) fn lambdas(&self, s: &Standing, drawn: f64, leak_share: f64, fuel: &Corners) -> Corners {
        let mut lambda = [0.0; MOST_CORNERS];
        for k in 0..self.corner_count() {
            let reached =
                if leak_share > 0.0 { fuel[k] * self.metered_share(k, leak_share) } else { fuel[k] };
            let air = self.air_share[k] * drawn * s.dry;
            lambda[k] = (air / (reached * self.stoichiometric).max(1e-12)).min(9.0);
        }
        lambda
    }

    fn exhaust(&self, s: &Standing, air: f64) -> f64 {
        s.pressure + 800.0 + 9_000.0 * (air / self.rated_air).powi(2)
    }

    /// Burned gas in the charge.
    pub(super) fn residual(&self, s: &Standing, speed: f64, manifold: f64) -> f64 {
        residual_fraction(
            self.overlap,
            ResidualState {
                speed: EngineSpeed::from_rad_s(speed),
                intake: Pressure::from_pa(manifold),
                exhaust: Pressure::from_pa(s.pressure + 800.0),
                equivalence: 1.1,
                compression: self.compression,
            },
        )
    }

    /// Air the cylinders draw.
    pub(super) fn drawn(&self, s: &Standing, speed: f64, manifold: f64, residual: f64) -> f64 {
        let u = (speed / self.rated).min(1.3);
        let free = self.filling_low + (self.filling_rated - self.filling_low) * u * u;
        // burned gas takes room, and much of it blown back into the manifold takes more
        let filling = free * (1.0 - 0.35 * residual - 1.5 * (residual - 0.35).max(0.0).powi(2));
        let temperature = s.temperature + 22.0;
        filling * self.displacement * speed / (4.0 * PI) * manifold / (287.05 * temperature)
    }

    /// Torque and odds of a charge.
    pub(super) fn work(&self, s: &Standing, speed: f64, manifold: f64, drawn: f64, lambda: &Corners) -> Work {
        let residual = self.residual(s, speed, manifold);
        let (mut worth, mut misfire) = (0.0, 0.0);
        // Gauss and Hermite's three points over the spread between cylinders of a corner
        let reach = 3f64.sqrt() * self.spread;
        for (share, corner) in self.air_share.iter().zip(lambda) {
            for (off, weight) in [(-reach, 1.0 / 6.0), (0.0, 2.0 / 3.0), (reach, 1.0 / 6.0)] {
                let b = burn(Lambda::from_ratio(corner * (1.0 + off)), residual);
                worth += share * weight * b.worth;
                misfire += share * weight * b.misfire;
            }
        }
        let thousands = speed * 30.0 / PI / 1000.0;
        let advance = s.timing + 20.0 * ((thousands - 0.9) / 1.8).clamp(0.0, 1.0);
        let best = 12.0 + 80.0 * residual + 4.0 * thousands;
        let spark = spark_factor(CrankAngle::from_deg(best - advance));
        let heat_kept = 1.0 - 0.22 * (0.7 / thousands.max(0.2)).sqrt();
        let warm = s.warmth();
        let quality = spark * dilution_factor(residual) * heat_kept * (0.92 + 0.08 * warm);
        let power = drawn * s.dry * self.work_per_air * worth * quality;
        let pumping = self.exhaust(s, drawn) - manifold;
        let rubbing = barnes_moss(EngineSpeed::from_rad_s(speed)).as_pa() - 15e3;
        let rubbing = rubbing * self.friction * s.drift * (1.5 - 0.5 * warm);
        let against = (pumping + rubbing) * self.displacement / (4.0 * PI);
        Work { torque: power / speed.max(5.0) - against, misfire }
    }
}
