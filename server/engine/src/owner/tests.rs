//! Rows, sums and the comparison of invented workshops.

mod campaign;
mod sheets;
mod sums;
#[path = "../../../../deploy/demo/src/year.rs"]
mod year;
