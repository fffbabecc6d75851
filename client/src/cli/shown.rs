//! Answers as people read them: lines of plain text, job number and plate first, 24-hour times of the station's zone.

use crate::folder::archive::RefusedEntry;
use crate::folder::state::LocalJob;
use crate::words::{descriptor::Words, kebab};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};
use serde_json::{Value, json};
use standpipe_proto::v1::{Acknowledgement, ConditionSide, Entry, Job, JobSummary, MayResponse};
use std::fmt::Write as _;

/// Shows times: of today by their clock alone, others with their day.
pub(super) struct Times {
    now: ZonedDateTime,
}

impl Times {
    pub(super) fn new(now_microseconds: i64, zone: &TimeZone) -> Self {
        let now = Timestamp::from_microsecond(now_microseconds).unwrap_or_default();
        Self { now: now.to_zoned_datetime(zone.clone()) }
    }

    /// A time for people; empty if there is none.
    pub(super) fn shown(&self, time: Option<&prost_types::Timestamp>) -> String {
        let Some(at) = time.and_then(|time| Timestamp::new(time.seconds, time.nanos).ok()) else {
            return String::new();
        };
        let at = at.to_zoned_datetime(self.now.time_zone().clone());
        let form = if at.date() == self.now.date() { "%H:%M" } else { "%Y-%m-%d %H:%M" };
        at.strftime(form).to_string()
    }

    /// A time for programs (RFC 3339, UTC).
    pub(super) fn exact(&self, time: &prost_types::Timestamp) -> String {
        Timestamp::new(time.seconds, time.nanos).map(|time| time.to_string()).unwrap_or_default()
    }
}

/// Number and plate of a job, its identity if neither is known here; `site` for what belongs to no job.
pub(super) fn job_words(job: &LocalJob) -> String {
    if *job == LocalJob::default() {
        return "site".to_owned();
    }
    let words = job.to_string();
    if words.trim().is_empty() { format!("job {}", job.job_id) } else { words.trim().to_owned() }
}

pub(super) fn job_json(job: &LocalJob) -> Value {
    if job.job_id.is_empty() {
        return Value::Null;
    }
    json!({ "job_id": job.job_id, "label": job.label, "number": job.number, "plate": job.plate })
}

/// Kind of an entry as it is typed.
pub(super) fn kind_words(entry: &Entry) -> String {
    let kind = entry.fact.as_ref().map(|fact| Words::get().and_then(|words| words.kind_of(fact)));
    kebab(&kind.and_then(Result::ok).unwrap_or_default())
}

/// One line for an entry: job, time, person, kind, numbers as typed, end of its identity.
pub(super) fn entry_line(job: &LocalJob, entry: &Entry, times: &Times) -> String {
    let header = entry.header.clone().unwrap_or_default();
    let typed: Vec<_> = header.as_typed.iter().map(|typed| typed.text.as_str()).collect();
    let typed = if typed.is_empty() { String::new() } else { format!(" {}", typed.join(", ")) };
    let end = header.entry_id.char_indices().rev().nth(7).and_then(|(at, _)| header.entry_id.get(at..));
    format!(
        "{}  {}  {}  {}{typed}  …{}",
        job_words(job),
        times.shown(header.station_time.as_ref()),
        header.person_code,
        kind_words(entry),
        end.unwrap_or(&header.entry_id)
    )
}

pub(super) fn entry_json(job: &LocalJob, entry: &Entry) -> Value {
    let header = entry.header.clone().unwrap_or_default();
    let time = header.station_time.as_ref().and_then(|time| Timestamp::new(time.seconds, time.nanos).ok());
    let typed: Vec<_> =
        header.as_typed.iter().map(|typed| json!({ "field": typed.field, "text": typed.text })).collect();
    json!({ "entry_id": header.entry_id, "job": job_json(job), "kind": kind_words(entry).replace('-', "_"),
        "person_code": header.person_code, "station_number": header.station_number,
        "station_time": time.map(|time| time.to_string()), "as_typed": typed })
}

pub(super) fn refused_json(refused: &RefusedEntry) -> Value {
    let header = refused.entry.header.as_ref();
    json!({ "entry_id": header.map(|header| header.entry_id.as_str()), "kind": kind_words(&refused.entry).replace('-', "_"),
        "code": refused.refusal.code, "reason": refused.refusal.reason, "sentence": refused.refusal.message })
}

pub(super) fn acknowledgement(taken: &Acknowledgement) -> String {
    let job = format!("{} {}", taken.job_number, taken.plate);
    let job = if job.trim().is_empty() { "site" } else { job.trim() };
    let known = if taken.repeated { ", known before" } else { "" };
    format!("{job}: place {} in the journal{known}\n", taken.seq)
}

pub(super) fn acknowledgement_json(taken: &Acknowledgement) -> Value {
    json!({ "entry_id": taken.entry_id, "seq": taken.seq, "job_number": taken.job_number, "plate": taken.plate,
        "repeated": taken.repeated })
}

/// How long something has waited.
pub(super) fn age(microseconds: i64) -> String {
    let minutes = microseconds / 60_000_000;
    match minutes {
        ..1 => "less than a minute".into(),
        1..120 => format!("{minutes} min"),
        120..2880 => format!("{} h", minutes / 60),
        _ => format!("{} days", minutes / 1440),
    }
}

fn head(summary: &JobSummary) -> String {
    let parts = [&summary.number, &summary.plate, &summary.vin, &summary.variant];
    let mut head: Vec<_> = parts.into_iter().filter(|part| !part.is_empty()).cloned().collect();
    if summary.closed {
        head.push("closed".into());
    }
    head.join(", ")
}

/// A whole job.
pub(super) fn job(job: &Job, times: &Times) -> String {
    let mut text = format!("{}\n", job.summary.as_ref().map(head).unwrap_or_default());
    text.extend(job.now.iter().map(|line| format!("> {line}\n")));
    // Writing to a String cannot fail; its results are dropped below.
    let width = job.story.iter().map(|line| times.shown(line.time.as_ref()).len()).max().unwrap_or(0);
    for line in &job.story {
        let time = times.shown(line.time.as_ref());
        let late = if line.late { " (typed later)" } else { "" };
        let _ =
            writeln!(text, "{:>6}  {time:<width$}  {:<2}  {}{late}", line.seq, line.person_code, line.text);
        if !line.changed.is_empty() {
            let _ = writeln!(text, "{:width$}  {}", "", line.changed, width = 6 + 2 + width + 2 + 2);
        }
    }
    let section = |text: &mut String, title: &str, lines: Vec<String>| {
        if !lines.is_empty() {
            let _ = writeln!(text, "\n{title}");
            for line in lines {
                let _ = writeln!(text, "  {line}");
            }
        }
    };
    let stops = |stops: bool| if stops { " This stops the work; nobody can override it." } else { "" };
    let findings = job.findings.iter().map(|finding| format!("{}{}", finding.text, stops(finding.stops)));
    section(&mut text, "What to know", findings.collect());
    let words = job.words.iter().map(|words| format!("{}: {}", words.subject, words.text));
    section(&mut text, "In words", words.collect());
    section(&mut text, "Earlier jobs", job.history.clone());
    let open = job.open_points.iter().map(|point| match point.gate.as_str() {
        "" => point.text.clone(),
        gate => format!("{} (before: {})", point.text, gate.replace('-', " ")),
    });
    section(&mut text, "Still open", open.collect());
    let condition = job.condition.iter().flat_map(condition);
    section(&mut text, "Condition of the fluid", condition.collect());
    let figures = job.figures.iter().map(|figure| format!("{}: {}", figure.label, figure.text));
    section(&mut text, "Figures", figures.collect());
    section(&mut text, "Exchange, fluid in and out, level", job.remarks.clone());
    section(&mut text, "Next due", job.next_due.iter().flat_map(|due| due.sentences.clone()).collect());
    section(&mut text, "Not measured", job.not_measured.clone());
    let _ = writeln!(
        text,
        "\n{} entries up to place {} in the journal; check value {}; engine {}",
        job.entry_count, job.last_seq, job.check_value, job.engine_version
    );
    text
}

/// One side of the fluid's condition: a line for what somebody saw or felt, then what all of it comes to. Figures of a
/// laboratory or a photo are for the record and for programs.
fn condition(side: &ConditionSide) -> Vec<String> {
    let lines = side
        .lines
        .iter()
        .filter(|line| !line.measured)
        .map(|line| format!("{}: {} – {} – {}", side.moment, line.seen, line.speaks_for, line.why));
    lines.chain([format!("{}: {}", side.moment, side.conclusion)]).collect()
}

/// The list of jobs: number, plate, variant, what is open next.
pub(super) fn jobs(jobs: &[JobSummary], all: bool) -> String {
    if jobs.is_empty() {
        return if all { "no jobs\n" } else { "no open jobs; --all lists the closed ones too\n" }.into();
    }
    let longest =
        |of: fn(&JobSummary) -> &String| jobs.iter().map(|job| of(job).chars().count()).max().unwrap_or(0);
    let (numbers, plates, variants) =
        (longest(|job| &job.number), longest(|job| &job.plate), longest(|job| &job.variant));
    let mut text = String::new();
    for job in jobs {
        let next = if job.closed { "closed" } else { job.next_open_point.as_str() };
        let line =
            format!("{:<numbers$}  {:<plates$}  {:<variants$}  {next}", job.number, job.plate, job.variant);
        let _ = writeln!(text, "{}", line.trim_end());
    }
    text
}

/// The answer to `may`.
pub(super) fn may(job: &LocalJob, gate: &str, answer: &MayResponse, times: &Times) -> String {
    let mut text = String::new();
    let (job, time) = (job_words(job), times.shown(answer.time.as_ref()));
    if answer.yes {
        let _ = writeln!(
            text,
            "{job}: yes, go-ahead for {gate} at {time}. It ends with the next entry of the job."
        );
    } else {
        let _ = writeln!(text, "{job}: no go-ahead for {gate} at {time}:");
        for missing in &answer.missing {
            let stops = if missing.stops { " Nobody can override this." } else { "" };
            let _ = writeln!(text, "  {}{stops}", missing.text);
            if missing.decidable {
                let how = format!("standpipe add decision --point {} --reason …", missing.key);
                let _ = writeln!(text, "    … or a named person decides: {how}");
            }
        }
    }
    if !answer.basis.is_empty() {
        let _ = writeln!(text, "It rests on:");
        for basis in &answer.basis {
            let _ = writeln!(text, "  {basis}");
        }
    }
    if !answer.cautions.is_empty() {
        let _ = writeln!(text, "Cautions:");
        for caution in &answer.cautions {
            let _ = writeln!(text, "  {caution}");
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_of_today_have_no_day() {
        let zone = TimeZone::get("Europe/Berlin").unwrap();
        let now: Timestamp = "2026-02-03T11:00:00Z".parse().unwrap();
        let times = Times::new(now.as_microsecond(), &zone);
        let shown = |text: &str| {
            let time: Timestamp = text.parse().unwrap();
            times.shown(Some(&crate::clock::timestamp(time.as_microsecond())))
        };
        assert_eq!(shown("2026-02-03T09:41:59Z"), "10:41");
        assert_eq!(shown("2026-02-02T23:30:00Z"), "00:30");
        assert_eq!(shown("2026-02-02T22:30:00Z"), "2026-02-02 23:30");
        assert_eq!(times.shown(None), "");
    }

    #[test]
    fn a_job_says_what_people_said() {
        use standpipe_proto::v1::JobWords;
        let said = |subject: &str, text: &str| JobWords { subject: subject.into(), text: text.into() };
        let words =
            vec![said("the customer’s complaint", "“Jerks.”"), said("the customer’s order", "words erased")];
        let times = Times::new(0, &TimeZone::UTC);
        let shown = job(&Job { words, ..Job::default() }, &times);
        let section =
            "\nIn words\n  the customer’s complaint: “Jerks.”\n  the customer’s order: words erased\n";
        assert!(shown.contains(section), "{shown}");
        assert!(!job(&Job::default(), &times).contains("In words"));
    }

    #[test]
    fn a_no_names_every_reason_and_a_yes_when_it_ends() {
        let job = LocalJob { number: "HL-26-0042".into(), plate: "TW 4711".into(), ..LocalJob::default() };
        let times = Times::new(0, &TimeZone::UTC);
        let time = Some(crate::clock::timestamp(0));
        let yes = MayResponse { yes: true, time, ..MayResponse::default() };
        assert_eq!(
            may(&job, "refill", &yes, &times),
            "HL-26-0042 TW 4711: yes, go-ahead for refill at 00:00. It ends with the next entry of the job.\n"
        );
        let point = |text: &str, stops| standpipe_proto::v1::MissingPoint {
            text: text.into(),
            stops,
            key: "repair-first".into(),
            decidable: !stops,
        };
        let missing = vec![point("The fluid is another one.", true), point("The VIN was not read.", false)];
        let no = MayResponse { missing, time, ..MayResponse::default() };
        let text = may(&job, "exchange", &no, &times);
        assert!(text.contains("  The fluid is another one. Nobody can override this.\n"), "{text}");
        let how = "    … or a named person decides: standpipe add decision --point repair-first --reason …\n";
        assert!(text.contains(&format!("  The VIN was not read.\n{how}")), "{text}");
        assert_eq!(text.matches("or a named person").count(), 1, "{text}");
    }

    #[test]
    fn ages_are_told_in_one_unit() {
        let minute = 60_000_000;
        assert_eq!([age(0), age(minute), age(119 * minute)], ["less than a minute", "1 min", "119 min"]);
        assert_eq!([age(120 * minute), age(2880 * minute)], ["2 h", "2 days"]);
    }
}
