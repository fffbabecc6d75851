//! The tree against published vectors: tests/reference/shop_merkle.json names its source.

use super::*;
use proptest::prelude::*;
use serde_json::Value;

fn unhex(text: &str) -> Vec<u8> {
    assert!(text.len().is_multiple_of(2), "odd hex text {text}");
    (0..text.len()).step_by(2).map(|at| u8::from_str_radix(&text[at..at + 2], 16).unwrap()).collect()
}

fn hash(value: &Value) -> Hash {
    unhex(value.as_str().unwrap()).try_into().unwrap()
}

fn proof(case: &Value) -> Vec<Hash> {
    case["proof"].as_array().unwrap().iter().map(hash).collect()
}

fn number(case: &Value, key: &str) -> u64 {
    case[key].as_u64().unwrap()
}

/// The eight leaves that the proofs of the file are about: those of its largest tree.
fn published_leaves(cases: &[Value]) -> Vec<Hash> {
    let largest = cases.iter().filter_map(|case| case["leaves"].as_array()).max_by_key(|leaves| leaves.len());
    largest.unwrap().iter().map(|leaf| leaf_hash(&unhex(leaf.as_str().unwrap()))).collect()
}

#[test]
fn every_published_vector_is_reproduced() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/shop_merkle.json");
    let file: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    assert!(file["source"].as_str().unwrap().contains("RFC 6962"));
    let cases = file["cases"].as_array().unwrap();
    let leaves = published_leaves(cases);
    let (mut roots, mut inclusions, mut consistencies) = (0, 0, 0);
    for case in cases {
        let id = case["id"].as_str().unwrap();
        match case["kind"].as_str() {
            None => {
                let mut frontier = Frontier::default();
                let own: Vec<Hash> = case["leaves"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .map(|l| leaf_hash(&unhex(l.as_str().unwrap())))
                    .collect();
                own.iter().for_each(|leaf| frontier.append(*leaf));
                assert_eq!(root_of(&own), hash(&case["root"]), "{id}");
                assert_eq!(frontier.root(), hash(&case["root"]), "{id}");
                roots += 1;
            }
            Some("inclusion") => {
                let (index, size) = (number(case, "index"), number(case, "size"));
                let expected = proof(case);
                assert_eq!(inclusion_proof(&leaves[..size as usize], index).unwrap(), expected, "{id}");
                let leaf = leaf_hash(&unhex(case["leaf"].as_str().unwrap()));
                assert!(verify_inclusion(&leaf, index, size, &expected, &hash(&case["root"])), "{id}");
                inclusions += 1;
            }
            Some("consistency") => {
                let (old, new) = (number(case, "old"), number(case, "new"));
                let expected = proof(case);
                assert_eq!(consistency_proof(&leaves[..new as usize], old).unwrap(), expected, "{id}");
                let (old_root, new_root) = (hash(&case["old_root"]), hash(&case["new_root"]));
                assert!(verify_consistency(old, new, &old_root, &new_root, &expected), "{id}");
                consistencies += 1;
            }
            Some(other) => panic!("case {id} has the unknown kind {other}"),
        }
    }
    assert_eq!((roots, inclusions, consistencies), (7, 5, 5));
    assert_eq!(roots + inclusions + consistencies, cases.len());
}

fn some_leaves(count: usize) -> Vec<Hash> {
    (0..count as u64).map(|n| leaf_hash(&n.to_be_bytes())).collect()
}

#[test]
fn every_proof_up_to_33_leaves_checks_and_no_changed_one_does() {
    let leaves = some_leaves(33);
    for size in 1..=leaves.len() {
        let root = root_of(&leaves[..size]);
        for index in 0..size {
            let proof = inclusion_proof(&leaves[..size], index as u64).unwrap();
            let check =
                |leaf: &Hash, at: u64, proof: &[Hash]| verify_inclusion(leaf, at, size as u64, proof, &root);
            assert!(check(&leaves[index], index as u64, &proof));
            assert!(!check(&leaf_hash(b"other"), index as u64, &proof));
            assert!(!check(&leaves[index], size as u64, &proof));
            assert!(proof.is_empty() || !check(&leaves[index], index as u64, &proof[1..]));
        }
        for old in 0..=size {
            let old_root = root_of(&leaves[..old]);
            let proof = consistency_proof(&leaves[..size], old as u64).unwrap();
            let check = |old_root: &Hash, proof: &[Hash]| {
                verify_consistency(old as u64, size as u64, old_root, &root, proof)
            };
            assert!(check(&old_root, &proof), "{old} in {size}");
            assert!(!check(&leaf_hash(b"other"), &proof), "{old} in {size}");
            assert!(proof.is_empty() || !check(&old_root, &proof[1..]), "{old} in {size}");
        }
    }
    assert_eq!(inclusion_ranges(5, 5), None);
    assert_eq!(consistency_ranges(6, 5), None);
}

#[test]
fn the_leaf_of_an_entry_is_laid_out_as_the_module_head_says() {
    let mut leaf = vec![0x01];
    leaf.extend([0, 0, 0, 0, 0, 0, 0, 7]);
    leaf.extend([0xff; 8]);
    leaf.extend(b"sealed");
    assert_eq!(entry_leaf_hash(7, -1, b"sealed"), leaf_hash(&leaf));
}

proptest! {
    #[test]
    fn a_frontier_has_the_recursive_root_and_survives_storing(count in 0_usize..200) {
        let leaves = some_leaves(count);
        let mut frontier = Frontier::default();
        leaves.iter().for_each(|leaf| frontier.append(*leaf));
        prop_assert_eq!(frontier.root(), root_of(&leaves));
        prop_assert_eq!(Frontier::decode(count as u64, &frontier.encode()), Some(frontier.clone()));
        prop_assert_eq!(Frontier::decode(count as u64 ^ 1, &frontier.encode()), None);
    }
}
