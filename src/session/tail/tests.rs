use super::*;
use crate::session::disk::Whereabouts;
use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::rc::Rc;

/// A disk that does as it is told.
#[derive(Default)]
struct Script {
    held: Vec<u8>,
    /// Writes still to be interrupted.
    interruptions: u32,
    /// The kind of failure of the write after `room` bytes.
    failure: Option<io::ErrorKind>,
    room: usize,
    /// What taking back does: refuses, or says yes and does nothing.
    refuses_to_cut: bool,
    forgets_to_cut: bool,
    sync_fails: bool,
    /// One bit of what is read back is wrong.
    misreads: bool,
}

struct Staged(Rc<RefCell<Script>>);

impl Disk for Staged {
    fn read_all(&mut self) -> io::Result<Vec<u8>> {
        Ok(self.0.borrow().held.clone())
    }
    fn length(&mut self) -> io::Result<u64> {
        Ok(self.0.borrow().held.len() as u64)
    }
    fn append(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut script = self.0.borrow_mut();
        if script.interruptions > 0 {
            script.interruptions -= 1;
            return Err(io::ErrorKind::Interrupted.into());
        }
        let Some(failure) = script.failure else {
            script.held.extend_from_slice(bytes);
            return Ok(bytes.len());
        };
        if script.room == 0 {
            return Err(failure.into());
        }
        let n = script.room.min(bytes.len());
        script.room -= n;
        script.held.extend_from_slice(&bytes[..n]);
        Ok(n)
    }
    fn sync(&mut self) -> io::Result<()> {
        if self.0.borrow().sync_fails { Err(io::Error::other("staged")) } else { Ok(()) }
    }
    fn sync_name(&mut self) -> io::Result<()> {
        Ok(())
    }
    fn set_len(&mut self, length: u64) -> io::Result<()> {
        let mut script = self.0.borrow_mut();
        if script.refuses_to_cut {
            return Err(io::Error::other("staged"));
        }
        if !script.forgets_to_cut {
            script.held.truncate(length as usize);
        }
        Ok(())
    }
    fn read_at(&mut self, offset: u64, into: &mut [u8]) -> io::Result<()> {
        let script = self.0.borrow();
        let from = &script.held[offset as usize..][..into.len()];
        into.copy_from_slice(from);
        into[0] ^= u8::from(script.misreads);
        Ok(())
    }
    fn remove(&mut self) {}
    fn whereabouts(&mut self) -> Whereabouts {
        Whereabouts::Here
    }
    fn new_file(&mut self, _: &Path) -> io::Result<Box<dyn Disk>> {
        Err(io::ErrorKind::Unsupported.into())
    }
    fn refuges(&self) -> Vec<PathBuf> {
        Vec::new()
    }
}

/// Puts `line` on a disk that holds `held`; gives what became of it and what the disk holds then.
fn put(held: &str, line: &str, mut script: Script) -> (Result<(), Failed>, String) {
    script.held = held.into();
    let disk = Rc::new(RefCell::new(script));
    let mut tail = Tail::of(Box::new(Staged(Rc::clone(&disk))), held.into());
    let done = tail.put(line.as_bytes());
    let held = String::from_utf8(disk.borrow().held.clone()).unwrap();
    (done, held)
}

fn failing(failure: io::ErrorKind, room: usize) -> Script {
    Script { failure: Some(failure), room, ..Script::default() }
}

fn poisoned(done: Result<(), Failed>, why: &str) {
    match done {
        Err(Failed::Poisoned(said)) => assert!(said.contains(why), "{said}"),
        Err(Failed::TakenBack(error)) => panic!("taken back: {error}"),
        Ok(()) => panic!("called saved, and not: {why}"),
    }
}

#[test]
fn a_line_goes_to_the_end_on_a_line_of_its_own() {
    let (done, held) = put("one\n", "two\n", Script::default());
    assert!(done.is_ok());
    assert_eq!(held, "one\ntwo\n");
    let (done, held) = put("one\ntor", "two\n", Script::default());
    assert!(done.is_ok());
    assert_eq!(held, "one\ntor\ntwo\n");
    let (done, held) = put("", "one\n", Script::default());
    assert!(done.is_ok());
    assert_eq!(held, "one\n");
}

#[test]
fn a_write_is_tried_again_a_hundred_times_and_no_more() {
    let interrupted = |interruptions| Script { interruptions, ..Script::default() };
    for some in [1, 2, MOST_INTERRUPTIONS] {
        assert!(put("one\n", "two\n", interrupted(some)).0.is_ok(), "{some}");
    }
    let (done, held) = put("one\n", "two\n", interrupted(MOST_INTERRUPTIONS + 1));
    assert!(matches!(done, Err(Failed::TakenBack(_))));
    assert_eq!(held, "one\n");
    // What is no interruption is not tried again.
    assert!(matches!(
        put("one\n", "two\n", failing(io::ErrorKind::StorageFull, 2)),
        (Err(Failed::TakenBack(_)), held) if held == "one\n"
    ));
}

#[test]
fn only_what_room_would_have_helped_is_taken_back() {
    use io::ErrorKind::{FileTooLarge, PermissionDenied, QuotaExceeded, StorageFull};
    for failure in [StorageFull, QuotaExceeded, FileTooLarge] {
        let (done, held) = put("one\n", "two\n", failing(failure, 2));
        assert!(matches!(done, Err(Failed::TakenBack(_))), "{failure}");
        assert_eq!(held, "one\n");
    }
    poisoned(put("one\n", "two\n", failing(PermissionDenied, 2)).0, "could not be written");
}

#[test]
fn a_half_line_that_stays_gives_the_file_up() {
    let full = || failing(io::ErrorKind::StorageFull, 2);
    poisoned(put("one\n", "two\n", Script { refuses_to_cut: true, ..full() }).0, "could not be written");
    poisoned(put("one\n", "two\n", Script { forgets_to_cut: true, ..full() }).0, "could not be written");
}

#[test]
fn what_is_not_synced_or_does_not_read_back_gives_the_file_up() {
    poisoned(
        put("one\n", "two\n", Script { sync_fails: true, ..Script::default() }).0,
        "could not be synced",
    );
    poisoned(
        put("one\n", "two\n", Script { misreads: true, ..Script::default() }).0,
        "does not hold what was written",
    );
}

#[test]
fn what_someone_else_wrote_gives_the_file_up() {
    let disk = Rc::new(RefCell::new(Script { held: b"one\nx".to_vec(), ..Script::default() }));
    let mut tail = Tail::of(Box::new(Staged(Rc::clone(&disk))), b"one\n".to_vec());
    poisoned(tail.put(b"two\n"), "something else wrote into it");
    assert_eq!(disk.borrow().held, b"one\nx");
}

#[test]
fn a_copy_ends_as_its_original_does() {
    for (original, then) in [("one\n", "one\ntwo\n"), ("one\ntor", "one\ntor\ntwo\n")] {
        let from = Tail::of(Box::new(Staged(Rc::default())), original.into());
        let disk = Rc::new(RefCell::new(Script::default()));
        let mut copy = Tail::of(Box::new(Staged(Rc::clone(&disk))), Vec::new());
        copy.fill(&from).unwrap();
        assert!(copy.put(b"two\n").is_ok());
        assert_eq!(disk.borrow().held, then.as_bytes());
    }
}
