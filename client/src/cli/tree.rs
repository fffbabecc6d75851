//! The commands and their help. Kinds of facts and their flags come from the messages.

use crate::error::ClientError;
use crate::words::descriptor::{KindWords, Words};
use crate::words::flags::{self, CORRECT, FLAGS, Naming, OPEN};
use clap::builder::{PossibleValue, PossibleValuesParser};
use clap::{Arg, ArgAction, Command, value_parser};
use clap_complete::Shell;
use std::path::PathBuf;

/// Kinds with a command of their own.
const OPENS: &str = "arrival";
const CORRECTS: &str = "correction";
/// Kinds that only the shop server states.
const SERVERS: [&str; 2] = ["record_issued", "signature"];
/// Kinds that come with a file, which their own command keeps.
const ATTACHED: [&str; 2] = ["photo", "remark"];
/// Place in the help of flags that many commands have: after a command's own.
const COMMON: usize = 900;

/// The whole command line.
///
/// # Errors
/// When the messages of this program contradict each other, which a test excludes.
pub fn command() -> Result<Command, ClientError> {
    Ok(Command::new("standpipe")
        .version(env!("CARGO_PKG_VERSION"))
        .about("States what was seen, measured and done at a fluid service, and asks what it means")
        .long_about(
            "States what was seen, measured and done at a fluid service, and asks what it means.\n\nEvery fact is kept \
             on this station first and sent then; without the shop server it waits, and nothing is lost. The vehicle \
             maker's instructions, local rules and licensed practice come first.",
        )
        .after_help(
            "Example:\n  standpipe as A\n  standpipe open 'TW 4711' --odometer 118240km\n  standpipe next\n\nExit codes: 0 sent, done or yes; 1 'may' says \
             no; 64 not understood; 65 refused; 74 disk failed; 75 kept unsent or no server; 77 not permitted.",
        )
        .subcommand_required(true)
        .arg_required_else_help(true)
        .disable_help_subcommand(true)
        .arg(
            Arg::new("output")
                .long("output")
                .global(true)
                .value_name("FORM")
                .value_parser(PossibleValuesParser::new([
                    PossibleValue::new("text").help("For people"),
                    PossibleValue::new("json").help("For programs"),
                    PossibleValue::new("csv").help("For spreadsheets; lists only"),
                    PossibleValue::new("jsonl").help("A line a job; tally owner-jobs only"),
                ]))
                .help("How the answer is written")
                .display_order(COMMON),
        )
        .arg(
            Arg::new("home")
                .long("home")
                .global(true)
                .value_name("FOLDER")
                .value_parser(value_parser!(PathBuf))
                .help("The station's folder, instead of STANDPIPE_HOME")
                .display_order(COMMON),
        )
        .subcommands([join(), person(), open()?, take(), next(), add()?, correct()?, photo()?, remark()?])
        .subcommands([send(), unsent(), show(), watch(), jobs(), may(), plan(), bay_sheet(), record()])
        .subcommands([tally(), owner_sheet(), scan(), feed(), doctor(), completions(), man()]))
}

/// The whole command line with nothing left out of its lists, for completions and manual pages.
pub(super) fn whole() -> Result<Command, ClientError> {
    Ok(command()?.mut_subcommand("add", |add| add.mut_subcommands(|kind| kind.hide(false))))
}

fn example(command: Command, example: &str) -> Command {
    command.after_help(format!("Example:\n  {example}"))
}

fn join() -> Command {
    let command = Command::new("join")
        .about("Makes this folder a station of a shop server")
        .arg(
            Arg::new("address")
                .value_name("HOST")
                .required(true)
                .help("Address of the shop server, with or without a port, as it printed it"),
        )
        .arg(
            Arg::new("code")
                .value_name("CODE")
                .required(true)
                // Groups may be typed apart.
                .num_args(1..=8)
                .help(
                    "Code as 'standpipe-server station add' printed it; - reads it from the input. On the shop server's own \
                     machine a token is taken too",
                ),
        );
    example(command, "standpipe join 192.168.0.10:50551 4GK2-9QRM-73WD-XV5T-0HNE-8PAC-B1ZY")
}

fn person() -> Command {
    let code =
        Arg::new("code").value_name("CODE").required(true).help("Code of the person as listed at the site");
    let pin = Arg::new("pin").long("pin").action(ArgAction::SetTrue).help(
        "Asks for the person's PIN and signs what waits for it in the job in use; without a terminal it is read from the input",
    );
    let command = Command::new("as").about("Says who states the facts from now on").arg(code).arg(pin);
    example(command, "standpipe as A\n  standpipe as A --pin")
}

fn open() -> Result<Command, ClientError> {
    let words = Words::get()?;
    let kind =
        words.kind(OPENS).ok_or_else(|| ClientError::Descriptor(format!("there is no kind {OPENS}")))?;
    let command =
        Command::new("open").about("Opens a job for a vehicle that arrived, and takes it").arg(done_arg());
    let command = flags::with_flags(command, &kind.message, &OPEN)?;
    Ok(example(command, "standpipe open 'TW 4711' --odometer 118240km --reason service-due,shudder"))
}

fn take() -> Command {
    let name = Arg::new("name")
        .value_name("JOB")
        .required(true)
        .help("Number of the job, or new-1 as it was opened here");
    example(
        Command::new("use").about("Takes a job: what is added next belongs to it").arg(name),
        "standpipe use 42",
    )
}

fn add() -> Result<Command, ClientError> {
    let mut of_site = String::new();
    let mut add = Command::new("add")
        .about("States a fact of the job, or of the site")
        .subcommand_required(true)
        .arg_required_else_help(true)
        .disable_help_subcommand(true);
    for kind in Words::get()?
        .kinds()
        .filter(|kind| ![OPENS, CORRECTS].contains(&kind.name()) && !SERVERS.contains(&kind.name()))
    {
        if ATTACHED.contains(&kind.name()) {
            continue;
        }
        let shape = format!("standpipe add {}", kind.flag_name());
        let command = kind_command(kind, &shape, &FLAGS)?.arg(done_arg());
        if kind.is_of_site() {
            let about = command.get_about().map(ToString::to_string).unwrap_or_default();
            of_site.push_str(&format!("  {:<20} {about}\n", kind.flag_name()));
            // They stand in a list of their own below.
            add = add.subcommand(command.hide(true));
        } else {
            add = add.subcommand(command.arg(job_arg()));
        }
    }
    let examples = "Example:\n  standpipe add drain --place pan --mass 3.05kg --means scale\n  standpipe add waste-collected \
                    --waste-code '13 02 06*' --mass 180kg --carrier 'Harbour Recycling' --document N-1";
    Ok(add.after_help(format!("Facts of the site, which belong to no job:\n{of_site}\n{examples}")))
}

fn correct() -> Result<Command, ClientError> {
    let mut correct = Command::new("correct")
        .about("Puts an earlier entry right, or withdraws it; what is not named stays as it was")
        .arg(Arg::new("entry").value_name("ENTRY").required(true).help(
            "Place of the entry as 'show' prints it, or its identity or the end of it as 'unsent' prints it",
        ))
        .arg(
            Arg::new("reason")
                .long("reason")
                .global(true)
                .value_name("TEXT")
                .help("Why, in words, 3 to 400 characters; needed, and printed on the record"),
        )
        .arg(job_arg().global(true))
        .arg(
            Arg::new("withdraw")
                .long("withdraw")
                .action(ArgAction::SetTrue)
                .help("The original no longer counts, and nothing stands in its place"),
        )
        .arg(Arg::new("site").long("site").action(ArgAction::SetTrue).help(
            "The entry is a fact of the site; not needed where the kind says so, or while no job is in use",
        ))
        .disable_help_subcommand(true)
        .subcommand_value_name("KIND")
        .subcommand_help_heading("What counts instead, of the same kind");
    for kind in
        Words::get()?.kinds().filter(|kind| kind.name() != CORRECTS && !SERVERS.contains(&kind.name()))
    {
        let shape = format!("standpipe correct 17 {}", kind.flag_name());
        let command = kind_command(kind, &shape, &CORRECT)?;
        let flags = flags::example(&kind.message, &CORRECT)?;
        let words = format!(
            "Example:\n  {shape} {flags} --reason 'misread the scale'\n\nWhat is not named stays as the entry has it; \
             an empty text, or --no-FLAG for a yes, takes it back."
        );
        correct = correct.subcommand(command.after_help(words));
    }
    Ok(example(
        correct,
        "standpipe correct 17 drain --place pan --mass 3.05kg --reason 'misread the scale'\n  \
         standpipe correct 18 --withdraw --reason 'belongs to another vehicle'",
    ))
}

fn kind_command(kind: &KindWords, shape: &str, naming: &Naming) -> Result<Command, ClientError> {
    let about = Words::get()?.about_message(&kind.message).to_owned();
    let first =
        about.split_once(". ").map_or(about.as_str(), |(first, _)| first).trim_end_matches('.').to_owned();
    let command = Command::new(kind.flag_name()).about(first).long_about(about);
    let command = flags::with_flags(command, &kind.message, naming)?;
    Ok(example(command, format!("{shape} {}", flags::example(&kind.message, naming)?).trim_end()))
}

fn job_arg() -> Arg {
    Arg::new("job")
        .long("job")
        .value_name("JOB")
        .help("Another job than the one in use: its number, or new-1")
        .display_order(COMMON - 1)
}

fn done_arg() -> Arg {
    Arg::new("done")
        .long("done")
        .value_name("TIME")
        .help("When it was done, if it is typed later: 10:40 of today, or 2026-02-03 10:40")
        .display_order(COMMON - 1)
}

fn named_job(command: Command) -> Command {
    command
        .arg(
            Arg::new("name")
                .value_name("JOB")
                .conflicts_with("job")
                .help("Number of the job; the one in use if left out"),
        )
        .arg(job_arg())
}

fn send() -> Command {
    let again = Arg::new("again").long("again").action(ArgAction::SetTrue).help(
        "Also what was sent in the last 30 days: for a shop server that was restored from a backup; safe at any time",
    );
    let command = Command::new("send").about("Sends what waits to the shop server");
    example(command.arg(again), "standpipe send\n  standpipe send --again")
}

fn unsent() -> Command {
    let sent = Arg::new("sent")
        .long("sent")
        .action(ArgAction::SetTrue)
        .help("Instead, what the shop server took in the last 30 days");
    let command = Command::new("unsent").about("Lists what is only on this station, and what was refused");
    example(command.arg(sent), "standpipe unsent")
}

fn show() -> Command {
    example(
        named_job(Command::new("show").about("Shows a job: its story, what it means, what is open")),
        "standpipe show 42",
    )
}

fn watch() -> Command {
    let about = "Shows a job as it stands, and again whenever something changes, until Ctrl-C";
    let command = named_job(Command::new("watch").about(about));
    command.after_help(
        "Example:\n  standpipe watch 42\n  standpipe watch --output json\n\nWhen the shop server goes away it \
         waits; with json every state is a line.",
    )
}

fn plan() -> Command {
    let kit = Arg::new("kit").long("kit").value_name("LITRES").help(
        "New fluid that there is, with its unit; left out: what leads to the workshop's target, or the usual",
    );
    let about = "Compares what brings how much new fluid, before the work begins";
    let command = named_job(Command::new("plan").about(about)).arg(kit);
    command.after_help(
        "Example:\n  standpipe plan --kit 14L\n\nThe shares are from-to: nothing was seen yet. A person chooses; the \
         vehicle maker's instructions come first.",
    )
}

fn doctor() -> Command {
    let command =
        Command::new("doctor").about("Looks at everything that this station needs, and says what to do");
    command.after_help(
        "Example:\n  standpipe doctor\n\nExit codes: 0 nothing is to be done; 1 something is; 75 the shop server did not \
         answer.",
    )
}

fn jobs() -> Command {
    let command = Command::new("jobs")
        .about("Lists the jobs of the site, newest first")
        .arg(Arg::new("search").long("search").value_name("TEXT").help("Part of a number, a plate or a VIN"))
        .arg(Arg::new("all").long("all").action(ArgAction::SetTrue).help("Closed jobs too"));
    example(command, "standpipe jobs --all --output csv")
}

fn may() -> Command {
    let gates = PossibleValuesParser::new([
        PossibleValue::new("exchange").help("Begin the exchange of the fluid"),
        PossibleValue::new("pan").help("Take the pan off"),
        PossibleValue::new("refill").help("Refill after the pan"),
        PossibleValue::new("start-engine").help("Start the engine after the refill"),
        PossibleValue::new("level").help("Open the level plug"),
        PossibleValue::new("road-test").help("Drive after the work"),
        PossibleValue::new("close").help("Close the job"),
    ]);
    let command = Command::new("may")
        .about("Asks whether a step may begin: yes, or every reason against")
        .arg(Arg::new("gate").value_name("STEP").required(true).value_parser(gates).help("The step"))
        .arg(job_arg());
    command.after_help(
        "Example:\n  standpipe may exchange && echo 'begin'\n\nA yes ends with the next entry of the job. Without the shop \
         server there is none.",
    )
}

fn record() -> Command {
    let issue = Arg::new("issue")
        .long("issue")
        .action(ArgAction::SetTrue)
        .conflicts_with_all(["edition", "annex"])
        .help("Issues the next edition: it is kept as printed, and the journal says so");
    let edition = Arg::new("edition")
        .long("edition")
        .value_name("NUMBER")
        .value_parser(value_parser!(i32).range(1..=10_000))
        .conflicts_with("annex")
        .help("An issued edition, reprinted byte for byte");
    let annex =
        Arg::new("annex").long("annex").action(ArgAction::SetTrue).help("With the annex of all entries");
    let command = named_job(Command::new("record").about("Prints the service record of a job as a PDF file"))
        .args([issue, edition, annex, file_arg()]);
    example(command, "standpipe record 42 -o record.pdf\n  standpipe record 42 --issue")
}

fn bay_sheet() -> Command {
    let command =
        named_job(Command::new("bay-sheet").about("Prints the work sheet of a job, one page to write on"));
    let for_photos = Arg::new("for-photos")
        .long("for-photos")
        .action(ArgAction::SetTrue)
        .conflicts_with_all(["name", "job"])
        .help("The reference sheet that photos of the fluid are taken before; it belongs to no job");
    let shown = "standpipe bay-sheet 42 -o sheet.pdf\n  standpipe bay-sheet --for-photos -o photo-sheet.pdf";
    example(command.arg(for_photos).arg(file_arg()), shown)
}

fn file_arg() -> Arg {
    Arg::new("file")
        .short('o')
        .long("file")
        .value_name("FILE")
        .value_parser(value_parser!(PathBuf))
        .help("File to write; - is the output; the job's own file name if left out")
}

fn next() -> Command {
    let command = named_job(Command::new("next").about("Asks what comes next, one question at a time"));
    command.after_help(
        "Example:\n  standpipe next\n\nA number answers; Enter takes what is proposed, and a reading is never proposed. \
         b goes back, l asks it later, o takes another step, w says why, s skips it with a reason, x stops the job, q ends \
         (after a full stop where a text is typed). Every answer is kept at once; \
         standpipe next goes on where it ended, also without the shop server.",
    )
}

fn photo() -> Result<Command, ClientError> {
    let file = Arg::new("file")
        .value_name("FILE")
        .required(true)
        .value_parser(value_parser!(PathBuf))
        .help("JPEG or PNG, at most 15 MiB");
    let about = "Keeps a photo of the job, without its place and camera data";
    let litres = Arg::new("volume-in").long("volume-in").value_name("LITRES").help(
        "With --subject comparison: litres pushed in so far; the server reads the share of new fluid from it",
    );
    let command = attached("photo", Command::new("photo").about(about).arg(file))?.arg(litres);
    let shown = "standpipe photo magnets.jpg --subject magnets\n  standpipe photo look.jpg --subject comparison --volume-in 4.8L";
    Ok(example(command, shown))
}

fn remark() -> Result<Command, ClientError> {
    let words = Arg::new("words")
        .value_name("WORDS")
        .required(true)
        .help("What was said, at most 4 000 characters; kept beside the journal, where it can be erased");
    let command = attached("remark", Command::new("remark").about("Keeps what somebody said").arg(words))?;
    Ok(example(command, "standpipe remark 'shudders when cold' --subject complaint"))
}

fn tally() -> Command {
    let name = Arg::new("name").value_name("NAME").required_unless_present_any(["months", "period"]).help(
        "Which one: store, lot, recall, tools, tool, equipment, waste or month; at an owner's server also owner, \
         owner-sums, owner-site and owner-jobs. The server says which it knows. With --months or --period it may be left out: \
         owner is meant then",
    );
    let about = Arg::new("about").value_name("ABOUT").help(
        "Code of the lot or tool that it is about; for lot also a plate, a VIN or the number of a job; for owner-site \
         the workshop",
    );
    let period = period_arg(
        "Year or month, of an owner also from one to another such as 2025-12/2026-11; if left out the current month, of \
         an owner the last twelve months",
    );
    let file = Arg::new("file")
        .short('o')
        .long("file")
        .value_name("FILE")
        .value_parser(value_parser!(PathBuf))
        .help("Prints it as a PDF file instead; - is the output");
    let table = Arg::new("table")
        .long("table")
        .value_name("NUMBER")
        .value_parser(value_parser!(usize))
        .help("Which of its tables is written with csv; the first if left out");
    let command = Command::new("tally")
        .about("Shows a sum over all jobs and facts of the site: store, lots, tools, waste, the month")
        .args([name, about, period, months_arg().conflicts_with("period"), table, file]);
    command.after_help(
        "Example:\n  standpipe tally waste --period 2026-11\n  standpipe tally lot L-2207 --output csv > lot.csv\n  standpipe \
         tally --months 12\n  standpipe tally owner-jobs --months 12 --output csv > jobs.csv\n\nWith csv \
         one table is one file: --table says which, and how many there are is said beside it.",
    )
}

fn period_arg(help: &'static str) -> Arg {
    Arg::new("period").long("period").value_name("PERIOD").help(help)
}

fn months_arg() -> Arg {
    Arg::new("months")
        .long("months")
        .value_name("NUMBER")
        .value_parser(value_parser!(u16).range(1..=i64::from(standpipe_proto::limits::OWNER_MONTHS_MAX)))
        .help("The last so many months of all workshops, at an owner's server")
}

fn owner_sheet() -> Command {
    let file = Arg::new("file")
        .short('o')
        .long("file")
        .value_name("FILE")
        .required(true)
        .value_parser(value_parser!(PathBuf))
        .help("The PDF file; - is the output");
    let period = period_arg(
        "Year, month, or from one month to another such as 2025-12/2026-11; if left out the last twelve months",
    );
    let command = Command::new("owner-sheet")
        .about("Prints one page about all workshops, at an owner's server: what to look at first, then a comparison")
        .args([file, period, months_arg().conflicts_with("period")]);
    example(command, "standpipe owner-sheet -o owner.pdf --months 12")
}

fn scan() -> Command {
    let code = Arg::new("code")
        .value_name("CODE")
        .allow_hyphen_values(true)
        .help("The code; left out: read from the input, a line a code");
    let look =
        Arg::new("look").long("look").action(ArgAction::SetTrue).help("Only says what the code belongs to");
    let command = Command::new("scan")
        .about("Takes a code as a scanner reads it: of a part, a lot, a tool, equipment or a job")
        .args([code, look])
        .arg(job_arg());
    command.after_help(
        "Example:\n  standpipe scan ATF-A8\n  standpipe scan --look L-2207\n\nA part or a lot of fluid is stated as read \
         for the job, a job becomes the one in use, of a tool or equipment it is said what is known. A code with no \
         meaning or several changes nothing.",
    )
}

fn feed() -> Command {
    let path = |name: &'static str, value: &'static str| {
        Arg::new(name).value_name(value).value_parser(value_parser!(PathBuf))
    };
    let flag = |name: &'static str| Arg::new(name).long(name).action(ArgAction::SetTrue);
    let command = Command::new("feed")
        .about("Takes the lines of a display or meter as readings of the exchange and of temperatures")
        .arg(path("map", "FILE").long("map").required(true).help("Column map: what the lines mean, a TOML file"))
        .arg(path("input", "INPUT").conflicts_with("device").help("File with the lines; the standard input if left out"))
        .arg(path("device", "PATH").long("device").help("Serial line that they come from, set as the map says"))
        .arg(flag("last").help("The end of the lines, or Ctrl-C, is the end of the exchange"))
        .arg(flag("reset").help("The display was set to zero in between: what it shows then counts on top"))
        .arg(flag("replay").conflicts_with("device").help(
            "Recorded lines: their entries are made at the times of the lines, so far back that the last one is now",
        ))
        .arg(job_arg());
    command.after_help(
        "Example:\n  standpipe feed --map feed.toml --device /dev/ttyUSB0 --last\n  standpipe feed --map feed.toml < \
         lines.csv\n\nAt most one entry for 0.1 L or 10 s, whichever comes first: litres of its last line, mean, count \
         and standard deviation of the rest. A line that cannot be read is told and left out, and changes no exit code as \
         long as one can be read. Ctrl-C ends it and keeps what was read.",
    )
}

/// The subject of a kind that comes with a file.
fn attached(kind: &str, command: Command) -> Result<Command, ClientError> {
    let words = Words::get()?;
    let known =
        words.kind(kind).ok_or_else(|| ClientError::Descriptor(format!("there is no kind {kind}")))?;
    Ok(command.arg(flags::one(&known.message, "subject", &FLAGS)?).arg(job_arg()))
}

fn completions() -> Command {
    let shell = Arg::new("shell")
        .value_name("SHELL")
        .required(true)
        .value_parser(value_parser!(Shell))
        .help("The shell");
    let command = Command::new("completions").about("Writes completions for a shell").arg(shell);
    example(command, "standpipe completions bash > standpipe.bash")
}

fn man() -> Command {
    let folder = Arg::new("folder")
        .value_name("FOLDER")
        .required(true)
        .value_parser(value_parser!(PathBuf))
        .help("Folder for the pages");
    example(Command::new("man").about("Writes manual pages").arg(folder), "standpipe man man1")
}

#[cfg(test)]
#[path = "../tests/help.rs"]
mod tests;
