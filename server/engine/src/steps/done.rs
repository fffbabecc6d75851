//! The fields of what is done: hook-up, exchange, pan, parts, screws, refill, gears, level, plug, waste, end.
//!
//! A set of conditions or of catalogue values is said by one tap; what is measured is typed. A temperature that
//! was read a moment ago is not typed again: it is known while it is fresh, which is not the same as proposed.

use super::field::{choice, choices, field, litres, optional, proposed, spare, states, together, yes_no};
use super::{Field, Input, equipped, looked};
use crate::amount::Read;
use crate::catalogue::LevelMethod;
use crate::gates::Facts;
use crate::job::FreshReading;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::part_checked::PartChecked;
use crate::kind::part_fitted::{PartFitted, in_words};
use crate::kind::words::{Part, ServicePart, TemperatureMeans};
use crate::site::equipment;
use crate::text::{Sentence, number, sentence};

const NEWTON_METRES: Input = Input::Quantity { units: &["N·m"] };

/// An adapter is named and asked for only where the catalogue knows of one.
pub(super) fn hookup(facts: &Facts<'_>) -> Vec<Field> {
    let known = facts.identity.variant.as_ref().map_or(&[][..], |variant| &variant.hookups);
    let adapter = |place: &str| {
        let there = known.iter().filter(|hookup| hookup.place.word() == place);
        there.filter_map(|hookup| hookup.adapter.as_deref()).next()
    };
    // What is to know there stands with the first of a place, which is the one that is proposed.
    let noted = |place: &str, choice: Sentence| {
        let first = known.iter().find(|hookup| hookup.place.word() == place);
        match first.and_then(|hookup| hookup.note.as_deref()) {
            Some(note) => sentence::choice_hookup_noted(choice, note),
            None => choice,
        }
    };
    let tested = |place: &'static str| match adapter(place) {
        Some(adapter) => {
            let also = [("place", place), ("adapter", adapter), ("direction_tested", "yes")];
            states(place, noted(place, sentence::choice_hookup_adapter(adapter, place)), &also)
        }
        None => {
            let also = [("place", place), ("adapter", ""), ("direction_tested", "yes")];
            // Without any adapter in the catalogue there is no such field to leave empty.
            let also = also.into_iter().filter(|(name, _)| *name != "adapter" || !known.is_empty());
            states(place, noted(place, sentence::choice_hookup(place)), &also.collect::<Vec<_>>())
        }
    };
    let each = states("each", sentence::choice_hookup("untested"), &[]);
    let places = choice(&["cooler-line", "transmission"], sentence::hookup_place);
    let mut fields = vec![
        together(sentence::ask_hookup(), vec![tested("cooler-line"), tested("transmission"), each]),
        field("place", sentence::ask_hookup_place(), places),
    ];
    if !known.is_empty() {
        fields.push(optional("adapter", sentence::ask_adapter(), Input::Text));
    }
    fields.push(field("direction_tested", sentence::ask_direction(), yes_no()));
    // Of several it has to be known which one, since each holds what it pushed last.
    let several = equipment::one_of(facts.context, facts.folded).len() > 1;
    let ask = if several { field } else { spare };
    fields.push(ask("equipment", sentence::ask_equipment(), Input::Text));
    fields
}

/// The fields are always the same, so that a station without the server can ask on: the display at zero, looks
/// with tubes, the end.
pub(super) fn exchange(facts: &Facts<'_>) -> Vec<Field> {
    const PERCENTS: [&str; 6] = ["0", "25", "50", "75", "90", "100"];
    let pushed =
        facts.folded.each::<ExchangeReading>().filter_map(|(_, reading)| match reading.pushed_in.read() {
            Read::Litres(litres) => Some(litres),
            Read::Kilograms(_) => None,
        });
    let most = pushed.fold(None, |most: Option<f64>, litres| Some(most.unwrap_or(0.0).max(litres)));
    let fill = facts.identity.variant.as_ref().and_then(|variant| variant.total_fill_litres);
    // Before the transmission's own fill went in, hardly anybody ends; until then the end is asked on request.
    let early = most.zip(fill).is_some_and(|(litres, fill)| litres < fill.value);
    let ended = choice(&["no", "yes"], sentence::exchange_goes);
    let mut fields = vec![
        field("volume_in_litres", sentence::ask_pushed(), litres()),
        optional("tube_percent", sentence::ask_tube(), choice(&PERCENTS, sentence::tube)),
        if early {
            spare("last", sentence::ask_last(), ended)
        } else {
            field("last", sentence::ask_last(), ended)
        },
        // Asked at the end only.
        optional("volume_out_litres", sentence::ask_out(), litres()),
    ];
    if most.is_none() {
        let zero = [("volume_in_litres", "0.0 L"), ("tube_percent", ""), ("last", "no")];
        let choices = vec![
            states("zero", sentence::choice_display_zero(), &zero),
            states("more", sentence::choice_display_more(), &[]),
        ];
        fields.insert(0, together(sentence::ask_display(), choices));
    }
    fields
}

pub(super) fn pan(_: &Facts<'_>) -> Vec<Field> {
    vec![field("amount", sentence::ask_drained(), Input::Quantity { units: &["L", "kg"] }), looked::debris()]
}

/// A kit that the catalogue knows is said by one tap; else, or with anything left out, part by part.
pub(super) fn fitted(facts: &Facts<'_>) -> Vec<Field> {
    const PARTS: [&str; 9] = [
        "filter",
        "pan-seal",
        "magnets",
        "pan-screws",
        "pan",
        "standpipe",
        "plug",
        "plug-seal",
        "wiring-sleeve",
    ];
    let kit = facts.identity.variant.as_ref().and_then(|variant| variant.kit.as_ref());
    let usual = "filter,pan-seal,magnets,pan-screws".to_owned();
    let parts = kit.map(|kit| kit.parts.iter().map(|part| part.word()).collect::<Vec<_>>().join(","));
    let shown = |name| choices(&PARTS, name);
    let fitted = field("fitted", sentence::ask_fitted(), shown(sentence::service_part));
    let mut fields = vec![
        proposed(fitted, Some(parts.clone().unwrap_or(usual)), sentence::why_kit),
        spare("excepted", sentence::ask_excepted(), shown(sentence::service_part)),
    ];
    if let Some((kit, parts)) = kit.zip(parts) {
        let all = [("kit", kit.code.as_str()), ("fitted", parts.as_str())];
        let choices = vec![
            states("all", sentence::choice_kit_all(&kit.code, in_words(&kit.parts)), &all),
            states("each", sentence::choice_otherwise(), &[]),
        ];
        fields.insert(0, spare("kit", sentence::ask_kit(), Input::Text));
        fields.insert(0, together(sentence::ask_fitted_how(), choices));
    }
    fields
}

pub(super) fn screws(facts: &Facts<'_>) -> Vec<Field> {
    let variant = facts.identity.variant.as_ref();
    let count = variant.and_then(|variant| variant.pan_screw_count).map(|count| count.to_string());
    let torque = variant.and_then(|variant| variant.pan_screw_torque_newton_metres).map(newton_metres);
    let last = equipped::last_tool(facts, torque_of(facts));
    // Screws that were not named as new are counted one by one: nothing says how many of them went back.
    let fitted = facts.folded.last::<PartFitted>().map(|(_, fitted)| fitted);
    let all_new =
        fitted.is_none_or(|fitted| fitted.fitted.is_empty() || fitted.is_new(ServicePart::PanScrews));
    let mut fields = vec![
        proposed(
            field("screw_count", sentence::ask_screws(), Input::Count),
            count.clone(),
            sentence::why_catalogue,
        ),
        proposed(
            field("new_screw_count", sentence::ask_new_screws(), Input::Count),
            count.clone().filter(|_| all_new),
            sentence::why_single_use,
        ),
        proposed(
            field("torque_newton_metres", sentence::ask_torque(), NEWTON_METRES),
            torque.clone(),
            sentence::why_catalogue,
        ),
        field("order_kept", sentence::ask_order(), yes_no()),
        looked::tool(last),
    ];
    if let Some((count, torque)) = count.zip(torque).filter(|_| all_new) {
        let all = [
            ("screw_count", count.as_str()),
            ("new_screw_count", count.as_str()),
            ("torque_newton_metres", torque.as_str()),
            ("order_kept", "yes"),
        ];
        let choices = vec![
            states("all", sentence::choice_screws_all(count.as_str(), torque.as_str()), &all),
            states("each", sentence::choice_otherwise(), &[]),
        ];
        fields.insert(0, together(sentence::ask_screws_how(), choices));
    }
    fields
}

fn torque_of(facts: &Facts<'_>) -> Option<f64> {
    facts.identity.variant.as_ref().and_then(|variant| variant.pan_screw_torque_newton_metres)
}

pub(super) fn refill(facts: &Facts<'_>) -> Vec<Field> {
    let left = crate::job::to_refill(facts.context, facts.folded, facts.identity);
    // What was weighed on the way out is weighed on the way in.
    let weighed = left.as_ref().is_some_and(|left| matches!(left.read(), Read::Kilograms(_)));
    let amount = left.map(|left| left.as_read().replace('\u{a0}', " "));
    let units: &[&str] = if weighed { &["kg", "L"] } else { &["L", "kg"] };
    let amount = proposed(
        field("amount", sentence::ask_refilled(), Input::Quantity { units }),
        amount,
        sentence::why_as_drained,
    );
    [amount].into_iter().chain(with_what(facts)).collect()
}

pub(super) fn added(facts: &Facts<'_>) -> Vec<Field> {
    let amount = field("amount", sentence::ask_added(), Input::Quantity { units: &["L", "kg"] });
    [amount].into_iter().chain(with_what(facts)).collect()
}

/// The container that was compared, by one tap; any other is named, with its lot.
fn with_what(facts: &Facts<'_>) -> Vec<Field> {
    let mut fields = vec![
        field("fluid_code", sentence::ask_with_what(), Input::Text),
        optional("lot", sentence::ask_lot(), Input::Text),
    ];
    if let Some(check) = container(facts) {
        let also = [("fluid_code", check.code.as_str()), ("lot", check.lot.as_str())];
        let choices = vec![
            states("compared", sentence::choice_container(&check.code, lot_in_words(&check.lot)), &also),
            states("another", sentence::choice_another_container(), &[]),
        ];
        fields.insert(0, together(sentence::ask_container(), choices));
    }
    fields
}

fn lot_in_words(lot: &str) -> Sentence {
    if lot.is_empty() { sentence::choice_no_lot() } else { sentence::choice_lot(lot) }
}

fn container<'a>(facts: &'a Facts<'_>) -> Option<&'a PartChecked> {
    let mut checks = facts.folded.each::<PartChecked>();
    let last = checks.rfind(|(_, check)| check.part == Some(Part::FluidContainer));
    last.map(|(_, check)| check).filter(|_| facts.identity.fluid_agrees)
}

pub(super) fn gears(facts: &Facts<'_>) -> Vec<Field> {
    let person = facts.folded.story.last().map(|line| line.person.clone());
    let mut fields = vec![
        field("driver_person_code", sentence::ask_driver(), Input::Text),
        field("nobody_under_vehicle", sentence::ask_nobody_under(), yes_no()),
    ];
    if let Some(person) = person {
        let clear = [("driver_person_code", person.as_str()), ("nobody_under_vehicle", "yes")];
        let name = facts.context.person(&person);
        let choices = vec![
            states("clear", sentence::choice_gears_clear(name), &clear),
            states("each", sentence::choice_somebody_else(), &[]),
        ];
        fields.insert(0, together(sentence::ask_gears(), choices));
    }
    fields
}

pub(super) fn temperature(_: &Facts<'_>) -> Vec<Field> {
    vec![field("temperature_celsius", sentence::ask_temperature(), Input::Quantity { units: &["°C"] })]
}

/// How the level of the settled variant is found: at an overflow unless the catalogue says otherwise.
pub(super) fn level_method(facts: &Facts<'_>) -> LevelMethod {
    let method = facts.identity.variant.as_ref().and_then(|variant| variant.level_method);
    method.unwrap_or(LevelMethod::StandpipeOverflow)
}

pub(super) fn level(facts: &Facts<'_>) -> Vec<Field> {
    let method = level_method(facts);
    let (seen, taken) = if method == LevelMethod::Dipstick {
        let marks = choice(&["below", "between", "above"], sentence::dipstick);
        (field("dipstick", sentence::ask_dipstick(), marks), sentence::ask_taken())
    } else {
        let came = choice(&["nothing", "drops", "stream"], sentence::overflow);
        (field("overflow", sentence::ask_overflow(method.code()), came), sentence::ask_caught())
    };
    let mut fields = vec![
        field("temperature_celsius", sentence::ask_temperature(), Input::Quantity { units: &["°C"] }),
        seen,
    ];
    fields.extend(looked::level_conditions());
    fields.push(optional("caught_litres", taken, litres()));
    fields
}

/// The temperature on which the plug is opened, as it was read, while it is fresh.
pub(super) fn level_known(facts: &Facts<'_>) -> Vec<(&'static str, String)> {
    let read = crate::job::fresh_temperature(facts.context, facts.folded);
    let Some(FreshReading { celsius, means }) = read else {
        return vec![("means", TemperatureMeans::ScanTool.word().to_owned())];
    };
    let means = means.unwrap_or(TemperatureMeans::ScanTool).word().to_owned();
    vec![("means", means), ("temperature_celsius", format!("{celsius} °C"))]
}

pub(super) fn plug(facts: &Facts<'_>) -> Vec<Field> {
    let torque = facts.identity.variant.as_ref().and_then(|variant| variant.plug_torque_newton_metres);
    let torque = torque.map(newton_metres);
    let plug = facts.identity.variant.as_ref().and_then(|variant| variant.plug_torque_newton_metres);
    let last = equipped::last_tool(facts, plug);
    let mut fields = vec![
        field("seal_new", sentence::ask_seal_new(), yes_no()),
        proposed(
            optional("torque_newton_metres", sentence::ask_torque(), NEWTON_METRES),
            torque.clone(),
            sentence::why_catalogue,
        ),
        looked::tool(last),
    ];
    if let Some(torque) = torque {
        let all = [("seal_new", "yes"), ("torque_newton_metres", torque.as_str())];
        let choices = vec![
            states("all", sentence::choice_plug_all(torque.as_str()), &all),
            states("each", sentence::choice_otherwise(), &[]),
        ];
        fields.insert(0, together(sentence::ask_plug_how(), choices));
    }
    fields
}

pub(super) fn leaks(_: &Facts<'_>) -> Vec<Field> {
    let dry = [("found", "dry"), ("line_closed", "yes")];
    let choices = vec![
        states("dry", sentence::choice_dry_and_closed(), &dry),
        states("each", sentence::choice_otherwise(), &[]),
    ];
    vec![
        together(sentence::ask_leaks_how(), choices),
        field("found", sentence::ask_leaks(), choice(&["dry", "damp", "dripping"], sentence::leak_found)),
        field("line_closed", sentence::ask_line_closed(), yes_no()),
    ]
}

pub(super) fn waste(facts: &Facts<'_>) -> Vec<Field> {
    let out = crate::job::came_out(facts.context, facts.folded, facts.identity);
    let proposal = out.map(|litres| format!("{} L", number::fixed(litres.value, 1)));
    vec![proposed(field("amount", sentence::ask_waste(), litres()), proposal, sentence::why_came_out)]
}

pub(super) fn closing(_: &Facts<'_>) -> Vec<Field> {
    let outcomes = choice(&["done", "no-exchange-done"], sentence::outcome);
    vec![field("outcome", sentence::ask_outcome(), outcomes), looked::distance_out()]
}

/// Torque as flags take it, with one decimal only where it has one.
fn newton_metres(torque: f64) -> String {
    let decimals = usize::from((torque - torque.round()).abs() > 1e-9);
    format!("{} N·m", number::fixed(torque, decimals))
}
