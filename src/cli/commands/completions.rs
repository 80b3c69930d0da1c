//! `leanbest completions`.

use crate::cli::args;
use crate::cli::{Console, Exit, Fault};
use clap::CommandFactory;
use clap_complete::Shell;

/// Arguments of `completions`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The shell to complete in
    #[arg(value_enum)]
    shell: Shell,
}

/// Runs `completions`.
pub fn run(asked: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let mut command = args::Args::command();
    // The generator panics when its output fails, so it writes into memory.
    let mut script = Vec::new();
    clap_complete::generate(asked.shell, &mut command, "leanbest", &mut script);
    if console.json {
        let text = String::from_utf8_lossy(&script);
        console.answer_json(&serde_json::json!({ "shell": asked.shell.to_string(), "script": text }))?;
    } else {
        console.raw(&script)?;
    }
    Ok(Exit::Done)
}
