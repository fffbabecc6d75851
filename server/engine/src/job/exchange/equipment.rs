//! What the exchange equipment itself does to the share: the error of its display, and another fluid that it still held.
//!
//! Never here: the check of a display or what equipment holds, which the site knows.

use super::super::{Context, Identity, registers};
use super::Folded;
use crate::quantity::Estimate;
use crate::site::display::{self, DisplayCheck};

/// What the share takes from the equipment.
pub(in crate::job) struct Equipment {
    /// True litres for each litre that the display shows; 1 where it was not checked.
    pub ratio: f64,
    /// Relative standard uncertainty of litres pushed in.
    pub display: f64,
    /// The same of a display that was not checked, for litres that came out and were not read on the checked one.
    pub display_out: f64,
    /// Litres of another fluid that may be inside of what went in first.
    pub foreign: Option<Estimate>,
    /// Whether some of what went in came from a container of another fluid.
    pub has_wrong_fluid: bool,
}

impl Equipment {
    /// Looks it up.
    pub fn of(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Self {
        let display_out = context.workshop().display_error_limit.value / 3.0_f64.sqrt();
        let check = display::of_job(context, folded).and_then(DisplayCheck::valid);
        let foreign = registers::pushed_in(context, folded, identity);
        Self {
            ratio: check.as_ref().map_or(1.0, |check| check.ratio.value),
            display: check.map_or(display_out, |check| check.limit() / 3.0_f64.sqrt()),
            display_out,
            foreign: foreign.map(|foreign| inside_at_most(foreign.litres)),
            has_wrong_fluid: identity.wrong_fluid.is_some(),
        }
    }
}

/// Of what went in first, anything from nothing to all is still inside: it may have left again, or not yet.
fn inside_at_most(litres: Estimate) -> Estimate {
    let half = Estimate::within(litres.value / 2.0, litres.value / 2.0);
    let u = half.standard_uncertainty.hypot(litres.standard_uncertainty / 2.0);
    Estimate::known(half.value, u)
}

/// A share of which litres of another fluid are not new: `n − y / V`, never below 0.
pub(super) fn less(share: Estimate, foreign: Option<Estimate>, fill: Option<Estimate>) -> Estimate {
    let (Some(foreign), Some(fill)) = (foreign, fill.filter(|fill| fill.value > 0.0)) else { return share };
    let part = foreign.scaled(1.0 / fill.value);
    let u = share.standard_uncertainty.hypot(part.standard_uncertainty);
    Estimate { value: (share.value - part.value).max(0.0), standard_uncertainty: u, ..share }
}
