//! Which vehicle, which variant, which fluid, and what speaks against it.
//!
//! Two readings of the VIN, the rules of the catalogue, the look-up, the codes on container and
//! parts. A contradiction on a code is never overridden: it stays, and the gates say no.

use super::Context;
use super::fold::{Folded, Stated, stops, tells};
use super::variant::SettledVariant;
use crate::catalogue::same_code;
use crate::formula::vin::{self, FullReading, LastEight, Verdict, Vin};
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fill::Fill;
use crate::kind::part_checked::PartChecked;
use crate::kind::variant_settled::VariantSettled;
use crate::kind::vin_reading::VinReading;
use crate::kind::words::{Answer, Part, SettledBy, VinSource};
use crate::text::{Sentence, sentence};
use crate::view::Finding;

/// What is known of vehicle, variant and fluid.
#[derive(Debug, Clone, Default)]
pub(crate) struct Identity {
    /// All 17 characters of the VIN; absent while not read.
    pub vin: Option<String>,
    /// The settled variant; absent while not settled.
    pub variant: Option<SettledVariant>,
    /// What keeps the variant from counting as settled.
    pub open: Vec<Sentence>,
    /// Codes and readings that contradict the settled variant; nobody can override them.
    pub contradictions: Vec<Contradiction>,
    /// True when the last look at the fluid container agrees with the variant.
    pub fluid_agrees: bool,
    /// True when the last look at the fluid container contradicts the variant.
    pub container_contradicts: bool,
    /// How it is known, for the expert's page.
    pub sentences: Vec<Sentence>,
    /// What somebody should know.
    pub findings: Vec<Finding>,
}

/// What the catalogue's rules say of a settled variant.
enum ByRule {
    /// They name it and no other.
    Settled,
    /// They name only others.
    Contradicted,
    /// They do not decide, and why.
    Open(Sentence),
}

/// Something that contradicts the settled variant.
#[derive(Debug, Clone)]
pub(crate) struct Contradiction {
    /// In words.
    pub text: Sentence,
    /// The entry that says so.
    pub seq: u64,
}

impl Identity {
    /// Reads identity from the facts.
    pub fn of(context: &Context<'_>, folded: &Folded) -> Self {
        let mut identity = Self::default();
        identity.read_vin(folded);
        identity.settle(context, folded);
        identity.compare_parts(folded);
        identity.compare_fills(folded);
        for contradiction in &identity.contradictions {
            identity.findings.push(stops(contradiction.text.clone(), [contradiction.seq]));
        }
        identity
    }

    fn read_vin(&mut self, folded: &Folded) {
        let whole: Vec<(&Stated, &VinReading, Vin)> = folded
            .each::<VinReading>()
            .filter_map(|(stated, reading)| Some((stated, reading, Vin::from_exact(reading.whole()?)?)))
            .collect();
        let Some((last_stated, last, vin)) = whole.last() else {
            self.sentences.push(sentence::identity_no_vin());
            return;
        };
        self.vin = Some(vin.as_str().to_owned());
        let others = whole.iter().filter(|(.., other)| other != vin);
        for (stated, _, other) in others {
            let text = sentence::identity_vins_differ(other.as_str(), vin.as_str());
            self.contradictions.push(Contradiction { text, seq: stated.seq });
        }
        let checked = vin::read(vin.as_str());
        let full: Vec<FullReading<'_>> = whole
            .iter()
            .map(|(_, reading, vin)| FullReading { vin, scanned: reading.source == Some(VinSource::Scan) })
            .collect();
        if checked.verdict == Verdict::RefusedUntilReadTwice && !vin::read_alike_twice(vin, &full) {
            self.open.extend(
                checked.problems.iter().map(|problem| sentence::identity_vin_read_again(problem.sentence())),
            );
        }
        for warning in &checked.warnings {
            let text = sentence::identity_vin_warning(vin.as_str(), warning.sentence());
            self.findings.push(tells(text, [last_stated.seq]));
        }
        self.compare_last_eight(folded, vin, last, whole.len());
    }

    fn compare_last_eight(&mut self, folded: &Folded, vin: &Vin, whole: &VinReading, wholes: usize) {
        let mut agreeing = None;
        for (stated, reading) in folded.each::<VinReading>().filter(|(_, reading)| reading.whole().is_none())
        {
            match vin::compare_last_8(vin, reading.last_eight()) {
                LastEight::Agrees { .. } => agreeing = Some(reading),
                other => self.contradictions.push(Contradiction { text: other.sentence(), seq: stated.seq }),
            }
        }
        let place =
            |reading: &VinReading| sentence::vin_source(reading.source.map_or("unknown", VinSource::word));
        self.sentences.push(match agreeing {
            Some(second) => sentence::identity_vin_twice(place(whole), place(second)),
            None if wholes > 1 => sentence::identity_vin_read_whole_twice(),
            None => sentence::identity_vin_once(place(whole)),
        });
    }

    fn settle(&mut self, context: &Context<'_>, folded: &Folded) {
        let Some((stated, settled)) = folded.last::<VariantSettled>() else {
            self.open.push(sentence::gate_variant_not_settled());
            return;
        };
        let variant = SettledVariant::of(context.revision, settled);
        for (earlier, other) in
            folded.each::<VariantSettled>().filter(|(_, other)| !same_code(&other.code, &settled.code))
        {
            let text = sentence::identity_settled_twice(&other.code, &settled.code);
            self.contradictions.push(Contradiction { text, seq: earlier.seq });
        }
        let by_rule = self.match_rules(context, &variant, stated);
        match settled.means {
            Some(SettledBy::CatalogueRule) => match by_rule {
                ByRule::Settled => self.sentences.push(sentence::identity_by_rule(&variant.label)),
                ByRule::Contradicted => {}
                ByRule::Open(why) => self.open.push(why),
            },
            Some(SettledBy::LookedUp) => {
                let day = if settled.looked_up_date.is_empty() {
                    context.day(stated.time_us)
                } else {
                    settled.looked_up_date.clone()
                };
                let person = context.person(&stated.person);
                self.sentences.push(sentence::identity_looked_up(
                    day,
                    &variant.label,
                    person,
                    &settled.source,
                ));
            }
            _ => self.sentences.push(sentence::identity_by_plate(&variant.label)),
        }
        match settled.plate_agrees {
            None | Some(Answer::NotSeen) if settled.means == Some(SettledBy::TransmissionPlate) => {}
            Some(Answer::Yes) => self.sentences.push(sentence::identity_plate_agrees()),
            Some(Answer::No) => self.contradictions.push(Contradiction {
                text: sentence::identity_plate_disagrees(&variant.label),
                seq: stated.seq,
            }),
            Some(Answer::NotSeen) | None => self.sentences.push(sentence::identity_plate_not_seen()),
        }
        if variant.fluid.is_none() {
            self.open.push(sentence::gate_fluid_not_known(&variant.label));
        }
        if let Some((source, edition)) = &variant.source {
            self.sentences.push(sentence::identity_catalogue_line(edition, source));
        } else {
            self.sentences.push(sentence::identity_not_listed());
        }
        self.variant = Some(variant);
    }

    /// What the catalogue's rules say of this variant. Rules that name only other variants contradict it,
    /// however it was settled.
    fn match_rules(&mut self, context: &Context<'_>, variant: &SettledVariant, stated: &Stated) -> ByRule {
        let Some(vin) = self.vin.as_deref().and_then(Vin::from_exact) else {
            return ByRule::Open(sentence::gate_vin_not_read());
        };
        let found = context.revision.match_vin(&vin).variants;
        let names = |found: &[&crate::catalogue::Variant]| {
            let names: Vec<String> =
                found.iter().map(|variant| format!("{}, {}", variant.transmission, variant.label)).collect();
            names.join("; ")
        };
        match found.as_slice() {
            [] => ByRule::Open(sentence::gate_no_rule(vin.as_str())),
            [only] if same_code(&only.code, &variant.code) => ByRule::Settled,
            several if several.iter().any(|one| same_code(&one.code, &variant.code)) => {
                ByRule::Open(sentence::gate_rules_fit_several(names(several)))
            }
            others => {
                let text = sentence::identity_rule_contradicts(&variant.label, names(others));
                self.contradictions.push(Contradiction { text, seq: stated.seq });
                ByRule::Contradicted
            }
        }
    }

    fn compare_parts(&mut self, folded: &Folded) {
        let Some(variant) = self.variant.clone() else { return };
        for part in
            [Part::FluidContainer, Part::Filter, Part::TransmissionPlate, Part::Standpipe, Part::OldFilter]
        {
            let checks: Vec<(&Stated, &PartChecked)> =
                folded.each::<PartChecked>().filter(|(_, check)| check.part == Some(part)).collect();
            let Some((last, earlier)) = checks.split_last() else { continue };
            let Some(expected) = expected(&variant, part) else { continue };
            let name = sentence::part(part.word());
            if fits(&variant, part, &last.1.code) {
                self.fluid_agrees |= part == Part::FluidContainer;
                self.sentences.push(sentence::identity_part_agrees(&last.1.code, name.clone()));
            } else {
                self.container_contradicts |= part == Part::FluidContainer;
                let text = sentence::identity_part_contradicts(
                    &last.1.code,
                    &expected,
                    &variant.label,
                    name.clone(),
                );
                self.contradictions.push(Contradiction { text, seq: last.0.seq });
            }
            for (stated, check) in earlier.iter().filter(|(_, check)| !fits(&variant, part, &check.code)) {
                // Another container or filter can be fetched; what is built in does not change by looking again.
                if matches!(part, Part::FluidContainer | Part::Filter) {
                    let text = sentence::identity_part_was_wrong(&check.code, &expected, name.clone());
                    self.findings.push(tells(text, [stated.seq]));
                } else {
                    let text = sentence::identity_part_contradicts(
                        &check.code,
                        &expected,
                        &variant.label,
                        name.clone(),
                    );
                    self.contradictions.push(Contradiction { text, seq: stated.seq });
                }
            }
        }
    }

    /// Fluid that went in counts by what was on its container, whatever was compared before.
    fn compare_fills(&mut self, folded: &Folded) {
        let Some(variant) = self.variant.clone() else { return };
        let Some((_, own)) = &variant.fluid else { return };
        let wrong = folded
            .each::<Fill>()
            .filter(|(_, fill)| !fill.fluid_code.is_empty() && !variant.takes_fluid(&fill.fluid_code));
        for (stated, fill) in wrong {
            let text = sentence::identity_wrong_fluid_filled(&fill.fluid_code, &variant.label, own);
            self.contradictions.push(Contradiction { text, seq: stated.seq });
        }
        let worked =
            folded.each::<ExchangeReading>().next().is_some() || folded.each::<Fill>().next().is_some();
        if !self.fluid_agrees && worked {
            self.sentences.push(sentence::identity_fluid_not_compared());
        }
    }
}

fn expected(variant: &SettledVariant, part: Part) -> Option<String> {
    match part {
        Part::FluidContainer => variant.fluid.as_ref().map(|(_, name)| name.clone()),
        Part::Filter => variant.filter.clone(),
        Part::OldFilter => variant.old_filter.as_ref().or(variant.filter.as_ref()).cloned(),
        Part::TransmissionPlate => variant.plate.clone(),
        Part::Standpipe => variant.standpipe.clone(),
    }
}

fn fits(variant: &SettledVariant, part: Part, code: &str) -> bool {
    match part {
        Part::FluidContainer => variant.takes_fluid(code),
        // The eye sees a long or a short standpipe, not its code.
        Part::Standpipe if variant.standpipe_label.as_ref().is_some_and(|label| same_code(label, code)) => {
            true
        }
        // A filter that was changed before is the one that is fitted now, not the one that the vehicle was built with.
        Part::OldFilter if variant.filter.as_ref().is_some_and(|filter| same_code(filter, code)) => true,
        _ => expected(variant, part).is_some_and(|expected| same_code(&expected, code)),
    }
}
