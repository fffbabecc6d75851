//! Tallies as the server makes them: what stations stated of the site, and an account of each job.
//!
//! Never here: a sum, which is the engine's, or how a sheet is shown. Called by the office pages.

use crate::status::Cause;
use crate::workshop::{Workshop, off_the_network, recorded};
use standpipe_engine::sheet::Sheet;
use standpipe_engine::site::tally::{Asked, TallyError, tally};
use standpipe_engine::site::{JobAccount, SiteContext, SiteFacts};
use standpipe_proto::check::Violation;
use standpipe_store::PAGE_ROWS_MAX;
use std::collections::BTreeMap;
use std::sync::Arc;

impl Workshop {
    /// Makes a tally as of now.
    pub(crate) async fn tally(&self, name: &str, asked: &Asked) -> Result<Sheet, Cause> {
        let mut entries = Vec::new();
        let mut from_seq = 1;
        loop {
            let page = self.journal.read_site(from_seq, PAGE_ROWS_MAX).await?;
            let Some(last) = page.last() else { break };
            from_seq = last.seq + 1;
            entries.extend(page);
        }
        let (mut accounts, mut before) = (BTreeMap::new(), None);
        loop {
            let rows = self.journal.jobs(before, PAGE_ROWS_MAX).await?;
            let Some(last) = rows.last() else { break };
            before = Some(last.number);
            for row in &rows {
                let (sight, entries) =
                    (self.sight(row, self.clock.now_us()), self.journal.read_job(row.job_id).await?);
                let account =
                    off_the_network(move || JobAccount::of(&sight.context(), &recorded(&entries))).await?;
                accounts.insert(row.job_id.to_string(), Arc::new(account));
            }
        }
        let persons = self.beside.persons().await?.into_iter();
        let names: Vec<(String, String)> =
            persons.filter_map(|person| Some((person.code, person.name?))).collect();
        let (catalogue, as_of_us) = (self.catalogue(), self.clock.now_us());
        let (name, asked, site_name) = (name.to_owned(), asked.clone(), self.site_name.clone());
        let made = off_the_network(move || {
            let facts = SiteFacts::of(&recorded(&entries)).with_accounts(accounts);
            let revision = &catalogue.now().revision;
            let context =
                SiteContext { revision, site_name: &site_name, facts: &facts, names: &names, as_of_us };
            tally(&context, &name, &asked)
        });
        made.await?.map_err(|error| {
            let field = match &error {
                TallyError::Unknown { .. } => "tally",
                TallyError::AboutNothing { .. } => "about",
                _ => "period",
            };
            Cause::OutsideBounds(vec![Violation { field: field.to_owned(), what: error.to_string() }])
        })
    }
}
