//! How the mixture screws are left once the top of the vacuum is known.
#![doc = "\n"]
#![doc = include_str!("why/finish.md")]

use super::balance::Finish;
use super::book::RuleBook;
use super::border::above;
use crate::setup::{Application, Cooling, Drive};
use crate::units::CrankAngle;
use serde::{Deserialize, Serialize};

/// A finish, and why.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FinishAdvice {
    /// What is proposed.
    pub finish: Finish,
    /// Why.
    pub why: String,
    /// A lean drop may be chosen.
    pub lean_drop_allowed: bool,
    /// Why not, when not.
    pub lean_drop_refused: Option<String>,
}

/// How to leave the screws. Why, and from where: see [the module](self).
pub fn advise(
    application: Application,
    cooling: Cooling,
    drive: Drive,
    overlap: Option<CrankAngle>,
    book: &RuleBook,
) -> FinishAdvice {
    let big = overlap.is_some_and(|o| above(o, book.idle.rough_overlap));
    let marine = application == Application::Marine || drive == Drive::Propeller;
    let refused = match (big, marine, cooling) {
        (true, _, _) => Some("a cam with much overlap stalls on a lean drop"),
        (_, true, _) => Some("a boat must not stall on shifting"),
        (_, _, Cooling::Air) => Some("an air-cooled engine needs the fuel to cool it"),
        _ => None,
    };
    let (finish, why) = if application == Application::Race {
        (Finish::Peak, "competition: at the leanest point that still holds the top")
    } else {
        (
            Finish::Rich(book.finish.rich_allowance),
            "a little out from the top, for a sure idle in every weather",
        )
    };
    FinishAdvice {
        finish,
        why: format!("{why} (common practice)"),
        lean_drop_allowed: refused.is_none(),
        lean_drop_refused: refused.map(str::to_owned),
    }
}

/// The lean-drop finish of the book.
pub fn lean_drop(book: &RuleBook) -> Finish {
    Finish::LeanDrop(book.finish.lean_drop)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Turns;

    fn of(a: Application, c: Cooling, overlap: f64) -> FinishAdvice {
        advise(a, c, Drive::Manual, Some(CrankAngle::from_deg(overlap)), &RuleBook::common())
    }

    #[test]
    fn street_a_little_rich_race_on_the_top() {
        assert_eq!(
            of(Application::Street, Cooling::Water, 0.0).finish,
            Finish::Rich(Turns::from_turns(0.125))
        );
        assert_eq!(of(Application::Race, Cooling::Water, 0.0).finish, Finish::Peak);
    }

    #[test]
    fn where_a_lean_drop_is_refused() {
        assert!(of(Application::Street, Cooling::Water, 15.0).lean_drop_allowed);
        assert!(!of(Application::Street, Cooling::Water, 15.1).lean_drop_allowed);
        assert!(!of(Application::Marine, Cooling::Water, 0.0).lean_drop_allowed);
        assert!(!of(Application::Street, Cooling::Air, 0.0).lean_drop_allowed);
    }
}
