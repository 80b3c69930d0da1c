//! `leanbest pulls`.

mod figures;
mod files;
mod given;
mod output;
mod session;

use crate::analysis::pulls::{Account, Asked, Band, Gearing, How, Reading, Smoothing, account};
use crate::analysis::verdict::Rig;
use crate::cli::{Console, Exit, Fault};
use crate::physics::correction::Standard;
use crate::profile::Loaded;
use crate::report;
use crate::rules::RuleBook;
use crate::rules::limits::{LambdaLimits, full_throttle};
use crate::setup::{Application, Cooling, FuelFamily};
use crate::units::{EngineSpeed, PressureDifference, VolumeFlow};
use clap::ValueEnum;
use std::path::PathBuf;

/// Arguments of `pulls`.
#[derive(Debug, clap::Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Args {
    /// Dyno files in the order run; LABEL=FILE says what each was run with (A=one.csv B=two.csv A=three.csv)
    #[arg(value_name = "[LABEL=]FILE", required_unless_present_any = ["values", "session"])]
    files: Vec<String>,
    /// The air: station pressure, temperature and humidity; once for all files, or once for each
    #[arg(long, value_name = "P,T,RH")]
    air: Vec<String>,
    /// Standard to correct to [default: j1349 where the air is known]
    #[arg(long, value_name = "STANDARD")]
    correct: Option<Correct>,
    /// Band of engine speeds to judge by, such as "2800-4100 rpm"
    #[arg(long, value_name = "FROM-TO")]
    band: Option<String>,
    /// What the engine is for: picks the band when none is given
    #[arg(long = "use", value_name = "USE")]
    usage: Option<Use>,
    /// Setup whose use, engine, carburetor, fuel and rules count; what is typed beside it goes first
    #[arg(long, value_name = "NAME or FILE")]
    setup: Option<String>,
    /// The carburetor's rated flow, to tell the flow at full throttle from its vacuum
    #[arg(long, value_name = "FLOW", requires = "at")]
    rated: Option<VolumeFlow>,
    /// The depression it is rated at
    #[arg(long, value_name = "DEPRESSION", requires = "rated")]
    at: Option<PressureDifference>,
    /// The engine is air-cooled: the lean limits at full throttle are nearer
    #[arg(long)]
    air_cooled: bool,
    /// Kind of fuel, for the limits of lambda at full throttle
    #[arg(long, value_name = "FUEL")]
    fuel: Option<Fuel>,
    /// What the pulls were run on: sets the noise assumed until repeats show it; a session remembers it
    /// [default: chassis-dyno]
    #[arg(long, value_name = "RIG")]
    rig: Option<RigName>,
    /// Session to record the pulls in as trials, and to judge with its earlier ones; begun with --setup if it is new
    #[arg(long, value_name = "FILE", conflicts_with = "values")]
    session: Option<PathBuf>,
    /// What a label was set to: "A=timing=10 deg, spacer=no"; in a session also without a label: "timing=10 deg"
    #[arg(long = "set", value_name = "LABEL=NAME=VALUE,...")]
    sets: Vec<String>,
    /// A figure read off elsewhere, instead of files: "A=212.4 hp"; times and flows count as better when less
    #[arg(long = "value", value_name = "LABEL=FIGURE", conflicts_with = "files")]
    values: Vec<String>,
    /// Width of the smoothing bell
    #[arg(long, value_name = "SPEED", default_value = "60 rpm")]
    smooth: EngineSpeed,
    /// Distance between the speeds curves are read at
    #[arg(long, value_name = "SPEED", default_value = "50 rpm")]
    grid: EngineSpeed,
    /// For files without engine speed: "3500 rpm at 65 mph"
    #[arg(long, value_name = "GEARING")]
    gearing: Option<String>,
    /// Logger profile, by name or by its file, that says what the columns are; without it the setup's or the session's own
    #[arg(long, value_name = "NAME|TOML")]
    logger: Option<PathBuf>,
    /// Write the tables to FILE.csv or FILE.json
    #[arg(long, value_name = "FILE")]
    export: Option<PathBuf>,
    /// Which table goes into a CSV file
    #[arg(long, value_name = "TABLE", default_value = "pulls")]
    table: output::TableName,
    /// Overwrite an existing export
    #[arg(long)]
    force: bool,
}

const EXAMPLES: &str = "Examples:
  One change, run A-B-A, corrected to SAE J1349:
    leanbest pulls A=run1.csv B=run2.csv A=run3.csv --air \"30.05 inHg,71F,62%\"
  Two changes at once, and what would separate them:
    leanbest pulls A=run1.csv B=run2.csv --set \"A=timing=10,spacer=no\" --set \"B=timing=14,spacer=yes\"
  One change at a time over an evening, remembered in a session:
    leanbest pulls one.csv --session boat.tune.jsonl --set \"timing=10 deg\"
    leanbest pulls two.csv --session boat.tune.jsonl --set \"timing=14 deg\"
  Figures read off a clock or a screen:
    leanbest pulls --value \"A=212.4 hp\" --value \"B=215.9 hp\" --value \"A=213.0 hp\"";

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Correct {
    J1349,
    J607,
    Iso1585,
    Din70020,
    None,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Use {
    Street,
    Race,
    Marine,
    Tow,
    Farm,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum RigName {
    EngineDyno,
    ChassisDyno,
    Road,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Fuel {
    Gasoline,
    Ethanol,
    Methanol,
}

impl From<Fuel> for FuelFamily {
    fn from(fuel: Fuel) -> FuelFamily {
        match fuel {
            Fuel::Gasoline => FuelFamily::Gasoline,
            Fuel::Ethanol => FuelFamily::Ethanol,
            Fuel::Methanol => FuelFamily::Methanol,
        }
    }
}

impl Correct {
    fn standard(self) -> Option<Standard> {
        match self {
            Correct::J1349 => Some(Standard::SaeJ1349),
            Correct::J607 => Some(Standard::SaeJ607),
            Correct::Iso1585 => Some(Standard::Iso1585),
            Correct::Din70020 => Some(Standard::Din70020),
            Correct::None => None,
        }
    }
}

impl From<Use> for Application {
    fn from(usage: Use) -> Application {
        match usage {
            Use::Street => Application::Street,
            Use::Race => Application::Race,
            Use::Marine => Application::Marine,
            Use::Tow => Application::Tow,
            Use::Farm => Application::Farm,
        }
    }
}

impl From<RigName> for Rig {
    fn from(rig: RigName) -> Rig {
        match rig {
            RigName::EngineDyno => Rig::EngineDyno,
            RigName::ChassisDyno => Rig::ChassisDyno,
            RigName::Road => Rig::Road,
        }
    }
}

/// Runs `pulls`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    if let Some(path) = &args.session {
        return session::run(args, path, console);
    }
    let states = given::states(&args.sets)?;
    let loaded = args.setup.as_deref().map(|s| given::setup(s, console)).transpose()?;
    let setup = loaded.as_ref().map(|l| &l.setup);
    let band = args.band.as_deref().map(given::band).transpose()?;
    let mut asked = Asked {
        band,
        application: args.usage.map(Application::from).or(setup.map(|s| s.application)),
        top: setup.map(|s| s.engine.rated_speed),
        how: How {
            step: args.grid,
            band: None,
            rig: args.rig.map(Rig::from).unwrap_or_default(),
            standard: "none",
        },
        rating: args
            .rated
            .zip(args.at)
            .or(setup.map(|s| (s.carburetor.rated_flow, s.carburetor.rated_depression))),
        limits: Some(limits(args, loaded.as_ref())),
        states,
    };
    if !args.values.is_empty() {
        return figures::run(args, &asked, console);
    }
    let reading = reading(args)?;
    let named = given::labelled(&args.files)?;
    given::check_labels(&asked.states, named.iter().filter_map(|n| n.0.as_deref()))?;
    let airs = given::airs(&args.air, named.len())?;
    let logger = files::logger(args.logger.as_deref(), loaded.as_ref().map(|l| &l.logger), console)?;
    let gearing = args.gearing.as_deref().map(given::gearing).transpose()?;
    let mut rows = Vec::new();
    for (k, (label, path)) in named.into_iter().enumerate() {
        let air = airs.get(k).copied().flatten();
        rows.push(files::read(label, &path, &logger, gearing, Reading { air, ..reading }, console)?);
    }
    // Without a word about correction: correct when every file's air is known, and never some and not others.
    let air_known = rows.iter().all(|f| f.reading.air.is_some() || files::has_own_air(&f.rows));
    let standard = match args.correct {
        Some(correct) => correct.standard(),
        None if air_known => Some(Standard::SaeJ1349),
        None => None,
    };
    let reading = Reading { standard, ..reading };
    for f in &mut rows {
        f.reading.standard = standard;
    }
    asked.how.standard = standard.map_or("no standard", Standard::said);
    let account = account(rows, &asked);
    output::export(args, &account)?;
    answer(&account, &asked, &reading, console)
}

/// Limits for the use, the cooling and the fuel; those of a water-cooled road engine on gasoline where nothing is said.
fn limits(args: &Args, loaded: Option<&Loaded>) -> LambdaLimits {
    let setup = loaded.map(|l| &l.setup);
    let usage =
        args.usage.map(Application::from).or(setup.map(|s| s.application)).unwrap_or(Application::Street);
    let cooled = setup.map_or(Cooling::Water, |s| s.engine.cooling);
    let cooling = if args.air_cooled { Cooling::Air } else { cooled };
    let fuel =
        args.fuel.map(FuelFamily::from).or(setup.map(|s| s.fuel.family)).unwrap_or(FuelFamily::Gasoline);
    match loaded {
        Some(loaded) => full_throttle(usage, cooling, fuel, &loaded.rules),
        None => full_throttle(usage, cooling, fuel, &RuleBook::common()),
    }
}

fn reading(args: &Args) -> Result<Reading, Fault> {
    let (width, step) = (args.smooth.as_rpm(), args.grid.as_rpm());
    if !(10.0..=500.0).contains(&width) {
        return Err(Fault::input(format!("--smooth {width:.0} rpm is outside 10 to 500 rpm")));
    }
    if !(5.0..=250.0).contains(&step) {
        return Err(Fault::input(format!("--grid {step:.0} rpm is outside 5 to 250 rpm")));
    }
    Ok(Reading { smoothing: Smoothing { width: args.smooth, step: args.grid }, standard: None, air: None })
}

fn answer(account: &Account, asked: &Asked, reading: &Reading, console: &mut Console) -> Result<Exit, Fault> {
    answer_with(account, asked, reading, None, console)
}

/// What a session adds to an answer: a line before it, lines after it, fields beside it.
struct Beside {
    before: String,
    after: Vec<String>,
    fields: serde_json::Map<String, serde_json::Value>,
}

fn answer_with(
    account: &Account,
    asked: &Asked,
    reading: &Reading,
    beside: Option<Beside>,
    console: &mut Console,
) -> Result<Exit, Fault> {
    if console.json {
        let mut object = report::pulls::account_json(account, asked, reading, console.system);
        if let (Some(beside), Some(object)) = (beside, object.as_object_mut()) {
            object.extend(beside.fields);
        }
        console.answer_json(&object)?;
    } else {
        let (before, after) = beside.map(|b| (b.before, b.after)).unwrap_or_default();
        let lines = report::pulls::account_text(account, asked, reading, console.system);
        for line in before.lines().map(str::to_owned).chain(lines).chain(after) {
            console.say(&line)?;
        }
    }
    Ok(if account.answered() { Exit::Done } else { Exit::No })
}
