//! Who may call what: every method for every kind of caller, and what a refusal tells.

mod matrix;
mod reflection;
mod sight;
