//! Bracketed root and minimum, each with a tolerance, a cap on work and a typed way to fail.

/// Why a solver gave no answer.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SolveError {
    /// The function has the same sign at both ends, or is not finite there.
    #[error("no change of sign between {low} ({at_low}) and {high} ({at_high})")]
    NoBracket {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
        /// Value at the lower end.
        at_low: f64,
        /// Value at the upper end.
        at_high: f64,
    },
    /// The cap on iterations was reached.
    #[error("not converged after {after} iterations (best {best})")]
    NotConverged {
        /// Iterations done.
        after: u32,
        /// The best point so far.
        best: f64,
    },
}

const MOST_ITERATIONS: u32 = 200;

/// The root of `f` in `[low, high]`, to `tolerance` in x, by the interpolate-truncate-project method
/// (Oliveira and Takahashi, ACM TOMS 47 (2020) 5, from memory), which never needs more steps than bisection plus one.
pub fn root(low: f64, high: f64, tolerance: f64, mut f: impl FnMut(f64) -> f64) -> Result<f64, SolveError> {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Ok(a);
    }
    if fb == 0.0 {
        return Ok(b);
    }
    if !(fa.is_finite() && fb.is_finite()) || fa.signum() == fb.signum() {
        return Err(SolveError::NoBracket { low, high, at_low: fa, at_high: fb });
    }
    let half_steps = ((b - a) / (2.0 * tolerance)).log2().ceil().max(0.0);
    let k1 = 0.2 / (b - a);
    let mut radius_exponent = half_steps + 1.0;
    for after in 0..MOST_ITERATIONS {
        if (b - a).abs() <= 2.0 * tolerance {
            return Ok(0.5 * (a + b));
        }
        let middle = 0.5 * (a + b);
        let radius = tolerance * radius_exponent.exp2() - 0.5 * (b - a);
        let chord = (fb * a - fa * b) / (fb - fa);
        let toward = (middle - chord).signum();
        let push = k1 * (b - a).powi(2);
        let truncated = if push <= (middle - chord).abs() { chord + toward * push } else { middle };
        let x = if (truncated - middle).abs() <= radius.max(0.0) {
            truncated
        } else {
            middle - toward * radius.max(0.0)
        };
        let x = if x > a && x < b { x } else { middle };
        let fx = f(x);
        if !fx.is_finite() {
            return Err(SolveError::NotConverged { after, best: middle });
        }
        if fx == 0.0 {
            return Ok(x);
        }
        if fx.signum() == fa.signum() {
            (a, fa) = (x, fx);
        } else {
            (b, fb) = (x, fx);
        }
        radius_exponent -= 1.0;
    }
    Err(SolveError::NotConverged { after: MOST_ITERATIONS, best: 0.5 * (a + b) })
}

/// The place of the least value of a one-humped `f` in `[low, high]`, to `tolerance`, by golden section.
pub fn minimum(low: f64, high: f64, tolerance: f64, mut f: impl FnMut(f64) -> f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (low, high);
    let mut c = b - GOLDEN * (b - a);
    let mut d = a + GOLDEN * (b - a);
    let (mut fc, mut fd) = (f(c), f(d));
    for _ in 0..MOST_ITERATIONS {
        if b - a <= tolerance {
            break;
        }
        if fc < fd {
            (b, d, fd) = (d, c, fc);
            c = b - GOLDEN * (b - a);
            fc = f(c);
        } else {
            (a, c, fc) = (c, d, fd);
            d = a + GOLDEN * (b - a);
            fd = f(d);
        }
    }
    0.5 * (a + b)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    #[test]
    fn finds_a_known_root() {
        assert_abs_diff_eq!(root(0.0, 2.0, 1e-12, |x| x * x - 2.0).unwrap(), 2f64.sqrt(), epsilon = 1e-11);
        assert_abs_diff_eq!(root(0.0, 2.0, 1e-12, |x| x).unwrap(), 0.0);
    }

    #[test]
    fn says_when_there_is_no_bracket() {
        assert!(matches!(root(0.0, 1.0, 1e-9, |x| x + 1.0), Err(SolveError::NoBracket { .. })));
        assert!(matches!(root(0.0, 1.0, 1e-9, |_| f64::NAN), Err(SolveError::NoBracket { .. })));
    }

    #[test]
    fn finds_a_known_minimum() {
        assert_abs_diff_eq!(minimum(-3.0, 5.0, 1e-9, |x| (x - 1.25).powi(2)), 1.25, epsilon = 1e-7);
    }

    proptest! {
        #[test]
        fn agrees_with_plain_bisection(r in -0.99..0.99f64, steep in 0.5..20.0f64) {
            let f = |x: f64| ((x - r) * steep).tanh() + 0.01 * (x - r);
            let found = root(-1.0, 1.0, 1e-10, f).unwrap();
            prop_assert!((found - r).abs() < 1e-8);
        }
    }
}
