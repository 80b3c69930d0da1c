//! No room: a full disk, a file size limit, a device that is always full.

use crate::subject::{judge, judge_end, program, recorder, run as run_command};
use crate::table::Table;
use std::fs;
use std::path::Path;
use std::process::Command;

pub(crate) fn run(table: &mut Table) {
    size_limit(table);
    always_full(table);
    small_disk(table);
}

fn size_limit(table: &mut Table) {
    for blocks in 1..40 {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("skiff.tune.jsonl");
        let mut command = Command::new("bash");
        let recorder = program("recorder");
        command.arg("-c").arg(format!(
            "ulimit -f {blocks}; exec '{}' '{}' 40",
            recorder.display(),
            file.display()
        ));
        let (output, said) = run_command(command);
        let how = format!("ulimit -f {blocks}");
        judge_end(table, output.as_ref(), &how);
        judge(table, &said, &how);
        let by_signal = output.is_none_or(|output| output.status.code().is_none());
        table.zero("ended by the size signal", u64::from(by_signal));
        table.count("file size limits", 1);
        table.count("file size limits that refused records", u64::from(said.refused > 0));
        let clean = fs::read(&file).is_ok_and(|bytes| bytes.is_empty() || bytes.ends_with(b"\n"));
        table.zero("half lines left by a full disk", u64::from(!clean));
    }
}

fn always_full(table: &mut Table) {
    let (output, said) = run_command(recorder(Path::new("/dev/full"), 3));
    let refused = output.is_some_and(|output| output.status.code() == Some(2)) && said.saved.is_none();
    table.hold(refused, "/dev/full was taken for a file");
    table.count("devices refused", 1);
}

fn small_disk(table: &mut Table) {
    let folder = tempfile::tempdir().unwrap();
    let mounted = Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=96k", "tmpfs"])
        .arg(folder.path())
        .output()
        .is_ok_and(|output| output.status.success());
    if !mounted {
        table.skipped("a small full disk: mounting needs root");
        return;
    }
    let file = folder.path().join("skiff.tune.jsonl");
    let ballast = folder.path().join("ballast");
    for fill_kib in (4..80).step_by(4) {
        // The ballast grows until writing fails by itself; the recorder meets the rest.
        let _ = fs::write(&ballast, vec![1; fill_kib * 1024]);
        let (output, said) = run_command(recorder(&file, 60));
        let how = format!("a disk with {fill_kib} KiB of ballast");
        judge_end(table, output.as_ref(), &how);
        judge(table, &said, &how);
        table.count("full disks", 1);
        table.count("full disks that refused records", u64::from(said.refused > 0));
        let clean = fs::read(&file).is_ok_and(|bytes| bytes.is_empty() || bytes.ends_with(b"\n"));
        table.zero("half lines left by a full disk", u64::from(!clean));
        // Room is made, and the session goes on.
        let _ = fs::remove_file(&ballast);
        if said.saved.is_some() {
            let (_, again) = run_command(recorder(&file, 0));
            table.hold(again.saved.is_some() || said.refused > 0, &format!("{how}: not gone on with"));
            judge(table, &again, &how);
        }
        let _ = fs::remove_file(&file);
    }
    let unmounted =
        Command::new("umount").arg(folder.path()).output().is_ok_and(|output| output.status.success());
    table.hold(unmounted, "the small disk could not be unmounted");
}
