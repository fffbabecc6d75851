//! Which vehicle, which variant, which fluid, and what speaks against it.
//!
//! Two readings of the VIN, the rules of the catalogue, the look-up, the codes on container and
//! parts. A contradiction on a code is never overridden: it stays, and the gates say no. An open question
//! is answered by looking, or decided by a named person with a reason.

mod colour;
mod model_year;
mod newer;
mod question;
mod rules;
mod vin;

use super::Context;
use super::fold::{Folded, Stated, stops, tells};
use super::variant::SettledVariant;
use super::wrong_fluid::WrongFluid;
use crate::catalogue::same_code;
use crate::formula::vin::Vin;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fill::Fill;
use crate::kind::part_checked::PartChecked;
use crate::kind::variant_settled::VariantSettled;
use crate::kind::vin_reading::VinReading;
use crate::kind::words::{Answer, Part, SettledBy};
use crate::site::equipment;
use crate::text::{Sentence, sentence};
use crate::view::Finding;
use newer::{Compared, Says};
use question::Question;
use rules::ByRule;

/// Key of what is to be done before anything of the variant is known.
const VARIANT: &str = "variant";
/// Key of a VIN whose check digit is wrong where it is required.
pub(crate) const VIN_CHECK_DIGIT: &str = "vin-check-digit";
/// Keys of questions that are answered by settling the variant again.
pub(crate) const SETTLE_AGAIN: [&str; 2] = ["not-as-built", "catalogue-newer"];

/// What is known of vehicle, variant and fluid.
#[derive(Debug, Clone, Default)]
pub(crate) struct Identity {
    /// All 17 characters of the VIN; absent while not read.
    pub vin: Option<String>,
    /// The settled variant; absent while not settled.
    pub variant: Option<SettledVariant>,
    /// What keeps the variant from counting as settled, and was not decided by name.
    pub open: Vec<Question>,
    /// Codes and readings that contradict the settled variant; nobody can override them.
    pub contradictions: Vec<Contradiction>,
    /// True when the last look at the fluid container agrees with the variant.
    pub fluid_agrees: bool,
    /// True when the last look at the fluid container contradicts the variant.
    pub container_contradicts: bool,
    /// True when VIN, plate or what is built in contradicts the variant, so that nothing it needs is known to be right.
    pub variant_contradicted: bool,
    /// Fluid that does not belong inside and went in all the same.
    pub wrong_fluid: Option<WrongFluid>,
    /// How it is known, for the expert's page.
    pub sentences: Vec<Sentence>,
    /// What somebody should know.
    pub findings: Vec<Finding>,
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
        identity.read_vin(context, folded);
        identity.settle(context, folded);
        identity.variant_contradicted = !identity.contradictions.is_empty();
        identity.compare_parts(folded);
        identity.compare_fills(context, folded);
        let lots = crate::site::lot_good::contradictions(context, folded);
        identity.contradictions.extend(lots.into_iter().map(|(text, seq)| Contradiction { text, seq }));
        identity.compare_colour(folded);
        identity.compare_newer(context, folded);
        identity.sentences.extend(equipment::held_said(context, folded));
        identity.take_decisions(context, folded);
        for contradiction in &identity.contradictions {
            identity.findings.push(stops(contradiction.text.clone(), [contradiction.seq]));
        }
        identity
    }

    /// Whether a question with one of these keys is open.
    pub fn asks(&self, keys: &[&str]) -> bool {
        self.open.iter().any(|question| keys.contains(&question.key))
    }

    /// Whether the variant's level is read on a dipstick.
    pub fn has_dipstick(&self) -> bool {
        self.variant.as_ref().is_some_and(SettledVariant::has_dipstick)
    }

    /// Whether a standpipe is to be looked at in the pan, as far as is known.
    pub fn may_have_standpipe(&self) -> bool {
        self.variant.as_ref().is_none_or(SettledVariant::may_have_standpipe)
    }

    /// Takes out what a named person decided, and says so.
    fn take_decisions(&mut self, context: &Context<'_>, folded: &Folded) {
        for question in std::mem::take(&mut self.open) {
            match question.decision(folded) {
                Some((stated, decision)) => self.sentences.push(sentence::identity_decided(
                    context.person(&stated.person),
                    question.text,
                    &decision.reason,
                )),
                None => self.open.push(question),
            }
        }
    }

    fn settle(&mut self, context: &Context<'_>, folded: &Folded) {
        let Some((stated, settled)) = folded.last::<VariantSettled>() else {
            self.open.push(Question::to_do(VARIANT, sentence::gate_variant_not_settled()));
            return;
        };
        let variant = SettledVariant::of(context.revision, settled);
        let differs = |(_, other): &(&Stated, &VariantSettled)| !same_code(&other.code, &settled.code);
        for (earlier, other) in folded.each::<VariantSettled>().filter(differs) {
            if is_superseded(context, folded, earlier) {
                self.sentences.push(sentence::identity_settled_newer(&other.code, &settled.code));
                continue;
            }
            let text = sentence::identity_settled_twice(&other.code, &settled.code);
            self.contradictions.push(Contradiction { text, seq: earlier.seq });
        }
        let by_rule = self.ask_rules(context, folded, &variant, stated);
        match settled.means {
            Some(SettledBy::CatalogueRule) => self.settle_by_rule(folded, by_rule, &variant, stated),
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
        self.compare_plate(folded, settled, &variant, stated);
        if variant.fluid.is_none() {
            self.open.push(Question::to_do(VARIANT, sentence::gate_fluid_not_known(&variant.label)));
        }
        if let Some((source, edition)) = &variant.source {
            self.sentences.push(sentence::identity_catalogue_line(edition, source));
        } else {
            self.sentences.push(sentence::identity_not_listed());
        }
        self.variant = Some(variant);
    }

    /// What the catalogue's rules say of this variant; nothing where another transmission was fitted, of which the VIN
    /// does not speak. Rules that name only other variants contradict it, however it was settled.
    fn ask_rules(
        &mut self,
        context: &Context<'_>,
        folded: &Folded,
        variant: &SettledVariant,
        stated: &Stated,
    ) -> Option<ByRule> {
        if another_was_fitted(folded) {
            self.sentences.push(sentence::identity_not_as_built());
            return None;
        }
        let by_rule = ByRule::ask(context.revision, self.known_vin().as_ref(), &variant.code);
        if let ByRule::Others(names) = &by_rule {
            let text = sentence::identity_rule_contradicts(&variant.label, names);
            self.contradictions.push(Contradiction { text, seq: stated.seq });
        }
        Some(by_rule)
    }

    fn settle_by_rule(
        &mut self,
        folded: &Folded,
        by_rule: Option<ByRule>,
        variant: &SettledVariant,
        stated: &Stated,
    ) {
        let Some(by_rule) = by_rule else {
            let [key, _] = SETTLE_AGAIN;
            self.open.push(Question::to_do(key, sentence::gate_not_as_built()));
            return;
        };
        if by_rule == ByRule::Settled {
            self.sentences.push(sentence::identity_by_rule(&variant.label));
        }
        let Some((key, text)) = by_rule.question(self.known_vin().as_ref()) else { return };
        let read = folded.last::<VinReading>().map_or(0, |(read, _)| read.seq);
        self.open.push(match by_rule {
            ByRule::NoVin => Question::to_do(key, text),
            _ => Question::to_decide(key, text, stated.seq.max(read)),
        });
    }

    /// The plate on the transmission, as it was said when the variant was settled.
    fn compare_plate(
        &mut self,
        folded: &Folded,
        settled: &VariantSettled,
        variant: &SettledVariant,
        stated: &Stated,
    ) {
        let by_plate = settled.means == Some(SettledBy::TransmissionPlate);
        match settled.plate_agrees {
            Some(Answer::Yes) => self.sentences.push(sentence::identity_plate_agrees()),
            Some(Answer::No) => self.contradictions.push(Contradiction {
                text: sentence::identity_plate_disagrees(&variant.label),
                seq: stated.seq,
            }),
            // Who settles by the plate and says nothing else has read it.
            None if by_plate => {}
            Some(Answer::NotSeen) if by_plate && plate_code_fits(folded, variant) => {}
            Some(Answer::NotSeen) if by_plate => {
                let text = sentence::gate_plate_not_seen(&variant.label);
                self.open.push(Question::to_decide("plate-not-seen", text, stated.seq));
            }
            Some(Answer::NotSeen) | None => self.sentences.push(sentence::identity_plate_not_seen()),
        }
    }

    /// A sample of another dye says that something else is inside, or that it is another variant.
    fn compare_colour(&mut self, folded: &Folded) {
        let Some(variant) = &self.variant else { return };
        let Some(((_, name), fresh)) = variant.fluid.as_ref().zip(variant.fluid_colour) else { return };
        if let Some((seq, seen)) = colour::of_another_dye(folded, fresh) {
            let fresh = sentence::fluid_dye(fresh.word());
            let text = sentence::gate_fluid_colour(name, fresh, sentence::colour_seen(seen.word()));
            self.open.push(Question::to_decide("fluid-colour", text, seq));
        }
    }

    /// A newer catalogue that decides otherwise asks for the variant again, as long as nothing was pushed in.
    fn compare_newer(&mut self, context: &Context<'_>, folded: &Folded) {
        let (Some(newer), Some((stated, settled))) = (context.newer, folded.last::<VariantSettled>()) else {
            return;
        };
        let vin = self.known_vin();
        let compared = Compared {
            older: context.revision,
            newer: newer.revision,
            vin: vin.as_ref(),
            settled,
            rules_count: !another_was_fitted(folded),
        };
        let begun = equipment::begun_at(folded).is_some();
        match compared.says() {
            Says::Otherwise(changes) if begun => {
                self.findings.push(tells(sentence::identity_catalogue_newer(changes), [stated.seq]));
            }
            Says::Otherwise(changes) => {
                let text = sentence::gate_catalogue_newer(changes);
                self.open.push(Question::to_decide("catalogue-newer", text, newer.adopted_at));
            }
            Says::ListsItNow if !begun => {
                let text = sentence::identity_newer_lists(&settled.code);
                self.findings.push(Finding { on_record: false, ..tells(text, [stated.seq]) });
            }
            Says::ListsItNow | Says::Same => {}
        }
    }

    fn known_vin(&self) -> Option<Vin> {
        self.vin.as_deref().and_then(Vin::from_exact)
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
                self.variant_contradicted |= !matches!(part, Part::FluidContainer | Part::Filter);
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

    /// Fluid that went in counts by what was on its container, whatever is compared now. It is no contradiction at hand:
    /// what goes in next may be the right one.
    fn compare_fills(&mut self, context: &Context<'_>, folded: &Folded) {
        if self.variant.as_ref().is_none_or(|variant| variant.fluid.is_none()) {
            return;
        }
        self.wrong_fluid = WrongFluid::of(context, folded, self);
        if let Some(wrong) = &self.wrong_fluid {
            // Closing a job takes nothing out of the vehicle.
            let text = if wrong.is_decided() { wrong.for_good() } else { wrong.inside() };
            let stands = !wrong.is_over();
            self.findings.push(Finding { stands, ..stops(text, wrong.went_in.iter().copied()) });
            if wrong.is_worked_on() {
                self.sentences.push(wrong.left());
            }
        }
        let worked =
            folded.each::<ExchangeReading>().next().is_some() || folded.each::<Fill>().next().is_some();
        if !self.fluid_agrees && worked {
            self.sentences.push(sentence::identity_fluid_not_compared());
        }
    }
}

/// Whether a variant was settled by an earlier catalogue, and nothing was pushed in before the newer one was adopted:
/// settling again is then what was asked for.
fn is_superseded(context: &Context<'_>, folded: &Folded, earlier: &Stated) -> bool {
    let nothing_before = equipment::begun_at(folded).is_none_or(|begun| begun > context.adopted_at);
    earlier.seq < context.adopted_at && nothing_before
}

/// Whether it was said last that another transmission was fitted than the vehicle was built with.
fn another_was_fitted(folded: &Folded) -> bool {
    folded.each::<VariantSettled>().rev().find_map(|(_, settled)| settled.as_built) == Some(Answer::No)
}

/// Whether the code on the transmission's plate was read and is the variant's.
fn plate_code_fits(folded: &Folded, variant: &SettledVariant) -> bool {
    let mut checks = folded.each::<PartChecked>();
    let last = checks.rfind(|(_, check)| check.part == Some(Part::TransmissionPlate));
    last.is_some_and(|(_, check)| fits(variant, Part::TransmissionPlate, &check.code))
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
