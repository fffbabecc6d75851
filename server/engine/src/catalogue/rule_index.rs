//! An index of all VIN rules, so that tens of thousands are asked in microseconds.
//!
//! For each place and each character of it there is a row with a bit for every rule that allows the character there;
//! serial numbers have rows by blocks. The rows of a VIN's characters, and-ed together, leave the rules that fit,
//! and a few more where a window ends inside a block: the rules themselves have the last word. The cost does not depend
//! on how the rules are written. Never here: what the answer means. The revision makes it and asks it.

use super::vin_rule::{ANY, VinRule, may_meet};
use crate::formula::vin::{ALPHABET, LENGTH, Vin};

/// Characters of a place.
const CHARACTERS: usize = 33;
/// Blocks of serial numbers.
const BLOCKS: usize = 64;
/// Serial numbers of a block.
const BLOCK_SERIALS: u32 = 15_625;
/// A window over more blocks than this is not worth a look at their rows.
const BLOCKS_WORTH: usize = 8;

/// Rules of one row, 64 a word.
type Row = Vec<u64>;

/// See the module head.
#[derive(Clone, Debug, PartialEq, Default)]
pub(super) struct RuleIndex {
    words: usize,
    /// By place, then by character.
    characters: Vec<Row>,
    /// By block: rules that allow a serial number of it.
    blocks: Vec<Row>,
    /// Rules without a window.
    without_window: Row,
}

impl RuleIndex {
    /// The index of some rules, which are numbered in their order.
    pub(super) fn of<'a>(rules: impl ExactSizeIterator<Item = &'a VinRule>) -> Self {
        let words = rules.len().div_ceil(64);
        let mut index = Self {
            words,
            characters: vec![vec![0; words]; LENGTH * CHARACTERS],
            blocks: vec![vec![0; words]; BLOCKS],
            without_window: vec![0; words],
        };
        for (number, rule) in rules.enumerate() {
            let set = |row: &mut Row| {
                if let Some(word) = row.get_mut(number / 64) {
                    *word |= 1 << (number % 64);
                }
            };
            for (places, rows) in
                rule.pattern.places().iter().zip(index.characters.chunks_exact_mut(CHARACTERS))
            {
                rows.iter_mut()
                    .enumerate()
                    .filter(|(at, _)| places & (1 << at) != 0)
                    .for_each(|(_, row)| set(row));
            }
            let (from, to) = blocks(rule);
            index.blocks.iter_mut().take(to + 1).skip(from).for_each(set);
            if rule.serial.is_none() {
                set(&mut index.without_window);
            }
        }
        index
    }

    /// Numbers of the rules that may fit a VIN, rising; every rule that fits is among them.
    pub(super) fn may_fit(&self, vin: &Vin) -> Vec<usize> {
        let places = self.characters.chunks_exact(CHARACTERS).zip(vin.as_str().chars());
        let serial = vin.serial().and_then(|serial| self.blocks.get(block(serial)));
        let rows: Vec<&Row> = places
            .filter_map(|(rows, character)| rows.get(ALPHABET.find(character)?))
            .chain([serial.unwrap_or(&self.without_window)])
            .collect();
        let word =
            |at: usize| rows.iter().fold(u64::MAX, |left, row| left & row.get(at).copied().unwrap_or(0));
        (0..self.words).flat_map(|at| numbers(at, word(at))).collect()
    }

    /// The rules behind number `after` that some VIN fits together with a rule, by their places and windows.
    pub(super) fn meeting<'a>(
        &'a self,
        rules: &'a [&'a VinRule],
        rule: &'a VinRule,
        after: Option<usize>,
    ) -> impl Iterator<Item = (usize, &'a VinRule)> {
        let first = after.map_or(0, |after| after + 1);
        let wanted = self.allowing(rule);
        let word = move |at: usize| {
            let mut left = u64::MAX;
            for rows in &wanted {
                left &= rows.iter().fold(0, |any, row| any | row.get(at).copied().unwrap_or(0));
                if left == 0 {
                    break;
                }
            }
            left
        };
        (first / 64..self.words)
            .flat_map(move |at| numbers(at, word(at)))
            .skip_while(move |number| *number < first)
            .filter_map(|number| rules.get(number).map(|other| (number, *other)))
            .filter(|(_, other)| may_meet(rule, other))
    }

    /// What another rule must allow to meet this one: one row of each of these. Few rows come first, which leave least.
    fn allowing(&self, rule: &VinRule) -> Vec<Vec<&Row>> {
        let places = rule.pattern.places().iter().zip(self.characters.chunks_exact(CHARACTERS));
        let mut wanted: Vec<Vec<&Row>> = places
            .filter(|(place, _)| **place != ANY)
            .map(|(place, rows)| {
                rows.iter().enumerate().filter(|(at, _)| place & (1 << at) != 0).map(|(_, row)| row).collect()
            })
            .collect();
        let (from, to) = blocks(rule);
        if to - from < BLOCKS_WORTH {
            wanted.push(self.blocks.iter().take(to + 1).skip(from).collect());
        }
        wanted.sort_by_key(Vec::len);
        wanted
    }
}

fn block(serial: u32) -> usize {
    usize::try_from(serial / BLOCK_SERIALS).unwrap_or(BLOCKS).min(BLOCKS - 1)
}

/// First and last block of a rule's window.
fn blocks(rule: &VinRule) -> (usize, usize) {
    let (from, to) = rule.window();
    (block(from), block(to))
}

/// Numbers of the bits of a word.
fn numbers(at: usize, mut word: u64) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let bit = usize::try_from(word.trailing_zeros()).ok().filter(|bit| *bit < 64)?;
        word &= word - 1;
        Some(at * 64 + bit)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::vin_rule::{Pattern, fitting, overlap};
    use proptest::prelude::*;

    /// Places that make rules meet and miss each other often.
    fn place() -> impl Strategy<Value = String> {
        prop_oneof![
            12 => Just("*".to_owned()),
            3 => "[AB]",
            2 => Just("[A-C]".to_owned()),
            1 => Just("[B1-3]".to_owned()),
        ]
    }

    fn rules() -> impl Strategy<Value = Vec<VinRule>> {
        let tail = prop::sample::select(vec!["******", "A*****", "[0-4][0-4]****"]);
        let serial = prop::option::of((0_u32..1_000_000, prop_oneof![0_u32..20_000, 0_u32..600_000]));
        let rule = (prop::collection::vec(place(), 11), tail, serial, 0_u8..4);
        prop::collection::vec(rule, 0..150).prop_map(|rules| {
            let rules = rules.into_iter().enumerate();
            rules
                .map(|(number, (head, tail, serial, variant))| {
                    one(number, &(head.concat() + tail), serial, variant)
                })
                .collect()
        })
    }

    fn one(number: usize, pattern: &str, serial: Option<(u32, u32)>, variant: u8) -> VinRule {
        VinRule {
            code: format!("rule {number}"),
            variant: format!("variant {variant}"),
            pattern: Pattern::parse(pattern).unwrap(),
            serial: serial.map(|(from, span)| (from, (from + span).min(999_999))),
            source: "test".to_owned(),
            edition: "1".to_owned(),
            entered_by: "test".to_owned(),
        }
    }

    /// Codes of the rules that fit by the index, in the order of the rules.
    fn by_index<'a>(rules: &'a [VinRule], vin: &Vin) -> Vec<&'a str> {
        let index = RuleIndex::of(rules.iter());
        let fits = index.may_fit(vin).into_iter().filter_map(|number| rules.get(number));
        fits.filter(|rule| rule.fits(vin)).map(|rule| rule.code.as_str()).collect()
    }

    proptest! {
        // Each case asks every pair of up to 150 rules.
        #![proptest_config(ProptestConfig::with_cases(96))]

        #[test]
        fn the_index_finds_what_the_plain_loop_finds_in_any_order_of_the_rules(
            (rules, turned) in rules().prop_flat_map(|rules| (Just(rules.clone()), Just(rules).prop_shuffle())),
            head in "[A-C1-3]{11}",
            serial in prop_oneof!["[0-9]{6}", "A[0-9]{5}"],
        ) {
            let vin = Vin::from_exact(&format!("{head}{serial}")).unwrap();
            let plain: Vec<&str> = fitting(&rules, &vin).rules.iter().map(|rule| rule.code.as_str()).collect();
            prop_assert_eq!(by_index(&rules, &vin), plain.clone());
            let mut other = by_index(&turned, &vin);
            prop_assert_eq!(&other, &fitting(&turned, &vin).rules.iter().map(|rule| rule.code.as_str()).collect::<Vec<_>>());
            other.sort_unstable();
            let mut plain = plain;
            plain.sort_unstable();
            prop_assert_eq!(other, plain);
            prop_assert_eq!(fitting(&rules, &vin).variants, fitting(&turned, &vin).variants);
        }

        #[test]
        fn the_index_finds_every_pair_of_rules_that_the_plain_loop_finds(rules in rules()) {
            let all: Vec<&VinRule> = rules.iter().collect();
            let index = RuleIndex::of(rules.iter());
            for (at, rule) in all.iter().enumerate() {
                let plain: Vec<usize> =
                    (at + 1..all.len()).filter(|other| overlap(rule, all[*other]).is_some()).collect();
                let found: Vec<usize> = index
                    .meeting(&all, rule, Some(at))
                    .filter(|(_, other)| overlap(rule, other).is_some())
                    .map(|(number, _)| number)
                    .collect();
                prop_assert_eq!(found, plain);
            }
        }
    }
}
