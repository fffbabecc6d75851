//! A feed that goes on: the server away and back, a signal, a reader that went away, another command beside it.

use super::*;

#[test]
fn without_the_server_what_is_fed_is_kept_and_sent_when_it_is_back() {
    let (shop, bay) = at_work();
    let before = shop.entries();
    let map = written(&shop, "feed.toml", TIMED);
    let mut feeding = Feeding::begin(&bay, &format!("feed --map {}", map.display()));
    feeding.write("0 1.0 5\n10 2.0 15\n");
    assert!(feeding.said().starts_with("1.00 L in, 5.0 of 100 new, 1 line"));
    shop.close();
    feeding.write("20 3.0 25\n30 4.0 35\n");
    assert!(feeding.said().starts_with("2.00 L in"));
    assert!(feeding.said().starts_with("3.00 L in"));
    let told = feeding.told();
    assert!(told.contains("what is fed is kept, and sent when it answers"), "{told}");
    shop.serve();
    // Beside the feed another command changes the folder: the address is another one now.
    shop.join(&bay);
    feeding.write("40 5.0 45\n");
    assert!(feeding.said().starts_with("4.00 L in"));
    drop(feeding.input.take());
    let (exit, out, err) = feeding.ended();
    assert_eq!(exit, Some(0), "{out}{err}");
    assert!(out.contains("5.00 L in") && out.contains("5 entries, all at the shop server"), "{out}");
    assert!(err.contains("the shop server answers again"), "{err}");
    assert_eq!((bay.unsent_files(), shop.entries()), (Vec::new(), before + 5));
}

#[test]
fn without_the_server_to_the_end_everything_waits_and_the_exit_code_says_so() {
    let (shop, bay) = at_work();
    let map = written(&shop, "feed.toml", TIMED);
    shop.close();
    let said = bay.fed(&format!("feed --map {}", map.display()), "0 1.0 5\n10 2.0 15\n").ended(75);
    assert!(said.out.contains("2 entries, some kept unsent"), "{}", said.out);
    assert!(
        said.err.contains("kept unsent (2 waiting)") && said.err.contains("standpipe send"),
        "{}",
        said.err
    );
    assert_eq!(bay.unsent_files().len(), 2);
    shop.serve();
    shop.join(&bay);
    bay.say("send").fine();
    assert_eq!(readings(&bay).len(), 2);
}

#[test]
fn a_signal_keeps_what_is_in_the_open_bin() {
    for signal in ["-INT", "-TERM", "-HUP"] {
        let (shop, bay) = at_work();
        let map = written(&shop, "feed.toml", TIMED);
        let mut feeding = Feeding::begin(&bay, &format!("feed --map {} --last", map.display()));
        feeding.write("0 1.0 5\n10 2.0 15\n11 2.05 17\n");
        // That the first bin is stated shows that the others have come as well: they came in one piece.
        assert!(feeding.said().starts_with("1.00 L in"));
        feeding.signal(signal);
        let (exit, out, err) = feeding.ended();
        assert_eq!(exit, Some(0), "{out}{err}");
        // A person's Ctrl-C ends the exchange that --last speaks of; a machine that stops does not.
        let end = if signal == "-INT" { ", end of the exchange" } else { "" };
        assert!(out.starts_with(&format!("2.05 L in, 16.0 of 100 new{end}, 2 lines\n")), "{signal}: {out}");
        assert_eq!(readings(&bay).len(), 2);
    }
}

#[test]
fn a_reader_that_went_away_ends_the_feed_and_loses_nothing() {
    let (shop, bay) = at_work();
    let map = written(&shop, "feed.toml", TIMED);
    let mut feeding = Feeding::begin(&bay, &format!("feed --map {}", map.display()));
    feeding.write("0 1.0 5\n10 2.0 15\n");
    assert!(feeding.said().starts_with("1.00 L in"));
    let Feeding { child, lines, input } = &mut feeding;
    // The pipe that it writes to is closed while the one that it reads from stays open.
    let (closed, _) = std::io::pipe().unwrap();
    *lines = BufReader::new(std::process::ChildStdout::from(std::os::fd::OwnedFd::from(closed)));
    input.as_mut().unwrap().write_all(b"20 3.0 25\n21 3.05 26\n").unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(0));
    let stated = readings(&bay);
    assert_eq!(stated.len(), 3, "{stated:?}");
    assert!(stated[2].starts_with("3.05 L pushed in") && stated[2].contains("mean of 2 lines"), "{stated:?}");
}

#[test]
fn lines_without_times_are_stated_when_their_litres_go_on() {
    let (shop, bay) = at_work();
    let map = written(&shop, "feed.toml", PLAIN);
    let mut feeding = Feeding::begin(&bay, &format!("feed --map {}", map.display()));
    feeding.write("1.0 5\n1.1 6\n");
    assert!(feeding.said().starts_with("1.00 L in"));
    // It is at the server while the feed goes on: the summary of the job has it.
    let office = shop.station("office", "B");
    feeding.write("1.2 7\n");
    assert!(feeding.said().starts_with("1.10 L in"));
    drop(feeding.input.take());
    assert_eq!(feeding.ended().0, Some(0));
    assert_eq!(readings(&office).len(), 3);
}

#[test]
fn more_out_than_in_is_told_beside_the_running_engine_while_it_is_fed() {
    let (shop, bay) = at_work();
    let map = format!("{TIMED}[litres_out]\ncolumn = 4\n");
    let map = written(&shop, "feed.toml", &map);
    let mut feeding = Feeding::begin(&bay, &format!("feed --map {}", map.display()));
    feeding.write("0 4.0 20 4.0\n60 5.0 30 6.5\n61 5.1 31 6.6\n");
    let told = feeding.told();
    // 6.5 L out less 5 L in, as the display shows them; both are taken at 15 °C.
    assert!(
        told.starts_with("> Stop the engine: 1.") && told.contains("more has left than entered"),
        "{told}"
    );
    drop(feeding.input.take());
    assert_eq!(feeding.ended().0, Some(0));
}

#[test]
fn what_stops_the_work_is_told_at_the_start_and_again_only_when_it_is_another_stop() {
    let (shop, bay) = at_work();
    bay.say("add part-checked --part fluid-container --code Bramble").fine();
    let map = written(&shop, "feed.toml", TIMED);
    let said = bay.fed(&format!("feed --map {}", map.display()), "0 1.0 5\n10 2.0 15\n20 3.0 25\n").ended(0);
    assert_eq!(said.err.matches("needs Linden. Stop").count(), 1, "{}", said.err);
    assert_eq!(said.err.matches("Wrong fluid is inside").count(), 1, "{}", said.err);
    assert!(said.err.find("needs Linden") < said.err.find("Wrong fluid is inside"), "{}", said.err);
    assert_eq!(readings(&bay).len(), 3, "facts are never refused");
}
