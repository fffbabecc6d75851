//! A workshop's journal at its owner's server: brought over links that break, compared, forked, lost and made again.
//!
//! Expectations rest on the roots of RFC 6962, which either side computes from its own entries; the hashing itself is held
//! against published values in the reference tests.

mod another;
mod campaign;
mod database;
mod forks;
mod joining;
mod recovering;
mod wire;
mod workshops;
