//! Bytes and their times as keys or as one text.

use super::*;

/// What bytes mean that come so many milliseconds apart, and then nothing more.
fn apart(bytes: &str, milliseconds: u64) -> Vec<Input> {
    let mut bursts = Bursts::default();
    let mut inputs = Vec::new();
    for (count, byte) in (1..).zip(bytes.bytes()) {
        inputs.extend(bursts.byte(byte, Duration::from_millis(count * milliseconds)));
    }
    inputs.extend(bursts.quiet());
    inputs
}

fn pressed(keys: &str) -> Vec<Input> {
    let key = |sign| Input::Key(if sign == '\r' { Key::Enter } else { Key::Sign(sign) });
    keys.chars().map(key).collect()
}

#[test]
fn what_comes_at_once_with_its_end_is_one_text() {
    for milliseconds in [0, 1, 40] {
        assert_eq!(apart("LN-847\r", milliseconds), [Input::Text("LN-847".into())]);
    }
    assert_eq!(apart("LN-847\r\n", 1), [Input::Text("LN-847".into())]);
    assert_eq!(apart("LN-847\rF8-20\r", 0), [Input::Text("LN-847".into()), Input::Text("F8-20".into())]);
    assert_eq!(apart("Öl-1\r", 0), [Input::Text("Öl-1".into())]);
}

#[test]
fn what_a_hand_types_is_keys() {
    assert_eq!(apart("LN-847\r", 41), pressed("LN-847\r"));
    // Without an end, without a letter, or too short: keys, however fast they came.
    for keys in ["LN-847", "b", "l", "3.05\r", "3\r", "11l1", "1\r2\r", "l2k\r", "\r", "   l\r"] {
        assert_eq!(apart(keys, 0), pressed(keys), "{keys}");
    }
}

#[test]
fn a_sequence_of_one_key_and_what_is_no_character_are_neither() {
    assert_eq!(apart("\u{1b}[A1", 0), pressed("1"));
    assert_eq!(apart("\u{1b}", 0), []);
    assert_eq!(apart("abc\u{3}", 0).last(), Some(&Input::Key(Key::Interrupt)));
    assert_eq!(apart("abcd\u{8}\r", 0).len(), 6);
    assert_eq!(apart("\u{4}", 0), [Input::Closed]);
    let mut bursts = Bursts::default();
    assert_eq!(bursts.byte(0xFF, Duration::ZERO), []);
    assert_eq!(bursts.quiet(), []);
}

#[test]
fn keys_are_not_held_back_longer_than_a_label_is() {
    assert_eq!(apart(&"a".repeat(2000), 0).len(), 2000);
}
