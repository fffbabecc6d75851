//! The folder of a site.

use super::{content, copy, on_a_read_only_mount};
use standpipe_tests::process::Process;
use standpipe_tests::programs;
use standpipe_tests::shop::{Shop, bare, ended, refused_to_serve, words};
use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;
use std::process::Command;

/// What was done to a folder, and how every program must refuse it.
struct Fixture {
    name: &'static str,
    spoil: fn(&Path),
    exit: i32,
    /// What the sentence must name.
    names: &'static [&'static str],
}

const fn fixture(name: &'static str, spoil: fn(&Path), exit: i32, names: &'static [&'static str]) -> Fixture {
    Fixture { name, spoil, exit, names }
}

fn db(dir: &Path) -> std::path::PathBuf {
    dir.join("standpipe.db")
}

fn empty(dir: &Path) {
    fs::remove_dir_all(dir).unwrap();
    fs::create_dir(dir).unwrap();
}

fn cut(dir: &Path, bytes: u64) {
    fs::File::options().write(true).open(db(dir)).unwrap().set_len(bytes).unwrap();
}

/// Overwrites bytes of the database's header (<https://sqlite.org/fileformat2.html>, section 1.3).
fn patch(dir: &Path, at: usize, with: &[u8]) {
    let mut bytes = fs::read(db(dir)).unwrap();
    bytes[at..at + with.len()].copy_from_slice(with);
    fs::write(db(dir), bytes).unwrap();
}

fn random(length: u32) -> Vec<u8> {
    // Numbers that look like noise, the same at every run (the constants of a linear congruence, from memory).
    (0..length)
        .scan(1_u32, |seed, _| {
            *seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            Some(seed.to_be_bytes()[0])
        })
        .collect()
}

const REFUSED: &[Fixture] = &[
    fixture(
        "missing",
        |dir| fs::remove_dir_all(dir).unwrap(),
        78,
        &["does not exist", "standpipe-server init"],
    ),
    fixture("empty", empty, 78, &["holds no site", "standpipe.db is missing"]),
    fixture(
        "foreign",
        |dir| {
            empty(dir);
            fs::write(dir.join("letter.txt"), "Dear customer").unwrap();
        },
        78,
        &["holds no site", "standpipe.db is missing"],
    ),
    fixture(
        "a file in the folder's place",
        |dir| {
            fs::remove_dir_all(dir).unwrap();
            fs::write(dir, "no folder").unwrap();
        },
        78,
        &["name the folder of a site"],
    ),
    fixture(
        "lost journal",
        |dir| fs::remove_file(db(dir)).unwrap(),
        65,
        &["standpipe.db is missing", "never replaced by an empty one", "backup"],
    ),
    fixture(
        "garbage",
        |dir| fs::write(db(dir), random(50_000)).unwrap(),
        65,
        &["is not a database", "backup"],
    ),
    fixture("text", |dir| fs::write(db(dir), "not a journal\n").unwrap(), 65, &["is not a database"]),
    fixture("cut in the middle", |dir| cut(dir, 20_000), 65, &["has 20000 bytes", "cut off", "backup"]),
    fixture("cut in the header", |dir| cut(dir, 50), 65, &["has 50 bytes", "cut off"]),
    fixture("zero length", |dir| cut(dir, 0), 65, &["has 0 bytes", "cut off", "backup"]),
    fixture(
        "a folder in the journal's place",
        |dir| {
            fs::remove_file(db(dir)).unwrap();
            fs::create_dir(db(dir)).unwrap();
        },
        65,
        &["is not a database"],
    ),
    fixture(
        "another program's database",
        |dir| patch(dir, 68, &[0x12, 0x34, 0x56, 0x78]),
        65,
        &["another program", "0x12345678"],
    ),
    fixture(
        "newer schema",
        |dir| patch(dir, 60, &99_u32.to_be_bytes()),
        78,
        &["schema 99", "install the newer program"],
    ),
    fixture("read-only journal", |dir| permit(&db(dir), 0o400), 74, &["cannot be written", "right"]),
    fixture("read-only folder", |dir| permit(dir, 0o500), 74, &["right"]),
];

/// What only the comparison with the epoch file shows; `verify` then lists it beside its report.
const NOTICED: &[Fixture] = &[
    fixture(
        "epoch file missing",
        |dir| fs::remove_file(dir.join("epoch")).unwrap(),
        65,
        &["epoch is missing"],
    ),
    fixture(
        "epoch file cut",
        |dir| fs::write(dir.join("epoch"), "standpipe-epoch 1 0").unwrap(),
        65,
        &["epoch is not as the server wrote it"],
    ),
    fixture(
        "epoch changed",
        |dir| {
            let line = fs::read_to_string(dir.join("epoch")).unwrap();
            let digit = if line.as_bytes()[18] == b'0' { "1" } else { "0" };
            fs::write(dir.join("epoch"), format!("{}{digit}{}", &line[..18], &line[19..])).unwrap();
        },
        65,
        &["the journal has epoch ", "another copy was put in its place"],
    ),
];

fn permit(path: &Path, mode: u32) {
    fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
}

fn server() -> Command {
    bare(&programs::server())
}

/// The verbs that need a sound folder, beside `serve` and `verify`.
const VERBS: [&str; 4] = ["station list", "person list", "catalogue list", "station add bay-9 --role bay"];

/// Everything but the lock file, which whoever opens a folder makes.
fn without_lock(dir: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files = if dir.is_dir() { content(dir) } else { Vec::new() };
    files.retain(|(name, _)| !name.ends_with("/lock"));
    files
}

#[track_caller]
fn names(fixture: &Fixture, sentence: &str) {
    for name in fixture.names {
        assert!(sentence.contains(name), "{}: {sentence} has no '{name}'", fixture.name);
    }
}

#[test]
fn every_program_refuses_a_spoiled_folder_in_one_sentence_and_changes_nothing() {
    let shop = Shop::founded();
    let sound = shop.path("sound");
    copy(&shop.dir(), &sound);
    for fixture in REFUSED.iter().chain(NOTICED) {
        let dir = shop.dir();
        if dir.exists() {
            permit(&dir, 0o700);
            fs::remove_dir_all(&dir).or_else(|_| fs::remove_file(&dir)).unwrap();
        }
        copy(&sound, &dir);
        (fixture.spoil)(&dir);
        let before = without_lock(&dir);

        let (exit, err) = refused_to_serve(server(), &dir);
        assert_eq!(exit, fixture.exit, "{}: {err}", fixture.name);
        assert_eq!(err.lines().count(), 1, "{}: {err}", fixture.name);
        names(fixture, &err);
        for verb in VERBS {
            names(fixture, &shop.verb(verb).refused(fixture.exit));
        }
        let verified = shop.verb("verify").ended(fixture.exit);
        names(fixture, verified.err.lines().next().unwrap());
        let lists = NOTICED.iter().any(|noticed| noticed.name == fixture.name);
        assert_eq!(
            (verified.err.lines().count(), verified.out.is_empty()),
            if lists { (2, false) } else { (1, true) }
        );
        assert_eq!(without_lock(&dir), before, "{}: a refusal changes nothing", fixture.name);
    }
    println!(
        "{} fixtures, each refused by serve, verify and {} verbs",
        REFUSED.len() + NOTICED.len(),
        VERBS.len()
    );
}

#[test]
fn a_folder_on_a_read_only_mount_is_refused_as_a_disk_that_cannot_be_written() {
    let shop = Shop::founded();
    let dir = shop.dir();
    let before = content(&dir);
    let Some(mounted) = on_a_read_only_mount(&dir) else { return };
    let mut serve = mounted;
    serve.arg(programs::server());
    let (exit, err) = refused_to_serve(serve, &dir);
    assert_eq!((exit, err.lines().count()), (74, 1), "{err}");
    for verb in ["verify", "station list"] {
        let mut command = on_a_read_only_mount(&dir).unwrap();
        command.arg(programs::server()).args(words(verb)).arg("--dir").arg(&dir);
        let sentence = ended(command, "").refused(74);
        assert!(sentence.contains("right"), "{sentence}");
    }
    assert_eq!(content(&dir), before);
}

#[test]
fn an_older_copy_of_the_journal_is_refused_and_named() {
    let shop = Shop::founded();
    let older = shop.path("older.db");
    fs::copy(db(&shop.dir()), &older).unwrap();
    let had = shop.entries();
    shop.verb("station add bay-3 --role bay").fine();
    shop.verb("station add bay-4 --role bay").fine();
    let newer = fs::read(db(&shop.dir())).unwrap();
    fs::copy(&older, db(&shop.dir())).unwrap();
    let (exit, err) = refused_to_serve(server(), &shop.dir());
    assert_eq!(exit, 65);
    for name in
        [format!("holds {had} entries, but had {} before", had + 2), "put back the newer one".to_owned()]
    {
        assert!(err.contains(&name), "{err}");
    }
    assert!(shop.verb("station add bay-5 --role bay").refused(65).contains("older copy"));
    assert!(shop.verb("verify").ended(65).err.contains("older copy"));
    // With the newer one back all is well.
    fs::write(db(&shop.dir()), newer).unwrap();
    assert_eq!(shop.entries(), had + 2);
    shop.serve();
    shop.close();
}

#[test]
fn a_journal_with_another_past_is_refused() {
    let shop = Shop::founded();
    let other = Shop::founded();
    // Two lives of one folder: the same epoch and size, unlike last entries.
    fs::remove_dir_all(other.dir()).unwrap();
    copy(&shop.dir(), &other.dir());
    shop.verb("station add bay-3 --role bay").fine();
    other.verb("station add bay-4 --role bay").fine();
    assert_eq!(shop.entries(), other.entries());
    fs::copy(db(&other.dir()), db(&shop.dir())).unwrap();
    let (exit, err) = refused_to_serve(server(), &shop.dir());
    assert!(exit == 65 && err.contains("its past was changed"), "{exit}: {err}");
    assert_eq!(err.lines().count(), 1);
}

#[test]
fn while_a_server_runs_a_second_one_is_refused_and_the_verbs_go_through_it() {
    let shop = Shop::open();
    let (exit, err) = refused_to_serve(server(), &shop.dir());
    assert_eq!((exit, err.lines().count()), (78, 1), "{err}");
    assert!(err.contains("a server runs on"), "{err}");
    assert!(shop.verb("init").refused(78).contains("exists already"));
    let before = shop.entries();
    let bay = shop.station("bay-2", "A");
    let added = shop.verb("station add bay-9").fine();
    // Whoever is enrolled now is let in now.
    let joined = shop.home("bay-9").say(&format!("join {}", added.line())).fine();
    assert!(joined.out.contains("bay-9"), "{}", joined.out);
    shop.verb("station revoke bay-2").fine();
    bay.say("jobs").refused(77);
    assert!(shop.verb("station list").fine().out.contains("bay-9"));
    shop.verb("person add C --name 'technician C'").fine();
    assert!(shop.verb("person list").fine().out.contains("technician C"));
    shop.verb("person remove C").fine();
    assert!(!shop.verb("person list").fine().out.contains("technician C"));
    let revision = revision(&shop);
    let newer = shop.path("newer-catalogue");
    copy(&standpipe_tests::site::catalogue(), &newer);
    let settings = fs::read_to_string(newer.join("workshop.toml")).unwrap();
    let changed = settings.replace("new_share = 0.80", "new_share = 0.85");
    assert_ne!(settings, changed);
    fs::write(newer.join("workshop.toml"), changed).unwrap();
    // A path is meant from where the verb was called, not from where the server stands.
    let mut import = server();
    import.args(["catalogue", "import", "newer-catalogue", "--dir"]).arg(shop.dir());
    import.current_dir(newer.parent().unwrap());
    ended(import, "").fine();
    assert_ne!(self::revision(&shop), revision);
    // What is refused is refused in the same words as without a server.
    let running = shop.verb("station add bay-1 --role bay").refused(65);
    // Enrolled, revoked, listed, removed, imported.
    assert_eq!(shop.entries(), before + 5);
    // Reading is allowed, with the folder as argument and as a flag.
    assert!(shop.verb("verify").fine().out.contains("every entry of the journal is as it was written"));
    let mut verify = server();
    verify.arg("verify").arg(shop.dir());
    let said = ended(verify, "").fine();
    assert!(
        said.out.contains("every entry of the journal is as it was written") && said.err.is_empty(),
        "{said:?}"
    );
    let mut both = server();
    both.args(["verify", "x", "--dir", "y"]);
    ended(both, "").ended(64);
    shop.close();
    assert_eq!(shop.entries(), before + 5);
    assert_eq!(shop.verb("station add bay-1 --role bay").refused(65), running);
    let listed = shop.verb("station list --output json").fine().json();
    let revoked = |name: &str| {
        listed.as_array().unwrap().iter().find(|station| station["station_id"] == name).unwrap()["revoked"]
            .clone()
    };
    assert_eq!((revoked("bay-2"), revoked("bay-9")), (true.into(), false.into()));
}

/// The revision that is current, as the list of adopted ones says.
fn revision(shop: &Shop) -> String {
    let listed = shop.verb("catalogue list --output json").fine().json();
    let current = listed.as_array().unwrap().iter().find(|row| row["current"] == true).unwrap();
    current["revision_id"].as_str().unwrap().to_owned()
}

/// A killed server leaves its socket behind; the verbs do not wait for an answer from nobody.
#[test]
fn the_socket_of_a_killed_server_holds_up_neither_the_verbs_nor_the_next_server() {
    let shop = Shop::founded();
    let killed = Process::start(server(), &shop.dir()).unwrap();
    let socket = shop.dir().join("admin.sock");
    let mode = fs::metadata(&socket).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o600, "only the server's own user gives orders");
    killed.kill();
    assert!(socket.exists());
    assert!(shop.verb("station list").fine().out.contains("bay-1"));
    shop.serve();
    assert!(shop.verb("station list").fine().out.contains("bay-1"));
    shop.close();
    assert!(!socket.exists(), "a server that ends in order takes its socket away");
}

/// `timeout` ends a server that wrongly serves, with 124.
#[test]
fn a_server_with_an_address_or_a_setting_that_is_wrong_does_not_start() {
    let shop = Shop::founded();
    let serve = |line: &str| {
        let mut command = bare(Path::new("timeout"));
        command.arg("60").arg(programs::server()).args(words(line)).arg("--dir").arg(shop.dir());
        ended(command, "").refused(78)
    };
    // RFC 5737 keeps this address for documents, so no machine has it.
    let sentence = serve("serve --listen 192.0.2.1:50551");
    assert!(sentence.contains("192.0.2.1:50551") && sentence.contains("--listen"), "{sentence}");
    for address in ["here", "127.0.0.1", "127.0.0.1:99999", "localhost"] {
        let sentence = serve(&format!("serve --listen {address}"));
        assert!(
            sentence.contains(&format!("'{address}'")) && sentence.contains("an address with a port"),
            "{sentence}"
        );
    }
    assert!(serve("serve --listen 127.0.0.1:0 --log-format xml").contains("text or json"));
    fs::write(shop.dir().join("standpipe-server.toml"), "listen = \"192.0.2.1:50551\"\n").unwrap();
    assert!(serve("serve").contains("192.0.2.1:50551"));
    fs::write(shop.dir().join("standpipe-server.toml"), "lissen = \"127.0.0.1:0\"\n").unwrap();
    let sentence = serve("serve");
    assert!(sentence.contains("'lissen'") && sentence.contains("standpipe-server.toml"), "{sentence}");
}

#[test]
fn a_new_site_is_never_founded_over_anything_and_wrong_names_are_named() {
    let shop = Shop::founded();
    let before = content(&shop.dir());
    assert!(shop.verb("init --site other").refused(78).contains("never created over anything"));
    assert_eq!(content(&shop.dir()), before);
    let init = |name: &str, flags: &str| {
        let mut command = server();
        command.arg("init").arg("--dir").arg(shop.path(name)).args(words(flags));
        ended(command, "")
    };
    fs::create_dir(shop.path("taken")).unwrap();
    fs::write(shop.path("taken").join("letter.txt"), "Dear customer").unwrap();
    assert!(init("taken", "").refused(78).contains("not an empty folder"));
    assert_eq!(content(&shop.path("taken")).len(), 1);
    fs::create_dir(shop.path(".cut-unfinished")).unwrap();
    assert!(init("cut", "").refused(78).contains("cut off"));
    for (flags, part) in
        [("--site 'Harbour Lane'", "site_id"), ("--site ''", "site_id"), ("--name ''", "name")]
    {
        let sentence = init("wrong", flags).refused(65);
        assert!(sentence.contains(part), "{sentence}");
        assert!(!shop.path("wrong").exists(), "a refused founding leaves nothing behind");
    }
    // An empty folder that is there is taken.
    fs::create_dir(shop.path("room")).unwrap();
    let token = init("room", "--site mill-street").fine();
    assert!(token.line().len() == 64 && token.line().bytes().all(|digit| digit.is_ascii_hexdigit()));
}

#[test]
fn verbs_name_what_they_refuse() {
    let shop = Shop::founded();
    let before = shop.entries();
    fs::create_dir(shop.path("no-catalogue")).unwrap();
    fs::write(shop.path("no-catalogue").join("workshop.toml"), "nmae = 'x'\n").unwrap();
    let import = format!("catalogue import '{}'", shop.path("no-catalogue").display());
    let missing = format!("catalogue import '{}'", shop.path("nowhere").display());
    for (verb, exit, parts) in [
        ("station add bay-1 --role bay", 65, ["bay-1", "exists already"]),
        ("station add 'Bay 1' --role bay", 65, ["station", "a to z"]),
        ("station revoke bay-9", 65, ["bay-9", "not known"]),
        ("person add 'technician A'", 65, ["person_code", "1 to 8"]),
        ("person remove Z", 65, ["Z", "not listed"]),
        (&missing, 65, ["nowhere", "workshop.toml"]),
    ] {
        let sentence = shop.verb(verb).refused(exit);
        for part in parts {
            assert!(sentence.contains(part), "{verb}: {sentence} has no {part}");
        }
    }
    // Every mistake of a catalogue at once, with file and line.
    let said = shop.verb(&import).ended(65);
    for part in ["2 mistake", "workshop.toml:1: name is missing", "workshop.toml:1: nmae is not known"] {
        assert!(said.err.contains(part) && said.out.is_empty(), "{said:?}");
    }
    for (verb, part) in [
        ("station add bay-9 --role boss", "'boss'"),
        ("station token bay-1 --days 0", "1..=3650"),
        ("brew", "'brew'"),
        ("verify --loud", "'--loud'"),
    ] {
        let said = shop.verb(verb).ended(64);
        assert!(said.err.contains(part) && said.out.is_empty(), "{verb}: {said:?}");
    }
    assert_eq!(shop.entries(), before);
}
