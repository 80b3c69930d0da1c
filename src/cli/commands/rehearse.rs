//! `leanbest rehearse`: the guided procedure by hand, on the virtual engine.

use super::guide::{job, session_fault};
use crate::bench::virtual_engine::{Character, VirtualEngine};
use crate::cli::guide::{Practice, PromptHands, Rehearsal, Session, leave_well};
use crate::cli::{Console, Exit, Fault};
use crate::procedure::State;
use crate::session::story::Recording;
use std::io::{self, IsTerminal};
use std::path::PathBuf;

/// Arguments of `rehearse`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Session file to practise into; a new one in the temporary folder when left out
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// Setup to practise on
    #[arg(long, value_name = "S", default_value = "petrel")]
    setup: String,
    /// Family of engines: mild, lopey, mismatched-corners, dead-screw, warming-up, leaking-base-gasket, as-found
    #[arg(long, value_name = "FAMILY", default_value = "mild")]
    engine: String,
    /// Which engine of the family
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

/// Runs `rehearse`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    if !(io::stdin().is_terminal() && io::stderr().is_terminal()) {
        return Err(Fault::input("a rehearsal is by hand, at a terminal")
            .hint("leanbest demo does the whole job unattended"));
    }
    let character = Character::named(&args.engine).ok_or_else(|| {
        let names: Vec<_> = Character::ALL.iter().map(|c| c.name()).collect();
        Fault::input(format!("\"{}\" is not a family of engines", args.engine))
            .hint(format!("these are: {}", names.join(", ")))
    })?;
    let job = job(Some(&args.setup), console)?;
    let file = match &args.file {
        Some(file) => file.clone(),
        None => fresh()?,
    };
    let folder =
        file.parent().filter(|p| !p.as_os_str().is_empty()).map_or_else(|| PathBuf::from("."), PathBuf::from);
    let mut engine = VirtualEngine::new(&job.setup, character, args.seed);
    engine.start();
    let recording = Recording::create(&file, &job).map_err(session_fault)?;
    leave_well(format!("Stopped. Everything acknowledged is in {}.", file.display()));
    let person = PromptHands::new(console.system, console.width, console.ascii);
    let mut hands = Rehearsal::new(person, Practice::new(engine, folder));
    Session::new(State::open(job, console.system), recording).run(&mut hands)
}

/// A file of its own in a new temporary folder.
fn fresh() -> Result<PathBuf, Fault> {
    let folder = tempfile::Builder::new()
        .prefix("leanbest-rehearsal-")
        .tempdir()
        .map_err(|e| Fault::io("could not make a temporary folder", e))?
        .keep();
    Ok(folder.join("rehearsal.tune.jsonl"))
}
