//! A screw that does nothing: what it may be, and which test tells the causes apart.
//!
//! Common practice throughout; said as likely, not as certain.

use super::past::Past;
use super::plan::SURELY_DEAD;
use super::prior::{MAX, Prior};
use super::types::Unresponsive;

/// Lambda below which the idle is rich, and above which it is lean.
const RICH: f64 = 0.85;
const LEAN: f64 = 1.02;

/// The screws that do nothing, with likely causes in order of likelihood.
pub(super) fn named(prior: &Prior, past: &Past, chances: &[f64; MAX]) -> Vec<Unresponsive> {
    let dead: Vec<usize> = (0..prior.n).filter(|&i| chances[i] >= SURELY_DEAD).collect();
    let all = dead.len() == prior.n;
    let lambda = past.lambda();
    dead.iter()
        .map(|&i| Unresponsive { screw: (i + 1) as u8, causes: causes(prior, all, dead.len(), lambda) })
        .collect()
}

fn causes(prior: &Prior, all: bool, count: usize, lambda: Option<f64>) -> Vec<(String, String)> {
    let rich = lambda.is_some_and(|l| l < RICH);
    let lean = lambda.is_some_and(|l| l > LEAN);
    let said: Vec<(&str, &str)> = if all && lean {
        vec![LEAK, SMALL_FEED, MISFIRE]
    } else if all && rich {
        vec![OPEN_THROTTLE, VALVE, FLOAT, NOZZLE, CHOKE]
    } else if all {
        vec![OPEN_THROTTLE, VALVE, FLOAT, LEAK, NOZZLE, MISFIRE]
    } else if prior.n >= 4 && count == 2 {
        vec![BY_DESIGN, BLOCKED, PLENUM]
    } else if prior.n >= 4 {
        vec![BLOCKED, BY_DESIGN, LEAK_CORNER]
    } else {
        vec![BLOCKED, PLENUM, LEAK_CORNER]
    };
    said.into_iter().map(|(cause, test)| (cause.to_owned(), test.to_owned())).collect()
}

type Cause = (&'static str, &'static str);

const OPEN_THROTTLE: Cause = (
    "the throttle stands too far open, so the engine idles on the transition slot",
    "close the idle stop a quarter turn: the engine slows a lot and the screws wake up",
);
const VALVE: Cause = (
    "the enrichment valve leaks through its diaphragm",
    "seat all screws: it still runs rich; a hand vacuum pump on the valve does not hold",
);
const FLOAT: Cause = (
    "the fuel level is too high, the float seat leaks or the fuel pressure is too high",
    "pinch the fuel line a few seconds: speed and vacuum rise as the level falls",
);
const NOZZLE: Cause = (
    "the main nozzle drips at idle",
    "stop the engine and look across the bore, never down it, with a light: fuel drips from the nozzle",
);
const CHOKE: Cause = (
    "the choke is not fully off or an idle air bleed is blocked",
    "look: the choke plate stands upright, the bleeds are clean",
);
const LEAK: Cause = (
    "air leaks in below the carburetor",
    "cover part of the air intake with a gloved card: the speed rises if it was leaking; pinch the hoses one by one",
);
const LEAK_CORNER: Cause = (
    "air leaks into that corner at the gasket or a hose",
    "pinch the hoses one by one and cover part of the intake with a gloved card: the speed rises",
);
const SMALL_FEED: Cause = (
    "the idle feed is too small or its air bleed too large for this fuel",
    "turn all screws out past three turns: it still wants more",
);
const MISFIRE: Cause = (
    "a cylinder misfires",
    "short out one cylinder after another: the one that changes nothing is the one; look at its plug",
);
const BLOCKED: Cause = (
    "the idle feed or the discharge passage of that corner is blocked",
    "engine off, screw out, blow air through the passage: it must come out below the throttle",
);
const PLENUM: Cause = (
    "the gauge is on one half of a divided manifold and does not see that side",
    "move the gauge to the other half and turn the screw again",
);
const BY_DESIGN: Cause = (
    "the secondary side has a fixed idle by design or its throttle is fully closed",
    "ask for the calibration; open the secondary stop a little and turn the screw again",
);
