//! Two workshops that were founded under one identity.

use super::*;

#[tokio::test]
async fn another_workshop_of_the_same_identity_is_told_so_and_leaves_no_mark_at_the_first() {
    let owner = Owner::found().await;
    let server = owner.serve().await;
    let mut client = owner.client(&server, "mill").await;
    let mut source = Source::new();
    source.grow(9).await;
    bring(&mut client, &source, 100).await;
    let mut other = Source::new();
    other.parts();
    // Shorter, as long, and longer than what is kept.
    for more in [3, 6, 12] {
        other.grow(more).await;
        let renamed = CompareJournalRequest { site_name: "Other Street".into(), ..other.compare(0).await };
        let told = compare(&mut client, renamed).await;
        assert_eq!(told.standing(), JournalStanding::Another);
        assert!(
            told.sentence.contains("another workshop") && told.sentence.contains("--founded-anew"),
            "{told:?}"
        );
        let told = client.forward_entries(other.batch(1, 99).await).await.unwrap_err();
        assert_eq!(reason(&told), "SITE_OF_ANOTHER");
        assert!(told.message().contains("not even the first entry is the same"), "{told}");
    }
    // A hash of another length is none.
    let short = CompareJournalRequest { founding: vec![1; 31], ..other.compare(9).await };
    let told = client.compare_journal(short).await.unwrap_err();
    assert!(told.message().contains("founding: has 31 bytes; 32 are needed"), "{told}");
    let checks = doctor(&owner.dir, &*owner.clock).await.unwrap();
    let mill: Vec<_> = checks.iter().filter(|check| check.sentence.contains("(mill-street)")).collect();
    assert!(mill[0].sentence.starts_with("Mill Street (mill-street): 9 entries"), "{mill:?}");
    assert!(mill.len() == 1 && mill[0].next.is_none(), "{mill:?}");
    source.grow(3).await;
    bring(&mut client, &source, 100).await;
    // One that does not tell its first entry can only be called a fork.
    let untold = CompareJournalRequest { founding: Vec::new(), ..other.compare(12).await };
    assert_eq!(compare(&mut client, untold).await.standing(), JournalStanding::Fork);
    stop(server).await;
    assert_eq!(reached(&owner.copy()).await.root, source.root(12).await);
    let workshop = owner.workshop().await;
    let forks = workshop.sites.as_ref().unwrap().forks().await.unwrap();
    assert_eq!(forks.len(), 1, "the one that was not told apart: {forks:?}");
}
