//! Formulas of the job, each with its source and a published value.
//!
//! Pure functions over [`crate::quantity`]: they know nothing of entries, messages or languages, and never
//! round. The kinds of entries and the view call them.

pub mod ageing;
pub mod alarm;
pub mod arrival;
pub mod balance;
pub mod camera_curve;
pub mod colour;
pub mod condition;
pub mod ewma_chart;
pub mod exchange;
pub mod fault_code;
pub mod fit;
pub mod flow;
pub mod forecast;
pub mod funnel;
pub mod holm;
pub mod homography;
pub mod individuals_chart;
pub mod laboratory;
pub mod level_forecast;
pub mod mean;
pub mod mixing;
pub mod next_due;
pub mod other_fluid;
pub mod overflow;
pub mod pan_first;
pub mod particles;
pub mod photo_share;
pub mod proportion;
pub mod refill;
pub mod screw_order;
pub mod seen;
pub mod sequence;
pub mod standard_ratio;
pub mod temperature_curve;
pub mod to_go;
pub mod torque_tool;
pub mod torque_units;
pub mod tubes;
pub mod usual;
pub mod vin;
pub mod viscosity;
pub mod viscosity_index;
pub mod volume;
pub mod volume_2004;
