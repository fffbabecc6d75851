//! What a code belongs to, as a scanner or a person gives it: part, lot, tool, equipment or job.
//!
//! Everything that it belongs to is named; which of it is meant, whoever read it knows.

use super::SiteContext;
use super::account::{JobAccount, UseOf};
use super::equipment::{Holds, contents, known};
use super::lot_good::day_in_words;
use super::lots::Lots;
use super::store::{Balance, Store};
use super::tools::{Register, in_words};
use crate::catalogue::{Variant, same_code};
use crate::kind::lot_received::LotReceived;
use crate::kind::tool_checked::ToolChecked;
use crate::kind::words::{Part, Supply, ToolEvent, ToolKind};
use crate::text::{Sentence, number, sentence};
use standpipe_proto::v1;

/// What a code can belong to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FoundWhat {
    /// A fluid, filter, standpipe or transmission of the catalogue, or what the register knows by this code.
    Part,
    /// A lot.
    Lot,
    /// A tool.
    Tool,
    /// Exchange equipment.
    Equipment,
    /// A job.
    Job,
}

/// One thing that a code belongs to.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// What it is.
    pub what: FoundWhat,
    /// The code as it is known; of a lot, that on its container.
    pub code: String,
    /// What is known of it.
    pub text: Sentence,
    /// The part that carries it, where it is a part's or a lot's.
    pub part: Option<Part>,
    /// The lot, where it is one.
    pub lot: String,
    /// Identity of the job, where it is one.
    pub job: String,
}

/// Everything that a code belongs to; nothing if it is not known. For a job it also knows the codes that were stated
/// when its variant was settled.
#[must_use]
pub fn find(context: &SiteContext<'_>, code: &str, settled: Option<&v1::VariantSettled>) -> Vec<Found> {
    let mut found = parts(context, code);
    found.extend(settled.filter(|_| found.is_empty()).and_then(|settled| looked_up(settled, code)));
    found.extend(supplies(context, code, &found));
    found.extend(lots(context, code));
    found.extend(tools(context, code));
    found.extend(jobs(context, code));
    found
}

fn of(what: FoundWhat, code: &str, text: Sentence) -> Found {
    let (lot, job) = (String::new(), String::new());
    Found { what, code: code.to_owned(), text, part: None, lot, job }
}

/// Codes of the catalogue, each with all variants that it belongs to.
fn parts(context: &SiteContext<'_>, code: &str) -> Vec<Found> {
    type Codes = fn(&Variant) -> Vec<&str>;
    const PLACES: [(Option<Part>, &str, Codes); 6] = [
        (Some(Part::FluidContainer), "fluid-container", |variant| {
            vec![&variant.fluid.code, &variant.fluid.name]
        }),
        (Some(Part::Filter), "filter", |variant| variant.filter_code.as_deref().into_iter().collect()),
        (Some(Part::Standpipe), "standpipe", |variant| {
            variant.standpipe_code.as_deref().into_iter().collect()
        }),
        (Some(Part::TransmissionPlate), "transmission-plate", |variant| {
            variant.plate_code.as_deref().into_iter().collect()
        }),
        (None, "kit", |variant| variant.kit.iter().map(|kit| kit.code.as_str()).collect()),
        (None, "adapter", |variant| {
            variant.hookups.iter().filter_map(|hookup| hookup.adapter.as_deref()).collect()
        }),
    ];
    let mut found = Vec::new();
    for (part, word, codes) in PLACES {
        let fits = |variant: &&Variant| codes(variant).into_iter().any(|known| same_code(known, code));
        let variants: Vec<&Variant> = context.revision.variants().iter().filter(fits).collect();
        let Some(first) = variants.first() else { continue };
        // A fluid read by its name is known by its code; of several adapters the one that was read is meant.
        let read = codes(first).into_iter().find(|known| same_code(known, code));
        let Some(known) = (if word == "adapter" { read } else { codes(first).first().copied() }) else {
            continue;
        };
        let named = |variant: &&Variant| format!("{}, {}", variant.transmission, variant.label);
        let names = variants.iter().map(named).collect::<Vec<_>>().join("; ");
        let text = sentence::found_part(known, word, names);
        found.push(Found { part, ..of(FoundWhat::Part, known, text) });
    }
    found
}

/// Fluid or filter of a variant that was looked up for a job and that the catalogue does not list.
fn looked_up(settled: &v1::VariantSettled, code: &str) -> Option<Found> {
    let places = [(Part::FluidContainer, &settled.fluid_code), (Part::Filter, &settled.filter_code)];
    let (part, known) = places.into_iter().find(|(_, known)| !known.is_empty() && same_code(known, code))?;
    let name = if settled.label.is_empty() { &settled.variant_code } else { &settled.label };
    let text = sentence::found_part(known, part.word(), name);
    Some(Found { part: Some(part), ..of(FoundWhat::Part, known, text) })
}

/// Codes that only deliveries know, such as those of kits.
fn supplies(context: &SiteContext<'_>, code: &str, known: &[Found]) -> Option<Found> {
    let mut received = context.facts.each::<LotReceived>(u64::MAX);
    let (_, lot) = received.find(|(_, lot)| same_code(&lot.code, code))?;
    let text = sentence::found_supply(&lot.code, sentence::supply(lot.what.map_or("unknown", Supply::word)));
    let part = carried_by(lot.what);
    known.is_empty().then(|| Found { part, ..of(FoundWhat::Part, &lot.code, text) })
}

fn carried_by(what: Option<Supply>) -> Option<Part> {
    match what? {
        Supply::Fluid => Some(Part::FluidContainer),
        Supply::Filter => Some(Part::Filter),
        Supply::Kit | Supply::Seal | Supply::Screws | Supply::Other => None,
    }
}

/// Lots with this number, one for each code.
fn lots(context: &SiteContext<'_>, code: &str) -> Vec<Found> {
    let lots = Lots::new(context.revision, context.facts, u64::MAX);
    let mut found: Vec<Found> = Vec::new();
    let mut store = None;
    for (_, lot) in lots.numbered(code) {
        if found.iter().any(|known| same_code(&known.code, &lot.code)) {
            continue;
        }
        let store = store.get_or_insert_with(|| Store::of(context.revision, context.facts));
        let shelf = store.shelf(&lot.code);
        let balance = shelf.and_then(|shelf| shelf.lots.iter().find(|known| same_code(&known.lot, &lot.lot)));
        let mut known = Vec::new();
        if let Some((shelf, balance)) = shelf.zip(balance) {
            known.push(sentence::found_there(Balance::there(balance).said(shelf.unit)));
        }
        if let Some(last) = lots.last_day(&lot.lot, &lot.code) {
            let is_past = last < context.date(context.as_of_us).to_string().as_str();
            let day = day_in_words(last);
            known.push(if is_past { sentence::found_past(day) } else { sentence::found_until(day) });
        }
        if lots.recalled(&lot.lot, &lot.code).is_some() {
            known.push(sentence::store_recalled());
        }
        let what = sentence::supply(lot.what.map_or("unknown", Supply::word));
        let text = sentence::found_lot(&lot.code, known, &lot.lot, what);
        let part = carried_by(lot.what);
        found.push(Found { part, lot: lot.lot.clone(), ..of(FoundWhat::Lot, &lot.code, text) });
    }
    found
}

/// Tools and equipment whose codes came up in checks or jobs. A litre display is a part of its equipment.
fn tools(context: &SiteContext<'_>, code: &str) -> Vec<Found> {
    let facts = context.facts;
    let used = facts.uses(UseOf::Tool, u64::MAX).map(|(_, used)| used.code.as_str());
    let checked = facts.each::<ToolChecked>(u64::MAX);
    let checked = checked.filter(|(_, it)| it.kind != Some(ToolKind::LitreDisplay));
    let checked = checked.map(|(_, check)| check.tool.as_str());
    let tool = checked.chain(used).find(|known| same_code(known, code));
    let equipment = known(facts, u64::MAX).into_iter().find(|known| same_code(known, code));
    let tool = tool.map(|known| of(FoundWhat::Tool, known, tool_said(context, known)));
    let equipment = equipment.map(|known| of(FoundWhat::Equipment, known, equipment_said(context, known)));
    tool.into_iter().chain(equipment).collect()
}

/// What equipment holds, and when its display was checked.
fn equipment_said(context: &SiteContext<'_>, code: &str) -> Sentence {
    let holds = contents(context.facts, context.workshop(), code, u64::MAX, None);
    let holds = match holds.map(|contents| contents.holds) {
        Some(Holds::Fluid { code, litres, .. }) => {
            let name = context.revision.fluid(&code).map_or(code.as_str(), |fluid| fluid.name.as_str());
            sentence::found_holds(name, number::with_unit(&number::fixed(litres.value, 1), "L"))
        }
        Some(Holds::Nothing) => sentence::found_holds_nothing(),
        Some(Holds::NotRead) | None => sentence::found_holds_not_known(),
    };
    let register = Register::of(context.facts, context.workshop(), u64::MAX);
    let display = register.tool(ToolKind::LitreDisplay, code).and_then(|display| {
        let is_check = |checked: &ToolChecked| checked.event == Some(ToolEvent::Checked);
        let (stated, checked) = display.events().last().copied()?;
        let day = in_words(register.day(stated.time_us)?);
        let due = display.due_by(stated, checked)?;
        Some(match is_check(checked) {
            false => sentence::found_display_not_checked(),
            true if due < context.date(context.as_of_us) => sentence::found_display_old(day, in_words(due)),
            true => sentence::found_display_checked(day),
        })
    });
    sentence::found_equipment(code, display.unwrap_or_else(sentence::found_display_unknown), holds)
}

/// What the register says against a tool today; that it may be used where nothing does.
fn tool_said(context: &SiteContext<'_>, code: &str) -> Sentence {
    let register = Register::of(context.facts, context.workshop(), u64::MAX);
    let Some(tool) = register.tool(ToolKind::TorqueTool, code) else {
        return sentence::found_tool(code);
    };
    let today = context.date(context.as_of_us);
    let against: Vec<Sentence> =
        tool.against(u64::MAX, today).iter().map(|against| against.sentence(tool.code)).collect();
    match (against.is_empty(), tool.due_on(u64::MAX)) {
        (false, _) => sentence::found_tool_against(code, against),
        (true, Some(day)) => sentence::found_tool_until(code, in_words(day)),
        (true, None) => sentence::found_tool(code),
    }
}

/// Jobs with this number, plate or VIN, the newest first.
fn jobs(context: &SiteContext<'_>, code: &str) -> Vec<Found> {
    let fits = |known: &[&str]| known.iter().any(|known| same_code(known, code));
    let accounts = context.facts.accounts();
    let mut jobs: Vec<(&str, &JobAccount)> =
        accounts.filter(|(_, it)| fits(&[&it.number, &it.plate, &it.vin])).collect();
    jobs.sort_by_key(|(_, account)| std::cmp::Reverse((account.opened_us, &account.number)));
    let found = jobs.into_iter().map(|(job, account)| {
        let day = context.date(account.opened_us).strftime("%-d %B %Y").to_string();
        let text = if account.closed_us.is_some() {
            sentence::found_job_closed(day, &account.number, &account.plate)
        } else {
            sentence::found_job_open(day, &account.number, &account.plate)
        };
        Found { job: job.to_owned(), ..of(FoundWhat::Job, &account.number, text) }
    });
    found.collect()
}
