//! A document as plain data: sections, paragraphs, tables, pictures. What it looks like is the business of
//! [`super::html`], [`super::markdown`] and [`super::text`].

use super::chart::Picture;

/// A run of words, and whose they are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Span {
    /// The program's own.
    Ours(String),
    /// The program's own, said by the way.
    Aside(String),
    /// Someone else's: a name, a note, a file. Nothing in it is ever taken for more than words.
    Theirs(String),
}

/// Words from both.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Text(pub Vec<Span>);

impl Text {
    /// The program's own words.
    pub fn ours(words: impl Into<String>) -> Text {
        Text(vec![Span::Ours(words.into())])
    }

    /// A person's words.
    pub fn theirs(words: impl Into<String>) -> Text {
        Text(vec![Span::Theirs(words.into())])
    }

    /// With words of the program's own after it.
    #[must_use]
    pub fn and(mut self, words: impl Into<String>) -> Text {
        self.0.push(Span::Ours(words.into()));
        self
    }

    /// With words said by the way after it.
    #[must_use]
    pub fn aside(mut self, words: impl Into<String>) -> Text {
        self.0.push(Span::Aside(words.into()));
        self
    }

    /// With a person's words after it.
    #[must_use]
    pub fn and_theirs(mut self, words: impl Into<String>) -> Text {
        self.0.push(Span::Theirs(words.into()));
        self
    }

    /// The words alone.
    pub fn plain(&self) -> String {
        self.0.iter().map(|(Span::Ours(s) | Span::Aside(s) | Span::Theirs(s))| s.as_str()).collect()
    }

    /// There is nothing in it.
    pub fn is_empty(&self) -> bool {
        self.0.iter().all(|(Span::Ours(s) | Span::Aside(s) | Span::Theirs(s))| s.is_empty())
    }
}

impl From<&str> for Text {
    fn from(words: &str) -> Text {
        Text::ours(words)
    }
}

impl From<String> for Text {
    fn from(words: String) -> Text {
        Text::ours(words)
    }
}

/// A table; the first column names the row.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    /// What it holds, for those who cannot see where it stands.
    pub caption: String,
    /// Heads of the columns.
    pub heads: Vec<String>,
    /// Columns (from 0) that hold figures, and are aligned as such.
    pub figures: Vec<usize>,
    /// Rows, each as long as the heads.
    pub rows: Vec<Vec<Text>>,
}

impl Table {
    /// Without the columns that say nothing in any row; the first names the rows and stays.
    #[must_use]
    pub fn said(mut self) -> Table {
        let says = |column: usize| {
            column == 0 || self.rows.iter().any(|row| row.get(column).is_some_and(|c| !c.is_empty()))
        };
        let kept: Vec<usize> = (0..self.heads.len()).filter(|c| says(*c)).collect();
        self.figures = (0..kept.len()).filter(|c| self.figures.contains(&kept[*c])).collect();
        let pick = |row: &[Text]| kept.iter().filter_map(|c| row.get(*c).cloned()).collect();
        self.rows = self.rows.iter().map(|row| pick(row)).collect();
        self.heads = kept.iter().filter_map(|c| self.heads.get(*c).cloned()).collect();
        self
    }
}

/// One piece of a section.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A paragraph.
    Paragraph(Text),
    /// Names and what they are.
    Facts(Vec<(String, Text)>),
    /// A table.
    Table(Table),
    /// Sentences, each for itself.
    List(Vec<Text>),
    /// The same, in order.
    Steps(Vec<Step>),
    /// Pictures side by side where there is room.
    Pictures(Vec<Picture>),
    /// Lines to write on.
    Fields(Vec<String>),
}

/// One of several things done in order: what, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// What, in a few words.
    pub what: Text,
    /// Why, in sentences.
    pub why: Text,
}

/// How much room a section wants on a wide page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Width {
    /// All of it.
    #[default]
    Full,
    /// Half is enough.
    Half,
}

/// A part of the document under a heading.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// The heading.
    pub heading: String,
    /// What stands under it.
    pub blocks: Vec<Block>,
    /// Room.
    pub width: Width,
    /// It is set small: to have, rather than to read first.
    pub small: bool,
    /// It is left out on paper, where a picture already says the same.
    pub screen_only: bool,
}

impl Section {
    /// A section as wide as the page.
    pub fn full(heading: impl Into<String>, blocks: Vec<Block>) -> Section {
        Section { heading: heading.into(), blocks, width: Width::Full, small: false, screen_only: false }
    }

    /// A section that needs half a page's width.
    pub fn half(heading: impl Into<String>, blocks: Vec<Block>) -> Section {
        Section { heading: heading.into(), blocks, width: Width::Half, small: false, screen_only: false }
    }

    /// The same, set small.
    #[must_use]
    pub fn small(mut self) -> Section {
        self.small = true;
        self
    }

    /// The same, left out on paper.
    #[must_use]
    pub fn screen_only(mut self) -> Section {
        self.screen_only = true;
        self
    }
}

/// A whole document.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// What kind of document it is: "Tune sheet".
    pub kind: String,
    /// Its title, often a person's own name for the job.
    pub title: Text,
    /// One line under the title.
    pub under: Text,
    /// The outcome in a sentence or two.
    pub lead: Vec<Text>,
    /// Sections, in order.
    pub sections: Vec<Section>,
    /// The last line.
    pub foot: Vec<Text>,
    /// There is more in it than usual: on paper it is set closer.
    pub dense: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_column_that_says_nothing_goes_and_the_figures_stay_figures() {
        let row = |cells: [&str; 4]| cells.map(Text::ours).to_vec();
        let table = Table {
            heads: ["", "Vacuum", "Lambda", "Speed"].map(str::to_owned).into(),
            figures: vec![1, 2, 3],
            rows: vec![row(["", "15.0", "", "640"]), row(["", "17.0", "", ""])],
            ..Table::default()
        };
        let said = table.said();
        assert_eq!(said.heads, ["", "Vacuum", "Speed"]);
        assert_eq!(said.figures, [1, 2]);
        assert_eq!(said.rows[0].len(), 3);
        assert_eq!(said.rows[1][1].plain(), "17.0");
    }
}
