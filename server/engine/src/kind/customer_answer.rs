//! The customer was told or asked something.

use super::words::{CustomerSaid, CustomerTopic};
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// What the customer said.
#[derive(Debug, Clone, PartialEq)]
pub struct CustomerAnswer {
    /// What it was about; absent when this version does not know it.
    pub topic: Option<CustomerTopic>,
    /// What the customer said; absent when this version does not know it.
    pub said: Option<CustomerSaid>,
}

impl CustomerAnswer {
    pub(super) fn read(message: &v1::CustomerAnswer, _typed: Typed<'_>) -> Self {
        Self { topic: CustomerTopic::read(message.topic), said: CustomerSaid::read(message.said) }
    }

    /// What it was about, in words.
    #[must_use]
    pub fn about(&self) -> Sentence {
        sentence::customer_topic(self.topic.map_or("unknown", CustomerTopic::word))
    }
}

impl Kind for CustomerAnswer {
    const NAME: &'static str = "customer_answer";

    fn sentence(&self) -> Sentence {
        sentence::customer_answer(self.said.map_or("unknown", CustomerSaid::word), self.about())
    }

    super::of!(CustomerAnswer);
}
