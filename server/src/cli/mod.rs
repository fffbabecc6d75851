//! The command line: what can be asked, and how an answer becomes words and an exit code.

mod catalogue;
mod config;
mod doctor;
mod invited;
mod serve;
mod shown;
mod supervisor;
mod told;
mod verbs;

use clap::{Args, Parser, Subcommand, ValueEnum};
use invited::CodeArguments;
use shown::Output;
use standpipe_proto::check::Violation;
use standpipe_proto::limits::TOKEN_DAYS_MAX;
use standpipe_server::config::Mode;
use standpipe_server::{Exit, Order, PIN_DIGITS, Role, ServerError, SystemEntropy, kept_pin, site_folder};
use std::io::{BufRead as _, IsTerminal as _, Read as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

const EXIT_CODES: &str = "Exit codes: 0 done; 1 doctor found something to do; 64 the command was written wrongly; 65 data is damaged, or what was asked is refused; 74 the disk failed or cannot be written; 75 another machine does not answer; 77 the folder belongs to another user; 78 folder, settings or installation are not as they must be.";

/// The shop server of standpipe: keeps the facts of one workshop and answers its stations.
#[derive(Debug, Parser)]
#[command(name = "standpipe-server", version, after_help = EXIT_CODES, arg_required_else_help = true)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    verb: Verb,
    /// How answers are written.
    #[arg(long, global = true, value_enum, default_value_t = Output::Text)]
    output: Output,
}

#[derive(Debug, Subcommand)]
enum Verb {
    /// Creates the folder of a new site and prints the token of its first station, 'admin', once.
    #[command(
        after_help = "Example:\n  standpipe-server init --dir shop --site harbour-lane --name 'Harbour Lane Transmissions'"
    )]
    Init {
        #[command(flatten)]
        folder: NewFolderArgument,
        /// Identity of the site: small letters, digits and . _ -; it never changes, and no two workshops of an owner have the
        /// same. [default: one that is drawn, such as workshop-9c41f7d2]
        #[arg(long)]
        site: Option<String>,
        /// Name of the site, as it stands on records; the identity if it is left out.
        #[arg(long)]
        name: Option<String>,
        /// What its server is for: that of a workshop, or that of an owner, to which workshops bring their journals.
        #[arg(long, value_enum, default_value_t = ModeArgument::Workshop)]
        mode: ModeArgument,
    },
    /// Answers the stations until it is told to stop (SIGTERM or Ctrl-C; a second one stops at once).
    #[command(after_help = "Example:\n  standpipe-server serve --dir shop --listen 127.0.0.1:50551")]
    Serve {
        #[command(flatten)]
        folder: FolderArgument,
        /// Where to listen, such as 0.0.0.0:50551 for every interface; port 0 takes a free one. [default: 127.0.0.1:50551]
        #[arg(long, value_name = "ADDRESS")]
        listen: Option<String>,
        /// What is logged, such as info or standpipe_server=debug. [default: info]
        #[arg(long, value_name = "FILTER")]
        log: Option<String>,
        /// How the log is written: text or json. [default: text]
        #[arg(long, value_name = "FORMAT")]
        log_format: Option<String>,
    },
    /// Reads the journal through and names what is damaged; also beside a running server.
    #[command(after_help = "Example:\n  standpipe-server verify shop")]
    Verify {
        /// The site's folder.
        #[arg(value_name = "DIR", required_unless_present = "dir", conflicts_with = "dir")]
        place: Option<PathBuf>,
        /// The site's folder.
        #[arg(long, value_name = "DIR")]
        dir: Option<PathBuf>,
    },
    /// Makes a whole copy of a site, also while its server runs, and reads it through.
    #[command(after_help = "Example:\n  standpipe-server backup shop-backup --dir shop")]
    Backup {
        /// The new folder.
        to: PathBuf,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Makes a site from a backup, under a new epoch.
    #[command(after_help = "Example:\n  standpipe-server restore shop-backup --dir shop-again")]
    Restore {
        /// The backup.
        from: PathBuf,
        #[command(flatten)]
        folder: NewFolderArgument,
    },
    /// Makes a site from the copy at its owner's server: one that lost its disk, in a new folder; one that is older than the
    /// copy or went on differently, in a new folder beside it, with its own entries after the owner's.
    #[command(
        after_help = "Examples:\n  standpipe-server recover --dir shop --from-owner HOST CODE\n  standpipe-server recover --dir shop --from-owner\n\nHOST and CODE are printed at the owner's server: standpipe-server station code NAME --dir owner"
    )]
    Recover {
        /// Address of the owner's server and the code that it printed for this site; both can be left out where the folder
        /// still knows it.
        #[arg(long, value_names = ["HOST", "CODE"], num_args = 0..=2, required = true)]
        from_owner: Vec<String>,
        /// Says that the folder is the same workshop's, founded a second time after its disk was lost: its entries come after
        /// the owner's, although not even the first is the same.
        #[arg(long)]
        founded_anew: bool,
        #[command(flatten)]
        folder: NewFolderArgument,
    },
    /// Moves the journal and what stands beside it into a PostgreSQL database, or back, while no server runs: copies,
    /// compares, and switches at the end. Cut off anywhere, the same command goes on.
    #[command(
        after_help = "Examples:\n  standpipe-server move --dir shop --to 'postgresql://standpipe@/standpipe?host=/run/postgresql'\n  standpipe-server move --dir shop --to sqlite"
    )]
    Move {
        /// Address of the database, or sqlite for the file in the site's folder. [default: store_url of the settings]
        #[arg(long, value_name = "URL")]
        to: Option<String>,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Erases what can be erased: customers, remarks and photos, names of persons.
    #[command(subcommand)]
    Erase(EraseVerb),
    /// Enrols, revokes and lists stations.
    #[command(subcommand)]
    Station(StationVerb),
    /// Lists person codes and takes them off the list.
    #[command(subcommand)]
    Person(PersonVerb),
    /// Checks, compares, imports, exports and lists catalogues.
    #[command(subcommand)]
    Catalogue(catalogue::CatalogueVerb),
    /// Shows the settings.
    #[command(subcommand)]
    Config(config::ConfigVerb),
    /// Looks at folder, disk, clock, certificate, stations and persons: one sentence each, with the next step.
    #[command(
        after_help = "Example:\n  standpipe-server doctor --dir shop\n\nExit codes: 0 nothing is to be done; 1 something is; 78 this is no site's folder."
    )]
    Doctor {
        /// The site's folder; left out: STANDPIPE_SERVER_DIR, else the site here.
        #[arg(long, value_name = "DIR")]
        dir: Option<PathBuf>,
        /// Only these, with commas between them, such as server,journal.
        #[arg(long, value_name = "THINGS", value_delimiter = ',')]
        only: Vec<String>,
    },
}

#[derive(Debug, Args)]
struct FolderArgument {
    /// The site's folder; left out: STANDPIPE_SERVER_DIR, else the site here.
    #[arg(long, value_name = "DIR")]
    dir: Option<PathBuf>,
}

impl FolderArgument {
    fn find(self) -> Result<PathBuf, ServerError> {
        site_folder(self.dir)
    }
}

/// Where a site is made.
#[derive(Debug, Args)]
struct NewFolderArgument {
    /// The new site's folder.
    #[arg(long, value_name = "DIR")]
    dir: PathBuf,
}

#[derive(Debug, Subcommand)]
enum StationVerb {
    /// Enrols a station and prints, once, what a machine joins with: address and code, good for ten minutes.
    #[command(
        after_help = "Examples:\n  standpipe-server station add bay-1 --dir shop\n  standpipe-server station add harbour-lane --role forwarder --site harbour-lane --dir owner\n\nThen at the new station: standpipe join HOST CODE; for a forwarder at the workshop's server: standpipe-server station join-owner HOST CODE"
    )]
    Add {
        /// Name of the station: small letters, digits and . _ -
        name: String,
        /// What the station may do.
        #[arg(long, value_enum, default_value_t = RoleArgument::Bay)]
        role: RoleArgument,
        /// Kinds of facts that it may state, with commas, such as exchange_reading,temperature_reading: for an
        /// instrument. [default: all that its role may]
        #[arg(long, value_name = "KINDS", value_delimiter = ',')]
        only: Vec<String>,
        /// The site whose journal a forwarder brings to this owner's server.
        #[arg(long, value_name = "SITE")]
        site: Option<String>,
        #[command(flatten)]
        shown: CodeArguments,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Prints address and code for a station that is enrolled, also for one that was revoked; its token stays good until
    /// the machine that joined with the code calls.
    #[command(after_help = "Example:\n  standpipe-server station code bay-1 --dir shop")]
    Code {
        /// Name of the station.
        name: String,
        #[command(flatten)]
        shown: CodeArguments,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Prints a new token of a station once, for programs of other makers; the one before is no longer good.
    #[command(after_help = "Example:\n  standpipe-server station token bay-1 --days 30 --dir shop")]
    Token {
        /// Name of the station.
        name: String,
        /// Days until it ends unless it is renewed. [default: token_days of the settings]
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=i64::from(TOKEN_DAYS_MAX)))]
        days: Option<u32>,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Takes a station's right back; its token and its code are no longer good.
    #[command(after_help = "Example:\n  standpipe-server station revoke bay-1 --dir shop")]
    Revoke {
        /// Name of the station.
        name: String,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Joins the owner's server, which keeps a copy of the journal from then on: with the address and the code that it
    /// printed for this site.
    #[command(
        after_help = "Example, at the owner's server:\n  standpipe-server station add harbour-lane --role forwarder --site harbour-lane --dir owner\n\nThen here:\n  standpipe-server station join-owner HOST CODE --dir shop"
    )]
    JoinOwner {
        /// Address of the owner's server as it printed it.
        host: String,
        /// The code as it printed it, good for ten minutes.
        code: String,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Leaves the owner's server: nothing is brought there any more; what it has it keeps.
    #[command(after_help = "Example:\n  standpipe-server station leave-owner --dir shop")]
    LeaveOwner {
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Lists all stations.
    #[command(after_help = "Example:\n  standpipe-server station list --dir shop")]
    List {
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Lists who was let in and who was turned away, the latest first; the last 100,000 lines are kept.
    #[command(
        after_help = "Example:\n  standpipe-server station audit --since 2026-11-01 --output csv --dir shop"
    )]
    Audit {
        /// First day, in UTC, as YYYY-MM-DD. [default: all]
        #[arg(long, value_name = "DAY")]
        since: Option<jiff::civil::Date>,
        #[command(flatten)]
        folder: FolderArgument,
    },
}

#[derive(Debug, Subcommand)]
enum PersonVerb {
    /// Lists a person code, or changes the name of a listed one.
    #[command(after_help = "Example:\n  standpipe-server person add A --name 'technician A' --dir shop")]
    Add {
        /// Code: 1 to 8 letters or digits. Entries carry it, never the name.
        code: String,
        /// Name; stands beside the journal and can be erased.
        #[arg(long)]
        name: Option<String>,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Takes a person code off the list and erases the name.
    #[command(after_help = "Example:\n  standpipe-server person remove A --dir shop")]
    Remove {
        /// The code.
        code: String,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Sets a person's PIN for the office pages and for signing, 4 to 12 digits: asked for twice on a terminal, else read from the standard input.
    #[command(after_help = "Example:\n  standpipe-server person pin B --dir shop")]
    Pin {
        /// The code.
        code: String,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Lists all person codes.
    #[command(after_help = "Example:\n  standpipe-server person list --dir shop")]
    List {
        #[command(flatten)]
        folder: FolderArgument,
    },
}

#[derive(Debug, Subcommand)]
enum EraseVerb {
    /// Erases the customer of a job; issued records keep what was printed on them.
    #[command(after_help = "Example:\n  standpipe-server erase customer 26-0042 --dir shop")]
    Customer {
        /// Number or identity of the job.
        job: String,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Erases a remark or a photo, also one that is still to arrive.
    #[command(after_help = "Example:\n  standpipe-server erase remark DIGEST --dir shop")]
    Remark {
        /// Its digest, 64 hexadecimal digits.
        digest: String,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Takes a person code off the list and erases the name; old entries keep the code.
    #[command(after_help = "Example:\n  standpipe-server erase person A --dir shop")]
    Person {
        /// The code.
        code: String,
        #[command(flatten)]
        folder: FolderArgument,
    },
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum ModeArgument {
    /// Keeps the journal of one workshop.
    Workshop,
    /// Keeps copies of the journals of several workshops, beside its own.
    Owner,
}

impl From<ModeArgument> for Mode {
    fn from(mode: ModeArgument) -> Self {
        match mode {
            ModeArgument::Workshop => Self::Workshop,
            ModeArgument::Owner => Self::Owner,
        }
    }
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum RoleArgument {
    /// Posts and reads the jobs of its site.
    Bay,
    /// Reads all jobs, prints records.
    Office,
    /// Everything at the site.
    Admin,
    /// Reads jobs, records and tallies; states nothing and sees no customer.
    Owner,
    /// Brings the journal of one site to an owner's server.
    Forwarder,
}

impl From<RoleArgument> for Role {
    fn from(role: RoleArgument) -> Self {
        match role {
            RoleArgument::Bay => Self::Bay,
            RoleArgument::Office => Self::Office,
            RoleArgument::Admin => Self::Admin,
            RoleArgument::Owner => Self::Owner,
            RoleArgument::Forwarder => Self::Forwarder,
        }
    }
}

/// Runs a verb and says how it went: the answer on the standard output, an error as one sentence beside it.
pub(crate) fn run(arguments: Arguments) -> ExitCode {
    let runtime = match tokio::runtime::Builder::new_multi_thread().enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => {
            return fail(&format!("the operating system gives no threads ({error})"), Exit::Configuration);
        }
    };
    let ended = runtime.block_on(perform(arguments.verb, arguments.output));
    // A call that was cut off at the deadline may still sit on a thread; it must not hold up the end.
    runtime.shutdown_background();
    match ended {
        Ok(code) => code,
        Err(error) => fail(&error.to_string(), error.exit()),
    }
}

async fn perform(verb: Verb, output: Output) -> Result<ExitCode, ServerError> {
    match verb {
        Verb::Init { folder, site, name, mode } => {
            verbs::init(&folder.dir, site, name, mode.into(), output).await?;
        }
        Verb::Serve { folder, listen, log, log_format } => {
            let flags = standpipe_server::config::Flags { listen, log, log_format };
            serve::serve(&folder.find()?, flags).await?;
        }
        Verb::Verify { place, dir } => {
            let dir = place.or(dir).unwrap_or_default();
            return Ok(if verbs::verify(&dir, output).await? {
                ExitCode::SUCCESS
            } else {
                ExitCode::from(Exit::Refused as u8)
            });
        }
        Verb::Restore { from, folder } => verbs::restore(&from, &folder.dir, output).await?,
        Verb::Backup { to, folder } => {
            verbs::give(&folder.find()?, Order::BackUp { to: absolute(&to)? }, output).await?;
        }
        Verb::Recover { from_owner, founded_anew, folder } => {
            let code = match from_owner.as_slice() {
                [] => None,
                [host, code] => Some((host.clone(), code.clone())),
                _ => {
                    let what =
                        "needs both HOST and CODE as the owner's server printed them, or neither".to_owned();
                    let field = "--from-owner".to_owned();
                    return Err(ServerError::OutsideBounds(vec![Violation { field, what }]));
                }
            };
            verbs::recover(&folder.dir, (code, founded_anew), output).await?;
        }
        Verb::Move { to, folder } => {
            let to = to.map(|to| to.parse()).transpose()?;
            verbs::move_site(&folder.find()?, to, output).await?;
        }
        Verb::Erase(verb) => {
            let (folder, order) = verb.order();
            verbs::give(&folder.find()?, order, output).await?;
        }
        Verb::Station(verb) => {
            let (folder, order, shown) = verb.order()?;
            match shown {
                Some(shown) => invited::invite(&folder.find()?, order, output, &shown).await?,
                None => verbs::give(&folder.find()?, order, output).await?,
            }
        }
        Verb::Person(verb) => {
            let (folder, order) = verb.order()?;
            verbs::give(&folder.find()?, order, output).await?;
        }
        Verb::Catalogue(verb) => verb.perform(output).await?,
        Verb::Config(verb) => verb.perform(output)?,
        Verb::Doctor { dir, only } => return doctor::doctor(dir, &only, output).await,
    }
    Ok(ExitCode::SUCCESS)
}

impl EraseVerb {
    fn order(self) -> (FolderArgument, Order) {
        match self {
            Self::Customer { job, folder } => (folder, Order::EraseCustomer { job }),
            Self::Remark { digest, folder } => (folder, Order::EraseRemark { digest }),
            Self::Person { code, folder } => (folder, Order::RemovePerson { code }),
        }
    }
}

impl StationVerb {
    /// What is asked for, and how a code is shown if one comes of it.
    fn order(self) -> Result<(FolderArgument, Order, Option<CodeArguments>), ServerError> {
        Ok(match self {
            Self::Add { name, role: RoleArgument::Forwarder, only, site: Some(site), shown, folder }
                if only.is_empty() =>
            {
                (folder, Order::AddForwarder { name, site }, Some(shown))
            }
            Self::Add { site: Some(site), .. } => {
                let what = format!(
                    "is '{site}', but only a forwarder brings the journal of a site, and whole; write --role forwarder \
                     without --only, or leave --site out"
                );
                return Err(ServerError::OutsideBounds(vec![Violation { field: "site".to_owned(), what }]));
            }
            Self::Add { name, role, only, site: None, shown, folder } => {
                // A kind is written with hyphens at a station and with underscores in the messages.
                let kinds = only.iter().map(|kind| kind.trim().replace('-', "_")).collect();
                (folder, Order::AddStation { name, role: role.into(), kinds }, Some(shown))
            }
            Self::Code { name, shown, folder } => (folder, Order::OpenCode { name }, Some(shown)),
            Self::Token { name, days, folder } => (folder, Order::RenewToken { name, days }, None),
            Self::Revoke { name, folder } => (folder, Order::RevokeStation { name }, None),
            Self::JoinOwner { host, code, folder } => (folder, Order::JoinOwner { host, code }, None),
            Self::LeaveOwner { folder } => (folder, Order::LeaveOwner, None),
            Self::List { folder } => (folder, Order::ListStations, None),
            Self::Audit { since, folder } => {
                (folder, Order::ReadAudit { since_us: since.map_or(i64::MIN, begins_us) }, None)
            }
        })
    }
}

/// When a day begins, in UTC.
fn begins_us(day: jiff::civil::Date) -> i64 {
    // Every day that can be written lies within the times that can be counted.
    let begins = day.to_zoned_datetime(jiff::tz::TimeZone::UTC);
    begins.map_or(i64::MIN, |begins| begins.timestamp().as_microsecond())
}

impl PersonVerb {
    fn order(self) -> Result<(FolderArgument, Order), ServerError> {
        Ok(match self {
            Self::Add { code, name, folder } => (folder, Order::AddPerson { code, name }),
            Self::Remove { code, folder } => (folder, Order::RemovePerson { code }),
            Self::Pin { code, folder } => (folder, Order::SetPin { code, kept: typed_pin()? }),
            Self::List { folder } => (folder, Order::ListPersons),
        })
    }
}

/// A PIN, ready to be kept: asked for twice without showing it on a terminal, else the first line of the standard input.
/// It is never an argument, which others could see.
fn typed_pin() -> Result<String, ServerError> {
    let (least, most) = (PIN_DIGITS.start(), PIN_DIGITS.end());
    let failed = |cause| ServerError::File { doing: "reading", path: PathBuf::from("standard input"), cause };
    if std::io::stdin().is_terminal() {
        let pin = rpassword::prompt_password(format!("PIN, {least} to {most} digits: ")).map_err(failed)?;
        let kept = kept_pin(&pin, &SystemEntropy)?;
        if rpassword::prompt_password("The same PIN again: ").map_err(failed)? == pin {
            return Ok(kept);
        }
        let what =
            format!("was typed differently the second time; type the same {least} to {most} digits twice");
        return Err(ServerError::OutsideBounds(vec![Violation { field: "pin".to_owned(), what }]));
    }
    let mut line = String::new();
    std::io::stdin().lock().take(64).read_line(&mut line).map_err(failed)?;
    kept_pin(line.trim_end_matches(['\r', '\n']), &SystemEntropy)
}

/// The running server may work in another folder than its caller.
fn absolute(path: &Path) -> Result<PathBuf, ServerError> {
    let failed = |cause| ServerError::File { doing: "finding", path: path.to_owned(), cause };
    std::path::absolute(path).map_err(failed)
}

fn fail(sentence: &str, exit: Exit) -> ExitCode {
    shown::complain(sentence);
    ExitCode::from(exit as u8)
}
