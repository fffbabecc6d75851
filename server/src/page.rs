//! Pages of lists: how many rows, and the opaque token that says where the next page begins (AIP-158).
//!
//! A token is the last place of the page before and a check over it and the question, so that a token of another
//! question or a changed one is refused. It guards against mistakes, not against intent: a place is no secret.

use crate::clock::hex;
use crate::status::Cause;
use sha2::{Digest, Sha256};
use standpipe_proto::limits::PAGE_SIZE_MAX;

/// The number of rows of a page: what was asked, the given number when nothing was, at most the limit.
pub(crate) fn size(asked: i32, unasked: usize) -> usize {
    match usize::try_from(asked) {
        Ok(0) | Err(_) => unasked,
        Ok(asked) => asked.min(PAGE_SIZE_MAX),
    }
}

/// The token that goes on after `place` in the answers to `question`.
pub(crate) fn token(question: &[&str], place: &str) -> String {
    format!("{place}.{}", check(question, place))
}

/// The place in a token; nothing for an empty one.
///
/// # Errors
/// [`Cause::PageToken`] when the token belongs to another question or is none.
pub(crate) fn place<'a>(question: &[&str], token: &'a str) -> Result<Option<&'a str>, Cause> {
    if token.is_empty() {
        return Ok(None);
    }
    let (place, found) = token.rsplit_once('.').ok_or(Cause::PageToken)?;
    if found == check(question, place) { Ok(Some(place)) } else { Err(Cause::PageToken) }
}

/// Cuts a sorted list to one page: the rows after `place`, and the token of the next page.
pub(crate) fn cut<T>(
    rows: Vec<T>,
    question: &[&str],
    request: (i32, &str),
    key: impl Fn(&T) -> &str,
) -> Result<(Vec<T>, String), Cause> {
    let (asked, page_token) = request;
    let after = place(question, page_token)?.map(str::to_owned);
    let mut rest = rows.into_iter().filter(|row| after.as_deref().is_none_or(|after| key(row) > after));
    let page: Vec<T> = rest.by_ref().take(size(asked, PAGE_SIZE_MAX)).collect();
    let next = match (rest.next(), page.last()) {
        (Some(_), Some(last)) => token(question, key(last)),
        _ => String::new(),
    };
    Ok((page, next))
}

fn check(question: &[&str], place: &str) -> String {
    let mut digest = Sha256::new();
    for part in question.iter().chain([&place]) {
        digest.update((part.len() as u64).to_be_bytes());
        digest.update(part);
    }
    let digest: [u8; 32] = digest.finalize().into();
    hex(digest.first_chunk::<8>().map_or(&[][..], |first| first))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_goes_on_where_the_page_ended() {
        let rows = || vec!["a", "b", "c"];
        let (page, next) = cut(rows(), &["List"], (2, ""), |row| row).unwrap();
        assert_eq!(page, ["a", "b"]);
        let (page, next) = cut(rows(), &["List"], (2, &next), |row| row).unwrap();
        assert_eq!((page, next.as_str()), (vec!["c"], ""));
    }

    #[test]
    fn a_token_of_another_question_or_a_changed_one_is_refused() {
        let good = token(&["List", "plate"], "26-0042");
        assert_eq!(place(&["List", "plate"], &good).unwrap(), Some("26-0042"));
        let changed = good.replace("0042", "0043");
        for (question, wrong) in [
            (["List", "vin"], good.as_str()),
            (["List", "plate"], changed.as_str()),
            (["List", "plate"], "x"),
            (["List", "plate"], "26-0042."),
        ] {
            assert!(matches!(place(&question, wrong), Err(Cause::PageToken)), "{wrong}");
        }
    }

    #[test]
    fn a_page_is_cut_to_the_limit_and_never_refused() {
        assert_eq!((size(0, 100), size(7, 100), size(i32::MAX, 100), size(-1, 100)), (100, 7, 1000, 100));
    }
}
