//! A person's own text made fit to print: nothing unprintable, and never long.

/// Whether a character could move the cursor, hide, or turn the line around.
fn dangerous(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

/// `text` with everything unprintable escaped, at most `most` characters long. A tab becomes a space.
pub fn safe(text: &str, most: usize) -> String {
    let (mut out, mut length) = (String::new(), 0);
    for c in text.chars() {
        let piece = match c {
            '\t' => " ".to_owned(),
            c if dangerous(c) => c.escape_unicode().to_string(),
            c => c.to_string(),
        };
        length += piece.chars().count();
        if length > most {
            out.push('…');
            return out;
        }
        out.push_str(&piece);
    }
    out
}

/// A whole file's text made fit to print, line ends kept.
pub fn safe_text(text: &str) -> String {
    let lines = text.lines().map(|l| safe(&l.replace('\t', "    "), 2_000));
    lines.fold(String::with_capacity(text.len()), |out, line| out + &line + "\n")
}

/// The nearest of `known` to `written`, when it is near enough to be what was meant.
///
/// Optimal string alignment distance (Damerau 1964): a swap of neighbours counts as one slip.
pub fn nearest<'k>(written: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    let written: Vec<char> = written.chars().take(64).flat_map(char::to_lowercase).collect();
    known
        .into_iter()
        .map(|k| (slips(&written, &k.chars().collect::<Vec<_>>()), k))
        .filter(|(slips, k)| *slips <= (k.chars().count() / 3).max(1))
        .min_by_key(|(slips, _)| *slips)
        .map(|(_, k)| k)
}

fn slips(a: &[char], b: &[char]) -> usize {
    let mut rows = vec![vec![0usize; b.len() + 1]; a.len() + 1];
    for i in 0..=a.len() {
        for j in 0..=b.len() {
            rows[i][j] = if i == 0 || j == 0 {
                i + j
            } else {
                let same = usize::from(a[i - 1] != b[j - 1]);
                let mut best = (rows[i - 1][j] + 1).min(rows[i][j - 1] + 1).min(rows[i - 1][j - 1] + same);
                if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                    best = best.min(rows[i - 2][j - 2] + 1);
                }
                best
            };
        }
    }
    rows[a.len()][b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_unprintable_comes_out_and_nothing_long() {
        let out = safe("\u{1b}[2Jjet\u{7}\u{202e}\u{200d}\u{9b}", 100);
        assert!(out.chars().all(|c| !dangerous(c)), "{out:?}");
        assert_eq!(safe(&"x".repeat(1_000_000), 40).chars().count(), 41);
        assert_eq!(safe_text("a\r\n\tb"), "a\n    b\n");
    }

    #[test]
    fn the_nearest_key_is_offered_only_when_near() {
        let keys = ["jet", "air_bleed", "venturi", "barrels"];
        assert_eq!(nearest("air_bled", keys), Some("air_bleed"));
        assert_eq!(nearest("ventrui", keys), Some("venturi"));
        assert_eq!(nearest("jte", keys), Some("jet"));
        assert_eq!(nearest("colour", keys), None);
    }
}
