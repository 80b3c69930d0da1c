//! Closes the loop on hidden carburetors that are not the advisor's own model: log, advise, apply the first change,
//! log again; beside a field rule and the plain square law in the same loop.
//!
//! `cargo bench --bench advise` prints the tables; every number follows from the seeds. An argument is the number of
//! engines (default 240); `ours` leaves the references out, `show` prints the runs of the program's own that went back
//! on a part or did not end inside. How long one advice takes on an hour of log stands beside reading that log.

#![allow(clippy::print_stdout, reason = "a benchmark speaks to its runner")]
#![allow(clippy::expect_used, reason = "a benchmark stops where it fails")]
#![allow(clippy::wildcard_imports, unreachable_pub, reason = "its files are shared with a test")]

#[path = "advise/hidden.rs"]
mod hidden;
#[path = "advise/hour.rs"]
mod hour;
#[path = "../support/job.rs"]
mod job;
#[path = "advise/play.rs"]
mod play;
#[path = "advise/rivals.rs"]
mod rivals;
#[path = "advise/table.rs"]
mod table;

fn main() {
    let engines = std::env::args().skip(1).find_map(|a| a.parse::<u64>().ok()).unwrap_or(240);
    println!("Hidden carburetors: {engines} for each row; every number follows from its seed.\n");
    let said = |word: &str| std::env::args().any(|a| a == word);
    let only = said("ours").then_some("leanbest");
    table::one_circuit_to_a_tenth(engines, only);
    hour::how_long();
    println!();
    table::until_inside(engines, only, said("show"));
}
