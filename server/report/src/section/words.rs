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

/// All words about a subject in at most so many characters, in the order of the entries; what is cut off is said by …
pub(crate) fn in_brief(given: &Given<'_>, subject: &str, characters_max: usize) -> Vec<Sentence> {
    let mut room = characters_max;
    let mut said = Vec::new();
    for remark in given.view.remarks.iter().filter(|remark| subject_of(remark) == Some(subject)) {
        let known = given.options.remarks.iter().find(|known| known.digest == remark.digest);
        let Some(words) = known.and_then(|known| known.words.as_deref()) else {
            said.push(of(given, remark));
            continue;
        };
        let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
        let brief: String = words.chars().take(room).collect();
        let whole = brief.len() == words.len();
        room -= brief.chars().count();
        said.push(sentence::record_words(if whole { brief } else { format!("{}…", brief.trim_end()) }));
        if !whole {
            break;
        }
    }
    said
}

/// The word that a remark's subject is chosen by.
pub(crate) fn subject_of(remark: &RemarkView) -> Option<&str> {
    chosen(&remark.subject)
}

/// The word that chooses the form of a sentence, if one does.
pub(super) fn chosen(said: &Sentence) -> Option<&str> {
    said.args().iter().find_map(|(_, arg)| match arg {
        Arg::Text(word) => Some(word.as_str()),
        _ => None,
    })
}
