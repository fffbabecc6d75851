//! A PIN as a person sets it: unseen and twice at a terminal, once through a pipe.

use crate::next::terminal::Terminal;
use standpipe_tests::programs;
use standpipe_tests::shop::{Shop, bare, ended, words};
use std::path::Path;
use std::process::Command;

fn verb(shop: &Shop, program: &Path) -> Command {
    let mut command = bare(program);
    if program == Path::new("setsid") {
        // The program asks its controlling terminal, so it gets one.
        command.arg("--ctty").arg(programs::server());
    }
    command.args(words("person pin B")).arg("--dir").arg(shop.dir());
    command
}

fn listed() -> Shop {
    let shop = Shop::open();
    shop.verb("person add B --name 'office B'").fine();
    shop
}

#[test]
fn a_pin_is_asked_for_twice_at_a_terminal_and_never_shown() {
    let Some(setsid) = programs::tool("setsid") else { return };
    let shop = listed();
    let mut typed = Vec::new();
    for (first, second, exit) in
        [("80417", Some("80417"), 0), ("80417", Some("80471"), 65), ("817", None, 65)]
    {
        let mut terminal = Terminal::with(verb(&shop, Path::new(setsid)), 80);
        terminal.wait("PIN, 4 to 12 digits:").wait_unseen().press(&format!("{first}\n"));
        if let Some(second) = second {
            terminal.wait("The same PIN again:").wait_unseen().press(&format!("{second}\n"));
        }
        let (code, shown) = terminal.end();
        assert_eq!(code, Some(exit), "{shown}");
        assert!(!shown.contains(first), "{shown}");
        typed.push(shown);
    }
    assert!(typed[0].contains("person B has a new PIN"), "{}", typed[0]);
    assert!(typed[1].contains("pin: was typed differently the second time"), "{}", typed[1]);
    assert!(typed[2].contains("pin: is not 4 to 12 digits"), "{}", typed[2]);
}

#[test]
fn a_pin_comes_once_through_a_pipe() {
    let shop = listed();
    let said = ended(verb(&shop, &programs::server()), "80417\n").fine();
    assert!(said.out.contains("person B has a new PIN") && said.err.is_empty(), "{said:?}");
    let short = ended(verb(&shop, &programs::server()), "817\n").refused(65);
    assert!(short.contains("pin: is not 4 to 12 digits"), "{short}");
}
