//! What the office reads of the owner's server, and the use of what that offers.

use super::{Browser, shop};
use crate::config::Mode;
use crate::{Desk, InitOptions, Server, ServerOptions, SystemClock, SystemEntropy, doctor, init_as};
use std::path::{Path, PathBuf};
use std::sync::Arc;

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().join("deploy/catalogue")
}

/// The demo's catalogue under another workshop's name, with one file that says more.
fn offered(to: &Path) {
    std::fs::create_dir(to).unwrap();
    for entry in std::fs::read_dir(demo()).unwrap().map(Result::unwrap) {
        let Ok(text) = std::fs::read_to_string(entry.path()) else { continue };
        let name = entry.file_name().into_string().unwrap();
        let text = match name.as_str() {
            "workshop.toml" => text
                .lines()
                .map(|line| if line.starts_with("name = ") { "name = \"The owner\"" } else { line })
                .collect::<Vec<_>>()
                .join("\n"),
            _ => text + "\n# read again\n",
        };
        std::fs::write(to.join(name), text).unwrap();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_shows_the_office_how_far_the_owner_has_the_journal_and_what_it_offers() {
    let (home, shop) = (tempfile::tempdir().unwrap(), shop().await);
    let mut desk = Desk::open(&shop.dir).await.unwrap();
    desk.import_catalogue(&demo()).await.unwrap();
    desk.close().await.unwrap();
    let dir = home.path().join("owner");
    let options = InitOptions {
        site_id: "owner".to_owned(),
        site_name: "The owner".to_owned(),
        clock: Arc::new(SystemClock),
        entropy: Arc::new(SystemEntropy),
    };
    init_as(&dir, options, Mode::Owner).await.unwrap();
    let files = home.path().join("offered");
    offered(&files);
    let mut desk = Desk::open(&dir).await.unwrap();
    let (revision, _) = desk.offer_catalogue(&files, true).await.unwrap();
    desk.close().await.unwrap();
    let listen = "127.0.0.1:0".parse().unwrap();
    let options = ServerOptions { mode: Mode::Owner, listen, ..ServerOptions::new(&dir) };
    let owner = Server::start(options).await.unwrap();
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let alone = browser.get("/").await.text();
    assert!(!alone.contains("owner's server"), "{alone}");
    let entries = server.bring_to(&owner).await.unwrap();

    let jobs = browser.get("/").await.text();
    assert!(jobs.contains(&format!("has all {entries} entries")), "{jobs}");
    let catalogue = browser.get("/catalogue").await.text();
    assert!(catalogue.contains(&format!("The owner offers revision {}", &revision[..8])), "{catalogue}");
    let told = doctor(&shop.dir, &SystemClock).await.unwrap();
    let offer = told.iter().find(|check| check.about == "offer").unwrap();
    assert!(offer.sentence.contains(&revision[..16]) && offer.next.is_none(), "{offer:?}");
    // Fetched and not used: that is the site's own act.
    let in_use = server_revision(&shop.dir).await;
    assert_ne!(in_use, revision);
    let path = format!("/catalogue/offered/{revision}");
    let used = browser.fill("/catalogue", &["form_key"], &[]).await;
    assert_ne!(used.status, 303, "the page of the catalogue itself takes nothing");
    let key = browser.get("/catalogue").await.hidden("form_key");
    let used = browser.post(&path, &[("form_key", &key)]).await;
    assert_eq!((used.status, used.header("location")), (303, Some("/catalogue")), "{}", used.text());
    let after = browser.get("/catalogue").await.text();
    assert!(!after.contains("The owner offers"), "{after}");
    let now = server_revision(&shop.dir).await;
    assert!(now != in_use && now != revision, "the workshop's own settings stay in it");
    let own = std::fs::read_to_string(shop.dir.join("catalogue").join(&now).join("workshop.toml")).unwrap();
    assert!(!own.contains("The owner"), "{own}");
    let unknown = format!("/catalogue/offered/{}", "0".repeat(64));
    assert_eq!(browser.post(&unknown, &[("form_key", &key)]).await.status, 404);
    server.level_with_owner().await.unwrap();
    assert!(dir.join("sites").join("harbour-lane").join("catalogue").join(&now).is_dir());
    server.shutdown();
    server.join().await.unwrap();
    owner.shutdown();
    owner.join().await.unwrap();
}

/// The revision in use, read beside the running server.
async fn server_revision(dir: &Path) -> String {
    use crate::folder::Folder;
    let store = Folder::find(dir).unwrap().place().unwrap().open_for_reading().await.unwrap();
    let current = crate::catalogue::adoptions(&*store).await.unwrap().pop().unwrap();
    store.close().await.unwrap();
    current.revision_id
}
