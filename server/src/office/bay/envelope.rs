//! What the page of a bay sends with each answer, and the entry that it becomes.
//!
//! Id, epoch, number and times are the page's; station and job are the server's to know. The entry is sealed from these
//! alone, so that the same answer sent again has the same bytes and the journal knows it. Never here: what a fact means.

use super::Bay;
use super::refused::Refused;
use crate::convert::timestamp;
use crate::office::trouble::capital;
use axum::body::{Body, to_bytes};
use axum::http::HeaderMap;
use axum::http::header::CONTENT_TYPE;
use prost::Message as _;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use standpipe_engine::kind::{Fact as Known, Typed};
use standpipe_engine::text::{Language, render};
use standpipe_proto::Bytes;
use standpipe_proto::check::{CheckError, Violation};
use standpipe_proto::limits::TIME_SECONDS;
use standpipe_proto::limits::door::{
    BAY_ANSWER_BYTES_MAX, BAY_FIELDS_MAX, BAY_NAME_BYTES_MAX, BAY_TEXT_BYTES_MAX,
};
use standpipe_proto::v1::{Entry, Fact, Header, header::Subject};
use standpipe_proto::words::descriptor::{KindWords, Words};
use standpipe_proto::words::reading::{FLAGS, flag_name};
use standpipe_proto::words::{ReadFact, WordsError, answer};

/// Kinds that are no answer to a question, or the server's own to state.
pub(in crate::office) const NO_ANSWERS: [&str; 3] = ["correction", "record_issued", "signature"];

/// What every answer carries.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Answered {
    entry_id: String,
    epoch: String,
    number: i64,
    time_us: i64,
    monotonic_us: i64,
    boot_id: String,
    pub(super) person: String,
    /// Name of the step; for whoever reads what was sent, since the entry says it by its kind and fields.
    #[serde(default)]
    step: String,
    #[serde(default)]
    pub(super) kind: String,
    #[serde(default)]
    pub(super) fields: Vec<(String, String)>,
    #[serde(default)]
    done_time_us: Option<i64>,
    /// The earlier answer that this one puts right or takes back.
    #[serde(default)]
    pub(super) corrected_entry_id: Option<String>,
    /// Why.
    #[serde(default)]
    pub(super) reason: String,
    /// Whether the earlier one is taken back.
    #[serde(default)]
    pub(super) withdrawn: bool,
}

/// Reads the JSON that a page sends in the body of its request.
pub(super) async fn read_body<T: DeserializeOwned>(headers: &HeaderMap, body: Body) -> Result<T, Refused> {
    let content = headers.get(CONTENT_TYPE).and_then(|content| content.to_str().ok()).unwrap_or_default();
    if content.split(';').next().is_none_or(|kind| kind.trim() != "application/json") {
        return Err(reload("it is not sent as application/json"));
    }
    let bytes = to_bytes(body, BAY_ANSWER_BYTES_MAX).await.map_err(|_| {
        let sentence = format!(
            "The answer is longer than {BAY_ANSWER_BYTES_MAX} bytes or was cut short; shorten what was written and send it again"
        );
        Refused::Unfit { field: String::new(), sentence }
    })?;
    read(&bytes)
}

/// Reads JSON that a page sends.
pub(super) fn read<T: DeserializeOwned>(json: &[u8]) -> Result<T, Refused> {
    if json.len() > BAY_ANSWER_BYTES_MAX {
        return Err(reload(&format!("it is longer than {BAY_ANSWER_BYTES_MAX} bytes")));
    }
    serde_json::from_slice(json).map_err(|error| reload(&error.to_string()))
}

impl Answered {
    /// Holds what the messages have no bound for against the table, and the person against who is signed in.
    pub(super) fn check(&self, bay: &Bay) -> Result<(), Refused> {
        if self.fields.len() > BAY_FIELDS_MAX {
            return Err(reload(&format!(
                "it has {} fields, at most {BAY_FIELDS_MAX} are taken",
                self.fields.len()
            )));
        }
        let mut names = self.fields.iter().map(|(name, _)| name).chain([&self.kind, &self.step]);
        if let Some(name) = names.find(|name| name.len() > BAY_NAME_BYTES_MAX) {
            let most = BAY_NAME_BYTES_MAX;
            return Err(reload(&format!("a name in it has {} bytes, at most {most} are taken", name.len())));
        }
        if let Some((field, text)) = self.fields.iter().find(|(_, text)| text.len() > BAY_TEXT_BYTES_MAX) {
            let (field, bytes) = (field.clone(), text.len());
            let sentence = format!(
                "The text has {bytes} bytes; at most {BAY_TEXT_BYTES_MAX} are taken: shorten it and send it again"
            );
            return Err(Refused::Unfit { field, sentence });
        }
        is_own_person(bay, &self.person)
    }

    /// The kind that is stated.
    pub(super) fn kind(&self) -> Result<&'static KindWords, Refused> {
        let words = Words::get().map_err(|error| unfit(&error, None, &[]))?;
        let known = words.kind(&self.kind).filter(|kind| !NO_ANSWERS.contains(&kind.name()));
        known.ok_or_else(|| reload(&format!("the kind '{}' is not known here", shown(&self.kind))))
    }

    /// The fact that the fields make.
    pub(super) fn fact(&self, kind: &KindWords) -> Result<ReadFact, Refused> {
        let fields: Vec<(&str, &str)> =
            self.fields.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
        answer::stated(kind.name(), &fields).map_err(|error| unfit(&error, Some(kind), &fields))
    }

    /// The sealed entry.
    pub(super) fn sealed(&self, bay: &Bay, subject: Subject, read: ReadFact) -> Bytes {
        // A tablet whose clock lost its battery works on: its clock decides nothing.
        let years = TIME_SECONDS.0.saturating_mul(1_000_000)..=TIME_SECONDS.1.saturating_mul(1_000_000);
        let within = |us: i64| timestamp(us.clamp(*years.start(), *years.end()));
        let entry = Entry {
            header: Some(Header {
                entry_id: self.entry_id.clone(),
                subject: Some(subject),
                station_id: bay.who.station_id.clone(),
                station_epoch: self.epoch.clone(),
                station_number: self.number,
                person_code: self.person.clone(),
                station_time: Some(within(self.time_us)),
                monotonic_microseconds: self.monotonic_us,
                boot_id: self.boot_id.clone(),
                done_time: self.done_time_us.map(within),
                as_typed: read.as_typed,
            }),
            fact: Some(Fact { kind: read.fact.kind }),
        };
        entry.encode_to_vec().into()
    }
}

/// Requires that who is signed in answers for nobody else; at a tablet the person is chosen.
pub(super) fn is_own_person(bay: &Bay, person: &str) -> Result<(), Refused> {
    match &bay.person {
        Some((code, _)) if code != person => {
            Err(Refused::OtherPerson { named: shown(person), signed_in: code.clone() })
        }
        _ => Ok(()),
    }
}

/// What was understood, in the words of the trade; of a fact that no sentence is of, field by field.
pub(super) fn line(read: &ReadFact) -> String {
    let said = read.fact.kind.as_ref().and_then(|kind| Known::read(kind, Typed(&read.as_typed)));
    let said = said.and_then(|known| render(Language::default(), &known.sentence()).ok());
    said.map(|said| capital(&said))
        .unwrap_or_else(|| read.understood.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "))
}

/// What a page sends that no page of this server can have made.
pub(super) fn reload(why: &str) -> Refused {
    let sentence =
        format!("The answer was not understood ({}); reload the page and answer again", shown(why));
    Refused::Unfit { field: String::new(), sentence }
}

/// Why words make no fact, with the field as the page named it.
pub(super) fn unfit(error: &WordsError, kind: Option<&KindWords>, fields: &[(&str, &str)]) -> Refused {
    let sentence = match error {
        WordsError::Unknown { kind, field } => {
            return reload(&format!("'{}' of '{}' is not known here", shown(field), shown(kind)));
        }
        WordsError::Outside(CheckError::Outside(found)) => {
            found.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
        }
        other => other.to_string(),
    };
    let told = match error {
        WordsError::Outside(CheckError::Outside(found)) => {
            found.first().map(|Violation { field, .. }| field.as_str()).unwrap_or_default()
        }
        _ => sentence.split(": ").next().unwrap_or_default(),
    };
    let field = kind.map(|kind| named(kind, told, fields)).unwrap_or_default();
    // A name that is written in capitals in the trade.
    let sentence = sentence.strip_prefix("vin: ").map(|rest| format!("VIN: {rest}")).unwrap_or(sentence);
    Refused::Unfit { field, sentence }
}

/// The field that a sentence begins with: as the page sent it, or the one of the message that it did not send.
fn named(kind: &KindWords, told: &str, fields: &[(&str, &str)]) -> String {
    let told = told.split('[').next().unwrap_or_default();
    let is_told = |field: &prost_reflect::FieldDescriptor| {
        field.name().replace('_', " ") == told
            || flag_name(field, &FLAGS).replace('-', " ") == told.replace('-', " ")
    };
    let own = kind.message.fields().find(is_told);
    let oneof = own.as_ref().and_then(prost_reflect::FieldDescriptor::containing_oneof);
    let sent = fields.iter().map(|(name, _)| *name).find(|name| {
        own.as_ref().is_some_and(|own| own.name() == *name)
            || oneof.as_ref().is_some_and(|oneof| oneof.name() == *name)
            || name.replace('_', " ") == told
    });
    sent.map(str::to_owned).or_else(|| own.map(|own| own.name().to_owned())).unwrap_or_default()
}

/// What somebody wrote, as far as it can be shown in a sentence.
fn shown(text: &str) -> String {
    text.chars().filter(|letter| !letter.is_control()).take(BAY_NAME_BYTES_MAX).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// An answer as a page sends it, with these fields.
    fn answered(kind: &str, fields: &[(String, String)]) -> Answered {
        let json = serde_json::json!({
            "entry_id": "01890a5d-ac96-774b-bcce-b302099a8057", "epoch": "0", "number": 1, "time_us": i64::MIN,
            "monotonic_us": -7, "boot_id": "", "person": "", "kind": kind, "fields": fields, "done_time_us": i64::MAX,
        });
        read(json.to_string().as_bytes()).unwrap()
    }

    fn kinds() -> Vec<String> {
        Words::get().unwrap().kinds().map(|kind| kind.name().to_owned()).collect()
    }

    fn names() -> Vec<String> {
        let words = Words::get().unwrap();
        let fields = words.kinds().flat_map(|kind| {
            let oneofs = kind.message.oneofs().map(|oneof| oneof.name().to_owned()).collect::<Vec<_>>();
            kind.message.fields().map(|field| field.name().to_owned()).chain(oneofs).collect::<Vec<_>>()
        });
        fields.collect()
    }

    proptest! {
        /// Only that it does not break is claimed of most; what is taken says what was understood.
        #[test]
        fn whatever_fields_a_page_sends_it_is_told_a_sentence_or_taken(
            kind in proptest::sample::select(kinds()),
            name in proptest::sample::select(names()),
            other in "\\PC{0,12}",
            text in "\\PC{0,40}",
            number in "-?[0-9]{1,9}[.,]?[0-9]{0,3} ?(L|kg|°C|km|%|N·m)?",
        ) {
            for fields in [
                vec![(name.clone(), text.clone())],
                vec![(name.clone(), number.clone()), (other.clone(), text.clone())],
                vec![(name.clone(), "yes".to_owned()), (name.clone(), number.clone())],
            ] {
                let answered = answered(&kind, &fields);
                let Ok(known) = answered.kind() else { continue };
                match answered.fact(known) {
                    Ok(read) => prop_assert!(read.fact.kind.is_some()),
                    Err(Refused::Unfit { field, sentence }) => {
                        prop_assert!(!sentence.is_empty());
                        prop_assert!(field.is_empty() || field == other || known.message.get_field_by_name(&field).is_some()
                            || known.message.oneofs().any(|oneof| oneof.name() == field), "{field}: {sentence}");
                    }
                    Err(refused) => prop_assert!(false, "{refused}"),
                }
            }
        }

        #[test]
        fn bytes_that_are_no_answer_are_told_to_reload(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            let told = matches!(read::<Answered>(&bytes), Err(Refused::Unfit { sentence, .. }) if sentence.contains("reload"));
            prop_assert!(told);
        }
    }
}
