//! The fields of what is looked at: vehicle, variant, codes, drive, sample, and the codes on containers and parts.
//!
//! A code is read and tapped among all the codes that the catalogue knows for this transmission. The variant's
//! own code is not proposed: Enter would confirm it without a look, and the look is all that keeps the sister's
//! fluid out. One tap on what was read costs no more.

use super::field::{choice, choices, field, optional, proposed, spare, states, together, yes_no};
use super::{Choice, Field, Input};
use crate::catalogue::Variant;
use crate::formula::vin::Vin;
use crate::gates::Facts;
use crate::job::identity::VIN_CHECK_DIGIT;
use crate::kind::arrival::Arrival;
use crate::text::{Sentence, sentence};

/// Most codes that are offered by one key each; more are typed.
const CODES_MAX: usize = 20;
const LOADS: [&str; 6] = ["ordinary", "towing", "mountains", "town", "long-distance", "all-day"];
const DEBRIS: [&str; 4] = ["none", "fine-grey-paste", "glitter", "flakes-or-chips"];

pub(super) fn odometer(facts: &Facts<'_>) -> Vec<Field> {
    let distance = field("odometer_kilometres", sentence::ask_odometer(), Input::Quantity { units: &["km"] });
    // What the booking said of its use is known and stays.
    let stated = facts.folded.last::<Arrival>().is_some_and(|(_, arrival)| arrival.load.is_some());
    let load = (!stated).then(|| spare("load", sentence::ask_load(), choice(&LOADS, sentence::load_word)));
    [distance].into_iter().chain(load).collect()
}

/// What the arrival said already stands in the entry that adds the distance.
pub(super) fn arrival_known(facts: &Facts<'_>) -> Vec<(&'static str, String)> {
    let Some((_, arrival)) = facts.folded.last::<Arrival>() else { return Vec::new() };
    let reasons: Vec<&str> = arrival.reasons.iter().map(|reason| reason.word()).collect();
    let known = [
        ("plate", arrival.plate.clone()),
        ("reasons", reasons.join(",")),
        ("vehicle_maker", arrival.maker.clone()),
        ("vehicle_model", arrival.model.clone()),
        ("complaint_about_job", arrival.complaint_about_job.clone().unwrap_or_default()),
        ("high_voltage", arrival.high_voltage.map(|answer| answer.word().to_owned()).unwrap_or_default()),
        ("load", arrival.load.map(|load| load.word().to_owned()).unwrap_or_default()),
        ("first_registered_on", arrival.first_registered.map(|day| day.to_string()).unwrap_or_default()),
    ];
    known.into_iter().filter(|(_, value)| !value.is_empty()).collect()
}

pub(super) fn vin(facts: &Facts<'_>) -> Vec<Field> {
    // The last eight do not hold the check digit.
    let again = facts.identity.asks(&[VIN_CHECK_DIGIT]);
    let name = if facts.identity.vin.is_some() && !again { "last_eight" } else { "vin" };
    let ask = match name {
        "vin" if again => sentence::ask_vin_again(),
        "vin" => sentence::ask_vin(),
        _ => sentence::ask_last_eight(),
    };
    vec![field(name, ask, Input::Text)]
}

pub(super) fn variant(facts: &Facts<'_>) -> Vec<Field> {
    let vin = facts.identity.vin.as_deref().and_then(Vin::from_exact);
    // The answer is judged by the catalogue as it is now.
    let revision = facts.context.newer.map_or(facts.context.revision, |newer| newer.revision);
    let fitting = vin.map(|vin| revision.match_vin(&vin).variants).unwrap_or_default();
    let ways = choice(&["catalogue-rule", "looked-up", "transmission-plate"], sentence::means_of_settling);
    let plate = choice(&["yes", "no", "not-seen"], sentence::answer);
    let mut fields = vec![
        field("variant_code", sentence::ask_variant(), Input::Text),
        field("means", sentence::ask_settled_by(), ways),
        optional("source", sentence::ask_source(), Input::Text),
        // What the catalogue would say is asked beside 'looked-up' only.
        optional("fluid_code", sentence::ask_own_fluid(), Input::Text),
        optional("total_fill_litres", sentence::ask_total_fill(), super::field::litres()),
        optional("level_least_celsius", sentence::ask_level_least(), Input::Quantity { units: &["°C"] }),
        optional(
            "level_greatest_celsius",
            sentence::ask_level_greatest(),
            Input::Quantity { units: &["°C"] },
        ),
        field("transmission_plate_agrees", sentence::ask_plate(), plate),
        spare(
            "transmission_as_built",
            sentence::ask_as_built(),
            choice(&["yes", "no", "not-seen"], sentence::answer),
        ),
    ];
    if let [only] = fitting.as_slice() {
        fields.insert(0, by_rule(only));
    }
    fields
}

/// The rule names one variant: what is left to say is what the plate on the transmission shows. A plate that agrees is
/// that of the transmission as built; of another one the rule does not speak, so the rest is asked.
fn by_rule(only: &Variant) -> Field {
    let told = |answer: &'static str| {
        let text = match (answer, &only.plate_code) {
            ("yes", Some(plate)) => sentence::choice_plate_shows(plate),
            (answer, _) => sentence::choice_plate(answer),
        };
        let also = [
            ("variant_code", only.code.as_str()),
            ("means", "catalogue-rule"),
            ("transmission_plate_agrees", answer),
            ("transmission_as_built", if answer == "yes" { "yes" } else { "" }),
        ];
        states(answer, text, &also)
    };
    let mut choices = vec![told("yes"), told("no"), told("not-seen")];
    choices.push(states("fitted", sentence::choice_another_fitted(), &[("transmission_as_built", "no")]));
    choices.push(states("another", sentence::choice_another_variant(), &[]));
    let name = format!("{}, {} ({})", only.transmission, only.label, only.code);
    together(sentence::ask_by_rule(name), choices)
}

pub(super) fn codes(_: &Facts<'_>) -> Vec<Field> {
    let states = choice(&["none", "read", "not-readable"], sentence::codes_state);
    vec![
        field("state", sentence::ask_codes_state(), states),
        // Asked beside 'read' only.
        optional("codes", sentence::ask_codes(), Input::Text),
    ]
}

pub(super) fn drive_before(_: &Facts<'_>) -> Vec<Field> {
    let words = ["normal", "late", "harsh", "flare", "shudder", "noise", "slip", "bang"];
    vec![
        field("ticks", sentence::ask_ticks(), choices(&words, sentence::drive_tick)),
        field("warmth", sentence::ask_warmth(), choice(&["cold", "warm"], sentence::warmth)),
    ]
}

/// After the work the vehicle is warm, and most often changes as it should.
pub(super) fn drive_after(facts: &Facts<'_>) -> Vec<Field> {
    let well = states("well", sentence::choice_drives_well(), &[("ticks", "normal"), ("warmth", "warm")]);
    let mut fields = vec![together(
        sentence::ask_drive(),
        vec![well, states("else", sentence::choice_drives_else(), &[])],
    )];
    fields.extend(drive_before(facts));
    fields
}

pub(super) fn sample(_: &Facts<'_>) -> Vec<Field> {
    // How old it is, is what is mostly seen; another dye is named in a second question.
    let aged = |word| states(word, sentence::colour_seen(word), &[("colour", word)]);
    let mut colours = ["as-fresh", "darker", "brown", "black"].map(aged).to_vec();
    colours.push(states("dye", sentence::choice_another_dye(), &[]));
    let dyes = choice(&["yellow", "green", "blue", "red"], sentence::colour_seen);
    let smells = choice(&["as-fresh", "slightly-sharp", "burnt"], sentence::smell);
    let places = choice(&["cooler-line", "pan", "filler"], sentence::sample_drawn_at);
    vec![
        together(sentence::row_colour(), colours),
        field("colour", sentence::ask_dye(), dyes),
        field("clouding", sentence::row_clouding(), choice(&["clear", "hazy", "milky"], sentence::clouding)),
        field("smell", sentence::row_smell(), smells),
        field("specks", sentence::row_specks(), choice(&DEBRIS, sentence::debris)),
        spare("place", sentence::ask_sample_place(), places),
        spare("temperature_celsius", sentence::ask_temperature(), Input::Quantity { units: &["°C"] }),
    ]
}

pub(super) fn fluid(facts: &Facts<'_>) -> Vec<Field> {
    let named = |variant: &Variant| Some((variant.fluid.code.clone(), Some(variant.fluid.name.clone())));
    let mut fields = code_read(facts, sentence::ask_fluid_code(), named);
    fields.push(optional("lot", sentence::ask_lot(), Input::Text));
    fields
}

pub(super) fn filter(facts: &Facts<'_>) -> Vec<Field> {
    code_read(facts, sentence::ask_filter_code(), filter_code)
}

pub(super) fn old_filter(facts: &Facts<'_>) -> Vec<Field> {
    code_read(facts, sentence::ask_old_filter_code(), filter_code)
}

pub(super) fn standpipe(facts: &Facts<'_>) -> Vec<Field> {
    let named = |variant: &Variant| Some((variant.standpipe_code.clone()?, variant.standpipe_label.clone()));
    code_read(facts, sentence::ask_standpipe_code(), named)
}

fn filter_code(variant: &Variant) -> Option<(String, Option<String>)> {
    Some((variant.filter_code.clone()?, None))
}

/// The codes of all variants of the transmission, one key each, and any other typed.
fn code_read(
    facts: &Facts<'_>,
    ask: Sentence,
    named: impl Fn(&Variant) -> Option<(String, Option<String>)>,
) -> Vec<Field> {
    let typed = field("code", sentence::ask_code(), Input::Text);
    let variants = facts.context.revision.variants();
    let settled = facts.identity.variant.as_ref();
    let own = variants.iter().find(|variant| settled.is_some_and(|settled| settled.code == variant.code));
    let sisters =
        variants.iter().filter(|variant| own.is_none_or(|own| own.transmission == variant.transmission));
    let mut codes: Vec<_> = sisters.filter_map(named).collect();
    codes.sort();
    codes.dedup();
    if codes.is_empty() || codes.len() > CODES_MAX {
        return vec![typed];
    }
    let mut choices: Vec<Choice> = codes.iter().map(code_choice).collect();
    choices.push(states("another", sentence::choice_another_code(), &[]));
    vec![together(ask, choices), typed]
}

fn code_choice((code, name): &(String, Option<String>)) -> Choice {
    let text = match name {
        Some(name) => sentence::choice_code_named(code, name),
        None => sentence::choice_code(code),
    };
    states(code, text, &[("code", code)])
}

/// Whether the plug may be touched is asked with conditions, not with readings: one tap on the whole set.
pub(super) fn level_conditions() -> Vec<Field> {
    let all = [("engine_idling", "yes"), ("vehicle_level", "yes"), ("selector", "park")];
    let choices = vec![
        states("all", sentence::choice_level_all(), &all),
        states("each", sentence::choice_level_each(), &[]),
    ];
    let selectors = choice(&["park", "neutral", "other"], sentence::selector);
    vec![
        together(sentence::ask_level_conditions(), choices),
        field("engine_idling", sentence::ask_idling(), yes_no()),
        field("vehicle_level", sentence::ask_vehicle_level(), yes_no()),
        field("selector", sentence::ask_selector(), selectors),
    ]
}

/// Debris in the pan.
pub(super) fn debris() -> Field {
    field("debris", sentence::ask_debris(), choice(&DEBRIS, sentence::debris))
}

/// The distance at the end.
pub(super) fn distance_out() -> Field {
    spare("odometer_kilometres", sentence::ask_odometer(), Input::Quantity { units: &["km"] })
}

/// A tool, proposed where one was used before.
pub(super) fn tool(last: Option<String>) -> Field {
    proposed(spare("tool", sentence::ask_tool(), Input::Text), last, sentence::why_last_tool)
}
