//! How two copies of a journal stand to each other: what the owner's server makes of what a site says it has.
//!
//! Pure. A root is believed only where this side can compute it itself or a proof leads to it; sizes and epochs alone
//! say nothing, since a copied disk has both right. Called by the handler with roots read from the store.

use standpipe_store::tree::{self, Hash};

/// How far a journal reaches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Point {
    /// The journal's epoch.
    pub epoch: [u8; 16],
    /// Number of entries.
    pub size: u64,
    /// Root of the tree over them.
    pub root: Hash,
}

/// What that means for what comes next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Standing {
    /// Both are the same.
    Same,
    /// What is here was shown to be the beginning of what the site has.
    Ahead,
    /// The site has more, and is still to show that it begins with what is here.
    ProofWanted,
    /// The site lost entries that are here.
    Behind,
    /// They went on differently.
    Fork,
    /// Not even their first entries are the same: one workshop took the identity of another.
    Another,
}

/// A proof with the size that it begins at.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Proof<'a> {
    /// Size of the older tree.
    pub from: u64,
    /// Its hashes.
    pub hashes: &'a [Hash],
}

/// Whether two journals of one identity begin with different entries, by the roots over their first entries alone; one that
/// has none, or does not tell it, is nobody else's.
pub(crate) fn is_another(founding_here: Option<Hash>, founding: Option<Hash>) -> bool {
    matches!((founding_here, founding), (Some(here), Some(there)) if here != there)
}

/// What the site's claim means. `root_here_at` is the root of the journal here at the size of the claim; nothing where
/// there are not so many entries here.
pub(crate) fn standing(
    here: &Point,
    claim: &Point,
    root_here_at: Option<Hash>,
    proof: Proof<'_>,
) -> Standing {
    if claim.size <= here.size {
        let agrees = root_here_at == Some(claim.root);
        return match (agrees, claim.size == here.size) {
            (false, _) => Standing::Fork,
            (true, true) => Standing::Same,
            (true, false) => Standing::Behind,
        };
    }
    // Nothing here is the beginning of everything.
    if here.size == 0 {
        return Standing::Ahead;
    }
    // Shown for another size, as before somebody else brought more: asked again for this one.
    if proof.from != here.size {
        return Standing::ProofWanted;
    }
    match tree::verify_consistency(here.size, claim.size, &here.root, &claim.root, proof.hashes) {
        true => Standing::Ahead,
        false => Standing::Fork,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn leaves(salt: u64, count: u64) -> Vec<Hash> {
        (0..count).map(|n| tree::leaf_hash(&[salt.to_be_bytes(), n.to_be_bytes()].concat())).collect()
    }

    fn point(leaves: &[Hash], epoch: u8) -> Point {
        Point { epoch: [epoch; 16], size: leaves.len() as u64, root: tree::root_of(leaves) }
    }

    /// A journal that shares its first leaves with the one before and then goes its own way.
    fn forked(leaves_before: &[Hash], shared: usize, own: u64) -> Vec<Hash> {
        let mut all = leaves_before[..shared].to_vec();
        all.extend(leaves(99, own));
        all
    }

    fn asked(here: &[Hash], site: &[Hash], proof_from: u64) -> Standing {
        let at = here.get(..site.len()).map(tree::root_of);
        let hashes = tree::consistency_proof(site, proof_from).unwrap_or_default();
        standing(&point(here, 1), &point(site, 1), at, Proof { from: proof_from, hashes: &hashes })
    }

    #[test]
    fn only_two_first_entries_that_are_there_tell_two_workshops_apart() {
        let of = |salt| Some(tree::root_of(&leaves(salt, 1)));
        assert!(is_another(of(1), of(2)));
        for (here, there) in [(of(1), of(1)), (of(1), None), (None, of(2)), (None, None)] {
            assert!(!is_another(here, there));
        }
    }

    proptest! {
        #[test]
        fn a_journal_that_only_grew_is_never_called_a_fork(here in 0_u64..200, more in 0_u64..200) {
            let site = leaves(1, here + more);
            let there = &site[..usize::try_from(here).unwrap()];
            let expected = match (here, more) {
                (_, 0) => Standing::Same,
                _ => Standing::Ahead,
            };
            prop_assert_eq!(asked(there, &site, here), expected);
            if here > 0 && more > 0 {
                prop_assert_eq!(asked(there, &site, 0), Standing::ProofWanted);
            }
        }

        #[test]
        fn a_rewound_journal_is_behind_until_it_goes_its_own_way(
            here in 1_usize..150, cut in 1_usize..150, own in 0_u64..150,
        ) {
            let there = leaves(1, here as u64);
            let shared = here.saturating_sub(cut);
            let site = forked(&there, shared, own);
            let expected = if own == 0 { Standing::Behind } else { Standing::Fork };
            let proof_from = if site.len() > here { here as u64 } else { 0 };
            prop_assert_eq!(asked(&there, &site, proof_from), expected);
        }
    }
}
