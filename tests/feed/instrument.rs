//! A station that is an instrument: it may state readings and nothing else, and feeds a job by its number.

use super::*;

fn instrument(shop: &Shop, kinds: &str) -> Home {
    shop.verb(&format!("station add probe-1 --only {kinds}")).fine();
    let token = shop.verb("station token probe-1").fine();
    let probe = shop.home("probe-1");
    probe.fed(&format!("join {} -", shop.address()), token.line()).fine();
    probe.say("as A").fine();
    probe
}

#[test]
fn an_instrument_feeds_the_job_that_the_bay_opened() {
    let (shop, bay) = at_work();
    let probe = instrument(&shop, "exchange_reading,temperature_reading");
    let map = sample("feed-sample.toml");
    let said = probe.fed(&format!("feed --map {} --job 1", map.display()), &sample_lines()).fine();
    assert!(said.out.lines().last().unwrap().ends_with("all at the shop server"), "{}", said.out);
    assert!(readings(&bay).len() > 100);
    // Once it took the job it needs no name for it.
    probe.say("use 1").fine();
    let map = written(&shop, "feed.toml", TIMED);
    probe.fed(&format!("feed --map {}", map.display()), "0 12.5 80\n").fine();
}

#[test]
fn an_instrument_of_temperatures_is_refused_what_it_may_not_state_and_the_exit_code_says_so() {
    let (shop, bay) = at_work();
    let probe = instrument(&shop, "temperature_reading");
    let map = written(&shop, "feed.toml", TIMED);
    let said = probe.fed(&format!("feed --map {} --job 1", map.display()), "0 1.0 5\n10 2.0 15\n").ended(77);
    assert!(said.err.contains("refused: ") && said.err.contains("exchange-reading"), "{}", said.err);
    assert!(said.out.contains("2 entries, some refused"), "{}", said.out);
    assert!(readings(&bay).is_empty() && probe.unsent_files().is_empty());
}
