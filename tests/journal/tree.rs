//! The tree of the site, computed from what Read gives: RFC 6962 section 2.1 and the leaf format that the store documents.

use sha2::{Digest as _, Sha256};
use standpipe_proto::v1::RecordedEntry;

pub type Hash = [u8; 32];

fn sha256(parts: &[&[u8]]) -> Hash {
    parts.iter().fold(Sha256::new(), |hash, part| hash.chain_update(part)).finalize().into()
}

/// MTH({d(0)}) = SHA-256(0x00 || d(0)).
pub fn leaf(bytes: &[u8]) -> Hash {
    sha256(&[&[0], bytes])
}

/// The leaf of an entry: version 1, place, microseconds of receipt (both 8 bytes, big endian), the sealed bytes.
pub fn leaf_of(entry: &RecordedEntry) -> Hash {
    let received = entry.received_time.as_ref().unwrap();
    let received_us = received.seconds * 1_000_000 + i64::from(received.nanos / 1_000);
    let place = u64::try_from(entry.seq).unwrap().to_be_bytes();
    leaf(&[&[1], &place[..], &received_us.to_be_bytes()[..], &entry.entry[..]].concat())
}

/// MTH(D[n]) = SHA-256(0x01 || MTH(D[0:k]) || MTH(D[k:n])), k the largest power of two below n.
pub fn root(leaves: &[Hash]) -> Hash {
    match leaves {
        [] => sha256(&[]),
        [one] => *one,
        more => {
            let k = 1 << (usize::BITS - 1 - (more.len() - 1).leading_zeros());
            sha256(&[&[1], &root(&more[..k]), &root(&more[k..])])
        }
    }
}

/// First 16 hexadecimal digits of SHA-256 over the leaf hashes of a job in order.
pub fn check_value(leaves: &[Hash]) -> String {
    let digest = sha256(&leaves.iter().map(|leaf| &leaf[..]).collect::<Vec<_>>());
    digest[..8].iter().map(|byte| format!("{byte:02x}")).collect()
}

#[test]
fn the_root_is_that_of_the_open_vectors_of_certificate_transparency() {
    // The table names its source: RFC 6962 section 2.1 and the open test vectors.
    let table: serde_json::Value =
        serde_json::from_str(include_str!("../reference/shop_merkle.json")).unwrap();
    let hex = |text: &str| -> Vec<u8> {
        (0..text.len()).step_by(2).map(|at| u8::from_str_radix(&text[at..at + 2], 16).unwrap()).collect()
    };
    let mut compared = 0;
    for case in table["cases"].as_array().unwrap() {
        let Some(leaves) = case["leaves"].as_array() else { continue };
        let leaves: Vec<Hash> = leaves.iter().map(|text| leaf(&hex(text.as_str().unwrap()))).collect();
        assert_eq!(root(&leaves)[..], hex(case["root"].as_str().unwrap()), "{}", case["id"]);
        compared += 1;
    }
    assert_eq!(compared, 7);
}
