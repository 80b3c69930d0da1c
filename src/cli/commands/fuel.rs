//! `leanbest fuel`.

use crate::cli::{Console, Exit, Fault, layout};
use crate::physics::exhaust::lambda_of_co;
use crate::physics::fuel::{GASOLINE, by_name, density_at, gasoline_with_ethanol};
use crate::setup::{Fuel, FuelFamily};
use crate::units::show::{Shown, fixed};
use crate::units::{Density, Fraction, Lambda, System, Temperature};
use serde_json::json;

/// Arguments of `fuel`.
#[derive(Debug, clap::Args)]
#[command(group(clap::ArgGroup::new("which").required(true).args(["blend", "ethanol"])))]
pub struct Args {
    /// What the pump calls it: e10, e85, gasoline, methanol
    #[arg(long, value_name = "NAME")]
    blend: Option<String>,
    /// Ethanol by volume, such as 10%
    #[arg(long, value_name = "SHARE")]
    ethanol: Option<Fraction>,
    /// Temperature of the fuel, for its density there
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    temperature: Option<Temperature>,
    /// Carbon monoxide of the dry exhaust, such as 3.7%: lambda from it
    #[arg(long, value_name = "SHARE")]
    co: Option<Fraction>,
}

/// What follows from a fuel.
struct Answer {
    fuel: Fuel,
    mass_ratio: f64,
    volume_ratio: f64,
    area_ratio: f64,
    warm: Option<Density>,
    lambda: Option<Lambda>,
}

/// Runs `fuel`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let answer = answer(args)?;
    if console.json {
        console.answer_json(&as_json(&answer))?;
    } else {
        as_text(&answer, args, console)?;
    }
    Ok(Exit::Done)
}

fn named(args: &Args) -> Result<Fuel, Fault> {
    match (&args.blend, args.ethanol) {
        (_, Some(share)) if (0.0..=1.0).contains(&share.as_ratio()) => Ok(gasoline_with_ethanol(share)),
        (_, Some(share)) => {
            Err(Fault::input(format!("{} of ethanol is outside 0 to 100 %", share.show(System::default()))))
        }
        (name, None) => {
            let name = name.as_deref().unwrap_or_default();
            by_name(name).ok_or_else(|| {
                Fault::input(format!("no fuel is called {name:?}"))
                    .hint("Known are gasoline, e0 to e100, ethanol and methanol; or give --ethanol 10%.")
            })
        }
    }
}

fn answer(args: &Args) -> Result<Answer, Fault> {
    let fuel = named(args)?;
    let mass_ratio = GASOLINE.stoichiometric / fuel.stoichiometric;
    let thinner = GASOLINE.density / fuel.density;
    let warm = match args.temperature {
        None => None,
        Some(t) => Some(density_at(&fuel, t).ok_or_else(|| {
            Fault::input(format!("fuel at {} is outside -40 to 80 degC", t.show(System::default())))
        })?),
    };
    let lambda = match args.co {
        None => None,
        Some(co) if fuel.family != FuelFamily::Gasoline => {
            return Err(Fault::input(format!(
                "{} % of CO on {}: the relation holds for gasoline only",
                fixed(co.as_percent(), 1),
                fuel.name
            )));
        }
        Some(co) => Some(lambda_of_co(co).ok_or_else(|| {
            Fault::input(format!("{} % of CO says nothing of lambda", fixed(co.as_percent(), 2)))
                .hint("From 0.3 to 15 % it does, on the rich side, without a catalyst.")
        })?),
    };
    let area_ratio = mass_ratio * thinner.sqrt();
    Ok(Answer { volume_ratio: mass_ratio * thinner, mass_ratio, area_ratio, warm, lambda, fuel })
}

fn as_json(a: &Answer) -> serde_json::Value {
    json!({
        "fuel": a.fuel.name,
        "family": a.fuel.family,
        "ethanol_pct": a.fuel.ethanol.as_percent(),
        "stoich_afr": a.fuel.stoichiometric.as_ratio(),
        "density_kg_m3": a.fuel.density.as_kg_m3(),
        "density_at_temperature_kg_m3": a.warm.map(Density::as_kg_m3),
        "lambda_from_co": a.lambda.map(Lambda::as_ratio),
        "fuel_mass_ratio": a.mass_ratio,
        "fuel_volume_ratio": a.volume_ratio,
        "jet_area_ratio": a.area_ratio,
        "jet_bore_ratio": a.area_ratio.sqrt(),
    })
}

fn as_text(a: &Answer, args: &Args, console: &mut Console) -> Result<(), Fault> {
    let us = console.system;
    console.say(&format!("{}, {} ethanol by volume", a.fuel.name, a.fuel.ethanol.show(us)))?;
    console.say("")?;
    let mut rows = vec![
        ("stoichiometric", format!("{} : 1", fixed(a.fuel.stoichiometric.as_ratio(), 2))),
        ("density at 15 C", format!("{} kg/m3", fixed(a.fuel.density.as_kg_m3(), 0))),
    ];
    if let (Some(rho), Some(t)) = (a.warm, args.temperature) {
        rows.push(("density", format!("{} kg/m3 at {}", fixed(rho.as_kg_m3(), 0), t.show(us))));
    }
    rows.push((
        "against gasoline",
        format!("{} of the mass, {} of the volume", times(a.mass_ratio), times(a.volume_ratio)),
    ));
    rows.push((
        "jets for equal lambda",
        format!("{} of the area, {} of the bore", times(a.area_ratio), times(a.area_ratio.sqrt())),
    ));
    if let (Some(lambda), Some(co)) = (a.lambda, args.co) {
        rows.push((
            "lambda from CO",
            format!("{} from {} % (to 0.01)", fixed(lambda.as_ratio(), 2), fixed(co.as_percent(), 1)),
        ));
    }
    layout::facts(console, &rows)?;
    let mut why = vec![
        "A blend's ratio is linear in mass: gasoline 14.7 and 745 kg/m3, ethanol 9.0 and 789, methanol 6.47 and 796 (common \
         practice; from their formulas 9.005 and 6.474)."
            .to_owned(),
        "A gauge scaled to gasoline shows 14.7 x lambda whatever is in the tank: set it to lambda.".to_owned(),
    ];
    if a.fuel.family == FuelFamily::Ethanol {
        why.push("Pump E85 may hold 51 to 83 % and less in winter: test each fill. Start larger than a rule of thumb says, and log.".to_owned());
    }
    if a.lambda.is_some() {
        why.push("Lambda from CO: element balance of CH1.85 with water-gas constant 3.8, rich side, no catalyst, no leak.".to_owned());
    }
    Ok(layout::sentences(console, "Why", &why)?)
}

fn times(ratio: f64) -> String {
    format!("{} x", fixed(ratio, 2))
}
