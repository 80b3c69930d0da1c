//! `leanbest help`: the commands, and the manual by topic.

use crate::cli::args;
use crate::cli::{Console, Exit, Fault};
use crate::procedure::Job;
use crate::report::manual;
use clap::CommandFactory;
use clap::error::ErrorKind;

/// Arguments of `help`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// A command, or a topic; all of them when left out
    #[arg(value_name = "COMMAND or TOPIC")]
    words: Vec<String>,
}

/// Runs `help`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let mut command = args::Args::command();
    command.build();
    let Some(first) = args.words.first() else { return everything(&mut command, console) };
    if command.find_subcommand(first).is_some() {
        return of_command(&args.words, console);
    }
    let name = args.words.join("-").to_lowercase();
    let Some(topic) = manual::topic(&name) else {
        let near: Vec<&str> = manual::near(&name).iter().map(|t| t.name).collect();
        let fault = Fault::input(format!("there is no command and no topic \"{}\"", args.words.join(" ")));
        return Err(match near.as_slice() {
            [] => fault.hint("leanbest help lists both"),
            near => fault.hint(format!("near it: {}; leanbest help lists all", near.join(", "))),
        });
    };
    let loaded = crate::profile::load_setup("petrel", None).map_err(super::load_fault)?;
    let job = Job { setup: loaded.setup, rules: loaded.rules, logger: loaded.logger, ask_for_setup: true };
    let page = manual::page(&topic, &job, console.system, console.width);
    if console.json {
        let answer =
            serde_json::json!({ "topic": topic.name, "title": topic.title, "text": page.join("\n") });
        console.answer_json(&answer)?;
        return Ok(Exit::Done);
    }
    for line in page {
        console.say(&line)?;
    }
    Ok(Exit::Done)
}

/// Commands as clap has them, then the topics.
fn everything(command: &mut clap::Command, console: &mut Console) -> Result<Exit, Fault> {
    if console.json {
        let commands: Vec<_> = command.get_subcommands().map(|c| c.get_name().to_owned()).collect();
        let topics: Vec<_> =
            manual::chapters().iter().flat_map(|c| &c.topics).map(|t| t.name.to_owned()).collect();
        console.answer_json(&serde_json::json!({ "commands": commands, "topics": topics }))?;
        return Ok(Exit::Done);
    }
    console.raw(command.render_help().to_string().trim_end().as_bytes())?;
    console.say("")?;
    console.say("")?;
    console.say("Topics (leanbest help TOPIC):")?;
    for line in manual::contents(console.width) {
        console.say(&line)?;
    }
    Ok(Exit::Done)
}

/// A command's own help, however deep: what it answers to --help.
fn of_command(words: &[String], console: &mut Console) -> Result<Exit, Fault> {
    let typed = ["leanbest"].into_iter().chain(words.iter().map(String::as_str)).chain(["--help"]);
    let told = match args::Args::command().try_get_matches_from(typed) {
        Err(told) if told.kind() == ErrorKind::DisplayHelp => told.render().to_string(),
        Err(told) => return Err(Fault::input(told.to_string().trim_start_matches("error: ").trim_end())),
        Ok(_) => String::new(),
    };
    if console.json {
        console.answer_json(&serde_json::json!({ "command": words.join(" "), "text": told }))?;
    } else {
        console.raw(told.as_bytes())?;
    }
    Ok(Exit::Done)
}
