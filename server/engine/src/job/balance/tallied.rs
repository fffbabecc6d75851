//! Litres of one job as sums over many jobs need them.
//!
//! The same amounts as the balance of the record, without a word on what they mean.

use super::{Measured, Measures, of};
use crate::job::{Context, Folded, Identity};
use crate::kind::drain::Drain;
use crate::kind::words::{DrainedFrom, Means};
use crate::quantity::Estimate;
use crate::site::display::{self, DisplayCheck};

/// Litres of one job at 15 °C.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Tallied {
    /// What went in; absent when nothing was measured.
    pub went_in: Option<Estimate>,
    /// What came out, with what parts carried.
    pub came_out: Option<Estimate>,
    /// Carried out with parts.
    pub carried: Option<Estimate>,
    /// Spilled, as far as somebody wrote it down.
    pub spilled: Option<Estimate>,
    /// In minus out; absent when what came out was not fully measured.
    pub difference: Option<Estimate>,
    /// Of these litres what the display alone showed, in minus out, as it showed them: what its error is a part of.
    pub by_display: f64,
}

/// The litres of a job.
pub(crate) fn tallied(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Tallied {
    let measures = Measures::of(context, folded, identity);
    let Some(view) = of(folded, identity, &measures) else { return Tallied::default() };
    let is_spill = |lost: &&Measured| {
        let mut drains = folded.each::<Drain>();
        drains.any(|(stated, drain)| stated.seq == lost.seq && drain.place == Some(DrainedFrom::Spill))
    };
    let spilled: Vec<Measured> = measures.lost.iter().filter(is_spill).cloned().collect();
    // A display that was checked is corrected in the balance; here it stands as it showed.
    let check = display::of_job(context, folded).and_then(DisplayCheck::valid);
    let ratio = check.map_or(1.0, |check| check.ratio.value);
    let shown = |amounts: &[Measured]| -> f64 {
        let displayed = amounts.iter().filter(|amount| amount.means == Some(Means::Display));
        displayed.map(|amount| amount.litres.value / ratio).sum()
    };
    Tallied {
        went_in: (!view.went_in.is_empty()).then_some(view.total_in),
        came_out: (!view.came_out.is_empty()).then_some(view.total_out),
        carried: measures.carried_out,
        spilled: (!spilled.is_empty()).then(|| measures.sum(&spilled)),
        difference: view.difference,
        by_display: shown(&measures.pushed) - shown(&measures.came_out),
    }
}
