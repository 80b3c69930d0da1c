//! Full-throttle pulls, the weather, what is open, what to be careful with.

use super::Tale;
use super::readings::capital;
use crate::physics::air::MoistAir;
use crate::report::document::{Block, Section, Table, Text};
use crate::rules::cautions::{self, CautionAt};
use crate::rules::field_rules::rejet_table;
use crate::setup::{Application, Drive, FuelFamily, Weather};
use crate::units::show::{Shown, fixed, fuel_pressure};

/// The full-throttle pulls of the last log.
pub(super) fn pulls(tale: &Tale<'_>) -> Option<Section> {
    let system = tale.system();
    let last = &tale.state.trials.last()?.trace;
    let ratio =
        |l: Option<crate::units::Lambda>| Text::ours(l.map_or_else(String::new, |l| fixed(l.as_ratio(), 2)));
    let rows: Vec<Vec<Text>> = last
        .pulls
        .iter()
        .take(6)
        .enumerate()
        .map(|(i, p)| {
            vec![
                Text::ours(format!("{}", i + 1)),
                Text::ours(format!(
                    "{} to {}",
                    fixed(p.speed_from.as_rpm(), 0),
                    whole(&p.speed_to.show(system))
                )),
                Text::ours(p.seconds.show(system)),
                ratio(p.lambda),
                ratio(p.worst),
                Text::ours(p.fuel_pressure_to.map_or_else(String::new, |v| fuel_pressure(v, system))),
            ]
        })
        .collect();
    if rows.is_empty() {
        return None;
    }
    let mut blocks = vec![Block::Table(
        Table {
            caption: "Full-throttle pulls of the last log".to_owned(),
            heads: ["Pull", "Speed", "Time", "Lambda", "Leanest", "Fuel"].map(str::to_owned).into(),
            figures: vec![1, 2, 3, 4, 5],
            rows,
        }
        .said(),
    )];
    if last.pulls.len() > 6 {
        blocks.push(Block::Paragraph(format!("The first 6 of {}.", last.pulls.len()).into()));
    }
    Some(Section::half("Full-throttle pulls", blocks))
}

/// A quantity that is not broken before its unit.
fn whole(quantity: &str) -> String {
    quantity.replace(' ', "\u{a0}")
}

/// The air it was tuned in, and when to change the jet again.
pub(super) fn weather(tale: &Tale<'_>) -> Section {
    let (setup, system) = (&tale.state.setup, tale.system());
    let air = setup.weather.as_ref().and_then(|w| Some((w, MoistAir::from_weather(w).ok()?)));
    let Some((weather, air)) = air else {
        return Section::half(
            "Weather",
            vec![Block::Paragraph(
                "The air of the day was not read, so no jet is given for another one.".into(),
            )],
        );
    };
    let mut blocks = vec![Block::Paragraph(Text::ours(tuned_in(tale, weather, &air.density().show(system))))];
    let stock = &setup.carburetor.stock.main_jets;
    let jet = setup.carburetor.main.first().map(|m| m.jet);
    let stays = jet
        .and_then(|jet| stock.iter().copied().min_by(|a, b| (*a - jet).abs().total_cmp(&(*b - jet).abs())));
    let rows: Vec<Vec<Text>> = jet
        .map(|jet| rejet_table(jet, &air, stock, &tale.state.job.rules, system))
        .unwrap_or_default()
        .into_iter()
        .filter(|r| r.jet != stays)
        .map(|r| {
            vec![
                Text::ours(capital(&r.when)),
                Text::ours(format!("{} %", signed((r.lambda_factor - 1.0) * 100.0))),
                Text::ours(r.bore.show(system)),
                Text::ours(r.jet.map_or_else(|| "none in stock".to_owned(), |j| j.show(system))),
            ]
        })
        .collect();
    if !rows.is_empty() {
        blocks.push(Block::Table(Table {
            caption: "Re-jet if".to_owned(),
            heads: ["Re-jet if", "Lambda moves", "Right bore", "In stock"].map(str::to_owned).into(),
            figures: vec![1, 2, 3],
            rows,
        }));
        blocks.push(Block::Paragraph(
            "For the primary main jet, by the root of dry air density. Minus is richer. Plus is leaner: step richer before the first \
             full throttle there."
                .into(),
        ));
    }
    Section::half("Weather, and re-jet if", blocks)
}

/// The air of the day, with what of it was read and what was only assumed.
fn tuned_in(tale: &Tale<'_>, weather: &Weather, density: &str) -> String {
    let (state, system) = (tale.state, tale.system());
    let read = ["barometer", "air-temperature", "humidity"].map(|name| !state.assumed(name));
    let (pressure, temperature) = (weather.pressure.show(system), weather.temperature.show(system));
    let humidity = weather.humidity.show(system);
    if read == [false; 3] {
        let whose = if state.job.setup.weather.is_some() { "the setup's air" } else { "standard air" };
        return format!(
            "The air of the day was not read: {whose} was assumed, {pressure}, {temperature}, {humidity} humidity: {density}."
        );
    }
    let [by, t, h] = [
        if read[0] { " by the barometer beside it" } else { " (assumed: no barometer was read)" },
        if read[1] { "" } else { " (assumed)" },
        if read[2] { "" } else { " (assumed)" },
    ];
    format!("Tuned in air of {pressure}{by}, {temperature}{t}, {humidity} humidity{h}: {density}.")
}

fn signed(percent: f64) -> String {
    let text = fixed(percent, 1);
    if text.starts_with('-') || text == "0.0" { text } else { format!("+{text}") }
}

/// What is still to do or to know.
pub(super) fn open_items(tale: &Tale<'_>) -> Section {
    let mut items: Vec<Text> = tale.state.open_items().into_iter().map(Text::theirs).collect();
    if let Some(advice) = tale.last_advice() {
        items.extend(
            advice.mend_first.iter().map(|m| Text::ours(format!("{}: {} {}", m.what, m.why, m.check))),
        );
        items.extend(
            advice
                .withheld
                .iter()
                .map(|w| Text::ours(format!("{}: {}", capital(&w.said(tale.system())), w.reason))),
        );
        let needs = advice.regimes.iter().filter(|r| r.needs.as_s() > 0.0);
        items.extend(needs.map(|r| {
            Text::ours(format!(
                "{}: {} s more of steady log before a verdict.",
                capital(r.regime.said()),
                fixed(r.needs.as_s(), 0)
            ))
        }));
    }
    if items.is_empty() {
        return Section::full("Open items", vec![Block::Paragraph("None.".into())]);
    }
    Section::full("Open items", vec![Block::List(items)])
}

/// Cautions for the person who takes it away.
pub(super) fn cautions(tale: &Tale<'_>) -> Section {
    let setup = &tale.state.setup;
    let boat = setup.application == Application::Marine || setup.engine.drive == Drive::Propeller;
    let methanol = setup.fuel.family == FuelFamily::Methanol;
    let mut places = vec![CautionAt::Close, CautionAt::RunningEngine];
    places.extend(boat.then_some(CautionAt::Boat));
    places.extend(methanol.then_some(CautionAt::Methanol));
    places.extend((!boat).then_some(CautionAt::Road));
    let items = cautions::ALL
        .iter()
        .filter(|c| c.at.iter().any(|p| places.contains(p)))
        .map(|c| Text::ours(c.text))
        .collect();
    Section::half("Take care", vec![Block::List(items)]).small()
}
