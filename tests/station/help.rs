//! Help that can be followed: every command shows an example, and the examples are taken as they stand.

use standpipe_tests::programs;
use standpipe_tests::shop::{Home, Said, Shop, bare, ended, words};
use std::collections::BTreeSet;

fn server_says(line: &str) -> Said {
    let mut command = bare(&programs::server());
    command.args(words(line));
    ended(command, "")
}

/// The names under 'Commands:' or another heading of subcommands.
fn subcommands(help: &str) -> Vec<String> {
    let listed =
        help.lines().skip_while(|line| *line != "Commands:" && !line.starts_with("What counts instead"));
    let listed = listed.skip(1).take_while(|line| !line.is_empty());
    // A name stands two spaces in; what is deeper goes on from the line before.
    let names = listed.filter(|line| line.starts_with("  ") && !line[2..].starts_with(' '));
    names.map(|line| line.split_whitespace().next().unwrap().to_owned()).collect()
}

/// The lines below 'Example:'; one that does not begin with a program goes on from the line before.
fn examples(help: &str) -> Vec<String> {
    let below = help.lines().skip_while(|line| !line.starts_with("Example")).skip(1);
    let mut examples: Vec<String> = Vec::new();
    for line in below.take_while(|line| !line.is_empty()) {
        match examples.last_mut() {
            Some(last) if !line.trim().starts_with("standpipe") => *last = format!("{last} {}", line.trim()),
            _ => examples.push(line.trim().to_owned()),
        }
    }
    examples
}

/// Asks a command and all below it for help; gives each path with its examples.
fn walk(say: &dyn Fn(&str) -> Said, path: &str, found: &mut Vec<(String, Vec<String>)>) {
    let said = say(&format!("{path} --help")).fine();
    assert_eq!(said.err, "", "{path}");
    let below = subcommands(&said.out);
    let examples = examples(&said.out);
    // A mere group of verbs shows them instead.
    assert!(!examples.is_empty() || !below.is_empty(), "{path} --help shows no example:\n{}", said.out);
    found.push((path.trim().to_owned(), examples));
    for name in below.iter().filter(|name| *name != "help") {
        walk(say, &format!("{path} {name}"), found);
    }
}

#[test]
fn every_command_of_the_station_shows_an_example() {
    let folder = tempfile::tempdir().unwrap();
    let home = Home { name: "none".to_owned(), path: folder.path().join("none") };
    let mut found = Vec::new();
    walk(&|line| home.say(line), "", &mut found);
    let paths: BTreeSet<&str> = found.iter().map(|(path, _)| path.as_str()).collect();
    for path in [
        "join",
        "as",
        "open",
        "use",
        "add",
        "correct",
        "send",
        "unsent",
        "show",
        "jobs",
        "may",
        "record",
        "add drain",
        "add vin-reading",
        "correct drain",
        "add closing",
    ] {
        assert!(paths.contains(path), "{path} is not in {paths:?}");
    }
    for (path, examples) in &found {
        assert!(!examples.is_empty(), "{path} --help shows no example");
        assert!(examples.iter().all(|example| example.starts_with("standpipe ")), "{path}: {examples:?}");
    }
    assert!(!home.path.exists(), "asking for help makes no folder");
}

#[test]
fn every_verb_of_the_server_shows_an_example() {
    let mut found = Vec::new();
    walk(&server_says, "", &mut found);
    let verbs: Vec<&(String, Vec<String>)> =
        found.iter().filter(|(_, examples)| !examples.is_empty()).collect();
    let paths: BTreeSet<&str> = verbs.iter().map(|(path, _)| path.as_str()).collect();
    for path in [
        "init",
        "serve",
        "verify",
        "station add",
        "station code",
        "station revoke",
        "station list",
        "person add",
        "person remove",
        "person list",
        "catalogue import",
        "catalogue list",
    ] {
        assert!(paths.contains(path), "{path} shows no example; {paths:?} do");
    }
    for (path, examples) in verbs {
        assert!(
            examples.iter().all(|example| example.starts_with("standpipe-server ")),
            "{path}: {examples:?}"
        );
    }
}

/// Whoever copies the example of a kind states a fact that is taken.
#[test]
fn the_example_of_every_kind_is_taken_as_it_stands() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'TW 4711' --odometer 118240km --reason service-due,shudder").fine();
    let before = shop.entries();
    let kinds = subcommands(&bay.say("add --help").fine().out);
    assert!(kinds.len() >= 10, "{kinds:?}");
    for kind in &kinds {
        let example = examples(&bay.say(&format!("add {kind} --help")).fine().out).remove(0);
        let line = example.strip_prefix("standpipe ").unwrap();
        let said = bay.say(line).fine();
        assert!(said.out.contains(&format!(": {kind}")) && said.err.is_empty(), "{example}: {said:?}");
    }
    assert_eq!(shop.entries(), before + kinds.len() as u64);
    // The open example of the whole command too.
    let open = examples(&bay.say("open --help").fine().out).remove(0);
    bay.say(open.strip_prefix("standpipe ").unwrap()).fine();
}
