//! Mixture strength: lambda and air-fuel ratio, two types.

use super::define::quantity;

quantity! {
    /// Excess-air ratio: 1 is stoichiometric, below is rich.
    Lambda, "a lambda", from_ratio / as_ratio,
    units: [("lambda", ["λ", "lam"], 1.0)],
    doors: []
}

quantity! {
    /// Mass of air to mass of fuel; means nothing without the fuel it is of.
    AirFuelRatio, "an air-fuel ratio", from_ratio / as_ratio,
    units: [("AFR", [":1", "to 1"], 1.0)],
    doors: []
}

impl Lambda {
    /// The air-fuel ratio of this lambda on a fuel of the given stoichiometric ratio.
    pub fn air_fuel_ratio(self, stoichiometric: AirFuelRatio) -> AirFuelRatio {
        AirFuelRatio::from_ratio(self.as_ratio() * stoichiometric.as_ratio())
    }
}

impl AirFuelRatio {
    /// The lambda of this ratio on a fuel of the given stoichiometric ratio.
    pub fn lambda(self, stoichiometric: AirFuelRatio) -> Lambda {
        Lambda::from_ratio(self.as_ratio() / stoichiometric.as_ratio())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn lambda_needs_the_fuel_to_become_a_ratio() {
        let lambda = Lambda::from_ratio(0.9);
        assert_relative_eq!(
            lambda.air_fuel_ratio(AirFuelRatio::from_ratio(14.7)).as_ratio(),
            13.23,
            epsilon = 1e-9
        );
        assert_relative_eq!(
            AirFuelRatio::from_ratio(13.23).lambda(AirFuelRatio::from_ratio(14.7)).as_ratio(),
            0.9,
            epsilon = 1e-9
        );
    }
}
