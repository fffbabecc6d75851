//! Files beside the journal: sent in parts, fetched in parts, and a photo that says where it was taken.

use super::site::{Shown, shown};
use sha2::{Digest as _, Sha256};
use standpipe_proto::limits::BLOB_PART_BYTES_MAX;
use standpipe_proto::v1::blob_service_client::BlobServiceClient;
use standpipe_proto::v1::{GetBlobRequest, PutBlobRequest, PutBlobResponse};
use std::net::SocketAddr;
use tonic::Status;

/// A JPEG of 96 by 72 pixels without notes, drawn for the tests.
pub const PHOTO: &[u8] = include_bytes!("photo.jpg");

/// What the notes of [`photo_with_notes`] say; nothing of it may leave the station.
pub const NOTES: [&str; 3] = ["51.5007 N 0.1246 W", "camera of technician A", "taken at home"];

pub type BlobClient = BlobServiceClient<Shown>;

pub async fn blobs(address: SocketAddr, token: &str) -> BlobClient {
    BlobServiceClient::new(shown(address, token).await)
}

/// SHA-256 as 64 hexadecimal digits.
pub fn digest_of(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The photo with an application segment, a comment, and something after its end (ITU-T T.81, annex B.2).
pub fn photo_with_notes() -> Vec<u8> {
    let segment = |marker: u8, text: &str| {
        let length = u16::try_from(text.len() + 2).unwrap().to_be_bytes();
        [&[0xff, marker][..], &length, text.as_bytes()].concat()
    };
    let (start, rest) = PHOTO.split_at(2);
    let exif = segment(0xe1, &format!("Exif\0\0{}", NOTES[0]));
    [start, &exif, &segment(0xfe, NOTES[1]), rest, NOTES[2].as_bytes()].concat()
}

/// Sends a file in parts under a digest.
pub async fn put(client: &mut BlobClient, digest: &str, bytes: &[u8]) -> Result<PutBlobResponse, Status> {
    let parts: Vec<_> = bytes
        .chunks(BLOB_PART_BYTES_MAX)
        .map(|part| PutBlobRequest { blob_digest: digest.to_owned(), part: part.to_vec() })
        .collect();
    client.put_blob(tokio_stream::iter(parts)).await.map(tonic::Response::into_inner)
}

/// Fetches a whole file.
pub async fn get(client: &mut BlobClient, digest: &str) -> Result<Vec<u8>, Status> {
    let mut parts = client.get_blob(GetBlobRequest { blob_digest: digest.to_owned() }).await?.into_inner();
    let mut bytes = Vec::new();
    while let Some(part) = parts.message().await? {
        bytes.extend_from_slice(&part.part);
    }
    Ok(bytes)
}
