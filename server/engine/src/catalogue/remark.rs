//! What is no mistake in a catalogue, but worth a look: rules that overlap, gaps between serial windows, codes that do
//! not tell unlike fluids apart, and what is left out, with what that means.
//!
//! Nothing here keeps a revision from being used. Called when a catalogue is checked or imported.

use std::collections::BTreeMap;
use std::fmt;

use super::revision::{Revision, plain_code};
use super::transmission::{LevelMethod, Variant};
use super::vin_rule::{VinRule, example_of, overlap};
use crate::formula::vin::{LENGTH, Vin};

/// Most remarks of one sort; whoever has more needs no longer list.
pub(super) const REMARKS_MAX: usize = 50;
/// Most variants that a remark names.
const NAMES_MAX: usize = 8;

/// Everything that is worth a look.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Remarks {
    /// Rules of unlike variants that fit the same VIN.
    pub overlaps: Vec<Overlap>,
    /// Serial numbers that no window holds.
    pub gaps: Vec<Gap>,
    /// Codes that variants with unlike fluids share.
    pub shared_codes: Vec<SharedCode>,
    /// What is left out.
    pub left_out: Vec<LeftOut>,
}

impl Remarks {
    /// What may lead to the wrong fluid, a sentence each; without what is only left out.
    #[must_use]
    pub fn of_identity(&self) -> Vec<String> {
        let overlaps = self.overlaps.iter().map(ToString::to_string);
        let gaps = self.gaps.iter().map(ToString::to_string);
        overlaps.chain(gaps).chain(self.shared_codes.iter().map(ToString::to_string)).collect()
    }
}

/// Two rules of unlike variants fit the same VIN: such a vehicle will have to be settled by its plate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Overlap {
    /// Code of one rule.
    pub first_rule: String,
    /// Its variant.
    pub first_variant: String,
    /// Code of the other rule.
    pub second_rule: String,
    /// Its variant.
    pub second_variant: String,
    /// A VIN that both fit.
    pub example: Vin,
    /// True where every VIN of the one fits the other too, and the other way round.
    pub is_whole: bool,
}

impl fmt::Display for Overlap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { first_rule, first_variant, second_rule, second_variant, example, is_whole } = self;
        let both = if *is_whole {
            "fit the same VINs, so that no VIN tells the two apart, for example"
        } else {
            "both fit"
        };
        write!(
            f,
            "rule {first_rule} (variant {first_variant}) and rule {second_rule} (variant {second_variant}) {both} {}; \
             such a vehicle is settled by its transmission plate",
            example.as_str()
        )
    }
}

/// Serial numbers between the windows of a transmission's rules that no window holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gap {
    /// Name of the transmission.
    pub transmission: String,
    /// The pattern of the rules.
    pub pattern: String,
    /// First serial number of the gap.
    pub from: u32,
    /// Last serial number of the gap.
    pub to: u32,
    /// A VIN in it, which fits no rule.
    pub example: Vin,
}

impl fmt::Display for Gap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { transmission, pattern, from, to, example } = self;
        write!(
            f,
            "{transmission}, pattern {pattern}: serial numbers {from:06} to {to:06} lie between its windows and in none, \
             for example {}; such a vehicle fits no rule and is settled by its transmission plate",
            example.as_str()
        )
    }
}

/// One code that belongs to variants which need unlike fluids.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SharedCode {
    /// What the code is on, for example 'filter'.
    pub what: &'static str,
    /// The code.
    pub code: String,
    /// Codes of the variants.
    pub variants: Vec<String>,
    /// Names of their fluids.
    pub fluids: Vec<String>,
}

impl fmt::Display for SharedCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { what, code, variants, fluids } = self;
        write!(
            f,
            "{what} code {code} belongs to {}, which need unlike fluids ({}); they cannot be told apart by the {what}",
            named(variants),
            fluids.join(", ")
        )
    }
}

/// Something that may be left out and is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// What is left out.
    pub what: &'static str,
    /// What happens without it.
    pub meaning: &'static str,
    /// Codes of the variants.
    pub variants: Vec<String>,
}

impl fmt::Display for LeftOut {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: no {}; {}", named(&self.variants), self.what, self.meaning)
    }
}

/// A few names, and how many there are beside them.
fn named(names: &[String]) -> String {
    let shown = names.iter().take(NAMES_MAX).map(String::as_str).collect::<Vec<_>>().join(", ");
    match names.len().saturating_sub(NAMES_MAX) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

/// Looks a revision through.
#[must_use]
pub fn remarks(revision: &Revision) -> Remarks {
    Remarks {
        overlaps: overlaps(revision),
        gaps: gaps(revision),
        shared_codes: shared_codes(revision.variants()),
        left_out: left_out(revision.variants()),
    }
}

fn overlaps(revision: &Revision) -> Vec<Overlap> {
    let rules = revision.rules();
    let meeting = |(at, first)| {
        let others = revision.rule_index().meeting(&rules, first, Some(at));
        others
            .filter(move |(_, second): &(usize, &VinRule)| first.variant != second.variant)
            .filter_map(move |(_, second)| overlap_of(first, second))
            .take(REMARKS_MAX)
            .collect::<Vec<_>>()
    };
    rules.iter().copied().enumerate().flat_map(meeting).take(REMARKS_MAX).collect()
}

fn overlap_of(first: &VinRule, second: &VinRule) -> Option<Overlap> {
    Some(Overlap {
        first_rule: first.code.clone(),
        first_variant: first.variant.clone(),
        second_rule: second.code.clone(),
        second_variant: second.variant.clone(),
        example: overlap(first, second)?,
        is_whole: first.covers(second) && second.covers(first),
    })
}

fn gaps(revision: &Revision) -> Vec<Gap> {
    let all = revision.rules();
    let mut groups: BTreeMap<(&str, &[u64; LENGTH]), Vec<&VinRule>> = BTreeMap::new();
    for variant in revision.variants() {
        for rule in variant.vin_rules.iter().filter(|rule| rule.serial.is_some()) {
            groups.entry((&variant.transmission, rule.pattern.places())).or_default().push(rule);
        }
    }
    let of_group = |((transmission, _), group): ((&str, _), Vec<&VinRule>)| {
        gaps_of(revision, &all, transmission, &group)
    };
    groups.into_iter().flat_map(of_group).take(REMARKS_MAX).collect()
}

/// The gaps between the windows of rules with one pattern.
fn gaps_of(revision: &Revision, all: &[&VinRule], transmission: &str, group: &[&VinRule]) -> Vec<Gap> {
    let [first, _, ..] = group else { return Vec::new() };
    let wide = VinRule { serial: None, ..(*first).clone() };
    // A wider rule closes a gap as well.
    let others = revision.rule_index().meeting(all, &wide, None).map(|(_, other)| other);
    let windows = others.filter(|other| other.pattern.covers(&first.pattern)).map(VinRule::window).collect();
    let ends =
        (group.iter().map(|rule| rule.window().0).min(), group.iter().map(|rule| rule.window().1).max());
    let (Some(from), Some(to)) = ends else { return Vec::new() };
    let open = between(windows, (from, to)).into_iter();
    open.filter_map(|(from, to)| {
        let example = example_of(first.pattern.places(), Some((from, to)))?;
        revision.match_vin(&example).rules.is_empty().then(|| Gap {
            transmission: transmission.to_owned(),
            pattern: first.pattern.as_str().to_owned(),
            from,
            to,
            example,
        })
    })
    .collect()
}

/// What some windows leave open between two numbers, both included.
fn between(mut windows: Vec<(u32, u32)>, (from, to): (u32, u32)) -> Vec<(u32, u32)> {
    windows.sort_unstable();
    let (mut open, mut next) = (Vec::new(), from);
    for (start, end) in windows.into_iter().chain([(to + 1, to + 1)]) {
        if next < start {
            open.push((next, (start - 1).min(to)));
        }
        next = next.max(end + 1);
    }
    open.retain(|(from, to)| from <= to);
    open
}

fn shared_codes(variants: &[Variant]) -> Vec<SharedCode> {
    type Code = fn(&Variant) -> Option<&String>;
    const KINDS: [(&str, Code); 4] = [
        ("filter", |variant| variant.filter_code.as_ref()),
        ("plate", |variant| variant.plate_code.as_ref()),
        ("standpipe", |variant| variant.standpipe_code.as_ref()),
        ("kit", |variant| variant.kit.as_ref().map(|kit| &kit.code)),
    ];
    let mut found = Vec::new();
    for (what, code_of) in KINDS {
        let mut by_code: BTreeMap<String, Vec<&Variant>> = BTreeMap::new();
        for variant in variants {
            if let Some(code) = code_of(variant) {
                by_code.entry(plain_code(code)).or_default().push(variant);
            }
        }
        for sharing in by_code.into_values() {
            let fluids: BTreeMap<String, &String> = sharing
                .iter()
                .map(|variant| (plain_code(&variant.fluid.code), &variant.fluid.name))
                .collect();
            let code = sharing.first().and_then(|variant| code_of(variant));
            if let (true, Some(code)) = (fluids.len() > 1, code) {
                let variants = sharing.iter().map(|variant| variant.code.clone()).collect();
                let fluids = fluids.into_values().cloned().collect();
                found.push(SharedCode { what, code: code.clone(), variants, fluids });
            }
        }
    }
    found.truncate(REMARKS_MAX);
    found
}

/// What may be left out, when it is, and what happens then.
type MayBeLeftOut = (&'static str, fn(&Variant) -> bool, &'static str);

const MAY_BE_LEFT_OUT: &[MayBeLeftOut] = &[
    (
        "VIN rule",
        |variant| variant.vin_rules.is_empty(),
        "it is settled by its plate or by looking it up, never by the VIN",
    ),
    (
        "plate code",
        |variant| variant.plate_code.is_none(),
        "the transmission’s plate is compared by eye alone",
    ),
    ("filter code", |variant| variant.filter_code.is_none(), "no code on a filter can contradict it"),
    (
        "standpipe code",
        |variant| variant.level_method == LevelMethod::StandpipeOverflow && variant.standpipe_code.is_none(),
        "no standpipe that is seen can contradict it",
    ),
    (
        "colour of its fluid",
        |variant| variant.fluid.colour.is_none(),
        "the colour of the old fluid is no sign for or against it",
    ),
    (
        "torque for the level plug",
        |variant| variant.plug_torque_newton_metres.is_none(),
        "the bay sheet will say: see the vehicle maker",
    ),
    (
        "torque for the pan screws",
        |variant| variant.pan_screw_torque_newton_metres.is_none(),
        "the bay sheet will say: see the vehicle maker",
    ),
    (
        "count of pan screws",
        |variant| variant.pan_screw_count.is_none(),
        "nothing says how many new screws are needed",
    ),
    (
        "new screws for the whole pan in its kit",
        is_kit_short,
        "screws are for one use, so the others come from elsewhere",
    ),
    ("kit", |variant| variant.kit.is_none(), "the usual parts are proposed, without a code"),
    ("hook-up", |variant| variant.hookups.is_empty(), "no place and no adapter is proposed"),
    (
        "refill of the pan",
        |variant| variant.pan_refill_litres.is_none(),
        "the plan does not know beforehand what the pan takes",
    ),
    (
        "litres carried out with parts",
        |variant| variant.carried_out_litres.is_none(),
        "the workshop’s usual litres are reckoned with",
    ),
    (
        "conditions for the level",
        |variant| variant.level_conditions.is_none(),
        "the bay sheet will say: see the vehicle maker",
    ),
    (
        "marks for the dipstick",
        |variant| variant.level_method == LevelMethod::Dipstick && variant.level_marks.is_none(),
        "nothing says which marks the level lies between",
    ),
    (
        "interval of the vehicle maker",
        |variant| variant.maker_interval.kilometres.is_none() && variant.maker_interval.months.is_none(),
        "the next service is due by the workshop’s own interval, and the record says so",
    ),
];

fn is_kit_short(variant: &Variant) -> bool {
    let in_kit = variant.kit.as_ref().and_then(|kit| kit.new_screw_count);
    in_kit.zip(variant.pan_screw_count).is_some_and(|(in_kit, in_pan)| in_kit < in_pan)
}

fn left_out(variants: &[Variant]) -> Vec<LeftOut> {
    let rows = MAY_BE_LEFT_OUT.iter().map(|(what, lacks, meaning)| {
        let lacking = variants.iter().filter(|variant| lacks(variant));
        LeftOut { what, meaning, variants: lacking.map(|variant| variant.code.clone()).collect() }
    });
    rows.filter(|row| !row.variants.is_empty()).collect()
}

#[cfg(test)]
mod tests {
    use super::between;

    #[test]
    fn what_windows_leave_open_is_between_them_and_never_beside_them() {
        assert_eq!(between(vec![(0, 9), (20, 29)], (0, 29)), [(10, 19)]);
        assert_eq!(between(vec![(20, 29), (0, 9), (5, 19)], (0, 29)), []);
        assert_eq!(between(vec![(0, 3), (8, 8), (5, 6)], (2, 9)), [(4, 4), (7, 7), (9, 9)]);
        assert_eq!(between(vec![(999_999, 999_999), (0, 1)], (0, 999_999)), [(2, 999_998)]);
        assert_eq!(between(vec![(0, 999_999)], (10, 20)), []);
    }
}
