//! Photos and words: kept at once, sent with or after their entry, never lost.

use super::*;
use crate::disk::SystemDisk;
use crate::folder::blobs::digest_of;
use crate::tests::fake::Fake;
use crate::tests::{arrival, options, wait_for, write_joined};
use standpipe_proto::v1::fact::Kind;
use std::sync::Arc;

fn station(home: &Path, shop: &Fake) -> Station {
    write_joined(&SystemDisk, home, &shop.address);
    let mut station = Station::open(home, options(Arc::new(SystemDisk), 9)).unwrap();
    station.set_person("A").unwrap();
    station.open_job(arrival(), Vec::new(), None).unwrap();
    station
}

fn said(station: &mut Station, words: &str) -> Attached {
    let job = station.current_job().unwrap();
    station.attach_remark(&job, words, "complaint").unwrap()
}

#[test]
fn a_digest_is_that_of_the_standard() {
    // FIPS 180-4, example of SHA-256: "abc".
    assert_eq!(digest_of(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

#[test]
fn words_are_salted_and_go_with_their_entry() {
    let shop = Fake::start();
    let home = tempfile::tempdir().unwrap();
    let mut station = station(home.path(), &shop);
    let (first, second) =
        (said(&mut station, "shudders when cold"), said(&mut station, " shudders when cold "));
    assert_ne!(first.digest, second.digest);
    let report = wait_for(station.send()).unwrap();
    assert_eq!((report.blobs_sent, report.blobs_waiting, report.waiting), (2, 0, 0));
    let shop = shop.shop();
    assert_eq!(&shop.blobs[&first.digest][16..], b"shudders when cold");
    let entries = shop.entries();
    let Some(Kind::Remark(remark)) = &entries[1].fact.as_ref().unwrap().kind else { panic!() };
    assert_eq!(remark.blob_digest, first.digest);
    assert_eq!(digest_of(&shop.blobs[&first.digest]), first.digest);
}

#[test]
fn files_wait_while_the_server_takes_none_and_are_sent_again() {
    let shop = Fake::start();
    let home = tempfile::tempdir().unwrap();
    let mut station = station(home.path(), &shop);
    shop.shop().refuses_blobs = Some(Code::Unavailable);
    said(&mut station, "late changes");
    let report = wait_for(station.send()).unwrap();
    assert_eq!((report.waiting, report.blobs_waiting), (0, 1));
    assert!(matches!(report.end, SendEnd::Later { .. }));
    drop(station);
    // Another process later: nothing but the file waits.
    shop.shop().refuses_blobs = None;
    let mut later = Station::open(home.path(), options(Arc::new(SystemDisk), 10)).unwrap();
    assert_eq!(wait_for(later.send()).unwrap().blobs_sent, 1);
    assert_eq!(wait_for(later.send()).unwrap().blobs_sent, 0);
    assert_eq!(shop.shop().blobs.len(), 1);
}

#[test]
fn a_file_that_is_refused_for_ever_or_not_whole_is_set_aside_and_told() {
    let shop = Fake::start();
    let home = tempfile::tempdir().unwrap();
    let mut station = station(home.path(), &shop);
    let refused = said(&mut station, "noise").digest;
    shop.shop().refuses_blobs = Some(Code::InvalidArgument);
    assert_eq!(wait_for(station.send()).unwrap().blobs_waiting, 0);
    assert!(station.take_notices().concat().contains("was refused and set aside: no files in this test"));
    assert!(home.path().join("refused").join(format!("{refused}.blob")).exists());
    shop.shop().refuses_blobs = None;
    let cut = said(&mut station, "slip").digest;
    std::fs::write(home.path().join("unsent/blobs").join(&cut), b"half").unwrap();
    assert_eq!(wait_for(station.send()).unwrap().blobs_sent, 0);
    assert!(station.take_notices().concat().contains("was not whole"));
    assert!(home.path().join("damaged").join(format!("{cut}.blob")).exists());
}

#[test]
fn without_a_person_or_with_a_wrong_subject_no_file_is_kept() {
    let shop = Fake::start();
    let home = tempfile::tempdir().unwrap();
    let mut station = station(home.path(), &shop);
    let job = station.current_job().unwrap();
    assert!(station.attach_remark(&job, "x", "lunch").is_err());
    assert!(station.attach_remark(&job, &"x".repeat(4001), "order").is_err());
    assert!(station.folder.blobs().unwrap().is_empty());
}

#[test]
fn a_photo_larger_than_a_part_arrives_whole_and_without_notes() {
    let shop = Fake::start();
    let home = tempfile::tempdir().unwrap();
    let mut station = station(home.path(), &shop);
    let coded = vec![0x5A; 700_000];
    let scan = [0xFF, 0xDA, 0, 8, 1, 1, 0, 0, 63, 0];
    let file = [&[0xFF, 0xD8, 0xFF, 0xE1, 0, 7][..], b"place", &scan, &coded, &[0xFF, 0xD9]].concat();
    let path = home.path().join("magnets.jpg");
    std::fs::write(&path, &file).unwrap();
    let job = station.current_job().unwrap();
    let attached = station.attach_photo(&job, &path, "magnets").unwrap();
    assert_eq!(attached.size_bytes, file.len() - 9);
    assert_eq!(wait_for(station.send()).unwrap().blobs_sent, 1);
    assert_eq!(shop.shop().blobs[&attached.digest].len(), file.len() - 9);
    std::fs::write(&path, b"GIF89a").unwrap();
    let told = station.attach_photo(&job, &path, "magnets").unwrap_err().to_string();
    assert!(told.contains("neither JPEG nor PNG"), "{told}");
}
