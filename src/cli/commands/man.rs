//! `leanbest man`.

use crate::cli::args;
use crate::cli::{Console, Exit, Fault};
use clap::CommandFactory;

/// Arguments of `man`.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `man`: the whole manual on one page, in roff.
pub fn run(_args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let mut command = args::Args::command();
    command.build();
    let mut page = Vec::new();
    clap_mangen::Man::new(command.clone()).render(&mut page)?;
    page = on_this_page(&String::from_utf8_lossy(&page)).into_bytes();
    for sub in command.get_subcommands().filter(|c| c.get_name() != "help") {
        one(sub, &mut page)?;
    }
    if console.json {
        console.answer_json(&serde_json::json!({ "roff": String::from_utf8_lossy(&page) }))?;
    } else {
        console.raw(&page)?;
    }
    Ok(Exit::Done)
}

/// A command's own section: how it is called, what it does, its options.
fn one(command: &clap::Command, page: &mut Vec<u8>) -> std::io::Result<()> {
    let name = command.get_bin_name().unwrap_or(command.get_name()).to_uppercase();
    page.extend(format!(".SH \"{name}\"\n").bytes());
    let man = clap_mangen::Man::new(command.clone());
    man.render_synopsis_section(page)?;
    man.render_description_section(page)?;
    man.render_options_section(page)?;
    for sub in command.get_subcommands().filter(|c| c.get_name() != "help") {
        one(sub, page)?;
    }
    Ok(())
}

/// The generator names a page of its own for each command, `leanbest\-demo(1)`; here they are sections of this one.
fn on_this_page(page: &str) -> String {
    let named = |line: &str| {
        let name = line.strip_prefix("leanbest\\-")?.strip_suffix("(1)")?;
        Some(format!("\\fBleanbest {name}\\fR"))
    };
    page.lines().fold(String::new(), |mut page, line| {
        page.push_str(named(line).as_deref().unwrap_or(line));
        page.push('\n');
        page
    })
}
