//! Lambda against air flow with the target bands, and vacuum against turns with the fitted top.

use super::Tale;
use crate::report::chart::Picture;
use crate::report::document::Block;
use crate::report::pictures::{self, Logs};

/// Those, and what came of the changes, side by side.
pub(super) fn blocks(tale: &Tale<'_>, changes: Option<Picture>) -> Vec<Block> {
    let all = all(tale, changes);
    if all.is_empty() { Vec::new() } else { vec![Block::Pictures(all)] }
}

/// The pictures alone.
pub(super) fn all(tale: &Tale<'_>, changes: Option<Picture>) -> Vec<Picture> {
    let mut all: Vec<Picture> = Vec::new();
    if let Some(first) = tale.first() {
        let logs = Logs {
            before: tale.later().map(|_| ("as found", &first.trace)),
            now: ("now", &tale.later().unwrap_or(first).trace),
        };
        all.extend(
            pictures::lambda_by_air_flow(&logs, Some((&tale.state.setup, &tale.state.job.rules)))
                .map(Picture::Chart),
        );
    }
    if let Some(search) = tale.state.screw_search() {
        all.extend(
            pictures::vacuum_by_turns(search.spec, search.history, tale.system())
                .into_iter()
                .map(Picture::Chart),
        );
    }
    all.extend(changes);
    all
}
