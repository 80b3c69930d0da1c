//! A setup: any text gives a setup or located complaints that can be shown as they are.
#![no_main]

use leanbest::profile::load_setup_text;
use libfuzzer_sys::fuzz_target;
use std::path::Path;

fuzz_target!(|text: &str| {
    if let Err(error) = load_setup_text("job.toml", text, Some(Path::new("/nonexistent"))) {
        let said = error.to_string();
        assert!(said.chars().all(|c| c == '\n' || !c.is_control()), "{said:?}");
        assert!(said.len() < 200_000, "{} bytes", said.len());
    }
});
