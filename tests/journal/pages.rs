//! Reading in pages, and the tree recomputed from what was read.

use super::tree::{self, Hash};
use super::{as_station, everything, jobs_as, workshop};
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_proto::v1::{self, ListRequest, ReadRequest};
use standpipe_tests::facts;
use standpipe_tests::sealed::{Sealed, Sealer};
use standpipe_tests::site::{append, journal, shown};
use standpipe_tests::told::reason;
use std::collections::BTreeSet;
use tonic::Code;

#[tokio::test]
async fn leaves_root_and_check_value_are_what_anybody_computes_from_the_wire() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut bay = as_station(&site, &server, "bay-1").await;
    let mut office = as_station(&site, &server, "office").await;
    let mut sealer = Sealer::new("bay-1", 1);
    let (job, other) = (sealer.job(1), sealer.job(2));
    let mut sent: Vec<Sealed> =
        facts::whole_service().into_iter().map(|kind| sealer.seal(&job, kind)).collect();
    sent.insert(5, sealer.seal(&other, facts::arrival("PH 483 K")));
    for entry in &sent {
        append(&mut bay, entry).await.unwrap();
    }
    let (entries, last) = everything(&mut office, "").await;
    assert_eq!(i64::try_from(entries.len()).unwrap(), last.tree_size);
    assert_eq!(
        entries.iter().map(|entry| entry.seq).collect::<Vec<_>>(),
        (1..=last.tree_size).collect::<Vec<_>>()
    );
    let mut leaves: Vec<Hash> = entries.iter().map(tree::leaf_of).collect();
    for (entry, leaf) in entries.iter().zip(&leaves) {
        assert_eq!(entry.leaf_hash, leaf, "entry {}", entry.seq);
    }
    assert_eq!(tree::root(&leaves)[..], last.root);
    let own: Vec<_> =
        entries.iter().filter(|entry| sent.iter().any(|sent| sent.bytes == entry.entry)).collect();
    assert_eq!(own.len(), sent.len(), "every entry is kept byte for byte");
    let (of_job, _) = everything(&mut bay, &job).await;
    let of_job: Vec<Hash> = of_job.iter().map(tree::leaf_of).collect();
    let mut jobs = jobs_as(&site, &server, "bay-1").await;
    let got = jobs.get(v1::GetRequest { job }).await.unwrap().into_inner().job.unwrap();
    assert_eq!(got.check_value, tree::check_value(&of_job));
    // What is computed here would notice one other bit, one other order, and one leaf less.
    leaves[3][7] ^= 1;
    assert_ne!(tree::root(&leaves)[..], last.root);
    leaves[3][7] ^= 1;
    leaves.swap(0, 1);
    assert_ne!(tree::root(&leaves)[..], last.root);
    leaves.swap(0, 1);
    leaves.pop();
    assert_ne!(tree::root(&leaves)[..], last.root);
}

#[tokio::test]
async fn reading_in_pages_while_others_append_skips_nothing_and_gives_nothing_twice() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut bay = as_station(&site, &server, "bay-1").await;
    let mut office = as_station(&site, &server, "office").await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    for page_size in [1, 2, 7] {
        let before = office.read(ReadRequest::default()).await.unwrap().into_inner().tree_size;
        for asked in ["", job.as_str()] {
            let mut seen = Vec::new();
            let mut request = ReadRequest { job: asked.to_owned(), page_size, ..ReadRequest::default() };
            loop {
                let page = office.read(request.clone()).await.unwrap().into_inner();
                assert!((1..=page_size as usize).contains(&page.entries.len()));
                seen.extend(page.entries.iter().map(|entry| entry.seq));
                request.page_token = page.next_page_token;
                if request.page_token.is_empty() {
                    break;
                }
                // Slower than the pages come, so that reading comes to an end.
                if seen.len().is_multiple_of(3) {
                    append(&mut bay, &sealer.seal(&job, facts::temperature(43.0))).await.unwrap();
                }
            }
            assert!(seen.windows(2).all(|pair| pair[0] < pair[1]), "{seen:?}");
            if asked.is_empty() {
                assert!(seen.windows(2).all(|pair| pair[1] == pair[0] + 1), "{seen:?}");
                assert!(seen[0] == 1 && *seen.last().unwrap() >= before, "{seen:?}");
            }
        }
    }
}

#[tokio::test]
async fn a_list_of_jobs_in_pages_while_jobs_are_opened_skips_none_and_gives_none_twice() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut bay = as_station(&site, &server, "bay-1").await;
    let mut jobs = jobs_as(&site, &server, "office").await;
    let mut sealer = Sealer::new("bay-1", 1);
    for number in 1..=10 {
        append(&mut bay, &sealer.seal(&sealer.job(number), facts::arrival("PH 482 K"))).await.unwrap();
    }
    let mut seen = Vec::new();
    let mut request = ListRequest { page_size: 3, ..ListRequest::default() };
    loop {
        let page = jobs.list(request.clone()).await.unwrap().into_inner();
        seen.extend(page.jobs.into_iter().map(|job| job.number));
        request.page_token = page.next_page_token;
        if request.page_token.is_empty() {
            break;
        }
        let number = 10 + seen.len() as u64;
        append(&mut bay, &sealer.seal(&sealer.job(number), facts::arrival("PH 484 K"))).await.unwrap();
    }
    let expected: Vec<_> = (1..=10).rev().map(|number| format!("HL-26-{number:04}")).collect();
    assert_eq!(seen, expected, "newest first; what was opened meanwhile stands before the first page");
}

#[tokio::test]
async fn a_page_token_that_was_changed_or_belongs_to_another_question_is_refused() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut bay = as_station(&site, &server, "bay-1").await;
    let mut office = as_station(&site, &server, "office").await;
    let mut sealer = Sealer::new("bay-1", 1);
    let jobs = [sealer.job(1), sealer.job(2)];
    for job in &jobs {
        append(&mut bay, &sealer.seal(job, facts::arrival("PH 482 K"))).await.unwrap();
        append(&mut bay, &sealer.seal(job, facts::drained(3.05))).await.unwrap();
    }
    let of = |job: &str, page_token: &str| ReadRequest {
        job: job.to_owned(),
        page_size: 1,
        page_token: page_token.to_owned(),
    };
    let token = office.read(of("", "")).await.unwrap().into_inner().next_page_token;
    assert_eq!(office.read(of("", &token)).await.unwrap().into_inner().entries[0].seq, 2);
    let mut spoiled: BTreeSet<String> = BTreeSet::new();
    for at in 0..token.len() {
        for letter in ["0", "1", "f", "."] {
            spoiled.insert(format!("{}{letter}{}", &token[..at], &token[at + 1..]));
        }
        spoiled.insert(token[..at].to_owned());
    }
    spoiled.insert(format!("{token}0"));
    spoiled.remove(&token);
    spoiled.remove("");
    assert!(spoiled.len() > 60, "{}", spoiled.len());
    for page_token in &spoiled {
        let refused = office.read(of("", page_token)).await.unwrap_err();
        let told = (refused.code(), reason(&refused));
        assert_eq!(told, (Code::InvalidArgument, "PAGE_TOKEN_INVALID".to_owned()), "{page_token}");
    }
    for (job, page_token) in [(jobs[0].as_str(), &token), (jobs[1].as_str(), &token)] {
        assert_eq!(reason(&office.read(of(job, page_token)).await.unwrap_err()), "PAGE_TOKEN_INVALID");
    }
    let of_job = office.read(of(&jobs[0], "")).await.unwrap().into_inner().next_page_token;
    assert_eq!(reason(&office.read(of(&jobs[1], &of_job)).await.unwrap_err()), "PAGE_TOKEN_INVALID");
    assert_eq!(reason(&office.read(of("", &of_job)).await.unwrap_err()), "PAGE_TOKEN_INVALID");
}

#[tokio::test]
async fn page_sizes_are_cut_to_the_limit_and_stations_come_in_pages_too() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut admin = journal(server.addr, &site.admin).await;
    for page_size in [0, 1_001, i32::MAX] {
        let page =
            admin.read(ReadRequest { page_size, ..ReadRequest::default() }).await.unwrap().into_inner();
        assert_eq!(i64::try_from(page.entries.len()).unwrap(), page.tree_size);
        assert_eq!(page.next_page_token, "");
    }
    let refused = admin.read(ReadRequest { page_size: -1, ..ReadRequest::default() }).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::InvalidArgument, "OUTSIDE_BOUNDS"));
    let mut stations = StationServiceClient::new(shown(server.addr, &site.admin).await);
    let mut names = Vec::new();
    let mut request = v1::ListStationsRequest { page_size: 1, page_token: String::new() };
    loop {
        let page = stations.list_stations(request.clone()).await.unwrap().into_inner();
        names.extend(page.stations.into_iter().map(|station| station.name));
        request.page_token = page.next_page_token;
        if request.page_token.is_empty() {
            break;
        }
    }
    assert_eq!(names, ["admin", "bay-1", "bay-2", "office"]);
}
