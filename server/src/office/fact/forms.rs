//! THE table of forms that state facts of the site, and how each is read.

use super::read::Reader;
use super::{Ask, FactForm, Part};
use crate::office::language::{Words, say};
use standpipe_engine::text::sentence;
use standpipe_proto::typed::Quantity;
use standpipe_proto::v1::fact::Kind;
use standpipe_proto::v1::{self, lot_received, stock_counted, tool_checked};

/// All forms. The first of a kind is the one that a fact of it is stated again with.
pub(super) const FORMS: &[FactForm] = &[
    FactForm {
        path: "lot",
        kind: "lot_received",
        title: sentence::page_a_lot_came_in,
        lead: None,
        shown_on: "/store",
        parts: LOT,
        choices: &[("amount", "volume_litres")],
        read: lot,
    },
    FactForm {
        path: "count",
        kind: "stock_counted",
        title: sentence::page_the_store_was_counted,
        lead: Some(sentence::page_one_code_or_lot_at_a),
        shown_on: "/store",
        parts: COUNT,
        choices: &[("amount", "volume_litres")],
        read: count,
    },
    FactForm {
        path: "torque-tool",
        kind: "tool_checked",
        title: sentence::page_a_torque_tool_was_checked,
        lead: Some(sentence::page_each_torque_as_the_tool_showed),
        shown_on: "/tools",
        parts: TORQUE_TOOL,
        choices: &[],
        read: torque_tool,
    },
    FactForm {
        path: "litre-display",
        kind: "tool_checked",
        title: sentence::page_a_litre_display_was_checked,
        lead: Some(sentence::page_let_at_least_5_l_run),
        shown_on: "/tools",
        parts: LITRE_DISPLAY,
        choices: &[("reference", "reference_litres")],
        read: litre_display,
    },
    FactForm {
        path: "tool",
        kind: "tool_checked",
        title: sentence::page_a_tool_was_overloaded_or_taken,
        lead: Some(sentence::page_it_needs_a_check_before_it),
        shown_on: "/tools",
        parts: TOOL,
        choices: &[],
        read: tool,
    },
    FactForm {
        path: "equipment",
        kind: "equipment_contents",
        title: sentence::page_what_equipment_holds,
        lead: Some(sentence::page_tank_and_hoses_keep_some_of),
        shown_on: "/equipment",
        parts: EQUIPMENT,
        choices: &[],
        read: equipment,
    },
    FactForm {
        path: "waste",
        kind: "waste_collected",
        title: sentence::page_waste_was_collected,
        lead: None,
        shown_on: "/waste",
        parts: WASTE,
        choices: &[],
        read: waste,
    },
    FactForm {
        path: "recall",
        kind: "lot_recalled",
        title: sentence::page_a_lot_was_recalled,
        lead: None,
        shown_on: "/recall",
        parts: RECALL,
        choices: &[],
        read: recall,
    },
];

const SUPPLIES: &[(&str, Words)] = &[
    ("SUPPLY_FLUID", sentence::page_supply_fluid),
    ("SUPPLY_FILTER", sentence::page_supply_filter),
    ("SUPPLY_KIT", sentence::page_supply_kit),
    ("SUPPLY_SEAL", sentence::page_supply_seal),
    ("SUPPLY_SCREWS", sentence::page_supply_screws),
    ("SUPPLY_OTHER", sentence::page_supply_other),
];
const CODE: Ask = Ask::Text {
    name: "code",
    label: sentence::page_code,
    hint: Some(sentence::page_as_on_the_container_or_the),
    length: 40,
};

const LOT: &[Part] = &[
    Part {
        legend: sentence::page_what_came_in,
        boxes: &[
            Ask::Choice { name: "what", label: sentence::page_what, options: SUPPLIES },
            CODE,
            Ask::Text {
                name: "lot",
                label: sentence::page_lot,
                hint: Some(sentence::page_as_on_the_container_or_the),
                length: 40,
            },
            litres(
                "volume_litres",
                sentence::page_fluid,
                Some(sentence::page_the_whole_delivery_of_this_lot),
            ),
            pieces(
                "piece_count",
                sentence::page_anything_else,
                Some(sentence::page_the_whole_delivery_of_this_lot),
            ),
        ],
    },
    Part {
        legend: sentence::page_if_it_is_known,
        boxes: &[
            Ask::Choice {
                name: "container",
                label: sentence::page_the_fluid_came_in,
                options: &[
                    ("CONTAINER_UNSPECIFIED", sentence::page_not_noted),
                    ("CONTAINER_DRUM", sentence::page_a_drum),
                    ("CONTAINER_CAN", sentence::page_cans_or_bottles),
                ],
            },
            Ask::Number {
                name: "container_count",
                label: sentence::page_in_how_many_of_them,
                unit: "",
                hint: None,
            },
            Ask::Day {
                name: "expires_on",
                label: sentence::page_last_day_to_use_it,
                hint: Some(sentence::page_for_example_2028_05_31),
            },
            Ask::Text { name: "document", label: sentence::page_delivery_note, hint: None, length: 40 },
        ],
    },
];

const COUNT: &[Part] = &[Part {
    legend: sentence::page_what_is_there,
    boxes: &[
        Ask::Choice { name: "what", label: sentence::page_what, options: SUPPLIES },
        CODE,
        Ask::Text {
            name: "lot",
            label: sentence::page_lot,
            hint: Some(sentence::page_empty_all_lots_of_this_code),
            length: 40,
        },
        litres(
            "volume_litres",
            sentence::page_fluid_by_volume,
            Some(sentence::page_one_of_these_three_boxes),
        ),
        Ask::Number {
            name: "mass_kilograms",
            label: sentence::page_fluid_weighed,
            unit: "kg",
            hint: Some(sentence::page_without_the_container),
        },
        pieces("piece_count", sentence::page_anything_else, None),
    ],
}];

const TORQUE_TOOL: &[Part] = &[
    Part {
        legend: sentence::page_tool,
        boxes: &[
            TOOL_CODE,
            newton_metres("least_newton_metres", sentence::page_marked_from),
            newton_metres("greatest_newton_metres", sentence::page_marked_to),
            Ask::Number {
                name: "limit_percent",
                label: sentence::page_it_may_deviate_by,
                unit: "%",
                hint: Some(sentence::page_by_its_type_class_and_range),
            },
        ],
    },
    Part {
        legend: sentence::page_check_up_to_five_torques,
        boxes: &[
            newton_metres("torques[0].shown_newton_metres", sentence::page_first_torque_tool),
            newton_metres("torques[0].reference_newton_metres", sentence::page_first_torque_reference),
            newton_metres("torques[1].shown_newton_metres", sentence::page_second_torque_tool),
            newton_metres("torques[1].reference_newton_metres", sentence::page_second_torque_reference),
            newton_metres("torques[2].shown_newton_metres", sentence::page_third_torque_tool),
            newton_metres("torques[2].reference_newton_metres", sentence::page_third_torque_reference),
            newton_metres("torques[3].shown_newton_metres", sentence::page_fourth_torque_tool),
            newton_metres("torques[3].reference_newton_metres", sentence::page_fourth_torque_reference),
            newton_metres("torques[4].shown_newton_metres", sentence::page_fifth_torque_tool),
            newton_metres("torques[4].reference_newton_metres", sentence::page_fifth_torque_reference),
        ],
    },
    PAPERS,
];
/// Pairs of boxes for torques.
const TORQUES: [(&str, &str); 5] = [
    ("torques[0].shown_newton_metres", "torques[0].reference_newton_metres"),
    ("torques[1].shown_newton_metres", "torques[1].reference_newton_metres"),
    ("torques[2].shown_newton_metres", "torques[2].reference_newton_metres"),
    ("torques[3].shown_newton_metres", "torques[3].reference_newton_metres"),
    ("torques[4].shown_newton_metres", "torques[4].reference_newton_metres"),
];
const TOOL_CODE: Ask =
    Ask::Text { name: "tool", label: sentence::page_code_on_the_tool, hint: None, length: 40 };
const PAPERS: Part = Part {
    legend: sentence::page_if_it_is_known,
    boxes: &[
        Ask::Text { name: "certificate", label: sentence::page_certificate, hint: None, length: 40 },
        Ask::Day {
            name: "next_due_on",
            label: sentence::page_next_check,
            hint: Some(sentence::page_for_example_2027_03_18_empty),
        },
    ],
};

const LITRE_DISPLAY: &[Part] = &[
    Part {
        legend: sentence::page_check,
        boxes: &[
            Ask::Text {
                name: "tool",
                label: sentence::page_code_on_the_display_or_its,
                hint: None,
                length: 40,
            },
            litres("shown_litres", sentence::page_the_display_showed, None),
            litres(
                "reference_litres",
                sentence::page_in_the_jug,
                Some(sentence::page_the_jug_or_the_scale_not),
            ),
            Ask::Number {
                name: "reference_kilograms",
                label: sentence::page_on_the_scale,
                unit: "kg",
                hint: Some(sentence::page_without_the_can_fluid_and_temperature),
            },
        ],
    },
    Part {
        legend: sentence::page_fluid,
        boxes: &[
            Ask::Text {
                name: "fluid_code",
                label: sentence::page_code_on_the_container,
                hint: None,
                length: 40,
            },
            Ask::Number {
                name: "temperature_celsius",
                label: sentence::page_temperature,
                unit: "°C",
                hint: None,
            },
        ],
    },
    PAPERS,
];

const TOOL: &[Part] = &[Part {
    legend: sentence::page_tool,
    boxes: &[
        TOOL_CODE,
        Ask::Choice {
            name: "kind",
            label: sentence::page_what_it_is,
            options: &[
                ("TOOL_KIND_TORQUE_TOOL", sentence::page_torque_tool),
                ("TOOL_KIND_LITRE_DISPLAY", sentence::page_litre_display),
            ],
        },
        Ask::Choice {
            name: "event",
            label: sentence::page_what_happened,
            options: &[
                ("TOOL_EVENT_OVERLOADED", sentence::page_overloaded_dropped_or_repaired),
                ("TOOL_EVENT_TAKEN_OUT", sentence::page_taken_out_of_use),
            ],
        },
    ],
}];

const EQUIPMENT: &[Part] = &[
    Part {
        legend: sentence::page_equipment,
        boxes: &[
            Ask::Text {
                name: "equipment",
                label: sentence::page_code_on_the_equipment,
                hint: None,
                length: 40,
            },
            Ask::Choice {
                name: "held",
                label: sentence::page_it_holds,
                options: &[
                    ("HELD_FLUID", sentence::page_the_fluid_below),
                    ("HELD_NOTHING", sentence::page_nothing_it_was_emptied),
                ],
            },
            Ask::Text {
                name: "fluid_code",
                label: sentence::page_code_on_the_container_of_the,
                hint: Some(sentence::page_after_rinsing_of_the_fluid_it),
                length: 40,
            },
            litres("held_litres", sentence::page_about, Some(sentence::page_empty_not_known)),
        ],
    },
    Part {
        legend: sentence::page_if_it_was_rinsed_just_now,
        boxes: &[
            litres("rinsed_litres", sentence::page_rinsed_with, None),
            Ask::Text { name: "lot", label: sentence::page_lot_of_that_fluid, hint: None, length: 40 },
        ],
    },
];

const WASTE: &[Part] = &[Part {
    legend: sentence::page_what_was_taken,
    boxes: &[
        Ask::Text {
            name: "waste_code",
            label: sentence::page_waste_code,
            hint: Some(sentence::page_for_example_13_02_05),
            length: 20,
        },
        Ask::Number {
            name: "mass_kilograms",
            label: sentence::page_how_much,
            unit: "kg",
            hint: Some(sentence::page_as_on_the_document),
        },
        Ask::Text { name: "carrier", label: sentence::page_who_took_it, hint: None, length: 80 },
        Ask::Text { name: "document", label: sentence::page_number_of_the_document, hint: None, length: 40 },
        Ask::Text {
            name: "destination",
            label: sentence::page_where_it_goes,
            hint: Some(sentence::page_if_known_hint),
            length: 80,
        },
        Ask::Text {
            name: "container",
            label: sentence::page_container,
            hint: Some(sentence::page_empty_if_there_is_only_one),
            length: 40,
        },
    ],
}];

const RECALL: &[Part] = &[Part {
    legend: sentence::page_recall,
    boxes: &[
        Ask::Text { name: "lot", label: sentence::page_lot, hint: None, length: 40 },
        Ask::Text {
            name: "code",
            label: sentence::page_code,
            hint: Some(sentence::page_empty_whatever_has_this_lot_number),
            length: 40,
        },
        Ask::Choice {
            name: "lifted",
            label: sentence::page_what_is_stated,
            options: &[
                ("", sentence::page_the_lot_is_recalled),
                ("yes", sentence::page_its_recall_is_lifted),
            ],
        },
        Ask::Sentence {
            name: "reason",
            label: sentence::page_why,
            hint: Some(sentence::page_say_who_recalls_it_and_what),
        },
    ],
}];

const fn litres(name: &'static str, label: Words, hint: Option<Words>) -> Ask {
    Ask::Number { name, label, unit: "L", hint }
}

const fn pieces(name: &'static str, label: Words, hint: Option<Words>) -> Ask {
    Ask::Number { name, label, unit: "pieces", hint }
}

const fn newton_metres(name: &'static str, label: Words) -> Ask {
    Ask::Number { name, label, unit: "N·m", hint: None }
}

fn lot(reader: &mut Reader<'_>) -> Kind {
    use lot_received::Amount;
    reader.only_one(&["volume_litres", "piece_count"]);
    let volume = reader.number("volume_litres", Quantity::Volume).map(Amount::VolumeLitres);
    let pieces = reader.count("piece_count").map(Amount::PieceCount);
    Kind::LotReceived(v1::LotReceived {
        lot: reader.lot("lot"),
        what: reader.choice("what", v1::Supply::from_str_name),
        code: reader.text("code"),
        amount: volume.or(pieces),
        container: reader.choice("container", v1::Container::from_str_name),
        container_count: reader.count("container_count"),
        expires_on: reader.day("expires_on"),
        document: reader.text("document"),
    })
}

fn count(reader: &mut Reader<'_>) -> Kind {
    use stock_counted::Amount;
    reader.only_one(&["volume_litres", "mass_kilograms", "piece_count"]);
    let volume = reader.number("volume_litres", Quantity::Volume).map(Amount::VolumeLitres);
    let mass = reader.number("mass_kilograms", Quantity::Mass).map(Amount::MassKilograms);
    let pieces = reader.count("piece_count").map(Amount::PieceCount);
    Kind::StockCounted(v1::StockCounted {
        what: reader.choice("what", v1::Supply::from_str_name),
        code: reader.text("code"),
        lot: reader.text("lot"),
        amount: volume.or(mass).or(pieces),
    })
}

fn torque_tool(reader: &mut Reader<'_>) -> Kind {
    let mut torques = Vec::new();
    for (place, (tool, reference)) in TORQUES.into_iter().enumerate() {
        let shown = reader.number(tool, Quantity::Torque);
        let compared = reader.number(reference, Quantity::Torque);
        match (shown, compared) {
            (Some(shown_newton_metres), Some(reference_newton_metres)) => {
                torques.push(v1::TorqueReading { shown_newton_metres, reference_newton_metres });
                reader.items.push(place);
            }
            (Some(_), None) => reader.wrong.say(reference, say!(page_the_reference_is_missing)),
            (None, Some(_)) => reader.wrong.say(tool, say!(page_what_the_tool_showed_is_missing)),
            (None, None) => {}
        }
    }
    if torques.is_empty() {
        let (first, _) = TORQUES[0];
        reader.wrong.say(first, say!(page_a_check_needs_at_least_one));
    }
    Kind::ToolChecked(v1::ToolChecked {
        tool: reader.text("tool"),
        kind: v1::ToolKind::TorqueTool.into(),
        event: v1::ToolEvent::Checked.into(),
        least_newton_metres: reader.number("least_newton_metres", Quantity::Torque),
        greatest_newton_metres: reader.number("greatest_newton_metres", Quantity::Torque),
        limit_percent: reader.number("limit_percent", Quantity::Percent),
        torques,
        certificate: reader.text("certificate"),
        next_due_on: reader.day("next_due_on"),
        ..v1::ToolChecked::default()
    })
}

fn litre_display(reader: &mut Reader<'_>) -> Kind {
    use tool_checked::Reference;
    reader.only_one(&["reference_litres", "reference_kilograms"]);
    let jug = reader.number("reference_litres", Quantity::Volume).map(Reference::ReferenceLitres);
    let scale = reader.number("reference_kilograms", Quantity::Mass).map(Reference::ReferenceKilograms);
    Kind::ToolChecked(v1::ToolChecked {
        tool: reader.text("tool"),
        kind: v1::ToolKind::LitreDisplay.into(),
        event: v1::ToolEvent::Checked.into(),
        shown_litres: reader.number("shown_litres", Quantity::Volume),
        reference: jug.or(scale),
        temperature_celsius: reader.number("temperature_celsius", Quantity::Temperature),
        fluid_code: reader.text("fluid_code"),
        certificate: reader.text("certificate"),
        next_due_on: reader.day("next_due_on"),
        ..v1::ToolChecked::default()
    })
}

fn tool(reader: &mut Reader<'_>) -> Kind {
    Kind::ToolChecked(v1::ToolChecked {
        tool: reader.text("tool"),
        kind: reader.choice("kind", v1::ToolKind::from_str_name),
        event: reader.choice("event", v1::ToolEvent::from_str_name),
        ..v1::ToolChecked::default()
    })
}

fn equipment(reader: &mut Reader<'_>) -> Kind {
    Kind::EquipmentContents(v1::EquipmentContents {
        equipment: reader.text("equipment"),
        held: reader.choice("held", v1::Held::from_str_name),
        fluid_code: reader.text("fluid_code"),
        held_litres: reader.number("held_litres", Quantity::Volume),
        rinsed_litres: reader.number("rinsed_litres", Quantity::Volume),
        lot: reader.text("lot"),
    })
}

fn waste(reader: &mut Reader<'_>) -> Kind {
    let kilograms = reader.number("mass_kilograms", Quantity::Mass);
    if kilograms.is_none() {
        reader.wrong.say("mass_kilograms", say!(page_how_much_was_taken_is_missing));
    }
    Kind::WasteCollected(v1::WasteCollected {
        waste_code: reader.text("waste_code"),
        mass_kilograms: kilograms.unwrap_or_default(),
        carrier: reader.text("carrier"),
        document: reader.text("document"),
        destination: reader.text("destination"),
        container: reader.text("container"),
    })
}

fn recall(reader: &mut Reader<'_>) -> Kind {
    Kind::LotRecalled(v1::LotRecalled {
        lot: reader.lot("lot"),
        code: reader.text("code"),
        reason: reader.text("reason"),
        lifted: reader.has("lifted"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_engine::kind::site::SITE_NAMES;
    use standpipe_proto::limits::bound;
    use std::collections::BTreeSet;

    /// Message of a kind, for example `LotReceived`.
    fn message(kind: &str) -> String {
        let parts = kind.split('_').map(|word| word[..1].to_uppercase() + &word[1..]);
        parts.collect()
    }

    #[test]
    fn every_kind_that_a_station_states_of_the_site_has_a_form() {
        let kinds: BTreeSet<&str> = FORMS.iter().map(|form| form.kind).collect();
        assert_eq!(kinds, SITE_NAMES.iter().copied().collect());
    }

    #[test]
    fn every_box_is_a_field_with_a_bound_and_every_word_is_known() {
        for form in FORMS {
            for ask in form.parts.iter().flat_map(|part| part.boxes) {
                let name = match ask {
                    Ask::Text { name, .. }
                    | Ask::Sentence { name, .. }
                    | Ask::Number { name, .. }
                    | Ask::Day { name, .. }
                    | Ask::Choice { name, .. } => *name,
                };
                let (message, field) = match name.split_once("].") {
                    Some((_, field)) => ("TorqueReading".to_owned(), field),
                    None => (message(form.kind), name),
                };
                assert!(bound(&message, field).is_some(), "{}: {message}.{field}", form.path);
                let Ask::Choice { options, .. } = ask else { continue };
                for (value, _) in options.iter().filter(|_| name != "lifted") {
                    let known = v1::Supply::from_str_name(value).is_some()
                        || v1::Container::from_str_name(value).is_some()
                        || v1::ToolKind::from_str_name(value).is_some()
                        || v1::ToolEvent::from_str_name(value).is_some()
                        || v1::Held::from_str_name(value).is_some();
                    assert!(known, "{}: {value}", form.path);
                }
            }
        }
    }
}
