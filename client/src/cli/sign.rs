//! Asking for a PIN and signing by it: with `as CODE --pin`, and right after a decision or a correction that has to be
//! signed. A PIN is never an argument, which others could see, and is never shown.

use super::act::{self, text};
use super::answer::Answer;
use super::{Console, Context, shown};
use crate::error::ClientError;
use crate::folder::state::LocalJob;
use clap::ArgMatches;
use serde_json::{Value, json};

/// An entry that counts only once it is signed.
#[derive(Debug, Clone)]
pub(super) struct ToSign {
    pub(super) job: LocalJob,
    pub(super) entry_id: String,
}

/// Says who states the facts from now on, and signs what waits for the person where that is asked for.
pub(super) async fn person(
    context: &Context<'_>,
    matches: &ArgMatches,
    console: &mut Console<'_>,
) -> Result<Answer, ClientError> {
    let mut answer = act::person(context, matches)?;
    if !matches.get_flag("pin") {
        return Ok(answer);
    }
    let code = text(matches, "code");
    let mut station = context.station()?;
    let job = station.current_job()?;
    let pin = typed(console, &format!("PIN of {code}: "))?;
    let signed = station.sign(&job, &pin, Vec::new()).await?;
    let what = match signed.len() {
        0 => format!("nothing of {code} waits to be signed in this job"),
        1 => format!("1 entry of {code} is signed"),
        many => format!("{many} entries of {code} are signed"),
    };
    answer.text.push_str(&format!("{}: {what}\n", shown::job_words(&job)));
    if let Value::Object(parts) = &mut answer.json {
        parts.insert("signed_entry_ids".to_owned(), json!(signed));
    }
    Ok(answer.noting(station.take_notices()))
}

/// Asks for the PIN of an entry that has to be signed, where somebody sits at a terminal; a PIN that is left out or not
/// good undoes nothing.
pub(super) async fn at_once(
    context: &Context<'_>,
    mut answer: Answer,
    console: &mut Console<'_>,
) -> Result<Answer, ClientError> {
    let Some(ToSign { job, entry_id }) = answer.to_sign.take() else { return Ok(answer) };
    let mut station = context.station()?;
    let code = station.person().unwrap_or_default().to_owned();
    let later = format!("it counts once {code} signed it: standpipe as {code} --pin");
    if !console.keys.is_terminal() {
        answer.text.push_str(&format!("> {later}\n"));
        return Ok(answer);
    }
    let pin = typed(console, &format!("It has to be signed. PIN of {code}, or Enter to sign it later: "))?;
    if pin.is_empty() {
        answer.text.push_str(&format!("> {later}\n"));
        return Ok(answer);
    }
    match station.sign(&job, &pin, vec![entry_id]).await {
        Ok(_) => answer.text.push_str(&format!("> {code} signed it\n")),
        Err(error) => {
            answer.text.push_str(&format!("> {later}\n"));
            answer = answer.noting(vec![error.to_string()]);
        }
    }
    Ok(answer)
}

fn typed(console: &mut Console<'_>, question: &str) -> Result<String, ClientError> {
    console
        .keys
        .hidden(question)
        .map(|typed| typed.trim().to_owned())
        .map_err(|cause| ClientError::Usage(format!("the PIN cannot be read: {cause}; type it again")))
}
