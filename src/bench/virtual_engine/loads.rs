//! What hangs on the crankshaft, and what can be wrong with the engine.

use crate::units::{EngineSpeed, Torque};

/// What the engine drives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Load {
    /// Nothing.
    Neutral,
    /// The gear engaged and the vehicle held: a converter against its brake, a propeller tied to the dock. A clutch
    /// pressed down is [`Load::Neutral`].
    InGear,
    /// The propeller under way.
    Propeller,
    /// A brake that holds this speed whatever the engine does (above what it can reach, it motors the engine).
    Brake(EngineSpeed),
    /// A steady torque, whatever the speed.
    Steady(Torque),
}

/// Something wrong that a hand can put right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// The gasket under the carburetor leaks air past every circuit.
    BaseGasketLeak,
    /// The discharge passage of this mixture screw (from 1) is blocked.
    BlockedIdlePassage(u8),
    /// The enrichment valve's diaphragm is torn: fuel is drawn at idle too.
    TornEnrichmentValve,
    /// The float stands high.
    HighFloat,
    /// The pump pushes harder than the needle can hold.
    HighFuelPressure,
    /// The accelerator-pump lever has play.
    PumpLeverPlay,
    /// A loose clamp lets air into the exhaust ahead of the sensor, which then reads lean: most at idle.
    LooseExhaustClamp,
}
