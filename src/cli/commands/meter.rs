//! `leanbest meter`.

use super::load_fault;
use crate::cli::{Console, Exit, Fault, pictures};
use crate::physics::metering::{Metered, MeteringError, Model, Operating, elasticity};
use crate::report::chart::Picture;
use crate::report::pictures::{MeteredAt, metering as drawn};
use crate::setup::{Carburetor, PartPath, PartSize, Weather};
use crate::units::show::{Shown, fixed};
use crate::units::{Density, Fraction, MassFlow, Pressure, QuantityError, Temperature, Vacuum, VolumeFlow};
use serde_json::{Map, Value, json};
use std::path::PathBuf;

/// Arguments of `meter`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The setup: a name or a file
    #[arg(long, value_name = "S")]
    setup: String,
    /// Air flows to show, such as "100 kg/h", "60 cfm" or "40%" of the rating
    #[arg(long, value_name = "FLOW", value_delimiter = ',')]
    airflow: Vec<String>,
    /// Manifold vacuum at every air flow; without it, that of a throttle opening under a rising load
    #[arg(long, value_name = "V")]
    vacuum: Option<Vacuum>,
    /// A part with another size, to see before and after: main.primary.jet=0.058in
    #[arg(long, value_name = "PART=SIZE")]
    part: Vec<String>,
    /// Draw lambda and the fuel of each circuit against air flow into an SVG file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// Points of a picture's lines.
const DRAWN: u32 = 48;

/// Shares of the rating shown when none are named.
const SHARES: [f64; 12] = [0.05, 0.08, 0.12, 0.18, 0.25, 0.33, 0.42, 0.52, 0.63, 0.75, 0.87, 1.0];

/// Runs `meter`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let loaded = crate::profile::load_setup(&args.setup, console.profiles.as_deref()).map_err(load_fault)?;
    let setup = loaded.setup;
    let weather = setup.weather.unwrap_or(Weather {
        pressure: Pressure::from_pa(101_325.0),
        temperature: Temperature::from_c(15.0),
        humidity: Fraction::ZERO,
    });
    let before = Model::of(&setup.carburetor, &setup.fuel, &weather);
    let after = changed(&setup.carburetor, &args.part)?.map(|c| before.with(c));
    let rated = before.rated_flow();
    let density = rated.as_kg_s() / setup.carburetor.rated_flow.as_m3_s();
    let flows = flows(args, rated, Density::from_kg_m3(density))?;
    let at = |air_flow: MassFlow| {
        let vacuum = args.vacuum.unwrap_or_else(|| usual_vacuum(air_flow / rated, weather.pressure));
        Operating { air_flow, vacuum }
    };
    let points =
        flows.iter().map(|f| point(&before, after.as_ref(), at(*f))).collect::<Result<Vec<_>, _>>()?;
    if console.json {
        let changes: Vec<&String> = args.part.iter().collect();
        let points: Vec<Value> = points.iter().map(|p| p.json(rated)).collect();
        let rated_kg_h = rated.as_kg_h();
        console.answer_json(&json!({ "points": points, "parts": changes, "rated_kg_per_h": rated_kg_h }))?;
    } else {
        text(&points, rated, console)?;
    }
    if console.json && args.svg.is_none() {
        return Ok(Exit::Done);
    }
    let lines = lines(&points, &before, after.as_ref(), rated, at)?;
    let charts: Vec<Picture> = drawn(&lines).into_iter().map(Picture::Chart).collect();
    pictures::show(&charts, args.svg.as_deref(), console)?;
    Ok(Exit::Done)
}

/// What a picture's lines go through, from the least to the greatest air flow shown.
fn lines(
    points: &[Point],
    before: &Model,
    after: Option<&Model>,
    rated: MassFlow,
    at: impl Fn(MassFlow) -> Operating,
) -> Result<Vec<MeteredAt>, Fault> {
    let shares = points.iter().map(|p| p.at.air_flow / rated);
    let (low, high) = shares.fold((f64::INFINITY, 0.0f64), |(l, h), s| (l.min(s), h.max(s)));
    if high <= low {
        return Ok(Vec::new());
    }
    let one = |i: u32| {
        let share = low + (high - low) * f64::from(i) / f64::from(DRAWN);
        let at = at(rated * share);
        let metered = |m: &Model| m.at(at).map_err(|e| metering(&e));
        Ok(MeteredAt {
            share: Fraction::from_ratio(share),
            before: metered(before)?,
            after: after.map(metered).transpose()?,
        })
    };
    (0..=DRAWN).map(one).collect()
}

/// The vacuum an engine under a load that rises with its speed leaves at a share of the rating: a ramp from about
/// 0.6 of the barometer at idle to near none wide open (own reckoning from a propeller curve).
fn usual_vacuum(share: f64, barometer: Pressure) -> Vacuum {
    Vacuum::from_pa(barometer.as_pa() * (0.60 * (1.0 - share.clamp(0.0, 1.0)).powf(1.3)).max(0.04))
}

fn flows(args: &Args, rated: MassFlow, density: Density) -> Result<Vec<MassFlow>, Fault> {
    if args.airflow.is_empty() {
        return Ok(SHARES.iter().map(|s| rated * *s).collect());
    }
    args.airflow.iter().map(|text| flow(text, rated, density)).collect()
}

fn flow(text: &str, rated: MassFlow, density: Density) -> Result<MassFlow, Fault> {
    let as_share: Result<Fraction, QuantityError> = text.parse();
    let as_volume: Result<VolumeFlow, QuantityError> = text.parse();
    let found = match (text.parse::<MassFlow>(), as_volume, as_share) {
        (Ok(mass), _, _) => mass,
        (_, Ok(volume), _) => volume * density,
        (_, _, Ok(share)) => rated * share.as_ratio(),
        (Err(why), _, _) => {
            return Err(Fault::input(format!("--airflow {text}: {why}"))
                .hint("write a mass flow, a volume flow or a share: \"100 kg/h\", \"60 cfm\", \"40%\""));
        }
    };
    if found <= MassFlow::ZERO {
        return Err(Fault::input(format!("--airflow {text}: an air flow is more than zero")));
    }
    Ok(found)
}

/// The carburetor with the parts of `--part` in it; `None` when there are none.
fn changed(carburetor: &Carburetor, parts: &[String]) -> Result<Option<Carburetor>, Fault> {
    let mut with = carburetor.clone();
    for text in parts {
        let wrong = |why: String| {
            Fault::input(format!("--part {text}: {why}")).hint("write main.primary.jet=0.058in")
        };
        let (name, size) = text.split_once('=').ok_or_else(|| wrong("a part, =, and a size".to_owned()))?;
        let path: PartPath = name.trim().parse().map_err(|e| wrong(format!("{e}")))?;
        let fitted = carburetor
            .size(path)
            .ok_or_else(|| wrong(format!("{} has no {}", carburetor.name, path.said())))?;
        let size = match fitted {
            PartSize::Bore(_) => size.parse().map(PartSize::Bore),
            PartSize::Opening(_) => size.parse().map(PartSize::Opening),
            PartSize::Turns(_) => size.parse().map(PartSize::Turns),
        }
        .map_err(|e| wrong(e.to_string()))?;
        with = with.with(path, size).ok_or_else(|| wrong("it cannot be fitted".to_owned()))?;
    }
    Ok((!parts.is_empty()).then_some(with))
}

/// One air flow: before, and after when a part was named.
struct Point {
    at: Operating,
    before: Metered,
    after: Option<Metered>,
    says: Vec<(PartPath, f64)>,
}

fn point(before: &Model, after: Option<&Model>, at: Operating) -> Result<Point, Fault> {
    let mut says = Vec::new();
    for (part, _) in before.carburetor().parts() {
        if let Some(e) = elasticity(before, part, at).map_err(|e| metering(&e))? {
            says.push((part, e.value));
        }
    }
    Ok(Point {
        at,
        before: before.at(at).map_err(|e| metering(&e))?,
        after: after.map(|m| m.at(at)).transpose().map_err(|e| metering(&e))?,
        says,
    })
}

fn metering(error: &MeteringError) -> Fault {
    let fault = Fault::input(error.to_string());
    match error {
        MeteringError::Choked { .. } => fault.hint("name smaller air flows with --airflow"),
        _ => fault,
    }
}

fn rounded(value: f64, scale: f64) -> Value {
    json!((value * scale).round() / scale)
}

fn fuels(m: &Metered) -> Value {
    json!({
        "main_primary_kg_per_h": rounded(m.fuel.main_primary.as_kg_h(), 1e3),
        "main_secondary_kg_per_h": rounded(m.fuel.main_secondary.as_kg_h(), 1e3),
        "enrichment_kg_per_h": rounded(m.fuel.enrichment.as_kg_h(), 1e3),
        "idle_kg_per_h": rounded(m.fuel.idle.as_kg_h(), 1e3),
        "total_kg_per_h": rounded(m.fuel.total().as_kg_h(), 1e3),
    })
}

impl Point {
    fn json(&self, rated: MassFlow) -> Value {
        let says: Map<String, Value> =
            self.says.iter().map(|(p, v)| (p.to_string(), rounded(*v, 1e4))).collect();
        let mut of = json!({
            "airflow_kg_per_h": rounded(self.at.air_flow.as_kg_h(), 1e2),
            "airflow_share": rounded(self.at.air_flow / rated, 1e4),
            "vacuum_inhg": rounded(self.at.vacuum.as_inhg(), 1e2),
            "lambda": rounded(self.before.lambda.as_ratio(), 1e4),
            "fuel": fuels(&self.before),
            "throttle_pct": rounded(self.before.throttle.as_percent(), 10.0),
            "enrichment_open_pct": rounded(self.before.enrichment_open.as_percent(), 10.0),
            "elasticities": says,
        });
        if let (Some(after), Value::Object(map)) = (&self.after, &mut of) {
            map.insert("lambda_after".to_owned(), rounded(after.lambda.as_ratio(), 1e4));
            map.insert("fuel_after".to_owned(), fuels(after));
        }
        of
    }
}

fn text(points: &[Point], rated: MassFlow, console: &mut Console) -> Result<(), Fault> {
    let system = console.system;
    let (air, suction) = (MassFlow::unit_symbol(system), Vacuum::unit_symbol(system));
    let after = points.iter().any(|p| p.after.is_some());
    let head = if after { "lambda   after  change" } else { "lambda" };
    console.say(&format!(
        "air {air:>6}  rated  vacuum {suction:>4}  {head}   fuel by circuit: main 1 / main 2 / enrich / idle"
    ))?;
    for p in points {
        let share = |f: MassFlow| fixed(100.0 * (f / p.before.fuel.total()), 0);
        let f = &p.before.fuel;
        let then = p.after.map_or_else(String::new, |a| {
            let change = 100.0 * (a.lambda / p.before.lambda - 1.0);
            format!("  {}  {:>+5.1} %", fixed(a.lambda.as_ratio(), 3), change)
        });
        console.say(&format!(
            "{:>10}  {:>4} %  {:>11}  {}{then}   {} / {} / {} / {} %",
            fixed(p.at.air_flow.number(system), 1),
            fixed(100.0 * (p.at.air_flow / rated), 0),
            fixed(p.at.vacuum.number(system), 1),
            fixed(p.before.lambda.as_ratio(), 3),
            share(f.main_primary),
            share(f.main_secondary),
            share(f.enrichment),
            share(f.idle)
        ))?;
    }
    console.say("")?;
    console.say("Say of each part: % of fuel for 1 % of its area, by share of the rated air flow")?;
    let columns: Vec<String> =
        points.iter().map(|p| format!("{:>6}", fixed(100.0 * (p.at.air_flow / rated), 0))).collect();
    console.say(&format!("{:<32}{}", "", columns.concat()))?;
    for (i, (part, _)) in points.first().map(|p| p.says.as_slice()).unwrap_or_default().iter().enumerate() {
        let row: Vec<String> = points
            .iter()
            .map(|p| p.says.get(i).map_or_else(String::new, |(_, v)| format!("{:>6}", fixed(*v, 2))))
            .collect();
        console.say(&format!("{:<32}{}", part.said(), row.concat()))?;
    }
    console.say("")?;
    console.say("A model: its shares are of use, its absolute mixture is not; that comes from a log.")?;
    Ok(())
}
