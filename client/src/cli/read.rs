//! Commands that only ask.

use super::act::{asked_job, text};
use super::answer::{Answer, Exit};
use super::{Context, shown, write_whole};
use crate::error::ClientError;
use crate::folder::state::LocalJob;
use crate::station::Station;
use crate::words::descriptor::Words;
use clap::ArgMatches;
use serde_json::{Value, json};
use standpipe_proto::csv;
use std::path::{Path, PathBuf};

pub(super) fn unsent(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    let clock = shown::Times::new(context.now_microseconds(), &context.machine.zone);
    if matches.get_flag("sent") {
        let sent = station.sent_entries()?;
        let mut text = String::new();
        let mut rows = Vec::new();
        for one in &sent {
            let job = station.job_of_entry(&one.entry);
            text.push_str(&format!("{:>6}  {}\n", one.seq, shown::entry_line(&job, &one.entry, &clock)));
            let mut row = shown::entry_json(&job, &one.entry);
            if let Value::Object(fields) = &mut row {
                fields.insert("seq".into(), json!(one.seq));
                fields.insert("day".into(), json!(one.day));
            }
            rows.push(row);
        }
        if sent.is_empty() {
            text.push_str("nothing was sent in the last 30 days\n");
        }
        return Ok(Answer::new(text, json!({ "sent": rows })).noting(station.take_notices()));
    }
    let report = station.unsent()?;
    let mut text = String::new();
    for one in &report.waiting {
        text.push_str(&format!("{}\n", shown::entry_line(&one.job, &one.entry, &clock)));
    }
    text.push_str(&match report.waiting.len() {
        0 => "nothing waits; everything that was stated here is at the shop server\n".to_owned(),
        count => format!(
            "{count} only on this station, the oldest for {}\n",
            shown::age(report.oldest_microseconds)
        ),
    });
    match report.blobs_waiting {
        0 => {}
        1 => text.push_str("1 file of photos or words is only on this station\n"),
        count => text.push_str(&format!("{count} files of photos or words are only on this station\n")),
    }
    for one in &report.refused {
        let job = station.job_of_entry(&one.entry);
        text.push_str(&format!("refused: {}\n", shown::entry_line(&job, &one.entry, &clock)));
        text.push_str(&format!("  {}\n", one.refusal.message));
    }
    for name in &report.damaged {
        text.push_str(&format!("not whole: damaged/{name}; it was not sent, state its fact again\n"));
    }
    let waiting: Vec<_> = report.waiting.iter().map(|one| shown::entry_json(&one.job, &one.entry)).collect();
    let refused: Vec<_> = report.refused.iter().map(shown::refused_json).collect();
    let json = json!({ "waiting": waiting, "refused": refused, "damaged": report.damaged, "blobs_waiting": report.blobs_waiting,
        "oldest_seconds": report.oldest_microseconds / 1_000_000 });
    Ok(Answer::new(text, json).noting(station.take_notices()))
}

pub(super) async fn show(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    let job = asked_job(&mut station, matches).await?;
    let answer = station.show(&job).await?;
    let clock = shown::Times::new(context.now_microseconds(), &context.machine.zone);
    let note = unsent_note(&station, &job, "this answer");
    let json = Words::get()?.json("Job", &answer)?;
    Ok(Answer::new(shown::job(&answer, &clock), json).noting(note).noting(station.take_notices()))
}

pub(super) async fn jobs(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    let all = matches.get_flag("all");
    let jobs = station.jobs(text(matches, "search"), !all).await?;
    let words = Words::get()?;
    let rows: Result<Vec<_>, _> = jobs.iter().map(|job| words.json("JobSummary", job)).collect();
    let clock = shown::Times::new(context.now_microseconds(), &context.machine.zone);
    let mut answer = Answer::new(shown::jobs(&jobs, all), json!({ "jobs": rows? }));
    answer.csv =
        csv::row(&["number", "plate", "vin", "variant", "closed", "next_open_point", "last_entry_time"]);
    for job in &jobs {
        let closed = if job.closed { "yes" } else { "no" };
        let time = job.last_entry_time.as_ref().map(|time| clock.exact(time)).unwrap_or_default();
        let cells = [&job.number, &job.plate, &job.vin, &job.variant, closed, &job.next_open_point, &time];
        answer.csv.push_str(&csv::row(&cells));
    }
    Ok(answer.noting(station.take_notices()))
}

pub(super) async fn may(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    let job = asked_job(&mut station, matches).await?;
    let gate = text(matches, "gate");
    let answer = station.may(&job, gate).await?;
    let clock = shown::Times::new(context.now_microseconds(), &context.machine.zone);
    let job = station.job_named(&job.job_id);
    let refused = station.unsent()?.refused;
    let of_job = |entry: &&crate::RefusedEntry| crate::folder::job_of(&entry.entry) == job.job_id;
    let note = match refused.iter().filter(of_job).count() {
        0 => None,
        count => Some(format!(
            "{count} of what was stated here for job {job} was refused and is not in this answer; see standpipe unsent"
        )),
    };
    let mut json = Words::get()?.json("MayResponse", &answer)?;
    if let Value::Object(fields) = &mut json {
        fields.insert("gate".into(), json!(gate));
    }
    let exit = if answer.yes { Exit::Done } else { Exit::No };
    let told = Answer::new(shown::may(&job, gate, &answer, &clock), json);
    Ok(told.noting(note).noting(station.take_notices()).ending(exit))
}

pub(super) async fn record(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    let job = asked_job(&mut station, matches).await?;
    if matches.get_flag("issue") {
        let issued = station.issue(&job).await?;
        let job = station.job_named(&job.job_id);
        let what = format!("edition {} of the record is issued and", issued.edition);
        let paper = Paper {
            pdf: issued.pdf,
            name: issued.file_name,
            check_value: issued.check_value,
            warnings: Vec::new(),
        };
        return written(context, matches, &job, &what, paper, station.take_notices());
    }
    let edition = matches.get_one::<i32>("edition").copied().unwrap_or(0);
    let record = station.printed(&job, edition, matches.get_flag("annex")).await?;
    let job = station.job_named(&job.job_id);
    let mut notes = station.take_notices();
    if edition == 0 {
        notes.extend(unsent_note(&station, &job, "this record"));
    }
    let what =
        if edition == 0 { "the record is".to_owned() } else { format!("edition {edition} of the record is") };
    let paper = Paper {
        pdf: record.pdf,
        name: record.file_name,
        check_value: record.check_value,
        warnings: record.warnings,
    };
    written(context, matches, &job, &what, paper, notes)
}

pub(super) async fn bay_sheet(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    if matches.get_flag("for-photos") {
        let sheet = station.photo_sheet().await?;
        return filed(context, matches, sheet.pdf, &sheet.file_name, station.take_notices());
    }
    let job = asked_job(&mut station, matches).await?;
    let sheet = station.bay_sheet(&job).await?;
    let job = station.job_named(&job.job_id);
    let mut notes = station.take_notices();
    notes.extend(unsent_note(&station, &job, "this sheet"));
    let paper =
        Paper { pdf: sheet.pdf, name: sheet.file_name, check_value: String::new(), warnings: Vec::new() };
    written(context, matches, &job, "the bay sheet is", paper, notes)
}

/// Writes the reference sheet, which belongs to no job, where it was asked for.
fn filed(
    context: &Context<'_>,
    matches: &ArgMatches,
    pdf: Vec<u8>,
    name: &str,
    notes: Vec<String>,
) -> Result<Answer, ClientError> {
    let file = matches.get_one::<PathBuf>("file").cloned();
    if file.as_deref() == Some(Path::new("-")) {
        let mut answer = Answer::new(String::new(), Value::Null).noting(notes);
        answer.raw = Some(pdf);
        return Ok(answer);
    }
    let file = file.unwrap_or_else(|| PathBuf::from(safe_name(name)));
    write_whole(&*context.machine.options.disk, &file, &pdf)?;
    let text = format!("the reference sheet for photos is in {}\n", file.display());
    let json = json!({ "file": file.display().to_string(), "bytes": pdf.len() });
    Ok(Answer::new(text, json).noting(notes))
}

/// A PDF file from the server.
struct Paper {
    pdf: Vec<u8>,
    name: String,
    check_value: String,
    warnings: Vec<String>,
}

/// Writes a PDF file where it was asked for, and says so.
fn written(
    context: &Context<'_>,
    matches: &ArgMatches,
    job: &LocalJob,
    what: &str,
    paper: Paper,
    mut notes: Vec<String>,
) -> Result<Answer, ClientError> {
    notes.extend(paper.warnings.iter().cloned());
    let file = matches.get_one::<PathBuf>("file").cloned();
    if file.as_deref() == Some(Path::new("-")) {
        let mut answer = Answer::new(String::new(), Value::Null).noting(notes);
        answer.raw = Some(paper.pdf);
        return Ok(answer);
    }
    let file = file.unwrap_or_else(|| PathBuf::from(safe_name(&paper.name)));
    write_whole(&*context.machine.options.disk, &file, &paper.pdf)?;
    let check = match paper.check_value.as_str() {
        "" => String::new(),
        value => format!(", check value {value}"),
    };
    let text = format!("{job}: {what} in {}{check}\n", file.display());
    let json = json!({ "job": shown::job_json(job), "file": file.display().to_string(), "bytes": paper.pdf.len(),
        "check_value": paper.check_value, "warnings": paper.warnings });
    Ok(Answer::new(text, json).noting(notes))
}

fn unsent_note(station: &Station, job: &LocalJob, what: &str) -> Option<String> {
    match station.unsent_of(job) {
        0 => None,
        count => Some(format!(
            "{count} of what was stated here is not in {what}: it is not at the shop server yet"
        )),
    }
}

/// The name that the server proposes, if it is one; never a path.
fn safe_name(name: &str) -> &str {
    let plain = |letter: char| letter.is_ascii_alphanumeric() || matches!(letter, '.' | '_' | '-');
    let is_name = (1..=100).contains(&name.len()) && name.chars().all(plain) && !name.starts_with('.');
    if is_name { name } else { "record.pdf" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_proposed_name_is_never_a_path() {
        assert_eq!(safe_name("HL-26-0042.pdf"), "HL-26-0042.pdf");
        for name in ["", "../x.pdf", "/etc/x", ".hidden", "a b.pdf", "x\0.pdf", &"x".repeat(300)] {
            assert_eq!(safe_name(name), "record.pdf", "{name}");
        }
    }
}
