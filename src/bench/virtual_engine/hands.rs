//! Hands on the engine: screws, throttle, load, parts, settings, repairs.

use super::build::breathe;
use super::engine::VirtualEngine;
use super::loads::{Fault, Load};
use super::plant::{Plant, Standing};
use crate::setup::{PartPath, PartSize, Weather};
use crate::units::{CrankAngle, Fraction, Length, PressureDifference, Turns};

/// Plate angle for one turn of the idle-speed screw, degrees.
const DEG_PER_TURN: f64 = 1.5;
/// Play of the idle-speed screw, turns.
const BACKLASH: f64 = 0.06;

impl VirtualEngine {
    /// Turns a mixture screw (from 1); out is positive. Says what really happened: it stops at its seat and where it
    /// would fall out, and a screw there is not turns by nothing.
    pub fn turn_screw(&mut self, screw: u8, by: Turns) -> Turns {
        let Some(k) = usize::from(screw).checked_sub(1).filter(|k| *k < self.plant.corner_count()) else {
            return Turns::ZERO;
        };
        let before = self.standing.turns[k];
        let after = (before + by.as_turns()).clamp(0.0, self.plant.corners[k].range);
        self.standing.turns[k] = after;
        let size = PartSize::Turns(Turns::from_turns(after));
        if let Some(new) = self.setup.carburetor.with(PartPath::IdleScrew(screw), size) {
            self.setup.carburetor = new;
        }
        Turns::from_turns(after - before)
    }

    /// Where the mixture screws stand, turns out from seated.
    pub fn screws(&self) -> Vec<Turns> {
        self.standing.turns.iter().map(|t| Turns::from_turns(*t)).collect()
    }

    /// Turns the idle-speed screw; positive opens the throttle. The first bit after a change of direction is slack.
    pub fn turn_idle_speed_screw(&mut self, by: Turns) {
        let wanted = self.slack + by.as_turns();
        let taken_up = wanted.clamp(0.0, BACKLASH);
        self.slack = taken_up;
        let moved = wanted - taken_up;
        let least = self.plant.primary.closed_deg + 0.1;
        self.standing.stop_deg = (self.standing.stop_deg + DEG_PER_TURN * moved).clamp(least, least + 30.0);
    }

    /// Opens the throttle: 0 on the idle stop, 1 wide open.
    pub fn set_throttle(&mut self, opening: Fraction) {
        self.standing.throttle = opening.as_ratio().clamp(0.0, 1.0);
    }

    /// Puts a load on the crankshaft.
    pub fn set_load(&mut self, load: Load) {
        self.standing.load = load;
    }

    /// Fits a part of another size; false when there is no such part, or the size is not one it can have.
    pub fn change_part(&mut self, path: PartPath, size: PartSize) -> bool {
        let sound = match size {
            PartSize::Bore(d) => d > Length::ZERO,
            PartSize::Opening(v) => v.as_pa() > 0.0,
            PartSize::Turns(t) => t.as_turns() >= 0.0,
        };
        let (Some(old), true) = (self.setup.carburetor.size(path), sound) else {
            return false;
        };
        let Some(new) = self.setup.carburetor.with(path, size) else {
            return false;
        };
        self.setup.carburetor = new;
        let ratio = match (old.bore(), size.bore()) {
            (Some(a), Some(b)) => (b / a).powi(2),
            _ => 1.0,
        };
        self.plant.refit(path, size, ratio, &mut self.standing.turns);
        true
    }

    /// Another day's air.
    pub fn set_weather(&mut self, weather: Weather) {
        breathe(&mut self.standing, &weather);
        self.setup.weather = Some(weather);
        if !self.motion.running {
            self.motion.manifold = self.standing.pressure;
        }
    }

    /// Sets the float: how far the fuel stands above its proper level (negative below).
    pub fn set_float(&mut self, high: Length) {
        self.standing.float_high = high.as_m().clamp(-6e-3, 6e-3);
    }

    /// Sets the fuel pressure at the inlet.
    pub fn set_fuel_pressure(&mut self, pressure: PressureDifference) {
        self.standing.fuel_pressure = pressure.as_pa().max(0.0);
    }

    /// Sets the ignition timing at idle, degrees before top dead centre.
    pub fn set_timing(&mut self, advance: CrankAngle) {
        self.standing.timing = advance.as_deg().clamp(-10.0, 50.0);
        self.setup.engine.idle_timing = Some(advance);
    }

    /// Puts a fault right; false when the engine did not have it.
    pub fn fix(&mut self, fault: Fault) -> bool {
        let (plant, s) = (&mut self.plant, &mut self.standing);
        let had = has(plant, s, fault);
        match fault {
            Fault::BaseGasketLeak => s.leak_area = 0.0,
            Fault::BlockedIdlePassage(n) => {
                if let Some(c) = plant.corners.get_mut(usize::from(n).wrapping_sub(1)).filter(|_| had) {
                    c.screw_share = 0.65;
                }
            }
            Fault::TornEnrichmentValve => s.torn_valve = false,
            Fault::HighFloat => s.float_high = s.float_high.min(0.0),
            Fault::HighFuelPressure => s.fuel_pressure = s.fuel_pressure.min(4.5 * 6894.757),
            Fault::PumpLeverPlay => s.play = 0.0,
            Fault::LooseExhaustClamp => s.exhaust_leak = 0.0,
        }
        had
    }

    /// Spoils something, to practise finding it; false when there is no such part.
    pub fn spoil(&mut self, fault: Fault) -> bool {
        let (plant, s) = (&mut self.plant, &mut self.standing);
        match fault {
            Fault::BaseGasketLeak => s.leak_area = 0.12 * plant.primary.area(plant.primary.idle_deg),
            Fault::BlockedIdlePassage(n) => {
                let Some(c) = plant.corners.get_mut(usize::from(n).wrapping_sub(1)) else { return false };
                c.screw_share = 0.0;
            }
            Fault::TornEnrichmentValve => {
                if plant.valve.is_none() {
                    return false;
                }
                s.torn_valve = true;
            }
            Fault::HighFloat => s.float_high = 3e-3,
            Fault::HighFuelPressure => s.fuel_pressure = 7.5 * 6894.757,
            Fault::PumpLeverPlay => s.play = 0.04,
            // a sixth of what a healthy idle breathes
            Fault::LooseExhaustClamp => s.exhaust_leak = 0.3 * plant.displacement,
        }
        true
    }
}

fn has(plant: &Plant, s: &Standing, fault: Fault) -> bool {
    match fault {
        Fault::BaseGasketLeak => s.leak_area > 0.0,
        Fault::BlockedIdlePassage(n) => {
            plant.corners.get(usize::from(n).wrapping_sub(1)).is_some_and(|c| c.screw_share == 0.0)
        }
        Fault::TornEnrichmentValve => s.torn_valve,
        Fault::HighFloat => s.float_high > 0.5e-3,
        Fault::HighFuelPressure => s.fuel_pressure > 5.0 * 6894.757,
        Fault::PumpLeverPlay => s.play > 0.0,
        Fault::LooseExhaustClamp => s.exhaust_leak > 0.0,
    }
}
