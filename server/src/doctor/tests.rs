//! What each look says, and what it says to do next.

use super::*;
use crate::clock::{SystemClock, SystemEntropy};
use crate::{Desk, InitOptions, Role, Server, ServerOptions, init};
use std::os::unix::fs::PermissionsExt as _;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

async fn found() -> (tempfile::TempDir, PathBuf) {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("shop");
    let options = InitOptions {
        site_id: "harbour-lane".to_owned(),
        site_name: "Harbour Lane".to_owned(),
        clock: Arc::new(SystemClock),
        entropy: Arc::new(SystemEntropy),
    };
    init(&dir, options).await.unwrap();
    (home, dir)
}

async fn of(dir: &Path, about: &str) -> Check {
    let checks = doctor(dir, &SystemClock).await.unwrap();
    checks.into_iter().find(|check| check.about == about).unwrap()
}

#[tokio::test]
async fn a_new_site_is_told_its_next_steps_and_is_well_after_them() {
    let (_home, dir) = found().await;
    for (about, command) in [
        ("server", "serve"),
        ("catalogue", "catalogue import"),
        ("stations", "station add"),
        ("persons", "person add"),
    ] {
        let next = of(&dir, about).await.next.unwrap();
        assert!(next.starts_with(&format!("standpipe-server {command}")), "{about}: {next}");
        assert!(next.ends_with(&format!("--dir {}", dir.display())), "{next}");
    }
    let mut desk = Desk::open(&dir).await.unwrap();
    desk.add_station("bay-1", Role::Bay).await.unwrap();
    desk.add_person("A", None).await.unwrap();
    let catalogue = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().join("deploy/catalogue");
    desk.import_catalogue(&catalogue).await.unwrap();
    desk.close().await.unwrap();
    assert!(of(&dir, "persons").await.next.unwrap().contains("person pin A"));
    let mut desk = Desk::open(&dir).await.unwrap();
    desk.set_pin("A", "kept").await.unwrap();
    desk.close().await.unwrap();
    let listen = "127.0.0.1:0".parse().unwrap();
    let server = Server::start(ServerOptions { listen, ..ServerOptions::new(&dir) }).await.unwrap();
    let checks = doctor(&dir, &SystemClock).await.unwrap();
    let address = checks.iter().find(|check| check.about == "address").unwrap();
    assert!(address.sentence.contains(&server.addr.to_string()), "{address:?}");
    let to_do: Vec<_> = checks.iter().filter(|check| check.next.is_some() && check.about != "disk").collect();
    assert!(to_do.is_empty(), "{to_do:?}");
    server.shutdown();
    server.join().await.unwrap();
}

#[tokio::test]
async fn what_is_wrong_is_named_with_the_command_that_helps() {
    let (_home, dir) = found().await;
    std::fs::set_permissions(&dir, std::fs::Permissions::from_mode(0o755)).unwrap();
    assert_eq!(of(&dir, "folder").await.next, Some(format!("chmod go-rwx {}", dir.display())));
    std::fs::write(dir.join(crate::SETTINGS_FILE), "lisen = 1\n").unwrap();
    let settings = of(&dir, "settings").await;
    assert!(settings.sentence.contains("did you mean listen?") && settings.next.is_some());
    std::fs::remove_file(dir.join(crate::EPOCH_FILE)).unwrap();
    let journal = of(&dir, "journal").await;
    assert!(journal.sentence.contains("epoch") && journal.next.unwrap().contains("verify"));
    std::fs::write(dir.join(crate::JOURNAL_FILE), b"no database").unwrap();
    let journal = of(&dir, "journal").await;
    assert!(journal.next.unwrap().contains("verify"));
    assert!(matches!(doctor(&dir.join("x"), &SystemClock).await, Err(ServerError::FolderMissing { .. })));
}

#[tokio::test]
async fn a_certificate_that_nobody_renewed_or_that_fits_no_key_is_told() {
    struct Later(i64);
    impl Clock for Later {
        fn now_us(&self) -> i64 {
            SystemClock.now_us() + self.0 * 86_400_000_000
        }
    }
    let (_home, dir) = found().await;
    let after = async |days| {
        let checks = doctor(&dir, &Later(days)).await.unwrap();
        checks.into_iter().find(|check| check.about == "certificate").unwrap()
    };
    assert_eq!(after(0).await.next, None);
    assert_eq!(after(60).await.next, None);
    assert!(after(80).await.sentence.contains("not renewed"));
    assert!(after(91).await.sentence.starts_with("it ended"));
    let tls = dir.join("tls");
    std::fs::set_permissions(tls.join("server-key.pem"), std::fs::Permissions::from_mode(0o644)).unwrap();
    assert!(of(&dir, "folder").await.next.unwrap().contains("server-key.pem"));
    std::fs::copy(tls.join("authority-key.pem"), tls.join("server-key.pem")).unwrap();
    let wrong = after(0).await;
    assert!(wrong.sentence.contains("server-key.pem") && wrong.next.is_some(), "{wrong:?}");
}

#[tokio::test]
async fn an_entry_that_comes_while_doctor_looks_is_no_clock_that_went_back() {
    /// An hour before now at the first look, and now from then on.
    struct Going(AtomicBool);
    impl Clock for Going {
        fn now_us(&self) -> i64 {
            let before = if self.0.swap(true, Ordering::Relaxed) { 0 } else { 3_600_000_000 };
            SystemClock.now_us() - before
        }
    }
    let (_home, dir) = found().await;
    let checks = doctor(&dir, &Going(AtomicBool::new(false))).await.unwrap();
    let clock = checks.into_iter().find(|check| check.about == "clock").unwrap();
    assert_eq!(clock.next, None, "{clock:?}");
}

#[test]
fn spans_and_sizes_are_written_in_the_unit_that_fits() {
    assert_eq!(
        [0, 1, 119, 120, 7_199, 7_200, 172_800, -5].map(span),
        [
            "0 seconds",
            "1 second",
            "119 seconds",
            "2 minutes",
            "119 minutes",
            "2 hours",
            "2 days",
            "0 seconds"
        ]
    );
    assert_eq!([0, 5_400_000, 41_250_000_000].map(size), ["0 kB", "5 MB", "41.2 GB"]);
}
