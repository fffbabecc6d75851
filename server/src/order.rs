//! Orders to a site: what the verbs of the binary ask for, as data, and what came of it.
//!
//! An order goes to the running server over its socket; if none runs, the folder's lock is taken and the order is done
//! here. Both ways the same [`Desk`] does it. Called by the binary and by [`crate::admin`].

use crate::access::Role;
use crate::admin;
use crate::backup;
use crate::catalogue::Adoption;
use crate::config;
use crate::desk::{Desk, Enrolled, ErasedCustomer, Invited, StationKept};
use crate::error::ServerError;
use crate::forwarding::{AtOwner, Joined};
use serde::{Deserialize, Serialize};
use standpipe_store::AuditLine;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum Order {
    /// Enrol a station and give a code that a machine joins with.
    AddStation {
        /// Its name.
        name: String,
        /// What it may do.
        role: Role,
        /// Kinds of facts that it may state; none: all that its role may.
        #[serde(default)]
        kinds: Vec<String>,
    },
    /// Enrol the station that brings the journal of one site to this owner's server, and give a code that it joins with.
    AddForwarder {
        /// Its name.
        name: String,
        /// The site.
        site: String,
    },
    /// Give a new code that a machine joins with as a station that is enrolled.
    OpenCode {
        /// Its name.
        name: String,
    },
    /// Give a station a new token; the one before is no longer good.
    RenewToken {
        /// Its name.
        name: String,
        /// Days until it ends; nothing: as the settings say.
        #[serde(default)]
        days: Option<u32>,
    },
    /// Take a station's right back.
    RevokeStation {
        /// Its name.
        name: String,
    },
    /// Name all stations.
    ListStations,
    /// List a person code or change its name.
    AddPerson {
        /// The code.
        code: String,
        /// The name, if there is one.
        name: Option<String>,
    },
    /// Take a person code off the list and erase the name.
    RemovePerson {
        /// The code.
        code: String,
    },
    /// Set a person's PIN for the office pages and for signing.
    SetPin {
        /// The code.
        code: String,
        /// What the PIN is compared with, as [`crate::kept_pin`] makes it.
        kept: String,
    },
    /// Name all listed persons.
    ListPersons,
    /// Import a catalogue.
    ImportCatalogue {
        /// Folder of its files.
        from: PathBuf,
    },
    /// Name all adopted catalogue revisions.
    ListCatalogues,
    /// Offer a catalogue revision to the workshops, or take the offer back.
    OfferCatalogue {
        /// Folder of its files, or a revision that is kept here by its digits.
        what: PathBuf,
        /// False to take the offer back.
        offered: bool,
    },
    /// Erase the customer of a job.
    EraseCustomer {
        /// Identity or number of the job.
        job: String,
    },
    /// Erase a remark or a photo.
    EraseRemark {
        /// Its digest.
        digest: String,
    },
    /// Name who was let in and who was turned away.
    ReadAudit {
        /// Since when, microseconds since 1970, UTC.
        since_us: i64,
    },
    /// Say which server runs and where.
    Running,
    /// Join an owner's server with a code that it printed for this site.
    JoinOwner {
        /// Where it listens.
        host: String,
        /// The code.
        code: String,
    },
    /// Leave the owner's server.
    LeaveOwner,
    /// Say how far the journal is at the owner's server, and look again.
    AtOwner,
    /// Make a backup.
    BackUp {
        /// The new folder.
        to: PathBuf,
    },
}

/// What came of an order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum Done {
    /// A machine can become a station by a code, which can be read only here.
    Invited {
        /// Identity of the station.
        station_id: String,
        /// Where the server is reached, as `host:port`, the likeliest first.
        hosts: Vec<String>,
        /// The code in groups of four.
        code: String,
        /// When the code ends, in microseconds since 1970, UTC.
        ends_us: i64,
        /// True when the station was enrolled just now.
        new: bool,
        /// The site whose journal the station brings; empty for a station of this site.
        #[serde(default)]
        site: String,
        /// Other stations that may bring the same journal.
        #[serde(default)]
        beside: Vec<String>,
    },
    /// A station has a new token, which can be read only here.
    TokenRenewed {
        /// Its identity.
        station_id: String,
        /// Its token.
        token: String,
        /// When the token ends unless it is renewed, in microseconds since 1970, UTC.
        ends_us: i64,
    },
    /// A station is revoked.
    Revoked {
        /// Its identity.
        station_id: String,
    },
    /// All stations by name.
    Stations(Vec<StationLine>),
    /// A person is listed.
    Listed {
        /// The code.
        person_code: String,
        /// The name; empty if there is none.
        name: String,
    },
    /// A person is off the list.
    Removed {
        /// The code.
        person_code: String,
    },
    /// A person has a PIN.
    PinSet {
        /// The code.
        person_code: String,
    },
    /// All persons by code: code and name.
    Persons(Vec<(String, String)>),
    /// A catalogue is current.
    Imported {
        /// The revision, 64 hexadecimal digits.
        revision_id: String,
        /// True when it was current already.
        already_current: bool,
        /// What is worth a look, a sentence each.
        remarks: Vec<String>,
    },
    /// All adoptions in the order of the journal; the last is current.
    Catalogues(Vec<AdoptionLine>),
    /// A catalogue revision is offered to the workshops, or no longer.
    CatalogueOffered {
        /// The revision, 64 hexadecimal digits.
        revision_id: String,
        /// Whether it is offered now.
        offered: bool,
        /// Whether that was so already.
        already: bool,
    },
    /// The customer of a job is erased.
    CustomerErased {
        /// Printed number of the job.
        job: String,
        /// Other jobs that still carry the same name.
        other_jobs: u64,
    },
    /// A remark or a photo is erased.
    RemarkErased {
        /// Its digest.
        blob_digest: String,
    },
    /// Who was let in and who was turned away, the latest first.
    Audit(Vec<AuditRow>),
    /// A server runs.
    Running {
        /// Its version.
        version: String,
        /// Where it listens; nothing if none runs.
        address: Option<SocketAddr>,
    },
    /// A backup is made.
    BackedUp(Copied),
    /// The site brings its journal to an owner's server from now on.
    OwnerJoined {
        /// Where that listens.
        address: String,
        /// The station that this site is there.
        station: String,
        /// How it calls itself.
        owner_name: String,
        /// Entries of this site that it knows.
        kept: u64,
        /// What stands against going on, in a sentence; empty if nothing does.
        trouble: String,
    },
    /// The site brings its journal to no owner's server any more.
    OwnerLeft {
        /// Where that listens; empty if nobody knows.
        address: String,
    },
    /// How far the journal is at the owner's server; nothing if the site has joined none, or no server runs.
    AtOwner(Option<AtOwner>),
}

/// A station in a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StationLine {
    /// Its identity.
    pub station_id: String,
    /// What it may do, as it was enrolled.
    pub role: String,
    /// True when its right was taken back.
    pub revoked: bool,
    /// When it was enrolled, in microseconds since 1970, UTC.
    #[serde(default)]
    pub enrolled_us: i64,
    /// When its token ends, if it has one that does.
    #[serde(default)]
    pub token_ends_us: Option<i64>,
    /// Until when a machine can join as it by a code, if one is open.
    #[serde(default)]
    pub code_until_us: Option<i64>,
    /// Kinds of facts that it may state; empty: all that its role may.
    #[serde(default)]
    pub kinds: Vec<String>,
    /// The site whose journal it brings; empty if none.
    #[serde(default)]
    pub site: String,
}

/// Something that somebody was allowed or refused, in a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AuditRow {
    /// The first time, microseconds since 1970, UTC.
    pub at_us: i64,
    /// The last time.
    pub until_us: i64,
    /// How often between the two.
    pub times: u64,
    /// What was done or tried.
    pub what: String,
    /// Whether it was allowed.
    pub allowed: bool,
    /// Id of the station; empty if none is known.
    pub station_id: String,
    /// Code of the person; empty if none is known.
    pub person_code: String,
    /// Where it came from; empty at the shop server itself.
    pub address: String,
    /// For example the job or the method.
    pub about: String,
}

/// An adoption in a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AdoptionLine {
    /// The revision, 64 hexadecimal digits.
    pub revision_id: String,
    /// Microseconds since 1970, UTC.
    pub adopted_us: i64,
    /// True for the last one.
    pub current: bool,
}

/// A whole copy of a site that was read through after it was written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Copied {
    /// Where it lies.
    pub path: PathBuf,
    /// Name of the site.
    pub site: String,
    /// Entries of the journal.
    pub entries: u64,
    /// Files beside the journal.
    pub files: u64,
    /// Epoch of the copy's journal, 32 hexadecimal digits.
    pub epoch: String,
    /// Root over the entries, 64 hexadecimal digits.
    pub root: String,
}

/// Does an order on a site's folder, through the running server if there is one.
///
/// # Errors
/// Whatever stands against the order, in one sentence; [`ServerError::Told`] in the running server's words.
pub async fn order(dir: &Path, order: Order) -> Result<Done, ServerError> {
    if let Some(connection) = admin::reach(dir).await? {
        return connection.ask(&order).await;
    }
    let mut desk = Desk::open(dir).await?;
    if let Order::RenewToken { days: None, .. } = &order {
        desk = desk.with_token_days(config::read(dir, config::Flags::default())?.token_days);
    }
    let done = perform(&mut desk, order).await;
    desk.close().await?;
    done
}

impl Order {
    /// The order in the words of its verb, as it is written down; without what is secret.
    pub(crate) fn about(&self) -> String {
        match self {
            Self::AddStation { name, role, kinds } if kinds.is_empty() => {
                format!("station add {name} {}", role.name())
            }
            Self::AddStation { name, role, kinds } => {
                format!("station add {name} {} only {}", role.name(), kinds.join(","))
            }
            Self::AddForwarder { name, site } => format!("station add {name} forwarder of {site}"),
            Self::OpenCode { name } => format!("station code {name}"),
            Self::RenewToken { name, .. } => format!("station token {name}"),
            Self::RevokeStation { name } => format!("station revoke {name}"),
            Self::ListStations => "station list".to_owned(),
            Self::AddPerson { code, .. } => format!("person add {code}"),
            Self::RemovePerson { code } => format!("person remove {code}"),
            Self::SetPin { code, .. } => format!("person pin {code}"),
            Self::ListPersons => "person list".to_owned(),
            Self::ImportCatalogue { .. } => "catalogue import".to_owned(),
            Self::ListCatalogues => "catalogue list".to_owned(),
            Self::OfferCatalogue { offered: true, .. } => "catalogue offer".to_owned(),
            Self::OfferCatalogue { .. } => "catalogue offer, taken back".to_owned(),
            Self::EraseCustomer { job } => format!("erase customer {job}"),
            Self::EraseRemark { digest } => format!("erase remark {digest}"),
            Self::ReadAudit { .. } => "station audit".to_owned(),
            Self::BackUp { .. } => "backup".to_owned(),
            Self::Running | Self::AtOwner => "doctor".to_owned(),
            // The code is secret.
            Self::JoinOwner { host, .. } => format!("station join-owner {host}"),
            Self::LeaveOwner => "station leave-owner".to_owned(),
        }
    }

    /// Whether it only looks, which nobody needs written down.
    fn only_looks(&self) -> bool {
        matches!(
            self,
            Self::ListStations
                | Self::ListPersons
                | Self::ListCatalogues
                | Self::ReadAudit { .. }
                | Self::Running
                | Self::AtOwner
        )
    }
}

/// Does an order at a desk and writes down that it was given, unless it only looks.
pub(crate) async fn perform(desk: &mut Desk, order: Order) -> Result<Done, ServerError> {
    let about = (!order.only_looks()).then(|| order.about());
    let done = done(desk, order).await;
    if let Some(about) = about {
        desk.note_order(&about, done.is_ok()).await;
    }
    done
}

async fn done(desk: &mut Desk, order: Order) -> Result<Done, ServerError> {
    Ok(match order {
        Order::AddStation { name, role, kinds } => {
            told(desk.invite_instrument(&name, role, &kinds).await?, desk, true)?
        }
        Order::AddForwarder { name, site } => told(desk.invite_forwarder(&name, &site).await?, desk, true)?,
        Order::OpenCode { name } => told(desk.open_code(&name).await?, desk, false)?,
        Order::RenewToken { name, days } => renewed(desk.renew_token_for(&name, days).await?),
        Order::RevokeStation { name } => {
            desk.revoke_station(&name).await?;
            Done::Revoked { station_id: name }
        }
        Order::ListStations => {
            Done::Stations(desk.stations_kept().await?.into_iter().map(station_line).collect())
        }
        Order::AddPerson { code, name } => {
            desk.add_person(&code, name.as_deref()).await?;
            Done::Listed { person_code: code, name: name.unwrap_or_default() }
        }
        Order::RemovePerson { code } => {
            desk.remove_person(&code).await?;
            Done::Removed { person_code: code }
        }
        Order::SetPin { code, kept } => {
            desk.set_pin(&code, &kept).await?;
            Done::PinSet { person_code: code }
        }
        Order::ListPersons => {
            let persons = desk.persons().await?.into_iter();
            Done::Persons(persons.map(|person| (person.code, person.name.unwrap_or_default())).collect())
        }
        Order::ImportCatalogue { from } => {
            let imported = desk.import_catalogue(&from).await?;
            Done::Imported {
                revision_id: imported.revision_id,
                already_current: imported.already_current,
                remarks: imported.remarks.into_iter().chain(imported.left_out).collect(),
            }
        }
        Order::ListCatalogues => Done::Catalogues(adoption_lines(desk.adoptions().await?)),
        Order::OfferCatalogue { what, offered } => {
            let (revision_id, already) = desk.offer_catalogue(&what, offered).await?;
            Done::CatalogueOffered { revision_id, offered, already }
        }
        Order::EraseCustomer { job } => {
            let ErasedCustomer { job, other_jobs } = desk.erase_customer(&job).await?;
            Done::CustomerErased { job, other_jobs }
        }
        Order::EraseRemark { digest } => {
            desk.erase_blob(&digest)?;
            Done::RemarkErased { blob_digest: digest }
        }
        Order::ReadAudit { since_us } => {
            Done::Audit(desk.audit_since(since_us).await?.into_iter().map(audit_row).collect())
        }
        Order::JoinOwner { host, code } => owner_joined(desk.joiner().join(&host, &code).await?),
        Order::LeaveOwner => Done::OwnerLeft { address: desk.joiner().leave()? },
        // The running server answers by itself, before the desk is free.
        Order::AtOwner => Done::AtOwner(None),
        Order::Running => Done::Running { version: crate::VERSION.to_owned(), address: desk.running_on() },
        Order::BackUp { to } => {
            let (folder, store) = desk.shelves();
            Done::BackedUp(backup::back_up(&folder, &*store, &to).await?)
        }
    })
}

fn adoption_lines(adoptions: Vec<Adoption>) -> Vec<AdoptionLine> {
    let last = adoptions.last().map(|last| last.seq);
    let line = |it: Adoption| AdoptionLine {
        current: Some(it.seq) == last,
        revision_id: it.revision_id,
        adopted_us: it.adopted_us,
    };
    adoptions.into_iter().map(line).collect()
}

/// Which owner's server was joined.
pub(crate) fn owner_joined(joined: Joined) -> Done {
    let Joined { address, station, owner_name, kept, trouble } = joined;
    Done::OwnerJoined { address, station, owner_name, kept, trouble }
}

fn audit_row(line: AuditLine) -> AuditRow {
    let AuditLine { at_us, until_us, times, what, allowed, station, person, address, about } = line;
    AuditRow {
        at_us,
        until_us,
        times,
        what,
        allowed,
        station_id: station,
        person_code: person,
        address,
        about,
    }
}

/// Who may come in, and where the door is.
fn told(invited: Invited, desk: &Desk, new: bool) -> Result<Done, ServerError> {
    let Invited { station_id, code, ends_us, site, beside } = invited;
    let (hosts, code) = (desk.hosts()?, code.to_string());
    Ok(Done::Invited { station_id, hosts, code, ends_us, new, site, beside })
}

fn renewed(enrolled: Enrolled) -> Done {
    let Enrolled { station_id, token, ends_us } = enrolled;
    Done::TokenRenewed { station_id, token: token.to_string(), ends_us }
}

fn station_line(kept: StationKept) -> StationLine {
    let StationKept { station, token_ends_us, code_until_us, kinds, site } = kept;
    StationLine {
        revoked: station.revoked_us.is_some(),
        enrolled_us: station.created_us,
        station_id: station.id,
        role: station.role,
        token_ends_us: token_ends_us.flatten(),
        code_until_us,
        kinds,
        site,
    }
}
