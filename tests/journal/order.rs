//! Order: of each station, of two bays on one job, of entries that arrive in another order than they were made.

use super::{as_station, everything, jobs_as, workshop};
use prost::Message as _;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use standpipe_proto::v1::{self, RecordedEntry, append_stream_response::Answer};
use standpipe_tests::facts;
use standpipe_tests::sealed::{Sealed, Sealer};
use standpipe_tests::site::{JournalClient, append};
use std::collections::{BTreeMap, VecDeque};

fn headers(entries: &[RecordedEntry]) -> Vec<v1::Header> {
    let header = |entry: &RecordedEntry| v1::Entry::decode(&*entry.entry).unwrap().header.unwrap();
    entries.iter().map(header).collect()
}

/// Numbers of each station in the order of the journal.
fn numbers(entries: &[RecordedEntry]) -> BTreeMap<String, Vec<i64>> {
    let mut numbers: BTreeMap<String, Vec<i64>> = BTreeMap::new();
    for header in headers(entries) {
        numbers.entry(header.station_id).or_default().push(header.station_number);
    }
    numbers
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_bays_on_one_job_at_once_keep_their_own_order_and_lose_nothing() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut first = as_station(&site, &server, "bay-1").await;
    let second = as_station(&site, &server, "bay-2").await;
    let mut sealers = [Sealer::new("bay-1", 1), Sealer::new("bay-2", 2)];
    let job = sealers[0].job(1);
    append(&mut first, &sealers[0].seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    let sent = sealers.each_mut().map(|sealer| -> Vec<Sealed> {
        (0..400).map(|tenths| sealer.seal(&job, facts::temperature(f64::from(tenths) / 10.0))).collect()
    });
    let streams = [first.clone(), second].into_iter().zip(sent.clone());
    let streams: Vec<_> = streams.map(|(client, entries)| tokio::spawn(streamed(client, entries))).collect();
    let mut acknowledged = BTreeMap::new();
    for stream in streams {
        acknowledged.extend(stream.await.unwrap());
    }
    let (entries, _) = everything(&mut first, &job).await;
    assert_eq!(entries.len(), 801);
    assert_eq!(numbers(&entries)["bay-1"], (1..=401).collect::<Vec<_>>());
    assert_eq!(numbers(&entries)["bay-2"], (1..=400).collect::<Vec<_>>());
    for entry in &entries[1..] {
        assert_eq!(acknowledged.get(&headers(std::slice::from_ref(entry))[0].entry_id), Some(&entry.seq));
    }
    let stored: BTreeMap<_, _> = headers(&entries)
        .into_iter()
        .map(|h| h.entry_id)
        .zip(entries.iter().map(|e| e.entry.clone()))
        .collect();
    assert!(sent.iter().flatten().all(|sent| stored[&sent.entry_id] == sent.bytes), "stored as sealed");
}

/// Streams all entries and gives the place of each by its id.
async fn streamed(mut client: JournalClient, entries: Vec<Sealed>) -> Vec<(String, i64)> {
    let requests: Vec<_> =
        entries.into_iter().map(|entry| v1::AppendStreamRequest { entry: entry.bytes }).collect();
    let mut answers = client.append_stream(tokio_stream::iter(requests)).await.unwrap().into_inner();
    let mut places = Vec::new();
    while let Some(answer) = answers.message().await.unwrap() {
        let Some(Answer::Acknowledgement(taken)) = answer.answer else { panic!("{answer:?}") };
        places.push((taken.entry_id, taken.seq));
    }
    places
}

#[tokio::test]
async fn entries_that_arrive_mixed_in_any_way_keep_each_stations_order_and_give_the_same_figures() {
    let seed = 20_260_318;
    println!("seed {seed}");
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut figures = Vec::new();
    for round in 0..6 {
        let site = workshop().await;
        let server = site.serve().await;
        let mut sealer = Sealer::new("bay-1", 1);
        let job = sealer.job(1);
        let mut whole: VecDeque<Sealed> =
            facts::whole_service().into_iter().map(|kind| sealer.seal(&job, kind)).collect();
        let mut bay = as_station(&site, &server, "bay-1").await;
        let mut other_bay = as_station(&site, &server, "bay-2").await;
        append(&mut bay, &whole.pop_front().unwrap()).await.unwrap();
        let mut other = Sealer::new("bay-2", 2);
        let mut beside: VecDeque<Sealed> =
            [51.0, 48.0, 45.0].map(|celsius| other.seal(&job, facts::temperature(celsius))).into();
        while !(whole.is_empty() && beside.is_empty()) {
            // The first round is the one where nothing is mixed.
            let own = round == 0 && !whole.is_empty() || round > 0 && random.next_u32().is_multiple_of(2);
            let (client, queue) = if own { (&mut bay, &mut whole) } else { (&mut other_bay, &mut beside) };
            if let Some(entry) = queue.pop_front() {
                append(client, &entry).await.unwrap();
            }
        }
        let (entries, _) = everything(&mut bay, &job).await;
        let count = facts::whole_service().len() as i64;
        assert_eq!(numbers(&entries)["bay-1"], (1..=count).collect::<Vec<_>>());
        assert_eq!(numbers(&entries)["bay-2"], [1, 2, 3]);
        let mut jobs = jobs_as(&site, &server, "bay-2").await;
        let got = jobs.get(v1::GetRequest { job }).await.unwrap().into_inner().job.unwrap();
        figures.push(got.figures.into_iter().map(|figure| (figure.key, figure.text)).collect::<Vec<_>>());
    }
    assert!(figures[0].len() >= 3, "{figures:?}");
    assert!(figures.iter().all(|one| *one == figures[0]), "{figures:?}");
}
