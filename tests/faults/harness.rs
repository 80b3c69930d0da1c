//! The real program under real faults: killed at random and at every system call, every system call failed, the
//! disk full, the file size limited, the file moved, deleted or taken. Prints one table; exit code 1 when a zero
//! that is due is not there. Run it by `tests/faults/run`.

#![expect(clippy::unwrap_used, reason = "a harness that fails should stop")]
#![expect(clippy::print_stdout, reason = "it prints its table")]

mod guide;
mod kills;
mod people;
mod rooms;
mod subject;
mod table;
mod tracer;

use table::Table;

fn main() -> std::process::ExitCode {
    let mut wanted: Vec<String> = std::env::args().skip(1).collect();
    if wanted.is_empty() {
        wanted = ["kills", "calls", "rooms", "people", "guide"].map(str::to_owned).to_vec();
    }
    let mut table = Table::default();
    for rung in &wanted {
        match rung.as_str() {
            "kills" => kills::run(&mut table),
            "calls" => tracer::run(&mut table),
            "rooms" => rooms::run(&mut table),
            "people" => people::run(&mut table),
            "guide" => guide::run(&mut table),
            other => table.failed(&format!("no rung is called {other}")),
        }
    }
    println!("{table}");
    std::process::ExitCode::from(u8::from(!table.good()))
}
