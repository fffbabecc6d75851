//! Bytes of a raw terminal, with the times at which they came, as keys or as one text. A scanner types faster than any
//! hand, and its code is no row of commands. Nothing here reads anything or looks at a clock.

use super::keys::Input;
use crate::next::Key;
use std::time::Duration;

/// Longest time between two bytes that came together.
pub(crate) const TOGETHER: Duration = Duration::from_millis(40);
/// Fewest characters of a text that came at once; one of them is a letter.
const TEXT_LEAST: usize = 4;
/// Most bytes that are held back; more than any label has.
const HELD_MAX: usize = 512;
const INTERRUPT: u8 = 3;
const END_OF_INPUT: u8 = 4;
const ESCAPE: u8 = 0x1B;

/// Bytes that came and are not yet understood.
#[derive(Debug, Default)]
pub(crate) struct Bursts {
    held: Vec<u8>,
    /// When the last byte came.
    last: Duration,
    /// True behind a text that ended with a carriage return: a line feed at once belongs to it.
    is_text_over: bool,
}

impl Bursts {
    /// True while bytes wait for what comes with them.
    pub(crate) fn are_held(&self) -> bool {
        !self.held.is_empty()
    }

    /// Takes a byte that came at a time, and gives what is understood by now.
    pub(crate) fn byte(&mut self, byte: u8, at: Duration) -> Vec<Input> {
        let together = at.saturating_sub(self.last) <= TOGETHER;
        let mut inputs = if together { Vec::new() } else { self.quiet() };
        self.last = at;
        let over = std::mem::take(&mut self.is_text_over);
        if byte == b'\n' && over && together {
            return inputs;
        }
        self.held.push(byte);
        match byte {
            b'\r' | b'\n' => match text(&self.held) {
                Some(text) => {
                    self.held.clear();
                    self.is_text_over = byte == b'\r';
                    inputs.push(Input::Text(text));
                }
                None => inputs.extend(self.quiet()),
            },
            INTERRUPT | END_OF_INPUT => inputs.extend(self.quiet()),
            _ if self.held.len() >= HELD_MAX => inputs.extend(self.quiet()),
            _ => {}
        }
        inputs
    }

    /// Nothing came for longer than what belongs together takes: what waits was keys.
    pub(crate) fn quiet(&mut self) -> Vec<Input> {
        keys(&std::mem::take(&mut self.held))
    }
}

/// The text that bytes with an end of a line are, if they are one.
fn text(bytes: &[u8]) -> Option<String> {
    let (_, bytes) = bytes.split_last()?;
    let text = std::str::from_utf8(bytes).ok()?.trim();
    let printable = text.chars().all(|sign| !sign.is_control());
    let count = text.chars().filter(|sign| !sign.is_whitespace()).count();
    let is_text = printable && count >= TEXT_LEAST && text.chars().any(char::is_alphabetic);
    is_text.then(|| text.to_owned())
}

/// Keys; those that send a sequence (arrows and the like) mean nothing here.
fn keys(bytes: &[u8]) -> Vec<Input> {
    let mut inputs = Vec::new();
    let mut left = bytes.iter().copied();
    while let Some(first) = left.next() {
        inputs.push(match first {
            INTERRUPT => Input::Key(Key::Interrupt),
            END_OF_INPUT => Input::Closed,
            b'\r' | b'\n' => Input::Key(Key::Enter),
            0x08 | 0x7F => Input::Key(Key::Backspace),
            ESCAPE => {
                // A sequence ends with its first letter or tilde, O only begins one.
                let goes_on = |next: u8| next == b'O' || (!next.is_ascii_alphabetic() && next != b'~');
                while left.next().is_some_and(goes_on) {}
                continue;
            }
            0..0x20 => continue,
            0x20..0x80 => Input::Key(Key::Sign(char::from(first))),
            _ => match sign(first, &mut left) {
                Some(sign) => Input::Key(Key::Sign(sign)),
                None => continue,
            },
        });
    }
    inputs
}

/// A sign of several bytes (UTF-8, RFC 3629).
fn sign(first: u8, left: &mut impl Iterator<Item = u8>) -> Option<char> {
    let more = match first {
        0xC2..=0xDF => 1,
        0xE0..=0xEF => 2,
        0xF0..=0xF4 => 3,
        _ => return None,
    };
    let bytes: Vec<u8> = std::iter::once(first).chain(left.take(more)).collect();
    std::str::from_utf8(&bytes).ok().and_then(|text| text.chars().next())
}

#[cfg(test)]
#[path = "../tests/bursts.rs"]
mod tests;
