//! Lines out of bytes, however these come in pieces. A line ends with a line feed, a carriage return, or both.
//! Nothing here knows what a line means.

use standpipe_proto::limits::feed::LINE_BYTES_MAX;

/// A line with its number, from 1.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Its number.
    pub number: u64,
    /// What stands in it; none for a line that is longer than any line may be.
    pub text: Option<String>,
}

/// Bytes that wait for the end of their line.
#[derive(Debug, Default)]
pub struct Lines {
    held: Vec<u8>,
    number: u64,
    is_too_long: bool,
    /// True behind a carriage return: a line feed at once belongs to it.
    is_return: bool,
}

impl Lines {
    /// Takes a piece, and gives the lines that are whole now.
    pub fn take(&mut self, piece: &[u8]) -> Vec<Line> {
        let mut lines = Vec::new();
        for byte in piece {
            let belongs = std::mem::take(&mut self.is_return) && *byte == b'\n';
            match byte {
                b'\n' if belongs => {}
                b'\n' | b'\r' => {
                    self.is_return = *byte == b'\r';
                    lines.push(self.line());
                }
                _ if self.held.len() < LINE_BYTES_MAX => self.held.push(*byte),
                _ => self.is_too_long = true,
            }
        }
        lines
    }

    /// There are no more bytes: what waits is a line without an end.
    pub fn ended(&mut self) -> Option<Line> {
        (!self.held.is_empty()).then(|| self.line())
    }

    fn line(&mut self) -> Line {
        self.number += 1;
        let bytes = std::mem::take(&mut self.held);
        let is_too_long = std::mem::take(&mut self.is_too_long);
        // Instruments write units and words in many codes; numbers are the same in all of them.
        let text = String::from_utf8_lossy(&bytes);
        let text = if self.number == 1 { text.trim_start_matches('\u{feff}') } else { &text };
        Line { number: self.number, text: (!is_too_long).then(|| text.to_owned()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn texts(lines: &[Line]) -> Vec<(u64, &str)> {
        lines.iter().map(|line| (line.number, line.text.as_deref().unwrap_or("too long"))).collect()
    }

    #[test]
    fn a_line_ends_in_any_of_three_ways_and_the_last_one_without() {
        let mut lines = Lines::default();
        let mut found = lines.take("\u{feff}a\r\nb\rc\n\nd".as_bytes());
        found.extend(lines.ended());
        assert_eq!(texts(&found), [(1, "a"), (2, "b"), (3, "c"), (4, ""), (5, "d")]);
        assert_eq!(lines.ended(), None);
    }

    #[test]
    fn a_line_that_is_too_long_is_told_and_costs_no_memory() {
        let mut lines = Lines::default();
        assert_eq!(lines.take(&vec![b'7'; 3 * LINE_BYTES_MAX]), []);
        assert!(lines.held.len() <= LINE_BYTES_MAX);
        assert_eq!(texts(&lines.take(b"7\n4.1\n")), [(1, "too long"), (2, "4.1")]);
    }

    proptest! {
        #[test]
        fn the_pieces_in_which_bytes_come_change_nothing(
            bytes in proptest::collection::vec(prop_oneof![Just(b'\r'), Just(b'\n'), b'0'..=b'9', any::<u8>()], 0..200),
            cuts in proptest::collection::vec(0_usize..200, 0..12),
        ) {
            let mut whole = Lines::default();
            let mut expected = whole.take(&bytes);
            expected.extend(whole.ended());
            let mut cuts: Vec<usize> = cuts.into_iter().map(|cut| cut.min(bytes.len())).collect();
            cuts.sort_unstable();
            let (mut cut_up, mut found, mut from) = (Lines::default(), Vec::new(), 0);
            for cut in cuts.into_iter().chain([bytes.len()]) {
                found.extend(cut_up.take(&bytes[from..cut]));
                from = cut;
            }
            found.extend(cut_up.ended());
            prop_assert_eq!(found, expected);
        }
    }
}
