//! The engine as its builder knows it.

use crate::units::{CrankAngle, EngineSpeed, Fraction, Length, Volume};
use serde::{Deserialize, Serialize};

/// A cam, all durations at 0.050 in of tappet lift.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Cam {
    /// Intake duration, crank degrees.
    pub intake_duration: CrankAngle,
    /// Exhaust duration, crank degrees.
    pub exhaust_duration: CrankAngle,
    /// Lobe separation, cam degrees.
    pub separation: CrankAngle,
    /// Installed intake centreline, crank degrees after top dead centre; the separation when not known.
    pub centerline: Option<CrankAngle>,
}

/// What carries the heat away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cooling {
    /// Water-cooled.
    Water,
    /// Air-cooled.
    Air,
}

/// What the engine drives, which decides whether idle is set in gear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Drive {
    /// Clutch and gearbox.
    Manual,
    /// Automatic with a converter of ordinary stall speed.
    Automatic,
    /// Automatic with a converter that stalls more than 1500 rpm above idle.
    LooseAutomatic,
    /// A boat's gear with a propeller behind it.
    Propeller,
    /// Nothing to engage: a stand, a tractor in neutral, a pump.
    None,
}

/// The room between carburetor and ports.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Plenum {
    /// Two halves, each serving half the cylinders.
    DualPlane,
    /// One open room.
    SinglePlane,
    /// One throat for each cylinder.
    IndividualRunner,
}

/// How the engine stands with emission law, as its owner says; the tool says nothing about any country's law.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// Certified for the road.
    CertifiedRoad,
    /// Off-road or stationary.
    OffRoad,
    /// In a boat.
    Marine,
    /// Competition only.
    CompetitionOnly,
    /// Exempt by its age.
    ExemptByAge,
    /// Not said.
    Unknown,
}

/// The engine.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Engine {
    /// What the person calls it.
    pub name: String,
    /// Swept volume of all cylinders.
    pub displacement: Volume,
    /// Number of cylinders, at least one.
    pub cylinders: u8,
    /// Bore, when known.
    pub bore: Option<Length>,
    /// Stroke, when known.
    pub stroke: Option<Length>,
    /// Geometric compression ratio, when known.
    pub compression: Option<f64>,
    /// The cam, when known.
    pub cam: Option<Cam>,
    /// Cooling.
    pub cooling: Cooling,
    /// Drive.
    pub drive: Drive,
    /// Plenum.
    pub plenum: Plenum,
    /// The highest speed really used.
    pub rated_speed: EngineSpeed,
    /// Volumetric efficiency at that speed, at full throttle.
    pub volumetric_efficiency: Fraction,
    /// The maker's or builder's curb idle, which wins over any table.
    pub idle_speed: Option<EngineSpeed>,
    /// Ignition timing at idle, before top dead centre, when read.
    pub idle_timing: Option<CrankAngle>,
    /// Brakes worked by manifold vacuum.
    pub vacuum_brakes: bool,
    /// How it stands with emission law.
    pub standing: Standing,
}
