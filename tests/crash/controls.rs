//! The simulator must catch what it is there to catch: three ways of doing it wrong, each of which must be seen.

use crate::explore::Explorer;
use crate::world::Habits;

fn first_failures(habits: Habits) -> Vec<String> {
    (1..20)
        .find_map(|seed| {
            let mut explorer = Explorer::new(seed, habits);
            explorer.session(4_000);
            (!explorer.tally.failures.is_empty()).then_some(explorer.tally.failures)
        })
        .unwrap_or_default()
}

#[test]
fn a_writer_that_does_not_sync_is_caught() {
    let failures = first_failures(Habits { no_sync: true, ..Habits::default() });
    assert!(failures.iter().any(|what| what.starts_with("lost")), "{failures:?}");
}

#[test]
fn a_reader_that_does_not_check_is_caught() {
    let failures = first_failures(Habits { no_check: true, ..Habits::default() });
    assert!(failures.iter().any(|what| what.starts_with("altered")), "{failures:?}");
}

#[test]
fn a_writer_that_does_not_wall_off_a_torn_tail_is_caught() {
    let failures = first_failures(Habits { no_wall: true, ..Habits::default() });
    assert!(failures.iter().any(|what| what.starts_with("lost")), "{failures:?}");
}
