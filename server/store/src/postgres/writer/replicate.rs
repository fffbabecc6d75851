//! Entries of another copy of the journal: compared as far as they are here, planned and committed as far as they are
//! new, in one transaction with the epoch. When the database goes away meanwhile, it is simply done again: what took place
//! is then here and is passed over.

use super::super::cause::too_slow;
use super::super::link::is_gone;
use super::super::read;
use super::{ANSWER_WITHIN, Attempt, DOING, Writer};
use crate::batch::{LookUp, Plan};
use crate::error::StoreError;
use crate::replica::{Copied, Replicated};
use crate::tree::Frontier;
use tokio::time::{Instant, timeout};

/// Why a batch was not planned.
enum Unplanned {
    /// The batch does not go on from what is here.
    Refused(StoreError),
    Failed(sqlx::Error),
}

impl From<sqlx::Error> for Unplanned {
    fn from(error: sqlx::Error) -> Self {
        Self::Failed(error)
    }
}

impl From<StoreError> for Unplanned {
    fn from(refused: StoreError) -> Self {
        Self::Refused(refused)
    }
}

impl Writer {
    /// Puts a batch at its places, all of it or nothing.
    pub(super) async fn replicate(&mut self, copied: &Copied) -> Result<Replicated, StoreError> {
        let until = Instant::now() + self.shared.options.settle_within;
        let before = self.ledger.frontier().size();
        let mut look_up = LookUp::Suspects;
        loop {
            self.usable()?;
            let error = match self.attempt_copy(copied, look_up).await {
                Attempt::Done(_) => {
                    let head = self.shared.publish.borrow().head.clone();
                    let new = head.seq.saturating_sub(before);
                    return Ok(Replicated { head, new });
                }
                Attempt::Known if look_up == LookUp::Suspects => {
                    look_up = LookUp::All;
                    continue;
                }
                Attempt::Known => {
                    let cause = "an entry id that was not found was refused as known".into();
                    return Err(self.stop(StoreError::Disk { doing: DOING, cause }));
                }
                Attempt::Failed(error) => return Err(error),
                Attempt::Gone(error) => error,
            };
            self.lost(&error);
            self.settle(until, &error).await?;
        }
    }

    async fn attempt_copy(&mut self, copied: &Copied, how: LookUp) -> Attempt {
        let overlap = match copied.overlap(self.ledger.frontier().size()) {
            Ok(overlap) => overlap,
            Err(refused) => return Attempt::Failed(refused),
        };
        let plan = match self.plan_copy(copied, overlap, how).await {
            Ok(plan) => plan,
            Err(Unplanned::Refused(refused)) => return Attempt::Failed(refused),
            Err(Unplanned::Failed(error)) if is_gone(&error) => return Attempt::Gone(error),
            Err(Unplanned::Failed(error)) => return Attempt::Failed(self.judged(&error)),
        };
        let passed = (!plan.rows.is_empty()).then(|| self.ledger.frontier().clone());
        let attempt = self.write(copied.new_entries(overlap), plan).await;
        if let (Attempt::Done(_), Some(passed)) = (&attempt, passed) {
            self.ledger.pass(passed);
        }
        attempt
    }

    /// Plans what is new and requires that it comes out as the batch says.
    async fn plan_copy(&mut self, copied: &Copied, overlap: usize, how: LookUp) -> Result<Plan, Unplanned> {
        let tree = self.compare(copied, overlap).await?;
        let entries = copied.new_entries(overlap);
        let facts = self.facts(entries, how).await?;
        let mut plan = self.ledger.plan_copy(entries, &facts);
        if plan.refuses_any() && how == LookUp::Suspects {
            let facts = self.facts(entries, LookUp::All).await?;
            plan = self.ledger.plan_copy(entries, &facts);
        }
        match entries {
            [] => copied.confirm_root(&tree)?,
            _ => copied.confirm(overlap, &plan)?,
        }
        let epoch = self.shared.publish.borrow().head.epoch;
        plan.epoch = (epoch != copied.epoch).then_some(copied.epoch);
        Ok(plan)
    }

    /// Compares the batch with what is here; gives the tree after the part of it that is.
    async fn compare(&mut self, copied: &Copied, overlap: usize) -> Result<Frontier, Unplanned> {
        let before = copied.before();
        let remembered = self.ledger.frontier_at(before).cloned();
        let link = self.link.as_mut().ok_or(too_slow())?;
        let reading = async {
            let tree = match remembered {
                Some(tree) => tree,
                None => read::frontier_of(&mut link.connection, &self.hand.site, before).await?,
            };
            let known = match overlap {
                0 => Vec::new(),
                overlap => {
                    let places = before..before + overlap as u64;
                    read::known(&mut link.connection, &self.hand.site, places).await?
                }
            };
            Ok((tree, known))
        };
        let (tree, known) = timeout(ANSWER_WITHIN, reading).await.unwrap_or(Err(too_slow()))?;
        Ok(copied.compare(tree, &known)?)
    }
}
