//! The why behind each rule, in words, with its source: the text that documents the rule's module, for the manual.

/// A rule and why it is so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Why {
    /// The topic it is found under.
    pub topic: &'static str,
    /// What it is called in a heading.
    pub title: &'static str,
    /// Why, paragraph by paragraph, the source last.
    pub text: &'static str,
    /// The tables of the rule book that hold its figures.
    pub tables: &'static [&'static str],
    /// The module of this room that it documents.
    pub module: &'static str,
}

macro_rules! whys {
    ($($topic:literal, $title:literal, $tables:expr, $module:literal;)*) => {
        /// All of them, in the order of the work.
        pub const ALL: &[Why] = &[$(Why {
            topic: $topic,
            title: $title,
            text: include_str!(concat!("why/", $topic, ".md")),
            tables: &$tables,
            module: $module,
        }),*];
    };
}

whys! {
    "sizing", "Carburetor size", ["sizing"], "sizing";
    "idle-aim", "Curb idle and its vacuum", ["idle"], "idle";
    "needle", "The needle of the vacuum gauge", ["needle"], "needle";
    "start-turns", "Turns to start from", ["start_turns"], "start_turns";
    "screw-search", "The search for the top of the vacuum", [], "balance";
    "finish", "How the screws are left", ["finish"], "finish";
    "gear-limits", "In gear", ["in_gear"], "in_gear";
    "enrichment", "Opening of the enrichment valve", ["enrichment"], "enrichment";
    "targets", "Lambda targets", ["targets"], "targets";
    "tip-in", "Tip-in", ["tip_in"], "tip_in";
    "limits", "Limits at full throttle", ["limits"], "limits";
    "which-part", "Which part", ["effects"], "which_part";
    "witness", "What lambda cannot say", [], "witness";
    "altitude", "Altitude and temperature", ["field_rules"], "field_rules";
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Modules of this room that hold no rule of their own: the figures, a comparison, the cautions (a topic of their
    /// own), this file.
    const NO_RULES: [&str; 4] = ["book", "border", "cautions", "why"];

    #[test]
    fn every_rule_has_its_why_and_every_why_its_rule() {
        let modules: Vec<&str> = include_str!("mod.rs")
            .lines()
            .filter_map(|l| l.strip_prefix("pub mod ").or(l.strip_prefix("mod "))?.strip_suffix(';'))
            .filter(|m| !NO_RULES.contains(m))
            .collect();
        assert!(modules.len() > 10, "{modules:?}");
        for module in &modules {
            assert!(ALL.iter().any(|w| w.module == *module), "{module} has no why");
        }
        for why in ALL {
            assert!(modules.contains(&why.module), "{} documents nothing", why.topic);
            let source = why.text.split("\n\n").last().unwrap_or_default();
            assert!(source.starts_with("Source: ") && source.len() > 20, "{}: {source}", why.topic);
        }
    }

    #[test]
    fn every_table_of_figures_belongs_to_a_why() {
        let book: toml::Table = super::super::RuleBook::common_text().parse().unwrap();
        let tables: Vec<&String> = book.iter().filter(|(_, v)| v.is_table()).map(|(k, _)| k).collect();
        assert!(tables.len() > 10);
        for table in tables {
            assert!(ALL.iter().any(|w| w.tables.contains(&table.as_str())), "[{table}] is explained nowhere");
        }
        for (why, table) in ALL.iter().flat_map(|w| w.tables.iter().map(move |t| (w, t))) {
            assert!(book.contains_key(*table), "{}: no [{table}]", why.topic);
        }
    }
}
