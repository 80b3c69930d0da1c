//! The session reader behind its check: under `cfg(fuzzing)` the check is not compared, so that mutants reach the
//! parser and the rules of the chain.
#![no_main]

use leanbest::session::scan::scan;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let whole = scan(bytes);
    for (n, record) in whole.records.iter().enumerate() {
        assert_eq!(record.n, n as u64);
        assert_eq!(record.tag, whole.records[0].tag);
    }
    assert!(whole.torn.is_none() || whole.damage.is_none());
    assert!(whole.good_end as usize <= bytes.len());
    // What is read of a beginning is a beginning of what is read of the whole, damaged or not.
    let part = scan(&bytes[..bytes.len() / 2]);
    let common = part.records.len().min(whole.records.len());
    assert_eq!(part.records[..common], whole.records[..common]);
});
