//! Functions that give the same bits on every machine and in every build: the system's own may differ in the last one,
//! and a search that draws by chance would go another way for it.

/// `e^x`.
pub fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// Natural logarithm.
pub fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// `x^power`.
pub fn pow(x: f64, power: f64) -> f64 {
    libm::pow(x, power)
}

/// Sine of radians.
pub fn sin(x: f64) -> f64 {
    libm::sin(x)
}

/// Cosine of radians.
pub fn cos(x: f64) -> f64 {
    libm::cos(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The true values to sixty decimals (their series, summed in decimal arithmetic), rounded to the nearest; the
    /// logarithm and the power are one in the last place below.
    #[test]
    fn bits_that_every_build_must_give() {
        for (got, bits) in [
            (exp(-0.3), 0x3fe7_b4c8_69c3_7c05_u64),
            (ln(3.0), 0x3ff1_93ea_7aad_030a),
            (pow(1.1, 0.8), 0x3ff1_4487_09de_8d68),
            (sin(1.0), 0x3fea_ed54_8f09_0cee),
            (cos(1.0), 0x3fe1_4a28_0fb5_068c),
        ] {
            assert_eq!(got.to_bits(), bits, "{got:?} {:#018x}", got.to_bits());
        }
    }
}
