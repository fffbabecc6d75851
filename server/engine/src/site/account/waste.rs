//! Waste that a job wrote down: a use a line.
//!
//! Litres of used fluid become kilograms by the density of the fluid at 15 °C with three decimals, which the register
//! prints beside them, so that anybody can compute it again. The code of the waste is that of the settings by which the
//! job is judged: a code that is set later rewrites no line.

use super::{Use, UseOf};
use crate::amount::Read;
use crate::job::{Context, Folded, Identity};
use crate::kind::waste::{Waste, WasteAmount};
use crate::kind::words::WasteKind;
use crate::site::density::printed_density;

/// Word of waste of a kind that this version does not know.
pub(crate) const UNKNOWN: &str = "unknown";

/// Every line of waste.
pub(crate) fn uses(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<Use> {
    let variant = identity.variant.as_ref().map(|variant| variant.density_15_celsius.value);
    let density = printed_density(variant.unwrap_or(context.workshop().fluid_density.value));
    let line = |(stated, waste): (_, &Waste)| {
        let fluid = waste.kind == Some(WasteKind::UsedFluid);
        let (amount, unit, density) = match waste.amount.as_ref() {
            Some(WasteAmount::Measured(amount)) => match amount.read() {
                Read::Litres(litres) => (litres, "L", fluid.then_some(density)),
                Read::Kilograms(kilograms) => (kilograms, "kg", None),
            },
            Some(WasteAmount::Pieces(count)) => (f64::from(*count), "pieces", None),
            None => (0.0, "", None),
        };
        let word = waste.kind.map_or(UNKNOWN, WasteKind::word);
        let set = context.workshop().waste_codes.as_ref().and_then(|codes| codes.code(word));
        Use {
            waste_code: set.unwrap_or_default().to_owned(),
            code: word.to_owned(),
            amount,
            unit: unit.to_owned(),
            container: waste.container.clone(),
            density,
            ..Use::stated(stated, UseOf::Waste)
        }
    };
    folded.each::<Waste>().map(line).collect()
}
