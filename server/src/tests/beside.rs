//! Files and customers, which stand beside the journal.

use super::network::{append, reason};
use super::*;
use crate::blob::digest_of;
use crate::blob::photo::tests::jpeg_of;
use standpipe_proto::limits::{BLOB_PART_BYTES_MAX, PHOTO_BYTES_MAX};
use standpipe_proto::v1::blob_service_client::BlobServiceClient;
use standpipe_proto::v1::customer_service_client::CustomerServiceClient;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::{
    Customer, EraseCustomerRequest, GetBlobRequest, GetCustomerRequest, IssueRequest, ListRequest,
    PutBlobRequest, PutBlobResponse, PutCustomerRequest, RenderRequest,
};
use tonic::Code;

type Blobs = BlobServiceClient<Bearer>;

async fn blobs(shop: &Shop, server: &RunningServer, station: &str) -> Blobs {
    BlobServiceClient::new(shop.bearer(server, station).await)
}

async fn put(blobs: &mut Blobs, digest: &str, bytes: &[u8]) -> Result<PutBlobResponse, Status> {
    let parts: Vec<_> = bytes
        .chunks(BLOB_PART_BYTES_MAX)
        .map(|part| PutBlobRequest { blob_digest: digest.to_owned(), part: part.to_vec() })
        .collect();
    blobs.put_blob(tokio_stream::iter(parts)).await.map(tonic::Response::into_inner)
}

async fn get(blobs: &mut Blobs, digest: &str) -> Result<Vec<u8>, Status> {
    let mut parts = blobs.get_blob(GetBlobRequest { blob_digest: digest.into() }).await?.into_inner();
    let mut bytes = Vec::new();
    while let Some(part) = parts.message().await? {
        assert!(part.part.len() <= BLOB_PART_BYTES_MAX);
        bytes.extend_from_slice(&part.part);
    }
    Ok(bytes)
}

/// A photo of so many bytes.
fn photo(bytes: usize) -> Vec<u8> {
    let mut photo = jpeg_of(4_000, 3_000);
    photo.resize(bytes, 0x5A);
    photo
}

#[tokio::test]
async fn a_file_in_parts_comes_back_whole_and_again_is_the_same() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let (mut bay, mut office) = (blobs(&shop, &server, "bay-1").await, blobs(&shop, &server, "office").await);
    let photo = photo(2 * BLOB_PART_BYTES_MAX + 7);
    let digest = digest_of(&photo);
    let early = get(&mut office, &digest).await.unwrap_err();
    assert_eq!((early.code(), reason(&early).as_str()), (Code::NotFound, "BLOB_UNKNOWN"));
    let size_bytes = i64::try_from(photo.len()).unwrap();
    let first = put(&mut bay, &digest, &photo).await.unwrap();
    assert_eq!(first, PutBlobResponse { size_bytes, repeated: false });
    assert!(put(&mut office, &digest, &photo).await.unwrap().repeated);
    assert_eq!(get(&mut office, &digest).await.unwrap(), photo);
}

#[tokio::test]
async fn a_file_that_is_not_what_it_should_be_is_refused_and_not_kept() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = blobs(&shop, &server, "bay-1").await;
    let good = photo(1_000);
    let other = put(&mut bay, &digest_of(b"other"), &good).await.unwrap_err();
    assert_eq!(reason(&other), "BLOB_DIGEST_DIFFERS");
    let drawing = b"GIF89a\x28\0\x1e\0\x80\0\0\xff\xff\xff\0\0\0\x2c";
    assert_eq!(reason(&put(&mut bay, &digest_of(drawing), drawing).await.unwrap_err()), "BLOB_REFUSED");
    let record = b"%PDF-1.7 not made by the server";
    assert_eq!(reason(&put(&mut bay, &digest_of(record), record).await.unwrap_err()), "BLOB_REFUSED");
    let large = photo(PHOTO_BYTES_MAX + 1);
    assert_eq!(reason(&put(&mut bay, &digest_of(&large), &large).await.unwrap_err()), "BLOB_TOO_LARGE");
    let two = [(digest_of(&good), &good[..500]), (digest_of(b"x"), &good[500..])];
    let parts = two.map(|(blob_digest, part)| PutBlobRequest { blob_digest, part: part.to_vec() });
    let mixed = bay.put_blob(tokio_stream::iter(parts)).await.unwrap_err();
    assert_eq!(reason(&mixed), "BLOB_DIGEST_DIFFERS");
    let nothing = bay.put_blob(tokio_stream::iter([])).await.unwrap_err();
    assert_eq!(nothing.code(), Code::InvalidArgument);
    let giant = PutBlobRequest { blob_digest: digest_of(b"x"), part: vec![0; BLOB_PART_BYTES_MAX + 1] };
    assert_eq!(bay.put_blob(tokio_stream::iter([giant])).await.unwrap_err().code(), Code::InvalidArgument);
    assert_eq!(reason(&get(&mut bay, &digest_of(&good)).await.unwrap_err()), "BLOB_UNKNOWN");
}

#[tokio::test]
async fn a_bay_does_not_get_a_record_as_a_file() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut journal = shop.journal(&server, "bay-1").await;
    append(&mut journal, shop.seal("bay-1", &job_id(1), arrival("AB 123"))).await.unwrap();
    append(&mut journal, shop.seal("bay-1", &job_id(1), closing())).await.unwrap();
    let mut records = RecordServiceClient::new(shop.bearer(&server, "office").await);
    let request = IssueRequest { job: "1".into(), request_id: entry_id(0xA001), person_code: "A".into() };
    let pdf = records.issue(request).await.unwrap().into_inner().pdf;
    let digest = digest_of(&pdf);
    let refused = get(&mut blobs(&shop, &server, "bay-1").await, &digest).await.unwrap_err();
    assert_eq!(refused.code(), Code::PermissionDenied);
    assert_eq!(get(&mut blobs(&shop, &server, "office").await, &digest).await.unwrap(), pdf);
}

#[tokio::test]
async fn a_customer_is_known_to_the_office_only_and_can_be_erased() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut journal = shop.journal(&server, "bay-1").await;
    append(&mut journal, shop.seal("bay-1", &job_id(1), arrival("AB 123"))).await.unwrap();
    let mut office = CustomerServiceClient::new(shop.bearer(&server, "office").await);
    let asked = || GetCustomerRequest { job: "HL-26-0001".into() };
    assert_eq!(office.get_customer(asked()).await.unwrap().into_inner().customer, None);
    let customer = Customer { name: "Customer Wren".into(), telephone: "555 0102".into() };
    let put = PutCustomerRequest { job: "1".into(), customer: Some(customer.clone()) };
    office.put_customer(put.clone()).await.unwrap();
    assert_eq!(office.get_customer(asked()).await.unwrap().into_inner().customer, Some(customer));
    let nameless = PutCustomerRequest { customer: Some(Customer::default()), ..put.clone() };
    assert_eq!(office.put_customer(nameless).await.unwrap_err().code(), Code::InvalidArgument);
    let mut bay = CustomerServiceClient::new(shop.bearer(&server, "bay-1").await);
    assert_eq!(bay.get_customer(asked()).await.unwrap_err().code(), Code::PermissionDenied);

    let found = |station: &'static str, search: &'static str| {
        let (shop, server) = (&shop, &server);
        async move {
            let mut jobs = JobServiceClient::new(shop.bearer(server, station).await);
            let request = ListRequest { search: search.into(), ..ListRequest::default() };
            jobs.list(request).await.unwrap().into_inner().jobs.len()
        }
    };
    assert_eq!((found("office", "wren").await, found("office", "5550102").await), (1, 1));
    assert_eq!((found("bay-1", "wren").await, found("bay-1", "AB 123").await), (0, 1));

    let mut records = RecordServiceClient::new(shop.bearer(&server, "office").await);
    let mut bay_records = RecordServiceClient::new(shop.bearer(&server, "bay-1").await);
    let draft = || RenderRequest { job: "1".into(), ..RenderRequest::default() };
    let with_name = records.render(draft()).await.unwrap().into_inner().pdf;
    let without_name = bay_records.render(draft()).await.unwrap().into_inner().pdf;
    assert_ne!(with_name, without_name);
    let erase = || EraseCustomerRequest { job: "1".into() };
    office.erase_customer(erase()).await.unwrap();
    office.erase_customer(erase()).await.unwrap();
    assert_eq!(office.get_customer(asked()).await.unwrap().into_inner().customer, None);
    assert_eq!(records.render(draft()).await.unwrap().into_inner().pdf, without_name);
    assert_eq!(found("office", "wren").await, 0);
}
