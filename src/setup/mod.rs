//! What a job is about, as plain typed data: the engine, the carburetor and its parts, the fuel, the
//! instruments, the air, the use. Knows no rule and no physics.
//!
//! Everything here can be written to and read back from the first line of a session, so that an old session
//! does not depend on profiles that have changed since. Reading a person's own TOML, with located faults, is the
//! business of the profile room.

mod carburetor;
mod engine;
mod fuel;
mod instruments;
mod part;
mod regime;

pub use carburetor::{Carburetor, Enrichment, IdleCircuit, MainSet, Pump, SetName, Stock};
pub use engine::{Cam, Cooling, Drive, Engine, Plenum, Standing};
pub use fuel::{Fuel, FuelFamily};
pub use instruments::{Instruments, LambdaSensor, Weather};
pub use part::{PartPath, PartPathError, PartSize};
pub use regime::Regime;

use serde::{Deserialize, Serialize};

/// What the engine is for: it decides targets, limits and the finish of the idle mixture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Application {
    /// On the road.
    Street,
    /// In competition.
    Race,
    /// In a boat.
    Marine,
    /// Towing or hauling on the road.
    Tow,
    /// In a field: tractors and stationary work.
    Farm,
}

/// One job: everything the tool knows before it reads an instrument.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Setup {
    /// What the person calls the job.
    pub name: String,
    /// What the engine is for.
    pub application: Application,
    /// The engine.
    pub engine: Engine,
    /// The carburetor as it stands, with every size known.
    pub carburetor: Carburetor,
    /// The fuel in the tank.
    pub fuel: Fuel,
    /// What it is measured with.
    pub instruments: Instruments,
    /// The air it was last set up in, when known.
    pub weather: Option<Weather>,
}
