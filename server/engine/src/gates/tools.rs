//! What gates need of tools, screws and equipment: a tool that may be used, screws as the maker asks, and equipment that
//! holds no other fluid.
//!
//! What is in no register is never asked for: an empty register blocks nobody. What is known to contradict the fluid
//! stops, and nobody overrides it; the rest a named person decides, for the work that it was used for and no other.
//! Read by [`super::need`] only.

use super::Missing;
use super::need::{Facts, decided, is_off, torque_in_words};
use crate::catalogue::Screws;
use crate::job::Stated;
use crate::kind::decision::Decision;
use crate::kind::hookup::Hookup;
use crate::kind::plug_closed::PlugClosed;
use crate::kind::tightening::{TightenedScrew, Tightening};
use crate::kind::torque::Torque;
use crate::kind::words::{Answer, ScrewGroup, ToolKind};
use crate::site::equipment::{self, Holds};
use crate::site::tools::Register;
use crate::text::{Sentence, number, sentence};

/// Key of the point that screws for one use went back.
pub(crate) const SCREWS_USED_AGAIN: &str = "screws-used-again";
const CONTENTS: &str = "equipment-contents";
/// Key of the point that is answered by a hook-up that names its equipment.
const WHICH: &str = "which-equipment";
/// Nobody said how much the equipment held: so many litres pushed in have taken it with them (house value).
const HELD_AT_MOST_LITRES: f64 = 1.0;

/// The tool that the pan's screws were tightened with.
pub(super) fn screw_tool(facts: &Facts<'_>) -> Vec<Missing> {
    let Some((stated, it)) = pan_screws(facts) else { return Vec::new() };
    tool(facts, (stated, "pan-screws"), &it.tool, Some(&it.torque))
}

/// The tool that the level plug was closed with.
pub(super) fn plug_tool(facts: &Facts<'_>) -> Vec<Missing> {
    let Some((stated, plug)) = facts.folded.last::<PlugClosed>() else { return Vec::new() };
    tool(facts, (stated, "plug"), &plug.tool, plug.torque.as_ref())
}

fn pan_screws<'a>(facts: &'a Facts<'_>) -> Option<(&'a Stated, &'a Tightening)> {
    facts.folded.each::<Tightening>().rfind(|(_, it)| it.group == Some(ScrewGroup::Pan))
}

fn tool(
    facts: &Facts<'_>,
    (stated, used): (&Stated, &'static str),
    code: &str,
    torque: Option<&Torque>,
) -> Vec<Missing> {
    let register = Register::of(facts.context.site, facts.context.workshop(), facts.context.site_up_to);
    let Some(tool) = register.tool(ToolKind::TorqueTool, code) else { return Vec::new() };
    let mut missing = Vec::new();
    let mut open = |key: &'static str, why: Sentence| {
        if !decided(facts, key, stated) {
            missing.push(Missing { key, text: sentence::need_tool(used, why), stops: false });
        }
    };
    if let Some(day) = register.day(stated.time_us) {
        for against in tool.against_use(stated.seq, day) {
            open("tool-due", against.sentence(tool.code));
        }
    }
    // What is set to the digit on a mark is inside.
    let outside = |(least, greatest): &(f64, f64)| {
        torque.is_some_and(|it| it.newton_metres < least - 1e-9 || it.newton_metres > greatest + 1e-9)
    };
    if let (Some((least, greatest)), Some(torque)) = (tool.range().filter(outside), torque) {
        let (least, greatest) = (torque_in_words(least), torque_in_words(greatest));
        open("tool-range", sentence::tool_range(greatest, least, torque.as_read(), tool.code));
    }
    missing
}

/// Screws of the pan as they were counted and as a recording tool kept them.
pub(super) fn screws_as_asked(facts: &Facts<'_>) -> Vec<Missing> {
    let Some((stated, it)) = pan_screws(facts) else { return Vec::new() };
    let variant = facts.identity.variant.as_ref();
    let asked = variant.and_then(|variant| variant.pan_screw_count);
    let mut missing = Vec::new();
    let mut open = |key: &'static str, text: Sentence| {
        if !decided(facts, key, stated) {
            missing.push(Missing { key, text, stops: false });
        }
    };
    let counted = u32::try_from(it.screw_count).unwrap_or_default();
    if let Some(asked) = asked.filter(|asked| *asked != counted) {
        open("screws-count", sentence::need_screws_count(asked.to_string(), counted.to_string()));
    }
    if it.order_kept == Some(Answer::No) {
        open("screws-order", sentence::need_screws_order());
    }
    let none = Screws::default();
    let order = variant.map_or(&none, |variant| &variant.screws).order(Some(counted));
    let rows = if it.screws.is_empty() { None } else { of_rows(&it.screws, &order, it.torque.newton_metres) };
    if let Some(text) = rows {
        open("screws-rows", text);
    }
    missing
}

/// What the rows of a recording tool lack: screws, the order, or the torque that was set.
fn of_rows(rows: &[TightenedScrew], order: &[u32], set: f64) -> Option<Sentence> {
    let last = |place: u32| rows.iter().rfind(|row| row.place == place);
    let without: Vec<String> =
        order.iter().filter(|place| last(**place).is_none()).map(ToString::to_string).collect();
    if !without.is_empty() {
        return Some(sentence::need_rows_missing(without.join(", ")));
    }
    let off: Vec<String> = order
        .iter()
        .filter(|place| last(**place).is_some_and(|row| is_off(row.newton_metres, set)))
        .map(ToString::to_string)
        .collect();
    if !off.is_empty() {
        return Some(sentence::need_rows_torque(off.join(", "), torque_in_words(set)));
    }
    // Each stage runs the whole order; the last pass may go round.
    let mut round: Vec<u32> = order.to_vec();
    round.sort_unstable();
    let passes: Vec<Vec<u32>> =
        rows.chunks(order.len().max(1)).map(|pass| pass.iter().map(|row| row.place).collect()).collect();
    let kept = |(place, pass): (usize, &Vec<u32>)| {
        pass == order || (place > 0 && place + 1 == passes.len() && *pass == round)
    };
    let in_order = order.is_empty() || passes.iter().enumerate().all(kept);
    (!in_order).then(|| sentence::need_rows_order(in_line(order)))
}

/// Places as they are said: 1-5-3-7.
pub(crate) fn in_line(order: &[u32]) -> String {
    order.iter().map(ToString::to_string).collect::<Vec<_>>().join("-")
}

/// Screws for one use that went back: the responsible person decides by name. Of a variant that is not listed nobody
/// says that its screws are for one use.
pub(super) fn screws_used_again(facts: &Facts<'_>) -> Vec<Missing> {
    const KEY: &str = SCREWS_USED_AGAIN;
    let none = Screws::default();
    let listed = facts.identity.variant.as_ref().filter(|variant| variant.source.is_some());
    let screws = listed.map_or(&none, |variant| &variant.screws);
    let again = facts.folded.each::<Tightening>().filter(|(_, it)| {
        listed.is_some() && it.reused_count() > 0 && it.group.is_some_and(|group| screws.single_use(group))
    });
    let open = again.filter(|(stated, _)| !decided(facts, KEY, stated)).map(|(_, it)| Missing {
        key: KEY,
        text: sentence::need_screws_used_again(
            it.screw_count.to_string(),
            it.group_in_words(),
            it.reused_count().to_string(),
        ),
        stops: false,
    });
    open.collect()
}

/// The equipment holds the variant's fluid or nothing, as far as a register of it is kept.
pub(super) fn equipment_contents(facts: &Facts<'_>) -> Vec<Missing> {
    let (context, folded) = (facts.context, facts.folded);
    let Some(code) = equipment::of_job(context, folded) else { return which_equipment(facts) };
    let variant = facts.identity.variant.as_ref();
    let Some((variant, (_, own))) = variant.and_then(|it| Some((it, it.fluid.as_ref()?))) else {
        // Which fluid is the right one is asked for already.
        return Vec::new();
    };
    let contents = equipment::contents_before(context, folded, code);
    let known_at = contents.as_ref().map_or(0, |contents| contents.seq);
    let holds = contents.map(|contents| contents.holds);
    if let Some(begun) = equipment::begun_at(folded) {
        return went_in(facts, (code, begun), holds, |other| variant.takes_fluid(other));
    }
    match holds {
        Some(Holds::Nothing) => Vec::new(),
        Some(Holds::Fluid { code: other, .. }) if variant.takes_fluid(&other) => {
            rinsed_short(facts, code, known_at).into_iter().collect()
        }
        Some(Holds::Fluid { code: other, litres, .. }) => {
            let text = still_holds(facts, code, (&other, litres.value), own);
            vec![Missing { key: CONTENTS, text, stops: true }]
        }
        Some(Holds::NotRead) | None => {
            // Who decided it knew which equipment it was and what was said of it.
            let decided = decided_since_hookup(facts, CONTENTS, known_at);
            let open = equipment::is_kept(context) && !decided;
            let text = || sentence::need_equipment_contents(code, own);
            if open { vec![Missing { key: CONTENTS, text: text(), stops: false }] } else { Vec::new() }
        }
    }
}

/// A rinse with less than was inside leaves some of it (common practice, no source): a named person decides.
fn rinsed_short(facts: &Facts<'_>, code: &str, known_at: u64) -> Option<Missing> {
    const KEY: &str = "equipment-rinse";
    let (rinsed, other, litres) = equipment::rinsed_short(facts.context, facts.folded, code)?;
    let known = facts.context.revision.fluid(&other).map_or(other.as_str(), |fluid| fluid.name.as_str());
    let text = sentence::need_equipment_rinse(code, number::litres(litres, 1), known, rinsed);
    (!decided_since_hookup(facts, KEY, known_at)).then_some(Missing { key: KEY, text, stops: false })
}

/// Several are known and no hook-up names one: which of them is asked, or decided by name after the last hook-up.
fn which_equipment(facts: &Facts<'_>) -> Vec<Missing> {
    let known = equipment::one_of(facts.context, facts.folded);
    let hooked = facts.folded.last::<Hookup>().is_some();
    if known.is_empty() || (hooked && decided_since_hookup(facts, WHICH, 0)) {
        return Vec::new();
    }
    vec![Missing { key: WHICH, text: sentence::need_which_equipment(known.join(", ")), stops: false }]
}

/// Whether several are known and the hook-up has to name one, and nobody decided it.
pub(crate) fn asks_which_equipment(facts: &Facts<'_>) -> bool {
    equipment::of_job(facts.context, facts.folded).is_none() && !which_equipment(facts).is_empty()
}

/// Whether a named person decided a point after the last hook-up and after a place in the journal.
fn decided_since_hookup(facts: &Facts<'_>, key: &str, since: u64) -> bool {
    let hooked = facts.folded.last::<Hookup>().map(|(stated, _)| stated);
    let mut decisions = facts.folded.each::<Decision>();
    decisions.any(|(stated, decision)| {
        decision.point == key && stated.seq > since && hooked.is_none_or(|hooked| stated.is_after(hooked))
    })
}

/// Until as much was pushed in as it held there is something left to rinse out, and it stops. After that what went in
/// is left to a named person. What nobody knew then is not asked any more.
fn went_in(
    facts: &Facts<'_>,
    (equipment, begun): (&str, u64),
    holds: Option<Holds>,
    takes: impl Fn(&str) -> bool,
) -> Vec<Missing> {
    let Some(Holds::Fluid { code: other, litres, litres_said, .. }) = holds else { return Vec::new() };
    let held = if litres_said { litres.value } else { HELD_AT_MOST_LITRES };
    if !takes(&other)
        && equipment::pushed_litres(facts.folded) < held
        && !rinsed_since(facts, equipment, &takes)
    {
        let own = facts.identity.variant.as_ref().and_then(|variant| variant.fluid.as_ref());
        let own = own.map(|(_, own)| own.as_str()).unwrap_or_default();
        let text = still_holds(facts, equipment, (&other, litres.value), own);
        return vec![Missing { key: CONTENTS, text, stops: true }];
    }
    let mut decisions = facts.folded.each::<Decision>();
    let decided = decisions.any(|(stated, decision)| decision.point == CONTENTS && stated.seq > begun);
    if takes(&other) || decided {
        return Vec::new();
    }
    let name = facts.context.revision.fluid(&other).map_or(&other, |fluid| &fluid.name);
    let text = sentence::need_equipment_went_in(equipment, number::litres(litres.value, 1), name);
    vec![Missing { key: CONTENTS, text, stops: false }]
}

/// Whether it was rinsed or emptied after all, once pushing had begun.
fn rinsed_since(facts: &Facts<'_>, equipment: &str, takes: impl Fn(&str) -> bool) -> bool {
    let context = facts.context;
    let (workshop, up_to, own) = (context.workshop(), context.site_up_to, Some(context.job_id));
    match equipment::contents(context.site, workshop, equipment, up_to, own).map(|contents| contents.holds) {
        Some(Holds::Nothing) => true,
        Some(Holds::Fluid { code, .. }) => takes(&code),
        Some(Holds::NotRead) | None => false,
    }
}

fn still_holds(facts: &Facts<'_>, equipment: &str, (other, litres): (&str, f64), own: &str) -> Sentence {
    let name = facts.context.revision.fluid(other).map_or(other, |fluid| &fluid.name);
    sentence::need_equipment_other(equipment, number::litres(litres, 1), name, own)
}

/// What a yes to the exchange rests on of the equipment.
pub(super) fn basis(facts: &Facts<'_>) -> Option<Sentence> {
    let code = equipment::of_job(facts.context, facts.folded)?;
    Some(match equipment::contents_before(facts.context, facts.folded, code).map(|contents| contents.holds) {
        Some(Holds::Nothing) => sentence::equipment_emptied(code),
        Some(Holds::Fluid { code: fluid, rinsed, .. }) => {
            let name = facts.context.revision.fluid(&fluid).map_or(&fluid, |fluid| &fluid.name);
            match rinsed {
                Some(rinsed) => sentence::equipment_rinsed(rinsed, code, name),
                None => sentence::equipment_holds(code, name),
            }
        }
        Some(Holds::NotRead) | None => sentence::gate_basis_equipment_unknown(code),
    })
}
