//! `leanbest air`.

use crate::cli::{Console, Exit, Fault, layout, typed};
use crate::physics::air::{MoistAir, Moisture};
use crate::physics::altitude::{JetRatios, jet_ratios_between};
use crate::physics::atmosphere::{density_altitude, pressure_altitude, standard};
use crate::physics::correction::Standard;
use crate::rules::RuleBook;
use crate::rules::field_rules::{Jetting, jetting};
use crate::units::show::{Shown, fixed};
use crate::units::{Fraction, Length, Pressure, Temperature};
use serde_json::{Map, Value, json};

/// Arguments of `air`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Station pressure: what a barometer beside the engine reads, not the sea-level figure of a weather report
    #[arg(long, value_name = "PRESSURE")]
    pressure: Option<Pressure>,
    /// Temperature of the air the engine breathes
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    temperature: Option<Temperature>,
    /// Relative humidity, such as 60%
    #[arg(long, value_name = "SHARE", conflicts_with_all = ["dew_point", "wet_bulb"])]
    humidity: Option<Fraction>,
    /// Dew point
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true, conflicts_with = "wet_bulb")]
    dew_point: Option<Temperature>,
    /// Wet bulb, thermodynamic as on psychrometric charts (see --aspirated)
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    wet_bulb: Option<Temperature>,
    /// The wet bulb was read on an aspirated psychrometer; its vapour pressure is about 1 % lower
    #[arg(long, requires = "wet_bulb")]
    aspirated: bool,
    /// Altitude in the standard atmosphere, instead of a barometer
    #[arg(long, value_name = "ALTITUDE", conflicts_with = "pressure", allow_hyphen_values = true)]
    altitude: Option<Length>,
    /// Air the carburetor was set up in: "pressure, temperature, humidity"
    #[arg(long, value_name = "P,T,RH", value_parser = typed::air)]
    baseline: Option<MoistAir>,
}

/// Runs `air`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let air = breathed(args)?;
    let sea_level = MoistAir::new(typed::standard_pressure(), typed::standard_temperature(), Moisture::Dry)
        .map_err(|e| Fault::input(e.to_string()))?;
    let from = args.baseline.unwrap_or(sea_level);
    let ratios = jet_ratios_between(&from, &air);
    let rules = args.baseline.map(|b| jetting(&b, &air, &RuleBook::common()));
    if console.json {
        console.answer_json(&as_json(&air, ratios, rules.as_ref(), args))?;
    } else {
        as_text(&air, ratios, rules.as_ref(), args, console)?;
    }
    Ok(Exit::Done)
}

fn breathed(args: &Args) -> Result<MoistAir, Fault> {
    let input = |e: &dyn std::fmt::Display| Fault::input(e.to_string());
    let (pressure, temperature) = match args.altitude {
        Some(altitude) => {
            let there = standard(altitude).map_err(|e| input(&e))?;
            (there.pressure, there.temperature)
        }
        None => (args.pressure.unwrap_or(typed::standard_pressure()), typed::standard_temperature()),
    };
    let moisture = match (args.humidity, args.dew_point, args.wet_bulb) {
        (Some(rh), _, _) => Moisture::Relative(rh),
        (_, Some(dew), _) => Moisture::DewPoint(dew),
        (_, _, Some(wet)) if args.aspirated => Moisture::AspiratedWetBulb(wet),
        (_, _, Some(wet)) => Moisture::WetBulb(wet),
        _ => Moisture::Dry,
    };
    MoistAir::new(pressure, args.temperature.unwrap_or(temperature), moisture).map_err(|e| input(&e))
}

fn wet_bulb_definition(args: &Args) -> Option<&'static str> {
    args.wet_bulb.map(|_| if args.aspirated { "aspirated psychrometer" } else { "thermodynamic" })
}

fn as_json(air: &MoistAir, ratios: JetRatios, rules: Option<&Jetting>, args: &Args) -> Value {
    let mut answer = json!({
        "station_pressure_pa": air.pressure().as_pa(),
        "temperature_c": air.temperature().as_c(),
        "density_kg_m3": air.density().as_kg_m3(),
        "dry_density_kg_m3": air.dry_density().as_kg_m3(),
        "dew_point_c": air.dew_point().map(Temperature::as_c),
        "wet_bulb_c": air.wet_bulb().map(Temperature::as_c),
        "wet_bulb_definition": wet_bulb_definition(args),
        "relative_humidity_pct": air.relative_humidity().as_percent(),
        "vapour_pressure_pa": air.vapour_pressure().as_pa(),
        "dry_pressure_pa": air.dry_pressure().as_pa(),
        "density_altitude_ft": density_altitude(air.density()).as_feet(),
        "pressure_altitude_ft": pressure_altitude(air.pressure()).as_feet(),
        "jet_area_ratio": ratios.area,
        "jet_bore_ratio": ratios.bore,
        "lambda_ratio": ratios.lambda,
        "against": if args.baseline.is_some() { "baseline" } else { "standard" },
    });
    let mut in_range = Map::new();
    for standard in Standard::ALL {
        let c = standard.correction(air);
        answer[format!("factor_{}", standard.name())] = json!(c.factor);
        in_range.insert(standard.name().to_owned(), json!(c.in_range));
    }
    answer["factor_in_range"] = Value::Object(in_range);
    if let Some(j) = rules {
        let says = j
            .says
            .iter()
            .map(|s| json!({"rule": s.name, "fuel_pct": s.fuel.as_percent(), "source": s.source}));
        answer["field_rules"] = says.collect();
        answer["applied_fuel_pct"] = json!(j.applied.as_percent());
    }
    answer
}

fn as_text(
    air: &MoistAir,
    ratios: JetRatios,
    rules: Option<&Jetting>,
    args: &Args,
    console: &mut Console,
) -> Result<(), Fault> {
    let us = console.system;
    let feet = |l: Length| format!("{} ft ({} m)", fixed(l.as_feet(), 0), fixed(l.as_m(), 0));
    let dew = air.dew_point().map_or("dry".to_owned(), |d| {
        format!("{}, dew point {}", air.relative_humidity().show(us), d.show(us))
    });
    console.say(&format!("Air at {}, {}, {dew}", air.pressure().show(us), air.temperature().show(us)))?;
    console.say("")?;
    let shown = |p: Pressure| format!("{} ({} Pa)", p.show(us), fixed(p.as_pa(), 0));
    let mut rows = vec![
        (
            "density",
            format!(
                "{} kg/m3 (dry part {})",
                fixed(air.density().as_kg_m3(), 4),
                fixed(air.dry_density().as_kg_m3(), 4)
            ),
        ),
        ("dry pressure", shown(air.dry_pressure())),
        ("vapour pressure", shown(air.vapour_pressure())),
        ("density altitude", feet(density_altitude(air.density()))),
        ("pressure altitude", feet(pressure_altitude(air.pressure()))),
    ];
    for standard in Standard::ALL {
        let c = standard.correction(air);
        let range = if c.in_range { "" } else { "   out of range: do not compare with it" };
        rows.push((standard.said(), format!("x {}{range}", fixed(c.factor, 4))));
    }
    let against = if args.baseline.is_some() { "the baseline" } else { "standard air" };
    rows.push((
        "jets",
        format!("{} x the area, {} x the bore of {against}", fixed(ratios.area, 4), fixed(ratios.bore, 4)),
    ));
    rows.push(("left as they are", format!("lambda x {}", fixed(ratios.lambda, 4))));
    layout::facts(console, &rows)?;
    if let Some(j) = rules {
        let says = j.says.iter().map(|s| format!("{}: fuel {} % ({})", s.name, signed(s.fuel), s.source));
        layout::sentences(console, "What the rules say", &says.collect::<Vec<_>>())?;
        let applied = vec![format!("fuel {} %: bore x {}", signed(j.applied), fixed(j.bore_ratio, 4))];
        layout::sentences(console, "Applied", &[applied, j.notes.clone()].concat())?;
    }
    let mut why = vec![
        "Lambda at fixed jets goes with the root of dry density, and so does the jet area that holds it (main system, full \
         throttle; Heywood 1988 from memory, NACA TN 1874)."
            .to_owned(),
        "Factors correct full-throttle power and torque, never lambda; beyond 0.93 to 1.07 do not compare.".to_owned(),
    ];
    match wet_bulb_definition(args) {
        Some("thermodynamic") => why.push(
            "The wet bulb was taken as thermodynamic (ASHRAE); --aspirated for a psychrometer's.".to_owned(),
        ),
        Some(_) => why.push(
            "The wet bulb was taken as an aspirated psychrometer's (WMO-No. 8, from memory).".to_owned(),
        ),
        None => {}
    }
    Ok(layout::sentences(console, "Why", &why)?)
}

fn signed(share: Fraction) -> String {
    let text = fixed(share.as_percent(), 1);
    if text.starts_with('-') || text == "0.0" { text } else { format!("+{text}") }
}
