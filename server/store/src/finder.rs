//! Finds lines of the job list: what people look for, of every job, folded and held in memory.
//!
//! A scan of the database takes hundreds of milliseconds at a hundred thousand jobs, this a few. It holds keys only,
//! some 300 bytes a job; the lines themselves are read from where they are kept. Filled when a store is opened and
//! changed by its writer after each line and each customer, so what was erased is not found any more. Never here: SQL.

use crate::beside::{
    Customer, CustomerKeys, JobSummary, SearchKeys, SummaryFilter, SummaryOrder, SummaryPlace,
};
use crate::entry::{JobId, JobNumber};
use std::cmp::Reverse;
use std::collections::{BTreeMap, HashMap};

/// What is looked for, of all jobs.
#[derive(Debug, Default)]
pub(crate) struct Finder {
    lines: BTreeMap<JobNumber, Line>,
    customers: HashMap<JobId, CustomerKeys>,
}

/// What is looked for in one line.
#[derive(Debug)]
pub(crate) struct Line {
    pub job_id: JobId,
    pub closed: bool,
    pub rank: u32,
    pub keys: SearchKeys,
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
        let line = Line { job_id: summary.job_id, closed: summary.closed, rank: summary.rank, keys };
        Self::Line(summary.number, line)
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
            Noted::Customer(job, keys) => drop(self.customers.insert(job, keys)),
            Noted::NoCustomer(job) => drop(self.customers.remove(&job)),
        }
    }

    /// Numbers of the lines that are wanted, in the order they are wanted in.
    pub(crate) fn find(&self, filter: &SummaryFilter, limit: usize) -> Vec<JobNumber> {
        let wanted = Wanted::of(filter);
        let all = |line: &Line| !(filter.open_only && line.closed) && wanted.fits(line, &self.customers);
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

/// A folded text to look for.
struct Wanted(Option<(SearchKeys, Option<CustomerKeys>)>);

impl Wanted {
    fn of(filter: &SummaryFilter) -> Self {
        let text = Some(filter.text.trim()).filter(|text| !text.is_empty());
        let customer = |text| filter.customers.then(|| CustomerKeys::of_text(text));
        Self(text.map(|text| (SearchKeys::of_text(text), customer(text))))
    }

    fn fits(&self, line: &Line, customers: &HashMap<JobId, CustomerKeys>) -> bool {
        let Some((keys, customer)) = &self.0 else { return true };
        line.keys.matches(keys)
            || customer.as_ref().is_some_and(|customer| {
                customers.get(&line.job_id).is_some_and(|known| known.matches(customer))
            })
    }
}
