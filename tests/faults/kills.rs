//! Killed at random times, resumed, killed again: nothing called saved may be missing, no lock may stay behind.

use crate::subject::{count, judge, kill_after, recorder};
use crate::table::Table;
use std::time::Duration;

pub(crate) fn run(table: &mut Table) {
    let kills = count("LEANBEST_KILLS", 1_000);
    let mut folder = tempfile::tempdir().unwrap();
    let mut seed = count("LEANBEST_SEED", 1);
    for kill in 0..kills {
        // A fresh session now and then; between them the same one is taken up again and again.
        if kill % 25 == 0 {
            folder = tempfile::tempdir().unwrap();
        }
        seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        let pause = Duration::from_micros(500 + (seed >> 33) % 25_000);
        let file = folder.path().join("skiff.tune.jsonl");
        let said = kill_after(recorder(&file, 100_000), pause);
        table.count("kill -9 at random times", 1);
        table.count("  while records were being saved", u64::from(said.saved.is_some()));
        let torn = judge(table, &said, &format!("kill {kill} after {pause:?}"));
        table.count("kill -9 that left a torn tail", u64::from(torn));
    }
    let file = folder.path().join("skiff.tune.jsonl");
    let (output, _) = crate::subject::run(recorder(&file, 1));
    let free = output.is_some_and(|output| output.status.success());
    table.zero("locks left behind", u64::from(!free));
}
