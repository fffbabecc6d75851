//! What a code belongs to, as a scanner or a person gives it: part, lot, tool, equipment or job.
//!
//! Everything that it belongs to is named; which of it is meant, whoever read it knows.

use super::SiteContext;
use super::account::{JobAccount, UseOf};
use super::lot_good::day_in_words;
use super::lots::Lots;
use super::store::{Balance, Store};
use super::tools::{Register, in_words};
use crate::catalogue::{Variant, same_code};
use crate::kind::equipment_contents::EquipmentContents;
use crate::kind::lot_received::LotReceived;
use crate::kind::tool_checked::ToolChecked;
use crate::kind::words::{Part, Supply, ToolKind};
use crate::text::{Sentence, sentence};

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

/// Everything that a code belongs to; nothing if it is not known.
#[must_use]
pub fn find(context: &SiteContext<'_>, code: &str) -> Vec<Found> {
    let mut found = parts(context, code);
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
    const PLACES: [(Part, Codes); 4] = [
        (Part::FluidContainer, |variant| vec![&variant.fluid.code, &variant.fluid.name]),
        (Part::Filter, |variant| variant.filter_code.as_deref().into_iter().collect()),
        (Part::Standpipe, |variant| variant.standpipe_code.as_deref().into_iter().collect()),
        (Part::TransmissionPlate, |variant| variant.plate_code.as_deref().into_iter().collect()),
    ];
    let mut found = Vec::new();
    for (part, codes) in PLACES {
        let fits = |variant: &&Variant| codes(variant).into_iter().any(|known| same_code(known, code));
        let variants: Vec<&Variant> = context.revision.variants().iter().filter(fits).collect();
        let Some(known) = variants.first().and_then(|variant| codes(variant).first().copied()) else {
            continue;
        };
        let named = |variant: &&Variant| format!("{}, {}", variant.transmission, variant.label);
        let names = variants.iter().map(named).collect::<Vec<_>>().join("; ");
        let text = sentence::found_part(known, part.word(), names);
        found.push(Found { part: Some(part), ..of(FoundWhat::Part, known, text) });
    }
    found
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
            known.push(sentence::found_until(day_in_words(last)));
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

/// Tools and equipment whose codes came up in checks or jobs.
fn tools(context: &SiteContext<'_>, code: &str) -> Vec<Found> {
    let facts = context.facts;
    let used = |of: UseOf| facts.uses(of, u64::MAX).map(|(_, used)| used.code.as_str());
    let checked = facts.each::<ToolChecked>(u64::MAX).map(|(_, check)| check.tool.as_str());
    let held = facts.each::<EquipmentContents>(u64::MAX).map(|(_, held)| held.equipment.as_str());
    let tool = checked.chain(used(UseOf::Tool)).find(|known| same_code(known, code));
    let equipment = held.chain(used(UseOf::Equipment)).find(|known| same_code(known, code));
    let tool = tool.map(|known| of(FoundWhat::Tool, known, tool_said(context, known)));
    let equipment = equipment.map(|known| of(FoundWhat::Equipment, known, sentence::found_equipment(known)));
    tool.into_iter().chain(equipment).collect()
}

/// What the register says against a tool today; that it may be used where nothing does.
fn tool_said(context: &SiteContext<'_>, code: &str) -> Sentence {
    let register = Register::of(context.facts, context.workshop(), u64::MAX);
    let kinds = [ToolKind::TorqueTool, ToolKind::LitreDisplay];
    let Some(tool) = kinds.into_iter().find_map(|kind| register.tool(kind, code)) else {
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
