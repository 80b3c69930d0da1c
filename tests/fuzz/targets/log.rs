//! The log reader: any bytes, whole and in pieces, give the same summary or a refusal.
#![no_main]

use leanbest::trace::{Analyzer, LoggerProfile, TraceContext};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let context = || TraceContext::bare(&LoggerProfile::standard());
    let mut whole = Analyzer::new(context());
    whole.push(bytes);
    let mut parts = Analyzer::new(context());
    for piece in bytes.chunks(1 + bytes.len() / 7) {
        parts.push(piece);
    }
    match (whole.finish(), parts.finish()) {
        (Ok(whole), Ok(parts)) => assert_eq!(format!("{whole:?}"), format!("{parts:?}")),
        // Which of two reasons a spoiled log is refused for may depend on how many bytes had come.
        (Err(_), Err(_)) => {}
        (whole, parts) => panic!("whole {:?}, in parts {:?}", whole.is_ok(), parts.is_ok()),
    }
});
