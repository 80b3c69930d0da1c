//! What to do next and what is still missing, in words.

use crate::setup::Regime;
use crate::trace::live::Lack;
use crate::trace::settle::Settled;

/// What a regime still lacks: "cruise 12 s", "idle 1 more visit".
fn lack_said(lack: &Lack) -> String {
    let left = (lack.need.as_s() - lack.have.as_s()).ceil();
    let visits = lack.need_visits.saturating_sub(lack.visits);
    let regime = lack.regime.said();
    match (left > 0.0, visits) {
        (true, _) => format!("{regime} {left:.0} s"),
        (false, 1) => format!("{regime} 1 more visit"),
        (false, _) => format!("{regime} {visits} more visits"),
    }
}

/// What is still missing.
pub(super) fn lacks_said(lacks: &[Lack]) -> Vec<String> {
    lacks.iter().map(lack_said).collect()
}

/// What to do next while driving or watching; `None` when nothing is missing.
pub(super) fn next_said(now_in: Option<Regime>, lacks: &[Lack], settled: &Settled) -> Option<String> {
    let here = lacks.iter().find(|l| Some(l.regime) == now_in && l.have < l.need);
    if let Some(here) = here {
        let left = (here.need.as_s() - here.have.as_s()).ceil();
        let still = match settled {
            Settled::Moving { .. } if now_in == Some(Regime::Idle) => " It is still moving.",
            _ => "",
        };
        return Some(format!("Hold it here: {} needs {left:.0} s more.{still}", here.regime.said()));
    }
    let next = lacks.iter().find(|l| Some(l.regime) != now_in).or(lacks.first())?;
    Some(match (next.regime, Some(next.regime) == now_in) {
        (Regime::Idle, false) => "Next: back to idle, and let it be.".to_owned(),
        (Regime::OffIdle, false) => "Next: creep just off idle, and hold it.".to_owned(),
        (Regime::FullThrottle, false) => {
            "Next: full throttle, only where it is legal and safe; close it at the first alarm.".to_owned()
        }
        (regime, false) => format!("Next: {}, and hold it.", regime.said()),
        (regime, true) => format!("Leave {} and come back: one more visit.", regime.said()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::TimeSpan;

    fn lack(regime: Regime, have: f64, need: f64, visits: u32) -> Lack {
        Lack { regime, have: TimeSpan::from_s(have), need: TimeSpan::from_s(need), visits, need_visits: 3 }
    }

    #[test]
    fn stay_where_something_is_missing_then_go_on_then_come_back() {
        let still = Settled::TooFew { wait: TimeSpan::from_s(0.0) };
        let lacks = [lack(Regime::Cruise, 18.0, 30.0, 1), lack(Regime::FullThrottle, 0.0, 6.0, 0)];
        let at = |regime, lacks: &[Lack]| next_said(Some(regime), lacks, &still).unwrap();
        assert_eq!(at(Regime::Cruise, &lacks), "Hold it here: cruise needs 12 s more.");
        assert!(at(Regime::Idle, &lacks).starts_with("Next: cruise"));
        assert!(at(Regime::Idle, &lacks[1..]).contains("legal and safe"));
        let visits = [lack(Regime::Cruise, 30.0, 30.0, 2)];
        assert_eq!(at(Regime::Cruise, &visits), "Leave cruise and come back: one more visit.");
        assert_eq!(lacks_said(&visits), ["cruise 1 more visit"]);
        assert!(next_said(Some(Regime::Idle), &[], &still).is_none());
    }
}
