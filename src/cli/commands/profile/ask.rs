//! Answers to questions, from the keyboard or from lines on standard input. Which of the two is decided here, once:
//! the prompt library looks at the wrong stream.

use crate::cli::Fault;
use std::io::{self, BufRead, IsTerminal};

/// Why no answer came.
#[derive(Debug)]
pub(super) enum NoAnswer {
    /// The person stopped.
    Stopped,
    /// The answers ended, or the terminal failed.
    Fault(Fault),
}

impl From<Fault> for NoAnswer {
    fn from(fault: Fault) -> Self {
        NoAnswer::Fault(fault)
    }
}

/// Who answers.
pub(super) enum Asker {
    /// A person, through prompts on the terminal; a refused answer is asked for again.
    Person,
    /// Lines on standard input, one an answer; an empty line keeps the default. The count is of lines read.
    Lines(usize),
}

impl Asker {
    /// A person when keyboard and screen are both there.
    pub(super) fn standard() -> Asker {
        if io::stdin().is_terminal() && io::stderr().is_terminal() { Asker::Person } else { Asker::Lines(0) }
    }

    /// Asks until `take` accepts. `take` gives what it made of the answer, or why it cannot be.
    pub(super) fn ask<T>(
        &mut self,
        say: &str,
        default: &str,
        mut take: impl FnMut(&str) -> Result<T, String>,
    ) -> Result<T, NoAnswer> {
        loop {
            let line = self.line(say, default)?;
            let answer = if line.trim().is_empty() { default } else { line.trim() };
            match (take(answer), &self) {
                (Ok(taken), _) => return Ok(taken),
                (Err(why), Asker::Person) => complain(&format!("  {why}")),
                (Err(why), Asker::Lines(n)) => {
                    return Err(Fault::input(format!("stdin:{n}: {say}: {why}")).into());
                }
            }
        }
    }

    /// Shows what can be chosen from, one a line; lines on standard input need no such list.
    pub(super) fn list(&self, say: &str, words: &[String]) {
        if matches!(self, Asker::Person) {
            complain(&format!("{say}?"));
            for (i, word) in words.iter().enumerate() {
                complain(&format!("  {:>2} {word}", i + 1));
            }
        }
    }

    /// What is asked after such a list.
    pub(super) fn short<'a>(&self, say: &'a str) -> &'a str {
        if matches!(self, Asker::Person) { "  Number or name" } else { say }
    }

    fn line(&mut self, say: &str, default: &str) -> Result<String, NoAnswer> {
        match self {
            Asker::Person => prompt(say, default),
            Asker::Lines(n) => {
                *n += 1;
                let mut line = String::new();
                match io::stdin().lock().read_line(&mut line) {
                    Ok(0) => Err(Fault::input(format!("stdin:{n}: the answers ended at \"{say}\""))
                        .hint("One line for each question; an empty line keeps the default.")
                        .into()),
                    Ok(_) => Ok(line),
                    Err(error) => Err(Fault::io("could not read the answers", error).into()),
                }
            }
        }
    }
}

/// One prompt, as text to be edited; never hidden defaults.
fn prompt(say: &str, default: &str) -> Result<String, NoAnswer> {
    let term = console::Term::stderr();
    let asked = dialoguer::Input::<String>::new()
        .with_prompt(say)
        .default(default.to_owned())
        .allow_empty(true)
        .interact_text_on(&term);
    match asked {
        Ok(line) => Ok(line),
        Err(dialoguer::Error::IO(error)) => {
            let _ = term.show_cursor();
            if error.kind() == io::ErrorKind::Interrupted {
                return Err(NoAnswer::Stopped);
            }
            Err(Fault::io("could not ask at the terminal", error).into())
        }
    }
}

fn complain(line: &str) {
    // A terminal that cannot be written to will fail at the next prompt.
    let _ = console::Term::stderr().write_line(line);
}
