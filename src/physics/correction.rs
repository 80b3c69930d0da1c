//! Corrections of measured power or torque to a standard air. They never apply to lambda.

use crate::units::{Fraction, Power, Pressure, Temperature};

use super::air::MoistAir;

/// The standards a result can be corrected to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standard {
    /// SAE J1349: 99 kPa dry, 25 C; 85 % mechanical efficiency assumed.
    SaeJ1349,
    /// SAE J607, the older "standard" correction: 29.92 inHg dry, 60 F.
    SaeJ607,
    /// ISO 1585, spark ignition: 99 kPa dry, 298 K.
    Iso1585,
    /// DIN 70020: 1013 hPa total, 20 C.
    Din70020,
}

/// A factor, and whether its standard would still vouch for it.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Correction {
    /// What measured power is multiplied by.
    pub factor: f64,
    /// Inside the conditions the standard asks for.
    pub in_range: bool,
}

impl Standard {
    /// All of them, in the order they are shown.
    pub const ALL: [Standard; 4] =
        [Standard::SaeJ1349, Standard::SaeJ607, Standard::Iso1585, Standard::Din70020];

    /// Its name in files and JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Standard::SaeJ1349 => "sae_j1349",
            Standard::SaeJ607 => "sae_j607",
            Standard::Iso1585 => "iso_1585",
            Standard::Din70020 => "din_70020",
        }
    }

    /// Its name in a sentence.
    pub const fn said(self) -> &'static str {
        match self {
            Standard::SaeJ1349 => "SAE J1349",
            Standard::SaeJ607 => "SAE J607",
            Standard::Iso1585 => "ISO 1585",
            Standard::Din70020 => "DIN 70020",
        }
    }

    /// The correction in this air.
    ///
    /// Ranges, from memory of the standards: a factor of 0.93 to 1.07 for all four (J607 and DIN 70020 state none; the
    /// same is asked of them here); J1349 also 90 to 105 kPa dry and 15 to 35 C; ISO 1585 also 80 to 110 kPa dry and
    /// 288 to 308 K.
    pub fn correction(self, air: &MoistAir) -> Correction {
        let (dry, t) = (air.dry_pressure(), air.temperature());
        let factor = match self {
            Standard::SaeJ1349 => sae_j1349(dry, t),
            Standard::SaeJ607 => sae_j607(dry, t),
            Standard::Iso1585 => iso_1585(dry, t),
            Standard::Din70020 => din_70020(air.pressure(), t),
        };
        let c = t.as_c();
        let conditions = match self {
            Standard::SaeJ1349 => (90.0..=105.0).contains(&dry.as_kpa()) && (15.0..=35.0).contains(&c),
            Standard::Iso1585 => {
                (80.0..=110.0).contains(&dry.as_kpa()) && (288.0..=308.0).contains(&(c + 273.0))
            }
            Standard::SaeJ607 | Standard::Din70020 => true,
        };
        Correction { factor, in_range: conditions && (0.93..=1.07).contains(&factor) }
    }
}

/// SAE J1349 (June 1990): 1.18 (990 / dry hPa) sqrt((C + 273) / 298) - 0.18. Friction taken as 15 % of indicated power
/// and unaffected by weather.
pub fn sae_j1349(dry: Pressure, temperature: Temperature) -> f64 {
    1.18 * (990.0 / dry.as_hpa()) * ((temperature.as_c() + 273.0) / 298.0).sqrt() - 0.18
}

/// SAE J607: (29.92 / dry inHg) sqrt(Rankine / 519.67). Reads about 4 % above J1349.
pub fn sae_j607(dry: Pressure, temperature: Temperature) -> f64 {
    29.92 / dry.as_inhg() * ((temperature.as_f() + 459.67) / 519.67).sqrt()
}

/// ISO 1585 for spark ignition without boost: (99 / dry kPa)^1.2 (K / 298)^0.6 (exponents from memory and as in Mathur
/// and Sharma, Internal Combustion Engine, example 27.5).
pub fn iso_1585(dry: Pressure, temperature: Temperature) -> f64 {
    (99.0 / dry.as_kpa()).powf(1.2) * ((temperature.as_c() + 273.0) / 298.0).powf(0.6)
}

/// DIN 70020: (1013 / hPa) sqrt((C + 273) / 293), with the total pressure: humidity is not counted.
pub fn din_70020(total: Pressure, temperature: Temperature) -> f64 {
    1013.0 / total.as_hpa() * ((temperature.as_c() + 273.0) / 293.0).sqrt()
}

/// The power an engine declared under ISO 3046 reference air gives at a site: alpha = k - 0.7 (1 - k)(1/eta_m - 1), with
/// k the indicated-power ratio (p_dry/p_dry,ref)(T_ref/T)^0.75 and reference air 100 kPa at 30 % humidity and 298 K (form
/// as in Mathur and Sharma, Internal Combustion Engine, 8th ed. 2010, example 27.1).
pub fn iso_3046_site_power(
    declared: Power,
    mechanical_efficiency: Fraction,
    dry: Pressure,
    temperature: Temperature,
) -> Power {
    let k = dry.as_kpa() / ISO_3046_DRY_KPA * (298.0 / temperature.as_k()).powf(0.75);
    let losses = 1.0 / mechanical_efficiency.as_ratio() - 1.0;
    declared * (k - 0.7 * (1.0 - k) * losses)
}

/// 100 kPa less 30 % of a saturation pressure rounded to 3.2 kPa, as the worked example has it.
const ISO_3046_DRY_KPA: f64 = 99.04;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::air::Moisture;
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    fn air(hpa: f64, c: f64) -> MoistAir {
        MoistAir::new(Pressure::from_hpa(hpa), Temperature::from_c(c), Moisture::Dry).unwrap()
    }

    #[test]
    fn each_is_one_at_its_own_reference() {
        assert_abs_diff_eq!(
            sae_j1349(Pressure::from_hpa(990.0), Temperature::from_c(25.0)),
            1.0,
            epsilon = 1e-12
        );
        assert_abs_diff_eq!(
            sae_j607(Pressure::from_inhg(29.92), Temperature::from_f(60.0)),
            1.0,
            epsilon = 1e-9
        );
        assert_abs_diff_eq!(
            iso_1585(Pressure::from_kpa(99.0), Temperature::from_c(25.0)),
            1.0,
            epsilon = 1e-12
        );
        assert_abs_diff_eq!(
            din_70020(Pressure::from_hpa(1013.0), Temperature::from_c(20.0)),
            1.0,
            epsilon = 1e-12
        );
    }

    #[test]
    fn out_of_range_is_flagged_on_both_sides() {
        let j = |hpa, c| Standard::SaeJ1349.correction(&air(hpa, c)).in_range;
        assert!(!j(850.0, 28.0));
        assert!(j(990.0, 25.0));
        assert!(j(990.0, 15.0) && !j(990.0, 14.9));
        assert!(j(990.0, 35.0) && !j(990.0, 35.1));
        // the factor itself passes 1.07 between these two
        assert!(j(935.0, 25.0) && !j(934.0, 25.0));
        let din = |hpa, c| Standard::Din70020.correction(&air(hpa, c)).in_range;
        assert!(din(1013.0, 20.0) && !din(900.0, 20.0));
    }

    #[test]
    fn slips_seen_in_print_are_not_ours() {
        // two public pages print the Fahrenheit form with 505 for 537, and with 29.38 for 29.234
        let ours = sae_j1349(Pressure::from_inhg(29.234), Temperature::from_f(77.0));
        let with_505 = 1.18 * (29.234 / 29.234) * (537.0_f64 / 505.0).sqrt() - 0.18;
        assert!((ours - with_505).abs() > 0.03);
        assert_abs_diff_eq!(ours, 1.0, epsilon = 5e-4);
    }

    proptest! {
        #[test]
        fn thinner_or_hotter_air_corrects_upward(hpa in 800.0..1050.0f64, c in 0.0..40.0f64) {
            for s in Standard::ALL {
                let here = s.correction(&air(hpa, c)).factor;
                prop_assert!(s.correction(&air(hpa - 5.0, c)).factor > here);
                prop_assert!(s.correction(&air(hpa, c + 1.0)).factor > here);
            }
        }
    }
}
