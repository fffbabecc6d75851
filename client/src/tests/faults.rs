//! The station dies, its disk refuses, or the power fails at every step: what it said was kept is there, once.

use super::disks::{Fault, FaultyDisk, PowerDisk};
use super::fake::Fake;
use super::*;
use crate::disk::SystemDisk;
use standpipe_proto::v1::fact;
use std::collections::BTreeSet;

/// A day at work. Goes on after whatever fails, and gives the identities that were said to be kept.
async fn day(home: &Path, options: StationOptions) -> Vec<String> {
    let mut kept = Vec::new();
    let Ok(mut station) = Station::open(home, options) else { return kept };
    let _ = station.set_person("A");
    let mut said =
        |result: Result<crate::Kept, ClientError>| kept.extend(result.ok().map(|kept| kept.entry_id));
    said(station.open_job(arrival(), Vec::new(), None));
    for litres in [1.0, 2.0] {
        let (fact, typed) = drained(litres);
        said(station.add(fact, typed, None));
    }
    let _ = station.send().await;
    let (fact, typed) = drained(3.0);
    said(station.add(fact, typed, None));
    if let Ok(job) = station.current_job() {
        said(station.attach_remark(&job, "shudders", "complaint").map(|attached| attached.kept));
    }
    let _ = station.send().await;
    let (fact, typed) = drained(4.0);
    said(station.add(fact, typed, None));
    kept
}

/// Opens the folder again with a whole disk, sends, works on, and says what is wrong.
async fn wrong_afterwards(
    home: &Path,
    options: StationOptions,
    shop: &Fake,
    kept: &[String],
) -> Option<String> {
    let mut station = match Station::open(home, options) {
        Ok(station) => station,
        Err(error) => return Some(format!("does not open: {error}")),
    };
    let waiting: BTreeSet<_> = station.unsent.values().map(|kept| kept.waiting.entry_id.clone()).collect();
    let stored: BTreeSet<_> = shop.shop().ids().into_iter().collect();
    if let Some(lost) = kept.iter().find(|id| !waiting.contains(*id) && !stored.contains(*id)) {
        return Some(format!("{lost} was kept and is lost"));
    }
    if station.set_person("B").is_err() || station.open_job(arrival(), Vec::new(), None).is_err() {
        return Some("cannot work on".into());
    }
    let report = station.send().await.unwrap();
    if report.end != crate::SendEnd::Done || report.waiting + report.blobs_waiting > 0 {
        return Some(format!("does not send: {report:?}"));
    }
    let journal = shop.shop().entries();
    let headers = || journal.iter().map(|entry| entry.header.clone().unwrap());
    let ids: BTreeSet<_> = headers().map(|header| header.entry_id).collect();
    let numbers: BTreeSet<_> =
        headers().map(|header| (header.station_epoch, header.station_number)).collect();
    if ids.len() != journal.len() {
        return Some("an entry is twice in the journal".into());
    }
    if numbers.len() != journal.len() {
        return Some("a station number was used twice".into());
    }
    let lost = journal.iter().filter_map(|entry| match entry.fact.as_ref()?.kind.as_ref()? {
        fact::Kind::Remark(remark) => Some(remark.blob_digest.clone()),
        _ => None,
    });
    if let Some(lost) = lost.into_iter().find(|digest| !shop.shop().blobs.contains_key(digest)) {
        return Some(format!("the words {lost} are lost"));
    }
    let refused: BTreeSet<_> =
        station.folder.refused().unwrap().into_iter().map(|one| one.entry.header.unwrap().entry_id).collect();
    kept.iter()
        .find(|id| !ids.contains(*id) && !refused.contains(*id))
        .map(|id| format!("{id} never arrived"))
}

fn every_step(fault: Fault) {
    let mut steps = 0;
    for at in 0.. {
        let folder = tempfile::tempdir().unwrap();
        let home = folder.path().join("bay-1");
        let shop = Fake::start();
        write_joined(&SystemDisk, &home, &shop.address);
        let disk = Arc::new(FaultyDisk::new(fault, at));
        let wrong = wait_for(async {
            let kept = day(&home, options(disk.clone(), 1)).await;
            wrong_afterwards(&home, options(Arc::new(FaultyDisk::whole()), 2), &shop, &kept).await
        });
        assert_eq!(wrong, None, "{fault:?} at change {at}");
        if !disk.struck() {
            break;
        }
        steps += 1;
    }
    // Fewer would mean that the day is not seen by the disk.
    assert!(steps > 40, "{steps}");
}

#[test]
fn a_station_killed_before_any_change_of_its_folder_loses_and_doubles_nothing() {
    every_step(Fault::DiesBefore);
}

#[test]
fn a_station_killed_within_any_change_of_its_folder_loses_and_doubles_nothing() {
    every_step(Fault::DiesWithin);
}

#[test]
fn a_disk_that_refuses_any_one_change_loses_and_doubles_nothing() {
    every_step(Fault::Refused);
}

/// First thing wrong after power cuts at every change, with several ways to lose what was not synced.
fn first_wrong_after_power_cuts(forgets_folders: bool, ways: u64) -> Option<String> {
    let home = Path::new("/bay-1");
    for at in 0.. {
        let mut struck = false;
        for way in 0..ways {
            let shop = Fake::start();
            // The station joined before the day began.
            let joined = PowerDisk::default();
            write_joined(&joined, home, &shop.address);
            let mut disk = joined.after_the_cut(0);
            (disk.forgets_folders, disk.cut_at) = (forgets_folders, Some(at));
            let disk = Arc::new(disk);
            let wrong = wait_for(async {
                let kept = day(home, options(disk.clone(), 1)).await;
                let after = Arc::new(disk.after_the_cut(way * 7919 + at as u64));
                wrong_afterwards(home, options(after, 2), &shop, &kept).await
            });
            if wrong.is_some() {
                return wrong.map(|wrong| format!("cut at change {at}, way {way}: {wrong}"));
            }
            struck = disk.struck();
        }
        if !struck {
            return None;
        }
    }
    None
}

#[test]
fn a_power_cut_at_any_change_loses_nothing_that_was_said_to_be_kept() {
    assert_eq!(first_wrong_after_power_cuts(false, 3), None);
}

#[test]
fn the_power_cuts_find_a_station_that_forgets_to_sync_its_folder() {
    let wrong = first_wrong_after_power_cuts(true, 3).expect("a broken build must be found");
    assert!(
        wrong.contains("is lost") || wrong.contains("used twice") || wrong.contains("does not open"),
        "{wrong}"
    );
}
