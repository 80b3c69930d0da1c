//! A person with instruments on a live line: a reading is taken by itself once it stands, a log is recorded.

use super::hands::{Hands, HandsError, Reply};
use super::line::Alert;
use super::log_source::LogSource;
use super::prompt::{PromptHands, Watch};
use crate::cli::console::printable;
use crate::cli::screen::{Aims, Fed, Feed, Gauges, Left, Look, Sound, Task, show};
use crate::procedure::{Ask, Input, Outcome, Refusal, Request, Step, Tell};
use crate::report::chart::{Chart, Picture};
use crate::trace::TraceContext;
use crate::units::System;
use std::cell::RefCell;
use std::fs::{File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::time::Duration;

/// A person, and a line.
pub struct LiveHands {
    person: PromptHands,
    feed: Rc<RefCell<Feed>>,
    ctx: TraceContext,
    aims: Aims,
    system: System,
    /// How the screen may look; `None` on a terminal that can have none.
    look: Option<Look>,
    session: PathBuf,
}

impl LiveHands {
    /// A person at the terminal, instruments on `feed`; logs are kept beside the session.
    pub fn new(
        person: PromptHands,
        feed: Feed,
        (ctx, aims): (TraceContext, Aims),
        system: System,
        look: Option<Look>,
        session: &Path,
    ) -> Self {
        let feed = Rc::new(RefCell::new(feed));
        let person = person.watched(lean_watch(Rc::clone(&feed), &ctx, &aims, system));
        Self { person, feed, ctx, aims, system, look, session: session.to_owned() }
    }

    fn gauges(&self, task: &Task) -> Gauges {
        Gauges::new(&self.ctx, self.aims.clone(), self.system, task.clone())
    }

    fn read(&mut self, request: &Request) -> Result<Option<Reply>, HandsError> {
        self.feed.borrow_mut().skip_to_now();
        let task = Task::Read(printable(&request.say).into_owned());
        let mut gauges = self.gauges(&task);
        let left = match self.look {
            Some(look) => show(&mut self.feed.borrow_mut(), &mut gauges, &task, look, |_| Ok(()))?,
            None => self.wait_until_it_stands(&mut gauges)?,
        };
        if left == Left::Interrupted {
            return Err(HandsError::Interrupted);
        }
        let standing = gauges.settled();
        if let (Left::Done, Some(reading)) = (left, standing) {
            self.person.took(&request.say, &reading)?;
            return Ok(Some(Reply::Input(Input::Reading(reading))));
        }
        self.person.offer(standing.or_else(|| gauges.as_it_is()));
        Ok(None)
    }

    /// Without a screen: waits for it to stand, not for ever; the person then confirms what is offered.
    fn wait_until_it_stands(&mut self, gauges: &mut Gauges) -> Result<Left, HandsError> {
        const LONGEST_S: f64 = 20.0;
        self.person.tell(
            &Tell::note("Reading the gauges from the line; leave it alone (Enter: no longer)."),
            None,
        )?;
        let mut feed = self.feed.borrow_mut();
        let began = feed.now().as_s();
        while gauges.settled().is_none() && feed.now().as_s() - began < LONGEST_S && !typed_already() {
            match feed.next(Duration::from_millis(100)) {
                Some(Fed::Rows(rows, _)) => {
                    let sound = gauges.rows(feed.now(), &rows);
                    self.person.sound(sound)?;
                }
                Some(Fed::Trouble(why)) => {
                    self.person.tell(&Tell::caution(why), None)?;
                    break;
                }
                Some(Fed::Ended) => break,
                Some(Fed::Well) | None => {}
            }
        }
        Ok(Left::Typing)
    }

    fn record(&mut self, look: Look) -> Result<Option<Reply>, HandsError> {
        let path = log_beside(&self.session);
        let file = OpenOptions::new().write(true).create_new(true).open(&path)?;
        let name = path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        self.feed.borrow_mut().skip_to_now();
        let mut log = LiveLog::begin(file, &self.feed.borrow())?;
        let task = Task::Record(name);
        let mut gauges = self.gauges(&task);
        let left = show(&mut self.feed.borrow_mut(), &mut gauges, &task, look, |bytes| log.take(bytes))?;
        log.end()?;
        if gauges.alarms() > 0 {
            let text = format!("The lean alarm came {} times while this was logged.", gauges.alarms());
            self.person.tell(&Tell::danger(text), None)?;
        }
        self.person.tell(&Tell::note(format!("Recorded in {}.", path.display())), None)?;
        Ok(match left {
            Left::Done => Some(Reply::Log(LogSource::File(path))),
            Left::Typing => None,
            Left::Interrupted => return Err(HandsError::Interrupted),
        })
    }
}

/// The lean alarm while a question stands: no screen is up then, and the engine may be under load.
fn lean_watch(feed: Rc<RefCell<Feed>>, ctx: &TraceContext, aims: &Aims, system: System) -> Box<Watch> {
    /// Pieces of the line looked at in one go, so that the keys are never waited on for long.
    const MOST: usize = 64;
    let mut gauges = Gauges::new(ctx, aims.clone(), system, Task::Watch);
    let mut said = 0;
    Box::new(move || {
        let mut feed = feed.try_borrow_mut().ok()?;
        let mut sound = Sound::Silence;
        for _ in 0..MOST {
            match feed.next(Duration::ZERO) {
                Some(Fed::Rows(rows, _)) => sound = sound.max(gauges.rows(feed.now(), &rows)),
                Some(_) => {}
                None => break,
            }
        }
        gauges.tick(feed.now());
        if sound != Sound::Danger {
            return None;
        }
        let danger = gauges.screen();
        let new = std::mem::replace(&mut said, gauges.alarms()) != gauges.alarms();
        let words = danger.danger.map(|d| format!("DANGER  {}. {}", d.said, danger.next));
        Some(Alert { said: words.filter(|_| new), sound })
    })
}

/// Somebody has typed something that nobody has read yet.
#[cfg(unix)]
fn typed_already() -> bool {
    use nix::poll::{PollFd, PollFlags, PollTimeout, poll};
    use std::os::fd::AsFd;
    let stdin = io::stdin();
    let mut waiting = [PollFd::new(stdin.as_fd(), PollFlags::POLLIN)];
    poll(&mut waiting, PollTimeout::ZERO).is_ok_and(|n| n > 0)
}

#[cfg(not(unix))]
fn typed_already() -> bool {
    false
}

impl Hands for LiveHands {
    fn heading(&mut self, step: Step) -> Result<(), HandsError> {
        self.person.heading(step)
    }

    fn tell(&mut self, tell: &Tell, saved: Option<u64>) -> Result<(), HandsError> {
        self.person.tell(tell, saved)
    }

    fn answer(&mut self, request: &Request, saved: Option<u64>) -> Result<Reply, HandsError> {
        let taken = match (&request.ask, self.look) {
            (Ask::Reading { .. }, _) => self.read(request)?,
            (Ask::Log { .. }, Some(look)) => self.record(look)?,
            _ => None,
        };
        if let Some(reply) = taken {
            return Ok(reply);
        }
        let reply = self.person.answer(request, saved);
        self.person.offer(None);
        reply
    }

    fn refuse(&mut self, refusal: &Refusal) -> Result<(), HandsError> {
        self.person.refuse(refusal)
    }

    fn glance(&mut self, chart: &dyn Fn() -> Option<Chart>) -> Result<(), HandsError> {
        self.person.glance(chart)
    }

    fn pictures(&mut self, pictures: &[Picture]) -> Result<(), HandsError> {
        self.person.pictures(pictures)
    }

    fn plain_result(&mut self, result: &serde_json::Value) -> io::Result<()> {
        self.person.plain_result(result)
    }

    fn result(&mut self, outcome: &Outcome, file: &Path) -> io::Result<()> {
        self.person.result(outcome, file)
    }
}

/// A name for the next log of a session, beside it: nothing recorded is ever written over.
pub fn log_beside(session: &Path) -> PathBuf {
    let name = session.file_name().map_or_else(|| "log".to_owned(), |n| n.to_string_lossy().into_owned());
    let stem = name.strip_suffix(".tune.jsonl").unwrap_or(&name).to_owned();
    let named = |n: u32| {
        session.with_file_name(if n == 1 { format!("{stem}.csv") } else { format!("{stem}-{n}.csv") })
    };
    (1..=u32::MAX).map(named).find(|p| !p.exists()).unwrap_or_else(|| named(1))
}

/// The bytes of a line in a file: what it opened with (the header), then whole lines from now on.
struct LiveLog {
    file: BufWriter<File>,
    skipping: bool,
}

impl LiveLog {
    fn begin(file: File, feed: &Feed) -> io::Result<Self> {
        let mut file = BufWriter::new(file);
        // Before the columns are known the opening is still to come, with the rows.
        if feed.settled() {
            file.write_all(feed.opening())?;
        }
        Ok(Self { file, skipping: !feed.at_line_start() })
    }

    fn take(&mut self, bytes: &[u8]) -> io::Result<()> {
        let mut bytes = bytes;
        if self.skipping {
            let Some(end) = bytes.iter().position(|b| *b == b'\n') else { return Ok(()) };
            bytes = &bytes[end + 1..];
            self.skipping = false;
        }
        self.file.write_all(bytes)
    }

    fn end(self) -> io::Result<()> {
        self.file.into_inner().map_err(io::IntoInnerError::into_error)?.sync_all()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_log_never_takes_the_name_of_another() {
        let folder = tempfile::tempdir().unwrap();
        let session = folder.path().join("ann.tune.jsonl");
        assert_eq!(log_beside(&session), folder.path().join("ann.csv"));
        std::fs::write(folder.path().join("ann.csv"), "x").unwrap();
        assert_eq!(log_beside(&session), folder.path().join("ann-2.csv"));
    }
}
