//! What is done while no server runs, and folders that are not as they must be.

use super::*;
use crate::{EPOCH_FILE, JOURNAL_FILE, ServerError, verify};
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_store::StoreError;
use std::fs;

async fn start(shop: &Shop) -> Result<RunningServer, ServerError> {
    let listen = "127.0.0.1:0".parse().unwrap();
    Server::start(ServerOptions { listen, ..ServerOptions::new(&shop.dir) }).await
}

async fn refused(shop: &Shop) -> ServerError {
    start(shop).await.err().expect("the server started")
}

#[tokio::test]
async fn a_site_is_never_created_over_anything() {
    let shop = Shop::found().await;
    let again = |dir: PathBuf| async move {
        let options = InitOptions {
            site_id: "mill-street".into(),
            site_name: "Mill Street".into(),
            clock: Arc::new(crate::SystemClock),
            entropy: Arc::new(SystemEntropy),
        };
        init(&dir, options).await
    };
    assert!(matches!(again(shop.dir.clone()).await, Err(ServerError::FolderTaken { .. })));
    let file = shop._home.path().join("file");
    fs::write(&file, "kept").unwrap();
    assert!(matches!(again(file.clone()).await, Err(ServerError::FolderTaken { .. })));
    assert_eq!(fs::read_to_string(file).unwrap(), "kept");
    let empty = shop._home.path().join("empty");
    fs::create_dir(&empty).unwrap();
    again(empty).await.unwrap();
}

#[tokio::test]
async fn the_desk_is_refused_while_a_server_runs_and_verify_is_not() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    assert!(matches!(Desk::open(&shop.dir).await.err(), Some(ServerError::ServerRuns { .. })));
    assert!(matches!(refused(&shop).await, ServerError::ServerRuns { .. }));
    let verified = verify(&shop.dir).await.unwrap();
    assert!(verified.is_sound(), "{verified:?}");
    assert_eq!((verified.report.entries, verified.report.jobs), (5, 0));
    server.shutdown();
    server.join().await.unwrap();
    Desk::open(&shop.dir).await.unwrap().close().await.unwrap();
}

#[tokio::test]
async fn a_lost_token_is_replaced_and_the_old_one_is_no_longer_good() {
    let shop = Shop::found().await;
    let mut desk = Desk::open(&shop.dir).await.unwrap();
    let renewed = desk.renew_token("bay-1").await.unwrap();
    assert!(matches!(
        desk.renew_token("bay-9").await,
        Err(ServerError::Store(StoreError::StationUnknown { .. }))
    ));
    desk.close().await.unwrap();
    let server = shop.serve().await;
    let job = v1::ListRequest::default;
    let mut old = JobServiceClient::new(shop.bearer(&server, "bay-1").await);
    assert_eq!(old.list(job()).await.unwrap_err().code(), tonic::Code::Unauthenticated);
    let mut new = JobServiceClient::new(bearer(&server, &renewed.token.to_string()).await);
    assert!(new.list(job()).await.unwrap().into_inner().jobs.is_empty());
}

#[tokio::test]
async fn a_revoked_station_and_a_removed_person_are_gone_but_remembered() {
    let shop = Shop::found().await;
    let mut desk = Desk::open(&shop.dir).await.unwrap();
    desk.revoke_station("bay-1").await.unwrap();
    assert!(matches!(desk.revoke_station("bay-1").await, Err(ServerError::AlreadyRevoked { .. })));
    let taken = desk.add_station("bay-1", Role::Bay).await;
    assert!(matches!(taken, Err(ServerError::Store(StoreError::StationExists { .. }))));
    desk.remove_person("A").await.unwrap();
    assert!(desk.persons().await.unwrap().is_empty());
    assert!(desk.remove_person("A").await.is_err());
    for name in ["server", "Bay 3", "", "ä"] {
        assert!(desk.add_station(name, Role::Bay).await.is_err(), "{name}");
    }
    assert!(desk.add_person("too long a code", None).await.is_err());
    desk.close().await.unwrap();
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    let refused = bay.read(v1::ReadRequest::default()).await.unwrap_err();
    let mut stranger = JournalServiceClient::new(bearer(&server, &"1".repeat(64)).await);
    let unknown = stranger.read(v1::ReadRequest::default()).await.unwrap_err();
    assert_eq!((refused.code(), refused.message()), (unknown.code(), unknown.message()));
    assert_eq!(refused.details(), unknown.details());
}

#[tokio::test]
async fn an_older_copy_of_the_journal_is_detected() {
    let shop = Shop::found().await;
    let journal = shop.dir.join(JOURNAL_FILE);
    let older = fs::read(&journal).unwrap();
    let mut desk = Desk::open(&shop.dir).await.unwrap();
    desk.add_person("B", None).await.unwrap();
    desk.close().await.unwrap();
    fs::write(&journal, older).unwrap();
    let error = refused(&shop).await;
    assert!(matches!(error, ServerError::Rewound { found: 5, seen: 6 }), "{error}");
    assert!(!verify(&shop.dir).await.unwrap().is_sound());
}

#[tokio::test]
async fn the_journal_of_another_site_is_detected() {
    let (shop, other) = (Shop::found().await, Shop::found().await);
    fs::copy(other.dir.join(JOURNAL_FILE), shop.dir.join(JOURNAL_FILE)).unwrap();
    assert!(matches!(refused(&shop).await, ServerError::EpochDiffers { .. }));
}

#[tokio::test]
async fn a_damaged_or_lost_journal_is_refused_and_never_replaced() {
    let shop = Shop::found().await;
    let journal = shop.dir.join(JOURNAL_FILE);
    let whole = fs::read(&journal).unwrap();
    for (content, exit) in [(&b""[..], 65), (&whole[..5000], 65), (&b"not a database at all"[..], 65)] {
        fs::write(&journal, content).unwrap();
        assert_eq!(refused(&shop).await.exit() as u8, exit);
        assert_eq!(fs::read(&journal).unwrap(), content);
    }
    fs::remove_file(&journal).unwrap();
    assert!(matches!(refused(&shop).await, ServerError::JournalLost { .. }));
    assert!(!journal.exists());
    fs::write(&journal, &whole).unwrap();
    fs::remove_file(shop.dir.join(EPOCH_FILE)).unwrap();
    assert!(matches!(refused(&shop).await, ServerError::EpochFile { .. }));
}

#[tokio::test]
async fn a_damaged_catalogue_revision_is_refused_by_name() {
    let shop = Shop::found().await;
    let from = shop._home.path().join("catalogue");
    fs::create_dir(&from).unwrap();
    fs::write(from.join("workshop.toml"), "name = \"Harbour Lane Transmissions\"\njob_prefix = \"HLT\"\n")
        .unwrap();
    let mut desk = Desk::open(&shop.dir).await.unwrap();
    let revision = desk.import_catalogue(&from).await.unwrap().revision_id;
    fs::write(from.join("workshop.toml"), "nam = 1\n").unwrap();
    assert!(matches!(desk.import_catalogue(&from).await, Err(ServerError::Catalogue(_))));
    assert_eq!(desk.adoptions().await.unwrap().len(), 1);
    desk.close().await.unwrap();
    fs::write(shop.dir.join("catalogue").join(&revision).join("workshop.toml"), "name = \"Other\"\n")
        .unwrap();
    let error = refused(&shop).await;
    assert!(matches!(&error, ServerError::RevisionDamaged { .. }) && error.to_string().contains(&revision));
    assert!(!verify(&shop.dir).await.unwrap().is_sound());
}

#[tokio::test]
async fn an_address_that_no_machine_has_is_refused() {
    let shop = Shop::found().await;
    // RFC 5737 keeps it for documents.
    let listen = "192.0.2.1:0".parse().unwrap();
    let started = Server::start(ServerOptions { listen, ..ServerOptions::new(&shop.dir) }).await;
    assert_eq!(started.err().expect("the server started").exit() as u8, 78);
}
