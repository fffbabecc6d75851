//! Tallies and codes, asked of everything that is known of the site. Called by the handlers of the network and the pages
//! of the office; what a tally is, is the engine's.

pub(crate) mod owner;
pub(crate) mod print;

use crate::access::{Role, Who};
use crate::convert::{self, signed, timestamp};
use crate::lines;
use crate::sight::recorded;
use crate::status::Cause;
use crate::tallies::Gathered;
use crate::workshop::{BAY_SEES_CLOSED_DAYS, DAY_US, Workshop, off_the_network};
use standpipe_engine::job::{judged_from, settled_last};
use standpipe_engine::sheet::Sheet;
use standpipe_engine::site::tally::{Asked, TallyError, tally};
use standpipe_engine::site::{Found, find};
use standpipe_engine::text::{Language, sentence};
use standpipe_proto::v1;
use standpipe_store::JobRow;
use std::collections::BTreeSet;
use std::sync::Arc;

/// A tally as it was made.
#[derive(Clone)]
pub(crate) struct Made {
    /// What it says.
    pub(crate) sheet: Sheet,
    /// The site's clock at the making.
    pub(crate) as_of_us: i64,
    /// Last entry of the journal that it knows.
    pub(crate) last_seq: u64,
    /// What an owner's sheet is made of; absent for tallies of the site.
    pub(crate) gathered: Option<Arc<Gathered>>,
}

/// Closed so long ago, as the station said, that a bay certainly does not see it; without a look at its entries.
const CERTAINLY_UNSEEN_DAYS: i64 = BAY_SEES_CLOSED_DAYS + 30;

/// Makes a tally over all jobs and facts of the site.
pub(crate) async fn made(workshop: &Workshop, name: &str, asked: Asked) -> Result<Made, Cause> {
    match workshop.tallies.as_ref() {
        Some(tallies) if owner::is_of_all(name) => {
            return owner::made(workshop, tallies, name, &asked).await;
        }
        None if owner::is_of_all(name) => return Err(Cause::TallyOfOwner { name: name.to_owned() }),
        _ => {}
    }
    // A sum over some of the jobs is none; which ones cannot be read is said.
    lines::refresh_all(workshop).await?;
    let (site, as_of_us) = (workshop.site().await?, workshop.clock.now_us());
    let overlook = workshop.overlook(workshop.catalogue().now().clone(), &site, as_of_us);
    let name = name.to_owned();
    let sheet = off_the_network(move || tally(&overlook.context(), &name, &asked)).await?;
    let mut sheet = sheet.map_err(|error| match error {
        TallyError::Unknown { name, known } if workshop.tallies.is_some() => {
            let of_all: Vec<_> = owner::of_all().filter(|known| *known != name).collect();
            Cause::Tally(TallyError::Unknown { name, known: format!("{}, {known}", of_all.join(", ")) })
        }
        error => Cause::Tally(error),
    })?;
    if !site.left_out.is_empty() {
        let mut numbers = Vec::with_capacity(site.left_out.len());
        for job in &site.left_out {
            numbers.extend(workshop.journal.job(*job).await?.map(|row| workshop.printed(&row)));
        }
        sheet.notes.push(sentence::tally_jobs_left_out(numbers.join(", ")));
    }
    Ok(Made { sheet, as_of_us, last_seq: site.reached, gathered: None })
}

/// The tally as a station may see it: without the lines of jobs that a bay no longer sees, and saying how many these are.
pub(crate) async fn seen_by(workshop: &Workshop, who: &Who, mut made: Made) -> Result<Made, Cause> {
    if who.role != Role::Bay {
        return Ok(made);
    }
    let rows = made.sheet.tables.iter().flat_map(|table| &table.rows);
    let jobs: BTreeSet<String> = rows.filter_map(|row| row.job.clone()).collect();
    let mut unseen = BTreeSet::new();
    for job in jobs {
        if !sees(workshop, who, &job).await? {
            unseen.insert(job);
        }
    }
    let mut left_out: u64 = 0;
    for table in &mut made.sheet.tables {
        let before = table.rows.len();
        table.rows.retain(|row| row.job.as_ref().is_none_or(|job| !unseen.contains(job)));
        left_out += (before - table.rows.len()) as u64;
    }
    if left_out > 0 {
        made.sheet.notes.push(sentence::tally_rows_not_shown(left_out));
    }
    Ok(made)
}

/// Whether a bay sees a job, as [`Workshop::find_for`] decides.
async fn sees(workshop: &Workshop, who: &Who, job: &str) -> Result<bool, Cause> {
    if let Some(account) = workshop.site.account(job) {
        let Some(closed_us) = account.closed_us else { return Ok(true) };
        if closed_us < workshop.clock.now_us().saturating_sub(CERTAINLY_UNSEEN_DAYS * DAY_US) {
            return Ok(false);
        }
    }
    match workshop.find_for(who, job).await {
        Ok(_) => Ok(true),
        Err(Cause::ClosedLongAgo { .. }) => Ok(false),
        Err(cause) => Err(cause),
    }
}

/// What a code belongs to, by the catalogue of the job that it was read for, else by the one in use.
pub(crate) async fn found(
    workshop: &Workshop,
    code: &str,
    job: Option<&JobRow>,
) -> Result<Vec<Found>, Cause> {
    let (site, as_of_us) = (workshop.site().await?, workshop.clock.now_us());
    let catalogue = workshop.catalogue();
    let (adopted, settled) = match job {
        None => (catalogue.now().clone(), None),
        Some(row) => {
            let entries = workshop.journal.read_job(row.job_id).await?;
            let entries = recorded(&entries);
            let signing_at = |at| catalogue.signing_at(at);
            let place = judged_from(&entries, signing_at);
            (catalogue.of_job(place).clone(), settled_last(&entries, signing_at))
        }
    };
    let overlook = workshop.overlook(adopted, &site, as_of_us);
    let code = code.trim().to_owned();
    off_the_network(move || find(&overlook.context(), &code, settled.as_ref())).await
}

/// The language of what is said of the site as a whole.
pub(crate) fn language(workshop: &Workshop) -> Language {
    workshop.catalogue().now().revision.workshop().language
}

/// A tally as a message.
pub(crate) fn message(workshop: &Workshop, made: &Made) -> Result<v1::Sheet, Cause> {
    let number_of = |job: &str| match &made.gathered {
        Some(gathered) => gathered.number_of(job),
        None => workshop.site.number_of(job),
    };
    let sheet = convert::sheet(language(workshop), &made.sheet, &number_of)?;
    Ok(v1::Sheet { as_of: Some(timestamp(made.as_of_us)), last_seq: signed(made.last_seq), ..sheet })
}
