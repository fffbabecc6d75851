//! Record and handover: which edition was issued, whether the job changed since, what was handed over.
//!
//! The record is issued when the job is closed; handing over names the edition and comes after. Never here: what is
//! printed, or the bytes of an edition.

use super::fold::{Folded, tells};
use super::seen::ABOUT_RECORD;
use crate::kind::closing::Closing;
use crate::kind::handover::Handover;
use crate::kind::record_issued::RecordIssued;
use crate::text::{Sentence, sentence};
use crate::view::Finding;

/// What is left to do for a closed job, in the order in which it is done.
pub(crate) fn open(folded: &Folded) -> Vec<Sentence> {
    let Some(last) = last_issued(folded) else {
        return vec![sentence::open_issue(), sentence::open_handover()];
    };
    let edition = last.edition.to_string();
    let mut open = Vec::new();
    if changed_since(folded, last) {
        open.push(sentence::open_issue_again(&edition));
    }
    match folded.last::<Handover>() {
        None => open.push(sentence::open_handover()),
        Some((_, handover)) if handover.edition < last.edition => {
            open.push(sentence::open_handover_again(handover.edition.to_string(), &edition));
        }
        Some(_) => {}
    }
    open
}

/// A handover before the closing, or of an edition that was not issued before it.
pub(super) fn findings(folded: &Folded) -> Vec<Finding> {
    let closed = folded.last::<Closing>().map(|(stated, _)| stated.seq);
    let mut found = Vec::new();
    for (stated, handover) in folded.each::<Handover>() {
        let mut finding = |text| {
            found.push(Finding { on_record: false, ..tells(text, [stated.seq]) });
        };
        if closed.is_none_or(|closed| closed > stated.seq) {
            finding(sentence::finding_handover_open());
        }
        let issued = folded.each::<RecordIssued>();
        let known = issued.filter(|(issued, _)| issued.seq < stated.seq);
        if !known.map(|(_, issued)| issued.edition).any(|edition| edition == handover.edition) {
            finding(sentence::finding_handover_unissued(handover.edition.to_string()));
        }
    }
    found
}

fn last_issued(folded: &Folded) -> Option<&RecordIssued> {
    folded.each::<RecordIssued>().map(|(_, issued)| issued).max_by_key(|issued| issued.edition)
}

/// Whether the job has an entry that the edition did not see, other than its own issue and the handover.
fn changed_since(folded: &Folded, issued: &RecordIssued) -> bool {
    let seen = u64::try_from(issued.tree_size).unwrap_or_default();
    folded.story.iter().any(|line| line.seq > seen && !ABOUT_RECORD.contains(&line.kind))
}
