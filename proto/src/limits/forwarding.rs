//! The rows of what a workshop's server brings to its owner's.

use super::{
    Bound, CATALOGUE_FILE_BYTES_MAX, CATALOGUE_FILES_MAX, DIGEST, ENTRY_BYTES_MAX, Form, MESSAGE_BYTES_MAX,
    PAGE_SIZE, PAGE_TOKEN, Span, WHY_PAGE, WHY_PART, row, text, whole,
};

/// Most entries that are brought or given back at once.
pub const FORWARD_ENTRIES_MAX: usize = 1_024;
/// Greatest size of these entries together, as the stations sealed them, in bytes.
pub const FORWARD_BYTES_MAX: usize = MESSAGE_BYTES_MAX;
/// Greatest size of a call or an answer of forwarding, in bytes, after it was unpacked: the entries and what stands around
/// each of them.
pub const FORWARD_MESSAGE_BYTES_MAX: usize = FORWARD_BYTES_MAX + 128 * FORWARD_ENTRIES_MAX;
/// Most catalogue revisions of one site that an owner's server keeps.
pub const REVISIONS_OF_SITE_MAX: usize = 1_000;
/// Greatest size of the files of all these revisions together, in bytes.
pub const REVISIONS_OF_SITE_BYTES_MAX: u64 = 256 * 1024 * 1024;
/// Most sites whose journals an owner's server keeps.
pub const SITES_MAX: usize = 1_000;

const SITE: Span = text(1, 40, Form::Name);
const WHY_SITE: &str = "as the site was founded";
const HASH: Span = Span::Bytes { greatest: 32 };
const EPOCH: Span = Span::Bytes { greatest: 16 };
/// The leaf of an entry covers its time, so also one of a clock that was wrong must cross.
const WHY_MOMENT: &str = "64 bits of microseconds";
const WHY_HASH: &str = "SHA-256";
const WHY_EPOCH: &str = "128 random bits";
/// Hashes of a consistency proof: two for each bit of a size at most.
const PROOF_HASHES_MAX: usize = 128;

pub(super) const FORWARDING: &[Bound] = &[
    row("JournalPoint", "epoch", EPOCH, WHY_EPOCH),
    row("JournalPoint", "size", whole(0, i64::MAX, "entries"), "counted from 1"),
    row("JournalPoint", "root", HASH, WHY_HASH),
    row("CompareJournalRequest", "site_id", SITE, WHY_SITE),
    row("CompareJournalRequest", "site_name", text(1, 80, Form::Words), "one line of the record"),
    row("CompareJournalRequest", "here", Span::Part { needed: true }, WHY_PART),
    row("CompareJournalRequest", "proof_from", whole(0, i64::MAX, "entries"), "counted from 1"),
    Bound { items: PROOF_HASHES_MAX, ..row("CompareJournalRequest", "proof", HASH, WHY_HASH) },
    row("CompareJournalRequest", "founding", HASH, WHY_HASH),
    row("ForwardEntriesRequest", "site_id", SITE, WHY_SITE),
    row("ForwardEntriesRequest", "epoch", EPOCH, WHY_EPOCH),
    row("ForwardEntriesRequest", "first_seq", whole(1, i64::MAX, ""), "counted from 1"),
    row("ForwardEntriesRequest", "root_before", HASH, WHY_HASH),
    Bound {
        items: FORWARD_ENTRIES_MAX,
        ..row("ForwardEntriesRequest", "entries", Span::Part { needed: false }, WHY_PART)
    },
    row("ForwardEntriesRequest", "root_after", HASH, WHY_HASH),
    row("ForwardedEntry", "received_time", Span::Moment { needed: true }, WHY_MOMENT),
    row("ForwardedEntry", "entry", Span::Bytes { greatest: ENTRY_BYTES_MAX }, "one entry"),
    row("ForwardedEntry", "job_year", whole(-9_999, 9_999, ""), "as the clock was, or none"),
    row("ForwardedEntry", "job_ordinal", whole(0, i32::MAX as i64, ""), "counted from 1, or none"),
    row("ReturnEntriesRequest", "site_id", SITE, WHY_SITE),
    row("ReturnEntriesRequest", "first_seq", whole(1, i64::MAX, ""), "counted from 1"),
    row("ListSharedRevisionsRequest", "page_size", PAGE_SIZE, WHY_PAGE),
    row("ListSharedRevisionsRequest", "page_token", PAGE_TOKEN, "as the server made it"),
    row("GetSharedRevisionRequest", "revision_id", DIGEST, WHY_HASH),
    row("GetSharedRevisionRequest", "page_size", PAGE_SIZE, WHY_PAGE),
    row("GetSharedRevisionRequest", "page_token", PAGE_TOKEN, "as the server made it"),
    row("PutSharedRevisionRequest", "site_id", SITE, WHY_SITE),
    row("PutSharedRevisionRequest", "revision_id", DIGEST, WHY_HASH),
    Bound {
        items: CATALOGUE_FILES_MAX,
        ..row("PutSharedRevisionRequest", "files", Span::Part { needed: false }, WHY_PART)
    },
    row("RevisionFile", "name", text(6, 64, Form::Name), "a name of a file, without a folder"),
    row("RevisionFile", "content", Span::Bytes { greatest: CATALOGUE_FILE_BYTES_MAX }, "one file"),
];
