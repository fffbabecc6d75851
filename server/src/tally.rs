//! Tallies and codes, asked of everything that is known of the site. Called by the handlers of the network and the pages
//! of the office; what a tally is, is the engine's.

pub(crate) mod print;

use crate::convert::{self, signed, timestamp};
use crate::lines;
use crate::sight::recorded;
use crate::status::Cause;
use crate::workshop::{Workshop, off_the_network};
use standpipe_engine::job::{judged_from, settled_last};
use standpipe_engine::sheet::Sheet;
use standpipe_engine::site::tally::{Asked, tally};
use standpipe_engine::site::{Found, find};
use standpipe_engine::text::Language;
use standpipe_proto::v1;
use standpipe_store::JobRow;

/// A tally as it was made.
pub(crate) struct Made {
    /// What it says.
    pub(crate) sheet: Sheet,
    /// The site's clock at the making.
    pub(crate) as_of_us: i64,
    /// Last entry of the journal that it knows.
    pub(crate) last_seq: u64,
}

/// Makes a tally over all jobs and facts of the site.
pub(crate) async fn made(workshop: &Workshop, name: &str, asked: Asked) -> Result<Made, Cause> {
    // A sum over some of the jobs is none.
    lines::refresh_all(workshop).await?;
    let (site, as_of_us) = (workshop.site().await?, workshop.clock.now_us());
    let overlook = workshop.overlook(workshop.catalogue().now().clone(), &site, as_of_us);
    let name = name.to_owned();
    let sheet = off_the_network(move || tally(&overlook.context(), &name, &asked)).await?;
    Ok(Made { sheet: sheet.map_err(Cause::Tally)?, as_of_us, last_seq: site.reached })
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
            (catalogue.of_job(judged_from(&entries)).clone(), settled_last(&entries))
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
    let number_of = |job: &str| workshop.site.number_of(job);
    let sheet = convert::sheet(language(workshop), &made.sheet, &number_of)?;
    Ok(v1::Sheet { as_of: Some(timestamp(made.as_of_us)), last_seq: signed(made.last_seq), ..sheet })
}
