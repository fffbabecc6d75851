//! The sync rate of this disk: 4 KiB written over a file that is there already, then fdatasync.

use crate::Figure;
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;
use std::time::{Duration, Instant};

pub fn base(folder: &Path, measure: Duration) -> Figure {
    let path = folder.join("base");
    let mut file = std::fs::File::create(&path).unwrap();
    file.write_all(&vec![0; 64 * 4096]).unwrap();
    file.sync_all().unwrap();
    let block = [7u8; 4096];
    let mut times = Vec::new();
    let start = Instant::now();
    while start.elapsed() < measure || times.len() < 100 {
        let one = Instant::now();
        file.seek(SeekFrom::Start((times.len() as u64 % 64) * 4096)).unwrap();
        file.write_all(&block).unwrap();
        file.sync_data().unwrap();
        times.push(one.elapsed());
    }
    let figure = Figure::of(times, start.elapsed());
    std::fs::remove_file(&path).unwrap();
    figure
}
