//! Digits and the few letters of the alarm, drawn large from blocks: five dots wide, seven high.

/// Dots of a character, a row a number, the highest of `width` bits leftmost.
fn dots(c: char) -> ([u8; 7], usize) {
    match c {
        '0' => ([0b01110, 0b10001, 0b10001, 0b10001, 0b10001, 0b10001, 0b01110], 5),
        '1' => ([0b00100, 0b01100, 0b00100, 0b00100, 0b00100, 0b00100, 0b01110], 5),
        '2' => ([0b01110, 0b10001, 0b00001, 0b00110, 0b01000, 0b10000, 0b11111], 5),
        '3' => ([0b11110, 0b00001, 0b00001, 0b01110, 0b00001, 0b00001, 0b11110], 5),
        '4' => ([0b00010, 0b00110, 0b01010, 0b10010, 0b11111, 0b00010, 0b00010], 5),
        '5' => ([0b11111, 0b10000, 0b11110, 0b00001, 0b00001, 0b10001, 0b01110], 5),
        '6' => ([0b00110, 0b01000, 0b10000, 0b11110, 0b10001, 0b10001, 0b01110], 5),
        '7' => ([0b11111, 0b00001, 0b00010, 0b00100, 0b01000, 0b01000, 0b01000], 5),
        '8' => ([0b01110, 0b10001, 0b10001, 0b01110, 0b10001, 0b10001, 0b01110], 5),
        '9' => ([0b01110, 0b10001, 0b10001, 0b01111, 0b00001, 0b00010, 0b01100], 5),
        '.' => ([0, 0, 0, 0, 0, 0, 1], 1),
        '-' => ([0, 0, 0, 0b01110, 0, 0, 0], 5),
        'C' => ([0b01110, 0b10001, 0b10000, 0b10000, 0b10000, 0b10001, 0b01110], 5),
        'E' => ([0b11111, 0b10000, 0b10000, 0b11110, 0b10000, 0b10000, 0b11111], 5),
        'H' => ([0b10001, 0b10001, 0b10001, 0b11111, 0b10001, 0b10001, 0b10001], 5),
        'L' => ([0b10000, 0b10000, 0b10000, 0b10000, 0b10000, 0b10000, 0b11111], 5),
        'O' => ([0b01110, 0b10001, 0b10001, 0b10001, 0b10001, 0b10001, 0b01110], 5),
        'R' => ([0b11110, 0b10001, 0b10001, 0b11110, 0b10100, 0b10010, 0b10001], 5),
        'S' => ([0b01111, 0b10000, 0b10000, 0b01110, 0b00001, 0b00001, 0b11110], 5),
        'T' => ([0b11111, 0b00100, 0b00100, 0b00100, 0b00100, 0b00100, 0b00100], 5),
        _ => ([0; 7], 5),
    }
}

/// Dots across, gaps of one dot between.
fn across(text: &str) -> usize {
    text.chars().map(|c| dots(c).1 + 1).sum::<usize>().saturating_sub(1)
}

/// Columns and rows that `text` takes with dots of `scale` columns; a row of the terminal is two dots of scale one.
pub(super) fn extent(text: &str, scale: usize) -> (usize, usize) {
    (across(text) * scale, (7 * scale).div_ceil(2))
}

/// The largest scale at which `text` fits, at most `most` dots; plain ASCII cannot halve a row and takes even ones.
pub(super) fn scale(text: &str, columns: usize, rows: usize, ascii: bool) -> Option<usize> {
    let fits = |scale: &usize| {
        let (wide, high) = extent(text, *scale);
        wide <= columns && high <= rows
    };
    (1..=40).rev().filter(|s| !ascii || s % 2 == 0).find(fits)
}

/// The text drawn large, a string for each row.
pub(super) fn large(text: &str, scale: usize, ascii: bool) -> Vec<String> {
    let lit = |row: usize| -> Vec<bool> {
        let mut cells = Vec::new();
        for (n, c) in text.chars().enumerate() {
            let (rows, width) = dots(c);
            if n > 0 {
                cells.extend(std::iter::repeat_n(false, scale));
            }
            for column in 0..width {
                let on = rows.get(row / scale).is_some_and(|bits| bits >> (width - 1 - column) & 1 == 1);
                cells.extend(std::iter::repeat_n(on, scale));
            }
        }
        cells
    };
    (0..extent(text, scale).1)
        .map(|row| {
            let (upper, lower) = (lit(2 * row), lit(2 * row + 1));
            let pairs = upper.into_iter().zip(lower);
            pairs
                .map(|pair| match pair {
                    (true, _) | (_, true) if ascii => '#',
                    (true, true) => '\u{2588}',
                    (true, false) => '\u{2580}',
                    (false, true) => '\u{2584}',
                    (false, false) => ' ',
                })
                .collect()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_digit_as_dots() {
        let four = large("4", 2, true);
        assert_eq!(
            four,
            [
                "      ##  ",
                "    ####  ",
                "  ##  ##  ",
                "##    ##  ",
                "##########",
                "      ##  ",
                "      ##  "
            ]
        );
        assert_eq!(
            large("1", 1, false),
            [" \u{2584}\u{2588}  ", "  \u{2588}  ", "  \u{2588}  ", " \u{2580}\u{2580}\u{2580} "]
        );
    }

    #[test]
    fn the_largest_that_fits_and_no_larger() {
        assert_eq!(scale("00.0", 80, 11, false), Some(3));
        assert_eq!(scale("00.0", 80, 10, false), Some(2));
        assert_eq!(scale("00.0", 80, 11, true), Some(2), "plain ASCII takes whole rows");
        assert_eq!(scale("00.0", 18, 11, false), None);
        for scale in 1..6 {
            let (wide, high) = extent("12.5", scale);
            let drawn = large("12.5", scale, false);
            assert!(drawn.len() == high && drawn.iter().all(|l| l.chars().count() == wide));
        }
    }
}
