//! A logger profile: any text gives a profile or a complaint, and a profile that passes can read a log.
#![no_main]

use leanbest::trace::{Analyzer, LoggerProfile, TraceContext};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    if let Ok(profile) = LoggerProfile::from_toml(text) {
        let mut analyzer = Analyzer::new(TraceContext::bare(&profile));
        analyzer.push(b"time_s,rpm,map_kpa,lambda\n0.0,800,40,0.95\n0.1,805,41,0.96\n");
        let _ = analyzer.finish();
    }
});
