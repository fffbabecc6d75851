//! What stands beside the journal, on the page of a job: the words of people, and photos as pictures.
//!
//! Each is shown with its digest, by which it is erased. A photo is given as the copy that the record prints, and only
//! under a job that names it. Never here: a record, or a file of another kind.

use super::Office;
use super::guard::SignedIn;
use super::language::{Words, say, word};
use super::trouble::{Trouble, capital};
use crate::blob::{self, Found};
use crate::convert::words;
use crate::record::{self, Spoken};
use crate::status::Cause;
use crate::workshop::Workshop;
use axum::extract::{Path, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use maud::{Markup, html};
use standpipe_engine::text::sentence;
use standpipe_engine::view::JobView;
use standpipe_store::JobRow;
use std::sync::Arc;

/// A photo as the page shows it.
struct Picture {
    digest: String,
    caption: String,
    /// Why there is none; absent when there is one.
    missing: Option<Words>,
}

/// Words and photos of a job.
pub(super) async fn shown(workshop: &Workshop, row: &JobRow, view: &JobView) -> Result<Markup, Trouble> {
    let spoken = record::spoken(workshop, row, view).await?;
    let mut pictures = Vec::new();
    for photo in &view.photos {
        let missing: Option<Words> = match workshop.blob(&photo.digest).await {
            Ok(Found::Bytes(_)) => None,
            Ok(Found::Erased) => Some(sentence::page_photo_erased),
            Ok(Found::Absent) => Some(sentence::page_photo_absent),
            Err(Cause::BlobDamaged { .. }) => Some(sentence::page_photo_damaged),
            Err(error) => return Err(error.into()),
        };
        let caption = capital(&words(workshop.language(row), &photo.caption)?);
        pictures.push(Picture { digest: photo.digest.clone(), caption, missing });
    }
    let number = &view.head.number;
    Ok(html! {
        @if !spoken.is_empty() {
            h2 { (say!(page_in_words)) }
            ul {
                @for Spoken { digest, subject, text } in &spoken {
                    li { (capital(subject)) ": " (text) (digest_to_erase(digest)) }
                }
            }
        }
        @if !pictures.is_empty() {
            h2 { (say!(page_photos)) }
            div.photos {
                @for Picture { digest, caption, missing } in &pictures {
                    figure {
                        @match missing {
                            None => img src={ "/job/" (number) "/photo/" (digest) } alt=(caption) loading="lazy";,
                            Some(why) => p { (word(*why)) },
                        }
                        figcaption { (caption) (digest_to_erase(digest)) }
                    }
                }
            }
        }
    })
}

fn digest_to_erase(digest: &str) -> Markup {
    html! { details.quiet.only-screen { summary { (say!(page_digest_to_erase_it)) } code { (digest) } } }
}

/// A photo that the job names.
pub(super) async fn photo(
    State(office): State<Arc<Office>>,
    _person: SignedIn,
    Path((job, digest)): Path<(String, String)>,
) -> Result<impl IntoResponse, Trouble> {
    let workshop = &*office.workshop;
    let row = workshop.find(&job).await?;
    let computed = workshop.computed(&row).await?;
    if !computed.view.photos.iter().any(|photo| photo.digest == digest) {
        return Err(Trouble::NoPage);
    }
    let kept = match workshop.blob(&digest).await? {
        Found::Bytes(kept) => kept,
        Found::Erased => return Err(Cause::BlobErased { digest }.into()),
        Found::Absent => return Err(Cause::BlobUnknown { digest }.into()),
    };
    let copied = blob::print::copied(kept).await?;
    let jpeg = copied.map_err(|what| Cause::BlobRefused { what })?;
    Ok(([(CONTENT_TYPE, "image/jpeg")], jpeg))
}
