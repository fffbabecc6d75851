//! Recalls: which lots are recalled, and which customers are called because of what was done with them.
//!
//! Not only lots: whatever turns out to be wrong after the work adds its concerns to [`CONCERNS`]. A job is done with
//! when the customer was told and the work was looked at and is in order, or when the customer declined; both count
//! also in a later job of the same vehicle.

use super::cells::{Kind::Numbers, Kind::Words, columns, job_row, plain, remarks, row, text};
use super::{Asked, TallyError, tools};
use crate::catalogue::same_code;
use crate::kind::lot_recalled::LotRecalled;
use crate::sheet::{Cell, Sheet, Table};
use crate::site::SiteContext;
use crate::site::account::{JobAccount, Use, UseOf};
use crate::site::density::same_fluid;
use crate::site::equipment::{self, Followed};
use crate::site::exact::{Exact, Unit};
use crate::site::lot_good::lot_named;
use crate::site::lots::Lots;
use crate::site::tools::{Register, ToCall, jobs_to_call};
use crate::text::{Sentence, number, sentence};
use std::collections::{BTreeMap, BTreeSet};

/// Why a customer is called.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::site) struct Concern {
    /// Identity of the job.
    pub job: String,
    /// When it was done, microseconds since 1970.
    pub done_us: i64,
    /// Place in the journal of what made it known; a call before it was about something else.
    pub known_seq: u64,
    /// What is wrong, for example 'LN-847, lot L-2209, 12.4 L: recalled'.
    pub why: Sentence,
}

/// THE table of what makes concerns.
const CONCERNS: &[fn(&SiteContext<'_>) -> Vec<Concern>] = &[of_lots, of_equipment, of_tools];

/// Makes the sheet.
pub(super) fn sheet(context: &SiteContext<'_>, _asked: &Asked) -> Result<Sheet, TallyError> {
    let concerns: Vec<Concern> = CONCERNS.iter().flat_map(|of| of(context)).collect();
    let calls = calls(context, &concerns);
    let open = calls.iter().filter(|call| !call.is_done()).count();
    let first =
        if calls.is_empty() { sentence::recall_nobody() } else { sentence::recall_count(open as u64) };
    let mut said = vec![first];
    said.extend(lots_not_read(context));
    let rows = calls.iter().map(|call| {
        job_row(
            call.job,
            vec![
                text(&call.account.number),
                text(&call.account.plate),
                text(&call.account.vin),
                text(context.date(call.done_us).to_string()),
                remarks(call.why.clone()),
                state(context, call.told, "told"),
                state(context, call.looked_at, "looked-at"),
            ],
        )
    });
    let calls = Table {
        heading: sentence::recall_calls(),
        columns: columns(&[
            ("job", Words, sentence::column_job),
            ("plate", Words, sentence::column_plate),
            ("vin", Words, sentence::column_vin),
            ("date", Words, sentence::column_date),
            ("why", Words, sentence::column_why),
            ("told", Words, sentence::column_told),
            ("looked_at", Words, sentence::column_looked_at),
        ]),
        rows: rows.collect(),
        empty: sentence::recall_no_calls(),
    };
    let tables = vec![recalled(context, &concerns), calls];
    Ok(Sheet {
        tally: "recall",
        title: sentence::recall_title(context.site_name),
        said,
        tables,
        notes: vec![sentence::recall_note()],
    })
}

/// Every use of a lot whose recall stands.
fn of_lots(context: &SiteContext<'_>) -> Vec<Concern> {
    let lots = Lots::new(context.revision, context.facts, u64::MAX);
    let recalled: Vec<&str> =
        context.facts.each::<LotRecalled>(u64::MAX).map(|(_, recall)| recall.lot.as_str()).collect();
    let mut concerns = Vec::new();
    if recalled.is_empty() {
        return concerns;
    }
    for (job, account) in context.facts.accounts() {
        let uses = account.uses.iter().filter(|used| matches!(used.of, UseOf::Fluid | UseOf::Part));
        for used in uses.filter(|used| recalled.iter().any(|lot| same_code(lot, &used.lot))) {
            let Some((stated, _)) = lots.recalled(&used.lot, &used.code) else { continue };
            concerns.push(Concern {
                job: job.to_owned(),
                done_us: used.done_us,
                known_seq: stated.seq,
                why: used_lot(used),
            });
        }
    }
    concerns
}

/// Every job whose equipment held a recalled lot when it was pushed through: of the job before, or of a rinse.
fn of_equipment(context: &SiteContext<'_>) -> Vec<Concern> {
    let lots = Lots::new(context.revision, context.facts, u64::MAX);
    let mut concerns = Vec::new();
    if context.facts.each::<LotRecalled>(u64::MAX).next().is_none() {
        return concerns;
    }
    for Followed { job, used, equipment, code, lot } in equipment::followed(context.facts) {
        let Some((stated, _)) = lots.recalled(lot, code).filter(|_| !lot.is_empty()) else { continue };
        concerns.push(Concern {
            job: job.to_owned(),
            done_us: used.done_us,
            known_seq: stated.seq,
            why: sentence::recall_equipment(equipment, lot_named(code, lot)),
        });
    }
    concerns
}

/// Every use of a tool since its last good check, where a later check found it out of its limits.
fn of_tools(context: &SiteContext<'_>) -> Vec<Concern> {
    let register = Register::of(context.facts, context.workshop(), u64::MAX);
    let concern = |call: ToCall<'_>| Concern {
        job: call.used.job.to_owned(),
        done_us: call.used.used.done_us,
        known_seq: call.found_seq,
        why: sentence::recall_tool(
            call.tool,
            sentence::tool_used_for(tools::known_use(&call.used.used.purpose)),
        ),
    };
    jobs_to_call(register).into_iter().map(concern).collect()
}

/// Jobs that drew a fluid of which a lot is recalled, and whose own lot nobody read.
fn lots_not_read(context: &SiteContext<'_>) -> Option<Sentence> {
    let lots = Lots::new(context.revision, context.facts, u64::MAX);
    let recalls = context.facts.each::<LotRecalled>(u64::MAX);
    let standing = recalls.filter(|(stated, said)| !said.lifted && !lots.is_lifted(stated, said));
    // A recall of any code is one of the fluids that came in under its number.
    let codes: Vec<&str> = standing
        .flat_map(|(_, recall)| {
            let received = lots.numbered(&recall.lot).map(|(_, lot)| lot.code.as_str());
            let any = received.filter(|_| recall.code.is_empty());
            any.chain(Some(recall.code.as_str()).filter(|code| !code.is_empty()))
        })
        .collect();
    if codes.is_empty() {
        return None;
    }
    let unread = context.facts.uses(UseOf::Fluid, u64::MAX).filter(|(_, used)| {
        used.lot.is_empty() && codes.iter().any(|code| same_fluid(context.revision, code, &used.code))
    });
    let jobs: BTreeSet<&str> = unread.map(|(job, _)| job).collect();
    let accounts = context.facts.accounts().filter(|(job, _)| jobs.contains(job));
    let numbers: Vec<&str> = accounts.map(|(_, account)| account.number.as_str()).collect();
    (!numbers.is_empty()).then(|| sentence::recall_lot_not_read(numbers.join(", ")))
}

fn used_lot(used: &Use) -> Sentence {
    let named = lot_named(&used.code, &used.lot);
    if used.of == UseOf::Fluid && used.amount > 0.0 {
        let litres = Exact::new(used.amount).shown(Unit::Litres);
        sentence::recall_litres(number::with_unit(&litres, "L"), named)
    } else {
        named
    }
}

/// One job to call about.
struct Call<'a> {
    job: &'a str,
    account: &'a JobAccount,
    done_us: i64,
    why: Vec<Sentence>,
    told: Option<&'a Use>,
    looked_at: Option<&'a Use>,
}

impl Call<'_> {
    fn is_done(&self) -> bool {
        let declined = self.told.is_some_and(|told| told.purpose == "declines");
        let good = |look: &Use| matches!(look.purpose.as_str(), "in-order" | "put-right");
        declined || (self.told.is_some() && self.looked_at.is_some_and(good))
    }
}

/// Jobs to call about, done ones last, each part in the order of the work.
fn calls<'a>(context: &SiteContext<'a>, concerns: &'a [Concern]) -> Vec<Call<'a>> {
    let mut by_job: BTreeMap<&str, Vec<&Concern>> = BTreeMap::new();
    for concern in concerns {
        by_job.entry(&concern.job).or_default().push(concern);
    }
    let accounts: BTreeMap<&str, &JobAccount> = context.facts.accounts().collect();
    let mut calls = Vec::new();
    for (job, concerns) in by_job {
        let Some(account) = accounts.get(job) else { continue };
        let known_seq = concerns.iter().map(|concern| concern.known_seq).max().unwrap_or_default();
        let done_us = concerns.iter().map(|concern| concern.done_us).min().unwrap_or_default();
        let mut why: Vec<Sentence> = Vec::new();
        for concern in concerns {
            if !why.contains(&concern.why) {
                why.push(concern.why.clone());
            }
        }
        let last = |of: UseOf| {
            let own = |other: &JobAccount, id: &str| {
                id == job || (!account.vin.is_empty() && account.vin == other.vin)
            };
            let vehicle = accounts.iter().filter(|(id, other)| own(other, id));
            let uses = vehicle.flat_map(|(_, other)| other.uses.iter());
            uses.filter(|used| used.of == of && used.seq > known_seq).max_by_key(|used| used.seq)
        };
        let (told, looked_at) = (last(UseOf::Told), last(UseOf::LookedAt));
        calls.push(Call { job, account, done_us, why, told, looked_at });
    }
    calls.sort_by_key(|call| (call.is_done(), call.done_us));
    calls
}

fn state(context: &SiteContext<'_>, used: Option<&Use>, what: &'static str) -> Cell {
    let Some(used) = used else { return Cell::Words(sentence::recall_not_yet()) };
    let day = context.date(used.done_us).to_string();
    let word = used.purpose.as_str();
    let (told, found) =
        (["informed", "agrees", "declines"], ["in-order", "damp", "dripping", "damaged", "put-right"]);
    Cell::Words(match what {
        "told" if told.contains(&word) => sentence::recall_told(day, word),
        "looked-at" if found.contains(&word) => {
            sentence::recall_looked_at(day, sentence::inspection_found(word))
        }
        _ => sentence::recall_on(day),
    })
}

/// Every recall that was stated, with what came of it.
#[allow(clippy::cast_precision_loss, reason = "no site has so many jobs")]
fn recalled(context: &SiteContext<'_>, concerns: &[Concern]) -> Table {
    let lots = Lots::new(context.revision, context.facts, u64::MAX);
    let recalls = context.facts.each::<LotRecalled>(u64::MAX).filter(|(_, said)| !said.lifted);
    let rows = recalls.map(|(stated, recall)| {
        let stands = !lots.is_lifted(stated, recall);
        let jobs: BTreeSet<&str> =
            concerns.iter().filter(|it| it.known_seq == stated.seq).map(|it| it.job.as_str()).collect();
        let count = jobs.len() as f64;
        row(vec![
            text(context.date(stated.time_us).to_string()),
            text(&recall.lot),
            if recall.code.is_empty() {
                Cell::Words(sentence::recall_any_code())
            } else {
                text(&recall.code)
            },
            text(&recall.reason),
            Cell::Words(if stands { sentence::recall_stands() } else { sentence::recall_lifted() }),
            plain(count, 0, ""),
            Cell::Words(context.person(&stated.person)),
        ])
    });
    Table {
        heading: sentence::recall_lots(),
        columns: columns(&[
            ("date", Words, sentence::column_date),
            ("lot", Words, sentence::column_lot),
            ("code", Words, sentence::column_code),
            ("reason", Words, sentence::column_reason),
            ("state", Words, sentence::column_state),
            ("jobs", Numbers, sentence::column_jobs),
            ("person", Words, sentence::column_person),
        ]),
        rows: rows.collect(),
        empty: sentence::recall_none(),
    }
}
