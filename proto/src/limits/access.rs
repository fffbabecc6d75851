//! The rows of who comes in: joining, tokens, signatures.

use super::{Bound, Form, JOB_NAME, Span, WHY_PART, row, text, whole};

/// Seconds that a code to join is good.
pub const JOIN_CODE_SECONDS: u64 = 600;
/// Wrong guesses that a code to join stands; after so many it is not good.
pub const JOIN_CODE_TRIES_MAX: u32 = 5;
/// Wrong codes that one address may show within the time that a code is good; after so many none of its codes is looked
/// at. More than one code stands, since several people type behind one address.
pub const JOIN_GUESSES_PER_ADDRESS_MAX: u32 = 20;
/// Addresses whose wrong codes are counted at once.
pub const JOIN_GUESSING_ADDRESSES_MAX: usize = 1_000;

const ENTRY_ID: Span = text(36, 36, Form::UuidV7);
/// Most entries that one signature covers.
const SIGNED_AT_ONCE_MAX: usize = 100;
const TOKEN: Span = text(64, 64, Form::Hex);

pub(super) const ACCESS: &[Bound] = &[
    row("JoinRequest", "secret", text(10, 10, Form::LettersAndDigits), "50 random bits, five in a character"),
    row("JoinRequest", "token", TOKEN, "256 random bits"),
    row("JoinRequest", "brings_journal", Span::Flag, "yes or no"),
    row("JoinRequest", "site_id", text(0, 40, Form::Name), "as the site was founded"),
    row("JoinRequest", "founding", Span::Bytes { greatest: 32 }, "SHA-256"),
    row("RenewTokenRequest", "token", TOKEN, "256 random bits"),
    row("SignRequest", "job", JOB_NAME, "identity or number of a job"),
    row("SignRequest", "person_code", text(1, 8, Form::LettersAndDigits), "a code, never a name"),
    row("SignRequest", "pin", text(4, 12, Form::LettersAndDigits), "digits that a person remembers"),
    Bound { items: SIGNED_AT_ONCE_MAX, ..row("SignRequest", "entry_ids", ENTRY_ID, "RFC 9562, version 7") },
    row("WatchRequest", "after_seq", whole(0, i64::MAX, ""), "a place in the journal"),
    row("Fact", "signature", Span::Part { needed: false }, WHY_PART),
    Bound {
        items: SIGNED_AT_ONCE_MAX,
        ..row("Signature", "signed_entry_ids", ENTRY_ID, "RFC 9562, version 7")
    },
];
