//! The one table of bounds: everything that enters a station or a server is inside it.
//!
//! A field without a row fails a test. Ends are inside the range unless said otherwise, and
//! comparisons are made in the positive form, so that a value that is not a number is outside.
//! Never here: what is done with a value that is outside; that is [`crate::check`].

mod access;
pub mod door;
pub mod feed;
mod forwarding;
mod photo;
mod running;
mod site;
mod span;

pub use access::{
    JOIN_CODE_SECONDS, JOIN_CODE_TRIES_MAX, JOIN_GUESSES_PER_ADDRESS_MAX, JOIN_GUESSING_ADDRESSES_MAX,
};
pub use forwarding::*;
pub use running::*;
pub use span::{Bound, Form, Span};

use std::collections::HashMap;
use std::sync::LazyLock;

/// Greatest size of one encoded entry, in bytes.
pub const ENTRY_BYTES_MAX: usize = 64 * 1024;
/// Greatest size of one request or answer, in bytes; a record may be larger, see [`RECORD_BYTES_MAX`].
pub const MESSAGE_BYTES_MAX: usize = 1024 * 1024;
/// Greatest size of a printed record, in bytes.
pub const RECORD_BYTES_MAX: usize = 4 * 1024 * 1024 - 4096;
/// Most entries of one job.
pub const JOB_ENTRIES_MAX: usize = 10_000;
/// Most rows of one page of an answer.
pub const PAGE_SIZE_MAX: usize = 1_000;
/// Most new fluid at hand for one job, in litres; the workshop’s settings are bounded by it too.
pub const KIT_LITRES_MOST: f64 = 60.0;
/// Rows of a page of jobs when nothing is asked.
pub const PAGE_SIZE_DEFAULT: usize = 100;
/// Most office pages of one session that are kept up to date at the same time; a browser opens about six connections.
pub const PAGE_STREAMS_PER_SESSION_MAX: usize = 12;
/// Most jobs that one station watches at the same time; a bay has one screen, and a break leaves some behind.
pub const WATCHES_PER_STATION_MAX: usize = 8;
/// Most entries of a stream that wait for their answer.
pub const STREAM_WINDOW_MAX: usize = 64;
/// Most streams of one connection.
pub const STREAMS_PER_CONNECTION_MAX: u32 = 32;
/// Longest time that one call may take on the server, in seconds; a stream has no such end.
pub const CALL_SECONDS_MAX: u64 = 60;
/// Greatest size of a call's metadata, in bytes.
pub const METADATA_BYTES_MAX: u32 = 16 * 1024;
/// Most entries of an unsent list.
pub const UNSENT_ENTRIES_MAX: usize = 100_000;
/// Greatest size of an unsent list, in bytes.
pub const UNSENT_BYTES_MAX: u64 = 1024 * 1024 * 1024;
/// Greatest size of one part of a file beside the journal, in bytes.
pub const BLOB_PART_BYTES_MAX: usize = 256 * 1024;
/// Greatest size of a photo, in bytes.
pub const PHOTO_BYTES_MAX: usize = 15 * 1024 * 1024;
/// Most photos of one job.
pub const JOB_PHOTOS_MAX: usize = 20;
/// Most characters of a remark.
pub const REMARK_CHARACTERS_MAX: usize = 4_000;
/// Most files of a catalogue revision.
pub const CATALOGUE_FILES_MAX: usize = 1_000;
/// Greatest size of one catalogue file, in bytes.
pub const CATALOGUE_FILE_BYTES_MAX: usize = 256 * 1024;
/// Greatest size of all files of a catalogue revision together, in bytes.
pub const CATALOGUE_BYTES_MAX: u64 = 32 * 1024 * 1024;
/// Most VIN rules of a catalogue revision.
pub const CATALOGUE_RULES_MAX: usize = 60_000;
/// First and last second of the years in which a time may lie: 2000 to 2199, UTC.
pub const TIME_SECONDS: (i64, i64) = (946_684_800, 7_258_118_399);
/// First and last second of which every microsecond since 1970 fits into 64 bits.
pub const MOMENT_SECONDS: (i64, i64) = (i64::MIN / 1_000_000, i64::MAX / 1_000_000 - 1);

/// Least and greatest sum of the parts of a distance, in percent: rounded rows miss 100 by a little.
pub const SHARES_SUM_PERCENT: (f64, f64) = (99.0, 101.0);

const _: () = assert!(SHARES_SUM_PERCENT.0 < SHARES_SUM_PERCENT.1);
const _: () = assert!(ENTRY_BYTES_MAX < MESSAGE_BYTES_MAX);
const _: () = assert!(CATALOGUE_FILE_BYTES_MAX < MESSAGE_BYTES_MAX && MESSAGE_BYTES_MAX < RECORD_BYTES_MAX);
const _: () = assert!(PAGE_SIZE_DEFAULT <= PAGE_SIZE_MAX && PAGE_SIZE_MAX <= JOB_ENTRIES_MAX);
const _: () = assert!(TIME_SECONDS.0 < TIME_SECONDS.1);

const fn row(message: &'static str, field: &'static str, span: Span, why: &'static str) -> Bound {
    Bound { message, field, span, items: 1, why }
}

const fn number(least: f64, greatest: f64, unit: &'static str) -> Span {
    Span::Number { least, greatest, unit }
}

const fn whole(least: i64, greatest: i64, unit: &'static str) -> Span {
    Span::Whole { least, greatest, unit }
}

const fn text(least: usize, greatest: usize, form: Form) -> Span {
    Span::Text { least, greatest, form }
}

const fn choice(needed: bool) -> Span {
    Span::Choice { needed }
}

const FLUID_CELSIUS: Span = number(-40.0, 180.0, "°C");
const VISCOSITY: Span = number(1.0, 1_000.0, "mm²/s");
const WHY_VISCOSITY: &str = "a fluid that runs and is no water (common practice, no source)";
const PARTICLES: Span = number(0.0, 1e7, "per mL");
const WHY_PARTICLES: &str = "more than the table of ISO 4406 holds";
const HANDLED_LITRES: Span = number(0.0, 30.0, "L");
const HANDLED_KILOGRAMS: Span = number(0.0, 30.0, "kg");
const TORQUE: Span = number(1.0, 400.0, "N·m");
const DIGEST: Span = text(64, 64, Form::Hex);
const COLOUR: Span = text(0, 7, Form::Colour);
const WHY_COLOUR: &str = "sRGB as #rrggbb, IEC 61966-2-1";
const ODOMETER: Span = number(0.0, 3_000_000.0, "km");
const PAGE_SIZE: Span = whole(0, i32::MAX as i64, "");
const PAGE_TOKEN: Span = text(0, 64, Form::Code);
const JOB_NAME: Span = text(1, 40, Form::Code);

const WHY_FLUID_CELSIUS: &str = "fluids leave no reading outside it (common practice, no source)";
const WHY_HANDLED: &str = "no pan or jug in a workshop holds more";
const WHY_PUSHED: &str = "about four fills of the largest transmission";
const WHY_CODE: &str = "codes as containers and parts carry them";
const WHY_TORQUE: &str = "no screw of this work needs more (common practice, no source)";
const WHY_CHOICE: &str = "one of the listed choices";
const WHY_TAP: &str = "not looked at is an answer";
const WHY_PART: &str = "the message itself";
const WHY_PAGE: &str = "larger pages are cut to 1 000 rows";

/// The rows of requests and of what a job holds; those of the site stand in [`site`].
const JOB: &[Bound] = &[
    row("Entry", "header", Span::Part { needed: true }, WHY_PART),
    row("Entry", "fact", Span::Part { needed: true }, WHY_PART),
    row("Header", "entry_id", text(36, 36, Form::UuidV7), "RFC 9562, version 7"),
    row("Header", "subject", Span::OneOf { needed: true }, "a fact belongs to a job or to the site"),
    row("Header", "job_id", text(36, 36, Form::Uuid), "RFC 9562"),
    row("Header", "site_id", text(1, 40, Form::Name), "as the site was founded"),
    row("Header", "station_id", text(1, 40, Form::Name), "as the station was enrolled"),
    row("Header", "station_epoch", text(32, 32, Form::Hex), "128 random bits"),
    row("Header", "station_number", whole(1, i64::MAX, ""), "counted from 1"),
    row("Header", "person_code", text(1, 8, Form::LettersAndDigits), "a code, never a name"),
    row("Header", "station_time", Span::Time { needed: true }, "the years 2000 to 2199"),
    row(
        "Header",
        "monotonic_microseconds",
        whole(0, i64::MAX, "µs"),
        "counted from the start of the machine",
    ),
    row("Header", "boot_id", text(32, 32, Form::Hex), "128 random bits"),
    row("Header", "done_time", Span::Time { needed: false }, "the years 2000 to 2199"),
    Bound {
        items: 16,
        ..row("Header", "as_typed", Span::Part { needed: false }, "no kind has more numbers")
    },
    row("AsTyped", "field", text(1, 64, Form::Name), "a field of the kind"),
    row("AsTyped", "text", text(1, 40, Form::Words), "a number and its unit"),
    row("Fact", "kind", Span::OneOf { needed: true }, "exactly one kind"),
    row("Fact", "arrival", Span::Part { needed: false }, WHY_PART),
    row("Fact", "vin_reading", Span::Part { needed: false }, WHY_PART),
    row("Fact", "variant_settled", Span::Part { needed: false }, WHY_PART),
    row("Fact", "part_checked", Span::Part { needed: false }, WHY_PART),
    row("Fact", "exchange_reading", Span::Part { needed: false }, WHY_PART),
    row("Fact", "drain", Span::Part { needed: false }, WHY_PART),
    row("Fact", "fill", Span::Part { needed: false }, WHY_PART),
    row("Fact", "temperature_reading", Span::Part { needed: false }, WHY_PART),
    row("Fact", "level_check", Span::Part { needed: false }, WHY_PART),
    row("Fact", "fluid_sample", Span::Part { needed: false }, WHY_PART),
    row("Fact", "correction", Span::Part { needed: false }, WHY_PART),
    row("Fact", "closing", Span::Part { needed: false }, WHY_PART),
    row("Fact", "fault_codes", Span::Part { needed: false }, WHY_PART),
    row("Fact", "road_test", Span::Part { needed: false }, WHY_PART),
    row("Fact", "inspection", Span::Part { needed: false }, WHY_PART),
    row("Fact", "hookup", Span::Part { needed: false }, WHY_PART),
    row("Fact", "part_fitted", Span::Part { needed: false }, WHY_PART),
    row("Fact", "tightening", Span::Part { needed: false }, WHY_PART),
    row("Fact", "gear_cycle", Span::Part { needed: false }, WHY_PART),
    row("Fact", "plug_closed", Span::Part { needed: false }, WHY_PART),
    row("Fact", "leak_check", Span::Part { needed: false }, WHY_PART),
    row("Fact", "condition_confirmed", Span::Part { needed: false }, WHY_PART),
    row("Fact", "caution_read", Span::Part { needed: false }, WHY_PART),
    row("Fact", "waste", Span::Part { needed: false }, WHY_PART),
    row("Fact", "photo", Span::Part { needed: false }, WHY_PART),
    row("Fact", "remark", Span::Part { needed: false }, WHY_PART),
    row("Fact", "skipped", Span::Part { needed: false }, WHY_PART),
    row("Fact", "customer_answer", Span::Part { needed: false }, WHY_PART),
    row("Fact", "decision", Span::Part { needed: false }, WHY_PART),
    row("Fact", "record_issued", Span::Part { needed: false }, WHY_PART),
    row("Fact", "handover", Span::Part { needed: false }, WHY_PART),
    row("Fact", "station_enrolled", Span::Part { needed: false }, WHY_PART),
    row("Fact", "person_listed", Span::Part { needed: false }, WHY_PART),
    row("Fact", "catalogue_adopted", Span::Part { needed: false }, WHY_PART),
    row("Fact", "lot_received", Span::Part { needed: false }, WHY_PART),
    row("Fact", "stock_counted", Span::Part { needed: false }, WHY_PART),
    row("Fact", "tool_checked", Span::Part { needed: false }, WHY_PART),
    row("Fact", "equipment_contents", Span::Part { needed: false }, WHY_PART),
    row("Fact", "waste_collected", Span::Part { needed: false }, WHY_PART),
    row("Fact", "lot_recalled", Span::Part { needed: false }, WHY_PART),
    row("Arrival", "plate", text(1, 16, Form::Words), "no registration plate is longer"),
    row("Arrival", "odometer_kilometres", ODOMETER, "no road vehicle has driven farther"),
    Bound { items: 8, ..row("Arrival", "reasons", choice(true), "each reason once") },
    row("Arrival", "vehicle_maker", text(0, 40, Form::Words), "one line of the record"),
    row("Arrival", "vehicle_model", text(0, 60, Form::Words), "one line of the record"),
    row("Arrival", "complaint_about_job", text(0, 24, Form::Code), "a printed job number"),
    row("Arrival", "high_voltage", choice(false), WHY_CHOICE),
    row("Arrival", "load", choice(false), WHY_CHOICE),
    row("Arrival", "first_registered_on", text(0, 10, Form::Day), "ISO 8601"),
    row("VinReading", "reading", Span::OneOf { needed: true }, "all 17 characters or the last eight"),
    row("VinReading", "vin", text(17, 17, Form::Vin), "ISO 3779: 17 characters without I, O, Q"),
    row("VinReading", "last_eight", text(8, 8, Form::Vin), "the last eight characters"),
    row("VinReading", "source", choice(true), WHY_CHOICE),
    row("VariantSettled", "variant_code", text(1, 40, Form::Code), WHY_CODE),
    row("VariantSettled", "means", choice(true), WHY_CHOICE),
    row("VariantSettled", "source", text(0, 200, Form::Words), "a source and its edition"),
    row("VariantSettled", "looked_up_date", text(0, 10, Form::Day), "ISO 8601"),
    row("VariantSettled", "transmission_plate_agrees", choice(false), WHY_TAP),
    row("VariantSettled", "transmission_as_built", choice(false), WHY_TAP),
    row("VariantSettled", "label", text(0, 80, Form::Words), "one line of the record"),
    row("VariantSettled", "fluid_code", text(0, 40, Form::Code), WHY_CODE),
    row("VariantSettled", "filter_code", text(0, 40, Form::Code), WHY_CODE),
    row(
        "VariantSettled",
        "total_fill_litres",
        number(1.0, 40.0, "L"),
        "transmissions hold no less and no more (common practice, no source)",
    ),
    row("VariantSettled", "level_least_celsius", number(-20.0, 150.0, "°C"), "levels are set in it"),
    row("VariantSettled", "level_greatest_celsius", number(-20.0, 150.0, "°C"), "levels are set in it"),
    row(
        "VariantSettled",
        "density_kilograms_per_cubic_metre",
        number(801.0, 1_163.0, "kg/m³"),
        "the lubricating group of API MPMS chapter 11.1 (read once, in a public implementation)",
    ),
    row("PartChecked", "part", choice(true), WHY_CHOICE),
    row("PartChecked", "code", text(1, 40, Form::Code), WHY_CODE),
    row("PartChecked", "lot", text(0, 40, Form::Code), WHY_CODE),
    row("PartChecked", "read_by", choice(false), WHY_TAP),
    row("ExchangeReading", "volume_in_litres", number(0.0, 60.0, "L"), WHY_PUSHED),
    row("ExchangeReading", "volume_out_litres", number(0.0, 60.0, "L"), WHY_PUSHED),
    row("ExchangeReading", "mass_out_kilograms", number(0.0, 60.0, "kg"), WHY_PUSHED),
    row("ExchangeReading", "tube_percent", whole(0, 100, "%"), "a share"),
    row("ExchangeReading", "temperature_celsius", FLUID_CELSIUS, WHY_FLUID_CELSIUS),
    row("ExchangeReading", "last", Span::Flag, "yes or no"),
    row("ExchangeReading", "glass_colour", COLOUR, WHY_COLOUR),
    row("ExchangeReading", "before_colour", COLOUR, WHY_COLOUR),
    row("ExchangeReading", "fresh_colour", COLOUR, WHY_COLOUR),
    row("ExchangeReading", "white_colour", COLOUR, WHY_COLOUR),
    row(
        "ExchangeReading",
        "instrument_new_percent",
        number(-20.0, 120.0, "%"),
        "noise carries a share a little out of 0 to 100",
    ),
    row(
        "ExchangeReading",
        "instrument_uncertainty_percent",
        number(0.1, 50.0, "%"),
        "no instrument is better, and a worse one says nothing of a share",
    ),
    row("Drain", "place", choice(true), WHY_CHOICE),
    row("Drain", "amount", Span::OneOf { needed: true }, "litres or kilograms"),
    row("Drain", "volume_litres", HANDLED_LITRES, WHY_HANDLED),
    row("Drain", "mass_kilograms", HANDLED_KILOGRAMS, WHY_HANDLED),
    row("Drain", "temperature_celsius", FLUID_CELSIUS, WHY_FLUID_CELSIUS),
    row("Drain", "means", choice(false), WHY_TAP),
    row("Drain", "debris", choice(false), WHY_TAP),
    row("Fill", "purpose", choice(true), WHY_CHOICE),
    row("Fill", "amount", Span::OneOf { needed: true }, "litres or kilograms"),
    row("Fill", "volume_litres", HANDLED_LITRES, WHY_HANDLED),
    row("Fill", "mass_kilograms", HANDLED_KILOGRAMS, WHY_HANDLED),
    row("Fill", "temperature_celsius", FLUID_CELSIUS, WHY_FLUID_CELSIUS),
    row("Fill", "means", choice(false), WHY_TAP),
    row("Fill", "fluid_code", text(0, 40, Form::Code), WHY_CODE),
    row("Fill", "lot", text(0, 40, Form::Code), WHY_CODE),
    row("TemperatureReading", "temperature_celsius", FLUID_CELSIUS, WHY_FLUID_CELSIUS),
    row("TemperatureReading", "place", choice(true), WHY_CHOICE),
    row("TemperatureReading", "means", choice(false), WHY_TAP),
    row("LevelCheck", "temperature_celsius", FLUID_CELSIUS, WHY_FLUID_CELSIUS),
    row("LevelCheck", "means", choice(false), WHY_TAP),
    row("LevelCheck", "overflow", choice(false), "or the dipstick"),
    row("LevelCheck", "dipstick", choice(false), WHY_TAP),
    row("LevelCheck", "engine_idling", choice(false), WHY_TAP),
    row("LevelCheck", "vehicle_level", choice(false), WHY_TAP),
    row("LevelCheck", "selector", choice(false), WHY_TAP),
    row("LevelCheck", "caught_litres", number(0.0, 10.0, "L"), "more is a drain"),
    row("LevelCheck", "drops_per_minute", whole(0, 600, ""), "ten a second are a stream"),
    row("FluidSample", "moment", choice(true), WHY_CHOICE),
    row("FluidSample", "place", choice(false), WHY_TAP),
    row("FluidSample", "temperature_celsius", FLUID_CELSIUS, WHY_FLUID_CELSIUS),
    row("FluidSample", "colour", choice(false), WHY_TAP),
    row("FluidSample", "clouding", choice(false), WHY_TAP),
    row("FluidSample", "smell", choice(false), WHY_TAP),
    row("FluidSample", "specks", choice(false), WHY_TAP),
    row("FluidSample", "viscosity_40_square_millimetres_per_second", VISCOSITY, WHY_VISCOSITY),
    row("FluidSample", "viscosity_100_square_millimetres_per_second", VISCOSITY, WHY_VISCOSITY),
    row("FluidSample", "viscosity_square_millimetres_per_second", VISCOSITY, WHY_VISCOSITY),
    row("FluidSample", "viscosity_temperature_celsius", FLUID_CELSIUS, WHY_FLUID_CELSIUS),
    row(
        "FluidSample",
        "acid_number_milligrams_per_gram",
        number(0.0, 20.0, "mg KOH/g"),
        "no transmission fluid has more acid (common practice, no source)",
    ),
    row(
        "FluidSample",
        "water_milligrams_per_kilogram",
        number(0.0, 50_000.0, "mg/kg"),
        "one part in twenty is no transmission fluid any more (common practice, no source)",
    ),
    row("FluidSample", "particles_4_per_millilitre", PARTICLES, WHY_PARTICLES),
    row("FluidSample", "particles_6_per_millilitre", PARTICLES, WHY_PARTICLES),
    row("FluidSample", "particles_14_per_millilitre", PARTICLES, WHY_PARTICLES),
    row("FluidSample", "crackle", choice(false), WHY_CHOICE),
    row("FluidSample", "laboratory_report", text(0, 40, Form::Words), "the number of a report"),
    row("FluidSample", "sample_colour", COLOUR, WHY_COLOUR),
    row("FluidSample", "white_colour", COLOUR, WHY_COLOUR),
    row("FluidSample", "same_light", choice(false), WHY_TAP),
    row("Correction", "corrected_entry_id", text(36, 36, Form::UuidV7), "RFC 9562, version 7"),
    row("Correction", "reason", text(3, 400, Form::Words), "a reason is needed and printed"),
    row("Correction", "outcome", Span::OneOf { needed: true }, "a replacement or withdrawn"),
    row("Correction", "replacement", Span::Part { needed: false }, WHY_PART),
    row("Correction", "withdrawn", Span::Flag, "always true"),
    row("Closing", "outcome", choice(true), WHY_CHOICE),
    row("Closing", "odometer_kilometres", ODOMETER, "no road vehicle has driven farther"),
    row("FaultCodes", "moment", choice(true), WHY_CHOICE),
    row("FaultCodes", "state", choice(true), WHY_CHOICE),
    Bound { items: 40, ..row("FaultCodes", "codes", text(4, 8, Form::LettersAndDigits), "SAE J2012 codes") },
    row("FaultCodes", "adaptation_done", choice(false), WHY_TAP),
    Bound {
        items: 12,
        ..row(
            "FaultCodes",
            "temperature_shares",
            Span::Part { needed: false },
            "no control unit keeps more rows (common practice, no source)",
        )
    },
    row("TemperatureShare", "celsius", FLUID_CELSIUS, WHY_FLUID_CELSIUS),
    row("TemperatureShare", "percent", number(0.0, 100.0, "%"), "a part of the distance"),
    row("RoadTest", "moment", choice(true), WHY_CHOICE),
    Bound { items: 8, ..row("RoadTest", "ticks", choice(true), "each tick once") },
    row("RoadTest", "gear", whole(1, 12, ""), "no transmission has more gears (common practice, no source)"),
    row("RoadTest", "warmth", choice(false), WHY_TAP),
    row("Inspection", "part", choice(true), WHY_CHOICE),
    row("Inspection", "found", choice(true), WHY_CHOICE),
    row("Hookup", "place", choice(true), WHY_CHOICE),
    row("Hookup", "adapter", text(0, 40, Form::Code), WHY_CODE),
    row("Hookup", "direction_tested", choice(false), WHY_TAP),
    row("Hookup", "equipment", text(0, 40, Form::Code), WHY_CODE),
    row("PartFitted", "kit", text(0, 40, Form::Code), WHY_CODE),
    Bound { items: 9, ..row("PartFitted", "fitted", choice(true), "each part once") },
    Bound { items: 9, ..row("PartFitted", "excepted", choice(true), "each part once") },
    row("PartFitted", "lot", text(0, 40, Form::Code), WHY_CODE),
    row("Tightening", "group", choice(true), WHY_CHOICE),
    row("Tightening", "screw_count", whole(1, 60, "screws"), "no pan has more (common practice, no source)"),
    row(
        "Tightening",
        "new_screw_count",
        whole(0, 60, "screws"),
        "no pan has more (common practice, no source)",
    ),
    row("Tightening", "torque_newton_metres", TORQUE, WHY_TORQUE),
    row("Tightening", "order_kept", choice(false), WHY_TAP),
    row("Tightening", "tool", text(0, 40, Form::Code), WHY_CODE),
    Bound {
        items: 420,
        ..row(
            "Tightening",
            "screws",
            Span::Part { needed: false },
            "60 screws, each a row in up to seven passes: six stages and the check (common practice, no source)",
        )
    },
    row("TightenedScrew", "place", whole(1, 60, ""), "no pan has more (common practice, no source)"),
    row("TightenedScrew", "torque_newton_metres", number(0.5, 400.0, "N·m"), WHY_TORQUE),
    row("GearCycle", "driver_person_code", text(1, 8, Form::LettersAndDigits), "a code, never a name"),
    row("GearCycle", "nobody_under_vehicle", choice(true), "it is never left open"),
    row("PlugClosed", "seal_new", choice(true), WHY_CHOICE),
    row("PlugClosed", "plug_new", choice(false), WHY_TAP),
    row("PlugClosed", "torque_newton_metres", TORQUE, WHY_TORQUE),
    row("PlugClosed", "tool", text(0, 40, Form::Code), WHY_CODE),
    row("LeakCheck", "found", choice(true), WHY_CHOICE),
    row("LeakCheck", "line_closed", choice(false), WHY_TAP),
    row("LeakCheck", "after_drive", Span::Flag, "yes or no"),
    Bound { items: 8, ..row("ConditionConfirmed", "conditions", choice(true), "each condition once") },
    row("CautionRead", "group", choice(true), WHY_CHOICE),
    row("Waste", "kind", choice(true), WHY_CHOICE),
    row("Waste", "amount", Span::OneOf { needed: true }, "litres, kilograms or pieces"),
    row("Waste", "volume_litres", number(0.0, 60.0, "L"), "no job makes more"),
    row("Waste", "mass_kilograms", number(0.0, 60.0, "kg"), "no job makes more"),
    row("Waste", "piece_count", whole(1, 100, "pieces"), "no job makes more"),
    row("Waste", "container", text(0, 40, Form::Code), WHY_CODE),
    row("Remark", "blob_digest", DIGEST, "SHA-256"),
    row("Remark", "subject", choice(true), WHY_CHOICE),
    row("Skipped", "step", text(1, 40, Form::Name), "the name of a step"),
    row("Skipped", "reason", choice(true), WHY_CHOICE),
    row("CustomerAnswer", "topic", choice(true), WHY_CHOICE),
    row("CustomerAnswer", "said", choice(true), WHY_CHOICE),
    row("Decision", "point", text(1, 60, Form::Name), "the key of an open point"),
    row("Decision", "reason", text(3, 400, Form::Words), "a reason is needed and printed"),
    row("RecordIssued", "edition", whole(1, 10_000, ""), "no job has more editions than entries"),
    row("RecordIssued", "blob_digest", DIGEST, "SHA-256"),
    row("RecordIssued", "tree_size", whole(1, i64::MAX, "entries"), "the entry itself comes after others"),
    row("RecordIssued", "tree_root", DIGEST, "SHA-256"),
    row("RecordIssued", "engine_version", text(1, 40, Form::Code), "a version"),
    row("RecordIssued", "catalogue_revision_id", text(0, 64, Form::Hex), "SHA-256"),
    row("RecordIssued", "language", text(2, 8, Form::Name), "ISO 639-1"),
    row("RecordIssued", "names_customer", Span::Flag, "yes or no"),
    row("Handover", "edition", whole(1, 10_000, ""), "no job has more editions than entries"),
    row("StationEnrolled", "enrolled_station_id", text(1, 40, Form::Name), "as the station was enrolled"),
    row("StationEnrolled", "role", choice(true), WHY_CHOICE),
    row("StationEnrolled", "revoked", Span::Flag, "yes or no"),
    row("PersonListed", "listed_person_code", text(1, 8, Form::LettersAndDigits), "a code, never a name"),
    row("PersonListed", "removed", Span::Flag, "yes or no"),
    row("CatalogueAdopted", "revision_id", text(64, 64, Form::Hex), "SHA-256"),
    row("AppendRequest", "entry", Span::Bytes { greatest: ENTRY_BYTES_MAX }, "one entry"),
    row("AppendStreamRequest", "entry", Span::Bytes { greatest: ENTRY_BYTES_MAX }, "one entry"),
    row("ReadRequest", "job", text(0, 40, Form::Code), "identity or number of a job"),
    row("ReadRequest", "page_size", PAGE_SIZE, WHY_PAGE),
    row("ReadRequest", "page_token", PAGE_TOKEN, "as the server made it"),
    row("ListRequest", "search", text(0, 64, Form::Words), "part of a number, plate or VIN"),
    row("ListRequest", "open_only", Span::Flag, "yes or no"),
    row("ListRequest", "page_size", PAGE_SIZE, WHY_PAGE),
    row("ListRequest", "page_token", PAGE_TOKEN, "as the server made it"),
    row("GetRequest", "job", JOB_NAME, "identity or number of a job"),
    row("MayRequest", "job", JOB_NAME, "identity or number of a job"),
    row("MayRequest", "gate", text(1, 20, Form::Name), "the name of a gate"),
    row("RenderRequest", "job", JOB_NAME, "identity or number of a job"),
    row("RenderRequest", "edition", whole(0, 10_000, ""), "no job has more editions than entries"),
    row("RenderRequest", "annex", Span::Flag, "yes or no"),
    row("NextRequest", "job", JOB_NAME, "identity or number of a job"),
    row("PlanRequest", "job", JOB_NAME, "identity or number of a job"),
    row(
        "PlanRequest",
        "kit_litres",
        number(0.5, KIT_LITRES_MOST, "L"),
        "about three fills of the largest transmission",
    ),
    row("WatchRequest", "job", JOB_NAME, "identity or number of a job"),
    row("IssueRequest", "job", JOB_NAME, "identity or number of a job"),
    row("IssueRequest", "request_id", text(36, 36, Form::UuidV7), "RFC 9562, version 7"),
    row("IssueRequest", "person_code", text(1, 8, Form::LettersAndDigits), "a code, never a name"),
    row("BaySheetRequest", "job", JOB_NAME, "identity or number of a job"),
    row("PutBlobRequest", "blob_digest", DIGEST, "SHA-256"),
    row("PutBlobRequest", "part", Span::Bytes { greatest: BLOB_PART_BYTES_MAX }, "one part"),
    row("GetBlobRequest", "blob_digest", DIGEST, "SHA-256"),
    row("PutCustomerRequest", "job", JOB_NAME, "identity or number of a job"),
    row("PutCustomerRequest", "customer", Span::Part { needed: true }, WHY_PART),
    row("Customer", "name", text(1, 80, Form::Words), "one line of the record"),
    row("Customer", "telephone", text(0, 40, Form::Words), "one line of the record"),
    row("GetCustomerRequest", "job", JOB_NAME, "identity or number of a job"),
    row("EraseCustomerRequest", "job", JOB_NAME, "identity or number of a job"),
    row("ListStationsRequest", "page_size", PAGE_SIZE, WHY_PAGE),
    row("ListStationsRequest", "page_token", PAGE_TOKEN, "as the server made it"),
    row("ListPersonsRequest", "page_size", PAGE_SIZE, WHY_PAGE),
    row("ListPersonsRequest", "page_token", PAGE_TOKEN, "as the server made it"),
    row("ListVariantsRequest", "page_size", PAGE_SIZE, WHY_PAGE),
    row("ListVariantsRequest", "page_token", PAGE_TOKEN, "as the server made it"),
    row("GetRevisionRequest", "revision_id", text(0, 64, Form::Hex), "SHA-256; empty: the current one"),
    row("GetRevisionRequest", "page_size", PAGE_SIZE, WHY_PAGE),
    row("GetRevisionRequest", "page_token", PAGE_TOKEN, "as the server made it"),
];

/// All rows of the table.
pub fn bounds() -> impl Iterator<Item = &'static Bound> {
    [JOB, photo::PHOTO, site::SITE, access::ACCESS, feed::MEANS, FORWARDING].into_iter().flatten()
}

/// The row of a field, by the names in the proto files.
#[must_use]
pub fn bound(message: &str, field: &str) -> Option<&'static Bound> {
    static INDEX: LazyLock<HashMap<(&str, &str), &Bound>> =
        LazyLock::new(|| bounds().map(|row| ((row.message, row.field), row)).collect());
    INDEX.get(&(message, field)).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn no_field_has_two_rows() {
        let mut seen = BTreeSet::new();
        for row in bounds() {
            assert!(seen.insert((row.message, row.field)), "{}.{} stands twice", row.message, row.field);
        }
    }

    #[test]
    fn every_span_is_the_right_way_round() {
        for row in bounds() {
            assert!(!row.why.is_empty() && row.items >= 1, "{}.{}", row.message, row.field);
            match row.span {
                Span::Number { least, greatest, .. } => assert!(least < greatest),
                Span::Whole { least, greatest, .. } => assert!(least < greatest),
                Span::Text { least, greatest, .. } => assert!(least <= greatest && greatest > 0),
                _ => {}
            }
        }
    }
}
