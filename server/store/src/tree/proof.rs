//! Inclusion and consistency proofs: which subtrees they need, and how they are checked. Pure; a store asks for the
//! ranges of leaves, computes their roots as it likes, and hands them out as the proof.

use super::{Hash, node_hash, root_of};
use std::ops::Range;

/// Leaf ranges whose roots, in order, are the inclusion proof of leaf `index` in a tree of `size` leaves
/// (RFC 6962 section 2.1.1); `None` unless `index < size`.
pub fn inclusion_ranges(index: u64, size: u64) -> Option<Vec<Range<u64>>> {
    if index >= size {
        return None;
    }
    let mut ranges = Vec::new();
    let (mut start, mut end) = (0, size);
    while end - start > 1 {
        let middle = start + split(end - start);
        if index < middle {
            ranges.push(middle..end);
            end = middle;
        } else {
            ranges.push(start..middle);
            start = middle;
        }
    }
    ranges.reverse();
    Some(ranges)
}

/// Leaf ranges whose roots, in order, are the consistency proof between trees of `old` and `new` leaves
/// (RFC 6962 section 2.1.2); `None` unless `old <= new`. Empty if `old` is 0 or equals `new`.
pub fn consistency_ranges(old: u64, new: u64) -> Option<Vec<Range<u64>>> {
    if old > new {
        return None;
    }
    let mut ranges = Vec::new();
    if old == 0 || old == new {
        return Some(ranges);
    }
    let (mut start, mut end) = (0, new);
    let mut whole_old_tree = true;
    while old < end {
        let middle = start + split(end - start);
        if old <= middle {
            ranges.push(middle..end);
            end = middle;
        } else {
            ranges.push(start..middle);
            start = middle;
            whole_old_tree = false;
        }
    }
    if !whole_old_tree {
        ranges.push(start..end);
    }
    ranges.reverse();
    Some(ranges)
}

/// Inclusion proof from all leaf hashes; `None` unless `index` is one of them.
pub fn inclusion_proof(leaves: &[Hash], index: u64) -> Option<Vec<Hash>> {
    roots(leaves, inclusion_ranges(index, leaves.len() as u64)?)
}

/// Consistency proof from all leaf hashes of the newer tree; `None` if the older would be larger.
pub fn consistency_proof(leaves: &[Hash], old: u64) -> Option<Vec<Hash>> {
    roots(leaves, consistency_ranges(old, leaves.len() as u64)?)
}

/// Whether `proof` shows that `leaf` stands at `index` in the tree with `size` leaves and this root
/// (RFC 9162 section 2.1.3.2).
pub fn verify_inclusion(leaf: &Hash, index: u64, size: u64, proof: &[Hash], root: &Hash) -> bool {
    if index >= size {
        return false;
    }
    let (mut place, mut last) = (index, size - 1);
    let mut node = *leaf;
    for sibling in proof {
        if last == 0 {
            return false;
        }
        if place & 1 == 1 || place == last {
            node = node_hash(sibling, &node);
            while place & 1 == 0 && place != 0 {
                place >>= 1;
                last >>= 1;
            }
        } else {
            node = node_hash(&node, sibling);
        }
        place >>= 1;
        last >>= 1;
    }
    last == 0 && node == *root
}

/// Whether `proof` shows that the tree with `old` leaves is a prefix of the tree with `new` leaves
/// (RFC 9162 section 2.1.4.2). A tree without leaves is a prefix of every tree.
pub fn verify_consistency(old: u64, new: u64, old_root: &Hash, new_root: &Hash, proof: &[Hash]) -> bool {
    if old > new {
        return false;
    }
    if old == 0 {
        return proof.is_empty() && *old_root == root_of(&[]);
    }
    if old == new {
        return proof.is_empty() && old_root == new_root;
    }
    let (first, rest) = if old.is_power_of_two() {
        (*old_root, proof)
    } else {
        match proof.split_first() {
            Some((first, rest)) => (*first, rest),
            None => return false,
        }
    };
    let (mut place, mut last) = (old - 1, new - 1);
    while place & 1 == 1 {
        place >>= 1;
        last >>= 1;
    }
    let (mut older, mut newer) = (first, first);
    for sibling in rest {
        if last == 0 {
            return false;
        }
        if place & 1 == 1 || place == last {
            older = node_hash(sibling, &older);
            newer = node_hash(sibling, &newer);
            while place & 1 == 0 && place != 0 {
                place >>= 1;
                last >>= 1;
            }
        } else {
            newer = node_hash(&newer, sibling);
        }
        place >>= 1;
        last >>= 1;
    }
    last == 0 && older == *old_root && newer == *new_root
}

/// The largest power of two below `count`, which must be at least 2.
fn split(count: u64) -> u64 {
    count.next_power_of_two() / 2
}

/// Roots of ranges of known leaf hashes.
fn roots(leaves: &[Hash], ranges: Vec<Range<u64>>) -> Option<Vec<Hash>> {
    ranges
        .into_iter()
        .map(|range| {
            let (start, end) = (usize::try_from(range.start).ok()?, usize::try_from(range.end).ok()?);
            leaves.get(start..end).map(root_of)
        })
        .collect()
}
