//! Runs a session, crashes it everywhere, recovers, holds the outcome against what was promised, and crashes the
//! recovery too.

use crate::images::{Chance, pieced, prefixes};
use crate::world::{Habits, Moment, Shared, SimDisk, SimFile, World};
use leanbest::session::clock::{Clock, StepClock};
use leanbest::session::record::{self, Envelope, Record};
use leanbest::session::scan::{Sort, scan};
use leanbest::session::{Journal, SessionError};
use serde_json::{Value, json};
use std::path::Path;
use std::time::Duration;

/// One event as submitted.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Event {
    pub kind: String,
    pub payload: Value,
}

/// What was seen.
#[derive(Debug, Default, Clone)]
pub(crate) struct Tally {
    /// Images read.
    pub images: u64,
    /// Of them, images of a crash during recovery.
    pub again: u64,
    /// Of them, images with a torn tail.
    pub torn: u64,
    /// What must not be.
    pub failures: Vec<String>,
}

impl Tally {
    pub(crate) fn add(&mut self, other: &Tally) {
        self.images += other.images;
        self.again += other.again;
        self.torn += other.torn;
        self.failures.extend(other.failures.iter().cloned());
    }
}

pub(crate) fn path() -> &'static Path {
    Path::new("here/skiff.tune.jsonl")
}

pub(crate) fn clock() -> Box<dyn Clock> {
    Box::new(StepClock::new("2026-05-03T10:00:00Z".parse().unwrap(), Duration::from_millis(40)))
}

/// A session of mixed records: most short, some as long as a long note.
pub(crate) fn script(chance: &mut Chance) -> Vec<Event> {
    (0..8 + chance.below(5))
        .map(|n| {
            let note = match chance.below(8) {
                0 => 2_500,
                1 => 600,
                _ => chance.below(40),
            };
            let text: String = (0..note).map(|_| char::from(b'a' + chance.below(26) as u8)).collect();
            let vacuum = 140 + chance.below(60);
            Event {
                kind: if note > 100 { "note".to_owned() } else { "reading".to_owned() },
                payload: json!({"reading": n, "vacuum_inhg": vacuum as f64 / 10.0, "text": text}),
            }
        })
        .collect()
}

pub(crate) struct Explorer {
    chance: Chance,
    habits: Habits,
    pub tally: Tally,
    limit: u64,
}

impl Explorer {
    pub(crate) fn new(seed: u64, habits: Habits) -> Self {
        Explorer { chance: Chance::new(seed), habits, tally: Tally::default(), limit: u64::MAX }
    }

    /// One session crashed at every operation.
    pub(crate) fn session(&mut self, limit: u64) {
        self.limit = limit;
        let script = script(&mut self.chance);
        let world = World::with(path(), None, self.habits);
        let opening = json!({"engine": "inline six"});
        let mut submitted = vec![Event { kind: "open".to_owned(), payload: opening.clone() }];
        submitted.extend(script.iter().cloned());
        world.borrow_mut().submitted = 1;
        let mut journal =
            Journal::create_on(SimDisk::open(&world, path()), clock(), path(), "k7q2m", &opening).unwrap();
        world.borrow_mut().acknowledged = 1;
        drive(&world, &mut journal, &script, 1);
        let moments = std::mem::take(&mut world.borrow_mut().timeline);
        self.crash_everywhere(&moments, &submitted, 2);
    }

    fn full(&self) -> bool {
        self.tally.images >= self.limit || self.tally.failures.len() > 3
    }

    fn crash_everywhere(&mut self, moments: &[Moment], submitted: &[Event], depth: u32) {
        for moment in moments {
            let mut images: Vec<Vec<u8>> = prefixes(moment).collect();
            images.extend(pieced(moment, &mut self.chance, 48));
            for image in images {
                if self.full() {
                    return;
                }
                self.crash(image, moment, submitted, depth);
            }
            if !moment.file.named && moment.acknowledged > 0 && !self.habits.no_sync {
                self.fail("acknowledged before the file's name was on the disk".to_owned());
            }
        }
    }

    fn crash(&mut self, mut image: Vec<u8>, moment: &Moment, submitted: &[Event], depth: u32) {
        self.tally.images += 1;
        if self.habits.no_check {
            image = resealed(&image);
        }
        let recovered = match self.judge(&image, moment, submitted) {
            Ok(recovered) => recovered,
            Err(what) => return self.fail(what),
        };
        if depth == 0 || self.chance.below(if depth == 2 { 64 } else { 24 }) != 0 {
            return;
        }
        let had = recovered.len();
        // A killed program leaves the kernel's view of the file, as far as it had got, and the disk as it was.
        let killed = depth == 2 && moment.file.now.starts_with(&image) && self.chance.below(2) == 0;
        let world = if killed {
            World::after_kill(path(), SimFile { now: image, ..moment.file.clone() }, self.habits)
        } else {
            World::with(path(), Some(image), self.habits)
        };
        match self.go_on(&world, recovered, if killed { moment.acknowledged } else { had }) {
            Ok((moments, submitted)) => self.sample(&moments, &submitted, depth - 1),
            Err(what) => self.fail(what),
        }
    }

    /// A few images of each moment of a recovery.
    fn sample(&mut self, moments: &[Moment], submitted: &[Event], depth: u32) {
        for moment in moments {
            if !moment.file.named && moment.acknowledged > 0 && !self.habits.no_sync {
                self.fail("acknowledged before the file's name was on the disk".to_owned());
            }
            let mut images = pieced(moment, &mut self.chance, 2);
            let (from, to) = (moment.file.durable.len(), moment.file.now.len());
            for _ in 0..4 {
                images.push(moment.file.now[..from + self.chance.below(to - from + 1)].to_vec());
            }
            for image in images {
                if self.full() {
                    return;
                }
                self.tally.again += 1;
                self.crash(image, moment, submitted, depth);
            }
        }
    }

    /// Reads an image and holds it against what was promised.
    fn judge(&mut self, image: &[u8], moment: &Moment, submitted: &[Event]) -> Result<Vec<Event>, String> {
        let scan = scan(image);
        if let Some(damage) = &scan.damage {
            return Err(format!("false alarm: line {}: {}", damage.line, damage.what));
        }
        if !matches!(scan.sort, Sort::Session(_) | Sort::NeverBegun) && moment.acknowledged > 0 {
            return Err(format!("lost: an acknowledged session is taken for {:?}", scan.sort));
        }
        self.tally.torn += u64::from(scan.torn.is_some());
        let found = events(&scan.records);
        if found.len() < moment.acknowledged {
            let durable = moment.file.durable.len().saturating_sub(700);
            return Err(format!(
                "lost: {} acknowledged, {} recovered; on disk {:?}; image {:?}",
                moment.acknowledged,
                found.len(),
                String::from_utf8_lossy(&moment.file.durable[durable..]),
                String::from_utf8_lossy(&image[durable..])
            ));
        }
        if found.len() > moment.submitted || found.iter().zip(submitted).any(|(found, given)| found != given)
        {
            return Err("altered: a record is recovered that was never submitted".to_owned());
        }
        Ok(found)
    }

    /// Begins or resumes on an image and adds a record, remembering every moment of it.
    fn go_on(
        &mut self,
        world: &Shared,
        mut recovered: Vec<Event>,
        acknowledged: usize,
    ) -> Result<(Vec<Moment>, Vec<Event>), String> {
        let had = recovered.len();
        let text = if self.chance.below(3) == 0 { "b".repeat(1_000) } else { String::new() };
        let added = Event { kind: "note".to_owned(), payload: json!({"again": had, "text": text}) };
        {
            let mut world = world.borrow_mut();
            // Nothing is shown before the resume has synced it: of a killed run only what it had said counts yet.
            (world.acknowledged, world.submitted) = (acknowledged, had + 1);
        }
        let disk = SimDisk::open(world, path());
        let mut journal = if had == 0 {
            let opening = json!({"engine": "short block"});
            recovered.push(Event { kind: "open".to_owned(), payload: opening.clone() });
            match Journal::create_on(disk, clock(), path(), "w3f9p", &opening) {
                // What never began may look like anything, and then it is left alone.
                Err(SessionError::Foreign { .. } | SessionError::Newer { .. }) => {
                    return Ok((Vec::new(), Vec::new()));
                }
                other => other.map_err(|error| format!("could not begin after a crash: {error}"))?,
            }
        } else {
            let (journal, read) = Journal::resume_on(disk, clock(), path())
                .map_err(|error| format!("could not resume after a crash: {error}"))?;
            let resumed = events_as_given(&read.records);
            if resumed[..had] != recovered {
                return Err("resuming read something else than reading".to_owned());
            }
            recovered.push(resumed[had].clone());
            journal
        };
        world.borrow_mut().acknowledged = had + 1;
        drive(world, &mut journal, std::slice::from_ref(&added), had + 1);
        recovered.push(added);
        let moments = std::mem::take(&mut world.borrow_mut().timeline);
        Ok((moments, recovered))
    }

    fn fail(&mut self, what: String) {
        self.tally.failures.push(what);
    }
}

/// Appends events, keeping count of what is submitted and acknowledged.
fn drive(world: &Shared, journal: &mut Journal, script: &[Event], before: usize) {
    for (k, event) in script.iter().enumerate() {
        world.borrow_mut().submitted = before + k + 1;
        let saved = journal.append(&event.kind, &event.payload).unwrap();
        assert_eq!(saved.payload_as_read, event.payload);
        world.borrow_mut().acknowledged = before + k + 1;
    }
    world.borrow_mut().remember(path());
}

/// Records as events; of the opening and of resumes only what the caller gave.
pub(crate) fn events(records: &[Record]) -> Vec<Event> {
    let given = |record: &Record| match record.kind.as_str() {
        "open" => record.payload.get("opening").cloned().unwrap_or(Value::Null),
        "resume" | "continue" => Value::Null,
        _ => record.payload.clone(),
    };
    records.iter().map(|record| Event { kind: record.kind.clone(), payload: given(record) }).collect()
}

/// The same for records whose opening is already the caller's.
pub(crate) fn events_as_given(records: &[Record]) -> Vec<Event> {
    let given = |record: &Record| match record.kind.as_str() {
        "resume" | "continue" => Value::Null,
        _ => record.payload.clone(),
    };
    records.iter().map(|record| Event { kind: record.kind.clone(), payload: given(record) }).collect()
}

/// What a reader without a check would accept: every line that parses, given a fitting check and history.
fn resealed(image: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut previous = String::new();
    for line in image.split_inclusive(|&byte| byte == b'\n') {
        let text = line.strip_suffix(b"\n").unwrap_or(line);
        let sealed = record::strict(text).ok().and_then(|value| {
            let text_of = |field: &str| value.get(field)?.as_str().map(str::to_owned);
            let number = |field: &str| value.get(field)?.as_u64();
            let (tag, kind) = (text_of("session")?, text_of("kind")?);
            let envelope = Envelope {
                n: number("n")?,
                tag: &tag,
                run: number("run")?,
                at: text_of("at")?.parse().ok()?,
                up: Duration::from_millis(number("up_ms")?),
                durable: number("durable")?,
                kind: &kind,
                previous: &previous,
            };
            Some(record::seal(&envelope, value.get("payload")?.to_string().as_bytes()))
        });
        match sealed {
            Some(sealed) => {
                let end = sealed.len() - 3;
                previous = String::from_utf8_lossy(&sealed[end - 16..end]).into_owned();
                out.extend(sealed);
            }
            None => out.extend_from_slice(line),
        }
    }
    out
}
