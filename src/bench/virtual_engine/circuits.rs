//! The fuel circuits, in quadratic laws that close: every restriction passes `k sqrt(drop)`, so a feed, its bleed
//! and its discharge in series solve without iteration. Deliberately not the network the advice is computed with:
//! jets are off their stamp, discharge coefficients depend on flow in another way, the nozzle wakes softly.
//!
//! Inside this file: SI units, flows in kg/s, drops in Pa, `k` in kg/s/sqrt(Pa).

const AIR_DENSITY: f64 = 1.19;
const MM: f64 = 1e-3;

/// `k` of a hole of this bore for liquid of this density.
pub(super) fn liquid(bore: f64, coefficient: f64, density: f64) -> f64 {
    coefficient * core::f64::consts::FRAC_PI_4 * bore * bore * (2.0 * density).sqrt()
}

/// Fuel and bleed air of constants `fuel` and `air` under one depression, let out through `out` square metres: the
/// share of the outer drop that the well feels.
fn well_share(fuel: f64, air: f64, out: f64, fuel_density: f64) -> f64 {
    let emulsion = (fuel + air) / (fuel / fuel_density + air / AIR_DENSITY).max(1e-15);
    let discharge = 2.0 * emulsion * out * out;
    let inlet = (fuel + air).powi(2);
    if discharge + inlet <= 0.0 { 0.0 } else { discharge / (discharge + inlet) }
}

/// One corner's idle and transition circuit.
#[derive(Debug, Clone)]
pub(super) struct IdleCorner {
    /// Idle feed.
    pub(super) feed: f64,
    /// Idle air bleed.
    pub(super) bleed: f64,
    /// Effective discharge area at the best setting.
    pub(super) discharge: f64,
    /// Share of it that the screw governs; zero when the passage is blocked.
    pub(super) screw_share: f64,
    /// Turns at the best setting.
    pub(super) best_turns: f64,
    /// Turns to falling out.
    pub(super) range: f64,
    /// The screw meters air into the well instead.
    pub(super) meters_air: bool,
    /// Its throttle belongs to the secondaries.
    pub(super) secondary: bool,
}

impl IdleCorner {
    /// Area behind the needle over its area at the best setting: a taper that opens less and less, until the hole
    /// itself is the smaller.
    fn needle(&self, turns: f64) -> f64 {
        let full = 2.0 * self.best_turns;
        let area = |t: f64| t / (1.0 + (t / full).powi(2)).sqrt();
        area(turns.max(0.0)) / area(self.best_turns)
    }

    /// Fuel under a manifold drop, with the slot showing this many times its idle height, the main well pulling
    /// down the supply, and fuel standing `rise` metres above its level.
    pub(super) fn fuel(
        &self,
        turns: f64,
        slot: f64,
        drop: f64,
        main_well: f64,
        density: f64,
        rise: f64,
    ) -> f64 {
        let needle = self.needle(turns);
        let (mut area, mut bleed) = (self.discharge, self.bleed * (1.0 + 0.25 * (1.0 - slot / 4.0).max(0.0)));
        if self.meters_air {
            bleed *= 1.0 + 2.5 * self.screw_share * needle;
            area *= 0.65 + 0.35 * slot;
        } else {
            area *= self.screw_share * needle + (1.0 - self.screw_share) * slot;
        }
        let well = drop * well_share(self.feed, bleed, area, density);
        let lift = density * 9.81 * (4.0 * MM - 0.4 * rise);
        self.feed * (well - 0.7 * main_well - lift).max(0.0).sqrt()
    }
}

/// The main circuit of one barrel of a set.
#[derive(Debug, Clone)]
pub(super) struct MainBarrel {
    /// Effective venturi area.
    pub(super) venturi: f64,
    /// Main jet.
    pub(super) jet: f64,
    /// Main air bleed.
    pub(super) bleed: f64,
    /// Effective nozzle area.
    pub(super) nozzle: f64,
    /// Booster signal over venturi depression.
    pub(super) gain: f64,
    /// Signal at which the nozzle is half awake, Pa.
    pub(super) waking: f64,
    /// Fuel level to lip, metres.
    pub(super) lip: f64,
}

impl MainBarrel {
    /// Velocity head in the venturi at an air flow, Pa.
    pub(super) fn head(&self, air: f64, air_density: f64) -> f64 {
        (air / self.venturi).powi(2) / (2.0 * air_density)
    }

    /// Sets the booster, and the head at which the nozzle wakes.
    pub(super) fn tune(&mut self, gain: f64, waking_head: f64) {
        self.gain = gain;
        self.waking = gain * waking_head;
    }

    /// Fuel of one barrel, and the depression in its well, at an air flow through the barrel and with `extra`
    /// added to the jet (the enrichment channel).
    pub(super) fn fuel(&self, air: f64, air_density: f64, extra: f64, density: f64, rise: f64) -> (f64, f64) {
        if air <= 0.0 {
            return (0.0, 0.0);
        }
        let signal = self.gain * self.head(air, air_density) - density * 9.81 * (self.lip - rise);
        if signal <= 0.0 {
            return (0.0, 0.0);
        }
        let awake = signal.powi(3) / (signal * signal + self.waking * self.waking);
        let feed = self.jet + extra;
        let bleed = self.bleed * (signal / (signal + 500.0)).sqrt();
        let well = awake * well_share(feed, bleed, self.nozzle, density);
        // a jet passes a little less than its area says while the flow through it is slow
        let slow = 1.0 - 0.10 * (-well.sqrt() / 25.0).exp();
        (slow * feed * well.sqrt(), well)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FUEL: f64 = 745.0;

    fn corner() -> IdleCorner {
        IdleCorner {
            feed: liquid(0.762e-3, 0.75, FUEL),
            bleed: liquid(1.78e-3, 0.75, AIR_DENSITY),
            discharge: 0.5e-6,
            screw_share: 0.65,
            best_turns: 1.25,
            range: 4.0,
            meters_air: false,
            secondary: false,
        }
    }

    fn fuel(c: &IdleCorner, turns: f64, slot: f64) -> f64 {
        c.fuel(turns, slot, 47e3, 0.0, FUEL, 0.0)
    }

    #[test]
    fn out_is_richer_or_leaner_by_what_the_screw_meters() {
        let mut c = corner();
        assert!(fuel(&c, 1.5, 1.0) > fuel(&c, 1.25, 1.0));
        assert!(fuel(&c, 0.0, 1.0) > 0.0, "the slot still feeds");
        c.meters_air = true;
        assert!(fuel(&c, 1.5, 1.0) < fuel(&c, 1.25, 1.0));
    }

    #[test]
    fn a_blocked_passage_leaves_the_screw_without_a_say() {
        let c = IdleCorner { screw_share: 0.0, ..corner() };
        assert_eq!(fuel(&c, 0.0, 1.0), fuel(&c, 3.0, 1.0));
    }

    #[test]
    fn more_slot_more_fuel_and_less_say_for_the_screw() {
        let c = corner();
        let say = |slot| fuel(&c, 1.5, slot) / fuel(&c, 1.25, slot);
        assert!(fuel(&c, 1.25, 2.0) > fuel(&c, 1.25, 1.0));
        assert!(say(2.5) < say(1.0));
    }

    #[test]
    fn a_bigger_bleed_leans_a_bigger_jet_enriches_and_the_nozzle_sleeps_at_low_flow() {
        let barrel = MainBarrel {
            venturi: 480e-6,
            jet: liquid(1.524e-3, 0.8, FUEL),
            bleed: liquid(0.71e-3, 0.75, AIR_DENSITY),
            nozzle: 5.6e-6,
            gain: 1.3,
            waking: 1250.0,
            lip: 5e-3,
        };
        let at = |b: &MainBarrel, air: f64| b.fuel(air, 1.19, 0.0, FUEL, 0.0).0;
        assert_eq!(at(&barrel, 2e-3), 0.0);
        let base = at(&barrel, 24e-3);
        assert!(base > 0.0);
        assert!(at(&MainBarrel { bleed: 1.5 * barrel.bleed, ..barrel.clone() }, 24e-3) < base);
        let small = at(&MainBarrel { jet: 0.934 * barrel.jet, ..barrel.clone() }, 24e-3) / base;
        assert!((0.92..0.98).contains(&small), "{small}");
    }
}
