//! What a vacuum gauge's needle says.
#![doc = "\n"]
#![doc = include_str!("why/needle.md")]

use super::book::{RuleBook, Word};
use super::border::above;
use crate::units::show::Shown;
use crate::units::{PressureDifference, System, Vacuum};
use serde::{Deserialize, Serialize};

/// What was seen, against what is normal here.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct NeedleSeen {
    /// What the needle does.
    pub word: Word,
    /// Where it stands, in the mean.
    pub vacuum: Vacuum,
    /// Least vacuum that is normal for this engine and altitude.
    pub normal_low: Vacuum,
    /// Most vacuum that is normal.
    pub normal_high: Vacuum,
}

/// One thing it may be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Diagnosis {
    /// What it points to.
    pub likely: String,
    /// What to look at next.
    pub check: String,
    /// Who says so.
    pub source: String,
}

/// How the needle reads.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Needle {
    /// Steady and inside the band: nothing to look for.
    pub normal: bool,
    /// How far below the normal band, when below.
    pub short: Option<PressureDifference>,
    /// In one sentence.
    pub said: String,
    /// What it may be, likeliest first.
    pub diagnoses: Vec<Diagnosis>,
}

/// Reads the needle at a hot idle, on its speed, in neutral. "Normal" is the band of [`super::idle::aim`]. Why,
/// and from where: see [the module](self). `system` is the units of the words.
pub fn read(seen: &NeedleSeen, book: &RuleBook, system: System) -> Needle {
    let short = seen.normal_low.above(seen.vacuum);
    let below = above(seen.normal_low, seen.vacuum);
    let normal = seen.word == Word::Steady && !below;
    let band =
        format!("{} to {} is normal here", seen.normal_low.show(system), seen.normal_high.show(system));
    let place = if below { format!("{} below", short.show(system)) } else { "not low".to_owned() };
    let said = format!("{} at {}, {place}: {band}", seen.word.said(), seen.vacuum.show(system));
    let fits = |span: Option<super::book::Span<PressureDifference>>| span.is_none_or(|s| s.holds(short));
    let diagnoses = if normal {
        Vec::new()
    } else {
        let rows = book.needle.row.iter().filter(|r| r.word == seen.word && fits(r.short_of_normal));
        rows.map(|r| Diagnosis { likely: r.likely.clone(), check: r.check.clone(), source: r.source.clone() })
            .collect()
    };
    Needle { normal, short: below.then_some(short), said, diagnoses }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(word: Word, vacuum: f64) -> Needle {
        let inhg = Vacuum::from_inhg;
        let seen = NeedleSeen { word, vacuum: inhg(vacuum), normal_low: inhg(17.0), normal_high: inhg(20.0) };
        read(&seen, &RuleBook::common(), System::Us)
    }

    #[test]
    fn steady_in_the_band_is_normal() {
        assert!(at(Word::Steady, 17.0).normal && at(Word::Steady, 17.0).diagnoses.is_empty());
        assert!(!at(Word::Steady, 16.9).normal);
        assert!(at(Word::Steady, 21.0).normal, "above the band is no fault");
    }

    #[test]
    fn how_low_decides_what_is_likely() {
        let first = |v| at(Word::Steady, v).diagnoses.first().map(|d| d.likely.clone()).unwrap_or_default();
        assert!(first(15.0).contains("late ignition"));
        assert!(first(14.1).contains("late ignition") && first(13.9).contains("air leak"));
        assert!(first(7.1).contains("air leak") && first(6.9).contains("gross leak"));
    }

    #[test]
    fn every_word_leads_somewhere() {
        for word in Word::ALL {
            let needle = at(word, 14.0);
            assert!(!needle.diagnoses.is_empty(), "{word:?}");
            assert!(needle.diagnoses.iter().all(|d| !d.check.is_empty() && !d.source.is_empty()));
        }
        assert!(at(Word::SlowDrift, 14.0).diagnoses[0].likely.contains("too rich"));
        assert!(!at(Word::SlowDrift, 18.0).normal);
    }
}
