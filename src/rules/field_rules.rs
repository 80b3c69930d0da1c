//! Jets against altitude and temperature: physics and rules of thumb side by side, and the "re-jet if" table.
#![doc = "\n"]
#![doc = include_str!("why/altitude.md")]

use super::book::RuleBook;
use crate::physics::air::{MoistAir, Moisture};
use crate::physics::altitude::jet_ratios_between;
use crate::physics::atmosphere::{pressure_altitude, standard};
use crate::units::show::Shown;
use crate::units::{Fraction, Length, Pressure, System, Temperature};
use serde::{Deserialize, Serialize};

/// What one rule says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RuleSays {
    /// Which.
    pub name: String,
    /// Change of fuel, negative for less.
    pub fuel: Fraction,
    /// Who says so.
    pub source: String,
}

/// What all of them say.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Jetting {
    /// Each, physics first.
    pub says: Vec<RuleSays>,
    /// The one applied: the change of fuel closest to none, and none at all where they disagree on its direction.
    pub applied: Fraction,
    /// Bore ratio that makes it.
    pub bore_ratio: f64,
    /// What to keep in mind.
    pub notes: Vec<String>,
}

/// What the rules say about going from one air to another.
///
/// Rules of thumb go by pressure altitude and temperature. Why, and from where: see [the module](self).
pub fn jetting(from: &MoistAir, to: &MoistAir, book: &RuleBook) -> Jetting {
    let ratios = jet_ratios_between(from, to);
    let mut says = vec![RuleSays {
        name: "physics: the root of dry density".to_owned(),
        fuel: Fraction::from_ratio(ratios.area - 1.0),
        source: "own arithmetic; Heywood 1988 section 7.2 (from memory), NACA TN 1874".to_owned(),
    }];
    let climb = pressure_altitude(to.pressure()) - pressure_altitude(from.pressure());
    let warmer = to.temperature() - from.temperature();
    says.extend(book.field_rules.rule.iter().map(|r| RuleSays {
        name: r.name.clone(),
        fuel: r.per_1000_ft * (climb.as_feet() / 1000.0) + r.per_10_degf * (warmer.as_f() / 10.0),
        source: r.source.clone(),
    }));
    let applied = smallest_agreed(&says);
    let mut notes = vec![
        "they disagree, so the smallest change is applied; log again, then step".to_owned(),
        "before going down again, or into cold weather, jet back rich: it will run lean there".to_owned(),
    ];
    if applied == Fraction::ZERO && says.iter().any(|s| s.fuel.as_ratio().abs() > 0.005) {
        notes.push("they do not agree whether more or less fuel is wanted: change nothing yet".to_owned());
    }
    Jetting { says, applied, bore_ratio: (1.0 + applied.as_ratio()).max(0.0).sqrt(), notes }
}

/// The change closest to none when all point one way (a rule that says nothing does not vote), else none.
fn smallest_agreed(says: &[RuleSays]) -> Fraction {
    let votes: Vec<Fraction> = says.iter().map(|s| s.fuel).filter(|f| f.as_ratio().abs() > 1e-4).collect();
    let one_way = votes.iter().all(|f| *f > Fraction::ZERO) || votes.iter().all(|f| *f < Fraction::ZERO);
    if !one_way {
        return Fraction::ZERO;
    }
    votes.into_iter().min_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(Fraction::ZERO)
}

/// A row of the "re-jet if" table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RejetRow {
    /// "at 6000 ft", "at 20 degF".
    pub when: String,
    /// What lambda becomes when nothing is changed, as a factor.
    pub lambda_factor: f64,
    /// Bore that keeps the mixture.
    pub bore: Length,
    /// The nearest stocked jet; `None` when the stock is empty.
    pub jet: Option<Length>,
}

/// The "re-jet if" table of a sheet: for each altitude and temperature of the book, what happens to a jet that is right in `air`.
/// Altitudes at the standard temperature offset of the day, temperatures at the day's pressure; all dry, since vapour moves it by less
/// than a jet step. Conditions the equations do not reach are left out. What is a round number in the book is one here:
/// 2000 ft is 600 m to those who reckon in metres, not 610.
pub fn rejet_table(
    jet: Length,
    air: &MoistAir,
    stock: &[Length],
    book: &RuleBook,
    system: System,
) -> Vec<RejetRow> {
    let here = pressure_altitude(air.pressure());
    let base = |p: Pressure, t: Temperature| MoistAir::new(p, t, Moisture::Dry).ok();
    let Some(now) = base(air.pressure(), air.temperature()) else { return Vec::new() };
    let at_altitude = book.field_rules.altitudes.iter().filter_map(|altitude| {
        let altitude = round_place(*altitude, system);
        let (there, day) = (standard(altitude).ok()?, standard(here).ok()?);
        let offset = air.temperature() - day.temperature;
        let then = base(there.pressure, there.temperature + offset)?;
        let when = match system {
            System::Us => format!("at {} ft", altitude.as_feet().round()),
            System::Metric => format!("at {} m", altitude.as_m().round()),
        };
        Some(row(when, jet, &now, &then, stock))
    });
    let at_temperature = book.field_rules.temperatures.iter().filter_map(|t| {
        let t = round_day(*t, system);
        let then = base(air.pressure(), t)?;
        Some(row(format!("at {}", t.show(system)), jet, &now, &then, stock))
    });
    at_altitude.chain(at_temperature).collect()
}

/// `value` where it is a whole number of `fine`, else the nearest whole number of `coarse`.
fn round_to(value: f64, fine: f64, coarse: f64) -> f64 {
    let whole = |step: f64| (value / step).round() * step;
    if (value - whole(fine)).abs() < 1e-6 { value } else { whole(coarse) }
}

fn round_place(altitude: Length, system: System) -> Length {
    match system {
        System::Us => Length::from_feet(round_to(altitude.as_feet(), 100.0, 500.0)),
        System::Metric => Length::from_m(round_to(altitude.as_m(), 50.0, 100.0)),
    }
}

fn round_day(t: Temperature, system: System) -> Temperature {
    match system {
        System::Us => Temperature::from_f(round_to(t.as_f(), 1.0, 5.0)),
        System::Metric => Temperature::from_c(round_to(t.as_c(), 1.0, 5.0)),
    }
}

fn row(when: String, jet: Length, now: &MoistAir, then: &MoistAir, stock: &[Length]) -> RejetRow {
    let ratios = jet_ratios_between(now, then);
    let bore = jet * ratios.bore;
    let nearest = stock.iter().copied().min_by(|a, b| (*a - bore).abs().total_cmp(&(*b - bore).abs()));
    RejetRow { when, lambda_factor: ratios.lambda, bore, jet: nearest }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn air(inhg: f64, f: f64, rh: f64) -> MoistAir {
        MoistAir::new(
            Pressure::from_inhg(inhg),
            Temperature::from_f(f),
            Moisture::Relative(Fraction::from_percent(rh)),
        )
        .unwrap()
    }

    fn standard_air(feet: f64) -> MoistAir {
        let s = standard(Length::from_feet(feet)).unwrap();
        MoistAir::new(s.pressure, s.temperature, Moisture::Dry).unwrap()
    }

    #[test]
    fn the_smallest_of_the_rules_is_applied() {
        let j = jetting(&standard_air(0.0), &standard_air(5000.0), &RuleBook::common());
        assert!((j.says[0].fuel.as_ratio() - (0.8617_f64.sqrt() - 1.0)).abs() < 1e-3);
        let least = j.says.iter().map(|s| s.fuel.as_ratio().abs()).fold(f64::INFINITY, f64::min);
        assert!((j.applied.as_ratio() + least).abs() < 1e-9 && j.applied < Fraction::ZERO);
        assert!(j.bore_ratio < 1.0);
        assert!(j.notes.iter().any(|n| n.contains("jet back rich")));
    }

    #[test]
    fn rules_that_pull_both_ways_change_nothing() {
        // higher and much colder: physics enriches, the altitude-only shop rule leans
        let j = jetting(&air(29.92, 90.0, 0.0), &air(28.9, 20.0, 0.0), &RuleBook::common());
        assert_eq!(j.applied, Fraction::ZERO);
        assert!(j.notes.iter().any(|n| n.contains("change nothing yet")));
    }

    #[test]
    fn the_same_air_asks_for_nothing() {
        let a = air(30.05, 71.0, 62.0);
        let j = jetting(&a, &a, &RuleBook::common());
        assert_eq!(j.applied.as_ratio(), 0.0);
        assert!(!j.notes.iter().any(|n| n.contains("change nothing yet")));
    }

    #[test]
    fn the_workboat_in_winter_and_on_a_hot_day() {
        let day = air(30.05, 71.0, 62.0);
        let winter = jet_ratios_between(&day, &air(30.35, 38.0, 70.0)).lambda;
        assert!((winter - 1.043).abs() < 0.001, "{winter}");
        let hot = jet_ratios_between(&day, &air(29.80, 92.0, 70.0)).lambda;
        assert!((hot - 0.967).abs() < 0.001, "{hot}");
    }

    #[test]
    fn a_table_for_the_sheet() {
        let stock: Vec<_> = (50..=90).map(|n| Length::from_inches(f64::from(n) / 1000.0)).collect();
        let rows = rejet_table(
            Length::from_inches(0.070),
            &standard_air(0.0),
            &stock,
            &RuleBook::common(),
            System::Us,
        );
        assert_eq!(rows.len(), 10);
        let (jet, book) = (Length::from_inches(0.070), RuleBook::common());
        let metric = rejet_table(jet, &standard_air(0.0), &stock, &book, System::Metric);
        assert_eq!((metric[1].when.as_str(), metric[5].when.as_str()), ("at 600 m", "at -5 degC"));
        // reckoned at the place that is named, and a place that is round as it stands is kept
        let there = standard(Length::from_m(600.0)).unwrap();
        let named = MoistAir::new(there.pressure, there.temperature, Moisture::Dry);
        let at_600 = jet_ratios_between(&standard_air(0.0), &named.unwrap()).lambda;
        assert!((metric[1].lambda_factor - at_600).abs() < 1e-4, "{} {at_600}", metric[1].lambda_factor);
        assert!((round_place(Length::from_m(250.0), System::Metric).as_m() - 250.0).abs() < 1e-9);
        assert!((round_place(Length::from_m(500.0), System::Us).as_feet() - 1500.0).abs() < 1e-9);
        assert!((round_day(Temperature::from_c(38.0), System::Metric).as_c() - 38.0).abs() < 1e-9);
        assert!((round_day(Temperature::from_c(38.0), System::Us).as_f() - 100.0).abs() < 1e-9);
        let at = |when: &str| rows.iter().find(|r| r.when == when).unwrap();
        assert!((at("at 2000 ft").lambda_factor - 0.971).abs() < 0.001);
        assert!((at("at 2000 ft").bore.as_inches() - 0.0690).abs() < 1e-4);
        assert!((at("at 2000 ft").jet.unwrap().as_inches() - 0.069).abs() < 1e-9);
        assert!(at("at 20 degF").lambda_factor > 1.0 && at("at 100 degF").lambda_factor < 1.0);
        assert!(
            rejet_table(Length::from_inches(0.07), &standard_air(0.0), &[], &RuleBook::common(), System::Us)
                [0]
            .jet
            .is_none()
        );
    }
}
