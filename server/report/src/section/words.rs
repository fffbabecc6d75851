//! Words of persons that stand beside the journal, where they belong: erased and not yet arrived are said.

use standpipe_engine::text::{Arg, Sentence, sentence};
use standpipe_engine::view::RemarkView;

use crate::options::Given;

/// All words about a subject, in the order of the entries.
pub(super) fn about(given: &Given<'_>, subject: &str) -> Vec<Sentence> {
    let remarks = given.view.remarks.iter().filter(|remark| subject_of(remark) == Some(subject));
    remarks.map(|remark| of(given, remark)).collect()
}

/// The words of one remark, in quotation marks.
pub(super) fn of(given: &Given<'_>, remark: &RemarkView) -> Sentence {
    match given.options.remarks.iter().find(|known| known.digest == remark.digest) {
        Some(known) => match &known.words {
            Some(words) => sentence::record_words(words.trim()),
            None => sentence::record_words_erased(),
        },
        None => sentence::record_words_not_arrived(),
    }
}

/// The word that a remark's subject is chosen by.
pub(super) fn subject_of(remark: &RemarkView) -> Option<&str> {
    chosen(&remark.subject)
}

/// The word that chooses the form of a sentence, if one does.
pub(super) fn chosen(said: &Sentence) -> Option<&str> {
    said.args().iter().find_map(|(_, arg)| match arg {
        Arg::Text(word) => Some(word.as_str()),
        _ => None,
    })
}
