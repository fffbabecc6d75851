//! THE table of what an owner's sites are named for, in the order in which it is told: what customers have to be called for
//! first, then tools and displays, all of them before anything that hints at people.
//!
//! Never here: a number.

use super::sums::Counter;

/// What a site is named for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Measure {
    /// Fluid that is not the variant's, a lot that came in as another fluid, a recalled lot.
    Fluid,
    /// Torque tools that were used past their check or out of their limits.
    ToolPast,
    /// Litre displays that were read past their check or without one.
    DisplayUnchecked,
    /// A litre display that shows too much or too little.
    DisplayOff,
    /// Litres that went in and are not accounted for.
    LitresLost,
    /// Vehicles that came back within 30 days.
    ComeBack,
    /// Jobs without a look at the level that counts.
    LevelUnset,
    /// Jobs with entries that were typed late.
    Late,
}

impl Measure {
    /// All of them, in the order in which they are told.
    pub const ALL: &'static [Self] = &[
        Self::Fluid,
        Self::ToolPast,
        Self::DisplayUnchecked,
        Self::DisplayOff,
        Self::LitresLost,
        Self::ComeBack,
        Self::LevelUnset,
        Self::Late,
    ];

    /// Its word, by which sentences choose.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::DisplayUnchecked => "display-unchecked",
            Self::ToolPast => "tool-past",
            Self::Fluid => "fluid",
            Self::DisplayOff => "display-off",
            Self::LitresLost => "litres-lost",
            Self::ComeBack => "come-back",
            Self::LevelUnset => "level-unset",
            Self::Late => "late",
        }
    }

    /// Jobs that count and jobs of which it is so, where it is a share of jobs that chance plays with.
    #[must_use]
    pub const fn share(self) -> Option<(Counter, Counter)> {
        match self {
            Self::ComeBack => Some((Counter::Old30, Counter::Back30)),
            Self::LevelUnset => Some((Counter::Done, Counter::LevelUnset)),
            Self::Late => Some((Counter::Done, Counter::Late)),
            _ => None,
        }
    }
}
