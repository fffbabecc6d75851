//! A correction starts from what its entry says now: what the flags leave out stays as it was stated. Never here: what
//! a fact means, or how an entry is found.

use crate::LocalJob;
use crate::asking::FoundEntry;
use crate::error::ClientError;
use crate::folder::job_of;
use crate::station::Station;
use crate::words::descriptor::{KindWords, Words};
use crate::words::flags::{self, CORRECT, ReadFlags};
use crate::words::{ReadFact, Understood};
use prost_reflect::{DynamicMessage, FieldDescriptor};
use standpipe_proto::v1::{AsTyped, Entry, Fact, correction::Outcome, fact::Kind};

/// A fact as it was stated, with its numbers as they were typed.
pub(crate) type Stated = (Fact, Vec<AsTyped>);

impl Station {
    /// What an entry says now: as it was stated, or as it was put right last. With the shop server by all entries of
    /// the job or the site, else by those of this station.
    ///
    /// # Errors
    /// When the entry is another station's and the server does not give it.
    pub(crate) async fn stated(&mut self, original: &FoundEntry) -> Result<Stated, ClientError> {
        let remote = match self.remote() {
            Ok(remote) => remote.entries(&self.subject_of(&original.job)?).await,
            Err(error) => Err(error),
        };
        drop(self.turn()?);
        let sent = self.folder.sent()?.into_iter().map(|sent| sent.entry);
        let unsent = self.unsent.values().map(|kept| kept.entry.clone());
        let (known, failed) = match remote {
            Ok(known) => (known, None),
            Err(error) => (sent.collect(), Some(error)),
        };
        let of_job = |entry: &Entry| job_of(entry) == original.job.job_id;
        let all: Vec<Entry> = known.into_iter().chain(unsent).filter(of_job).collect();
        let now = says_now(&original.entry_id, &all);
        now.ok_or_else(|| match failed {
            Some(ClientError::Away(why)) => ClientError::Away(format!(
                "{why}; what the entry said is not known here, so it cannot be put right without losing some of it: \
                 say it again when the shop server answers"
            )),
            Some(error) => error,
            None => ClientError::EntryUnknown {
                entry: original.entry_id.clone(),
                why: match original.job.job_id.as_str() {
                    "" => "the site has no such fact".to_owned(),
                    _ => format!("job {} has no such entry; standpipe show lists them", original.job),
                },
            },
        })
    }

    /// What a journal is read by: the job, or the site for what belongs to none.
    pub(crate) fn subject_of(&self, job: &LocalJob) -> Result<String, ClientError> {
        Ok(if job.job_id.is_empty() { self.joined()?.site_id.clone() } else { job.job_id.clone() })
    }
}

/// What an entry says after all entries of its job, in their order.
fn says_now(entry_id: &str, entries: &[Entry]) -> Option<Stated> {
    let mut now = None;
    for entry in entries {
        let Some(header) = &entry.header else { continue };
        let fact = match entry.fact.as_ref().and_then(|fact| fact.kind.as_ref()) {
            Some(Kind::Correction(correction)) if correction.corrected_entry_id == entry_id => {
                match &correction.outcome {
                    Some(Outcome::Replacement(fact)) => fact.as_ref().clone(),
                    _ => continue,
                }
            }
            Some(_) if header.entry_id == entry_id => entry.fact.clone().unwrap_or_default(),
            _ => continue,
        };
        now = Some((fact, header.as_typed.clone()));
    }
    now
}

/// What was stated with what the flags put right, and a word on what stayed.
pub(crate) fn put_right(
    kind: &KindWords,
    (fact, typed): &Stated,
    read: ReadFlags,
) -> Result<ReadFact, ClientError> {
    let words = Words::get()?;
    let ReadFlags { message: named, as_typed, understood, cleared } = read;
    if understood.is_empty() {
        return Err(ClientError::Usage(format!(
            "nothing is put right: name what is, for example standpipe correct 17 {} {}",
            kind.flag_name(),
            flags::example(&kind.message, &CORRECT)?
        )));
    }
    let before = words.message_of(kind, fact)?;
    let mut message = before.clone();
    let damaged = |error: prost_reflect::SetFieldError| ClientError::Descriptor(error.to_string());
    for field in kind.message.fields() {
        if named.has_field(&field) {
            // A field of several that exclude each other takes the place of the other.
            message.try_set_field(&field, named.get_field(&field).into_owned()).map_err(damaged)?;
        } else if cleared.iter().any(|name| name == field.name()) {
            message.clear_field(&field);
        }
    }
    let stays = |field: &FieldDescriptor| {
        before.has_field(field) && message.has_field(field) && !named.has_field(field)
    };
    let stayed: Vec<FieldDescriptor> = kind.message.fields().filter(stays).collect();
    let mut read = ReadFact { fact: words.fact_of(kind, message.clone())?, as_typed, understood };
    let kept = typed.iter().filter(|typed| stayed.iter().any(|field| field.name() == typed.field));
    read.as_typed.extend(kept.cloned());
    if let Some(told) = told(&stayed, &message, typed)? {
        read.understood.push(told);
    }
    Ok(read)
}

fn told(
    stayed: &[FieldDescriptor],
    message: &DynamicMessage,
    typed: &[AsTyped],
) -> Result<Option<Understood>, ClientError> {
    let mut told = Vec::new();
    for field in stayed {
        let typed = typed.iter().filter(|typed| typed.field == field.name());
        let typed = typed.map(|typed| typed.text.as_str()).collect::<Vec<_>>().join(", ");
        let typed = (!typed.is_empty()).then_some(typed.as_str());
        told.push(flags::told(field, &message.get_field(field), typed, &CORRECT)?);
    }
    Ok((!told.is_empty()).then(|| Understood { flag: "kept:".to_owned(), text: told.join(", ") }))
}

#[cfg(test)]
#[path = "tests/correcting.rs"]
mod tests;
