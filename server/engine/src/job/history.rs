//! What earlier jobs of the same vehicle say: when its fluid was changed last, how far it has driven since, whether
//! the customer comes back.
//!
//! The server finds the earlier jobs and reads each once with [`EarlierJob::of`]; they come in with the context. Never
//! here: what a complaint means, or whose fault it is.

use super::fold::{self, Folded, tells};
use super::{Context, Identity, Recorded};
use crate::kind::arrival::Arrival;
use crate::kind::closing::Closing;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fill::Fill;
use crate::kind::words::Answer;
use crate::text::{Sentence, number, sentence};
use crate::view::{Finding, HistoryLine};

const DAY_US: i64 = 24 * 3_600 * 1_000_000;

/// An earlier job of the vehicle, as far as a later one needs it.
#[derive(Debug, Clone, PartialEq)]
pub struct EarlierJob {
    /// Printed number.
    pub number: String,
    /// Time of its first entry, microseconds since 1970.
    pub opened_us: i64,
    /// True when it is closed.
    pub closed: bool,
    /// True when fluid went in and the job was not closed with 'no exchange done'.
    pub serviced: bool,
    /// Name of the fluid of the settled variant, if it is known.
    pub fluid: Option<String>,
    /// True when the vehicle was said to have a high-voltage system.
    pub high_voltage: bool,
    /// Distance shown at its end, else at its arrival, in km.
    pub kilometres: Option<f64>,
}

impl EarlierJob {
    /// Reads an earlier job from its own entries, in its own context.
    #[must_use]
    pub fn of(context: &Context<'_>, entries: &[Recorded<'_>]) -> Self {
        let folded = fold::fold(context, entries);
        let identity = Identity::of(context, &folded);
        let arrival = folded.last::<Arrival>().and_then(|(_, arrival)| arrival.odometer_kilometres);
        let closing = folded.last::<Closing>().map(|(_, closing)| closing);
        let stopped = super::is_closed_without_exchange(&folded);
        let filled =
            folded.each::<ExchangeReading>().next().is_some() || folded.each::<Fill>().next().is_some();
        Self {
            number: context.number.to_owned(),
            opened_us: folded.story.first().map_or(context.as_of_us, |line| line.time_us),
            closed: closing.is_some(),
            serviced: filled && !stopped && closing.is_some(),
            fluid: identity.variant.and_then(|variant| variant.fluid).map(|(_, name)| name),
            high_voltage: said_high_voltage(&folded) == Some(true),
            kilometres: closing.and_then(|closing| closing.odometer_kilometres).or(arrival),
        }
    }

    fn sentence(&self, context: &Context<'_>) -> Sentence {
        let day = context.day(self.opened_us);
        match (&self.fluid, self.serviced, self.closed) {
            (Some(fluid), true, _) => sentence::history_service(day, fluid, &self.number),
            (None, true, _) => sentence::history_service_plain(day, &self.number),
            (_, false, true) => sentence::history_stopped(day, &self.number),
            (_, false, false) => sentence::history_open(day, &self.number),
        }
    }
}

/// Whether the vehicle was said to have a high-voltage system, here or in an earlier job; only a plain no here speaks
/// against an earlier yes.
pub(crate) fn high_voltage(context: &Context<'_>, folded: &Folded) -> bool {
    said_high_voltage(folded).unwrap_or_else(|| context.earlier.iter().any(|job| job.high_voltage))
}

/// What was said of it in this job. Once said, a yes stands: the safer answer counts.
fn said_high_voltage(folded: &Folded) -> Option<bool> {
    let said = folded.each::<Arrival>().filter_map(|(_, arrival)| match arrival.high_voltage? {
        Answer::Yes => Some(true),
        Answer::No => Some(false),
        Answer::NotSeen => None,
    });
    said.reduce(|before, now| before || now)
}

/// Each earlier job in a sentence, the newest first, and the distance since the last service.
pub(super) fn told(context: &Context<'_>, folded: &Folded) -> Vec<HistoryLine> {
    let of_all = |text| HistoryLine { job: None, text };
    let mut told: Vec<HistoryLine> = since(context, folded).into_iter().map(of_all).collect();
    let of_job =
        |job: &EarlierJob| HistoryLine { job: Some(job.number.clone()), text: job.sentence(context) };
    told.extend(newest_first(context).map(of_job));
    if told.is_empty() && folded.last::<Arrival>().is_some() {
        told.push(of_all(sentence::history_none()));
    }
    told
}

/// What does not fit: a distance that fell, a complaint about a job that is none of this vehicle; and a come-back.
pub(super) fn findings(context: &Context<'_>, folded: &Folded) -> Vec<Finding> {
    let Some((stated, arrival)) = folded.last::<Arrival>() else { return Vec::new() };
    let mut found = Vec::new();
    let finding = |text, on_record| Finding { on_record, ..tells(text, [stated.seq]) };
    if let Some(number) = &arrival.complaint_about_job {
        match context.earlier.iter().find(|job| same_number(&job.number, number)) {
            Some(job) => {
                let days = (stated.time_us - job.opened_us).div_euclid(DAY_US);
                let days = u64::try_from(days).unwrap_or_default();
                found.push(finding(sentence::finding_come_back(days, &job.number), false));
            }
            None => found.push(finding(sentence::finding_complaint_unknown(number), false)),
        }
    }
    let before = newest_first(context).find_map(|job| Some((job, job.kilometres?)));
    if let (Some(now), Some((job, then))) = (arrival.odometer_kilometres, before)
        && now < then
    {
        let (now, then) = (number::kilometres(now), number::kilometres(then));
        found.push(finding(sentence::finding_odometer_before(&job.number, now, then), true));
    }
    found
}

/// Distance driven with the fluid that is in it, as far as it is known: since the last service here, else all of it.
pub(crate) fn driven_kilometres(context: &Context<'_>, folded: &Folded) -> Option<f64> {
    let now = folded.last::<Arrival>().and_then(|(_, arrival)| arrival.odometer_kilometres)?;
    let then = newest_first(context).find(|job| job.serviced).and_then(|job| job.kilometres);
    Some(now - then.unwrap_or(0.0)).filter(|driven| *driven >= 0.0)
}

fn newest_first<'a>(context: &'a Context<'_>) -> impl Iterator<Item = &'a EarlierJob> {
    let mut jobs: Vec<&EarlierJob> = context.earlier.iter().collect();
    jobs.sort_by_key(|job| std::cmp::Reverse(job.opened_us));
    jobs.into_iter()
}

/// Distance driven since the last service of an earlier job, in km, and that job; nothing when either distance is not
/// known or they do not go together.
pub(super) fn driven_since<'a>(context: &'a Context<'_>, folded: &Folded) -> Option<(f64, &'a EarlierJob)> {
    let now = folded.last::<Arrival>().and_then(|(_, arrival)| arrival.odometer_kilometres)?;
    let job = newest_first(context).find(|job| job.serviced)?;
    let driven = now - job.kilometres?;
    (driven >= 0.0).then_some((driven, job))
}

/// Distance since the last service and what the workshop's interval says of it.
fn since(context: &Context<'_>, folded: &Folded) -> Option<Sentence> {
    let (driven, _) = driven_since(context, folded)?;
    let distance = number::kilometres(driven);
    let Some(interval) = &context.workshop().service_interval_kilometres else {
        return Some(sentence::history_since_plain(distance));
    };
    let due = if driven < interval.value - interval.limit {
        "early"
    } else if driven <= interval.value + interval.limit {
        "due"
    } else {
        "late"
    };
    Some(sentence::history_since(distance, sentence::history_due(due), number::kilometres(interval.value)))
}

/// Numbers are compared without regard to case, since a person types them.
fn same_number(one: &str, other: &str) -> bool {
    one.trim().eq_ignore_ascii_case(other.trim())
}
