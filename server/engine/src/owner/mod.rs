//! Several workshops side by side: what an owner sees of them.
//!
//! [`JobRow`] is one job as flat numbers, [`sums`] adds them, [`come_backs`] finds vehicles again, naming says which
//! figures of which site are beyond chance, [`compare`] names them with their jobs, [`sheets`] shows all of it. Pure like
//! the view: the owner's server brings rows and sums. Never here: a rank, a grade, a customer, or – unless the owner
//! switched it on – a person.

pub mod come_backs;
pub mod compare;
mod figures;
mod job_row;
mod measure;
mod minutes;
pub mod naming;
mod offsets;
pub mod one_page;
pub mod rates;
pub mod sheets;
mod single;
pub mod sums;
#[cfg(test)]
mod tests;
mod told;
mod ways;

pub use compare::{Exception, JobShown, exceptions};
pub use figures::Figures;
pub use job_row::{DisplayState, JobRow, LotDrawn, RowSettings, vehicle_digest};
pub use measure::Measure;
pub use minutes::Minutes;
pub use naming::{Named, named};
pub use offsets::{DISPLAY_TOLERATED, LITRES_TOLERATED};
pub use one_page::{OnePage, one_page};
pub use told::{TOGETHER_FROM, Told};
