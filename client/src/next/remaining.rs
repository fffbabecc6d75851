//! The steps that remain in a job: as the shop server gives them, or, without it, those of its last answer less what
//! was stated since. What was stated is looked up in the station's own entries, so that nothing has to be written down
//! between an answer and the next question. Never here: what is asked of a person.

use crate::LocalJob;
use crate::error::ClientError;
use crate::folder::{Lock, job_of};
use crate::sending::SendEnd;
use crate::station::Station;
use crate::words::answer;
use crate::words::descriptor::Words;
use standpipe_proto::v1::{Entry, Finding, NextResponse, PresetField, Step, fact::Kind};

/// Kind of fact that says what equipment holds, and its field that names the equipment.
const CONTENTS: &str = "equipment_contents";
const EQUIPMENT: &str = "equipment";

/// The steps that remain in a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Remaining {
    /// In the order of the work.
    pub steps: Vec<Step>,
    /// Place in the journal of the last entry that the server knew of.
    pub last_seq: i64,
    /// What stops the work, as the server said just now; without the server nothing is claimed.
    pub stops: Vec<Finding>,
    /// What changes what is done next, as the server said just now; without the server nothing is claimed.
    pub now: Vec<String>,
    /// Why the server was not asked; nothing if this is its answer.
    pub away: Option<String>,
}

impl Station {
    /// The steps that remain in a job, after what waits was sent. Without the server, those of its last answer.
    ///
    /// # Errors
    /// When the server does not know the job, or is away and never said what comes in it.
    pub async fn remaining(&mut self, job: &LocalJob) -> Result<Remaining, ClientError> {
        let report = self.send().await?;
        let known = self.job_named(&job.job_id);
        if self.unsent_before(&known) > 0 {
            let why = match report.end {
                SendEnd::Done => "entries were kept just now".to_owned(),
                SendEnd::Later { sentence, .. } | SendEnd::NotPermitted(sentence) => sentence,
                SendEnd::Busy(holder) => format!("another command is sending ({holder})"),
            };
            return self.remaining_here(&known, &why);
        }
        let answer = match self.remote()?.next(&job.job_id).await {
            Ok(answer) => answer,
            Err(ClientError::Away(why)) => return self.remaining_here(&known, &why),
            Err(error) => return Err(error),
        };
        self.learn(answer.summary.as_ref())?;
        let lock = self.turn()?;
        self.folder.write_steps(&lock, &job.job_id, &answer)?;
        let NextResponse { steps, last_seq, stops, now, .. } = answer;
        Ok(Remaining { steps, last_seq, stops, now, away: None })
    }

    /// The steps that remain in a job as far as this station can tell alone.
    ///
    /// # Errors
    /// When the server never said here what comes in this job.
    pub fn remaining_here(&mut self, job: &LocalJob, why: &str) -> Result<Remaining, ClientError> {
        let lock = self.turn()?;
        let answer = self.folder.steps(&lock, &job.job_id)?.ok_or_else(|| {
            ClientError::Away(format!(
                "{why}; what comes next in job {job} is not known here yet: ask once while connected, or state facts \
                 with standpipe add"
            ))
        })?;
        let since = self.stated_since(&lock, job, answer.last_seq)?;
        remaining(answer, &since, why)
    }

    /// The station's own entries of a job that the server's answer does not rest on, and its facts of the site that are
    /// not at the server: of those that are, nobody can tell here whether the answer rests on them.
    fn stated_since(&self, _lock: &Lock, job: &LocalJob, last_seq: i64) -> Result<Vec<Entry>, ClientError> {
        let sent = self.folder.sent_after(last_seq)?;
        let sent = sent.into_iter().map(|sent| sent.entry).filter(|entry| job_of(entry) == job.job_id);
        let unsent = self.unsent.values().map(|kept| kept.entry.clone());
        Ok(sent.chain(unsent.filter(|entry| [&job.job_id, ""].contains(&job_of(entry)))).collect())
    }
}

/// The steps of an answer, as they are without the server, less those that later entries answered. Proposals end with the next entry of the job.
pub(crate) fn remaining(answer: NextResponse, since: &[Entry], why: &str) -> Result<Remaining, ClientError> {
    let mut steps = Vec::new();
    for mut step in answer.steps {
        hooked_up_since(&mut step, since);
        // What was known while the answer was fresh is looked at again.
        let known = step.preset.len();
        let asked: Vec<String> = step.fields.iter().map(|field| field.name.clone()).collect();
        step.preset.retain(|preset| !asked.contains(&preset.name));
        let rests = step.preset.len() < known || (step.repeats && is_stated(&step.kind, since)?);
        if let Some(field) = step.fields.first().filter(|_| rests) {
            // A question that speaks of a reading is not asked in those words when the reading counts no more.
            step.question.clone_from(&field.ask);
        }
        if answered(&step, since)? {
            continue;
        }
        if !since.is_empty() {
            for field in &mut step.fields {
                field.proposal.clear();
                field.proposal_reason.clear();
            }
        }
        steps.push(step);
    }
    let last_seq = answer.last_seq;
    Ok(Remaining { steps, last_seq, stops: Vec::new(), now: Vec::new(), away: Some(why.to_owned()) })
}

/// Whether a fact of the kind was stated.
fn is_stated(kind: &str, since: &[Entry]) -> Result<bool, ClientError> {
    let words = Words::get()?;
    for fact in since.iter().filter_map(|entry| entry.fact.as_ref()) {
        if words.kind_of(fact)? == kind {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Which equipment a question about equipment means is the job's own: what was hooked up last, also without the server.
fn hooked_up_since(step: &mut Step, since: &[Entry]) {
    let kinds = since.iter().filter_map(|entry| entry.fact.as_ref()?.kind.as_ref());
    let mut named = kinds.filter_map(|kind| match kind {
        Kind::Hookup(hookup) if !hookup.equipment.is_empty() => Some(hookup.equipment.clone()),
        _ => None,
    });
    let Some(value) = named.next_back().filter(|_| step.kind == CONTENTS) else { return };
    step.preset.retain(|preset| preset.name != EQUIPMENT);
    step.preset.push(PresetField { name: EQUIPMENT.to_owned(), value });
}

/// Whether later entries answered a step; the last one that is about it decides. What repeats without an end of its own
/// counts until the next entry, so that the question behind it comes.
fn answered(step: &Step, since: &[Entry]) -> Result<bool, ClientError> {
    let mut answered = false;
    for (at, fact) in since.iter().enumerate().filter_map(|(at, entry)| Some((at, entry.fact.as_ref()?))) {
        if let Some(Kind::Skipped(skipped)) = &fact.kind
            && skipped.step == step.name
            && !step.safety
        {
            return Ok(true);
        }
        if answer::answers(fact, step)? {
            let ends = match answer::is_last(fact, step)? {
                _ if !step.repeats => true,
                Some(last) => last,
                None => at + 1 == since.len(),
            };
            answered = ends && answer::suffices(fact, step)?;
        }
    }
    Ok(answered)
}

#[cfg(test)]
#[path = "../tests/remaining.rs"]
mod tests;
