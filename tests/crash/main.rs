//! Crashes and faults staged in memory: every byte at which a write can stop, pieces of it that never arrived or
//! arrived as zeros, garbage or yesterday's bytes, crashes again while recovering, and every disk operation failed.
//!
//! What must hold each time: what was acknowledged is within what is recovered, which is within what was submitted;
//! nobody is told of damage where there was only a crash; recovering again changes nothing.
//!
//! The bounded run is part of `cargo test`. One million images:
//! `cargo test --release --test crash -- --ignored --nocapture`; `LEANBEST_IMAGES` and `LEANBEST_SEED` change it.

#![expect(clippy::unwrap_used, reason = "a harness that fails should fail the test")]

mod controls;
mod explore;
mod faults;
mod images;
mod world;

use explore::{Explorer, Tally};
use world::Habits;

fn from_environment(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}

fn explore_until(images: u64, first_seed: u64) -> Tally {
    let mut tally = Tally::default();
    let mut seed = first_seed;
    while tally.images < images {
        let mut explorer = Explorer::new(seed, Habits::default());
        explorer.session(images - tally.images);
        tally.add(&explorer.tally);
        assert_eq!(tally.failures, Vec::<String>::new(), "seed {seed}, after {} images", tally.images);
        seed += 1;
    }
    tally
}

#[test]
fn nothing_acknowledged_is_lost_at_any_crash() {
    let tally = explore_until(45_000, 1);
    assert!(tally.images >= 45_000 && tally.again > 5_000 && tally.torn > 15_000, "{tally:?}");
}

#[test]
#[ignore = "one million crash images take a few minutes; run in release"]
#[expect(clippy::print_stdout, reason = "it prints its figures")]
fn one_million_crash_images() {
    let images = from_environment("LEANBEST_IMAGES", 1_000_000);
    let tally = explore_until(images, from_environment("LEANBEST_SEED", 1_000));
    println!("figure crash_images {}", tally.images);
    println!("figure crash_images_during_recovery {}", tally.again);
    println!("figure crash_images_with_torn_tail {}", tally.torn);
    println!("figure crash_acknowledged_lost 0");
    println!("figure crash_altered_accepted 0");
    println!("figure crash_false_alarms 0");
}
