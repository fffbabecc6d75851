//! The structure that everything stands on: sizes, edges, one place for each thing.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() {
            if name != "target" && !name.starts_with('.') {
                walk(&path, found);
            }
        } else if name.ends_with(".rs") {
            found.push(path);
        }
    }
}

fn sources(under: &str) -> Vec<(String, String)> {
    let root = root();
    let mut found = Vec::new();
    walk(&root.join(under), &mut found);
    let mut read: Vec<(String, String)> = found
        .into_iter()
        .map(|path| {
            let name = path.strip_prefix(&root).unwrap().to_string_lossy().into_owned();
            (name, std::fs::read_to_string(&path).unwrap())
        })
        .collect();
    read.sort();
    read
}

/// Lines of a file before its module of tests; a line that is only built for tests does not end it.
fn own_lines(text: &str) -> usize {
    let lines: Vec<&str> = text.lines().collect();
    let tests = lines.windows(2).position(|pair| {
        pair[0].starts_with("#[cfg(test)]") && pair[1].starts_with("mod ") && pair[1].ends_with('{')
    });
    tests.unwrap_or(lines.len())
}

fn is_test(name: &str) -> bool {
    name.contains("/tests/") || name.ends_with("/tests.rs") || name.starts_with("tests/")
}

#[test]
fn files_stay_small_enough_to_read() {
    let mut sizes = Vec::new();
    for folder in ["proto", "server", "client", "deploy"] {
        for (name, text) in sources(folder).into_iter().filter(|(name, _)| !is_test(name)) {
            let lines = own_lines(&text);
            assert!(lines <= 600, "{name} has {lines} lines, at most 600");
            sizes.push(lines);
        }
    }
    let long = sizes.iter().filter(|lines| **lines > 400).count();
    assert!(
        long * 10 <= sizes.len(),
        "{long} of {} files have more than 400 lines, at most one of ten",
        sizes.len()
    );
}

#[test]
fn every_file_says_what_it_is_for() {
    for folder in ["proto", "server", "client", "deploy", "tests"] {
        for (name, text) in sources(folder) {
            assert!(text.starts_with("//! "), "{name} begins without a head");
        }
    }
}

#[test]
fn no_file_is_named_after_nothing() {
    for folder in ["proto", "server", "client", "deploy", "tests"] {
        for (name, _) in sources(folder) {
            let stem = name.rsplit('/').next().unwrap().trim_end_matches(".rs");
            assert!(
                !["utils", "util", "common", "helpers", "helper", "manager", "misc"].contains(&stem),
                "{name}"
            );
        }
    }
}

#[test]
fn only_one_file_makes_answers_of_errors_and_one_per_program_reads_the_environment() {
    for (name, text) in sources("server") {
        if name != "server/src/status.rs" && !is_test(&name) {
            let own: String = text.lines().take(own_lines(&text)).collect::<Vec<_>>().join("\n");
            let made = own.split("Status::").skip(1).any(|rest| {
                [
                    "new(",
                    "with_",
                    "internal(",
                    "invalid_",
                    "not_found(",
                    "permission_",
                    "unauthenticated(",
                    "unavailable(",
                ]
                .iter()
                .any(|start| rest.starts_with(start))
            });
            assert!(!made, "{name} makes a status; that is status.rs");
        }
    }
    for folder in ["server", "client", "deploy", "proto"] {
        for (name, text) in sources(folder) {
            let own: String = text.lines().take(own_lines(&text)).collect::<Vec<_>>().join("\n");
            if !name.ends_with("config.rs") && !name.ends_with("build.rs") && !is_test(&name) {
                for call in ["env::var", "env::vars"] {
                    assert!(!own.contains(call), "{name} reads the environment; that is config.rs");
                }
            }
        }
    }
}

/// Which crate of ours may be used by which: the arrows of the design, one way.
const ARROWS: &[(&str, &[&str])] = &[
    ("proto", &[]),
    ("server/engine", &["standpipe-proto"]),
    ("server/report", &["standpipe-engine"]),
    ("server/store", &[]),
    ("server", &["standpipe-engine", "standpipe-proto", "standpipe-report", "standpipe-store"]),
    ("client", &["standpipe-proto"]),
];

#[test]
fn arrows_between_crates_go_one_way() {
    for (folder, allowed) in ARROWS {
        let text = std::fs::read_to_string(root().join(folder).join("Cargo.toml")).unwrap();
        let section = text.split("[dependencies]").nth(1).unwrap_or_default();
        let section = section.split("\n[").next().unwrap_or_default();
        for line in section.lines().filter(|line| line.starts_with("standpipe-")) {
            let name = line.split(['.', ' ', '=']).next().unwrap();
            assert!(
                allowed.contains(&name),
                "{folder} may not use {name}; a new arrow is a change of the design"
            );
        }
    }
}

#[test]
fn the_pure_crates_reach_no_network_no_database_and_no_clock() {
    for folder in ["server/engine/src", "server/report/src", "proto/src"] {
        // How one machine of ours meets another, which only servers and stations are built with.
        let met = |name: &str| name.starts_with("proto/src/dial/");
        for (name, text) in sources(folder).into_iter().filter(|(name, _)| !met(name)) {
            for word in
                ["std::fs::", "std::net", "std::time::", "std::env", "tokio::", "tracing::", "Timestamp::now"]
            {
                let own: String = text.lines().take(own_lines(&text)).collect::<Vec<_>>().join("\n");
                assert!(is_test(&name) || !own.contains(word), "{name} uses {word}");
            }
        }
    }
    for (name, text) in sources("server/engine/src").into_iter().filter(|(name, _)| !is_test(name)) {
        let alone =
            name.contains("/formula/") || name.ends_with("/view.rs") || name.ends_with("/quantity.rs");
        assert!(!alone || !text.contains("standpipe_proto"), "{name} names the messages");
    }
    for (name, text) in sources("server/report/src") {
        assert!(!text.contains("standpipe_proto"), "{name} names the messages");
    }
}

#[test]
fn both_migration_folders_have_the_same_names_once_there_are_two() {
    let names = |database: &str| -> Option<Vec<String>> {
        let folder = std::fs::read_dir(root().join("migrations").join(database)).ok()?;
        let mut names: Vec<String> =
            folder.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        Some(names)
    };
    let sqlite = names("sqlite").expect("migrations/sqlite");
    assert!(!sqlite.is_empty());
    if let Some(postgres) = names("postgres") {
        assert_eq!(sqlite, postgres);
    }
    let mut numbers = BTreeMap::new();
    for name in &sqlite {
        let number = name.split('_').next().unwrap();
        assert!(number.len() == 4 && number.bytes().all(|digit| digit.is_ascii_digit()), "{name}");
        assert!(numbers.insert(number.to_owned(), name).is_none(), "{name} has a number that is taken");
    }
}

/// Attributes whose words are read by people.
const SPOKEN_ATTRIBUTES: [&str; 5] = ["alt", "aria-label", "data-label", "placeholder", "title"];
/// How commands begin, which are the same in every language.
const COMMANDS: [&str; 2] = ["standpipe", "openssl"];

/// Whether a literal of a template says something: words apart from each other, or one that begins like a sentence.
fn says_something(literal: &str) -> bool {
    let letters = literal.chars().filter(|letter| letter.is_alphabetic()).count();
    let is_command = COMMANDS.iter().any(|command| literal.starts_with(command));
    let is_form_of_a_time = literal.contains('%');
    letters > 1
        && (literal.trim().contains(' ') || literal.starts_with(char::is_uppercase))
        && !is_command
        && !is_form_of_a_time
}

/// Literals that templates of a file show: what stands alone in markup, and in attributes that are read aloud.
fn shown_literals(text: &str) -> Vec<String> {
    let mut shown = Vec::new();
    let mut templates = text.split("html! {");
    templates.next();
    for template in templates {
        let (mut depth, mut rest, mut before) = (1, template, String::new());
        while depth > 0 {
            let Some(place) = rest.find(['{', '}', '"']) else { break };
            before.push_str(&rest[..place]);
            let sign = rest[place..].chars().next().unwrap();
            rest = &rest[place + 1..];
            match sign {
                '{' => depth += 1,
                '}' => depth -= 1,
                _ => {
                    let end = rest.match_indices('"').find(|(end, _)| !rest[..*end].ends_with('\\'));
                    let (end, _) = end.expect("a literal ends");
                    let literal = &rest[..end];
                    let last = before.trim_end();
                    let is_argument = last.ends_with(['(', ',']);
                    let attribute =
                        last.strip_suffix('=').map(|name| name.rsplit([' ', '\n']).next().unwrap());
                    let is_silent = attribute.is_some_and(|name| !SPOKEN_ATTRIBUTES.contains(&name));
                    if !is_argument && !is_silent && says_something(literal) {
                        shown.push(literal.to_owned());
                    }
                    rest = &rest[end + 1..];
                }
            }
            before.push(sign);
        }
    }
    shown
}

#[test]
fn pages_say_everything_by_key() {
    let caught = shown_literals(
        "html! { h1 { \"Jobs\" } td data-label=\"The code\" { (say!(page_code)) \" of \" (clock(us, \"%H %M\")) } \
         a title=\"No way\" href=\"/a b\" { \"as said\" } }",
    );
    assert_eq!(caught, ["Jobs", "The code", "No way", "as said"]);
    let pages = sources("server/src/office").into_iter().filter(|(name, _)| !is_test(name));
    for (name, text) in pages {
        let own: String = text.lines().take(own_lines(&text)).collect::<Vec<_>>().join("\n");
        let shown = shown_literals(&own);
        assert!(shown.is_empty(), "{name} says {shown:?}; give each a key in server/engine/text/en.ftl");
    }
}

#[test]
fn texts_of_the_tree_name_no_machine_and_no_way_of_working() {
    let words =
        ["/wo\u{72}k/", "../sha\u{72}ed", "seed doc\u{75}ment", "crates\u{2e}io-", "TOD\u{4f}", "FIXM\u{45}"];
    for folder in ["proto", "server", "client", "deploy", "tests"] {
        for (name, text) in sources(folder) {
            for word in words {
                assert!(!text.contains(word), "{name} has '{word}'");
            }
        }
    }
}

/// Words of facts are shared by the terminal and the page of the bay, so what reads them knows neither.
#[test]
fn what_reads_facts_knows_no_command_line_and_no_page() {
    let text = std::fs::read_to_string(root().join("proto/Cargo.toml")).unwrap();
    for other in ["clap", "axum", "maud"] {
        assert!(!text.lines().any(|line| line.starts_with(other)), "proto uses {other}");
    }
}
