//! Which decisions and corrections count only when they are signed, and which were.
//!
//! Where the revision says so, a decision counts once a later entry says that its person's PIN was given for it. So
//! does a correction of a decision, and any correction made after the record was issued. Until then the entry is kept,
//! told, and an open point. Called by [`super::fold`]; never here: what a decision decides.

use super::Context;
use super::fold::{Folded, tells};
use crate::text::{Sentence, sentence};
use crate::view::{Finding, OpenPoint};
use standpipe_proto::v1::{self, fact::Kind as MessageKind};
use std::collections::HashMap;

/// An entry that is signed, or has to be.
#[derive(Debug, Clone, PartialEq)]
pub struct ToSign {
    /// Place in the journal.
    pub seq: u64,
    /// Identity of the entry.
    pub entry_id: String,
    /// Code of the person whose PIN it needs.
    pub person: String,
    /// Whether the PIN was given.
    pub signed: bool,
    /// What it is.
    pub(super) what: Signable,
}

/// What is signed.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Signable {
    /// A decision.
    Decision {
        /// The open point, by its key.
        point: String,
        /// The open point in words.
        point_in_words: String,
        /// Why.
        reason: String,
        /// When it was made, microseconds since 1970.
        time_us: i64,
    },
    /// A correction of the entry at this place.
    Correction {
        /// Place of the corrected entry.
        of: u64,
    },
}

impl ToSign {
    /// Whether it waits for its signature.
    #[must_use]
    pub fn waits(&self) -> bool {
        !self.signed
    }

    /// The decision that waits, by its key.
    pub(crate) fn waiting_decision(&self) -> Option<&str> {
        match &self.what {
            Signable::Decision { point, .. } if !self.signed => Some(point),
            _ => None,
        }
    }

    /// What is still to be done, with the way to do it; where persons are off without it, since the way names who.
    pub(crate) fn open_point(&self, context: &Context<'_>) -> Sentence {
        if !context.persons {
            return match &self.what {
                Signable::Decision { point_in_words, .. } => {
                    sentence::open_sign_decision_unnamed(point_in_words)
                }
                Signable::Correction { of } => sentence::open_sign_correction_unnamed(of.to_string()),
            };
        }
        let (code, person) = (self.person.as_str(), context.person(&self.person));
        match &self.what {
            Signable::Decision { point_in_words, .. } => {
                sentence::open_sign_decision(code, person, point_in_words)
            }
            Signable::Correction { of } => sentence::open_sign_correction(code, person, of.to_string()),
        }
    }

    fn finding(&self, context: &Context<'_>) -> Finding {
        let person = context.person(&self.person);
        let text = match &self.what {
            Signable::Decision { point_in_words, .. } => {
                sentence::finding_decision_unsigned(person, point_in_words)
            }
            Signable::Correction { of } => {
                sentence::finding_correction_unsigned(of.to_string(), person, self.seq.to_string())
            }
        };
        tells(text, [self.seq])
    }

    /// A decision that waits, as a line of the record.
    pub(super) fn listed(&self, context: &Context<'_>) -> Option<Sentence> {
        match &self.what {
            Signable::Decision { point_in_words, reason, time_us, .. } if !self.signed => {
                let (person, time) = (context.person(&self.person), context.day_and_clock(*time_us));
                Some(sentence::listed_decision_unsigned(person, point_in_words, reason, time))
            }
            _ => None,
        }
    }
}

/// What waits for a signature, as open points; no gate is named, since the gate says what it lacks without it.
pub(crate) fn open_points(context: &Context<'_>, folded: &Folded) -> Vec<OpenPoint> {
    let waiting = folded.to_sign.iter().filter(|it| it.waits());
    waiting.map(|it| OpenPoint { gate: "", text: it.open_point(context) }).collect()
}

/// What waits for a signature, as findings.
pub(super) fn findings(context: &Context<'_>, folded: &Folded) -> Vec<Finding> {
    folded.to_sign.iter().filter(|it| it.waits()).map(|it| it.finding(context)).collect()
}

/// The signatures of a job.
#[derive(Default)]
pub(super) struct Signatures {
    /// Whether anything has to be signed.
    needed: bool,
    /// Place of the first edition of the record that was issued.
    issued_at: Option<u64>,
    /// By the identity of the signed entry: place of the signature and whose PIN it was.
    given: HashMap<String, Vec<(u64, String)>>,
}

impl Signatures {
    /// Reads them from place, header and fact of every entry.
    pub(super) fn of<'a>(
        context: &Context<'_>,
        entries: impl Iterator<Item = (u64, &'a v1::Header, &'a MessageKind)>,
    ) -> Self {
        let mut signatures = Self { needed: context.workshop().decisions_signed, ..Self::default() };
        for (seq, header, kind) in entries {
            match kind {
                MessageKind::Signature(signature) => {
                    for entry_id in &signature.signed_entry_ids {
                        let of_entry = signatures.given.entry(entry_id.clone()).or_default();
                        of_entry.push((seq, header.person_code.clone()));
                    }
                }
                MessageKind::RecordIssued(_) => {
                    signatures.issued_at.get_or_insert(seq);
                }
                _ => {}
            }
        }
        signatures
    }

    /// Whether a decision has to be signed.
    pub(super) fn need_decision(&self) -> bool {
        self.needed
    }

    /// Whether a correction at this place has to be signed.
    pub(super) fn need_correction(&self, seq: u64, of_decision: bool) -> bool {
        self.needed && (of_decision || self.issued_at.is_some_and(|issued| issued < seq))
    }

    /// Whether a later entry says that the PIN of the entry's own person was given for it.
    pub(super) fn has(&self, seq: u64, header: &v1::Header) -> bool {
        let given = self.given.get(&header.entry_id);
        given.is_some_and(|given| given.iter().any(|(at, person)| *at > seq && *person == header.person_code))
    }
}
