//! Which exchange equipment a job works with, and what its tank and hoses still hold of the fluid before.
//!
//! What it holds is the later, by the journal, of what was said of it and the last exchange of another job with it:
//! after an exchange it holds that job's fluid. Read by gates, steps, findings and the share of new fluid.
//! Never here: whether that fluid may go in.

use super::{SiteFacts, Use, UseOf};
use crate::catalogue::{Workshop, same_code};
use crate::job::{Context, Folded};
use crate::kind::equipment_contents::EquipmentContents;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::hookup::Hookup;
use crate::kind::tool_checked::ToolChecked;
use crate::kind::words::{Held, ToolKind};
use crate::quantity::Estimate;
use crate::text::{Sentence, sentence};
use std::ops::Range;

/// What equipment holds.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Contents {
    /// Where it was said, by its place in the journal.
    pub seq: u64,
    /// When, microseconds since 1970.
    pub time_us: i64,
    /// What.
    pub holds: Holds,
}

/// Fluid in tank and hoses.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Holds {
    /// This fluid.
    Fluid {
        /// Code on its container, as it was read.
        code: String,
        /// How much.
        litres: Estimate,
        /// Whether somebody said how much, and not the settings of the workshop alone.
        litres_said: bool,
        /// What it was rinsed with, as read; absent where it was not rinsed.
        rinsed: Option<String>,
    },
    /// It was emptied.
    Nothing,
    /// A fluid that nobody read.
    NotRead,
}

/// Codes of the equipment that a site knows, each once.
pub(crate) fn known(facts: &SiteFacts, up_to: u64) -> Vec<&str> {
    let mut codes: Vec<&str> = Vec::new();
    for (_, code) in mentions(facts, up_to) {
        if !codes.iter().any(|known| same_code(known, code)) {
            codes.push(code);
        }
    }
    codes
}

/// Each time that equipment was named, with its place in the journal.
fn mentions(facts: &SiteFacts, up_to: u64) -> impl Iterator<Item = (u64, &str)> {
    let said = facts.each::<EquipmentContents>(up_to);
    let said = said.map(|(stated, said)| (stated.seq, said.equipment.as_str()));
    let displays = facts.each::<ToolChecked>(up_to).filter(|(_, it)| it.kind == Some(ToolKind::LitreDisplay));
    let displays = displays.map(|(stated, it)| (stated.seq, it.tool.as_str()));
    let used = facts.uses(UseOf::Equipment, up_to).map(|(_, used)| (used.seq, used.code.as_str()));
    said.chain(displays).chain(used).filter(|(_, code)| !code.is_empty())
}

/// The equipment that a job works with: as the last hook-up that names one says, else the only one that the site knew
/// when the job began to push.
pub(crate) fn of_job<'a>(context: &'a Context<'_>, folded: &'a Folded) -> Option<&'a str> {
    named(folded).or_else(|| only(known_to_job(context, folded)))
}

/// The equipment that the job may work with, where the site knew several and no hook-up names one; else nothing.
pub(crate) fn one_of<'a>(context: &'a Context<'_>, folded: &Folded) -> Vec<&'a str> {
    let known = known_to_job(context, folded);
    if named(folded).is_none() && known.len() > 1 { known } else { Vec::new() }
}

fn named(folded: &Folded) -> Option<&str> {
    let mut named = folded.each::<Hookup>().map(|(_, hookup)| hookup.equipment.as_str());
    named.rfind(|code| !code.is_empty())
}

/// What is registered later says nothing of the hook-up before.
fn known_to_job<'a>(context: &'a Context<'_>, folded: &Folded) -> Vec<&'a str> {
    known(context.site, begun_at(folded).map_or(context.site_up_to, |seq| context.site_up_to.min(seq)))
}

fn only(codes: Vec<&str>) -> Option<&str> {
    match codes.as_slice() {
        [only] => Some(only),
        _ => None,
    }
}

/// Whether anybody at the site ever said or left anything in equipment that has a name, in another job.
pub(crate) fn is_kept(context: &Context<'_>) -> bool {
    let (facts, up_to) = (context.site, context.site_up_to);
    let mut uses = facts.uses(UseOf::Equipment, up_to);
    facts.each::<EquipmentContents>(up_to).next().is_some()
        || uses.any(|(job, used)| job != context.job_id && !used.code.is_empty())
}

/// Place in the journal of the job's first litre pushed in; absent while nothing was.
pub(crate) fn begun_at(folded: &Folded) -> Option<u64> {
    let pushed = folded.each::<ExchangeReading>().filter(|(_, reading)| !reading.pushed_in.is_zero());
    pushed.map(|(stated, _)| stated.seq).min()
}

/// Place in the journal and time of the job's last reading of litres pushed in; absent while nothing was.
pub(crate) fn last_push(folded: &Folded) -> Option<(u64, i64)> {
    let pushed = folded.each::<ExchangeReading>().filter(|(_, reading)| !reading.pushed_in.is_zero());
    pushed.map(|(stated, _)| (stated.seq, stated.time_us)).max()
}

/// What the equipment held when the job began to push, or holds now while it has not; absent where nobody knows.
pub(crate) fn contents_before(context: &Context<'_>, folded: &Folded, code: &str) -> Option<Contents> {
    let before =
        begun_at(folded).map_or(context.site_up_to, |seq| context.site_up_to.min(seq.saturating_sub(1)));
    contents(context.site, context.workshop(), code, before, Some(context.job_id))
}

/// Rinses of which none was as much as the equipment held of another fluid before them: the last one as read, the code
/// of that fluid, its litres. Each leaves some of it, so that two short ones are no full one.
pub(crate) fn rinsed_short(
    context: &Context<'_>,
    folded: &Folded,
    code: &str,
) -> Option<(String, String, f64)> {
    let (workshop, own) = (context.workshop(), Some(context.job_id));
    let mut now = contents_before(context, folded, code)?;
    let mut last: Option<String> = None;
    let mut most = 0.0_f64;
    loop {
        // What a job left in it was pushed through with all of its litres, and is no rinse.
        let mut facts = context.site.each::<EquipmentContents>(now.seq);
        let (_, said) = facts.rfind(|(stated, _)| stated.seq == now.seq)?;
        let rinsed = said.rinsed.as_ref()?;
        most = most.max(super::litres_of(rinsed));
        let last = last.get_or_insert_with(|| rinsed.as_read().to_owned());
        now = contents(context.site, workshop, code, now.seq.saturating_sub(1), own)?;
        match &now.holds {
            Holds::Fluid { code: other, .. } if same_code(other, &said.fluid_code) => {}
            Holds::Fluid { code: other, litres, .. } => {
                let short = most < litres.value;
                return short.then(|| (last.clone(), other.clone(), litres.value));
            }
            Holds::Nothing | Holds::NotRead => return None,
        }
    }
}

/// What the equipment held before the job, and that it was rinsed or emptied since, as far as it is known.
pub(crate) fn held_said(context: &Context<'_>, folded: &Folded) -> Option<Sentence> {
    let code = of_job(context, folded)?;
    let now = contents_before(context, folded, code)?;
    let name =
        |code: &str| context.revision.fluid(code).map_or_else(|| code.to_owned(), |it| it.name.clone());
    let (workshop, own) = (context.workshop(), Some(context.job_id));
    let before = contents(context.site, workshop, code, now.seq.saturating_sub(1), own);
    let before = before.and_then(|before| match before.holds {
        Holds::Fluid { code, .. } => Some(name(&code)),
        Holds::Nothing | Holds::NotRead => None,
    });
    match (now.holds, before) {
        (Holds::Fluid { code: fluid, rinsed: Some(rinsed), .. }, Some(before)) if before != name(&fluid) => {
            Some(sentence::identity_equipment_rinsed(rinsed, before, code, name(&fluid)))
        }
        (Holds::Fluid { code: fluid, rinsed: Some(rinsed), .. }, _) => {
            Some(sentence::equipment_rinsed(rinsed, code, name(&fluid)))
        }
        (Holds::Fluid { code: fluid, .. }, _) => Some(sentence::identity_equipment_held(code, name(&fluid))),
        (Holds::Nothing, Some(before)) => Some(sentence::identity_equipment_emptied(before, code)),
        (Holds::Nothing, None) => Some(sentence::equipment_emptied(code)),
        (Holds::NotRead, _) => None,
    }
}

/// What equipment holds at a place in the journal, by facts and by all jobs but one.
pub(crate) fn contents(
    facts: &SiteFacts,
    workshop: &Workshop,
    code: &str,
    up_to: u64,
    except: Option<&str>,
) -> Option<Contents> {
    let mut said =
        facts.each::<EquipmentContents>(up_to).filter(|(_, said)| same_code(&said.equipment, code));
    let said = said.next_back().map(|(stated, said)| Contents {
        seq: stated.seq,
        time_us: stated.time_us,
        holds: by_fact(workshop, said),
    });
    let alone = Alone::of(facts);
    let uses = facts.uses(UseOf::Equipment, up_to).filter(|(job, _)| Some(*job) != except);
    let uses = uses.map(|(_, used)| used).filter(|used| alone.is_of(used, code));
    let used = uses.max_by_key(|used| used.seq).map(|used| Contents {
        seq: used.seq,
        time_us: used.done_us,
        holds: by_exchange(workshop, used),
    });
    [said, used].into_iter().flatten().max_by_key(|contents| contents.seq)
}

/// The equipment that was the only one that a site knew, and for how long: where a use names none, it was of that one.
pub(crate) struct Alone<'a> {
    code: Option<&'a str>,
    /// Places in the journal: from where it was known on, up to where a second one was.
    while_alone: Range<u64>,
}

impl<'a> Alone<'a> {
    /// Looks each place up once, whatever is asked of it then.
    pub fn of(facts: &'a SiteFacts) -> Self {
        let mut codes: Vec<(u64, &str)> = Vec::new();
        for (seq, code) in mentions(facts, u64::MAX) {
            match codes.iter_mut().find(|(_, known)| same_code(known, code)) {
                Some((first, _)) => *first = seq.min(*first),
                None => codes.push((seq, code)),
            }
        }
        codes.sort_unstable();
        let (from, code) = codes.first().map_or((0, None), |(seq, code)| (*seq, Some(*code)));
        Self { code, while_alone: from..codes.get(1).map_or(u64::MAX, |(seq, _)| *seq) }
    }

    /// The equipment of a use: as it was named, else the only one that was known then.
    pub fn of_use<'u>(&self, used: &'u Use) -> Option<&'u str>
    where
        'a: 'u,
    {
        if used.code.is_empty() {
            self.code.filter(|_| self.while_alone.contains(&used.seq))
        } else {
            Some(used.code.as_str())
        }
    }

    fn is_of(&self, used: &Use, code: &str) -> bool {
        self.of_use(used).is_some_and(|known| same_code(known, code))
    }
}

/// A use of equipment with what the equipment got last before it, by a rinse or by another job.
pub(crate) struct Followed<'a> {
    /// Identity of the job.
    pub job: &'a str,
    /// The use.
    pub used: &'a Use,
    /// The equipment.
    pub equipment: &'a str,
    /// Code of the fluid before.
    pub code: &'a str,
    /// Its lot; empty if none was read.
    pub lot: &'a str,
}

/// What one piece of equipment got: by a job, or by a rinse of none.
#[derive(Clone, Copy)]
struct Got<'a> {
    job: Option<&'a str>,
    code: &'a str,
    lot: &'a str,
}

/// Every use of equipment that followed on something, in the order of the journal.
pub(crate) fn followed(facts: &SiteFacts) -> Vec<Followed<'_>> {
    let alone = Alone::of(facts);
    let rinsed = facts.each::<EquipmentContents>(u64::MAX).map(|(stated, said)| {
        let got = Got { job: None, code: &said.fluid_code, lot: &said.lot };
        (stated.seq, said.equipment.as_str(), got, None)
    });
    let used = facts.uses(UseOf::Equipment, u64::MAX).filter_map(|(job, used)| {
        let got = Got { job: Some(job), code: &used.purpose, lot: &used.lot };
        Some((used.seq, alone.of_use(used)?, got, Some((job, used))))
    });
    let mut all: Vec<_> = rinsed.chain(used).collect();
    all.sort_by_key(|(seq, ..)| *seq);
    // Of each piece what it got last, and what it got before that from somebody else.
    let mut pieces: Vec<(&str, Got<'_>, Option<Got<'_>>)> = Vec::new();
    let mut followed = Vec::new();
    for (_, equipment, got, used) in all {
        let Some(piece) = pieces.iter_mut().find(|(known, ..)| same_code(known, equipment)) else {
            pieces.push((equipment, got, None));
            continue;
        };
        let (_, last, other) = piece;
        if got.job.is_none() || got.job != last.job {
            *other = Some(*last);
        }
        *last = got;
        followed.extend(other.zip(used).map(|(before, (job, used))| {
            let Got { code, lot, .. } = before;
            Followed { job, used, equipment, code, lot }
        }));
    }
    followed
}

fn by_fact(workshop: &Workshop, said: &EquipmentContents) -> Holds {
    match said.held {
        Some(Held::Nothing) => Holds::Nothing,
        Some(Held::Fluid) if !said.fluid_code.is_empty() => {
            let hoses = &workshop.exchange.hoses_litres;
            let stated = said.held_litres.as_ref().map(super::litres_of);
            let litres =
                stated.map_or_else(|| hoses.estimate(), |it| Estimate::within(it, hoses.limit.min(it)));
            let rinsed = said.rinsed.as_ref().filter(|rinsed| !rinsed.is_zero());
            let rinsed = rinsed.map(|rinsed| rinsed.as_read().to_owned());
            let litres_said = said.held_litres.is_some();
            Holds::Fluid { code: said.fluid_code.clone(), litres, litres_said, rinsed }
        }
        _ => Holds::NotRead,
    }
}

fn by_exchange(workshop: &Workshop, used: &Use) -> Holds {
    if used.purpose.is_empty() {
        return Holds::NotRead;
    }
    let litres = workshop.exchange.hoses_litres.estimate();
    Holds::Fluid { code: used.purpose.clone(), litres, litres_said: false, rinsed: None }
}

/// Litres that were pushed in so far, as the display showed them.
pub(crate) fn pushed_litres(folded: &Folded) -> f64 {
    let pushed = folded.each::<ExchangeReading>().map(|(_, reading)| super::litres_of(&reading.pushed_in));
    pushed.fold(0.0, f64::max)
}

/// Fluid that the equipment was rinsed with for this job: on its day, since any other job used it and before this one
/// began to push.
pub(crate) fn rinsed_litres(context: &Context<'_>, folded: &Folded) -> f64 {
    let Some(code) = of_job(context, folded) else { return 0.0 };
    let (facts, up_to) = (context.site, context.site_up_to);
    let others = facts.uses(UseOf::Equipment, up_to);
    let others = others.filter(|(job, used)| *job != context.job_id && same_code(&used.code, code));
    let since = others.map(|(_, used)| used.seq).max().unwrap_or_default();
    let worked = folded.each::<ExchangeReading>().map(|(stated, _)| stated.time_us);
    let hooked = folded.each::<Hookup>().map(|(stated, _)| stated.time_us);
    let day = context.day(worked.chain(hooked).max().unwrap_or(context.as_of_us));
    let before = begun_at(folded).map_or(up_to, |begun| up_to.min(begun));
    let said = facts.each::<EquipmentContents>(before).filter(|(stated, said)| {
        stated.seq > since && same_code(&said.equipment, code) && context.day(stated.time_us) == day
    });
    said.filter_map(|(_, said)| said.rinsed.as_ref()).map(super::litres_of).sum()
}

/// Fluid of another kind that stood in the equipment when the job pushed it in all the same.
pub(crate) struct Foreign {
    /// The equipment.
    pub equipment: String,
    /// Code of the fluid, as it was read.
    pub code: String,
    /// How much went in before the new fluid.
    pub litres: Estimate,
}

/// See [`Foreign`]; absent where nothing was pushed in, or it is not known that another fluid was in it.
pub(crate) fn foreign(
    context: &Context<'_>,
    folded: &Folded,
    takes: impl Fn(&str) -> bool,
) -> Option<Foreign> {
    begun_at(folded)?;
    let equipment = of_job(context, folded)?.to_owned();
    match contents_before(context, folded, &equipment)?.holds {
        Holds::Fluid { code, litres, .. } if !takes(&code) => Some(Foreign { equipment, code, litres }),
        _ => None,
    }
}
