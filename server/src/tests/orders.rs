//! Orders to a running server over its socket, backups, and sites made from them.

use super::network::append;
use super::*;
use crate::blob::digest_of;
use crate::{Done, Order, ServerError, order, restore, verify};
use standpipe_proto::v1::blob_service_client::BlobServiceClient;
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_proto::v1::{
    AppendStreamRequest, Customer, DescribeRequest, GetBlobRequest, IssueRequest, PutBlobRequest,
    PutCustomerRequest, RenderRequest, customer_service_client::CustomerServiceClient,
};
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use tokio_stream::StreamExt as _;
use tokio_stream::wrappers::ReceiverStream;
use tonic::Code;

async fn described(
    shop: &Shop,
    server: &RunningServer,
    station: &str,
) -> Result<v1::DescribeResponse, Status> {
    let mut stations = StationServiceClient::new(shop.bearer(server, station).await);
    stations.describe(DescribeRequest {}).await.map(tonic::Response::into_inner)
}

#[tokio::test]
async fn a_station_enrolled_at_a_running_server_may_speak_at_once() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let socket = shop.dir.join("admin.sock");
    assert_eq!(fs::metadata(&socket).unwrap().permissions().mode() & 0o777, 0o600);
    let add = Order::AddStation { name: "bay-3".into(), role: Role::Bay, kinds: Vec::new() };
    let Done::Invited { code, new, .. } = order(&shop.dir, add.clone()).await.unwrap() else {
        panic!("not enrolled")
    };
    assert!(new && standpipe_proto::join::JoinCode::read(&code).is_ok(), "{code}");
    let given = order(&shop.dir, Order::RenewToken { name: "bay-3".into(), days: None }).await.unwrap();
    let Done::TokenRenewed { token, .. } = given else { panic!("{given:?}") };
    let mut stations = StationServiceClient::new(bearer(&server, &token).await);
    assert!(stations.describe(DescribeRequest {}).await.is_ok());
    let again = order(&shop.dir, add.clone()).await.unwrap_err();
    assert!(matches!(&again, ServerError::Told { .. }) && again.exit() as u8 == 65, "{again}");
    server.shutdown();
    server.join().await.unwrap();
    assert!(!socket.exists());
    let stopped = order(&shop.dir, add).await.unwrap_err();
    assert_eq!(stopped.to_string(), again.to_string());
}

#[tokio::test]
async fn what_a_killed_server_left_behind_does_not_stand_in_the_way() {
    let shop = Shop::found().await;
    drop(std::os::unix::net::UnixListener::bind(shop.dir.join("admin.sock")).unwrap());
    assert!(
        matches!(order(&shop.dir, Order::ListStations).await.unwrap(), Done::Stations(all) if all.len() == 4)
    );
    let server = shop.serve().await;
    assert!(
        matches!(order(&shop.dir, Order::ListPersons).await.unwrap(), Done::Persons(all) if all.len() == 1)
    );
    drop(server);
}

#[tokio::test]
async fn a_revoked_station_is_cut_off_at_once_also_within_an_open_stream() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let (sender, requests) = tokio::sync::mpsc::channel(4);
    let mut bay = shop.journal(&server, "bay-1").await;
    let entry = shop.seal("bay-1", &job_id(1), arrival("AB 123"));
    sender.send(AppendStreamRequest { entry }).await.unwrap();
    let mut answers = bay.append_stream(ReceiverStream::new(requests)).await.unwrap().into_inner();
    assert!(answers.next().await.unwrap().unwrap().answer.is_some());
    order(&shop.dir, Order::RevokeStation { name: "bay-1".into() }).await.unwrap();
    let ended = answers.next().await.unwrap().unwrap_err();
    assert_eq!(ended.code(), Code::Unauthenticated);
    let refused = described(&shop, &server, "bay-1").await.unwrap_err();
    assert_eq!(refused.code(), Code::Unauthenticated);
    assert!(described(&shop, &server, "bay-2").await.is_ok());
}

#[tokio::test]
async fn a_renewed_token_ends_an_open_stream_of_the_one_before() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let (sender, requests) = tokio::sync::mpsc::channel(4);
    let mut bay = shop.journal(&server, "bay-1").await;
    let entry = shop.seal("bay-1", &job_id(1), arrival("AB 123"));
    sender.send(AppendStreamRequest { entry }).await.unwrap();
    let mut answers = bay.append_stream(ReceiverStream::new(requests)).await.unwrap().into_inner();
    assert!(answers.next().await.unwrap().unwrap().answer.is_some());
    order(&shop.dir, Order::RenewToken { name: "bay-1".into(), days: None }).await.unwrap();
    let ended = answers.next().await.unwrap().unwrap_err();
    assert_eq!(ended.code(), Code::Unauthenticated);
}

#[tokio::test]
async fn a_catalogue_and_a_name_change_while_the_server_runs() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    let old = append(&mut bay, shop.seal("bay-1", &job_id(1), arrival("AB 123"))).await.unwrap();
    let from = shop._home.path().join("catalogue");
    fs::create_dir(&from).unwrap();
    fs::write(from.join("workshop.toml"), "name = \"Harbour Lane Transmissions\"\njob_prefix = \"HLT\"\n")
        .unwrap();
    let Done::Imported { revision_id, .. } = order(&shop.dir, Order::ImportCatalogue { from }).await.unwrap()
    else {
        panic!("not imported")
    };
    let new = append(&mut bay, shop.seal("bay-1", &job_id(2), arrival("CD 456"))).await.unwrap();
    assert_eq!((old.job_number.as_str(), new.job_number.as_str()), ("HL-26-0001", "HLT-26-0002"));
    assert_eq!(described(&shop, &server, "bay-1").await.unwrap().catalogue_revision_id, revision_id);
    let mut records = RecordServiceClient::new(shop.bearer(&server, "office").await);
    let draft = || RenderRequest { job: "1".into(), ..RenderRequest::default() };
    let named = records.render(draft()).await.unwrap().into_inner().pdf;
    order(&shop.dir, Order::RemovePerson { code: "A".into() }).await.unwrap();
    assert_ne!(records.render(draft()).await.unwrap().into_inner().pdf, named);
}

/// A shop with a customer, a remark and an issued record; gives the remark's digest.
async fn filled(shop: &Shop, server: &RunningServer) -> (String, Vec<u8>) {
    let mut bay = shop.journal(server, "bay-1").await;
    append(&mut bay, shop.seal("bay-1", &job_id(1), arrival("AB 123"))).await.unwrap();
    append(&mut bay, shop.seal("bay-1", &job_id(1), closing())).await.unwrap();
    let customer = Some(Customer { name: "Customer Wren".into(), telephone: String::new() });
    let mut customers = CustomerServiceClient::new(shop.bearer(server, "office").await);
    customers.put_customer(PutCustomerRequest { job: "1".into(), customer }).await.unwrap();
    let remark = [&[7; 16][..], b"it shudders"].concat();
    let blob_digest = digest_of(&remark);
    let part = PutBlobRequest { blob_digest: blob_digest.clone(), part: remark };
    let mut blobs = BlobServiceClient::new(shop.bearer(server, "bay-1").await);
    blobs.put_blob(tokio_stream::iter([part])).await.unwrap();
    (blob_digest, issue(shop, server).await)
}

async fn issue(shop: &Shop, server: &RunningServer) -> Vec<u8> {
    let mut records = RecordServiceClient::new(shop.bearer(server, "office").await);
    let request = IssueRequest { job: "1".into(), request_id: entry_id(0xA001), person_code: "A".into() };
    records.issue(request).await.unwrap().into_inner().pdf
}

#[tokio::test]
async fn erased_words_are_gone_for_good() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let (digest, _) = filled(&shop, &server).await;
    order(&shop.dir, Order::EraseRemark { digest: digest.clone() }).await.unwrap();
    let mut blobs = BlobServiceClient::new(shop.bearer(&server, "office").await);
    let erased = blobs.get_blob(GetBlobRequest { blob_digest: digest.clone() }).await.err().unwrap();
    assert_eq!(erased.code(), Code::FailedPrecondition);
    // The same customer came with another vehicle, and one with another name came too.
    let mut bay = shop.journal(&server, "bay-1").await;
    let mut customers = CustomerServiceClient::new(shop.bearer(&server, "office").await);
    for (number, name) in [(2, "customer  WREN"), (3, "Customer Wrenfield")] {
        append(&mut bay, shop.seal("bay-1", &job_id(number), arrival("CD 456"))).await.unwrap();
        let customer = Some(Customer { name: name.into(), telephone: String::new() });
        customers.put_customer(PutCustomerRequest { job: number.to_string(), customer }).await.unwrap();
    }
    let erase = |job: &str| order(&shop.dir, Order::EraseCustomer { job: job.into() });
    let done = |job: &str, other_jobs| Done::CustomerErased { job: job.into(), other_jobs };
    assert_eq!(erase("1").await.unwrap(), done("HL-26-0001", 1));
    assert_eq!(erase("1").await.unwrap(), done("HL-26-0001", 0), "there is no name any more to look for");
    assert_eq!(erase("2").await.unwrap(), done("HL-26-0002", 0));
    assert!(order(&shop.dir, Order::EraseCustomer { job: "9".into() }).await.is_err());
    assert!(order(&shop.dir, Order::EraseRemark { digest: "../../etc".into() }).await.is_err());
    assert!(verify(&shop.dir).await.unwrap().is_sound());
}

#[tokio::test]
async fn a_backup_of_a_running_server_becomes_a_site_with_a_new_epoch() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let (digest, pdf) = filled(&shop, &server).await;
    order(&shop.dir, Order::OpenCode { name: "bay-1".into() }).await.unwrap();
    let to = shop._home.path().join("backup");
    let Done::BackedUp(backup) = order(&shop.dir, Order::BackUp { to: to.clone() }).await.unwrap() else {
        panic!("no backup")
    };
    assert_eq!((backup.site.as_str(), backup.entries, backup.files), ("harbour-lane", 8, 2));
    let taken = order(&shop.dir, Order::BackUp { to: to.clone() }).await.unwrap_err();
    assert!(taken.to_string().contains("exists already"), "{taken}");
    server.shutdown();
    server.join().await.unwrap();

    let dir = shop._home.path().join("again");
    let restored = restore(&to, &dir, &SystemEntropy).await.unwrap();
    assert_eq!((restored.entries, restored.files, &restored.root), (8, 2, &backup.root));
    assert_ne!(restored.epoch, backup.epoch);
    assert!(verify(&dir).await.unwrap().is_sound());
    let again = restore(&to, &dir, &SystemEntropy).await.unwrap_err();
    assert!(matches!(again, ServerError::FolderTaken { .. }));

    let desk = crate::Desk::open(&dir).await.unwrap();
    let open = |it: &crate::StationKept| it.code_until_us.is_some();
    assert!(!desk.stations_kept().await.unwrap().iter().any(open), "a code that was open is gone");
    desk.close().await.unwrap();
    let shop = Shop { dir, ..shop };
    let server = shop.serve().await;
    assert_eq!(issue(&shop, &server).await, pdf);
    let mut blobs = BlobServiceClient::new(shop.bearer(&server, "bay-1").await);
    assert!(blobs.get_blob(GetBlobRequest { blob_digest: digest }).await.is_ok());
    // The server's own station begins a new run of numbers.
    order(&shop.dir, Order::AddPerson { code: "B".into(), name: None }).await.unwrap();
    server.shutdown();
    server.join().await.unwrap();
    assert!(verify(&shop.dir).await.unwrap().is_sound());
}

#[tokio::test]
async fn a_damaged_backup_makes_no_site_and_a_damaged_site_no_backup() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let (digest, _) = filled(&shop, &server).await;
    server.shutdown();
    server.join().await.unwrap();
    let home = shop._home.path();
    let (to, dir) = (home.join("backup"), home.join("again"));
    order(&shop.dir, Order::BackUp { to: to.clone() }).await.unwrap();
    let file = |root: &Path| root.join("blobs").join(&digest[..2]).join(&digest);
    fs::write(file(&to), "other words").unwrap();
    let damaged = restore(&to, &dir, &SystemEntropy).await.unwrap_err();
    assert!(matches!(&damaged, ServerError::BackupDamaged { .. }), "{damaged}");
    fs::write(file(&shop.dir), "other words").unwrap();
    let second = home.join("second");
    assert!(order(&shop.dir, Order::BackUp { to: second.clone() }).await.is_err());
    let left: Vec<_> = fs::read_dir(home).unwrap().map(|item| item.unwrap().file_name()).collect();
    assert!(!dir.exists() && !second.exists() && left.len() == 2, "{left:?}");
}
