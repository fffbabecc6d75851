//! Fresh fluid that a job drew, by code and lot.
//!
//! The store is kept in litres as they were poured at the temperature of the bay, for that is what a delivery note, a
//! can and a litre display say; what was weighed is turned into such litres by the density of the fluid. Litres pushed
//! in count up to the last reading of the exchange that counts, each step of the counter to the container that was
//! compared last before it.

use super::{Use, UseOf};
use crate::amount::{Amount, Read};
use crate::catalogue::same_code;
use crate::job::{Context, Folded, Identity, Stated, container_check_before, exchange_readings};
use crate::kind::fill::Fill;
use crate::kind::part_checked::PartChecked;
use crate::kind::words::{FillPurpose, Part};
use crate::site::density::{same_fluid, weighed_litres};
use crate::site::litres_of;

/// Purpose of litres that the exchange pushed in.
pub(crate) const EXCHANGE: &str = "exchange";
/// Purpose of a lot that was read on a container although no litres can be told apart for it.
pub(crate) const COMPARED: &str = "compared";

/// Every draw, in the order in which it was done.
pub(crate) fn uses(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<Use> {
    let mut uses = pushed(folded, identity);
    uses.extend(folded.each::<Fill>().map(|(stated, fill)| filled(context, folded, identity, stated, fill)));
    uses.retain(|used| used.amount > 0.0);
    let compared = compared(context, folded, &uses);
    uses.extend(compared);
    uses
}

fn pushed(folded: &Folded, identity: &Identity) -> Vec<Use> {
    let mut uses: Vec<Use> = Vec::new();
    let mut before = 0.0;
    for (stated, reading) in exchange_readings(folded) {
        let litres = litres_of(&reading.pushed_in);
        let (code, lot) = container(folded, identity, stated);
        let step = litres - before;
        before = litres;
        match uses.last_mut().filter(|last| last.code == code && last.lot == lot) {
            Some(last) => {
                let amount = last.amount + step;
                *last = Use { amount, code, lot, ..of(stated, EXCHANGE) };
            }
            None => uses.push(Use { amount: step, code, lot, ..of(stated, EXCHANGE) }),
        }
    }
    uses
}

fn filled(context: &Context<'_>, folded: &Folded, identity: &Identity, stated: &Stated, fill: &Fill) -> Use {
    let (code, lot) = container(folded, identity, stated);
    let own = !fill.fluid_code.is_empty() && !same_fluid(context.revision, &fill.fluid_code, &code);
    let code = if fill.fluid_code.is_empty() { code } else { fill.fluid_code.clone() };
    // Another fluid than on the container before came from another container, whose lot nobody read.
    let before = if own { String::new() } else { lot };
    let lot = if fill.lot.is_empty() { before } else { fill.lot.clone() };
    let amount = litres(context, identity, &code, &fill.amount);
    Use { amount, code, lot, ..of(stated, fill.purpose.map_or("other", FillPurpose::word)) }
}

fn of(stated: &Stated, purpose: &str) -> Use {
    Use { unit: "L".to_owned(), purpose: purpose.to_owned(), ..Use::stated(stated, UseOf::Fluid) }
}

/// Code and lot of the container before; without one the fluid of the settled variant, and no lot.
fn container(folded: &Folded, identity: &Identity, worked: &Stated) -> (String, String) {
    match container_check_before(folded, worked) {
        Some((_, check)) => (check.code.clone(), check.lot.clone()),
        None => {
            let fluid = identity.variant.as_ref().and_then(|variant| variant.fluid.as_ref());
            (fluid.map(|(code, _)| code.clone()).unwrap_or_default(), String::new())
        }
    }
}

/// Lots on containers of a fluid that was used, for which no litres can be told apart: cans read one after the other.
fn compared(context: &Context<'_>, folded: &Folded, uses: &[Use]) -> Vec<Use> {
    let mut found: Vec<Use> = Vec::new();
    for (stated, check) in folded.each::<PartChecked>() {
        let same = |used: &Use| same_fluid(context.revision, &used.code, &check.code);
        let is_container = check.part == Some(Part::FluidContainer) && !check.lot.is_empty();
        let told = uses.iter().chain(&found).any(|used| same(used) && same_code(&used.lot, &check.lot));
        if is_container && !told && uses.iter().any(same) {
            found.push(Use { code: check.code.clone(), lot: check.lot.clone(), ..of(stated, COMPARED) });
        }
    }
    found
}

fn litres(context: &Context<'_>, identity: &Identity, code: &str, amount: &Amount) -> f64 {
    match amount.read() {
        Read::Litres(litres) => litres,
        Read::Kilograms(kilograms) => {
            let variant = identity.variant.as_ref().filter(|variant| variant.takes_fluid(code));
            let density = variant.map(|variant| variant.density_15_celsius.value);
            weighed_litres(context.revision, code, density, kilograms)
        }
    }
}
