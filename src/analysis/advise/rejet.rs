//! When to re-jet, how far, and back: how far the air may go before a regime leaves its band on the parts as they will stand.

use super::bands::Bands;
use super::input::AdviceInput;
use super::prior;
use super::types::{Advice, Change};
use crate::physics::air::{MoistAir, Moisture};
use crate::physics::altitude::jet_ratios_between;
use crate::physics::atmosphere::{pressure_altitude, standard};
use crate::rules::field_rules::{self, Jetting, RejetRow};
use crate::setup::{PartPath, PartSize, Regime, SetName, Weather};
use crate::units::show::{Shown, fixed};
use crate::units::{Lambda, Length, System, Temperature};
use serde_json::{Value, json};

/// The air of a log, and what other air would ask of the jets.
#[derive(Debug, Clone, PartialEq)]
pub struct Rejet {
    /// The air of the log.
    pub air: Weather,
    /// What the way from the setup's air to the log's has done, when they differ.
    pub since_setup: Option<SinceSetup>,
    /// Denser air: colder, or lower.
    pub denser: Option<Turn>,
    /// Thinner air: hotter, or higher.
    pub thinner: Option<Turn>,
    /// Altitudes and temperatures of the rule book, for the primary main jet as it will stand.
    pub table: Vec<RejetRow>,
}

/// From one day's air to another's on the same jets.
#[derive(Debug, Clone, PartialEq)]
pub struct SinceSetup {
    /// What lambda was multiplied by.
    pub lambda_factor: f64,
    /// What the rules make of it, each by its source, and which is applied.
    pub jetting: Jetting,
}

/// Where the first regime leaves its band, and the jets that hold it there.
#[derive(Debug, Clone, PartialEq)]
pub struct Turn {
    /// The regime that leaves first.
    pub regime: Regime,
    /// Its lambda in the log's air, on the parts as they will stand.
    pub lambda: Lambda,
    /// The edge it passes.
    pub edge: Lambda,
    /// Temperature at which it does, at the log's pressure; `None` where no engine runs.
    pub temperature: Option<Temperature>,
    /// Pressure altitude at which it does, at the log's distance from the standard temperature.
    pub altitude: Option<Length>,
    /// Main jets there: what stands, and what holds the mixture, nearest in stock.
    pub jets: Vec<(SetName, Length, Length)>,
}

/// Outside these no engine is tuned: what lies beyond is not said.
const COLDEST: Temperature = Temperature::from_c(-30.0);
const HOTTEST: Temperature = Temperature::from_c(50.0);
const HIGHEST_FT: f64 = 14_000.0;
const LOWEST_FT: f64 = -1_500.0;

/// What other air would ask of the jets, once the advised change is made. `None` when the air of the log is not known.
pub fn rejet(input: &AdviceInput<'_>, advice: &Advice) -> Option<Rejet> {
    let weather = input.air()?;
    let air = MoistAir::from_weather(&weather).ok()?;
    let before = input.setup.weather.filter(|w| *w != weather);
    let since_setup = before.and_then(|w| MoistAir::from_weather(&w).ok()).map(|from| SinceSetup {
        lambda_factor: jet_ratios_between(&from, &air).lambda,
        jetting: field_rules::jetting(&from, &air, input.rules),
    });
    let jets = jets(input, &advice.changes);
    let stock = &input.setup.carburetor.stock.main_jets;
    let table = jets
        .first()
        .map(|(_, jet)| field_rules::rejet_table(*jet, &air, stock, input.rules, input.options.system))
        .unwrap_or_default();
    let turn = |lean| turn(input, advice, &air, &jets, lean);
    Some(Rejet { air: weather, since_setup, denser: turn(true), thinner: turn(false), table })
}

/// Main jets as they will stand.
fn jets(input: &AdviceInput<'_>, changes: &[Change]) -> Vec<(SetName, Length)> {
    let stands = |set| {
        let part = PartPath::MainJet(set);
        let to = changes.iter().find(|c| c.part == part).map(|c| c.to);
        to.or_else(|| input.setup.carburetor.size(part)).and_then(PartSize::bore)
    };
    [SetName::Primary, SetName::Secondary].into_iter().filter_map(|s| Some((s, stands(s)?))).collect()
}

/// Lambda of a regime on the parts as they will stand.
fn stands_at(advice: &Advice, regime: Regime) -> Option<f64> {
    let expected = advice.changes.first().and_then(|c| c.expect.iter().find(|e| e.regime == regime));
    let read = || advice.regimes.iter().find(|r| r.regime == regime)?.lambda_median;
    expected.map(|e| e.lambda).or_else(read).map(Lambda::as_ratio)
}

/// Where the first regime that is now inside leaves its band, going lean in denser air or rich in thinner.
fn turn(
    input: &AdviceInput<'_>,
    advice: &Advice,
    air: &MoistAir,
    jets: &[(SetName, Length)],
    lean: bool,
) -> Option<Turn> {
    let bands = Bands::of(input);
    let one = |regime: Regime| {
        let (band, lambda) = (bands.band(regime)?, stands_at(advice, regime)?);
        let (low, high) = (band.low.as_ratio(), band.high.as_ratio());
        let edge = if lean { high } else { low };
        // Density goes with the square of lambda on fixed jets.
        (low..=high).contains(&lambda).then_some((regime, lambda, edge, (edge / lambda).powi(2)))
    };
    let all = prior::JUDGED.into_iter().filter_map(one);
    let nearest = |a: &f64, b: &f64| a.ln().abs().total_cmp(&b.ln().abs());
    let (regime, lambda, edge, density) = all.min_by(|a, b| nearest(&a.3, &b.3))?;
    let (temperature, altitude) = (temperature_at(air, density), altitude_at(air, density));
    if temperature.is_none() && altitude.is_none() {
        return None;
    }
    let stock = &input.setup.carburetor.stock.main_jets;
    let held = |(set, jet): &(SetName, Length)| {
        let bore = *jet * density.powf(0.25);
        let at = |d: &Length| (*d - bore).abs();
        Some((*set, *jet, stock.iter().copied().min_by(|a, b| at(a).total_cmp(&at(b)))?))
    };
    Some(Turn {
        regime,
        lambda: Lambda::from_ratio(lambda),
        edge: Lambda::from_ratio(edge),
        temperature,
        altitude,
        jets: jets.iter().filter_map(held).collect(),
    })
}

/// Dry air's temperature for a density ratio at the same dry pressure.
fn temperature_at(air: &MoistAir, density: f64) -> Option<Temperature> {
    let there = Temperature::from_k(air.temperature().as_k() / density);
    (COLDEST..=HOTTEST).contains(&there).then_some(there)
}

/// Pressure altitude for a density ratio, as far from the standard temperature as the day is: by halving.
fn altitude_at(air: &MoistAir, density: f64) -> Option<Length> {
    let here = pressure_altitude(air.pressure());
    let offset = air.temperature() - standard(here).ok()?.temperature;
    let dry = |altitude: Length| {
        let s = standard(altitude).ok()?;
        Some(MoistAir::new(s.pressure, s.temperature + offset, Moisture::Dry).ok()?.dry_density().as_kg_m3())
    };
    let wanted = dry(here)? * density;
    let (mut low, mut high) = (LOWEST_FT, HIGHEST_FT);
    let within = dry(Length::from_feet(low))? >= wanted && dry(Length::from_feet(high))? <= wanted;
    if !within {
        return None;
    }
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if dry(Length::from_feet(middle))? > wanted { low = middle } else { high = middle }
    }
    Some(Length::from_feet(low))
}

impl Rejet {
    /// In words, a paragraph each.
    pub fn say(&self, system: System) -> Vec<String> {
        let air = &self.air;
        let mut all = vec![format!(
            "The log was taken at {}, {}, {} % humidity.",
            air.pressure.show(system),
            air.temperature.show(system),
            fixed(air.humidity.as_percent(), 0)
        )];
        if let Some(since) = self.since_setup.as_ref().filter(|s| (s.lambda_factor - 1.0).abs() > 0.003) {
            let way = if since.lambda_factor > 1.0 { "leaner" } else { "richer" };
            all.push(format!(
                "Against the setup's air the same jets run {} % {way}. Change of fuel, by each rule: {}.",
                fixed(100.0 * (since.lambda_factor - 1.0).abs(), 1),
                rules(&since.jetting)
            ));
        }
        all.extend(self.denser.iter().map(|t| denser(t, system)));
        all.extend(self.thinner.iter().map(|t| thinner(t, system)));
        all
    }

    /// As JSON; field names end in their unit.
    pub fn to_json(&self) -> Value {
        let digits = |x: f64, scale: f64| (x * scale).round() / scale;
        let turn = |t: &Option<Turn>| {
            t.as_ref().map(|t| {
                let jets = t.jets.iter().map(|(set, from, to)| {
                    json!({
                        "part": PartPath::MainJet(*set),
                        "from_in": digits(from.as_inches(), 1e4), "to_in": digits(to.as_inches(), 1e4),
                    })
                });
                json!({
                    "regime": t.regime,
                    "lambda": digits(t.lambda.as_ratio(), 1e4), "edge": digits(t.edge.as_ratio(), 1e4),
                    "temperature_c": t.temperature.map(|t| digits(t.as_c(), 10.0)),
                    "pressure_altitude_ft": t.altitude.map(|a| digits(a.as_feet(), 0.1)),
                    "jets": jets.collect::<Value>(),
                })
            })
        };
        let since = self.since_setup.as_ref().map(|s| {
            let rules = s.jetting.says.iter().map(|r| {
                json!({ "rule": r.name, "fuel_pct": digits(r.fuel.as_percent(), 100.0), "source": r.source })
            });
            json!({
                "lambda_factor": digits(s.lambda_factor, 1e4),
                "rules": rules.collect::<Value>(),
                "applied_fuel_pct": digits(s.jetting.applied.as_percent(), 100.0),
                "bore_ratio": digits(s.jetting.bore_ratio, 1e4),
                "notes": s.jetting.notes,
            })
        });
        let table = self.table.iter().map(|r| {
            json!({
                "when": r.when, "lambda_factor": digits(r.lambda_factor, 1e4),
                "bore_in": digits(r.bore.as_inches(), 1e5), "jet_in": r.jet.map(|j| digits(j.as_inches(), 1e4)),
            })
        });
        json!({
            "pressure_pa": digits(self.air.pressure.as_pa(), 1.0),
            "temperature_c": digits(self.air.temperature.as_c(), 10.0),
            "humidity_pct": digits(self.air.humidity.as_percent(), 10.0),
            "since_setup": since,
            "denser": turn(&self.denser),
            "thinner": turn(&self.thinner),
            "rejet_if": table.collect::<Value>(),
        })
    }
}

fn rules(jetting: &Jetting) -> String {
    let each: Vec<String> = jetting
        .says
        .iter()
        .map(|s| format!("{} {} %", s.name, crate::units::show::fixed(s.fuel.as_percent(), 1)))
        .collect();
    format!("{}; the least is applied, {} %", each.join(", "), fixed(jetting.applied.as_percent(), 1))
}

fn where_it_is(t: &Turn, system: System, below: bool) -> String {
    let (colder, lower) = if below { ("below", "below") } else { ("above", "above") };
    let by_temperature = t.temperature.map(|at| format!("{colder} {} at this barometer", at.show(system)));
    let by_altitude = t.altitude.map(|at| match system {
        System::Us => format!("{lower} {} ft on such a day", (at.as_feet() / 100.0).round() * 100.0),
        System::Metric => format!("{lower} {} m on such a day", (at.as_m() / 50.0).round() * 50.0),
    });
    by_temperature.into_iter().chain(by_altitude).collect::<Vec<_>>().join(", or ")
}

fn fitted(t: &Turn, system: System) -> String {
    let one = |(set, from, to): &(SetName, Length, Length)| {
        let part = PartPath::MainJet(*set).said();
        let (from, to) = (PartSize::Bore(*from).show(system), PartSize::Bore(*to).show(system));
        if from == to {
            format!("no jet in stock is nearer than the {part} {from}")
        } else {
            format!("{part} {from} -> {to}")
        }
    };
    t.jets.iter().map(one).collect::<Vec<_>>().join(", ")
}

fn denser(t: &Turn, system: System) -> String {
    format!(
        "Jet richer before going {}: {}, {} in this air, would pass {}. {}.",
        where_it_is(t, system, true),
        t.regime.said(),
        fixed(t.lambda.as_ratio(), 3),
        fixed(t.edge.as_ratio(), 3),
        super::say::capital(&fitted(t, system))
    )
}

fn thinner(t: &Turn, system: System) -> String {
    format!(
        "Jet leaner {}: {}, {} in this air, would fall below {} there. {}; log there, and jet back before coming \
         down or into the cold.",
        where_it_is(t, system, false),
        t.regime.said(),
        fixed(t.lambda.as_ratio(), 3),
        fixed(t.edge.as_ratio(), 3),
        super::say::capital(&fitted(t, system))
    )
}
