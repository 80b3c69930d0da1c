//! What no gauge shows: for tests and benchmarks only. Nothing here may reach a person's advice.

use super::engine::VirtualEngine;
use super::equilibrium::Steady;
use super::plant::{Plant, Standing};
use crate::numeric::solve::minimum;
use crate::units::{
    CrankAngle, EngineSpeed, Fraction, Lambda, Length, MassFlow, PressureDifference, Turns, Vacuum,
};

/// The engine as it is at this moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// Manifold vacuum.
    pub vacuum: Vacuum,
    /// Speed.
    pub speed: EngineSpeed,
    /// Lambda of each corner.
    pub lambda: Vec<Lambda>,
    /// Air drawn.
    pub air: MassFlow,
    /// Fuel metered.
    pub fuel: MassFlow,
    /// Share of charges that fail to burn.
    pub misfire: Fraction,
    /// Share of burned gas in the charge.
    pub residual: Fraction,
    /// Transition slot showing below the primary plates.
    pub slot: Length,
    /// Ignition timing at idle.
    pub timing: CrankAngle,
    /// How far the enrichment valve is open.
    pub valve_open: Fraction,
}

/// Where the gauge would settle, chance and drift left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settled {
    /// Manifold vacuum.
    pub vacuum: Vacuum,
    /// Speed.
    pub speed: EngineSpeed,
}

/// The best the mixture screws can do with everything else left alone.
#[derive(Debug, Clone, PartialEq)]
pub struct Best {
    /// Greatest vacuum.
    pub vacuum: Vacuum,
    /// The screws that give it.
    pub turns: Vec<Turns>,
}

impl VirtualEngine {
    /// The engine as it is now.
    pub fn truth(&self) -> Truth {
        let (m, n) = (&self.motion, self.plant.corner_count());
        Truth {
            vacuum: Vacuum::from_pa(self.standing.pressure - m.manifold),
            speed: self.speed_of(),
            lambda: m.lambda[..n].iter().map(|l| Lambda::from_ratio(*l)).collect(),
            air: MassFlow::from_kg_s(m.drawn),
            fuel: MassFlow::from_kg_s(m.fuel),
            misfire: Fraction::from_ratio(m.misfire),
            residual: Fraction::from_ratio(m.residual),
            slot: Length::from_m(self.plant.primary.slot_showing(self.plate_deg())),
            timing: CrankAngle::from_deg(self.standing.timing),
            valve_open: Fraction::from_ratio(m.valve_lift),
        }
    }

    /// Where it would settle as everything now stands, or nothing if it would stall.
    pub fn settled(&self) -> Option<Settled> {
        let s = self.still();
        self.plant.steady(&s).map(|x| self.settled_of(x))
    }

    /// The best the mixture screws can do at the throttle stop, load, warmth and air of this moment, by search over
    /// every screw on the equations themselves.
    pub fn best_vacuum(&self) -> Option<Best> {
        let mut s = self.still();
        let steady = self.plant.best(&mut s)?;
        Some(Best {
            vacuum: self.settled_of(steady).vacuum,
            turns: s.turns.iter().map(|t| Turns::from_turns(*t)).collect(),
        })
    }

    /// How much vacuum the screws as they stand leave on the table; all of it when the engine would stall.
    pub fn regret(&self) -> PressureDifference {
        let best = self.best_vacuum().map_or(Vacuum::ZERO, |b| b.vacuum);
        self.regret_against(best)
    }

    /// The same against a best already known (it changes with throttle, load, warmth and air).
    pub fn regret_against(&self, best: Vacuum) -> PressureDifference {
        best.above(self.settled().map_or(Vacuum::ZERO, |x| x.vacuum))
    }

    fn still(&self) -> Standing {
        Standing { drift: 1.0, ..self.standing.clone() }
    }

    fn settled_of(&self, x: Steady) -> Settled {
        Settled {
            vacuum: Vacuum::from_pa(self.standing.pressure - x.manifold),
            speed: EngineSpeed::from_rad_s(x.speed),
        }
    }
}

impl Plant {
    /// Moves the screws to the most vacuum. At a fixed stop more torque is more vacuum, so each screw is set for the
    /// most torque at the present speed and manifold pressure, and these found again, until nothing moves.
    fn best(&self, s: &mut Standing) -> Option<Steady> {
        let mut here = self.steady(s);
        for lap in 0..12 {
            // an engine that does not run yet is judged at its idle speed, where air alone sets the pressure
            let (speed, manifold) = match here {
                Some(x) => (x.speed, x.manifold),
                None => (self.idle, self.settle(s, self.idle)?),
            };
            let before = s.turns.clone();
            for _ in 0..3 {
                for k in 0..self.corner_count() {
                    self.best_screw(s, k, speed, manifold);
                }
            }
            here = self.steady(s);
            let moved = s.turns.iter().zip(&before).any(|(a, b)| (a - b).abs() > 2e-3);
            if here.is_some() && !moved && lap > 0 {
                break;
            }
        }
        here
    }

    fn best_screw(&self, s: &mut Standing, k: usize, speed: f64, manifold: f64) {
        if self.corners[k].screw_share == 0.0 {
            return;
        }
        let range = self.corners[k].range;
        let mut torque = |turns: f64| {
            s.turns[k] = turns;
            self.at(s, speed, manifold).2.torque
        };
        // the response is flat where a corner does not burn at all: look coarsely first
        let steps = 16;
        let coarse = (0..=steps)
            .map(|i| range * f64::from(i) / f64::from(steps))
            .max_by(|a, b| torque(*a).total_cmp(&torque(*b)))
            .unwrap_or(0.0);
        let reach = range / f64::from(steps);
        let (low, high) = ((coarse - reach).max(0.0), (coarse + reach).min(range));
        let best = minimum(low, high, 1e-3, |t| -torque(t));
        s.turns[k] = best;
    }
}
