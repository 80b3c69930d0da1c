//! Why the metering model gave no answer.

use crate::numeric::solve::SolveError;
use crate::units::MassFlow;

/// Why the metering model gave no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MeteringError {
    /// More air than the throats pass when choked.
    #[error("an air flow of {} kg/h is more than the venturis can pass: they choke at {} kg/h", said(*.asked), said(*.most))]
    Choked {
        /// Asked for.
        asked: MassFlow,
        /// The most there is.
        most: MassFlow,
    },
    /// An input that is not physical.
    #[error("{what} must be {must}")]
    Unphysical {
        /// Which input.
        what: &'static str,
        /// What it must be.
        must: &'static str,
    },
    /// A part this carburetor does not have, or a size of another kind.
    #[error("this carburetor has no such part, or the size is of another kind: {0}")]
    NoPart(String),
    /// No fuel flows, so there is no mixture.
    #[error("no fuel flows at this air flow")]
    NoFuel,
    /// A solver did not end; with the bracket it was given this is a fault of the model.
    #[error("the {network} network has no solution: {source}")]
    Unsolved {
        /// Which network.
        network: &'static str,
        /// Why.
        source: SolveError,
    },
}

fn said(flow: MassFlow) -> String {
    crate::units::show::fixed(flow.as_kg_h(), 1)
}
