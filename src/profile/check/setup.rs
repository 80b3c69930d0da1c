//! A setup as written, once every profile it names is laid in.

use super::super::section::Section;
use super::{carburetor::carburetor, engine::engine, fuel::fuel, instruments};
use crate::setup::{Application, Carburetor, PartPath, PartSize, Setup};
use crate::units::{Length, System};

/// The words for what an engine is for.
pub(in crate::profile) const USES: &[(&str, Application)] = &[
    ("street", Application::Street),
    ("race", Application::Race),
    ("marine", Application::Marine),
    ("tow", Application::Tow),
    ("farm", Application::Farm),
];

/// Reads a setup; what is worth saying but wrong for nobody goes into `warnings`.
pub(in crate::profile) fn setup(s: Section<'_>, warnings: &mut Vec<String>) -> Option<Setup> {
    let name = s.name("name", "skiff, spring");
    let application = s.choice("use", USES, None);
    let engine = s.needed_section("engine").and_then(engine);
    let carburetor = s.needed_section("carburetor").and_then(carburetor);
    let fuel = s.needed_section("fuel").and_then(fuel);
    let gauges = if s.has("instruments") {
        s.section("instruments").and_then(instruments::instruments)
    } else {
        s.get("instruments");
        warnings.push(
            "no [instruments]: taken as a vacuum gauge marked every 0.5 inHg (1.7 kPa), a tachometer in steps of 10 rpm, no \
             lambda sensor"
                .to_owned(),
        );
        Some(instruments::USUAL)
    };
    let weather = s.section("air").map(instruments::weather);
    for known in ["logger", "rules", "format"] {
        s.get(known);
    }
    s.end();
    let carburetor = carburetor?;
    warnings.extend(not_in_stock(&carburetor));
    Some(Setup {
        name: name?,
        application: application?,
        engine: engine?,
        carburetor,
        fuel: fuel?,
        instruments: gauges?,
        weather: match weather {
            Some(read) => Some(read?),
            None => None,
        },
    })
}

/// Parts fitted that the drawer does not list: a step back to them could not be advised.
fn not_in_stock(carburetor: &Carburetor) -> Vec<String> {
    let stock = &carburetor.stock;
    let missing = |sizes: &[Length], fitted: Length| {
        !sizes.is_empty() && !sizes.iter().any(|s| (*s - fitted).abs() < Length::from_mm(0.002))
    };
    let mut out = Vec::new();
    for (path, size) in carburetor.parts() {
        let absent = match (path, size) {
            (PartPath::MainJet(_), PartSize::Bore(d)) => missing(&stock.main_jets, d),
            (PartPath::MainAirBleed(_), PartSize::Bore(d)) => missing(&stock.main_air_bleeds, d),
            (PartPath::IdleFeed, PartSize::Bore(d)) => missing(&stock.idle_feeds, d),
            (PartPath::IdleAirBleed, PartSize::Bore(d)) => missing(&stock.idle_air_bleeds, d),
            (PartPath::ChannelRestriction, PartSize::Bore(d)) => missing(&stock.channel_restrictions, d),
            (PartPath::PumpNozzle, PartSize::Bore(d)) => missing(&stock.pump_nozzles, d),
            _ => false,
        };
        if absent {
            out.push(format!(
                "{path} is {} ({}), which is not in [stock]",
                size.show(System::Us),
                size.show(System::Metric)
            ));
        }
    }
    out
}
