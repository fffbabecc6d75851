//! A serial line, with a pseudo terminal in its place.

use super::*;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::fs::File;

/// The instrument's end of a line, and the name of the station's.
fn line() -> (File, String) {
    // A program that is started meanwhile must not hold this end open.
    let instrument = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    grantpt(&instrument).unwrap();
    unlockpt(&instrument).unwrap();
    let name = ptsname(&instrument, Vec::new()).unwrap().into_string().unwrap();
    (File::from(instrument), name)
}

fn begun(home: &Home, map: &Path, device: &str) -> Feeding {
    let mut feeding = Feeding::begin(home, &format!("feed --map {} --device {device} --last", map.display()));
    let told = feeding.told();
    assert!(told.ends_with(&format!("reads {device}; Ctrl-C ends it")), "{told}");
    feeding
}

const SLOW: &str = "[serial]\nspeed = 1200\ndata_bits = 7\nparity = \"even\"\nstop_bits = 2\n";

#[test]
fn a_serial_line_feeds_until_ctrl_c_and_belongs_to_one_reader() {
    let (shop, bay) = at_work();
    let map = written(&shop, "feed.toml", &format!("{TIMED}{SLOW}"));
    let (mut instrument, name) = line();
    let mut feeding = begun(&bay, &map, &name);
    // Half a line, and line ends as old displays have them; nothing of it is echoed or turned into a signal.
    instrument.write_all(b"0 40\r0 1.0 5\r\n10 2.0 15\r").unwrap();
    assert!(feeding.said().starts_with("1.00 L in"), "the first half line was no reading");
    let other = bay.fed(&format!("feed --map {} --device {name}", map.display()), "").refused(64);
    assert!(other.contains("is being read by another feed"), "{other}");
    instrument.write_all(b"11 2.05 17\r").unwrap();
    instrument.write_all(b"21 3.0 25\r\n").unwrap();
    assert!(feeding.said().starts_with("2.05 L in, 16.0 of 100 new, 2 lines"));
    feeding.signal("-INT");
    let (exit, out, err) = feeding.ended();
    assert_eq!(exit, Some(0), "{out}{err}");
    assert!(out.starts_with("3.00 L in, 25.0 of 100 new, end of the exchange, 1 line\n"), "{out}");
    assert_eq!(readings(&bay).len(), 3);
}

#[test]
fn a_line_that_is_pulled_out_keeps_what_came_and_is_no_end_of_the_exchange() {
    let (shop, bay) = at_work();
    let map = written(&shop, "feed.toml", TIMED);
    let (mut instrument, name) = line();
    let mut feeding = begun(&bay, &map, &name);
    instrument.write_all(b"0 1.0 5\n10 2.0 15\n").unwrap();
    assert!(feeding.said().starts_with("1.00 L in"));
    drop(instrument);
    let (exit, out, err) = feeding.ended();
    assert_eq!(exit, Some(74), "{out}{err}");
    assert!(out.starts_with("2.00 L in, 15.0 of 100 new, 1 line\n"), "{out}");
    assert!(err.contains(&format!("reading {name} failed")), "{err}");
    let stated = readings(&bay);
    assert_eq!(stated.len(), 2);
    assert!(stated.iter().all(|text| !text.contains("end of the exchange")), "{stated:?}");
}
