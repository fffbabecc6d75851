//! What no kill can show: that the disk was told before the station was. Counted from outside.

use super::strace;
use standpipe_server::Role;
use standpipe_tests::facts;
use standpipe_tests::process::Process;
use standpipe_tests::programs;
use standpipe_tests::sealed::Sealer;
use standpipe_tests::site::{Site, append, journal};
use std::process::Command;

const ENTRIES: usize = 40;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_answer_to_a_station_that_waits_for_each_has_its_own_sync_of_the_journal() {
    if !strace::works() {
        return;
    }
    let site = Site::with(&[("bay-1", Role::Bay)]).await;
    let log = site.folder.path().join("calls");
    let mut command = Command::new("strace");
    // As a grandchild (-D), so that what is started here is the server itself.
    command
        .args(["-D", "-f", "-y", "-qq", "-e", "trace=fsync,fdatasync", "-o"])
        .arg(&log)
        .arg(programs::server());
    let server = Process::start(command, &site.dir()).unwrap();
    let mut bay = journal(server.address, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    for _ in 1..ENTRIES {
        append(&mut bay, &sealer.seal(&job, facts::temperature(43.0))).await.unwrap();
    }
    drop(bay);
    let (code, said) = server.terminate();
    assert_eq!(code, Some(0), "{said}");
    let calls = std::fs::read_to_string(&log).unwrap();
    let syncs = calls.lines().filter(|line| line.contains("standpipe.db-wal>")).count();
    println!("{syncs} syncs of the journal for {ENTRIES} entries");
    assert!(syncs >= ENTRIES, "only {syncs} syncs of the journal for {ENTRIES} entries, each answered alone");
}
