//! The headless link: the same requests as JSON Lines on stdout, the answers as JSON Lines in.

use super::hands::{Hands, HandsError, Reply};
use super::log_source::LogSource;
use crate::analysis::verdict::Settings;
use crate::procedure::{Ask, Channel, Input, Level, Outcome, Refusal, Request, Step, Tell, ValueUnit};
use crate::rules::balance::Reading;
use crate::setup::{PartPath, PartSize};
use crate::units::{EngineSpeed, Lambda, Length, System, Temperature, Turns, Vacuum};
use serde_json::{Map, Value, json};
use std::io::{self, BufRead, Write};
use std::path::{Path, PathBuf};

/// A program (or a file of answers) on the other end.
pub struct LinkHands {
    answers: Box<dyn BufRead>,
    out: Box<dyn Write>,
    line: u64,
    /// The answers come from standard input.
    piped: bool,
    system: System,
}

impl LinkHands {
    /// Answers come from `answers` (`piped`: that is standard input), requests go to `out`.
    pub fn new(answers: Box<dyn BufRead>, piped: bool, out: Box<dyn Write>, system: System) -> Self {
        Self { answers, out, line: 0, piped, system }
    }

    /// Sends one line, at once.
    pub fn send(&mut self, value: &Value) -> io::Result<()> {
        serde_json::to_writer(&mut self.out, value)?;
        self.out.write_all(b"\n")?;
        self.out.flush()
    }

    /// The next answer, as an object; blank lines are passed over.
    fn receive(&mut self) -> Result<Result<Map<String, Value>, Refusal>, HandsError> {
        const LONGEST: u64 = 1 << 20;
        loop {
            let mut text = Vec::new();
            let n = io::Read::take(&mut self.answers, LONGEST).read_until(b'\n', &mut text)?;
            self.line += 1;
            if n == 0 {
                return Err(HandsError::EndOfInput);
            }
            if n as u64 == LONGEST {
                return Err(HandsError::Useless(format!(
                    "answer {} is longer than {LONGEST} bytes",
                    self.line
                )));
            }
            if text.iter().all(u8::is_ascii_whitespace) {
                continue;
            }
            let refuse = |what: &str| {
                Refusal(format!(
                    "answer {}: {what}; one JSON object a line is wanted, such as {{\"done\":true}}",
                    self.line
                ))
            };
            return Ok(match serde_json::from_slice(&text) {
                Ok(Value::Object(object)) => Ok(object),
                Ok(_) => Err(refuse("not a JSON object")),
                Err(e) => Err(refuse(&format!("not JSON (column {})", e.column()))),
            });
        }
    }

    fn exchange(
        &mut self,
        request: &Request,
        saved: Option<u64>,
    ) -> Result<Result<Reply, Refusal>, HandsError> {
        self.send(&asked(request, saved, self.system))?;
        Ok(self.receive()?.and_then(|object| understood(&object, request, self.piped)))
    }
}

impl Hands for LinkHands {
    fn heading(&mut self, _: Step) -> Result<(), HandsError> {
        Ok(())
    }

    fn tell(&mut self, tell: &Tell, saved: Option<u64>) -> Result<(), HandsError> {
        let level = match tell.level {
            Level::Note => "note",
            Level::Caution => "caution",
            Level::Danger => "danger",
        };
        let mut line = json!({ "tell": tell.text, "level": level });
        if let (Some(saved), Value::Object(object)) = (saved, &mut line) {
            object.insert("saved".to_owned(), json!(saved));
        }
        Ok(self.send(&line)?)
    }

    fn answer(&mut self, request: &Request, saved: Option<u64>) -> Result<Reply, HandsError> {
        let mut tries = 0;
        loop {
            match self.exchange(request, saved)? {
                Ok(reply) => return Ok(reply),
                Err(refusal) => {
                    tries += 1;
                    self.refuse(&refusal)?;
                    if tries >= super::MOST_REFUSALS {
                        return Err(HandsError::Useless(refusal.to_string()));
                    }
                }
            }
        }
    }

    fn refuse(&mut self, refusal: &Refusal) -> Result<(), HandsError> {
        Ok(self.send(&json!({ "tell": refusal.to_string(), "level": "caution", "refused": true }))?)
    }

    fn plain_result(&mut self, result: &Value) -> io::Result<()> {
        self.send(&json!({ "result": result }))
    }

    fn result(&mut self, outcome: &Outcome, file: &Path) -> io::Result<()> {
        self.send(&json!({ "result": outcome_json(outcome, file) }))
    }
}

/// A session's outcome, with field names that end in their unit.
pub fn outcome_json(outcome: &Outcome, file: &Path) -> Value {
    let vacuum = |r: Option<crate::procedure::IdleReading>| r.map(|r| round(r.reading.vacuum.as_inhg(), 3));
    let speed = |r: Option<crate::procedure::IdleReading>| {
        r.and_then(|r| r.reading.speed).map(|s| round(s.as_rpm(), 1))
    };
    json!({
        "finished": outcome.finished,
        "session": file.display().to_string(),
        "idle_vacuum_before_inhg": vacuum(outcome.idle_before),
        "idle_vacuum_after_inhg": vacuum(outcome.idle_after),
        "idle_speed_before_rpm": speed(outcome.idle_before),
        "idle_speed_after_rpm": speed(outcome.idle_after),
        "turns_out": outcome.turns_out.iter().map(|t| round(t.as_turns(), 4)).collect::<Vec<_>>(),
        "screw_moves": outcome.screw_moves,
        "screw_readings": outcome.screw_readings,
        "changes": outcome.changes.iter().map(|c| change_json(c.part, c.from, c.to)).collect::<Vec<_>>(),
        "open_items": outcome.open_items,
    })
}

/// The outcome of a mixture search, as the link gives it.
pub fn change_free_result(outcome: &crate::rules::balance::Outcome) -> Value {
    json!({
        "turns_out": outcome.turns_out.iter().map(|t| round(t.as_turns(), 4)).collect::<Vec<_>>(),
        "vacuum_inhg": round(outcome.vacuum.as_inhg(), 2),
        "moves": outcome.moves,
        "readings": outcome.readings,
        "unresponsive": outcome.unresponsive.iter().map(|u| u.screw).collect::<Vec<_>>(),
        "causes": outcome.unresponsive.iter().map(|u| json!({
            "screw": u.screw,
            "likely": u.causes.iter().map(|(cause, test)| json!({ "cause": cause, "test": test })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "remarks": outcome.remarks,
    })
}

/// One change: the sizes as text, and in inches where they are bores.
pub fn change_json(part: PartPath, from: PartSize, to: PartSize) -> Value {
    let inches = |s: PartSize| s.bore().map(|d| round(d.as_inches(), 5));
    json!({
        "part": part.to_string(),
        "from": from.show(System::Us),
        "to": to.show(System::Us),
        "from_in": inches(from),
        "to_in": inches(to),
    })
}

/// A number without the dust of unit conversion.
pub fn round(value: f64, decimals: i32) -> f64 {
    let scale = 10f64.powi(decimals);
    (value * scale).round() / scale
}

fn asked(request: &Request, saved: Option<u64>, system: System) -> Value {
    let mut line = match &request.ask {
        Ask::Confirm => json!({ "ask": "confirm", "name": request.name }),
        Ask::Choose { options, default } => json!({
            "ask": "choose", "name": request.name,
            "options": options.iter().map(|o| o.name).collect::<Vec<_>>(),
            "said": options.iter().map(|o| o.said.as_str()).collect::<Vec<_>>(),
            "default": options.get(*default).map(|o| o.name),
        }),
        Ask::Value { unit, default, .. } => {
            json!({ "ask": "value", "name": request.name, "unit": unit_symbol(*unit, system), "default": default })
        }
        Ask::Turn { screws, by } => {
            json!({ "ask": "turn", "screws": screws, "by_turns": round(by.as_turns(), 6) })
        }
        Ask::IdleSpeed { toward, by } => json!({
            "ask": "idle_speed", "toward_rpm": round(toward.as_rpm(), 1), "by_turns": by.map(|b| round(b.as_turns(), 6)),
        }),
        Ask::Reading { channels, .. } => json!({ "ask": "reading", "channels": channels }),
        Ask::Change { part, from, to } => {
            let mut change = change_json(*part, *from, *to);
            change["ask"] = json!("change");
            change
        }
        Ask::Log { lacks } => json!({
            "ask": "log",
            "lacks": lacks.iter().map(|(r, s)| json!({ "regime": r, "seconds": round(s.as_s(), 1) })).collect::<Vec<_>>(),
        }),
    };
    if let Value::Object(object) = &mut line {
        object.insert("say".to_owned(), json!(request.say));
        object.insert("why".to_owned(), json!(request.why));
        object.insert("step".to_owned(), json!(request.step));
        object.entry("name").or_insert_with(|| json!(request.name));
        if let Some(saved) = saved {
            object.insert("saved".to_owned(), json!(saved));
        }
    }
    line
}

/// The unit a value is shown and read in.
pub(super) fn unit_symbol(unit: ValueUnit, system: System) -> &'static str {
    use crate::units::show::Shown;
    match unit {
        ValueUnit::Vacuum => Vacuum::unit_symbol(system),
        ValueUnit::Pressure => crate::units::Pressure::unit_symbol(system),
        ValueUnit::GaugePressure => crate::units::show::fuel_pressure_symbol(system),
        ValueUnit::Temperature => Temperature::unit_symbol(system),
        ValueUnit::Percent => "%",
        ValueUnit::Turns => "turns",
        ValueUnit::Speed => "rpm",
        ValueUnit::Displacement => crate::units::Volume::unit_symbol(system),
        ValueUnit::Bore => Length::unit_symbol(system),
        ValueUnit::Angle => "deg",
        ValueUnit::AirFlow => crate::units::VolumeFlow::unit_symbol(system),
        ValueUnit::Count => "",
    }
}

fn understood(answer: &Map<String, Value>, request: &Request, answers_piped: bool) -> Result<Reply, Refusal> {
    let is = |key: &str| answer.get(key) == Some(&Value::Bool(true));
    let text = |key: &str| answer.get(key).and_then(Value::as_str).map(str::to_owned);
    let input = if is("undo") {
        Input::Undo
    } else if is("stop") {
        Input::Stop
    } else if is("pause") {
        Input::Pause
    } else if is("stalled") {
        Input::Stalled
    } else if is("cannot") {
        Input::Cannot(text("why").unwrap_or_default())
    } else if let Some(note) = text("note") {
        Input::Note(note)
    } else if let Some(reason) = text("skip") {
        Input::Skip(reason)
    } else if let Some(why) = text("emergency") {
        Input::Emergency(why)
    } else if let Some(set) = answer.get("set") {
        Input::Set(settings(set)?)
    } else {
        return to_the_point(answer, request, answers_piped);
    };
    Ok(Reply::Input(input))
}

/// What was set, by name: `{"set":{"timing":"8 deg"}}`.
fn settings(set: &Value) -> Result<Settings, Refusal> {
    let wanted = || {
        Refusal(
            "what was set is wanted as names and texts, such as {\"set\":{\"timing\":\"8 deg\"}}".to_owned(),
        )
    };
    let pairs = set.as_object().ok_or_else(wanted)?;
    let text = |(name, to): (&String, &Value)| Some((name.clone(), to.as_str()?.to_owned()));
    pairs.iter().map(text).collect::<Option<_>>().ok_or_else(wanted)
}

fn to_the_point(
    answer: &Map<String, Value>,
    request: &Request,
    answers_piped: bool,
) -> Result<Reply, Refusal> {
    let get = |key: &str| answer.get(key);
    let wanted = |what: &str| Refusal(format!("{what} is wanted; got {}", excerpt(answer)));
    let input = match &request.ask {
        Ask::Confirm => match get("yes").or_else(|| get("done")) {
            Some(Value::Bool(yes)) => Input::Yes(*yes),
            _ => return Err(wanted("{\"yes\":true} or {\"yes\":false}")),
        },
        Ask::Choose { .. } => match get("choice") {
            Some(Value::String(choice)) => Input::Choice(choice.clone()),
            _ => return Err(wanted("{\"choice\":\"...\"}")),
        },
        Ask::Value { default, .. } => match (get("value"), default) {
            (Some(Value::String(value)), _) => Input::Value(value.clone()),
            (Some(Value::Number(n)), _) => {
                return Err(Refusal(format!("{n} has no unit; write it as text with its unit")));
            }
            (Some(Value::Null), Some(_)) => Input::Kept,
            (Some(Value::Null), None) => Input::Cannot(String::new()),
            _ => return Err(wanted("{\"value\":\"...\"}")),
        },
        Ask::Turn { .. } | Ask::IdleSpeed { .. } => match (get("done"), get("by_turns")) {
            (Some(Value::Bool(true)), None | Some(Value::Null)) => Input::Done,
            (_, Some(Value::Number(by))) => turns(by.as_f64())?,
            _ => return Err(wanted("{\"done\":true}, with \"by_turns\" when it was turned otherwise,")),
        },
        Ask::Reading { channels, .. } => Input::Reading(reading(answer, channels)?),
        Ask::Change { from, .. } => match (get("fitted"), get("done")) {
            (Some(Value::String(size)), _) => Input::Fitted(part_size(size, *from)?),
            (None, Some(Value::Bool(true))) => Input::Done,
            _ => return Err(wanted("{\"done\":true}, with \"fitted\" when another size was put in,")),
        },
        Ask::Log { .. } => match get("file") {
            Some(Value::String(file)) if file == "-" && answers_piped => {
                return Err(Refusal(
                    "the answers come from standard input, so a log cannot; name a file".to_owned(),
                ));
            }
            Some(Value::String(file)) if file == "-" => return Ok(Reply::Log(LogSource::StandardInput)),
            Some(Value::String(file)) => return Ok(Reply::Log(LogSource::File(PathBuf::from(file)))),
            _ => return Err(wanted("{\"file\":\"LOG.csv\"} or {\"cannot\":true}")),
        },
    };
    Ok(Reply::Input(input))
}

fn turns(by: Option<f64>) -> Result<Input, Refusal> {
    by.and_then(|b| crate::units::parse::parse::<Turns>(&format!("{b} turns")).ok())
        .map(Input::TurnedBy)
        .ok_or_else(|| Refusal("by_turns is a number of turns, outward positive".to_owned()))
}

/// A size of the same kind as the one that was in.
pub(super) fn part_size(text: &str, like: PartSize) -> Result<PartSize, Refusal> {
    let refuse = |e: crate::units::QuantityError| Refusal(e.to_string());
    Ok(match like {
        PartSize::Bore(_) => PartSize::Bore(text.parse().map_err(refuse)?),
        PartSize::Opening(_) => PartSize::Opening(text.parse().map_err(refuse)?),
        PartSize::Turns(_) => PartSize::Turns(text.parse().map_err(refuse)?),
    })
}

fn reading(answer: &Map<String, Value>, channels: &[Channel]) -> Result<Reading, Refusal> {
    let quantity = |key: &str| match answer.get(key) {
        Some(Value::String(text)) => Ok(Some(text.clone())),
        Some(Value::Number(n)) => Err(Refusal(format!(
            "{key}: {n} has no unit; write it as text with its unit, such as \"{n} {}\"",
            example_unit(key)
        ))),
        Some(Value::Null) | None => Ok(None),
        Some(_) => Err(Refusal(format!("{key} is text with a unit"))),
    };
    let refuse = |e: crate::units::QuantityError| Refusal(e.to_string());
    let vacuum = quantity("vacuum")?.ok_or_else(|| {
        Refusal(format!("vacuum is wanted, such as \"14.5 inHg\"; got {}", excerpt(answer)))
    })?;
    let speed: Option<EngineSpeed> = quantity("speed")?.map(|t| t.parse()).transpose().map_err(refuse)?;
    if speed.is_none() && channels.contains(&Channel::Speed) && answer.contains_key("rpm") {
        return Err(Refusal("the speed is named \"speed\", such as \"760 rpm\"".to_owned()));
    }
    let lambda: Option<Lambda> = match answer.get("lambda") {
        Some(Value::Number(n)) => n.as_f64().map(Lambda::from_ratio),
        _ => quantity("lambda")?
            .map(|t| crate::units::parse::parse_or_in(&t, "lambda"))
            .transpose()
            .map_err(refuse)?,
    };
    let coolant: Option<Temperature> = quantity("coolant")?.map(|t| t.parse()).transpose().map_err(refuse)?;
    Ok(Reading { vacuum: vacuum.parse().map_err(refuse)?, speed, lambda, coolant })
}

fn example_unit(key: &str) -> &'static str {
    match key {
        "speed" => "rpm",
        "coolant" => "degC",
        _ => "inHg",
    }
}

fn excerpt(answer: &Map<String, Value>) -> String {
    let text = Value::Object(answer.clone()).to_string();
    text.chars().take(60).collect()
}
