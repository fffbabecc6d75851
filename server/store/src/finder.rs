//! Finds lines of the job list: what people look for, of every job, folded and held in memory.
//!
//! A scan of the database takes hundreds of milliseconds at a hundred thousand jobs, this a few. It holds keys only,
//! some 300 bytes a job; the lines themselves are read from where they are kept. Filled when a store is opened and
//! changed by its writer after each line and each customer, so what was erased is not found any more. Never here: SQL.

use crate::beside::{
    Customer, CustomerKeys, JobSummary, KeyParts, SearchKeys, SummaryFilter, SummaryOrder, SummaryPlace,
    plain,
};
use crate::entry::{JobId, JobNumber};
use memchr::memmem;
use std::cmp::Reverse;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What is looked for, of all jobs.
#[derive(Debug, Default)]
pub(crate) struct Finder {
    lines: BTreeMap<JobNumber, Line>,
    customers: HashMap<JobId, CustomerKeys>,
}

/// What is looked for, changed by the writer and asked by everybody.
#[derive(Debug, Clone, Default)]
pub(crate) struct SharedFinder(Arc<Mutex<Finder>>);

impl SharedFinder {
    /// A finder that is filled already.
    pub(crate) fn of(finder: Finder) -> Self {
        Self(Arc::new(Mutex::new(finder)))
    }

    /// Takes a finder that was filled anew in the place of the one before.
    pub(crate) fn replace(&self, finder: Finder) {
        *self.held() = finder;
    }

    pub(crate) fn find(&self, filter: &SummaryFilter, limit: usize) -> Vec<JobNumber> {
        self.held().find(filter, limit)
    }

    pub(crate) fn jobs_of_customer(&self, name: &str) -> Vec<JobId> {
        self.held().jobs_of_customer(name)
    }

    pub(crate) fn note(&self, noted: Noted) {
        self.held().note(noted);
    }

    fn held(&self) -> MutexGuard<'_, Finder> {
        // Each change under the lock is whole, so a panic elsewhere leaves nothing half done.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What is looked for in one line.
#[derive(Debug)]
pub(crate) struct Line {
    job_id: JobId,
    closed: bool,
    rank: u32,
    /// Number, plate, VIN and title, a line each: one search through all of them sorts most jobs out.
    keys: Box<str>,
}

impl Line {
    pub(crate) fn new(job_id: JobId, closed: bool, rank: u32, keys: &SearchKeys) -> Self {
        let SearchKeys { number, plate, vin, title } = keys;
        // Keys that were kept before apostrophes were folded are folded here. No folded key has a line's end in it.
        let title = plain(title);
        Self { job_id, closed, rank, keys: format!("{number}\n{plate}\n{vin}\n{title}").into() }
    }

    fn parts(&self) -> KeyParts<'_> {
        let mut parts = self.keys.splitn(4, '\n');
        let mut next = || parts.next().unwrap_or_default();
        KeyParts { number: next(), plate: next(), vin: next(), title: next() }
    }
}

/// What a change beside the journal means here.
#[derive(Debug)]
pub(crate) enum Noted {
    Line(JobNumber, Line),
    Customer(JobId, CustomerKeys),
    NoCustomer(JobId),
}

impl Noted {
    /// A line that is put.
    pub(crate) fn line(summary: &JobSummary) -> Self {
        let keys = SearchKeys::of_summary(summary);
        Self::Line(summary.number, Line::new(summary.job_id, summary.closed, summary.rank, &keys))
    }

    /// A customer that is written.
    pub(crate) fn customer(job: JobId, customer: &Customer) -> Self {
        Self::Customer(job, CustomerKeys::of(customer))
    }
}

impl Finder {
    /// Takes a change in.
    pub(crate) fn note(&mut self, noted: Noted) {
        match noted {
            Noted::Line(number, line) => drop(self.lines.insert(number, line)),
            Noted::Customer(job, CustomerKeys { name, telephone }) => {
                drop(self.customers.insert(job, CustomerKeys { name: plain(&name), telephone }));
            }
            Noted::NoCustomer(job) => drop(self.customers.remove(&job)),
        }
    }

    /// Jobs whose customer has this name.
    pub(crate) fn jobs_of_customer(&self, name: &str) -> Vec<JobId> {
        let wanted = plain(name);
        let mut jobs: Vec<JobId> =
            self.customers.iter().filter(|(_, keys)| keys.name == wanted).map(|(job, _)| *job).collect();
        jobs.sort_unstable();
        jobs
    }

    /// Numbers of the lines that are wanted, in the order they are wanted in.
    pub(crate) fn find(&self, filter: &SummaryFilter, limit: usize) -> Vec<JobNumber> {
        let wanted = Wanted::of(filter, &self.customers);
        let all = |line: &Line| !(filter.open_only && line.closed) && wanted.fits(line);
        match filter.order {
            SummaryOrder::Newest { before } => {
                let earlier = match before {
                    Some(before) => self.lines.range(..before),
                    None => self.lines.range(..),
                };
                let found = earlier.rev().filter(|(_, line)| all(line)).map(|(number, _)| *number);
                found.take(limit).collect()
            }
            SummaryOrder::Rank { after } => {
                let place = |closed, rank, number| (closed, rank, Reverse(number));
                let after = after.map(|SummaryPlace { closed, rank, number }| place(closed, rank, number));
                let found = self.lines.iter().filter(|(_, line)| all(line));
                let found = found.map(|(number, line)| place(line.closed, line.rank, *number));
                let mut found: Vec<_> =
                    found.filter(|place| after.is_none_or(|after| *place > after)).collect();
                if found.len() > limit {
                    // Only the first ones are put in order; of a hundred thousand that saves most of the work.
                    found.select_nth_unstable(limit);
                    found.truncate(limit);
                }
                found.sort_unstable();
                found.into_iter().map(|(_, _, Reverse(number))| number).collect()
            }
        }
    }
}

/// A folded text to look for, ready to be looked for often; nothing means that every line is wanted.
struct Wanted(Option<Text>);

struct Text {
    keys: SearchKeys,
    plain: memmem::Finder<'static>,
    bare: memmem::Finder<'static>,
    /// Jobs whose customer is wanted.
    jobs: HashSet<JobId>,
}

impl Wanted {
    fn of(filter: &SummaryFilter, customers: &HashMap<JobId, CustomerKeys>) -> Self {
        let text = filter.text.trim();
        if text.is_empty() {
            return Self(None);
        }
        let keys = SearchKeys::of_text(text);
        let finder = |key: &str| memmem::Finder::new(key).into_owned();
        let (plain, bare) = (finder(&keys.title), finder(&keys.plate));
        let mut jobs = HashSet::new();
        if filter.customers {
            let CustomerKeys { name, telephone } = CustomerKeys::of_text(text);
            let (by_name, by_telephone) = (finder(&name), finder(&telephone));
            let has = |finder: &memmem::Finder<'_>, key: &str| {
                !finder.needle().is_empty() && finder.find(key.as_bytes()).is_some()
            };
            let found = customers
                .iter()
                .filter(|(_, known)| has(&by_name, &known.name) || has(&by_telephone, &known.telephone));
            jobs.extend(found.map(|(job, _)| *job));
        }
        Self(Some(Text { keys, plain, bare, jobs }))
    }

    fn fits(&self, line: &Line) -> bool {
        let Some(Text { keys, plain, bare, jobs }) = &self.0 else { return true };
        let parts = line.parts();
        // A line that has the text nowhere can only be named by its whole number, or by its customer.
        let may = plain.find(line.keys.as_bytes()).is_some()
            || bare.find(line.keys.as_bytes()).is_some()
            || keys.number.ends_with(parts.number);
        (may && parts.matches(keys)) || (!jobs.is_empty() && jobs.contains(&line.job_id))
    }
}
