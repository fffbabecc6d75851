//! The task that writes. It alone owns the connection that writes the journal, takes what is queued, commits it at once,
//! and answers each entry after the commit has returned. It never waits for more to come.
//!
//! When the database goes away, it connects again, at first at once and then with growing pauses. The site row tells
//! whether the commit that was cut off took place: then its entries get their answers, else they are written again. Whoever
//! has waited too long meanwhile is told that it is not known; whoever comes meanwhile is told so at once.

mod replicate;

use super::beside::load_finder;
use super::cause::{Kind, failed, in_doubt, kind, too_slow, words};
use super::insert::{self, Hand, Refused};
use super::link::{Again, Link, is_gone, pause};
use super::look_up::look_up;
use super::{PostgresAddress, PostgresOptions, Published};
use crate::batch::{BATCH_ROWS_MAX, Facts, Ledger, LookUp, Plan};
use crate::broken::Fault;
use crate::change::Change;
use crate::entry::{Appended, Epoch, NewEntry};
use crate::error::StoreError;
use crate::finder::SharedFinder;
use crate::replica::{Copied, Replicated};
use sqlx::{Connection as _, Executor as _, PgPool};
use std::time::Duration;
use tokio::sync::{mpsc, oneshot, watch};
use tokio::time::{Instant, sleep_until, timeout};

/// Entries and changes that may be queued before senders wait.
const QUEUE_MAX: usize = 4 * BATCH_ROWS_MAX;
/// With nothing to write for so long, the connection is looked at.
const LOOK_EVERY: Duration = Duration::from_secs(2);
/// A database that takes longer than this is taken for gone: its own limit is 30 s.
const ANSWER_WITHIN: Duration = Duration::from_secs(40);

const DOING: &str = "writing the journal";
const BESIDE: &str = "writing beside the journal";
/// What was erased must not stay readable in the tables' files for long.
const CLEAN: &str = "vacuum person, person_pin, customer";

/// Where an answer goes. Nobody may be waiting any more; then it is dropped.
type Answer<T> = oneshot::Sender<Result<T, StoreError>>;

/// What the task is asked to do.
#[derive(Debug)]
pub(super) enum Command {
    /// Append an entry.
    Append { entry: NewEntry, answer: Answer<Appended> },
    /// Put entries of another copy at their places.
    Replicate { copied: Copied, answer: Answer<Replicated> },
    /// Change something beside the journal; answers how many rows changed.
    Change { change: Change, answer: Answer<u64> },
    /// Answer what is queued, then let the database go.
    Close { done: Answer<()> },
}

/// What the task works with.
pub(super) struct Shared {
    pub address: PostgresAddress,
    /// The connection whose changes need not be synced.
    pub derived: PgPool,
    pub readers: PgPool,
    pub options: PostgresOptions,
    pub publish: watch::Sender<Published>,
    pub finder: SharedFinder,
}

/// The task's state.
pub(super) struct Writer {
    link: Option<Link>,
    /// Process in the database of the latest connection.
    process: i32,
    hand: Hand,
    ledger: Ledger,
    shared: Shared,
    /// A plan of which nobody knows whether its commit took place.
    doubt: Option<Plan>,
    /// Attempts to connect since the connection was lost, and when the next is due.
    attempts: u32,
    due: Instant,
}

/// How an attempt to write a batch ended.
enum Attempt {
    Done(Vec<Result<Appended, StoreError>>),
    /// An entry is stored already that was not looked up.
    Known,
    /// The connection is gone.
    Gone(sqlx::Error),
    Failed(StoreError),
}

impl Writer {
    /// Starts the task; it ends when it is told to close or when every sender is gone.
    pub(super) fn start(link: Link, hand: Hand, ledger: Ledger, shared: Shared) -> mpsc::Sender<Command> {
        let (commands, queue) = mpsc::channel(QUEUE_MAX);
        let process = link.process();
        let writer = Self {
            link: Some(link),
            process,
            hand,
            ledger,
            shared,
            doubt: None,
            attempts: 0,
            due: Instant::now(),
        };
        tokio::spawn(writer.run(queue));
        commands
    }

    async fn run(mut self, mut queue: mpsc::Receiver<Command>) {
        let mut taken = Vec::with_capacity(BATCH_ROWS_MAX);
        let mut closing = None;
        while closing.is_none() && self.take(&mut queue, &mut taken).await {
            let (mut entries, mut answers) = (Vec::new(), Vec::new());
            let (mut copies, mut changes) = (Vec::new(), Vec::new());
            for command in taken.drain(..) {
                match command {
                    Command::Append { entry, answer } => {
                        entries.push(entry);
                        answers.push(answer);
                    }
                    Command::Replicate { copied, answer } => copies.push((copied, answer)),
                    Command::Change { change, answer } => changes.push((change, answer)),
                    Command::Close { done } => closing = Some(done),
                }
            }
            self.append(entries, answers).await;
            for (copied, answer) in copies {
                let _ = answer.send(self.replicate(&copied).await);
            }
            for (change, answer) in changes {
                let _ = answer.send(self.change(change).await);
            }
        }
        self.shared.publish.send_modify(|published| {
            published.stopped.get_or_insert(StoreError::Closed);
        });
        queue.close();
        while let Some(command) = queue.recv().await {
            match command {
                Command::Append { answer, .. } => drop(answer.send(Err(StoreError::Closed))),
                Command::Replicate { answer, .. } => drop(answer.send(Err(StoreError::Closed))),
                Command::Change { answer, .. } => drop(answer.send(Err(StoreError::Closed))),
                Command::Close { done } => drop(done.send(Ok(()))),
            }
        }
        self.shut().await;
        if let Some(done) = closing {
            let _ = done.send(Ok(()));
        }
    }

    /// Takes what is queued; false when nobody is left who could ask. Meanwhile looks after the connection.
    async fn take(&mut self, queue: &mut mpsc::Receiver<Command>, taken: &mut Vec<Command>) -> bool {
        loop {
            let works = self.stopped().is_ok();
            let look = if self.link.is_some() { Instant::now() + LOOK_EVERY } else { self.due };
            tokio::select! {
                biased;
                count = queue.recv_many(taken, BATCH_ROWS_MAX) => return count > 0,
                () = sleep_until(look), if works => match &mut self.link {
                    Some(link) => {
                        let alive = timeout(ANSWER_WITHIN, link.connection.ping()).await;
                        if let Err(error) = alive.unwrap_or(Err(too_slow())) {
                            self.lost(&error);
                        }
                    }
                    None => self.connect_again().await,
                },
            }
        }
    }

    /// Stores a batch and answers each of its entries.
    async fn append(&mut self, entries: Vec<NewEntry>, answers: Vec<Answer<Appended>>) {
        if entries.is_empty() {
            return;
        }
        if self.shared.options.faults.has(Fault::AckBeforeCommit) {
            return self.append_answered_too_early(entries, answers).await;
        }
        match self.store(&entries).await {
            Ok(results) => {
                for (answer, result) in answers.into_iter().zip(results) {
                    let _ = answer.send(result);
                }
            }
            Err(error) => {
                for answer in answers {
                    let _ = answer.send(Err(error.clone()));
                }
            }
        }
    }

    /// Plans and commits a batch; returns the answer of each entry once they are durable.
    async fn store(&mut self, entries: &[NewEntry]) -> Result<Vec<Result<Appended, StoreError>>, StoreError> {
        let until = Instant::now() + self.shared.options.settle_within;
        let mut look_up = LookUp::Suspects;
        loop {
            self.usable()?;
            let error = match self.attempt(entries, look_up).await {
                Attempt::Done(results) => return Ok(results),
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
            if let Some(results) = self.settle(until, &error).await? {
                return Ok(results);
            }
        }
    }

    /// Connects again after the connection was lost in the middle of a batch. Gives the answers if its commit took place,
    /// nothing if it did not.
    async fn settle(
        &mut self,
        until: Instant,
        error: &sqlx::Error,
    ) -> Result<Option<Vec<Result<Appended, StoreError>>>, StoreError> {
        let planned = self.doubt.as_ref().map(|plan| (plan.frontier.size(), plan.answers.clone()));
        loop {
            self.connect_again().await;
            self.stopped()?;
            if self.link.is_some() {
                let size = self.ledger.frontier().size();
                return Ok(planned.and_then(|(after, answers)| (after == size).then_some(answers)));
            }
            if self.due >= until {
                return Err(match planned {
                    Some(_) => in_doubt(DOING, error),
                    None => failed(DOING, error),
                });
            }
            sleep_until(self.due).await;
        }
    }

    /// One attempt to plan and write a batch.
    async fn attempt(&mut self, entries: &[NewEntry], how: LookUp) -> Attempt {
        let mut how = how;
        loop {
            let plan = match self.plan(entries, how).await {
                Ok(plan) => plan,
                Err(error) if is_gone(&error) => return Attempt::Gone(error),
                Err(error) => return Attempt::Failed(self.judged(&error)),
            };
            if plan.refuses_any() && how == LookUp::Suspects {
                how = LookUp::All;
                continue;
            }
            return self.write(entries, plan).await;
        }
    }

    /// Looks up what the batch needs and decides on it.
    async fn plan(&mut self, entries: &[NewEntry], how: LookUp) -> Result<Plan, sqlx::Error> {
        let facts = self.facts(entries, how).await?;
        Ok(self.ledger.plan(entries, &facts))
    }

    async fn facts(&mut self, entries: &[NewEntry], how: LookUp) -> Result<Facts, sqlx::Error> {
        let questions = self.ledger.questions(entries, how);
        let mut facts = Facts::default();
        if !questions.is_empty() {
            let link = self.link.as_mut().ok_or(too_slow())?;
            let looking = look_up(&mut link.connection, &self.hand.site, &questions);
            facts = timeout(ANSWER_WITHIN, looking).await.unwrap_or(Err(too_slow()))?;
            self.ledger.learn(&mut facts);
        }
        Ok(facts)
    }

    async fn write(&mut self, entries: &[NewEntry], plan: Plan) -> Attempt {
        if plan.changes_nothing() {
            return Attempt::Done(self.ledger.committed(plan));
        }
        let Some(link) = &mut self.link else { return Attempt::Gone(too_slow()) };
        let size = self.ledger.frontier().size();
        let writing = insert::write(&mut link.connection, &self.hand, size, entries, &plan);
        match timeout(ANSWER_WITHIN, writing).await {
            Ok(Ok(())) => {
                let epoch = plan.epoch;
                let results = self.ledger.committed(plan);
                self.publish_head(epoch);
                Attempt::Done(results)
            }
            Ok(Err(Refused::KnownEntryId)) => Attempt::Known,
            Ok(Err(Refused::NotOurs)) => {
                Attempt::Failed(self.stop(StoreError::TakenOver { site: self.hand.site.clone() }))
            }
            Ok(Err(Refused::Failed(error))) if is_gone(&error) => {
                self.doubt = Some(plan);
                Attempt::Gone(error)
            }
            Ok(Err(Refused::Failed(error))) => Attempt::Failed(self.judged(&error)),
            Err(_) => {
                self.doubt = Some(plan);
                Attempt::Gone(too_slow())
            }
        }
    }

    /// Changes something beside the journal.
    async fn change(&mut self, change: Change) -> Result<u64, StoreError> {
        self.usable()?;
        let (noted, erases, site) = (change.noted(), change.erases(), self.hand.site.clone());
        let changed = if change.is_derived() {
            let mut connection =
                self.shared.derived.acquire().await.map_err(|error| failed(BESIDE, &error))?;
            change.write(&mut connection, &site).await
        } else {
            let Some(link) = &mut self.link else { return self.usable().map(|()| 0) };
            let changing = change.write(&mut link.connection, &site);
            let changed = timeout(ANSWER_WITHIN, changing).await.unwrap_or(Err(too_slow()));
            if let Err(error) = &changed
                && is_gone(error)
            {
                self.lost(error);
                // Most often it was lost while nobody used it; whoever comes next should not have to wait for it.
                self.connect_again().await;
            }
            changed
        };
        // What the database refuses here was taken back by itself and says nothing of the journal.
        let rows = changed.map_err(|error| in_doubt(BESIDE, &error))?;
        if let Some(noted) = noted.filter(|_| rows > 0) {
            self.shared.finder.note(noted);
        }
        if erases && rows > 0 {
            self.clean().await;
        }
        Ok(rows)
    }

    /// Lets the database use the room of what was erased, which it would else do later by itself.
    async fn clean(&mut self) {
        let Some(link) = &mut self.link else { return };
        if let Err(error) = link.connection.execute(CLEAN).await {
            tracing::warn!(%error, "what was erased stays in the database's files until it is cleaned");
        }
    }

    /// Notes that the connection is gone.
    fn lost(&mut self, error: &sqlx::Error) {
        tracing::warn!(%error, "the database went away");
        self.link = None;
        self.attempts = 0;
        self.due = Instant::now();
        let away = StoreError::Away { cause: words(error) };
        self.shared.publish.send_modify(|published| published.away = Some(away));
    }

    /// One attempt to connect; afterwards there is a connection, or the next attempt is due later, or the task is stopped.
    async fn connect_again(&mut self) {
        match Link::again(&self.shared.address, &self.hand, self.process).await {
            Ok((mut link, row)) => {
                let finder = load_finder(&mut link.connection, &self.hand.site).await;
                let finder = match finder {
                    Ok(finder) => finder,
                    Err(error) => return self.not_yet(error.to_string()),
                };
                let doubt = self.doubt.take().filter(|plan| plan.frontier == row.frontier);
                match doubt {
                    Some(plan) => drop(self.ledger.committed(plan)),
                    None if row.frontier == *self.ledger.frontier() => {}
                    None => {
                        self.stop(StoreError::TakenOver { site: self.hand.site.clone() });
                        return;
                    }
                }
                self.process = link.process();
                self.link = Some(link);
                self.shared.finder.replace(finder);
                self.publish_head(Some(row.head.epoch));
                self.shared.publish.send_modify(|published| published.away = None);
                tracing::info!("the database answers again");
            }
            Err(Again::Away(cause)) => self.not_yet(cause),
            Err(Again::Stopped(error)) => drop(self.stop(error)),
        }
    }

    fn not_yet(&mut self, cause: String) {
        tracing::debug!(%cause, attempt = self.attempts, "the database does not answer yet");
        self.due = Instant::now() + pause(self.attempts);
        self.attempts = self.attempts.saturating_add(1);
        let away = StoreError::Away { cause };
        self.shared.publish.send_modify(|published| published.away = Some(away));
    }

    /// What an error of a transaction that was taken back means: some pass, after others nobody knows what the tables hold.
    fn judged(&mut self, error: &sqlx::Error) -> StoreError {
        let failed = failed(DOING, error);
        match kind(error) {
            Kind::Full | Kind::Busy | Kind::Gone => failed,
            Kind::Corrupt | Kind::Other => self.stop(failed),
        }
    }

    /// Takes nothing more.
    fn stop(&mut self, error: StoreError) -> StoreError {
        tracing::error!(%error, "the journal takes nothing more until it is opened again");
        let stopped = match &error {
            StoreError::TakenOver { .. } => error.clone(),
            other => StoreError::Broken { cause: other.to_string() },
        };
        self.link = None;
        self.shared.publish.send_modify(|published| published.stopped = Some(stopped));
        error
    }

    fn stopped(&self) -> Result<(), StoreError> {
        self.shared.publish.borrow().stopped.clone().map_or(Ok(()), Err)
    }

    /// Whether something can be written now.
    fn usable(&self) -> Result<(), StoreError> {
        self.shared.publish.borrow().health()
    }

    fn publish_head(&self, epoch: Option<Epoch>) {
        let frontier = self.ledger.frontier();
        self.shared.publish.send_modify(|published| {
            published.head.seq = frontier.size();
            published.head.root = frontier.root();
            published.head.epoch = epoch.unwrap_or(published.head.epoch);
        });
    }

    /// Lets the database go. What was answered is durable already.
    async fn shut(&mut self) {
        self.shared.readers.close().await;
        self.shared.derived.close().await;
        if let Some(link) = self.link.take()
            && let Err(error) = link.connection.close().await
        {
            tracing::warn!(%error, "the journal was not closed cleanly");
        }
    }

    /// The fault [`Fault::AckBeforeCommit`]: answers first, then writes.
    async fn append_answered_too_early(&mut self, entries: Vec<NewEntry>, answers: Vec<Answer<Appended>>) {
        if let Ok(plan) = self.plan(&entries, LookUp::All).await {
            for (answer, result) in answers.into_iter().zip(plan.answers.iter().cloned()) {
                let _ = answer.send(result);
            }
            drop(self.write(&entries, plan).await);
        }
    }
}
