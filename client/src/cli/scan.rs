//! Codes as a scanner types them: one as an argument, or a line each from the input until its end.
//!
//! What a code belongs to says the shop server; what is stated then is a fact like any other. Without the server nothing
//! can be looked up, and nothing is kept.

use super::act::{optional, sent, text};
use super::answer::{Answer, Exit};
use super::{Console, Context, failed, shown};
use crate::config::Output;
use crate::error::ClientError;
use crate::folder::state::LocalJob;
use crate::station::Station;
use crate::words::descriptor::Words;
use crate::words::read_fact;
use clap::ArgMatches;
use serde_json::{Value, json};
use standpipe_proto::v1::{FoundCode, FoundWhat, Part};
use std::io::{BufRead as _, Read as _};
use std::path::Path;

/// Longest line that is read, in bytes; no code is longer.
const LINE_BYTES_MAX: u64 = 4096;

/// How codes are taken.
struct Scanning<'a> {
    station: &'a mut Station,
    /// The job that was named, as long as no job was taken by its code since; else the one in use.
    job: Option<&'a str>,
    /// Whether it is only said what a code belongs to.
    look: bool,
}

pub(super) async fn scan(
    context: &Context<'_>,
    matches: &ArgMatches,
    output: Output,
    console: &mut Console<'_>,
) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    let (job, look) = (optional(matches, "job"), matches.get_flag("look"));
    let mut scanning = Scanning { station: &mut station, job, look };
    if optional(matches, "code").is_some() {
        return scanning.take(text(matches, "code")).await;
    }
    let mut worst = Exit::Done;
    while let Some(code) = line()? {
        if code.trim().is_empty() {
            continue;
        }
        // Whoever scans the next code wants to know what became of this one.
        let exit = match scanning.take(code.trim()).await {
            Ok(mut answer) => {
                if output == Output::Json {
                    answer.raw = Some(format!("{}\n", answer.json).into_bytes());
                }
                answer.written(output, console)?
            }
            Err(error) => failed(&error, console),
        };
        worst = if worst == Exit::Done { exit } else { worst };
    }
    let mut answer = Answer::new(String::new(), Value::Null).ending(worst);
    answer.raw = Some(Vec::new());
    Ok(answer)
}

/// The next line of the input; nothing at its end.
fn line() -> Result<Option<String>, ClientError> {
    let mut bytes = Vec::new();
    let read = std::io::stdin().lock().take(LINE_BYTES_MAX).read_until(b'\n', &mut bytes);
    let read = read.map_err(|cause| ClientError::disk("reading", Path::new("the input"), cause))?;
    Ok((read > 0).then(|| String::from_utf8_lossy(&bytes).into_owned()))
}

impl Scanning<'_> {
    async fn take(&mut self, code: &str) -> Result<Answer, ClientError> {
        let job = match self.job {
            Some(job) => Some(self.station.job(Some(job)).await?),
            None => self.station.current_job().ok(),
        };
        let found = self.station.find_code(code, job.as_ref()).await.map_err(|error| match error {
            ClientError::Away(why) => {
                ClientError::Away(format!("code {code} cannot be looked up: {why}; nothing was kept"))
            }
            other => other,
        })?;
        match found.as_slice() {
            [] => {
                Ok(Self::told(code, &found, "is not known here; nothing was changed").ending(Exit::Refused))
            }
            _ if self.look => Ok(Self::told(code, &found, "")),
            [one] => self.act(code, one, job).await,
            _ => {
                Ok(Self::told(code, &found, "has several meanings; nothing was changed")
                    .ending(Exit::Refused))
            }
        }
        .map(|answer: Answer| answer.noting(self.station.take_notices()))
    }

    /// Does what the one meaning of a code asks for.
    async fn act(
        &mut self,
        code: &str,
        found: &FoundCode,
        job: Option<LocalJob>,
    ) -> Result<Answer, ClientError> {
        match (found.what(), found.part()) {
            (FoundWhat::Job, _) => {
                let job = self.station.use_job(&found.job).await?;
                // Whoever scans a job turns to it: codes after it are no longer meant for the one before.
                self.job = None;
                let json = json!({ "code": code, "job": shown::job_json(&job) });
                Ok(Answer::new(format!("{job}: what is added next belongs to it\n"), json))
            }
            (FoundWhat::Part | FoundWhat::Lot, part) if part != Part::Unspecified => {
                // What was read is stated, not how the catalogue writes it; a lot's own label says only its number.
                let read = if found.what() == FoundWhat::Lot { found.code.as_str() } else { code };
                let mut answer = self.state(part, read, &found.lot, job.ok_or(ClientError::NoJob)?).await?;
                if found.what() == FoundWhat::Lot {
                    // What is known of a lot, such as that it is recalled, is wanted before it goes in.
                    answer.text.insert_str(0, &format!("{}\n", found.text));
                }
                Ok(answer)
            }
            _ => Ok(Self::told(code, std::slice::from_ref(found), "")),
        }
    }

    /// States a code that was read on a part, and says what the job's findings about it are.
    async fn state(
        &mut self,
        part: Part,
        code: &str,
        lot: &str,
        job: LocalJob,
    ) -> Result<Answer, ClientError> {
        let part = crate::words::kebab(part.as_str_name().trim_start_matches("PART_"));
        let mut flags = vec!["--part", &part, "--code", code, "--read-by", "scanner"];
        if !lot.is_empty() {
            flags.extend(["--lot", lot]);
        }
        let read = read_fact("part-checked", &flags)?;
        let kept = self.station.add_for(&job, read.fact, read.as_typed, None)?;
        let entry_id = kept.entry_id.clone();
        let mut answer = sent(self.station, kept, "part-checked", &read.understood).await?;
        if answer.exit != Exit::Done {
            return Ok(answer);
        }
        // The fact is at the server whatever becomes of this question.
        let Ok(job) = self.station.show(&job).await else { return Ok(answer) };
        let seq = job.story.iter().find(|line| line.entry_id == entry_id).map(|line| line.seq);
        let about = job.findings.iter().filter(|finding| seq.is_some_and(|seq| finding.seqs.contains(&seq)));
        let mut findings = Vec::new();
        for finding in about {
            answer.text.push_str(&format!("{} {}\n", if finding.stops { "!" } else { ">" }, finding.text));
            findings.push(json!({ "text": finding.text, "stops": finding.stops }));
        }
        if let Value::Object(fields) = &mut answer.json {
            fields.insert("findings".into(), Value::Array(findings));
        }
        Ok(answer)
    }

    /// What a code belongs to, in lines.
    fn told(code: &str, found: &[FoundCode], end: &str) -> Answer {
        let mut text = String::new();
        for one in found {
            text.push_str(&format!("{}\n", one.text));
        }
        if !end.is_empty() {
            text.push_str(&format!("{code} {end}\n"));
        }
        let words = Words::get();
        let json = |one| words.as_ref().ok().and_then(|words| words.json("FoundCode", one).ok());
        let rows: Vec<_> = found.iter().filter_map(json).collect();
        Answer::new(text, json!({ "code": code, "found": rows }))
    }
}
