//! Asking for a PIN and signing by it: with `as CODE --pin`, and right after a decision or a correction that has to be
//! signed. A PIN is never an argument, which others could see, and is never shown.

use super::act::{self, text};
use super::answer::Answer;
use super::{Console, Context, shown};
use crate::error::ClientError;
use crate::folder::state::LocalJob;
use crate::station::Station;
use clap::ArgMatches;
use serde_json::{Value, json};

/// So often a PIN is asked for.
const PIN_TRIES: usize = 3;

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
    let Some(to_sign) = answer.to_sign.take() else { return Ok(answer) };
    let mut station = context.station()?;
    let (line, failed) = asked(&mut station, to_sign, console).await?;
    answer.text.push_str(&format!("> {line}\n"));
    Ok(answer.noting(failed.into_iter().collect::<Vec<_>>()))
}

/// The same with what was opened already: what became of it in a line, and why it was not signed.
pub(super) async fn asked(
    station: &mut Station,
    ToSign { job, entry_id }: ToSign,
    console: &mut Console<'_>,
) -> Result<(String, Option<String>), ClientError> {
    let code = station.person().unwrap_or_default().to_owned();
    let mut failed = None;
    if console.keys.is_terminal() {
        let mut question = format!("It has to be signed. PIN of {code}, or Enter to sign it later: ");
        for _ in 0..PIN_TRIES {
            let pin = typed(console, &question)?;
            if pin.is_empty() {
                break;
            }
            let Err(error) = station.sign(&job, &pin, vec![entry_id.clone()]).await else {
                return Ok((format!("{code} signed it"), None));
            };
            question = format!("{error}\nPIN of {code} once more, or Enter to sign it later: ");
            // Another PIN helps only where it was the PIN.
            let again = is_about_the_pin(&error);
            failed = Some(error.to_string());
            if !again {
                break;
            }
        }
    }
    Ok((format!("it counts once {code} signed it: standpipe as {code} --pin"), failed))
}

/// Whether a PIN was mistyped, so that the next may be the right one.
fn is_about_the_pin(error: &ClientError) -> bool {
    matches!(error, ClientError::Usage(_) | ClientError::NotPermitted(_))
        || matches!(error, ClientError::Refused { reason, .. } if reason == "PIN_NOT_GOOD")
}

fn typed(console: &mut Console<'_>, question: &str) -> Result<String, ClientError> {
    console
        .keys
        .hidden(question)
        .map(|typed| typed.trim().to_owned())
        .map_err(|cause| ClientError::Usage(format!("the PIN cannot be read: {cause}; type it again")))
}
