//! The reader of quantities as people write them: never fails otherwise than by a complaint, never lets a number
//! through that is none, and reads back what it writes.
#![no_main]

use leanbest::units::parse::{parse, parse_or_in, to_text};
use leanbest::units::{Length, Pressure, Quantity, Temperature, Turns, Vacuum};
use libfuzzer_sys::fuzz_target;

fn held<Q: Quantity + Copy + std::fmt::Debug>(text: &str, unit: &str) {
    for read in [parse::<Q>(text), parse_or_in::<Q>(text, unit)] {
        match read {
            Ok(quantity) => {
                let written = to_text(quantity);
                assert!(!written.contains("NaN") && !written.contains("inf"), "{text:?} gave {written}");
                assert!(parse::<Q>(&written).is_ok(), "{text:?} gave {written}");
            }
            Err(error) => {
                let said = error.to_string();
                assert!(!said.chars().any(char::is_control), "{said:?}");
                assert!(said.len() < 2_000, "{} bytes", said.len());
            }
        }
    }
}

fuzz_target!(|text: &str| {
    held::<Length>(text, "in");
    held::<Pressure>(text, "kPa");
    held::<Vacuum>(text, "inHg");
    held::<Temperature>(text, "degC");
    held::<Turns>(text, "turns");
});
