//! What is left to refill as a figure with its uncertainty, beside the one number that the bay is proposed.

use super::{Converter, Measures, to_refill};
use crate::amount::Read;
use crate::formula::balance::sum;
use crate::gates::{Facts, Need, is_met};
use crate::job::{Context, Folded, Identity};
use crate::quantity::Estimate;
use crate::text::sentence;
use crate::view::Figure;

const LITRES_PER_CUBIC_METRE: f64 = 1000.0;

/// What is left to refill as a number, while it is short of what ran out; in litres of fresh fluid, or in kilograms
/// where all of it was weighed.
pub(in crate::job) fn figure(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Option<Figure> {
    let facts = Facts { context, folded, identity };
    let amount = to_refill(context, folded, identity).filter(|_| !is_met(&facts, Need::RefilledAsDrained))?;
    let measures = Measures::of(context, folded, identity);
    let terms = measures.pan.iter().map(|pan| pan.term(true));
    let cold =
        sum(&terms.chain(measures.refilled.iter().map(|refilled| refilled.term(false))).collect::<Vec<_>>());
    let converter = Converter::of(context, folded, identity);
    let (key, unit, value, scale) = match amount.read() {
        Read::Litres(litres) => ("refill_litres", "L", litres, converter.as_fresh(1.0)?),
        Read::Kilograms(mass) => {
            ("refill_kilograms", "kg", mass, converter.density.value / LITRES_PER_CUBIC_METRE)
        }
    };
    Some(Figure {
        key,
        label: sentence::figure_refill(),
        estimate: Estimate { value, ..cold.scaled(scale) },
        unit,
        text: sentence::figure_as_read(amount.as_read()),
        reasons: vec![sentence::why_as_drained()],
    })
}
