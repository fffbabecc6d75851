//! Formulas of the job, each with its source and a published value.
//!
//! Pure functions over [`crate::quantity`]: they know nothing of entries, messages or languages, and never
//! round. The kinds of entries and the view call them.

pub mod alarm;
pub mod balance;
pub mod exchange;
pub mod fault_code;
pub mod fit;
pub mod flow;
pub mod forecast;
pub mod mixing;
pub mod refill;
pub mod seen;
pub mod sequence;
pub mod to_go;
pub mod tubes;
pub mod vin;
pub mod volume;
