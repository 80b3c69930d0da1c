//! Comparisons at a border, so that the dust of unit conversion never decides: 150 rpm is not above 150 rpm.

use crate::units::Quantity;

fn slack<Q: Quantity>(a: Q, b: Q) -> f64 {
    1e-9 * (a.si().abs() + b.si().abs())
}

/// `a` is above `b` by more than dust.
pub(super) fn above<Q: Quantity>(a: Q, b: Q) -> bool {
    a.si() > b.si() + slack(a, b)
}

/// `a` is below `b` by more than dust.
pub(super) fn below<Q: Quantity>(a: Q, b: Q) -> bool {
    a.si() < b.si() - slack(a, b)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::EngineSpeed;

    #[test]
    fn dust_is_not_a_difference() {
        let rpm = EngineSpeed::from_rpm;
        assert!(!above(rpm(750.0) - rpm(600.0), rpm(150.0)) && !below(rpm(750.0) - rpm(600.0), rpm(150.0)));
        assert!(above(rpm(150.001), rpm(150.0)) && below(rpm(149.999), rpm(150.0)));
    }
}
