//! What people do to a file while it is being recorded: open it twice, move it, delete it, write into it.

use crate::subject::{Said, judge, program, recorder, run as run_command};
use crate::table::Table;
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};

/// Records slowly, does something to the file after the third record, and gives what was said by the end.
fn disturbed(file: &Path, disturb: impl FnOnce(&Path)) -> Said {
    let mut command = Command::new(program("recorder"));
    // Long enough that a second writer does not see it end: it waits a moment for that.
    command.arg(file).args(["80", "15"]);
    let mut child = command.stdin(Stdio::null()).stdout(Stdio::piped()).spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut said = Said::default();
    let mut disturb = Some(disturb);
    while let Some(Ok(line)) = lines.next() {
        said.hear(&line);
        let due = said.saved.as_ref().is_some_and(|(n, _)| *n >= 3);
        if let Some(disturb) = disturb.take_if(|_| due) {
            disturb(file);
        }
    }
    child.wait().unwrap();
    said
}

pub(crate) fn run(table: &mut Table) {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);

    let mut second = None;
    let said = disturbed(&at("twice.tune.jsonl"), |file| second = Some(run_command(recorder(file, 3))));
    judge(table, &said, "a second writer");
    let refused = second.is_some_and(|(output, said)| {
        let output = output.unwrap();
        let text = String::from_utf8_lossy(&output.stderr).into_owned();
        said.saved.is_none()
            && output.status.code() == Some(3)
            && text.contains("being recorded by another run of this program (process ")
    });
    table.hold(refused, "a second writer was not refused in words");
    table.count("second writers refused", u64::from(refused));

    let said = disturbed(&at("moved.tune.jsonl"), |file| fs::rename(file, at("away.tune.jsonl")).unwrap());
    table.hold(
        said.notices.len() == 1 && said.notices[0].contains("was moved"),
        &format!("moved: {:?}", said.notices),
    );
    let moved = Said { saved: said.saved.map(|(n, _)| (n, at("away.tune.jsonl"))), ..Said::default() };
    judge(table, &moved, "moved while recording");
    table.count("files moved away while recording", 1);

    let said = disturbed(&at("deleted.tune.jsonl"), |file| fs::remove_file(file).unwrap());
    table.hold(
        said.notices.len() == 1 && said.notices[0].contains("goes on in"),
        &format!("deleted: {:?}", said.notices),
    );
    judge(table, &said, "deleted while recording");
    table.count("files deleted while recording", 1);

    let said = disturbed(&at("scribbled.tune.jsonl"), |file| {
        fs::OpenOptions::new().append(true).open(file).unwrap().write_all(b"someone else\n").unwrap();
    });
    table.hold(said.notices.len() == 1, &format!("scribbled: {:?}", said.notices));
    judge(table, &said, "written into while recording");
    table.count("files written into by others while recording", 1);
}
