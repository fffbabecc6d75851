//! Moves that are cut off, refused, or meant for the wrong place.

use super::{in_database, sound, verb};
use standpipe_server::JOURNAL_FILE;
use standpipe_tests::postgres;
use standpipe_tests::programs;
use standpipe_tests::shop::{Shop, bare};
use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::Stdio;

/// Moves, and kills the program as soon as it has said so many lines; says whether it came so far.
fn killed_after(lines: usize, to: &str, dir: &Path) -> bool {
    let mut command = bare(&programs::server());
    command.args(["move", "--to", to, "--dir"]).arg(dir).stdout(Stdio::null()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    let said = BufReader::new(child.stderr.take().unwrap()).lines().take(lines).count();
    child.kill().unwrap();
    child.wait().unwrap();
    said == lines
}

#[test]
fn a_move_that_is_killed_after_any_step_is_done_by_the_same_command_again() {
    let Some(database) = postgres::database() else { return };
    let shop = Shop::founded();
    let before = sound(&shop.dir());
    let address = database.create();
    for to in [address.as_str(), "sqlite"] {
        let mut steps = 0;
        while killed_after(steps + 1, to, &shop.dir()) {
            steps += 1;
            let arrived = shop.dir().join("store").exists() == (to != "sqlite");
            assert_eq!(sound(&shop.dir()), before, "killed after step {steps} to {to}");
            if arrived {
                break;
            }
            // Wherever it was cut off, the site can be worked with where it was, or says what to do.
            let people = shop.verb("person list");
            let told = people.err.contains("finish the move with the same command");
            assert!(people.exit == 0 || (people.exit == 78 && told), "{people:?}");
        }
        assert!(steps >= 3, "the move to {to} said too little to be cut off between");
        let rest = shop.verb(&format!("move --to '{to}'"));
        assert!(rest.exit == 0 || rest.err.contains("already"), "{rest:?}");
        assert_eq!(sound(&shop.dir()), before);
        assert!(shop.verb("person list").fine().out.contains("technician A"));
    }
    assert!(shop.dir().join(JOURNAL_FILE).exists());
}

#[test]
fn a_move_is_refused_while_a_server_runs() {
    let Some(database) = postgres::database() else { return };
    let (shop, address) = (Shop::open(), database.create());
    let told = shop.verb(&format!("move --to '{address}'")).refused(78);
    assert!(told.contains("a server runs on"), "{told}");
    assert_eq!(database.psql(&address, "select count(*) from pg_namespace where nspname = 'standpipe'"), "0");
    shop.close();
}

#[test]
fn a_place_that_is_taken_or_wrong_is_named_and_nothing_is_moved() {
    let Some(database) = postgres::database() else { return };
    let (shop, address) = in_database(&database);
    let again = shop.verb(&format!("move --to '{address}'")).refused(78);
    assert!(again.contains("lies in") && again.contains("already"), "{again}");
    let elsewhere = shop.verb(&format!("move --to '{}'", database.create())).refused(78);
    assert!(elsewhere.contains("move it to sqlite first"), "{elsewhere}");
    verb("person list", &shop.dir()).fine();
    // Another workshop of the same name finds the place taken.
    let other = Shop::founded();
    let taken = other.verb(&format!("move --to '{address}'")).refused(78);
    assert!(taken.contains("holds the site harbour-lane in use"), "{taken}");
    let nowhere = other.verb("move --to 'postgresql://standpipe@/nowhere?host=/nowhere'").refused(78);
    assert!(nowhere.contains("could not come in there later"), "{nowhere}");
    let unsaid = other.verb("move").refused(78);
    assert!(unsaid.contains("store_url"), "{unsaid}");
    assert!(other.verb("move --to standpipe.db").refused(78).contains("postgresql://"));
    assert!(other.verb("move --to sqlite").refused(78).contains("already"));
    sound(&other.dir());
}

#[test]
fn a_setting_that_names_another_place_than_the_folder_is_refused() {
    let Some(database) = postgres::database() else { return };
    let (shop, address) = (Shop::founded(), database.create());
    std::fs::write(shop.dir().join("standpipe-server.toml"), format!("store_url = \"{address}\"\n")).unwrap();
    let told = shop.verb("person list").refused(78);
    assert!(told.contains("standpipe-server move --dir"), "{told}");
    // The setting is where to move when nothing else is said.
    shop.verb("move").fine();
    shop.verb("person list").fine();
}
