//! A litre counter as a display shows it: it only goes up, and begins again only where a person said that it may.
//!
//! Called by `binner.rs` only, which says what becomes of a reading whose counter went wrong.

use super::binner::{About, millionths};
use super::reading::rounded;
use standpipe_proto::limits::feed::{STEP_LITRES_MAX, STEP_LITRES_PER_SECOND, ZEROED_LITRES_MAX};

/// A millionth of a litre: below it, decimals of a display are equal.
pub(super) const SAME_LITRES: f64 = 1e-6;
const SECOND_US: f64 = 1e6;

/// A counter that only goes up, and may begin again.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Counter {
    /// What it showed before it began again.
    base: f64,
    /// What it shows, and when that was read.
    shown: Option<(f64, i64)>,
}

/// How a counter moved.
pub(super) enum Step {
    On,
    Again { from: f64 },
    Back { from: f64 },
    Leapt { from: f64 },
}

impl Counter {
    pub(super) fn total(&self) -> f64 {
        self.base + self.shown.map_or(0.0, |(shown, _)| shown)
    }

    /// The sum as it is stated: without what adding decimals leaves behind.
    pub(super) fn total_if_shown(&self) -> Option<f64> {
        self.shown.map(|_| millionths(self.total()))
    }

    /// Moves on to what it shows now, or says why not.
    pub(super) fn takes(&mut self, shown: f64, now_us: i64, may_reset: bool) -> Step {
        let Some((from, since_us)) = self.shown else {
            self.shown = Some((shown, now_us));
            return Step::On;
        };
        if shown < from - SAME_LITRES {
            if !may_reset || shown > ZEROED_LITRES_MAX || from <= ZEROED_LITRES_MAX {
                return Step::Back { from };
            }
            *self = Self { base: self.base + from, shown: Some((shown, now_us)) };
            return Step::Again { from };
        }
        // Microseconds of any exchange are far below 2⁵³.
        #[allow(clippy::cast_precision_loss)]
        let seconds = now_us.saturating_sub(since_us) as f64 / SECOND_US;
        if shown - from > STEP_LITRES_MAX + STEP_LITRES_PER_SECOND * seconds {
            return Step::Leapt { from };
        }
        self.shown = Some((shown, now_us));
        Step::On
    }
}

impl Step {
    /// What somebody should know of it.
    pub(super) fn told(
        &self,
        what: &str,
        shown: f64,
        may_reset: bool,
        then: &str,
    ) -> Option<(About, String)> {
        let to = rounded(shown);
        match *self {
            Self::On => None,
            Self::Again { from } => Some((
                About::NewRun,
                format!(
                    "{what} went back from {} to {to} L: the display was set to zero; what it shows now counts on top",
                    rounded(from)
                ),
            )),
            Self::Back { from } => {
                let how = if may_reset {
                    format!("a display that was set to zero begins at {ZEROED_LITRES_MAX} L at most")
                } else {
                    "if the display was set to zero, feed it again with --reset".to_owned()
                };
                Some((
                    About::WentBack,
                    format!("{what} went back from {} to {to} L; {then}; {how}", rounded(from)),
                ))
            }
            Self::Leapt { from } => Some((
                About::Leapt,
                format!("{what} leapt from {} to {to} L, faster than anything flows; {then}", rounded(from)),
            )),
        }
    }
}
