//! The link: any bytes as answers to the guided procedure. Each is understood or refused in words; what is decided can
//! always be applied; what goes out is one JSON object a line.
#![no_main]

use leanbest::cli::guide::{Hands, LinkHands, Reply};
use leanbest::procedure::{Due, Job, State, decide, next};
use leanbest::profile::load_setup;
use leanbest::units::System;
use libfuzzer_sys::fuzz_target;
use std::cell::RefCell;
use std::io::{self, Cursor, Write};
use std::rc::Rc;

#[derive(Clone, Default)]
struct Kept(Rc<RefCell<Vec<u8>>>);

impl Write for Kept {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.borrow_mut().extend_from_slice(bytes);
        Ok(bytes.len())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn job() -> Job {
    let loaded = load_setup("plain", None).expect("built in");
    Job { setup: loaded.setup, rules: loaded.rules, logger: loaded.logger, ask_for_setup: false }
}

fuzz_target!(|answers: &[u8]| {
    let kept = Kept::default();
    let mut hands =
        LinkHands::new(Box::new(Cursor::new(answers.to_vec())), true, Box::new(kept.clone()), System::Us);
    let mut state = State::open(job(), System::Us);
    for _ in 0..60 {
        let events = match next(&state) {
            Due::Over(_) => break,
            Due::Own(event) => vec![*event],
            Due::Ask(request) => match hands.answer(&request, None) {
                Ok(Reply::Input(input)) => match decide(&state, input) {
                    Ok(events) => events,
                    Err(refusal) => {
                        assert!(!refusal.to_string().is_empty());
                        continue;
                    }
                },
                // A log would be read from the disk: not here.
                Ok(Reply::Log(_)) | Err(_) => break,
            },
        };
        for event in events {
            state.apply(&event).expect("what was decided can be applied");
        }
    }
    for line in kept.0.borrow().split(|&byte| byte == b'\n').filter(|line| !line.is_empty()) {
        assert!(serde_json::from_slice::<serde_json::Map<String, serde_json::Value>>(line).is_ok());
    }
});
