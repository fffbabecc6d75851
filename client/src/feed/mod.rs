//! What an instrument says in lines, as entries: a column map says what the lines mean, a state machine puts them into
//! bins, and each bin becomes a reading.
//!
//! `table.rs` reads a TOML file, `map.rs` what it says of columns, `lines.rs` makes lines of bytes, `reading.rs` readings
//! of lines, `binner.rs` bins of readings, `counter.rs` what a litre counter may do, `stated.rs` facts of bins, `device.rs` opens a serial line. Nothing here but
//! `device.rs` and the reading of the map touches the machine, and nothing keeps or sends: that is the command's,
//! `cli/feed.rs`. What a mean is worth is said by the engine.

pub mod binner;
mod counter;
#[cfg(unix)]
pub mod device;
pub mod lines;
pub mod map;
pub mod reading;
mod stated;
mod table;

pub use stated::facts;

#[cfg(test)]
#[path = "../tests/feed.rs"]
mod tests;
