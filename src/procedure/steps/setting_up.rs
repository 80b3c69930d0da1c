//! Step 2: the job. Today's air, the sensor, how the engine stands with the law; and the main figures when no setup
//! was given.

use super::question::{Question, first_open, shown};
use crate::procedure::ask::{Request, ValueUnit};
use crate::procedure::event::Answer;
use crate::procedure::plan::Step;
use crate::procedure::state::State;
use crate::setup::{Cam, Standing, Weather};
use crate::units::{CrankAngle, Fraction, Length, Pressure, Temperature, Turns, Volume, VolumeFlow};

pub(super) fn request(state: &State) -> Option<Request> {
    let mut questions = if state.job.ask_for_setup { main_figures(state) } else { vec![as_given(state)] };
    questions.extend(air(state));
    questions.extend(sensor(state));
    questions.extend(standing(state));
    first_open(Step::Setup, state, questions)
}

fn as_given(state: &State) -> Question {
    let (engine, carburetor) = (&state.setup.engine, &state.setup.carburetor);
    let displacement = shown(engine.displacement, state).unwrap_or_default();
    // A name that already says how large the engine is need not be followed by it again.
    let displacement =
        if engine.name.contains(&displacement) { String::new() } else { format!(" {displacement},") };
    Question::gate(
        "setup",
        format!(
            "{}: {},{displacement} {} cylinders; {}; fuel {}. Is that the job?",
            state.setup.name, engine.name, engine.cylinders, carburetor.name, state.setup.fuel.name
        ),
        "Targets, limits and advice all follow from it.",
        "Stop here, correct the setup file (leanbest profile check FILE says what is wrong with it), and start a new session.",
    )
}

fn main_figures(state: &State) -> Vec<Question> {
    let (engine, carburetor) = (&state.job.setup.engine, &state.job.setup.carburetor);
    let cam = engine.cam;
    let jet = carburetor.main.first().map(|m| m.jet);
    vec![
        Question::value(
            "displacement",
            "Displacement of the engine.",
            "Sizes the carburetor and the air flow.",
            ValueUnit::Displacement,
            shown(engine.displacement, state),
        ),
        Question::value(
            "cylinders",
            "Number of cylinders.",
            "Idle aim goes by displacement a cylinder.",
            ValueUnit::Count,
            Some(engine.cylinders.to_string()),
        ),
        Question::value(
            "intake-duration",
            "Intake duration of the cam at 0.050 in of lift.",
            "The cam sets the idle to aim at.",
            ValueUnit::Angle,
            cam.and_then(|c| shown(c.intake_duration, state)),
        ),
        Question::value(
            "exhaust-duration",
            "Exhaust duration at 0.050 in.",
            "Overlap decides how far lambda can be trusted at idle.",
            ValueUnit::Angle,
            cam.and_then(|c| shown(c.exhaust_duration, state)),
        ),
        Question::value(
            "separation",
            "Lobe separation.",
            "With the durations it gives the overlap.",
            ValueUnit::Angle,
            cam.and_then(|c| shown(c.separation, state)),
        ),
        Question::value(
            "rated-flow",
            "Rated flow of the carburetor.",
            "Air flow is shown as a share of it.",
            ValueUnit::AirFlow,
            shown(carburetor.rated_flow, state),
        ),
        Question::value(
            "screws",
            "Number of idle mixture screws.",
            "They are balanced one against the other.",
            ValueUnit::Count,
            Some(carburetor.idle.screws.to_string()),
        ),
        Question::choose(
            "screws-meter",
            "What do the mixture screws meter?",
            "It decides which way is richer.",
            &[
                ("fuel", "fuel: out is richer (most carburetors)"),
                ("air", "air: out is leaner (some older, tractor and motorcycle types)"),
            ],
        ),
        Question::value(
            "main-jet",
            "Main jet fitted (bore).",
            "Advice starts from what is in it.",
            ValueUnit::Bore,
            jet.and_then(|j| shown(j, state)),
        ),
    ]
}

fn air(state: &State) -> Vec<Question> {
    let standard = Weather {
        pressure: Pressure::from_kpa(101.325),
        temperature: Temperature::from_c(20.0),
        humidity: Fraction::from_percent(50.0),
    };
    let weather = state.job.setup.weather.unwrap_or(standard);
    vec![
        Question::value(
            "barometer",
            "Station pressure here, now (not the sea-level figure of a forecast); c when there is no barometer.",
            "Vacuum is read against it, and jets follow it.",
            ValueUnit::Pressure,
            shown(weather.pressure, state),
        )
        .measured(),
        Question::value(
            "air-temperature",
            "Temperature of the air the engine breathes.",
            "Warmer air is thinner: the mixture goes richer.",
            ValueUnit::Temperature,
            shown(weather.temperature, state),
        )
        .measured(),
        Question::value(
            "humidity",
            "Relative humidity.",
            "Water takes the place of air.",
            ValueUnit::Percent,
            shown(weather.humidity, state),
        )
        .measured(),
    ]
}

fn sensor(state: &State) -> Option<Question> {
    state.job.setup.instruments.lambda.as_ref()?;
    Some(Question::choose(
        "sensor",
        "Is the lambda sensor one to trust: checked in free air, heated, in dry exhaust, no leak before it?",
        "No advice for full throttle is given on a sensor nobody vouches for.",
        &[("trusted", "yes, checked"), ("not-trusted", "no, or not sure: full-throttle advice is withheld")],
    ))
}

fn standing(state: &State) -> Option<Question> {
    (state.job.setup.engine.standing == Standing::Unknown).then(|| {
        Question::choose(
            "standing",
            "How does this engine stand with emission law?",
            "Check your local law before changing emission equipment; this tool says nothing of any country's law and helps defeat none.",
            &[
                ("certified-road", "certified for the road"),
                ("off-road", "off-road or stationary"),
                ("marine", "in a boat"),
                ("competition-only", "competition only"),
                ("exempt-by-age", "exempt by its age"),
            ],
        )
    })
}

/// Puts an answer of this step into the setup.
pub(super) fn answered(state: &mut State, name: &str) {
    match name {
        "barometer" | "air-temperature" | "humidity" => weather_answered(state),
        "sensor" => {
            let trusted = state.choice("sensor") == Some("trusted");
            if let Some(sensor) = &mut state.setup.instruments.lambda {
                sensor.trusted = trusted;
            }
        }
        "standing" => {
            state.setup.engine.standing = match state.choice("standing") {
                Some("certified-road") => Standing::CertifiedRoad,
                Some("off-road") => Standing::OffRoad,
                Some("marine") => Standing::Marine,
                Some("competition-only") => Standing::CompetitionOnly,
                Some("exempt-by-age") => Standing::ExemptByAge,
                _ => Standing::Unknown,
            };
        }
        _ => figure_answered(state, name),
    }
}

/// Without a barometer's word there is no air of the day: none is made up.
fn weather_answered(state: &mut State) {
    if state.setup.weather.is_none() && state.value::<Pressure>("barometer").is_none() {
        return;
    }
    let mut weather = state.setup.weather.unwrap_or(Weather {
        pressure: Pressure::from_kpa(101.325),
        temperature: Temperature::from_c(20.0),
        humidity: Fraction::from_percent(50.0),
    });
    if let Some(pressure) = state.value("barometer") {
        weather.pressure = pressure;
    }
    if let Some(temperature) = state.value("air-temperature") {
        weather.temperature = temperature;
    }
    if let Some(humidity) = state.value("humidity") {
        weather.humidity = humidity;
    }
    state.setup.weather = Some(weather);
}

fn count(state: &State, name: &str) -> Option<u8> {
    match state.answer(name) {
        Some(Answer::Value(text)) => text.parse().ok(),
        _ => None,
    }
}

fn figure_answered(state: &mut State, name: &str) {
    match name {
        "displacement" => {
            if let Some(volume) = state.value::<Volume>(name) {
                state.setup.engine.displacement = volume;
            }
        }
        "cylinders" => {
            if let Some(n) = count(state, name) {
                state.setup.engine.cylinders = n;
            }
        }
        "intake-duration" | "exhaust-duration" | "separation" => cam_answered(state),
        "rated-flow" => {
            if let Some(flow) = state.value::<VolumeFlow>(name) {
                state.setup.carburetor.rated_flow = flow;
            }
        }
        "screws" => {
            if let Some(n) = count(state, name) {
                let idle = &mut state.setup.carburetor.idle;
                let start = idle.turns_out.first().copied().unwrap_or(Turns::from_turns(1.5));
                idle.screws = n;
                idle.turns_out = vec![start; usize::from(n)];
            }
        }
        "screws-meter" => state.setup.carburetor.idle.screws_meter_air = state.choice(name) == Some("air"),
        "main-jet" => {
            if let Some(jet) = state.value::<Length>(name) {
                state.setup.carburetor.main.iter_mut().for_each(|m| m.jet = jet);
            }
        }
        _ => {}
    }
}

fn cam_answered(state: &mut State) {
    let old = state.setup.engine.cam;
    let angle = |name: &str, old: Option<CrankAngle>| state.value::<CrankAngle>(name).or(old);
    if let (Some(intake), Some(exhaust), Some(separation)) = (
        angle("intake-duration", old.map(|c| c.intake_duration)),
        angle("exhaust-duration", old.map(|c| c.exhaust_duration)),
        angle("separation", old.map(|c| c.separation)),
    ) {
        state.setup.engine.cam = Some(Cam {
            intake_duration: intake,
            exhaust_duration: exhaust,
            separation,
            centerline: old.and_then(|c| c.centerline),
        });
    }
}
