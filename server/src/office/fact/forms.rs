//! THE table of forms that state facts of the site, and how each is read.

use super::read::Reader;
use super::{Ask, FactForm, Part};
use standpipe_proto::typed::Quantity;
use standpipe_proto::v1::fact::Kind;
use standpipe_proto::v1::{self, lot_received, stock_counted, tool_checked};

/// All forms. The first of a kind is the one that a fact of it is stated again with.
pub(super) const FORMS: &[FactForm] = &[
    FactForm {
        path: "lot",
        kind: "lot_received",
        title: "A lot came in",
        lead: "",
        shown_on: "/store",
        parts: LOT,
        choices: &[("amount", "volume_litres")],
        read: lot,
    },
    FactForm {
        path: "count",
        kind: "stock_counted",
        title: "The store was counted",
        lead: "One code or lot at a time. What is stated is what is there now.",
        shown_on: "/store",
        parts: COUNT,
        choices: &[("amount", "volume_litres")],
        read: count,
    },
    FactForm {
        path: "torque-tool",
        kind: "tool_checked",
        title: "A torque tool was checked",
        lead: "Each torque as the tool showed it or was set to, and as the reference showed it.",
        shown_on: "/tools",
        parts: TORQUE_TOOL,
        choices: &[],
        read: torque_tool,
    },
    FactForm {
        path: "litre-display",
        kind: "tool_checked",
        title: "A litre display was checked",
        lead: "Let at least 5 L run into a jug or a can on a scale.",
        shown_on: "/tools",
        parts: LITRE_DISPLAY,
        choices: &[("reference", "reference_litres")],
        read: litre_display,
    },
    FactForm {
        path: "tool",
        kind: "tool_checked",
        title: "A tool was overloaded or taken out",
        lead: "It needs a check before it is used again.",
        shown_on: "/tools",
        parts: TOOL,
        choices: &[],
        read: tool,
    },
    FactForm {
        path: "equipment",
        kind: "equipment_contents",
        title: "What equipment holds",
        lead: "Tank and hoses keep some of the last fluid; the next vehicle gets it first.",
        shown_on: "/equipment",
        parts: EQUIPMENT,
        choices: &[],
        read: equipment,
    },
    FactForm {
        path: "waste",
        kind: "waste_collected",
        title: "Waste was collected",
        lead: "",
        shown_on: "/waste",
        parts: WASTE,
        choices: &[],
        read: waste,
    },
    FactForm {
        path: "recall",
        kind: "lot_recalled",
        title: "A lot was recalled",
        lead: "",
        shown_on: "/recall",
        parts: RECALL,
        choices: &[],
        read: recall,
    },
];

const SUPPLIES: &[(&str, &str)] = &[
    ("SUPPLY_FLUID", "fluid"),
    ("SUPPLY_FILTER", "filter"),
    ("SUPPLY_KIT", "kit"),
    ("SUPPLY_SEAL", "seal"),
    ("SUPPLY_SCREWS", "screws"),
    ("SUPPLY_OTHER", "other part"),
];
const CODE: Ask =
    Ask::Text { name: "code", label: "Code", hint: "As on the container or the box.", length: 40 };

const LOT: &[Part] = &[
    Part {
        legend: "What came in",
        boxes: &[
            Ask::Choice { name: "what", label: "What", options: SUPPLIES },
            CODE,
            Ask::Text { name: "lot", label: "Lot", hint: "As on the container or the box.", length: 40 },
            litres("volume_litres", "Fluid", "The whole delivery of this lot."),
            pieces("piece_count", "Anything else", "The whole delivery of this lot."),
        ],
    },
    Part {
        legend: "If it is known",
        boxes: &[
            Ask::Choice {
                name: "container",
                label: "The fluid came in",
                options: &[
                    ("CONTAINER_UNSPECIFIED", "not noted"),
                    ("CONTAINER_DRUM", "a drum"),
                    ("CONTAINER_CAN", "cans or bottles"),
                ],
            },
            Ask::Number { name: "container_count", label: "In how many of them", unit: "", hint: "" },
            Ask::Day { name: "expires_on", label: "Last day to use it", hint: "For example 2028-05-31." },
            Ask::Text { name: "document", label: "Delivery note", hint: "", length: 40 },
        ],
    },
];

const COUNT: &[Part] = &[Part {
    legend: "What is there",
    boxes: &[
        Ask::Choice { name: "what", label: "What", options: SUPPLIES },
        CODE,
        Ask::Text {
            name: "lot",
            label: "Lot",
            hint: "Empty: all lots of this code were counted together.",
            length: 40,
        },
        litres("volume_litres", "Fluid, by volume", "One of these three boxes."),
        Ask::Number {
            name: "mass_kilograms",
            label: "Fluid, weighed",
            unit: "kg",
            hint: "Without the container.",
        },
        pieces("piece_count", "Anything else", ""),
    ],
}];

const TORQUE_TOOL: &[Part] = &[
    Part {
        legend: "Tool",
        boxes: &[
            TOOL_CODE,
            newton_metres("least_newton_metres", "Marked from"),
            newton_metres("greatest_newton_metres", "Marked to"),
            Ask::Number {
                name: "limit_percent",
                label: "It may deviate by",
                unit: "%",
                hint: "By its type, class and range; see its papers.",
            },
        ],
    },
    Part {
        legend: "Check, up to five torques",
        boxes: &[
            newton_metres("torques[0].shown_newton_metres", "First torque, tool"),
            newton_metres("torques[0].reference_newton_metres", "First torque, reference"),
            newton_metres("torques[1].shown_newton_metres", "Second torque, tool"),
            newton_metres("torques[1].reference_newton_metres", "Second torque, reference"),
            newton_metres("torques[2].shown_newton_metres", "Third torque, tool"),
            newton_metres("torques[2].reference_newton_metres", "Third torque, reference"),
            newton_metres("torques[3].shown_newton_metres", "Fourth torque, tool"),
            newton_metres("torques[3].reference_newton_metres", "Fourth torque, reference"),
            newton_metres("torques[4].shown_newton_metres", "Fifth torque, tool"),
            newton_metres("torques[4].reference_newton_metres", "Fifth torque, reference"),
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
const TOOL_CODE: Ask = Ask::Text { name: "tool", label: "Code on the tool", hint: "", length: 40 };
const PAPERS: Part = Part {
    legend: "If it is known",
    boxes: &[
        Ask::Text { name: "certificate", label: "Certificate", hint: "", length: 40 },
        Ask::Day {
            name: "next_due_on",
            label: "Next check",
            hint: "For example 2027-03-18; empty: by the settings of the workshop.",
        },
    ],
};

const LITRE_DISPLAY: &[Part] = &[
    Part {
        legend: "Check",
        boxes: &[
            Ask::Text { name: "tool", label: "Code on the display or its equipment", hint: "", length: 40 },
            litres("shown_litres", "The display showed", ""),
            litres("reference_litres", "In the jug", "The jug or the scale, not both."),
            Ask::Number {
                name: "reference_kilograms",
                label: "On the scale",
                unit: "kg",
                hint: "Without the can; fluid and temperature are then needed.",
            },
        ],
    },
    Part {
        legend: "Fluid",
        boxes: &[
            Ask::Text { name: "fluid_code", label: "Code on the container", hint: "", length: 40 },
            Ask::Number { name: "temperature_celsius", label: "Temperature", unit: "°C", hint: "" },
        ],
    },
    PAPERS,
];

const TOOL: &[Part] = &[Part {
    legend: "Tool",
    boxes: &[
        TOOL_CODE,
        Ask::Choice {
            name: "kind",
            label: "What it is",
            options: &[
                ("TOOL_KIND_TORQUE_TOOL", "torque tool"),
                ("TOOL_KIND_LITRE_DISPLAY", "litre display"),
            ],
        },
        Ask::Choice {
            name: "event",
            label: "What happened",
            options: &[
                ("TOOL_EVENT_OVERLOADED", "overloaded, dropped or repaired"),
                ("TOOL_EVENT_TAKEN_OUT", "taken out of use"),
            ],
        },
    ],
}];

const EQUIPMENT: &[Part] = &[
    Part {
        legend: "Equipment",
        boxes: &[
            Ask::Text { name: "equipment", label: "Code on the equipment", hint: "", length: 40 },
            Ask::Choice {
                name: "held",
                label: "It holds",
                options: &[("HELD_FLUID", "the fluid below"), ("HELD_NOTHING", "nothing, it was emptied")],
            },
            Ask::Text {
                name: "fluid_code",
                label: "Code on the container of the fluid",
                hint: "After rinsing, of the fluid it was rinsed with.",
                length: 40,
            },
            litres("held_litres", "About", "Empty: not known."),
        ],
    },
    Part {
        legend: "If it was rinsed just now",
        boxes: &[
            litres("rinsed_litres", "Rinsed with", ""),
            Ask::Text { name: "lot", label: "Lot of that fluid", hint: "", length: 40 },
        ],
    },
];

const WASTE: &[Part] = &[Part {
    legend: "What was taken",
    boxes: &[
        Ask::Text { name: "waste_code", label: "Waste code", hint: "For example 13 02 05*.", length: 20 },
        Ask::Number { name: "mass_kilograms", label: "How much", unit: "kg", hint: "As on the document." },
        Ask::Text { name: "carrier", label: "Who took it", hint: "", length: 80 },
        Ask::Text { name: "document", label: "Number of the document", hint: "", length: 40 },
        Ask::Text { name: "destination", label: "Where it goes", hint: "If it is known.", length: 80 },
        Ask::Text { name: "container", label: "Container", hint: "Empty if there is only one.", length: 40 },
    ],
}];

const RECALL: &[Part] = &[Part {
    legend: "Recall",
    boxes: &[
        Ask::Text { name: "lot", label: "Lot", hint: "", length: 40 },
        Ask::Text { name: "code", label: "Code", hint: "Empty: whatever has this lot number.", length: 40 },
        Ask::Choice {
            name: "lifted",
            label: "What is stated",
            options: &[("", "the lot is recalled"), ("yes", "its recall is lifted")],
        },
        Ask::Sentence { name: "reason", label: "Why", hint: "Say who recalls it and what for." },
    ],
}];

const fn litres(name: &'static str, label: &'static str, hint: &'static str) -> Ask {
    Ask::Number { name, label, unit: "L", hint }
}

const fn pieces(name: &'static str, label: &'static str, hint: &'static str) -> Ask {
    Ask::Number { name, label, unit: "pieces", hint }
}

const fn newton_metres(name: &'static str, label: &'static str) -> Ask {
    Ask::Number { name, label, unit: "N·m", hint: "" }
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
            (Some(_), None) => reader.wrong.say(reference, "The reference is missing.".to_owned()),
            (None, Some(_)) => reader.wrong.say(tool, "What the tool showed is missing.".to_owned()),
            (None, None) => {}
        }
    }
    if torques.is_empty() {
        let (first, _) = TORQUES[0];
        reader.wrong.say(first, "A check needs at least one torque, of tool and reference.".to_owned());
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
        reader.wrong.say("mass_kilograms", "How much was taken is missing.".to_owned());
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
