//! What is shown and handed over, written into strings.

pub mod chart;
pub mod chart_text;
pub mod compare;
pub mod differing;
pub mod document;
pub mod export;
pub mod from_session;
pub mod history;
pub mod html;
pub mod lines;
pub mod live;
pub mod manual;
pub mod markdown;
pub mod pictures;
pub mod pulls;
pub mod sheet;
pub mod sink;
pub mod svg;
pub mod text;
pub mod trace;

/// Someone's words, made safe for a terminal.
fn words(text: &str) -> String {
    sink::Term(text).to_string()
}
