//! What was seen of the fluid, what each sight speaks for, and the rule that decides.
//!
//! One line an observation: what was seen, what it speaks for, why. Never here: points, grades or sentences. A
//! number speaks only against a limit that the workshop stated with its source; without one it says nothing. The
//! view calls it with the observations before the work, and again with those after.
//!
//! # Source
//! Own proposal of this house; there is no standard for it. The words of smell, clouding, colour and debris are
//! taken as seen and never turned into numbers.

mod evidence;
mod rule;

pub use evidence::{
    Bubbles, Clouding, Colour, Debris, Drive, Gap, Kind, Limit, Limits, Line, Observation, Reason, Smell,
    SpeaksFor, line,
};
pub use rule::{Finding, Rule, judge};
