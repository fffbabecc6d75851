//! What the entries of a job mean, as pure functions.
//!
//! Quantities, cited formulas, the catalogue, the kinds of facts and what they mean together live here. The
//! crate never does I/O, never reads a clock, draws no random numbers, and has no async and no logging: the
//! same input gives the same output. The server and the report call it.

// The scenes that the tests of photos draw are shared with the bench, where this crate has its name.
#[cfg(test)]
extern crate self as standpipe_engine;

pub mod amount;
pub mod catalogue;
pub mod caution;
pub mod formula;
pub mod gates;
pub mod job;
pub mod kind;
pub mod owner;
pub mod photo;
pub mod plan;
pub mod quantity;
pub mod sheet;
pub mod site;
pub mod steps;
pub mod text;
pub mod view;
