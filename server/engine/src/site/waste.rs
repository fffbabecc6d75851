//! The register of waste: what each job and each rinse made, what was collected, what is held.
//!
//! Chronological lines with litres, kilograms and the density between them; sums are exact. A code is compared without
//! spaces and without the star that marks it as hazardous. Never here: which code a kind of waste has, which is a
//! setting, or how the register is printed.
//!
//! Sources: Decision 2000/532/EC (list of waste); Directive 2008/98/EC, Articles 18 (mixing ban), 21 (waste oils) and
//! 35 (what a register holds), the articles from memory.

use super::exact::{Exact, Unit};
use crate::text::{Sentence, number, sentence};
use jiff::civil::Date;
use std::collections::BTreeMap;
use std::ops::Range;

/// What was put into a container.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Day at the site.
    pub date: Date,
    /// Place in the journal.
    pub seq: u64,
    /// Identity of the job; absent for a rinse of equipment.
    pub job_id: Option<String>,
    /// Printed number of the job; empty for a rinse of equipment.
    pub job: String,
    /// Code of the waste; where no code is set, what it is.
    pub code: String,
    /// What it is, as a word of the kind; empty if it is not known.
    pub what: String,
    /// Litres, where it was measured so.
    pub litres: Option<Exact>,
    /// Pieces, where they were counted.
    pub pieces: Option<Exact>,
    /// Kilograms, weighed or computed from the litres.
    pub kilograms: Option<Exact>,
    /// Density that they were computed with, in kg/L.
    pub density: Option<f64>,
    /// The container, as marked; empty if there is only one.
    pub container: String,
    /// Person code.
    pub person: String,
}

/// What a carrier took.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Collection {
    /// Day at the site.
    pub date: Date,
    /// Place in the journal.
    pub seq: u64,
    /// Code of the waste.
    pub code: String,
    /// Kilograms.
    pub kilograms: Exact,
    /// Who took it.
    pub carrier: String,
    /// Number of the document.
    pub document: String,
    /// Where it goes; empty if not noted.
    pub destination: String,
    /// The container, as marked; empty if there is only one.
    pub container: String,
    /// Person code.
    pub person: String,
}

/// All lines and collections of a site, in the order of their days.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Register {
    lines: Vec<Line>,
    collections: Vec<Collection>,
}

/// Two kinds of waste in one container.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mixed {
    /// The container.
    pub container: String,
    /// Code of what was in it.
    pub held: String,
    /// Code of what was put to it.
    pub added: String,
    /// Place in the journal of the line that was put to it.
    pub seq: u64,
}

/// Brake fluid (Decision 2000/532/EC).
const BRAKE_FLUID: &str = "160113";
/// Used engine, gear and lubricating oils.
const USED_OIL: &str = "1302";
/// Insulating and heat-transmission oils, which gearbox oil is not.
const HEAT_TRANSMISSION_OIL: &str = "1303";

impl Register {
    /// Puts lines and collections in order.
    #[must_use]
    pub fn new(mut lines: Vec<Line>, mut collections: Vec<Collection>) -> Self {
        lines.sort_by_key(|line| (line.date, line.seq));
        collections.sort_by_key(|collection| (collection.date, collection.seq));
        Self { lines, collections }
    }

    /// Lines of some days, from the first day on and before the last.
    pub fn lines(&self, days: &Range<Date>) -> impl Iterator<Item = &Line> {
        self.lines.iter().filter(|line| days.contains(&line.date))
    }

    /// Collections of some days, from the first day on and before the last.
    pub fn collections(&self, days: &Range<Date>) -> impl Iterator<Item = &Collection> {
        self.collections.iter().filter(|collection| days.contains(&collection.date))
    }

    /// Every code that came up before a day, each as it was written first.
    #[must_use]
    pub fn codes(&self, before: Date) -> Vec<&str> {
        let days = Date::MIN..before;
        let lines = self.lines(&days).map(|line| line.code.as_str());
        let mut codes: Vec<&str> = Vec::new();
        for code in lines.chain(self.collections(&days).map(|collection| collection.code.as_str())) {
            if !codes.iter().any(|known| same_waste(known, code)) {
                codes.push(code);
            }
        }
        codes.sort_unstable();
        codes
    }

    /// Kilograms that were put into containers.
    #[must_use]
    pub fn generated(&self, code: &str, days: &Range<Date>) -> Exact {
        let lines = self.lines(days).filter(|line| same_waste(&line.code, code));
        lines.filter_map(|line| line.kilograms).sum()
    }

    /// Pieces that were counted and not weighed.
    #[must_use]
    pub fn unweighed(&self, code: &str, days: &Range<Date>) -> Exact {
        let lines = self.lines(days).filter(|line| same_waste(&line.code, code));
        lines.filter(|line| line.kilograms.is_none()).filter_map(|line| line.pieces).sum()
    }

    /// Kilograms that were collected.
    #[must_use]
    pub fn collected(&self, code: &str, days: &Range<Date>) -> Exact {
        let collections = self.collections(days).filter(|collection| same_waste(&collection.code, code));
        collections.map(|collection| collection.kilograms).sum()
    }

    /// Kilograms held when a day begins: all that was generated less all that was collected.
    #[must_use]
    pub fn held(&self, code: &str, before: Date) -> Exact {
        let days = Date::MIN..before;
        self.generated(code, &days) - self.collected(code, &days)
    }

    /// What the waste under a code is, as the word of its kind; absent where no line has it.
    #[must_use]
    pub fn what(&self, code: &str) -> Option<&str> {
        let mut lines =
            self.lines.iter().filter(|line| same_waste(&line.code, code) && !line.what.is_empty());
        lines.next().map(|line| line.what.as_str())
    }

    /// Lines of some days by which unlike waste came together in a container. A collection empties it; where no
    /// container is named nothing can be said.
    #[must_use]
    pub fn mixed(&self, days: &Range<Date>) -> Vec<Mixed> {
        let mut mixed: Vec<Mixed> = Vec::new();
        let mut inside: BTreeMap<String, Vec<&str>> = BTreeMap::new();
        let mut taken = self.collections.iter().peekable();
        for line in self.lines.iter().filter(|line| line.date < days.end && !line.container.is_empty()) {
            let earlier = |it: &&Collection| (it.date, it.seq) < (line.date, line.seq);
            while let Some(collection) = taken.next_if(earlier) {
                inside.remove(&marked(&collection.container));
            }
            let held = inside.entry(marked(&line.container)).or_default();
            for other in held.iter().filter(|held| !same_waste(held, &line.code)) {
                let (held, added) = ((*other).to_owned(), line.code.clone());
                let pair = Mixed { container: line.container.clone(), held, added, seq: line.seq };
                if days.contains(&line.date) && !mixed.iter().any(|known| known.said() == pair.said()) {
                    mixed.push(pair);
                }
            }
            if !held.iter().any(|held| same_waste(held, &line.code)) {
                held.push(&line.code);
            }
        }
        mixed
    }

    /// What somebody should see to in some days: below zero at their end, mixed, or under a code that is not for gearbox
    /// oil. Where no codes are set, a carrier's code that no line has says nothing of what is held.
    #[must_use]
    pub fn warnings(&self, days: &Range<Date>, are_codes_set: bool) -> Vec<Sentence> {
        let codes = self.codes(days.end);
        let known = |code: &&str| are_codes_set || self.lines.iter().any(|line| same_waste(&line.code, code));
        let short = codes.iter().copied().filter(known).map(|code| (code, self.held(code, days.end)));
        let short = short.filter(|(_, held)| held.is_negative());
        let kilograms = |held: Exact| {
            let unit = Unit::Kilograms;
            number::with_unit(&held.magnitude().shown(unit), unit.word())
        };
        let mut warnings: Vec<Sentence> =
            short.map(|(code, held)| sentence::waste_held_below(code, kilograms(held))).collect();
        warnings.extend(self.mixed(days).iter().map(Mixed::said));
        let used = |code: &str| {
            let lines = self.lines(days).map(|line| line.code.as_str());
            let taken = self.collections(days).map(|collection| collection.code.as_str());
            lines.chain(taken).any(|known| same_waste(known, code))
        };
        let wrong = codes.iter().filter(|code| plain(code).starts_with(HEAT_TRANSMISSION_OIL) && used(code));
        warnings.extend(wrong.map(|code| sentence::waste_heat_transmission(*code)));
        warnings
    }
}

impl Mixed {
    /// What is wrong, in a sentence.
    #[must_use]
    pub fn said(&self) -> Sentence {
        let codes = [plain(&self.held), plain(&self.added)];
        let brake_fluid = codes.iter().any(|code| code == BRAKE_FLUID);
        if brake_fluid && codes.iter().any(|code| code.starts_with(USED_OIL)) {
            sentence::waste_mixed_brake_fluid(&self.container)
        } else {
            sentence::waste_mixed(&self.added, &self.container, &self.held)
        }
    }
}

/// Whether two codes stand for the same waste.
#[must_use]
pub fn same_waste(one: &str, other: &str) -> bool {
    plain(one) == plain(other)
}

fn plain(code: &str) -> String {
    let kept = code.chars().filter(|letter| !letter.is_whitespace() && *letter != '*');
    kept.flat_map(char::to_uppercase).collect()
}

/// What is marked on a container, as a reader compares it.
fn marked(container: &str) -> String {
    container.chars().filter(|letter| letter.is_alphanumeric()).flat_map(char::to_uppercase).collect()
}
