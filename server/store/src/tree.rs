//! The site's tree: RFC 6962 hashing, its frontier and its proofs. Pure; stores call it on write and on read.
//!
//! Leaf format. The leaf of the entry with sequence `n` (leaf index `n - 1`) is these bytes, one after another:
//! the version byte 0x01; the sequence as 8 bytes, big endian; the server's time of receipt in unix microseconds as
//! 8 bytes, big endian, two's complement; then the sealed entry exactly as the station made it. So the tree covers
//! place and server time as well as the station's bytes. Leaf hash = SHA-256(0x00 || leaf); inner node =
//! SHA-256(0x01 || left || right), split at the largest power of two below the number of leaves; the root of no
//! leaves is SHA-256 of nothing (RFC 6962 section 2.1).
//!
//! The frontier of `size` leaves is the list of the roots of its full subtrees, largest first: one for each bit set
//! in `size`. It is stored as their 32-byte hashes one after another, beside `size`.
//!
//! Job digest = SHA-256 over the leaf hashes of the job's entries, in journal order, one after another.

mod proof;

pub use proof::{
    consistency_proof, consistency_ranges, inclusion_proof, inclusion_ranges, verify_consistency,
    verify_inclusion,
};

use sha2::{Digest, Sha256};

/// A SHA-256 value.
pub type Hash = [u8; 32];

/// First byte of every leaf.
pub const LEAF_VERSION: u8 = 1;

/// RFC 6962 leaf hash of any bytes.
pub fn leaf_hash(leaf: &[u8]) -> Hash {
    Sha256::new().chain_update([0x00]).chain_update(leaf).finalize().into()
}

/// Leaf hash of an entry: its sequence (from 1), time of receipt (unix microseconds) and sealed bytes.
pub fn entry_leaf_hash(seq: u64, received_us: i64, sealed: &[u8]) -> Hash {
    Sha256::new()
        .chain_update([0x00, LEAF_VERSION])
        .chain_update(seq.to_be_bytes())
        .chain_update(received_us.to_be_bytes())
        .chain_update(sealed)
        .finalize()
        .into()
}

/// RFC 6962 hash of an inner node.
pub fn node_hash(left: &Hash, right: &Hash) -> Hash {
    Sha256::new().chain_update([0x01]).chain_update(left).chain_update(right).finalize().into()
}

/// Root over leaf hashes, by the recursive definition of RFC 6962 section 2.1.
pub fn root_of(leaves: &[Hash]) -> Hash {
    match leaves {
        [] => Sha256::digest([]).into(),
        [only] => *only,
        more => {
            let (left, right) = more.split_at(split_of(more.len()));
            node_hash(&root_of(left), &root_of(right))
        }
    }
}

/// Digest of a job from the leaf hashes of its entries in order.
pub fn job_digest<'a>(leaves: impl IntoIterator<Item = &'a Hash>) -> Hash {
    let mut digest = Sha256::new();
    for leaf in leaves {
        digest.update(leaf);
    }
    digest.finalize().into()
}

/// The largest power of two below `count`, which must be at least 2.
fn split_of(count: usize) -> usize {
    count.next_power_of_two() / 2
}

/// What must be remembered of a growing tree to append to it and to know its root.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Frontier {
    size: u64,
    peaks: Vec<Hash>,
}

impl Frontier {
    /// Number of leaves.
    pub fn size(&self) -> u64 {
        self.size
    }

    /// Appends one leaf hash.
    pub fn append(&mut self, leaf: Hash) {
        let mut node = leaf;
        // Each trailing one bit of the old size is a full subtree that the new leaf completes to a larger one.
        for _ in 0..self.size.trailing_ones() {
            if let Some(left) = self.peaks.pop() {
                node = node_hash(&left, &node);
            }
        }
        self.peaks.push(node);
        self.size += 1;
    }

    /// Root of the tree.
    pub fn root(&self) -> Hash {
        let mut peaks = self.peaks.iter().rev();
        match peaks.next() {
            None => root_of(&[]),
            Some(last) => peaks.fold(*last, |right, left| node_hash(left, &right)),
        }
    }

    /// The frontier as stored: its hashes one after another.
    pub fn encode(&self) -> Vec<u8> {
        self.peaks.concat()
    }

    /// Reads a stored frontier; `None` if the bytes do not belong to a tree of `size` leaves.
    pub fn decode(size: u64, bytes: &[u8]) -> Option<Self> {
        let (peaks, rest) = bytes.as_chunks::<32>();
        let fits = rest.is_empty() && peaks.len() == size.count_ones() as usize;
        fits.then(|| Self { size, peaks: peaks.to_vec() })
    }
}

#[cfg(test)]
mod tests;
