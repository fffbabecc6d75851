//! The folder on a real disk: a list cut at every byte, strangers, newer forms.

use crate::disk::SystemDisk;
use crate::tests::{add_one, at_work, nobody, options, write_joined};
use crate::{ClientError, Station};
use std::path::{Path, PathBuf};
use std::sync::Arc;

fn joined() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().join("bay-1");
    write_joined(&SystemDisk, &home, &nobody());
    (folder, home)
}

fn open(home: &Path) -> Result<Station, ClientError> {
    Station::open(home, options(Arc::new(SystemDisk), 5))
}

fn unsent_files(home: &Path) -> Vec<PathBuf> {
    let mut files: Vec<_> =
        std::fs::read_dir(home.join("unsent")).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

#[test]
fn a_list_whose_last_file_is_cut_at_any_byte_keeps_the_others_and_the_evidence() {
    let (_folder, home) = joined();
    let mut station = at_work(&home, options(Arc::new(SystemDisk), 1));
    add_one(&mut station);
    let last = add_one(&mut station);
    drop(station);
    let file = unsent_files(&home).pop().unwrap();
    let whole = std::fs::read(&file).unwrap();
    for cut in 0..whole.len() {
        let _ = std::fs::remove_dir_all(home.join("damaged"));
        std::fs::write(&file, &whole[..cut]).unwrap();
        let mut station = open(&home).unwrap();
        let report = station.unsent().unwrap();
        assert_eq!((report.waiting.len(), report.damaged.len()), (2, 1), "cut after {cut}");
        let notices = station.take_notices();
        assert!(
            notices[0].contains("is not whole") && notices[0].contains("state its fact again"),
            "{notices:?}"
        );
        let evidence = home.join("damaged").join(&report.damaged[0]);
        assert_eq!(std::fs::read(&evidence).unwrap(), &whole[..cut]);
        if cut == whole.len() / 2 {
            // Its number is not used again: nobody knows whether it was sent.
            assert_eq!(add_one(&mut station).station_number, last.station_number + 1);
            std::fs::remove_file(unsent_files(&home).pop().unwrap()).unwrap();
        }
    }
    std::fs::write(&file, &whole).unwrap();
    assert_eq!(open(&home).unwrap().unsent().unwrap().waiting.len(), 3);
}

#[test]
fn damaged_files_of_the_same_name_do_not_replace_each_other() {
    let (_folder, home) = joined();
    drop(at_work(&home, options(Arc::new(SystemDisk), 1)));
    let file = unsent_files(&home).pop().unwrap();
    for round in 1..=3 {
        std::fs::write(&file, [round]).unwrap();
        assert_eq!(open(&home).unwrap().unsent().unwrap().damaged.len(), usize::from(round));
    }
}

#[test]
fn small_files_that_cannot_be_read_are_set_aside_and_work_goes_on() {
    let (_folder, home) = joined();
    drop(at_work(&home, options(Arc::new(SystemDisk), 1)));
    for name in ["epoch", "current", "jobs"] {
        std::fs::write(home.join(name), b"\xff\x00 = = torn").unwrap();
    }
    let mut station = open(&home).unwrap();
    assert_eq!(station.take_notices().len(), 3);
    assert!(station.person().is_none());
    station.set_person("A").unwrap();
    // The job's name comes back from its arrival, and the new epoch counts from 1.
    let job = super::super::tests::wait_for(station.use_job("new-1")).unwrap();
    assert_eq!(job.plate, "TW 4711");
    assert_eq!(add_one(&mut station).station_number, 1);
}

#[test]
fn a_station_file_that_cannot_be_read_is_moved_aside_asks_to_join_again_and_shows_no_token() {
    let (_folder, home) = joined();
    let text = std::fs::read_to_string(home.join("station.toml")).unwrap();
    std::fs::write(home.join("station.toml"), text.replace("station_id", "station")).unwrap();
    let mut station = open(&home).unwrap();
    let notices = station.take_notices().join(" ");
    assert!(notices.contains("standpipe join") && !notices.contains("a-token"), "{notices}");
    assert!(station.joined().is_err());
}

#[test]
fn foreign_and_newer_folders_are_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("letter.txt"), "dear").unwrap();
    let sentence = open(folder.path()).err().unwrap().to_string();
    assert!(sentence.contains("not empty and not a station's folder"), "{sentence}");
    assert!(!folder.path().join("unsent").exists());

    let (_folder, home) = joined();
    drop(at_work(&home, options(Arc::new(SystemDisk), 1)));
    let epoch = std::fs::read_to_string(home.join("epoch")).unwrap();
    std::fs::write(home.join("epoch"), epoch.replace("form = 1", "form = 2")).unwrap();
    let sentence = open(&home).err().unwrap().to_string();
    assert!(sentence.contains("newer than this program"), "{sentence}");
}

#[test]
fn a_folder_that_cannot_be_written_is_told_in_one_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("file");
    std::fs::write(&file, "x").unwrap();
    let sentence = open(&file.join("home")).err().unwrap().to_string();
    assert!(sentence.starts_with("making the folder") && !sentence.contains('\n'), "{sentence}");
}

#[test]
fn strangers_among_the_entries_are_neither_sent_nor_touched() {
    let (_folder, home) = joined();
    drop(at_work(&home, options(Arc::new(SystemDisk), 1)));
    for name in ["notes.txt", "1.entry", "0000000000000000000x.entry", "00000000000000000001.entry~"] {
        std::fs::write(home.join("unsent").join(name), "x").unwrap();
    }
    std::fs::write(home.join("unsent/00000000000000000009.entry.new"), "half").unwrap();
    let mut station = open(&home).unwrap();
    let report = station.unsent().unwrap();
    assert_eq!((report.waiting.len(), report.damaged.len()), (1, 0));
    assert_eq!(unsent_files(&home).len(), 5, "only the file that was never promised is gone");
}

#[test]
fn another_holder_of_the_folder_is_named() {
    let (_folder, home) = joined();
    let mut station = at_work(&home, options(Arc::new(SystemDisk), 1));
    let other = open(&home).unwrap();
    let held = other.folder.lock().unwrap();
    let sentence = station.set_person("B").unwrap_err().to_string();
    assert!(
        sentence.contains(&format!("process {}", std::process::id())) && sentence.contains("test"),
        "{sentence}"
    );
    drop(held);
    station.set_person("B").unwrap();
}
