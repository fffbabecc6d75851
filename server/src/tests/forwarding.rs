//! An owner's server and what workshops bring to it, over the network and within it.

use super::network::reason;
use super::source::{EPOCH, SITE, Source, header};
use super::*;
use crate::config::Mode;
use crate::error::ServerError;
use crate::workshop::Workshop;
use crate::{Done, Order, doctor, init_as, order, verify};
use standpipe_engine::catalogue::RevisionId;
use standpipe_proto::limits::{FORWARD_MESSAGE_BYTES_MAX, REVISIONS_OF_SITE_BYTES_MAX};
use standpipe_proto::v1::forwarding_service_client::ForwardingServiceClient;
use standpipe_proto::v1::{
    CatalogueAdopted, CompareJournalRequest, CompareJournalResponse, ForwardEntriesRequest,
    GetSharedRevisionRequest, JournalStanding, ListSharedRevisionsRequest, PutSharedRevisionRequest,
    ReturnEntriesRequest, RevisionFile,
};
use standpipe_store::{Head, Journal as _};
use std::path::Path;
use tonic::Code;
use tonic_types::StatusExt as _;

mod another;
mod cut_off;
mod spoiled;

type Client = ForwardingServiceClient<Bearer>;

/// An owner's folder with forwarders of the sites mill-street and quarry-road.
pub(crate) struct Owner {
    _home: tempfile::TempDir,
    pub(crate) dir: PathBuf,
    pub(crate) clock: Arc<Hand>,
    tokens: Vec<(&'static str, Token)>,
}

impl Owner {
    pub(crate) async fn found() -> Self {
        let home = tempfile::tempdir().unwrap();
        let dir = home.path().join("owner");
        let clock = Arc::new(Hand(AtomicI64::new(START_US)));
        let options = InitOptions {
            site_id: "owner".into(),
            site_name: "Harbour Lane Transmissions, owner".into(),
            clock: clock.clone(),
            entropy: Arc::new(SystemEntropy),
        };
        let mut tokens = vec![("admin", init_as(&dir, options, Mode::Owner).await.unwrap().token)];
        let mut desk = Desk::open(&dir).await.unwrap();
        for (name, site) in [("mill", SITE), ("quarry", "quarry-road")] {
            desk.invite_forwarder(name, site).await.unwrap();
            tokens.push((name, desk.renew_token(name).await.unwrap().token));
        }
        desk.close().await.unwrap();
        Self { _home: home, dir, clock, tokens }
    }

    pub(crate) async fn serve(&self) -> RunningServer {
        let options = ServerOptions {
            mode: Mode::Owner,
            listen: "127.0.0.1:0".parse().unwrap(),
            clock: self.clock.clone(),
            ..ServerOptions::new(&self.dir)
        };
        Server::start(options).await.unwrap()
    }

    async fn client(&self, server: &RunningServer, station: &str) -> Client {
        let token = self.tokens.iter().find(|(name, _)| *name == station).unwrap().1.to_string();
        ForwardingServiceClient::new(bearer(server, &token).await)
    }

    /// The workshop that its server would serve, without one.
    pub(crate) async fn workshop(&self) -> Arc<Workshop> {
        workshop_of(&self.dir, self.clock.clone(), Mode::Owner).await
    }

    fn copy(&self) -> PathBuf {
        self.dir.join("sites").join(SITE)
    }
}

/// How far a copy reaches, read from its folder.
async fn reached(copy: &Path) -> Head {
    let store = SqliteStore::open_for_reading(&copy.join(crate::JOURNAL_FILE)).await.unwrap();
    let head = store.head().await.unwrap();
    store.close().await.unwrap();
    head
}

async fn compare(client: &mut Client, request: CompareJournalRequest) -> CompareJournalResponse {
    client.compare_journal(request).await.unwrap().into_inner()
}

/// Compares with its proof and brings everything, in batches.
async fn bring(client: &mut Client, source: &Source, batch: usize) {
    let first = compare(client, source.compare(0).await).await;
    let from = u64::try_from(first.there.as_ref().unwrap().size).unwrap();
    let standing = if first.standing() == JournalStanding::ProofWanted {
        compare(client, source.compare(from).await).await.standing()
    } else {
        first.standing()
    };
    assert!(matches!(standing, JournalStanding::Ahead | JournalStanding::Same), "{standing:?}");
    let mut next = from + 1;
    while next <= source.size().await {
        let answer = client.forward_entries(source.batch(next, batch).await).await.unwrap().into_inner();
        next = u64::try_from(answer.there.unwrap().size).unwrap() + 1;
    }
}

async fn stop(server: RunningServer) {
    server.shutdown();
    server.join().await.unwrap();
}

#[tokio::test]
async fn forwarding_keeps_a_journal_entry_by_entry_with_the_same_roots() {
    let owner = Owner::found().await;
    let server = owner.serve().await;
    let mut client = owner.client(&server, "mill").await;
    let mut source = Source::new();
    bring(&mut client, &source, 5).await;
    for more in [1, 7, 40] {
        source.grow(more).await;
        bring(&mut client, &source, 5).await;
    }
    let last = client.forward_entries(source.batch(44, 5).await).await.unwrap().into_inner();
    assert_eq!((last.kept, last.there.unwrap().size), (0, 48), "what is there already is passed over");
    stop(server).await;
    let head = reached(&owner.copy()).await;
    assert_eq!((head.seq, head.root, head.epoch), (48, source.root(48).await, EPOCH));
    let verified = verify(&owner.copy()).await.unwrap();
    assert!(verified.is_sound(), "{:?} {:?}", verified.report.damage, verified.beside);
    // What reads a site reads the copy: its jobs carry the numbers that their own server printed.
    let workshop = owner.workshop().await;
    let held = workshop.sites.as_ref().unwrap().open(SITE).await.unwrap();
    let rows = held.store.jobs(None, 100).await.unwrap();
    assert_eq!(rows.len(), 16);
    for row in rows {
        assert_eq!(source.store.job(row.job_id).await.unwrap().as_ref(), Some(&row));
        let computed = held.workshop.computed(&row).await.unwrap();
        assert!(computed.view.vehicle.plate.starts_with("MS ") && computed.view.head.closed);
    }
    assert_eq!(held.workshop.site_name, "Mill Street");
}

#[tokio::test]
async fn forwarding_takes_no_journal_of_another_site_and_none_at_a_workshops_server() {
    let owner = Owner::found().await;
    let server = owner.serve().await;
    let mut source = Source::new();
    source.grow(4).await;
    let mut quarry = owner.client(&server, "quarry").await;
    let told = quarry.compare_journal(source.compare(0).await).await.unwrap_err();
    assert_eq!((told.code(), reason(&told).as_str()), (Code::PermissionDenied, "SITE_NOT_OF_STATION"));
    assert!(told.message().contains("'quarry' brings the journal of site 'quarry-road'"), "{told}");
    let told = quarry.forward_entries(source.batch(1, 9).await).await.unwrap_err();
    assert_eq!(reason(&told), "SITE_NOT_OF_STATION");
    let back = ReturnEntriesRequest { site_id: SITE.into(), first_seq: 1 };
    assert_eq!(reason(&quarry.return_entries(back).await.unwrap_err()), "SITE_NOT_OF_STATION");
    assert!(!owner.copy().exists(), "nothing is made for a site that nobody may bring");
    let mut mill = owner.client(&server, "mill").await;
    let told = mill.forward_entries(source.batch(1, 9).await).await.unwrap_err();
    assert_eq!((told.code(), reason(&told).as_str()), (Code::NotFound, "SITE_UNKNOWN"));
    let mut admin = owner.client(&server, "admin").await;
    let told = admin.compare_journal(source.compare(0).await).await.unwrap_err();
    assert_eq!(reason(&told), "ROLE_NOT_PERMITTED");
    stop(server).await;
    // The same folder as a workshop's server keeps nothing of anybody.
    let listen = "127.0.0.1:0".parse().unwrap();
    let plain = Server::start(ServerOptions { listen, ..ServerOptions::new(&owner.dir) }).await.unwrap();
    let told = owner.client(&plain, "mill").await.compare_journal(source.compare(0).await).await.unwrap_err();
    assert_eq!(reason(&told), "NO_OWNER");
    stop(plain).await;
}

#[tokio::test]
async fn a_fork_is_named_once_however_often_it_is_shown_and_is_over_when_the_known_journal_is() {
    let owner = Owner::found().await;
    let server = owner.serve().await;
    let mut client = owner.client(&server, "mill").await;
    let mut source = Source::new();
    source.grow(9).await;
    bring(&mut client, &source, 100).await;
    // Another disk under the same name, longer than what is known.
    let mut other = Source::new();
    other.grow(3).await;
    other.parts();
    other.grow(9).await;
    let wanted = compare(&mut client, other.compare(0).await).await;
    assert_eq!(wanted.standing(), JournalStanding::ProofWanted);
    for _ in 0..3 {
        let forked = compare(&mut client, other.compare(9).await).await;
        assert_eq!(forked.standing(), JournalStanding::Fork);
        assert!(forked.sentence.contains("standpipe-server recover"), "{}", forked.sentence);
        let told = client.forward_entries(other.batch(10, 9).await).await.unwrap_err();
        assert_eq!((told.code(), reason(&told).as_str()), (Code::FailedPrecondition, "JOURNAL_FORKED"));
        owner.clock.forward(1_000_000);
    }
    let told = client.forward_entries(other.batch(1, 12).await).await.unwrap_err();
    assert_eq!(reason(&told), "JOURNAL_FORKED");
    let site = async || {
        let checks = doctor(&owner.dir, &*owner.clock).await.unwrap();
        checks.into_iter().filter(|check| check.about == "sites").collect::<Vec<_>>()
    };
    let checks = site().await;
    let [silent, forked] = checks.as_slice() else { panic!("{checks:?}") };
    assert!(silent.sentence.contains("quarry-road, which was never heard"), "{silent:?}");
    assert!(forked.sentence.contains("Mill Street (mill-street) went on differently"), "{forked:?}");
    assert!(forked.next.as_ref().unwrap().contains("recover --dir DIR --from-owner"), "{forked:?}");
    // The known one is shown, and yet the other disk calls just as often.
    assert_eq!(compare(&mut client, source.compare(0).await).await.standing(), JournalStanding::Same);
    assert!(site().await[1].sentence.contains("Nothing more of it is taken"), "{checks:?}");
    source.grow(3).await;
    bring(&mut client, &source, 100).await;
    assert!(site().await[1].sentence.contains("either this copy or another one"), "{checks:?}");
    owner.clock.forward(601_000_000);
    assert_eq!(compare(&mut client, source.compare(0).await).await.standing(), JournalStanding::Same);
    let checks = site().await;
    assert!(checks[1].sentence.contains("12 entries") && checks[1].next.is_none(), "{checks:?}");
    stop(server).await;
    let workshop = owner.workshop().await;
    let forks = workshop.sites.as_ref().unwrap().forks().await.unwrap();
    let claims: std::collections::BTreeSet<_> = forks.iter().map(|fork| fork.claimed).collect();
    assert_eq!(claims.len(), forks.len(), "each claim stands once: {forks:?}");
    assert!(forks.iter().all(|fork| fork.settled_us.is_some() && fork.here.0 == 9), "{forks:?}");
    assert_eq!(reached(&owner.copy()).await.root, source.root(12).await, "nothing was overwritten");
}

#[tokio::test]
async fn a_site_that_lost_entries_is_told_and_gets_all_of_them_back() {
    let owner = Owner::found().await;
    let server = owner.serve().await;
    let mut client = owner.client(&server, "mill").await;
    let mut source = Source::new();
    source.grow(30).await;
    bring(&mut client, &source, 7).await;
    let mut older = Source::new();
    older.grow(21).await;
    let behind = compare(&mut client, older.compare(0).await).await;
    assert_eq!(behind.standing(), JournalStanding::Behind);
    assert!(behind.sentence.contains("9 were lost here"), "{}", behind.sentence);
    let checks = doctor(&owner.dir, &*owner.clock).await.unwrap();
    assert!(checks.iter().any(|check| check.sentence.contains("it lost some")), "{checks:?}");
    let (mut back, mut next) = (Vec::new(), 1);
    loop {
        let request = ReturnEntriesRequest { site_id: SITE.into(), first_seq: next };
        let answer = client.return_entries(request).await.unwrap().into_inner();
        assert_eq!(answer.there.unwrap().root, source.root(30).await);
        if answer.entries.is_empty() {
            break;
        }
        next += i64::try_from(answer.entries.len()).unwrap();
        back.extend(answer.entries);
    }
    assert_eq!(back, source.batch(1, 100).await.entries, "byte for byte, with the numbers of the jobs");
    stop(server).await;
}

#[tokio::test]
async fn another_life_of_a_journal_is_taken_on_only_from_the_end_of_the_known_one() {
    let owner = Owner::found().await;
    let server = owner.serve().await;
    let mut client = owner.client(&server, "mill").await;
    let mut source = Source::new();
    source.grow(9).await;
    bring(&mut client, &source, 100).await;
    source.epoch = [6; 16];
    let told = client.forward_entries(source.batch(5, 3).await).await.unwrap_err();
    assert!(told.message().contains("another epoch and was not compared"), "{told}");
    source.grow(3).await;
    bring(&mut client, &source, 100).await;
    stop(server).await;
    let head = reached(&owner.copy()).await;
    assert_eq!((head.epoch, head.seq, head.root), ([6; 16], 12, source.root(12).await));
    // The epoch file may lag behind an epoch that was taken on.
    let server = owner.serve().await;
    let mut client = owner.client(&server, "mill").await;
    assert_eq!(compare(&mut client, source.compare(0).await).await.standing(), JournalStanding::Same);
    stop(server).await;
    assert!(verify(&owner.copy()).await.unwrap().is_sound());
}

#[tokio::test]
async fn an_entry_that_cannot_be_read_here_is_kept_named_and_hides_nothing() {
    let owner = Owner::found().await;
    let server = owner.serve().await;
    let mut client = owner.client(&server, "mill").await;
    let mut source = Source::new();
    source.grow(4).await;
    let newer =
        Entry { header: Some(header(900, Subject::JobId(job_id(1)))), fact: Some(Fact { kind: None }) };
    source.append(900, Some(1), false, newer.encode_to_vec()).await;
    source.append(901, None, false, b"\xff\xffno message at all".to_vec()).await;
    source.grow(3).await;
    bring(&mut client, &source, 100).await;
    let checks = doctor(&owner.dir, &*owner.clock).await.unwrap();
    let told = checks.iter().find(|check| check.sentence.contains("cannot be read by this version")).unwrap();
    assert!(
        told.sentence.starts_with("2 entries of Mill Street") && told.sentence.ends_with(": 5, 6"),
        "{told:?}"
    );
    stop(server).await;
    assert_eq!(reached(&owner.copy()).await.root, source.root(9).await);
    assert!(verify(&owner.copy()).await.unwrap().is_sound());
    let workshop = owner.workshop().await;
    let sites = workshop.sites.as_ref().unwrap();
    let states = sites.states().await.unwrap();
    assert_eq!(
        (states[0].kept, states[0].left_out.count, states[0].left_out.first.as_slice()),
        (9, 2, &[5, 6][..])
    );
    let held = sites.open(SITE).await.unwrap();
    for row in held.store.jobs(None, 100).await.unwrap() {
        held.workshop.computed(&row).await.unwrap();
    }
}

#[tokio::test]
async fn entries_of_a_clock_that_was_wrong_cross_with_the_others_and_are_named() {
    let owner = Owner::found().await;
    let server = owner.serve().await;
    let mut client = owner.client(&server, "mill").await;
    let mut source = Source::new();
    source.grow(3).await;
    source.arrive_in_1970(700).await;
    source.grow(3).await;
    bring(&mut client, &source, 100).await;
    let checks = doctor(&owner.dir, &*owner.clock).await.unwrap();
    let told = checks.iter().find(|check| check.sentence.contains("clock of its server")).unwrap();
    assert!(told.sentence.contains("7 entries") && told.sentence.ends_with("1 of them: 4"), "{told:?}");
    stop(server).await;
    assert_eq!(reached(&owner.copy()).await.root, source.root(7).await);
    let workshop = owner.workshop().await;
    let held = workshop.sites.as_ref().unwrap().open(SITE).await.unwrap();
    let rows = held.store.jobs(None, 100).await.unwrap();
    assert!(rows.iter().any(|row| row.number.year == 1970), "{rows:?}");
    for row in rows {
        held.workshop.computed(&row).await.unwrap();
    }
}

#[tokio::test]
async fn a_packed_call_that_unpacks_to_more_than_a_call_may_is_refused() {
    let owner = Owner::found().await;
    let server = owner.serve().await;
    let client = owner.client(&server, "mill").await;
    let mut client = client.send_compressed(tonic::codec::CompressionEncoding::Gzip);
    let mut source = Source::new();
    source.grow(4).await;
    // Packed both ways it is taken.
    compare(&mut client, source.compare(0).await).await;
    let mut request = source.batch(1, 9).await;
    request.entries[1].entry = vec![0; 40 * FORWARD_MESSAGE_BYTES_MAX].into();
    // Forty times as much as may be, of one byte: a small call on the wire.
    let told = client.forward_entries(request).await.unwrap_err();
    assert_eq!((told.code(), reason(&told).as_str()), (Code::InvalidArgument, "MESSAGE_TOO_LARGE"));
    let mut long = source.batch(1, 9).await;
    long.entries = vec![long.entries[1].clone(); 1_025];
    let told = client.forward_entries(long).await.unwrap_err();
    let wrong = told.get_details_bad_request().unwrap().field_violations;
    assert!(wrong[0].description.contains("1025 items; at most 1024"), "{wrong:?}");
    stop(server).await;
    assert_eq!(reached(&owner.copy()).await.seq, 0);
}

#[tokio::test]
async fn revisions_of_a_site_and_what_the_owner_offers_are_given_to_that_site_only() {
    let owner = Owner::found().await;
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().join("deploy/catalogue");
    let server = owner.serve().await;
    let mut client = owner.client(&server, "mill").await;
    let mut source = Source::new();
    let files =
        vec![("workshop.toml".to_owned(), b"name = \"Mill Street\"\njob_prefix = \"MST\"\n".to_vec())];
    let revision_id = RevisionId::of(&files).to_string();
    source.state(None, Kind::CatalogueAdopted(CatalogueAdopted { revision_id: revision_id.clone() })).await;
    source.grow(3).await;
    bring(&mut client, &source, 100).await;
    let checks = doctor(&owner.dir, &*owner.clock).await.unwrap();
    assert!(checks.iter().any(|check| check.sentence.contains("did not come")), "{checks:?}");
    let part = |content: &[u8]| PutSharedRevisionRequest {
        site_id: SITE.into(),
        revision_id: revision_id.clone(),
        files: vec![RevisionFile { name: "workshop.toml".into(), content: content.to_vec() }],
    };
    let put = |parts: Vec<PutSharedRevisionRequest>| tokio_stream::iter(parts);
    let told = client.put_shared_revision(put(vec![part(b"name = \"Other\"\n")])).await.unwrap_err();
    assert_eq!((told.code(), reason(&told).as_str()), (Code::InvalidArgument, "REVISION_DIFFERS"));
    let bare = PutSharedRevisionRequest { files: Vec::new(), ..part(&files[0].1) };
    let told = client.put_shared_revision(put(vec![part(&files[0].1), bare])).await.unwrap_err();
    assert_eq!(told.code(), Code::InvalidArgument, "{told}");
    let mut out = part(&files[0].1);
    out.files[0].name = "../workshop.toml".into();
    assert_eq!(client.put_shared_revision(put(vec![out])).await.unwrap_err().code(), Code::InvalidArgument);
    assert!(!owner.copy().join("catalogue").join(&revision_id).exists());
    client.put_shared_revision(put(vec![part(&files[0].1)])).await.unwrap();
    client.put_shared_revision(put(vec![part(&files[0].1)])).await.unwrap();
    let offered = order(&owner.dir, Order::OfferCatalogue { what: folder, offered: true }).await.unwrap();
    let Done::CatalogueOffered { revision_id: offered, already: false, .. } = offered else { panic!() };
    let list = async |client: &mut Client| {
        let listed = client.list_shared_revisions(ListSharedRevisionsRequest::default()).await.unwrap();
        let revisions = listed.into_inner().revisions.into_iter();
        revisions.map(|one| (one.revision_id, one.offered)).collect::<Vec<_>>()
    };
    let mut expected = vec![(revision_id.clone(), false), (offered.clone(), true)];
    expected.sort();
    assert_eq!(list(&mut client).await, expected);
    let mut quarry = owner.client(&server, "quarry").await;
    assert_eq!(list(&mut quarry).await, [(offered.clone(), true)]);
    let ask = |revision_id: &str| GetSharedRevisionRequest {
        revision_id: revision_id.to_owned(),
        ..GetSharedRevisionRequest::default()
    };
    let own = client.get_shared_revision(ask(&revision_id)).await.unwrap().into_inner();
    assert_eq!(own.files, part(&files[0].1).files);
    let told = quarry.get_shared_revision(ask(&revision_id)).await.unwrap_err();
    assert_eq!((told.code(), reason(&told).as_str()), (Code::NotFound, "REVISION_UNKNOWN"));
    let (mut got, mut token) = (Vec::new(), String::new());
    loop {
        let asked = GetSharedRevisionRequest { page_size: 2, page_token: token, ..ask(&offered) };
        let page = quarry.get_shared_revision(asked).await.unwrap().into_inner();
        got.extend(page.files.into_iter().map(|file| (file.name, file.content)));
        token = page.next_page_token;
        if token.is_empty() {
            break;
        }
    }
    assert_eq!(RevisionId::of(&got).to_string(), offered);
    stop(server).await;
    let workshop = owner.workshop().await;
    let held = workshop.sites.as_ref().unwrap().open(SITE).await.unwrap();
    assert!(held.workshop.missing_revisions().is_empty());
    let row = held.store.jobs(None, 1).await.unwrap().remove(0);
    assert_eq!(held.workshop.printed(&row), "MST-26-0001");
}

#[tokio::test]
async fn revisions_of_a_site_that_weigh_more_than_may_be_are_refused_and_nothing_of_them_is_kept() {
    let owner = Owner::found().await;
    let server = owner.serve().await;
    let mut client = owner.client(&server, "mill").await;
    let mut source = Source::new();
    source.grow(3).await;
    bring(&mut client, &source, 100).await;
    let content = b"name = \"Mill Street\"\njob_prefix = \"MST\"\n".to_vec();
    let revision_id = RevisionId::of(&[("workshop.toml".to_owned(), content.clone())]).to_string();
    let bytes = content.len() as u64;
    let files = vec![RevisionFile { name: "workshop.toml".into(), content }];
    let part = PutSharedRevisionRequest { site_id: SITE.into(), revision_id: revision_id.clone(), files };
    // An earlier revision that leaves one byte too little; a hole in a file weighs as much as what may stand in it.
    let earlier = owner.copy().join("catalogue").join("a".repeat(64));
    std::fs::create_dir_all(&earlier).unwrap();
    let earlier = std::fs::File::create(earlier.join("workshop.toml")).unwrap();
    earlier.set_len(REVISIONS_OF_SITE_BYTES_MAX - bytes + 1).unwrap();
    let told = client.put_shared_revision(tokio_stream::iter([part.clone()])).await.unwrap_err();
    assert_eq!(
        (told.code(), reason(&told).as_str()),
        (Code::FailedPrecondition, "TOO_MANY_REVISIONS"),
        "{told}"
    );
    assert!(told.message().contains(&REVISIONS_OF_SITE_BYTES_MAX.to_string()), "{told}");
    assert!(!owner.copy().join("catalogue").join(&revision_id).exists());
    earlier.set_len(REVISIONS_OF_SITE_BYTES_MAX - bytes).unwrap();
    client.put_shared_revision(tokio_stream::iter([part.clone()])).await.unwrap();
    earlier.set_len(REVISIONS_OF_SITE_BYTES_MAX).unwrap();
    // What is kept already takes no more room.
    client.put_shared_revision(tokio_stream::iter([part])).await.unwrap();
    assert!(owner.copy().join("catalogue").join(&revision_id).exists());
    stop(server).await;
}

#[tokio::test]
async fn files_of_a_revision_that_come_later_are_judged_by_at_once() {
    let owner = Owner::found().await;
    let server = owner.serve().await;
    let mut client = owner.client(&server, "mill").await;
    let mut source = Source::new();
    let content = b"name = \"Mill Street\"\njob_prefix = \"MST\"\n".to_vec();
    let revision_id = RevisionId::of(&[("workshop.toml".to_owned(), content.clone())]).to_string();
    source.state(None, Kind::CatalogueAdopted(CatalogueAdopted { revision_id: revision_id.clone() })).await;
    source.grow(3).await;
    bring(&mut client, &source, 100).await;
    let files = vec![RevisionFile { name: "workshop.toml".into(), content }];
    let part = PutSharedRevisionRequest { site_id: SITE.into(), revision_id, files };
    client.put_shared_revision(tokio_stream::iter([part])).await.unwrap();
    let checks = doctor(&owner.dir, &*owner.clock).await.unwrap();
    assert!(!checks.iter().any(|check| check.sentence.contains("did not come")), "{checks:?}");
    stop(server).await;
}

#[tokio::test]
async fn nothing_is_stated_in_a_copy_and_no_server_runs_on_one() {
    let owner = Owner::found().await;
    let server = owner.serve().await;
    let mut client = owner.client(&server, "mill").await;
    let mut source = Source::new();
    source.grow(3).await;
    bring(&mut client, &source, 100).await;
    stop(server).await;
    assert!(matches!(Desk::open(&owner.copy()).await, Err(ServerError::CopiedJournal { .. })));
    let refused = Server::start(ServerOptions::new(owner.copy())).await.err().unwrap();
    assert!(refused.to_string().contains("nothing is stated in it"), "{refused}");
    let workshop = owner.workshop().await;
    let held = workshop.sites.as_ref().unwrap().open(SITE).await.unwrap();
    let stated = held.workshop.desk.lock().await.add_person("B", None).await;
    assert!(stated.is_err());
    assert_eq!(held.store.head().await.unwrap().root, source.root(3).await);
}

#[tokio::test]
async fn a_forwarder_is_enrolled_at_an_owners_server_for_one_site_that_is_not_its_own() {
    let owner = Owner::found().await;
    let mut desk = Desk::open(&owner.dir).await.unwrap();
    for (site, part) in [
        ("owner", "the site of this server itself"),
        ("..", "begins with a dot"),
        ("Mill", "is not allowed"),
        ("", "is missing"),
        ("a/b", "is not allowed"),
    ] {
        let told = desk.invite_forwarder("third", site).await.unwrap_err().to_string();
        assert!(told.contains(part), "{site}: {told}");
    }
    assert!(desk.stations().await.unwrap().iter().all(|station| station.id != "third"));
    desk.close().await.unwrap();
    let shop = Shop::found().await;
    let add = Order::AddForwarder { name: "third".into(), site: SITE.into() };
    let told = order(&shop.dir, add).await.unwrap_err().to_string();
    assert!(told.contains("mode = \"owner\""), "{told}");
    let Done::Stations(stations) = order(&owner.dir, Order::ListStations).await.unwrap() else { panic!() };
    let sites: Vec<_> = stations.iter().map(|station| station.site.as_str()).collect();
    assert_eq!(sites, ["", SITE, "quarry-road"]);
}

#[tokio::test]
async fn few_journals_are_open_at_once_and_each_is_read_whenever_it_is_asked_for() {
    let owner = Owner::found().await;
    let workshop = owner.workshop().await;
    let sites = workshop.sites.as_ref().unwrap();
    let ids: Vec<String> = (0..20).map(|number| format!("site-{number:02}")).collect();
    for id in &ids {
        sites.open_or_make(id, &format!("Site {id}")).await.unwrap();
    }
    assert_eq!(sites.all().len(), 20);
    for id in ids.iter().chain(&ids) {
        assert_eq!(sites.open(id).await.unwrap().workshop.site_id, *id);
    }
    let held: Vec<_> = {
        let mut held = Vec::new();
        for id in &ids[..16] {
            held.push(sites.open(id).await.unwrap());
        }
        held
    };
    let busy = sites.open(&ids[17]).await.err().unwrap();
    assert_eq!(busy.row().0, Code::Unavailable, "{busy}");
    drop(held);
    sites.open_or_make(&ids[17], "Another name").await.unwrap();
    assert_eq!(sites.open(&ids[17]).await.unwrap().workshop.site_name, "Another name");
    sites.close().await;
    workshop.journal.close().await.unwrap();
    let again = owner.workshop().await;
    let names: Vec<_> = again.sites.as_ref().unwrap().all().into_iter().map(|site| site.name).collect();
    assert_eq!(names[0], "Another name", "found again at the next start, by name");
}
