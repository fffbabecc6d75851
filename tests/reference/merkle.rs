//! The site's tree: roots and proofs against the test vectors of certificate transparency (RFC 6962).

use serde_json::Value;
use standpipe_store::tree::{
    Frontier, Hash, consistency_proof, inclusion_proof, leaf_hash, root_of, verify_consistency,
    verify_inclusion,
};

use super::{Table, number, text};

fn bytes(digits: &str) -> Vec<u8> {
    assert!(digits.len().is_multiple_of(2), "'{digits}' is no whole number of bytes");
    let pairs = (0..digits.len()).step_by(2);
    pairs.map(|at| u8::from_str_radix(&digits[at..at + 2], 16).expect("hexadecimal digits")).collect()
}

fn hash(digits: &str) -> Hash {
    bytes(digits).try_into().expect("32 bytes")
}

fn texts<'a>(row: &'a Value, key: &str) -> Vec<&'a str> {
    let list = row[key].as_array().unwrap_or_else(|| panic!("{} has no list '{key}'", row["id"]));
    list.iter().map(|item| item.as_str().expect("a text")).collect()
}

fn whole(row: &Value, key: &str) -> u64 {
    let value = number(row, key);
    assert!(value >= 0.0 && value.fract() == 0.0, "{}: {key} is {value}", row["id"]);
    row[key].as_u64().expect("a whole number")
}

fn kind(row: &Value) -> &str {
    row["kind"].as_str().unwrap_or("root")
}

/// Leaf hashes of the largest tree of the table; every smaller one is its beginning.
fn leaves(table: &Table) -> Vec<Hash> {
    let largest = table.cases().iter().find(|row| row["id"] == "root8").expect("the tree of eight leaves");
    texts(largest, "leaves").into_iter().map(|leaf| leaf_hash(&bytes(leaf))).collect()
}

#[test]
fn roots_equal_the_open_test_vectors() {
    let table = Table::read("shop_merkle");
    let mut checked = 0;
    for row in table.cases().iter().filter(|row| kind(row) == "root") {
        let leaves: Vec<Hash> =
            texts(row, "leaves").into_iter().map(|leaf| leaf_hash(&bytes(leaf))).collect();
        let root = hash(text(row, "root"));
        assert_eq!(root_of(&leaves), root, "{}", row["id"]);
        let mut growing = Frontier::default();
        for leaf in &leaves {
            let stored =
                Frontier::decode(growing.size(), &growing.encode()).expect("what was stored is read back");
            assert_eq!(stored, growing, "{}", row["id"]);
            growing = stored;
            growing.append(*leaf);
        }
        assert_eq!(growing.root(), root, "{}: grown leaf by leaf", row["id"]);
        checked += 1;
    }
    assert_eq!(checked, 7);
}

#[test]
fn inclusion_proofs_equal_the_table_and_hold_for_nothing_else() {
    let table = Table::read("shop_merkle");
    let leaves = leaves(&table);
    let mut checked = 0;
    for row in table.cases().iter().filter(|row| kind(row) == "inclusion") {
        let (index, size) = (whole(row, "index"), whole(row, "size"));
        let (leaf, root) = (leaf_hash(&bytes(text(row, "leaf"))), hash(text(row, "root")));
        let proof: Vec<Hash> = texts(row, "proof").into_iter().map(hash).collect();
        let tree = &leaves[..usize::try_from(size).expect("a small tree")];
        assert_eq!(root_of(tree), root, "{}", row["id"]);
        assert_eq!(inclusion_proof(tree, index).as_deref(), Some(proof.as_slice()), "{}", row["id"]);
        assert!(verify_inclusion(&leaf, index, size, &proof, &root), "{}", row["id"]);
        assert!(!verify_inclusion(&leaf_hash(b"another"), index, size, &proof, &root), "{}", row["id"]);
        assert!(!verify_inclusion(&leaf, index + 1, size, &proof, &root), "{}", row["id"]);
        assert!(
            !verify_inclusion(&leaf, index, size, &[&proof[..], &[root]].concat(), &root),
            "{}",
            row["id"]
        );
        for place in 0..proof.len() {
            let mut spoiled = proof.clone();
            spoiled[place][31] ^= 1;
            assert!(!verify_inclusion(&leaf, index, size, &spoiled, &root), "{} at {place}", row["id"]);
            assert!(
                !verify_inclusion(&leaf, index, size, &proof[..place], &root),
                "{} cut at {place}",
                row["id"]
            );
        }
        checked += 1;
    }
    assert_eq!(checked, 5);
}

#[test]
fn consistency_proofs_equal_the_table_and_hold_for_nothing_else() {
    let table = Table::read("shop_merkle");
    let leaves = leaves(&table);
    let mut checked = 0;
    for row in table.cases().iter().filter(|row| kind(row) == "consistency") {
        let (old, new) = (whole(row, "old"), whole(row, "new"));
        let (old_root, new_root) = (hash(text(row, "old_root")), hash(text(row, "new_root")));
        let proof: Vec<Hash> = texts(row, "proof").into_iter().map(hash).collect();
        let tree = &leaves[..usize::try_from(new).expect("a small tree")];
        assert_eq!(root_of(&tree[..usize::try_from(old).expect("a small tree")]), old_root, "{}", row["id"]);
        assert_eq!(root_of(tree), new_root, "{}", row["id"]);
        assert_eq!(consistency_proof(tree, old).as_deref(), Some(proof.as_slice()), "{}", row["id"]);
        assert!(verify_consistency(old, new, &old_root, &new_root, &proof), "{}", row["id"]);
        assert!(!verify_consistency(old, new, &new_root, &new_root, &proof), "{}", row["id"]);
        assert!(!verify_consistency(old, new, &old_root, &old_root, &proof), "{}", row["id"]);
        for place in 0..proof.len() {
            let mut spoiled = proof.clone();
            spoiled[place][0] ^= 0x80;
            assert!(
                !verify_consistency(old, new, &old_root, &new_root, &spoiled),
                "{} at {place}",
                row["id"]
            );
            let cut = &proof[..place];
            assert!(!verify_consistency(old, new, &old_root, &new_root, cut), "{} cut at {place}", row["id"]);
        }
        checked += 1;
    }
    assert_eq!(checked, 5);
    assert_eq!(table.cases().len(), 17, "every row of the table is a root or a proof and was counted");
}
