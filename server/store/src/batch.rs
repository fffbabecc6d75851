//! What one commit holds: a state machine without I/O. A writer asks it what must be looked up for the queued entries,
//! hands in what was found, and gets the rows to insert and the answer of each entry; only after the commit has
//! returned does it tell the machine so. The writers of both databases call it.

use crate::broken::{Fault, Faults};
use crate::entry::{Appended, EntryId, Epoch, JobId, JobNumber, NewEntry};
use crate::error::StoreError;
use crate::tree::{Frontier, Hash, entry_leaf_hash};
use std::collections::{HashMap, HashSet, VecDeque};

/// Most rows of one commit.
pub(crate) const BATCH_ROWS_MAX: usize = 1_024;

/// Most jobs and most streams kept in memory; beyond that they are forgotten and looked up again.
const REMEMBERED_MAX: usize = 10_000;

/// Most earlier states of the tree kept in memory.
const PASSED_MAX: usize = 64;

/// Greatest number an SQL integer holds.
const NUMBER_MAX: u64 = i64::MAX as u64;

/// A run of numbers a station sends under one epoch.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(crate) struct Stream {
    pub station: String,
    pub epoch: Epoch,
}

/// What is known of a stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct StreamFact {
    pub first_seq: u64,
    pub highest: u64,
}

/// What is known of a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct JobFact {
    pub first_seq: u64,
    pub number: JobNumber,
    pub entries: u64,
}

/// A stored entry as far as its first answer needs it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct EntryFact {
    pub answer: Appended,
    pub leaf_hash: Hash,
}

/// What must be looked up before a batch can be planned.
#[derive(Debug, Default)]
pub(crate) struct Questions {
    pub entries: HashSet<EntryId>,
    pub jobs: HashSet<JobId>,
    pub streams: HashSet<Stream>,
    pub numbers: HashSet<(Stream, u64)>,
    pub years: HashSet<i16>,
}

/// What was found. A key that was asked for and is not here does not exist.
#[derive(Debug, Default)]
pub(crate) struct Facts {
    pub entries: HashMap<EntryId, EntryFact>,
    pub jobs: HashMap<JobId, JobFact>,
    pub streams: HashMap<Stream, StreamFact>,
    pub numbers: HashSet<(Stream, u64)>,
    pub years: HashMap<i16, u32>,
}

/// How much is looked up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum LookUp {
    /// Only entries whose station number says that they may be old. The unique index on the id catches the rest.
    Suspects,
    /// Every entry.
    All,
}

/// A row to insert for the entry at this place of the batch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Row {
    pub at: usize,
    pub seq: u64,
    pub job_first_seq: Option<u64>,
    pub stream_first_seq: u64,
    pub leaf_hash: Hash,
}

/// A job to insert.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct NewJob {
    pub job: JobId,
    pub first_seq: u64,
    pub number: JobNumber,
}

/// One commit: what to insert, and what to answer once it is durable.
#[derive(Debug)]
pub(crate) struct Plan {
    pub rows: Vec<Row>,
    pub new_jobs: Vec<NewJob>,
    pub new_streams: Vec<(Stream, u64)>,
    /// One for each entry of the batch, in its order.
    pub answers: Vec<Result<Appended, StoreError>>,
    /// The tree after the commit.
    pub frontier: Frontier,
    /// The epoch that the journal takes on with it.
    pub epoch: Option<Epoch>,
    learned: Remembered,
}

/// What is known without looking: exact, because nobody else writes.
#[derive(Debug, Default)]
struct Remembered {
    jobs: HashMap<JobId, JobFact>,
    streams: HashMap<Stream, StreamFact>,
    years: HashMap<i16, u32>,
}

/// The state of the journal as of the last commit.
#[derive(Debug)]
pub(crate) struct Ledger {
    frontier: Frontier,
    /// The tree as it was before each of the last batches of a copy: one that comes again begins there.
    passed: VecDeque<Frontier>,
    remembered: Remembered,
    job_entries_max: u64,
    faults: Faults,
}

impl Ledger {
    /// A ledger at this state of the tree that knows nothing else yet.
    pub(crate) fn new(frontier: Frontier, job_entries_max: u64, faults: Faults) -> Self {
        // A job holds at least the entry that opens it.
        let job_entries_max = job_entries_max.max(1);
        Self { frontier, passed: VecDeque::new(), remembered: Remembered::default(), job_entries_max, faults }
    }

    /// The tree as of the last commit.
    pub(crate) fn frontier(&self) -> &Frontier {
        &self.frontier
    }

    /// The tree as it was when the journal had so many entries, as far as it is remembered.
    pub(crate) fn frontier_at(&self, size: u64) -> Option<&Frontier> {
        std::iter::once(&self.frontier).chain(&self.passed).find(|frontier| frontier.size() == size)
    }

    /// Remembers the tree as it was before a batch of a copy.
    pub(crate) fn pass(&mut self, before: Frontier) {
        if self.passed.len() == PASSED_MAX {
            self.passed.pop_front();
        }
        self.passed.push_back(before);
    }

    /// What must be looked up for these entries.
    pub(crate) fn questions(&self, batch: &[NewEntry], look_up: LookUp) -> Questions {
        let mut questions = Questions::default();
        for entry in batch {
            let stream = Stream::of(entry);
            let known = self.remembered.streams.get(&stream);
            // A number above the highest stored one of its stream was never stored under any id.
            let fresh = known.is_some_and(|fact| entry.station_number > fact.highest);
            if (!fresh || look_up == LookUp::All) && !self.faults.has(Fault::DuplicateCheckDropped) {
                questions.entries.insert(entry.entry_id);
            }
            if !fresh && entry.station_number <= NUMBER_MAX {
                questions.numbers.insert((stream.clone(), entry.station_number));
            }
            if known.is_none() {
                questions.streams.insert(stream);
            }
            if let Some(job) = entry.job.filter(|job| !self.remembered.jobs.contains_key(job)) {
                questions.jobs.insert(job);
                if entry.opens_job && !self.remembered.years.contains_key(&entry.year) {
                    questions.years.insert(entry.year);
                }
            }
        }
        questions
    }

    /// Keeps what stays true after this batch: jobs, streams and years.
    pub(crate) fn learn(&mut self, facts: &mut Facts) {
        self.remembered.take(&mut facts.jobs, &mut facts.streams, &mut facts.years);
    }

    /// Decides on every entry of the batch, in order. Changes nothing until [`Ledger::committed`].
    pub(crate) fn plan(&self, batch: &[NewEntry], facts: &Facts) -> Plan {
        self.plan_within(batch, facts, self.job_entries_max)
    }

    /// The same for entries that another copy of the journal has already, however many a job has.
    pub(crate) fn plan_copy(&self, batch: &[NewEntry], facts: &Facts) -> Plan {
        self.plan_within(batch, facts, u64::MAX)
    }

    fn plan_within(&self, batch: &[NewEntry], facts: &Facts, job_entries_max: u64) -> Plan {
        let plan = Plan {
            rows: Vec::with_capacity(batch.len()),
            new_jobs: Vec::new(),
            new_streams: Vec::new(),
            answers: Vec::with_capacity(batch.len()),
            frontier: self.frontier.clone(),
            epoch: None,
            learned: Remembered::default(),
        };
        let (by_id, numbers) = (HashMap::new(), HashSet::new());
        let mut planner = Planner { ledger: self, facts, job_entries_max, by_id, numbers, plan };
        for (at, entry) in batch.iter().enumerate() {
            let answer = planner.answer(at, entry);
            planner.plan.answers.push(answer);
        }
        planner.plan
    }

    /// Takes over a plan whose commit has returned, and hands out the answers.
    pub(crate) fn committed(&mut self, plan: Plan) -> Vec<Result<Appended, StoreError>> {
        let Plan { frontier, mut learned, answers, .. } = plan;
        self.frontier = frontier;
        // Forgetting happens here and not while learning: a plan relies on what its questions left out.
        if self.remembered.jobs.len() > REMEMBERED_MAX {
            self.remembered.jobs.clear();
        }
        if self.remembered.streams.len() > REMEMBERED_MAX {
            self.remembered.streams.clear();
        }
        self.remembered.take(&mut learned.jobs, &mut learned.streams, &mut learned.years);
        answers
    }
}

impl Questions {
    /// Whether the batch can be planned without looking anything up.
    pub(crate) fn is_empty(&self) -> bool {
        self.entries.is_empty()
            && self.jobs.is_empty()
            && self.streams.is_empty()
            && self.numbers.is_empty()
            && self.years.is_empty()
    }
}

impl Plan {
    /// Whether there is nothing to write.
    pub(crate) fn changes_nothing(&self) -> bool {
        self.rows.is_empty() && self.epoch.is_none()
    }

    /// Whether it refuses an entry. Such an entry meets no index, so if it was not looked up, it may be a repeated one.
    pub(crate) fn refuses_any(&self) -> bool {
        self.answers.iter().any(Result::is_err)
    }
}

impl Stream {
    pub(crate) fn of(entry: &NewEntry) -> Self {
        Self { station: entry.station.clone(), epoch: entry.station_epoch }
    }
}

impl Remembered {
    fn take(
        &mut self,
        jobs: &mut HashMap<JobId, JobFact>,
        streams: &mut HashMap<Stream, StreamFact>,
        years: &mut HashMap<i16, u32>,
    ) {
        self.jobs.extend(jobs.drain());
        self.streams.extend(streams.drain());
        self.years.extend(years.drain());
    }
}

/// One batch being planned: the ledger below, what this batch changes above.
struct Planner<'a> {
    ledger: &'a Ledger,
    facts: &'a Facts,
    job_entries_max: u64,
    /// Place in `plan.rows` of the entries this batch stores.
    by_id: HashMap<EntryId, usize>,
    /// Numbers this batch stores.
    numbers: HashSet<(Stream, u64)>,
    plan: Plan,
}

impl Planner<'_> {
    fn answer(&mut self, at: usize, entry: &NewEntry) -> Result<Appended, StoreError> {
        if let Some(first) = self.first_answer(entry) {
            let same =
                entry_leaf_hash(first.answer.seq, first.answer.received_us, &entry.bytes) == first.leaf_hash;
            return if same {
                Ok(Appended { repeated: true, ..first.answer })
            } else {
                Err(StoreError::EntryIdReused { entry_id: entry.entry_id, seq: first.answer.seq })
            };
        }
        if entry.station_number > NUMBER_MAX {
            return Err(StoreError::OutOfRange {
                field: "station_number",
                value: entry.station_number,
                least: 0,
                greatest: NUMBER_MAX,
            });
        }
        // Nothing may be refused after this line: it is the first that changes the plan.
        let seq = self.plan.frontier.size() + 1;
        let job = self.place_in_job(entry, seq)?;
        let (stream_first_seq, station_number_reused) = self.place_in_stream(entry, seq);
        let leaf_hash = entry_leaf_hash(seq, entry.received_us, &entry.bytes);
        self.append_leaf(seq, leaf_hash);
        self.by_id.insert(entry.entry_id, self.plan.rows.len());
        let job_first_seq = job.map(|fact| fact.first_seq);
        self.plan.rows.push(Row { at, seq, job_first_seq, stream_first_seq, leaf_hash });
        Ok(Appended {
            seq,
            received_us: entry.received_us,
            job_number: job.map(|fact| fact.number),
            repeated: false,
            station_number_reused,
        })
    }

    /// What the first entry with this id was answered, in this batch or before.
    fn first_answer(&self, entry: &NewEntry) -> Option<EntryFact> {
        if self.ledger.faults.has(Fault::DuplicateCheckDropped) {
            return None;
        }
        let planned =
            self.by_id.get(&entry.entry_id).and_then(|at| self.plan.rows.get(*at)).and_then(|row| {
                let answer = self.plan.answers.get(row.at)?.as_ref().ok()?.clone();
                Some(EntryFact { answer, leaf_hash: row.leaf_hash })
            });
        planned.or_else(|| self.facts.entries.get(&entry.entry_id).cloned())
    }

    /// Counts the entry in its job, opening it if the entry may.
    fn place_in_job(&mut self, entry: &NewEntry, seq: u64) -> Result<Option<JobFact>, StoreError> {
        let Some(job) = entry.job else {
            let refused = StoreError::NoJobToOpen { entry_id: entry.entry_id };
            return if entry.opens_job { Err(refused) } else { Ok(None) };
        };
        let learned = &self.plan.learned.jobs;
        let mut fact = match learned.get(&job).or_else(|| self.ledger.remembered.jobs.get(&job)) {
            Some(fact) => *fact,
            None if entry.opens_job => self.open_job(job, entry.year, seq),
            None => return Err(StoreError::JobUnknown { job }),
        };
        let limit = self.job_entries_max;
        if fact.entries >= limit {
            return Err(StoreError::JobFull { job, limit });
        }
        fact.entries += 1;
        self.plan.learned.jobs.insert(job, fact);
        Ok(Some(fact))
    }

    /// Gives a new job the next number of its year.
    fn open_job(&mut self, job: JobId, year: i16, first_seq: u64) -> JobFact {
        let learned = &mut self.plan.learned.years;
        let last =
            learned.get(&year).or_else(|| self.ledger.remembered.years.get(&year)).copied().unwrap_or(0);
        let number = JobNumber { year, ordinal: last + 1 };
        learned.insert(year, number.ordinal);
        self.plan.new_jobs.push(NewJob { job, first_seq, number });
        JobFact { first_seq, number, entries: 0 }
    }

    /// The stream's first sequence, and whether the number was used under another id.
    fn place_in_stream(&mut self, entry: &NewEntry, seq: u64) -> (u64, bool) {
        let stream = Stream::of(entry);
        let numbered = (stream, entry.station_number);
        let reused = self.facts.numbers.contains(&numbered) || self.numbers.contains(&numbered);
        let stream = numbered.0.clone();
        self.numbers.insert(numbered);
        let learned = &mut self.plan.learned.streams;
        let known = learned.get(&stream).or_else(|| self.ledger.remembered.streams.get(&stream));
        let fact = match known {
            Some(fact) => StreamFact { highest: fact.highest.max(entry.station_number), ..*fact },
            None => {
                self.plan.new_streams.push((stream.clone(), seq));
                StreamFact { first_seq: seq, highest: entry.station_number }
            }
        };
        learned.insert(stream, fact);
        (fact.first_seq, reused)
    }

    /// Appends to the tree.
    fn append_leaf(&mut self, seq: u64, leaf_hash: Hash) {
        let skipped = self.ledger.faults.has(Fault::LeafSkipped) && seq.is_multiple_of(7);
        self.plan.frontier.append(if skipped { [0; 32] } else { leaf_hash });
    }
}

#[cfg(test)]
mod tests;
