//! The files of a revision in answers that fit into a message. Called by the handlers that give them.

use super::Files;
use crate::page;
use crate::status::Cause;

/// The files of one answer: as many as were asked for and fit into a message, at least one.
pub(crate) fn files_of_page(
    files: Files,
    question: &[&str],
    asked: (i32, &str),
    most_bytes: usize,
) -> Result<(Files, String), Cause> {
    let (mut page, mut next) = page::cut(files, question, asked, |(name, _)| name)?;
    let mut bytes = 0;
    let fits = page.iter().take_while(|(_, content)| {
        bytes += content.len();
        bytes <= most_bytes
    });
    let fits = fits.count().max(1);
    if fits < page.len() {
        page.truncate(fits);
        next = page.last().map(|(name, _)| page::token(question, name)).unwrap_or_default();
    }
    Ok((page, next))
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_proto::limits::MESSAGE_BYTES_MAX;

    #[test]
    fn a_revision_comes_in_pages_that_fit_into_a_message_and_hold_every_file_once() {
        let most_bytes = MESSAGE_BYTES_MAX - 128 * 1024;
        let file = |number: usize| (format!("elm-{number:03}.toml"), vec![b'#'; 200 * 1024]);
        let files: Files = (0..11).map(file).collect();
        for (size, most) in [(0, 4), (3, 3), (1, 1)] {
            let (mut found, mut token) = (Files::new(), String::new());
            loop {
                let (page, next) =
                    files_of_page(files.clone(), &["GetRevision", "id"], (size, &token), most_bytes).unwrap();
                assert!((1..=most).contains(&page.len()), "{}", page.len());
                assert!(page.iter().map(|(_, content)| content.len()).sum::<usize>() < MESSAGE_BYTES_MAX);
                found.extend(page);
                token = next;
                if token.is_empty() {
                    break;
                }
            }
            assert_eq!(found, files);
        }
    }
}
