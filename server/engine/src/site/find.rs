//! What a code belongs to, as a scanner or a person gives it: part, lot, tool, equipment or job.

use super::SiteContext;
use crate::kind::equipment_contents::EquipmentContents;
use crate::kind::lot_received::LotReceived;
use crate::kind::site::SiteKind as _;
use crate::kind::tool_checked::ToolChecked;
use crate::kind::words::{Part, Supply};
use crate::text::{Sentence, sentence};

/// What a code can belong to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FoundWhat {
    /// A fluid, filter, standpipe or transmission of the catalogue.
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
    let of = |what, code: &str, text| {
        let (lot, job) = (String::new(), String::new());
        Found { what, code: code.to_owned(), text, part: None, lot, job }
    };
    let same = |known: &str| known.eq_ignore_ascii_case(code);
    let mut found = Vec::new();
    let mut variants = context.revision.variants().iter();
    if let Some(variant) = variants.find(|variant| same(&variant.fluid.code)) {
        let text = sentence::part(Part::FluidContainer.word());
        let known = of(FoundWhat::Part, &variant.fluid.code, text);
        found.push(Found { part: Some(Part::FluidContainer), ..known });
    }
    if let Some((_, lot)) = context.facts.each::<LotReceived>(u64::MAX).rfind(|(_, lot)| same(&lot.lot)) {
        let part = (lot.what == Some(Supply::Fluid)).then_some(Part::FluidContainer);
        found.push(Found { part, lot: lot.lot.clone(), ..of(FoundWhat::Lot, &lot.code, lot.sentence()) });
    }
    if let Some((_, tool)) = context.facts.each::<ToolChecked>(u64::MAX).rfind(|(_, tool)| same(&tool.tool)) {
        found.push(of(FoundWhat::Tool, &tool.tool, tool.sentence()));
    }
    let mut contents = context.facts.each::<EquipmentContents>(u64::MAX);
    if let Some((_, held)) = contents.rfind(|(_, held)| same(&held.equipment)) {
        found.push(of(FoundWhat::Equipment, &held.equipment, held.sentence()));
    }
    let job = context.facts.accounts().find(|(_, account)| same(&account.number));
    if let Some((job, account)) = job {
        let text = sentence::arrival(account.plate.as_str());
        found.push(Found { job: job.to_owned(), ..of(FoundWhat::Job, &account.number, text) });
    }
    found
}
