//! The rows of facts of the site and of what is asked of tallies.

use super::{
    Bound, FLUID_CELSIUS, Form, PAGE_SIZE, Span, WHY_CHOICE, WHY_CODE, WHY_FLUID_CELSIUS, WHY_PAGE, choice,
    number, row, text, whole,
};

const STORE_LITRES: Span = number(0.0, 10_000.0, "L");
const STORE_PIECES: Span = whole(0, 10_000, "pieces");
const TOOL_TORQUE: Span = number(0.5, 1_000.0, "N·m");
const CODE: Span = text(1, 40, Form::Code);
const CODE_OR_NONE: Span = text(0, 40, Form::Code);
const DAY_OR_NONE: Span = text(0, 10, Form::Day);

const WHY_STORE: &str = "no workshop keeps more of one lot (common practice, no source)";
const WHY_TOOL_TORQUE: &str = "torque tools of a workshop (common practice, no source)";
const WHY_CHECKED_VOLUME: &str = "a display is checked with a jug or can (common practice, no source)";
const WHY_EQUIPMENT: &str = "no exchange equipment holds more (common practice, no source)";
const WHY_ISO_DAY: &str = "ISO 8601";

pub(super) const SITE: &[Bound] = &[
    row("LotReceived", "lot", CODE, WHY_CODE),
    row("LotReceived", "what", choice(true), WHY_CHOICE),
    row("LotReceived", "code", CODE, WHY_CODE),
    row("LotReceived", "amount", Span::OneOf { needed: true }, "litres or pieces"),
    row("LotReceived", "volume_litres", STORE_LITRES, WHY_STORE),
    row("LotReceived", "piece_count", whole(1, 10_000, "pieces"), WHY_STORE),
    row("LotReceived", "container", choice(false), WHY_CHOICE),
    row("LotReceived", "container_count", whole(1, 1_000, ""), WHY_STORE),
    row("LotReceived", "expires_on", DAY_OR_NONE, WHY_ISO_DAY),
    row("LotReceived", "document", CODE_OR_NONE, WHY_CODE),
    row("StockCounted", "what", choice(true), WHY_CHOICE),
    row("StockCounted", "code", CODE, WHY_CODE),
    row("StockCounted", "lot", CODE_OR_NONE, WHY_CODE),
    row("StockCounted", "amount", Span::OneOf { needed: true }, "litres, kilograms or pieces"),
    row("StockCounted", "volume_litres", STORE_LITRES, WHY_STORE),
    row("StockCounted", "mass_kilograms", number(0.0, 10_000.0, "kg"), WHY_STORE),
    row("StockCounted", "piece_count", STORE_PIECES, WHY_STORE),
    row("ToolChecked", "tool", CODE, WHY_CODE),
    row("ToolChecked", "kind", choice(true), WHY_CHOICE),
    row("ToolChecked", "event", choice(true), WHY_CHOICE),
    row("ToolChecked", "least_newton_metres", TOOL_TORQUE, WHY_TOOL_TORQUE),
    row("ToolChecked", "greatest_newton_metres", TOOL_TORQUE, WHY_TOOL_TORQUE),
    row("ToolChecked", "limit_percent", number(0.1, 20.0, "%"), "ISO 6789-1 has 4 and 6 % (from memory)"),
    Bound {
        items: 20,
        ..row(
            "ToolChecked",
            "torques",
            Span::Part { needed: false },
            "a check has a few torques, each some times (common practice, no source)",
        )
    },
    row("ToolChecked", "shown_litres", number(0.5, 60.0, "L"), WHY_CHECKED_VOLUME),
    row("ToolChecked", "reference", Span::OneOf { needed: false }, "a jug or a scale"),
    row("ToolChecked", "reference_litres", number(0.5, 60.0, "L"), WHY_CHECKED_VOLUME),
    row("ToolChecked", "reference_kilograms", number(0.4, 60.0, "kg"), WHY_CHECKED_VOLUME),
    row("ToolChecked", "temperature_celsius", FLUID_CELSIUS, WHY_FLUID_CELSIUS),
    row("ToolChecked", "fluid_code", CODE_OR_NONE, WHY_CODE),
    row("ToolChecked", "certificate", CODE_OR_NONE, WHY_CODE),
    row("ToolChecked", "next_due_on", DAY_OR_NONE, WHY_ISO_DAY),
    row("TorqueReading", "shown_newton_metres", TOOL_TORQUE, WHY_TOOL_TORQUE),
    row("TorqueReading", "reference_newton_metres", TOOL_TORQUE, WHY_TOOL_TORQUE),
    row("EquipmentContents", "equipment", CODE, WHY_CODE),
    row("EquipmentContents", "held", choice(true), WHY_CHOICE),
    row("EquipmentContents", "fluid_code", CODE_OR_NONE, WHY_CODE),
    row("EquipmentContents", "held_litres", number(0.0, 60.0, "L"), WHY_EQUIPMENT),
    row("EquipmentContents", "rinsed_litres", number(0.0, 60.0, "L"), WHY_EQUIPMENT),
    row("EquipmentContents", "lot", CODE_OR_NONE, WHY_CODE),
    row(
        "WasteCollected",
        "waste_code",
        text(1, 20, Form::Words),
        "as the list of waste or a local one writes it",
    ),
    row("WasteCollected", "mass_kilograms", number(0.1, 100_000.0, "kg"), "one load of a lorry"),
    row("WasteCollected", "carrier", text(1, 80, Form::Words), "one line of the register"),
    row("WasteCollected", "document", CODE, WHY_CODE),
    row("WasteCollected", "destination", text(0, 80, Form::Words), "one line of the register"),
    row("WasteCollected", "container", CODE_OR_NONE, WHY_CODE),
    row("LotRecalled", "lot", CODE, WHY_CODE),
    row("LotRecalled", "code", CODE_OR_NONE, WHY_CODE),
    row("LotRecalled", "reason", text(3, 400, Form::Words), "a reason is needed and printed"),
    row("LotRecalled", "lifted", Span::Flag, "yes or no"),
    row("GetTallyRequest", "tally", text(1, 20, Form::Name), "the name of a tally"),
    row("GetTallyRequest", "about", CODE_OR_NONE, WHY_CODE),
    row(
        "GetTallyRequest",
        "period",
        text(0, 15, Form::Code),
        "a year, a month, or from one to another, ISO 8601",
    ),
    row("PrintTallyRequest", "tally", text(1, 20, Form::Name), "the name of a tally"),
    row("PrintTallyRequest", "about", CODE_OR_NONE, WHY_CODE),
    row(
        "PrintTallyRequest",
        "period",
        text(0, 15, Form::Code),
        "a year, a month, or from one to another, ISO 8601",
    ),
    row(
        "ListTallyJobsRequest",
        "period",
        text(0, 15, Form::Code),
        "a year, a month, or from one to another, ISO 8601",
    ),
    row("ListTallyJobsRequest", "site", CODE_OR_NONE, WHY_CODE),
    row("ListTallyJobsRequest", "page_size", PAGE_SIZE, WHY_PAGE),
    row("ListTallyJobsRequest", "page_token", text(0, 160, Form::Code), "as the server made it"),
    row("FindCodeRequest", "code", text(1, 80, Form::Words), "a scanner gives any text"),
    row("FindCodeRequest", "job", CODE_OR_NONE, "identity or number of a job"),
];
