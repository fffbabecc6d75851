//! Capability, reference and fault tests: one binary, a module for each thing that a user can do.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]
#![allow(missing_docs)]

mod bounds;
mod reference;
mod tidy;
