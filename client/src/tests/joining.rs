//! What is typed to join, and what is said of clocks.

use super::*;
use standpipe_proto::join::authority_digest;

fn code() -> String {
    JoinCode::new(0x0003_1415_9265_3589, authority_digest(b"a certificate")).to_string()
}

#[test]
fn a_code_is_told_from_a_token_and_a_token_stays_on_this_machine() {
    let (code, token) = (code(), "0f".repeat(32));
    let apart = code.replace('-', " ");
    for typed in [&code, &apart, &code.to_lowercase()] {
        assert_eq!(Shown::read("shop.lan", typed).unwrap(), Shown::Code(typed.to_string()));
        assert_eq!(Shown::read("127.0.0.1:7000", typed).unwrap(), Shown::Code(typed.to_string()));
    }
    assert_eq!(Shown::read("127.0.0.1:7000", &format!(" {token}\n")).unwrap(), Shown::Token(token.clone()));
    let elsewhere = Shown::read("192.0.2.7:7000", &token).unwrap_err();
    assert!(matches!(elsewhere, ClientError::NotHere { .. }), "{elsewhere}");
    assert!(matches!(Shown::read("not an address", &token), Err(ClientError::Dial(_))));
}

#[test]
fn a_code_with_a_mistake_is_told_before_anything_is_sent() {
    let code = code();
    let other = if code.starts_with('Z') { "Y" } else { "Z" };
    for (typed, said) in [
        (format!("{other}{}", &code[1..]), "copied with a mistake"),
        (code[..code.len() - 1].to_owned(), "28 letters and digits"),
        (format!("{code}A"), "28 letters and digits"),
        ("4GK2".to_owned(), "28 letters and digits"),
    ] {
        let sentence = Shown::read("shop.lan", &typed).unwrap_err().to_string();
        assert!(sentence.contains(said) && sentence.contains("nothing was sent"), "{typed}: {sentence}");
    }
    let sentence = Shown::read("127.0.0.1:7000", &code[..code.len() - 1]).unwrap_err().to_string();
    assert!(sentence.contains("28 letters and digits"), "{sentence}");
}

#[test]
fn clocks_that_differ_are_told_with_side_and_size() {
    for close in [-5, 0, 5] {
        assert_eq!(clock_sentence(close), None);
    }
    for (ahead, said) in [
        (6, "6 s ahead of"),
        (-6, "6 s behind"),
        (119, "119 s ahead"),
        (120, "2 min ahead"),
        (-7_200, "2 h behind"),
        (172_800, "2 days ahead"),
        (-315_360_000, "3650 days behind"),
    ] {
        let sentence = clock_sentence(ahead).unwrap();
        assert!(sentence.contains(said) && sentence.contains("set the clock"), "{ahead}: {sentence}");
    }
}
