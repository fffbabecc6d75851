//! What is lacking while wrong fluid is inside.
//!
//! Taking it out is never withheld; the engine, the level and the drive are, until a named person decided.

use super::need::{fluid_compared, lacking as lacking_of};
use super::{Facts, Missing, Need};
use crate::job::wrong_fluid::{INSIDE, PUT_RIGHT, WrongFluid};
use crate::text::sentence;

/// Everything that one need lacks; empty where no wrong fluid went in.
pub(super) fn lacking(facts: &Facts<'_>, need: Need) -> Vec<Missing> {
    let Some(wrong) = &facts.identity.wrong_fluid else { return Vec::new() };
    match need {
        Need::WrongFluidDecided => decided(facts, wrong),
        Need::WrongFluidDrained => {
            let met = wrong.is_out_of_pan();
            Missing::unless(met, "wrong-fluid-drained", || sentence::need_wrong_fluid_drained(wrong.what()))
        }
        Need::WrongFluidWorkedOn => {
            let met = wrong.is_worked_on();
            let text = || sentence::need_wrong_fluid_worked_on(wrong.own(), wrong.what());
            Missing::unless(met, "wrong-fluid-worked-on", text)
        }
        Need::WrongFluidPutRight => {
            let met = wrong.is_put_right();
            Missing::unless(met, PUT_RIGHT, || sentence::need_put_right(wrong.left(), wrong.what()))
        }
        _ => Vec::new(),
    }
}

/// How it is put right is decided, and what goes in next is the right one.
fn decided(facts: &Facts<'_>, wrong: &WrongFluid) -> Vec<Missing> {
    let mut missing = lacking_of(facts, Need::NoContradiction);
    missing.extend(fluid_compared(facts));
    if !wrong.is_decided() {
        let text = sentence::need_wrong_fluid_inside(wrong.what());
        missing.push(Missing { key: INSIDE, text, stops: false });
    }
    missing
}
