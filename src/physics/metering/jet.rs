//! Liquid through small bores: the orifice law, the Reynolds-dependent discharge of jets, bores in series and side
//! by side.

use crate::units::{Area, Density, Length, MassFlow, PressureDifference};
use core::f64::consts::PI;

/// Standard gravity, m/s2.
pub const GRAVITY: f64 = 9.80665;

/// A liquid as a jet knows it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Liquid {
    /// Density.
    pub density: Density,
    /// Dynamic viscosity, Pa s.
    pub viscosity: f64,
}

/// A round bore with a length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bore {
    /// Diameter.
    pub diameter: Length,
    /// Length of the cylindrical part over the diameter.
    pub length_ratio: f64,
}

/// Reynolds number below which the discharge law is not stated; its value there is held.
const LEAST_REYNOLDS: f64 = 10.0;

/// Discharge coefficient of a sharp-edged long orifice (Lichtarowicz, Duggins and Markland, J. Mech. Eng. Sci. 7
/// (1965) 210, eqs. 7 and 12, from quotations): Reynolds number 10 to 20 000, length 2 to 10 diameters. Between
/// 1.5 and 2 diameters the limit is 0.810; outside its range the law is held at its end.
pub fn discharge_coefficient(reynolds: f64, length_ratio: f64) -> f64 {
    let (re, ratio) = (reynolds.max(LEAST_REYNOLDS), length_ratio.clamp(1.5, 10.0));
    1.0 / (1.0 / limit(ratio) + 20.0 / re * (1.0 + 2.25 * ratio) - transition(re, ratio))
}

fn limit(ratio: f64) -> f64 {
    if ratio < 2.0 { 0.810 } else { 0.827 - 0.0085 * ratio }
}

fn transition(re: f64, ratio: f64) -> f64 {
    0.005 * ratio / (1.0 + 7.5 * (0.00015 * re).log10().powi(2))
}

impl Bore {
    /// A bore of ordinary jet proportions: two diameters long.
    pub fn jet(diameter: Length) -> Self {
        Self { diameter, length_ratio: 2.0 }
    }

    /// Flow at a pressure difference, the coefficient and the flow solved together; zero when the difference is
    /// not positive.
    pub fn flow(&self, liquid: Liquid, drop: PressureDifference) -> MassFlow {
        MassFlow::from_kg_s(self.flow_si(liquid.density.as_kg_m3(), liquid.viscosity, drop.as_pa()))
    }

    /// The same in SI, for the networks.
    pub(super) fn flow_si(&self, density: f64, viscosity: f64, drop: f64) -> f64 {
        let d = self.diameter.as_m();
        if drop <= 0.0 || d <= 0.0 {
            return 0.0;
        }
        let ideal = PI / 4.0 * d * d * (2.0 * density * drop).sqrt();
        let ideal_reynolds = 4.0 * ideal / (PI * d * viscosity);
        let ratio = self.length_ratio.clamp(1.5, 10.0);
        let least = discharge_coefficient(LEAST_REYNOLDS, ratio);
        if ideal_reynolds * least <= LEAST_REYNOLDS {
            return ideal * least;
        }
        // Re / Cd = ideal Reynolds number is linear in Re but for the small transition term: a few rounds settle it.
        let (cu, friction) = (limit(ratio), 20.0 * (1.0 + 2.25 * ratio));
        let mut re = (cu * (ideal_reynolds - friction)).max(LEAST_REYNOLDS);
        for _ in 0..6 {
            re = (cu * (ideal_reynolds - friction + re * transition(re, ratio))).max(LEAST_REYNOLDS);
        }
        re * PI * d * viscosity / 4.0
    }
}

/// Flow of a liquid through an effective area (discharge coefficient times area) at a pressure difference; zero
/// when that is not positive.
pub fn orifice_flow(effective: Area, density: Density, drop: PressureDifference) -> MassFlow {
    let (rho, dp) = (density.as_kg_m3(), drop.as_pa().max(0.0));
    MassFlow::from_kg_s(effective.as_m2() * (2.0 * rho * dp).sqrt())
}

/// The effective area that passes a flow at a pressure difference.
pub fn effective_area(flow: MassFlow, density: Density, drop: PressureDifference) -> Option<Area> {
    (drop.as_pa() > 0.0)
        .then(|| Area::from_m2(flow.as_kg_s() / (2.0 * density.as_kg_m3() * drop.as_pa()).sqrt()))
}

/// Effective areas one behind the other: `1/(CA)^2` adds.
pub fn in_series(first: Area, second: Area) -> Area {
    let (a, b) = (first.as_m2(), second.as_m2());
    if a <= 0.0 || b <= 0.0 { Area::ZERO } else { Area::from_m2(a * b / a.hypot(b)) }
}

/// How much the flow grows when one bore is replaced by another, at the same coefficient and depression.
pub fn area_ratio(from: Length, to: Length) -> f64 {
    (to / from).powi(2)
}

/// The bore that changes the mixture from one lambda (or air-fuel ratio) to another, when all fuel passes it.
pub fn bore_for_mixture(from: Length, mixture_from: f64, mixture_to: f64) -> Length {
    from * (mixture_from / mixture_to).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    const FUEL: Liquid = Liquid { density: Density::from_kg_m3(745.0), viscosity: 5e-4 };

    #[test]
    fn small_jets_discharge_less() {
        assert!(discharge_coefficient(500.0, 2.0) < 0.9 * discharge_coefficient(5000.0, 2.0));
    }

    #[test]
    fn the_wrong_way_nothing_flows() {
        let bore = Bore::jet(Length::from_mm(1.3));
        assert_eq!(bore.flow(FUEL, PressureDifference::from_pa(-100.0)), MassFlow::ZERO);
        assert_eq!(bore.flow(FUEL, PressureDifference::ZERO), MassFlow::ZERO);
    }

    #[test]
    fn two_equal_bores_in_series_pass_as_much_as_one_of_less_area() {
        let one = Area::from_mm2(1.0);
        assert_relative_eq!(in_series(one, one).as_mm2(), 0.5f64.sqrt(), epsilon = 1e-9);
        assert_eq!(in_series(one, Area::ZERO), Area::ZERO);
    }

    proptest! {
        #[test]
        fn the_flow_agrees_with_its_own_coefficient(mm in 0.3..2.5f64, pa in 20.0..20_000.0f64) {
            let bore = Bore::jet(Length::from_mm(mm));
            let flow = bore.flow(FUEL, PressureDifference::from_pa(pa));
            let re = 4.0 * flow.as_kg_s() / (PI * mm * 1e-3 * 5e-4);
            let cd = discharge_coefficient(re, 2.0);
            let area = Length::from_mm(mm).bore_area() * cd;
            let law = orifice_flow(area, FUEL.density, PressureDifference::from_pa(pa));
            prop_assert!((law / flow - 1.0).abs() < 1e-6, "{law:?} {flow:?} {re}");
        }

        #[test]
        fn flow_grows_with_drop_and_bore(mm in 0.3..2.5f64, pa in 0.1..20_000.0f64) {
            let flow = |mm: f64, pa: f64| Bore::jet(Length::from_mm(mm)).flow(FUEL, PressureDifference::from_pa(pa));
            prop_assert!(flow(mm, pa * 1.01) > flow(mm, pa));
            prop_assert!(flow(mm * 1.01, pa) > flow(mm, pa));
        }
    }
}
