//! Joining an owner's server with the programs, as it is said at both machines.

use standpipe_tests::process::Process;
use standpipe_tests::programs;
use standpipe_tests::shop::{Said, Shop, bare, ended, words};
use std::path::{Path, PathBuf};

/// An owner's server and a workshop beside it.
struct Two {
    shop: Shop,
    owner: Process,
    dir: PathBuf,
}

impl Two {
    fn open() -> Self {
        let shop = Shop::open();
        let dir = shop.path("owner");
        at(&dir, "init --mode owner --site owner --name 'The owner'").fine();
        let owner = Process::start(bare(&programs::server()), &dir).unwrap();
        Self { shop, owner, dir }
    }

    fn at_owner(&self, line: &str) -> Said {
        at(&self.dir, line)
    }

    /// Host and code for a new station, as the program prints them.
    fn invited(&self, line: &str) -> String {
        self.at_owner(line).fine().line().to_owned()
    }
}

fn at(dir: &Path, line: &str) -> Said {
    let mut command = bare(&programs::server());
    command.args(words(line)).arg("--dir").arg(dir);
    ended(command, "")
}

#[test]
fn forwarding_is_joined_with_two_commands_and_told_by_doctor_until_it_is_left() {
    let two = Two::open();
    let forwarder = "station add harbour-lane --role forwarder --site harbour-lane";
    let invited = two.invited(forwarder);
    let joined = two.shop.verb(&format!("station join-owner {invited}")).fine();
    assert!(joined.out.contains("joined the owner's server 'The owner'"), "{}", joined.out);
    assert_eq!(joined.err, "");
    let doctor = two.shop.verb("doctor --only owner").fine();
    assert!(doctor.out.contains(&two.owner.address.to_string()), "{}", doctor.out);
    // The code is used up; where it was used it is not told again.
    let used = two.shop.verb(&format!("station join-owner {invited}")).refused(65);
    assert!(used.contains("code"), "{used}");
    assert!(!std::fs::read_to_string(two.shop.dir().join("owner-link")).unwrap().is_empty());
    let left = two.shop.verb("station leave-owner").fine();
    assert!(left.out.contains("what that has it keeps"), "{}", left.out);
    let none = two.shop.verb("station leave-owner").refused(65);
    assert!(none.contains("no owner's server"), "{none}");
    assert!(!two.shop.dir().join("owner-link").exists());
    // A stopped server's folder joins as well.
    two.shop.close();
    let invited = two.invited("station code harbour-lane");
    two.shop.verb(&format!("station join-owner {invited}")).fine();
    let doctor = two.shop.verb("doctor --only owner").fine();
    assert!(doctor.out.contains("while the server runs"), "{}", doctor.out);
    let audit = two.shop.verb("station audit --output csv").fine();
    let code = invited.split_once(' ').unwrap().1;
    assert!(audit.out.contains("station join-owner") && !audit.out.contains(code), "{}", audit.out);
}

#[test]
fn forwarding_is_not_joined_with_what_is_no_code_for_this_site() {
    let two = Two::open();
    let (host, code) = {
        let invited = two.invited("station add other --role forwarder --site tarn-road");
        let (host, code) = invited.split_once(' ').unwrap();
        (host.to_owned(), code.to_owned())
    };
    let other_site = two.shop.verb(&format!("station join-owner {host} {code}")).refused(65);
    assert!(other_site.contains("tarn-road") && other_site.contains("still good"), "{other_site}");
    let bay = two.invited("station add bay-9");
    let not_forwarder = two.shop.verb(&format!("station join-owner {bay}")).refused(65);
    assert!(not_forwarder.contains("--role forwarder --site"), "{not_forwarder}");
    let mut mistyped = code.clone();
    mistyped.pop();
    mistyped.push(if code.ends_with('0') { '1' } else { '0' });
    let told = two.shop.verb(&format!("station join-owner {host} {mistyped}")).refused(65);
    assert!(told.contains("CODE") && told.contains("nothing was sent"), "{told}");
    let told = two.shop.verb(&format!("station join-owner http://x {code}")).refused(65);
    assert!(told.contains("HOST") && told.contains("nothing was sent"), "{told}");
    // A code of one server at another: the right one is known before anything is sent.
    let stranger = two.shop.verb("station code bay-2").fine();
    let elsewhere = stranger.line().split_once(' ').unwrap().1.to_owned();
    let told = two.shop.verb(&format!("station join-owner {host} {elsewhere}")).refused(65);
    assert!(told.contains("is not the owner's server that the code is from"), "{told}");
    // Never given to a test that asks for a free port.
    let free = "127.0.0.1:1";
    let told = two.shop.verb(&format!("station join-owner {free} {code}")).refused(75);
    assert!(told.contains("nothing listens at"), "{told}");
    let told = two.at_owner(&format!("station join-owner {host} {code}")).refused(65);
    assert!(told.contains("owner's server itself"), "{told}");
    assert!(!two.shop.dir().join("owner-link").exists());
    two.shop.close();
}

#[test]
fn forwarding_is_joined_at_the_shop_server_and_no_machine_uses_its_code_up() {
    let two = Two::open();
    let missing = two.at_owner("station add harbour-lane --role forwarder").refused(65);
    assert!(missing.contains("--site SITE"), "{missing}");
    let listed = two.at_owner("station list").fine();
    assert!(!listed.out.contains("harbour-lane"), "nothing was enrolled: {}", listed.out);
    let said = two.at_owner("station add harbour-lane --role forwarder --site harbour-lane").fine();
    let invited = said.line().to_owned();
    assert!(
        said.err.contains(&format!("standpipe-server station join-owner {invited} --dir DIR")),
        "{}",
        said.err
    );
    assert!(!said.err.contains("standpipe join") && !said.err.contains("tablet"), "{}", said.err);
    let mut client = bare(&programs::station());
    client.args(words(&format!("join {invited}"))).env("STANDPIPE_HOME", two.shop.path("wrong"));
    let refused = ended(client, "").refused(77);
    assert!(refused.contains("station join-owner HOST CODE --dir DIR"), "{refused}");
    two.shop.verb(&format!("station join-owner {invited}")).fine();
    // Now it is used up, and the sentence sends nobody to the shop server for another one.
    let used = two.shop.verb(&format!("station join-owner {invited}")).refused(65);
    assert!(used.contains("at the owner's server") && !used.contains("at the shop server"), "{used}");
    two.shop.close();
}

#[test]
fn forwarding_code_shown_for_another_site_stays_good_for_its_own() {
    let two = Two::open();
    let invited = two.invited("station add tarn-road --role forwarder --site tarn-road");
    let told = two.shop.verb(&format!("station join-owner {invited}")).refused(65);
    assert!(told.contains("'tarn-road'") && told.contains("still good"), "{told}");
    let tarn = two.shop.path("tarn");
    at(&tarn, "init --site tarn-road --name 'Tarn Road'").fine();
    at(&tarn, &format!("station join-owner {invited}")).fine();
    two.shop.close();
}

#[test]
fn forwarding_that_was_taken_back_is_something_to_do_at_the_workshop_and_told_at_the_owners() {
    let two = Two::open();
    let none = two.shop.verb("doctor --only owner").fine();
    assert!(none.out.contains("brings its journal to no owner's server"), "{}", none.out);
    let invited = two.invited("station add harbour-lane --role forwarder --site harbour-lane");
    two.shop.verb(&format!("station join-owner {invited}")).fine();
    two.at_owner("station revoke harbour-lane").fine();
    let sites = two.at_owner("doctor --only sites").fine();
    assert!(sites.out.contains("nobody may bring it any more"), "{}", sites.out);
}

#[test]
fn an_owners_server_is_told_what_an_owner_needs_next() {
    let home = tempfile::tempdir().unwrap();
    let said = at(&home.path().join("owner"), "init --mode owner --site owner --name 'The owner'").fine();
    for next in ["station add desk --role owner", "person pin O", "--role forwarder --site SITE"] {
        assert!(said.err.contains(next), "{next}: {}", said.err);
    }
    assert!(!said.err.contains("technician"), "{}", said.err);
}

#[test]
fn a_second_forwarder_of_a_site_is_told_of_at_once_and_by_doctor() {
    let two = Two::open();
    let first = two.at_owner("station add first --role forwarder --site corner").fine();
    assert!(!first.err.contains("may be brought by"), "{}", first.err);
    let added = two.at_owner("station add second --role forwarder --site corner").fine();
    let told = &added.err;
    assert!(told.contains("may be brought by first as well") && told.contains("init --site SITE"), "{told}");
    let sites = two.at_owner("doctor --only sites").out;
    assert!(sites.contains("corner may be brought by first, second"), "{sites}");
    two.at_owner("station revoke second").fine();
    assert!(!two.at_owner("doctor --only sites").out.contains("may be brought by"));
    two.shop.close();
}

#[test]
fn a_site_without_an_identity_gets_one_that_no_other_has() {
    let home = tempfile::tempdir().unwrap();
    let mut drawn = std::collections::BTreeSet::new();
    for (dir, mode) in [("one", "workshop"), ("other", "workshop"), ("owner", "owner")] {
        let dir = home.path().join(dir);
        at(&dir, &format!("init --mode {mode}")).fine();
        let said = at(&dir, "verify --output json").fine();
        let site = said.json()["site"].as_str().unwrap().to_owned();
        assert!(site.starts_with(&format!("{mode}-")) && site.len() == mode.len() + 9, "{site}");
        drawn.insert(site);
    }
    assert_eq!(drawn.len(), 3);
}
