//! A disk in memory that keeps apart what is written and what is on the disk, and fails when told to.

use leanbest::session::disk::{Disk, Whereabouts};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::rc::Rc;

/// Ways of doing it wrong, for the controls. All false is right.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Habits {
    /// Syncs say yes and do nothing.
    pub no_sync: bool,
    /// The line end before a record that follows a torn tail never arrives.
    pub no_wall: bool,
    /// Every line of an image is given a fitting check before it is read.
    pub no_check: bool,
}

/// One file: as the kernel has it, and as the disk has it.
#[derive(Debug, Clone, Default)]
pub(crate) struct SimFile {
    pub durable: Vec<u8>,
    pub now: Vec<u8>,
    /// What stood at these offsets before a write was taken back.
    pub stale: Vec<u8>,
    /// Its name is on the disk.
    pub named: bool,
    /// A sync failed: the kernel dropped the pages, and says yes ever after.
    pub dead: bool,
}

/// The file at one moment, with what had been promised by then.
#[derive(Debug, Clone)]
pub(crate) struct Moment {
    pub file: SimFile,
    pub acknowledged: usize,
    pub submitted: usize,
}

/// How an operation is made to fail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Fault {
    Full,
    ShortThenFull,
    Io,
    ShortThenIo,
    Interrupted,
    TooLarge,
    /// A write that says it took all and took half.
    Lies,
}

pub(crate) const FAULTS: [Fault; 7] = [
    Fault::Full,
    Fault::ShortThenFull,
    Fault::Io,
    Fault::ShortThenIo,
    Fault::Interrupted,
    Fault::TooLarge,
    Fault::Lies,
];

impl Fault {
    fn error(self) -> io::Error {
        match self {
            Fault::Full | Fault::ShortThenFull => io::ErrorKind::StorageFull.into(),
            Fault::Io | Fault::ShortThenIo | Fault::Lies => io::Error::other("input/output error"),
            Fault::Interrupted => io::ErrorKind::Interrupted.into(),
            Fault::TooLarge => io::ErrorKind::FileTooLarge.into(),
        }
    }
}

/// Which operations fail.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Plan {
    pub at: u64,
    pub fault: Fault,
    pub for_good: bool,
}

/// All files, and the count of operations on them.
#[derive(Debug, Default)]
pub(crate) struct World {
    pub files: BTreeMap<PathBuf, SimFile>,
    pub operations: u64,
    pub plan: Option<Plan>,
    pub habits: Habits,
    pub timeline: Vec<Moment>,
    pub acknowledged: usize,
    pub submitted: usize,
    /// Writes or syncs to a file whose sync had failed.
    pub touched_the_dead: u64,
}

pub(crate) type Shared = Rc<RefCell<World>>;

impl World {
    /// A world with one file, all of it on the disk.
    pub(crate) fn with(path: &Path, bytes: Option<Vec<u8>>, habits: Habits) -> Shared {
        let mut world = World { habits, ..World::default() };
        if let Some(bytes) = bytes {
            let file = SimFile { durable: bytes.clone(), now: bytes, named: true, ..SimFile::default() };
            world.files.insert(path.to_owned(), file);
        }
        Rc::new(RefCell::new(world))
    }

    /// A world in which the program was killed, not the power cut: the kernel still has what the disk may not.
    pub(crate) fn after_kill(path: &Path, file: SimFile, habits: Habits) -> Shared {
        let files = BTreeMap::from([(path.to_owned(), file)]);
        Rc::new(RefCell::new(World { files, habits, ..World::default() }))
    }

    /// Counts an operation; `Some` when it is to fail.
    fn step(&mut self) -> Option<Fault> {
        let at = self.operations;
        self.operations += 1;
        let plan = self.plan?;
        (at == plan.at || plan.for_good && at > plan.at).then_some(plan.fault)
    }

    fn file(&mut self, path: &Path) -> &mut SimFile {
        self.files.entry(path.to_owned()).or_default()
    }

    /// Adds the present moment to the timeline.
    pub(crate) fn remember(&mut self, path: &Path) {
        let moment = Moment {
            file: self.file(path).clone(),
            acknowledged: self.acknowledged,
            submitted: self.submitted,
        };
        self.timeline.push(moment);
    }
}

/// A handle on one file of a world.
pub(crate) struct SimDisk {
    pub world: Shared,
    pub path: PathBuf,
}

impl SimDisk {
    pub(crate) fn open(world: &Shared, path: &Path) -> Box<dyn Disk> {
        world.borrow_mut().file(path);
        Box::new(SimDisk { world: Rc::clone(world), path: path.to_owned() })
    }

    fn failing(&self) -> io::Result<()> {
        match self.world.borrow_mut().step() {
            None | Some(Fault::Lies) => Ok(()),
            Some(fault) => Err(fault.error()),
        }
    }

    fn sync_as(&self, names: bool) -> io::Result<()> {
        let mut world = self.world.borrow_mut();
        let fault = world.step();
        let no_sync = world.habits.no_sync;
        let file = world.file(&self.path);
        let was_dead = file.dead;
        if let Some(fault) = fault.filter(|&fault| fault != Fault::Lies) {
            file.dead = true;
            world.touched_the_dead += u64::from(was_dead);
            return Err(fault.error());
        }
        if !was_dead && !no_sync {
            file.durable.clone_from(&file.now);
            file.stale.clear();
            file.named |= names;
        }
        world.touched_the_dead += u64::from(was_dead);
        world.remember(&self.path);
        Ok(())
    }
}

impl Disk for SimDisk {
    fn read_all(&mut self) -> io::Result<Vec<u8>> {
        self.failing()?;
        Ok(self.world.borrow_mut().file(&self.path).now.clone())
    }

    fn length(&mut self) -> io::Result<u64> {
        self.failing()?;
        Ok(self.world.borrow_mut().file(&self.path).now.len() as u64)
    }

    fn append(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut world = self.world.borrow_mut();
        let fault = world.step();
        let no_wall = world.habits.no_wall;
        let file = world.file(&self.path);
        let dead = file.dead;
        let mut taken = bytes.to_vec();
        match fault {
            Some(Fault::ShortThenFull | Fault::ShortThenIo) => {
                // The short write succeeds; the error is met by the next one.
                taken.truncate(bytes.len() / 2);
                if let Some(plan) = world.plan.as_mut().filter(|plan| !plan.for_good) {
                    plan.fault = if plan.fault == Fault::ShortThenFull { Fault::Full } else { Fault::Io };
                    plan.at += 1;
                }
                if taken.is_empty()
                    || world.plan.is_some_and(|plan| plan.for_good && world.operations > plan.at + 1)
                {
                    return Err(fault.map_or_else(|| io::ErrorKind::Other.into(), Fault::error));
                }
            }
            Some(Fault::Lies) => taken.truncate(bytes.len() / 2),
            Some(fault) => return Err(fault.error()),
            None => {}
        }
        let file = world.file(&self.path);
        if no_wall && taken.first() == Some(&b'\n') && file.now.last().is_some_and(|&last| last != b'\n') {
            taken[0] = b' ';
        }
        file.now.extend_from_slice(&taken);
        world.touched_the_dead += u64::from(dead);
        world.remember(&self.path);
        Ok(if fault == Some(Fault::Lies) { bytes.len() } else { taken.len() })
    }

    fn sync(&mut self) -> io::Result<()> {
        self.sync_as(false)
    }

    fn sync_name(&mut self) -> io::Result<()> {
        self.sync_as(true)
    }

    fn set_len(&mut self, length: u64) -> io::Result<()> {
        self.failing()?;
        let mut world = self.world.borrow_mut();
        let file = world.file(&self.path);
        assert!(length as usize >= file.durable.len(), "saved bytes are never cut");
        file.stale.clone_from(&file.now);
        file.now.truncate(length as usize);
        world.remember(&self.path);
        Ok(())
    }

    fn read_at(&mut self, offset: u64, into: &mut [u8]) -> io::Result<()> {
        self.failing()?;
        let mut world = self.world.borrow_mut();
        let no_wall = world.habits.no_wall;
        let now = &world.file(&self.path).now;
        let there = now.get(offset as usize..offset as usize + into.len());
        into.copy_from_slice(there.ok_or(io::ErrorKind::UnexpectedEof)?);
        // The control's missing line end is hidden from the writer: it is the crash that must show it.
        if let (true, Some(first @ b' ')) = (no_wall, into.first_mut()) {
            *first = b'\n';
        }
        Ok(())
    }

    fn remove(&mut self) {
        self.world.borrow_mut().files.remove(&self.path);
    }

    fn whereabouts(&mut self) -> Whereabouts {
        Whereabouts::Here
    }

    fn new_file(&mut self, path: &Path) -> io::Result<Box<dyn Disk>> {
        self.failing()?;
        if self.world.borrow().files.contains_key(path) {
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        Ok(SimDisk::open(&self.world, path))
    }

    fn refuges(&self) -> Vec<PathBuf> {
        vec![PathBuf::from("here"), PathBuf::from("home")]
    }
}
