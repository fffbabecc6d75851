//! A vehicle that was here before: what its earlier jobs say reaches whoever works on it now.

use standpipe_tests::shop::Shop;

#[test]
fn a_come_back_shows_the_earlier_job_and_does_not_forget_its_high_voltage_system() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    for line in [
        "open 'PH 482 K' --odometer 118240km --high-voltage yes",
        "add exchange-reading --volume-in 12L --last",
        "add closing --outcome done --odometer 118250km",
        "open 'ph-482-k' --odometer 120250km --complaint-about-job HL-26-0001",
    ] {
        bay.say(line).fine();
    }
    let shown = bay.say("show").fine().out.replace(['\u{a0}', '\u{202f}'], " ");
    let number = shown.split(',').next().unwrap();
    assert!(number.ends_with("-0002"), "{shown}");
    for part in ["Earlier jobs", "2 000 km since the last fluid service here", "-0001"] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    let no = bay.say("may exchange").ended(1);
    assert!(no.out.contains("a qualified person isolates it"), "{}", no.out);
    // A plain no at the new arrival is the answer of somebody who looked.
    bay.say("open 'PH 482 K' --high-voltage no").fine();
    let no = bay.say("may exchange").ended(1);
    assert!(!no.out.contains("a qualified person isolates it"), "{}", no.out);
}
