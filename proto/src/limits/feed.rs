//! Bounds of what an instrument feeds: the rows of means over its readings, and what a station reads of its lines.

use super::{Bound, Span, number, row, whole};

/// Most readings of an instrument that one entry is the mean of.
pub const SAMPLES_MAX: u32 = 100_000;
const SAMPLES: Span = whole(2, SAMPLES_MAX as i64, "readings");
const WHY_SAMPLES: &str = "one reading is no mean; a thousand a second is more than any display gives";
const WHY_SPREAD: &str = "readings that differ by more are no readings of one fluid";

/// The rows of means over readings.
pub(super) const MEANS: &[Bound] = &[
    row("ExchangeReading", "sample_count", SAMPLES, WHY_SAMPLES),
    row("ExchangeReading", "instrument_spread_percent", number(0.0, 100.0, "%"), WHY_SPREAD),
    row("ExchangeReading", "temperature_spread_celsius", number(0.0, 100.0, "°C"), WHY_SPREAD),
    row("TemperatureReading", "sample_count", SAMPLES, WHY_SAMPLES),
    row("TemperatureReading", "spread_celsius", number(0.0, 100.0, "°C"), WHY_SPREAD),
];

/// Greatest size of a column map, in bytes.
pub const MAP_BYTES_MAX: u64 = 64 * 1024;
/// Greatest size of one line of an instrument, in bytes.
pub const LINE_BYTES_MAX: usize = 4_096;
/// Most columns of a line.
pub const COLUMNS_MAX: usize = 200;
/// Most characters of a column's name and of a word that stands in one.
pub const COLUMN_NAME_CHARACTERS_MAX: usize = 80;
/// Most signs that a line to pass over may begin with, and characters of each.
pub const COMMENT_SIGNS_MAX: usize = 10;
/// Characters of a sign that a line to pass over begins with.
pub const COMMENT_SIGN_CHARACTERS_MAX: usize = 8;
/// Lines at the beginning that may be passed over.
pub const SKIPPED_LINES_MAX: u32 = 1_000;
/// Litres over which readings become one entry: least, which is the default, and greatest.
pub const BIN_LITRES: (f64, f64) = (0.1, 5.0);
/// Seconds over which readings become one entry: least, which is the default, and greatest.
pub const BIN_SECONDS: (f64, f64) = (10.0, 600.0);
/// What a number of a column is multiplied by: least and greatest.
pub const COLUMN_SCALE: (f64, f64) = (1e-6, 1e6);
/// Bits a second of a serial line: least and greatest.
pub const SERIAL_SPEED: (u32, u32) = (300, 921_600);
/// Litres that a display may show at most right after it was set to zero, with one reading gone by.
pub const ZEROED_LITRES_MAX: f64 = 0.5;
/// Litres that may go by between two lines however short the time: a display that is read rarely (house value).
pub const STEP_LITRES_MAX: f64 = 5.0;
/// Litres a second that may go by beyond [`STEP_LITRES_MAX`]: no equipment pushes 20 L a minute (common practice, no
/// source).
pub const STEP_LITRES_PER_SECOND: f64 = 20.0 / 60.0;
/// Most entries that wait in memory while recorded lines are read: those that one job takes.
pub const REPLAYED_ENTRIES_MAX: usize = super::JOB_ENTRIES_MAX;

const _: () = assert!(BIN_LITRES.0 < BIN_LITRES.1 && BIN_SECONDS.0 < BIN_SECONDS.1);
const _: () = assert!(COLUMN_SCALE.0 < COLUMN_SCALE.1 && SERIAL_SPEED.0 < SERIAL_SPEED.1);
const _: () = assert!(BIN_LITRES.0 < ZEROED_LITRES_MAX && ZEROED_LITRES_MAX < STEP_LITRES_MAX);
