//! Names of kinds of facts, as the messages have them. Never here: what a kind means.

use crate::limits;
use crate::v1::Fact;
use crate::visit::{Path, Visit as _, Visitor};

/// Whether there is a kind of this name, for example `exchange_reading`.
#[must_use]
pub fn is_kind(name: &str) -> bool {
    limits::bound("Fact", name).is_some()
}

/// Name of the kind of a fact; absent where it states nothing.
#[must_use]
pub fn kind_name(fact: &Fact) -> Option<&'static str> {
    let mut first = FirstPart(None);
    fact.visit(&mut Path::default(), &mut first);
    first.0
}

/// The first message that stands in a fact, which is its kind; what is inside it comes later.
struct FirstPart(Option<&'static str>);

impl Visitor for FirstPart {
    fn number(&mut self, _: &Path, _: &'static str, _: &'static str, _: f64) {}
    fn whole(&mut self, _: &Path, _: &'static str, _: &'static str, _: i64) {}
    fn flag(&mut self, _: &Path, _: &'static str, _: &'static str, _: bool) {}
    fn text(&mut self, _: &Path, _: &'static str, _: &'static str, _: &str) {}
    fn bytes(&mut self, _: &Path, _: &'static str, _: &'static str, _: usize) {}
    fn choice(&mut self, _: &Path, _: &'static str, _: &'static str, _: i32, _: bool) {}
    fn time(&mut self, _: &Path, _: &'static str, _: &'static str, _: i64, _: i32) {}
    fn count(&mut self, _: &Path, _: &'static str, _: &'static str, _: usize) {}
    fn absent(&mut self, _: &Path, _: &'static str, _: &'static str) {}

    fn part(&mut self, _: &Path, message: &'static str, field: &'static str) {
        if message == "Fact" {
            self.0.get_or_insert(field);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::v1::{Correction, ExchangeReading, correction::Outcome, fact::Kind};

    #[test]
    fn the_kind_of_a_fact_is_named_as_in_the_messages() {
        let fact = |kind| Fact { kind: Some(kind) };
        let reading = fact(Kind::ExchangeReading(ExchangeReading::default()));
        assert_eq!(kind_name(&reading), Some("exchange_reading"));
        let outcome = Some(Outcome::Replacement(Box::new(reading)));
        let correction = Correction { outcome, ..Correction::default() };
        assert_eq!(kind_name(&fact(Kind::Correction(Box::new(correction)))), Some("correction"));
        assert_eq!(kind_name(&Fact::default()), None);
        assert!(is_kind("exchange_reading") && is_kind("correction") && !is_kind("exchange-reading"));
    }
}
