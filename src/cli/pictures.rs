//! Shows pictures under an answer, and writes them to a file when asked.

use super::commands::sheet::write_whole;
use super::{Console, Fault};
use crate::report::chart::Picture;
use crate::report::{chart_text, svg};
use std::path::Path;

/// Draws the pictures in characters, unless the answer is JSON, and as SVG into `file` when one was named.
pub(super) fn show(pictures: &[Picture], file: Option<&Path>, console: &mut Console) -> Result<(), Fault> {
    if !console.json {
        for picture in pictures {
            let drawn = chart_text::draw(picture, console.width, console.ascii);
            console.say("")?;
            console.raw(drawn.as_bytes())?;
        }
    }
    file.map_or(Ok(()), |file| save(pictures, file))
}

/// Writes the pictures as SVG into a file.
pub(super) fn save(pictures: &[Picture], file: &Path) -> Result<(), Fault> {
    let Some(page) = svg::together(pictures) else {
        return Err(Fault::input(format!("there is nothing to draw, so {} was not written", file.display())));
    };
    write_whole(file, page.as_bytes())
}
