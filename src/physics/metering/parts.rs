//! What a part has to say about the fuel: elasticities, and the effect of a change.

use super::error::MeteringError;
use super::model::{Model, Operating};
use crate::setup::{PartPath, PartSize};
use crate::units::{Length, Turns};

/// A part's say at a working point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Elasticity {
    /// The part.
    pub part: PartPath,
    /// Relative change of the fuel flow for a relative change of the part's area (of the turns out, for a screw):
    /// the part's share of the say. Negative for bleeds.
    pub value: f64,
}

/// Relative step of the differences.
const STEP: f64 = 0.01;

/// A part's elasticity at a working point, by central differences. `None` for parts without an area: the enrichment
/// opening, and the pump nozzle, which meters nothing when steady.
///
/// # Errors
/// [`MeteringError::NoPart`], and whatever the model cannot answer.
pub fn elasticity(model: &Model, part: PartPath, at: Operating) -> Result<Option<Elasticity>, MeteringError> {
    let size = model.carburetor().size(part).ok_or_else(|| MeteringError::NoPart(part.to_string()))?;
    let scaled = |by: f64| match size {
        PartSize::Bore(d) => Some(PartSize::Bore(Length::from_m(d.as_m() * by.sqrt()))),
        PartSize::Turns(t) => Some(PartSize::Turns(Turns::from_turns(t.as_turns() * by))),
        PartSize::Opening(_) => None,
    };
    if part == PartPath::PumpNozzle {
        return Ok(None);
    }
    let (Some(more), Some(less)) = (scaled(1.0 + STEP), scaled(1.0 - STEP)) else { return Ok(None) };
    let value = (effect(model, part, more, at)? - effect(model, part, less, at)?)
        / ((1.0 - STEP).ln() - (1.0 + STEP).ln());
    Ok(Some(Elasticity { part, value }))
}

/// Change of ln(lambda) when a part gets another size.
///
/// # Errors
/// [`MeteringError::NoPart`], and whatever the model cannot answer.
pub fn effect(model: &Model, part: PartPath, to: PartSize, at: Operating) -> Result<f64, MeteringError> {
    let changed = model.carburetor().with(part, to).ok_or_else(|| MeteringError::NoPart(part.to_string()))?;
    let (before, after) = (model.at(at)?, model.with(changed).at(at)?);
    Ok((after.lambda / before.lambda).ln())
}
