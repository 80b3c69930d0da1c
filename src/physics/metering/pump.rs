//! The accelerator pump's shot: a volume over a time.

use super::assumed;
use super::jet::{Bore, Liquid};
use crate::setup::Pump;
use crate::units::{MassFlow, TimeSpan, Volume};

/// What a full stroke of the pump gives each primary barrel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shot {
    /// Fuel in all.
    pub volume: Volume,
    /// From the start of the lever to the first fuel.
    pub delay: TimeSpan,
    /// From the first fuel to the last.
    pub duration: TimeSpan,
    /// Fuel flow meanwhile.
    pub flow: MassFlow,
}

impl Shot {
    /// The shot of a throttle opened within a time: the spring carries on when the lever is faster than the nozzle,
    /// and the lever sets the pace when it is slower.
    pub fn of(pump: &Pump, fuel: Liquid, opened_in: TimeSpan) -> Shot {
        let volume = pump.stroke_volume.unwrap_or(assumed::PUMP_VOLUME);
        let mass = volume.as_m3() * fuel.density.as_kg_m3();
        let by_spring = Bore::jet(pump.nozzle).flow(fuel, assumed::PUMP_PRESSURE).as_kg_s();
        let by_lever = if opened_in.as_s() > 0.0 { mass / opened_in.as_s() } else { f64::INFINITY };
        let flow = by_spring.min(by_lever);
        let duration = if flow > 0.0 { mass / flow } else { 0.0 };
        Shot {
            volume,
            delay: assumed::PUMP_DELAY,
            duration: TimeSpan::from_s(duration),
            flow: MassFlow::from_kg_s(flow),
        }
    }

    /// Fuel flow at a time after the lever began to move.
    pub fn flow_at(&self, time: TimeSpan) -> MassFlow {
        let since = time - self.delay;
        if since >= TimeSpan::ZERO && since < self.duration { self.flow } else { MassFlow::ZERO }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Density, Length};
    use approx::assert_relative_eq;

    const FUEL: Liquid = Liquid { density: Density::from_kg_m3(745.0), viscosity: 5e-4 };

    fn shot(nozzle: f64, opened_s: f64) -> Shot {
        let pump = Pump { nozzle: Length::from_inches(nozzle), stroke_volume: Some(Volume::from_cc(1.5)) };
        Shot::of(&pump, FUEL, TimeSpan::from_s(opened_s))
    }

    #[test]
    fn the_volume_is_given_whole() {
        for s in [shot(0.025, 0.1), shot(0.025, 3.0), shot(0.040, 0.0)] {
            let given = s.flow.as_kg_s() * s.duration.as_s() / 745.0;
            assert_relative_eq!(given, s.volume.as_m3(), max_relative = 1e-9);
        }
    }

    #[test]
    fn a_larger_nozzle_is_more_sooner_and_shorter() {
        let (small, large) = (shot(0.025, 0.1), shot(0.028, 0.1));
        assert!(large.flow > small.flow && large.duration < small.duration);
    }

    #[test]
    fn nothing_before_the_delay_or_after_the_end() {
        let s = shot(0.025, 0.1);
        assert_eq!(s.flow_at(s.delay * 0.5), MassFlow::ZERO);
        assert_eq!(s.flow_at(s.delay + s.duration * 0.5), s.flow);
        assert_eq!(s.flow_at(s.delay + s.duration), MassFlow::ZERO);
    }

    #[test]
    fn a_slow_foot_sets_the_pace() {
        assert_relative_eq!(shot(0.040, 4.0).duration.as_s(), 4.0, max_relative = 1e-9);
    }
}
