//! The hand-over sheet in the forms it can take.

use super::from_session::{Tale, sheet};
use super::{html, markdown, text};

/// A form of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Form {
    /// One self-contained page.
    #[default]
    Html,
    /// Markdown.
    Markdown,
    /// Plain text.
    Text,
}

impl Form {
    /// How a file of it ends.
    pub const fn ending(self) -> &'static str {
        match self {
            Form::Html => "html",
            Form::Markdown => "md",
            Form::Text => "txt",
        }
    }
}

/// The sheet of a session.
pub fn page(tale: &Tale<'_>, form: Form) -> String {
    let document = sheet(tale);
    match form {
        Form::Html => html::page(&document),
        Form::Markdown => markdown::page(&document),
        Form::Text => text::page(&document, 80),
    }
}
