//! Photos and words beside the journal: stripped and salted at the station, taken by digest before or after their
//! entry, given by role, erased for good.

use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::{self, IssueRequest, RenderRequest, fact::Kind};
use standpipe_server::{Role, RunningServer};
use standpipe_tests::blobs::{NOTES, PHOTO, blobs, digest_of, get, photo_with_notes, put};
use standpipe_tests::facts;
use standpipe_tests::sealed::{Sealer, uuid_v7};
use standpipe_tests::shop::Shop;
use standpipe_tests::site::{Site, append, journal, shown};
use standpipe_tests::told::{info, reason};
use tonic::Code;

async fn workshop() -> (Site, RunningServer) {
    let site = Site::with(&[("bay-1", Role::Bay), ("bay-2", Role::Bay), ("office", Role::Office)]).await;
    let server = site.serve().await;
    (site, server)
}

fn photo_of(bytes: &[u8]) -> Kind {
    let subject = v1::PhotoSubject::Magnets.into();
    Kind::Photo(v1::Photo { blob_digest: digest_of(bytes), subject })
}

/// A photo that differs from all others by a note that the decoder skips.
fn numbered(number: u8) -> Vec<u8> {
    let (start, rest) = PHOTO.split_at(2);
    [start, &[0xff, 0xfe, 0, 3, number], rest].concat()
}

#[tokio::test]
async fn a_file_may_come_before_its_entry_or_after_it_and_until_then_the_record_says_so() {
    let (site, server) = workshop().await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let mut files = blobs(server.addr, site.token("bay-1")).await;
    let mut records = RecordServiceClient::new(shown(server.addr, site.token("office")).await);
    let mut sealer = Sealer::new("bay-1", 1);
    let (early, late) = (numbered(1), numbered(2));
    let mut printed = Vec::new();
    for (number, photo) in [(1, &early), (2, &late)] {
        let job = sealer.job(number);
        for kind in facts::whole_service() {
            append(&mut bay, &sealer.seal(&job, kind)).await.unwrap();
        }
        let before = number == 1;
        if before {
            assert!(!put(&mut files, &digest_of(photo), photo).await.unwrap().repeated);
        }
        append(&mut bay, &sealer.seal(&job, photo_of(photo))).await.unwrap();
        let mut render = async || {
            let request = RenderRequest { job: job.clone(), ..RenderRequest::default() };
            records.render(request).await.unwrap().into_inner().pdf
        };
        let first = render().await;
        if !before {
            let unknown = get(&mut files, &digest_of(photo)).await.unwrap_err();
            assert_eq!((unknown.code(), reason(&unknown).as_str()), (Code::NotFound, "BLOB_UNKNOWN"));
            put(&mut files, &digest_of(photo), photo).await.unwrap();
            let then = render().await;
            assert_ne!(first, then, "the frame of a photo that has arrived is not empty");
            printed.push(then);
        } else {
            printed.push(first);
        }
        assert_eq!(get(&mut files, &digest_of(photo)).await.unwrap(), *photo);
    }
    // Byte for byte as the station sent it, in both records.
    for (pdf, photo) in printed.iter().zip([early, late]) {
        assert!(pdf.windows(photo.len()).any(|window| window == photo));
    }
}

#[tokio::test]
async fn a_file_that_is_not_what_its_digest_says_is_refused_and_nothing_of_it_is_kept() {
    let (site, server) = workshop().await;
    let mut bay = blobs(server.addr, site.token("bay-1")).await;
    let (named, found) = (digest_of(b"another photo"), digest_of(PHOTO));
    let refused = put(&mut bay, &named, PHOTO).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::InvalidArgument, "BLOB_DIGEST_DIFFERS"));
    let told = info(&refused).unwrap().metadata;
    assert_eq!((told["named"].as_str(), told["found"].as_str()), (named.as_str(), found.as_str()));
    for digest in [named, found] {
        assert_eq!(reason(&get(&mut bay, &digest).await.unwrap_err()), "BLOB_UNKNOWN");
    }
    // Neither a program nor a page is a photo, whatever it is called.
    for wrong in [
        &b"\x7fELF\x02\x01\x01\0\0\0\0\0\0\0\0\0\x02\0\x3e\0\x01\0\0\0"[..],
        b"GIF89a\x01\0\x01\0\x80\0\0\xff\xff\xff\0\0\0\x2c",
    ] {
        let refused = put(&mut bay, &digest_of(wrong), wrong).await.unwrap_err();
        assert_eq!(reason(&refused), "BLOB_REFUSED", "{wrong:?}");
    }
    let forged = put(&mut bay, &digest_of(b"%PDF-1.7 forged"), b"%PDF-1.7 forged").await.unwrap_err();
    assert_eq!(reason(&forged), "BLOB_REFUSED");
    assert!(forged.message().contains("made by the server"), "{}", forged.message());
}

#[tokio::test]
async fn photos_and_words_are_given_to_every_station_of_the_site_and_issued_records_to_the_office_only() {
    let (site, server) = workshop().await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    append(&mut bay, &sealer.seal(&job, facts::closing())).await.unwrap();
    let words = [&[0xa5; 16][..], "bangs into second".as_bytes()].concat();
    for file in [PHOTO, &words] {
        let mut sender = blobs(server.addr, site.token("bay-1")).await;
        put(&mut sender, &digest_of(file), file).await.unwrap();
    }
    let mut records = RecordServiceClient::new(shown(server.addr, site.token("office")).await);
    let request = IssueRequest { job, request_id: uuid_v7(9, 1), person_code: "A".into() };
    let record = records.issue(request).await.unwrap().into_inner().pdf;
    for (token, gets_records) in [
        (site.token("bay-1"), false),
        (site.token("bay-2"), false),
        (site.token("office"), true),
        (&site.admin, true),
    ] {
        let mut client = blobs(server.addr, token).await;
        assert_eq!(get(&mut client, &digest_of(PHOTO)).await.unwrap(), PHOTO);
        assert_eq!(get(&mut client, &digest_of(&words)).await.unwrap(), words);
        match get(&mut client, &digest_of(&record)).await {
            Ok(bytes) => assert!(gets_records && bytes == record),
            Err(status) => assert!(!gets_records && status.code() == Code::PermissionDenied, "{status:?}"),
        }
    }
    let nobody = get(&mut blobs(server.addr, &"0".repeat(64)).await, &digest_of(PHOTO)).await.unwrap_err();
    assert_eq!(nobody.code(), Code::Unauthenticated);
}

/// Everything that a folder holds, in one piece.
pub(crate) fn all_bytes(folder: &std::path::Path) -> Vec<u8> {
    let mut bytes = Vec::new();
    for item in std::fs::read_dir(folder).unwrap() {
        let path = item.unwrap().path();
        if path.is_dir() {
            bytes.extend(all_bytes(&path));
        } else if path.is_file() {
            bytes.extend(std::fs::read(path).unwrap());
        }
    }
    bytes
}

pub(crate) fn holds(bytes: &[u8], text: &str) -> bool {
    bytes.windows(text.len()).any(|window| window == text.as_bytes())
}

#[test]
fn place_and_camera_of_a_photo_never_leave_the_person_s_own_file() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    let file = shop.path("photo.jpg");
    std::fs::write(&file, photo_with_notes()).unwrap();
    for note in NOTES {
        assert!(holds(&photo_with_notes(), note));
    }
    bay.say(&format!("photo '{}' --subject magnets", file.display())).fine();
    assert_eq!(std::fs::read(&file).unwrap(), photo_with_notes(), "the person's own file stays as it is");
    let (home, site) = (all_bytes(&bay.path), all_bytes(&shop.dir()));
    for note in NOTES {
        assert!(!holds(&home, note), "{note} is kept by the station");
        assert!(!holds(&site, note), "{note} has come to the server");
    }
    // The picture itself, from its first table to its end, is as the camera made it.
    let tables = PHOTO.windows(2).position(|pair| pair == [0xff, 0xdb]).unwrap();
    assert!(site.windows(PHOTO.len() - tables).any(|window| *window == PHOTO[tables..]));
    shop.close();
    assert!(shop.verb("verify").fine().err.is_empty());
}

#[test]
fn words_and_a_photo_that_waited_on_the_station_arrive_with_their_entries() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    let file = shop.path("photo.jpg");
    std::fs::write(&file, PHOTO).unwrap();
    shop.close();
    bay.say(&format!("photo '{}' --subject magnets", file.display())).ended(75);
    bay.say("remark 'bangs into second on cold mornings' --subject complaint").ended(75);
    assert_eq!(bay.unsent_files().len(), 4, "two entries and their files");
    shop.serve();
    shop.join(&bay);
    bay.say("send").fine();
    assert_eq!(bay.unsent_files(), Vec::<String>::new());
    let printed = shop.path("record.pdf");
    bay.say(&format!("record -o '{}'", printed.display())).fine();
    if let Some(text) = crate::record::flowing(&printed) {
        assert!(text.contains("bangs into second on cold mornings"), "{text}");
        assert!(!text.contains("not yet arrived"), "{text}");
    }
    // The words stand in no file under a digest that they alone would give.
    let unsalted = digest_of(b"bangs into second on cold mornings");
    assert!(!shop.dir().join("blobs").join(&unsalted[..2]).join(&unsalted).exists());
}

#[test]
fn an_erased_photo_and_erased_words_are_gone_for_good_and_the_journal_stays_as_it_was() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    bay.say("remark 'bangs into second on cold mornings' --subject complaint").fine();
    assert!(holds(&all_bytes(&shop.dir()), "bangs into second"));
    let root = shop.verb("verify --output json").fine().json()["root"].clone();
    let drawers = std::fs::read_dir(shop.dir().join("blobs")).unwrap();
    let files = drawers.flat_map(|drawer| std::fs::read_dir(drawer.unwrap().path()).unwrap());
    let names: Vec<String> = files.map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
    let [digest] = &names[..] else { panic!("one file, not {names:?}") };
    shop.verb(&format!("erase remark {digest}")).fine();
    assert!(!holds(&all_bytes(&shop.dir()), "bangs into second"));
    let verified = shop.verb("verify --output json").fine().json();
    assert_eq!((&verified["root"], &verified["sound"]), (&root, &true.into()));
    let printed = shop.path("record.pdf");
    bay.say(&format!("record -o '{}'", printed.display())).fine();
    if let Some(text) = crate::record::flowing(&printed) {
        assert!(text.contains("words erased") && !text.contains("bangs"), "{text}");
    }
}
