//! Every disk operation of a session failed, once and for good, in six ways; then a crash; then a clean resume.

use crate::explore::{Event, clock, events, path, script};
use crate::images::{Chance, prefixes};
use crate::world::{FAULTS, Habits, Moment, Plan, Shared, SimDisk, World};
use leanbest::session::scan::scan;
use leanbest::session::{Journal, SessionError};
use serde_json::json;
use std::path::PathBuf;

/// How a session under a fault went.
struct Run {
    world: Shared,
    /// Where it was being recorded at the end; `None` when it never began.
    path: Option<PathBuf>,
    acknowledged: Vec<Event>,
    moved: bool,
    refused: usize,
}

fn run(script: &[Event], plan: Option<Plan>, image: Option<Vec<u8>>) -> Run {
    let resumed = image.is_some();
    let world = World::with(path(), image, Habits::default());
    world.borrow_mut().plan = plan;
    let disk = SimDisk::open(&world, path());
    let opening = json!({"engine": "inline six"});
    let mut acknowledged = Vec::new();
    let begun = if resumed {
        Journal::resume_on(disk, clock(), path()).map(|(journal, read)| {
            acknowledged = crate::explore::events_as_given(&read.records);
            journal
        })
    } else {
        acknowledged.push(Event { kind: "open".to_owned(), payload: opening.clone() });
        Journal::create_on(disk, clock(), path(), "k7q2m", &opening)
    };
    let Ok(mut journal) = begun else {
        return Run { world, path: None, acknowledged: Vec::new(), moved: false, refused: 0 };
    };
    let (mut moved, mut refused) = (false, 0);
    for event in script {
        for _attempt in 0..2 {
            match journal.append(&event.kind, &event.payload) {
                Ok(saved) => {
                    if !saved.notices.is_empty() {
                        moved = true;
                        acknowledged
                            .push(Event { kind: "continue".to_owned(), payload: serde_json::Value::Null });
                    }
                    acknowledged.push(event.clone());
                    break;
                }
                Err(SessionError::Full { .. }) => {
                    refused += 1;
                    let now = &world.borrow().files[journal.path()].now;
                    assert!(now.ends_with(b"\n"), "{plan:?}: a half line is left in a file that goes on");
                }
                Err(SessionError::NowhereToGoOn { .. }) => refused += 1,
                Err(other) => panic!("{other}"),
            }
        }
    }
    let path = Some(journal.path().to_owned());
    Run { world, path, acknowledged, moved, refused }
}

/// After the run the power goes: images of every file, at most so many of each, held against what was promised.
fn judge(run: &Run, plan: Plan, most: usize) -> u64 {
    let world = run.world.borrow();
    assert_eq!(world.touched_the_dead, 0, "{plan:?}: a file whose sync failed was written or synced again");
    let mut images = 0;
    for (name, file) in &world.files {
        let moment = Moment { file: file.clone(), acknowledged: 0, submitted: 0 };
        let stride = (file.now.len() - file.durable.len()) / most + 1;
        for image in prefixes(&moment).step_by(stride) {
            images += 1;
            let scan = scan(&image);
            assert!(scan.damage.is_none(), "{plan:?}: false alarm in {}: {:?}", name.display(), scan.damage);
            let found = events(&scan.records);
            if run.path.as_ref() == Some(name) {
                assert!(file.named, "{plan:?}: the name of {} is not on the disk", name.display());
                let given = found.get(..run.acknowledged.len());
                assert_eq!(given, Some(&run.acknowledged[..]), "{plan:?}: lost in {}", name.display());
            }
        }
    }
    images
}

#[derive(Default)]
struct Figures {
    faults: u64,
    images: u64,
    moved: u64,
    refused: u64,
}

fn every_operation(script: &[Event], image: Option<&[u8]>, most: usize, figures: &mut Figures) {
    let clean = run(script, None, image.map(<[u8]>::to_vec));
    let operations = clean.world.borrow().operations;
    for at in 0..operations + 2 {
        for fault in FAULTS {
            for for_good in [false, true] {
                let plan = Plan { at, fault, for_good };
                let run = run(script, Some(plan), image.map(<[u8]>::to_vec));
                figures.faults += 1;
                figures.moved += u64::from(run.moved);
                figures.refused += run.refused as u64;
                figures.images += judge(&run, plan, most);
                if at < operations && !for_good && run.path.is_some() {
                    let all = script.iter().all(|event| run.acknowledged.contains(event));
                    assert!(all, "{plan:?}: one fault, tried twice, and a record is still refused");
                }
            }
        }
    }
}

fn some_image() -> Vec<u8> {
    let clean = run(&script(&mut Chance::new(7))[..3], None, None);
    let mut image = clean.world.borrow().files[path()].now.clone();
    image.extend_from_slice(b"{\"n\":4,\"session\":\"k7q2");
    image
}

fn all(seed: u64, events: usize, most: usize, figures: &mut Figures) {
    let script = script(&mut Chance::new(seed));
    let script = script.get(..events).unwrap_or(&script);
    every_operation(script, None, most, figures);
    every_operation(script, Some(&some_image()), most, figures);
}

#[test]
fn nothing_acknowledged_is_lost_when_any_operation_fails() {
    let mut figures = Figures::default();
    all(1, 5, 8, &mut figures);
    assert!(figures.faults > 500 && figures.moved > 50 && figures.refused > 50, "too little happened");
}

#[test]
#[ignore = "thirty thousand faults; run in release"]
#[expect(clippy::print_stdout, reason = "it prints its figures")]
fn thirty_thousand_faults() {
    let mut figures = Figures::default();
    let mut seed = 100;
    while figures.faults < crate::from_environment("LEANBEST_FAULTS", 30_000) {
        all(seed, 12, 64, &mut figures);
        seed += 1;
    }
    println!("figure faults_injected {}", figures.faults);
    println!("figure faults_images_after {}", figures.images);
    println!("figure faults_sessions_moved_on {}", figures.moved);
    println!("figure faults_acknowledged_lost 0");
    println!("figure faults_failed_sync_tried_again 0");
}
