//! The command line as it is read: its form, its help, its examples.

use super::*;

fn help(path: &[&str]) -> String {
    let mut command = command().unwrap().term_width(100);
    command.build();
    let mut found = &mut command;
    for name in path {
        found = found.find_subcommand_mut(name).unwrap();
    }
    found.render_long_help().to_string()
}

#[test]
fn the_command_line_has_no_contradiction() {
    command().unwrap().debug_assert();
}

#[test]
fn every_command_shows_an_example() {
    fn look(command: &Command, seen: &mut usize) {
        let after = command.get_after_help().map(ToString::to_string).unwrap_or_default();
        assert!(after.contains("Example:\n  standpipe "), "{}", command.get_name());
        assert!(command.get_about().is_some(), "{}", command.get_name());
        *seen += 1;
        command.get_subcommands().for_each(|inner| look(inner, seen));
    }
    let mut seen = 0;
    look(&command().unwrap(), &mut seen);
    assert!(seen > 30, "{seen}");
}

#[test]
fn the_commands_are_those_of_the_list() {
    let command = command().unwrap();
    let names: Vec<_> = command.get_subcommands().map(Command::get_name).collect();
    let wanted = [
        "join",
        "as",
        "open",
        "use",
        "next",
        "add",
        "correct",
        "photo",
        "remark",
        "send",
        "unsent",
        "show",
        "watch",
        "jobs",
        "may",
        "plan",
        "bay-sheet",
        "record",
        "tally",
        "owner-sheet",
        "scan",
        "feed",
        "doctor",
        "completions",
        "man",
    ];
    assert_eq!(names, wanted);
    let add = command.find_subcommand("add").unwrap();
    for not_offered in [
        "arrival",
        "correction",
        "photo",
        "remark",
        "record-issued",
        "station-enrolled",
        "person-listed",
        "catalogue-adopted",
    ] {
        assert!(add.find_subcommand(not_offered).is_none(), "{not_offered}");
    }
}

#[test]
fn the_help_of_a_kind_reads_like_its_message() {
    let expected = "\
Fluid ran out and was measured.

Usage: standpipe add drain [OPTIONS] --place <WORD> <--volume <VOLUME>|--mass <MASS>>

Options:
      --place <WORD>
          Where it came from.

          Possible values:
          - pan:    The pan.
          - spill:  Spilled and estimated.
          - sample: Taken as a sample.

      --volume <VOLUME>
          By volume, 0 to 30 L. Written with its unit: L, mL or US qt.

      --mass <MASS>
          By mass, 0 to 30 kg. Written with its unit: kg, g or lb.

      --temperature <TEMPERATURE>
          Temperature of the fluid when it was measured, -40 to 180 °C; absent if not measured.
          Written with its unit: °C or °F.
";
    let help = help(&["add", "drain"]);
    assert!(help.starts_with(expected), "{help}");
    assert!(help.contains("Example:\n  standpipe add drain --place pan --volume 3.6L\n"), "{help}");
}

#[test]
fn the_help_of_open_takes_the_plate_first() {
    let help = help(&["open"]);
    assert!(help.contains("Usage: standpipe open [OPTIONS] <PLATE>"), "{help}");
    for flag in
        ["--odometer <DISTANCE>", "--reason <WORD>", "--maker <TEXT>", "--model <TEXT>", "--done <TIME>"]
    {
        assert!(help.contains(flag), "{flag} in {help}");
    }
    assert!(help.contains("0 to 3 000 000 km"), "{help}");
}
