//! The task that writes. It alone owns the connections that write, takes what is queued, commits it at once, and
//! answers each entry after the commit has returned. It never waits for more to come.
//!
//! After a disk error it answers nothing but that error until the journal is opened again: whether the last commit
//! reached the disk is settled then, and the stations send again what was not answered.

mod replicate;

use super::cause::failed;
use super::insert::{Insert, Refused};
use super::look_up::look_up;
use super::open::read_site;
use super::{Published, SqliteOptions};
use crate::batch::{BATCH_ROWS_MAX, Facts, Ledger, LookUp, Plan};
use crate::broken::Fault;
use crate::change::Change;
use crate::entry::{Appended, NewEntry};
use crate::error::StoreError;
use crate::finder::SharedFinder;
use crate::replica::{Copied, Replicated};
use sqlx::{Connection, Executor, Row, SqliteConnection, SqlitePool};
use tokio::sync::{mpsc, oneshot, watch};

/// Entries and changes that may be queued before senders wait.
const QUEUE_MAX: usize = 4 * BATCH_ROWS_MAX;

const DOING: &str = "writing the journal";

/// Milliseconds for which emptying the log waits for readers; entries wait meanwhile.
const WAIT_SHORTLY: &str = "pragma busy_timeout = 100";
/// As [`super::open`] sets it.
const WAIT_AS_USUAL: &str = "pragma busy_timeout = 5000";

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

/// The task's state.
pub(super) struct Writer {
    journal: SqliteConnection,
    derived: SqliteConnection,
    readers: SqlitePool,
    ledger: Ledger,
    insert: Insert,
    options: SqliteOptions,
    publish: watch::Sender<Published>,
    finder: SharedFinder,
    /// The write-ahead log may still hold what was erased.
    log_holds_erased: bool,
}

impl Writer {
    /// Starts the task; it ends when it is told to close or when every sender is gone.
    pub(super) fn start(
        journal: SqliteConnection,
        derived: SqliteConnection,
        readers: SqlitePool,
        ledger: Ledger,
        options: SqliteOptions,
        publish: watch::Sender<Published>,
        finder: SharedFinder,
    ) -> mpsc::Sender<Command> {
        let (commands, queue) = mpsc::channel(QUEUE_MAX);
        let insert = Insert::default();
        let log_holds_erased = false;
        let writer =
            Self { journal, derived, readers, ledger, insert, options, publish, finder, log_holds_erased };
        tokio::spawn(writer.run(queue));
        commands
    }

    async fn run(mut self, mut queue: mpsc::Receiver<Command>) {
        let mut taken = Vec::with_capacity(BATCH_ROWS_MAX);
        let mut closing = None;
        while closing.is_none() && queue.recv_many(&mut taken, BATCH_ROWS_MAX).await > 0 {
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
            if self.log_holds_erased {
                self.empty_log().await;
            }
        }
        self.publish.send_modify(|published| {
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
        let closed = self.shut().await;
        match closing {
            Some(done) => drop(done.send(closed)),
            None => {
                closed.unwrap_or_else(|error| tracing::warn!(%error, "the journal was not closed cleanly"))
            }
        }
    }

    /// Stores a batch and answers each of its entries.
    async fn append(&mut self, entries: Vec<NewEntry>, answers: Vec<Answer<Appended>>) {
        if entries.is_empty() {
            return;
        }
        if self.options.faults.has(Fault::AckBeforeCommit) {
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
        self.stopped()?;
        let mut plan = self.plan(entries, LookUp::Suspects).await?;
        if plan.refuses_any() {
            plan = self.plan(entries, LookUp::All).await?;
        }
        let mut written = self.write(entries, &plan).await;
        if matches!(written, Err(Refused::KnownEntryId)) {
            // An id came back under a new station number, as from a copied list. Now everything is looked up.
            self.roll_back().await;
            plan = self.plan(entries, LookUp::All).await?;
            written = self.write(entries, &plan).await;
        }
        match written {
            Ok(()) => {
                let grown = !plan.rows.is_empty();
                let results = self.ledger.committed(plan);
                if grown {
                    self.publish_head();
                }
                Ok(results)
            }
            Err(Refused::Failed(error)) => Err(self.failed(failed(DOING, &error)).await),
            Err(Refused::KnownEntryId) => {
                let cause = "an entry id that was not found was refused as known".into();
                Err(self.failed(StoreError::Disk { doing: DOING, cause }).await)
            }
        }
    }

    /// Looks up what the batch needs and decides on it.
    async fn plan(&mut self, entries: &[NewEntry], how: LookUp) -> Result<Plan, StoreError> {
        let facts = self.facts(entries, how).await?;
        Ok(self.ledger.plan(entries, &facts))
    }

    async fn facts(&mut self, entries: &[NewEntry], how: LookUp) -> Result<Facts, StoreError> {
        let questions = self.ledger.questions(entries, how);
        let mut facts = Facts::default();
        if !questions.is_empty() {
            facts = match look_up(&mut self.journal, &questions).await {
                Ok(facts) => facts,
                Err(error) => return Err(self.failed(error).await),
            };
            self.ledger.learn(&mut facts);
        }
        Ok(facts)
    }

    async fn write(&mut self, entries: &[NewEntry], plan: &Plan) -> Result<(), Refused> {
        if plan.changes_nothing() {
            return Ok(());
        }
        self.insert.write(&mut self.journal, entries, plan).await
    }

    /// Changes something beside the journal.
    async fn change(&mut self, change: Change) -> Result<u64, StoreError> {
        self.stopped()?;
        let connection = if change.is_derived() { &mut self.derived } else { &mut self.journal };
        let noted = change.noted();
        let erases = change.erases();
        match change.run(connection).await {
            Ok(rows) => {
                if erases && rows > 0 {
                    self.empty_log().await;
                }
                if let Some(noted) = noted.filter(|_| rows > 0) {
                    self.finder.note(noted);
                }
                Ok(rows)
            }
            Err(error) => Err(self.failed(error).await),
        }
    }

    /// Moves everything from the write-ahead log into the file and cuts the log off, since its old pages still hold what
    /// was erased. A reader that looks back, such as a backup, may keep it from that; then it is tried again later.
    async fn empty_log(&mut self) {
        let mut cut = async || {
            self.journal.execute(WAIT_SHORTLY).await?;
            let row = self.journal.fetch_one("pragma wal_checkpoint(truncate)").await;
            self.journal.execute(WAIT_AS_USUAL).await?;
            row?.try_get::<bool, _>(0)
        };
        self.log_holds_erased = match cut().await {
            Ok(busy) => busy,
            Err(error) => {
                tracing::warn!(%error, "the write-ahead log still holds what was erased");
                true
            }
        };
    }

    /// Takes back what an error left open, reads from the disk how far the journal reaches, and stops it if the error
    /// is one after which nobody knows what the disk holds.
    async fn failed(&mut self, error: StoreError) -> StoreError {
        self.roll_back().await;
        let reloaded = read_site(&mut self.journal).await;
        let passing = matches!(error, StoreError::DiskFull | StoreError::Busy);
        match reloaded {
            Ok((head, frontier)) => {
                self.ledger = Ledger::new(frontier, self.options.job_entries_max, self.options.faults);
                self.publish.send_modify(|published| published.head = head);
                if passing {
                    return error;
                }
            }
            Err(second) => tracing::error!(error = %second, "the journal cannot be read after an error"),
        }
        tracing::error!(%error, "the journal takes nothing more until it is opened again");
        let stopped = StoreError::Broken { cause: error.to_string() };
        self.publish.send_modify(|published| published.stopped = Some(stopped));
        error
    }

    /// Ends a transaction that an error left open. There may be none: a refused row has ended it already.
    async fn roll_back(&mut self) {
        if let Err(error) = self.journal.execute("rollback").await {
            tracing::debug!(%error, "nothing to roll back");
        }
    }

    fn stopped(&self) -> Result<(), StoreError> {
        self.publish.borrow().stopped.clone().map_or(Ok(()), Err)
    }

    fn publish_head(&self) {
        let frontier = self.ledger.frontier();
        self.publish.send_modify(|published| {
            published.head.seq = frontier.size();
            published.head.root = frontier.root();
        });
    }

    /// Lets the database go. The last connection to close moves the write-ahead log into the file.
    async fn shut(self) -> Result<(), StoreError> {
        self.readers.close().await;
        let derived = self.derived.close().await;
        let journal = self.journal.close().await;
        derived.and(journal).map_err(|error| failed("closing the journal", &error))
    }

    /// The fault [`Fault::AckBeforeCommit`]: answers first, then writes.
    async fn append_answered_too_early(&mut self, entries: Vec<NewEntry>, answers: Vec<Answer<Appended>>) {
        if let Ok(plan) = self.plan(&entries, LookUp::All).await {
            for (answer, result) in answers.into_iter().zip(plan.answers.iter().cloned()) {
                let _ = answer.send(result);
            }
            if self.write(&entries, &plan).await.is_ok() {
                self.ledger.committed(plan);
                self.publish_head();
            }
        }
    }
}
