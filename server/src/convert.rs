//! From what the store and the engine say to messages of the network. Only translation: nothing is computed here.
//! Sentences become words in the language of the job's catalogue.

mod ahead;
mod condition;
mod exchange;
mod part;
mod sheet;
mod step;

pub(crate) use ahead::{plan, state};
pub(crate) use sheet::{found, sheet};
pub(crate) use step::step;

use crate::reading::Now;
use crate::record::Spoken;
use crate::status::Cause;
use crate::workshop::Computed;
use standpipe_engine::catalogue::Variant;
use standpipe_engine::gates::{Gate, GoAhead};
use standpipe_engine::text::{Language, Sentence, render, sentence};
use standpipe_engine::view::{self, JobView};
use standpipe_proto::v1;
use standpipe_store::{Head, JobSummary, StoredEntry};

/// Microseconds since 1970 as a message.
pub(crate) fn timestamp(us: i64) -> prost_types::Timestamp {
    let nanos = us.rem_euclid(1_000_000) * 1000;
    // The remainder is below a second, so its nanoseconds fit.
    prost_types::Timestamp {
        seconds: us.div_euclid(1_000_000),
        nanos: i32::try_from(nanos).unwrap_or_default(),
    }
}

/// A sentence in words.
pub(crate) fn words(language: Language, sentence: &Sentence) -> Result<String, Cause> {
    render(language, sentence).map_err(|error| Cause::internal("putting a sentence into words", &error))
}

/// Sentences in words.
pub(crate) fn all_words(language: Language, sentences: &[Sentence]) -> Result<Vec<String>, Cause> {
    sentences.iter().map(|sentence| words(language, sentence)).collect()
}

/// The line of the list of jobs.
pub(crate) fn summary(language: Language, job: &Computed) -> Result<v1::JobSummary, Cause> {
    let view = &job.view;
    let next = view.head.next_open_point.as_ref().map(|point| words(language, point)).transpose()?;
    Ok(v1::JobSummary {
        job_id: job.row.job_id.to_string(),
        number: view.head.number.clone(),
        plate: view.vehicle.plate.clone(),
        vin: view.vehicle.vin.clone().unwrap_or_default(),
        variant: view.vehicle.variant.clone().unwrap_or_default(),
        closed: view.head.closed,
        next_open_point: next.unwrap_or_default(),
        last_entry_time: Some(timestamp(job.last_received_us)),
    })
}

/// The same line as the store keeps it, with the account of the job: its title is the variant, its state the next open
/// point.
pub(crate) fn stored_summary(
    language: Language,
    job: &Computed,
    account: String,
) -> Result<JobSummary, Cause> {
    let line = summary(language, job)?;
    Ok(JobSummary {
        job_id: job.row.job_id,
        number: job.row.number,
        plate: line.plate,
        vin: line.vin,
        title: line.variant,
        closed: line.closed,
        state: if line.closed {
            state_of_closed(language, &job.view)?
        } else {
            state_of_open(language, &job.view)?
        },
        seq: job.row.last_seq,
        updated_us: job.last_received_us,
        rank: rank(&job.view),
        account,
    })
}

/// What the table says of an open job.
fn state_of_open(language: Language, view: &JobView) -> Result<String, Cause> {
    standpipe_engine::job::line(&view.head).map_or_else(|| Ok(String::new()), |line| words(language, &line))
}

/// What the table says of a closed job: what is to be done with its record, and that a stop went out with the vehicle.
fn state_of_closed(language: Language, view: &JobView) -> Result<String, Cause> {
    let paper = after_closing(view);
    if view.head.stop_stands { words(language, &sentence::line_stop(paper)) } else { Ok(paper) }
}

/// Place of a job in the office's table: one that is stopped first, another open one by the gate that its next open point
/// waits for, another closed one by what is still to be done with its record.
fn rank(view: &JobView) -> u32 {
    let place = match paper(view) {
        Some(_) if view.head.stop_stands => 0,
        Some((editions, handed_over)) => usize::from(editions > 0) + usize::from(handed_over),
        None => {
            let next = view.open_points.first();
            let gate = next.and_then(|point| Gate::ALL.iter().position(|gate| gate.name() == point.gate));
            if view.head.stop_stands { 0 } else { 1 + gate.unwrap_or(Gate::ALL.len()) }
        }
    };
    u32::try_from(place).unwrap_or(u32::MAX)
}

/// Issued editions of a closed job, and whether it was handed over.
fn paper(view: &JobView) -> Option<(usize, bool)> {
    let stated = |kind: &'static str| {
        view.story.iter().filter(move |line| line.kind == kind && line.changed.is_none()).count()
    };
    view.head.closed.then(|| (stated("record_issued"), stated("handover") > 0))
}

/// What the table says of a closed job.
fn after_closing(view: &JobView) -> String {
    match paper(view) {
        Some((0, _)) => "closed, no record issued".to_owned(),
        Some((edition, false)) => format!("closed, edition {edition} issued, not handed over"),
        Some((edition, true)) => format!("handed over, edition {edition}"),
        None => String::new(),
    }
}

/// The line of the list of jobs from the store.
pub(crate) fn listed(line: JobSummary, number: String) -> v1::JobSummary {
    v1::JobSummary {
        job_id: line.job_id.to_string(),
        number,
        plate: line.plate,
        vin: line.vin,
        variant: line.title,
        closed: line.closed,
        next_open_point: if line.closed { String::new() } else { line.state },
        last_entry_time: Some(timestamp(line.updated_us)),
    }
}

/// A whole job, with what people said about it. What goes with the clock is as of now: what the bay does next, the
/// advice of the exchange, the times of the level.
pub(crate) fn job(language: Language, now: &Now, spoken: Vec<Spoken>) -> Result<v1::Job, Cause> {
    let (view, as_of_now) = (&now.job.view, &now.view);
    Ok(v1::Job {
        summary: Some(summary(language, &now.job)?),
        story: view.story.iter().map(|it| story_line(language, it)).collect::<Result<_, _>>()?,
        findings: view.findings.iter().map(|it| finding(language, it)).collect::<Result<_, _>>()?,
        open_points: view.open_points.iter().map(|it| open_point(language, it)).collect::<Result<_, _>>()?,
        figures: view.figures.iter().map(|it| figure(language, it)).collect::<Result<_, _>>()?,
        not_measured: all_words(language, &view.not_measured)?,
        check_value: check_value(view),
        entry_count: signed(view.provenance.entries),
        last_seq: signed(view.provenance.last_seq),
        catalogue_revision_id: view.provenance.catalogue_revision.clone(),
        engine_version: view.provenance.engine_version.to_owned(),
        remarks: remarks(language, view)?,
        history: view.history.iter().map(|it| words(language, &it.text)).collect::<Result<_, _>>()?,
        words: spoken
            .into_iter()
            .map(|Spoken { subject, text, .. }| v1::JobWords { subject, text })
            .collect(),
        next_due: part::next_due(language, view)?,
        level: Some(part::level(language, as_of_now)?),
        balance: view.balance.as_ref().map(|it| part::balance(language, it)).transpose()?,
        now: all_words(language, &as_of_now.now)?,
        condition: view.condition.iter().map(|it| condition::side(language, it)).collect::<Result<_, _>>()?,
        condition_advice: part::said(language, view.condition_advice.as_ref())?,
        exchange: as_of_now.exchange.as_ref().map(|it| exchange::progress(language, it)).transpose()?,
    })
}

/// What exchange, balance and level came to, each look at the level with its clock time.
fn remarks(language: Language, view: &JobView) -> Result<Vec<String>, Cause> {
    let exchange = view.exchange.iter().flat_map(|exchange| &exchange.remarks);
    let balance = view.balance.iter().flat_map(|balance| balance.said());
    let mut remarks: Vec<String> =
        exchange.chain(balance).map(|said| words(language, said)).collect::<Result<_, _>>()?;
    for attempt in &view.level.attempts {
        remarks.push(format!("{} {}", attempt.clock, words(language, &attempt.text)?));
    }
    remarks.extend(all_words(language, &view.level.remarks)?);
    Ok(remarks)
}

/// The check value without the spaces it is printed with.
pub(crate) fn check_value(view: &JobView) -> String {
    view.provenance.check_value.chars().filter(char::is_ascii_hexdigit).collect()
}

fn story_line(language: Language, line: &view::StoryLine) -> Result<v1::StoryLine, Cause> {
    let changed = line.changed.as_ref().map(|changed| words(language, changed)).transpose()?;
    Ok(v1::StoryLine {
        seq: signed(line.seq),
        entry_id: line.entry_id.clone(),
        time: Some(timestamp(line.time_us)),
        person_code: line.person.clone(),
        kind: line.kind.to_owned(),
        text: words(language, &line.text)?,
        changed: changed.unwrap_or_default(),
        late: line.late,
    })
}

/// Something that somebody should know.
pub(crate) fn finding(language: Language, finding: &view::Finding) -> Result<v1::Finding, Cause> {
    Ok(v1::Finding {
        text: words(language, &finding.text)?,
        stops: finding.stands,
        seqs: finding.seqs.iter().copied().map(signed).collect(),
    })
}

fn open_point(language: Language, point: &view::OpenPoint) -> Result<v1::OpenPoint, Cause> {
    Ok(v1::OpenPoint { text: words(language, &point.text)?, gate: point.gate.to_owned() })
}

fn figure(language: Language, figure: &view::Figure) -> Result<v1::Figure, Cause> {
    let estimate = &figure.estimate;
    Ok(v1::Figure {
        key: figure.key.to_owned(),
        label: words(language, &figure.label)?,
        value: estimate.value,
        standard_uncertainty: estimate.standard_uncertainty,
        degrees_of_freedom: Some(estimate.degrees_of_freedom).filter(|degrees| degrees.is_finite()),
        unit: figure.unit.to_owned(),
        text: words(language, &figure.text)?,
        reasons: all_words(language, &figure.reasons)?,
    })
}

/// The answer of a gate.
pub(crate) fn go_ahead(
    language: Language,
    answer: &GoAhead,
    now_us: i64,
    job: &Computed,
) -> Result<v1::MayResponse, Cause> {
    let missing = answer.missing.iter().map(|missing| {
        let text = words(language, &missing.text)?;
        let decidable = !missing.stops && answer.decidable.contains(&missing.key);
        Ok(v1::MissingPoint { text, stops: missing.stops, key: missing.key.to_owned(), decidable })
    });
    Ok(v1::MayResponse {
        yes: answer.yes,
        missing: missing.collect::<Result<_, Cause>>()?,
        cautions: all_words(language, &answer.cautions)?,
        basis: all_words(language, &answer.basis)?,
        time: Some(timestamp(now_us)),
        last_seq: signed(job.row.last_seq),
        summary: Some(summary(language, job)?),
    })
}

/// An entry as the journal keeps it; its bytes are passed on untouched.
pub(crate) fn recorded_entry(entry: StoredEntry) -> v1::RecordedEntry {
    v1::RecordedEntry {
        seq: signed(entry.seq),
        received_time: Some(timestamp(entry.received_us)),
        entry: entry.bytes,
        leaf_hash: entry.leaf_hash.to_vec(),
    }
}

/// Entries with the tree they stand in.
pub(crate) fn read_response(
    entries: Vec<StoredEntry>,
    next_page_token: String,
    head: &Head,
) -> v1::ReadResponse {
    v1::ReadResponse {
        entries: entries.into_iter().map(recorded_entry).collect(),
        next_page_token,
        tree_size: signed(head.seq),
        root: head.root.to_vec(),
    }
}

/// A variant of the catalogue.
pub(crate) fn variant(variant: &Variant) -> v1::Variant {
    v1::Variant {
        code: variant.code.clone(),
        label: format!("{}, {}", variant.transmission, variant.label),
        fluid: variant.fluid.name.clone(),
    }
}

/// A place in the journal as a message carries it.
pub(crate) fn signed(seq: u64) -> i64 {
    i64::try_from(seq).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn microseconds_before_and_after_1970_become_seconds_and_nanoseconds() {
        let parts = |us| (timestamp(us).seconds, timestamp(us).nanos);
        assert_eq!(parts(1_770_000_000_000_001), (1_770_000_000, 1_000));
        assert_eq!(parts(-1), (-1, 999_999_000));
    }
}
