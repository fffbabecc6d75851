//! Asking for a PIN: at a terminal right after a decision that has to be signed, and by `as CODE --pin`.

use super::commands::Bay;
use super::fake::{Fake, PIN};
use crate::cli::{Exit, Input, Keys};
use std::collections::VecDeque;

/// Somebody at a terminal who types these, one after the other, and what they were asked.
#[derive(Default)]
struct Person {
    types: VecDeque<&'static str>,
    /// Lines that are typed where they are shown.
    lines: VecDeque<&'static str>,
    asked: Vec<String>,
}

impl Person {
    fn who_types(types: &[&'static str]) -> Self {
        Self { types: types.iter().copied().collect(), ..Self::default() }
    }
}

impl Keys for Person {
    fn begin(&mut self) -> std::io::Result<bool> {
        Ok(false)
    }

    fn next(&mut self) -> std::io::Result<Input> {
        Ok(self.lines.pop_front().map_or(Input::Closed, |line| Input::Line(line.to_owned())))
    }

    fn end(&mut self) {}

    fn is_terminal(&self) -> bool {
        true
    }

    fn hidden(&mut self, question: &str) -> std::io::Result<String> {
        self.asked.push(question.to_owned());
        Ok(self.types.pop_front().unwrap_or_default().to_owned())
    }
}

const DECIDE: &[&str] = &["add", "decision", "--point", "no-rule", "--reason", "looked up"];

fn at_work(signing: bool) -> (Fake, Bay) {
    let shop = Fake::start();
    shop.shop().wants_decisions_signed = signing;
    let bay = Bay::joined(&shop);
    assert_eq!(bay.say(&["open", "TW 4711"]).exit, Exit::Done);
    (shop, bay)
}

#[test]
fn a_decision_that_has_to_be_signed_asks_for_the_pin_at_once() {
    let (shop, bay) = at_work(true);
    let mut person = Person::who_types(&[PIN]);
    let told = bay.press(DECIDE, &mut person);
    assert_eq!(told.exit, Exit::Done, "{}", told.err);
    assert_eq!(person.asked, ["It has to be signed. PIN of A, or Enter to sign it later: "]);
    assert!(told.out.ends_with("> A signed it\n"), "{}", told.out);
    let signed = shop.shop().signed.clone();
    assert_eq!(signed.len(), 1);
    assert_eq!(signed[0].entry_ids, shop.shop().ids()[1..], "this decision alone");
    assert_eq!(signed[0].person_code, "A");
}

#[test]
fn enter_signs_later_and_a_wrong_pin_undoes_nothing() {
    let (shop, bay) = at_work(true);
    let later = "> it counts once A signed it: standpipe as A --pin\n";
    for (typed, says) in [("", ""), ("11111", "the PIN is not the person's"), ("817", "4 to 12 digits")] {
        let told = bay.press(DECIDE, &mut Person::who_types(&[typed]));
        assert_eq!(told.exit, Exit::Done, "the decision is at the server: {}", told.err);
        assert!(told.out.ends_with(later), "{}", told.out);
        assert!(told.err.contains(says) && (typed.is_empty() || !told.err.contains(typed)), "{}", told.err);
    }
    assert!(shop.shop().signed.is_empty());
    assert_eq!(shop.shop().journal.len(), 4);
}

#[test]
fn a_mistyped_pin_is_asked_for_again_three_times_in_all() {
    let (shop, bay) = at_work(true);
    let mut person = Person::who_types(&["11111", "817", PIN]);
    let told = bay.press(DECIDE, &mut person);
    assert!(told.out.ends_with("> A signed it\n") && told.err.is_empty(), "{} {}", told.out, told.err);
    assert!(person.asked.len() == 3 && person.asked[1].contains("the PIN is not the person's"));
    let mut person = Person::who_types(&["11111", "22222", "33333", PIN]);
    let told = bay.press(DECIDE, &mut person);
    assert_eq!((person.asked.len(), shop.shop().signed.len()), (3, 1), "{}", told.out);
}

#[test]
fn stopping_a_job_asks_for_the_pin_of_its_decision() {
    let (shop, bay) = at_work(true);
    shop.shop().steps = super::steps::normal_job();
    let mut person = Person::who_types(&[PIN]);
    person.lines = [".x", "6", "4", "1"].into();
    let told = bay.press(&["next"], &mut person);
    assert_eq!(person.asked.len(), 1, "{}", told.out);
    assert!(told.out.contains("; A signed it\n"), "{}", told.out);
    let stated = shop.shop().ids();
    // The arrival, the decision, the closing; the decision alone is signed.
    assert_eq!((stated.len(), shop.shop().signed[0].entry_ids.as_slice()), (3, &stated[1..2]));
}

#[test]
fn nobody_is_asked_without_a_terminal_or_without_need() {
    let (_shop, bay) = at_work(true);
    let told = bay.say(DECIDE);
    assert!(told.out.ends_with("standpipe as A --pin\n"), "{}", told.out);
    let (_shop, bay) = at_work(false);
    let mut person = Person::default();
    let told = bay.press(DECIDE, &mut person);
    assert!(person.asked.is_empty() && !told.out.contains("--pin"), "{}", told.out);
    let json = bay.json(DECIDE);
    assert_eq!(json["signature_needed"], false);
}

#[test]
fn as_with_pin_signs_what_waits_in_the_job_in_use() {
    let (shop, bay) = at_work(true);
    let mut person = Person::who_types(&[PIN, "11111"]);
    let told = bay.press(&["as", "A", "--pin"], &mut person);
    assert_eq!((told.exit, person.asked.as_slice()), (Exit::Done, &["PIN of A: ".to_owned()][..]));
    assert!(told.out.contains("nothing of A waits to be signed in this job"), "{}", told.out);
    assert!(shop.shop().signed[0].entry_ids.is_empty(), "all that waits is the server's to say");
    let told = bay.press(&["as", "A", "--pin"], &mut person);
    assert_eq!(told.exit, Exit::NotPermitted, "{}", told.err);
    assert!(!told.err.contains("11111"), "{}", told.err);
}

#[test]
fn without_a_job_in_use_there_is_nothing_to_sign() {
    let shop = Fake::start();
    let bay = Bay::joined(&shop);
    let mut person = Person::who_types(&[PIN]);
    let told = bay.press(&["as", "A", "--pin"], &mut person);
    assert_eq!(told.exit, Exit::Usage, "{}", told.err);
    assert!(person.asked.is_empty(), "nobody types a PIN for nothing");
}
