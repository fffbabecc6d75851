//! Signing what a person decided or put right, by the person's PIN. The PIN goes to the shop server and is kept nowhere.

use crate::error::ClientError;
use crate::folder::state::LocalJob;
use crate::sending::SendEnd;
use crate::station::Station;
use standpipe_proto::v1::SignRequest;

/// Fewest and most digits of a PIN.
const PIN_DIGITS: std::ops::RangeInclusive<usize> = 4..=12;

impl Station {
    /// Signs entries of the person in a job, after what waits was sent; none named: all that wait for the person.
    /// Gives the identities of those that were signed now.
    ///
    /// # Errors
    /// When the PIN is none or not the person's, no person is set, the server is away, or entries of the job are not there.
    pub async fn sign(
        &mut self,
        job: &LocalJob,
        pin: &str,
        entry_ids: Vec<String>,
    ) -> Result<Vec<String>, ClientError> {
        let person_code = self.person().ok_or(ClientError::NoPerson)?.to_owned();
        if !PIN_DIGITS.contains(&pin.len()) || !pin.bytes().all(|digit| digit.is_ascii_digit()) {
            let (least, most) = (PIN_DIGITS.start(), PIN_DIGITS.end());
            return Err(ClientError::Usage(format!(
                "the PIN is {least} to {most} digits; nothing was signed, type it as it was set"
            )));
        }
        let later = format!("nothing was signed; to be signed later: standpipe as {person_code} --pin");
        let report = self.send().await?;
        let unsent = self.unsent_of(job);
        if unsent > 0 {
            let entries = if unsent == 1 { "1 entry" } else { &format!("{unsent} entries") };
            let why = match report.end {
                SendEnd::NotPermitted(sentence) => return Err(ClientError::NotPermitted(sentence)),
                SendEnd::Later { sentence, .. } => format!(" ({sentence})"),
                SendEnd::Done | SendEnd::Busy(_) => String::new(),
            };
            return Err(ClientError::Away(format!(
                "{entries} of job {job} not at the shop server yet{why}; {later}"
            )));
        }
        let request = SignRequest { job: job.job_id.clone(), person_code, pin: pin.to_owned(), entry_ids };
        match self.remote()?.sign(request).await {
            Ok(answer) => Ok(answer.entry_ids),
            Err(ClientError::Away(why)) => Err(ClientError::Away(format!("{why}; {later}"))),
            Err(error) => Err(error),
        }
    }
}
