//! Where a long text is broken when a page is full: at the end of a sentence.

use crate::cli::layout::wrap;

/// `text` in pieces: whole where it fits into `first` lines, or into a `page` of its own; else as many sentences at a
/// time as `first` lines and then each page hold. A sentence longer than a page stays one piece.
pub(super) fn pages(text: &str, width: usize, first: usize, page: usize) -> Vec<String> {
    let lines = |text: &str| wrap(text, width).len();
    if lines(text) <= page.max(first) {
        return vec![text.to_owned()];
    }
    let mut pieces: Vec<String> = Vec::new();
    let mut piece = String::new();
    for sentence in sentences(text) {
        let room = if pieces.is_empty() { first } else { page };
        if !piece.is_empty() && lines(&format!("{piece}{sentence}")) > room {
            pieces.push(std::mem::take(&mut piece));
        }
        piece.push_str(sentence);
    }
    pieces.push(piece);
    pieces
}

/// Sentences, each with the space behind it: they end with a stop before a space and a capital.
fn sentences(text: &str) -> Vec<&str> {
    let (mut found, mut from) = (Vec::new(), 0);
    for (at, _) in text.match_indices([' ']) {
        let ends = text[..at].ends_with(['.', '?', '!']);
        let begins = text[at + 1..].starts_with(|c: char| c.is_uppercase() || c.is_ascii_digit());
        if ends && begins {
            found.push(&text[from..=at]);
            from = at + 1;
        }
    }
    found.push(&text[from..]);
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str =
        "Shut the fuel off first. Is anyone near the fan? Warn them! Then look at 0.060 in. or so.";

    #[test]
    fn a_text_that_fits_is_left_whole() {
        assert_eq!(pages(TEXT, 30, 4, 4), [TEXT]);
        assert_eq!(pages(TEXT, 30, 1, 4), [TEXT], "a page is turned before it");
    }

    #[test]
    fn a_longer_one_is_broken_at_the_ends_of_sentences() {
        let broken = pages(TEXT, 30, 2, 3);
        assert_eq!(broken.concat(), TEXT);
        assert_eq!(broken[0], "Shut the fuel off first. Is anyone near the fan? ");
        assert!(wrap(&broken[0], 30).len() <= 2);
        assert!(broken.iter().all(|b| b.trim_end().ends_with(['.', '?', '!'])), "{broken:?}");
    }

    #[test]
    fn nothing_is_lost_of_a_sentence_longer_than_a_page() {
        let long = "one two three four five six seven eight nine ten eleven. Twelve.";
        assert_eq!(pages(long, 10, 1, 2).concat(), long);
        assert_eq!(pages("", 10, 1, 2), [""]);
    }
}
