//! What a newer revision of the catalogue would decide otherwise of the settled variant.
//!
//! What one of the two does not state is no difference: it is not known to contradict.

use super::rules::ByRule;
use crate::catalogue::{Revision, same_code};
use crate::formula::vin::Vin;
use crate::job::variant::SettledVariant;
use crate::kind::variant_settled::VariantSettled;
use crate::kind::words::SettledBy;
use crate::text::{Sentence, number, sentence};

/// What the newer revision says.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Says {
    /// The same, as far as it matters.
    Same,
    /// Nothing else, but it lists the variant, which the older one does not.
    ListsItNow,
    /// This is different.
    Otherwise(Vec<Sentence>),
}

/// The variant as it was settled, in both revisions.
pub(super) struct Compared<'a> {
    pub older: &'a Revision,
    pub newer: &'a Revision,
    pub vin: Option<&'a Vin>,
    pub settled: &'a VariantSettled,
    /// Whether the rules for the VIN speak of the transmission that is fitted.
    pub rules_count: bool,
}

impl Compared<'_> {
    /// Compares rules, fluid, filter, standpipe and level.
    pub(super) fn says(&self) -> Says {
        let old = SettledVariant::of(self.older, self.settled);
        let new = SettledVariant::of(self.newer, self.settled);
        let mut otherwise: Vec<Sentence> = self.rules().into_iter().collect();
        if old.source.is_some() && new.source.is_none() {
            otherwise.push(sentence::newer_unlisted(&old.label));
        } else {
            otherwise.extend(values(&old, &new));
        }
        if !otherwise.is_empty() {
            Says::Otherwise(otherwise)
        } else if old.source.is_none() && new.source.is_some() {
            Says::ListsItNow
        } else {
            Says::Same
        }
    }

    fn rules(&self) -> Option<Sentence> {
        if !self.rules_count {
            return None;
        }
        let ask = |revision| ByRule::ask(revision, self.vin, &self.settled.code);
        let by_rule = self.settled.means == Some(SettledBy::CatalogueRule);
        match (ask(self.older), ask(self.newer)) {
            (old, new) if old == new => None,
            (_, ByRule::Others(names)) => Some(sentence::newer_rules_name(names)),
            (ByRule::Others(_), _) => Some(sentence::newer_rules_allow()),
            // How else it was settled does not go with the rules.
            (ByRule::Settled, _) if by_rule => Some(sentence::newer_rules_open()),
            (_, ByRule::Settled) if by_rule => Some(sentence::newer_rules_settle()),
            _ => None,
        }
    }
}

fn values(old: &SettledVariant, new: &SettledVariant) -> Vec<Sentence> {
    let mut otherwise = Vec::new();
    if let (Some((code, name)), Some((_, instead))) = (&old.fluid, &new.fluid)
        && !new.takes_fluid(code)
        && !new.takes_fluid(name)
    {
        otherwise.push(sentence::newer_value(instead, name, "fluid"));
    }
    for (what, one, other) in
        [("filter", &old.filter, &new.filter), ("standpipe", &old.standpipe, &new.standpipe)]
    {
        if let (Some(one), Some(other)) = (one, other)
            && !same_code(one, other)
        {
            otherwise.push(sentence::newer_value(other, one, what));
        }
    }
    if let (Some(one), Some(other)) = (old.level_window_celsius, new.level_window_celsius)
        && one != other
    {
        otherwise.push(sentence::newer_value(window(other), window(one), "level"));
    }
    if let (Some(one), Some(other)) = (old.level_method, new.level_method)
        && one != other
    {
        let method = |method: crate::catalogue::LevelMethod| sentence::level_method(method.code());
        otherwise.push(sentence::newer_method(method(other), method(one)));
    }
    otherwise
}

fn window((least, greatest): (f64, f64)) -> String {
    format!("{}–{}", number::plain(least), number::with_unit(&number::plain(greatest), "°C"))
}
