//! What stands in the boxes of a form, as the fields of a message.
//!
//! Numbers are typed with a decimal comma or point and may carry another unit of their quantity; what was typed is kept
//! beside the value. Never here: a bound.

use super::super::guard::Filled;
use super::super::trouble::capital;
use super::unit_of;
use crate::office::language::say;
use jiff::civil::Date;
use standpipe_proto::check::Violation;
use standpipe_proto::typed::{self, Quantity, TypedError};
use standpipe_proto::v1::AsTyped;
use std::collections::BTreeMap;

/// Characters of a day like 2026-01-31.
const DAY_LENGTH: usize = 10;

/// What is wrong: a sentence for each box, and sentences that are about none.
#[derive(Debug, Default)]
pub(in crate::office) struct Wrong {
    boxes: BTreeMap<String, String>,
    pub(in crate::office) others: Vec<String>,
}

impl Wrong {
    pub(in crate::office) fn is_empty(&self) -> bool {
        self.boxes.is_empty() && self.others.is_empty()
    }

    /// What is wrong with a box.
    pub(in crate::office) fn of(&self, name: &str) -> Option<&str> {
        self.boxes.get(name).map(String::as_str)
    }

    /// Notes the first thing that is wrong with a box.
    pub(in crate::office) fn say(&mut self, name: &str, what: String) {
        self.boxes.entry(name.to_owned()).or_insert(what);
    }
}

/// Reads the boxes of one form.
pub(super) struct Reader<'a> {
    filled: &'a Filled,
    kind: &'static str,
    choices: &'static [(&'static str, &'static str)],
    pub(super) wrong: Wrong,
    pub(super) as_typed: Vec<AsTyped>,
    /// For lists: the box that each item of the message was read from.
    pub(super) items: Vec<usize>,
}

impl<'a> Reader<'a> {
    pub(super) fn new(
        filled: &'a Filled,
        kind: &'static str,
        choices: &'static [(&'static str, &'static str)],
    ) -> Self {
        let (wrong, as_typed, items) = (Wrong::default(), Vec::new(), Vec::new());
        Self { filled, kind, choices, wrong, as_typed, items }
    }

    /// A code or words.
    pub(super) fn text(&self, name: &str) -> String {
        self.filled.text(name).to_owned()
    }

    /// Whether anything stands in a box.
    pub(super) fn has(&self, name: &str) -> bool {
        !self.filled.text(name).is_empty()
    }

    /// One of a few words, as the number of the message.
    pub(super) fn choice<E: Into<i32>>(&self, name: &str, known: impl Fn(&str) -> Option<E>) -> i32 {
        known(self.filled.text(name)).map_or(0, Into::into)
    }

    /// A number in the unit of its field; nothing where the box is empty or cannot be read, which is noted.
    pub(super) fn number(&mut self, name: &str, quantity: Quantity) -> Option<f64> {
        let typed = self.filled.text(name);
        if typed.is_empty() {
            return None;
        }
        let (text, read) = match typed::read(typed, quantity) {
            Err(TypedError::NoUnit { .. }) => {
                let with_unit = format!("{typed} {}", unit_of(quantity));
                let read = typed::read(&with_unit, quantity);
                (with_unit, read)
            }
            read => (typed.to_owned(), read),
        };
        match read {
            Ok(read) => {
                // Of an item of a list the list is named, as the stations do.
                let field = name.split('[').next().unwrap_or(name).to_owned();
                self.as_typed.push(AsTyped { field, text });
                Some(read.value)
            }
            Err(told) => {
                self.wrong.say(name, capital(&format!("{told}.")));
                None
            }
        }
    }

    /// A count.
    pub(super) fn count(&mut self, name: &str) -> Option<i32> {
        let typed = self.filled.text(name);
        if typed.is_empty() {
            return None;
        }
        let count = typed.parse().ok();
        match count {
            Some(_) => self.as_typed.push(AsTyped { field: name.to_owned(), text: typed.to_owned() }),
            None => self.wrong.say(name, say!(page_is_no_whole_number_write_for, typed)),
        }
        count
    }

    /// A day, as it is written in the message; empty where the box is empty or holds no day, which is noted.
    pub(super) fn day(&mut self, name: &str) -> String {
        let typed = self.filled.text(name);
        let is_day = typed.len() == DAY_LENGTH && typed.parse::<Date>().is_ok();
        if typed.is_empty() || is_day {
            return typed.to_owned();
        }
        self.wrong.say(name, say!(page_is_no_day_write_it_as, typed));
        String::new()
    }

    /// The number of a lot that cannot be left out.
    pub(super) fn lot(&mut self, name: &str) -> String {
        if !self.has(name) {
            self.wrong.say(name, say!(page_this_is_missing_write_the_lot));
        }
        self.text(name)
    }

    /// Says so where more than one of these boxes is filled in.
    pub(super) fn only_one(&mut self, names: &[&str]) {
        let filled: Vec<&&str> = names.iter().filter(|name| self.has(name)).skip(1).collect();
        for name in filled {
            self.wrong.say(name, say!(page_only_one_of_these_boxes_can));
        }
    }

    /// Puts what the bounds found beside the boxes.
    pub(super) fn note(&mut self, found: Vec<Violation>) {
        for Violation { field, what } in found {
            let sentence = sentence(&what);
            let within = field.trim_start_matches("fact.").strip_prefix(self.kind);
            let Some(name) = within.and_then(|rest| rest.strip_prefix('.')) else {
                self.wrong.others.push(format!("{field}: {what}."));
                continue;
            };
            let choice = self.choices.iter().find(|(choice, _)| *choice == name);
            let name = choice.map_or_else(|| self.box_of(name), |(_, first)| (*first).to_owned());
            self.wrong.say(&name, sentence);
        }
    }

    /// The box of a field: for a list, the one that the item was read from.
    fn box_of(&self, field: &str) -> String {
        let parts = field.split_once('[').and_then(|(list, rest)| Some((list, rest.split_once(']')?)));
        let Some((list, (item, rest))) = parts else { return field.to_owned() };
        let place = item.parse::<usize>().ok().and_then(|item| self.items.get(item));
        place.map_or_else(|| field.to_owned(), |place| format!("{list}[{place}]{rest}"))
    }
}

/// What the bounds say, as a sentence beside a box.
fn sentence(what: &str) -> String {
    let what = what.trim_end_matches('.');
    let of_the_box = ["is ", "has ", "must ", "needs "].iter().any(|verb| what.starts_with(verb));
    if of_the_box { say!(page_wrong_box, what) } else { capital(&format!("{what}.")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reader(filled: &Filled) -> Reader<'_> {
        Reader::new(filled, "stock_counted", &[("amount", "volume_litres")])
    }

    #[test]
    fn a_number_is_typed_with_comma_or_point_and_keeps_what_was_typed() {
        for (typed, value, kept) in
            [("12,5", 12.5, "12,5 L"), ("12.5 l", 12.5, "12.5 l"), ("2 qt", 1.892_705_892, "2 qt")]
        {
            let filled = Filled::of(&[("volume_litres", typed)]);
            let mut reader = reader(&filled);
            assert_eq!(reader.number("volume_litres", Quantity::Volume), Some(value));
            let kept = AsTyped { field: "volume_litres".to_owned(), text: kept.to_owned() };
            assert_eq!(reader.as_typed, [kept]);
        }
        let filled = Filled::of(&[("volume_litres", "12 kg")]);
        let mut reader = reader(&filled);
        assert_eq!(reader.number("volume_litres", Quantity::Volume), None);
        assert!(reader.wrong.of("volume_litres").unwrap().contains("is no unit for this"));
    }

    #[test]
    fn what_is_wrong_with_a_choice_or_an_item_of_a_list_stands_beside_its_box() {
        let filled = Filled::of(&[]);
        let mut reader = reader(&filled);
        reader.items = vec![0, 3];
        let wrong = |field: &str| Violation { field: field.to_owned(), what: "is missing".to_owned() };
        reader.note(vec![
            wrong("fact.stock_counted.amount"),
            wrong("stock_counted.torques[1].shown_newton_metres"),
            wrong("header.person_code"),
        ]);
        assert_eq!(reader.wrong.of("volume_litres"), Some("This is missing."));
        assert!(reader.wrong.of("torques[3].shown_newton_metres").is_some());
        assert_eq!(reader.wrong.others, ["header.person_code: is missing."]);
    }
}
