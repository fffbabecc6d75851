//! Who may call what: every method for every kind of caller, and what a refusal tells.

mod instrument;
mod matrix;
mod owner;
mod reflection;
mod sight;
