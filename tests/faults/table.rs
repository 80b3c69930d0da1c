//! The table of figures.

use std::fmt;

#[derive(Default)]
pub(crate) struct Table {
    rows: Vec<(String, u64, bool)>,
    skipped: Vec<String>,
    failures: Vec<String>,
}

impl Table {
    /// Adds to a count.
    pub(crate) fn count(&mut self, what: &str, number: u64) {
        self.add(what, number, false);
    }

    /// Adds to a count that must stay zero.
    pub(crate) fn zero(&mut self, what: &str, number: u64) {
        self.add(what, number, true);
    }

    fn add(&mut self, what: &str, number: u64, due: bool) {
        match self.rows.iter_mut().find(|(name, _, _)| name == what) {
            Some((_, sum, _)) => *sum += number,
            None => self.rows.push((what.to_owned(), number, due)),
        }
    }

    /// Something could not be run here; said, never passed over.
    pub(crate) fn skipped(&mut self, what: &str) {
        self.skipped.push(what.to_owned());
    }

    /// Something went as it must not.
    pub(crate) fn failed(&mut self, what: &str) {
        self.failures.push(what.chars().take(600).collect());
    }

    /// Notes a failure unless `held`.
    pub(crate) fn hold(&mut self, held: bool, what: &str) {
        if !held {
            self.failed(what);
        }
    }

    pub(crate) fn good(&self) -> bool {
        self.failures.is_empty() && self.rows.iter().all(|(_, number, due)| !due || *number == 0)
    }
}

impl fmt::Display for Table {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (what, number, due) in &self.rows {
            let mark = match (due, number) {
                (true, 0) => "  zero, as due",
                (true, _) => "  MUST BE ZERO",
                _ => "",
            };
            writeln!(to, "{what:<60}{number:>9}{mark}")?;
        }
        for what in &self.skipped {
            writeln!(to, "skipped: {what}")?;
        }
        for what in self.failures.iter().take(12) {
            writeln!(to, "FAILED: {what}")?;
        }
        write!(to, "{}", if self.good() { "all zeros that are due are there" } else { "NOT as it must be" })
    }
}
