//! The messages as they describe themselves: kinds of facts, comments, and JSON of any message. Read once.

use super::WordsError;
use super::{ReadFact, kebab, reading::ReadFlags};
use crate::v1::Fact;
use prost_reflect::{
    DescriptorPool, DynamicMessage, EnumValueDescriptor, FieldDescriptor, MessageDescriptor, Value,
};
use std::collections::HashMap;
use std::sync::OnceLock;

const PACKAGE: &str = "standpipe.v1";
/// Numbers of the kinds that belong to a job, as entry.proto lays them down.
const JOB_KINDS: std::ops::RangeInclusive<u32> = 10..=59;
/// Numbers of the kinds that stations state of the site; the server's own are between.
const SITE_KINDS: std::ops::RangeInclusive<u32> = 63..=79;

/// The messages and their comments.
pub struct Words {
    #[cfg(feature = "json")]
    pool: DescriptorPool,
    fact: MessageDescriptor,
    kinds: Vec<KindWords>,
    comments: HashMap<(String, Vec<i32>), String>,
}

/// A kind of fact that can be stated for a job or for the site.
#[derive(Debug, Clone)]
pub struct KindWords {
    /// Its field in the fact.
    pub field: FieldDescriptor,
    /// Its message.
    pub message: MessageDescriptor,
}

impl KindWords {
    /// Name in the messages, for example `exchange_reading`.
    #[must_use]
    pub fn name(&self) -> &str {
        self.field.name()
    }

    /// Name as it is typed, for example `exchange-reading`.
    #[must_use]
    pub fn flag_name(&self) -> String {
        kebab(self.field.name())
    }

    /// Whether its facts belong to the site and not to a job.
    #[must_use]
    pub fn is_of_site(&self) -> bool {
        SITE_KINDS.contains(&self.field.number())
    }
}

impl Words {
    /// The messages of this program.
    ///
    /// # Errors
    /// When they contradict each other, which a test excludes.
    pub fn get() -> Result<&'static Self, WordsError> {
        static WORDS: OnceLock<Result<Words, String>> = OnceLock::new();
        let words = WORDS.get_or_init(|| Self::read(crate::DESCRIPTOR_SET));
        words.as_ref().map_err(|error| WordsError::Descriptor(error.clone()))
    }

    fn read(set: &[u8]) -> Result<Self, String> {
        let pool = DescriptorPool::decode(set).map_err(|error| error.to_string())?;
        let fact = pool.get_message_by_name(&format!("{PACKAGE}.Fact")).ok_or("there is no Fact")?;
        let mut kinds = Vec::new();
        let stated = |number: u32| JOB_KINDS.contains(&number) || SITE_KINDS.contains(&number);
        for field in fact.fields().filter(|field| stated(field.number())) {
            let message = field.kind().as_message().cloned().ok_or("a kind is no message")?;
            kinds.push(KindWords { field, message });
        }
        Ok(Self {
            comments: comments(&pool),
            fact,
            kinds,
            #[cfg(feature = "json")]
            pool,
        })
    }

    /// The kinds of facts of a job and then those of the site, in the order of the messages.
    pub fn kinds(&self) -> impl Iterator<Item = &KindWords> {
        self.kinds.iter()
    }

    /// A kind by its name as typed or in the messages.
    #[must_use]
    pub fn kind(&self, name: &str) -> Option<&KindWords> {
        let name = kebab(name);
        self.kinds.iter().find(|kind| kind.flag_name() == name)
    }

    /// Name of the kind of a fact, for example `drain`; empty if it has none.
    ///
    /// # Errors
    /// When the messages of this program contradict each other.
    pub fn kind_of(&self, fact: &Fact) -> Result<String, WordsError> {
        let message = self.dynamic(&self.fact, fact)?;
        let set = self.fact.fields().find(|field| message.has_field(field));
        Ok(set.map(|field| field.name().to_owned()).unwrap_or_default())
    }

    /// Comment of a message.
    #[must_use]
    pub fn about_message(&self, message: &MessageDescriptor) -> &str {
        self.comment(message.parent_file().name(), message.path())
    }

    /// Comment of a field.
    #[must_use]
    pub fn about_field(&self, field: &FieldDescriptor) -> &str {
        self.comment(field.parent_file().name(), field.path())
    }

    /// Comment of a choice.
    #[must_use]
    pub fn about_choice(&self, choice: &EnumValueDescriptor) -> &str {
        self.comment(choice.parent_file().name(), choice.path())
    }

    /// Puts what was read for a kind into a fact.
    ///
    /// # Errors
    /// When the messages of this program contradict each other.
    pub fn fact(&self, kind: &KindWords, read: ReadFlags) -> Result<ReadFact, WordsError> {
        let fact = self.fact_of(kind, read.message)?;
        Ok(ReadFact { fact, as_typed: read.as_typed, understood: read.understood })
    }

    /// A fact with this message as its kind.
    ///
    /// # Errors
    /// When the message is not that of the kind.
    pub fn fact_of(&self, kind: &KindWords, message: DynamicMessage) -> Result<Fact, WordsError> {
        let mut fact = DynamicMessage::new(self.fact.clone());
        fact.try_set_field(&kind.field, Value::Message(message)).map_err(damaged)?;
        fact.transcode_to().map_err(damaged)
    }

    /// The message of a fact of this kind; an empty one if it is of another.
    ///
    /// # Errors
    /// When the messages of this program contradict each other.
    pub fn message_of(&self, kind: &KindWords, fact: &Fact) -> Result<DynamicMessage, WordsError> {
        let fact = self.dynamic(&self.fact, fact)?;
        let field = fact.get_field(&kind.field);
        Ok(field.as_message().cloned().unwrap_or_else(|| DynamicMessage::new(kind.message.clone())))
    }

    /// A message as JSON by the mapping of the protocol buffers (ProtoJSON), with the names of the proto files, all
    /// fields, and 64-bit integers as numbers.
    ///
    /// # Errors
    /// When the messages of this program contradict each other.
    #[cfg(feature = "json")]
    pub fn json(&self, name: &str, message: &impl prost::Message) -> Result<serde_json::Value, WordsError> {
        let descriptor = self
            .pool
            .get_message_by_name(&format!("{PACKAGE}.{name}"))
            .ok_or_else(|| WordsError::Descriptor(format!("there is no {name}")))?;
        let options = prost_reflect::SerializeOptions::new()
            .use_proto_field_name(true)
            .skip_default_fields(false)
            .stringify_64_bit_integers(false);
        self.dynamic(&descriptor, message)?
            .serialize_with_options(serde_json::value::Serializer, &options)
            .map_err(damaged)
    }

    fn dynamic(
        &self,
        descriptor: &MessageDescriptor,
        message: &impl prost::Message,
    ) -> Result<DynamicMessage, WordsError> {
        DynamicMessage::decode(descriptor.clone(), message.encode_to_vec().as_slice()).map_err(damaged)
    }

    fn comment(&self, file: &str, path: &[i32]) -> &str {
        self.comments.get(&(file.to_owned(), path.to_vec())).map_or("", String::as_str)
    }
}

fn damaged(error: impl std::fmt::Display) -> WordsError {
    WordsError::Descriptor(error.to_string())
}

fn comments(pool: &DescriptorPool) -> HashMap<(String, Vec<i32>), String> {
    let mut comments = HashMap::new();
    for file in pool.files().filter(|file| file.package_name() == PACKAGE) {
        let Some(info) = &file.file_descriptor_proto().source_code_info else { continue };
        for location in &info.location {
            let text = [location.leading_comments(), location.trailing_comments()];
            let Some(text) = text.into_iter().find(|text| !text.trim().is_empty()) else { continue };
            let lines: Vec<_> = text.lines().map(str::trim).filter(|line| !line.is_empty()).collect();
            comments.insert((file.name().to_owned(), location.path.clone()), lines.join(" "));
        }
    }
    comments
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::v1::{Drain, fact::Kind};
    #[cfg(feature = "json")]
    use crate::v1::{Job, StoryLine};

    #[test]
    fn every_kind_of_a_job_is_there_with_a_comment_and_none_of_the_site() {
        let words = Words::get().unwrap();
        let names: Vec<_> = words.kinds().map(KindWords::flag_name).collect();
        assert!(names.contains(&"exchange-reading".to_owned()) && names.contains(&"correction".to_owned()));
        assert!(!names.contains(&"station-enrolled".to_owned()));
        for kind in words.kinds() {
            assert!(words.about_message(&kind.message).ends_with('.'), "{}", kind.name());
        }
        assert_eq!(words.kind("exchange_reading").unwrap().name(), "exchange_reading");
    }

    #[test]
    fn a_fact_knows_its_kind() {
        let fact = Fact { kind: Some(Kind::Drain(Drain::default())) };
        assert_eq!(Words::get().unwrap().kind_of(&fact).unwrap(), "drain");
        assert_eq!(Words::get().unwrap().kind_of(&Fact::default()).unwrap(), "");
    }

    #[cfg(feature = "json")]
    #[test]
    fn json_has_the_names_of_the_proto_files_and_every_field() {
        let line = StoryLine {
            seq: 9_007_199_254_740_993,
            time: Some(prost_types::Timestamp::default()),
            ..StoryLine::default()
        };
        let job = Job { story: vec![line], ..Job::default() };
        let json = Words::get().unwrap().json("Job", &job).unwrap();
        assert_eq!(json["story"][0]["seq"].as_i64(), Some(9_007_199_254_740_993));
        assert_eq!(json["story"][0]["time"], "1970-01-01T00:00:00Z");
        assert_eq!(json["check_value"], "");
    }
}
