//! Entries of another copy of the journal: compared as far as they are here, planned and committed as far as they are
//! new, in one transaction with the epoch.

use super::super::cause::failed;
use super::super::insert::Refused;
use super::super::read;
use super::{DOING, Writer};
use crate::batch::{LookUp, Plan};
use crate::entry::Head;
use crate::error::StoreError;
use crate::replica::{Copied, Replicated};
use crate::tree::Frontier;

impl Writer {
    /// Puts a batch at its places, all of it or nothing.
    pub(super) async fn replicate(&mut self, copied: &Copied) -> Result<Replicated, StoreError> {
        self.stopped()?;
        let here = self.ledger.frontier().size();
        let overlap = copied.overlap(here)?;
        let tree = self.compare(copied, overlap).await?;
        let mut plan = self.plan_copy(copied, overlap, &tree, LookUp::Suspects).await?;
        let mut written = self.write(copied.new_entries(overlap), &plan).await;
        if matches!(written, Err(Refused::KnownEntryId)) {
            self.roll_back().await;
            plan = self.plan_copy(copied, overlap, &tree, LookUp::All).await?;
            written = self.write(copied.new_entries(overlap), &plan).await;
        }
        match written {
            Ok(()) => Ok(self.replicated(plan, here)),
            Err(Refused::Failed(error)) => Err(self.failed(failed(DOING, &error)).await),
            Err(Refused::KnownEntryId) => {
                let cause = "an entry id that was not found was refused as known".into();
                Err(self.failed(StoreError::Disk { doing: DOING, cause }).await)
            }
        }
    }

    /// Compares the batch with what is here; gives the tree after the part of it that is.
    async fn compare(&mut self, copied: &Copied, overlap: usize) -> Result<Frontier, StoreError> {
        let before = copied.before();
        let tree = match self.ledger.frontier_at(before) {
            Some(tree) => tree.clone(),
            None => read::frontier_over(&self.readers, 0..before).await?,
        };
        let known = match overlap {
            0 => Vec::new(),
            overlap => read::known(&self.readers, before..before + overlap as u64).await?,
        };
        copied.compare(tree, &known)
    }

    /// Plans what is new and requires that it comes out as the batch says.
    async fn plan_copy(
        &mut self,
        copied: &Copied,
        overlap: usize,
        tree: &Frontier,
        how: LookUp,
    ) -> Result<Plan, StoreError> {
        let entries = copied.new_entries(overlap);
        let facts = self.facts(entries, how).await?;
        let mut plan = self.ledger.plan_copy(entries, &facts);
        if plan.refuses_any() && how == LookUp::Suspects {
            let facts = self.facts(entries, LookUp::All).await?;
            plan = self.ledger.plan_copy(entries, &facts);
        }
        match entries {
            [] => copied.confirm_root(tree)?,
            _ => copied.confirm(overlap, &plan)?,
        }
        let epoch = self.publish.borrow().head.epoch;
        plan.epoch = (epoch != copied.epoch).then_some(copied.epoch);
        Ok(plan)
    }

    /// Takes over a plan whose commit has returned.
    fn replicated(&mut self, plan: Plan, before: u64) -> Replicated {
        let (grown, epoch) = (!plan.rows.is_empty(), plan.epoch);
        if grown {
            self.ledger.pass(self.ledger.frontier().clone());
        }
        self.ledger.committed(plan);
        if grown || epoch.is_some() {
            let frontier = self.ledger.frontier();
            self.publish.send_modify(|published| {
                published.head.seq = frontier.size();
                published.head.root = frontier.root();
                published.head.epoch = epoch.unwrap_or(published.head.epoch);
            });
        }
        let head: Head = self.publish.borrow().head.clone();
        let new = head.seq - before;
        Replicated { head, new }
    }
}
