//! Counts the frames of HTTP/2 that carry no content, so that a flood of them ends the connection.
//!
//! The HTTP/2 part bounds headers, their continuations and resets of streams that nobody took up; it answers every
//! PING and SETTINGS however many there are (h2 0.4). Here each frame's head (RFC 9113, section 4.1) is read as the
//! bytes pass by; what the frames say is none of its business. Bytes that do not begin as HTTP/2 are not looked at.

use standpipe_proto::limits::door::{EMPTY_FRAMES_BURST_MAX, EMPTY_FRAMES_PER_SECOND_MAX, RESET_COUNTS_AS};
use tokio::time::Instant;

/// What a connection of HTTP/2 begins with (RFC 9113, section 3.4).
const PREFACE: &[u8] = b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n";
const HEAD_BYTES: usize = 9;
const DATA: u8 = 0x0;
const HEADERS: u8 = 0x1;
const RESET: u8 = 0x3;

/// Reads along on one connection.
#[derive(Debug)]
pub(super) struct Frames {
    at: At,
    /// How many more may come now, and when that was so.
    room: f64,
    since: Instant,
}

#[derive(Debug)]
enum At {
    /// So many bytes of the preface were there.
    Preface(usize),
    /// These bytes of a head were there.
    Head([u8; HEAD_BYTES], usize),
    /// So many bytes of a frame's content are to come.
    Content(usize),
    /// It is no HTTP/2.
    Other,
}

impl Frames {
    pub(super) fn new(now: Instant) -> Self {
        Self { at: At::Preface(0), room: f64::from(EMPTY_FRAMES_BURST_MAX), since: now }
    }

    /// Reads the next bytes; false when too many frames without content came.
    pub(super) fn read(&mut self, mut bytes: &[u8], now: Instant) -> bool {
        let seconds = now.saturating_duration_since(self.since).as_secs_f64();
        self.give(seconds * f64::from(EMPTY_FRAMES_PER_SECOND_MAX));
        self.since = now;
        while let Some(first) = bytes.first() {
            match &mut self.at {
                At::Other => return true,
                At::Preface(seen) => {
                    if PREFACE.get(*seen) != Some(first) {
                        self.at = At::Other;
                        return true;
                    }
                    *seen += 1;
                    if *seen == PREFACE.len() {
                        self.at = At::Head([0; HEAD_BYTES], 0);
                    }
                    bytes = bytes.get(1..).unwrap_or_default();
                }
                At::Head(head, seen) => {
                    if let Some(place) = head.get_mut(*seen) {
                        *place = *first;
                    }
                    *seen += 1;
                    bytes = bytes.get(1..).unwrap_or_default();
                    if *seen == HEAD_BYTES {
                        let head = *head;
                        self.count(&head);
                    }
                }
                At::Content(left) => {
                    let passed = bytes.len().min(*left);
                    *left -= passed;
                    bytes = bytes.get(passed..).unwrap_or_default();
                    if *left == 0 {
                        self.at = At::Head([0; HEAD_BYTES], 0);
                    }
                }
            }
        }
        self.room > 0.0
    }

    fn count(&mut self, head: &[u8; HEAD_BYTES]) {
        let [a, b, c, kind, ..] = *head;
        let length = usize::from(a) << 16 | usize::from(b) << 8 | usize::from(c);
        match (kind, length) {
            (DATA, 1..) => self.give(2.0),
            (HEADERS, 1..) => {}
            (RESET, _) => self.room -= f64::from(RESET_COUNTS_AS),
            _ => self.room -= 1.0,
        }
        self.at = if length == 0 { At::Head([0; HEAD_BYTES], 0) } else { At::Content(length) };
    }

    fn give(&mut self, frames: f64) {
        self.room = (self.room + frames).min(f64::from(EMPTY_FRAMES_BURST_MAX));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    const PING: u8 = 0x6;

    fn frame(kind: u8, length: u8) -> Vec<u8> {
        let mut frame = vec![0, 0, length, kind, 0, 0, 0, 0, 0];
        frame.extend(vec![0xff; usize::from(length)]);
        frame
    }

    /// How many of a frame pass, each after so long, before the connection ends; at most so many.
    fn passing(frame: &[u8], after: Duration, most: usize) -> usize {
        let begun = Instant::now();
        let mut frames = Frames::new(begun);
        assert!(frames.read(PREFACE, begun));
        let times = std::iter::successors(Some(begun), |now| Some(*now + after));
        times.take(most).take_while(|now| frames.read(frame, *now)).count()
    }

    #[test]
    fn a_flood_of_frames_without_content_ends_and_a_steady_few_do_not() {
        let burst = EMPTY_FRAMES_BURST_MAX as usize;
        assert_eq!(passing(&frame(PING, 8), Duration::ZERO, 2 * burst), burst - 1);
        assert_eq!(passing(&frame(DATA, 0), Duration::ZERO, 2 * burst), burst - 1);
        assert_eq!(passing(&frame(RESET, 4), Duration::ZERO, burst), burst / RESET_COUNTS_AS as usize - 1);
        assert_eq!(passing(&frame(PING, 8), Duration::from_millis(2), 4 * burst), 4 * burst);
    }

    #[test]
    fn frames_with_content_are_never_too_many_and_make_room_for_others() {
        let burst = EMPTY_FRAMES_BURST_MAX as usize;
        assert_eq!(passing(&frame(DATA, 5), Duration::ZERO, 4 * burst), 4 * burst);
        let mixed = [frame(DATA, 5), frame(PING, 8), frame(PING, 8)].concat();
        assert_eq!(passing(&mixed, Duration::ZERO, 4 * burst), 4 * burst);
    }

    #[test]
    fn frames_are_told_apart_wherever_the_bytes_are_cut() {
        let begun = Instant::now();
        let all: Vec<u8> = [PREFACE.to_vec(), frame(PING, 8), frame(DATA, 200), frame(RESET, 4)].concat();
        for cut in 1..all.len() {
            let mut frames = Frames::new(begun);
            frames.room = 100.0;
            let (one, other) = all.split_at(cut);
            assert!(frames.read(one, begun) && frames.read(other, begun));
            assert_eq!(frames.room, 100.0 - 1.0 + 2.0 - f64::from(RESET_COUNTS_AS), "cut at {cut}");
        }
    }

    #[test]
    fn other_protocols_are_not_looked_at() {
        let mut frames = Frames::new(Instant::now());
        for _ in 0..3 * EMPTY_FRAMES_BURST_MAX {
            assert!(frames.read(b"PRI * HTTP/1.1\r\n\0\0\0\x06\0\0\0\0\0", frames.since));
        }
    }
}
