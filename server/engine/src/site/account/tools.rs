//! What one job used of torque tools and exchange equipment.
//!
//! A use of a torque tool is one screw brought to its torque once. Nobody counts the clicks: a ring counts as often as
//! its stages with the check pass ask for it, rows of a recording tool count themselves, a plug counts once. Where a
//! low stage is made by hand that is a little too many, which is the safe side.

use crate::job::{Context, Folded, Identity, Stated};
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::hookup::Hookup;
use crate::kind::part_checked::PartChecked;
use crate::kind::plug_closed::PlugClosed;
use crate::kind::tightening::Tightening;
use crate::kind::words::{Part, ScrewGroup};
use crate::site::{Use, UseOf, litres_of};

/// The uses, in no order.
pub(super) fn uses(context: &Context<'_>, folded: &Folded) -> Vec<Use> {
    let identity = Identity::of(context, folded);
    let screws = folded.each::<Tightening>().filter(|(_, it)| !it.tool.is_empty());
    let mut uses: Vec<Use> = screws
        .map(|(stated, it)| {
            let purpose = match it.group {
                Some(ScrewGroup::Filter) => "filter-screws",
                Some(ScrewGroup::Pan) => "pan-screws",
                _ => "other-screws",
            };
            tool(stated, &it.tool, times(context, &identity, it), purpose)
        })
        .collect();
    let plugs = folded.each::<PlugClosed>().filter(|(_, plug)| !plug.tool.is_empty());
    uses.extend(plugs.map(|(stated, plug)| tool(stated, &plug.tool, 1.0, "plug")));
    uses.extend(pushed_through(folded));
    uses
}

fn tool(stated: &Stated, code: &str, amount: f64, purpose: &str) -> Use {
    Use {
        seq: stated.seq,
        done_us: stated.time_us,
        of: UseOf::Tool,
        code: code.to_owned(),
        amount,
        purpose: purpose.to_owned(),
        ..Use::default()
    }
}

/// How often a screw was brought to its torque.
fn times(context: &Context<'_>, identity: &Identity, it: &Tightening) -> f64 {
    let rows = u32::try_from(it.screws.len()).unwrap_or(u32::MAX);
    if rows > 0 {
        return f64::from(rows);
    }
    let stages = match it.group {
        Some(ScrewGroup::Pan) => {
            let usual = context.workshop().screw_stages.percents.len();
            let variant = identity.variant.as_ref();
            let stages = variant.map_or(usual, |variant| variant.screws.stages(context.workshop()).len());
            // The check pass.
            u32::try_from(stages).unwrap_or(u32::MAX).saturating_add(1)
        }
        _ => 1,
    };
    f64::from(it.screw_count) * f64::from(stages)
}

/// Each reading of litres pushed through: the equipment, and the fluid that it holds since. None moves with a later one,
/// so what equipment held at a place in the journal can be told at any time.
fn pushed_through(folded: &Folded) -> Vec<Use> {
    let pushed = folded.each::<ExchangeReading>().filter(|(_, it)| !it.pushed_in.is_zero());
    let used = pushed.map(|(stated, reading)| {
        let mut hookups = folded.each::<Hookup>().filter(|(_, it)| !it.equipment.is_empty());
        let code = hookups.rfind(|(hookup, _)| hookup.seq < stated.seq).map(|(_, it)| it.equipment.clone());
        let (fluid, lot) = container(folded, stated).unwrap_or_default();
        let litres = litres_of(&reading.pushed_in);
        Use {
            seq: stated.seq,
            done_us: stated.time_us,
            of: UseOf::Equipment,
            code: code.unwrap_or_default(),
            lot,
            amount: litres,
            unit: "L".to_owned(),
            purpose: fluid,
            ..Use::default()
        }
    });
    used.collect()
}

/// Code and lot on the container that was read last before a reading.
fn container(folded: &Folded, worked: &Stated) -> Option<(String, String)> {
    let checks = folded.each::<PartChecked>().filter(|(_, check)| check.part == Some(Part::FluidContainer));
    let mut before = checks.filter(|(stated, _)| !stated.is_after(worked));
    before.next_back().map(|(_, check)| (check.code.clone(), check.lot.clone()))
}
