//! What the photos say that readings of a job name: read once, when they have arrived, and kept beside the journal.
//!
//! The same bytes give the same extract, so the same journal and files give the same figures. Called by
//! [`crate::workshop`] wherever entries are computed. Never here: how a photo is read, which is the engine's.

use crate::blob::{Found, print};
use crate::error::ServerError;
use crate::status::Cause;
use crate::workshop::{Workshop, off_the_network};
use prost::Message as _;
use standpipe_engine::photo::{EDITION, Extracts, Known, Outcome, extract};
use standpipe_proto::v1::{Entry, Fact, correction, fact::Kind};
use standpipe_store::StoredEntry;
use std::collections::BTreeSet;
use std::sync::Arc;

/// How the digest of a reading begins in an entry: field 13, 64 bytes (protobuf encoding). Most entries have none and
/// need not be decoded for it.
const BEGINS: [u8; 2] = [13 << 3 | 2, 64];

/// What is known of the photos that these entries name.
pub(crate) async fn of(workshop: &Workshop, entries: &[StoredEntry]) -> Result<Arc<Extracts>, Cause> {
    let mut known = Vec::new();
    for digest in named(entries) {
        if let Some(found) = one(workshop, &digest).await? {
            known.push((digest, found));
        }
    }
    Ok(Arc::new(known.into_iter().collect()))
}

/// What is known of one photo; nothing while it has not arrived, or when it is damaged, which the check of the files
/// tells.
async fn one(workshop: &Workshop, digest: &str) -> Result<Option<Known>, Cause> {
    let (blobs, name) = (Arc::clone(&workshop.blobs), digest.to_owned());
    match off_the_network(move || blobs.look_for(&name)).await?? {
        Found::Erased => return Ok(Some(Known::Erased)),
        Found::Absent => return Ok(None),
        Found::Bytes(_) => {}
    }
    let kept = workshop.beside.photo_extract(digest, EDITION).await?;
    if let Some(outcome) = kept.and_then(|kept| serde_json::from_str::<Outcome>(&kept).ok()) {
        return Ok(Some(Known::There(outcome)));
    }
    let (blobs, name) = (Arc::clone(&workshop.blobs), digest.to_owned());
    let bytes = match off_the_network(move || blobs.get(&name)).await? {
        Ok(Found::Bytes(bytes)) => bytes,
        Ok(Found::Erased) => return Ok(Some(Known::Erased)),
        Ok(Found::Absent) => return Ok(None),
        Err(damaged @ ServerError::BlobDamaged { .. }) => {
            tracing::warn!(%damaged, "a photo cannot be read");
            return Ok(None);
        }
        Err(error) => return Err(error.into()),
    };
    // It goes on by itself when whoever asked goes away, so that the same photo is not read again and again.
    let (beside, digest) = (Arc::clone(&workshop.beside), digest.to_owned());
    let reading = tokio::spawn(async move {
        let outcome = print::alone(move || extract(&bytes)).await?;
        let text =
            serde_json::to_string(&outcome).map_err(|error| Cause::internal("keeping an extract", &error))?;
        beside.put_photo_extract(&digest, EDITION, &text).await?;
        Ok::<_, Cause>(outcome)
    });
    let outcome = reading.await.map_err(|error| Cause::internal("reading a photo", &error))??;
    Ok(Some(Known::There(outcome)))
}

/// Digests of the photos that readings name, put right or not.
fn named(entries: &[StoredEntry]) -> BTreeSet<String> {
    let may_name = |entry: &&StoredEntry| entry.bytes.windows(BEGINS.len()).any(|pair| pair == BEGINS);
    let facts = entries.iter().filter(may_name).filter_map(|entry| Entry::decode(&*entry.bytes).ok()?.fact);
    facts.filter_map(in_fact).collect()
}

fn in_fact(fact: Fact) -> Option<String> {
    match fact.kind? {
        Kind::ExchangeReading(reading) => Some(reading.photo_digest).filter(|digest| !digest.is_empty()),
        Kind::Correction(correction) => match correction.outcome? {
            correction::Outcome::Replacement(fact) => in_fact(*fact),
            correction::Outcome::Withdrawn(_) => None,
        },
        _ => None,
    }
}
