//! What a lambda sensor shows when something other than the mixture speaks: a leak, a dead cylinder.
#![doc = "\n"]
#![doc = include_str!("why/witness.md")]

use crate::units::{Fraction, Lambda};

/// Lambda shown when a share of the intake air leaks in past the carburetor: raised by that share (own arithmetic). It matters most at
/// idle, where the same hole is the largest share.
pub fn with_leak(engine: Lambda, share: Fraction) -> Lambda {
    engine * (1.0 + share.as_ratio().max(0.0))
}

/// The most that is shown when one cylinder of `cylinders` fires not at all: lambda x N/(N-1), for every cylinder's air passes but one's
/// fuel does not burn (own arithmetic). `None` with fewer than two cylinders.
pub fn with_a_dead_cylinder(engine: Lambda, cylinders: u8) -> Option<Lambda> {
    let n = f64::from(cylinders);
    (cylinders >= 2).then(|| engine * (n / (n - 1.0)))
}

/// Share of the air that a leak must be to lift lambda from what it is thought to be to what is shown; zero when it is not lifted.
pub fn leak_that_explains(thought: Lambda, shown: Lambda) -> Option<Fraction> {
    (thought > Lambda::ZERO).then(|| Fraction::from_ratio((shown / thought - 1.0).max(0.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn the_size_of_the_lies() {
        let shown = with_leak(Lambda::from_ratio(0.90), Fraction::from_percent(5.0));
        assert_abs_diff_eq!(shown.as_ratio(), 0.945, epsilon = 0.001);
        let eight = with_a_dead_cylinder(Lambda::from_ratio(0.88), 8).unwrap();
        assert_abs_diff_eq!(eight.as_ratio(), 1.006, epsilon = 0.002);
        let six = with_a_dead_cylinder(Lambda::from_ratio(0.90), 6).unwrap();
        assert_abs_diff_eq!(six.as_ratio(), 1.08, epsilon = 0.002);
        assert!(with_a_dead_cylinder(Lambda::from_ratio(0.90), 1).is_none());
    }

    #[test]
    fn a_leak_of_seventeen_per_cent_turns_089_into_104() {
        let leak = leak_that_explains(Lambda::from_ratio(0.89), Lambda::from_ratio(1.04)).unwrap();
        assert_abs_diff_eq!(leak.as_percent(), 17.0, epsilon = 0.5);
        assert_eq!(
            leak_that_explains(Lambda::from_ratio(0.9), Lambda::from_ratio(0.8)),
            Some(Fraction::ZERO)
        );
        assert!(leak_that_explains(Lambda::ZERO, Lambda::from_ratio(1.0)).is_none());
    }
}
